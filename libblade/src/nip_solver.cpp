#include "nip_solver.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <utility>

#include "libblade/bending_case.hpp"
#include "libblade/contact.hpp"
#include "libblade/film.hpp"
#include "libblade/heat.hpp"
#include "libblade/root.hpp"

namespace libblade::detail {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kStiffSurface = 2e-15;  // [m/Pa] 2 nm per MPa: steel is rigid against a film of a quarter micrometre
constexpr double kMostLoad = 30.0;  // of the reference: beyond, one Newton step of a blade so far bent means nothing
constexpr double kClear = 0.05;  // of the parts of the elastic tilt's slope: what differences to one side have to leave
constexpr double kAside = 1e-3;  // in u: a look at the blade's answer to drag and centre

kernel::ContactMesh scaled_mesh(int mesh) {
    kernel::ContactMesh m;
    if (mesh == 0) return {m.flank_in / 2, m.arc / 2, m.facet / 2, m.flank_out / 2};
    return {m.flank_in * mesh, m.arc * mesh, m.facet * mesh, m.flank_out * mesh};
}

int finer(int mesh) { return std::max(1, 2 * mesh); }

}  // namespace

Case spelled_out(Case c) {
    spell_out(c);
    return c;
}

void spell_out(Case& c) {
    if (std::holds_alternative<ByActuator>(c.setting.load))
        std::visit([&](const auto& load) { c.setting.load = load; }, load_of(c.setting));
    if (auto* facet = std::get_if<Facet>(&c.tip)) {
        const auto* angle = std::get_if<BeddedAngle>(&facet->bedding);
        const auto* length = std::get_if<double>(&facet->length);
        if (angle != nullptr && length != nullptr && eats_whole_end(*length, angle->angle, tip_thickness(c.blade)))
            facet->length = WornLength{};
    }
}

bool NipSolver::beyond(double tilt, double angle) const noexcept {
    const bool steep = setup_.facet_length > 0.0 && std::abs(tilt) > kLargestTilt;
    return steep || angle < kSmallestAngle || angle > kSteepestAngle;
}

NipSolver::NipSolver(const Case& nip_case, int mesh, FlowTables* tables, std::optional<double> compliance)
    : NipSolver([&] {
          std::optional<FlowTables> own;
          if (tables == nullptr) tables = &own.emplace(1);
          Lasting l;
          l.nip_case = spelled_out(nip_case);
          l.cells = tables->cells(nip_case.roll.engraving);
          l.ink = tables->ink(nip_case.ink.rheology);
          if (l.cells && !l.cells->convergence.ok()) l.tables = l.cells->convergence.status;
          if (l.ink && !l.ink->convergence().ok()) l.tables = l.ink->convergence().status;
          l.asperities = asperity_law(nip_case.roll, nip_case.blade.material);
          l.mesh = mesh, l.given_compliance = compliance;
          return l;
      }()) {}

NipSolver::NipSolver(Lasting lasting) : lasting_(std::move(lasting)) {
    const Case& c = the_case();
    sign_ = c.setting.orientation == Orientation::doctoring ? 1 : -1;
    // Under a soft tip the film is solved to second order only, cell by cell: twice as many.
    const bool soft = lasting_.given_compliance.value_or(
                          surface_indentation(c.blade.material, tip_thickness(c.blade))) > kStiffSurface;
    setup_.mesh = scaled_mesh(soft ? finer(lasting_.mesh) : lasting_.mesh);
    setup_.density = c.ink.density;
    setup_.pressure_in = c.setting.chamber_pressure;
    setup_.film_supply = c.setting.film_supply.value_or(-1.0);
    setup_.land_fraction = land_fraction(c.roll.engraving);
    setup_.cells = lasting_.cells.get();
    setup_.flow_factor =
        lasting_.cells ? deep_flow_factor(c.roll.engraving) : c.roll.engraving.pressure_flow_factor.value_or(1.0);
    setup_.friction = c.setting.friction;
    setup_.supply_factor = temperature_factor(c.ink, c.ink.temperature);
    setup_.asperities = std::move(lasting_.asperities);
    if (const auto* newtonian = std::get_if<Newtonian>(&c.ink.rheology)) setup_.viscosity = newtonian->viscosity;
    setup_.ink = lasting_.ink.get();
    setup_.f52 = &f52_table();
    setup_.f1 = &f1_table();

    facet_cells_ = setup_.mesh.facet;
    half_ = kernel::kArraySize * setup_.mesh.nodes();
    make_room(2 * half_);
    cut_facet(facet_cells_);
    strip_ = strip(0.0, 0.0);
    set_facet(0.0, c.setting.set_angle);
}

