// Bedding: the angle, facet and gap at which a blade lies parallel on the roll at its own setting.
#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "libblade/film.hpp"
#include "libblade/ink.hpp"
#include "libblade/root.hpp"
#include "nip_solver.hpp"

namespace libblade::detail {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

/// Facet of a tip bedded at an angle [m]: as given, or worn to the blade's whole end.
double facet_length_at(const Facet* facet, const double* given, double thickness, double angle) {
    if (facet == nullptr) return 0.0;
    return given != nullptr ? *given : worn_facet_length(thickness, angle);
}

/// The contact's force where it carries this load, its friction and centre as they are.
ContactForce under(double load, const ContactForce& force) noexcept {
    return {load, load / force.normal * force.tangential, force.centre};
}

/// A load that leaps past the wanted one, from one film to another, is no balance, but its drag tells a search where to go on.
bool leaps_past(const State& at, double missed) noexcept {
    constexpr double kTells = 3.0;  // of ln N
    return at.status == Status::stagnated && std::abs(missed) < kTells;
}

}  // namespace

State NipSolver::balance_load(double angle, double load, double guess_u, double tolerance) {
    State state;
    state.angle = angle;
    Overload overload;
    const auto surplus = [&](double u) {
        state.u = u;
        state.low_gap = low_gap(u);
        state.contact = contact_at(0.0, angle, state.low_gap);
        if (const auto extreme = off_scale(state.contact, overload)) return *extreme;
        return std::log(state.contact.normal() / load);
    };
    Root root = root_of(surplus, guess_u, -4.0, 0.7, tolerance, overload);
    // A bracket shut on a leap within a generous tolerance is no balance.
    if (root.status == Status::converged && std::abs(root.f) > std::max(tolerance, 1e-7))
        root.status = Status::stagnated;
    state.status = ended(root, overload, state);
    if ((state.ok() || leaps_past(state, root.f)) && state.u != root.x) (void)surplus(root.x);
    state.force = on_blade(state.contact);
    return state;
}

namespace {

/// From two contacts near the last one, which differ in angle and gap. None: not two directions.
std::optional<Answer> answer_of(const std::array<Passed, 2>& seen, double angle, double u, const ContactForce& force) {
    std::array<double, 2> turned{}, lifted{};
    for (std::size_t i = 0; i < 2; ++i) turned[i] = seen[i].angle - angle, lifted[i] = seen[i].u - u;
    const double one = turned[0] * lifted[1], other = turned[1] * lifted[0], det = one - other;
    if (!(std::abs(det) > 0.3 * (std::abs(one) + std::abs(other)))) return {};
    const auto by_u = [&](auto&& of) {
        const double last = of(force);
        return (turned[0] * (of(seen[1].force) - last) - turned[1] * (of(seen[0].force) - last)) / det;
    };
    // By how far the way is not straight; at 98 in 100 of 1,750 random bedded blades they were off by less.
    const double doubt = 0.2 + 8.0 * (std::abs(turned[0]) + std::abs(lifted[0]));
    return Answer{by_u([](const ContactForce& f) { return std::log(f.normal); }),
                  by_u([](const ContactForce& f) { return f.tangential / f.normal; }),
                  by_u([](const ContactForce& f) { return f.centre; }), doubt};
}

/// Inverse of how angle residual and ln N answer to the angle and to the guess's ln N.
using Response = std::array<std::array<double, 2>, 2>;
Response response(double by_angle, double by_rise, double load_by_angle, double load_by_rise) {
    const double det = by_angle * load_by_rise - by_rise * load_by_angle;
    return {{{load_by_rise / det, -by_rise / det}, {-load_by_angle / det, by_angle / det}}};
}

/// What the load does about a known contact: its film falls as the filled gap grows, its asperities fall by their law.
class LoadGuess {
  public:
    LoadGuess(const kernel::ContactSetup& setup, double load) : setup_(setup), load_(load) {}
    void know(double u, double film, double asperities) {
        const double p = pressure(Dual<1>(u)).v;
        film_ = film * filled_gap(u), area_ = p > 0.0 ? asperities / p : 0.0;
    }
    /// ln of N over the load wanted, with its slope by u = ln(low_gap + 3 sigma).
    [[nodiscard]] Dual<1> operator()(double u) const {
        const Dual<1> x = variable<1>(u, 0);
        return log((film_ / filled(x) + area_ * pressure(x)) / load_);
    }
    /// u at which that is `wanted`, sought from u: Newton's steps, since both parts fall like exponentials.
    [[nodiscard]] double place(double wanted, double u) const {
        for (int i = 0; i < 10; ++i) {
            const Dual<1> here = (*this)(u);
            const double step = std::clamp((wanted - here.v) / here.d[0], -0.2, 0.2);
            u += step;
            if (std::abs(step) < 1e-6) break;
        }
        return u;
    }

