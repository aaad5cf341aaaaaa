// One-pass solution of the ink film that is full from the inlet to one place, templated on the scalar.
//
// Integrating q = U h / 2 - (phi h^3 / (12 eta)) dp/dx from the inlet gives p = p_in + (U / 2) P2 - q P3 with
// P2 = int k dx / h^2, P3 = int k dx / h^3, k = 12 eta / phi. The film ruptures downstream of the minimum where
// p = dp/dx = 0, so q = U h_r / 2 (Swift 1932, Stieber 1933): a zero of f = p_in + (U / 2) P2 - (U h / 2) P3. As
// df = -(U / 2) P3 dh, f rises while the gap falls and falls while it rises: one zero, found in the same sweep; where
// the gap has several minima, the zero with the least flow. With the gap linear between nodes the integrals are exact
// and the zero in its cell is a root of a quadratic.
//
// T needs + - * / and comparisons, and sqrt and log found by argument lookup. Nothing allocates.
#pragma once

#include <algorithm>
#include <cstddef>
#include <span>
#include <tuple>

#include "libblade/film_cells.hpp"

namespace libblade::kernel {
namespace detail {

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

/// The end of a film that the whole jump would carry no further than one gap behind its node: the place in that length where
/// f, with the part of the jump that this place has, falls to zero. Newton's method inside a bracket: f is not below zero at the
/// node and, with the whole jump, below zero one gap on. The jump is cut to that part.
template <class T>
void end_within_jump(FilmPass<T>& out, FilmData<T>& d) noexcept {
    const std::size_t node = d.jump.node;
    const T start = d.x[node], reach = d.h[node];
    T low = T(0.0), high = T(1.0), share = (out.rupture_x - start) / reach;
    std::size_t cell = node;
    constexpr int kSteps = 60;
    bool found = false;
    for (int step = 0; step < kSteps; ++step) {
        out.rupture_x = start + share * reach;
        while (cell + 2 < d.h.size() && out.rupture_x > d.x[cell + 1]) ++cell;
        while (cell > node && out.rupture_x < d.x[cell]) --cell;
        const T into = out.rupture_x - d.x[cell], dx = d.x[cell + 1] - d.x[cell];
        const T slope = (d.h[cell + 1] - d.h[cell]) / dx;
        out.rupture_gap = d.h[cell] + into * slope;
        if (found) break;
        const T q = 0.5 * d.U * out.rupture_gap, rise = d.jump.rise(d.U, q), rr = d.r[cell] / out.rupture_gap;
        const T f = d.level(cell, T(into / dx), out.rupture_gap, q) - (1.0 - share) * rise;
        const T P3 = d.P3[cell] + 0.5 * d.k(cell) * into * (d.h[cell] + out.rupture_gap) * rr * rr;
        (f < T(0.0) ? high : low) = share;
        const T change = f / (rise - 0.5 * d.U * slope * reach * (P3 - (1.0 - share) * d.jump.P3));
        const T next = share - change;
        found = change * change < T(1e-28);  // the last step brings the derivatives
        share = found || (next > low && next < high) ? next : T(0.5 * (low + high));
    }
    out.rupture_cell = cell;
    out.flow = 0.5 * d.U * out.rupture_gap;
    d.cut_jump(share, d.h.size() - 1);
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
[[nodiscard]] T place_starved(FilmPass<T>& out, FilmData<T>& d, std::size_t last, const T& film_supply,
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
        const T place = d.x[end] + t * (d.x[end + 1] - d.x[end]);
        if (d.cuts_jump(end, place)) d.cut_jump(T((place - d.x[d.jump.node]) / d.h[d.jump.node]), last);
        end_level = d.level(end, t, gap, q);
        out.rupture_gap = gap;
        out.rupture_x = place;
    }
    const T p_end = out.ruptured ? T(0.0) : pressure_out;
    const T g0 = end_level - p_end - d.G[0];
    if (g0 <= T(0.0)) return end_level;  // full from the inlet, at a pressure below pressure_in
    std::size_t i = 0;
    while (i < end && end_level - p_end - (d.G[i + 1] - q * d.P3[i + 1]) >= T(0.0)) ++i;
    if (i == end) return nowhere_full(out, d, gap);
    const T g = end_level - p_end - (d.G[i] - q * d.P3[i]);
    T gained = d.G[i + 1] - d.G[i] - q * (d.P3[i + 1] - d.P3[i]);
    if (i + 1 == d.jump.node) gained = gained - d.jump.rise(d.U, q);
    out.start_cell = i;
    const T dx = d.x[i + 1] - d.x[i];
    out.start_x = d.x[i] + start_share(d.U, d.k(i), dx, d.h[i], d.r[i], d.h[i + 1], g, gained, q) * dx;
    return end_level;
}

/// Adds up load, moment and drag of a film whose extent is known. `p`: at the nodes; `p_end`: where the full film ends.
template <class T>
void add_cells(FilmPass<T>& result, const FilmData<T>& d, std::span<const T> p, const T& p_end) noexcept {
    FilmPass<T> out = result;  // sums at hand
    const std::size_t last = d.h.size() - 1;
    const std::size_t a = out.full_somewhere ? out.start_cell : last;
    const std::size_t b = out.rupture_cell;
    const bool late_start = out.full_somewhere && out.start_x > d.x[0];
    const auto empty = [&](std::size_t from, std::size_t to) {
        for (std::size_t i = from; i < to; ++i) add_void(out, d, i, T(d.x[i + 1] - d.x[i]), d.r[i], d.r[i + 1]);
    };
    /// Pressure where cell i ends, ahead of a jump there.
    const auto end_of = [&](std::size_t i) {
        if (i + 1 != d.jump.node || i >= b) return p[i + 1];
        const T rise = d.jump.rise(d.U, out.flow);
        out.couette_drag += d.jump.drag;
        out.pressure_drag += 0.5 * d.h[i + 1] * rise;
        return T(p[i + 1] - rise);
    };
    /// Where the film starts or ends.
    const auto part = [&](std::size_t i) {
        const T dx = d.x[i + 1] - d.x[i], k = d.k(i);
        T p2 = end_of(i), k1 = d.k_at(i, i, k), k2 = d.k_at(i, i + 1, k);
        T x1 = d.x[i], h1 = d.h[i], r1 = d.r[i], x2 = d.x[i + 1], h2 = d.h[i + 1], r2 = d.r[i + 1];
        if (i == a && late_start) {
            x1 = out.start_x;
            const T share = (x1 - d.x[i]) / dx;
            h1 = d.h[i] + (d.h[i + 1] - d.h[i]) * share;
            r1 = 1.0 / h1;
            k1 = k1 + (k2 - k1) * share;
            add_void(out, d, i, T(x1 - d.x[i]), d.r[i], r1);
        }
        if (i == b && out.ruptured) {
            x2 = out.rupture_x;
            h2 = out.rupture_gap;
            r2 = 1.0 / h2;
            p2 = p_end;
            k2 = k;
            add_void(out, d, i, T(d.x[i + 1] - x2), r2, d.r[i + 1]);
        }
        add_full(out, d, i, x1, T(x2 - x1), h1, r1, h2, r2, p[i], p2, k1, k2);
    };
    empty(0, a);
    if (out.full_somewhere) {
        part(a);
        // Inside, what a node has serves both its cells.
        const bool textured = !d.texture.resistance.empty();
        T steep = a + 1 < b ? d.steepness(d.r[a + 1], out.flow) : T(0.0);
        for (std::size_t i = a + 1; i < b; ++i) {
            const T k = d.k(i), next = d.steepness(d.r[i + 1], out.flow);
            const T k1 = textured ? d.k_at(i, i, k) : k, k2 = textured ? d.k_at(i, i + 1, k) : k;
            add_full(out, d, i, d.x[i], T(d.x[i + 1] - d.x[i]), d.h[i], d.h[i + 1], p[i], end_of(i), T(k1 * steep),
                     T(k2 * next));
            steep = next;
        }
        if (b > a) part(b);
        empty(std::max(a, b) + 1, last);
    }
    result = out;
}

/// Writes the pressure over G and adds up load, moment and drag. `end_level`: G - q P3 where the full film ends.
template <class T>
void add_up(FilmPass<T>& out, FilmData<T>& d, const T& end_level, const T& p_end) noexcept {
    const std::size_t n = d.h.size(), a = out.start_cell, b = out.rupture_cell;
    const std::size_t first = !out.full_somewhere ? n : out.start_x > d.x[0] ? a + 1 : a;
    const std::size_t end = std::max(first, std::min(b + 1, n));
    const T flow = out.flow;
    std::fill_n(d.G.begin(), first, T(0.0));
    for (std::size_t i = first; i < end; ++i) {
        const T p = d.G[i] - flow * d.P3[i] - end_level + p_end;
        d.G[i] = p > T(0.0) ? p : T(0.0);
    }
    std::fill(d.G.begin() + static_cast<std::ptrdiff_t>(end), d.G.end(), T(0.0));
    if (out.full_somewhere && !out.ruptured) d.G[n - 1] = p_end;
    add_cells<T>(out, d, d.G, p_end);
}

}  // namespace detail

/// Pressures are above the cavitation pressure, pressure_in >= 0, speed > 0. The film is full from the inlet to one place: gaps in which it
/// would tear and form again are its caller's task.
/// Arrays over the n >= 2 nodes: x increasing [m], h > 0 [m]; over the n - 1 cells: viscosities [Pa s], flow_factor [-].
/// film_supply < 0: flooded; else the layer [m] arriving on the moving surface, which limits the flow to U film_supply;
/// ahead of a starved film the pressure is the cavitation pressure. Out: pressure [Pa] (n), downstream of the jump at its node.
/// work: at least 2 n.
template <class T>
[[nodiscard]] FilmPass<T> one_pass(std::span<const T> x, std::span<const T> h, std::span<const T> pressure_viscosity,
                                   std::span<const T> shear_viscosity, std::span<const T> flow_factor, T speed,
                                   T pressure_in, T pressure_out, T film_supply, std::span<T> pressure,
                                   std::span<T> work, const EntryJump<T>& jump = {},
                                   const FilmTexture<T>& texture = {}) noexcept {
    const std::size_t n = h.size();
    detail::FilmData<T> d{x,      h,        pressure_viscosity, shear_viscosity,    flow_factor,
                          speed,  pressure, work.subspan(0, n), work.subspan(n, n), jump,
                          texture};
    FilmPass<T> out;
    auto sums = d.begin(pressure_in);
    T f = pressure_in, beyond = f;  // at the first node of the current cell, and at its second
    std::size_t i = 0;
    /// To the next cell in which f falls through zero.
    const auto falls = [&] {
        for (; i + 1 < n; ++i) {
            beyond = f + d.sum_cell(i, sums);
            if (beyond < T(0.0) && !(f < T(0.0))) return true;
            f = beyond + d.add_jump(i + 1, sums);
        }
        return false;
    };
    out.ruptured = falls();
    // Over cells the Couette gap may open and close again ahead of its minimum. Of several places the film ends at the narrowest,
    // with the flow that the others let pass.
    const auto gap = [&] { return T(h[i] + detail::rupture_share(d, i, f) * (h[i + 1] - h[i])); };
    while (out.ruptured && *std::min_element(h.begin() + static_cast<std::ptrdiff_t>(i + 1), h.end()) < h[i]) {
        const auto here = std::tuple(i, f, sums);
        const T first = gap();
        f = beyond + d.add_jump(i + 1, sums);
        ++i;
        if (falls() && gap() < first) continue;
        std::tie(i, f, sums) = here;
        break;
    }
    out.rupture_cell = out.ruptured ? i : n - 2;
    std::size_t last = out.ruptured ? i + 1 : n - 1;
    if (out.ruptured) (void)d.add_jump(last, sums);
    const auto sum_up = [&] {
        for (std::size_t j = last; j + 1 < n; ++j) {
            (void)d.sum_cell(j, sums);
            (void)d.add_jump(j + 1, sums);
        }
    };
    if (pressure_out > T(0.0))
        sum_up();
    else
        for (std::size_t j = last + 1; j < n; ++j) d.r[j] = 1.0 / h[j];
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
        if (out.ruptured && d.cuts_jump(i, out.rupture_x)) {
            if (!(pressure_out > T(0.0))) sum_up();
            detail::end_within_jump(out, d);
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
