#include "bind.hpp"
#include "libblade/bending_case.hpp"

using namespace libblade;

namespace {

std::string_view mode_word(ContactMode mode) { return mode == ContactMode::flat ? "flat" : "tip"; }

std::string_view event_word(CurveEvent event) {
    switch (event) {
        case CurveEvent::interference_limit:
            return "interference_limit";
        case CurveEvent::load_limit:
            return "load_limit";
        case CurveEvent::dig_in:
            return "dig_in";
        case CurveEvent::lying_flat:
            return "lying_flat";
        case CurveEvent::plate_contact:
            return "plate_contact";
        case CurveEvent::yield:
            return "yield";
        case CurveEvent::none:
            break;
    }
    return "";
}

py::dict curve_dict(const LoadCurve& curve) {
    const auto column = [&](double LoadCurvePoint::*member) {
        std::vector<double> values;
        for (const LoadCurvePoint& p : curve.points) values.push_back(p.*member);
        return to_array(values);
    };
    py::list modes, events;
    for (const LoadCurvePoint& p : curve.points) modes.append(mode_word(p.mode)), events.append(event_word(p.event));
    py::dict out;
    out["interference"] = column(&LoadCurvePoint::interference);
    out["line_load"] = column(&LoadCurvePoint::normal);
    out["effective_angle"] = column(&LoadCurvePoint::effective_angle);
    out["contact_arc_length"] = column(&LoadCurvePoint::contact_arc_length);
    out["plate_force"] = column(&LoadCurvePoint::plate_force);
    out["max_bending_stress"] = column(&LoadCurvePoint::max_stress);
    out["contact_mode"] = modes;
    out["event"] = events;
    out["convergence"] = convergence_tuple(curve.convergence);
    return out;
}

}  // namespace

void bind_bending(py::module_& module) {
    module.def(
        "bend_dry",
        [](const Case& c, double friction, int points) {
            const DryContact d = [&] {
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
            out["max_bending_stress"] = b.max_stress;
            out["max_stress_place"] = b.max_stress_place;
            out["plate_force"] = b.plate_force;
            out["contact_arc_length"] = b.contact_arc_length;
            out["overhang"] = b.overhang;
            out["wrapped_arc"] = b.wrapped_arc;
            out["mode"] = b.convergence.ok() ? mode_word(b.contact_mode) : "none";
            out["tangent_stiffness"] = d.tangent_stiffness;
            out["buckling_ratio"] = d.buckling_ratio;
            out["frequency_free"] = d.frequency_free;
            out["frequency_pinned"] = d.frequency_pinned;
            out["shape"] = py::make_tuple(to_array(d.shape.o), to_array(d.shape.z), to_array(d.shape.slope));
            out["convergence"] = convergence_tuple(b.convergence);
            return out;
        },
        py::arg("case"), py::arg("friction"), py::arg("points"));
    module.def(
        "load_curve",
        [](const Case& c, double friction, double max_interference, double max_load, bool flat) {
            const LoadCurve curve = [&] {
                const py::gil_scoped_release release;
                LoadCurveOptions options;
                options.max_interference = max_interference;
                options.max_load = max_load;
                options.yield_strength = c.blade.material.yield_strength;
                options.allow_flat = flat;
                return load_curve(strip_of(c), tangential_ratio(c, friction), options);
            }();
            return curve_dict(curve);
        },
        py::arg("case"), py::arg("friction"), py::arg("max_interference"), py::arg("max_load"), py::arg("flat"));
}
