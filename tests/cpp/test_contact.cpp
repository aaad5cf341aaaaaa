#include "libblade/contact.hpp"

#include <Eigen/LU>
#include <Eigen/SparseCholesky>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

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

namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kDeg = kPi / 180.0;

/// Load of a piecewise linear pressure (tension left out) between two places, by a midpoint sum: independent and rough.
double carried(const std::vector<double>& x, const std::vector<double>& p, double from, double to) {
    constexpr int n = 40000;
    double sum = 0.0;
    std::size_t i = 0;
    for (int k = 0; k < n; ++k) {
        const double at = from + (to - from) * (k + 0.5) / n;
        while (i + 2 < x.size() && x[i + 1] < at) ++i;
        sum += std::max(0.0, p[i] + (p[i + 1] - p[i]) * (at - x[i]) / (x[i + 1] - x[i])) * (to - from) / n;
    }
    return sum;
}

}  // namespace

TEST_CASE("the stretch that carries a share: shapes with a closed form", "[contact]") {
    const char* const exact = "closed form for a piecewise linear pressure";
    SECTION("uniform") {
        const LoadBearing b = load_bearing_width(std::vector{2.0, 5.0}, std::vector{7.0, 7.0});
        expect_close(b.width, 0.95 * 3.0, 1e-14, exact);
        expect_close(b.load, 21.0, 1e-14, exact);
        expect_close(b.mean_pressure, 7.0, 1e-14, exact);
    }
    SECTION("triangles: the tails hold a share q^2 of the load, q the pressure at both ends over the peak") {
        for (const double peak : {0.0, 0.2, 1.0, 2.0})
            for (const double share : {0.1, 0.5, 0.95, 0.999}) {
                const LoadBearing b =
                    load_bearing_width(std::vector{0.0, peak, peak, 2.0}, std::vector{0.0, 3.0, 3.0, 0.0}, share);
                expect_close(b.width, 2.0 * (1.0 - std::sqrt(1.0 - share)), 1e-13, exact);
                expect_close(b.mean_pressure, share * 3.0 / b.width, 1e-13, exact);
            }
    }
    SECTION("tension counts as nothing") {
        const LoadBearing b =
            load_bearing_width(std::vector{-2.0, -0.5, 0.0, 0.5, 3.0}, std::vector{-4.0, -1.0, 1.0, -1.0, -1.0});
        // A triangle from -0.25 to 0.25.
        expect_close(b.load, 0.25, 1e-14, exact);
        expect_close(b.width, 0.5 * (1.0 - std::sqrt(0.05)), 1e-13, exact);
        expect_close(b.from, -0.5 * b.width, 1e-13, exact);
    }
    SECTION("islands: within one while it carries enough, else across the gap") {
        const std::vector<double> x{0.0, 0.0, 1.0, 1.0, 5.0, 5.0, 6.0, 6.0}, p{0.0, 6.0, 6.0, 0.0, 0.0, 4.0, 4.0, 0.0};
        const LoadBearing one = load_bearing_width(x, p, 0.6);
        expect_close(one.width, 1.0, 1e-14, exact);
        CHECK(one.from == 0.0);
        const LoadBearing both = load_bearing_width(x, p, 0.95);
        expect_close(both.width, 6.0 - 0.5 / 4.0, 1e-14, "given up where the pressure is lower");
        CHECK(both.from == 0.0);
        expect_close(load_bearing_width(x, p, 1.0).width, 6.0, 1e-14, exact);
    }
    SECTION("a flat shoulder: the ends meet at its own pressure") {
        // Flat at 2 from 0 to 4, up to 4 at 5, down to 0 at 7. Load 8 + 3 + 4. The right end stands where the pressure
        // is 2, x = 6.
        const LoadBearing b =
            load_bearing_width(std::vector{0.0, 4.0, 5.0, 7.0}, std::vector{2.0, 2.0, 4.0, 0.0}, 8.0 / 15.0);
        expect_close(b.to, 6.0, 1e-13, exact);
        expect_close(b.from, 3.0, 1e-13, "3 + 3 + 2 = 8: 2 from the flat");
    }
    SECTION("ends of the profile are left out unless they carry") {
        const LoadBearing b =
            load_bearing_width(std::vector{0.0, 3.0, 4.0, 9.0}, std::vector{0.0, 0.0, 0.0, 10.0}, 1.0);
        expect_close(b.from, 4.0, 1e-14, exact);
        expect_close(b.to, 9.0, 1e-14, exact);
    }
}

