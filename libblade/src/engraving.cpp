#include "libblade/engraving.hpp"

namespace libblade {

double pitch(const Engraving& engraving) noexcept { return 1.0 / engraving.screen; }

double land_fraction(const Engraving& engraving) noexcept {
    if (engraving.land_fraction) return *engraving.land_fraction;
    if (engraving.pattern == Pattern::smooth) return 1.0;
    const double open = 1.0 - engraving.wall_width / pitch(engraving);
    return 1.0 - open * open;
}

double deep_flow_factor(const Engraving& engraving) noexcept {
    if (engraving.pattern == Pattern::smooth) return 1.0;
    const double f = land_fraction(engraving);
    return (2.0 - f) / f;
}

double flow_factor(const Engraving& engraving, double land_gap) noexcept {
    if (engraving.pattern == Pattern::smooth) return 1.0;
    return 1.0 + (deep_flow_factor(engraving) - 1.0) / (1.0 + land_gap / engraving.wall_width);
}

}  // namespace libblade
