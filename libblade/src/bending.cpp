#include "libblade/bending.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <numbers>
#include <string>
#include <utility>

#include "bending_model.hpp"
#include "libblade/root.hpp"

namespace libblade {

using namespace bending_model;

namespace {

constexpr double kUpright = 0.5 * std::numbers::pi;

double force_ratio(const ContactForce& f) noexcept { return f.normal != 0.0 ? f.tangential / f.normal : 0.0; }
/// Part of the contact force that bends the blade away from the roll.
double transverse(double u, double normal, double tangential) noexcept {
    const double angle = std::max(u, 0.0);
    return normal * std::cos(angle) + tangential * std::sin(angle);
}

/// Effective angle or place of contact under a given force.
class PlaceSearch {
  public:
    PlaceSearch(const Strip& strip, const ContactForce& force, int steps, int max_iterations, bool allow_flat)
        : strip_(strip), force_(force), steps_(steps), budget_(max_iterations), allow_flat_(allow_flat) {}

    double u = kNan, slope = kNan, tolerance = kTolerance;
    bool first_mode = true;
    Status status = Status::not_run;
    std::string_view message;
    std::string told;  ///< a message that is not a literal
    int iterations = 0;
    PlateGuess plate;
    [[nodiscard]] int steps() const { return steps_; }

    bool run() {
        const double load = std::hypot(force_.normal, force_.tangential), a0 = strip_.set_angle;
        if (load == 0.0 && strip_.pressure == 0.0) return settle(a0, steps_);
        // Under pressure alone the shape of the free strip does not depend on how it stands; a plate's edge, as that
        // of the stretch outboard of it.
        if (load == 0.0) {
            const Pose free = pose(strip_, a0, force_, enough_steps(steps_, severity(strip_, strip_.length, 0.0)));
            const double turned = a0 - (has_plate(strip_) ? free.edge.theta : free.at.clamp.theta);
            if ((free.ok || has_plate(strip_)) && a0 + turned > std::numbers::pi)
                return stop(Status::out_of_range, "the pressure alone coils the blade");
            if ((free.ok && a0 + turned < -kUpright) || (has_plate(strip_) && turned < -std::numbers::pi))
                return stop(Status::out_of_range, "the pressure turns the free end of the blade beyond upright");
        }
        const double severe = severe_ = severity(strip_, strip_.length, load);
        const int given = steps_;
        constexpr double kMild = 4.0;  // [rad]
        steps_ = enough_steps(given, severe);
        if (severe < kMild) {
            // The residual falls with the angle and is convex for the loads of a blade: Newton from the set angle.
            if (newton(a0, 0.0, kUpright, 8) && slope < 0.0 && first_mode) return true;
            if (tired()) return late();
        } else if (march(given)) {
            return flat();
        }
        if (at_tip()) return true;
        if (status != Status::lying_flat || !allow_flat_) return false;
        if (march(given)) return flat();
        if (tired()) return late();
        if (strip_.pressure < 0.0)
            return stop(Status::out_of_range, "the pressure turns the free end of the blade beyond upright");
        return stop(Status::stagnated, "no place of contact was found for this load");
    }

    /// From a place known by other means, the plate's force with it.
    bool settle(double place, int steps) {
        u = place, steps_ = steps, plate = {}, first_mode = true;
        for (int i = 0; i < 8; ++i) {
            const Trial t = evaluate<1>(strip_, u, force_.normal, {force_ratio(force_), force_.centre, steps_}, &plate);
            if (!t.finite()) return stop(Status::non_finite, "the integrated strip is not finite");
            slope = t.residual_u;
            tolerance = std::max(kTolerance, 4e-16 * std::abs(slope));
            if (std::abs(t.residual) < 1e-6) return polish();
            u -= t.residual / slope;
        }
        return polish();
    }

    /// From the place that was found, until the residual itself is down to the tolerance.
    bool polish() {
        // The plate's force is known to 1e-12 of itself.
        if (plate.force > 0.0) tolerance *= 10.0;
        for (int i = 0; i < 8; ++i) {
            const double r = pose(strip_, u, force_, steps_, kernel::NoVisit{}, &plate).residual();
            if (std::abs(r) <= tolerance) return stop(Status::converged, "");
            if (!std::isfinite(r)) break;
            u -= r / slope;
        }
        return stop(Status::stagnated, "the place of contact did not settle");
    }