void NipSolver::make_room(std::size_t numbers) {
    if (numbers <= lasting_.numbers) return;
    lasting_.memory = std::unique_ptr<double[]>(new double[numbers]);  // NOLINT
    lasting_.numbers = numbers;
}

std::size_t NipSolver::most_nodes() const noexcept { return scaled_mesh(finer(lasting_.mesh)).nodes(); }

void NipSolver::set_aside() {
    const std::size_t nodes = most_nodes();
    make_room(2 * kernel::kArraySize * nodes);
    cut_facet(facet_cells_);
    lasting_.dual_memory.reserve(kernel::kArraySize * nodes);
    lasting_.soft_memory.reserve(4 * nodes);
    looked_.current = false;
}

void NipSolver::restart(const Case& nip_case) {
    Lasting l = std::move(lasting_);
    const bool same = nip_case.roll == l.nip_case.roll && nip_case.blade.material == l.nip_case.blade.material;
    l.nip_case = nip_case;
    spell_out(l.nip_case);
    l.asperities = same || !nip_case.roll.bearing_curve.empty() ? std::move(setup_.asperities)
                                                                : asperity_law(nip_case.roll, nip_case.blade.material);
    l.profile.clear(), l.soft_memory.clear();
    *this = NipSolver(std::move(l));
}

void NipSolver::set_facet(double facet_length, double facet_angle) {
    const bool same = setup_.speed > 0.0 && facet_length == setup_.facet_length && facet_angle == facet_angle_ &&
                      fully_worn_ == settled_worn_;
    if (same) return;
    const double t = tip_thickness(the_case().blade), worn = facet_length * std::sin(facet_angle);
    setup_.facet_length = facet_length, facet_angle_ = facet_angle;
    setup_.edge_radius = std::visit([](const auto& tip) { return tip.edge_radius; }, the_case().tip);
    setup_.wetted_length = the_case().setting.wetted_length;
    if (sign_ > 0 && !fully_worn_) setup_.wetted_length = std::min(setup_.wetted_length, std::max(t - worn, 1e-3 * t));
    const double give = surface_indentation(the_case().blade.material, facet_length);
    compliance_ = facet_length > 0.0 ? lasting_.given_compliance.value_or(give > kStiffSurface ? give : 0.0) : 0.0;
    strip_.offset = 0.5 * (t - worn);  // all that wear does to the strip
    set_speed(setup_.speed > 0.0 ? setup_.speed : the_case().setting.surface_speed);
}

void NipSolver::set_speed(double speed) {
    looked_.current = false;
    setup_.speed = speed;
    setup_.heat = heat_setup(
        the_case().ink, the_case().roll.thermal_effusivity, setup_.facet_length, speed, setup_.land_fraction,
        the_case().blade.thermal_conductivity * body_thickness(the_case().blade) / free_length(the_case().blade));
    if (speed != settled_speed_ || fully_worn_ != settled_worn_) settle_inertia();
    setup_.flank_length = std::min(inertial_radius_, setup_.wetted_length);
}

void NipSolver::settle_inertia() {
    const double speed = settled_speed_ = setup_.speed;
    settled_worn_ = fully_worn_;
    // Where inertia takes over, r_i = eta / (rho U), the wedge shears at U / (m r_i): three rounds settle the viscosity there.
    const double slope = effective_slope(ink_side_angle(the_case().setting.set_angle));
    double eta = shear_viscosity(the_case().ink.rheology, 1e6) * setup_.supply_factor, r = 0.0;
    for (int i = 0; i < 4; ++i) {
        r = eta / (setup_.density * speed);
        eta = shear_viscosity(the_case().ink.rheology, speed / (slope * r)) * setup_.supply_factor;
    }
    setup_.nominal_viscosity = eta;
    inertial_radius_ = r;
}

Strip NipSolver::strip(double facet_length, double facet_angle) const {
    return strip_of(the_case(), facet_length * std::sin(facet_angle));
}

double NipSolver::cut_side_angle(double angle) const noexcept {
    return (fully_worn_ ? std::numbers::pi : 0.5 * std::numbers::pi) - angle;
}

