// The feather edge: the metal between facet and far face of a blade that has worn through its cut face, an elastic wedge
// of the angle between the two, pressed on by the roll along one face.
//
// Self-similar: with uniform pressure and shear on one face and nothing on the other, the stress depends on the angle t
// from the loaded face only. Airy function r^2 f(t), f = A cos 2t + B sin 2t + C t + D (Levy 1898; Timoshenko & Goodier,
// Theory of Elasticity, wedge loaded along a face; from memory, derived anew here):
//
//   hoop 2 f,  radial 2 f + f'',  shear - f';   hoop = - p, shear = tau at t = 0, both 0 at t = a
//
//   A = (2 (p/2 + tau a)(cos 2a - 1) - tau (sin 2a - 2a)) / det,   B = (tau (cos 2a - 1) + 2 (p/2 + tau a) sin 2a) / det
//   C = - tau - 2B,   D = - p/2 - A,   det = 8 sin a (sin a - a cos a)
//
// Radial stress on the loaded face - p - 4A, with the leading terms 3 p / tan^2 a + 4 tau / tan a of a thin wedge (a
// cantilever of depth r tan a); pressure alone: p a / (tan a - a). tau counts towards the edge: the drag of a trailing
// blade pulls its feather out (tau > 0), that of a doctoring one pushes it back (tau < 0).
//
// A RELATIVE index, not a threshold: 0.5 MPa on a wedge of 30 deg gives 5 MPa, on one of 12 deg 34 MPa, against some
// 1600 MPa of yield. It says how much more a low angle and a high pressure strain the edge.
#pragma once

namespace libblade {

struct WedgeStress {
    double radial, hoop, shear;  ///< [Pa], tension positive
};
/// Stress at an angle [rad] from the loaded face, 0 to `wedge_angle`, anywhere along the radius. pressure [Pa], shear
/// towards the edge [Pa].
[[nodiscard]] WedgeStress wedge_stress(double wedge_angle, double pressure, double shear, double angle) noexcept;

struct FeatherStress {
    double loaded_face;  ///< radial stress on the face that the roll presses on [Pa]
    double free_face;    ///< and on the other [Pa]
    double leading;      ///< 3 p / tan^2 a + 4 tau / tan a, for loaded_face [Pa]; 0 at 90 deg
    double peak;         ///< larger magnitude of the two faces, the largest of the section up to 60 deg: the index [Pa]
};
/// wedge angle from 0.1 to 90 deg [rad], pressure at least 0 [Pa], shear towards the edge [Pa]. Throws InvalidInput.
[[nodiscard]] FeatherStress feather_stress(double wedge_angle, double pressure, double shear = 0.0);

struct SliverSource {
    double relative_index;  ///< peak over that of the reference [-]
    double share;           ///< of the worn volume that leaves as slivers, at most 1 [-]
    double worn_volume;     ///< of the blade, k_b N_a, per length of web and width [m3/m2]
    double volume;          ///< of slivers, likewise [m3/m2]
};
/// Slivers as a share of the worn volume weighted by the index. `fraction` at the reference has no source: an assumption
/// to be varied by a factor of 10. specific wear [m2/N], asperity load [N/m], peaks [Pa]. Throws InvalidInput.
[[nodiscard]] SliverSource sliver_source(double specific_wear, double asperity_load, double peak, double reference_peak,
                                         double fraction = 0.01);

}  // namespace libblade
