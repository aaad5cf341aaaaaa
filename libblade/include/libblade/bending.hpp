// Bending of the blade: planar elastica (inextensible, shear-stiff) clamped at the holder, pressed on the roll.
//
// Frame (o, z): o along the roll tangent at first touch from blade body to tip, z away from the roll. Tangent of the
// strip (cos theta, -sin theta), normal away from the roll (sin theta, cos theta); theta = set angle at the clamp. With
// contact force (F_o, F_z) and chamber pressure p (positive: pushes towards the roll)
//   theta' = m / D(s),  m' = F_o(s) sin theta + F_z(s) cos theta,   F_o' = p sin theta,   F_z' = p cos theta
// (Euler-Bernoulli elastica; Frisch-Fay 1962, Flexible Bars) and the moment of a force that acts off the mid-plane. m <
// 0 bends away from the roll. The contact point moves along the roll, so the tangent there turns by
// psi = asin(travel_o / R). The holder advances along z.
//
// Sections. D = modulus t^3 / 12 with t linear along a section; stress 6 M / t^2. At a joint the mid-plane may jump.
// Plate. A plane plate behind the strip touches it with its edge, without friction: the back of the strip cannot rise at the edge,
//   along the normal of the clamp, by more than gap + compliance P; P >= 0 acts along the strip's own normal (Signorini). As the
//   strip turns, the edge slips outboard along its back by half a thickness times the sine of the turn. A strip that would also
//   touch the plate between clamp and edge is not covered: status out_of_range.
// Holder. The drive advances by the clamp's advance plus holder_compliance times the force along z; the clamp turns by
//   holder_rotation times the moment about the clamp, away from the roll. Force and moment of contact and pressure.
// Lying flat. Where the tip slope would fall below the roll tangent, the contact leaves the edge and is a line at arc
//   length s_c where the strip is tangent to the roll (solve_contact). Inboard the strip bends away, so the line
//   carries the moment of friction alone, about half a thickness; pressure p on the free overhang c adds p c^2 / 2
//   towards the roll. Once that exceeds D / (R + t / 2) the strip wraps the roll: on the arc the curvature is that of
//   the roll, so the shear force vanishes and the pressure goes straight through to the roll; the overhang beyond
//   carries the same moment, c = sqrt(2 D / (p R)) where it is short. The friction of the arc is counted at its inboard
//   end, where the strip is pressed on; it raises the moment there by e T, some 1e-3 of D / R. In a linear strip on a
//   plane without friction: onset N = 2 D a0 / L^2, then contact at l = sqrt(2 D a0 / N) from a clamp a0 l / 3 high.
#pragma once

#include <array>
#include <vector>

#include "libblade/blade.hpp"
#include "libblade/status.hpp"

namespace libblade {

/// Part of a strip, from clamp to tip.
struct StripSection {
    double length = 0.0;           ///< [m]
    double thickness_clamp = 0.0;  ///< at its end towards the clamp; linear in between [m]
    double thickness_tip = 0.0;    ///< at its end towards the tip [m]
    double modulus = 0.0;          ///< plane strain E / (1 - nu^2) [Pa]
    /// Mid-plane of the next section above this one's where they join, along the normal away from the roll [m]. Flush
    /// on the roll side (t_next - t) / 2, on the side away from it (t - t_next) / 2, centred 0.
    double jump = 0.0;
    double density = 7850.0;  ///< [kg/m3]
    bool operator==(const StripSection&) const = default;
};

struct BackingPlate {
    double length = 0.0;      ///< clamp to the plate's edge along the strip; 0: no plate [m]
    double gap = 0.0;         ///< unloaded strip to the edge [m]
    double compliance = 0.0;  ///< of the edge [m2/N]
    bool operator==(const BackingPlate&) const = default;
};

/// A strip with its holder as the bending solver sees it.
struct Strip {
    double stiffness = 0.15;    ///< D [N m]; of a uniform strip
    double length = 12e-3;      ///< clamp to contact [m]
    double set_angle = 0.5236;  ///< [rad]
    double offset = 1e-4;       ///< contact point below the mid-plane (towards the roll) [m]
    double pressure = 0.0;      ///< net pressure pushing the strip towards the roll [Pa]
    double roll_radius = 0.07;  ///< [m]; infinity: a plane

