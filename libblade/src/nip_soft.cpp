// The tip's surface gives way under the pressure it carries, place by place (Winkler's rule, contact.hpp): separation
//
//   s(x) = s_rigid(x) + c (p(x) + p_a(s)),   gap h = filled_gap(s),   dp/dx = k (U h / 2 - q) / h^3.
//
// Under a polymer c dp/dh is of the order of a thousand: gap and pressure cannot be found in turns. Seen along x the film is a
// stiff initial value problem: a disturbance of p goes as exp(int c k (3 q - U h) / h^4 dx) downstream, so it dies out
// upstream wherever h < 3 q / U, which under a facet is everywhere but in the first opening of the gap. So, as in the
// general film solver, a trial flow q is swept from the outlet upstream, each node's separation being the root of one scalar
// equation (implicit Euler's stability, the cell's exact pressure difference); by the comparison theorem of scalar
// equations p at the inlet rises with q, and the flow is the one root of p(inlet; q) = p_in. The full film ends where the
// gap at p = 0 is 2 q / U, as under a rigid tip; the pressure cannot come down to zero again before the gap at p = 0 is
// wider than that.
//
// Flow factor and shear thinning follow the gap inside the cell equation. Warming, one number for the film, is a second
// unknown: y = ln(viscosity / viscosity at the supply temperature). Sensitivities to q and y are carried along the sweep:
// Newton's method in both.
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "nip_solver.hpp"

