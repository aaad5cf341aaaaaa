#include <cmath>
#include <limits>

#include "bind.hpp"
#include "libblade/bending.hpp"
#include "libblade/case.hpp"

using namespace libblade;

namespace {

struct DryBend {
    Bent bent;
    ContactForce force;
    double tangent_stiffness = std::numeric_limits<double>::quiet_NaN();
    Shape shape;
};

/// The blade of a case pressed on a dry roll: contact at the corner, half a thickness off the mid-plane, T = friction N.
DryBend bend_dry(const Case& c, double friction, int points) {
    const Setting& set = c.setting;
    const bool doctoring = set.orientation == Orientation::doctoring;
    const bool away = set.pressure_side == PressureSide::away_from_roll ||
                      (set.pressure_side == PressureSide::by_orientation && doctoring);
    const Strip strip{bending_stiffness(c.blade),
                      c.blade.free_length,
                      set.set_angle,
                      0.5 * c.blade.thickness,
                      away ? set.chamber_pressure : -set.chamber_pressure,
                      c.roll.radius};
    const double ratio = doctoring ? -friction : friction;
    DryBend out;
    if (const auto* load = std::get_if<LineLoad>(&set.load)) {
        out.force = {load->value, ratio * load->value, 0.0};
        out.bent = solve_bending(strip, out.force);
    } else {
        out.bent = solve_bending_at(strip, std::get<Interference>(set.load).value, ratio, out.force);
    }
    if (!out.bent.convergence.ok()) return out;
    out.tangent_stiffness = tangent_stiffness(strip, out.bent.effective_angle, out.force);
    out.shape = strip_shape(strip, out.bent, out.force, points);
    return out;
}

}  // namespace

void bind_bending(py::module_& module) {
    module.def(
        "bend_dry",
        [](const Case& c, double friction, int points) {
            const DryBend d = [&] {
                const py::gil_scoped_release release;
                return bend_dry(c, friction, points);
            }();
            const Bent& b = d.bent;
            py::dict out;
            out["line_load"] = d.force.normal;
            out["tangential_load"] = std::abs(d.force.tangential);
            out["effective_angle"] = b.effective_angle;
            out["tip_rotation"] = b.tip_rotation;
            out["tip_deflection"] = b.tip_deflection;
            out["interference"] = b.interference;
            out["contact_travel"] = b.travel;
            out["holder_moment"] = b.root_moment;
            out["holder_force"] = py::make_tuple(b.root_force_o, b.root_force_z);
            out["max_bending_stress"] = 6.0 * b.max_moment / (c.blade.thickness * c.blade.thickness);
            out["max_stress_place"] = b.max_moment_place;
            out["tangent_stiffness"] = d.tangent_stiffness;
            out["shape"] = py::make_tuple(to_array(d.shape.o), to_array(d.shape.z), to_array(d.shape.slope));
            const Convergence& k = b.convergence;
            out["convergence"] = py::make_tuple(to_string(k.status), k.residual, k.tolerance, k.iterations, k.message);
            return out;
        },
        py::arg("case"), py::arg("friction"), py::arg("points"));
}
