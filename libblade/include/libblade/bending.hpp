// Bending of the blade: planar elastica (inextensible, shear-stiff) clamped at the holder, pressed on the roll.
//
// Frame (o, z): o along the roll tangent at first touch from blade body to tip, z away from the roll. Tangent of the
// strip (cos theta, -sin theta); theta = set angle at the clamp. With contact force (F_o, F_z) and chamber pressure p
// (positive: pushes towards the roll)
//   D theta'' = F_o(s) sin theta + F_z(s) cos theta,   F_o' = p sin theta,   F_z' = p cos theta
// and the tip moment of a force that acts off the mid-plane. The contact point moves along the roll, so the tangent
// there turns by travel / R.
#pragma once

#include <vector>

#include "libblade/blade.hpp"
#include "libblade/status.hpp"

namespace libblade {

/// A strip with its holder as the bending solver sees it.
struct Strip {
    double stiffness = 0.15;      ///< D [N m]
    double length = 12e-3;        ///< clamp to contact [m]
    double set_angle = 0.5236;    ///< [rad]
    double offset = 1e-4;         ///< contact point below the mid-plane (towards the roll) [m]
    double pressure = 0.0;        ///< net pressure pushing the strip towards the roll [Pa]
    double roll_radius = 0.07;    ///< [m]; infinity: a plane
};

/// Contact force on the blade in the local frame of the roll surface.
struct ContactForce {
    double normal = 0.0;          ///< N along the outward surface normal [N/m]
    double tangential = 0.0;      ///< along the surface from body to tip: -T doctoring, +T trailing [N/m]
    double centre = 0.0;          ///< centre of pressure from the nominal contact point, from body to tip [m]
};

struct Bent {
    double effective_angle = 0.0;  ///< blade to roll tangent at the contact [rad]
    double tip_rotation = 0.0;     ///< set angle minus tip slope [rad]
    double travel = 0.0;           ///< contact point along the roll from first touch, body to tip [m]
    double interference = 0.0;     ///< holder advance past first touch [m]
    double tip_deflection = 0.0;   ///< tip displacement relative to the clamp, normal to the undeformed blade [m]
    double root_moment = 0.0;      ///< [N]
    double root_force_o = 0.0;     ///< holder reaction on the blade along o [N/m]
    double root_force_z = 0.0;     ///< [N/m]
    double max_moment = 0.0;       ///< largest |D theta'| [N]
    double max_moment_place = 0.0; ///< arc length from clamp [m]
    Convergence convergence;
};

/// Mismatch of a strip integrated from its tip to its clamp: zero angle_residual at equilibrium.
struct StripMismatch {
    double angle_residual = 0.0;   ///< tangent turn needed minus travel / R [rad]
    double interference = 0.0;     ///< [m]
};

/// Integrates from the tip at a trial effective angle [rad]; no iteration, no allocation (for the coupled solver).
[[nodiscard]] StripMismatch strip_mismatch(const Strip& strip, double effective_angle, const ContactForce& force,
                                           int steps = 24) noexcept;

/// Effective angle of the strip under a given contact force. Status lying_flat when no positive angle carries it.
[[nodiscard]] Bent solve_bending(const Strip& strip, const ContactForce& force, int steps = 64);
/// Load at a given interference with tangential = ratio * normal. Status unstable when tip contact is lost.
[[nodiscard]] Bent solve_bending_at(const Strip& strip, double interference, double tangential_ratio, ContactForce& force,
                                    int steps = 64);

/// Deflected mid-plane from clamp to tip in (o, z) with the origin at first touch [m], (points,) each.
struct Shape {
    std::vector<double> o, z, slope;
};
[[nodiscard]] Shape strip_shape(const Strip& strip, const Bent& bent, const ContactForce& force, int points = 65);

/// Response of the bent strip about a solved state: d(angle, interference) against unknowns, for the film coupling.
struct StripJacobian {
    double residual_by_angle = 0.0, residual_by_normal = 0.0;
    double interference_by_angle = 0.0, interference_by_normal = 0.0;
};
[[nodiscard]] StripJacobian strip_jacobian(const Strip& strip, double effective_angle, const ContactForce& force, int steps = 24);

/// Tangent stiffness dN/d(interference) at constant tangential ratio [N/m2].
[[nodiscard]] double tangent_stiffness(const Strip& strip, double effective_angle, const ContactForce& force);

}  // namespace libblade
