// The gap under a tip: what is known of a contact, its arrays, and where its nodes lie. No allocation; any scalar type.
//
// Gap from upstream to downstream: ink-side flank, edge arc, facet, edge arc, far flank. Flanks have the effective slope
// of the Stokes corner (film.hpp); the facet is straight against the roll with tilt d (positive: opens towards the incoming
// ink), conformal at d = 0. Rounding takes metal away: arcs (parabolas of the edge radius) begin inside the facet and touch
// the flanks, whose lines still meet the facet line at its nominal ends. An unworn edge is the same with nothing left flat.
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <span>
#include <type_traits>

#include "libblade/asperity.hpp"
#include "libblade/cell_flow.hpp"
#include "libblade/film_kernel.hpp"
#include "libblade/heat_kernel.hpp"
#include "libblade/ink_flow.hpp"

namespace libblade::kernel {

/// Cells per part of the gap.
struct ContactMesh {
    int flank_in = 12, arc = 7, facet = 16, flank_out = 6;
    [[nodiscard]] constexpr std::size_t nodes() const noexcept {
        return static_cast<std::size_t>(flank_in + arc + facet + arc + flank_out) + 1;
    }
};

/// First cell of the facet; its rounded ends lie on both sides.
[[nodiscard]] inline std::size_t facet_start(const ContactMesh& m) noexcept {
    return static_cast<std::size_t>(m.flank_in + m.arc);
}

/// The cell lies under the facet or its rounded ends.
[[nodiscard]] inline bool under_tip(const ContactMesh& m, std::size_t cell) noexcept {
    const auto start = static_cast<std::size_t>(m.flank_in);
    return cell >= start && cell < start + static_cast<std::size_t>(m.facet + 2 * m.arc);
}

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
    bool constant_friction = false;        ///< T = friction x N, whatever carries N
    double supply_factor = 1.0;            ///< temperature factor of the viscosity in the supply
    HeatSetup heat;
    AsperityLaw asperities;
    double viscosity = 0.03;                    ///< of a Newtonian ink at the reference temperature [Pa s]
    const InkFlowTable* ink = nullptr;          ///< any other law; none: Newtonian
    double flow_share = 0.5, flow_slope = 0.0;  ///< where the search for q starts: q / (U g) at the facet; slope of F
    double flow_tolerance = 1e-11;              ///< where it ends, relative
    bool settled_slopes = false;                ///< so are its derivatives, or they are one step short of it
    const UniformCubic* f52 = nullptr;
    const UniformCubic* f1 = nullptr;
    /// Height of the worn surface over the straight facet, evenly spaced from its upstream to its downstream end [m]; empty:
    /// straight. One minimum of the gap is taken for granted.
    std::span<const double> profile;
};

/// Height of the worn surface over the straight facet at a place along it from 0 upstream to 1 downstream [m].
template <class T>
[[nodiscard]] T profile_height(std::span<const double> profile, const T& place) {
    if (profile.empty()) return T(0.0 * place);
    const std::size_t cells = profile.size() - 1;
    const double at = std::clamp(value_of(place), 0.0, 1.0) * static_cast<double>(cells);
    const std::size_t i = std::min(static_cast<std::size_t>(at), cells - 1);
    return profile[i] + (place * static_cast<double>(cells) - static_cast<double>(i)) * (profile[i + 1] - profile[i]);
}

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
    double flow_slope = 0.0;  ///< dF/dq where flow and viscosities agree
    bool unsettled = false;   ///< flow and viscosities did not come to agree: values are not valid
    [[nodiscard]] T normal() const { return T(film_load + outer_load + asperity_load); }
};

