// The flow curve of an ink from stress to rate.
#pragma once

#include <algorithm>
#include <cmath>

#include "libblade/ink_kernel.hpp"

namespace libblade {

/// Length in ln rate over which 15 points integrate the law to rounding: its poles lie pi / sharpness off the real axis.
template <class Law>
[[nodiscard]] double piece(const Law&) noexcept {
    return 2.0;
}
[[nodiscard]] inline double piece(const CarreauYasuda& law) noexcept { return 4.0 / std::max(2.0, law.transition); }

/// ln of the rate at ln of a stress. Newton in logarithms, where the slope is the local exponent; halved where a step
/// would leave the bracket. NaN if it does not end.
template <class Law>
[[nodiscard]] double log_rate(const Law& law, double log_stress, double guess) noexcept {
    double low = -300.0, high = 300.0, x = guess;
    for (int i = 0; i < 200; ++i) {
        const auto v = kernel::viscosity(law, std::exp(x));
        const double f = x + std::log(v.apparent) - log_stress;
        (f > 0.0 ? high : low) = x;
        double next = x - f * v.apparent / v.tangent;
        const bool newton = next >= low && next <= high;
        if (!newton) next = 0.5 * (low + high);
        // Quadratic: the next step would be below rounding.
        if (std::abs(next - x) < (newton ? 1e-8 : 1e-15)) return next;
        x = next;
    }
    return std::nan("");
}

[[nodiscard]] inline double log_rate(const PowerLaw& law, double log_stress, double) noexcept {
    return (log_stress - std::log(law.consistency)) / law.exponent;
}

[[nodiscard]] inline double log_rate(const Newtonian& law, double log_stress, double) noexcept {
    return log_stress - std::log(law.viscosity);
}

}  // namespace libblade
