#include <optional>

#include "bind.hpp"
#include "libblade/sweep.hpp"
#include "outputs.hpp"

using namespace libblade;

namespace {

/// Ctrl-C and the caller's callback, both in the calling thread. A Python error stops the sweep and is thrown after it.
class Watcher {
  public:
    explicit Watcher(py::object progress) : progress_(std::move(progress)) {}
    bool operator()(std::size_t done, std::size_t total) {
        const py::gil_scoped_acquire acquire;
        if (error_) return false;
        try {
            if (PyErr_CheckSignals() != 0) throw py::error_already_set();
            if (!progress_.is_none()) progress_(done, total);
            return true;
        } catch (py::error_already_set& error) {
            error_ = std::move(error);
            return false;
        }
    }
    /// The error with its traceback as an object, or None.
    py::object error() {
        if (!error_) return py::none();
        py::object value = error_->value();
        if (error_->trace()) PyException_SetTraceback(value.ptr(), error_->trace().ptr());
        error_.reset();
        return value;
    }

  private:
    py::object progress_;
    std::optional<py::error_already_set> error_;
};

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
