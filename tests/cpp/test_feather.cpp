#include "libblade/feather.hpp"

#include <cmath>
#include <limits>
#include <numbers>

#include "expect.hpp"
#include "libblade/error.hpp"

using namespace libblade;

namespace {
constexpr double deg = std::numbers::pi / 180.0;
constexpr double p = 0.5e6, tau = 0.1e6;
}  // namespace

TEST_CASE("a wedge pressed on one face balances on every section", "[feather]") {
    // Independent of the Airy function: the part inside a radius r = 1 is loaded by p and tau on its face from the edge to r
    // and by the stresses on the arc. Axes: x along the loaded face from the edge, y into the metal. Face: force
    // (-tau, p), moment p / 2 about the edge.
    for (const double angle : {2.0 * deg, 12.0 * deg, 28.0 * deg, 60.0 * deg, 90.0 * deg})
        for (const auto& [pressure, shear] : {std::pair{p, 0.0}, std::pair{0.0, tau}, std::pair{p, -tau}}) {
            INFO(angle / deg << " deg, " << pressure << " Pa, " << shear << " Pa");
            const int n = 2000;  // Simpson
            double fx = 0.0, fy = 0.0, moment = 0.0, largest = 0.0;
            for (int k = 0; k <= n; ++k) {
                const double t = angle * k / n, weight = (k == 0 || k == n ? 1.0
                                                          : k % 2 == 1     ? 4.0
                                                                           : 2.0) *
                                                         angle / n / 3.0;
                const WedgeStress s = wedge_stress(angle, pressure, shear, t);
                fx += weight * (s.radial * std::cos(t) - s.shear * std::sin(t));
                fy += weight * (s.radial * std::sin(t) + s.shear * std::cos(t));
                moment += weight * s.shear;
                largest = std::max(largest, std::abs(s.radial));
            }
            // Rounding: the stresses on the arc are larger than what they balance.
            const double noise = 1e-11 * largest;
            CHECK(std::abs(fx - shear) <= noise);
            CHECK(std::abs(fy + pressure) <= noise);
            CHECK(std::abs(moment + 0.5 * pressure) <= noise);
            // Faces.
            const WedgeStress loaded = wedge_stress(angle, pressure, shear, 0.0);
            const WedgeStress other = wedge_stress(angle, pressure, shear, angle);
            CHECK(std::abs(loaded.hoop + pressure) <= noise);
            CHECK(std::abs(loaded.shear - shear) <= noise);
            CHECK(std::abs(other.hoop) <= noise);
            CHECK(std::abs(other.shear) <= noise);
            // The face stresses are the largest of the section, except in a steep wedge.
            if (angle <= 60.0 * deg)
                expect_close(feather_stress(angle, pressure, shear).peak, largest, 1e-12, "at a face");
        }
}

TEST_CASE("the stresses in the wedge are an elastic state", "[feather]") {
    // By differences in Cartesian axes, on the stresses alone: equilibrium, and compatibility: the sum of the normal stresses
    // is harmonic (plane problems without body forces: Timoshenko & Goodier, from memory).
    const double angle = 40.0 * deg;
    struct Cartesian {
        double xx, yy, xy;
    };
    const auto at = [&](double x, double y) {
        const double t = std::atan2(y, x), c = std::cos(t), s = std::sin(t);
        const WedgeStress w = wedge_stress(angle, p, tau, t);
        return Cartesian{w.radial * c * c + w.hoop * s * s - 2.0 * w.shear * s * c,
                         w.radial * s * s + w.hoop * c * c + 2.0 * w.shear * s * c,
                         (w.radial - w.hoop) * s * c + w.shear * (c * c - s * s)};
    };
    for (const double t : {5.0 * deg, 20.0 * deg, 35.0 * deg}) {
        const double x = std::cos(t), y = std::sin(t), h = 1e-3;
        const auto dx = [&](double Cartesian::*m) { return (at(x + h, y).*m - at(x - h, y).*m) / (2.0 * h); };
        const auto dy = [&](double Cartesian::*m) { return (at(x, y + h).*m - at(x, y - h).*m) / (2.0 * h); };
        const double scale = std::abs(dx(&Cartesian::xx)) + std::abs(dy(&Cartesian::yy));
        CHECK(std::abs(dx(&Cartesian::xx) + dy(&Cartesian::xy)) <= 1e-4 * scale);
        CHECK(std::abs(dx(&Cartesian::xy) + dy(&Cartesian::yy)) <= 1e-4 * scale);
        const auto sum = [&](double u, double v) { return at(u, v).xx + at(u, v).yy; };
        const double xx = (sum(x + h, y) - 2.0 * sum(x, y) + sum(x - h, y)) / (h * h);
        const double yy = (sum(x, y + h) - 2.0 * sum(x, y) + sum(x, y - h)) / (h * h);
        CHECK(std::abs(xx) > 0.1 * p);
        CHECK(std::abs(xx + yy) <= 1e-4 * std::abs(xx));
    }
}

