// A blade's life through two jobs and a stop: what is left of it, how much ink passes, and what happens on the way. The
// schedule is invented.
//
//     blade_life [case file]
#include <cstdio>
#include <string>

#include <libblade/case_file.hpp>
#include <libblade/error.hpp>
#include <libblade/wear.hpp>

namespace {

libblade::Schedule two_jobs() {
    libblade::ScheduleStep first, stop, second;
    first.distance = 40e3;
    stop.stopped = true, stop.duration = 1800.0;
    second.set = {{"setting.surface_speed", 4.0}};
    second.ramp = {{"setting.line_load", 70.0}};  // the crew presses harder and harder
    second.distance = 60e3;
    return {first, stop, second};
}

int run(const libblade::Case& nip) {
    const libblade::WearHistory life = libblade::wear(nip, two_jobs());
    std::printf("%8s %12s %12s %14s %12s\n", "km", "facet um", "lost um", "on lands um", "excess um");
    const std::size_t n = life.distance.size(), every = n / 15 + 1;
    for (std::size_t i = 0; i < n; i += every)
        std::printf("%8.2f %12.1f %12.1f %14.3f %12.3f\n", life.distance[i] / 1e3, life.facet_length[i] * 1e6,
                    life.length_lost[i] * 1e6, life.film_on_lands[i] * 1e6, life.excess_ink[i] * 1e6);
    for (const libblade::WearHistoryEvent& event : life.events)
        std::printf("%8.2f km: %s\n", event.distance / 1e3, std::string(to_string(event.kind)).c_str());
    if (!life.convergence.ok()) {
        std::printf("ended early: %s\n", life.convergence.message.c_str());
        return 1;
    }
    std::printf("%.1f hours in the press\n", life.time.back() / 3600.0);
    return 0;
}

}  // namespace

int main(int argc, char** argv) {
    try {
        if (argc > 1) return run(libblade::load_case(argv[1]));
        libblade::Case nip;
        nip.tip = libblade::Facet{150e-6, libblade::BeddedHere{}, 1e-6};
        nip.setting.load = libblade::LineLoad{60.0};
        return run(nip);
    } catch (const libblade::InvalidInput& bad) {
        std::fprintf(stderr, "%s\n", bad.what());
        return 2;
    }
}
