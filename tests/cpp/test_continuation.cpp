#include "libblade/continuation.hpp"

#include <array>
#include <cmath>
#include <numbers>
#include <vector>

#include "expect.hpp"

using namespace libblade;

namespace {

struct Seen {
    CurvePoint<2> point;
    int event;
};

/// x^2 + y^2 = 1.
bool circle(const std::array<double, 2>& x, CurveEquations<2>& e) {
    e.f[0] = x[0] * x[0] + x[1] * x[1] - 1.0;
    e.jacobian[0] = {2.0 * x[0], 2.0 * x[1]};
    return true;
}

}  // namespace

TEST_CASE("a circle is followed all the way round", "[continuation]") {
    std::vector<Seen> seen;
    CurvePoint<2> start{{1.0, 0.0}, {0.0, 1.0}};
    double turned = 0.0, last = 0.0;
    const CurveEnd end = follow_curve(
        circle, start,
        [](const CurvePoint<2>& p) {
            return std::array<double, 3>{p.tangent[0], p.tangent[1], p.x[0] - 0.6};
        },
        [&](const CurvePoint<2>& p, int event) {
            seen.push_back({p, event});
            const double now = std::atan2(p.x[1], p.x[0]);
            turned += std::remainder(now - last, 2.0 * std::numbers::pi);
            last = now;
            return turned < 2.0 * std::numbers::pi;
        });
    REQUIRE(end.status == Status::converged);
    std::array<int, 3> count{};
    for (const Seen& s : seen) {
        CHECK(std::abs(std::hypot(s.point.x[0], s.point.x[1]) - 1.0) < 1e-11);
        if (s.event < 0) continue;
        ++count[static_cast<std::size_t>(s.event)];
        if (s.event == 0) CHECK(std::abs(s.point.x[1]) < 1e-9);  // a fold of x lies on the x axis
        if (s.event == 1) CHECK(std::abs(s.point.x[0]) < 1e-9);  // and one of y on the y axis
        if (s.event == 2) CHECK(std::abs(s.point.x[0] - 0.6) < 1e-10);
    }
    CHECK(count[2] == 2);
}

TEST_CASE("folds of a cubic are found where its slope vanishes", "[continuation]") {
    // lambda = x^3 - 3 x: folds at x = -1 and 1, lambda = 2 and -2.
    const auto cubic = [](const std::array<double, 2>& x, CurveEquations<2>& e) {
        e.f[0] = x[0] * x[0] * x[0] - 3.0 * x[0] - x[1];
        e.jacobian[0] = {3.0 * x[0] * x[0] - 3.0, -1.0};
        return true;
    };
    std::vector<std::array<double, 2>> folds;
    const CurveEnd end = follow_curve(
        cubic, CurvePoint<2>{{-3.0, -18.0}, {0.0, 1.0}},
        [](const CurvePoint<2>& p) { return std::array<double, 1>{p.tangent[1]}; },
        [&](const CurvePoint<2>& p, int event) {
            if (event == 0) folds.push_back(p.x);
            return p.x[0] < 3.0;
        });
    REQUIRE(end.status == Status::converged);
    REQUIRE(folds.size() == 2);
    CHECK(std::abs(folds[0][0] + 1.0) < 1e-7);  // the place along a fold is flat: root of its tolerance
    CHECK(std::abs(folds[0][1] - 2.0) < 1e-12);
    CHECK(std::abs(folds[1][0] - 1.0) < 1e-7);
    CHECK(std::abs(folds[1][1] + 2.0) < 1e-12);
}

TEST_CASE("a curve in three unknowns", "[continuation]") {
    // Viviani's curve: the unit sphere and the cylinder x^2 + y^2 = x; z is extreme at (0, 0, +-1), a smooth double
    // point away.
    const auto viviani = [](const std::array<double, 3>& x, CurveEquations<3>& e) {
        e.f = {x[0] * x[0] + x[1] * x[1] + x[2] * x[2] - 1.0, x[0] * x[0] + x[1] * x[1] - x[0]};
        e.jacobian[0] = {2 * x[0], 2 * x[1], 2 * x[2]};
        e.jacobian[1] = {2 * x[0] - 1.0, 2 * x[1], 0.0};
        return true;
    };
    // x = cos^2 t, y = cos t sin t, z = sin t, from t = 0.1.
    const double t = 0.1;
    CurvePoint<3> start{{std::cos(t) * std::cos(t), std::cos(t) * std::sin(t), std::sin(t)}, {0.0, 0.0, 1.0}};
    double y_most = 0.0;
    const CurveEnd end = follow_curve(
        viviani, start, [](const CurvePoint<3>& p) { return std::array<double, 1>{p.tangent[1]}; },
        [&](const CurvePoint<3>& p, int event) {
            const double s = std::asin(p.x[2]);
            CHECK(std::abs(p.x[0] - std::cos(s) * std::cos(s)) < 1e-11);
            CHECK(std::abs(p.x[1] - std::cos(s) * std::sin(s)) < 1e-11);
            if (event == 0) y_most = p.x[1];
            return p.x[2] < 0.99;
        });
    REQUIRE(end.status == Status::converged);
    expect_close(y_most, 0.5, 1e-12, "y = sin(2 t) / 2 is largest at 45 deg");
}

TEST_CASE("a kink is crossed and its place found", "[continuation]") {
    // A roof standing on its ridge, by 72 deg.
    const auto roof = [](const std::array<double, 2>& x, CurveEquations<2>& e) {
        const double slope = x[0] < 0.0 ? -0.5 : 1.0;
        e.f[0] = x[1] - slope * x[0];
        e.jacobian[0] = {-slope, 1.0};
        return true;
    };
    int kinks = 0;
    const CurveEnd end = follow_curve(
        roof, CurvePoint<2>{{-1.0, 0.5}, {1.0, 0.0}},
        [](const CurvePoint<2>& p) { return std::array<double, 1>{p.x[0]}; },
        [&](const CurvePoint<2>& p, int event) {
            if (event == 0) {
                ++kinks;
                CHECK(std::abs(p.x[0]) < 1e-10);
            }
            return p.x[0] < 1.0;
        });
    CHECK(end.status == Status::converged);
    CHECK(kinks == 1);
}

TEST_CASE("what cannot be followed says so", "[continuation]") {
    // The curve ends: not defined beyond x = 1.
    const auto half = [](const std::array<double, 2>& x, CurveEquations<2>& e) {
        e.f[0] = x[1] - x[0];
        e.jacobian[0] = {-1.0, 1.0};
        return x[0] < 1.0;
    };
    const auto nothing = [](const CurvePoint<2>&) { return std::array<double, 1>{1.0}; };
    const auto on = [](const CurvePoint<2>&, int) { return true; };
    const CurvePoint<2> start{{0.0, 0.0}, {1.0, 0.0}};
    CHECK(follow_curve(half, start, nothing, on).status == Status::non_finite);
    // No curve at all, and a bound on the points.
    const auto none = [](const std::array<double, 2>&, CurveEquations<2>& e) {
        e.f[0] = 1.0;
        e.jacobian[0] = {0.0, 0.0};
        return true;
    };
    CHECK(follow_curve(none, start, nothing, on).status == Status::singular_jacobian);
    ContinuationOptions few;
    few.max_points = 10;
    const CurveEnd end = follow_curve(circle, CurvePoint<2>{{1.0, 0.0}, {0.0, 1.0}}, nothing, on, few);
    CHECK(end.status == Status::max_iterations);
    CHECK(end.points == 10);
}