namespace libblade::detail {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN(), kInfinity = std::numeric_limits<double>::infinity();
constexpr double kEpsilon = std::numeric_limits<double>::epsilon();
constexpr int kMostNodeRounds = 100, kMostSweeps = 80;
constexpr double kTolerance = 1e-12;  // of q, and of y

/// A value, its slope, and the size of the terms it was summed from.
struct Sloped {
    double value = 0.0, slope = 0.0, size = 0.0;
};

Sloped look_up(const HermiteTable& table, double x) {
    const std::size_t last = table.value.size() - 1;
    const double place = (x - table.start) / table.step;
    if (!(place > 0.0) || place >= static_cast<double>(last)) {
        const std::size_t end = place > 0.0 ? last : 0;
        return {table(x), table.slope[end], 0.0};
    }
    const auto i = static_cast<std::size_t>(place);
    const double t = place - static_cast<double>(i), u = 1.0 - t;
    const double rise = (table.value[i + 1] - table.value[i]) / table.step;
    return {table(x),
            6.0 * t * u * rise + u * (1.0 - 3.0 * t) * table.slope[i] + t * (3.0 * t - 2.0) * table.slope[i + 1], 0.0};
}

/// Root of a function that rises through it, by Newton inside whatever bracket is known; `size`: of x. False: none found.
template <class G>
bool rising_root(G&& g, double& x, double lowest, double size) {
    double stride = size;
    double low = lowest, high = kInfinity, last = kInfinity;
    if (!(x > low)) x = low + stride;
    for (int round = 0; round < kMostNodeRounds; ++round) {
        const Sloped at = g(x);
        if (!std::isfinite(at.value)) return false;
        (at.value > 0.0 ? high : low) = x;
        const double step = -at.value / at.slope;
        if (at.slope > 0.0 && (std::abs(at.value) <= 4.0 * kEpsilon * at.size ||
                               std::abs(step) <= 2.0 * kEpsilon * (std::abs(x) + 0.1 * size)))
            return true;
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
    return false;
}

/// A separation with all that follows from it.
struct Surface {
    double gap = 0.0, gap_slope = 0.0;    ///< h, dh/ds
    double dent = 0.0, dent_slope = 0.0;  ///< c p_a, its slope
};

/// What a sweep hands on from node to node.
struct Node {
    double s = 0.0, h = 0.0, p = 0.0;
    double s_q = 0.0, s_y = 0.0, h_q = 0.0, h_y = 0.0, p_q = 0.0, p_y = 0.0;  ///< by flow and by y
};

struct CellLaw {
    double k = 0.0, k_log = 0.0;          ///< 12 eta / phi at the supply temperature, and d ln k / d ln h
    double shear = 0.0, shear_log = 0.0;  ///< apparent viscosity likewise
};

struct Sweep {
    bool ok = false;
    bool full_somewhere = false, ruptured = false, started = false;
    std::size_t rupture_cell = 0, start_cell = 0;
    double missing = 0.0;  ///< by how much the pressure of the full film falls below zero at the start's node
    Node inlet;
    double warming = 0.0, warming_q = 0.0, warming_y = 0.0;  ///< y that the shear of this film makes
};

class SoftFilm {
  public:
    SoftFilm(const kernel::ContactSetup& setup, double compliance, const kernel::ContactArrays<double>& arrays,
             std::span<double> separation, std::span<double> by_flow, std::span<double> by_warming,
             std::span<double> unloaded)
        : setup_(setup),
          c_(compliance),
          a_(arrays),
          n_(arrays.x.size()),
          s_(separation),
          s_q_(by_flow),
          s_y_(by_warming),
          unloaded_(unloaded),
          known_(n_),
          stride_(setup.asperities.sigma > 0.0 ? setup.asperities.sigma : 1e-7) {}

    /// Pressures, gaps and separations for the flow q, from the outlet to the inlet. `limited`: the pressure stops at zero
    /// where the film starts; else it goes on below, which keeps the inlet pressure smooth in q. s_ on entry: guesses.
    Sweep upstream(double q, double y, bool limited) {
        Sweep out;
        const double gap = 2.0 * q / setup_.speed;
        std::size_t i = n_ - 1;
        Node node;
        Heat heat;
        // The void: from the outlet to the rupture.
        while (true) {
            if (!unloaded_at(i, node)) return out;
            if (node.h < gap) break;
            put(i, node);
            if (i + 1 < n_) heat.add(cell_heat(i, node, before_));
            heat.see(node);
            before_ = node;
            if (i-- == 0) return finish(out, heat, before_);
        }
        out.full_somewhere = true;
        out.ruptured = i + 1 < n_;
        out.rupture_cell = out.ruptured ? i : n_ - 2;
        if (!out.ruptured) {  // full up to the outlet
            put(i, node);
            before_ = node;
            --i;
        }
        for (;; --i) {
            const bool ends_here = out.ruptured && i == out.rupture_cell;
            if (out.started) {
                if (!unloaded_at(i, node)) return out;
            } else if (!full_node(i, q, y, ends_here, gap, node)) {
                return out;
            } else if (limited && node.p < 0.0) {
                out.started = true;
                out.start_cell = i;
                if (!unloaded_at(i, node)) return out;
                out.missing = -cell_pressure(i, q, y, surface(node.s), before_).value;
            }
            put(i, node);
            heat.add(cell_heat(i, node, before_));
            heat.see(node);
            before_ = node;
            if (i == 0) break;
        }
        return finish(out, heat, before_);
    }

    [[nodiscard]] bool warms() const noexcept { return setup_.heat.length > 0.0 && setup_.heat.andrade_constant > 0.0; }
    /// Moves the guesses along the sensitivities of the last sweep.
    void predict(double dq, double dy) noexcept {
        for (std::size_t i = 0; i < n_; ++i) s_[i] += s_q_[i] * dq + s_y_[i] * dy;
    }

  private:
    /// Shear power of the film and its thinnest place, with their sensitivities.
    struct Heat {
        double power = 0.0, power_q = 0.0, power_y = 0.0;
        Node thinnest{0.0, kInfinity};
        void add(const std::array<double, 3>& cell) { power += cell[0], power_q += cell[1], power_y += cell[2]; }
        void see(const Node& node) {
            if (node.h < thinnest.h) thinnest = node;
        }
    };

    [[nodiscard]] Surface surface(double s) const {
        const AsperityLaw& law = setup_.asperities;
        Surface out{s, 1.0, 0.0, 0.0};
        if (law.sigma <= 0.0) return out;
        const double H = s / law.sigma;
        if (H >= 6.0) return out;
        const Sloped f1 = look_up(*setup_.f1, H), log_f52 = look_up(*setup_.log_f52, H);
        out.gap = law.sigma * (H + f1.value);
        out.gap_slope = 1.0 + f1.slope;
        // as kernel::asperity_pressure has it, with slopes
        const double near = law.coefficient * std::exp(log_f52.value);
        double p = near, slope = near * log_f52.slope;
        if (H > 5.0) {
            const double fade = (6.0 - H) * (6.0 - H) * (2.0 * H - 9.0);
            slope = slope * fade + near * 6.0 * (6.0 - H) * (5.0 - H);
            p *= fade;
        }
        if (p >= 1e-3 * law.cap) {
            const double r = p / law.cap, w = 1.0 + r * r * r * r, root = std::sqrt(std::sqrt(w));
            p /= root;
            slope /= root * w;
        }
        out.dent = c_ * p;
        out.dent_slope = c_ * slope / law.sigma;
        return out;
    }

    /// The node without film pressure; found once per gap.
    bool unloaded_at(std::size_t i, Node& node) {
        while (known_ > i) {
            const std::size_t k = --known_;
            // The neighbour's dent is a guess.
            double s = k + 1 < n_ ? a_.separation[k] + (unloaded_[k + 1] - a_.separation[k + 1]) : a_.separation[k];
            const auto mismatch = [&](double at) {
                const Surface here = surface(at);
                return Sloped{at - here.dent - a_.separation[k], 1.0 - here.dent_slope,
                              std::abs(at) + here.dent + std::abs(a_.separation[k])};
            };
            if (!rising_root(mismatch, s, -kInfinity, stride_)) return false;
            unloaded_[k] = s;
        }
        node = {};
        node.s = unloaded_[i];
        node.h = surface(node.s).gap;
        return true;
    }

    [[nodiscard]] CellLaw cell_law(std::size_t i, double h) const {
        CellLaw out;
        const auto near_from = static_cast<std::size_t>(setup_.mesh.flank_in);
        const std::size_t near_to = near_from + static_cast<std::size_t>(setup_.mesh.facet + 2 * setup_.mesh.arc);
        double factor = i >= near_from && i < near_to ? setup_.deep_flow_factor : 1.0, factor_log = 0.0;
        if (!setup_.constant_flow_factor) {
            const double depth = h / setup_.wall_width, part = (setup_.deep_flow_factor - 1.0) / (1.0 + depth);
            factor = 1.0 + part;
            factor_log = -part * depth / ((1.0 + depth) * factor);
        }
        double tangent = 0.0, tangent_log = 0.0;
        if (const auto* law = std::get_if<Newtonian>(&setup_.rheology)) {
            tangent = out.shear = law->viscosity;
        } else {
            const auto& cross = std::get<Cross>(setup_.rheology);
            const double z = std::pow(cross.time_constant * setup_.speed / h, cross.exponent), m = cross.exponent;
            const double drop = cross.zero_shear_viscosity - cross.infinite_shear_viscosity, s = 1.0 / (1.0 + z);
            const double zs = z * s, s_log = m * zs * s;  // by ln h: z falls as h^-m
            out.shear = cross.infinite_shear_viscosity + drop * s;
            out.shear_log = drop * s_log / out.shear;
            tangent = cross.infinite_shear_viscosity + drop * s * (1.0 - m * zs);
            tangent_log = drop * s_log * (1.0 - m * zs + m * s) / tangent;
        }
        out.k = 12.0 * tangent * setup_.supply_factor / factor;
        out.k_log = tangent_log - factor_log;
        out.shear *= setup_.supply_factor * setup_.land_fraction;
        return out;
    }

    struct CellPressure {
        double value = 0.0;             ///< at the upstream node [Pa]
        double by_s = 0.0;              ///< by that node's separation
        double by_q = 0.0, by_y = 0.0;  ///< the downstream node's part included
    };

    /// Pressure that the full cell i asks for at its upstream node.
    [[nodiscard]] CellPressure cell_pressure(std::size_t i, double q, double y, const Surface& here,
                                             const Node& down) const {
        const double U = setup_.speed, r1 = 1.0 / here.gap, r2 = 1.0 / down.h;
        const CellLaw law = cell_law(i, std::sqrt(here.gap * down.h));
        const double half = 0.5 * law.k * std::exp(y) * (a_.x[i + 1] - a_.x[i]) * r1 * r2;
        const double rise = half * (q * (r1 + r2) - U);
        CellPressure out;
        out.value = down.p + rise;
        out.by_s = here.gap_slope * r1 * (0.5 * law.k_log * rise - half * (q * (2.0 * r1 + r2) - U));
        const double by_down = r2 * (0.5 * law.k_log * rise - half * (q * (r1 + 2.0 * r2) - U));
        out.by_q = down.p_q + by_down * down.h_q + half * (r1 + r2);
        out.by_y = down.p_y + by_down * down.h_y + rise;
        return out;
    }
    /// The same where the full film ends at `gap` inside the cell; the downstream node bears nothing.
    [[nodiscard]] CellPressure rupture_pressure(std::size_t i, double y, double gap, const Surface& here,
                                                const Node& down) const {
        CellPressure out;
        if (here.gap >= gap) return out;
        const double U = setup_.speed, h = here.gap, r = 1.0 / h, more = r - 1.0 / gap;
        const double width = down.h - h, share = (gap - h) / width;
        const CellLaw law = cell_law(i, std::sqrt(h * down.h));
        const double part = 0.25 * U * law.k * std::exp(y) * (a_.x[i + 1] - a_.x[i]) * r;
        out.value = part * share * more;
        out.by_s = here.gap_slope * ((0.5 * law.k_log - 1.0) * r * out.value -
                                     part * (more * (down.h - gap) / (width * width) + share * r * r));
        out.by_q = 2.0 / U * part * (more / width + share / (gap * gap));
        out.by_y = out.value;
        return out;
    }

    /// Separation and pressure at node i from the node downstream of it.
    bool full_node(std::size_t i, double q, double y, bool ends_here, double gap, Node& node) {
        Surface here;
        CellPressure film;
        const double rigid = a_.separation[i];
        Sloped last;
        const auto mismatch = [&](double s) {
            here = surface(s);
            film = ends_here ? rupture_pressure(i, y, gap, here, before_) : cell_pressure(i, q, y, here, before_);
            last = {s - rigid - here.dent - c_ * film.value, 1.0 - here.dent_slope - c_ * film.by_s,
                    std::abs(s) + std::abs(rigid) + here.dent + c_ * std::abs(film.value)};
            return last;
        };
        double s = s_[i];
        // Beyond six sigma below touching nothing is left of the gap.
        const double lowest = setup_.asperities.sigma > 0.0 ? -6.0 * setup_.asperities.sigma : 0.0;
        if (!rising_root(mismatch, s, lowest, stride_)) return false;
        const double stiffness = 1.0 - here.dent_slope;
        node.s = s;
        node.h = here.gap;
        // of two expressions for the pressure the one that rounding hurts less
        node.p = std::abs(c_ * film.by_s) > 1.0 ? (s - rigid - here.dent) / c_ : film.value;
        node.s_q = c_ * film.by_q / last.slope;
        node.s_y = c_ * film.by_y / last.slope;
        node.p_q = film.by_q * stiffness / last.slope;
        node.p_y = film.by_y * stiffness / last.slope;
        node.h_q = here.gap_slope * node.s_q;
        node.h_y = here.gap_slope * node.s_y;
        return true;
    }

    void put(std::size_t i, const Node& node) {
        s_[i] = node.s;
        s_q_[i] = node.s_q, s_y_[i] = node.s_y;
        a_.gap[i] = node.h;
        a_.pressure[i] = node.p;
    }

    /// Shear power of cell i at the supply temperature, as fill_coefficients has it, and its sensitivities.
    [[nodiscard]] std::array<double, 3> cell_heat(std::size_t i, const Node& up, const Node& down) const {
        if (!warms()) return {};
        const double h = std::sqrt(up.h * down.h);
        const CellLaw law = cell_law(i, h);
        const double power = law.shear * setup_.speed * setup_.speed * (a_.x[i + 1] - a_.x[i]) / h;
        const double by_log = 0.5 * power * (law.shear_log - 1.0);
        return {power, by_log * (up.h_q / up.h + down.h_q / down.h), by_log * (up.h_y / up.h + down.h_y / down.h)};
    }

    Sweep& finish(Sweep& out, const Heat& heat, const Node& inlet) const {
        out.ok = true;
        out.inlet = inlet;
        if (!warms()) return out;
        const kernel::HeatSetup& s = setup_.heat;
        const double thin = heat.thinnest.h, resistance = kernel::thermal_resistance(s, thin), eps = 1e-4;
        const double by_thin =
            (kernel::thermal_resistance(s, thin * (1.0 + eps)) - kernel::thermal_resistance(s, thin * (1.0 - eps))) /
            (2.0 * eps * thin);
        const double full = resistance * heat.power, rise = kernel::temperature_rise(s, full);
        const double factor = kernel::warming_factor(s, rise), now = s.supply_temperature + rise;
        const double slope = s.andrade_constant / (now * now);
        const double by_full = -slope * factor / (1.0 + full * factor * slope);
        out.warming = std::log(factor);
        out.warming_q = by_full * (resistance * heat.power_q + by_thin * heat.power * heat.thinnest.h_q);
        out.warming_y = by_full * (resistance * heat.power_y + by_thin * heat.power * heat.thinnest.h_y);
        return out;
    }

    const kernel::ContactSetup& setup_;
    const double c_;
    const kernel::ContactArrays<double>& a_;  // separation: of the tip without pressure
    const std::size_t n_;
    std::span<double> s_, s_q_, s_y_, unloaded_;
    std::size_t known_;  // first node whose unloaded separation is known
    double stride_;
    Node before_;
};

/// Flow q and warming y of the flooded film. Guesses on entry.
bool solve_flooded(SoftFilm& film, double p_in, double& q, double& y, Sweep& sweep) {
    double low = 0.0, high = kInfinity, last = kInfinity;
    bool final_sweep = false;
    for (int round = 0; round < kMostSweeps; ++round) {
        sweep = film.upstream(q, y, false);
        if (!sweep.ok) return false;
        const double miss = sweep.full_somewhere ? sweep.inlet.p - p_in : -kInfinity;
        (miss > 0.0 ? high : low) = q;
        double dq = -miss / sweep.inlet.p_q, dy = 0.0;
        const bool near = sweep.full_somewhere && std::abs(dq) <= 0.05 * q;
        if (near && film.warms()) {
            const double a = sweep.inlet.p_q, b = sweep.inlet.p_y, c = sweep.warming_q, d = sweep.warming_y - 1.0;
            const double excess = sweep.warming - y, det = a * d - b * c;
            dq = std::clamp((-miss * d + excess * b) / det, -0.2 * q, 0.2 * q);
            dy = std::clamp((-excess * a + miss * c) / det, -0.5, 0.5);
            low = 0.0, high = kInfinity;  // they belong to the old y
        }
        if (near) {
            const double error = std::max(std::abs(dq) / q, std::abs(dy));
            if (!std::isfinite(error)) return false;
            if (error <= kTolerance || (final_sweep && error <= 10.0 * kTolerance) ||
                (error <= 1e-10 && error >= 0.5 * last))
                return true;
            final_sweep = error <= 1e-8;
            last = error;
            film.predict(dq, dy);
            q += dq, y += dy;
            continue;
        }
        double next = q + dq;
        if (!(next > low && next < high) || !(sweep.inlet.p_q > 0.0)) {
            if (low > 0.0 && high < kInfinity)
                next = std::sqrt(low * high);
            else
                next = miss > 0.0 ? 0.4 * q : 2.5 * q;
        }
        next = std::clamp(next, 0.25 * q, 4.0 * q);
        film.predict(next - q, 0.0);
        q = next;
        if (high - low <= kEpsilon * q) return false;  // a jump
    }
    return false;
}

/// Warming y of the film whose flow is that of the supplied layer.
bool solve_starved(SoftFilm& film, double q, double& y, Sweep& sweep) {
    for (int round = 0; round < kMostSweeps; ++round) {
        sweep = film.upstream(q, y, true);
        if (!sweep.ok) return false;
        const double dy = film.warms() ? std::clamp((y - sweep.warming) / (sweep.warming_y - 1.0), -0.5, 0.5) : 0.0;
        if (!std::isfinite(dy)) return false;
        if (std::abs(dy) <= kTolerance) return true;
        film.predict(0.0, dy);
        y += dy;
    }
    return false;
}

}  // namespace

kernel::ContactForces<double> NipSolver::soft_contact(double tilt, double low_gap, double corner, double slope_out) {
    const kernel::ContactArrays<double>& a = arrays_;
    const std::size_t n = a.x.size();
    kernel::place_nodes(setup_, tilt, low_gap, std::sqrt(6.0 / corner), slope_out, a);
    if (soft_memory_.size() != 4 * n) {
        soft_memory_.assign(4 * n, 0.0);
        soft_flow_ = 0.0;
    }
    const auto part = [&](std::size_t k) { return std::span<double>(soft_memory_).subspan(k * n, n); };
    const std::span<double> separation = part(0);
    // low_gap is that of the loaded tip, by and large, so that meshes, strides and brackets made for a rigid tip hold as well:
    // without pressure the low end stands lower by the dent of the asperities and of a film in such a gap, held at a hundred
    // times the mean pressure. Any rising function of low_gap would lead to the same balance.
    const double film_gap =
        kernel::filled_gap(*setup_.f1, setup_.asperities.sigma, low_gap) + 0.5 * setup_.asperities.sigma;
    const double likely = kernel::asperity_pressure(*setup_.log_f52, setup_.asperities, low_gap) +
                          0.1 * setup_.nominal_viscosity * setup_.speed * setup_.facet_length /
                              (setup_.deep_flow_factor * film_gap * film_gap);
    const double pressure = likely / (1.0 + likely * setup_.facet_length / (100.0 * reference_load_));
    const bool cold = !(soft_flow_ > 0.0);
    if (cold) {
        std::copy(a.separation.begin(), a.separation.end(), separation.begin());
        soft_flow_ = 0.5 * setup_.speed * film_gap;
        soft_warming_ = 0.0;
    }
    for (double& s : a.separation) s -= compliance_ * pressure;

    SoftFilm film(setup_, compliance_, a, separation, part(1), part(2), part(3));
    const double p_in = kernel::inlet_pressure(setup_, corner), U = setup_.speed;
    double q = soft_flow_, y = soft_warming_;
    Sweep sweep;
    kernel::ContactForces<double> out;
    out.film_load = kNan;
    if (!solve_flooded(film, p_in, q, y, sweep)) {
        soft_flow_ = 0.0;
        return out;
    }
    soft_flow_ = q, soft_warming_ = y;
    const bool starved = setup_.film_supply >= 0.0 && U * setup_.film_supply < q;
    if (starved) {
        q = U * setup_.film_supply;
        if (!solve_starved(film, q, y, sweep)) return out;
    } else {
        a.pressure[0] = p_in;
    }
    std::copy(separation.begin(), separation.end(), a.separation.begin());
    out.temperature_rise = kernel::fill_coefficients(setup_, a);

    kernel::FilmPass<double>& pass = out.film;
    pass.flow = q;
    pass.starved = starved;
    pass.full_somewhere = sweep.full_somewhere;
    pass.ruptured = sweep.ruptured || !sweep.full_somewhere;
    pass.rupture_cell = sweep.rupture_cell;
    pass.rupture_x = a.x[n - 1], pass.rupture_gap = a.gap[n - 1];
    pass.start_x = a.x[0];
    const double gap = 2.0 * q / U;
    if (!pass.full_somewhere) {
        pass.rupture_x = a.x[0], pass.rupture_gap = gap;
    } else if (pass.ruptured) {
        const std::size_t i = pass.rupture_cell;
        pass.rupture_gap = gap;
        pass.rupture_x = a.x[i] + (gap - a.gap[i]) / (a.gap[i + 1] - a.gap[i]) * (a.x[i + 1] - a.x[i]);
    }
    const std::span<double> r = a.work.subspan(0, n);
    std::transform(a.gap.begin(), a.gap.end(), r.begin(), [](double h) { return 1.0 / h; });
    const kernel::detail::FilmData<double> data{
        a.x, a.gap, a.pressure_viscosity, a.shear_viscosity, a.flow_factor, U, {}, {}, r};
    if (sweep.started) {
        const std::size_t i = sweep.start_cell;
        const double dx = a.x[i + 1] - a.x[i];
        pass.start_cell = i;
        pass.start_x =
            a.x[i] + dx * kernel::detail::start_share(U, data.k(i), dx, a.gap[i], r[i], a.gap[i + 1], sweep.missing, q);
    }
    kernel::detail::add_cells<double>(pass, data, a.pressure, 0.0);
    kernel::add_to_film(setup_, corner, p_in, a, out);
    return out;
}

}  // namespace libblade::detail
