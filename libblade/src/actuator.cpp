#include "libblade/actuator.hpp"

#include <cmath>
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

const Field& range_of(std::string_view name) { return *find_field("setting.actuator." + std::string(name)); }

std::string show(const Field& field, double value) { return quantity_text(value, field.display_unit, field.dimension); }

void check(std::string_view name, double value, Problems& problems) {
    const Field& field = range_of(name);
    if (!(value >= field.hard_min && value <= field.hard_max))
        problems.push_back({std::string(name), show(field, value), "must be " + hard_range_text(field)});
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
    check("piston_area", actuator.piston_area, problems);
    check("lever_ratio", actuator.lever_ratio, problems);
    check("blade_width", actuator.blade_width, problems);
    check("dead_load", actuator.dead_load, problems);
}

}  // namespace

double line_load_of(const PneumaticActuator& actuator) {
    Problems problems;
    check("air_pressure", actuator.air_pressure, problems);
    check_lever(actuator, problems);
    refuse_any(std::move(problems));
    const double force =
        actuator.air_pressure * actuator.piston_area * actuator.lever_ratio + actuator.dead_load;  // [N]
    if (force < 0.0)
        refuse_any({{"air_pressure", show(range_of("air_pressure"), actuator.air_pressure),
                     "does not overcome the dead load of " + show(range_of("dead_load"), actuator.dead_load) +
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
    if (pressure > range_of("air_pressure").hard_max)
        refuse_any({{"line_load", given,
                     "needs an air pressure of " + show(range_of("air_pressure"), pressure) + ", above " +
                         show(range_of("air_pressure"), range_of("air_pressure").hard_max)}});
    return pressure;
}

double interference_of(const ScrewActuator& actuator) {
    Problems problems;
    check("advance", actuator.advance, problems);
    check("slope", actuator.slope, problems);
    refuse_any(std::move(problems));
    return actuator.advance * std::cos(actuator.slope);
}

double advance_for(const ScrewActuator& actuator, double interference) {
    Problems problems;
    check("slope", actuator.slope, problems);
    check_field("setting.interference", "interference", interference, problems);
    refuse_any(std::move(problems));
    return interference / std::cos(actuator.slope);
}

}  // namespace libblade