  private:
    static constexpr double kWound = 1e3;  ///< that the load would turn the strip by [rad]
    static constexpr const char* kFlat = "the load turns the tip flat: no positive angle carries it";

    bool stop(Status why, const char* text) {
        status = why, message = text;
        return why == Status::converged;
    }
    bool late() {
        if (severe_ > kWound) return stop(Status::out_of_range, "the load would wind the strip up");
        return stop(Status::max_iterations, "the place of contact was not found in time");
    }
    double residual(double at) { return weighed(pose(strip_, at, force_, steps_).residual(), at, steps_); }
    /// Counts what a residual took.
    double weighed(double r, double at, int steps) {
        work_ += (has_plate(strip_) && !std::isfinite(r) ? kVain : 1.0) * cost(strip_, at, steps);
        return r;
    }
    [[nodiscard]] bool tired() const { return work_ > kMostWork || iterations >= budget_; }

    /// The whole range of angles.
    bool at_tip() {
        const double a0 = strip_.set_angle, at_set = residual(a0);
        const auto bracketed = [&](double low, double high) {
            if (!newton(low, low, high, budget_)) return false;
            return first_mode ||
                   stop(Status::lying_flat, "only a buckled or coiled strip carries this load: the tip turned flat");
        };
        if (at_set > 0.0) {
            if (!(residual(kUpright) <= 0.0)) return stop(Status::out_of_range, "the strip is turned beyond upright");
            return bracketed(a0, kUpright);
        }
        if (residual(0.0) > 0.0) return bracketed(0.0, a0);
        constexpr int kLook = 16;
        for (int i = kLook - 1; i > 0; --i)
            if (residual(a0 * i / kLook) > 0.0) return bracketed(a0 * i / kLook, a0 * (i + 1) / kLook);
        return stop(Status::lying_flat, kFlat);
    }

    /// Newton inside a bracket whose residual is positive at the low end. Slopes come from few steps; the residual,
    /// once close, from all.
    bool newton(double x, double low, double high, int most) {
        const bool has_low = x == low;
        Drive drive{force_ratio(force_), force_.centre, std::max(4, severe_ < 1.5 ? steps_ / 3 : steps_)};
        int close = 0;  // strides taken with the slope as it is
        bool below = has_low;
        double change = 1.0;
        for (int i = 0; i <= most; ++i, ++iterations) {
            double r;
            work_ += cost(strip_, x, steps_);
            if (close == 0) {
                const Trial t = evaluate<1>(strip_, x, force_.normal, drive, &plate);
                if (!t.finite()) return stop(Status::non_finite, "the integrated strip is not finite");
                r = t.residual, slope = t.residual_u, first_mode = t.first_mode;
                // A place deep inboard is known to rounding of the whole length only.
                tolerance = std::max(kTolerance, 4e-16 * std::abs(slope));
            } else {
                r = pose(strip_, x, force_, steps_, kernel::NoVisit{}, &plate).residual();
                if (!std::isfinite(r)) return stop(Status::non_finite, "the integrated strip is not finite");
            }
            // Few steps do not tell the sign of a small residual.
            const bool sure = close > 0 || std::abs(r) > 5e-3;
            if (sure) (r > 0.0 ? low : high) = x, below = below || r > 0.0;
            const double last = change, next = x - r / slope;
            change = std::abs(next - x);
            // The few steps tell the slope to 1e-3 and better: what is left after a stride this short is rounding.
            if (close > 0 && (std::abs(r) <= tolerance || change < 1e-9) && (next < 0.0) == (x < 0.0)) {
                u = next;
                return stop(Status::converged, "");
            }
            if (tired()) return late();
            if (high - low < 1e-15 * std::max(1.0, std::abs(x)))
                return stop(Status::stagnated, "the bracket of the place of contact closed without balance");
            // On the way out of the tip's range nothing is gained by halving.
            if (!below && low == 0.0 && !(next > 0.0) && !(residual(0.0) > 0.0)) return stop(Status::lying_flat, kFlat);
            const double limit = close == 0 ? 1e-3 * std::max(std::abs(x), 0.1) : close == 1 ? 1e-2 : 0.3 * last;
            const bool inside = next >= low && next <= high, unsure = !sure && !inside;
            if (!unsure) x = inside ? next : 0.5 * (low + high);
            // All steps tell on which side of the place the root lies.
            close = unsure ? 1 : !sure || (x == next && change < limit) ? close + 1 : 0;
        }
        return late();
    }

