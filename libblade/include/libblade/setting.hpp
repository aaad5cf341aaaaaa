// What the operator sets.
#pragma once

#include <optional>
#include <variant>

#include "libblade/actuator.hpp"

namespace libblade {

/// Doctoring (reverse angle): the tip points against the motion, the body lies downstream. Trailing: the body lies upstream.
enum class Orientation { doctoring, trailing };
/// fixed: the holder stays where it was when the blade was set. floating: the load stays.
enum class Holding { fixed, floating };
/// Face of the blade on which chamber pressure acts.
enum class PressureSide { by_orientation, away_from_roll, roll_facing };

/// Load at which the blade is set and bedded [N/m].
struct LineLoad {
    double value = 100.0;
    bool operator==(const LineLoad&) const = default;
};
/// Holder advance past first touch along the roll's inward normal [m].
struct Interference {
    double value = 0.0;
    bool operator==(const Interference&) const = default;
};

/// What the actuator's own reading brings: its air pressure or its advance.
struct ByActuator {
    bool operator==(const ByActuator&) const = default;
};

struct Setting {
    Orientation orientation = Orientation::doctoring;
    Holding holding = Holding::fixed;
    double set_angle = 0.5235987755982988;  ///< undeformed blade to roll tangent at first touch [rad]
    std::variant<LineLoad, Interference, ByActuator> load = LineLoad{};
    Actuator actuator;              ///< in the pressroom's own terms; none: load and interference only
    double surface_speed = 5.0;     ///< [m/s]
    double friction = 0.12;         ///< boundary friction coefficient [-]
    double chamber_pressure = 0.0;  ///< gauge, on the ink side [Pa]
    PressureSide pressure_side =
        PressureSide::by_orientation;                 ///< by orientation: doctoring away, trailing roll_facing
    double wetted_length = 1e-4;                      ///< how far ink wets the blade upstream of the contact [m]
    double load_step = 0.1;                           ///< relative step of load (floating) or interference (fixed) [-]
    std::optional<double> holder_stiffness;           ///< of the holder along the roll's normal [N/m2]; none: rigid
    std::optional<double> holder_rotation_stiffness;  ///< of the holder against turning [N/rad]; none: rigid
    std::optional<double> film_supply;                ///< ink layer that arrives on the lands [m]; none: flooded
    bool operator==(const Setting&) const = default;
};

/// Line load or interference of a setting, with an actuator's reading turned into it. Throws InvalidInput where the actuator
/// cannot give one.
[[nodiscard]] std::variant<LineLoad, Interference> load_of(const Setting& setting);

}  // namespace libblade
