#include "libblade/evaluate.hpp"

#include <algorithm>
#include <limits>
#include <optional>
#include <vector>

#include "libblade/error.hpp"
#include "libblade/nip_gradient.hpp"
#include "libblade/parameters.hpp"
#include "libblade/solver.hpp"
#include "nip_prepare.hpp"
#include "sweep_threads.hpp"

namespace libblade {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

void refuse_bad_fields(const Case& base, std::span<const std::string> fields) {
    Case trial = base;
    std::vector<Problem> problems = detail::problems_of_fields(fields, trial);
    if (fields.empty()) problems.push_back({"fields", "none", "at least one field must be given"});
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

void require_size(const char* name, std::size_t size, std::size_t wanted) {
    if (size != wanted)
        throw InvalidInput({{name, std::to_string(size), "must hold " + std::to_string(wanted) + " numbers"}});
}

}  // namespace

std::size_t evaluate(const Case& base, const EvaluateColumns& columns, std::span<const double> values,
                     const EvaluateResult& out, const EvaluateOptions& options) {
    refuse_bad_fields(base, columns.fields);
    const std::size_t fields = columns.fields.size(), outputs = columns.outputs.size(), points = values.size() / fields;
    require_size("values", values.size(), points * fields);
    require_size("numbers", out.numbers.size(), points * outputs);
    require_size("status", out.status.size(), points);
    const bool slopes = !out.slopes.empty();
    if (slopes) require_size("slopes", out.slopes.size(), points * outputs * fields);
    if (slopes) require_size("kinked", out.kinked.size(), points * fields);
    std::fill(out.numbers.begin(), out.numbers.end(), kNan);
    std::fill(out.slopes.begin(), out.slopes.end(), kNan);
    std::fill(out.kinked.begin(), out.kinked.end(), std::uint8_t{0});
    std::fill(out.status.begin(), out.status.end(), Status::not_run);

    FlowTables own;
    NipOptions nip = needed_by(columns.outputs, options.nip);
    if (nip.tables == nullptr) nip.tables = &own;
    nip.near = nullptr;  // rows do not depend on one another
    std::optional<Solver> solver;
    if (Solver::takes(base, columns.fields)) solver.emplace(base, columns.fields, columns.outputs, nip);
    std::vector<std::optional<Workspace>> workspaces(detail::workers(points, options.threads));
    return detail::run_in_threads(points, options.threads, options.progress, [&](std::size_t i, std::size_t worker) {
        try {
            const auto numbers = out.numbers.subspan(i * outputs, outputs);
            if (solver) {
                if (!workspaces[worker]) workspaces[worker] = solver->workspace();
                out.status[i] = solver->solve(values.subspan(i * fields, fields), numbers, *workspaces[worker]);
                if (out.status[i] != Status::converged || !slopes) return;
            }
            Case c = base;
            for (std::size_t k = 0; k < fields; ++k) set_number(c, columns.fields[k], values[i * fields + k]);
            if (!solver) {
                const OperatingPoint point = solve(c, nip);
                out.status[i] = point.convergence.status;
                if (!point.convergence.ok()) return;
                for (std::size_t k = 0; k < outputs; ++k) numbers[k] = point.*columns.outputs[k];
            }
            if (!slopes) return;
            const NipGradient g = gradient(c, columns.fields, nip);
            out.status[i] = g.convergence.status;
            if (!g.convergence.ok()) return;
            for (std::size_t f = 0; f < fields; ++f) {
                out.kinked[i * fields + f] = std::any_of(columns.outputs.begin(), columns.outputs.end(),
                                                         [&](double OperatingPoint::*o) { return g.has_corner(f, o); });
                for (std::size_t k = 0; k < outputs; ++k)
                    out.slopes[(i * outputs + k) * fields + f] = g.by[f].*columns.outputs[k];
            }
        } catch (const InvalidInput&) {  // each value was good on its own, or this row leaves its range
            out.status[i] = Status::out_of_range;
        }
    });
}

}  // namespace libblade