    /// Sign change of the residual for a contact moving out along the strip, the first one beyond where it is held.
    bool march(int given) {
        const double held = has_plate(strip_) ? strip_.plate.length : 0.0, span = strip_.length - held;
        const double load = std::hypot(force_.normal, force_.tangential);
        for (const double begin : {0.4 * strip_.set_angle, 0.01 * strip_.set_angle}) {
            double at = 1e-7 * span, before = kNan, last = 0.0, growth = 1.25;
            while (at < span && severity(strip_, held + at, load) < begin) at *= 1.2;
            double known = at;
            plate = {};
            for (int i = 0; i < 150 && !tired(); ++i) {
                at = std::min(at, span);
                const double place = at >= span ? 0.0 : (held + at) / strip_.length - 1.0;
                const double severe = severity(strip_, held + at, load);
                steps_ = enough_steps(given, severe);
                // The plate's force is followed on its way out from the edge.
                PlateGuess guess = plate;
                const int few = std::max(4, steps_ / 2);
                const double r =
                    weighed(pose(strip_, place, force_, few, kernel::NoVisit{}, &guess).residual(), place, few);
                if (!std::isfinite(r) && before > 0.0 && growth > 1.01) {
                    growth = 0.5 * (1.0 + growth);
                    at = known * growth;
                    continue;
                }
                if (std::isfinite(r)) plate = guess;
                if (r <= 0.0) {
                    if (!(before > 0.0)) break;  // begun too far out
                    inner_ = last, outer_ = place;
                    return true;
                }
                if (at >= span) {
                    if (!(before > 0.0)) break;
                    // Close to the edge the few steps taken here do not tell the sign.
                    inner_ = last, outer_ = 0.0;
                    return residual(0.0) <= 0.0;
                }
                before = r, last = place, known = at;
                growth = std::min(severe < 50.0 ? 1.25 : 1.1, 1.0 + 1.5 * (growth - 1.0));
                at *= growth;
            }
        }
        return false;
    }
    bool flat() {
        if (!allow_flat_) return stop(Status::lying_flat, kFlat);
        return newton(inner_, inner_, outer_, budget_);
    }