    [[nodiscard]] double filled_gap(double u) const { return filled(Dual<1>(u)).v; }

  private:
    [[nodiscard]] Dual<1> gap(const Dual<1>& u) const { return exp(u) - 3.0 * setup_.asperities.sigma; }
    [[nodiscard]] Dual<1> filled(const Dual<1>& u) const {
        return kernel::filled_gap(*setup_.f1, setup_.asperities.sigma, gap(u));
    }
    [[nodiscard]] Dual<1> pressure(const Dual<1>& u) const {
        return kernel::asperity_pressure(*setup_.f52, setup_.asperities, gap(u));
    }
    const kernel::ContactSetup& setup_;
    double load_, film_ = 0.0, area_ = 0.0;  // film_: load times filled gap
};

}  // namespace

Bedded NipSolver::bed_at_once(double load, const double* given, WarmStart::Bed* near) {
    Bedded bed;
    const double a0 = the_case().setting.set_angle, t = tip_thickness(the_case().blade),
                 sigma = setup_.asperities.sigma;
    const double length = free_length(the_case().blade), D = bending_stiffness(the_case().blade);
    // Far from lying flat and from locking by friction, where one more look at the dry blade would say no more.
    const double turn = 0.5 * load * length * length / D;
    const bool warm = near != nullptr && near->known;
    double angle = warm ? near->angle : a0 - turn;
    if (!warm && (!the_case().blade.sections.empty() || turn > 0.4 * a0 || std::tan(angle) < 3.0 * setup_.friction))
        return bed;
    const auto* facet = std::get_if<Facet>(&the_case().tip);
    // A facet that is worn to the whole end stays so at any angle.
    const bool whole_end = facet != nullptr && std::holds_alternative<WornLength>(facet->length);
    if (!whole_end && given != nullptr && std::abs(*given * std::sin(angle) / t - 1.0) < 0.1) return bed;
    fully_worn_ = whole_end || (facet != nullptr && *given * std::sin(angle) > t);
    State& state = bed.state;
    StripMismatch here;
    // Half the steps, of order 8, are off by 256 times what all are, 5e-12 rad: nothing as long as the residual is large.
    const int few = (strip_steps_ + 1) / 2;
    const auto mismatch = [&](double at, double u, int steps) -> std::array<double, 2> {
        set_facet(facet_length_at(facet, given, t, at), at);
        state.angle = at, state.u = u, state.low_gap = low_gap(u);
        state.contact = contact_at(0.0, at, state.low_gap);
        state.force = on_blade(state.contact);
        // The blade under the whole load, which leaves its angle little to do with the gap.
        here = strip_mismatch(strip_, at, under(load, state.force), steps);
        const bool sound = state.force.normal > 0.0 && !state.contact.unsettled;
        return {sound ? here.angle_residual : kNan, -std::log(load / state.force.normal)};
    };
    // A parallel film behind a wedge of slope m carries some 3 eta U b / (2 m h); an edge is first seen over 1.5 sigma.
    LoadGuess guess(setup_, load);
    double u = std::log(4.5 * sigma + 1e-9), drag = setup_.friction;
    if (const double b = facet_length_at(facet, given, t, angle), U = setup_.speed; b > 0.0 && !warm) {
        const double h = 1.5 * sigma + 1e-9, slope = effective_slope(ink_side_angle(angle));
        const double eta = shear_viscosity(the_case().ink.rheology, U / h) * setup_.supply_factor;
        const double film = std::min(1.5 * eta * U * b / (slope * h), 0.75 * load);
        guess.know(u, film, b * asperity_pressure(setup_.asperities, low_gap(u)));
        u = guess.place(0.0, u);
        drag = setup_.friction * (1.0 - film / load) +
               std::min(setup_.land_fraction * eta * U * b / (load * guess.filled_gap(u)), 0.5);
    }
    double by_angle = 0.0;
    if (warm) {
        u = near->u;
    } else {
        // The blade's response to an angle: it turns about its contact, which wanders along the roll, and is bent the less.
        const double ratio = -sign_ * drag;
        by_angle = -1.0 / (1.0 + length * std::sin(angle) / the_case().roll.radius) +
                   turn * (std::sin(angle) - ratio * std::cos(angle));
        if (!(by_angle < -0.3)) return bed;
        angle -= strip_mismatch(strip_, angle, {load, ratio * load, 0.0}, few).angle_residual / by_angle;
    }
    // A thinning ink's flow is settled as far as the iteration can use it.
    const auto settle_to = [&](double error) {
        setup_.flow_tolerance = std::clamp(1e-3 * error, kFlowTolerance, 1e-5);
    };
    settle_to(1.0);
    // Unknown beside the angle is the guess's own ln N, in which the true one is nearly straight. Inverse of the Jacobian of
    // (residual, ln N / load): from the guess, after the first step a better one, then mended by Broyden's rank-one rule (1965,
    // Math. Comput. 19:577).
    Response H{};
    std::array<double, 2> step{}, last{}, f{};
    double guessed = 0.0;
    std::array<Passed, 2> seen;  // the first two that are near
    std::size_t known = 0;
    constexpr double kNear = 0.2;  // of ln N: some 0.02 of u
    for (int round = 0; round < 25; ++round) {
        last = f;
        const double last_u = state.u;
        const bool rough = round < (warm ? 1 : 2);
        f = mismatch(angle, u, rough ? few : strip_steps_);
        if (known < 2 && (known == 1 || std::abs(f[1]) < kNear)) seen[known++] = {angle, u, state.force};
        if (!std::isfinite(f[0] + f[1])) return bed;
        if (!rough && std::abs(f[1]) <= kLoadTolerance && std::abs(f[0]) <= 2e-11) {
            const StripJacobian J = strip_jacobian(strip_, angle, state.force, strip_steps_);
            const double across = load * std::cos(angle) + state.force.tangential * std::sin(angle);
            if (!(J.residual_by_angle < 0.0) || !(across > 0.0)) return bed;
            // Drag far above the load bends the strip more than the steps for the load can follow.
            const double pull = std::abs(state.force.tangential);
            if (pull > load && enough_strip_steps(strip_, pull) > strip_steps_) return bed;
            state.interference = here.interference, state.angle_residual = here.angle_residual;
            state.status = bed.status = Status::converged;
            bed.angle = angle, bed.facet_length = setup_.facet_length, bed.load = load, bed.jacobian = J;
            if (known == 2) bed.answer = answer_of(seen, angle, u, state.force);
            if (near != nullptr) *near = {angle, u, load, {H[0][0], H[0][1], H[1][0], H[1][1]}, true};
            return bed;
        }
        if (warm && round == 0) {
            guess.know(u, state.contact.film_load + state.contact.outer_load, state.contact.asperity_load);
            guessed = guess(u).v;
            const std::array<double, 4>& r = near->response;
            H = {{{r[0], r[1]}, {r[2], r[3]}}};
        } else if (!warm && round < 2) {
            guess.know(u, state.contact.film_load + state.contact.outer_load, state.contact.asperity_load);
            // A facet worn out is t / sin a; the film under a given one goes with the slope of its wedge.
            double load_by_angle = facet != nullptr ? -1.0 / std::tan(angle) : 0.0;
            if (given != nullptr) {
                const auto wedge = [&](double at) { return effective_slope(ink_side_angle(at)); };
                load_by_angle =
                    state.contact.film_load / state.force.normal * std::log(wedge(angle) / wedge(angle + 1e-3)) / 1e-3;
            }
            guessed = guess(u).v;
            const double rise = round == 1 ? guessed - guess(last_u).v : 0.0;
            double by_rise = 0.0, load_by_rise = 1.0;
            if (std::abs(rise) > 1e-3) {
                by_rise = (f[0] - last[0] - by_angle * step[0]) / rise;
                load_by_rise = std::clamp((f[1] - last[1] - load_by_angle * step[0]) / rise, 0.5, 2.0);
            }
            H = response(by_angle, by_rise, load_by_angle, load_by_rise);
        } else {
            const std::array<double, 2> y{f[0] - last[0], f[1] - last[1]};
            const std::array<double, 2> Hy{H[0][0] * y[0] + H[0][1] * y[1], H[1][0] * y[0] + H[1][1] * y[1]};
            constexpr double weight = 1e3;  // an angle of 0.01 weighs as much as ln N of 0.3
            const double den = weight * step[0] * Hy[0] + step[1] * Hy[1];
            if (den != 0.0) {
                const std::array<double, 2> sH{weight * step[0] * H[0][0] + step[1] * H[1][0],
                                               weight * step[0] * H[0][1] + step[1] * H[1][1]};
                for (std::size_t i = 0; i < 2; ++i)
                    for (std::size_t k = 0; k < 2; ++k) H[i][k] += (step[i] - Hy[i]) * sH[k] / den;
            }
        }
        step = {std::clamp(-(H[0][0] * f[0] + H[0][1] * f[1]), -0.05, 0.05),
                std::clamp(-(H[1][0] * f[0] + H[1][1] * f[1]), -3.0, 3.0)};
        angle += step[0], guessed += step[1];
        u = guess.place(guessed, u);
        if (!(angle > 10.0 * kSmallestAngle && angle < a0 + 0.05)) return bed;
        settle_to(f[1] * f[1]);  // what one more round leaves
    }
    return bed;
}