double NipSolver::ink_side_angle(double angle) const noexcept { return sign_ > 0 ? cut_side_angle(angle) : angle; }

double NipSolver::far_side_angle(double angle) const noexcept { return sign_ > 0 ? angle : cut_side_angle(angle); }

double NipSolver::low_gap(double u) const noexcept { return std::exp(u) - 3.0 * setup_.asperities.sigma; }

void NipSolver::cut_facet(int cells) {
    setup_.mesh.facet = cells;
    const std::span<double> memory(lasting_.memory.get() + (second_half_ ? half_ : 0), half_);
    arrays_ = kernel::contact_arrays(memory, setup_.mesh.nodes());
}

kernel::ContactForces<double> NipSolver::contact_at(double tilt, double angle, double gap, bool resolved) {
    const double turned = setup_.facet_length > 0.0 ? tilt : 0.0;
    // One cell holds all of a rigid parallel facet: its film and asperities are exact there.
    const bool parallel = turned == 0.0 && setup_.profile.empty() && compliance_ == 0.0;
    const int cells = parallel && !resolved ? 1 : facet_cells_;
    cut_facet(cells);
    if (compliance_ > 0.0)
        return soft_contact(turned, gap, kernel::flank_at(ink_side_angle(angle)),
                            effective_slope(far_side_angle(angle)));
    if (looked_.current && looked_.tilt == turned && looked_.angle == angle && looked_.low_gap == gap &&
        looked_.cells == cells && (!lasting_.ink || looked_.flow_tolerance <= setup_.flow_tolerance))
        return looked_.contact;
    const auto out = kernel::contact_forces(setup_, turned, gap, ink_side_angle(angle), far_side_angle(angle), arrays_);
    looked_ = {turned, angle, gap, setup_.flow_tolerance, cells, true, out};
    if (lasting_.ink && !out.unsettled) {
        // The next contact is a near one: its flow is sought from here.
        setup_.flow_share = out.film.flow / (setup_.speed * arrays_.couette_gap[kernel::facet_start(setup_.mesh)]);
        setup_.flow_slope = out.flow_slope;
    }
    return out;
}

NipResidual NipSolver::residual(const State& at, double angle_by_place, double tilt_by_place) {
    NipResidual out;
    using D = Dual<2>;
    const double tilted = setup_.facet_length > 0.0 ? tilt_by_place : 0.0;
    D N, T, centre;
    if (compliance_ > 0.0) {
        // The soft film is found by sweeps; its slopes by differences.
        const double du = 1e-5, dp = std::abs(tilted) > 0.0 ? 1e-5 * tilt_scale_ : 1e-6;
        const auto force = [&](double place, double u) {
            const double turned = setup_.facet_length > 0.0 ? at.tilt + tilt_by_place * place : 0.0;
            return on_blade(contact_at(turned, at.angle + angle_by_place * place, low_gap(at.u + u)));
        };
        const ContactForce here = force(0.0, 0.0), right = force(dp, 0.0), left = force(-dp, 0.0), up = force(0.0, du),
                           down = force(0.0, -du);
        const auto slopes = [&](double ContactForce::*part) {
            return D(here.*part, {(right.*part - left.*part) / (2.0 * dp), (up.*part - down.*part) / (2.0 * du)});
        };
        N = slopes(&ContactForce::normal), T = slopes(&ContactForce::tangential),
        centre = slopes(&ContactForce::centre);
    } else {
        cut_facet(facet_cells_);
        const std::size_t n = setup_.mesh.nodes();
        lasting_.dual_memory.resize(kernel::kArraySize * n);
        const auto arrays = kernel::contact_arrays(std::span<D>(lasting_.dual_memory), n);
        const double turned = setup_.facet_length > 0.0 ? at.tilt : 0.0;
        const double in = ink_side_angle(at.angle), far = far_side_angle(at.angle);
        // Both angles of the wedges move with the blade or against it.
        const auto turn = [&](double angle) { return angle == at.angle ? angle_by_place : -angle_by_place; };
        const auto contact =
            kernel::contact_forces<D>(setup_, D(turned, {tilted, 0.0}), D(low_gap(at.u), {0.0, std::exp(at.u)}),
                                      D(in, {turn(in), 0.0}), D(far, {turn(far), 0.0}), arrays);
        if (contact.unsettled) return out;
        N = contact.normal();
        T = -sign_ * contact.tangential;
        centre = -sign_ * contact.moment / N;
    }
    const StripResponse strip = strip_response(strip_, at.angle, {N.v, T.v, centre.v}, strip_steps_);
    const auto chained = [&](const std::array<double, 4>& by) {
        std::array<double, 2> d{};
        for (std::size_t k = 0; k < 2; ++k)
            d[k] = by[0] * (k == 0 ? angle_by_place : 0.0) + by[1] * N.d[k] + by[2] * T.d[k] + by[3] * centre.d[k];
        return d;
    };
    out.angle = strip.at.angle_residual, out.interference = strip.at.interference, out.load = std::log(N.v);
    out.angle_by = chained(strip.residual_by);
    out.interference_by = chained(strip.interference_by);
    out.load_by = {N.d[0] / N.v, N.d[1] / N.v};
    out.ok = std::isfinite(out.angle + out.interference + out.load + out.angle_by[0] + out.angle_by[1]);
    return out;
}