    const Strip& strip_;
    const ContactForce& force_;
    int steps_, budget_;
    bool allow_flat_;
    double inner_ = 0.0, outer_ = 0.0, severe_ = 0.0;
    double work_ = 0.0;
};

LoadCurveOptions way_to(const Strip& strip, double load, double interference, double centre, bool allow_flat) {
    LoadCurveOptions way;
    way.max_load = load > 0.0 ? load : 1e7 * load_unit(strip);
    way.max_interference = interference > 0.0 ? interference : 1e3 * strip.length;
    way.centre = centre, way.allow_flat = allow_flat, way.max_points = 600, way.largest_step = 0.15;
    return way;
}

constexpr const char* kUpToPlate = "the blade lies flat up to its backing plate";

/// Whether a curve that could not be followed further ended with the contact beside the plate's edge, within a fifth of the way
/// between edge and end: the strip is then held between plate and roll, which no single line of contact describes.
bool flat_up_to_plate(const Strip& strip, const LoadCurve& way) {
    if (!has_plate(strip) || way.points.empty() || way.points.back().mode != ContactMode::flat) return false;
    return way.points.back().contact_arc_length - strip.plate.length < 0.2 * (strip.length - strip.plate.length);
}

/// Where single shooting fails: along the curve of equilibria from the unloaded blade to the load.
bool by_load(PlaceSearch& search, const Strip& strip, const ContactForce& force, int steps, bool allow_flat) {
    const double ratio = force_ratio(force);
    const LoadCurve way = trace(strip, ratio, way_to(strip, force.normal, 0.0, force.centre, allow_flat), Goal::load);
    const auto stop = [&](Status status, std::string_view text) {
        search.status = status, search.message = text;
        return false;
    };
    search.iterations += way.convergence.iterations;
    const Status end = way.convergence.status;
    if (end == Status::converged && !way.points.empty()) {
        const LoadCurvePoint& p = way.points.back();
        if (std::abs(p.normal - force.normal) <= 0.2 * force.normal) {
            const double place =
                p.mode == ContactMode::flat ? p.contact_arc_length / strip.length - 1.0 : p.effective_angle;
            const double load = std::hypot(force.normal, force.tangential);
            return search.settle(place, enough_steps(steps, severity(strip, p.contact_arc_length, load)));
        }
        if (p.event == CurveEvent::lying_flat && !allow_flat)
            return stop(Status::lying_flat, "the load turns the tip flat: no positive angle carries it");
    }
    if (end != Status::converged && !undecided(end)) {
        search.told = way.convergence.message;
        return stop(end, search.told);
    }
    if (flat_up_to_plate(strip, way)) return stop(Status::out_of_range, kUpToPlate);
    return false;
}

Bent solve_load(const Strip& strip, const ContactForce& force, int steps, int max_iterations, bool allow_flat,
                bool words) {
    const auto fail = [&](Status status, std::string_view text, int iterations) {
        return failed(status, words ? text : std::string_view{}, iterations);
    };
    if (const Complaint c = complaint(strip, force, 0.0, steps); c.status != Status::not_run)
        return fail(c.status, c.message, 0);
    if (force.normal < 0.0) return fail(Status::lifted_off, "a contact cannot pull: the normal load is negative", 0);
    if (strain_scale(strip, std::hypot(force.normal, force.tangential)) > kSmallStrain)
        return fail(Status::out_of_range, kStrained, 0);
    PlaceSearch search(strip, force, steps, max_iterations, allow_flat);
    const auto lost_search = [&] {
        return explain(strip, force.normal, force.tangential, fail(search.status, search.message, search.iterations));
    };
    if (!search.run()) {
        const bool lost = undecided(search.status) && search.iterations < max_iterations && force.normal > 0.0 &&
                          !(strain_scale(strip, std::hypot(force.normal, force.tangential)) > 3.0 * kElastic);
        if (!lost || !by_load(search, strip, force, steps, allow_flat)) return lost_search();
    }
    if (!(search.slope < 0.0)) return fail(Status::unstable, "under dead load the tip runs away", search.iterations);
    if (transverse(search.u, force.normal, force.tangential) < 0.0)
        return fail(Status::unstable, "the contact force pushes the tip towards the roll (it digs in)",
                    search.iterations);
    const auto describe = [&] {
        return describe_state(strip, search.u, force, search.steps(), search.iterations, search.tolerance,
                              &search.plate);
    };
    Bent bent = describe();
    if (bent.convergence.status == Status::stagnated && search.polish()) bent = describe();
    // A strip that holds a load while its holder stands back from first touch has coiled: not what pressing on leads to.
    if (bent.convergence.ok() && bent.contact_mode == ContactMode::flat && bent.interference < 0.0 &&
        strip.pressure == 0.0) {
        search.status = Status::stagnated, search.message = "only a coiled strip was found to carry this load";
        if (!by_load(search, strip, force, steps, allow_flat)) return lost_search();
        bent = describe();
    }
    return explain(strip, force.normal, force.tangential, std::move(bent));
}

}  // namespace

StripMismatch strip_mismatch(const Strip& strip, double effective_angle, const ContactForce& force,
                             int steps) noexcept {
    // Trial angles below zero stay in tip contact: the caller's iteration may pass there.
    const Pose found = pose(strip, effective_angle, force, steps, kernel::NoVisit{}, nullptr, true);
    return {found.residual(), found.ok ? found.at.interference : kNan};
}

StripJacobian strip_jacobian(const Strip& strip, double effective_angle, const ContactForce& force, int steps) {
    const Trial t = evaluate<2>(strip, effective_angle, force.normal, {force_ratio(force), force.centre, steps, true});
    return {t.residual_u, t.residual_N, t.interference_u, t.interference_N};
}

namespace {

double stiffness_of(const Trial& t) noexcept { return t.residual_u / t.determinant(); }

}  // namespace

double tangent_stiffness(const Strip& strip, double effective_angle, const ContactForce& force) {
    return stiffness_of(
        evaluate<2>(strip, effective_angle, force.normal, {force_ratio(force), force.centre, 16, true}));
}

double tangent_stiffness(const Strip& strip, const Bent& bent, const ContactForce& force) {
    return stiffness_of(
        evaluate<2>(strip, place_of(strip, bent), force.normal, {force_ratio(force), force.centre, 16}));
}

Bent bent_at(const Strip& strip, double effective_angle, const ContactForce& force, int steps, double tolerance) {
    if (const Complaint c = complaint(strip, force, effective_angle, steps); c.status != Status::not_run)
        return failed(c.status, c.message, 0);
    return describe_state(strip, std::max(effective_angle, 0.0), force, steps, 0, tolerance);
}

Bent solve_bending(const Strip& strip, const ContactForce& force, int steps, int max_iterations, bool words) {
    return solve_load(strip, force, steps, max_iterations, false, words);
}

Bent solve_contact(const Strip& strip, const ContactForce& force, int steps, int max_iterations) {
    return solve_load(strip, force, steps, max_iterations, true, true);
}

namespace {

/// Equilibrium curve over interference at constant ratio of the forces, followed from the unloaded blade.
class Follower {
  public:
    Follower(const Strip& strip, const Drive& drive, int budget, bool allow_flat)
        : strip_(strip), drive_(drive), given_steps_(drive.steps), budget_(budget), allow_flat_(allow_flat) {}

