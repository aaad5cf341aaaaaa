#include "libblade/setting.hpp"

#include "libblade/error.hpp"

namespace libblade {

std::variant<LineLoad, Interference> load_of(const Setting& setting) {
    if (const auto* load = std::get_if<LineLoad>(&setting.load)) return *load;
    if (const auto* advance = std::get_if<Interference>(&setting.load)) return *advance;
    if (const auto* air = std::get_if<PneumaticActuator>(&setting.actuator)) return LineLoad{line_load_of(*air)};
    if (const auto* screw = std::get_if<ScrewActuator>(&setting.actuator)) return Interference{interference_of(*screw)};
    throw InvalidInput({{"setting.actuator.kind", "\"none\"", "gives no load: state setting.line_load"}});
}

}  // namespace libblade
