// Median time of one operating point, without step response, other branch and run-out, over random angles and loads; one JSON
// line per case. Reported, never judged. One thread; the tables are kept by the caller, as a sweep keeps them.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <numbers>
#include <random>
#include <vector>

#include "bench_cases.hpp"
#include "bench_parts.hpp"
#include "libblade/nip.hpp"

using namespace libblade;
using bench_cases::base;
using bench_cases::engraved;
using bench_cases::everything;

namespace {

void measure(const char* name, Case c, bool step_response) {
    constexpr double deg = std::numbers::pi / 180.0;
    std::mt19937_64 dice(1);
    const auto even = [&](double a, double b) { return a + (b - a) * static_cast<double>(dice() >> 11) * 0x1p-53; };
    FlowTables tables;
    NipOptions options;
    options.step_response = step_response;
    options.other_branch = options.run_out = false;
    options.tables = &tables;
    constexpr int kBatches = 200, kBatch = 10;
    std::vector<double> times;
    int solved = 0;
    double sum = 0.0;
    (void)solve(c, options);  // makes the tables
    for (int i = 0; i < kBatches; ++i) {
        std::vector<Case> cases(kBatch, c);
        for (Case& k : cases) {
            k.setting.set_angle = even(26.0, 40.0) * deg;
            k.setting.load = LineLoad{even(50.0, 200.0)};
        }
        const auto start = std::chrono::steady_clock::now();
        for (const Case& k : cases) {
            const OperatingPoint p = solve(k, options);
            solved += p.convergence.ok();
            sum += p.film_on_lands;
        }
        times.push_back(std::chrono::duration<double, std::micro>(std::chrono::steady_clock::now() - start).count() /
                        kBatch);
    }
    std::sort(times.begin(), times.end());
    std::printf(
        "{\"case\": \"%s\", \"median_us\": %.2f, \"best_us\": %.2f, \"solves\": %d, \"solved\": %d, \"check\": %.6g}\n",
        name, times[kBatches / 2], times[0], kBatches * kBatch, solved, sum);
}

}  // namespace

int main() {
    bench_parts::print_build();
    measure("Newtonian, constant flow factor", base(), false);
    measure("Newtonian, engraved roll", engraved(), false);
    measure("everything on", everything(), false);
    measure("Newtonian, constant flow factor, with step response", base(), true);
}