    double u = kNan, normal = 0.0;
    Status status = Status::not_run;
    std::string message;
    int iterations = 0;
    [[nodiscard]] int steps() const { return drive_.steps; }
    [[nodiscard]] double tolerance() const { return plate.force > 0.0 ? 10.0 * tolerance_ : tolerance_; }
    PlateGuess plate;

    bool start() {
        const ContactForce none{0.0, 0.0, drive_.centre};
        PlaceSearch free(strip_, none, given_steps_, budget_, allow_flat_);
        if (!free.run()) {
            iterations = free.iterations;
            return fail(free.status, std::string(free.message));
        }
        iterations = free.iterations;
        u = free.u;
        drive_.steps = free.steps();
        here_ = evaluate<2>(strip_, u, 0.0, drive_, &plate);
        return healthy(u, 0.0, here_) || fail(reason_, reason_message_);
    }

    /// From a state known by other means to the interference close by.
    bool settle(double place, double N, double interference) {
        u = place, normal = N;
        const double contact = place < 0.0 ? strip_.length * (1.0 + place) : strip_.length;
        drive_.steps = enough_steps(given_steps_, severity(strip_, contact, std::hypot(1.0, drive_.ratio) * N));
        here_ = evaluate<2>(strip_, u, normal, drive_, &plate);
        budget_ = iterations + 12;
        if (!correct(interference)) return fail(reason_, reason_message_);
        status = Status::converged;
        return true;
    }

    bool go_to(double interference) {
        if (interference < here_.interference - 1e-15 * strip_.length)
            return fail(Status::lifted_off, "the holder is too far from the roll: no load");
        return walk(here_.interference, interference, 1e-15 * strip_.length, [&](double at) { return correct(at); });
    }

