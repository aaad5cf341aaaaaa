#include "nip_prepare.hpp"

#include <algorithm>
#include <cmath>

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
    if (auto problems = check(c); !problems.empty()) throw InvalidInput(std::move(problems));
}

void require_number(const Case& c, const std::string& field) {
    const Field* known = find_field(field);
    if (known == nullptr || known->kind != FieldKind::number || !has_field(c, field))
        throw InvalidInput({{field, "", "is not a number that this case has"}});
}

bool sets_holder(const std::string& field) {
    const auto begins_with = [&](const char* start) { return field.rfind(start, 0) == 0; };
    return (begins_with("blade.") && field != "blade.specific_wear") || begins_with("tip.") ||
           begins_with("setting.actuator.") || field == "setting.set_angle" || field == "setting.line_load" ||
           field == "setting.interference";
}

Case bedding_case(const Case& c, const BeddedElsewhere& elsewhere) {
    Case other = c;
    other.setting.set_angle = elsewhere.set_angle;
    other.setting.load = LineLoad{elsewhere.line_load};
    std::get<Facet>(other.tip).bedding = BeddedHere{};
    return other;
}

namespace {

/// Where the facet was run in: its angle and length. False when that setting has no solution.
bool find_bedding(const Case& c, const NipOptions& options, Prepared& p) {
    const auto* facet = std::get_if<Facet>(&c.tip);
    p.bedded_angle = p.reference.angle, p.facet_length = p.reference.facet_length;
    if (facet == nullptr) return true;
    if (const auto* angle = std::get_if<BeddedAngle>(&facet->bedding)) {
        p.bedded_angle = angle->angle;
        const auto* length = std::get_if<double>(&facet->length);
        p.facet_length = length != nullptr ? *length : worn_facet_length(tip_thickness(c.blade), angle->angle);
    } else if (p.there) {
        p.there->hold_friction(options.constant_friction);
        p.run_in = p.there->bed();
        p.worn_there = p.there->fully_worn();
        p.status = p.run_in.status;
        if (!p.run_in.ok()) return false;
        p.bedded_angle = p.run_in.angle, p.facet_length = p.run_in.facet_length;
    }
    return true;
}

}  // namespace

bool bedded_elsewhere(const Case& c) {
    const auto* facet = std::get_if<Facet>(&c.tip);
    return facet != nullptr && !std::holds_alternative<BeddedHere>(facet->bedding);
}

Prepared prepare(const Case& c, const NipOptions& options) {
    Prepared p(NipSolver(c, options.mesh, options.tables));
    const auto* facet = std::get_if<Facet>(&c.tip);
    if (const auto* elsewhere = facet != nullptr ? std::get_if<BeddedElsewhere>(&facet->bedding) : nullptr)
        p.there.emplace(bedding_case(c, *elsewhere), options.mesh, options.tables);
    prepare(c, options, p);
    return p;
}

void prepare(const Case& c, const NipOptions& options, Prepared& p) {
    p.solver.hold_friction(options.constant_friction);
    p.reference = p.solver.bed();
    p.status = p.reference.status;
    if (!p.reference.ok()) return;
    if (!find_bedding(c, options, p)) return;
    if (bedded_elsewhere(c)) {
        // The holder stands where a blade bedded here with this facet would carry the set load.
        p.reference = p.solver.bed(&p.facet_length);
        p.status = p.reference.status;
        if (!p.reference.ok()) return;
    }
    p.solver.adopt(p.reference, p.reference.angle, p.facet_length);
    p.target = {c.setting.holding == Holding::fixed, p.reference.load, p.reference.state.interference};

    p.bedded_stable = p.solver.stable(p.reference.state, p.target);
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
}

double excess(const Prepared& p, const State& s, double speed) {
    return std::max(0.0, s.film_on_lands(speed) - p.solver.clean_wipe_film(s.force.normal));
}

}  // namespace libblade::detail
