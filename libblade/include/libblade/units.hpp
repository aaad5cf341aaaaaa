// The one unit table and parser. SI doubles inside; text with units at the door.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace libblade {

enum class Dimension {
    none,
    length,
    angle,
    line_load,
    pressure,
    speed,
    viscosity,
    density,
    temperature,
    volume_per_area,
    per_length,
    time,
    conductivity,
    specific_heat,
    specific_wear,
    area,
    force,
    temperature_difference,
    stiffness_per_width,
    rotational_stiffness,
    power_per_width,
    wear_rate,
    volume,
    volume_flow,
    rate,
    number_per_volume,
    field_gradient,
    effusivity
};

/// SI unit of a dimension as written to users, e.g. "Pa s"; "1" for none.
[[nodiscard]] std::string_view si_unit(Dimension dimension) noexcept;
/// "length", "angle", "dynamic viscosity" ... for messages.
[[nodiscard]] std::string_view to_string(Dimension dimension) noexcept;
/// Every spelling of the dimension's units, the common ones first.
[[nodiscard]] std::vector<std::string_view> units_of(Dimension dimension);

/// Reads "0.15 mm", "120N/m", "30 deg", "4 cm3/m2", "305 lines/inch", "25 degC", a bare number (SI; refused
/// for angles).
/// Throws InvalidInput with path `path` and the accepted units.
[[nodiscard]] double parse_quantity(std::string_view text, Dimension dimension, std::string_view path);

/// Converts a number in `unit` to SI; an empty unit means SI (refused for angles). Throws InvalidInput when the unit
/// is unknown or of another dimension.
[[nodiscard]] double to_si(double value, std::string_view unit, Dimension dimension, std::string_view path);
/// Converts SI to `unit`. Throws InvalidInput when the unit is unknown or of another dimension.
[[nodiscard]] double from_si(double value, std::string_view unit, Dimension dimension);
/// Unit that a field-name suffix stands for: "deg" in set_angle_deg, "mPa s" for mPa_s, "N/m" for N_per_m, "1/cm" for
/// per_cm. Empty when none.
[[nodiscard]] std::string_view unit_of_suffix(std::string_view suffix, Dimension dimension) noexcept;

/// Number as text with a decimal point whatever the locale: "0.15", "2e-15". 17 digits read back to the same bits.
[[nodiscard]] std::string number_text(double value, int digits = 6);
/// SI value in a unit, for messages: "0.15 mm".
[[nodiscard]] std::string quantity_text(double si_value, std::string_view unit, Dimension dimension);

}  // namespace libblade
