// The outline of the blade's end and what a cut parallel to the roll leaves of it: facet, worn area, events.
//
// Blade frame: `along` from the end into the blade, `across` from the roll-facing side (0) to the away side
// (thickness). Wear takes everything below a line at the effective angle a to the sides; retreat z is normal to the
// roll, 0 at first touch. Any polygon gives a length that is piecewise linear in z, so all laws are closed forms.
// Square: b = z (cot a + tan a) up to t / sin a.
//
//   across ^   ____________ away side        bevel on the    /______     bevel on the     |______
//          |  |                              away side:     /            roll-facing      |
//          |  | end face                     edge on the   /             side: edge on     \.
//       0  |  |____________ roll-facing      roll-facing  /________      the away side      \____
//           0 ---> along     side            side
//
// What a bevel of angle B to the sides does (own, plane geometry):
//   away side: the front face stands at 180 deg - a - B to the roll, steeper than the 90 deg - a of a square cut. The
//     facet grows more slowly, all the way to z = t sin(a + B) / sin B. Suits both orientations: doctoring meets a
//     blunter ink wedge, trailing keeps a on the ink side. The metal of the edge is thinner, B instead of 90 deg.
//   roll-facing side, B < a: the edge is on the away side, the bevel rises behind it at a - B. At B = a it is a facet
//     of its whole length from the first touch: ground to the running angle, useful in both orientations, but only
//     there; below, a trailing blade meets its ink in the shallow wedge a - B and is lifted.
//   roll-facing side, B > a: the heel of the bevel touches first and the bevel is the front face, at B - a: harmless
//     behind a trailing blade, a shallow lifting wedge in front of a doctoring one.
// Doctoring: ink meets the front face (front_angle). Trailing: ink meets the roll-facing side (body_angle).
//
// The roll is taken as a line. On a roll of radius R the facet is an arc with sag b^2 / (8 R), and at the same retreat
// a square corner's facet is shorter by the share (b / 2 R) (cot^3 a + tan^3 a) / (cot a + tan a)^2: 0.15 % at 30 deg,
// 200 um, 70 mm.
#pragma once

#include <cstddef>
#include <variant>
#include <vector>

#include "libblade/blade.hpp"

namespace libblade {

enum class BladeSide { roll_facing, away };

struct SquareEnd {
    bool operator==(const SquareEnd&) const = default;
};
/// One corner of the end ground away.
struct BevelledEnd {
    double angle = 0.5;                ///< bevel to the blade's sides, at most 90 deg [rad]
    double depth = 0.2e-3;             ///< across the thickness; the whole of it at most, the rest stays square [m]
    BladeSide side = BladeSide::away;  ///< side from which the material is gone
    bool operator==(const BevelledEnd&) const = default;
};
/// A thin tip with a square end and a square step to the body.
struct SteppedEnd {
    double thickness = 0.1e-3;  ///< of the tip [m]
    double length = 1.5e-3;     ///< of the tip, end to step [m]
    Flush flush = Flush::roll;  ///< how the tip joins the body
    bool operator==(const SteppedEnd&) const = default;
};
using EndShape = std::variant<SquareEnd, BevelledEnd, SteppedEnd>;

struct OutlinePoint {
    double along = 0.0;   ///< [m]
    double across = 0.0;  ///< [m]
    double radius = 0.0;  ///< rounding of this corner; outer corners only [m]
    bool operator==(const OutlinePoint&) const = default;
};
/// From the roll-facing side over the end to the away side. Beyond its ends both sides run on parallel along the blade.
using Outline = std::vector<OutlinePoint>;

/// Outline of a shape; edge_radius rounds the outer corners of the end, not the step's. Throws InvalidInput.
[[nodiscard]] Outline tip_outline(double thickness, const EndShape& end, double edge_radius = 0.0);

/// Outline of a blade and its sections, square end. Throws InvalidInput.
[[nodiscard]] Outline blade_outline(const Blade& blade, double edge_radius = 0.0);

struct OutlineFacet {
    double length;       ///< what touches: sum over the stretches [m]
    double span;         ///< from the first to the last point that touches [m]
    int stretches;       ///< 2: tip and shoulder of a step touch apart, unless level with the roll-facing side
    double area;         ///< worn away so far, per width: the integral of length over retreat [m2]
    double front_angle;  ///< face at the end away from the body, to the roll; above 90 deg it leans over [rad]
    double body_angle;   ///< face beyond the body end, to the roll [rad]
    double widening;     ///< d length / d retreat = cot(front) + cot(body) of every stretch [-]
};

/// A corner, or the start of a rounding, reaches the roll.
struct WearEvent {
    double retreat;        ///< [m]
    double length_lost;    ///< blade length, along its sides [m]
    double area;           ///< worn away until then, per width [m2]
    double length_before;  ///< facet just before [m]
    double length_after;   ///< and just after: larger where a face lay parallel to the roll [m]
};

/// The laws of one outline at one effective angle [rad], 0 < a < 90 deg.
class FacetLaw {
  public:
    /// Throws InvalidInput: fewer than two points, a rounding that does not fit, an angle out of range. An outline that
    /// crosses itself is not found out.
    FacetLaw(const Outline& outline, double angle);

