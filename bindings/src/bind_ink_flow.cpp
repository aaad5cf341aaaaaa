#include "bind.hpp"
#include "libblade/case.hpp"
#include "libblade/ink_flow.hpp"

using namespace libblade;

void bind_ink_flow(py::module_& module) {
    module.def(
        "plane_flow",
        [](const Case& c, const Doubles& gap, const Doubles& speed, const Doubles& pressure_gradient) {
            const auto h = view(gap), U = view(speed), G = view(pressure_gradient);
            if (U.size() != h.size() || G.size() != h.size())
                throw py::value_error("gap, speed and pressure_gradient must have the same size");
            std::vector<double> flow, moving, fixed;
            Convergence worst{Status::converged, 0.0, 0.0, 0, {}};
            {
                const py::gil_scoped_release release;
                for (std::size_t k = 0; k < h.size(); ++k) {
                    const PlaneFlow f = plane_flow(c.ink.rheology, h[k], U[k], G[k]);
                    flow.push_back(f.flow);
                    moving.push_back(f.moving_wall_stress);
                    fixed.push_back(f.fixed_wall_stress);
                    const bool worse = f.convergence.ok() ? f.convergence.residual >= worst.residual : true;
                    if (worst.ok() && worse) worst = f.convergence;
                }
            }
            return py::make_tuple(to_array(flow), to_array(moving), to_array(fixed), convergence_tuple(worst));
        },
        "Arrays of one size; the record is that of the first flow not solved, or the worst.", py::arg("case"),
        py::arg("gap"), py::arg("speed"), py::arg("pressure_gradient"));
}
