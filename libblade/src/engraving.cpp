#include "libblade/engraving.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>

#include "engraving_opening.hpp"

namespace libblade {

namespace detail {

namespace {

/// tan of half the turn at the corner between two neighbouring sides.
double half_turn_tangent(const Side& a, const Side& b) noexcept {
    return (a.nx * b.ny - a.ny * b.nx) / (1.0 + a.nx * b.nx + a.ny * b.ny);
}

/// Length of side b between its neighbours a and c.
double side_length(const Side& a, const Side& b, const Side& c) noexcept {
    const double turn_a = a.nx * b.ny - a.ny * b.nx, turn_c = b.nx * c.ny - b.ny * c.nx;
    return (a.distance - b.distance * (a.nx * b.nx + a.ny * b.ny)) / turn_a +
           (c.distance - b.distance * (c.nx * b.nx + c.ny * b.ny)) / turn_c;
}

const Side& around(const std::vector<Side>& sides, std::size_t i, std::size_t step) noexcept {
    return sides[(i + step) % sides.size()];
}

/// Largest rounding before a side is used up, the rounding that fits, and the area of the rounded polygon.
void round_corners(Lattice& l, double wanted, double full_area) {
    const std::size_t n = l.sides.size();
    double area = 0.0, tangents = 0.0, radius = std::max(wanted, 0.0);
    for (std::size_t i = 0; i < n; ++i) {
        const Side &a = around(l.sides, i, n - 1), &b = l.sides[i], &c = around(l.sides, i, 1);
        const double length = side_length(a, b, c), here = half_turn_tangent(b, c);
        area += 0.5 * b.distance * length;
        tangents += here;
        radius = std::min(radius, length / (half_turn_tangent(a, b) + here));
    }
    l.corner_radius = radius;
    l.open_fraction = (area - radius * radius * (tangents - std::numbers::pi)) / full_area;
}

void hexagons(Lattice& l, double pitch, double wall, double aspect) {
    const double half = 0.5 * pitch, point = aspect * pitch / std::numbers::sqrt3;  // to the flat, to the point
    l.quarter_x = 1.5 * point;
    l.quarter_y = half;
    l.staggered = true;
    // Slanted wall: x / point + y / pitch = 1.
    const double norm = std::hypot(1.0 / point, 1.0 / pitch), nx = 1.0 / (point * norm), ny = 1.0 / (pitch * norm);
    const double slanted = 1.0 / norm - 0.5 * wall, flat = half - 0.5 * wall;
    if (!(slanted > 0.0) || !(flat > 0.0)) return;
    const double tip = slanted / nx, flat_end = (slanted - flat * ny) / nx;
    if (flat_end > 0.0) {
        l.sides = {{nx, ny, slanted},   {0.0, 1.0, flat},  {-nx, ny, slanted},
                   {-nx, -ny, slanted}, {0.0, -1.0, flat}, {nx, -ny, slanted}};
        l.mesh_y = {half - flat, flat};
        l.mesh_x = {flat_end, tip, l.quarter_x - tip, l.quarter_x - flat_end};
    } else {  // walls so wide that they swallow the flats of a flattened cell
        l.sides = {{nx, ny, slanted}, {-nx, ny, slanted}, {-nx, -ny, slanted}, {nx, -ny, slanted}};
        l.mesh_x = {tip, l.quarter_x - tip};
    }
}

}  // namespace

Lattice lattice(const Engraving& engraving, double wall) {
    Lattice l;
    const double p = pitch(engraving), opening = p - wall;
    l.quarter_x = l.quarter_y = 0.5 * p;
    switch (engraving.pattern) {
        case Pattern::smooth:
            return l;
        case Pattern::channel:
            l.closed = false;
            if (opening > 0.0) {
                l.sides = {{0.0, 1.0, 0.5 * opening}, {0.0, -1.0, 0.5 * opening}};
                l.mesh_y = {0.5 * opening};
                l.open_fraction = opening / p;
            }
            return l;
        case Pattern::diamond:
            if (opening > 0.0) {
                const double d = 0.5 * opening;
                l.sides = {{1.0, 0.0, d}, {0.0, 1.0, d}, {-1.0, 0.0, d}, {0.0, -1.0, d}};
                l.mesh_x = l.mesh_y = {d};
            }
            break;
        case Pattern::hexagon:
            hexagons(l, p, wall, 1.0);
            break;
        case Pattern::elongated:
            hexagons(l, p, wall, engraving.aspect);
            break;
    }
    if (!l.sides.empty())
        round_corners(l, engraving.corner_radius, 4.0 * l.quarter_x * l.quarter_y / (l.staggered ? 2.0 : 1.0));
    std::sort(l.mesh_x.begin(), l.mesh_x.end());
    return l;
}

std::vector<Side> rounded_sides(const Lattice& l, int per_corner) {
    if (!(l.corner_radius > 0.0)) return l.sides;
    std::vector<Side> out;
    for (std::size_t i = 0; i < l.sides.size(); ++i) {
        const Side &a = l.sides[i], &b = around(l.sides, i, 1);
        out.push_back(a);
        // Centre of the rounding: the corner of the two sides moved in by the radius.
        const double da = a.distance - l.corner_radius, db = b.distance - l.corner_radius;
        const double turn = a.nx * b.ny - a.ny * b.nx;
        const double cx = (da * b.ny - db * a.ny) / turn, cy = (a.nx * db - b.nx * da) / turn;
        const double first = std::atan2(a.ny, a.nx), angle = std::atan2(turn, a.nx * b.nx + a.ny * b.ny);
        for (int k = 1; k <= per_corner; ++k) {
            const double t = first + angle * k / (per_corner + 1);
            out.push_back({std::cos(t), std::sin(t), cx * std::cos(t) + cy * std::sin(t) + l.corner_radius});
        }
    }
    return out;
}

}  // namespace detail

double pitch(const Engraving& engraving) noexcept { return 1.0 / engraving.screen; }

double open_fraction(const Engraving& engraving) noexcept {
    const double open = std::max(1.0 - engraving.wall_width / pitch(engraving), 0.0);
    switch (engraving.pattern) {
        case Pattern::smooth:
            return 0.0;
        case Pattern::channel:
            return open;
        case Pattern::hexagon:
        case Pattern::diamond:
            if (!(engraving.corner_radius > 0.0)) return open * open;
            break;
        case Pattern::elongated:
            break;
    }
    return detail::lattice(engraving, engraving.wall_width).open_fraction;
}

double land_fraction(const Engraving& engraving) noexcept {
    if (engraving.land_fraction) return *engraving.land_fraction;
    return 1.0 - open_fraction(engraving);
}

double cells_per_area(const Engraving& engraving) noexcept {
    const double square = engraving.screen * engraving.screen;
    switch (engraving.pattern) {
        case Pattern::smooth:
        case Pattern::channel:
            return 0.0;
        case Pattern::diamond:
            return square;
        case Pattern::hexagon:
            return square * 2.0 / std::numbers::sqrt3;
        case Pattern::elongated:
            return square * 2.0 / (std::numbers::sqrt3 * engraving.aspect);
    }
    return 0.0;
}

double depth_shape_factor(const Engraving& engraving) noexcept {
    if (engraving.profile == CellProfile::flat) return 1.0;
    // Similar contours: the area inside rho goes with rho^2 in a cell, with rho in a channel.
    return engraving.pattern == Pattern::channel ? 2.0 / 3.0 : 0.5;
}

double cell_volume(const Engraving& engraving) noexcept {
    if (engraving.pattern == Pattern::smooth) return 0.0;
    if (!engraving.cell_depth) return engraving.cell_volume;
    return open_fraction(engraving) * *engraving.cell_depth * depth_shape_factor(engraving);
}

double cell_depth(const Engraving& engraving) noexcept {
    if (engraving.pattern == Pattern::smooth) return 0.0;
    if (engraving.cell_depth) return *engraving.cell_depth;
    const double open = open_fraction(engraving);
    return open > 0.0 ? engraving.cell_volume / (open * depth_shape_factor(engraving)) : 0.0;
}

double deep_flow_factor(const Engraving& engraving) noexcept {
    if (engraving.pattern == Pattern::smooth) return 1.0;
    const double f = land_fraction(engraving);
    return engraving.pattern == Pattern::channel ? 1.0 / f : (2.0 - f) / f;
}

double flow_factor(const Engraving& engraving, double land_gap) noexcept {
    if (engraving.pattern == Pattern::smooth) return 1.0;
    if (engraving.pattern == Pattern::channel) {
        const double f = land_fraction(engraving), open = 1.0 - f;
        const double r = open > 0.0 ? 1.0 + cell_volume(engraving) / (open * land_gap) : 1.0, r3 = r * r * r;
        const double c = std::cos(engraving.screen_angle), s = std::sin(engraving.screen_angle);
        return c * c * (f + open * r3) + s * s / (f + open / r3);
    }
    return 1.0 + (deep_flow_factor(engraving) - 1.0) / (1.0 + land_gap / engraving.wall_width);
}

}  // namespace libblade
