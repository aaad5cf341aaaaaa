// The engraved surface of the roll: cells between narrow walls (lands).
//
// Pressure inside a closed cell is uniform, so only the walls resist flow: the pressure-flow factor
//   phi(h) = 1 + (phi_deep - 1) / (1 + h / w),  phi_deep = (2 - f) / f,  f = 1 - (1 - w/P)^2
// with wall width w, pitch P, land fraction f (closed form for closed cells in regular patterns; derived for this
// project from the uniform-pressure cell). The room cell_flow solves the cell problem itself.
//
// Patterns at screen angle 0, x along the roll's motion, y along its axis:
//   hexagon    flat walls face y, points lie along x, nearest neighbours at distance P
//   diamond    squares in a square lattice of side P, walls along x and y
//   channel    grooves along x, repeated at distance P
//   elongated  the hexagon's lattice stretched by `aspect` along x, all walls of the same width; P counts along y
#pragma once

#include <optional>

namespace libblade {

enum class Pattern { smooth, hexagon, diamond, channel, elongated };

/// Depth over the opening: flat, or falling as 1 - rho^2 with rho = 0 in the middle and 1 at the edge.
enum class CellProfile { flat, parabolic };

struct Engraving {
    Pattern pattern = Pattern::hexagon;
    double screen = 10000.0;                     ///< cells per metre [1/m]
    double wall_width = 6e-6;                    ///< land between cells [m]
    double cell_volume = 6e-6;                   ///< volume per roll area [m3/m2]; see the function cell_volume
    double fill = 0.9;                           ///< share of the cell volume that holds ink after the blade [-]
    std::optional<double> pressure_flow_factor;  ///< constant phi under facet and edges, 1 on the flanks [-]
    std::optional<double> land_fraction;         ///< overrides the geometric one [-]
    double screen_angle = 0.0;                   ///< turns the pattern from x towards y [rad]
    double aspect = 1.0;                         ///< stretch along x of elongated cells [-]; other patterns ignore it
    double corner_radius = 0.0;                  ///< rounding of the opening's corners [m]; limited by its sides
    CellProfile profile = CellProfile::flat;
    std::optional<double> cell_depth;  ///< deepest point below the lands [m]; where stated, decides the volume
    bool operator==(const Engraving&) const = default;
};

/// Distance between neighbouring cells [m].
[[nodiscard]] double pitch(const Engraving& engraving) noexcept;
/// Share of the surface that is land [-]; 1 for a smooth roll.
[[nodiscard]] double land_fraction(const Engraving& engraving) noexcept;
/// Share of the surface that is opening, from the geometry alone (no override) [-].
[[nodiscard]] double open_fraction(const Engraving& engraving) noexcept;
/// Cells per roll area [1/m2]; 0 for channels and the smooth roll.
[[nodiscard]] double cells_per_area(const Engraving& engraving) noexcept;
/// Mean depth over the opening / deepest point [-]: flat 1, parabolic 1/2 (cells) or 2/3 (channels).
[[nodiscard]] double depth_shape_factor(const Engraving& engraving) noexcept;
/// Volume per roll area [m3/m2] = open fraction x depth x shape factor where a depth is stated, else as stated.
[[nodiscard]] double cell_volume(const Engraving& engraving) noexcept;
/// Deepest point below the lands [m]: as stated, or from the volume; 0 without openings.
[[nodiscard]] double cell_depth(const Engraving& engraving) noexcept;

/// Pressure-flow factor of deep cells in a vanishing gap [-], closed ones as long as wide; channels: across, 1 / f.
[[nodiscard]] double deep_flow_factor(const Engraving& engraving) noexcept;
/// Pressure-flow factor along x at a land gap h [m]; ignores the override. Channels: exact means of h^3 along and h^-3
/// across (flat-bottomed; Christensen 1969), turned by the screen angle. Elongated cells: as if they were not.
[[nodiscard]] double flow_factor(const Engraving& engraving, double land_gap) noexcept;

}  // namespace libblade
