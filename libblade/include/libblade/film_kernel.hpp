// One-pass solution of the ink film for gaps with one minimum, templated on the scalar.
//
// Integrating q = U h / 2 - (phi h^3 / (12 eta)) dp/dx from the inlet gives p = p_in + (U / 2) P2 - q P3 with
// P2 = int k dx / h^2, P3 = int k dx / h^3, k = 12 eta / phi. The film ruptures downstream of the minimum where
// p = dp/dx = 0, so q = U h_r / 2 (Swift 1932, Stieber 1933): a zero of f = p_in + (U / 2) P2 - (U h / 2) P3. As
// df = -(U / 2) P3 dh, f rises while the gap falls and falls while it rises: one zero, found in the same sweep. With
// the gap linear between nodes the integrals are exact and the zero in its cell is a root of a quadratic.
//
// T needs + - * / and comparisons, and sqrt and log found by argument lookup. Nothing allocates.
#pragma once

#include <cmath>
#include <cstddef>
#include <span>

namespace libblade::kernel {

template <class T>
struct FilmPass {
    T flow = T(0.0);           ///< q [m2/s]
    T load = T(0.0);           ///< int p dx [N/m]
    T moment = T(0.0);         ///< int x p dx, about x = 0 [N]
    T couette_drag = T(0.0);   ///< int eta_s U / h dx, times the filled share in the void [N/m]
    T pressure_drag = T(0.0);  ///< int (h / 2) dp/dx dx over the full film [N/m]
    T rupture_gap = T(0.0);    ///< gap at the end of the full film [m]
    T rupture_x = T(0.0);      ///< end of the full film [m]
    T start_x = T(0.0);        ///< start of the full film [m]: the inlet, or further downstream when starved
    std::size_t rupture_cell = 0;  ///< cell that holds rupture_x
    std::size_t start_cell = 0;    ///< cell that holds start_x
    bool ruptured = false;         ///< the full film ends before the last node
    bool starved = false;          ///< the flow is that of the supplied layer
    bool full_somewhere = true;    ///< false: the supplied layer passes below the minimum without filling it
    bool handled = true;  ///< false: the film re-forms ahead of an outlet above cavitation pressure; values are not valid
};

namespace detail {

/// Smallest root >= 0 of a t^2 + b t - c = 0 with c >= 0, without cancellation.
template <class T>
[[nodiscard]] T first_root(const T& a, const T& b, const T& c) noexcept {
    using std::sqrt;
    if (!(c > T(0.0))) return T(0.0);
    const T d = b * b + 4.0 * a * c;
    const T root = d > T(0.0) ? T(sqrt(d)) : T(0.0);
    if (b >= T(0.0)) return T(2.0 * c / (b + root));
    return T((root - b) / (2.0 * a));
}

/// int dx / h over a cell with linear gap: dx ln(h2 / h1) / (h2 - h1), by its series when the gap changes little.
template <class T>
[[nodiscard]] T inverse_gap_integral(const T& dx, const T& h1, const T& h2) noexcept {
    using std::log;
    const T sum = h1 + h2;
    const T inverse = 1.0 / sum;
    const T z = (h2 - h1) * inverse;
    const T w = z * z;
    // atanh(z) / z: the first term left out is w^6 / 13 < 8e-14
    if (w < T(0.01)) {
        return T(2.0 * dx * inverse *
                 (1.0 + w * (1.0 / 3.0 + w * (0.2 + w * (1.0 / 7.0 + w * (1.0 / 9.0 + w * (1.0 / 11.0)))))));
    }
    const T ratio = h2 / h1;
    return T(dx * log(ratio) / (h2 - h1));
}

template <class T>
struct FilmData {
    std::span<const T> x, h, pressure_viscosity, shear_viscosity, flow_factor;
    T U;
    std::span<T> G;   // p_in + (U / 2) P2 at the nodes; holds the pressure at the end
    std::span<T> P3;  // at the nodes
    std::span<T> r;   // 1 / h at the nodes

    [[nodiscard]] T k(std::size_t i) const noexcept { return T(12.0 * pressure_viscosity[i] / flow_factor[i]); }

