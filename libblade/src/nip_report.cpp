// What an operating point reports of a state.
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "libblade/contact.hpp"
#include "libblade/film.hpp"
#include "libblade/heat.hpp"
#include "nip_prepare.hpp"

namespace libblade::detail {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

Regime regime_of(const OperatingPoint& out, const State& s) {
    if (s.contact.film.starved) return Regime::starved;
    const double share = out.asperity_load_share;
    const double centre = out.asperity_load > 0.0 ? s.contact.asperity_moment / out.asperity_load : 0.0;
    if (share > 0.5 && out.facet_length > 0.0 && std::abs(centre) > 0.35 * out.facet_length)
        return Regime::heel_contact;
    if (share < 0.05) return Regime::riding;
    return share > 0.7 ? Regime::wiping : Regime::mixed;
}

}  // namespace

void flag(OperatingPoint& out, const char* name, double value, double limit, const char* message) {
    if (value > limit) out.validity.push_back({name, value, limit, message});
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

namespace {

/// Pressures along the nip and what is read off them.
void describe_contact(const Case& c, Prepared& p, OperatingPoint& out, const NipOptions& options) {
    const State& s = p.state;
    (void)p.solver.contact_at(s.tilt, s.angle, s.low_gap);
    const auto& a = p.solver.arrays();
    const auto& setup = p.solver.setup();
    const std::span<double> film = a.pressure;
    const auto corner = static_cast<std::size_t>(setup.mesh.flank_in + setup.mesh.arc);
    double wedge = s.contact.outer_load;
    for (std::size_t i = 1; i <= corner; ++i) wedge += 0.5 * (film[i] + film[i - 1]) * (a.x[i] - a.x[i - 1]);
    const double N = s.force.normal;
    // All of the load may be on the wedge in front: nothing is left for the tip to bear.
    const auto spread = [](double load, double width) { return width > 0.0 ? load / width : 0.0; };
    out.wedge_load_share = wedge / N;
    out.film_load_share = (s.contact.film_load + s.contact.outer_load - wedge) / N;
    out.asperity_load_share = s.contact.asperity_load / N;
    p.memory.resize(7 * film.size());
    const std::span<double> both = std::span<double>(p.memory).first(film.size());
    for (std::size_t i = 0; i < both.size(); ++i)
        both[i] = film[i] + asperity_pressure(setup.asperities, a.separation[i]);
    out.peak_pressure = *std::max_element(both.begin(), both.end());
    if (options.strength) {
        constexpr double share = 0.95;
        out.contact_width =
            load_bearing_width(a.x, both, share, std::span<double>(p.memory).subspan(film.size())).width;
        out.bearing_pressure = spread(share * N, out.contact_width);
    }
    out.mean_pressure = spread(N, out.facet_length > 0.0 ? out.facet_length : out.contact_width);

    const double h = *std::min_element(a.gap.begin(), a.gap.end());
    out.min_film = h;
    out.leading_gap = a.gap[kernel::facet_start(setup.mesh)];
    out.ink_wedge_angle = p.solver.ink_side_angle(s.angle);
    out.lambda_ratio =
        setup.asperities.sigma > 0.0 ? h / setup.asperities.sigma : std::numeric_limits<double>::infinity();
    const double eta = setup.nominal_viscosity, U = setup.speed;
    flag(out, "corner_reynolds", setup.density * U * h / eta, 1.0, "inertia in the thinnest film");
    const double pitch_here = pitch(c.roll.engraving);
    if (c.roll.engraving.pattern != Pattern::smooth && out.facet_length > 0.0)
        flag(out, "cells_per_facet", -out.facet_length / pitch_here, -8.0,
             "cells under the facet are few: the averaged film's load is high by some 10 % at 8, 20 % at 4 and 80 % at "
             "2");
    if (setup.cells != nullptr)
        flag(out, "shallow_cells", h / setup.cells->drawn_back_from, 1.0,
             "cells so wide and shallow that the blade drags their ink back: the averaged film is taken at its limit");
    // Boyle: what the air in the cells gives up under the pressure, against the film that would have to fill it.
    if (c.ink.air_fraction > 0.0 && c.roll.engraving.pattern != Pattern::smooth) {
        constexpr double ambient = 101325.0;
        const double swallowed =
            c.ink.air_fraction * cell_volume(c.roll.engraving) * out.peak_pressure / (ambient + out.peak_pressure);
        flag(out, "air_in_cells", swallowed / out.film_on_lands, 0.05,
             "air in the cells is compressed by more than a share of the film: it takes lift away, which is not in the "
             "film");
    }
    if (s.contact.outer_load > 0.1 * N)
        flag(out, "outer_wedge", s.contact.outer_load / N, 0.1,
             "the inertial part of the wedge is an order of magnitude");
}

void describe_blade(const Case& c, Prepared& p, OperatingPoint& out, bool keep_shape) {
    const Strip strip = p.solver.strip(p.facet_length, p.bedded_angle);
    const Bent bent =
        bent_at(strip, p.state.angle, p.state.force, p.solver.strip_steps(), p.slack);  // as the state was found
    out.tip_deflection = bent.tip_deflection;
    out.tip_rotation = bent.tip_rotation;
    out.max_bending_stress = bent.max_stress;
    out.stress_ratio = out.max_bending_stress / c.blade.material.yield_strength;
    const StripJacobian J =
        p.branch == Branch::bedded && p.reference.ok() ? p.reference.jacobian : p.solver.blade_at(p.state);
    out.tangent_stiffness = J.residual_by_angle / J.determinant();
    const double edge = std::visit([](const auto& tip) { return tip.edge_radius; }, c.tip);
    const EdgeContact unworn = edge_contact(
        p.state.force.normal, edge, contact_modulus(c.blade.material, c.roll.material), c.blade.material.hardness,
        c.roll.material.hardness, 0.5 * std::numbers::pi - p.state.angle, p.state.angle);
    out.elastic_width = unworn.width;
    out.elastic_pressure = unworn.mean_pressure;
    if (keep_shape) out.blade = strip_shape(strip, bent, p.state.force);
}

}  // namespace

void fill(const Case& c, Prepared& p, OperatingPoint& out, const NipOptions& options) {
    const State& s = p.state;
    const double U = c.setting.surface_speed;
    const CellFlowTable* table = p.solver.setup().cells;
    const double travels = table != nullptr ? 0.5 * (1.0 + table->deep_share) : 1.0;
    const double cells = c.roll.engraving.pattern == Pattern::smooth
                             ? 0.0
                             : cell_volume(c.roll.engraving) * c.roll.engraving.fill * travels;
    out.film_on_lands = s.film_on_lands(U);
    out.clean_wipe_film = p.solver.clean_wipe_film(s.force.normal);
    out.excess_ink = excess(s, U, out.clean_wipe_film);
    // Asperities that give way, or a measured curve that does not come down so far, carry the mean pressure at no gap.
    if (std::isnan(out.clean_wipe_film))
        out.validity.push_back({"clean_wipe", s.force.normal / p.facet_length, p.solver.setup().asperities.cap,
                                "no gap at which the asperities alone carry the load: excess ink is not known",
                                Status::converged});
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
    describe_contact(c, p, out, options);
    if (options.strength) describe_blade(c, p, out, options.section);
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

}  // namespace libblade::detail