    /// At a held interference the pressure comes on.
    bool press(Strip& strip, double pressure) {
        const double held = here_.interference;
        const bool done = walk(0.0, 1.0, 1e-12, [&](double share) {
            const double before = std::exchange(strip.pressure, share * pressure);
            if (!correct(held)) {
                strip.pressure = before;
                return false;
            }
            const Bent b =
                describe_state(strip, u, {normal, drive_.ratio * normal, drive_.centre}, drive_.steps, 0, 1e-8, &plate);
            const Status s =
                b.convergence.ok() && strain_of(strip, b) > kElastic ? Status::out_of_range : b.convergence.status;
            if (s == Status::out_of_range || s == Status::unstable) {
                final_ = true;
                return reject(s, b.convergence.ok() ? kPlastic : b.convergence.message);
            }
            return true;
        });
        return done;
    }

  private:
    template <class Correct>
    bool walk(double at, double end, double small, Correct&& correct_to) {
        double stride = end - at;
        const double smallest = 1e-4 * stride;  // halved so far, the last refusal is the reason
        while (end - at > small) {
            stride = std::min(stride, end - at);
            if (correct_to(at + stride)) {
                at += stride;
                stride *= 2.0;
            } else if (iterations >= budget_) {
                return fail(Status::max_iterations, "the load was not found in time");
            } else {
                stride *= 0.5;
                if (final_ || stride < smallest) return fail(reason_, reason_message_);
            }
        }
        status = Status::converged;
        return true;
    }
    bool fail(Status why, const std::string& text) {
        status = why, message = text;
        return false;
    }
    bool reject(Status why, const std::string& text) {
        reason_ = why, reason_message_ = text;
        return false;
    }

    bool healthy(double at, double N, const Trial& p) {
        if (at <= 0.0 && !allow_flat_) return reject(Status::lying_flat, "the interference turns the tip flat");
        if (!(transverse(at, 1.0, drive_.ratio) > 0.0))
            return reject(Status::unstable, "friction pushes the tip towards the roll (it digs in)");
        if (!(p.residual_u < 0.0) || !(p.determinant() < 0.0))
            return reject(Status::unstable, "the tangent stiffness is no longer positive");
        if (N < 0.0) return reject(Status::lifted_off, "the holder is too far from the roll: no load");
        return true;
    }

    bool correct(double wanted) {
        const double unit = load_unit(strip_);
        const Stretched from = stretch(strip_, u, normal);
        Stretched at = from;
        Trial p = evaluate<2>(strip_, u, normal, drive_, &plate);
        for (int i = 0; i < 10 && iterations < budget_; ++i) {
            const double py = place_slope(at.y), pw = normal_slope(strip_, at.w);
            const double ry = p.residual_u * py, rw = p.residual_N * pw, dy = p.interference_u * py,
                         dw = p.interference_N * pw;
            const double e = wanted - p.interference, det = ry * dw - rw * dy;
            const double sy = -(p.residual * dw + e * rw) / det, sw = (ry * e + p.residual * dy) / det;
            if (!std::isfinite(sy) || !std::isfinite(sw))
                return reject(Status::non_finite, "the integrated strip is not finite");
            if (std::abs(sy) > 0.5 || std::abs(at.y + sy - from.y) > 0.7 || std::abs(at.w + sw - from.w) > 3.0)
                return reject(Status::step_too_small, "the equilibrium curve could not be followed");
            at.y += sy, at.w += sw;
            const double place = place_of(at.y), N = normal_of(strip_, at.w);
            const double contact = place < 0.0 ? strip_.length * (1.0 + place) : strip_.length;
            drive_.steps =
                enough_steps(given_steps_, severity(strip_, contact, std::hypot(1.0, drive_.ratio) * std::abs(N)));
            p = evaluate<2>(strip_, place, N, drive_, &plate);
            ++iterations;
            tolerance_ = std::max(kTolerance, 4e-16 * std::abs(p.residual_u));
            if (std::abs(p.residual) <= tolerance() && std::abs(sw) * pw <= 1e-9 * (std::abs(N) + 1e-6 * unit)) {
                const double load = std::abs(N) <= 1e-12 * unit ? 0.0 : N;
                if (!healthy(place, load, p)) return false;
                u = place, normal = std::max(load, 0.0), here_ = p;
                return true;
            }
        }
        return reject(Status::step_too_small, "the equilibrium curve could not be followed");
    }

