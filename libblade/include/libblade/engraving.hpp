// The engraved surface of the roll: closed cells between narrow walls (lands).
//
// Pressure inside a cell is uniform, so only the walls resist flow: the pressure-flow factor
//   phi(h) = 1 + (phi_deep - 1) / (1 + h / w),  phi_deep = (2 - f) / f,  f = 1 - (1 - w/P)^2
// with wall width w, pitch P, land fraction f (closed form for closed cells in regular patterns; derived for this
// project from the uniform-pressure cell, to be replaced by the cell problem).
#pragma once

#include <optional>

namespace libblade {

enum class Pattern { smooth, hexagon, diamond };

struct Engraving {
    Pattern pattern = Pattern::hexagon;
    double screen = 10000.0;                     ///< cells per metre [1/m]
    double wall_width = 6e-6;                    ///< land between cells [m]
    double cell_volume = 6e-6;                   ///< volume per roll area [m3/m2]
    double fill = 0.9;                           ///< share of the cell volume that holds ink after the blade [-]
    std::optional<double> pressure_flow_factor;  ///< constant phi under facet and edges, 1 on the flanks [-]
    std::optional<double> land_fraction;         ///< overrides the geometric one [-]
    bool operator==(const Engraving&) const = default;
};

/// Distance between neighbouring cells [m].
[[nodiscard]] double pitch(const Engraving& engraving) noexcept;
/// Share of the surface that is land [-]; 1 for a smooth roll.
[[nodiscard]] double land_fraction(const Engraving& engraving) noexcept;
/// Pressure-flow factor of deep closed cells in a vanishing gap [-].
[[nodiscard]] double deep_flow_factor(const Engraving& engraving) noexcept;
/// Pressure-flow factor at a land gap h [m]; ignores the override.
[[nodiscard]] double flow_factor(const Engraving& engraving, double land_gap) noexcept;

}  // namespace libblade
