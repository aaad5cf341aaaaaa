// One stretch of bent strip integrated by Taylor series, templated on the scalar.
//
// theta' = m / D(s), m' = F_o sin theta + F_z cos theta, o' = cos theta, z' = -sin theta, and because the pressure
// follows the strip F_o(s) = F_o - p (z(s) - z_ref), F_z(s) = F_z + p (o(s) - o_ref) exactly. In every step the
// solution is its Taylor series: with S = sin theta, C = cos theta, S' = theta' C and C' = -theta' S make the
// coefficients a recurrence of products (Moore 1966, Interval Analysis, ch. 11), so a step of order 8 costs one sine
// and one cosine. In a taper D grows as (1 + g x)^3 over a step, whose inverse has the coefficients (-g)^k (k + 1)(k +
// 2) / 2.
//
// T needs + - * / and comparisons, and sin, cos, sqrt, atan2 found by argument lookup. Nothing allocates.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <utility>

namespace libblade::kernel {

inline constexpr std::size_t kSeriesOrder = 8;

template <class T>
struct StripState {
    T theta, moment, o, z;  ///< [rad], D theta' [N], [m], [m]
};

/// Force on all that lies outboard of the reference place, and following pressure inboard of it.
template <class T>
struct StripLoad {
    T stiffness;         ///< D at the outer end of the step [N m]
    T force_o, force_z;  ///< [N/m]
    T pressure;          ///< towards the roll [Pa]
    T o_ref, z_ref;      ///< reference place [m]
};

/// One step: Taylor coefficients in (s - s_0) / step, so that each field is the sum of its own at the end.
template <class T>
struct StripSeries {
    std::array<T, kSeriesOrder + 1> theta, turn, moment, o, z;  ///< turn = step theta', moment = step m / D(s_0)
    T step, stiffness, growth;  ///< [m], D at s_0 [N m], relative growth of the thickness over the step
};

template <class T>
[[nodiscard]] T series_end(const std::array<T, kSeriesOrder + 1>& c) noexcept {
    T sum = c[kSeriesOrder];
    for (std::size_t k = kSeriesOrder; k-- > 0;) sum = sum + c[k];
    return sum;
}

template <class T, bool Tapered, bool Pressed>
void fill_series(StripSeries<T>& u, const StripState<T>& at, const StripLoad<T>& load) noexcept {
    using std::cos;
    using std::sin;
    const T per_stiffness = 1.0 / load.stiffness;
    const T scale = u.step * u.step * per_stiffness;
    const T pull = scale * load.pressure;
    // Without taper moment and turn are the same series: one array is kept.
    auto& m = Tapered ? u.moment : u.turn;
    std::array<T, kSeriesOrder + 1> S, C, fo, fz, soft;
    u.theta[0] = at.theta;
    m[0] = u.step * per_stiffness * at.moment;
    u.turn[0] = m[0];
    u.o[0] = at.o;
    u.z[0] = at.z;
    S[0] = sin(at.theta);
    C[0] = cos(at.theta);
    fo[0] = scale * load.force_o;
    fz[0] = scale * load.force_z;
    if constexpr (Pressed) {
        fo[0] = fo[0] - pull * (at.z - load.z_ref);
        fz[0] = fz[0] + pull * (at.o - load.o_ref);
    }
    if constexpr (Tapered) {
        T power(1.0);
        for (std::size_t k = 0; k <= kSeriesOrder; ++k) {
            soft[k] = (0.5 * static_cast<double>((k + 1) * (k + 2))) * power;
            power = -1.0 * (power * u.growth);
        }
    }
    const auto coefficient = [&](auto order) {
        constexpr std::size_t k = order;
        constexpr double share = 1.0 / static_cast<double>(k + 1);
        T bend = fo[0] * S[k] + fz[0] * C[k];
        if constexpr (Pressed)
            for (std::size_t j = 1; j <= k; ++j) bend = bend + fo[j] * S[k - j] + fz[j] * C[k - j];
        T ds = u.turn[0] * C[k], dc = u.turn[0] * S[k];
        for (std::size_t j = 1; j <= k; ++j) {
            ds = ds + u.turn[j] * C[k - j];
            dc = dc + u.turn[j] * S[k - j];
        }
        u.theta[k + 1] = share * u.turn[k];
        m[k + 1] = share * bend;
        if constexpr (Tapered) {
            T turn = m[k + 1];
            for (std::size_t j = 0; j <= k; ++j) turn = turn + m[j] * soft[k + 1 - j];
            u.turn[k + 1] = turn;
        }
        u.o[k + 1] = share * (u.step * C[k]);
        u.z[k + 1] = -share * (u.step * S[k]);
        if constexpr (Pressed) {
            fo[k + 1] = -1.0 * (pull * u.z[k + 1]);
            fz[k + 1] = pull * u.o[k + 1];
        }
        S[k + 1] = share * ds;
        C[k + 1] = -share * dc;
    };
    // Written out: the loops of a recurrence this short cost more than its products.
    [&]<std::size_t... k>(std::index_sequence<k...>) { (coefficient(std::integral_constant<std::size_t, k>{}), ...); }
    (std::make_index_sequence<kSeriesOrder>{});
    if constexpr (!Tapered) u.moment = u.turn;
}

template <class T>
void strip_series(StripSeries<T>& u, const StripState<T>& at, const StripLoad<T>& load, const T& step,
                  const T& growth) noexcept {
    u.step = step, u.stiffness = load.stiffness, u.growth = growth;
    const bool pressed = load.pressure != T(0.0), tapered = growth != T(0.0);
    if (tapered)
        pressed ? fill_series<T, true, true>(u, at, load) : fill_series<T, true, false>(u, at, load);
    else
        pressed ? fill_series<T, false, true>(u, at, load) : fill_series<T, false, false>(u, at, load);
}

struct NoVisit {
    template <class T>
    void operator()(const StripSeries<T>&) const noexcept {}
};

/// From the outer end inwards in equal steps; visit(series) sees every step, outer end first. `taper`: relative growth
/// of the thickness from the outer to the inner end.
template <class T, class Visit = NoVisit>
[[nodiscard]] StripState<T> integrate_strip(StripState<T> state, StripLoad<T> load, const T& length, int steps,
                                            Visit&& visit = {}, const T& taper = T(0.0)) noexcept {
    const T step = length * (-1.0 / static_cast<double>(steps));
    const T outer_stiffness = load.stiffness;
    const bool tapered = taper != T(0.0);
    StripSeries<T> u;
    for (int i = 0; i < steps; ++i) {
        T growth(0.0);
        if (tapered) {
            const T thick = 1.0 + taper * (static_cast<double>(i) / steps);
            growth = taper * (1.0 / steps) / thick;
            load.stiffness = outer_stiffness * thick * thick * thick;
        }
        strip_series(u, state, load, step, growth);
        state = {series_end(u.theta), series_end(u.moment) * load.stiffness / step, series_end(u.o), series_end(u.z)};
        visit(u);
    }
    return state;
}

}  // namespace libblade::kernel
