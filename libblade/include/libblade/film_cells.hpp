// The pieces of a film in a gap that is linear in each cell: exact integrals, roots inside a cell, load and drag of full
// and void pieces. Used by the one-pass kernel and by the general solver.
#pragma once

#include <cmath>
#include <cstddef>
#include <span>
#include <type_traits>

namespace libblade::kernel {

template <class T>
struct FilmPass {
    T flow = T(0.0);               ///< q [m2/s]
    T load = T(0.0);               ///< int p dx [N/m]
    T moment = T(0.0);             ///< int x p dx, about x = 0 [N]
    T couette_drag = T(0.0);       ///< int eta_s U / h dx, times the filled share in the void [N/m]
    T pressure_drag = T(0.0);      ///< int (h / 2) dp/dx dx over the full film [N/m]
    T rupture_gap = T(0.0);        ///< gap at the end of the full film [m]
    T rupture_x = T(0.0);          ///< end of the full film [m]
    T start_x = T(0.0);            ///< start of the full film [m]: the inlet, or further downstream when starved
    std::size_t rupture_cell = 0;  ///< cell that holds rupture_x
    std::size_t start_cell = 0;    ///< cell that holds start_x
    bool ruptured = false;         ///< the full film ends before the last node
    bool starved = false;          ///< the flow is that of the supplied layer
    bool full_somewhere = true;    ///< false: the supplied layer passes below the minimum without filling it
    bool handled =
        true;  ///< false: the film re-forms ahead of an outlet above cavitation pressure; values are not valid
};

/// Pressure that the film gains over no length at a node: dp = (U / 2) P2 - q P3, both >= 0 and P2 >= h P3 (nip_kernel_wedge.hpp).
/// It stands for a turn of the flow that takes about one gap: a film that ends sooner gains its part of it.
template <class T>
struct EntryJump {
    std::size_t node = 0;  ///< 0: none
    T P2 = T(0.0);         ///< [Pa s/m]
    T P3 = T(0.0);         ///< [Pa s/m2]
    T drag = T(0.0);       ///< shear stress of the pure shear flow times the length it stands for [N/m]
    /// What is left of it under a film that ends this share of a gap behind the node.
    [[nodiscard]] EntryJump part(const T& share) const { return {node, T(share * P2), T(share * P3), T(share * drag)}; }
    [[nodiscard]] T rise(const T& speed, const T& flow) const { return T(0.5 * speed * P2 - flow * P3); }
};

/// Where phi varies within a cell: flow_factor is then its mean for the flow's own part of dp/dx.
template <class T>
struct FilmTexture {
    std::span<const T> shear_flow_factor = {};  ///< its mean for the pure shear flow's part, per cell [-]
    std::span<const T> resistance = {};         ///< 1 / phi at the nodes [-]
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
    // atanh(z) / z: the first term left out is w^6 / 13 < 8e-14, further out w^10 / 21 < 5e-14
    const T near = 1.0 / 9.0 + w * (1.0 / 11.0);
    if (w < T(0.06)) {
        const T tail = w < T(0.01)
                           ? near
                           : T(near + w * w * (1.0 / 13.0 + w * (1.0 / 15.0 + w * (1.0 / 17.0 + w * (1.0 / 19.0)))));
        return T(2.0 * dx * inverse * (1.0 + w * (1.0 / 3.0 + w * (0.2 + w * (1.0 / 7.0 + w * tail)))));
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
    EntryJump<T> jump = {};
    FilmTexture<T> texture = {};
    T jump_share = T(1.0);  // what cut_jump left of it

    [[nodiscard]] T k(std::size_t i) const noexcept { return T(12.0 * pressure_viscosity[i] / flow_factor[i]); }
    /// k at a node of cell i, else that of the cell.
    [[nodiscard]] T k_at(std::size_t i, std::size_t node, const T& k_cell) const noexcept {
        return texture.resistance.empty() ? k_cell : T(12.0 * pressure_viscosity[i] * texture.resistance[node]);
    }

    /// dp/dx over k, where 1 / h is r.
    [[nodiscard]] T steepness(const T& at, const T& flow) const noexcept { return T(at * at * (0.5 * U - flow * at)); }

    /// The sums at a node and 1 / h there, kept at hand from cell to cell.
    struct Sums {
        T G, P3, r;
    };
    [[nodiscard]] Sums begin(const T& p_in) noexcept {
        G[0] = p_in, P3[0] = T(0.0), r[0] = 1.0 / h[0];
        return {p_in, T(0.0), r[0]};
    }
    /// Advances the sums over cell i; returns the change of f, exact in sign: 0 on a flat cell.
    T sum_cell(std::size_t i, Sums& at) noexcept {
        const T r1 = at.r;
        at.r = r[i + 1] = 1.0 / h[i + 1];
        const T half = 0.5 * k(i) * (x[i + 1] - x[i]) * r1 * at.r;  // of this cell's part of P2
        T df = -0.5 * U * (h[i + 1] - h[i]) * (at.P3 + half * r1);
        T gain = U * half;
        at.P3 = at.P3 + half * (r1 + at.r);
        if (!texture.shear_flow_factor.empty()) {
            const T more = gain * (flow_factor[i] / texture.shear_flow_factor[i] - 1.0);
            gain += more;
            df += more;
        }
        at.G = at.G + gain;
        G[i + 1] = at.G, P3[i + 1] = at.P3;
        return df;
    }
    /// Adds the jump where it stands at this node; returns the change of f.
    T add_jump(std::size_t node, Sums& at) noexcept {
        if (node != jump.node) return T(0.0);
        G[node] = at.G = at.G + 0.5 * U * jump.P2;
        P3[node] = at.P3 = at.P3 + jump.P3;
        return jump.rise(U, T(0.5 * U * h[node]));
    }
    /// Leaves this share of the jump to a film that ends behind it, in the sums up to the node `last`.
    void cut_jump(const T& share, std::size_t last) noexcept {
        const T part = share / jump_share, lost = 1.0 - part;
        jump_share = share;
        for (std::size_t i = jump.node; i <= last; ++i) {
            G[i] = G[i] - lost * (0.5 * U * jump.P2);
            P3[i] = P3[i] - lost * jump.P3;
        }
        jump = jump.part(part);
    }
    /// Where a film in cell i or behind it has all of the jump.
    [[nodiscard]] bool cuts_jump(std::size_t cell, const T& place) const noexcept {
        return jump.node > 0 && cell >= jump.node && place < x[jump.node] + h[jump.node];
    }
    /// G - q P3 at the share t of cell i, where the gap is gap_t.
    [[nodiscard]] T level(std::size_t i, const T& t, const T& gap_t, const T& q) const noexcept {
        const T kdx = t * k(i) * (x[i + 1] - x[i]);
        const T rr = r[i] / gap_t;
        return T(G[i] + 0.5 * U * kdx * rr - q * (P3[i] + 0.5 * kdx * (h[i] + gap_t) * rr * rr));
    }
};

/// Share of a cell or piece of one, gap linear from h1 = 1 / r1 to h2 over dx, at which the pressure, -g at its start, has
/// risen to zero. gained: what it rises by over all of it, which where the flow factors vary is not quite what the gap alone
/// makes of it.
template <class T>
[[nodiscard]] T start_share(const T& U, const T& k, const T& dx, const T& h1, const T& r1, const T& h2, const T& g,
                            const T& gained, const T& q) noexcept {
    if (!(gained > g)) return T(1.0);  // only a jump at its end brings the film above zero, which starts there
    const T r2 = 1.0 / h2, delta = (h2 - h1) * r1;
    const T lack = g * (0.5 * k * dx * r1 * r2 * (U - q * (r1 + r2))) / gained;
    const T a2 = 0.5 * U * k * dx * r1 * r1;
    const T a3 = 0.5 * q * k * dx * r1 * r1 * r1;
    const T a = delta * (a2 - a3 - lack * delta);
    const T b = a2 - 2.0 * a3 - 2.0 * lack * delta;
    const T t = first_root(a, b, lack);
    return t >= T(0.0) && t <= T(1.0) ? t : T(1.0);
}

/// Adds one full (piece of a) cell. Cubic Hermite in p with the exact end slopes s1, s2: load and moment to O(dx^4).
template <class T>
void add_full(FilmPass<T>& out, const FilmData<T>& d, std::size_t cell, const T& x1, const T& dx, const T& h1,
              const T& h2, const T& p1, const T& p2, const T& s1, const T& s2) noexcept {
    // A pressure with one peak is nowhere below both ends. The cubic is, where the peak is narrow against the cell.
    const T& least = p1 < p2 ? p1 : p2;
    const T cubic = 0.5 * (p1 + p2) + dx * (s1 - s2) * (1.0 / 12.0), mean = cubic < least ? least : cubic;
    const T load = dx * mean, turn = dx * dx * (0.15 * p1 + 0.35 * p2 + dx * (s1 * (1.0 / 30.0) - s2 * 0.05));
    out.load += load;
    out.moment += x1 * load + (turn < T(0.0) ? T(0.0 * turn) : turn > dx * load ? T(dx * load) : turn);
    out.couette_drag += d.shear_viscosity[cell] * d.U * inverse_gap_integral(dx, h1, h2);
    out.pressure_drag += 0.5 * (h2 * p2 - h1 * p1 - (h2 - h1) * mean);  // by parts
}
/// The same from k1, k2 at its ends.
template <class T>
void add_full(FilmPass<T>& out, const FilmData<T>& d, std::size_t cell, const T& x1, const T& dx, const T& h1,
              const T& r1, const T& h2, const T& r2, const T& p1, const T& p2, const T& k1, const T& k2) noexcept {
    add_full(out, d, cell, x1, dx, h1, h2, p1, p2, T(k1 * d.steepness(r1, out.flow)),
             T(k2 * d.steepness(r2, out.flow)));
}

/// Adds one (piece of a) cell that is filled to the share 2 q / (U h).
template <class T>
void add_void(FilmPass<T>& out, const FilmData<T>& d, std::size_t cell, const T& dx, const T& r1,
              const T& r2) noexcept {
    out.couette_drag += d.shear_viscosity[cell] * 2.0 * out.flow * dx * r1 * r2;
}

}  // namespace detail

}  // namespace libblade::kernel
