#include "bind.hpp"
#include "libblade/nip_branches.hpp"
#include "libblade/nip_outputs.hpp"

using namespace libblade;

namespace {

py::tuple section_tuple(const Section& s) {
    return py::make_tuple(to_array(s.x), to_array(s.gap), to_array(s.film_pressure), to_array(s.asperity_pressure),
                          to_array(s.void_fraction));
}

py::dict point_dict(const OperatingPoint& point) {
    py::dict out;
    for (const Output& o : outputs::table) out[py::str(o.name)] = point.*o.member;
    out["regime"] = to_string(point.regime);
    out["branch"] = to_string(point.branch);
    out["bedded_stable"] = point.bedded_stable;
    out["other_branch_exists"] = point.other_branch_exists;
    py::list flags;
    for (const ValidityFlag& f : point.validity) flags.append(py::make_tuple(f.name, f.value, f.limit, f.text()));
    out["validity"] = flags;
    out["section"] = section_tuple(point.section);
    out["blade"] = py::make_tuple(to_array(point.blade.o), to_array(point.blade.z), to_array(point.blade.slope));
    out["convergence"] = convergence_tuple(point.convergence);
    return out;
}

}  // namespace

/// Of every solve from Python: the process is the caller that keeps the tables.
FlowTables& flow_tables() {
    static FlowTables tables;
    return tables;
}

void bind_nip(py::module_& module) {
    module.def("output_table", [] {
        py::list out;
        for (const Output& o : outputs::table)
            out.append(py::make_tuple(o.name, o.unit, o.display_unit, o.display_scale, o.long_name));
        return out;
    });
    module.def("regimes", [] {
        std::vector<std::string_view> words;
        for (int k = 0; k <= static_cast<int>(Regime::starved); ++k) words.push_back(to_string(static_cast<Regime>(k)));
        return words;
    });
    module.def("branches", [] {
        std::vector<std::string_view> words;
        for (int k = 0; k <= static_cast<int>(Branch::riding); ++k) words.push_back(to_string(static_cast<Branch>(k)));
        return words;
    });
    py::class_<NipOptions>(module, "NipOptions")
        .def(py::init([](bool riding, bool step_response, bool other_branch, bool run_out, bool section, int mesh) {
                 NipOptions options;
                 options.start = riding ? Start::riding : Start::resting;
                 options.step_response = step_response, options.other_branch = other_branch;
                 options.run_out = run_out, options.section = section;
                 options.mesh = mesh, options.tables = &flow_tables();
                 return options;
             }),
             py::kw_only(), py::arg("riding") = false, py::arg("step_response") = true, py::arg("other_branch") = true,
             py::arg("run_out") = true, py::arg("section") = false, py::arg("mesh") = 1);
    module.def(
        "solve",
        [](const Case& c, const NipOptions& options) {
            const OperatingPoint point = [&] {
                const py::gil_scoped_release release;
                return solve(c, options);
            }();
            return point_dict(point);
        },
        py::arg("case"), py::arg("options"));
    module.def(
        "solve_after_step",
        [](const Case& c, double step, const NipOptions& options) {
            const OperatingPoint point = [&] {
                const py::gil_scoped_release release;
                return solve_after_step(c, step, options);
            }();
            return point_dict(point);
        },
        py::arg("case"), py::arg("step"), py::arg("options"));
    module.def(
        "tip_film",
        [](const Case& c, double effective_angle, double facet_length, double tilt, double low_gap, int mesh) {
            const TipFilm film = [&] {
                const py::gil_scoped_release release;
                NipOptions options;
                options.mesh = mesh;
                options.tables = &flow_tables();
                return tip_film(c, {effective_angle, facet_length, tilt, low_gap}, options);
            }();
            py::dict out;
            out["film_load"] = film.film_load;
            out["outer_load"] = film.outer_load;
            out["asperity_load"] = film.asperity_load;
            out["moment"] = film.moment;
            out["tangential_load"] = film.tangential_load;
            out["flow"] = film.flow;
            out["temperature_rise"] = film.temperature_rise;
            out["section"] = section_tuple(film.section);
            out["convergence"] = convergence_tuple(film.convergence);
            return out;
        },
        py::arg("case"), py::arg("effective_angle"), py::arg("facet_length"), py::arg("tilt"), py::arg("low_gap"),
        py::arg("mesh"));
    module.def(
        "speed_limit",
        [](const Case& c, double excess_limit, double factor) {
            const SpeedLimit limit = [&] {
                const py::gil_scoped_release release;
                return speed_limit(c, excess_limit, factor);
            }();
            return py::make_tuple(limit.lower, limit.upper, limit.searched_from, limit.searched_to,
                                  convergence_tuple(limit.convergence));
        },
        py::arg("case"), py::arg("excess_limit"), py::arg("factor"));
}