    /// At a corner: the values just after. NaN for a negative retreat.
    [[nodiscard]] OutlineFacet at(double retreat) const;
    /// Retreat at which the facet first reaches a length [m]; NaN: never.
    [[nodiscard]] double retreat_for_length(double length) const;
    /// Retreat at which an area [m2] is worn away; NaN for a negative area.
    [[nodiscard]] double retreat_for_area(double area) const;
    [[nodiscard]] std::vector<WearEvent> events() const;
    /// Blade length lost along its sides at a retreat: z / sin a [m].
    [[nodiscard]] double length_lost(double retreat) const noexcept;

  private:
    // Part of the outline along which the height over the roll grows: a line x = x0 + slope (z - low), or an arc.
    struct Piece {
        double low, high;  // heights over the first touch
        double x0, slope;  // line
        double radius;     // arc: > 0, with centre (x0, centre)
        double centre;
        double side;  // +1: the metal lies at smaller x, -1: at larger x
        [[nodiscard]] double x(double z) const;
        [[nodiscard]] double steepness(double z) const;  // dx/dz
        [[nodiscard]] double area(double z) const;       // integral of x from low to z
    };
    [[nodiscard]] double length(double z, bool before) const;
    [[nodiscard]] double area(double z) const;
    template <class F>
    [[nodiscard]] double solve(F&& excess, double from, double to, double scale) const;

    std::vector<Piece> pieces_;
    std::vector<double> corners_;  // heights, rising
    double angle_;
};

/// When a thin tip is used up. Exact geometry: the facet does not jump at the step. Of a tip level with the roll-facing
/// side it grows to the body's within a further (thickness difference) x cos a of retreat; else the shoulder touches
/// apart first and the two join later.
struct StepWear {
    double retreat_to_step;  ///< the step's first corner reaches the roll: end of life [m]; 0: the body touches first
    double length_lost_to_step;  ///< [m]
    double area_to_step;         ///< [m2]
    double facet_at_step;        ///< [m]
    double retreat_to_body;      ///< from there the facet is the body's [m]
    double area_to_body;         ///< [m2]
    double facet_of_body;        ///< [m]
};
/// Sharp corners. Throws InvalidInput.
[[nodiscard]] StepWear step_wear(double thickness, const SteppedEnd& end, double angle);

/// Height of a facet's arc over its chord b^2 / (8 R) [m]: first term in b / R; what a flat facet lacks to be
/// conformal.
[[nodiscard]] double facet_sag(double length, double roll_radius) noexcept;

}  // namespace libblade
