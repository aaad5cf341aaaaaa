#include "libblade/actuator.hpp"

#include <cmath>
#include <numbers>
#include <string>
#include <utility>
#include <vector>

#include "libblade/error.hpp"
#include "libblade/parameters.hpp"
#include "libblade/units.hpp"

namespace libblade {
namespace {

using D = Dimension;
using Problems = std::vector<Problem>;

struct Range {
    std::string_view path;
    D dimension;
    std::string_view unit;
    double min, max;  // SI
};

// Beyond any press: they catch a slip of units, not a poor design.
constexpr double degree = std::numbers::pi / 180.0;
constexpr Range air_pressure{"air_pressure", D::pressure, "bar", 0.0, 2e6};
constexpr Range piston_area{"piston_area", D::area, "cm2", 1e-6, 1.0};
constexpr Range lever_ratio{"lever_ratio", D::none, "", 0.01, 100.0};
constexpr Range blade_width{"blade_width", D::length, "m", 0.01, 10.0};
constexpr Range dead_load{"dead_load", D::force, "N", -1e5, 1e5};
constexpr Range advance{"advance", D::length, "mm", 0.0, 0.05};
constexpr Range slope{"slope", D::angle, "deg", -80.0 * degree, 80.0 * degree};

std::string show(const Range& range, double value) { return quantity_text(value, range.unit, range.dimension); }

void check(const Range& range, double value, Problems& problems) {
    if (!(value >= range.min && value <= range.max))
        problems.push_back({std::string(range.path), show(range, value),
                            "must be between " + show(range, range.min) + " and " + show(range, range.max)});
}

/// Against the range that a case allows for the same quantity.
void check_field(std::string_view path, std::string_view name, double value, Problems& problems) {
    const Field& field = *find_field(path);
    if (!(value >= field.hard_min && value <= field.hard_max))
        problems.push_back({std::string(name), quantity_text(value, field.display_unit, field.dimension),
                            "must be " + hard_range_text(field)});
}

void refuse_any(Problems problems) {
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

void check_lever(const PneumaticActuator& actuator, Problems& problems) {
    check(piston_area, actuator.piston_area, problems);
    check(lever_ratio, actuator.lever_ratio, problems);
    check(blade_width, actuator.blade_width, problems);
    check(dead_load, actuator.dead_load, problems);
}

}  // namespace

double line_load_of(const PneumaticActuator& actuator) {
    Problems problems;
    check(air_pressure, actuator.air_pressure, problems);
    check_lever(actuator, problems);
    refuse_any(std::move(problems));
    const double force =
        actuator.air_pressure * actuator.piston_area * actuator.lever_ratio + actuator.dead_load;  // [N]
    if (force < 0.0)
        refuse_any({{"air_pressure", show(air_pressure, actuator.air_pressure),
                     "does not overcome the dead load of " + show(dead_load, actuator.dead_load) +
                         ": the blade is off the roll"}});
    return force / actuator.blade_width;
}

double air_pressure_for(const PneumaticActuator& actuator, double line_load) {
    Problems problems;
    check_lever(actuator, problems);
    check_field("setting.line_load", "line_load", line_load, problems);
    refuse_any(std::move(problems));
    const double force = line_load * actuator.blade_width - actuator.dead_load;  // left for the air [N]
    const std::string given = quantity_text(line_load, "N/m", D::line_load);
    if (force < 0.0)
        refuse_any({{"line_load", given,
                     "is below the " + quantity_text(actuator.dead_load / actuator.blade_width, "N/m", D::line_load) +
                         " that the dead load alone brings"}});
    const double pressure = force / (actuator.piston_area * actuator.lever_ratio);
    if (pressure > air_pressure.max)
        refuse_any({{"line_load", given,
                     "needs an air pressure of " + show(air_pressure, pressure) + ", above " +
                         show(air_pressure, air_pressure.max)}});
    return pressure;
}

double interference_of(const ScrewActuator& actuator) {
    Problems problems;
    check(advance, actuator.advance, problems);
    check(slope, actuator.slope, problems);
    refuse_any(std::move(problems));
    return actuator.advance * std::cos(actuator.slope);
}

double advance_for(const ScrewActuator& actuator, double interference) {
    Problems problems;
    check(slope, actuator.slope, problems);
    check_field("setting.interference", "interference", interference, problems);
    refuse_any(std::move(problems));
    return interference / std::cos(actuator.slope);
}

}  // namespace libblade
