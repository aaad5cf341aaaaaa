// Bracketed scalar roots with a record of how they ended.
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "libblade/status.hpp"

namespace libblade {

struct Root {
    double x = std::numeric_limits<double>::quiet_NaN();
    double f = std::numeric_limits<double>::quiet_NaN();
    Status status = Status::not_run;
    int evaluations = 0;
    double slope = std::numeric_limits<double>::quiet_NaN();  ///< of f across the root, if it was bracketed
};

struct Bracket {
    double a, fa, b, fb;
};

/// Root inside a bracket (Chandrupatla 1997, Adv. Eng. Softw. 28:145: inverse quadratic steps where they are safe, else
/// halves). Ends when |f| <= f_tolerance or the bracket is below x_tolerance; stagnated when |f| is then still large: a jump.
template <class F>
[[nodiscard]] Root bracketed_root(F&& f, Bracket bracket, double x_tolerance, double f_tolerance,
                                  int max_evaluations = 60) {
    double x1 = bracket.a, f1 = bracket.fa, x2 = bracket.b, f2 = bracket.fb;
    double x3 = x2, f3 = f2;
    Root best{std::abs(f1) < std::abs(f2) ? x1 : x2, std::abs(f1) < std::abs(f2) ? f1 : f2, Status::not_run, 0};
    if (!std::isfinite(f1) || !std::isfinite(f2)) return {best.x, best.f, Status::non_finite, 0};
    if ((f1 > 0.0) == (f2 > 0.0) && f1 != 0.0 && f2 != 0.0) return {best.x, best.f, Status::out_of_range, 0};
    // First step by the secant: the functions solved here are close to straight lines in their variables.
    double t = f1 == f2 ? 0.5 : std::clamp(f1 / (f1 - f2), 0.02, 0.98);
    for (int n = 0; n <= max_evaluations; ++n) {
        if (std::abs(best.f) <= f_tolerance) return {best.x, best.f, Status::converged, n};
        if (std::abs(x2 - x1) <= x_tolerance)
            return {best.x, best.f, std::abs(best.f) <= 1e4 * f_tolerance ? Status::converged : Status::stagnated, n};
        // A bracket that closes on a jump has found no root; the higher it is, the earlier it shows.
        if (std::abs(x2 - x1) * f_tolerance < 1e-5 * x_tolerance * std::min(std::abs(f1), std::abs(f2)))
            return {best.x, best.f, Status::stagnated, n};
        if (n == max_evaluations) break;
        const double x = x1 + t * (x2 - x1), fx = f(x);
        if (!std::isfinite(fx)) return {best.x, best.f, Status::non_finite, n + 1};
        if (std::abs(fx) < std::abs(best.f)) best = {x, fx, Status::not_run, n};
        if ((fx > 0.0) == (f1 > 0.0)) {
            x3 = std::exchange(x1, x);
            f3 = std::exchange(f1, fx);
        } else {
            x3 = x2, f3 = f2;
            x2 = std::exchange(x1, x);
            f2 = std::exchange(f1, fx);
        }
        const double xi = (x1 - x2) / (x3 - x2), phi = (f1 - f2) / (f3 - f2);
        const double smallest = std::min(0.5, 0.4 * x_tolerance / std::max(std::abs(x2 - x1), 1e-300));
        if (phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi)
            t = f1 / (f2 - f1) * f3 / (f2 - f3) + (x3 - x1) / (x2 - x1) * f1 / (f3 - f1) * f2 / (f3 - f2);
        else
            t = 0.5;
        t = std::clamp(t, smallest, 1.0 - smallest);
    }
    return {best.x, best.f, Status::max_iterations, max_evaluations};
}

/// Root of a falling function from a start and a slope guess: Newton-like strides until the sign changes, then bracketed.
/// Strides are limited to max_stride and grow; x stays inside [lower, upper].
template <class F>
[[nodiscard]] Root falling_root(F&& f, double start, double slope_guess, double max_stride, double lower, double upper,
                                double x_tolerance, double f_tolerance, int max_evaluations = 80) {
    double x0 = std::clamp(start, lower, upper), f0 = f(x0);
    int n = 1;
    double slope = slope_guess;
    bool level = false;
    while (n < max_evaluations) {
        if (!std::isfinite(f0)) return {x0, f0, Status::non_finite, n};
        if (std::abs(f0) <= f_tolerance) return {x0, f0, Status::converged, n};
        // Overshoot a little, so that the next value lies on the other side and closes the bracket.
        const double stride =
            level ? std::copysign(max_stride, f0) : std::clamp(-1.05 * f0 / slope, -max_stride, max_stride);
        const double x1 = std::clamp(x0 + stride, lower, upper);
        if (x1 == x0) return {x0, f0, Status::out_of_range, n};
        const double f1 = f(x1);
        ++n;
        if (!std::isfinite(f1)) return {x1, f1, Status::non_finite, n};
        if ((f1 > 0.0) != (f0 > 0.0)) {
            Root root = bracketed_root(f, {x0, f0, x1, f1}, x_tolerance, f_tolerance, max_evaluations - n);
            root.evaluations += n;
            // The root lies between: from the end that is further away, where rounding does not count.
            const bool second = std::abs(x1 - root.x) > std::abs(x0 - root.x);
            root.slope = (second ? f1 : f0) / ((second ? x1 : x0) - root.x);
            return root;
        }
        const double secant = (f1 - f0) / (x1 - x0);
        // A rise or a plateau (two gaps carry nearly the same load) is walked across in longest strides.
        level = !(secant < 1e-6 * slope_guess);
        slope = std::clamp(secant, 5.0 * slope_guess, 1e-5 * slope_guess);
        max_stride *= 1.5;
        x0 = x1, f0 = f1;
    }
    return {x0, f0, Status::max_iterations, n};
}

}  // namespace libblade
