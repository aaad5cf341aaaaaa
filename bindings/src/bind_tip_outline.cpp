#include "bind.hpp"
#include "libblade/case.hpp"
#include "libblade/contact.hpp"
#include "libblade/solids.hpp"
#include "libblade/tip_outline.hpp"

using namespace libblade;

namespace {

BladeSide side_of(std::string_view word) { return word == "roll" ? BladeSide::roll_facing : BladeSide::away; }

py::dict facet_growth(const Outline& outline, double angle, const Doubles& retreats) {
    const FacetLaw law(outline, angle);
    std::vector<double> length, span, area, front, body, lost;
    for (const double z : view(retreats)) {
        const OutlineFacet f = law.at(z);
        length.push_back(f.length), span.push_back(f.span), area.push_back(f.area);
        front.push_back(f.front_angle), body.push_back(f.body_angle), lost.push_back(law.length_lost(z));
    }
    py::dict out;
    out["length"] = to_array(length), out["span"] = to_array(span), out["area"] = to_array(area);
    out["front_angle"] = to_array(front), out["body_angle"] = to_array(body), out["length_lost"] = to_array(lost);
    py::list events;
    for (const WearEvent& e : law.events())
        events.append(py::make_tuple(e.retreat, e.length_lost, e.area, e.length_before, e.length_after));
    out["events"] = events;
    return out;
}

}  // namespace

void bind_tip_outline(py::module_& module) {
    module.def(
        "facet_growth_square",
        [](double thickness, double edge_radius, double angle, const Doubles& retreats) {
            return facet_growth(tip_outline(thickness, SquareEnd{}, edge_radius), angle, retreats);
        },
        py::arg("thickness"), py::arg("edge_radius"), py::arg("angle"), py::arg("retreats"));
    module.def(
        "facet_growth_bevel",
        [](double thickness, double edge_radius, double angle, const Doubles& retreats, double bevel_angle,
           double depth, std::string_view side) {
            const BevelledEnd end{bevel_angle, depth, side_of(side)};
            return facet_growth(tip_outline(thickness, end, edge_radius), angle, retreats);
        },
        py::arg("thickness"), py::arg("edge_radius"), py::arg("angle"), py::arg("retreats"), py::arg("bevel_angle"),
        py::arg("depth"), py::arg("side"));
    module.def(
        "facet_growth_blade",
        [](const Case& c, double edge_radius, double angle, const Doubles& retreats) {
            return facet_growth(blade_outline(c.blade, edge_radius), angle, retreats);
        },
        py::arg("case"), py::arg("edge_radius"), py::arg("angle"), py::arg("retreats"));
    module.def(
        "edge_contact",
        [](double load, double radius, double modulus, double edge_hardness, double roll_hardness, double front_angle,
           double body_angle) {
            const EdgeContact c =
                edge_contact(load, radius, modulus, edge_hardness, roll_hardness, front_angle, body_angle);
            return py::make_tuple(c.width, c.mean_pressure, c.arc_share, c.plastic);
        },
        py::arg("load"), py::arg("radius"), py::arg("modulus"), py::arg("edge_hardness"), py::arg("roll_hardness"),
        py::arg("front_angle"), py::arg("body_angle"));
    module.def("solids_table", [] {
        py::list out;
        const auto range = [](const SolidRange& r) { return py::make_tuple(r.low, r.high); };
        for (const NamedSolid& s : solids_table()) {
            py::dict row;
            row["name"] = s.name;
            row["youngs_modulus"] = py::make_tuple(s.solid.youngs_modulus, range(s.youngs_modulus));
            row["poissons_ratio"] = py::make_tuple(s.solid.poissons_ratio, range(s.poissons_ratio));
            row["hardness"] = py::make_tuple(s.solid.hardness, range(s.hardness));
            row["yield_strength"] = py::make_tuple(s.solid.yield_strength, range(s.yield_strength));
            row["density"] = py::make_tuple(s.solid.density, range(s.density));
            row["note"] = s.note;
            out.append(row);
        }
        return out;
    });
}
