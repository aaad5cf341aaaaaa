// How a blade comes to rest: the tilt moves the way it is driven until the drive vanishes.
#include <algorithm>
#include <cmath>
#include <limits>

#include "nip_solver.hpp"

namespace libblade::detail {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kFollowed = 0.025;  // what the holder keeps moves in parts of 2.5 %, so that it stays on its branch
constexpr double kMostParts = 4000.0;
constexpr double kTiltTolerance = 1e-10;
constexpr double kTurned = 1e-11, kLifted = 1e-10;  // last steps of tilt and u
constexpr int kMostStrides = 2000;
constexpr int kMostEnds = 4;  // of films that end while the tilt moves: to and fro between two of them there is no rest

}  // namespace

double NipSolver::longest_stride(const State& at) const noexcept {
    if (setup_.facet_length <= 0.0) return 0.01;
    const double film = kernel::filled_gap(*setup_.f1, setup_.asperities.sigma, at.low_gap);
    return 0.4 * std::max(film, setup_.asperities.sigma) / setup_.facet_length + 0.05 * std::abs(at.tilt);
}

State NipSolver::at_rest(State state, const Target& target) const noexcept {
    // At the bounds of what is asked of the blade its response stands still without balancing: it would pull, or be crushed.
    if (state.ok() && target.fixed && !(std::abs(state.angle_residual) <= 1e-6))
        state.status = state.force.normal <= reference_load_ ? Status::lifted_off : Status::out_of_range;
    return state;
}

State NipSolver::relax(const State& from, const Target& target) {
    State here = balance(from.tilt, target, from);
    // Just there the load may leap from one film to another.
    for (const double aside : {-0.02, 0.02})
        if (here.status == Status::stagnated)
            here = balance(from.tilt + aside * std::max(std::abs(from.tilt), tilt_scale_), target, from);
    if (!here.ok()) return here;
    if (std::abs(here.drive) <= kTiltTolerance) return at_rest(here, target);
    double direction = here.drive > 0.0 ? 1.0 : -1.0;
    int ended = 0;
    double stride = 1.05 * std::abs(here.drive);  // right at once where the film has no say in the elastic tilt
    const double least = 1e-3 * tilt_scale_;
    double barrier = kNan;  // tilt on the way that has no balance, if one is known
    for (int n = 0; n < kMostStrides; ++n) {
        // The film answers on the tilt gap / facet length, or on the tilt itself once that is larger: longer strides could leap
        // over a pair of states.
        stride = std::min(stride, longest_stride(here));
        // Towards a barrier by halves, and with the last stride once past it.
        if (!std::isnan(barrier)) {
            const double left = std::abs(barrier - here.tilt);
            const bool close = left <= 2.0 * least;
            stride = close ? 1.5 * left : std::min(stride, 0.5 * left);
            if (close) barrier = kNan;
        }
        State next = balance(here.tilt + direction * stride, target, here);
        if (!next.ok()) {
            if (stride <= 3.0 * least) return next;
            // From a blade that lifts off there may be a way back in shorter strides.
            barrier = next.status == Status::lifted_off ? kNan : next.tilt;
            stride *= 0.25;
            continue;
        }
        if ((next.drive > 0.0) != (here.drive > 0.0)) {
            State last = next, ahead = here, beyond = next;
            const auto drive = [&](double tilt) {
                State s = balance(tilt, target, last);
                if (s.ok()) last = s, (s.drive * next.drive > 0.0 ? beyond : ahead) = s;
                return s.ok() ? s.drive : kNan;
            };
            const Root root =
                bracketed_root(drive, {here.tilt, here.drive, next.tilt, next.drive}, 1e-12, kTiltTolerance);
            if (root.status == Status::non_finite && stride > least) {  // no balance in between
                stride *= 0.25;
                continue;
            }
            if (root.status == Status::converged)
                return at_rest(last.tilt == root.x ? last : balance(root.x, target, last), target);
            // The film has ended on the way: what is left of it goes back the other way, until it has a state or ends as well.
            constexpr double kOther = 1e-3;  // of the gap
            const bool other_film = std::abs(beyond.u - ahead.u) > kOther;
            if (root.status != Status::stagnated || !other_film) return failed(last, root.status);
            if (++ended == kMostEnds) return failed(last, Status::unstable);
            here = beyond, direction = -direction, stride = 0.1 * longest_stride(here), barrier = kNan;
            continue;
        }
        const double slope = (next.drive - here.drive) / (next.tilt - here.tilt);
        stride = slope < -0.05 ? std::min(1.1 * std::abs(next.drive / slope), 3.0 * stride) : 2.0 * stride;
        here = next;
    }
    return failed(here, Status::max_iterations);
}

