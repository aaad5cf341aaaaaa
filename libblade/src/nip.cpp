#include "libblade/nip.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "libblade/contact.hpp"
#include "libblade/film.hpp"
#include "libblade/heat.hpp"
#include "libblade/parameters.hpp"
#include "nip_solver.hpp"

namespace libblade {

namespace {

using detail::Bedded;
using detail::NipSolver;
using detail::State;
using detail::Target;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kStepPart = 0.025;  // a step is followed in parts of 2.5 % so that it stays on its branch

/// A solved nip ready for questions: the solver bedded and set, what the holder keeps, and the state reached.
struct Prepared {
    NipSolver solver;
    Target target;
    Bedded reference;  ///< bedded at this very setting: fixes the holder position
    double bedded_angle = 0.0, facet_length = 0.0;
    State state;
    Branch branch = Branch::none;
    bool bedded_stable = false;
    Status status = Status::not_run;
};

Convergence outcome(Status status) {
    Convergence c;
    c.status = status;
    c.tolerance = 1e-10;
    if (status != Status::converged) c.message = std::string(describe(status));
    return c;
}

/// Where the facet was run in: its angle and length. False when that setting has no solution.
bool find_bedding(const Case& c, const NipOptions& options, const Bedded& here, Prepared& p) {
    const auto* facet = std::get_if<Facet>(&c.tip);
    p.bedded_angle = here.angle, p.facet_length = here.facet_length;
    if (facet == nullptr) return true;
    if (const auto* angle = std::get_if<BeddedAngle>(&facet->bedding)) {
        p.bedded_angle = angle->angle;
        const auto* length = std::get_if<double>(&facet->length);
        p.facet_length = length != nullptr ? *length : worn_facet_length(tip_thickness(c.blade), angle->angle);
    } else if (const auto* elsewhere = std::get_if<BeddedElsewhere>(&facet->bedding)) {
        Case other = c;
        other.setting.set_angle = elsewhere->set_angle;
        other.setting.load = LineLoad{elsewhere->line_load};
        std::get<Facet>(other.tip).bedding = BeddedHere{};
        NipSolver there(other, options.mesh, options.tables);
        const Bedded run_in = there.bed();
        p.status = run_in.status;
        if (!run_in.ok()) return false;
        p.bedded_angle = run_in.angle, p.facet_length = run_in.facet_length;
    }
    return true;
}

bool bedded_elsewhere(const Case& c) {
    const auto* facet = std::get_if<Facet>(&c.tip);
    return facet != nullptr && !std::holds_alternative<BeddedHere>(facet->bedding);
}

Prepared prepare(const Case& c, const NipOptions& options) {
    Prepared p{NipSolver(c, options.mesh, options.tables), {}, {}, 0.0, 0.0, {}, Branch::none, false, Status::not_run};
    p.reference = p.solver.bed();
    p.status = p.reference.status;
    if (!p.reference.ok()) return p;
    if (!find_bedding(c, options, p.reference, p)) return p;
    if (bedded_elsewhere(c)) {
        // The holder stands where a blade bedded here with this facet would carry the set load.
        p.reference = p.solver.bed(&p.facet_length);
        p.status = p.reference.status;
        if (!p.reference.ok()) return p;
    }
    p.solver.adopt(p.reference, p.reference.angle, p.facet_length);
    p.target = {c.setting.holding == Holding::fixed, p.reference.load, p.reference.state.interference};

    p.bedded_stable = p.solver.drive_slope(p.reference.state, p.target) < 0.0;
    p.solver.adopt(p.reference, p.bedded_angle, p.facet_length);

    State bedded = p.reference.state;
    bedded.tilt = p.solver.sign() * (p.bedded_angle - p.reference.angle);
    if (options.start == Start::riding) {
        p.state = p.solver.relax(p.solver.thickest(p.target, bedded), p.target);
        p.branch = Branch::riding;
    } else if (bedded_elsewhere(c)) {
        p.state = p.solver.from_rest(p.target, bedded);
        p.branch = Branch::wiping;
    } else {
        p.state = p.reference.state;
        p.branch = Branch::bedded;
        if (!p.bedded_stable) {
            // Parallel is not where the blade stays: it turns away; the wiping side is the one that closes the leading gap.
            State nudged = p.state;
            nudged.tilt = -0.05 * p.solver.tilt_scale();
            p.state = p.solver.relax(nudged, p.target);
            p.branch = Branch::wiping;
        }
    }
    p.status = p.state.status;
    return p;
}

double excess(const Prepared& p, const State& s, double speed) {
    return std::max(0.0, s.film_on_lands(speed) - p.solver.clean_wipe_film(s.force.normal));
}

State stepped(Prepared& p, double relative) {
    Target end = p.target;
    (end.fixed ? end.interference : end.load) *= 1.0 + relative;
    const int parts = std::max(1, static_cast<int>(std::ceil(std::abs(relative) / kStepPart - 1e-9)));
    return p.solver.follow(p.state, p.target, end, parts);
}

void flag(OperatingPoint& out, const char* name, double value, double limit, const char* message) {
    if (value > limit) out.validity.push_back({name, value, limit, message});
}

void respond_to_step(const Case& c, Prepared& p, OperatingPoint& out) {
    const double U = c.setting.surface_speed;
    double film = out.film_on_lands, over = out.excess_ink;
    for (const double relative : {c.setting.load_step, -c.setting.load_step}) {
        const State s = stepped(p, relative);
        if (!s.ok()) {
            out.validity.push_back(
                {"load_step", relative, 0.0, "the load step has no solution: " + std::string(describe(s.status))});
            film = over = kNan;
            break;
        }
        film = std::max(film, s.film_on_lands(U));
        over = std::max(over, excess(p, s, U));
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
        const Status why = in.status;
        out.validity.push_back({"run_out", c.roll.run_out, 0.0,
                                "the run-out of the roll leads to no solution: " + std::string(describe(why))});
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

Regime regime_of(const OperatingPoint& out, const State& s) {
    if (s.contact.film.starved) return Regime::starved;
    const double share = out.asperity_load_share;
    const double centre = out.asperity_load > 0.0 ? s.contact.asperity_moment / out.asperity_load : 0.0;
    if (share > 0.5 && out.facet_length > 0.0 && std::abs(centre) > 0.35 * out.facet_length)
        return Regime::heel_contact;
    if (share < 0.05) return Regime::riding;
    return share > 0.7 ? Regime::wiping : Regime::mixed;
}

/// The arrays that the solver's last contact left behind.
Section section_of(const NipSolver& solver, const kernel::FilmPass<double>& film) {
    const auto& a = solver.arrays();
    const double U = solver.setup().speed;
    Section out{{a.x.begin(), a.x.end()}, {a.gap.begin(), a.gap.end()}, {a.pressure.begin(), a.pressure.end()}, {}, {}};
    for (std::size_t i = 0; i < a.x.size(); ++i) {
        out.asperity_pressure.push_back(asperity_pressure(solver.setup().asperities, a.separation[i]));
        const bool torn = film.ruptured && a.x[i] > film.rupture_x;
        const bool dry = film.starved && a.x[i] < film.start_x;
        out.void_fraction.push_back(torn || dry ? std::max(0.0, 1.0 - 2.0 * film.flow / (U * a.couette_gap[i])) : 0.0);
    }
    return out;
}

/// Pressures along the nip and what is read off them.
void describe_contact(const Case& c, Prepared& p, OperatingPoint& out, bool keep_section) {
    const State& s = p.state;
    (void)p.solver.contact_at(s.tilt, s.angle, s.low_gap);
    const auto& a = p.solver.arrays();
    const auto& setup = p.solver.setup();
    std::vector<double> film(a.pressure.begin(), a.pressure.end()), solid(a.x.size()), both(a.x.size());
    for (std::size_t i = 0; i < a.x.size(); ++i) {
        solid[i] = asperity_pressure(setup.asperities, a.separation[i]);
        both[i] = film[i] + solid[i];
    }
    const auto corner = static_cast<std::size_t>(setup.mesh.flank_in + setup.mesh.arc);
    double wedge = s.contact.outer_load;
    for (std::size_t i = 1; i <= corner; ++i) wedge += 0.5 * (film[i] + film[i - 1]) * (a.x[i] - a.x[i - 1]);
    const double N = s.force.normal;
    out.wedge_load_share = wedge / N;
    out.film_load_share = (s.contact.film_load + s.contact.outer_load - wedge) / N;
    out.asperity_load_share = s.contact.asperity_load / N;
    out.peak_pressure = *std::max_element(both.begin(), both.end());
    out.contact_width = load_bearing_width(a.x, both).width;
    out.bearing_pressure = 0.95 * N / out.contact_width;
    out.mean_pressure = N / (out.facet_length > 0.0 ? out.facet_length : out.contact_width);

    const double h = *std::min_element(a.gap.begin(), a.gap.end());
    out.min_film = h;
    out.lambda_ratio =
        setup.asperities.sigma > 0.0 ? h / setup.asperities.sigma : std::numeric_limits<double>::infinity();
    const double eta = setup.nominal_viscosity, U = setup.speed;
    flag(out, "corner_reynolds", setup.density * U * h / eta, 1.0, "inertia in the thinnest film");
    const double pitch_here = pitch(c.roll.engraving);
    if (c.roll.engraving.pattern != Pattern::smooth && out.facet_length > 0.0)
        flag(out, "cells_per_facet", -out.facet_length / pitch_here, -2.0,
             "fewer than two cells under the facet: cells are not averaged");
    if (s.contact.outer_load > 0.1 * N)
        flag(out, "outer_wedge", s.contact.outer_load / N, 0.1,
             "the inertial part of the wedge is an order of magnitude");
    if (keep_section) out.section = section_of(p.solver, s.contact.film);
}

void describe_blade(const Case& c, Prepared& p, OperatingPoint& out, bool keep_shape) {
    const Strip strip = p.solver.strip(p.facet_length, p.bedded_angle);
    const Bent bent = bent_at(strip, p.state.angle, p.state.force);
    out.tip_deflection = bent.tip_deflection;
    out.tip_rotation = bent.tip_rotation;
    out.max_bending_stress = bent.max_stress;
    out.stress_ratio = out.max_bending_stress / c.blade.material.yield_strength;
    out.tangent_stiffness = tangent_stiffness(strip, p.state.angle, p.state.force);
    const double edge = std::visit([](const auto& tip) { return tip.edge_radius; }, c.tip);
    const EdgeContact unworn = edge_contact(
        p.state.force.normal, edge, contact_modulus(c.blade.material, c.roll.material), c.blade.material.hardness,
        c.roll.material.hardness, 0.5 * std::numbers::pi - p.state.angle, p.state.angle);
    out.elastic_width = unworn.width;
    out.elastic_pressure = unworn.mean_pressure;
    if (keep_shape) out.blade = strip_shape(strip, bent, p.state.force);
}

void fill(const Case& c, Prepared& p, OperatingPoint& out, const NipOptions& options) {
    const State& s = p.state;
    const double U = c.setting.surface_speed;
    const double cells =
        c.roll.engraving.pattern == Pattern::smooth ? 0.0 : cell_volume(c.roll.engraving) * c.roll.engraving.fill;
    out.film_on_lands = s.film_on_lands(U);
    out.clean_wipe_film = p.solver.clean_wipe_film(s.force.normal);
    out.excess_ink = std::max(0.0, out.film_on_lands - out.clean_wipe_film);
    out.ink_carried = out.film_on_lands + cells;
    out.interference = s.interference;
    out.effective_angle = s.angle;
    out.facet_tilt = p.facet_length > 0.0 ? s.tilt : 0.0;
    out.bedded_angle = p.facet_length > 0.0 ? p.bedded_angle : kNan;
    out.line_load = s.force.normal;
    out.tangential_load = s.contact.tangential;
    out.hydrodynamic_lift = s.contact.film_load + s.contact.outer_load;
    out.asperity_load = s.contact.asperity_load;
    out.friction_coefficient = out.tangential_load / out.line_load;
    out.facet_length = p.facet_length;
    out.power_per_width = out.tangential_load * U;
    out.film_temperature = c.ink.temperature + s.contact.temperature_rise;
    out.wear_rate = c.blade.specific_wear * out.asperity_load / tip_thickness(c.blade);
    describe_contact(c, p, out, options.section);
    describe_blade(c, p, out, options.section);
    out.regime = regime_of(out, s);
    out.branch = p.branch;
    out.bedded_stable = p.bedded_stable;
    flag(out, "nahme", nahme_number(c.ink, p.solver.setup().nominal_viscosity, U, out.film_temperature), 1.0,
         "dissipation across the film changes its viscosity: the lumped heat balance is rough");
    flag(out, "friction_ratio", out.friction_coefficient, 0.4,
         "friction this high is seldom seen: check viscosity at high shear");
    const SurfaceCompliance give =
        surface_compliance(c.blade.material, out.facet_length, tip_thickness(c.blade), out.effective_angle);
    if (p.solver.compliance() > 0.0)
        flag(out, "soft_surface", give.indentation * out.mean_pressure / out.min_film, 1.0,
             "the tip is dented by more than the film: Winkler's rule for its surface is rough");
    if (out.facet_length > 0.0)
        flag(out, "feather", give.feather_front * out.mean_pressure / out.min_film, 1.0,
             "the thin front of the worn facet bends by more than the film, which is not in the gap");
    flag(out, "stress_ratio", out.stress_ratio, 1.0, "the blade yields");
    flag(out, "tip_rotation", out.tip_rotation, 0.7, "tip rotation beyond 40 deg");
}

}  // namespace

OperatingPoint::OperatingPoint() {
    for (double* v :
         {&film_on_lands,     &excess_ink,      &film_after_step,      &excess_after_step, &ink_carried,
          &min_film,          &clean_wipe_film, &tip_deflection,       &interference,      &effective_angle,
          &tip_rotation,      &facet_tilt,      &bedded_angle,         &line_load,         &tangential_load,
          &hydrodynamic_lift, &asperity_load,   &friction_coefficient, &facet_length,      &contact_width,
          &elastic_width,     &mean_pressure,   &peak_pressure,        &film_load_share,   &asperity_load_share,
          &wedge_load_share,  &lambda_ratio,    &power_per_width,      &film_temperature,  &max_bending_stress,
          &stress_ratio,      &wear_rate,       &tangent_stiffness,    &bearing_pressure,  &elastic_pressure,
          &run_out_load,      &run_out_angle,   &run_out_tilt,         &film_over_turn})
        *v = kNan;
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

OperatingPoint solve(const Case& nip_case, const NipOptions& options) {
    if (auto problems = check(nip_case); !problems.empty()) throw InvalidInput(std::move(problems));
    OperatingPoint out;
    Prepared p = prepare(nip_case, options);
    out.convergence = outcome(p.status);
    if (!out.convergence.ok()) return out;
    out.convergence.residual = std::abs(p.branch == Branch::bedded ? 0.0 : p.state.drive);
    fill(nip_case, p, out, options);
    if (options.step_response) respond_to_step(nip_case, p, out);
    if (options.run_out) respond_to_run_out(nip_case, p, out);
    if (options.other_branch) out.other_branch_exists = has_other_branch(p, options);
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
    within("tilt", place.tilt, -0.5, 0.5);
    within("low_gap", place.low_gap, -1e-6, 1e-2);
    if (!problems.empty()) throw InvalidInput(std::move(problems));
    NipSolver solver(nip_case, options.mesh, options.tables);
    solver.take_tip(place.effective_angle, place.facet_length);
    const auto contact =
        solver.contact_at(place.tilt, place.effective_angle - solver.sign() * place.tilt, place.low_gap);
    TipFilm out;
    out.film_load = contact.film_load, out.outer_load = contact.outer_load, out.asperity_load = contact.asperity_load;
    out.moment = contact.moment, out.tangential_load = contact.tangential, out.flow = contact.film.flow;
    out.temperature_rise = contact.temperature_rise;
    const bool sound = std::isfinite(contact.normal()) && !contact.unsettled;
    out.convergence = outcome(sound ? solver.tables_status() : Status::non_finite);
    if (sound) out.section = section_of(solver, contact.film);
    return out;
}

SpeedLimit speed_limit(const Case& nip_case, double excess_limit, double factor) {
    if (auto problems = check(nip_case); !problems.empty()) throw InvalidInput(std::move(problems));
    if (!(excess_limit > 0.0))
        throw InvalidInput({{"excess_limit", std::to_string(excess_limit), "must be above 0 m"}});
    if (!(factor > 1.0 && factor <= 20.0))
        throw InvalidInput({{"factor", std::to_string(factor), "must be between 1 and 20"}});
    const double U = nip_case.setting.surface_speed;
    SpeedLimit out{kNan, kNan, U / factor, U * factor, {}};
    Prepared p = prepare(nip_case, {});
    out.convergence = outcome(p.status);
    if (!out.convergence.ok()) return out;
    const auto over = [&](State& s, double speed) {
        p.solver.set_speed(speed);
        s = p.solver.relax(s, p.target);
        return s.ok() ? excess(p, s, speed) - excess_limit : kNan;
    };
    for (const bool faster : {true, false}) {
        double& limit = faster ? out.upper : out.lower;
        State s = p.state;
        double before = U, f_before = over(s, U);
        if (f_before > 0.0) {
            limit = U;
            continue;
        }
        constexpr int parts = 40;
        for (int k = 1; k <= parts; ++k) {
            const State last = s;
            const double speed = U * std::pow(factor, (faster ? 1.0 : -1.0) * k / parts);
            const double f = over(s, speed);
            if (std::isnan(f)) {
                out.convergence = outcome(s.status);
                out.convergence.message =
                    "no solution at " + std::to_string(speed) + " m/s: " + out.convergence.message;
                break;
            }
            if (f > 0.0) {
                // Halves from the last good state: across a fold the answer is the jump itself.
                double low = before, high = speed;
                for (int i = 0; i < 30; ++i) {
                    State trial = last;
                    const double middle = 0.5 * (low + high), value = over(trial, middle);
                    (value > 0.0 ? high : low) = middle;
                }
                limit = 0.5 * (low + high);
                break;
            }
            before = speed, f_before = f;
        }
        p.solver.set_speed(U);
    }
    return out;
}

}  // namespace libblade
