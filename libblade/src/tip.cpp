#include "libblade/tip.hpp"

#include <algorithm>
#include <cmath>

namespace libblade {

double worn_facet_length(double thickness, double angle) noexcept { return thickness / std::sin(angle); }

bool eats_whole_end(double facet_length, double angle, double thickness) noexcept {
    return facet_length * std::sin(angle) >= 0.999 * thickness;
}

double facet_from_retreat(double retreat, double angle, double thickness) noexcept {
    return std::min(retreat / (std::sin(angle) * std::cos(angle)), worn_facet_length(thickness, angle));
}

}  // namespace libblade
