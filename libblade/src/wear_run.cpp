#include "wear_run.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <utility>

#include "libblade/error.hpp"
#include "libblade/parameters.hpp"
#include "libblade/tip_outline.hpp"

namespace libblade::detail {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr int kPhases = 12;  // of a turn

bool moves_holder(const std::vector<FieldChange>& changes) {
    return std::any_of(changes.begin(), changes.end(), [](const FieldChange& c) { return sets_holder(c.field); });
}

/// Length lost at which a thin tip's step comes down to the roll; 0: no thin tip.
double thin_tip_length(const Case& c, const Cut& first, double angle) {
    const auto& sections = c.blade.sections;
    if (sections.size() < 2) return 0.0;
    const BladeSection &tip = sections.back(), &body = sections[sections.size() - 2];
    const double t = body.end_thickness.value_or(body.thickness);
    if (!(t > tip.thickness)) return 0.0;
    return step_wear(t, {tip.thickness, tip.length + first.along, tip.flush}, angle).length_lost_to_step;
}

/// Takes length off the tip. In the last of a thin tip the facet's centre passes the step: what is left of it there stands for
/// the body's end.
void shorten(Blade& blade, double lost) {
    if (blade.sections.empty()) {
        blade.free_length -= lost;
        return;
    }
    constexpr double shortest = 1e-5;  // [m] as the field table has it
    const std::size_t last = blade.sections.size() - 1;
    const double left = blade.sections[last].length - lost, lacking = std::max(0.0, shortest - left);
    blade.sections[last].length = std::max(left, shortest);
    if (last > 0) blade.sections[last - 1].length -= lacking;
}

}  // namespace

WearRun::WearRun(const Case& first, const Schedule& schedule, const WearOptions& options, const WearState* from)
    : first_(first), schedule_(schedule), options_(options), begin_(first) {
    nip_.mesh = options.tier == WearTier::profile ? std::max(1, 2 * options.mesh) : options.mesh;
    nip_.start = options.start, nip_.constant_friction = options.constant_friction;
    nip_.step_response = nip_.other_branch = nip_.run_out = false;
    if (options.tables == nullptr) own_tables_ = std::make_unique<FlowTables>();
    nip_.tables = options.tables != nullptr ? options.tables : own_tables_.get();
    if (from == nullptr) return;
    state_ = *from;
    for (std::size_t k = 0; k < state_.step; ++k)
        begin_ = case_within(case_after(begin_, schedule_, k), schedule_[k], 1.0);
    make_tip();
}

bool WearRun::fail(Status status, std::string message) {
    why_ = outcome(status);
    why_.message = std::move(message);
    return false;
}

double WearRun::recess(const Cut& cut, double set_angle) const {
    return cut.along * std::sin(set_angle) + cut.across * std::cos(set_angle);
}

void WearRun::make_tip() {
    const double t = tip_thickness(begin_.blade);
    tip_ = worn_tip(options_.tier,
                    {state_.frame_angle, state_.first_length, t, state_.fully_worn, begin_.setting.orientation},
                    options_.mesh);
    const bool from_full = state_.first_length * std::sin(state_.frame_angle) > t * (1.0 - 1e-9);
    const Cut first = cut_at(corner_area(state_.first_length, state_.frame_angle), state_.frame_angle, from_full, t);
    first_along_ = first.along;
    thin_length_ = thin_tip_length(begin_, first, state_.frame_angle);
}

bool WearRun::start_blade() {
    const Prepared p = prepare(begin_, nip_);
    ++solves_;
    why_ = outcome(p.status);
    if (!why_.ok()) return false;
    const bool sharp = std::holds_alternative<SquareEdge>(begin_.tip);
    const double t = tip_thickness(begin_.blade);
    state_.frame_angle = sharp ? p.state.angle : p.bedded_angle;
    state_.first_length = sharp ? options_.first_facet : p.facet_length;
    const double share = state_.first_length * std::sin(state_.frame_angle) / t;
    if (share > 1.0 + 1e-9)
        throw InvalidInput({{"tip.facet_length", std::to_string(state_.first_length) + " m",
                             "must not exceed thickness / sin(bedded angle): the blade's end gives no more"}});
    state_.fully_worn = share > 1.0 - 1e-9;
    if (state_.fully_worn) state_.first_length = t / std::sin(state_.frame_angle);
    make_tip();
    state_.tip = tip_->at_start();
    state_.angle = p.state.angle, state_.u = p.state.u;
    state_.load = state_.load_end = p.target.load;
    state_.interference = state_.interference_end = p.target.interference;
    state_.recess = recess(tip_->cut(state_.tip), begin_.setting.set_angle);
    if (sharp) {
        const double run = tip_->area(state_.tip) / (begin_.blade.specific_wear * p.target.load);
        state_.in_step += run, state_.distance = state_.step_start + state_.in_step;
        state_.time += time_over(run, begin_.setting.surface_speed, begin_.setting.surface_speed);
    }
    return true;
}