    const Strip& strip_;
    Drive drive_;
    int given_steps_, budget_;
    bool allow_flat_;
    double tolerance_ = kTolerance;
    Trial here_{};
    Status reason_ = Status::step_too_small;
    std::string reason_message_;
    bool final_ = false;
};

Bent solve_interference(const Strip& strip, double interference, double ratio, ContactForce& force, int steps,
                        int max_iterations, bool allow_flat) {
    const double centre = force.centre;
    force = {kNan, kNan, centre};
    if (const Complaint c = complaint(strip, {0.0, ratio, centre}, interference, steps); c.status != Status::not_run)
        return failed(c.status, c.message, 0);
    if (strain_scale(strip, 0.0) > kSmallStrain) return failed(Status::out_of_range, kStrained, 0);
    const auto finish = [&](const Strip& held, const Follower& at) {
        const ContactForce found{at.normal, ratio * at.normal, centre};
        PlateGuess warm = at.plate;
        Bent bent = describe_state(held, at.u, found, at.steps(), at.iterations, at.tolerance(), &warm);
        if (bent.convergence.ok()) force = found;
        return bent;
    };
    Follower curve(strip, {ratio, centre, steps}, max_iterations, allow_flat);
    const bool begun = curve.start();
    if (begun && curve.go_to(interference)) {
        Bent bent = finish(strip, curve);
        return bent.convergence.ok() ? bent : explain(strip, curve.normal, ratio * curve.normal, std::move(bent));
    }
    const auto refuse = [&](const Follower& at) {
        const double reached = 2.0 * at.normal + load_unit(strip);  // a stride further
        return explain(strip, reached, ratio * reached, failed(at.status, at.message, at.iterations));
    };
    if (begun && allow_flat && curve.status != Status::lifted_off && curve.status != Status::unstable) {
        // Through what steps of interference cannot pass.
        const LoadCurve path =
            trace(strip, ratio, way_to(strip, 0.0, interference, centre, allow_flat), Goal::interference);
        curve.iterations += path.convergence.iterations;
        if (!path.convergence.ok() && !undecided(path.convergence.status))
            return failed(path.convergence.status, path.convergence.message, curve.iterations);
        if (!path.convergence.ok() && flat_up_to_plate(strip, path))
            return failed(Status::out_of_range, kUpToPlate, curve.iterations);
        if (!path.points.empty() && std::abs(path.points.back().interference - interference) < 1e-6 * strip.length) {
            const LoadCurvePoint& p = path.points.back();
            const double place =
                p.mode == ContactMode::flat ? p.contact_arc_length / strip.length - 1.0 : p.effective_angle;
            if (curve.settle(place, p.normal, interference)) {
                Bent bent = finish(strip, curve);
                return bent.convergence.ok() ? bent : explain(strip, p.normal, ratio * p.normal, std::move(bent));
            }
        }
    }
    const Bent refused = refuse(curve);
    const bool final = curve.status == Status::lifted_off || (begun && curve.status == Status::unstable) ||
                       (!allow_flat && curve.status == Status::lying_flat);
    if (final || strip.pressure == 0.0) return refused;
    // A pressure that alone would coil the blade comes on after the blade is set.
    Strip pressed = strip;
    pressed.pressure = 0.0;
    Follower set(pressed, {ratio, centre, steps}, max_iterations, allow_flat);
    if (!set.start() || !set.go_to(interference)) return refused;
    if (!set.press(pressed, strip.pressure)) return undecided(set.status) ? refused : refuse(set);
    return finish(pressed, set);
}

}  // namespace

Bent solve_bending_at(const Strip& strip, double interference, double tangential_ratio, ContactForce& force, int steps,
                      int max_iterations) {
    return solve_interference(strip, interference, tangential_ratio, force, steps, max_iterations, false);
}

Bent solve_contact_at(const Strip& strip, double interference, double tangential_ratio, ContactForce& force, int steps,
                      int max_iterations) {
    return solve_interference(strip, interference, tangential_ratio, force, steps, max_iterations, true);
}

}  // namespace libblade
