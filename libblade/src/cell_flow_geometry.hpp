// Integrals of the gap along a straight line over the engraving, in the pattern's own axes and in land gaps.
#pragma once

#include <vector>

#include "engraving_opening.hpp"

namespace libblade::detail {

/// Over a segment, with H = gap / land gap: lengths weighted with H^-3 and with (H - 1) H^-3.
struct LineSums {
    double resistance = 0.0, carried = 0.0;
};

class CellGeometry {
  public:
    /// Openings between walls of the given width; depth as in the engraving. In the `carried` sum the strip of an
    /// opening beyond walls of width `shear_wall_width` counts with weight 1 more: the shear flow feels a longer wall.
    CellGeometry(const Engraving& engraving, double wall_width, double shear_wall_width);
    /// Segment between two points of the quarter, or of the whole plane with `everywhere`; land gap at the segment.
    [[nodiscard]] LineSums along(double x0, double y0, double x1, double y1, double land_gap,
                                 bool everywhere = false) const;
    [[nodiscard]] const Lattice& lattice() const noexcept { return lattice_; }

  private:
    void add_opening(LineSums& sums, double x0, double y0, double x1, double y1, double land_gap) const;
    Lattice lattice_;
    std::vector<Side> sides_, shear_sides_;  ///< the latter empty without a strip
    double depth_;
    bool flat_;
};

/// Mesh lines over [0, extent] at most `step` apart that pass through the given places.
[[nodiscard]] std::vector<double> mesh_lines(double extent, const std::vector<double>& places, double step);

}  // namespace libblade::detail
