// The blade of a case as a strip, and pressed on a dry roll.
#pragma once

#include "libblade/bending.hpp"
#include "libblade/case.hpp"

namespace libblade {

/// The blade, holder and roll of a case. `worn`: thickness that a facet has taken from the roll side at the tip, facet length x
/// sin(angle) [m]; the contact force acts on what is left, half of it below the mid-plane of the tip.
[[nodiscard]] Strip strip_of(const Case& c, double worn = 0.0);

/// Dry friction as the strip sees it: tangential over normal force from body to tip, -mu doctoring, +mu trailing.
[[nodiscard]] double tangential_ratio(const Case& c, double friction) noexcept;

/// The blade pressed on a dry roll by its line load or interference; the force acts at the roll-side corner, T = friction N.
struct DryContact {
    Bent bent;
    ContactForce force;
    double tangent_stiffness;  ///< dN/d(interference) [N/m2]
    double buckling_ratio;     ///< axial load over the buckling load, see bending.hpp [-]
    double frequency_free;     ///< first natural frequency off the roll [Hz]
    double frequency_pinned;   ///< with the tip held by the roll [Hz]
    Shape shape;               ///< deflected mid-plane
};
/// Every number NaN where it is not solved. Throws InvalidInput where the setting's actuator gives no load.
[[nodiscard]] DryContact bend_dry(const Case& c, double friction, int points = 65);

}  // namespace libblade
