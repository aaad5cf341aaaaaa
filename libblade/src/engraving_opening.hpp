// The opening of one cell as a polygon in the pattern's own axes, symmetric about both.
#pragma once

#include <vector>

#include "libblade/engraving.hpp"

namespace libblade::detail {

/// n . (x - centre) <= distance, n a unit vector.
struct Side {
    double nx = 0.0, ny = 0.0, distance = 0.0;
};

/// The lattice repeats with 2 quarter_x by 2 quarter_y. One opening lies on the origin, with `staggered` a second one
/// on the far corner of the quarter [0, quarter_x] x [0, quarter_y].
struct Lattice {
    double quarter_x = 0.0, quarter_y = 0.0;  ///< [m]
    bool staggered = false;
    bool closed = true;                  ///< false: the opening runs on along x
    std::vector<Side> sides;             ///< in turning order; empty without openings
    double corner_radius = 0.0;          ///< what fits [m]
    double open_fraction = 0.0;          ///< exact, rounding included [-]
    std::vector<double> mesh_x, mesh_y;  ///< places in the quarter where a mesh line follows the geometry [m]
};

/// The pattern with walls of the given width in place of the engraving's own.
[[nodiscard]] Lattice lattice(const Engraving& engraving, double wall_width);
/// Sides with every corner replaced by tangents of its rounding, `per_corner` of them.
[[nodiscard]] std::vector<Side> rounded_sides(const Lattice& lattice, int per_corner);

}  // namespace libblade::detail