Bedded NipSolver::bed_at_load(double load, const double* facet_length, WarmStart::Bed* near) {
    Bedded bed;
    if (lasting_.tables != Status::converged) {
        bed.status = lasting_.tables;
        return bed;
    }
    bed.load = reference_load_ = load;
    const auto* facet = std::get_if<Facet>(&the_case().tip);
    const double* given = facet_length != nullptr ? facet_length
                          : facet != nullptr      ? std::get_if<double>(&facet->length)
                                                  : nullptr;
    const bool warm = near != nullptr && near->known;
    Bedded quick = bed_at_once(load, given, near);
    if (near != nullptr) near->known = quick.ok();
    if (warm && !quick.ok()) quick = bed_at_once(load, given, near);
    setup_.flow_tolerance = kFlowTolerance;
    if (quick.ok()) return quick;
    const double a0 = the_case().setting.set_angle, mu = the_case().setting.friction;
    const double friction = -sign_ * mu * load;

    // First the dry blade: it says at once whether a tip contact exists.
    const Bent dry = solve_bending(strip(0.0, a0), {load, friction, 0.0}, 24, 400, false);
    if (!dry.convergence.ok()) {
        bed.status = dry.convergence.status;
        return bed;
    }
    // Whether the facet has eaten the cut face is decided once: it is a property of the tip, and a switch inside the iteration
    // would have no fixed point.
    fully_worn_ = facet != nullptr && (std::holds_alternative<WornLength>(facet->length) ||
                                       eats_whole_end(*given, dry.effective_angle, tip_thickness(the_case().blade)));
    double angle = dry.effective_angle, u = std::log(4.5 * setup_.asperities.sigma + 1e-9);
    double tolerance = 1e-5, slope = 0.0;
    constexpr double kUnknown = std::numeric_limits<double>::infinity();
    constexpr double kSettled = 1e-4;  // [rad]
    constexpr int kMostLeaps = 10;
    constexpr double kWound = 30.0;  // [rad] a strip turned by five times around bears nothing
    int leapt = 0;
    // The residual falls with the angle: where it was last seen positive and negative, and in the round before.
    double below = 0.0, above = kUnknown, last_angle = 0.0, last_residual = 0.0, by = 0.0;
    int known = 0;      // rounds with a residual
    double lost = 0.0;  // largest angle at which no strip bears the film's drag, which falls with the angle
    for (int round = 0; round < 150; ++round) {
        const double b = facet_length_at(facet, given, tip_thickness(the_case().blade), angle);
        set_facet(b, angle);
        State state = balance_load(angle, load, u, tolerance);
        // Here the strip lies on the roll for all purposes; the facet may have become longer than any film.
        const bool flat = angle <= kSmallestAngle;
        const bool leaps = leaps_past(state, std::log(state.force.normal / load));
        if (!state.ok() && (!leaps || ++leapt > kMostLeaps)) {
            bed.status = flat ? Status::lying_flat : state.status;
            return bed;
        }
        u = state.u;
        if (leaps) state.force = under(load, state.force);
        // Where the film drags the blade more than the load bends it.
        strip_steps_ = std::max(strip_steps_, enough_strip_steps(strip_, std::hypot(load, state.force.tangential)));
        const StripMismatch here = strip_mismatch(strip_, angle, state.force, strip_steps_);
        const bool early = known < 2;  // the slope hardly changes afterwards
        if (early) {
            const double eps = 1e-6;
            slope =
                (strip_mismatch(strip_, angle + eps, state.force, strip_steps_).angle_residual - here.angle_residual) /
                eps;
        }
        // Film and facet follow the angle too. Where they make the blade's own slope a bad one, it is that of the last two rounds.
        const double residual = here.angle_residual, moved = angle - last_angle;
        if (!(std::abs(residual) < kWound) && state.force.normal > 0.0) {
            lost = std::max(lost, angle);
            if (flat || above - lost < 1e-6 || lost >= kSteepestAngle) {
                bed.status = flat ? Status::lying_flat : Status::unstable;  // the drag runs away with the blade
                return bed;
            }
            angle = above < kUnknown ? 0.5 * (lost + above) : std::min(lost + 0.05, kSteepestAngle);
            continue;
        }
        if (std::abs(residual) > tolerance)
            (residual > 0.0 ? below : above) = angle;  // else the load's error may decide
        ++known;
        if (early) by = slope;
        const bool tells =
            std::abs(moved) > 1e-8 || std::abs(residual - last_residual) > 1e-9;  // more than the load's error
        if (!early && tells && std::abs(residual) > 0.3 * std::abs(last_residual))
            if (const double secant = (residual - last_residual) / moved; secant < 0.0) by = secant;
        // At every smaller angle the drag is more than a strip bears, at this one the blade goes there.
        if (lost > 0.0 && above - lost < 1e-9 && !(below > lost)) {
            bed.status = Status::unstable;
            return bed;
        }
        // No angle between: at one of them the film under a parallel facet carries this load in two gaps, and from one to the other
        // the blade snaps.
        constexpr double kSame = 1e-8, kFar = 1e-6;
        const bool apart = std::abs(residual) > kFar && std::abs(last_residual) > kFar;
        if (apart && std::abs(above - below) < kSame) {
            bed.state = state, bed.state.interference = here.interference;
            bed.status = bed.state.status = Status::unstable;
            return bed;
        }
        const bool slow = round > 8 && std::abs(residual) > 0.5 * std::abs(last_residual);
        last_angle = angle, last_residual = residual;
        const double change = -residual / by;
        if (leaps && std::abs(change) < kSettled) {
            bed.status = state.status;
            return bed;
        }
        if (!std::isfinite(change)) {
            // At the steepest angle the blade wants a steeper one, at which no strip bears the load.
            bed.status = flat                      ? Status::lying_flat
                         : angle >= kSteepestAngle ? Status::out_of_range
                                                   : Status::non_finite;
            return bed;
        }
        // The load tolerance leaves some 3e-12; rounding may leave more, of a film that is far above the load. Where two such angles
        // are about to become one the residual is flat, and rounding leaves the angle to its root.
        const bool still = std::abs(change) <= (round < 30 ? 2e-11 : 1e-9) && std::abs(residual) < 1e-9;
        const bool shut = std::abs(above - below) < kSame && std::abs(residual) < (round < 60 ? 1e-7 : 1e-6);
        if (state.ok() && tolerance <= kLoadTolerance &&
            (still || (round >= 40 && (shut || std::abs(residual) < 1e-10)))) {
            state.interference = here.interference, state.angle_residual = here.angle_residual;
            bed.angle = angle, bed.facet_length = b, bed.state = state;
            bed.jacobian = strip_jacobian(strip_, angle, state.force, strip_steps_);
            const double across = load * std::cos(angle) + state.force.tangential * std::sin(angle);
            bed.status = across > 0.0 ? Status::converged : Status::unstable;
            if (near != nullptr && bed.ok() && bed.jacobian.residual_by_angle < 0.0) {
                const double load_by_angle = facet != nullptr ? -1.0 / std::tan(angle) : 0.0;
                const Response r = response(bed.jacobian.residual_by_angle, 0.0, load_by_angle, 1.0);
                *near = {angle, u, load, {r[0][0], r[0][1], r[1][0], r[1][1]}, true};
            }
            return bed;
        }
        if (slope >= 0.0 || (flat && change < 0.0) || (angle >= kSteepestAngle && change > 0.0)) {
            bed.status = slope >= 0.0 ? Status::unstable : flat ? Status::lying_flat : Status::out_of_range;
            return bed;
        }
        double next = std::clamp(angle + std::clamp(change, -0.05, 0.05), kSmallestAngle, kSteepestAngle);
        const double from = std::max(below, lost);
        // The slope between two films leads nowhere in steps that are small.
        const bool moves = std::abs(change) > 1e-8 || std::abs(residual) > kFar;
        if (moves && from > 0.0 && above < kUnknown && from < above && (slow || !(next > from && next < above)))
            next = 0.5 * (from + above);
        angle = next;
        tolerance = std::clamp(1e-4 * std::abs(change), kLoadTolerance, tolerance);
    }
    bed.status = Status::max_iterations;
    return bed;
}

