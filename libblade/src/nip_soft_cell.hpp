// The cells of a soft film (nip_soft.cpp): what one of them asks for between its two nodes, and the tip's balance at a node.
//
// In a cell the exact pressure difference of a gap that is linear in x, its two ends weighted by exponential fitting.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "libblade/dual.hpp"
#include "libblade/nip_kernel.hpp"

namespace libblade::detail {

/// A value, its slope, and the size of the terms it was summed from.
struct Sloped {
    double value = 0.0, slope = 0.0, size = 0.0;
};

/// Root of a function that rises through it, by Newton inside whatever bracket is known; `size`: of x. False: none found.
template <class G>
bool rising_root(G&& g, double& x, double lowest, double size) {
    constexpr double kInfinity = std::numeric_limits<double>::infinity(),
                     kEpsilon = std::numeric_limits<double>::epsilon();
    constexpr int kMostNodeRounds = 100;
    double stride = size;
    double low = lowest, high = kInfinity, last = kInfinity;
    bool settled = false;  // as far as rounding lets it
    if (!(x > low)) x = low + stride;
    for (int round = 0; round < kMostNodeRounds; ++round) {
        const Sloped at = g(x);
        if (!std::isfinite(at.value)) return false;
        (at.value > 0.0 ? high : low) = x;
        const double step = -at.value / at.slope;
        if (at.slope > 0.0 && (std::abs(at.value) <= 4.0 * kEpsilon * at.size ||
                               std::abs(step) <= 2.0 * kEpsilon * (std::abs(x) + 0.1 * size)))
            return true;
        settled = at.slope > 0.0 && std::abs(step) <= 100.0 * kEpsilon * (std::abs(x) + 0.1 * size);
        double next = x + step;
        const bool slow = std::abs(step) > 0.7 * last;
        last = std::abs(step);
        if (!(at.slope > 0.0) || !(next > low && next < high) || (slow && std::isfinite(low) && high < kInfinity)) {
            if (std::isfinite(low) && high < kInfinity)
                next = 0.5 * (low + high);
            else
                next = at.value > 0.0 ? x - stride : x + stride;
            stride *= 2.0;
            last = kInfinity;
        }
        if (next == x || next == low || next == high) return at.slope > 0.0;
        x = next;
    }
    return settled;
}

/// The gap that a separation leaves, and what it does to the flow.
template <class T>
struct Surface {
    T h, g;                    ///< gap and Couette gap [m]
    std::array<T, 2> texture;  ///< 1 / phi and b of the engraving [-]
    T dent;                    ///< c p_a [m]
};

using BySeparation = Dual<1>;
using ByFlow = Dual<2>;  // by flow and by y
using ByNode = Dual<3>;  // by the separation of the node that is sought, flow and y

/// What a sweep hands on from node to node.
struct Node {
    ByFlow s, h, g, p;
    std::array<ByFlow, 2> texture;  ///< 1 / phi and b
};

/// The cells under one tip, at one place of it.
class SoftCells {
  public:
    /// `separation` in `arrays`: of the tip without pressure.
    SoftCells(const kernel::ContactSetup& setup, const kernel::Flank<double>& flank, double compliance,
              const kernel::ContactArrays<double>& arrays)
        : setup_(setup),
          flank_(flank),
          c_(compliance),
          a_(arrays),
          stride_(setup.asperities.sigma > 0.0 ? setup.asperities.sigma : 1e-7) {
        const std::size_t start = kernel::facet_start(setup.mesh);
        if (a_.x[start + static_cast<std::size_t>(setup.mesh.facet)] > a_.x[start]) entry_ = start;
    }
    [[nodiscard]] bool warms() const noexcept { return setup_.heat.length > 0.0 && setup_.heat.andrade_constant > 0.0; }

  protected:
    /// What the film sees of one end of a cell.
    template <class T>
    struct End {
        T h, g;
        std::array<T, 2> texture;
    };

    [[nodiscard]] Surface<BySeparation> surface(double separation) const {
        const BySeparation s = variable<1>(separation, 0);
        const BySeparation h = kernel::filled_gap(*setup_.f1, setup_.asperities.sigma, s);
        Surface<BySeparation> out{h, h, {}, c_ * kernel::asperity_pressure(*setup_.f52, setup_.asperities, s)};
        if (setup_.cells != nullptr && h.v > 0.0) {
            out.texture = setup_.cells->resistance_and_couette(h);
            out.g = h * out.texture[1];
        }
        return out;
    }
    /// The node at a separation that follows flow and y.
    static void set_surface(Node& node, const Surface<BySeparation>& at, const ByFlow& s) {
        node.s = s;
        node.h = chain(at.h.v, at.h.d[0], s);
        node.g = chain(at.g.v, at.g.d[0], s);
        for (std::size_t k = 0; k < 2; ++k) node.texture[k] = chain(at.texture[k].v, at.texture[k].d[0], s);
    }

