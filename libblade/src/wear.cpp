#include "libblade/wear.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <utility>

#include "libblade/error.hpp"
#include "libblade/parameters.hpp"
#include "libblade/root.hpp"
#include "wear_run.hpp"
#include "wear_stepper.hpp"

namespace libblade {

namespace {

using namespace detail;

constexpr double kJumpStep = 0.02;                // [m] a step this short that still fails stands on a fold
constexpr double kForget = 0.9, kToAndFro = 5.0;  // rejected steps among the last ten or so: the rates jump to and fro
constexpr double kLoose = 1e-4;                   // tolerance there
constexpr double kEulerStep = 0.1;                // [m] carried over it
constexpr double kShortestStep = 1e-6;            // [m]
constexpr int kHalvings = 14;                     // of a step in search of a jump
constexpr double kJumped = 0.1;                   // relative change of the film that makes a jump

constexpr std::array kWatched{WearEventKind::fully_worn, WearEventKind::facet_limit, WearEventKind::length_limit,
                              WearEventKind::excess_limit, WearEventKind::thin_tip_used_up};

void check_wear(const Case& c, const Schedule& schedule, const WearOptions& options) {
    std::vector<Problem> problems = check(c);
    const auto positive = [&](const char* name, double value) {
        if (!(value > 0.0) || !std::isfinite(value))
            problems.push_back({name, std::to_string(value), "must be a positive number"});
    };
    positive("first_facet", options.first_facet);
    if (options.facet_limit) positive("facet_limit", *options.facet_limit);
    if (options.length_limit) positive("length_limit", *options.length_limit);
    if (options.excess_limit) positive("excess_limit", *options.excess_limit);
    if (!(options.tolerance >= 1e-8 && options.tolerance <= 0.1))
        problems.push_back({"tolerance", std::to_string(options.tolerance), "must be between 1e-8 and 0.1"});
    if (std::holds_alternative<SquareEdge>(c.tip)) positive("blade.specific_wear", c.blade.specific_wear);
    if (options.max_steps < 1)
        problems.push_back({"max_steps", std::to_string(options.max_steps), "must be at least 1"});
    if (!(options.longest_step >= 0.0))
        problems.push_back({"longest_step", std::to_string(options.longest_step), "must not be negative"});
    if (!c.blade.sections.empty() && c.blade.sections.back().end_thickness)
        problems.push_back({"blade.sections", "taper", "wear needs a tip of constant thickness"});
    if (!problems.empty()) throw InvalidInput(std::move(problems));
    check_schedule(c, schedule);
}

/// The integrator's way through a schedule.
class Integration {
  public:
    Integration(const Case& c, const Schedule& schedule, const WearOptions& options, const WearState* from)
        : options_(options), run_(c, schedule, options, from), resumed_(from != nullptr) {}

    WearHistory go() {
        out_.convergence.tolerance = 1.0;  // errors are in units of options.tolerance
        out_.convergence.residual = 0.0;
        while (!run_.over()) {
            if (!begin_step() || !through_step()) return finished();
            run_.end_step();
        }
        (void)stop(Status::converged);
        return finished();
    }

  private:
    WearHistory finished() {
        out_.nip_solves = run_.solves();
        out_.state = run_.state();
        if (options_.tier == WearTier::profile && !out_.distance.empty()) {
            const HeldTip tip = run_.tip().held(run_.state().tip);
            out_.profile_height = tip.profile;
            for (std::size_t i = 0; i < tip.profile.size(); ++i)
                out_.profile_place.push_back(tip.facet_length * static_cast<double>(i) /
                                             static_cast<double>(tip.profile.size() - 1));
        }
        return std::move(out_);
    }
    bool stop(Status status, std::string message = "") {
        out_.convergence.status = status, out_.convergence.message = std::move(message);
        return false;
    }
    bool stop_nip() {
        const Convergence& why = run_.why();
        return stop(why.status, why.message.empty() ? std::string(describe(why.status)) : why.message);
    }
    void note(WearEventKind kind) {
        const WearState& s = run_.state();
        out_.events.push_back({kind, s.distance, s.time, static_cast<int>(s.step)});
    }

