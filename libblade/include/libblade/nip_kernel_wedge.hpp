// What the ink wedge ahead of the facet does: its pressure where the film begins, and the turn into the gap. No allocation; any
// scalar type.
#pragma once

#include <cmath>
#include <cstddef>
#include <type_traits>

#include "libblade/film.hpp"
#include "libblade/film_entry.hpp"
#include "libblade/nip_kernel_gap.hpp"

namespace libblade::kernel {

/// The ink-side flank: angle of the ink wedge b [rad], its Stokes corner factor, its effective slope (film.hpp), tan(b/2).
template <class T>
struct Flank {
    T angle, corner, slope, half_tangent;
};
template <class T>
[[nodiscard]] Flank<T> flank_at(const T& angle) {
    using std::sqrt;
    const double b = value_of(angle);
    const double tangent = std::tan(0.5 * b);
    T corner = T(corner_factor(b)), half_tangent = T(tangent);
    if constexpr (!std::is_same_v<T, double>) {
        corner = corner + (angle - b) * corner_factor_slope(b);
        half_tangent = half_tangent + (angle - b) * (0.5 + 0.5 * tangent * tangent);
    }
    return {angle, corner, T(sqrt(T(6.0 / corner))), half_tangent};
}

/// What the turn of the flow into the gap stands for at the start of the facet (film_entry.hpp); nothing without a flat part.
template <class T>
EntryLength<T> facet_turn(const ContactSetup& s, const Flank<T>& flank, const ContactArrays<T>& a) {
    const std::size_t start = facet_start(s.mesh);
    if (!(value_of(a.x[start + static_cast<std::size_t>(s.mesh.facet)]) > value_of(a.x[start])))
        return {T(0.0), T(0.0)};
    return entry_length(flank.angle, T(s.edge_radius / a.gap[start]));
}

/// The pressure and drag it adds under the viscosities as they stand.
template <class T>
EntryJump<T> facet_entry(const ContactSetup& s, const EntryLength<T>& turn, const ContactArrays<T>& a) {
    const std::size_t start = facet_start(s.mesh);
    const T h = a.couette_gap[start];
    const T k = 12.0 * a.pressure_viscosity[start - 1] / (a.flow_factor[start - 1] * h);
    EntryJump<T> jump;
    jump.node = start;
    jump.P2 = k * turn.shear;
    jump.P3 = k * turn.pressure / h;
    jump.drag = a.shear_viscosity[start - 1] * s.speed * turn.shear;
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

}  // namespace libblade::kernel
