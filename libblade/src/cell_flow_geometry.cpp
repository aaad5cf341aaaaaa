#include "cell_flow_geometry.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace libblade::detail {

namespace {

// Pressure in a closed cell this many land gaps deep is uniform to 1e-9 of the drop over its walls; deeper ones are
// taken as this deep, which keeps the equations within what double precision resolves.
constexpr double deepest = 1000.0;

/// Shares of the segment at which it enters and leaves the polygon; equal without a stretch inside.
std::array<double, 2> stretch_inside(const std::vector<Side>& sides, double x0, double y0, double x1, double y1) {
    double first = 0.0, last = 1.0;
    for (const Side& s : sides) {
        const double inside = s.distance - s.nx * x0 - s.ny * y0, rate = s.nx * (x1 - x0) + s.ny * (y1 - y0);
        if (rate > 0.0)
            last = std::min(last, inside / rate);
        else if (rate < 0.0)
            first = std::max(first, inside / rate);
        else if (inside < 0.0)
            return {0.0, 0.0};
    }
    return {first, std::max(first, last)};
}

}  // namespace

CellGeometry::CellGeometry(const Engraving& engraving, double wall_width, double shear_wall_width)
    : lattice_(detail::lattice(engraving, wall_width)),
      sides_(rounded_sides(lattice_, 24)),
      depth_(libblade::cell_depth(engraving)),
      flat_(engraving.profile == CellProfile::flat) {
    if (shear_wall_width != wall_width) shear_sides_ = rounded_sides(detail::lattice(engraving, shear_wall_width), 24);
}

// Coordinates relative to the opening's centre.
void CellGeometry::add_opening(LineSums& sums, double x0, double y0, double x1, double y1, double land_gap) const {
    const auto [first, last] = stretch_inside(sides_, x0, y0, x1, y1);
    if (!(last > first)) return;
    const double length = std::hypot(x1 - x0, y1 - y0) * (last - first);
    const double depth = lattice_.closed ? std::min(depth_ / land_gap, deepest) : depth_ / land_gap;
    if (flat_) {
        const double h = 1.0 + depth, h3 = h * h * h;
        sums.resistance += length * (1.0 / h3 - 1.0);
        sums.carried += length * depth / h3;
        if (!shear_sides_.empty()) {
            const auto [from, to] = stretch_inside(shear_sides_, x0, y0, x1, y1);
            sums.carried += length - std::hypot(x1 - x0, y1 - y0) * (to - from);
        }
        return;
    }
    // Pieces of linear gap: exact integrals of H^-3 and H^-2, so that a steep rim is not missed.
    constexpr int pieces = 4;
    const auto gap_at = [&](double t) {
        double rho = 0.0;
        for (const Side& s : sides_)
            rho = std::max(rho, (s.nx * (x0 + t * (x1 - x0)) + s.ny * (y0 + t * (y1 - y0))) / s.distance);
        return 1.0 + depth * std::max(1.0 - rho * rho, 0.0);
    };
    double a = gap_at(first);
    for (int i = 1; i <= pieces; ++i) {
        const double b = gap_at(first + (last - first) * i / pieces), r = 1.0 / (a * b), dl = length / pieces;
        const double cube = 0.5 * dl * (a + b) * r * r;
        sums.resistance += cube - dl;
        sums.carried += dl * r - cube;
        a = b;
    }
}

LineSums CellGeometry::along(double x0, double y0, double x1, double y1, double land_gap, bool everywhere) const {
    LineSums sums{std::hypot(x1 - x0, y1 - y0), 0.0};
    if (sides_.empty()) return sums;
    const double qx = lattice_.quarter_x, qy = lattice_.quarter_y;
    if (!everywhere) {
        add_opening(sums, x0, y0, x1, y1, land_gap);
        if (lattice_.staggered) add_opening(sums, x0 - qx, y0 - qy, x1 - qx, y1 - qy, land_gap);
        return sums;
    }
    // Every opening whose box of the lattice the segment may touch; a segment is short against the pattern.
    const double mx = 0.5 * (x0 + x1), my = 0.5 * (y0 + y1);
    for (int kind = 0; kind < (lattice_.staggered ? 2 : 1); ++kind) {
        const double ox = kind * qx, oy = kind * qy;
        const double ix = std::round((mx - ox) / (2.0 * qx)), iy = std::round((my - oy) / (2.0 * qy));
        const double cx = lattice_.closed ? ox + 2.0 * qx * ix : 0.0, cy = oy + 2.0 * qy * iy;
        add_opening(sums, x0 - cx, y0 - cy, x1 - cx, y1 - cy, land_gap);
    }
    return sums;
}

std::vector<double> mesh_lines(double extent, const std::vector<double>& places, double step) {
    constexpr int fewest = 3;  // cells between two places: a thin wall is resolved too
    std::vector<double> ends{0.0};
    const auto add = [&](double x) {
        if (x > ends.back() + 1e-9 * extent) ends.push_back(x);
    };
    for (double x : places)
        if (x < extent * (1.0 - 1e-9)) add(x);
    add(extent);
    std::vector<double> lines{0.0};
    for (std::size_t i = 1; i < ends.size(); ++i) {
        const double length = ends[i] - ends[i - 1];
        const int n = std::max(fewest, static_cast<int>(std::ceil(length / step - 1e-9)));
        for (int k = 1; k <= n; ++k) lines.push_back(k == n ? ends[i] : ends[i - 1] + length * k / n);
    }
    return lines;
}

}  // namespace libblade::detail