    /// The first entry of a step; a resumed one has it already. False: the history ends here.
    bool begin_step() {
        const bool on_its_way = resumed_ && run_.state().begun;
        resumed_ = false;
        if (!run_.begin_step()) return stop_nip();
        WearState& s = run_.state();
        if (s.in_step > 0.0 && s.in_step >= run_.length() && out_.distance.empty() && !on_its_way)
            return stop(Status::out_of_range, "the distance is shorter than the way to the first facet");
        if (!run_.look(s.tip, s.in_step, now_)) return stop_nip();
        if (on_its_way) return true;
        run_.move_to(s.tip, s.in_step, now_);
        run_.record(out_, now_);
        for (const WearEventKind kind : kWatched) {
            if (!(run_.progress(kind, s.tip, s.in_step) >= 0.0)) continue;
            if (kind == WearEventKind::fully_worn) run_.wear_through();
            note(kind);
            if (ends_history(kind)) return stop(Status::converged);
        }
        return true;
    }

    /// False: the history ends in this step.
    bool through_step() {
        const double length = run_.length();
        const auto stepper = options_.tier == WearTier::facet ? stiff_stepper(run_.moving()) : explicit_stepper();
        const WearRates rates = [&](const Vector& y, double s, Vector& out) { return run_.rates(y, s, out); };
        const double longest = options_.longest_step > 0.0 ? options_.longest_step : length;
        WearState& at = run_.state();
        while (at.in_step < length) {
            if (tried_++ == options_.max_steps)
                return stop(Status::max_iterations, "the wear history ran out of steps");
            const double wanted = std::min(at.next_step, longest), left = length - at.in_step;
            const bool last = wanted >= left;
            const double ds = last ? left : wanted;
            Look next;
            const bool sound =
                stepper->take(rates, at.tip, at.in_step, ds) && run_.look(stepper->end(), at.in_step + ds, next);
            const double tolerance = at.to_and_fro ? std::max(options_.tolerance, kLoose) : options_.tolerance;
            const double error = sound ? stepper->error(tolerance) : 1e9;
            at.trouble = kForget * at.trouble + (error <= 1.0 ? 0.0 : 1.0);
            if (at.trouble > kToAndFro) at.to_and_fro = true;
            if (!(error <= 1.0)) {
                ++out_.steps_rejected;
                at.next_step = ds * (sound ? std::min(stepper->growth(error), 0.9) : 0.25);
                if (at.next_step >= kJumpStep) continue;
                if (!over_fold(rates, std::min(kEulerStep, left))) {
                    if (at.next_step >= kShortestStep) continue;
                    return sound ? stop(Status::step_too_small, "the wear history could not advance") : stop_nip();
                }
                if (!watched()) return false;
                continue;
            }
            out_.convergence.residual = std::max(out_.convergence.residual, error);
            ++out_.convergence.iterations;
            const double following = std::min(longest, ds * stepper->growth(error));
            if (!accept(*stepper, ds, last, next, following)) return false;
        }
        return true;
    }

    /// Where the rates jump within any step's stages an explicit one goes across.
    bool over_fold(const WearRates& rates, double ds) {
        WearState& at = run_.state();
        Vector y = at.tip, rate(y.size());
        if (!rates(y, at.in_step, rate)) return false;
        for (std::size_t i = 0; i < y.size(); ++i) y[i] += ds * rate[i];
        Look next;
        if (!run_.look(y, at.in_step + ds, next)) return false;
        const bool jumped = std::abs(next.film - now_.film) > kJumped * std::min(next.film, now_.film);
        run_.move_to(y, at.in_step + ds, next);
        now_ = next;
        at.next_step = 10.0 * kEulerStep;
        if (jumped) note(WearEventKind::branch_jump);
        at.to_and_fro = at.to_and_fro && !jumped;
        run_.record(out_, now_);
        return true;
    }

