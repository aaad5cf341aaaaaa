// Bending of the blade: planar elastica (inextensible, shear-stiff) clamped at the holder, pressed on the roll.
//
// Frame (o, z): o along the roll tangent at first touch from blade body to tip, z away from the roll. Tangent of the
// strip (cos theta, -sin theta); theta = set angle at the clamp. With contact force (F_o, F_z) and chamber pressure p
// (positive: pushes towards the roll)
//   D theta'' = F_o(s) sin theta + F_z(s) cos theta,   F_o' = p sin theta,   F_z' = p cos theta
// (Euler-Bernoulli elastica; Frisch-Fay 1962, Flexible Bars) and the tip moment of a force that acts off the mid-plane.
// The contact point moves along the roll, so the tangent there turns by psi = asin(travel_o / R). The holder advances
// along z without turning. Valid while the tip touches with its edge: effective angle above zero.
#pragma once

#include <vector>

#include "libblade/blade.hpp"
#include "libblade/status.hpp"

namespace libblade {

/// A strip with its holder as the bending solver sees it.
struct Strip {
    double stiffness = 0.15;    ///< D [N m]
    double length = 12e-3;      ///< clamp to contact [m]
    double set_angle = 0.5236;  ///< [rad]
    double offset = 1e-4;       ///< contact point below the mid-plane (towards the roll) [m]
    double pressure = 0.0;      ///< net pressure pushing the strip towards the roll [Pa]
    double roll_radius = 0.07;  ///< [m]; infinity: a plane
};

/// Contact force on the blade in the local frame of the roll surface.
struct ContactForce {
    double normal = 0.0;      ///< N along the outward surface normal [N/m]
    double tangential = 0.0;  ///< along the surface from body to tip: -T doctoring, +T trailing [N/m]
    double centre = 0.0;      ///< centre of pressure from the nominal contact point, from body to tip [m]
};

struct Bent {
    double effective_angle = 0.0;   ///< blade to roll tangent at the contact [rad]
    double tip_rotation = 0.0;      ///< set angle minus tip slope [rad]
    double travel = 0.0;            ///< contact point along the roll from first touch, body to tip [m]
    double interference = 0.0;      ///< holder advance past first touch [m]
    double tip_deflection = 0.0;    ///< tip displacement relative to the clamp, normal to the undeformed blade [m]
    double root_moment = 0.0;       ///< bending moment at the clamp, positive: blade bent away from the roll [N]
    double root_force_o = 0.0;      ///< holder reaction on the blade along o [N/m]
    double root_force_z = 0.0;      ///< [N/m]
    double max_moment = 0.0;        ///< largest |D theta'| [N]
    double max_moment_place = 0.0;  ///< arc length from clamp [m]
    Convergence convergence;
};

/// Mismatch of a strip integrated from its tip to its clamp: zero angle_residual at equilibrium.
struct StripMismatch {
    double angle_residual = 0.0;  ///< set angle minus the clamp angle that this tip angle leads to [rad]
    double interference = 0.0;    ///< [m]
};

/// Steps of the eighth-order integrator. 8: angles to 1e-8 rad and places to 1e-8 L up to N L^2 / D = 3, some 1e-11 at
/// usual loads; the error falls with the eighth power of the number.
inline constexpr int kStripSteps = 8;

/// Integrates from the tip at a trial effective angle [rad]; no iteration, no allocation (for the coupled solver).
[[nodiscard]] StripMismatch strip_mismatch(const Strip& strip, double effective_angle, const ContactForce& force,
                                           int steps = kStripSteps) noexcept;

/// Effective angle of the strip under a given contact force (a floating holder). Status lying_flat when no positive angle
/// carries it, lifted_off when the force pulls, unstable when the force pushes the tip towards the roll or dead load runs
/// away. Without status converged every number is NaN.
[[nodiscard]] Bent solve_bending(const Strip& strip, const ContactForce& force, int steps = 16,
                                 int max_iterations = 40);
/// The bent strip at an effective angle [rad] already known to balance the force, whatever the holding: no iteration.
/// Status stagnated when the angle misses the balance by more than `tolerance` [rad].
[[nodiscard]] Bent bent_at(const Strip& strip, double effective_angle, const ContactForce& force, int steps = 16,
                           double tolerance = 1e-8);
/// Load at a given interference [m] with tangential = ratio * normal, both into `force` (its centre is used as given).
/// Followed from the unloaded blade. Status unstable when tip contact is lost: contact force towards the roll
/// (tan a >= 1 / mu for a doctoring blade) or tangent stiffness not positive. lifted_off when the blade does not reach.
[[nodiscard]] Bent solve_bending_at(const Strip& strip, double interference, double tangential_ratio,
                                    ContactForce& force, int steps = 16, int max_iterations = 200);

/// Deflected mid-plane from clamp to tip in (o, z) with the origin at first touch, (points,) each.
struct Shape {
    std::vector<double> o, z;   ///< [m]
    std::vector<double> slope;  ///< theta [rad]
};
[[nodiscard]] Shape strip_shape(const Strip& strip, const Bent& bent, const ContactForce& force, int points = 65);

/// Response of the bent strip about a trial state. By normal: at constant tangential ratio and centre.
struct StripJacobian {
    double residual_by_angle = 0.0;       ///< [-]
    double residual_by_normal = 0.0;      ///< [rad m/N]
    double interference_by_angle = 0.0;   ///< [m/rad]
    double interference_by_normal = 0.0;  ///< [m2/N]
};
[[nodiscard]] StripJacobian strip_jacobian(const Strip& strip, double effective_angle, const ContactForce& force,
                                           int steps = kStripSteps);

/// Tangent stiffness dN/d(interference) at constant tangential ratio, along the equilibrium curve [N/m2].
[[nodiscard]] double tangent_stiffness(const Strip& strip, double effective_angle, const ContactForce& force);

/// Energy of bending, half the integral of D theta'^2 [N]. For the same arguments as bent_at.
[[nodiscard]] double strain_energy(const Strip& strip, double effective_angle, const ContactForce& force,
                                   int steps = 16);

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
/// From the unloaded shape by raising the load in steps or, with a start_rotation of the end [rad], by Newton from there
/// (other branches: the buckled column).
[[nodiscard]] CantileverEnd solve_cantilever(const Cantilever& beam, double start_rotation = 0.0, int steps = 64);

}  // namespace libblade
