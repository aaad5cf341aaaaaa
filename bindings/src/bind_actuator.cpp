#include "libblade/actuator.hpp"

#include "bind.hpp"

using namespace libblade;

void bind_actuator(py::module_& module) {
    module.def(
        "line_load_of",
        [](double air_pressure, double piston_area, double lever_ratio, double blade_width, double dead_load) {
            return line_load_of(PneumaticActuator{air_pressure, piston_area, lever_ratio, blade_width, dead_load});
        },
        py::arg("air_pressure"), py::arg("piston_area"), py::arg("lever_ratio"), py::arg("blade_width"),
        py::arg("dead_load"));
    module.def(
        "air_pressure_for",
        [](double line_load, double piston_area, double lever_ratio, double blade_width, double dead_load) {
            return air_pressure_for(PneumaticActuator{0.0, piston_area, lever_ratio, blade_width, dead_load},
                                    line_load);
        },
        py::arg("line_load"), py::arg("piston_area"), py::arg("lever_ratio"), py::arg("blade_width"),
        py::arg("dead_load"));
    module.def(
        "interference_of",
        [](double advance, double slope) {
            return interference_of(ScrewActuator{advance, slope});
        },
        py::arg("advance"), py::arg("slope"));
    module.def(
        "advance_for",
        [](double interference, double slope) {
            return advance_for(ScrewActuator{0.0, slope}, interference);
        },
        py::arg("interference"), py::arg("slope"));
}
