#include "nip_held.hpp"

#include <algorithm>
#include <cmath>

namespace libblade::detail {

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

State HeldNip::settle(const Place& from, const Target& target) { return nip_.solver.settle(at(from), target); }

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