TEST_CASE("the stretch that carries a share: against a search over random profiles", "[contact]") {
    Dice dice(11);
    for (int round = 0; round < 60; ++round) {
        std::vector<double> x{0.0}, p{dice() < 0.3 ? 0.0 : dice()};
        const int pieces = 2 + static_cast<int>(8.0 * dice());
        for (int i = 0; i < pieces; ++i) {
            x.push_back(x.back() + 0.05 + dice());
            p.push_back(dice() < 0.2 ? p.back() : 1.6 * dice() - 0.4);
        }
        const double share = 0.3 + 0.69 * dice(), total = carried(x, p, x.front(), x.back());
        if (!(total > 1e-3)) continue;
        const LoadBearing found = load_bearing_width(x, p, share);
        INFO("round " << round << " share " << share);
        expect_close(found.load, total, 1e-4, "midpoint sum");
        expect_close(carried(x, p, found.from, found.to), share * total, 3e-4, "midpoint sum");
        expect_close(found.to - found.from, found.width, 1e-12, "rounding");
        // Every stretch of the wanted load, stepped through a fine running sum.
        constexpr int n = 20000;
        std::vector<double> sum(n + 1, 0.0);
        const double step = (x.back() - x.front()) / n;
        std::size_t piece = 0;
        for (int k = 0; k < n; ++k) {
            const double at = x.front() + (k + 0.5) * step;
            while (piece + 2 < x.size() && x[piece + 1] < at) ++piece;
            const double share_of = (at - x[piece]) / (x[piece + 1] - x[piece]);
            sum[static_cast<std::size_t>(k) + 1] =
                sum[static_cast<std::size_t>(k)] +
                std::max(0.0, p[piece] + share_of * (p[piece + 1] - p[piece])) * step;
        }
        std::size_t shortest = sum.size();
        for (std::size_t i = 0, j = 0; i < sum.size(); ++i) {
            while (j < sum.size() && sum[j] - sum[i] < share * sum.back()) ++j;
            if (j == sum.size()) break;
            shortest = std::min(shortest, j - i);
        }
        CHECK(std::abs(static_cast<double>(shortest) * step - found.width) <= 3.0 * step + 1e-4 * found.width);
    }
}

TEST_CASE("the stretch that carries a share of Hertz's ellipse", "[contact]") {
    // Share within |x| < u a: (2 / pi) (asin u + u sqrt(1 - u^2)) (integral of Johnson 1985, eq. 4.44).
    double u = 0.8;
    for (int i = 0; i < 60; ++i)
        u += (0.95 - 2.0 / kPi * (std::asin(u) + u * std::sqrt(1.0 - u * u))) / (4.0 / kPi * std::sqrt(1.0 - u * u));
    std::vector<double> x, p;
    for (int i = 0; i <= 2000; ++i) {
        x.push_back(-std::cos(kPi * i / 2000));
        p.push_back(std::sqrt(std::max(0.0, 1.0 - x.back() * x.back())));
    }
    expect_close(load_bearing_width(x, p).width, 2.0 * u, 1e-6, "2000 chords of the ellipse");
}

TEST_CASE("the stretch that carries a share never turns a bad input into a number", "[contact]") {
    const std::vector<double> x{0.0, 1.0, 2.0}, p{1.0, 1.0, 1.0};
    for (const LoadBearing& b :
         {load_bearing_width(x, std::vector{1.0, 1.0}), load_bearing_width(x, std::vector{1.0, kNan, 1.0}),
          load_bearing_width(std::vector{0.0, 2.0, 1.0}, p), load_bearing_width(x, p, 0.0),
          load_bearing_width(x, p, 1.1), load_bearing_width(x, p, kNan), load_bearing_width({}, {})}) {
        CHECK(std::isnan(b.width));
        CHECK(std::isnan(b.load));
    }
    const LoadBearing none = load_bearing_width(x, std::vector{0.0, -1.0, 0.0});
    CHECK(none.width == 0.0);
    CHECK(none.load == 0.0);
    CHECK(std::isnan(none.from));
}

