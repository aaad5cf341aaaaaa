#include "nip_prepare.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "libblade/contact.hpp"
#include "libblade/error.hpp"
#include "libblade/parameters.hpp"

namespace libblade::detail {

void outcome(Status status, Convergence& out) {
    out.status = status;
    out.tolerance = 1e-10;
    if (status != Status::converged) out.message.assign(describe(status));
}

Convergence outcome(Status status) {
    Convergence c;
    outcome(status, c);
    return c;
}

void require_sound(const Case& c) {
    if (!is_sound(c)) throw InvalidInput(check(c));
}

void require_number(const Case& c, const std::string& field) {
    const Field* known = find_field(field);
    if (known == nullptr || known->kind != FieldKind::number || !has_field(c, field))
        throw InvalidInput({{field, "", "is not a number that this case has"}});
}

std::vector<Problem> problems_of_fields(std::span<const std::string> fields, Case& trial) {
    std::vector<Problem> problems;
    for (const std::string& path : fields) {
        const Field* field = find_field(path);
        if (field == nullptr || field->kind != FieldKind::number) {
            problems.push_back({path, "", field == nullptr ? "is not a known field" : "is a choice, not a number"});
            continue;
        }
        if (std::count(fields.begin(), fields.end(), path) > 1)
            problems.push_back({path, "twice", "can be given once"});
        const double now = get_number(trial, path);
        try {
            set_number(trial, path, now == now ? now : 0.5 * (field->usual_min + field->usual_max));
        } catch (const InvalidInput& bad) {
            problems.insert(problems.end(), bad.problems().begin(), bad.problems().end());
        }
    }
    if (problems.empty())
        for (const std::string& path : fields)
            if (!has_field(trial, path)) problems.push_back({path, "", "is taken away by another field that is given"});
    return problems;
}

bool sets_holder(const std::string& field) {
    const auto begins_with = [&](const char* start) { return field.rfind(start, 0) == 0; };
    return (begins_with("blade.") && field != "blade.specific_wear") || begins_with("tip.") ||
           begins_with("setting.actuator.") || field == "setting.set_angle" || field == "setting.line_load" ||
           field == "setting.interference";
}

void bedding_case(const Case& c, const BeddedElsewhere& elsewhere, Case& out) {
    out = c;
    out.setting.set_angle = elsewhere.set_angle;
    out.setting.load = LineLoad{elsewhere.line_load};
    std::get<Facet>(out.tip).bedding = BeddedHere{};
}

Case bedding_case(const Case& c, const BeddedElsewhere& elsewhere) {
    Case out;
    bedding_case(c, elsewhere, out);
    return out;
}

const BeddedElsewhere* ran_in_elsewhere(const Case& c) noexcept {
    const auto* facet = std::get_if<Facet>(&c.tip);
    return facet != nullptr ? std::get_if<BeddedElsewhere>(&facet->bedding) : nullptr;
}

namespace {

/// Where the facet was run in: its angle and length. False when that setting has no solution.
bool find_bedding(const Case& c, const NipOptions& options, Prepared& p) {
    const auto* facet = std::get_if<Facet>(&c.tip);
    if (const auto* angle = std::get_if<BeddedAngle>(&facet->bedding)) {
        p.bedded_angle = angle->angle;
        const auto* length = std::get_if<double>(&facet->length);
        p.facet_length = length != nullptr ? *length : worn_facet_length(tip_thickness(c.blade), angle->angle);
    } else if (p.there) {
        p.there->hold_friction(options.constant_friction);
        p.run_in = p.there->bed(nullptr, options.near != nullptr ? &options.near->there : nullptr);
        p.worn_there = p.there->fully_worn();
        p.status = p.run_in.status;
        if (!p.run_in.ok()) return false;
        p.bedded_angle = p.run_in.angle, p.facet_length = p.run_in.facet_length;
    }
    return true;
}

/// From where the blade stood. False: no state was found from there.
bool go_on(const WarmStart& near, Prepared& p) {
    const State start = p.solver.look(p.solver.sign() * (p.bedded_angle - near.angle), near.u);
    if (!start.ok() || !(start.force.normal > 0.0)) return false;
    p.state = p.solver.settle(start, p.target);
    return p.state.ok();
}

/// A search that has found neither an answer nor a reason why there is none.
bool lost(Status s) noexcept {
    return s == Status::stagnated || s == Status::non_finite || s == Status::max_iterations;
}

/// The state that the options ask for, with the holder set and the facet known.
void find_state(const Case& c, const NipOptions& options, Prepared& p) {
    WarmStart* const near = options.near;
    WarmStart::Bed* const here = near != nullptr ? &near->here : nullptr;
    const bool elsewhere = bedded_elsewhere(c);
    p.solver.hold_friction(options.constant_friction);
    if (elsewhere) {
        // The holder stands where a blade bedded here with this facet would carry the set load.
        if (!find_bedding(c, options, p)) return;
        p.reference = p.solver.bed(&p.facet_length, here);
    } else {
        p.reference = p.solver.bed(nullptr, here);
        p.bedded_angle = p.reference.angle, p.facet_length = p.reference.facet_length;
    }
    p.status = p.reference.status;
    if (!p.reference.ok()) return;
    p.solver.adopt(p.reference, p.reference.angle, p.facet_length);
    p.target = {c.setting.holding == Holding::fixed, p.reference.load, p.reference.state.interference};

    p.bedded_stable = p.solver.stable(p.reference.state, p.target, p.reference.answer);
    p.solver.adopt(p.reference, p.bedded_angle, p.facet_length);

    State bedded = p.reference.state;
    bedded.tilt = p.solver.sign() * (p.bedded_angle - p.reference.angle);
    const bool stays = options.start == Start::resting && !elsewhere && p.bedded_stable;
    p.branch = stays ? Branch::bedded : options.start == Start::riding ? Branch::riding : Branch::wiping;
    if (stays) {
        p.state = p.reference.state;
    } else if (near == nullptr || !near->stands || !go_on(*near, p)) {
        if (options.start == Start::riding) {
            p.state = p.solver.relax(p.solver.thickest(p.target, bedded), p.target);
        } else if (elsewhere) {
            p.state = p.solver.from_rest(p.target, bedded);
        } else {
            // Parallel is not where the blade stays: it turns away; the wiping side is the one that closes the leading gap.
            State nudged = p.state = p.reference.state;
            nudged.tilt = -0.05 * p.solver.tilt_scale();
            p.state = p.solver.relax(nudged, p.target);
        }
    }
    // Under far more drag than where it was bedded the blade bends by more than the steps were chosen for.
    while (!stays && p.state.ok() && p.solver.raise_strip_steps(p.state)) p.state = p.solver.relax(p.state, p.target);
    if (p.state.ok() && p.solver.winds_up(p.state)) p.state.status = Status::out_of_range;
    // A facet that the blade holds that far from parallel is out of range wherever the search for its state has ended.
    if (lost(p.state.status) && std::abs(bedded.tilt) > kLargestTilt) p.state.status = Status::out_of_range;
    p.status = p.state.status;
}

Prepared set_up(const Case& c, const NipOptions& options) {
    Prepared p(NipSolver(c, options.mesh, options.tables));
    if (const auto* elsewhere = ran_in_elsewhere(c))
        p.there.emplace(bedding_case(c, *elsewhere), options.mesh, options.tables);
    return p;
}

}  // namespace

bool bedded_elsewhere(const Case& c) {
    const auto* facet = std::get_if<Facet>(&c.tip);
    return facet != nullptr && !std::holds_alternative<BeddedHere>(facet->bedding);
}

Prepared prepare(const Case& c, const NipOptions& options) {
    Prepared p = set_up(c, options);
    prepare(c, options, p);
    // A search that is lost here may not be a step aside, and goes on from there; a soft film that leaps from node to node, where
    // its end is a layer thinner than a cell, does not in cells half as long. Both together cost no more than half of what this search may.
    constexpr int kMuch = 20000, kFine = 2;
    if (!lost(p.status) || p.solver.soft_sweeps() > kMuch) return p;
    int left = kMuch / 2;
    const auto search = [&](const Case& of, const NipOptions& how) {
        Prepared found = set_up(of, how);
        found.solver.stop_after(left);
        prepare(of, how, found);
        left -= found.solver.soft_sweeps();
        found.solver.stop_after(std::numeric_limits<int>::max());
        return found;
    };
    for (const double beside : {1.01, 0.99}) {
        Case aside = c;
        std::visit([&](auto load) { load.value *= beside, aside.setting.load = load; }, load_of(c.setting));
        if (!check(aside).empty()) continue;
        WarmStart near;
        NipOptions on = options;
        on.near = &near;
        if (search(aside, on).status != Status::converged) continue;
        Prepared again = search(c, on);
        if (again.status == Status::converged) return again;
    }
    if (p.solver.compliance() > 0.0 && options.mesh < kFine) {
        NipOptions finer = options;
        finer.mesh = kFine, finer.near = nullptr;
        Prepared again = search(c, finer);
        if (!lost(again.status)) return again;
    }
    return p;
}

void prepare(const Case& c, const NipOptions& options, Prepared& p) {
    WarmStart* const near = options.near;
    find_state(c, options, p);
    if (near == nullptr) return;
    near->stands = p.status == Status::converged && p.branch != Branch::bedded;
    if (near->stands)
        near->angle = p.state.angle, near->u = p.state.u;
    else if (p.status != Status::converged)
        near->forget();
}

double excess(const State& s, double speed, double clean_wipe_film) {
    const double over = s.film_on_lands(speed) - clean_wipe_film;
    return over > 0.0 || std::isnan(over) ? over : 0.0;
}

double excess(const Prepared& p, const State& s, double speed) {
    return excess(s, speed, p.solver.clean_wipe_film(s.force.normal));
}

}  // namespace libblade::detail