ContactForce NipSolver::on_blade(const kernel::ContactForces<double>& contact) const noexcept {
    // From body to tip is upstream for the doctoring and downstream for the trailing blade.
    const double normal = contact.normal();
    return {normal, -sign_ * contact.tangential, -sign_ * contact.moment / normal};
}

void NipSolver::take_tip(double bedded_angle, double facet_length, std::optional<bool> fully_worn) {
    fully_worn_ = fully_worn.value_or(eats_whole_end(facet_length, bedded_angle, tip_thickness(the_case().blade)));
    if (!(reference_load_ > 0.0)) reference_load_ = 100.0;  // a size for what a soft tip's search begins with
    bedded_angle_ = bedded_angle;
    set_facet(facet_length, bedded_angle);
}

void NipSolver::take_profile(std::span<const double> profile) {
    lasting_.profile.assign(profile.begin(), profile.end());
    setup_.profile = lasting_.profile;
    looked_.current = false;
}

void NipSolver::respond_about(const State& at) {
    jacobian_ = blade_at(at);
    reference_load_ = at.force.normal;
    scale_tilt(at.low_gap);
}

State NipSolver::look(double tilt, double u) {
    State state;
    state.tilt = tilt, state.u = u, state.low_gap = low_gap(u);
    state.angle = bedded_angle_ - sign_ * tilt;
    state.status = Status::out_of_range;
    if (beyond(tilt, state.angle)) return state;
    state.contact = contact_at(tilt, state.angle, state.low_gap);
    state.force = on_blade(state.contact);
    const StripMismatch m = strip_mismatch(strip_, state.angle, state.force, strip_steps_);
    state.interference = m.interference, state.angle_residual = m.angle_residual;
    const bool sound = std::isfinite(m.angle_residual + m.interference) && !state.contact.unsettled;
    state.status = sound ? Status::converged : Status::non_finite;
    return state;
}

void NipSolver::adopt(const Bedded& reference, double bedded_angle, double facet_length) {
    set_facet(facet_length, bedded_angle);
    bedded_angle_ = bedded_angle;
    jacobian_ = reference.jacobian;
    reference_load_ = reference.load;
    scale_tilt(reference.state.low_gap);
}

void NipSolver::scale_tilt(double low_gap) {
    const double film = kernel::filled_gap(*setup_.f1, setup_.asperities.sigma, low_gap);
    tilt_scale_ = setup_.facet_length > 0.0 ? film / setup_.facet_length : 2e-3;
}

std::optional<double> NipSolver::off_scale(const kernel::ContactForces<double>& contact,
                                           Overload& overload) const noexcept {
    const double normal = contact.normal();
    if (std::isnan(normal)) {
        overload.sealed = soft_sealed_;
        return kCrushed;
    }
    if (contact.unsettled) return kNan;
    if (!(normal > 0.0)) return kPulls;
    return {};
}

Status NipSolver::ended(const Root& root, const Overload& overload, const State& at) noexcept {
    if (root.status != Status::stagnated) return root.status;
    constexpr double kShallow = 0.1;  // a tip pressed on with its wedge as well lies on the roll
    if (overload.sealed) return at.angle < kShallow ? Status::lying_flat : Status::out_of_range;
    if (overload.unbearable) return Status::unstable;
    const auto& film = at.contact.film;
    return film.full_somewhere && film.rupture_gap < kNoFilm ? Status::out_of_range : root.status;
}

