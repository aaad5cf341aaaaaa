// Contact mechanics at a given tilt and gap: what film and asperities do to the blade. No iteration over the balance, no
// allocation; any scalar type.
//
// Gap from upstream to downstream: ink-side flank, edge arc, facet, edge arc, far flank. Flanks have the effective slope
// of the Stokes corner (film.hpp); the facet is straight against the roll with tilt d (positive: opens towards the incoming
// ink), conformal at d = 0. Rounding takes metal away: arcs (parabolas of the edge radius) begin inside the facet and touch
// the flanks, whose lines still meet the facet line at its nominal ends. An unworn edge is the same with nothing left flat.
//
// Over the moving engraved roll q = U h b(h) / 2 - phi(h) h^3 / (12 eta) dp/dx (cell_flow.hpp). In the Couette gap
// g = h b that is the smooth film's equation with the flow factor phi / b^3, so that its exact integrals serve both.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <span>

#include "libblade/asperity.hpp"
#include "libblade/cell_flow.hpp"
#include "libblade/film.hpp"
#include "libblade/film_entry.hpp"
#include "libblade/film_kernel.hpp"
#include "libblade/heat_kernel.hpp"
#include "libblade/ink_flow.hpp"

namespace libblade::kernel {

inline constexpr int kFlowRounds = 40;

/// Cells per part of the gap.
struct ContactMesh {
    int flank_in = 12, arc = 7, facet = 16, flank_out = 6;
    [[nodiscard]] constexpr std::size_t nodes() const noexcept {
        return static_cast<std::size_t>(flank_in + arc + facet + arc + flank_out) + 1;
    }
};

/// Everything about the contact that does not change while tilt and gap are sought.
struct ContactSetup {
    ContactMesh mesh;
    double facet_length = 0.0, edge_radius = 1e-6;  ///< [m]
    double flank_length = 0.0;          ///< of the Reynolds film on the ink-side flank, from the nominal facet end [m]
    double wetted_length = 0.0;         ///< [m]
    double nominal_viscosity = 0.0;     ///< in the wedge where inertia takes over [Pa s]
    double speed = 0.0, density = 0.0;  ///< [m/s], [kg/m3]
    double pressure_in = 0.0;           ///< chamber gauge pressure on the ink side [Pa]
    double film_supply = -1.0;          ///< [m]; negative: flooded
    double land_fraction = 1.0;
    const CellFlowTable* cells = nullptr;  ///< flow factors of the engraving; none: smooth, or a constant factor
    double flow_factor = 1.0;              ///< phi under facet and edge arcs where there is no table; 1 on the flanks
    double friction = 0.0;                 ///< boundary friction coefficient
    double supply_factor = 1.0;            ///< temperature factor of the viscosity in the supply
    HeatSetup heat;
    AsperityLaw asperities;
    double viscosity = 0.03;            ///< of a Newtonian ink at the reference temperature [Pa s]
    const InkFlowTable* ink = nullptr;  ///< any other law; none: Newtonian
    const UniformCubic* f52 = nullptr;
    const UniformCubic* f1 = nullptr;
};

template <class T>
struct ContactArrays {
    std::span<T> x, separation, gap, couette_gap, resistance, pressure;                ///< per node
    std::span<T> pressure_viscosity, shear_viscosity, flow_factor, shear_flow_factor;  ///< per cell
    std::span<T> work;                                                                 ///< 2 per node
};

/// Cuts the arrays for n nodes out of memory of kArraySize n numbers.
inline constexpr std::size_t kArraySize = 12;
template <class T>
[[nodiscard]] ContactArrays<T> contact_arrays(std::span<T> memory, std::size_t n) {
    const auto part = [&](std::size_t k, std::size_t size) { return memory.subspan(k * n, size); };
    return {part(0, n),     part(1, n),     part(2, n),     part(3, n),     part(4, n),     part(5, n),
            part(6, n - 1), part(7, n - 1), part(8, n - 1), part(9, n - 1), part(10, 2 * n)};
}

template <class T>
struct ContactForces {
    T film_load = T(0.0), outer_load = T(0.0), asperity_load = T(0.0);  ///< [N/m]
    T moment = T(0.0);            ///< of all normal pressure about the facet centre, about x [N]
    T asperity_moment = T(0.0);   ///< [N]
    T tangential = T(0.0);        ///< T on the blade, downstream [N/m]
    T temperature_rise = T(0.0);  ///< [K]
    FilmPass<T> film{};
    bool unsettled = false;  ///< flow and viscosities did not come to agree: values are not valid
    [[nodiscard]] T normal() const { return T(film_load + outer_load + asperity_load); }
};

/// Places (rho^(i/n) - 1)/(rho - 1) that step geometrically, even spacing at rho = 1.
template <class T>
void graded_places(std::span<T> out, const T& ratio) {
    using std::exp, std::log;
    const std::size_t n = out.size() - 1;
    const T step = exp(T(log(ratio) / static_cast<double>(n)));
    // Sum of the steps rho^(k/n): no difference of near-equal numbers when rho is close to 1.
    T sum = T(0.0 * ratio), power = T(1.0 + 0.0 * ratio);
    for (std::size_t i = 0; i <= n; ++i) {
        out[i] = sum;
        sum = sum + power;
        power = power * step;
    }
    const T scale = 1.0 / out[n];
    for (std::size_t i = 0; i <= n; ++i) out[i] = out[i] * scale;
}

/// How far an edge arc reaches into the facet [m].
template <class T>
T rounding(const T& slope, const T& start_slope, double radius) {
    const T turn = slope - start_slope;
    return value_of(turn) > 0.0 ? T(0.5 * radius * turn) : T(0.0 * turn);
}

/// Nodes and gap between mean planes for a tilt [rad], the gap at the lower facet end [m] and the flank slopes.
template <class T>
void place_nodes(const ContactSetup& s, const T& tilt, const T& low_gap, const T& slope_in, const T& slope_out,
                 const ContactArrays<T>& a) {
    using std::sqrt;
    const ContactMesh& m = s.mesh;
    const double r = s.edge_radius;
    // A parabola from slope d to slope m ends r (m - d) further on; its chord tangents meet half-way.
    const T cut_in = rounding(slope_in, tilt, r), cut_out = rounding(slope_out, T(-tilt), r);
    const T left = T(s.facet_length - cut_in - cut_out);
    const bool flat = value_of(left) > 0.0;
    const T b = flat ? left : T(0.0 * left);
    const T first = flat ? T(-0.5 * s.facet_length + cut_in) : T(0.0 * left);
    const bool opens_upstream = value_of(tilt) >= 0.0;
    const T rise = opens_upstream ? T(tilt * b) : T(-tilt * b);
    const T gap_up = opens_upstream ? T(low_gap + rise) : low_gap,
            gap_down = opens_upstream ? low_gap : T(low_gap + rise);
    const auto filled = [&](const T& h) { return filled_gap(*s.f1, s.asperities.sigma, h); };

    std::size_t i = static_cast<std::size_t>(m.flank_in + m.arc);
    // Facet: steps grow with the gap, since that is the length on which everything changes.
    const auto facet_nodes = static_cast<std::size_t>(m.facet) + 1;
    const std::span<T> place = a.work.subspan(0, facet_nodes);
    const T low = filled(low_gap);
    graded_places(place, T((low + rise) / low));
    for (std::size_t k = 0; k < facet_nodes; ++k) {
        const T along = opens_upstream ? T(1.0 - place[facet_nodes - 1 - k]) : place[k];
        a.x[i + k] = T(first + b * along);
        a.separation[i + k] = opens_upstream ? T(gap_up - rise * along) : T(gap_up + rise * along);
    }
    // One side: arc, then flank, walking away from the facet.
    const auto side = [&](std::size_t corner, int direction, const T& corner_gap, const T& slope, const T& start_slope,
                          int arc, int flank, auto flank_end) {
        const T arc_length = 2.0 * rounding(slope, start_slope, r);
        T h = corner_gap;
        std::size_t node = corner;
        const T x0 = a.x[corner];
        // On an arc the gap doubles over sqrt(2 r h): steps start at a part of that and grow.
        const T reach = sqrt(T(2.0 * r * filled(corner_gap)));
        const std::span<T> near = a.work.subspan(0, static_cast<std::size_t>(arc) + 1);
        graded_places(near, T((reach + arc_length) / reach));
        for (int k = 1; k <= arc; ++k) {
            const T d = arc_length * near[static_cast<std::size_t>(k)];
            node = direction < 0 ? node - 1 : node + 1;
            a.x[node] = direction < 0 ? T(x0 - d) : T(x0 + d);
            h = corner_gap + d * (start_slope + 0.5 * d / r);
            a.separation[node] = h;
        }
        const T joint_gap = h, joint_x = a.x[node], joint_filled = filled(joint_gap);
        const T length = flank_end(arc_length, joint_filled);
        const std::span<T> far = a.work.subspan(0, static_cast<std::size_t>(flank) + 1);
        graded_places(far, T((joint_filled + slope * length) / joint_filled));
        for (int k = 1; k <= flank; ++k) {
            const T d = length * far[static_cast<std::size_t>(k)];
            node = direction < 0 ? node - 1 : node + 1;
            a.x[node] = direction < 0 ? T(joint_x - d) : T(joint_x + d);
            a.separation[node] = joint_gap + slope * d;
        }
    };
    side(i, -1, gap_up, slope_in, tilt, m.arc, m.flank_in, [&](const T& arc_length, const T&) {
        const T rest = s.flank_length - 0.5 * arc_length;
        const double least = 0.2 * s.flank_length;
        return value_of(rest) > least ? rest : T(least + 0.0 * rest);
    });
    side(i + facet_nodes - 1, +1, gap_down, slope_out, T(-tilt), m.arc, m.flank_out, [&](const T&, const T& joint) {
        const T widest = filled(opens_upstream ? gap_up : gap_down);
        return T((4.0 * widest + 3.0 * joint + 1e-6) / slope_out);
    });
    for (std::size_t n = 0; n < a.x.size(); ++n) a.gap[n] = filled(a.separation[n]);
}

/// First cell of the facet; its rounded ends lie on both sides.
[[nodiscard]] inline std::size_t facet_start(const ContactMesh& m) noexcept {
    return static_cast<std::size_t>(m.flank_in + m.arc);
}

/// The engraving in one cell of the gap: means of b^3 / phi for P2 and P3 of the smooth film in the Couette gap g = h b.
template <class T>
struct CellTexture {
    T shear, flow;
};
/// h and {1 / phi, b} at both ends. With the gap linear in x, dp/dx has b / (phi h^2) and 1 / (phi h^3) to integrate: the
/// exact integrals of h^-2 and h^-3 times means of b / phi and 1 / phi by Simpson's rule under those weights.
template <class T>
[[nodiscard]] CellTexture<T> cell_texture(const CellFlowTable& table, const T& h1, const std::array<T, 2>& left,
                                          const T& h2, const std::array<T, 2>& right) {
    const T h = 0.5 * (h1 + h2), s1 = h / h1, s2 = h / h2;
    const std::array<T, 2> middle = table.resistance_and_couette(h);
    const T r1 = s1 * s1, r2 = s2 * s2, c1 = r1 * s1, c2 = r2 * s2, bb = left[1] * right[1];
    const T by_shear =
        (left[0] * left[1] * r1 + 4.0 * middle[0] * middle[1] + right[0] * right[1] * r2) / (r1 + 4.0 + r2);
    const T by_flow = (left[0] * c1 + 4.0 * middle[0] + right[0] * c2) / (c1 + 4.0 + c2);
    return {T(bb * by_shear), T((2.0 * h * bb * bb * by_flow) / (h1 * left[1] + h2 * right[1]))};
}

/// Couette gap and flow factors of the engraving.
template <class T>
void fill_texture(const ContactSetup& s, const ContactArrays<T>& a) {
    const std::size_t cells = a.x.size() - 1;
    if (s.cells == nullptr) {
        const auto near_from = static_cast<std::size_t>(s.mesh.flank_in);
        const std::size_t near_to = near_from + static_cast<std::size_t>(s.mesh.facet + 2 * s.mesh.arc);
        for (std::size_t c = 0; c < cells; ++c)
            a.flow_factor[c] = a.shear_flow_factor[c] = T(c >= near_from && c < near_to ? s.flow_factor : 1.0);
        for (std::size_t n = 0; n <= cells; ++n) a.couette_gap[n] = a.gap[n];
        return;
    }
    auto left = s.cells->resistance_and_couette(a.gap[0]);
    a.couette_gap[0] = a.gap[0] * left[1];
    a.resistance[0] = left[0] * left[1] * left[1] * left[1];
    for (std::size_t c = 0; c < cells; ++c) {
        const auto right = s.cells->resistance_and_couette(a.gap[c + 1]);
        const CellTexture<T> here = cell_texture(*s.cells, a.gap[c], left, a.gap[c + 1], right);
        a.shear_flow_factor[c] = 1.0 / here.shear;
        a.flow_factor[c] = 1.0 / here.flow;
        a.couette_gap[c + 1] = a.gap[c + 1] * right[1];
        a.resistance[c + 1] = right[0] * right[1] * right[1] * right[1];
        left = right;
    }
}

template <class T>
[[nodiscard]] FilmTexture<T> texture(const ContactSetup& s, const ContactArrays<T>& a) {
    return s.cells == nullptr ? FilmTexture<T>{} : FilmTexture<T>{a.shear_flow_factor, a.resistance};
}

/// Viscosities at a flow [m2/s], which a Newtonian ink does not ask for, and the film temperature; returns its rise [K].
template <class T>
T fill_viscosity(const ContactSetup& s, const T& flow, const ContactArrays<T>& a) {
    using std::sqrt;
    const std::size_t cells = a.x.size() - 1;
    const auto near_from = static_cast<std::size_t>(s.mesh.flank_in);  // facet and its rounded ends
    const std::size_t near_to = near_from + static_cast<std::size_t>(s.mesh.facet + 2 * s.mesh.arc);
    const bool warms = s.heat.length > 0.0 && s.heat.andrade_constant > 0.0;
    for (std::size_t c = 0; c < cells; ++c) {
        if (s.ink == nullptr) {
            a.pressure_viscosity[c] = T(s.viscosity * s.supply_factor);
            a.shear_viscosity[c] = T(s.viscosity * s.supply_factor * s.land_fraction);
        } else {
            // The flow over a wall is q; what it is against pure shear decides the profile there.
            const T h = sqrt(T(a.gap[c] * a.gap[c + 1])), g = sqrt(T(a.couette_gap[c] * a.couette_gap[c + 1]));
            const auto eta = s.ink->at(T(s.speed / h), T(2.0 * flow / (s.speed * g) - 1.0));
            a.pressure_viscosity[c] = eta.pressure * s.supply_factor;
            a.shear_viscosity[c] = eta.shear * (s.supply_factor * s.land_fraction);
        }
    }
    // Over the walls it is the gap itself that is sheared; the film divides by the Couette gap.
    if (s.cells != nullptr)
        for (std::size_t c = 0; c < cells; ++c)
            a.shear_viscosity[c] =
                a.shear_viscosity[c] * (a.couette_gap[c] + a.couette_gap[c + 1]) / (a.gap[c] + a.gap[c + 1]);
    if (s.heat.length <= 0.0) return T(0.0 * flow);
    T shear_power = T(0.0);  // at the supply temperature, as if full: the ruptured part is short
    T thinnest = a.gap[near_from];
    for (std::size_t c = 0; c < cells; ++c) {
        if (c >= near_from && c < near_to && value_of(a.gap[c]) < value_of(thinnest)) thinnest = a.gap[c];
        shear_power = shear_power + a.shear_viscosity[c] * (2.0 * s.speed * s.speed) * (a.x[c + 1] - a.x[c]) /
                                        (a.couette_gap[c] + a.couette_gap[c + 1]);
    }
    const T rise = temperature_rise(s.heat, T(thermal_resistance(s.heat, thinnest) * shear_power));
    if (!warms) return rise;
    const T factor = warming_factor(s.heat, rise);
    for (std::size_t c = 0; c < cells; ++c) {
        a.pressure_viscosity[c] = a.pressure_viscosity[c] * factor;
        a.shear_viscosity[c] = a.shear_viscosity[c] * factor;
    }
    return rise;
}

/// What the turn of the flow into the gap adds at the start of the facet (film_entry.hpp); nothing without a flat part.
template <class T>
EntryJump<T> facet_entry(const ContactSetup& s, const T& angle, const T& slope, const ContactArrays<T>& a) {
    const std::size_t start = facet_start(s.mesh);
    EntryJump<T> jump;
    if (!(value_of(a.x[start + static_cast<std::size_t>(s.mesh.facet)]) > value_of(a.x[start]))) return jump;
    const EntryLength<T> more = entry_length(angle, slope, T(s.edge_radius / a.gap[start]));
    const T h = a.couette_gap[start];
    const T k = 12.0 * a.pressure_viscosity[start - 1] / (a.flow_factor[start - 1] * h);
    jump.node = start;
    jump.P2 = k * more.shear;
    jump.P3 = k * more.pressure / h;
    jump.drag = a.shear_viscosity[start - 1] * s.speed * more.shear;
    return jump;
}

/// Pressure ahead of the Reynolds film: the corner pressure, capped where inertia takes over.
template <class T>
T corner_pressure(const ContactSetup& s, const T& corner, double r) {
    const double cap = s.density * s.speed * s.speed;
    const T p = corner * (s.nominal_viscosity * s.speed / r);
    return value_of(p) < cap ? p : T(cap + 0.0 * p);
}

/// The Reynolds film does not reach the end of the wetted length.
[[nodiscard]] inline bool has_outer_wedge(const ContactSetup& s) noexcept {
    return s.flank_length < s.wetted_length * (1.0 - 1e-9);
}

/// Pressure where the Reynolds film begins. `corner` is C(b) of the ink-side flank.
template <class T>
T inlet_pressure(const ContactSetup& s, const T& corner) {
    return s.pressure_in + (has_outer_wedge(s) ? corner_pressure(s, corner, s.flank_length) : T(0.0 * corner));
}

/// Adds to the film's forces what does not depend on how the film was found: outer wedge, asperities, closing of the momentum.
template <class T>
void add_to_film(const ContactSetup& s, const T& corner, const T& p_in, const ContactArrays<T>& a,
                 ContactForces<T>& out) {
    using std::log;
    out.film_load = out.film.load;
    out.moment = out.film.moment;
    // Signs: force on the blade = shear on the roll; p_in h_in closes the balance of the ink in x.
    out.tangential = out.film.couette_drag + out.film.pressure_drag + p_in * a.gap[0];

    if (has_outer_wedge(s)) {
        // min(rho U^2, C eta U / r) from the end of the film to the wetted length: flat to r_c, then logarithmic.
        const double r1 = s.flank_length, r2 = s.wetted_length, cap = s.density * s.speed * s.speed;
        const T strength = corner * (s.nominal_viscosity * s.speed);
        T rc = strength / cap;
        if (value_of(rc) < r1) rc = T(r1 + 0.0 * rc);
        if (value_of(rc) > r2) rc = T(r2 + 0.0 * rc);
        const T flat = cap * (rc - r1), wedge = strength * log(T(r2 / rc));
        out.outer_load = flat + wedge + s.pressure_in * (r2 - r1);
        const T arm =
            0.5 * cap * (rc * rc - r1 * r1) + strength * (r2 - rc) + 0.5 * s.pressure_in * (r2 * r2 - r1 * r1);
        out.moment = out.moment - arm - out.outer_load * (0.5 * s.facet_length);
    }
    if (s.asperities.sigma > 0.0) {
        // Simpson's rule: the pressure is an exponential of the separation.
        T last = asperity_pressure(*s.f52, s.asperities, a.separation[0]);
        for (std::size_t n = 1; n < a.x.size(); ++n) {
            const T here = asperity_pressure(*s.f52, s.asperities, a.separation[n]);
            if (value_of(last) > 0.0 || value_of(here) > 0.0) {
                const T middle =
                    asperity_pressure(*s.f52, s.asperities, T(0.5 * (a.separation[n - 1] + a.separation[n])));
                const T sixth = (a.x[n] - a.x[n - 1]) * (1.0 / 6.0);
                out.asperity_load = out.asperity_load + sixth * (last + 4.0 * middle + here);
                out.asperity_moment =
                    out.asperity_moment +
                    sixth * (last * a.x[n - 1] + 2.0 * middle * (a.x[n - 1] + a.x[n]) + here * a.x[n]);
            }
            last = here;
        }
        out.moment = out.moment + out.asperity_moment;
        out.tangential = out.tangential + s.friction * out.asperity_load;
    }
}

/// The ink-side flank: angle of the ink wedge b [rad], its Stokes corner factor and its effective slope (film.hpp).
template <class T>
struct Flank {
    T angle, corner, slope;
};
template <class T>
[[nodiscard]] Flank<T> flank_at(const T& angle) {
    using std::sqrt;
    const double b = value_of(angle);
    const T corner = corner_factor(b) + (angle - b) * corner_factor_slope(b);
    return {angle, corner, T(sqrt(T(6.0 / corner)))};
}

/// Forces of the contact on the gap as it stands.
template <class T>
ContactForces<T> forces_on_gap(const ContactSetup& s, const Flank<T>& flank, const ContactArrays<T>& a) {
    ContactForces<T> out;
    const T p_in = inlet_pressure(s, flank.corner);
    fill_texture(s, a);
    const auto pass = [&](const T& flow, bool flow_only) {
        out.temperature_rise = fill_viscosity(s, flow, a);
        return one_pass<T>(a.x, a.couette_gap, a.pressure_viscosity, a.shear_viscosity, a.flow_factor, T(s.speed), p_in,
                           T(0.0), T(s.film_supply), a.pressure, a.work, facet_entry(s, flank.angle, flank.slope, a),
                           flow_only, texture(s, a));
    };
    T flow = T(0.0);
    if (s.ink != nullptr) {
        // The profile across the gap depends on the flow: q = F(q), F nearly flat, by secants. Numbers with derivatives ride
        // along: the last step with the settled slope gives them theirs.
        flow = 0.5 * s.speed * a.couette_gap[facet_start(s.mesh)];
        T next = pass(flow, true).flow;
        double slope = 0.0;  // of F
        for (int round = 0; round < kFlowRounds; ++round) {
            const double before = value_of(flow), f_before = value_of(next);
            flow = flow + (next - flow) / (1.0 - slope);
            const double moved = value_of(flow) - before;
            next = pass(flow, true).flow;
            if (std::abs(value_of(next) - value_of(flow)) <= 1e-13 * std::abs(value_of(flow))) break;
            if (moved != 0.0) slope = std::clamp((value_of(next) - f_before) / moved, -2.0, 0.7);
        }
        flow = flow + (next - flow) / (1.0 - slope);
    }
    out.film = pass(flow, false);
    out.unsettled =
        s.ink != nullptr && !(std::abs(value_of(out.film.flow) - value_of(flow)) <= 1e-9 * std::abs(value_of(flow)));
    add_to_film(s, flank.corner, p_in, a, out);
    return out;
}

/// Forces of a rigid tip's contact between flanks at these angles [rad].
template <class T>
ContactForces<T> contact_forces(const ContactSetup& s, const T& tilt, const T& low_gap, const T& angle_in,
                                const T& angle_out, const ContactArrays<T>& a) {
    const Flank<T> flank = flank_at(angle_in);
    place_nodes(s, tilt, low_gap, flank.slope, flank_at(angle_out).slope, a);
    return forces_on_gap(s, flank, a);
}

}  // namespace libblade::kernel