TEST_CASE("face stresses: closed forms and the thin wedge", "[feather]") {
    for (const double angle : {5.0 * deg, 28.0 * deg, 75.0 * deg}) {
        // Pressure alone, reduced by hand: p a / (tan a - a) and -p tan a / (tan a - a).
        const FeatherStress pressed = feather_stress(angle, p);
        expect_close(pressed.loaded_face, p * angle / (std::tan(angle) - angle), 1e-11, "tension");
        expect_close(pressed.free_face, -p * std::tan(angle) / (std::tan(angle) - angle), 1e-11, "compression");
        expect_close(pressed.peak, -pressed.free_face, 1e-12, "larger by p");
    }
    // Tan a - a = a^3 / 3 (1 + 2 a^2 / 5): pressure alone is 3 p / a^2 to 2 a^2 / 5, and tan^2 a is a^2 to 2 a^2 / 3.
    double before = 1.0;
    for (const double angle : {20.0 * deg, 8.0 * deg, 3.0 * deg, 1.0 * deg}) {
        const FeatherStress s = feather_stress(angle, p, tau), q = feather_stress(angle, 0.0, tau);
        const double off = std::abs(s.loaded_face / s.leading - 1.0);
        CHECK(off < before);
        CHECK(off <= angle * angle);
        CHECK(std::abs(q.loaded_face / q.leading - 1.0) <= angle * angle);
        before = off;
    }
    expect_close(feather_stress(1.0 * deg, p, tau).loaded_face, feather_stress(1.0 * deg, p, tau).leading, 3e-4,
                 "thin wedge");
    // As a cantilever of depth tan a over a length of 1: M = p/2 + tau tan a / 2, axial tau; 6 M / h^2 -+ tau / h.
    const double h = std::tan(2.0 * deg);
    expect_close(feather_stress(2.0 * deg, p, tau).free_face, -6.0 * (0.5 * p + 0.5 * tau * h) / (h * h) + tau / h,
                 3e-3, "beam theory of a thin wedge");
    // Doctoring drag relieves, trailing drag adds.
    CHECK(feather_stress(28.0 * deg, p, -tau).loaded_face < feather_stress(28.0 * deg, p).loaded_face);
    CHECK(feather_stress(28.0 * deg, p, tau).loaded_face > feather_stress(28.0 * deg, p).loaded_face);
    // Far below yield, some 1600 MPa: no threshold.
    expect_close(feather_stress(30.0 * deg, p).peak, 5.37e6, 1e-3, "0.5 x tan 30 / (tan 30 - pi / 6), by hand");
    expect_close(feather_stress(12.0 * deg, p).peak, 34.1e6, 1e-3, "0.5 x tan 12 / (tan 12 - pi / 15), by hand");
}

TEST_CASE("slivers are a share of the worn volume weighted by the index", "[feather]") {
    const SliverSource s = sliver_source(2e-15, 50.0, 34.1e6, 5.37e6);
    expect_close(s.worn_volume, 1e-13, 1e-13, "k_b N_a, by hand");
    expect_close(s.relative_index, 34.1 / 5.37, 1e-13, "ratio");
    expect_close(s.volume, 1e-15 * 34.1 / 5.37, 1e-13, "1 % x ratio");
    CHECK(sliver_source(2e-15, 50.0, 34e6, 5e6, 0.5).share == 1.0);  // not more than is worn
    CHECK(sliver_source(2e-15, 50.0, 34e6, 5e6, 0.0).volume == 0.0);
}

TEST_CASE("what is no feather is refused", "[feather]") {
    constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    for (const double angle : {0.0, 0.05 * deg, 91.0 * deg, nan})
        CHECK_THROWS_AS(feather_stress(angle, p), InvalidInput);
    CHECK_THROWS_AS(feather_stress(0.5, -1.0), InvalidInput);
    CHECK_THROWS_AS(feather_stress(0.5, p, nan), InvalidInput);
    CHECK_THROWS_AS(sliver_source(-1e-15, 50.0, 1e6, 1e6), InvalidInput);
    CHECK_THROWS_AS(sliver_source(1e-15, nan, 1e6, 1e6), InvalidInput);
    CHECK_THROWS_AS(sliver_source(1e-15, 50.0, 1e6, 0.0), InvalidInput);
    CHECK_THROWS_AS(sliver_source(1e-15, 50.0, 1e6, 1e6, 1.5), InvalidInput);
}