TEST_CASE("an unworn edge is elastic, then as hard as a wedge can be", "[contact]") {
    expect_close(wedge_hardness(5.5e9, kPi), 5.5e9, 1e-14, "a wedge of 180 deg is the half-space");
    // Hill 1950 (from memory): 2 k (1 + w / 2); a column (w = 0) yields at 2 k, a half-space at 2 k (1 + pi / 2) = 5.14
    // k.
    expect_close(wedge_hardness(5.141592653589793, 0.0), 2.0, 1e-14, "column");
    expect_close(wedge_hardness(1.0, 90 * kDeg), 0.6944, 1e-3, "square edge");
    const double front = 60 * kDeg, body = 30 * kDeg, H = 5.5e9, E = 1.0e11;
    const EdgeContact steel = edge_contact(100.0, 1e-6, E, H, 12e9, front, body);
    expect_close(steel.width, 2.0 * hertz_line(100.0, 1e-6, E).half_width, 1e-14, "Hertz");
    expect_close(steel.mean_pressure, 100.0 / steel.width, 1e-14, "load over width");
    CHECK_FALSE(steel.plastic);
    expect_close(steel.arc_share, steel.width / (2.0 * 1e-6 * std::sin(body)), 1e-14, "half-chord of the rounding");
    CHECK(steel.arc_share < 0.1);
    const EdgeContact sharp = edge_contact(100.0, 0.0, E, H, 12e9, front, body);
    expect_close(sharp.mean_pressure, wedge_hardness(H, 90 * kDeg), 1e-14, "fully plastic");
    CHECK(sharp.plastic);
    CHECK(std::isinf(sharp.arc_share));
    // A soft roll takes the print instead.
    expect_close(edge_contact(100.0, 0.0, E, H, 1e9, front, body).mean_pressure, 1e9, 1e-14, "the softer body");
    // A polymer edge of 2 GPa is flattened beyond line contact: the result says so.
    CHECK(edge_contact(100.0, 1e-6, 2.3e9, 0.2e9, 12e9, front, body).plastic);
    CHECK(edge_contact(100.0, 1e-6, 2.3e9, 0.2e9, 12e9, front, body).arc_share > 0.5);
    CHECK(edge_contact(0.0, 1e-6, E, H, 12e9, front, body).width == 0.0);
    CHECK(std::isnan(edge_contact(-1.0, 1e-6, E, H, 12e9, front, body).width));
    CHECK(std::isnan(edge_contact(1.0, 1e-6, E, H, 12e9, front, 130 * kDeg).width));
    // Facet of a worn square edge: the outline's own length.
    const FacetLaw law(tip_outline(200e-6, SquareEnd{}), body);
    const WidthAndPressure worn = facet_contact(law.at(1e-3), 100.0);
    expect_close(worn.width, 400e-6, 1e-12, "t / sin a");
    expect_close(worn.mean_pressure, 0.25e6, 1e-12, "100 N/m over 400 um");
}

// The half-plane, by influence coefficients: a strip of uniform pressure moves the surface by -(2 (1 - nu^2) / (pi E))
// p times the integral of ln|x - s| (Johnson 1985, eq. 2.30 and sect. 5.9, up to a constant). Unit facet, E / (1 -
// nu^2) = 1.
TEST_CASE("Winkler's rule against the half-plane", "[contact]") {
    constexpr int n = 1500;
    Solid solid;
    solid.youngs_modulus = 1.0, solid.poissons_ratio = 0.0;
    const double c = surface_compliance(solid, 1.0, 10.0, 30 * kDeg).indentation;
    std::vector<double> x(n);
    for (int i = 0; i < n; ++i) x[static_cast<std::size_t>(i)] = (i + 0.5) / n - 0.5;
    const auto primitive = [](double y) { return y * std::log(std::abs(y)) - y; };
    struct Misfit {
        double coefficient, rms;
    };
    const auto compare = [&](auto pressure) {
        std::vector<double> p(n), u(n, 0.0);
        double mean_p = 0.0, mean_u = 0.0;
        for (std::size_t i = 0; i < n; ++i) mean_p += (p[i] = pressure(x[i])) / n;
        for (std::size_t i = 0; i < n; ++i) {
            for (std::size_t j = 0; j < n; ++j)
                u[i] -= 2.0 / kPi * p[j] * (primitive(x[j] + 0.5 / n - x[i]) - primitive(x[j] - 0.5 / n - x[i]));
            mean_u += u[i] / n;
        }
        double up = 0.0, pp = 0.0, miss = 0.0, uu = 0.0;
        for (std::size_t i = 0; i < n; ++i) {
            const double du = u[i] - mean_u, dp = p[i] - mean_p;
            up += du * dp, pp += dp * dp, uu += du * du, miss += (du - c * dp) * (du - c * dp);
        }
        return Misfit{up / pp, std::sqrt(miss / uu)};
    };
    const Misfit linear = compare([](double s) { return 2.0 * s; });
    const Misfit parabolic = compare([](double s) { return 1.0 - 4.0 * s * s; });
    expect_close(linear.coefficient, 3.0 / (2.0 * kPi), 1e-5, "1500 strips");
    expect_close(parabolic.coefficient, 5.0 / (3.0 * kPi), 1e-5, "1500 strips");
    expect_close(c, 0.5 * (linear.coefficient + parabolic.coefficient), 0.01, "their mean, rounded to 1/2");
    // The stated errors of the rule.
    expect_close(linear.rms, 0.175, 0.01, "18 % rms");
    expect_close(parabolic.rms, 0.088, 0.01, "9 % rms");
    // A uniform pressure, which Winkler leaves flat, dishes the half-plane: 2 ln 2 / pi from the middle to an end.
    double middle = 0.0, end = 0.0;
    for (int j = 0; j < n; ++j) {
        const double from = static_cast<double>(j) / n - 0.5, to = from + 1.0 / n;
        middle -= 2.0 / kPi * (primitive(to + 1e-12) - primitive(from + 1e-12));
        end -= 2.0 / kPi * (primitive(to - 0.5 - 1e-12) - primitive(from - 0.5 - 1e-12));
    }
    expect_close(middle - end, 2.0 * std::log(2.0) / kPi, 1e-8, "Johnson 1985, eq. 2.30");
    // A ripple is over-estimated: 1 / (pi k) against 1 / 2 for wavelength 1 / k.
    const Misfit ripple = compare([](double s) { return std::cos(2.0 * kPi * 5.0 * s); });
    expect_close(ripple.coefficient, 1.0 / (5.0 * kPi), 0.05,
                 "Johnson 1985, sect. 13.2: l / (pi E); ends of the facet");
}

