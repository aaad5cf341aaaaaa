#include "libblade/flow_cup.hpp"

#include <string>

#include "bind.hpp"

using namespace libblade;

void bind_flow_cup(py::module_& module) {
    module.def("flow_cups", [] {
        py::list out;
        for (const FlowCup& cup : flow_cups())
            out.append(py::make_tuple(cup.name, cup.form == CupForm::linear ? "nu = a (t - b)" : "nu = a t - b / t",
                                      cup.a, cup.b, cup.min_seconds, cup.max_seconds, cup.source));
        return out;
    });
    module.def(
        "flow_cup_viscosity",
        [](const std::string& cup, const Doubles& seconds) {
            return py::vectorize([&cup](double t) { return flow_cup_viscosity(cup, t); })(seconds);
        },
        py::arg("cup"), py::arg("seconds"));
    module.def(
        "ink_from_cup",
        [](const std::string& cup, const Doubles& seconds, double density, double high_shear_ratio) {
            return py::vectorize([&](double t) { return ink_from_cup(cup, t, density, high_shear_ratio); })(seconds);
        },
        py::arg("cup"), py::arg("seconds"), py::arg("density"), py::arg("high_shear_ratio"));
}
