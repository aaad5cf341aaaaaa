// The setting in the pressroom's own terms: air pressure or screw travel, to line load or interference and back.
//
// Statics of a lever: the pistons' force p A times the lever ratio, plus what presses without air, spread over the blade's
// width: N = (p A r + F0) / w. Everything is taken along the roll's normal at the blade; friction of seals, hinges and guides
// is neglected, and the load is taken as even across the width. A screw that advances the holder at an angle s to the roll's
// normal brings advance x cos(s) of interference; what it moves along the roll is neglected.
#pragma once

#include <variant>

namespace libblade {

/// Pistons that press the blade against the roll.
struct PneumaticActuator {
    double air_pressure = 0.0;  ///< gauge [Pa]
    double piston_area = 1e-3;  ///< of all pistons together [m2]
    double lever_ratio = 1.0;   ///< force at the blade over force at the pistons [-]
    double blade_width = 1.0;   ///< across the web [m]
    double dead_load = 0.0;     ///< weight or springs at the blade without air; negative lifts it off [N]
    bool operator==(const PneumaticActuator&) const = default;
};

/// A screw that advances the holder.
struct ScrewActuator {
    double advance = 0.0;  ///< of the holder past first touch, along the screw [m]
    double slope = 0.0;    ///< screw to the roll's normal at the contact [rad]
    bool operator==(const ScrewActuator&) const = default;
};

struct NoActuator {
    bool operator==(const NoActuator&) const = default;
};
using Actuator = std::variant<NoActuator, PneumaticActuator, ScrewActuator>;

/// Line load [N/m]. Throws InvalidInput naming the fields out of range, or air_pressure when it does not overcome a negative
/// dead load.
[[nodiscard]] double line_load_of(const PneumaticActuator& actuator);
/// Air pressure [Pa] for a line load [N/m]; the actuator's own air pressure is not used. Throws InvalidInput naming line_load
/// when the dead load alone exceeds it or more than the largest air pressure is needed.
[[nodiscard]] double air_pressure_for(const PneumaticActuator& actuator, double line_load);

/// Interference [m]. Throws InvalidInput naming the fields out of range.
[[nodiscard]] double interference_of(const ScrewActuator& actuator);
/// Advance along the screw [m] for an interference [m]; the actuator's own advance is not used. Throws InvalidInput.
[[nodiscard]] double advance_for(const ScrewActuator& actuator, double interference);

}  // namespace libblade