State NipSolver::balance(double tilt, const Target& target, const State& near) {
    State state;
    state.tilt = tilt;
    state.angle = bedded_angle_ - sign_ * tilt;
    if (beyond(tilt, state.angle)) return failed(state, Status::out_of_range);
    const StripJacobian& J = jacobian_;
    const double det = J.determinant();
    double turn = 0.0;  // change of angle that the blade asks for
    Overload overload;
    const auto surplus = [&](double u) {
        state.u = u;
        state.low_gap = low_gap(u);
        state.contact = contact_at(tilt, state.angle, state.low_gap);
        state.force = on_blade(state.contact);
        if (const auto extreme = off_scale(state.contact, overload)) return *extreme;
        const double normal = state.force.normal;
        if (!target.fixed) return std::log(normal / target.load);
        // The load that the blade would give in this place under this friction: one Newton step with the reference response;
        // where the step vanishes the answer is exact.
        const StripMismatch m = strip_mismatch(strip_, state.angle, state.force, strip_steps_);
        const double r = m.angle_residual, e = m.interference - target.interference;
        turn = -(J.interference_by_normal * r - J.residual_by_normal * e) / det;
        const double change = -(J.residual_by_angle * e - J.interference_by_angle * r) / det;
        state.interference = m.interference, state.angle_residual = r;
        if (!std::isfinite(change)) {
            overload.unbearable = true;
            return kCrushed;
        }
        // A place far from any balance may carry next to nothing; what the holder was set to is then the measure.
        const double most = kMostLoad * std::max(reference_load_, target.load);
        return std::log(normal / std::clamp(normal + change, 1e-3 * reference_load_, most));
    };
    const double slope = std::clamp(near.load_by_u, -1e3, -4.0);
    const Root root = root_of(surplus, near.u, slope, 0.5, kLoadTolerance, overload);
    state.load_by_u = std::isfinite(root.slope) ? root.slope : near.load_by_u;
    state.status = ended(root, overload, state);
    // However far away it is, the ink in front of it carries more than the blade presses.
    if (root.status == Status::out_of_range && root.f > 0.0) state.status = Status::lifted_off;
    if (!state.ok()) return state;
    if (state.u != root.x) (void)surplus(root.x);
    if (!target.fixed) {
        const StripMismatch m = strip_mismatch(strip_, state.angle, state.force, strip_steps_);
        turn = -m.angle_residual / J.residual_by_angle;
        state.interference = m.interference, state.angle_residual = m.angle_residual;
    }
    state.drive = -sign_ * turn;
    if (!std::isfinite(state.drive)) {
        const ContactForce& f = state.force;  // that no strip bears
        state.status = std::isfinite(f.normal + f.tangential + f.centre) ? Status::unstable : Status::non_finite;
    }
    return state;
}

