// Closed-form laws, one number at a time; the package spreads them over arrays.
#include <optional>

#include "bind.hpp"
#include "libblade/asperity.hpp"
#include "libblade/case.hpp"
#include "libblade/contact.hpp"

using namespace libblade;

void bind_laws(py::module_& module) {
    module.def("greenwood_tripp_integral",
               py::vectorize([](double n, double H) { return greenwood_tripp_integral(n, H); }), py::arg("order"),
               py::arg("separation"));
    module.def("asperity_pressure",
               [](const Doubles& gap, double roughness, double product, double ratio, std::optional<double> modulus,
                  std::optional<double> hardness, double land_fraction) {
                   Roll roll;
                   roll.land_roughness = roughness;
                   roll.asperity_product = product;
                   roll.asperity_ratio = ratio;
                   roll.engraving.land_fraction = land_fraction;
                   const Solid blade;
                   AsperityLaw law = asperity_law(roll, blade);
                   if (modulus) law.coefficient *= *modulus / contact_modulus(blade, roll.material);
                   if (hardness) law.cap = land_fraction * *hardness;
                   return py::vectorize([law](double h) { return asperity_pressure(law, h); })(gap);
               });
    module.def(
        "shear_viscosity",
        [](const Case& c, const Doubles& rate, const Doubles& temperature) {
            const Ink ink = c.ink;
            return py::vectorize([ink](double g, double T) { return shear_viscosity(ink, g, T); })(rate, temperature);
        },
        py::arg("case"), py::arg("shear_rate"), py::arg("temperature"));
    module.def(
        "tangent_viscosity",
        [](const Case& c, const Doubles& rate) {
            const Rheology law = c.ink.rheology;
            return py::vectorize([law](double g) { return tangent_viscosity(law, g); })(rate);
        },
        py::arg("case"), py::arg("shear_rate"));
    module.def("facet_from_retreat",
               py::vectorize([](double z, double a, double t) { return facet_from_retreat(z, a, t); }),
               py::arg("retreat"), py::arg("angle"), py::arg("thickness"));
    module.def("hertz_half_width", py::vectorize([](double load, double radius, double modulus) {
                   return hertz_line(load, radius, modulus).half_width;
               }));
    module.def("hertz_peak_pressure", py::vectorize([](double load, double radius, double modulus) {
                   return hertz_line(load, radius, modulus).peak_pressure;
               }));
}
