#include "libblade/sweep.hpp"

#include <algorithm>

#include "libblade/parameters.hpp"
#include "sweep_threads.hpp"

namespace libblade {

namespace {

/// The case of one grid point: row-major, last axis fastest.
Case at_point(const Case& base, std::span<const Axis> axes, std::size_t index) {
    Case c = base;
    for (std::size_t k = axes.size(); k-- > 0;) {
        const std::size_t n = axes[k].values.size();
        set_number(c, axes[k].path, axes[k].values[index % n]);
        index /= n;
    }
    return c;
}

OperatingPoint solve_or_mark(const Case& base, std::span<const Axis> axes, std::size_t index,
                             const NipOptions& options) {
    try {
        return solve(at_point(base, axes, index), options);
    } catch (const InvalidInput& bad) {
        // Each value was good on its own: this combination contradicts itself. The sweep goes on.
        OperatingPoint point;
        point.convergence.status = Status::out_of_range;
        point.convergence.message = bad.what();
        return point;
    }
}

void refuse_bad_axes(const Case& base, std::span<const Axis> axes) {
    std::vector<Problem> problems;
    if (axes.empty()) problems.push_back({"axes", "none", "at least one field must be swept"});
    for (const Axis& axis : axes) {
        if (axis.values.empty()) problems.push_back({axis.path, "empty", "at least one value is needed"});
        if (std::count_if(axes.begin(), axes.end(), [&](const Axis& a) { return a.path == axis.path; }) > 1)
            problems.push_back({axis.path, "twice", "a field can be swept once"});
        for (const double value : axis.values) {
            try {
                Case trial = base;
                set_number(trial, axis.path, value);
            } catch (const InvalidInput& bad) {
                problems.insert(problems.end(), bad.problems().begin(), bad.problems().end());
                break;  // one complaint an axis
            }
        }
    }
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

}  // namespace

SweepResult sweep(const Case& base, std::span<const Axis> axes, const SweepOptions& options) {
    refuse_bad_axes(base, axes);
    std::size_t total = 1;
    for (const Axis& axis : axes) total *= axis.values.size();
    const std::size_t first = options.first;
    if (first >= total) throw InvalidInput({{"first", std::to_string(first), "lies behind the end of the grid"}});
    total = std::min(options.count, total - first);
    SweepResult result;
    result.points.resize(total);
    FlowTables own;
    NipOptions nip = options.nip;
    if (nip.tables == nullptr) nip.tables = &own;

    result.done = detail::run_in_threads(total, options.threads, options.progress, [&](std::size_t i, std::size_t) {
        result.points[i] = solve_or_mark(base, axes, first + i, nip);
    });
    result.complete = result.done == total;
    return result;
}

}  // namespace libblade
