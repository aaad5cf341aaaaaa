#include <optional>

#include "bind.hpp"
#include "libblade/film.hpp"

using namespace libblade;

void bind_film(py::module_& module) {
    module.def(
        "solve_film",
        [](const Doubles& x, const Doubles& gap, const Doubles& pressure_viscosity, const Doubles& shear_viscosity,
           const Doubles& flow_factor, double speed, double pressure_in, double pressure_out,
           std::optional<double> film_supply) {
            const FilmInput input{view(x),
                                  view(gap),
                                  view(pressure_viscosity),
                                  view(shear_viscosity),
                                  view(flow_factor),
                                  speed,
                                  pressure_in,
                                  pressure_out,
                                  film_supply};
            const Film film = [&] {
                const py::gil_scoped_release release;
                return solve_film(input);
            }();
            return py::make_tuple(film.load, film.drag, film.flow, film.centre_of_pressure, film.min_gap,
                                  to_array(film.pressure), to_array(film.void_fraction),
                                  convergence_tuple(film.convergence));
        },
        py::arg("x"), py::arg("gap"), py::arg("pressure_viscosity"), py::arg("shear_viscosity"), py::arg("flow_factor"),
        py::kw_only(), py::arg("speed"), py::arg("pressure_in"), py::arg("pressure_out"), py::arg("film_supply"));
    module.def("taylor_wedge", py::vectorize([](double angle, double r, double viscosity, double speed, int which) {
                   const TaylorWedge w = taylor_wedge(angle, r, viscosity, speed);
                   const double values[] = {w.pressure_on_blade, w.shear_on_blade, w.pressure_on_roll, w.shear_on_roll};
                   return values[which];
               }));
}
