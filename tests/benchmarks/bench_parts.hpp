// What the benchmarks share: how they were built, and the median time of a call.
#pragma once

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <thread>
#include <vector>

namespace bench_parts {

/// One JSON line at the head of every benchmark's figures. The flags are those of the library's own sources.
inline void print_build() {
    std::printf("{\"build\": \"%s %s\", \"cores\": %u}\n", BENCH_COMPILER, BENCH_FLAGS,
                std::thread::hardware_concurrency());
}

inline double seconds() {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

/// Keeps a result that nobody reads.
inline volatile double kept = 0.0;

struct Times {
    double median, best;  ///< [s]
};
/// Of one call of f, which gives a number: batches of at least 2 ms, for about `total` seconds, 5 at least.
template <class F>
Times times_of(F&& f, double total = 0.4) {
    std::size_t batch = 1;
    const auto timed = [&] {
        const double start = seconds();
        double sum = 0.0;
        for (std::size_t i = 0; i < batch; ++i) sum += f();
        const double took = seconds() - start;
        kept = sum;
        return took;
    };
    double spent = 0.0;
    for (double took = timed(); took < 2e-3; took = timed()) batch *= 2, spent += took;
    std::vector<double> each;
    while (each.size() < 5 || spent < total) {
        const double took = timed();
        spent += took;
        each.push_back(took / static_cast<double>(batch));
    }
    std::sort(each.begin(), each.end());
    return {each[each.size() / 2], each.front()};
}

}  // namespace bench_parts
