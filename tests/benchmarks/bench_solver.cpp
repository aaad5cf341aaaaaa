// The hot loop: time of one solve by a Solver, from scratch at random settings and warm along a walk of small changes, as a
// larger model asks; one JSON line each. Reported, never judged. With a kind and a number it makes that many solves and says
// nothing else: instructions.py counts them.
#include <algorithm>
#include <array>
#include <cstdio>
#include <cstdlib>
#include <string>

#include "bench_cases.hpp"
#include "bench_parts.hpp"
#include "libblade/random.hpp"
#include "libblade/solver.hpp"

using namespace libblade;

namespace {

constexpr double deg = 0.017453292519943295;
const std::vector<std::string> kFields{"setting.set_angle", "setting.line_load", "setting.surface_speed",
                                       "ink.temperature"};
constexpr std::array<double, 4> kLow{26.0 * deg, 50.0, 1.0, 290.0}, kHigh{40.0 * deg, 200.0, 8.0, 310.0};

struct Kind {
    const char* name;
    Case base;
    bool all;   ///< what the tip carries and how the blade is strained, too; else film and friction
    bool warm;  ///< each input moves by up to a hundredth of its range from one solve to the next
};

class Loop {
  public:
    explicit Loop(const Kind& kind) : warm_(kind.warm), solver_(made(kind)), workspace_(solver_.workspace()) {
        out_.resize(solver_.outputs());
        for (std::size_t k = 0; k < in_.size(); ++k) in_[k] = 0.5 * (kLow[k] + kHigh[k]);
        (void)next();
    }
    /// The film of one more solve.
    double next() {
        for (std::size_t k = 0; k < in_.size(); ++k) {
            const double size = kHigh[k] - kLow[k];
            in_[k] = warm_ ? std::clamp(in_[k] + random_.uniform(-0.01, 0.01) * size, kLow[k], kHigh[k])
                           : random_.uniform(kLow[k], kHigh[k]);
        }
        solved += solver_.solve(in_, out_, workspace_, warm_ ? &near_ : nullptr) == Status::converged;
        return out_[0];
    }
    long solved = 0;

  private:
    static Solver made(const Kind& kind) {
        using P = OperatingPoint;
        static constexpr std::array<double P::*, 7> outputs{
            &P::film_on_lands,      &P::tangential_load,   &P::effective_angle, &P::contact_width,
            &P::max_bending_stress, &P::excess_after_step, &P::film_after_step};
        return Solver(kind.base, kFields, std::span(outputs).first(kind.all ? 5 : 2));
    }
    bool warm_;
    Solver solver_;
    Workspace workspace_;
    WarmStart near_;
    Random random_{1};
    std::array<double, 4> in_{};
    std::vector<double> out_;
};

}  // namespace

int main(int count, char** words) {
    const Kind kinds[] = {{"Newtonian", bench_cases::base(), false, false},
                          {"Newtonian, warm", bench_cases::base(), false, true},
                          {"everything on", bench_cases::everything(), true, false},
                          {"everything on, warm", bench_cases::everything(), true, true}};
    if (count > 2) {
        for (const Kind& kind : kinds) {
            if (kind.name != std::string(words[1])) continue;
            Loop loop(kind);
            for (long n = std::strtol(words[2], nullptr, 10); n > 0; --n) bench_parts::kept = loop.next();
            return 0;
        }
        std::fprintf(stderr, "no kind \"%s\"\n", words[1]);
        return 2;
    }
    bench_parts::print_build();
    for (const Kind& kind : kinds) {
        Loop loop(kind);
        const auto [median, best] = bench_parts::times_of([&] { return loop.next(); }, 2.0);
        std::printf("{\"hot loop\": \"%s\", \"median_us\": %.2f, \"best_us\": %.2f, \"solved\": %ld}\n", kind.name,
                    1e6 * median, 1e6 * best, loop.solved);
        std::fflush(stdout);
    }
}
