#include "libblade/blade.hpp"

#include "expect.hpp"

using namespace libblade;

TEST_CASE("plane-strain bending stiffness", "[blade]") {
    // Check value A7 (Timoshenko & Woinowsky-Krieger 1959): E 210 GPa, nu 0.3, t 0.2 mm gives 0.1538461538 N m.
    Blade blade;
    blade.thickness = 0.2e-3;
    blade.material.youngs_modulus = 2.1e11, blade.material.poissons_ratio = 0.3;
    expect_close(bending_stiffness(blade), 0.1538461538, 1e-9, "printed to 10 digits");
}

TEST_CASE("contact modulus", "[blade]") {
    // Check value B1-2 (Johnson 1985, ch. 4): 210 GPa/0.3 on 300 GPa/0.25 gives 134.0782123 GPa.
    expect_close(contact_modulus({2.1e11, 0.3, 1, 1, 1}, {3e11, 0.25, 1, 1, 1}), 1.340782123e11, 1e-9,
                 "printed to 10 digits");
}