    bool accept(const WearStepper& stepper, double ds, bool last, const Look& next, double following) {
        WearState& at = run_.state();
        // The first event inside the step, on its dense output.
        std::optional<WearEventKind> event;
        double event_share = 1.0;
        for (const WearEventKind kind : kWatched) {
            const auto progress = [&](double share) {
                return run_.progress(kind, stepper.within(share), at.in_step + share * ds);
            };
            const double before = progress(0.0), after = progress(1.0);
            if (!(before < 0.0 && after >= 0.0)) continue;
            const Root root = bracketed_root(progress, {0.0, before, 1.0, after}, 1e-12, 1e-10);
            // A jump of the ink has no zero: it happened where the bracket closed.
            if (root.status != Status::converged && root.status != Status::stagnated)
                return stop(root.status, "an event of the wear history was not found");
            if (!event || root.x < event_share) event = kind, event_share = root.x;
        }
        if (const auto jump = jump_within(stepper, ds, next, event_share))
            event = WearEventKind::branch_jump, event_share = *jump;
        const Vector y = event ? stepper.within(event_share) : stepper.end();
        const double in_step = last && !event ? run_.length() : at.in_step + event_share * ds;
        Look here = next;
        if (event && !run_.look(y, in_step, here)) return stop_nip();
        run_.move_to(y, in_step, here);
        now_ = here;
        at.next_step = event ? std::min(following, ds) : following;
        if (event) note(*event);
        if (event == WearEventKind::fully_worn) run_.wear_through();
        if (event == WearEventKind::branch_jump) at.to_and_fro = false;
        run_.record(out_, now_);
        if (event && ends_history(*event)) return stop(Status::converged);
        return watched();
    }

    /// Where the film jumps in a step, as a share of it before `until`: halved until the jump is all there is.
    std::optional<double> jump_within(const WearStepper& stepper, double ds, const Look& next, double until) {
        const auto apart = [](double a, double b) { return std::abs(a - b) > kJumped * std::min(a, b); };
        double left = 0.0, right = until, film_left = now_.film, film_right = next.film;
        for (int half = 0; half < kHalvings && apart(film_left, film_right); ++half) {
            const double middle = 0.5 * (left + right);
            Look there;
            if (!run_.look(stepper.within(middle), run_.state().in_step + middle * ds, there)) return {};
            const bool in_left = std::abs(there.film - film_left) > std::abs(there.film - film_right);
            (in_left ? right : left) = middle, (in_left ? film_right : film_left) = there.film;
        }
        if (apart(film_left, film_right)) return right;
        return {};
    }

    bool watched() {
        if (!options_.watch) return true;
        out_.state = run_.state();
        return options_.watch(out_) || stop(Status::converged, "ended by its watcher");
    }

    const WearOptions options_;
    WearRun run_;
    bool resumed_;
    WearHistory out_;
    Look now_;
    int tried_ = 0;
};

}  // namespace

std::string_view to_string(WearEventKind kind) noexcept {
    switch (kind) {
        case WearEventKind::fully_worn:
            return "fully_worn";
        case WearEventKind::branch_jump:
            return "branch_jump";
        case WearEventKind::facet_limit:
            return "facet_limit";
        case WearEventKind::length_limit:
            return "length_limit";
        case WearEventKind::excess_limit:
            return "excess_limit";
        case WearEventKind::thin_tip_used_up:
            return "thin_tip_used_up";
    }
    return "none";
}

bool ends_history(WearEventKind kind) noexcept {
    return kind != WearEventKind::fully_worn && kind != WearEventKind::branch_jump;
}

WearHistory wear(const Case& nip_case, const Schedule& schedule, const WearOptions& options, const WearState* from) {
    check_wear(nip_case, schedule, options);
    return Integration(nip_case, schedule, options, from).go();
}

WearHistory wear(const Case& nip_case, double distance, const WearOptions& options) {
    if (!(distance > 0.0)) throw InvalidInput({{"distance", std::to_string(distance), "must be a positive number"}});
    ScheduleStep step;
    step.distance = distance;
    return wear(nip_case, Schedule{step}, options);
}

}  // namespace libblade
