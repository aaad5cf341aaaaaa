// Homogenised flow between a smooth blade and the engraved roll: the Reynolds equation on one cell of the pattern.
//
// On the periodic cell the gap is h(x, y) = land gap + local depth. Two fields p^(j) with mean gradient e_j solve
//   div(h^3 grad p^(j)) = 0.
// Means over the cell, with the land gap h0 and <h> the mean gap:
//   pressure factor  phi_ij = < h^3 d_i p^(j) > / h0^3          symmetric, 1 without cells
//   Couette factor   c_ij   = < h d_j p^(i) > / h0              texture at rest, smooth side moves
//   shear factor     S_ij   = (<h> delta_ij - h0 c_ij) / h0     Patir & Cheng 1979, J. Lubr. Technol. 101:220
//
// The second line needs no solve of its own: multiply the flow driven by the moving side with grad p^(i), integrate by
// parts, and its pressure drops out. With surface speeds U1 (textured) and U2 (smooth)
//   q = (U1 + U2) / 2 <h> + (U1 - U2) / 2 h0 S - h0^3 / (12 eta) phi grad p,
// so a moving and a stationary texture differ in the sign of S. In deep closed cells c = 1 and h0 S is the cell volume:
// the roll then carries q = U h0 / 2 + U volume.
//
// The Reynolds equation lets pressure act straight across a wall; in Stokes flow the streamlines turn into a deep cell
// within about a gap height of its edge. That lengthens every steep wall by wall_end_length land gaps at each edge, and
// a little more for the shear flow. Against 2D Stokes flow over grooves: phi within 1 %, c within 1.5 % up to gaps as
// wide as the pitch; in wider gaps phi and b are near 1 and the carried share is indicative only.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

#include "libblade/engraving.hpp"
#include "libblade/interpolation.hpp"
#include "libblade/status.hpp"

namespace libblade {

/// [i][j], i and j along x (0) and y (1).
using Tensor2 = std::array<std::array<double, 2>, 2>;

enum class TextureMotion { moving, stationary };

/// Extra wall length at each edge over the land gap in deep cells [-]. From 2D Stokes flow in the gap between a plane
/// blade and a wall with grooves on both sides (finite elements, tests/stokes/grooves.py; finite volumes agree to
/// 0.003), the same to 0.5 % for walls of half a gap to ten gaps.
inline constexpr double deep_end_length = 0.638;

/// Extra wall length at each edge for the pressure flow over the land gap [-], falling in cells of few land gaps'
/// depth: fit to the same Stokes solutions (depth / gap 12, 6, 4, 3, 2, 1, 0.5: 0.633, 0.621, 0.605, 0.585, 0.543,
/// 0.422, 0.265) within 1 %, to 6 % down to a depth of 0.05 (0.0135); shallow steps go with the square of their depth.
[[nodiscard]] inline double wall_end_length(double depth_over_gap, double deep = deep_end_length) noexcept {
    const double r = 1.0 / depth_over_gap;
    return deep / (1.0 + 0.5 * r * std::sqrt(r * (1.0 + 0.005 * r)));
}
/// The same for the shear flow: fit to 0.936 at depth 100, 0.864, 0.793, 0.730, 0.674, 0.580, 0.393, 0.218 within 1 %,
/// to 4 % down to a depth of 0.05 (0.0092).
[[nodiscard]] inline double shear_end_length(double depth_over_gap) noexcept {
    return 0.947 / (1.0 + 1.14 / depth_over_gap + 0.28 * std::pow(depth_over_gap, -1.87));
}

struct CellFlowOptions {
    int resolution = 96;                  ///< mesh cells per pitch
    double end_length = deep_end_length;  ///< c of deep cells [-]; 0: Reynolds, no ends at all; flat cells only
};

struct CellFlow {
    double land_gap = 0.0;         ///< [m]
    double mean_gap = 0.0;         ///< land gap + volume per area [m]
    Tensor2 pressure_factor{};     ///< phi [-]
    Tensor2 shear_factor{};        ///< S [-], relative to the land gap
    Tensor2 dissipation_factor{};  ///< < h^3 grad p^(i) . grad p^(j) > / h0^3 [-]: equals phi (energy identity)
    std::size_t unknowns = 0;
    Convergence convergence;
};

/// A measured or made-up gap over one period, constant on each of nx x ny equal rectangles.
struct GapMap {
    std::size_t nx = 0, ny = 0;
    double length_x = 0.0, length_y = 0.0;  ///< period [m]
    std::vector<double> gap;                ///< [m], x runs fastest
    double land_gap = 0.0;                  ///< the gap the factors refer to [m]
};

/// The cell problem of an engraving at a land gap [m]. Throws InvalidInput for a gap or an engraving without sense.
[[nodiscard]] CellFlow cell_flow(const Engraving& engraving, double land_gap, const CellFlowOptions& options = {});
/// The same for any gap; no end correction.
[[nodiscard]] CellFlow cell_flow(const GapMap& map);

/// c in q = U h0 c / 2 at zero pressure gradient [-], U the speed of the surface that moves.
[[nodiscard]] Tensor2 couette_factor(const CellFlow& flow, TextureMotion motion) noexcept;

/// Factors along the roll's motion against the land gap, without allocation at look-up, once differentiable; templated
/// on the scalar. Interpolated: ln(phi - 1) and the log-odds of the carried share, against ln(gap), both straight
/// towards the ends, so that look-ups beyond the range follow the limits (phi -> 1 in wide gaps, the deep limit in
/// narrow ones).
struct CellFlowTable {
    double smallest_gap = 0.0, largest_gap = 0.0;  ///< tabulated range [m]
    double volume = 0.0;                           ///< cell volume per roll area [m]
    std::array<HermiteTable, 2> excess;            ///< ln(phi - 1) in the pattern's own axes
    std::array<HermiteTable, 2> carried;           ///< ln(s / (1 - s)), s = h0 S / volume, in the pattern's own axes
    double along = 1.0, across = 0.0;  ///< cos^2 and sin^2 of the screen angle: shares of the pattern's axes in x
    double deep_share = 1.0;           ///< s along x in a vanishing gap [-]: 1 of closed cells, 0 of grooves along x
    OctavePair fast;                   ///< 1 / phi and b along x
    double drawn_back_from = std::numeric_limits<double>::infinity();  ///< gap from which h b would fall [m]
    Convergence convergence;                                           ///< of the worst cell problem

