#include "bind.hpp"
#include "libblade/nip_branches.hpp"
#include "libblade/nip_gradient.hpp"
#include "libblade/nip_outputs.hpp"

using namespace libblade;

namespace {

/// One column of the states of a curve.
template <class T>
py::array_t<T> column(const std::vector<BranchState>& states, T BranchState::*member) {
    py::array_t<T> out(static_cast<py::ssize_t>(states.size()));
    auto view = out.template mutable_unchecked<1>();
    for (std::size_t i = 0; i < states.size(); ++i) view(static_cast<py::ssize_t>(i)) = states[i].*member;
    return out;
}

py::dict curve_dict(const BranchCurve& curve) {
    const auto& s = curve.states;
    py::dict out;
    out["value"] = column(s, &BranchState::value);
    out["facet_tilt"] = column(s, &BranchState::facet_tilt);
    out["film_on_lands"] = column(s, &BranchState::film_on_lands);
    out["excess_ink"] = column(s, &BranchState::excess_ink);
    out["line_load"] = column(s, &BranchState::line_load);
    out["friction_coefficient"] = column(s, &BranchState::friction_coefficient);
    out["asperity_load_share"] = column(s, &BranchState::asperity_load_share);
    out["effective_angle"] = column(s, &BranchState::effective_angle);
    out["stable"] = column(s, &BranchState::stable);
    out["folds"] = py::array_t<std::size_t>(static_cast<py::ssize_t>(curve.folds.size()), curve.folds.data());
    out["onsets"] = py::array_t<std::size_t>(static_cast<py::ssize_t>(curve.onsets.size()), curve.onsets.data());
    out["convergence"] = convergence_tuple(curve.convergence);
    return out;
}

BranchOptions options_of(double excess_limit, int mesh) {
    BranchOptions options;
    options.excess_limit = excess_limit;
    options.mesh = mesh;
    options.tables = &flow_tables();
    return options;
}

}  // namespace

void bind_branches(py::module_& module) {
    module.def(
        "trace_branches",
        [](const Case& c, const std::string& field, double from, double to, double excess_limit, int mesh) {
            const BranchDiagram diagram = [&] {
                const py::gil_scoped_release release;
                return trace_branches(c, field, from, to, options_of(excess_limit, mesh));
            }();
            py::list curves;
            for (const BranchCurve& curve : diagram.curves) curves.append(curve_dict(curve));
            return py::make_tuple(curves, convergence_tuple(diagram.convergence));
        },
        py::arg("case"), py::arg("field"), py::arg("low"), py::arg("high"), py::arg("excess_limit"), py::arg("mesh"));
    module.def(
        "riding_onset",
        [](const Case& c, const std::string& field, double excess_limit, double from, double to, int mesh) {
            const RidingOnset onset = [&] {
                const py::gil_scoped_release release;
                return riding_onset(c, field, excess_limit, from, to, options_of(excess_limit, mesh));
            }();
            return py::make_tuple(onset.lower, onset.upper, onset.lower_jumps, onset.upper_jumps, onset.searched_from,
                                  onset.searched_to, convergence_tuple(onset.convergence));
        },
        py::arg("case"), py::arg("field"), py::arg("excess_limit"), py::arg("low"), py::arg("high"), py::arg("mesh"));
    module.def(
        "gradient",
        [](const Case& c, const std::vector<std::string>& fields, const NipOptions& options) {
            const NipGradient g = [&] {
                const py::gil_scoped_release release;
                return gradient(c, fields, options);
            }();
            py::dict values, slopes;
            for (const Output& o : outputs::table) {
                std::vector<double> by;
                for (const OperatingPoint& d : g.by) by.push_back(d.*o.member);
                values[py::str(o.name)] = g.point.*o.member;
                slopes[py::str(o.name)] = to_array(by);
            }
            return py::make_tuple(values, slopes, convergence_tuple(g.convergence));
        },
        py::arg("case"), py::arg("fields"), py::arg("options"));
}
