// A soft tip (polymer, composite): film, asperities and the dent of the tip's surface found together.
#include <chrono>
#include <cstdio>
#include <numbers>

#include "../../libblade/src/nip_solver.hpp"
#include "expect.hpp"
#include "libblade/contact.hpp"
#include "libblade/film.hpp"
#include "libblade/nip.hpp"

using namespace libblade;
using detail::NipSolver;

namespace {

constexpr double deg = std::numbers::pi / 180.0;

/// Conformal polymer blade under a curing ink.
Case polymer(double modulus) {
    Case c;
    c.setting.set_angle = 30 * deg;
    c.setting.load = LineLoad{100.0};
    c.blade.thickness = 0.5e-3;
    c.blade.material = {modulus, 0.38, 0.2e9, 80e6, 1400.0};
    c.tip = Facet{400e-6, BeddedHere{}, 1e-6};
    c.ink.rheology = Newtonian{0.1};
    return c;
}

}  // namespace

TEST_CASE("probe", "[nip]") {
    for (double E : {0.8e9, 2e9, 10e9, 45e9, 1e11}) {
        Case c = polymer(E);
        NipSolver s(c, 1);
        const auto bed = s.bed();
        std::printf("E %g c %g bed %s angle %g film %g h %g\n", E, s.compliance(), std::string(describe(bed.status)).c_str(),
                    bed.angle / deg, bed.state.contact.film.flow / s.setup().speed, bed.state.low_gap);
        if (!bed.ok()) continue;
        for (double tilt : {-2e-3, -1e-3, -3e-4, 0.0, 3e-4, 1e-3, 2e-3, 5e-3, 1e-2}) {
            const auto t0 = std::chrono::steady_clock::now();
            int ok = 0, n = 0;
            for (double g = 3e-6; g > -6e-7; g -= 0.05e-6, ++n) {
                const auto f = s.contact_at(tilt, bed.angle, g);
                if (std::isfinite(f.film_load)) ++ok;
                if (n % 12 == 0)
                    std::printf("   tilt %g g %g N %g film %g asp %g q/U %g dT %g\n", tilt, g, f.normal(), f.film_load, f.asperity_load,
                                f.film.flow / s.setup().speed, f.temperature_rise);
            }
            const double us =
                1e6 * std::chrono::duration<double>(std::chrono::steady_clock::now() - t0).count() / n;
            std::printf("  tilt %g: %d of %d, %.1f us each\n", tilt, ok, n, us);
        }
    }
}

TEST_CASE("dbg", "[nip]") {
    Case c = polymer(2e9);
    NipSolver s(c, 1);
    const auto bed = s.bed();
    for (double g : {-0.2e-6,  -0.45e-6}) {
        std::fprintf(stderr, "g %g\n", g);
        (void)s.contact_at(0.0, bed.angle, g);
    }
}