    /// 1 / phi and b of the film over the moving roll, q = U h b / 2 - phi h^3 / (12 eta) dp/dx (+ what the cells carry): the same numbers as
    /// below to 1e-6, for hot loops; held at their last value beyond the range. In cells many times as wide as deep the blade
    /// drags so much of their ink back that h b falls while the gap grows; a film that is thicker in the narrower gap is beyond
    /// the averaged equation, and h b is then kept all but level (drawn_back_from).
    template <class T>
    [[nodiscard]] std::array<T, 2> resistance_and_couette(const T& land_gap) const {
        if (fast.empty()) return {T(1.0), T(1.0)};
        return fast(land_gap);
    }
    /// phi along x [-].
    template <class T>
    [[nodiscard]] T pressure_factor(const T& land_gap) const {
        using std::exp, std::log;
        if (!(volume > 0.0)) return T(1.0);
        return 1.0 + in_x(log(land_gap), excess, [](const T& z) { return T(exp(z)); });
    }
    /// Share s of the cell volume that travels with the moving roll beyond the mean of both surfaces [-], 1 in deep
    /// cells.
    template <class T>
    [[nodiscard]] T carried_share(const T& land_gap) const {
        using std::exp, std::log;
        if (!(volume > 0.0)) return T(1.0);
        return in_x(log(land_gap), carried, [](const T& z) { return T(1.0 / (1.0 + exp(-z))); });
    }
    /// b in q = U h0 b / 2 + U volume (1 + deep_share) / 2 for the engraved roll moving at U under a blade at rest [-]; 1 in a
    /// vanishing gap. Closed cells travel whole (deep_share 1); the blade drags half of what lies in grooves along the motion back.
    template <class T>
    [[nodiscard]] T land_couette_factor(const T& land_gap) const {
        using std::exp, std::log;
        if (!(volume > 0.0)) return T(1.0);
        const T left = in_x(log(land_gap), carried, [](const T& z) { return T(1.0 / (1.0 + exp(z))); });
        return 1.0 + volume * ((1.0 - deep_share) - left) / land_gap;
    }

  private:
    /// A quantity of the pattern's axes turned into the roll's motion.
    template <class T, class F>
    [[nodiscard]] T in_x(const T& z, const std::array<HermiteTable, 2>& axes, const F& f) const {
        if (across == 0.0) return f(axes[0](z));
        return along * f(axes[0](z)) + across * f(axes[1](z));
    }
};

/// Solves the cell problem at `points` gaps spaced evenly in the logarithm. Throws InvalidInput for an empty range.
[[nodiscard]] CellFlowTable make_cell_flow_table(const Engraving& engraving, double smallest_gap = 1e-8,
                                                 double largest_gap = 1e-3, std::size_t points = 33,
                                                 const CellFlowOptions& options = {});

}  // namespace libblade
