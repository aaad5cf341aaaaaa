#include "libblade/asperity.hpp"

#include <cmath>
#include <fstream>
#include <limits>
#include <sstream>
#include <vector>

#include "expect.hpp"
#include "libblade/dual.hpp"

using namespace libblade;

namespace {

/// A roll whose bearing curve is sampled from Greenwood-Tripp at these gaps over sigma; its land carries all.
Roll sampled(const std::vector<double>& separations) {
    Roll roll;
    roll.engraving.land_fraction = 1.0;
    const AsperityLaw law = asperity_law(roll, Solid{});
    for (const double H : separations)
        roll.bearing_curve.push_back(
            {H * law.sigma, law.coefficient * greenwood_tripp_integral(2.5, H)});  // without the cap
    return roll;
}
std::vector<double> spread(double first, double last, int count) {
    std::vector<double> out;
    for (int i = 0; i < count; ++i) out.push_back(first + (last - first) * i / (count - 1));
    return out;
}
/// Hard enough to leave every pressure as it is.
Solid uncapped() {
    Solid solid;
    solid.hardness = 1e30;
    return solid;
}
AsperityLaw uncapped_law(Roll roll) {
    roll.material.hardness = 1e30;
    return asperity_law(roll, uncapped());
}

}  // namespace

// Greenwood & Williamson 1966 (Proc. R. Soc. A 295:300), Greenwood & Tripp 1970-71 (Proc. IMechE 185:625): F_n recomputed by
// the closed form with parabolic cylinder functions; table in tests/reference/greenwood_tripp_1971.
TEST_CASE("asperity integrals equal the recomputed table", "[asperity]") {
    std::ifstream table(std::string(LIBBLADE_TEST_REFERENCE) + "/greenwood_tripp_1971/gw_integrals.csv");
    REQUIRE(table.good());
    std::string line;
    std::getline(table, line);
    const double orders[] = {0.0, 1.0, 1.5, 2.0, 2.5};
    int rows = 0;
    for (; std::getline(table, line); ++rows) {
        std::istringstream cells(line);
        std::string cell;
        std::getline(cells, cell, ',');
        const double H = std::stod(cell);
        for (const double order : orders) {
            std::getline(cells, cell, ',');
            // the table carries 12 digits
            expect_close(greenwood_tripp_integral(order, H), std::stod(cell), 1e-9, "12-digit table");
        }
    }
    CHECK(rows >= 15);
}

TEST_CASE("asperity pressure equals the worked value", "[asperity]") {
    // Check value F3-GT: h/sigma = 1, eta beta sigma = 0.05, sigma/beta = 0.001, E' = 1e11 Pa gives 3018322.569 Pa (recomputed).
    Roll roll;
    roll.asperity_product = 0.05, roll.asperity_ratio = 0.001;
    roll.engraving.pattern = Pattern::smooth;
    Solid soft{2e11, 0.0, 1e12, 1e9, 7850.0};
    roll.material = soft;  // 1/E* = 2/2e11: E* = 1e11
    const AsperityLaw law = asperity_law(roll, soft);
    expect_close(asperity_pressure(law, law.sigma), 3018322.569, 1e-6,
                 "printed to 10 digits; cubic table error below 1e-6");
    roll.engraving.pattern = Pattern::hexagon;
    roll.engraving.land_fraction = 0.25;
    expect_close(asperity_pressure(asperity_law(roll, soft), law.sigma), 0.25 * 3018322.569, 1e-6, "only walls carry");
}

TEST_CASE("asperity pressure table follows the quadrature", "[asperity]") {
    for (double H = -5.9; H < 4.99; H += 0.137)
        expect_close(f52_table()(H), greenwood_tripp_integral(2.5, H), 3e-6, "cubic Hermite, step 1/32");
}

TEST_CASE("asperity pressure is capped by the softer hardness and fades out", "[asperity]") {
    Roll roll;
    const AsperityLaw law = asperity_law(roll, Solid{});
    const AsperityLaw soft{law.sigma, law.coefficient, 1e6};
    CHECK(asperity_pressure(soft, -3.0 * law.sigma) <= 1e6);
    CHECK(asperity_pressure(soft, -3.0 * law.sigma) > 0.99e6);
    CHECK(asperity_pressure(law, 6.5 * law.sigma) == 0.0);
    double last = asperity_pressure(law, -4.0 * law.sigma);
    for (double H = -3.9; H < 6.0; H += 0.1) {
        const double now = asperity_pressure(law, H * law.sigma);
        CHECK(now < last);
        last = now;
    }
}

