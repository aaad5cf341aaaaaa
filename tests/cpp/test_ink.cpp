#include "libblade/ink.hpp"

#include <cmath>

#include "expect.hpp"

using namespace libblade;

// Cross 1965 (J. Colloid Sci. 20:417), direct evaluation to 30 digits (check value G2).
TEST_CASE("Cross viscosity", "[ink]") {
    const Rheology law = Cross{0.2, 0.02, 1e-3, 0.7};
    expect_close(shear_viscosity(law, 1e4), 0.04994075555, 1e-9, "printed to 10 digits");
    expect_close(shear_viscosity(law, 1e-6), 0.2, 1e-5, "zero-shear limit");
    expect_close(shear_viscosity(law, 1e14), 0.02, 1e-5, "high-shear limit");
}

TEST_CASE("tangent viscosity is the slope of stress", "[ink]") {
    const Rheology law = Cross{0.2, 0.02, 1e-3, 0.7};
    for (double rate = 1.0; rate < 1e9; rate *= 7.3) {
        const double d = 1e-5 * rate;
        const double slope =
            ((rate + d) * shear_viscosity(law, rate + d) - (rate - d) * shear_viscosity(law, rate - d)) / (2.0 * d);
        expect_close(tangent_viscosity(law, rate), slope, 1e-6, "central difference");
    }
    CHECK(tangent_viscosity(Newtonian{0.03}, 1e7) == 0.03);
}

TEST_CASE("Andrade factor from two points", "[ink]") {
    // Andrade 1930 (form): 0.085 Pa s at 293.15 K and 0.034 at 313.15 K give 0.05295238233 at 303.15 K (check value G5).
    Ink ink;
    ink.rheology = Newtonian{0.085};
    ink.reference_temperature = 293.15;
    ink.andrade_constant = 4205.770909;
    expect_close(shear_viscosity(ink, 1e5, 303.15), 0.05295238233, 1e-8, "constant printed to 10 digits");
    expect_close(shear_viscosity(ink, 1e5, 313.15), 0.034, 1e-8, "second point");
}
