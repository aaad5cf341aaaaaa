#include <algorithm>

#include "bind.hpp"
#include "libblade/evaluate.hpp"
#include "libblade/nip_outputs.hpp"

using namespace libblade;

namespace {

double OperatingPoint::*member_of(const std::string& name) {
    double OperatingPoint::*const found = find_output(name);
    if (found == nullptr) throw py::key_error(name);
    return found;
}

}  // namespace

void bind_evaluate(py::module_& module) {
    module.def(
        "evaluate",
        [](const Case& base, const std::vector<std::string>& fields, const std::vector<std::string>& names,
           const Doubles& values, bool with_slopes, const NipOptions& nip, int threads, py::object progress) {
            std::vector<double OperatingPoint::*> members;
            for (const std::string& name : names) members.push_back(member_of(name));
            const auto n = static_cast<py::ssize_t>(values.size() / std::max<py::ssize_t>(1, std::ssize(fields)));
            const py::ssize_t m = std::ssize(names), k = std::ssize(fields), kept = with_slopes ? n : 0;
            py::array_t<double> numbers({n, m}), slopes({kept, m, k});
            py::array_t<std::uint8_t> corners({kept, k});
            std::vector<Status> status(static_cast<std::size_t>(n));
            Watcher watcher(std::move(progress));
            const EvaluateOptions options{nip, threads,
                                          [&](std::size_t done, std::size_t total) { return watcher(done, total); }};
            const auto all = [](auto& array) {
                return std::span(array.mutable_data(), static_cast<std::size_t>(array.size()));
            };
            const EvaluateResult out{all(numbers), status, all(slopes), all(corners)};
            {
                const auto given = view(values);
                const py::gil_scoped_release release;
                evaluate(base, {fields, members}, given, out, options);
            }
            py::array_t<std::int8_t> flags(n);
            std::transform(status.begin(), status.end(), flags.mutable_data(),
                           [](Status s) { return static_cast<std::int8_t>(s); });
            return py::make_tuple(numbers, flags, slopes, corners.attr("astype")("bool"), watcher.error());
        },
        py::arg("case"), py::arg("fields"), py::arg("outputs"), py::arg("values"), py::arg("with_slopes"),
        py::arg("options"), py::arg("threads"), py::arg("progress"),
        "Numbers (n, outputs), status (n,), slopes (n, outputs, fields) and corners (n, fields), both empty unless "
        "asked for, "
        "and the error that stopped it or None.");
}
