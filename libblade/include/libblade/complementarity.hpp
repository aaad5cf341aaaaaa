// Complementarity a >= 0, b >= 0, a b = 0 written as one equation (Fischer 1992).
#pragma once

#include <cmath>

namespace libblade {

/// phi = a + b - sqrt(a^2 + b^2), zero exactly when a >= 0, b >= 0 and a b = 0, with its derivatives.
struct FischerBurmeister {
    double value = 0.0;
    double by_a = 0.0;  ///< d phi / d a, in [0, 2]
    double by_b = 0.0;  ///< d phi / d b, in [0, 2]
};

[[nodiscard]] inline FischerBurmeister fischer_burmeister(double a, double b) noexcept {
    const double r = std::sqrt(a * a + b * b);
    // at the kink: the element of the generalised gradient along a = b
    constexpr double kink = 0.29289321881345248;  // 1 - 1 / sqrt 2
    if (r == 0.0) return {0.0, kink, kink};
    const double sum = a + b;
    // a + b - r loses all digits where it is small and a + b > 0: use 2 a b / (a + b + r)
    const double value = sum > 0.0 ? 2.0 * a * b / (sum + r) : sum - r;
    return {value, 1.0 - a / r, 1.0 - b / r};
}

}  // namespace libblade