namespace {

/// Plane-strain finite elements (bilinear, 2 x 2 points) of a strip of thickness 1, cut to a facet that leaves `worn`
/// of the cut face gone, held 6 thicknesses away: lift of the facet under unit pressure, E / (1 - nu^2) = 1, against
/// the section behind its body end.
struct FacetLift {
    double mean;       ///< over the facet length
    double curvature;  ///< second coefficient of the best parabola in -1 .. 1, over the facet length
};
FacetLift finite_element_lift(double angle, double worn, double nu) {
    constexpr int facet = 56, rest = 16, along = 180;
    const double E = 1.0 - nu * nu, top = worn;  // the facet runs from v = 0 to v = top
    std::vector<double> v;
    for (int i = 0; i <= facet; ++i) v.push_back(0.5 * top * (1.0 - std::cos(kPi * i / facet)));
    if (worn < 1.0)
        for (int i = 1; i <= rest; ++i) v.push_back(top + (1.0 - top) * std::pow(static_cast<double>(i) / rest, 1.5));
    const auto rows = static_cast<int>(v.size());
    const auto id = [](int i, int j) { return i * (along + 1) + j; };
    std::vector<Eigen::Vector2d> node;
    for (const double across : v)
        for (int j = 0; j <= along; ++j) {
            const double end = std::max(0.0, (top - across) / std::tan(angle));
            node.emplace_back(end + (6.0 - end) * std::pow(static_cast<double>(j) / along, 2.2), across);
        }
    Eigen::Matrix3d D;
    D << 1.0 - nu, nu, 0.0, nu, 1.0 - nu, 0.0, 0.0, 0.0, 0.5 - nu;
    D *= E / ((1.0 + nu) * (1.0 - 2.0 * nu));
    const auto size = static_cast<Eigen::Index>(2 * node.size());
    std::vector<Eigen::Triplet<double>> entries;
    for (int i = 0; i + 1 < rows; ++i)
        for (int j = 0; j < along; ++j) {
            const int corner[4] = {id(i, j), id(i, j + 1), id(i + 1, j + 1), id(i + 1, j)};
            Eigen::Matrix<double, 8, 8> K = Eigen::Matrix<double, 8, 8>::Zero();
            for (const double xi : {-std::sqrt(1.0 / 3.0), std::sqrt(1.0 / 3.0)})
                for (const double eta : {-std::sqrt(1.0 / 3.0), std::sqrt(1.0 / 3.0)}) {
                    Eigen::Matrix<double, 2, 4> dN;
                    dN << eta - 1.0, 1.0 - eta, 1.0 + eta, -1.0 - eta, xi - 1.0, -1.0 - xi, 1.0 + xi, 1.0 - xi;
                    dN *= 0.25;
                    Eigen::Matrix2d J = Eigen::Matrix2d::Zero();
                    for (int k = 0; k < 4; ++k) J += dN.col(k) * node[static_cast<std::size_t>(corner[k])].transpose();
                    const Eigen::Matrix<double, 2, 4> dX = J.inverse() * dN;
                    Eigen::Matrix<double, 3, 8> B = Eigen::Matrix<double, 3, 8>::Zero();
                    for (int k = 0; k < 4; ++k) {
                        B(0, 2 * k) = B(2, 2 * k + 1) = dX(0, k);
                        B(1, 2 * k + 1) = B(2, 2 * k) = dX(1, k);
                    }
                    K += B.transpose() * D * B * std::abs(J.determinant());
                }
            for (int r = 0; r < 8; ++r)
                for (int s = 0; s < 8; ++s) {
                    const int row = 2 * corner[r / 2] + r % 2, column = 2 * corner[s / 2] + s % 2;
                    entries.emplace_back(row, column, K(r, s));
                }
        }
    for (int i = 0; i < rows; ++i)
        for (int k = 0; k < 2; ++k) entries.emplace_back(2 * id(i, along) + k, 2 * id(i, along) + k, 1e9);  // held
    Eigen::SparseMatrix<double> K(size, size);
    K.setFromTriplets(entries.begin(), entries.end());
    const Eigen::Vector2d normal(std::sin(angle), std::cos(angle));
    Eigen::VectorXd load = Eigen::VectorXd::Zero(size);
    const auto at = [&](int i) { return node[static_cast<std::size_t>(id(i, 0))]; };
    for (int i = 0; i < facet; ++i)
        for (const int k : {i, i + 1}) load.segment<2>(2 * id(k, 0)) += 0.5 * (at(i + 1) - at(i)).norm() * normal;
    const Eigen::VectorXd u = Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>>(K).solve(load);
    // Rigid motion of the blade a quarter of the thickness behind the facet.
    Eigen::Matrix3d M = Eigen::Matrix3d::Zero();
    Eigen::Vector3d m = Eigen::Vector3d::Zero();
    for (std::size_t k = 0; k < node.size(); ++k) {
        if (std::abs(node[k].x() - at(0).x() - 0.25) > 0.06) continue;
        const Eigen::Vector3d first(1.0, 0.0, -node[k].y()), second(0.0, 1.0, node[k].x());
        M += first * first.transpose() + second * second.transpose();
        m += first * u[static_cast<Eigen::Index>(2 * k)] + second * u[static_cast<Eigen::Index>(2 * k + 1)];
    }
    const Eigen::Vector3d rigid = M.inverse() * m;
    const double b = (at(facet) - at(0)).norm();
    Eigen::Matrix3d A = Eigen::Matrix3d::Zero();
    Eigen::Vector3d y = Eigen::Vector3d::Zero();
    double mean = 0.0;
    for (int i = 0; i <= facet; ++i) {
        const Eigen::Vector2d here = at(i);
        const Eigen::Vector2d moved(u[2 * id(i, 0)] - rigid[0] + rigid[2] * here.y(),
                                    u[2 * id(i, 0) + 1] - rigid[1] - rigid[2] * here.x());
        const double weight = 0.5 * (at(std::min(facet, i + 1)) - at(std::max(0, i - 1))).norm() / b;
        const double s = 2.0 * (here - at(0)).norm() / b - 1.0;
        const Eigen::Vector3d basis(1.0, s, s * s);
        A += weight * basis * basis.transpose();
        y += weight * basis * moved.dot(normal);
        mean += weight * moved.dot(normal);
    }
    return {mean / b, (A.inverse() * y)[2] / b};
}

/// Second coefficient of the best parabola of the beam's lift, same units.
double beam_curvature(const Solid& solid, double b, double t, double angle) {
    Eigen::Matrix3d A = Eigen::Matrix3d::Zero();
    Eigen::Vector3d y = Eigen::Vector3d::Zero();
    for (int i = 0; i < 400; ++i) {
        const double s = (i + 0.5) / 200.0 - 1.0;
        const Eigen::Vector3d basis(1.0, s, s * s);
        A += basis * basis.transpose();
        y += basis * feather_lift(solid, b, t, angle, 0.5 * (1.0 - s) * b);
    }
    return (A.inverse() * y)[2] / b;
}

}  // namespace

