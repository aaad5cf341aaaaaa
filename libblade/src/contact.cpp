#include "libblade/contact.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace libblade {

HertzLine hertz_line(double load, double radius, double modulus) noexcept {
    constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    if (!(load >= 0.0) || !(radius > 0.0) || !(modulus > 0.0)) return {nan, nan};
    constexpr double pi = std::numbers::pi;
    // The peak from P E* / (pi R) rather than from P / a: no 0 / 0 at zero load.
    return {std::sqrt(4.0 * load * radius / (pi * modulus)), std::sqrt(load * modulus / (pi * radius))};
}

double elastic_edge_width(double load, double radius, double modulus, double hardness) noexcept {
    if (!(hardness > 0.0)) return std::numeric_limits<double>::quiet_NaN();
    const double elastic = 2.0 * hertz_line(load, radius, modulus).half_width;
    return std::isnan(elastic) ? elastic : std::max(elastic, load / hardness);
}

SubsurfaceShear largest_shear(const HertzLine& contact) noexcept {
    // On the axis tau_1 = (p0 / a) (z - z^2 / sqrt(a^2 + z^2)); stationary where s (s^2 + 2) = (1 + s^2)^(3/2), s = z / a,
    // that is s^4 + s^2 = 1: s^2 = (sqrt 5 - 1) / 2.
    const double s = std::sqrt(0.5 * (std::sqrt(5.0) - 1.0));
    return {contact.peak_pressure * (s - s * s / std::sqrt(1.0 + s * s)), contact.half_width * s};
}

}  // namespace libblade