Bedded NipSolver::bed(const double* facet_length, WarmStart::Bed* near) {
    if (const auto* load = std::get_if<LineLoad>(&the_case().setting.load)) {
        strip_steps_ = enough_strip_steps(strip_, load->value);
        return bed_at_load(load->value, facet_length, near);
    }
    // Interference given: the load at which the bedded blade has it. Logarithmic, since loads span decades.
    const double wanted = std::get<Interference>(the_case().setting.load).value;
    const double slant = std::cos(the_case().setting.set_angle);
    const double soft =
        3.0 * bending_stiffness(the_case().blade) / std::pow(free_length(the_case().blade), 3) / (slant * slant);
    WarmStart::Bed last;  // each load begins where the one before ended
    if (near == nullptr) near = &last;
    Bedded bed;
    // Loads under which no blade is bedded bound the search: one that lies flat or that its load runs away with carries too
    // much, one that the film's drag locks too little. Where the search closes on such a load, that is the answer.
    struct Bound {
        double log_load;
        Status status;
        double short_by = 0.0;
    };
    constexpr double kNoLoad = 1e-2;  // of the drag
    const double least_log = std::log(1e-3), most_log = std::log(1e5);
    Bound least{least_log, Status::converged}, most{most_log, Status::converged};
    // Set where it first touches, a blade has the load at which the film's drag bends it as far back as the load does.
    constexpr double kTouching = 1e-15;  // [m] below, an interference is rounding
    const auto short_by = [&](const Bedded& at) {
        if (wanted == 0.0 && std::abs(at.state.interference) <= kTouching) return 0.0;
        return wanted > 0.0 ? std::log(wanted / std::max(at.state.interference, 1e-3 * wanted))
                            : -at.state.interference * soft / at.load;
    };
    bool first = true;
    const auto shortfall = [&](double log_load) {
        bed = bed_at_load(std::exp(log_load), facet_length, near);
        // A blade that lies flat under next to no load does so under any.
        if (std::exchange(first, false) && bed.status == Status::lying_flat) {
            const Bedded light = bed_at_load(std::exp(least_log), facet_length, nullptr);
            if (light.status == Status::lying_flat) {
                bed = light;
                return kNan;
            }
        }
        // Next to no load of a film that carries much is lost in rounding; a blade that a little load runs away with has none.
        if (bed.status == Status::stagnated && log_load <= least_log && most.status == Status::unstable)
            bed.status = Status::unstable;
        const bool locked = bed.status == Status::unstable && bed.state.ok();
        // Below loads that carried too much, what lies out of range does so as well; so does a tip pressed on with its wedge.
        const bool beyond = bed.status == Status::out_of_range && (most.log_load < most_log || soft_sealed_);
        if (!bed.ok() && bed.status != Status::unstable && bed.status != Status::lying_flat && !beyond) return kNan;
        // One that snaps does so at an interference of its own.
        const bool placed = bed.ok() || bed.state.status == Status::unstable;
        const double f = placed ? short_by(bed) : locked ? 1.0 : -1.0;
        // The drag alone, at next to no load, draws a trailing tip further than that: nothing presses it on.
        if (placed && f < 0.0 && bed.load < kNoLoad * std::abs(bed.state.force.tangential)) {
            bed.status = Status::lifted_off;
            return kNan;
        }
        if (f > 0.0 && log_load >= least.log_load) least = {log_load, bed.status, f};
        if (f < 0.0 && log_load <= most.log_load) most = {log_load, bed.status};
        const Status limit = least.status != Status::converged ? least.status : most.status;
        // Close to such a load the interference does not catch up with what it is far short of.
        const double gap = most.log_load - least.log_load;
        if (limit == Status::converged || gap > (least.short_by > 0.1 ? 1e-3 : 1e-6)) return f;
        // No load is too little: under next to none its tip stands further out than that.
        const bool lifts = least.log_load == least_log && limit != Status::lying_flat;
        bed.status = lifts ? Status::lifted_off : limit;
        return kNan;
    };
    const double guess = std::log(near->known ? near->load : std::max(wanted * soft, 1e-3));
    strip_steps_ = enough_strip_steps(strip_, std::exp(guess));
    const Root root = falling_root(shortfall, guess, -1.0, 0.3, least_log, most_log, 1e-12, 1e-11);
    if (root.status == Status::converged) {
        (void)shortfall(root.x);
    } else if (root.status == Status::out_of_range && root.f < 0.0 && bed.ok()) {
        bed.status = Status::lifted_off;
    } else if (bed.ok()) {
        // It goes past that advance from one load to the next: the blade snaps.
        constexpr double kApart = 1e-5;
        const bool snaps = root.status == Status::stagnated && std::abs(root.f) > kApart;
        bed.status = snaps ? Status::unstable : root.status;
    }
    return bed;
}

}  // namespace libblade::detail