    /// Advances the sums over cell i; returns the change of f, exact in sign: 0 on a flat cell.
    T sum_cell(std::size_t i) noexcept {
        r[i + 1] = 1.0 / h[i + 1];
        const T kdx = k(i) * (x[i + 1] - x[i]);
        const T rr = r[i] * r[i + 1];
        const T df = -0.5 * U * (h[i + 1] - h[i]) * (P3[i] + 0.5 * kdx * rr * r[i]);
        G[i + 1] = G[i] + 0.5 * U * kdx * rr;
        P3[i + 1] = P3[i] + 0.5 * kdx * (h[i] + h[i + 1]) * rr * rr;
        return df;
    }
    /// G - q P3 at the share t of cell i, where the gap is gap_t.
    [[nodiscard]] T level(std::size_t i, const T& t, const T& gap_t, const T& q) const noexcept {
        const T kdx = t * k(i) * (x[i + 1] - x[i]);
        const T rr = r[i] / gap_t;
        return T(G[i] + 0.5 * U * kdx * rr - q * (P3[i] + 0.5 * kdx * (h[i] + gap_t) * rr * rr));
    }
};

/// Share of cell i at which f reaches zero, f_i >= 0 at its first node.
template <class T>
[[nodiscard]] T rupture_share(const FilmData<T>& d, std::size_t i, const T& f_i) noexcept {
    const T dh = d.h[i + 1] - d.h[i];
    const T kdx = d.k(i) * (d.x[i + 1] - d.x[i]);
    const T half_P3 = 0.5 * d.U * d.P3[i];
    const T a = dh * (half_P3 * dh + 0.25 * d.U * kdx * d.r[i] * d.r[i]);
    const T b = dh * (half_P3 * d.h[i] - f_i);
    const T c = d.h[i] * f_i;
    const T t = first_root(a, b, c);
    return t > T(1.0) ? T(1.0) : t;
}

/// Share of cell i at which the pressure, -g at its first node, has risen to zero.
template <class T>
[[nodiscard]] T start_share(const FilmData<T>& d, std::size_t i, const T& g, const T& q) noexcept {
    const T delta = (d.h[i + 1] - d.h[i]) * d.r[i];
    const T a2 = 0.5 * d.U * d.k(i) * (d.x[i + 1] - d.x[i]) * d.r[i] * d.r[i];
    const T a3 = 0.5 * q * d.k(i) * (d.x[i + 1] - d.x[i]) * d.r[i] * d.r[i] * d.r[i];
    const T a = delta * (a2 - a3 - g * delta);
    const T b = a2 - 2.0 * a3 - 2.0 * g * delta;
    const T t = first_root(a, b, g);
    return t > T(1.0) ? T(1.0) : t;
}

/// Adds one full (piece of a) cell. Cubic Hermite in p with the exact end slopes: load and moment to O(dx^4).
template <class T>
void add_full(FilmPass<T>& out, const FilmData<T>& d, std::size_t cell, const T& x1, const T& dx, const T& h1, const T& r1,
              const T& h2, const T& r2, const T& p1, const T& p2) noexcept {
    const T k = d.k(cell);
    const T s1 = k * r1 * r1 * (0.5 * d.U - out.flow * r1);  // dp/dx
    const T s2 = k * r2 * r2 * (0.5 * d.U - out.flow * r2);
    const T load = dx * (0.5 * (p1 + p2) + dx * (s1 - s2) * (1.0 / 12.0));
    out.load += load;
    out.moment += x1 * load + dx * dx * (0.15 * p1 + 0.35 * p2 + dx * (s1 * (1.0 / 30.0) - s2 * 0.05));
    const T inverse_gap = inverse_gap_integral(dx, h1, h2);
    out.couette_drag += d.shear_viscosity[cell] * d.U * inverse_gap;
    out.pressure_drag += 0.5 * k * (0.5 * d.U * inverse_gap - out.flow * dx * r1 * r2);
}

/// Adds one (piece of a) cell that is filled to the share 2 q / (U h).
template <class T>
void add_void(FilmPass<T>& out, const FilmData<T>& d, std::size_t cell, const T& dx, const T& r1, const T& r2) noexcept {
    out.couette_drag += d.shear_viscosity[cell] * 2.0 * out.flow * dx * r1 * r2;
}

/// No part of the gap is full: the supplied layer, which would fill `gap`, passes below the minimum.
template <class T>
[[nodiscard]] T nowhere_full(FilmPass<T>& out, const FilmData<T>& d, const T& gap) noexcept {
    out.full_somewhere = false;
    out.ruptured = true;
    out.rupture_cell = 0;
    out.rupture_gap = gap;
    out.rupture_x = d.x[0];
    return T(0.0);
}

/// The extent of the film when the flow is U times the supplied layer. `last`: last node with sums.
/// Returns G - q P3 at the end of the full film.
template <class T>
[[nodiscard]] T place_starved(FilmPass<T>& out, const FilmData<T>& d, std::size_t last, const T& film_supply,
                              const T& pressure_out) noexcept {
    const std::size_t n = d.h.size();
    const T q = d.U * film_supply;
    const T gap = 2.0 * film_supply;
    out.flow = q;
    out.starved = true;
    std::size_t end = last;  // last node not wider than the rupture gap
    while (end > 0 && d.h[end] > gap) --end;
    out.full_somewhere = !(d.h[end] > gap);
    out.ruptured = end + 1 < n;
    out.handled = !(pressure_out > T(0.0)) || (out.full_somewhere && !out.ruptured);
    out.start_x = d.x[0];
    out.start_cell = 0;
    if (!out.full_somewhere) return nowhere_full(out, d, gap);
    T end_level = d.G[end] - q * d.P3[end];
    out.rupture_cell = out.ruptured ? end : n - 2;
    out.rupture_gap = d.h[end];
    out.rupture_x = d.x[end];
    if (out.ruptured) {
        const T t = (gap - d.h[end]) / (d.h[end + 1] - d.h[end]);
        end_level = d.level(end, t, gap, q);
        out.rupture_gap = gap;
        out.rupture_x = d.x[end] + t * (d.x[end + 1] - d.x[end]);
    }
    const T p_end = out.ruptured ? T(0.0) : pressure_out;
    const T g0 = end_level - p_end - d.G[0];
    if (g0 <= T(0.0)) return end_level;  // full from the inlet, at a pressure below pressure_in
    std::size_t i = 0;
    while (i < end && end_level - p_end - (d.G[i + 1] - q * d.P3[i + 1]) >= T(0.0)) ++i;
    if (i == end) return nowhere_full(out, d, gap);
    const T g = end_level - p_end - (d.G[i] - q * d.P3[i]);
    out.start_cell = i;
    out.start_x = d.x[i] + start_share(d, i, g, q) * (d.x[i + 1] - d.x[i]);
    return end_level;
}

/// Writes the pressure over G and adds up load, moment and drag. `end_level`: G - q P3 where the full film ends.
template <class T>
void add_up(FilmPass<T>& out, FilmData<T>& d, const T& end_level, const T& p_end) noexcept {
    const std::size_t n = d.h.size();
    const std::size_t a = out.full_somewhere ? out.start_cell : n;
    const std::size_t b = out.rupture_cell;
    const bool late_start = out.full_somewhere && out.start_x > d.x[0];
    for (std::size_t i = 0; i < n; ++i) {
        const bool full = out.full_somewhere && i <= b && (i > a || (i == a && !late_start));
        const T p = full ? T(d.G[i] - out.flow * d.P3[i] - end_level + p_end) : T(0.0);
        d.G[i] = p > T(0.0) ? p : T(0.0);
    }
    if (out.full_somewhere && !out.ruptured) d.G[n - 1] = p_end;
    for (std::size_t i = 0; i + 1 < n; ++i) {
        const T dx = d.x[i + 1] - d.x[i];
        if (!out.full_somewhere || i < a || i > b) {
            add_void(out, d, i, dx, d.r[i], d.r[i + 1]);
            continue;
        }
        if (i > a && i < b) {
            add_full(out, d, i, d.x[i], dx, d.h[i], d.r[i], d.h[i + 1], d.r[i + 1], d.G[i], d.G[i + 1]);
            continue;
        }
        T x1 = d.x[i], h1 = d.h[i], r1 = d.r[i], x2 = d.x[i + 1], h2 = d.h[i + 1], r2 = d.r[i + 1];
        T p2 = d.G[i + 1];
        if (i == a && late_start) {
            x1 = out.start_x;
            h1 = d.h[i] + (d.h[i + 1] - d.h[i]) * (x1 - d.x[i]) / dx;
            r1 = 1.0 / h1;
            add_void(out, d, i, T(x1 - d.x[i]), d.r[i], r1);
        }
        if (i == b && out.ruptured) {
            x2 = out.rupture_x;
            h2 = out.rupture_gap;
            r2 = 1.0 / h2;
            p2 = p_end;
            add_void(out, d, i, T(d.x[i + 1] - x2), r2, d.r[i + 1]);
        }
        add_full(out, d, i, x1, T(x2 - x1), h1, r1, h2, r2, d.G[i], p2);
    }
}

}  // namespace detail

/// Pressures are above the cavitation pressure, pressure_in >= 0, speed > 0, gap with one minimum (its caller's task).
/// Arrays over the n >= 2 nodes: x increasing [m], h > 0 [m]; over the n - 1 cells: viscosities [Pa s], flow_factor [-].
/// film_supply < 0: flooded; else the layer [m] arriving on the moving surface, which limits the flow to U film_supply;
/// ahead of a starved film the pressure is the cavitation pressure. Out: pressure [Pa] (n). work: at least 2 n.
template <class T>
[[nodiscard]] FilmPass<T> one_pass(std::span<const T> x, std::span<const T> h, std::span<const T> pressure_viscosity,
                                   std::span<const T> shear_viscosity, std::span<const T> flow_factor, T speed,
                                   T pressure_in, T pressure_out, T film_supply, std::span<T> pressure,
                                   std::span<T> work) noexcept {
    const std::size_t n = h.size();
    detail::FilmData<T> d{x,     h,        pressure_viscosity, shear_viscosity,    flow_factor,
                          speed, pressure, work.subspan(0, n), work.subspan(n, n)};
    FilmPass<T> out;
    d.G[0] = pressure_in;
    d.P3[0] = T(0.0);
    d.r[0] = 1.0 / h[0];

    T f = pressure_in;  // at the first node of the current cell
    std::size_t i = 0;
    for (; i + 1 < n; ++i) {
        const T next = f + d.sum_cell(i);
        if (next < T(0.0)) break;
        f = next;
    }
    out.ruptured = i + 1 < n;
    out.rupture_cell = out.ruptured ? i : n - 2;
    std::size_t last = out.ruptured ? i + 1 : n - 1;
    for (std::size_t j = last; j + 1 < n; ++j) (void)d.sum_cell(j);  // reciprocals for the void; sums for pressure_out
    if (out.ruptured) {
        const T t = detail::rupture_share(d, i, f);
        out.rupture_gap = h[i] + t * (h[i + 1] - h[i]);
        out.rupture_x = x[i] + t * (x[i + 1] - x[i]);
        out.flow = 0.5 * speed * out.rupture_gap;
        if (pressure_out > T(0.0)) {
            // full up to the outlet when the pressure dips no lower than the cavitation pressure: 2 q / U <= h_r
            const T q = (d.G[n - 1] - pressure_out) / d.P3[n - 1];
            out.handled = q <= out.flow;
            if (out.handled) {
                out.ruptured = false;
                last = n - 1;
            }
        }
    }
    if (!out.ruptured) {
        out.rupture_cell = n - 2;
        out.rupture_gap = h[n - 1];
        out.rupture_x = x[n - 1];
        out.flow = (d.G[n - 1] - pressure_out) / d.P3[n - 1];
    }
    out.start_x = x[0];
    const T p_flooded = out.ruptured ? T(0.0) : pressure_out;
    T end_level = p_flooded;  // G - q P3 = p there, by the choice of q
    T p_end = p_flooded;
    if (film_supply >= T(0.0) && speed * film_supply < out.flow) {
        end_level = detail::place_starved(out, d, last, film_supply, pressure_out);
        p_end = out.ruptured ? T(0.0) : pressure_out;
    }
    detail::add_up(out, d, end_level, p_end);
    return out;
}

}  // namespace libblade::kernel
