// Median time of a dry solve at given load, over random loads and frictions; one JSON line per blade. Reported, never judged.
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <random>
#include <vector>

#include "bench_parts.hpp"
#include "libblade/bending.hpp"

using namespace libblade;

namespace {

Strip uniform() {
    const double t = 0.2e-3, E = 205e9 / (1.0 - 0.29 * 0.29);
    Strip s{E * t * t * t / 12.0, 12e-3, std::numbers::pi / 6.0, 0.5 * t, 0.0, 0.07};
    s.thickness = t;
    return s;
}
Strip stepped() {
    Strip s = uniform();
    const double E = 205e9 / (1.0 - 0.29 * 0.29);
    s.section_count = 2;
    s.sections[0] = {10e-3, 0.2e-3, 0.2e-3, E, 0.5 * (80e-6 - 0.2e-3)};
    s.sections[1] = {2e-3, 80e-6, 80e-6, E, 0.0};
    s.offset = 40e-6;
    return s;
}
Strip backed() {
    Strip s = stepped();
    s.plate = {8e-3, 3e-5, 0.0};
    return s;
}

void measure(const char* name, const Strip& strip, double low, double high) {
    std::mt19937_64 dice(1);
    const auto even = [&](double a, double b) { return a + (b - a) * static_cast<double>(dice() >> 11) * 0x1p-53; };
    constexpr int kBatches = 400, kBatch = 25;
    std::vector<double> times;
    int solved = 0;
    double sum = 0.0;
    for (int i = 0; i < kBatches; ++i) {
        std::vector<ContactForce> forces(kBatch);
        for (ContactForce& f : forces) f.normal = even(low, high), f.tangential = even(-0.3, 0.3) * f.normal;
        const auto start = std::chrono::steady_clock::now();
        for (const ContactForce& f : forces) {
            const Bent bent = solve_contact(strip, f);
            solved += bent.convergence.ok();
            sum += bent.interference;
        }
        times.push_back(std::chrono::duration<double, std::micro>(std::chrono::steady_clock::now() - start).count() /
                        kBatch);
    }
    std::sort(times.begin(), times.end());
    std::printf(
        "{\"blade\": \"%s\", \"median_us\": %.2f, \"best_us\": %.2f, \"solves\": %d, \"solved\": %d, \"check\": "
        "%.6g}\n",
        name, times[kBatches / 2], times[0], kBatches * kBatch, solved, sum);
}

}  // namespace

int main() {
    bench_parts::print_build();
    measure("uniform", uniform(), 40.0, 250.0);
    measure("stepped", stepped(), 40.0, 200.0);
    measure("stepped, backed", backed(), 40.0, 200.0);
    measure("uniform, flat", uniform(), 1300.0, 3000.0);
    return 0;
}