bool NipSolver::raise_strip_steps(const State& at) noexcept {
    const int enough = enough_strip_steps(strip_, std::hypot(at.force.normal, at.force.tangential));
    if (enough <= strip_steps_) return false;
    strip_steps_ = enough;
    return true;
}

bool NipSolver::winds_up(const State& at) const noexcept {
    if (enough_strip_steps(strip_, std::hypot(at.force.normal, at.force.tangential)) < kMostStripSteps) return false;
    const auto miss = [&](int steps) { return strip_mismatch(strip_, at.angle, at.force, steps).angle_residual; };
    return !(std::abs(miss(2 * strip_steps_) - miss(strip_steps_)) < 1e-6);
}

State NipSolver::settle(const State& start, const Target& target) {
    const State quick = by_newton(start, target);
    return quick.ok() ? quick : relax(start, target);
}

/// Newton's method on tilt and gap, from a state near by: right away where the blade only follows. It may not go further than
/// relax() would stride at once, and has to end where neither runs away.
State NipSolver::by_newton(const State& from, const Target& target) {
    State s = from, none;
    if (!s.ok() || !(s.force.normal > 0.0)) return none;
    const double reach = longest_stride(from);
    for (int round = 0; round < 8; ++round) {
        const NipResidual r = residual(s, -sign_, 1.0);
        if (!r.ok) return none;
        const double kept = target.fixed ? r.interference - target.interference : r.load - std::log(target.load);
        const auto& by = target.fixed ? r.interference_by : r.load_by;
        const double det = r.angle_by[0] * by[1] - r.angle_by[1] * by[0];
        const double turn = (r.angle_by[1] * kept - by[1] * r.angle) / det;
        const double lift = std::clamp((by[0] * r.angle - r.angle_by[0] * kept) / det, -1.0, 1.0);
        if (!(std::abs(s.tilt + turn - from.tilt) <= reach) || !std::isfinite(lift)) return none;
        s = look(s.tilt + turn, s.u + lift);
        if (!s.ok() || !(s.force.normal > 0.0)) return none;
        if (std::abs(turn) <= kTurned && std::abs(lift) <= kLifted) {
            if (!stable(r, blade_at(s), target.fixed)) return none;
            s.drive = 0.0;
            return s;
        }
    }
    return none;
}

State NipSolver::follow(const State& from, const Target& begin, const Target& end) {
    const double change = end.fixed ? end.interference / begin.interference - 1.0 : end.load / begin.load - 1.0;
    // Where chamber pressure alone keeps the blade on the roll there is no advance to measure a step by.
    const double parts = std::isfinite(change) ? std::abs(change) / kFollowed : 1.0 / kFollowed;
    const int steps = static_cast<int>(std::clamp(std::ceil(parts - 1e-9), 1.0, kMostParts));
    State here = from;
    for (int k = 1; k <= steps; ++k) {
        const double part = static_cast<double>(k) / steps;
        Target now = end;
        now.load = begin.load + part * (end.load - begin.load);
        now.interference = begin.interference + part * (end.interference - begin.interference);
        here = relax(here, now);
        if (!here.ok()) return here;
    }
    return here;
}

State NipSolver::thickest(const Target& target, const State& near) {
    // Smooth, one-viscosity facet at best tilt: h0 = 0.40 b sqrt(eta U / (phi N)), d = 1.19 h0 / b; then looked for on both sides.
    const double b = std::max(setup_.facet_length, setup_.edge_radius);
    const double h0 =
        0.4 * b * std::sqrt(setup_.nominal_viscosity * setup_.speed / (setup_.flow_factor * reference_load_));
    const double guess = std::max(1.19 * h0 / b, 0.5 * tilt_scale_);
    State best = balance(guess, target, near);
    for (const double factor : {0.4, 0.65, 1.5, 2.2, 3.3}) {
        const State other = balance(factor * guess, target, best.ok() ? best : near);
        if (other.ok() && (!best.ok() || other.contact.film.flow > best.contact.film.flow)) best = other;
    }
    return best;
}

State NipSolver::from_rest(const Target& target, const State& near) {
    const double speed = setup_.speed;
    State here = near;
    for (const double part : {0.01, 0.05, 0.15, 0.3, 0.5, 0.75, 1.0}) {
        set_speed(part * speed);
        here = relax(here, target);
        if (!here.ok()) break;
    }
    set_speed(speed);
    return here;
}

}  // namespace libblade::detail