Target WearRun::kept(double share) const {
    return {begin_.setting.holding == Holding::fixed, state_.load + share * (state_.load_end - state_.load),
            state_.interference + share * (state_.interference_end - state_.interference)};
}

std::optional<WearRun::Here> WearRun::here(const Vector& y, double in_step) {
    if (!tip_->sound(y)) return fail(Status::out_of_range, "wear turned the facet away"), std::nullopt;
    const double share = length_ > 0.0 ? in_step / length_ : 0.0;
    Here out{case_within(begin_, schedule_[state_.step], share), kept(share)};
    const Cut cut = tip_->cut(y);
    shorten(out.now.blade, cut.along - first_along_);
    const double radius = std::visit([](const auto& tip) { return tip.edge_radius; }, begin_.tip);
    const HeldTip tip = tip_->held(y);
    out.now.tip = Facet{tip.facet_length, BeddedAngle{tip.bedded_angle}, radius};
    out.target.interference -= recess(cut, out.now.setting.set_angle) - state_.recess;
    // Chamber pressure holds a blade on the roll without any advance.
    if (out.target.fixed && !(out.target.interference > 0.0) && out.now.setting.chamber_pressure == 0.0)
        return fail(Status::lifted_off, "wear has used up the holder's advance"), std::nullopt;
    if (!within_hard_ranges(out.now)) {
        const auto problems = check(out.now);
        return fail(Status::out_of_range, "the worn blade leaves the range of " +
                                              (problems.empty() ? std::string("a field") : problems.front().path)),
               std::nullopt;
    }
    return out;
}

bool WearRun::go_round(HeldNip& nip, const Target& mean, Look& out) {
    const double amplitude = schedule_[state_.step].ripple;
    const double swing = amplitude * mean.interference + 0.5 * begin_.roll.run_out;
    out = {};
    out.place = {state_.angle, state_.u};
    out.rub.pressure.assign(tip_->places(), 0.0);
    const bool still = amplitude == 0.0 && (!mean.fixed || begin_.roll.run_out == 0.0);
    const int phases = still ? 1 : kPhases;
    for (int k = 0; k < phases; ++k) {
        Target now = mean;
        if (!still) {
            const double wave = std::sin(2.0 * std::numbers::pi * (k + 0.5) / phases);
            now.load *= 1.0 + amplitude * wave, now.interference += swing * wave;
        }
        ++solves_;
        out.state = nip.settle(out.place, now);
        if (!out.state.ok())
            return fail(out.state.status,
                        (still ? "" : "within a turn of the roll: ") + std::string(describe(out.state.status)));
        out.place = place_of(out.state);
        add(nip, 1.0 / phases, out);
    }
    return true;
}

void WearRun::add(HeldNip& nip, double part, Look& out) {
    const State& state = out.state;
    const double film = state.film_on_lands(nip.speed());
    out.rub.asperity_load += part * state.contact.asperity_load;
    out.rub.asperity_moment += part * state.contact.asperity_moment;
    out.film += part * film, out.film_over_turn = std::max(out.film_over_turn, film);
    out.excess += part * nip.excess(state);
    if (out.rub.pressure.empty()) return;
    pressure_.resize(out.rub.pressure.size());
    nip.asperity_pressures(state, pressure_);
    for (std::size_t i = 0; i < pressure_.size(); ++i) out.rub.pressure[i] += part * pressure_[i];
}

bool WearRun::look(const Vector& y, double in_step, Look& out) {
    const auto at = here(y, in_step);
    if (!at) return false;
    HeldNip nip(at->now, tip_->held(y), nip_);
    if (!go_round(nip, at->target, out)) return false;
    out.specific_wear = at->now.blade.specific_wear;
    return true;
}

bool WearRun::rates(const Vector& y, double in_step, Vector& out) {
    Look seen;
    if (!look(y, in_step, seen)) return false;
    tip_->rates(y, seen.rub, seen.specific_wear, out);
    return true;
}

bool WearRun::set_holder(const Case& at, Target& out) {
    const HeldNip nip(at, tip_->held(state_.tip), nip_);
    const Bedded bed = nip.set_holder();
    ++solves_;
    if (!bed.ok()) return fail(bed.status, "the holder cannot be set: " + std::string(describe(bed.status)));
    out = {at.setting.holding == Holding::fixed, bed.load, bed.state.interference};
    return true;
}

bool WearRun::move_holder(const Target& to) {
    const auto at = here(state_.tip, 0.0);
    if (!at) return false;
    HeldNip nip(at->now, tip_->held(state_.tip), nip_);
    const State moved = nip.follow({state_.angle, state_.u}, at->target, to);
    ++solves_;
    if (!moved.ok()) return fail(moved.status, "the holder's move: " + std::string(describe(moved.status)));
    const Place place = place_of(moved);
    state_.angle = place.angle, state_.u = place.u;
    state_.load = state_.load_end = to.load, state_.interference = state_.interference_end = to.interference;
    state_.recess = recess(tip_->cut(state_.tip), at->now.setting.set_angle);
    return true;
}