    /// Separation that leaves this Couette gap.
    [[nodiscard]] double separation_of(double couette_gap, double guess) const {
        const auto excess = [&](double at) {
            const BySeparation g = surface(at).g;
            return Sloped{g.v - couette_gap, g.d[0], g.v + couette_gap};
        };
        (void)rising_root(excess, guess, -std::numeric_limits<double>::infinity(), stride_);
        return guess;
    }

    /// Separation where no film presses on a tip that stands at `rigid` without load.
    bool unloaded_root(double rigid, double& s) const {
        const auto mismatch = [&](double at) {
            const BySeparation dent = surface(at).dent;
            return Sloped{at - dent.v - rigid, 1.0 - dent.d[0], std::abs(at) + dent.v + std::abs(rigid)};
        };
        return rising_root(mismatch, s, -std::numeric_limits<double>::infinity(), stride_);
    }

    /// 12 eta / phi in P2 and P3 at the supply temperature, and the viscosity for shear, as the kernel has them.
    template <class T>
    struct CellLaw {
        T k2, k3, shear;
    };
    template <class T>
    [[nodiscard]] CellLaw<T> cell_law(std::size_t i, const End<T>& up, const End<T>& down, const T& q) const {
        const double U = setup_.speed, factor = kernel::under_tip(setup_.mesh, i) ? setup_.flow_factor : 1.0;
        T pressure = T(setup_.viscosity), shear = T(setup_.viscosity);
        if (setup_.ink != nullptr) {
            const auto eta = setup_.ink->at(T(U / sqrt(up.h * down.h)), T(2.0 / U * q / sqrt(up.g * down.g) - 1.0));
            pressure = eta.pressure;
            shear = eta.shear;
        }
        const double supply = setup_.supply_factor;
        shear = shear * (supply * setup_.land_fraction);
        const T k = pressure * (12.0 * supply);
        if (setup_.cells == nullptr) return {T(k / factor), T(k / factor), shear};
        const auto texture = kernel::cell_texture(*setup_.cells, up.h, up.texture, down.h, down.texture);
        return {T(k * (kernel::one_mean(setup_.mesh, i) ? texture.flow : texture.shear)), T(k * texture.flow),
                T(shear * (up.g + down.g) / (up.h + down.h))};
    }

    /// By how much more than the mean of both ends the upstream end of a cell counts, from -1 to 1: Langevin's function of half
    /// of what a disturbance is damped by along the cell. A step so weighted takes disturbances exactly as far as the equation
    /// does (exponential fitting, Liniger and Willoughby 1970, SIAM J. Numer. Anal. 7:47): none rings where the film's end is a
    /// layer thinner than a cell, and p at the inlet rises with q as it should.
    template <class T>
    [[nodiscard]] static T upstream_weight(const T& damping) {
        const double x = 0.5 * damping.v;
        double value = x / 3.0 - x * x * x / 45.0, slope = 1.0 / 3.0 - x * x / 15.0;
        if (std::abs(x) > 0.02) {
            const double sinh = std::sinh(std::clamp(x, -300.0, 300.0));
            value = 1.0 / std::tanh(x) - 1.0 / x, slope = 1.0 / (x * x) - 1.0 / (sinh * sinh);
        }
        return chain(value, 0.5 * slope, damping);
    }

    static ByNode by_node(const ByFlow& a) { return ByNode(a.v, {0.0, a.d[0], a.d[1]}); }
    static ByNode by_place(const BySeparation& a) { return ByNode(a.v, {a.d[0], 0.0, 0.0}); }
    static End<ByNode> end(const Node& at) {
        return {by_node(at.h), by_node(at.g), {by_node(at.texture[0]), by_node(at.texture[1])}};
    }
    static End<ByNode> end(const Surface<BySeparation>& at) {
        return {by_place(at.h), by_place(at.g), {by_place(at.texture[0]), by_place(at.texture[1])}};
    }

