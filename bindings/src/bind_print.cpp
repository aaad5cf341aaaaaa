#include "bind.hpp"
#include "libblade/print.hpp"

using namespace libblade;

namespace {

/// Share of the proportional law, or (smoothness, immobilised, split) of Walker & Fetsko.
InkTransfer transfer_of(const std::vector<double>& numbers) {
    if (numbers.size() == 1) return ProportionalTransfer{numbers[0]};
    return WalkerFetsko{numbers.at(0), numbers.at(1), numbers.at(2)};
}

}  // namespace

void bind_print(py::module_& module) {
    module.def(
        "ink_transfer",
        [](const Doubles& offered, const std::vector<double>& law) {
            return py::vectorize([t = transfer_of(law)](double x) { return ink_transfer(t, x); })(offered);
        },
        py::arg("offered"), py::arg("law"));
    module.def(
        "print_density",
        [](const Doubles& film, double limit, double absorption) {
            return py::vectorize([=](double y) { return print_density({limit, absorption}, y); })(film);
        },
        py::arg("film"), py::arg("limit"), py::arg("absorption"));
    module.def(
        "film_of_density",
        [](const Doubles& density, double limit, double absorption) {
            return py::vectorize([=](double d) { return film_of_density({limit, absorption}, d); })(density);
        },
        py::arg("density"), py::arg("limit"), py::arg("absorption"));
    module.def(
        "density_through",
        [](double film, double density, double limit) {
            const SolidDensity law = density_through(film, density, limit);
            return py::make_tuple(law.limit, law.absorption);
        },
        py::arg("film"), py::arg("density"), py::arg("limit"));
    module.def(
        "density_from_readings",
        [](double film_1, double density_1, double film_2, double density_2) {
            const SolidDensity law = density_from_readings(film_1, density_1, film_2, density_2);
            return py::make_tuple(law.limit, law.absorption);
        },
        py::arg("film_1"), py::arg("density_1"), py::arg("film_2"), py::arg("density_2"));
    module.def("tint_density", py::vectorize(tint_density), py::arg("area"), py::arg("solid_density"), py::arg("n"));
    module.def("dot_area", py::vectorize(dot_area), py::arg("density"), py::arg("solid_density"), py::arg("n"));
    py::class_<PrintLaw>(module, "PrintLaw")
        .def(py::init([](const std::vector<double>& transfer, double density_limit, double nominal_density, double tint,
                         double yule_nielsen, double contrast, double reading_distance, double comparison_contrast) {
                 PrintLaw law{transfer_of(transfer), density_limit, nominal_density, tint, yule_nielsen, {}};
                 law.eye.contrast = contrast, law.eye.reading_distance = reading_distance;
                 law.eye.comparison_contrast = comparison_contrast;
                 check_print_law(law);
                 return law;
             }),
             py::kw_only(), py::arg("transfer"), py::arg("density_limit"), py::arg("nominal_density"), py::arg("tint"),
             py::arg("yule_nielsen"), py::arg("contrast"), py::arg("reading_distance"), py::arg("comparison_contrast"));
}