TEST_CASE("the feather's lift against finite elements", "[contact]") {
    Solid solid;
    solid.poissons_ratio = 0.38, solid.youngs_modulus = 1.0 - 0.38 * 0.38;
    struct Row {
        double angle, worn;
    };
    for (const Row& row : {Row{30 * kDeg, 1.0}, Row{30 * kDeg, 0.8}, Row{20 * kDeg, 0.8}}) {
        const double b = row.worn / std::sin(row.angle);
        const FacetLift solved = finite_element_lift(row.angle, row.worn, 0.38);
        INFO("angle " << row.angle / kDeg << " worn " << row.worn << " mean " << solved.mean << " curvature "
                      << solved.curvature << " beam " << surface_compliance(solid, b, 1.0, row.angle).feather_mean / b
                      << " and " << beam_curvature(solid, b, 1.0, row.angle));
        // The half-plane under uniform pressure curves the other way, by -0.35 (from its own parabola fit).
        const double beam = beam_curvature(solid, b, 1.0, row.angle) - 0.35;
        CHECK(std::abs(beam / solved.curvature - 1.0) < 0.25);
        CHECK(solved.mean > surface_compliance(solid, b, 1.0, row.angle).feather_mean / b);
    }
    // Half worn and steep, nothing of the feather is left: the half-plane alone.
    const FacetLift stub = finite_element_lift(45 * kDeg, 0.3, 0.38);
    expect_close(stub.curvature, -0.35, 0.05, "half-plane under uniform pressure");
    CHECK(surface_compliance(solid, 0.3 / std::sin(45 * kDeg), 1.0, 45 * kDeg).feather_front < 0.05);
}