bool WearRun::begin_step() {
    const ScheduleStep& step = schedule_[state_.step];
    const bool fresh = !state_.begun;
    begin_ = case_after(begin_, schedule_, state_.step);
    const Case end = case_within(begin_, step, 1.0);
    length_ = distance_of(step, begin_.setting.surface_speed, end.setting.surface_speed);
    if (!fresh) return true;
    state_.begun = true;
    state_.in_step = 0.0, state_.next_step = 1.0;
    if (!tip_ || step.new_blade) {
        if (!start_blade()) return false;
    } else if (moves_holder(step.set)) {
        const auto at = here(state_.tip, 0.0);
        Target to;
        if (!at || !set_holder(at->now, to) || !move_holder(to)) return false;
    }
    if (step.stopped) {
        const auto at = here(state_.tip, 0.0);
        if (!at) return false;
        HeldNip nip(at->now, tip_->held(state_.tip), nip_);
        const State risen = nip.from_rest({state_.angle, state_.u}, at->target);
        ++solves_;
        if (!risen.ok()) return fail(risen.status, "from rest: " + std::string(describe(risen.status)));
        state_.angle = risen.angle, state_.u = risen.u;
        state_.time += step.duration;
    }
    if (moves_holder(step.ramp)) {
        // Where a blade with today's facet would have to be set: wear within the ramp is left out of that.
        const auto at = here(state_.tip, length_);
        Target to;
        if (!at || !set_holder(at->now, to)) return false;
        state_.load_end = to.load, state_.interference_end = to.interference;
        const auto now = here(state_.tip, 0.0);
        if (!now) return false;
        state_.interference = now->target.interference;
        state_.recess = recess(tip_->cut(state_.tip), now->now.setting.set_angle);
    }
    return true;
}

void WearRun::end_step() {
    const Target last = kept(1.0);
    state_.load = state_.load_end = last.load, state_.interference = state_.interference_end = last.interference;
    begin_ = case_within(begin_, schedule_[state_.step], 1.0);
    ++state_.step;
    state_.step_start += std::max(length_, state_.in_step);
    state_.begun = false;
}

void WearRun::move_to(const Vector& y, double in_step, const Look& look) {
    const auto speed = [&](double at) {
        return case_within(begin_, schedule_[state_.step], length_ > 0.0 ? at / length_ : 0.0).setting.surface_speed;
    };
    const double run = in_step - state_.in_step;
    if (run > 0.0) state_.time += time_over(run, speed(state_.in_step), speed(in_step));
    state_.in_step = in_step, state_.tip = y;
    state_.distance = state_.step_start + in_step;
    state_.angle = look.place.angle, state_.u = look.place.u;
}

void WearRun::record(WearHistory& out, const Look& look) {
    const Vector& y = state_.tip;
    const auto at = here(y, state_.in_step);
    HeldNip nip(at->now, tip_->held(y), nip_);
    const OperatingPoint p = nip.report(nip.settle(look.place, at->target), at->target);
    const Cut cut = tip_->cut(y);
    out.distance.push_back(state_.distance), out.time.push_back(state_.time);
    out.step.push_back(static_cast<int>(state_.step));
    out.facet_length.push_back(cut.length), out.bedded_angle.push_back(tip_->bedded_angle(y));
    out.effective_angle.push_back(p.effective_angle), out.length_lost.push_back(cut.length_lost);
    out.removed_area.push_back(tip_->area(y)), out.worn_area.push_back(tip_->worn(y));
    out.film_on_lands.push_back(look.film), out.film_over_turn.push_back(look.film_over_turn);
    out.excess_ink.push_back(look.excess), out.asperity_load.push_back(look.rub.asperity_load);
    out.line_load.push_back(p.line_load), out.tangential_load.push_back(p.tangential_load);
    out.interference.push_back(p.interference), out.regime.push_back(p.regime);
}

double WearRun::progress(WearEventKind kind, const Vector& y, double in_step) {
    const auto over = [](const std::optional<double>& limit, double value) {
        return limit ? value / *limit - 1.0 : kNan;
    };
    switch (kind) {
        case WearEventKind::fully_worn:
            return tip_->frame().fully_worn ? kNan : tip_->beyond_full(y);
        case WearEventKind::facet_limit:
            return over(options_.facet_limit, tip_->cut(y).length);
        case WearEventKind::length_limit:
            return over(options_.length_limit, tip_->cut(y).length_lost);
        case WearEventKind::thin_tip_used_up:
            return thin_length_ > 0.0 ? tip_->cut(y).length_lost / thin_length_ - 1.0 : kNan;
        case WearEventKind::excess_limit: {
            Look seen;
            if (!options_.excess_limit || !look(y, in_step, seen)) return kNan;
            return (seen.excess - *options_.excess_limit) / std::max(*options_.excess_limit, 1e-9);
        }
        case WearEventKind::branch_jump:
            return kNan;  // seen by the integrator
    }
    return kNan;
}

void WearRun::wear_through() noexcept { tip_->wear_through(), state_.fully_worn = true; }

}  // namespace libblade::detail