TEST_CASE("filled gap is the mean of the open valleys", "[asperity]") {
    // E[max(h - s, 0)] for Gaussian s: by direct summation.
    const double sigma = 0.3e-6;
    for (const double H : {-1.0, 0.0, 0.7, 1.5, 3.0}) {
        double sum = 0.0;
        const double ds = 1e-3;
        for (double s = -9.0; s < H; s += ds)
            sum += (H - s - 0.5 * ds) * std::exp(-0.5 * (s + 0.5 * ds) * (s + 0.5 * ds)) * ds;
        expect_close(filled_gap(sigma, H * sigma), sigma * sum / std::sqrt(2.0 * std::acos(-1.0)), 1e-4,
                     "midpoint sum, step 1e-3");
    }
    CHECK(filled_gap(sigma, 10.0 * sigma) == 10.0 * sigma);
}

TEST_CASE("gap at a pressure undoes the pressure", "[asperity]") {
    const AsperityLaw law = asperity_law(Roll{}, Solid{});
    for (const double p : {1e4, 5e5, 5e6, 5e7})
        expect_close(asperity_pressure(law, gap_at_pressure(law, p)), p, 1e-9, "root tolerance");
}

TEST_CASE("a bearing curve sampled from Greenwood-Tripp gives it back", "[asperity]") {
    Roll plain;
    plain.engraving.land_fraction = 1.0;
    const AsperityLaw exact = uncapped_law(plain), law = uncapped_law(sampled(spread(-1.0, 4.5, 12)));
    double inside = 0.0, ends = 0.0;
    for (double H = -1.0; H <= 4.5; H += 0.01) {
        const double p = exact.coefficient * greenwood_tripp_integral(2.5, H);
        const double off = std::abs(std::log(asperity_pressure(law, H * law.sigma) / p));
        (H > -0.5 && H < 4.0 ? inside : ends) = std::max(H > -0.5 && H < 4.0 ? inside : ends, off);
    }
    // Interior slopes are parabolic, h^2 / 6 times the third derivative of ln F_5/2, about 0.1 per sigma^3, with h = 0.5;
    // the end slopes are one-sided, twice that.
    CHECK(inside < 4e-4);
    CHECK(ends < 2e-3);
    CHECK(ends > 1e-6);  // else the table itself was compared
}

TEST_CASE("a bearing curve passes through its points and never turns", "[asperity]") {
    const double sigma = rms_roughness(Roll{});
    std::vector<Roll> rolls;
    for (const auto& separations : std::vector<std::vector<double>>{
             spread(-0.5, 4.5, 12), {0.0, 1.0}, {0.0, 0.3, 2.0, 2.1, 5.6}, {0.0, 0.02, 3.0, 7.0}})
        rolls.push_back(sampled(separations));
    // Plateaus and cliffs: what makes a cubic without limits turn.
    rolls.emplace_back().bearing_curve = {{0.0, 1e8}, {sigma, 0.99e8}, {2.0 * sigma, 1e5}, {3.0 * sigma, 0.99e5}};
    rolls.emplace_back().bearing_curve = {{0.0, 1e8}, {3.0 * sigma, 1e4}, {3.1 * sigma, 0.9e4}, {9.0 * sigma, 1e3}};
    for (Roll& roll : rolls) {
        roll.engraving.land_fraction = 1.0;
        const AsperityLaw law = uncapped_law(roll);
        for (const BearingPoint& point : roll.bearing_curve)
            expect_close(asperity_pressure(law, point.gap), point.pressure, 2e-4, "resampling, see asperity.hpp");
        double last = asperity_pressure(law, -3.0 * sigma);
        for (double H = -2.99; H < 12.0; H += 0.01) {
            const double now = asperity_pressure(law, H * sigma);
            INFO("separation " << H);
            CHECK((now < last || (now == 0.0 && last == 0.0)));
            last = now;
        }
        CHECK(last == 0.0);
    }
    // Points closer than the table's steps, which check() refuses: not exact any more, but without a turn.
    for (const double close : {1e-4, 1e-3, 3e-3}) {
        Roll roll;
        roll.bearing_curve = {{0.0, 1e8}, {2.0 * sigma, 1e6}, {(2.0 + close) * sigma, 1e4}, {5.0 * sigma, 0.9e4}};
        const AsperityLaw law = uncapped_law(roll);
        double last = asperity_pressure(law, 1.9 * sigma);
        for (double H = 1.9; H < 2.1; H += 1e-5) {
            const double now = asperity_pressure(law, H * sigma);
            INFO("separation " << H);
            CHECK(now <= last);
            last = now;
        }
    }
    const Roll even = sampled(spread(0.0, 4.0, 5));
    const AsperityLaw law = uncapped_law(even);
    for (const BearingPoint& point : even.bearing_curve)
        expect_close(asperity_pressure(law, point.gap), point.pressure, 1e-12, "evenly spaced points are nodes");
}

