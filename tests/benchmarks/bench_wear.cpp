// A blade's life: 300 km in 20 steps of a schedule, in both tiers; one JSON line each. Reported, never judged. One thread.
#include <chrono>
#include <cstdio>
#include <string>

#include "bench_cases.hpp"
#include "bench_parts.hpp"
#include "libblade/wear.hpp"

using namespace libblade;
using bench_cases::base;

namespace {

Case trailing() {
    Case c = base();
    c.setting.orientation = Orientation::trailing;
    return c;
}

/// Jobs of 15 km at their own speeds, loads and inks (invented).
Schedule jobs(bool load_steps) {
    Schedule out;
    for (int k = 0; k < 20; ++k) {
        ScheduleStep step;
        step.distance = 15e3;
        step.set = {{"setting.surface_speed", 3.0 + (k * 7) % 5}};
        if (load_steps && k % 4 == 2) step.set.push_back({"setting.line_load", 90.0 + 10.0 * (k % 3)});
        if (k % 5 == 3) step.ramp = {{"setting.surface_speed", 6.0}};
        out.push_back(step);
    }
    return out;
}

void measure(const std::string& name, const Case& c, const Schedule& schedule, WearTier tier) {
    FlowTables tables;
    WearOptions options;
    options.tier = tier, options.tables = &tables;
    ScheduleStep little;
    little.distance = 1.0;
    (void)wear(c, Schedule{little}, options);  // makes the tables
    const auto begin = std::chrono::steady_clock::now();
    const WearHistory w = wear(c, schedule, options);
    const double s = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    std::printf(
        "{\"case\": \"%s\", \"tier\": \"%s\", \"seconds\": %.4f, \"kilometres\": %.1f, \"steps\": %zu, \"rejected\": "
        "%d, "
        "\"nip_solves\": %d, \"status\": \"%s\", \"facet_um\": %.3f}\n",
        name.c_str(), tier == WearTier::facet ? "facet" : "profile", s,
        w.distance.empty() ? 0.0 : w.distance.back() / 1e3, w.distance.size(), w.steps_rejected, w.nip_solves,
        std::string(to_string(w.convergence.status)).c_str(),
        w.facet_length.empty() ? 0.0 : w.facet_length.back() * 1e6);
}

}  // namespace

int main() {
    bench_parts::print_build();
    for (const WearTier tier : {WearTier::facet, WearTier::profile}) {
        measure("doctoring, fixed holder", base(), jobs(true), tier);
        measure("trailing, fixed holder", trailing(), jobs(true), tier);
    }
}
