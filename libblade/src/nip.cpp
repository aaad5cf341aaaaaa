#include "libblade/nip.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "libblade/contact.hpp"
#include "libblade/film.hpp"
#include "libblade/heat.hpp"
#include "libblade/parameters.hpp"
#include "nip_prepare.hpp"

namespace libblade {

namespace {

using namespace detail;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

State stepped(Prepared& p, double relative) {
    Target end = p.target;
    (end.fixed ? end.interference : end.load) *= 1.0 + relative;
    return p.solver.follow(p.state, p.target, end);
}

void respond_to_step(const Case& c, Prepared& p, OperatingPoint& out) {
    const double U = c.setting.surface_speed;
    double film = out.film_on_lands, over = out.excess_ink;
    for (const double relative : {c.setting.load_step, -c.setting.load_step}) {
        const State s = stepped(p, relative);
        if (!s.ok()) {
            out.validity.push_back({"load_step", relative, 0.0, "the load step has no solution", s.status});
            film = over = kNan;
            break;
        }
        film = std::max(film, s.film_on_lands(U));
        const double beyond = excess(p, s, U);
        if (std::isnan(beyond) && !std::isnan(over))
            out.validity.push_back({"clean_wipe", s.force.normal / p.facet_length, p.solver.setup().asperities.cap,
                                    "no gap at which the asperities alone carry the load after the step: excess ink is "
                                    "not known",
                                    Status::converged});
        over = std::isnan(beyond) ? kNan : std::max(over, beyond);  // NaN stays
    }
    out.film_after_step = film;
    out.excess_after_step = over;
}

/// Roll run-out, slow against everything the blade does: the surface under a fixed holder comes and goes by half the indicator
/// reading, and facet and holder stay as they are. A floating holder follows the roll and feels nothing.
void respond_to_run_out(const Case& c, Prepared& p, OperatingPoint& out) {
    out.run_out_load = out.run_out_angle = out.run_out_tilt = 0.0;
    out.film_over_turn = out.film_on_lands;
    if (c.roll.run_out <= 0.0 || !p.target.fixed) return;
    const double relative = 0.5 * c.roll.run_out / p.target.interference;
    // Away first: a reading far beyond the advance lifts the blade off within a few parts, and the way in is not walked.
    const State away = stepped(p, -relative), in = away.ok() ? stepped(p, relative) : away;
    if (!in.ok()) {
        out.validity.push_back(
            {"run_out", c.roll.run_out, 0.0, "the run-out of the roll leads to no solution", in.status});
        out.run_out_load = out.run_out_angle = out.run_out_tilt = out.film_over_turn = kNan;
        return;
    }
    out.run_out_load = 0.5 * std::abs(in.force.normal - away.force.normal);
    out.run_out_angle = 0.5 * std::abs(in.angle - away.angle);
    out.run_out_tilt = p.facet_length > 0.0 ? 0.5 * std::abs(in.tilt - away.tilt) : 0.0;
    const double U = c.setting.surface_speed;
    out.film_over_turn = std::max({out.film_on_lands, in.film_on_lands(U), away.film_on_lands(U)});
}

bool has_other_branch(Prepared& p, const NipOptions& options) {
    // Near d = 0 a torn and an untorn film can both balance at nearly the same gap; that is no other branch to a pressroom.
    constexpr double same = 0.1;
    State other;
    if (options.start == Start::riding) {
        State rest = p.reference.state;
        rest.tilt = p.solver.sign() * (p.bedded_angle - p.reference.angle) - 0.05 * p.solver.tilt_scale();
        other = p.solver.relax(rest, p.target);
    } else {
        other = p.solver.relax(p.solver.thickest(p.target, p.state), p.target);
    }
    return other.ok() && std::abs(other.contact.film.flow / p.state.contact.film.flow - 1.0) > same;
}

}  // namespace

std::span<double OperatingPoint::*const> OperatingPoint::numbers() noexcept {
    using P = OperatingPoint;
    static constexpr double P::*all[] = {
        &P::film_on_lands,       &P::excess_ink,         &P::film_after_step, &P::excess_after_step,
        &P::ink_carried,         &P::min_film,           &P::leading_gap,     &P::ink_wedge_angle,
        &P::clean_wipe_film,     &P::tip_deflection,     &P::interference,    &P::effective_angle,
        &P::tip_rotation,        &P::facet_tilt,         &P::bedded_angle,    &P::line_load,
        &P::tangential_load,     &P::hydrodynamic_lift,  &P::asperity_load,   &P::friction_coefficient,
        &P::facet_length,        &P::contact_width,      &P::elastic_width,   &P::mean_pressure,
        &P::bearing_pressure,    &P::elastic_pressure,   &P::peak_pressure,   &P::film_load_share,
        &P::asperity_load_share, &P::wedge_load_share,   &P::lambda_ratio,    &P::power_per_width,
        &P::film_temperature,    &P::max_bending_stress, &P::stress_ratio,    &P::wear_rate,
        &P::tangent_stiffness,   &P::run_out_load,       &P::run_out_angle,   &P::run_out_tilt,
        &P::film_over_turn};
    return all;
}

OperatingPoint::OperatingPoint() {
    for (double OperatingPoint::*number : numbers()) this->*number = kNan;
}

void OperatingPoint::clear() noexcept {
    for (double OperatingPoint::*number : numbers()) this->*number = kNan;
    regime = Regime::none, branch = Branch::none;
    bedded_stable = other_branch_exists = false;
    validity.clear();
    section = {}, blade = {};
    convergence = {};
}

std::string ValidityFlag::text() const {
    std::string out(message);
    if (why != Status::converged) out.append(": ").append(describe(why));
    return out;
}

std::string_view to_string(Regime regime) noexcept {
    switch (regime) {
        case Regime::none:
            return "none";
        case Regime::wiping:
            return "wiping";
        case Regime::mixed:
            return "mixed";
        case Regime::riding:
            return "riding";
        case Regime::heel_contact:
            return "heel_contact";
        case Regime::starved:
            return "starved";
    }
    return "none";
}

std::string_view to_string(Branch branch) noexcept {
    switch (branch) {
        case Branch::none:
            return "none";
        case Branch::bedded:
            return "bedded";
        case Branch::wiping:
            return "wiping";
        case Branch::riding:
            return "riding";
    }
    return "none";
}

void detail::answer(const Case& nip_case, Prepared& p, const NipOptions& options, OperatingPoint& out) {
    out.clear();
    outcome(p.status, out.convergence);
    if (!out.convergence.ok()) return;
    out.convergence.residual = std::abs(p.branch == Branch::bedded ? 0.0 : p.state.drive);
    fill(nip_case, p, out, options);
    if (options.strength && std::isnan(out.tip_deflection)) {  // its shape lies where the strip's equations do not hold
        out.clear();
        outcome(Status::out_of_range, out.convergence);
        return;
    }
    if (options.step_response) respond_to_step(nip_case, p, out);
    if (options.run_out) respond_to_run_out(nip_case, p, out);
    if (options.other_branch) out.other_branch_exists = has_other_branch(p, options);
    if (options.section) {  // with all cells of the facet, after all numbers, which do not depend on who asks
        (void)p.solver.contact_at(p.state.tilt, p.state.angle, p.state.low_gap, true);
        out.section = section_of(p.solver, p.state.contact.film);
    }
}

OperatingPoint solve(const Case& nip_case, const NipOptions& options) {
    require_sound(nip_case);
    Prepared p = prepare(nip_case, options);
    OperatingPoint out;
    answer(nip_case, p, options, out);
    return out;
}

OperatingPoint solve_after_step(const Case& nip_case, double step, const NipOptions& options) {
    require_sound(nip_case);
    if (!(step >= -0.9 && step <= 1.0))
        throw InvalidInput({{"step", std::to_string(step), "must be between -0.9 and 1"}});
    Prepared p = prepare(nip_case, options);
    if (p.status == Status::converged && step != 0.0) {
        p.state = stepped(p, step);
        (p.target.fixed ? p.target.interference : p.target.load) *= 1.0 + step;
        p.status = p.state.status, p.branch = Branch::none;
    }
    OperatingPoint out;
    answer(nip_case, p, options, out);
    return out;
}

TipFilm tip_film(const Case& nip_case, const TipPlace& place, const NipOptions& options) {
    std::vector<Problem> problems = check(nip_case);
    const auto within = [&](const char* name, double value, double low, double high) {
        if (!(value >= low && value <= high))
            problems.push_back({name, std::to_string(value),
                                "must be between " + std::to_string(low) + " and " + std::to_string(high)});
    };
    within("effective_angle", place.effective_angle, 0.01, 1.56);
    within("facet_length", place.facet_length, 0.0, 1e-2);
    within("tilt", place.tilt, -kLargestTilt, kLargestTilt);
    within("low_gap", place.low_gap, -1e-6, 1e-2);
    if (!problems.empty()) throw InvalidInput(std::move(problems));
    NipSolver solver(nip_case, options.mesh, options.tables);
    solver.take_tip(place.effective_angle, place.facet_length);
    const auto contact =
        solver.contact_at(place.tilt, place.effective_angle - solver.sign() * place.tilt, place.low_gap, true);
    TipFilm out;
    out.film_load = contact.film_load, out.outer_load = contact.outer_load, out.asperity_load = contact.asperity_load;
    out.moment = contact.moment, out.tangential_load = contact.tangential, out.flow = contact.film.flow;
    out.temperature_rise = contact.temperature_rise;
    const bool sound = std::isfinite(contact.normal()) && !contact.unsettled;
    out.convergence = outcome(sound ? solver.tables_status() : Status::non_finite);
    if (out.convergence.ok()) out.convergence.residual = 0.0;  // no balance is sought
    if (sound) out.section = section_of(solver, contact.film);
    return out;
}

}  // namespace libblade