    /// By how much the pressure falls over the full cell i; where the full film ends in it, over its full part.
    [[nodiscard]] ByNode fall(std::size_t i, bool ends_here, const ByFlow& flow, const ByFlow& warming,
                              const End<ByNode>& up, const End<ByNode>& down) const {
        const double U = setup_.speed;
        const ByNode q = by_node(flow);
        const CellLaw<ByNode> law = cell_law(i, up, down, q);
        const ByNode warm = exp(by_node(warming)), r1 = 1.0 / up.g, gap = (2.0 / U) * q;
        const ByNode k2 = law.k2 * warm, k3 = law.k3 * warm;
        ByNode dx = ByNode(a_.x[i + 1] - a_.x[i]), r2 = 1.0 / down.g;
        if (ends_here) {
            if (!(up.g < gap)) return ByNode(0.0);
            dx = (gap - up.g) / (down.g - up.g) * dx;
            r2 = 1.0 / gap;
        }
        const ByNode both = 0.5 * dx * r1 * r2 * (q * (r1 + r2) * k3 - U * k2);
        const auto damping = [&](const ByNode& g) { return c_ * dx * k3 * (3.0 * q - U * g) / (g * g * g * g); };
        // A film that damps keeps the gap it has downstream; one that opens has that of half-way.
        const double opens = ends_here ? 0.0 : 0.5 * std::max(0.0, unloaded_rise(i));
        const ByNode kept = damping(1.0 / r2), wider = damping(1.0 / r2 + opens);
        const ByNode weight = upstream_weight(kept.v >= wider.v ? kept : wider);
        const ByNode& r = weight.v > 0.0 ? r1 : r2;
        const ByNode one = dx * r * r * (q * r * k3 - 0.5 * U * k2);
        ByNode out = both + (weight.v > 0.0 ? weight : -weight) * (one - both);
        if (!ends_here && i + 1 == entry_) {
            const auto more = kernel::entry_length(ByNode(flank_.angle), setup_.edge_radius / down.h);
            ByNode rise = k3 * r2 * (0.5 * U * more.shear - q * r2 * more.pressure);
            // A film that ends within one gap behind it (film_cells.hpp).
            if (const ByNode share = (by_node(end_) - a_.x[entry_]) * r2; share.v < 1.0) rise = share * rise;
            out = out - rise;
        }
        return out;
    }
    /// How far the tip without load rises over cell i towards the inlet [m].
    [[nodiscard]] double unloaded_rise(std::size_t i) const { return a_.separation[i] - a_.separation[i + 1]; }

    /// Node i, the one before it known: a root s of the tip's balance under the pressure that the cell between them leaves,
    /// p = known.p + way fall.
    struct Search {
        std::size_t i;
        bool ends_here;
        const Node& known;
        double way;  ///< 1: known downstream, -1: known upstream
        [[nodiscard]] std::size_t cell() const noexcept { return way > 0.0 ? i : i - 1; }
    };
    class Balance {
      public:
        Balance(const SoftCells& film, const Search& at, const ByFlow& q, const ByFlow& y)
            : film_(film), at_(at), q_(q), y_(y), known_(end(at.known)) {}
        Sloped operator()(double s) {
            const double rigid = film_.a_.separation[at_.i], c = film_.c_;
            here = film_.surface(s);
            const End<ByNode> place = end(here);
            const ByNode fall = film_.fall(at_.cell(), at_.ends_here, q_, y_, at_.way > 0.0 ? place : known_,
                                           at_.way > 0.0 ? known_ : place);
            pressure = by_node(at_.known.p) + at_.way * fall;
            last = {s - rigid - here.dent.v - c * pressure.v, 1.0 - here.dent.d[0] - c * pressure.d[0],
                    std::abs(s) + std::abs(rigid) + here.dent.v + c * std::abs(pressure.v)};
            return last;
        }
        /// The node where the balance was last looked at.
        void fill(double s, Node& node) const {
            const double rigid = film_.a_.separation[at_.i], c = film_.c_, stiffness = 1.0 - here.dent.d[0];
            set_surface(node, here, ByFlow(s, {c * pressure.d[1] / last.slope, c * pressure.d[2] / last.slope}));
            // of two expressions for the pressure the one that rounding hurts less
            node.p = ByFlow(std::abs(c * pressure.d[0]) > 1.0 ? (s - rigid - here.dent.v) / c : pressure.v,
                            {pressure.d[1] * stiffness / last.slope, pressure.d[2] * stiffness / last.slope});
        }
        Surface<BySeparation> here;
        ByNode pressure;
        Sloped last;

      private:
        const SoftCells& film_;
        const Search& at_;
        const ByFlow &q_, &y_;
        const End<ByNode> known_;
    };
    /// Beyond six sigma below touching nothing is left of the gap.
    [[nodiscard]] double lowest() const { return setup_.asperities.sigma > 0.0 ? -6.0 * setup_.asperities.sigma : 0.0; }

    /// Shear power of cell i at the supply temperature, as kernel::fill_viscosity has it.
    [[nodiscard]] ByFlow cell_heat(std::size_t i, const Node& up, const Node& down, const ByFlow& q) const {
        if (!warms()) return {};
        const End<ByFlow> a{up.h, up.g, up.texture}, b{down.h, down.g, down.texture};
        return cell_law(i, a, b, q).shear * (2.0 * setup_.speed * setup_.speed * (a_.x[i + 1] - a_.x[i])) / (a.g + b.g);
    }

    const kernel::ContactSetup& setup_;
    const kernel::Flank<double>& flank_;
    const double c_;
    const kernel::ContactArrays<double>& a_;
    const double stride_;
    std::size_t entry_ = 0;  ///< first node of the facet's flat part; 0: none
    ByFlow end_;             ///< of the full film [m]
};

}  // namespace libblade::detail
