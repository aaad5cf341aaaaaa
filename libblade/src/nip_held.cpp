#include "nip_held.hpp"

#include <algorithm>
#include <cmath>

namespace libblade::detail {

namespace {

constexpr double kTurned = 1e-11, kLifted = 1e-10;  // last steps of tilt and u

}  // namespace

HeldNip::HeldNip(const Case& nip_case, const HeldTip& tip, const NipOptions& options)
    : case_(nip_case), tip_(tip), options_(options), nip_(NipSolver(nip_case, options.mesh, options.tables)) {
    nip_.solver.hold_friction(options.constant_friction);
    nip_.solver.take_tip(tip.bedded_angle, tip.facet_length, tip.fully_worn);
    if (!tip.profile.empty()) nip_.solver.take_profile(tip.profile);
    nip_.bedded_angle = tip.bedded_angle, nip_.facet_length = tip.facet_length;
}

State HeldNip::at(const Place& from) {
    State state = nip_.solver.look(nip_.solver.sign() * (tip_.bedded_angle - from.angle), from.u);
    // Out of contact or crushed where it stood: the blade's response is then taken where it carries a usual load.
    if (state.ok() && state.force.normal > 0.0) nip_.solver.respond_about(state);
    return state;
}

State HeldNip::settle(const Place& from, const Target& target) {
    const State start = at(from);
    const State quick = by_newton(start, target);
    return quick.ok() ? quick : nip_.solver.relax(start, target);
}

/// Newton's method on tilt and gap, from a state near by: right away where the blade only follows. It may not go further than
/// relax() would stride at once, and has to end where neither runs away.
State HeldNip::by_newton(const State& from, const Target& target) {
    NipSolver& solver = nip_.solver;
    State s = from, none;
    if (!s.ok() || !(s.force.normal > 0.0)) return none;
    const double reach = solver.longest_stride(from);
    for (int round = 0; round < 8; ++round) {
        const NipResidual r = solver.residual(s, -solver.sign(), 1.0);
        if (!r.ok) return none;
        const double kept = target.fixed ? r.interference - target.interference : r.load - std::log(target.load);
        const auto& by = target.fixed ? r.interference_by : r.load_by;
        const double det = r.angle_by[0] * by[1] - r.angle_by[1] * by[0];
        const double turn = (r.angle_by[1] * kept - by[1] * r.angle) / det;
        const double lift = std::clamp((by[0] * r.angle - r.angle_by[0] * kept) / det, -1.0, 1.0);
        if (!(std::abs(s.tilt + turn - from.tilt) <= reach) || !std::isfinite(lift)) return none;
        s = solver.look(s.tilt + turn, s.u + lift);
        if (!s.ok() || !(s.force.normal > 0.0)) return none;
        if (std::abs(turn) <= kTurned && std::abs(lift) <= kLifted) {
            if (!solver.stable(r, solver.blade_at(s), target.fixed)) return none;
            s.drive = 0.0;
            return s;
        }
    }
    return none;
}

State HeldNip::follow(const Place& from, const Target& begin, const Target& end) {
    return nip_.solver.follow(at(from), begin, end);
}

State HeldNip::from_rest(const Place& from, const Target& target) { return nip_.solver.from_rest(target, at(from)); }

Bedded HeldNip::set_holder() const {
    Case flat = case_;
    if (tip_.fully_worn) std::get<Facet>(flat.tip).length = WornLength{};
    NipSolver apart(flat, options_.mesh, options_.tables);
    apart.hold_friction(options_.constant_friction);
    return apart.bed(&tip_.facet_length);
}

OperatingPoint HeldNip::report(const State& state, const Target& target) {
    OperatingPoint out;
    out.convergence = outcome(state.status);
    if (!state.ok()) return out;
    out.convergence.residual = std::abs(state.drive);
    nip_.state = state, nip_.target = target, nip_.branch = Branch::none;
    fill(case_, nip_, out, options_);
    return out;
}

void HeldNip::asperity_pressures(const State& state, std::span<double> out) {
    // Separations as the contact has them, dents of a soft tip included; its nodes are evenly spaced between the rounded ends.
    const auto& setup = nip_.solver.setup();
    (void)nip_.solver.contact_at(state.tilt, state.angle, state.low_gap);
    const std::size_t first = kernel::facet_start(setup.mesh), cells = static_cast<std::size_t>(setup.mesh.facet);
    const auto separation = nip_.solver.arrays().separation.subspan(first, cells + 1);
    const double last = static_cast<double>(out.size() - 1);
    for (std::size_t i = 0; i < out.size(); ++i) {
        const double place = static_cast<double>(i) / last * static_cast<double>(cells);
        const std::size_t k = std::min(static_cast<std::size_t>(place), cells - 1);
        const double s = separation[k] + (place - static_cast<double>(k)) * (separation[k + 1] - separation[k]);
        out[i] = kernel::asperity_pressure(*setup.f52, setup.asperities, s);
    }
}

double HeldNip::excess(const State& state) const { return detail::excess(nip_, state, case_.setting.surface_speed); }

}  // namespace libblade::detail
