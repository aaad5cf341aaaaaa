// Closed-form laws, one number at a time; the package spreads them over arrays.
#include "bind.hpp"
#include "libblade/asperity.hpp"
#include "libblade/case.hpp"

using namespace libblade;

void bind_laws(py::module_& module) {
    module.def("greenwood_tripp_integral", py::vectorize(&greenwood_tripp_integral), py::arg("order"), py::arg("separation"));
    module.def("asperity_pressure", [](const Case& c, const Doubles& gap) {
        const AsperityLaw law = asperity_law(c.roll, c.blade.material);
        return py::vectorize([law](double h) { return asperity_pressure(law, h); })(gap);
    }, py::arg("case"), py::arg("gap"));
    module.def("shear_viscosity", [](const Case& c, const Doubles& rate, const Doubles& temperature) {
        const Ink ink = c.ink;
        return py::vectorize([ink](double g, double T) { return shear_viscosity(ink, g, T); })(rate, temperature);
    }, py::arg("case"), py::arg("shear_rate"), py::arg("temperature"));
    module.def("tangent_viscosity", [](const Case& c, const Doubles& rate) {
        const Rheology law = c.ink.rheology;
        return py::vectorize([law](double g) { return tangent_viscosity(law, g); })(rate);
    }, py::arg("case"), py::arg("shear_rate"));
    module.def("facet_from_retreat", py::vectorize(&facet_from_retreat), py::arg("retreat"), py::arg("angle"),
               py::arg("thickness"));
    module.def("contact_modulus", [](const Case& c) { return contact_modulus(c.blade.material, c.roll.material); });
}
