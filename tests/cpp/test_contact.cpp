#include "libblade/contact.hpp"

#include <cmath>
#include <limits>
#include <numbers>

#include "expect.hpp"
#include "film_problem.hpp"
#include "libblade/blade.hpp"

using namespace libblade;

namespace {
const char* const kDouble = "closed form against its printed digits";
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
}  // namespace

TEST_CASE("line contact of steel cylinders and of a rounded tip", "[contact]") {
    const Reference ref("johnson_1985/line_contact.csv");
    SECTION("equal cylinders") {
        Solid steel;
        steel.youngs_modulus = 207e9, steel.poissons_ratio = 0.3;
        const double modulus = contact_modulus(steel, steel);
        const HertzLine line = hertz_line(1e5, 1.0 / (1.0 / 0.04 + 1.0 / 0.04), modulus);
        expect_close(modulus, ref("B1-1", "modulus"), 1e-12, kDouble);
        expect_close(line.half_width, ref("B1-1", "half_width"), 1e-12, kDouble);
        expect_close(line.peak_pressure, ref("B1-1", "peak"), 1e-12, kDouble);
        expect_close(1e5 / (2.0 * line.half_width), ref("B1-1", "mean"), 1e-12, kDouble);
        expect_close(largest_shear(line).stress, ref("B1-1", "shear"), 1e-12, kDouble);
    }
    SECTION("tip on a ceramic roll") {
        Solid steel, ceramic;
        steel.youngs_modulus = 210e9, steel.poissons_ratio = 0.3;
        ceramic.youngs_modulus = 300e9, ceramic.poissons_ratio = 0.25;
        const HertzLine line = hertz_line(200.0, 1.0 / (1.0 / 2e-5 + 1.0 / 0.1), contact_modulus(steel, ceramic));
        expect_close(line.half_width, ref("B1-2", "half_width"), 1e-12, kDouble);
        expect_close(line.peak_pressure, ref("B1-2", "peak"), 1e-12, kDouble);
    }
    SECTION("shear below the surface") {
        const SubsurfaceShear shear = largest_shear({1.0, 1.0});
        expect_close(shear.depth, ref("B1-tau", "depth"), 1e-12, kDouble);
        expect_close(shear.stress, ref("B1-tau", "shear"), 1e-12, kDouble);
    }
}

TEST_CASE("the ellipse of pressure carries the load", "[contact]") {
    // p = p0 sqrt(1 - x^2 / a^2) (Johnson 1985, eq. 4.44): area pi a p0 / 2. Midpoint sum in x = a sin t.
    const double load = 137.0;
    const HertzLine line = hertz_line(load, 3e-6, 1.1e11);
    double sum = 0.0;
    constexpr int n = 400;
    for (int i = 0; i < n; ++i) {
        const double c = std::cos(((i + 0.5) / n - 0.5) * std::numbers::pi);
        sum += line.peak_pressure * c * line.half_width * c * std::numbers::pi / n;
    }
    expect_close(sum, load, 1e-12, "the midpoint rule is exact for a cosine over whole periods");
}

TEST_CASE("line contact grows with the root of the load", "[contact]") {
    const HertzLine one = hertz_line(50.0, 1e-6, 1e11), four = hertz_line(200.0, 1e-6, 1e11);
    expect_close(four.half_width, 2.0 * one.half_width, 1e-14, "a ~ sqrt(P)");
    expect_close(four.peak_pressure, 2.0 * one.peak_pressure, 1e-14, "p0 ~ sqrt(P)");
    CHECK(hertz_line(0.0, 1e-6, 1e11).half_width == 0.0);
    CHECK(hertz_line(0.0, 1e-6, 1e11).peak_pressure == 0.0);
}

TEST_CASE("the width of an edge is capped by hardness, without a jump", "[contact]") {
    const double R = 1e-6, E = 1.1e11, H = 5.5e9;
    const double elastic = elastic_edge_width(100.0, R, E, H);
    expect_close(elastic, 2.0 * hertz_line(100.0, R, E).half_width, 1e-14, "elastic below the hardness");
    // Fully plastic: mean pressure = hardness (Tabor 1951).
    expect_close(elastic_edge_width(1e5, R, E, H), 1e5 / H, 1e-14, "load / hardness");
    // The load at which the mean elastic pressure is the hardness: P / (2 a) = H, P = 16 R H^2 / (pi E*).
    const double P = 16.0 * R * H * H / (std::numbers::pi * E);
    expect_close(elastic_edge_width(P * (1.0 + 1e-9), R, E, H), elastic_edge_width(P * (1.0 - 1e-9), R, E, H), 1e-8,
                 "no jump");
    CHECK(elastic_edge_width(1.1 * P, R, E, H) > elastic_edge_width(P, R, E, H));
    expect_close(elastic_edge_width(1.1 * P, R, E, H), 1.1 * P / H, 1e-14, "plastic above");
    expect_close(elastic_edge_width(0.9 * P, R, E, H), 2.0 * hertz_line(0.9 * P, R, E).half_width, 1e-14,
                 "elastic below");
    CHECK(elastic_edge_width(0.0, R, E, H) == 0.0);
}

TEST_CASE("line contact never turns a bad input into a number", "[contact]") {
    for (const HertzLine line :
         {hertz_line(kNan, 1e-6, 1e11), hertz_line(1.0, kNan, 1e11), hertz_line(1.0, 1e-6, kNan),
          hertz_line(-1.0, 1e-6, 1e11), hertz_line(1.0, 0.0, 1e11), hertz_line(1.0, 1e-6, -1.0)}) {
        CHECK(std::isnan(line.half_width));
        CHECK(std::isnan(line.peak_pressure));
    }
    CHECK(std::isnan(elastic_edge_width(1.0, 1e-6, 1e11, kNan)));
    CHECK(std::isnan(elastic_edge_width(1.0, 1e-6, 1e11, 0.0)));
    CHECK(std::isnan(elastic_edge_width(kNan, 1e-6, 1e11, 5e9)));
}
