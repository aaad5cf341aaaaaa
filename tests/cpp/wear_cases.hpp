// Cases that the tests of wear share.
#pragma once

#include <cmath>
#include <numbers>

#include "libblade/wear.hpp"

namespace wear_cases {

using namespace libblade;

inline constexpr double deg = std::numbers::pi / 180.0;
inline constexpr double kWear = 2e-15, kLoad = 100.0;

inline Case press_case(Orientation orientation, Holding holding, double viscosity = 0.03, double speed = 5.0) {
    Case c;
    c.blade.specific_wear = kWear;
    c.tip = Facet{200e-6, BeddedHere{}, 1e-6};
    c.roll.engraving.pressure_flow_factor = 4.0;
    c.roll.engraving.land_fraction = 0.25;
    c.ink.rheology = Newtonian{viscosity};
    c.setting.orientation = orientation;
    c.setting.holding = holding;
    c.setting.load = LineLoad{kLoad};
    c.setting.surface_speed = speed;
    return c;
}

/// Stiff, and so slow in so thin an ink that the film carries some 1e-6 of the load: the blade of the closed forms.
inline Case dry_case(Orientation orientation = Orientation::doctoring) {
    Case c = press_case(orientation, Holding::floating, 1e-4, 0.01);
    c.blade.thickness = 1e-3;
    return c;
}

/// Area that a straight cut has taken from a square corner.
inline double cut_corner(double b, double angle) { return 0.5 * b * b * std::sin(angle) * std::cos(angle); }

inline ScheduleStep run(double distance) {
    ScheduleStep step;
    step.distance = distance;
    return step;
}

}  // namespace wear_cases