TEST_CASE("the feather's lift: limits, orders, bad input", "[contact]") {
    Solid steel, polymer;
    polymer.youngs_modulus = 2e9, polymer.poissons_ratio = 0.38;
    const double t = 200e-6, a = 30 * kDeg, b = t / std::sin(a);
    const SurfaceCompliance worn = surface_compliance(steel, b, t, a);
    // Orders: steel about 1 nm, polymer about 0.1 um per MPa.
    expect_close(worn.indentation * 1e6, 0.9e-9, 0.1, "nm");
    expect_close(surface_compliance(polymer, b, t, a).indentation * 1e6, 0.086e-6, 0.01, "um");
    // Fully worn, closed form: w(s) = 6 (1 - nu^2) / (E tan^3 a) ((b - s) - s ln(b / s)).
    const double scale = 6.0 * (1.0 - 0.29 * 0.29) / (steel.youngs_modulus * std::pow(std::tan(a), 3));
    for (const double s : {1e-3, 0.2, 0.7})
        expect_close(feather_lift(steel, b, t, a, s * b), scale * b * ((1.0 - s) + s * std::log(s)), 1e-10, kDouble);
    expect_close(worn.feather_front, scale * b, 1e-10, kDouble);
    expect_close(worn.feather_mean, 0.25 * scale * b, 1e-10, kDouble);
    expect_close(worn.worn_share, 1.0, 1e-14, kDouble);
    CHECK(std::abs(feather_lift(steel, b, t, a, b)) < 1e-12 * worn.feather_front);
    // Thick against its length: a cantilever of constant section, p b^4 / (8 E I).
    const double short_b = 1e-3 * t, h = t / std::cos(a);
    const double cantilever =
        12.0 * (1.0 - 0.29 * 0.29) * std::pow(short_b, 4) / (8.0 * steel.youngs_modulus * h * h * h);
    expect_close(surface_compliance(steel, short_b, t, a).feather_front, cantilever, 5e-3, "taper of 1 part in 1000");
    // Mean of the lift, and no jump where the quadrature changes.
    for (const double share : {0.2, 0.49, 0.51, 0.9}) {
        double sum = 0.0;
        constexpr int n = 2000;
        for (int i = 0; i < n; ++i) sum += feather_lift(steel, share * b, t, a, share * b * (i + 0.5) / n) / n;
        expect_close(surface_compliance(steel, share * b, t, a).feather_mean, sum, 1e-6, "midpoint sum");
    }
    const double half = 0.5 * b;
    expect_close(surface_compliance(steel, half * (1 + 1e-9), t, a).feather_front,
                 surface_compliance(steel, half * (1 - 1e-9), t, a).feather_front, 1e-7, "no jump");
    CHECK(std::isnan(feather_lift(steel, b, t, a, -1e-6)));
    CHECK(std::isnan(feather_lift(steel, b, t, a, 1.1 * b)));
    CHECK(std::isnan(surface_compliance(steel, 1.1 * b, t, a).feather_mean));
}