/// Places (rho^(i/n) - 1)/(rho - 1) that step geometrically, even spacing at rho = 1.
template <class T>
void graded_places(std::span<T> out, const T& ratio) {
    using std::exp, std::log;
    const std::size_t n = out.size() - 1;
    if (n == 1) {
        out[0] = T(0.0), out[1] = T(1.0);
        return;
    }
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

/// Places from 0 to 1 that step like 1 + |place - centre| / reach on both sides of a centre; those of graded_places with the
/// centre at 0. centre, whole: the centre and the length over the reach.
template <class T>
void graded_about(std::span<T> out, const T& centre, const T& whole) {
    using std::exp, std::log;
    const std::size_t n = out.size() - 1;
    const T near = 1.0 + centre;
    const T step = exp(T(log(T(near * (1.0 + whole - centre))) / static_cast<double>(n)));
    T power = T(1.0 + 0.0 * centre);
    for (std::size_t i = 0; i <= n; ++i) {
        const T d = power < near ? T(near - near / power) : T(power / near - 1.0 + centre);
        out[i] = d / whole;
        power = power * step;
    }
    out[n] = T(1.0 + 0.0 * centre);
}

/// How far an edge arc reaches into the facet [m].
template <class T>
T rounding(const T& slope, const T& start_slope, double radius) {
    const T turn = slope - start_slope;
    return value_of(turn) > 0.0 ? T(0.5 * radius * turn) : T(0.0 * turn);
}

/// Nodes and gap between mean planes for a tilt [rad], the gap at the lower facet end [m], the flank slopes and tan(b/2) of the
/// ink wedge.
template <class T>
void place_nodes(const ContactSetup& s, const T& tilt, const T& low_gap, const T& slope_in, const T& half_tangent,
                 const T& slope_out, const ContactArrays<T>& a) {
    using std::sqrt;
    const ContactMesh& m = s.mesh;
    const double r = s.edge_radius;
    // A circle between facet and flank leaves the facet r tan((b - d) / 2) from where they would meet. The parabola that stands
    // for it ends r (m - d) further on, its chord tangents meet half-way.
    const T cut_in = rounding(T(2.0 * half_tangent), tilt, r), cut_out = rounding(slope_out, T(-tilt), r);
    const T left = T(s.facet_length - cut_in - cut_out);
    const bool flat = value_of(left) > 0.0;
    const T b = flat ? left : T(0.0 * left);
    const T first = flat ? T(-0.5 * s.facet_length + cut_in) : T(0.0 * left);
    const bool opens_upstream = value_of(tilt) >= 0.0;
    const T rise = opens_upstream ? T(tilt * b) : T(-tilt * b);
    // A worn surface stands above the straight facet.
    const auto worn = [&](const T& x) {
        return profile_height(s.profile, T(0.5 + x / (s.facet_length > 0.0 ? s.facet_length : 1.0)));
    };
    const T height_up = worn(first), height_down = worn(T(first + b));
    const T gap_up = opens_upstream ? T(low_gap + rise + height_up) : T(low_gap + height_up),
            gap_down = opens_upstream ? T(low_gap + height_down) : T(low_gap + rise + height_down);
    const FilledGap<T> filled(*s.f1, s.asperities.sigma);

    std::size_t i = static_cast<std::size_t>(m.flank_in + m.arc);
    // Facet: steps grow with the gap, since that is the length on which everything changes.
    const auto facet_nodes = static_cast<std::size_t>(m.facet) + 1;
    const std::span<T> place = a.work.subspan(0, facet_nodes);
    const T low = filled(low_gap);
    graded_places(place, s.profile.empty() ? T((low + rise) / low) : T(1.0 + 0.0 * low));
    const T start = opens_upstream ? T(low_gap + rise) : low_gap;
    for (std::size_t k = 0; k < facet_nodes; ++k) {
        const T along = opens_upstream ? T(1.0 - place[facet_nodes - 1 - k]) : place[k];
        a.x[i + k] = T(first + b * along);
        a.separation[i + k] = opens_upstream ? T(start - rise * along) : T(start + rise * along);
        if (!s.profile.empty()) a.separation[i + k] = a.separation[i + k] + worn(a.x[i + k]);
    }
    // One side: arc, then flank, walking away from the facet.
    const auto side = [&](std::size_t corner, int direction, const T& corner_gap, const T& slope, const T& start_slope,
                          int arc, int flank, auto flank_end) {
        const T arc_length = 2.0 * rounding(slope, start_slope, r);
        const double per_2r = 0.5 / r;
        T h = corner_gap;
        std::size_t node = corner;
        const T x0 = a.x[corner];
        // On an arc the gap doubles over sqrt(2 r h): steps start at a part of that and grow, away from where the arc is lowest.
        const std::span<T> near = a.work.subspan(0, static_cast<std::size_t>(arc) + 1);
        if (value_of(start_slope) < 0.0 && r > 0.0) {
            const T lowest = T(-r * start_slope), below = T(0.5 * r * start_slope * start_slope);
            const T reach = sqrt(T(2.0 * r * filled(T(corner_gap - below))));
            graded_about(near, T(lowest / reach), T(arc_length / reach));
        } else {
            const T reach = sqrt(T(2.0 * r * filled(corner_gap)));
            graded_places(near, T((reach + arc_length) / reach));
        }
        for (int k = 1; k <= arc; ++k) {
            const T d = arc_length * near[static_cast<std::size_t>(k)];
            node = direction < 0 ? node - 1 : node + 1;
            a.x[node] = direction < 0 ? T(x0 - d) : T(x0 + d);
            h = corner_gap + d * (start_slope + d * per_2r);
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
    const double touching = 6.0 * s.asperities.sigma;  // only there the gap is not the separation
    for (std::size_t n = 0; n < a.x.size(); ++n) {
        const T& apart = a.separation[n];
        if (value_of(apart) >= touching) {
            a.gap[n] = apart;
            continue;
        }
        const bool same =
            std::is_same_v<T, double> && n > 0 && value_of(apart) == value_of(a.separation[n - 1]);  // a parallel facet
        a.gap[n] = same ? a.gap[n - 1] : filled(apart);
    }
}

}  // namespace libblade::kernel