    /// From clamp to tip. Where they are longer than the strip it is cut at its length (a shortened blade); none:
    /// uniform.
    std::array<StripSection, 16> sections{};
    int section_count = 0;
    BackingPlate plate{};
    double holder_compliance = 0.0;  ///< along the normal of the roll at first touch [m2/N]
    double holder_rotation = 0.0;    ///< [rad/N]
    bool compliant_joints = false;   ///< steps of thickness turn by their own stress flow (kernel::step_turn)
    double thickness = 0.0;          ///< of a uniform strip, for stress and mass only; 0: those are NaN [m]
    double density = 7850.0;         ///< of a uniform strip [kg/m3]
};

/// D of a section where it is `thickness` thick [N m] (Timoshenko & Woinowsky-Krieger 1959).
[[nodiscard]] inline double section_stiffness(const StripSection& section, double thickness) noexcept {
    return section.modulus * thickness * thickness * thickness / 12.0;
}

/// Contact force on the blade in the local frame of the roll surface.
struct ContactForce {
    double normal = 0.0;      ///< N along the outward surface normal [N/m]
    double tangential = 0.0;  ///< along the surface from body to tip: -T doctoring, +T trailing [N/m]
    double centre = 0.0;      ///< centre of pressure from the nominal contact point, from body to tip [m]
};

enum class ContactMode {
    tip,  ///< the edge touches
    flat  ///< tangent to the roll, inboard of the edge
};

struct Bent {
    double effective_angle = 0.0;   ///< blade to roll tangent at the contact; 0 when flat [rad]
    double tip_rotation = 0.0;      ///< clamp slope minus slope at the contact [rad]
    double travel = 0.0;            ///< contact point along the roll from first touch, body to tip [m]
    double interference = 0.0;      ///< advance of the holder's drive past first touch [m]
    double tip_deflection = 0.0;    ///< displacement of the strip at the contact relative to the clamp, normal to the
                                    ///< undeformed blade [m]
    double root_moment = 0.0;       ///< bending moment at the clamp, positive: blade bent away from the roll [N]
    double root_force_o = 0.0;      ///< reaction of the holder, clamp and plate, on the blade along o [N/m]
    double root_force_z = 0.0;      ///< [N/m]
    double max_moment = 0.0;        ///< largest |m| [N]
    double max_moment_place = 0.0;  ///< arc length from clamp [m]
    double max_stress = 0.0;        ///< largest bending stress 6 |m| / t^2; NaN when no thickness is given [Pa]
    double max_stress_place = 0.0;  ///< arc length from clamp [m]
    double plate_force = 0.0;       ///< of the plate on the strip, towards the roll [N/m]
    double plate_clearance = 0.0;   ///< strip to plate edge; infinity without plate [m]
    double holder_moment = 0.0;     ///< of contact and pressure about the clamp, positive: away from the roll [N]
    ContactMode contact_mode = ContactMode::tip;
    double contact_arc_length = 0.0;  ///< clamp to contact along the strip; inboard end of a wrapped arc [m]
    double overhang = 0.0;            ///< free end beyond the contact [m]
    double wrapped_arc = 0.0;         ///< strip lying on the roll [m]
    Convergence convergence;
};

/// Mismatch of a strip integrated from its tip to its clamp: zero angle_residual at equilibrium.
struct StripMismatch {
    double angle_residual = 0.0;  ///< set angle minus the clamp angle that this tip angle leads to [rad]
    double interference = 0.0;    ///< [m]
};

/// Steps of the eighth-order integrator. 8: angles to 1e-8 rad and places to 1e-8 L up to N L^2 / D = 3, some 1e-11 at
/// usual loads; the error falls with the eighth power of the number. Thin sections and tapers get more of themselves.
inline constexpr int kStripSteps = 8;
/// Few for a strip that is wound up.
inline constexpr int kMostStripSteps = 400;
/// As few as are exact to 5e-12 rad and 3e-11 L where it is little bent by such a force; as many as kStripSteps promises for where it
/// is bent more, twice as many over a plate. Never more than kMostStripSteps, or twice that over a plate.
[[nodiscard]] int enough_strip_steps(const Strip& strip, double force) noexcept;

/// Integrates from the tip at a trial effective angle [rad]; no allocation, no iteration but for the plate's force
/// (bounded; NaN when it is not found). A trial state may lie on the plate inboard of its edge; only solved states are
/// looked at for that (bent_at: out_of_range).
[[nodiscard]] StripMismatch strip_mismatch(const Strip& strip, double effective_angle, const ContactForce& force,
                                           int steps = kStripSteps) noexcept;

/// Effective angle of the strip under a given contact force (a floating holder). Status lying_flat when no positive
/// angle carries it, lifted_off when the force pulls, unstable when the force pushes the tip towards the roll or dead
/// load runs away. Without status converged every number is NaN.
/// Without `words` the message stays empty, and nothing is taken from the heap unless the strip is bent so much that only the
/// path from the unloaded blade leads there.
[[nodiscard]] Bent solve_bending(const Strip& strip, const ContactForce& force, int steps = 16, int max_iterations = 40,
                                 bool words = true);
/// The bent strip at an effective angle [rad] already known to balance the force, whatever the holding: no iteration.
/// Status stagnated when the angle misses the balance by more than `tolerance` [rad].
[[nodiscard]] Bent bent_at(const Strip& strip, double effective_angle, const ContactForce& force, int steps = 16,
                           double tolerance = 1e-8);
/// Load at a given interference [m] with tangential = ratio * normal, both into `force` (its centre is used as given).
/// Followed from the unloaded blade. Status unstable when tip contact is lost: contact force towards the roll
/// (tan a >= 1 / mu for a doctoring blade) or tangent stiffness not positive. lifted_off when the blade does not reach.
[[nodiscard]] Bent solve_bending_at(const Strip& strip, double interference, double tangential_ratio,
                                    ContactForce& force, int steps = 16, int max_iterations = 200);

/// As solve_bending and solve_bending_at, going on where the blade lies flat.
[[nodiscard]] Bent solve_contact(const Strip& strip, const ContactForce& force, int steps = 16,
                                 int max_iterations = 60);
[[nodiscard]] Bent solve_contact_at(const Strip& strip, double interference, double tangential_ratio,
                                    ContactForce& force, int steps = 16, int max_iterations = 400);

/// Deflected mid-plane from clamp to end in (o, z) with the origin at first touch, (points,) each.
struct Shape {
    std::vector<double> o, z;   ///< [m]
    std::vector<double> slope;  ///< theta [rad]
};
/// Evenly spaced along the strip. For a bent strip that converged.
[[nodiscard]] Shape strip_shape(const Strip& strip, const Bent& bent, const ContactForce& force, int points = 65);

/// Response of the bent strip about a trial state. By normal: at constant tangential ratio and centre.
struct StripJacobian {
    double residual_by_angle = 0.0;       ///< [-]
    double residual_by_normal = 0.0;      ///< [rad m/N]
    double interference_by_angle = 0.0;   ///< [m/rad]
    double interference_by_normal = 0.0;  ///< [m2/N]
    [[nodiscard]] double determinant() const noexcept {
        return residual_by_angle * interference_by_normal - residual_by_normal * interference_by_angle;
    }
};
[[nodiscard]] StripJacobian strip_jacobian(const Strip& strip, double effective_angle, const ContactForce& force,
                                           int steps = kStripSteps);

/// Mismatch with its derivatives by effective angle, N, T and centre of pressure, in this order.
struct StripResponse {
    StripMismatch at;
    std::array<double, 4> residual_by{};      ///< [-], [rad m/N], [rad m/N], [rad/m]
    std::array<double, 4> interference_by{};  ///< [m/rad], [m2/N], [m2/N], [-]
};
[[nodiscard]] StripResponse strip_response(const Strip& strip, double effective_angle, const ContactForce& force,
                                           int steps = kStripSteps);

/// Tangent stiffness dN/d(interference) at constant tangential ratio, along the equilibrium curve [N/m2].
[[nodiscard]] double tangent_stiffness(const Strip& strip, double effective_angle, const ContactForce& force);
/// The same for tip or flat contact.
[[nodiscard]] double tangent_stiffness(const Strip& strip, const Bent& bent, const ContactForce& force);

/// Energy of bending, half the integral of m^2 / D [N]. For the same arguments as bent_at.
[[nodiscard]] double strain_energy(const Strip& strip, double effective_angle, const ContactForce& force,
                                   int steps = 16);
/// The same for tip or flat contact; with the springs of plate edge and holder.
[[nodiscard]] double strain_energy(const Strip& strip, const Bent& bent, const ContactForce& force, int steps = 16);

enum class StripEnd {
    free,
    pinned  ///< held by the roll
};
/// First buckling load [N/m] of the straight strip, clamped at the holder, under an axial load at `length` from the
/// clamp (the contact); with_plate: also held at the plate's edge. Clamped-pinned 20.19 D / L^2, clamped-free pi^2 D /
/// (4 L^2) when uniform (Timoshenko & Gere 1961).
[[nodiscard]] double buckling_load(const Strip& strip, double length, StripEnd end, bool with_plate = false);
/// Axial load at the contact over the buckling load of the strip held by the roll there, and by the plate's edge where
/// that is touched. Negative: tension.
[[nodiscard]] double buckling_ratio(const Strip& strip, const Bent& bent, const ContactForce& force);
/// First natural frequency of the strip without plate [Hz] (Euler-Bernoulli); NaN without thickness.
[[nodiscard]] double natural_frequency(const Strip& strip, StripEnd end);

enum class CurveEvent {
    none,
    interference_limit,  ///< fold: a fixed holder snaps
    load_limit,          ///< fold: a floating holder snaps
    dig_in,              ///< tan a = 1 / mu: the contact force no longer bends the blade away
    lying_flat,          ///< the contact leaves the edge, or comes back to it
    plate_contact,       ///< the strip touches the plate's edge, or leaves it
    yield
};
struct LoadCurvePoint {
    double interference = 0.0;        ///< [m]
    double normal = 0.0;              ///< N [N/m]
    double effective_angle = 0.0;     ///< [rad]
    double contact_arc_length = 0.0;  ///< [m]
    double plate_force = 0.0;         ///< [N/m]
    double max_stress = 0.0;          ///< [Pa]
    ContactMode mode = ContactMode::tip;
    CurveEvent event = CurveEvent::none;  ///< marked points lie at the event to 1e-9 of the curve's scale
};
struct LoadCurveOptions {
    double max_interference = 0.0;  ///< 0: clamp height of the undeformed strip [m]
    double max_load = 0.0;          ///< 0: 50 D / L^2 [N/m]
    double yield_strength = 0.0;    ///< 0: not looked for [Pa]
    double centre = 0.0;            ///< centre of pressure [m]
    bool allow_flat = true;         ///< false: the curve ends where the blade lies flat
    int max_points = 2000;
    double largest_step = 0.05;  ///< along the curve, in rad of angle and units of D / L^2
};
struct LoadCurve {
    std::vector<LoadCurvePoint> points;  ///< from the unloaded blade on
    Convergence convergence;             ///< converged: ended at a bound, at lift-off or where friction digs in
};
/// Equilibria of the strip from the unloaded blade on at tangential = ratio * normal, through folds (pseudo-arc
/// length).
[[nodiscard]] LoadCurve load_curve(const Strip& strip, double tangential_ratio, const LoadCurveOptions& options = {});

/// A cantilever along x from its clamp, bending towards y, with a dead force and moment at its end.
struct Cantilever {
    double stiffness = 0.15;  ///< D [N m]
    double length = 12e-3;    ///< [m]
    double force_x = 0.0;     ///< along the undeformed axis, clamp to end [N/m]
    double force_y = 0.0;     ///< [N/m]
    double moment = 0.0;      ///< positive: turns the end from x to y [N]
};
struct CantileverEnd {
    double x = 0.0, y = 0.0;      ///< end from clamp [m]
    double rotation = 0.0;        ///< [rad]
    double root_curvature = 0.0;  ///< [rad/m]
    Convergence convergence;
};
/// From the unloaded shape by raising the load in steps or, with a start_rotation of the end [rad], by Newton from
/// there (other branches: the buckled column).
[[nodiscard]] CantileverEnd solve_cantilever(const Cantilever& beam, double start_rotation = 0.0, int steps = 64);

}  // namespace libblade
