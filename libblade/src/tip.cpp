#include "libblade/tip.hpp"

#include <algorithm>
#include <cmath>

namespace libblade {

double worn_facet_length(double thickness, double angle) noexcept { return thickness / std::sin(angle); }

double facet_from_retreat(double retreat, double angle, double thickness) noexcept {
    return std::min(retreat / (std::sin(angle) * std::cos(angle)), worn_facet_length(thickness, angle));
}

}  // namespace libblade