bool NipSolver::stable(const State& at, const Target& target, const std::optional<Answer>& known) {
    // Only the signs count here: differences to one side, half the price of dual numbers, as long as they tell.
    const double dt = 2e-4 * tilt_scale_, du = 1e-5;
    const ContactForce& here = at.force;
    AtLoad r;
    const auto take = [&](std::size_t k, double load_by, double angle, double ratio, double centre, double step) {
        const StripMismatch m = strip_mismatch(strip_, angle, {here.normal, here.normal * ratio, centre}, strip_steps_);
        r.load_by[k] = load_by;
        r.angle_by[k] = (m.angle_residual - at.angle_residual) / step;
        r.interference_by[k] = (m.interference - at.interference) / step;
    };
    const auto look_aside = [&](std::size_t k, double tilt, double u, double step) {
        // A rigid parallel facet is one cell: to first order in the tilt all in it is polynomial, and exact by its rules.
        const bool straight = at.tilt == 0.0 && setup_.profile.empty() && compliance_ == 0.0;
        const double angle = bedded_angle_ - sign_ * tilt;
        if (beyond(tilt, angle)) return false;
        const int cells = std::exchange(facet_cells_, straight ? 1 : facet_cells_);
        const Looked kept = std::exchange(looked_, {});
        setup_.flow_tolerance = 1e-9, second_half_ = true;
        const auto contact = contact_at(tilt, angle, low_gap(u));
        setup_.flow_tolerance = kFlowTolerance, second_half_ = false;
        facet_cells_ = cells, looked_ = kept;
        const ContactForce f = on_blade(contact);
        take(k, std::log(f.normal / here.normal) / step, angle, f.tangential / f.normal, f.centre, step);
        return !contact.unsettled && std::isfinite(r.load_by[k] + r.angle_by[k] + r.interference_by[k]);
    };
    if (!look_aside(0, at.tilt + dt, at.u, dt)) return false;
    const auto both_fall = [](const Slopes& of) { return of.surplus < 0.0 && of.drive < 0.0; };
    const auto tells = [&](const Slopes& of) { return std::abs(of.drive) >= kClear * of.parts; };
    if (known) {
        // As the search for a bedded blade has seen it, which is rough: decides where both ends of its doubt agree.
        take(1, known->load, at.angle, here.tangential / here.normal + known->ratio * kAside,
             here.centre + known->centre * kAside, kAside);
        const auto times = [&](double share) {
            AtLoad rough = r;
            rough.angle_by[1] *= share, rough.interference_by[1] *= share;
            return slopes(rough, jacobian_, here.normal, target.fixed);
        };
        const Slopes less = times(1.0 - known->doubt), more = times(1.0 + known->doubt);
        if (tells(less) && tells(more) && both_fall(less) == both_fall(more)) return both_fall(less);
    }
    if (!look_aside(1, at.tilt, at.u - du, -du)) return false;
    const Slopes coarse = slopes(r, jacobian_, here.normal, target.fixed);
    if (!tells(coarse))
        if (const NipResidual fine = residual(at, -sign_, 1.0); fine.ok) return stable(fine, jacobian_, target.fixed);
    return both_fall(coarse);
}

bool NipSolver::stable(const NipResidual& r, const StripJacobian& J, bool fixed) const noexcept {
    const double N = std::exp(r.load);
    AtLoad at{r.load_by, r.angle_by, r.interference_by};
    for (std::size_t k = 0; k < 2; ++k) {
        at.angle_by[k] -= N * r.load_by[k] * J.residual_by_normal;
        at.interference_by[k] -= N * r.load_by[k] * J.interference_by_normal;
    }
    const Slopes by = slopes(at, J, N, fixed);
    return by.surplus < 0.0 && by.drive < 0.0;
}

NipSolver::Slopes NipSolver::slopes(const AtLoad& r, const StripJacobian& J, double N, bool fixed) const noexcept {
    // balance() keeps N where the blade asks for it: ln N, or (e - e0) residual_by_angle = r interference_by_angle, which is the
    // surplus of N times the determinant. Along that line the drive is sign r / residual_by_angle. There N hardly changes,
    // although tilt and gap alone change it by hundreds of times what is left.
    std::array<double, 2> asked{};  // by the blade, of N
    if (fixed) {
        const double det = J.determinant();
        for (std::size_t k = 0; k < 2; ++k)
            asked[k] = (r.angle_by[k] * J.interference_by_angle - r.interference_by[k] * J.residual_by_angle) / det;
    }
    // What the angle misses with that N.
    const std::array<double, 2> missed{r.angle_by[0] + J.residual_by_normal * asked[0],
                                       r.angle_by[1] + J.residual_by_normal * asked[1]};
    const double surplus = N * r.load_by[1] - asked[1];
    const double follows = -(N * r.load_by[0] - asked[0]) / surplus * missed[1];
    // The tilt's own slope of -1 is in the first.
    const double parts = 1.0 + (std::abs(missed[0]) + std::abs(follows)) / std::abs(J.residual_by_angle);
    return {surplus, sign_ * (missed[0] + follows) / J.residual_by_angle, parts};
}

StripJacobian NipSolver::blade_at(const State& at) const {
    return strip_jacobian(strip_, at.angle, at.force, strip_steps_);
}

double NipSolver::clean_wipe_film(double load) const {
    if (setup_.asperities.sigma <= 0.0 || setup_.facet_length <= 0.0) return 0.0;
    const double gap = kernel::filled_gap(*setup_.f1, setup_.asperities.sigma,
                                          gap_at_pressure(setup_.asperities, load / setup_.facet_length));
    return 0.5 * gap * (lasting_.cells ? lasting_.cells->land_couette_factor(gap) : 1.0);
}

}  // namespace libblade::detail
