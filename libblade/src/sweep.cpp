#include "libblade/sweep.hpp"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <mutex>
#include <thread>

#include "libblade/parameters.hpp"

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

    std::atomic<std::size_t> next{0}, done{0};
    std::atomic<bool> stop{false};
    std::exception_ptr failure;
    std::mutex mutex;
    std::condition_variable changed;
    unsigned running = 0;
    const auto work = [&] {
        try {
            for (std::size_t i; !stop && (i = next++) < total; ++done)
                result.points[i] = solve_or_mark(base, axes, first + i, nip);
        } catch (...) {
            const std::lock_guard lock(mutex);
            failure = std::current_exception();
            stop = true;
        }
        const std::lock_guard lock(mutex);
        --running;
        changed.notify_all();
    };
    const unsigned cores = std::max(1U, std::thread::hardware_concurrency());
    const auto wanted = options.threads > 0 ? static_cast<unsigned>(options.threads) : cores;
    running = static_cast<unsigned>(std::min<std::size_t>(wanted, total));
    std::vector<std::thread> threads;
    for (unsigned k = running; k > 0; --k) threads.emplace_back(work);

    // The caller's callback runs here only, never in a worker. A point takes milliseconds: Ctrl-C is answered in 0.1 s.
    {
        std::unique_lock lock(mutex);
        while (running > 0) {
            changed.wait_for(lock, std::chrono::milliseconds(50));
            if (!options.progress || running == 0) continue;
            lock.unlock();
            try {
                if (!options.progress(done, total)) stop = true;
            } catch (...) {
                stop = true;
                lock.lock();
                failure = std::current_exception();
                lock.unlock();
            }
            lock.lock();
            if (failure) break;
        }
    }
    for (std::thread& thread : threads) thread.join();
    if (failure) std::rethrow_exception(failure);
    if (options.progress) (void)options.progress(done, total);
    // Points are taken in order and a point once taken is finished, so that those done are the first ones.
    result.done = done;
    result.complete = done == total;
    return result;
}

}  // namespace libblade
