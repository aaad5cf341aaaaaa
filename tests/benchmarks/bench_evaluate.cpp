// A million operating points through `evaluate`, as a sampler asks for them: solves per second against threads. Reported,
// never judged. Newtonian ink, random angle, load, speed and viscosity; memory is that of the numbers asked for.
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <thread>
#include <vector>

#include "bench_cases.hpp"
#include "bench_parts.hpp"
#include "libblade/evaluate.hpp"
#include "libblade/random.hpp"

using namespace libblade;

namespace {

constexpr double deg = 0.017453292519943295;

/// Seconds for these points; prints a JSON line.
double measure(std::size_t points, int threads) {
    const std::vector<std::string> fields{"setting.set_angle", "setting.line_load", "setting.surface_speed",
                                          "ink.viscosity"};
    const std::vector<double OperatingPoint::*> outputs{&OperatingPoint::film_on_lands};
    std::vector<double> values, numbers(points);
    std::vector<Status> status(points);
    Random random(1);
    for (std::size_t i = 0; i < points; ++i) {
        values.push_back(random.uniform(26.0, 40.0) * deg);
        values.push_back(random.uniform(50.0, 200.0));
        values.push_back(random.uniform(1.0, 8.0));
        values.push_back(random.log_uniform(0.01, 0.3));
    }
    EvaluateOptions options;
    options.threads = threads;
    const auto start = std::chrono::steady_clock::now();
    const std::size_t done =
        evaluate(bench_cases::base(), {fields, outputs}, values, {numbers, status, {}, {}}, options);
    const double seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    const auto solved = std::count(status.begin(), status.end(), Status::converged);
    double sum = 0.0;
    for (const double film : numbers) sum += film == film ? film : 0.0;
    std::printf(
        "{\"points\": %zu, \"threads\": %d, \"seconds\": %.2f, \"per_second\": %.0f, \"solved\": %td, \"check\": "
        "%.9g}\n",
        done, threads, seconds, static_cast<double>(done) / seconds, solved, sum);
    std::fflush(stdout);
    return seconds / static_cast<double>(points);
}

}  // namespace

int main(int count, char** words) {
    bench_parts::print_build();
    const std::size_t points = count > 1 ? std::strtoul(words[1], nullptr, 10) : 1000000;
    const int cores = static_cast<int>(std::max(1U, std::thread::hardware_concurrency()));
    const double one = measure(points / 5, 1);
    for (int threads = 2; threads <= cores; threads *= 2)
        std::printf("{\"threads\": %d, \"times_one\": %.2f}\n", threads, one / measure(points, threads));
}
