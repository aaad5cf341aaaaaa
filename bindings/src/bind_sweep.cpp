#include "bind.hpp"
#include "libblade/nip_outputs.hpp"
#include "libblade/sweep.hpp"

using namespace libblade;

namespace {

/// Columns over the points; numbers of a point that did not converge are NaN.
py::dict columns(const SweepResult& result) {
    const auto n = static_cast<py::ssize_t>(result.points.size());
    py::dict out;
    for (const Output& o : outputs::table) {
        py::array_t<double> column(n);
        double* to = column.mutable_data();
        for (const OperatingPoint& p : result.points)
            *to++ = p.convergence.ok() ? p.*o.member : std::numeric_limits<double>::quiet_NaN();
        out[py::str(o.name)] = column;
    }
    const auto flags = [&](const char* name, const auto& read) {
        py::array_t<std::int8_t> column(n);
        std::int8_t* to = column.mutable_data();
        for (const OperatingPoint& p : result.points) *to++ = static_cast<std::int8_t>(read(p));
        out[name] = column;
    };
    flags("regime", [](const OperatingPoint& p) { return static_cast<int>(p.regime); });
    flags("branch", [](const OperatingPoint& p) { return static_cast<int>(p.branch); });
    flags("status", [](const OperatingPoint& p) { return static_cast<int>(p.convergence.status); });
    flags("bedded_stable", [](const OperatingPoint& p) { return p.bedded_stable ? 1 : 0; });
    flags("other_branch_exists", [](const OperatingPoint& p) { return p.other_branch_exists ? 1 : 0; });
    py::list reasons, validity;
    for (const OperatingPoint& p : result.points) {
        reasons.append(p.convergence.message);
        py::list names;
        for (const ValidityFlag& f : p.validity) names.append(f.name);
        validity.append(names);
    }
    out["reason"] = reasons;
    out["validity"] = validity;
    return out;
}

}  // namespace

void bind_sweep(py::module_& module) {
    module.def(
        "sweep",
        [](const Case& base, const std::vector<std::pair<std::string, Doubles>>& fields, const NipOptions& nip,
           int threads, py::object progress, std::size_t first, std::size_t count) {
            std::vector<Axis> axes;
            for (const auto& [path, values] : fields)
                axes.push_back({path, {view(values).begin(), view(values).end()}});
            Watcher watcher(std::move(progress));
            SweepOptions options{
                nip, threads, [&](std::size_t done, std::size_t total) { return watcher(done, total); }, first, count};
            SweepResult result = [&] {
                const py::gil_scoped_release release;
                return sweep(base, axes, options);
            }();
            result.points.resize(result.done);
            return py::make_tuple(columns(result), watcher.error());
        },
        py::arg("case"), py::arg("axes"), py::arg("options"), py::arg("threads"), py::arg("progress"), py::arg("first"),
        py::arg("count"), "Columns over the points solved, and the error that stopped the sweep or None.");
}