TEST_CASE("beyond its points a bearing curve is straight in ln p, then fades", "[asperity]") {
    Roll roll;
    roll.engraving.land_fraction = 0.25;
    const double sigma = rms_roughness(roll);
    roll.bearing_curve = {{sigma, 8e6}, {2.0 * sigma, 1e6}};  // a factor of 8 per sigma
    const AsperityLaw law = uncapped_law(roll);
    expect_close(asperity_pressure(law, 1.5 * sigma), 0.25 * 1e6 * std::sqrt(8.0), 1e-12, "two points: straight; land");
    expect_close(asperity_pressure(law, 0.0), 0.25 * 64e6, 1e-12, "straight below");
    expect_close(asperity_pressure(law, 4.0 * sigma), 0.25 * 1e6 / 64.0, 1e-12, "straight above");
    expect_close(asperity_pressure(law, 5.5 * sigma), 0.25 * 1e6 * std::pow(8.0, -3.5) * 0.5, 1e-12,
                 "half way through the fade, 1/2");
    CHECK(asperity_pressure(law, 6.001 * sigma) == 0.0);
    CHECK(asperity_pressure(law, (6.0 - 1e-9) * sigma) < 1e-9);
    // The last point further out: it still holds, and the fade follows it.
    roll.bearing_curve.push_back({8.0 * sigma, 100.0});
    const AsperityLaw far = uncapped_law(roll);
    expect_close(asperity_pressure(far, 8.0 * sigma), 25.0, 1e-9, "the last point");
    CHECK(asperity_pressure(far, 9.001 * sigma) == 0.0);
    // The hardness caps it as it does Greenwood-Tripp.
    Solid soft;
    soft.hardness = 8e6;
    expect_close(asperity_pressure(asperity_law(roll, soft), sigma), 0.25 * 8e6 / std::pow(2.0, 0.25), 1e-9,
                 "p / (1 + (p / cap)^4)^(1/4) at the hardness");
    // Product and ratio no longer matter; roughness fills the valleys as before.
    Roll other = roll;
    other.asperity_product = 0.01, other.asperity_ratio = 0.001;
    CHECK(asperity_pressure(uncapped_law(other), 1.3 * sigma) == asperity_pressure(far, 1.3 * sigma));
    roll.bearing_curve.resize(1);  // no curve
    CHECK(asperity_law(roll, Solid{}).measured.value.empty());
}

TEST_CASE("asperity pressures are numbers at any gap", "[asperity]") {
    constexpr double inf = std::numeric_limits<double>::infinity();
    for (const AsperityLaw& law : {asperity_law(Roll{}, Solid{}), asperity_law(sampled({0.0, 0.5, 3.0}), Solid{})})
        for (const double gap : {-inf, -1e300, -1.0, -1e-3, -1e-4, -1e-6, 0.0, 1e-6, 1.0, 1e300, inf}) {
            INFO("gap " << gap);
            const Dual<1> p = kernel::asperity_pressure(f52_table(), law, Dual<1>(gap, {1.0}));
            CHECK((p.v >= 0.0 && p.v <= law.cap));
            CHECK(std::isfinite(p.d[0]));
            if (gap < -1e-4) CHECK(p.v >= (1.0 - 1e-12) * law.cap);
            if (gap > 1e-5) CHECK(p.v == 0.0);
        }
}

TEST_CASE("the derivative of a measured pressure follows its differences", "[asperity]") {
    const AsperityLaw law = asperity_law(sampled({-0.5, 0.2, 1.0, 2.5, 4.0}), Solid{});
    for (double H = -2.0; H < 6.2; H += 0.0437) {
        const double gap = H * law.sigma, step = 1e-5 * law.sigma;
        const Dual<1> p = kernel::asperity_pressure(f52_table(), law, Dual<1>(gap, {1.0}));
        CHECK(std::abs(p.v - asperity_pressure(law, gap)) <= 1e-14 * p.v);  // the same formula, rounded otherwise
        const double difference =
            (asperity_pressure(law, gap + step) - asperity_pressure(law, gap - step)) / (2.0 * step);
        INFO("separation " << H);
        // Truncation: step^2 times the third derivative, (3 / sigma)^2 of the slope; at kinks of the second derivative step.
        CHECK(std::abs(p.d[0] - difference) <=
              2e-5 * std::abs(difference) + 1e-9 * law.cap / law.sigma * std::exp(-H * H));
    }
}

TEST_CASE("gap at a pressure undoes a measured pressure", "[asperity]") {
    Roll roll = sampled({0.5, 1.0, 2.5, 4.0});
    const AsperityLaw law = asperity_law(roll, Solid{});
    for (const double p : {1e2, 1e4, 5e6, 5e7, 1e9, 0.99 * law.cap})
        expect_close(asperity_pressure(law, gap_at_pressure(law, p)), p, 1e-9, "root tolerance");
    expect_close(gap_at_pressure(uncapped_law(roll), roll.bearing_curve[1].pressure), roll.bearing_curve[1].gap, 1e-6,
                 "resampling");
}
