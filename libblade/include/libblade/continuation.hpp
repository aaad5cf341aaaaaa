// Pseudo-arc-length continuation of a curve f(x) = 0, f of N - 1 values in N unknowns (N = 2 to about 5), through
// folds.
//
// Predictor along the tangent, Newton on f and on the plane across the tangent (Keller 1977; Allgower & Georg 1990,
// Numerical Continuation Methods). The tangent is the unit null vector of the Jacobian that keeps going forward. A fold
// of x_i is a zero of tangent_i; any watched function of the state is followed for changes of sign, and its zero is
// found on the curve. Where the curve has a kink the tangent jumps: a short step goes over it. Scale the unknowns so
// that a step of 0.1 is short.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <tuple>
#include <type_traits>
#include <utility>

#include "libblade/status.hpp"

namespace libblade {

template <std::size_t N>
struct CurvePoint {
    std::array<double, N> x{};
    std::array<double, N> tangent{};  ///< unit length, forward
};
template <std::size_t N>
struct CurveEquations {
    std::array<double, N - 1> f{};
    std::array<std::array<double, N>, N - 1> jacobian{};
};

struct ContinuationOptions {
    double first_step = 1e-2;
    double smallest_step = 1e-9;
    double largest_step = 0.1;
    double tolerance = 1e-12;        ///< of every f
    double event_tolerance = 1e-11;  ///< of an event's place along the curve
    int max_points = 2000;
    int max_corrections = 8;
};

/// How a curve ended: converged when the visitor, or a bound, ended it.
struct CurveEnd {
    Status status = Status::not_run;
    int points = 0;
    int evaluations = 0;
};

namespace continuation_detail {

/// Solves a small dense system by elimination with row exchange; false when it is singular.
template <std::size_t N>
[[nodiscard]] bool solve(std::array<std::array<double, N>, N> a, std::array<double, N>& b) noexcept {
    for (std::size_t k = 0; k < N; ++k) {
        std::size_t pivot = k;
        for (std::size_t i = k + 1; i < N; ++i)
            if (std::abs(a[i][k]) > std::abs(a[pivot][k])) pivot = i;
        if (!(std::abs(a[pivot][k]) > 0.0) || !std::isfinite(a[pivot][k])) return false;
        std::swap(a[k], a[pivot]);
        std::swap(b[k], b[pivot]);
        for (std::size_t i = k + 1; i < N; ++i) {
            const double m = a[i][k] / a[k][k];
            for (std::size_t j = k; j < N; ++j) a[i][j] -= m * a[k][j];
            b[i] -= m * b[k];
        }
    }
    for (std::size_t k = N; k-- > 0;) {
        for (std::size_t j = k + 1; j < N; ++j) b[k] -= a[k][j] * b[j];
        b[k] /= a[k][k];
    }
    return true;
}

template <std::size_t N>
[[nodiscard]] double dot(const std::array<double, N>& a, const std::array<double, N>& b) noexcept {
    double sum = 0.0;
    for (std::size_t i = 0; i < N; ++i) sum += a[i] * b[i];
    return sum;
}

template <std::size_t N>
[[nodiscard]] std::array<std::array<double, N>, N> bordered(const CurveEquations<N>& e,
                                                            const std::array<double, N>& row) noexcept {
    std::array<std::array<double, N>, N> a{};
    for (std::size_t i = 0; i + 1 < N; ++i) a[i] = e.jacobian[i];
    a[N - 1] = row;
    return a;
}

/// Unit null vector of the Jacobian on the side of `forward`.
template <std::size_t N>
[[nodiscard]] bool tangent(const CurveEquations<N>& e, const std::array<double, N>& forward,
                           std::array<double, N>& out) noexcept {
    // The rows may differ in size by decades: scaled before they are bordered.
    CurveEquations<N> scaled = e;
    for (auto& row : scaled.jacobian) {
        const double size = std::sqrt(dot(row, row));
        if (!(size > 0.0) || !std::isfinite(size)) return false;
        for (double& value : row) value /= size;
    }
    std::array<double, N> t{};
    t[N - 1] = 1.0;
    if (!solve(bordered(scaled, forward), t)) return false;
    const double size = std::sqrt(dot(t, t));
    if (!std::isfinite(size)) return false;
    for (std::size_t i = 0; i < N; ++i) out[i] = t[i] / size;
    return true;
}

}  // namespace continuation_detail

/// Corrects `point.x` onto the curve within the plane across `point.tangent`, and renews the tangent.
/// equations(x, CurveEquations&) returns false where f is not defined.
template <std::size_t N, class Equations>
[[nodiscard]] Status correct_to_curve(Equations&& equations, CurvePoint<N>& point, const ContinuationOptions& options,
                                      int& evaluations) {
    using namespace continuation_detail;
    CurveEquations<N> e;
    const auto normal = point.tangent;
    for (int i = 0; i <= options.max_corrections; ++i) {
        ++evaluations;
        if (!equations(point.x, e)) return Status::non_finite;
        double size = 0.0;
        for (const double value : e.f) size = std::max(size, std::isfinite(value) ? std::abs(value) : 1e300);
        if (size <= options.tolerance)
            return tangent(e, normal, point.tangent) ? Status::converged : Status::singular_jacobian;
        std::array<double, N> step{};
        for (std::size_t k = 0; k + 1 < N; ++k) step[k] = -e.f[k];
        if (!solve(bordered(e, normal), step)) return Status::singular_jacobian;
        for (std::size_t k = 0; k < N; ++k) point.x[k] += step[k];
    }
    return Status::max_iterations;
}

/// Follows the curve from `start.x` (on or near it) towards `start.tangent` (any vector not across the curve).
///   watch(point) -> std::array<double, E>   functions whose zeros are looked for
///   visit(point, event) -> bool             every point in order, event = -1 or the index of the function that
///                                           vanishes there; false ends the curve
/// Iterations are bounded by max_points, and steps from below.
template <std::size_t N, class Equations, class Watch, class Visit>
[[nodiscard]] CurveEnd follow_curve(Equations&& equations, CurvePoint<N> start, Watch&& watch, Visit&& visit,
                                    const ContinuationOptions& options = {}) {
    using continuation_detail::dot;
    CurveEnd end;
    const auto stop = [&](Status status) {
        end.status = status;
        return end;
    };
    if (const Status s = correct_to_curve(equations, start, options, end.evaluations); s != Status::converged)
        return stop(s);
    CurvePoint<N> here = start;
    auto watched = watch(here);
    ++end.points;
    if (!visit(here, -1)) return stop(Status::converged);
    const auto ahead = [&](double step, CurvePoint<N>& point) {
        point = here;
        for (std::size_t k = 0; k < N; ++k) point.x[k] += step * here.tangent[k];
        return correct_to_curve(equations, point, options, end.evaluations);
    };
    double step = options.first_step;
    while (end.points < options.max_points) {
        CurvePoint<N> next;
        const int before = end.evaluations;
        const Status status = ahead(step, next);
        const double along = dot(here.tangent, next.tangent);
        std::array<double, N> moved{};
        for (std::size_t k = 0; k < N; ++k) moved[k] = next.x[k] - here.x[k];
        const bool far = std::sqrt(dot(moved, moved)) > 1.5 * step;
        if (status != Status::converged || far || (along < 0.95 && step > 1e-3 * options.largest_step)) {
            step *= 0.5;
            if (step < options.smallest_step)
                return stop(status == Status::converged ? Status::step_too_small : status);
            continue;
        }
        const auto seen = watch(next);
        // Zeros within the step, in order along it.
        std::array<std::pair<double, int>, std::tuple_size_v<std::decay_t<decltype(seen)>> + 1> zeros;
        std::size_t count = 0;
        for (std::size_t e = 0; e < seen.size(); ++e) {
            if (!((watched[e] > 0.0 && seen[e] < 0.0) || (watched[e] < 0.0 && seen[e] > 0.0))) continue;
            double a = 0.0, fa = watched[e], b = step, fb = seen[e];  // Illinois
            for (int i = 0, side = 0; i < 80 && b - a > options.event_tolerance; ++i) {
                double c = i % 4 == 3 ? 0.5 * (a + b) : (a * fb - b * fa) / (fb - fa);
                if (!(c > a && c < b)) c = 0.5 * (a + b);
                CurvePoint<N> trial;
                if (ahead(c, trial) != Status::converged) break;
                const double fc = watch(trial)[e];
                if (fc == 0.0) {
                    a = b = c;
                } else if ((fc > 0.0) == (fa > 0.0)) {
                    a = c, fa = fc;
                    if (side == 1) fb *= 0.5;
                    side = 1;
                } else {
                    b = c, fb = fc;
                    if (side == -1) fa *= 0.5;
                    side = -1;
                }
            }
            std::size_t k = count++;
            for (; k > 0 && zeros[k - 1].first > 0.5 * (a + b); --k) zeros[k] = zeros[k - 1];
            zeros[k] = {0.5 * (a + b), static_cast<int>(e)};
        }
        for (std::size_t i = 0; i < count; ++i) {
            CurvePoint<N> zero;
            if (ahead(zeros[i].first, zero) != Status::converged) continue;
            ++end.points;
            if (!visit(zero, zeros[i].second)) return stop(Status::converged);
        }
        here = next;
        for (std::size_t e = 0; e < seen.size(); ++e)
            if (seen[e] != 0.0) watched[e] = seen[e];
        ++end.points;
        if (!visit(here, -1)) return stop(Status::converged);
        if (end.evaluations - before <= 4 && count == 0) step = std::min(1.6 * step, options.largest_step);
    }
    return stop(Status::max_iterations);
}

}  // namespace libblade
