// Contact mechanics at a given tilt and gap: what film and asperities do to the blade. No iteration over the balance, no
// allocation; any scalar type.
//
// Over the moving engraved roll q = U h b(h) / 2 - phi(h) h^3 / (12 eta) dp/dx (cell_flow.hpp). In the Couette gap
// g = h b that is the smooth film's equation with the flow factor phi / b^3, so that its exact integrals serve both.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <type_traits>

#include "libblade/film.hpp"
#include "libblade/nip_kernel_wedge.hpp"

namespace libblade::kernel {

inline constexpr int kFlowRounds = 40;  // of flow and viscosities that depend on it

/// Equal numbers at neighbouring nodes are one number: a parallel facet. Derivatives may still differ.
template <class T>
inline constexpr bool parallel = std::is_same_v<T, double>;

/// The cell has the gap of the one before it throughout.
template <class T>
[[nodiscard]] bool same_cell(const ContactArrays<T>& a, std::size_t cell) {
    return parallel<T> && value_of(a.gap[cell + 1]) == value_of(a.gap[cell]) &&
           value_of(a.gap[cell]) == value_of(a.gap[cell - 1]);
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

/// From the facet on one mean serves both: the film's end moves through these cells, and what the one-pass solution knows at
/// their nodes has to agree with what it finds inside them.
[[nodiscard]] inline bool one_mean(const ContactMesh& m, std::size_t cell) noexcept { return cell >= facet_start(m); }

/// Couette gap and flow factors of the engraving.
template <class T>
void fill_texture(const ContactSetup& s, const ContactArrays<T>& a) {
    const std::size_t cells = a.x.size() - 1;
    if (s.cells == nullptr) {
        const auto in = static_cast<std::ptrdiff_t>(s.mesh.flank_in),
                   out = static_cast<std::ptrdiff_t>(s.mesh.flank_out);
        std::fill(a.flow_factor.begin(), a.flow_factor.begin() + in, T(1.0));
        std::fill(a.flow_factor.begin() + in, a.flow_factor.end() - out, T(s.flow_factor));
        std::fill(a.flow_factor.end() - out, a.flow_factor.end(), T(1.0));
        std::copy(a.gap.begin(), a.gap.end(), a.couette_gap.begin());
        return;
    }
    auto left = s.cells->resistance_and_couette(a.gap[0]);
    a.couette_gap[0] = a.gap[0] * left[1];
    a.resistance[0] = left[0] * left[1] * left[1] * left[1];
    for (std::size_t c = 0; c < cells; ++c) {
        if (c > 0 && same_cell(a, c)) {
            a.shear_flow_factor[c] = a.shear_flow_factor[c - 1];
            a.flow_factor[c] = a.flow_factor[c - 1];
            a.couette_gap[c + 1] = a.couette_gap[c];
            a.resistance[c + 1] = a.resistance[c];
            continue;
        }
        const auto right = s.cells->resistance_and_couette(a.gap[c + 1]);
        const CellTexture<T> here = cell_texture(*s.cells, a.gap[c], left, a.gap[c + 1], right);
        a.flow_factor[c] = 1.0 / here.flow;
        a.shear_flow_factor[c] = one_mean(s.mesh, c) ? a.flow_factor[c] : T(1.0 / here.shear);
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
    const bool warms = s.heat.length > 0.0 && s.heat.andrade_constant > 0.0;
    if (s.ink == nullptr) {
        std::fill(a.pressure_viscosity.begin(), a.pressure_viscosity.end(), T(s.viscosity * s.supply_factor));
        std::fill(a.shear_viscosity.begin(), a.shear_viscosity.end(),
                  T(s.viscosity * s.supply_factor * s.land_fraction));
    }
    for (std::size_t c = 0; s.ink != nullptr && c < cells; ++c) {
        if (c > 0 && same_cell(a, c)) {
            a.pressure_viscosity[c] = a.pressure_viscosity[c - 1];
            a.shear_viscosity[c] = a.shear_viscosity[c - 1];
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
    const auto tip = a.gap.subspan(static_cast<std::size_t>(s.mesh.flank_in),
                                   static_cast<std::size_t>(s.mesh.facet + 2 * s.mesh.arc));
    T thinnest = tip[0];
    for (const T& h : tip)
        if (value_of(h) < value_of(thinnest)) thinnest = h;
    for (std::size_t c = 0; c < cells; ++c)
        shear_power =
            shear_power + a.shear_viscosity[c] * (a.x[c + 1] - a.x[c]) / (a.couette_gap[c] + a.couette_gap[c + 1]);
    shear_power = shear_power * (2.0 * s.speed * s.speed);
    const T rise = temperature_rise(s.heat, T(thermal_resistance(s.heat, thinnest) * shear_power));
    if (!warms) return rise;
    const T factor = warming_factor(s.heat, rise);
    for (std::size_t c = 0; c < cells; ++c) {
        a.pressure_viscosity[c] = a.pressure_viscosity[c] * factor;
        a.shear_viscosity[c] = a.shear_viscosity[c] * factor;
    }
    return rise;
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
        // Simpson's rule: the pressure is an exponential of the separation. Most of the flanks is out of reach.
        const double reach = asperity_reach(s.asperities);
        const AsperityPressure<T> pressure(*s.f52, s.asperities);
        T last = pressure(a.separation[0]), load = T(0.0), moment = T(0.0);
        for (std::size_t n = 1; n < a.x.size(); ++n) {
            const T &before = a.separation[n - 1], &apart = a.separation[n];
            if (value_of(last) == 0.0 && value_of(apart) >= reach) continue;
            const bool same = parallel<T> && value_of(apart) == value_of(before);
            const T here = same ? last : pressure(apart);
            if (value_of(last) > 0.0 || value_of(here) > 0.0) {
                const T twice = 2.0 * (same ? here : pressure(T(0.5 * (before + apart))));
                const T up = last + twice, down = here + twice;
                const T sixth = (a.x[n] - a.x[n - 1]) * (1.0 / 6.0);
                load = load + sixth * (up + down);
                moment = moment + sixth * (up * a.x[n - 1] + down * a.x[n]);
            }
            last = here;
        }
        out.asperity_load = load, out.asperity_moment = moment;
        out.moment = out.moment + out.asperity_moment;
        out.tangential = out.tangential + s.friction * out.asperity_load;
    }
    if (s.constant_friction) out.tangential = s.friction * out.normal();
}

/// Derivatives that agree to rounding; true of a scalar that has none.
template <class T>
[[nodiscard]] bool same_slopes(const T& a, const T& b) {
    if constexpr (requires { a.d; })
        for (std::size_t i = 0; i < a.d.size(); ++i)
            if (!(std::abs(a.d[i] - b.d[i]) <= 1e-14 * std::abs(a.d[i]))) return false;
    return true;
}

/// Forces of the contact on the gap as it stands.
template <class T>
ContactForces<T> forces_on_gap(const ContactSetup& s, const Flank<T>& flank, const ContactArrays<T>& a) {
    ContactForces<T> out;
    const T p_in = inlet_pressure(s, flank.corner);
    fill_texture(s, a);
    const EntryLength<T> turn = facet_turn(s, flank, a);
    const auto pass = [&](const T& flow) {
        out.temperature_rise = fill_viscosity(s, flow, a);
        return one_pass<T>(a.x, a.couette_gap, a.pressure_viscosity, a.shear_viscosity, a.flow_factor, T(s.speed), p_in,
                           T(0.0), T(s.film_supply), a.pressure, a.work, facet_entry(s, turn, a), texture(s, a));
    };
    if (s.ink == nullptr) {
        out.film = pass(T(0.0));
    } else {
        // The profile across the gap depends on the flow: q = F(q), F nearly flat, by secants inside a bracket.
        T flow = s.flow_share * s.speed * a.couette_gap[facet_start(s.mesh)];
        out.film = pass(flow);
        double slope = s.flow_slope, low = 0.0, high = std::numeric_limits<double>::infinity();  // of F; of q
        const auto miss = [&] { return value_of(out.film.flow) - value_of(flow); };
        for (int round = 0; round < kFlowRounds; ++round) {
            const double before = value_of(flow), f_before = value_of(out.film.flow), missed = miss();
            if (std::abs(missed) <= s.flow_tolerance * std::abs(before)) break;
            (missed > 0.0 ? low : high) = before;
            flow = flow + (out.film.flow - flow) / (1.0 - slope);
            const double wanted = value_of(flow);
            if (!(wanted > low && wanted < high))
                flow = flow + (std::isfinite(high) ? 0.5 * (low + high) : 2.0 * before) - wanted;
            out.film = pass(flow);
            const double moved = value_of(flow) - before;
            if (moved != 0.0) slope = std::clamp((value_of(out.film.flow) - f_before) / moved, -20.0, 0.9);
        }
        if constexpr (!std::is_same_v<T, double>) {
            // Derivatives of the flow follow by one more step with the settled slope, the rest by more of them.
            for (int round = 0; round < (s.settled_slopes ? kFlowRounds : 1); ++round) {
                const T last = flow;
                flow = flow + (out.film.flow - flow) / (1.0 - slope);
                out.film = pass(flow);
                if (same_slopes(flow, last)) break;
            }
        }
        out.flow_slope = slope;
        out.unsettled = !(std::abs(miss()) <= std::max(s.flow_tolerance, 1e-9) * std::abs(value_of(flow)));
    }
    add_to_film(s, flank.corner, p_in, a, out);
    return out;
}

/// Forces of a rigid tip's contact between flanks at these angles [rad].
template <class T>
ContactForces<T> contact_forces(const ContactSetup& s, const T& tilt, const T& low_gap, const T& angle_in,
                                const T& angle_out, const ContactArrays<T>& a) {
    const Flank<T> flank = flank_at(angle_in);
    place_nodes(s, tilt, low_gap, flank.slope, flank.half_tangent, flank_at(angle_out).slope, a);
    return forces_on_gap(s, flank, a);
}

}  // namespace libblade::kernel
