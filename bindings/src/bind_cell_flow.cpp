// The engraving: its numbers, the cell problem, and cells under a facet.
#include "bind.hpp"
#include "libblade/case.hpp"
#include "libblade/cell_flow.hpp"
#include "libblade/cell_flow_facet.hpp"

using namespace libblade;

namespace {

py::array_t<double> matrix(const Tensor2& t) {
    py::array_t<double> out({2, 2});
    auto to = out.mutable_unchecked<2>();
    for (py::ssize_t i = 0; i < 2; ++i)
        for (py::ssize_t j = 0; j < 2; ++j) to(i, j) = t[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)];
    return out;
}

}  // namespace

void bind_cell_flow(py::module_& module) {
    module.def(
        "engraving_numbers",
        [](const Case& c) {
            const Engraving& e = c.roll.engraving;
            return py::make_tuple(pitch(e), land_fraction(e), open_fraction(e), cell_volume(e), cell_depth(e),
                                  depth_shape_factor(e), cells_per_area(e), deep_flow_factor(e));
        },
        py::arg("case"));
    module.def(
        "cell_flow",
        [](const Case& c, double land_gap, int resolution, bool wall_ends, bool moving) {
            const CellFlow f = [&] {
                const py::gil_scoped_release release;
                return cell_flow(c.roll.engraving, land_gap, {resolution, wall_ends ? deep_end_length : 0.0});
            }();
            const Tensor2 couette = couette_factor(f, moving ? TextureMotion::moving : TextureMotion::stationary);
            return py::make_tuple(f.land_gap, f.mean_gap, matrix(f.pressure_factor), matrix(couette),
                                  matrix(f.shear_factor), matrix(f.dissipation_factor),
                                  convergence_tuple(f.convergence));
        },
        py::arg("case"), py::arg("land_gap"), py::arg("resolution"), py::arg("wall_ends"), py::arg("moving"));
    module.def(
        "cells_under_facet",
        [](const Case& c, double length, double gap_in, double gap_out, double speed, double viscosity,
           double pressure_in, int resolution, int phases) {
            const CellFacetFlow f = [&] {
                const py::gil_scoped_release release;
                const CellFacet facet{c.roll.engraving, length, gap_in, gap_out, speed, viscosity, pressure_in};
                return cell_facet_flow(facet, {resolution, phases});
            }();
            return py::make_tuple(f.load, f.flow, to_array(f.phase_load), to_array(f.phase_flow), f.homogenised_load,
                                  f.homogenised_flow, f.section_difference, convergence_tuple(f.convergence));
        },
        py::arg("case"), py::kw_only(), py::arg("length"), py::arg("gap_in"), py::arg("gap_out"), py::arg("speed"),
        py::arg("viscosity"), py::arg("pressure_in"), py::arg("resolution"), py::arg("phases"));
}
