// The tip's surface gives way under the pressure it carries, place by place (Winkler's rule, contact.hpp): separation
//
//   s(x) = s_rigid(x) + c (p(x) + p_a(s)),   gap h = filled_gap(s),   dp/dx = k (U h / 2 - q) / h^3.
//
// Under a polymer c dp/dh is of the order of a thousand: gap and pressure cannot be found in turns. Seen along x the film is a
// stiff initial value problem: a disturbance of p goes as exp(int c k (3 q - U h) / h^4 dx) downstream, so it dies out
// upstream wherever h < 3 q / U, and downstream in the wider gap ahead of that. So a trial flow q is swept from both ends:
// from the outlet upstream as long as there is a branch that damps, from the inlet down to there, each node's separation
// being the root of one scalar equation (nip_soft_cell.hpp). By the comparison theorem of scalar equations the pressure from
// the outlet rises with q and that from the inlet falls: the flow is the one root of their difference where they meet. The
// full film ends where the gap at p = 0 is 2 q / U, as under a rigid tip. Where the pressure falls below zero behind a place
// that narrow it is torn there, and forms again behind.
//
// Flow factors and shear thinning follow gap and flow inside the cell equation; g is the Couette gap (nip_kernel.hpp), h in the
// equations above. Warming, one number for the film, is a second unknown: y = ln(viscosity / viscosity at the supply
// temperature). Sensitivities to q and y are carried along the sweep: Newton's method in both.
#include <algorithm>
#include <cmath>
#include <limits>
#include <span>
#include <utility>

#include "nip_soft_cell.hpp"
#include "nip_solver.hpp"

namespace libblade::detail {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN(), kInfinity = std::numeric_limits<double>::infinity();
constexpr int kMostSweeps = 100;
constexpr double kTolerance = 1e-12;  // of q, and of y
constexpr double kLeap = 1e-14;       // of q: where the excess still leaps there, it leaps

struct Sweep {
    bool ok = false;
    bool full_somewhere = false, ruptured = false, started = false;
    double highest = 0.0;  ///< pressure in the full film [Pa]
    std::size_t met = 0;   ///< last node that was swept from the inlet
    std::size_t rupture_cell = 0, start_cell = 0;
    double missing = 0.0;  ///< by how much the pressure of the full film falls below zero at the start's node
    ByFlow excess;         ///< pressure where both sweeps meet, that from the outlet less that from the inlet [Pa]
    ByFlow warming;        ///< y that the shear of this film makes
};

class SoftFilm : public SoftCells {
  public:
    SoftFilm(const kernel::ContactSetup& setup, const kernel::Flank<double>& flank, double compliance,
             const kernel::ContactArrays<double>& arrays, std::span<double> separation, std::span<double> by_flow,
             std::span<double> by_warming, std::span<double> unloaded)
        : SoftCells(setup, flank, compliance, arrays),
          n_(arrays.x.size()),
          s_(separation),
          s_q_(by_flow),
          s_y_(by_warming),
          unloaded_(unloaded),
          known_(n_) {
        while (narrows_ + 1 < n_ && a_.separation[narrows_ + 1] <= a_.separation[narrows_]) ++narrows_;
    }

    /// Pressures, gaps and separations for the flow q. Flooded: from both ends, to where the film leaves the branch that damps
    /// upstream; the pressure goes on below zero, which keeps it smooth in q. Starved: from the outlet, to where the pressure
    /// falls to zero. s_ on entry: guesses.
    Sweep flooded(double flow, double warming, double p_in) { return sweep(flow, warming, false, p_in); }
    Sweep starved(double flow, double warming) { return sweep(flow, warming, true, 0.0); }
    int sweeps = 0;  ///< made so far
    /// From now on both sweeps meet behind this node, not where the film leaves the branch that damps.
    void meet_at(std::size_t node) noexcept { meet_ = node; }
    static constexpr std::size_t kAnywhere = std::numeric_limits<std::size_t>::max();

    /// Moves the guesses along the sensitivities of the last sweep.
    void predict(double dq, double dy) noexcept {
        for (std::size_t i = 0; i < n_; ++i) s_[i] += s_q_[i] * dq + s_y_[i] * dy;
    }

  private:
    /// Shear power of the film and its thinnest place.
    struct Heat {
        ByFlow power, thinnest = ByFlow(kInfinity);
        void add(const ByFlow& cell) { power += cell; }
        void see(const Node& node) {
            if (node.h < thinnest) thinnest = node.h;
        }
    };
    Sweep sweep(double flow, double warming, bool limited, double p_in) {
        ++sweeps;
        Sweep out;
        const ByFlow q = variable<2>(flow, 0), y = variable<2>(warming, 1);
        const double gap = 2.0 * flow / setup_.speed;
        std::size_t i = n_ - 1;
        Node node;
        Heat heat;
        // The void: from the outlet to the rupture.
        while (true) {
            if (!unloaded_at(i, node)) return out;
            if (node.g.v < gap) break;
            put(i, node);
            if (i + 1 < n_) heat.add(cell_heat(i, node, before_, q));
            heat.see(node);
            before_ = node;
            if (i-- == 0) return finish(out, heat);
        }
        out.full_somewhere = true;
        out.ruptured = i + 1 < n_;
        out.rupture_cell = out.ruptured ? i : n_ - 2;
        end_ = ByFlow(a_.x[n_ - 1]);
        if (!out.ruptured) {  // full up to the outlet
            put(i, node);
            before_ = node;
            --i;
        }
        bool torn = false;
        for (;; --i) {
            bool ends_here = out.ruptured && i == out.rupture_cell;
            if (out.started || torn) {
                if (!unloaded_at(i, node)) return out;
                if (torn && node.g.v < gap) torn = false, ends_here = true;
            }
            if (!out.started && !torn) {
                const bool here = i == meet_, anywhere = meet_ == kAnywhere && i <= narrows_;
                bool leaves = false;
                if (!limited && here && from_inlet(i, q, y, p_in, out, heat)) break;
                if (!full_node(i, q, y, ends_here, node, leaves)) return out;
                if (!limited && leaves && anywhere && from_inlet(i, q, y, p_in, out, heat)) break;
                if (node.p.v < 0.0 && closes_ahead(i, gap)) {
                    torn = true;
                    if (!unloaded_at(i, node)) return out;
                } else if (limited && node.p.v < 0.0) {
                    out.started = true;
                    out.start_cell = i;
                    if (!unloaded_at(i, node)) return out;
                    out.missing = -before_.p.v - fall(i, false, q, y, end(node), end(before_)).v;
                }
            }
            out.highest = std::max(out.highest, node.p.v);
            put(i, node);
            heat.add(cell_heat(i, node, before_, q));
            heat.see(node);
            before_ = node;
            if (i == 0) {
                out.excess = node.p - p_in;
                break;
            }
        }
        return finish(out, heat);
    }

    /// Separation at a node that bears no film pressure. Known once, since neither flow nor warming moves it.
    bool unloaded_at(std::size_t i, Node& node) {
        for (; known_ > i; --known_) {
            const std::size_t k = known_ - 1;
            double s = k + 1 < n_ ? unloaded_[k + 1] + (a_.separation[k] - a_.separation[k + 1]) : a_.separation[k];
            if (!unloaded_root(a_.separation[k], s)) return false;
            unloaded_[k] = s;
        }
        node = {};
        set_surface(node, surface(unloaded_[i]), ByFlow(unloaded_[i]));
        return true;
    }

    /// Node i from the one downstream of it. `ends_here`: the full film ends in between. `leaves`: it leaves the branch that
    /// damps.
    bool full_node(std::size_t i, const ByFlow& q, const ByFlow& y, bool ends_here, Node& node, bool& leaves) {
        const Search search{i, ends_here, before_, 1.0};
        Balance balance(*this, search, q, y);
        double s = s_[i];
        if (!rising_root(balance, s, lowest(), stride_)) return false;
        // What damps, dp/dg < 0, ends at the gap 3 q / U. The film leaves that branch where it cannot go on with it, no earlier:
        // of two roots it takes the narrower one.
        const double open = 3.0 * q.v / setup_.speed;
        leaves = !ends_here && balance.here.g.v > open;
        if (leaves && before_.g.v < open) {
            double narrow = separation_of(open, s);
            if (balance(narrow).value >= 0.0 && rising_root(balance, narrow, lowest(), stride_)) {
                s = narrow;
                leaves = false;
            }
            (void)balance(s);
        }
        balance.fill(s, node);
        leaves = leaves || (!ends_here && node.p.v < 0.0);
        if (ends_here)
            end_ =
                a_.x[i + 1] - (before_.g - (2.0 / setup_.speed) * q) / (before_.g - node.g) * (a_.x[i + 1] - a_.x[i]);
        return true;
    }

    /// Nodes 0 to `last` from the inlet, each from the one upstream of it, and what the cell behind them misses. False: the flow
    /// is too much for the gap that far, and the pressure runs away.
    bool from_inlet(std::size_t last, const ByFlow& q, const ByFlow& y, double p_in, Sweep& out, Heat& heat_so_far) {
        Node up, node;
        double s = s_[0], highest = out.highest;
        if (!unloaded_root(a_.separation[0] + c_ * p_in, s)) return false;
        set_surface(up, surface(s), ByFlow(s));
        up.p = ByFlow(p_in);
        put(0, up);
        Heat heat = heat_so_far;
        heat.see(up);
        for (std::size_t i = 1; i <= last; ++i) {
            const Search search{i, false, up, -1.0};
            Balance balance(*this, search, q, y);
            s = s_[i];
            if (!rising_root(balance, s, lowest(), stride_)) return false;
            balance.fill(s, node);
            highest = std::max(highest, node.p.v);
            if (!(node.p.v >= -highest)) return false;
            put(i, node);
            heat.add(cell_heat(i - 1, up, node, q));
            heat.see(node);
            up = node;
        }
        heat.add(cell_heat(last, up, before_, q));
        const ByNode cell = fall(last, false, q, y, end(up), end(before_));
        out.excess = before_.p + ByFlow(cell.v, {cell.d[1], cell.d[2]}) - up.p;
        out.highest = highest, out.met = last, heat_so_far = heat;
        return true;
    }

    /// Over cells the Couette gap hardly follows the gap in places, and can close more than once: a film whose pressure falls
    /// below zero between two such places is torn there.
    bool closes_ahead(std::size_t i, double gap) {
        Node node;
        if (!unloaded_at(i, node) || node.g.v < gap) return false;
        while (i-- > 0)
            if (unloaded_at(i, node) && node.g.v < gap) return true;
        return false;
    }

    void put(std::size_t i, const Node& node) {
        s_[i] = node.s.v;
        s_q_[i] = node.s.d[0], s_y_[i] = node.s.d[1];
        a_.gap[i] = node.h.v;
        a_.couette_gap[i] = node.g.v;
        a_.pressure[i] = node.p.v;
    }

    Sweep& finish(Sweep& out, const Heat& heat) const {
        out.ok = true;
        if (!warms()) return out;
        const kernel::HeatSetup& s = setup_.heat;
        const ByFlow rise =
            kernel::temperature_rise(s, ByFlow(kernel::thermal_resistance(s, heat.thinnest) * heat.power));
        out.warming = log(kernel::warming_factor(s, rise));
        return out;
    }

    const std::size_t n_;
    std::span<double> s_, s_q_, s_y_, unloaded_;
    std::size_t known_;             // first node whose unloaded separation is known
    std::size_t meet_ = kAnywhere;  // node where both sweeps have to meet
    std::size_t narrows_ = 0;       // last node up to which the tip without load narrows from the inlet on
    Node before_;
};

/// Flow q and warming y of the flooded film. Guesses on entry. `sealed` where it fails: no flow is small enough. `meet`: node at
/// which both sweeps have to meet, if they have to; where they turn out to, that of this film is left there for the next.
bool solve_flooded(SoftFilm& film, double p_in, double sealing_flow, double& q, double& y, std::size_t& meet,
                   Sweep& sweep, bool& sealed) {
    double low = 0.0, high = kInfinity, last = kInfinity;
    bool final_sweep = false, was_empty = false;
    std::size_t met = 0;      // with the last flow that was too much
    double from_high = kNan;  // Newton's step from it
    film.meet_at(meet);
    for (int round = 0; round < kMostSweeps; ++round) {
        sweep = film.flooded(q, y, p_in);
        if (!sweep.ok) return false;
        const bool empty = !sweep.full_somewhere;
        const double miss = empty ? -kInfinity : sweep.excess.v;
        (miss > 0.0 ? high : low) = q;
        if (miss > 0.0) met = sweep.met;
        sealed = low == 0.0 && high < sealing_flow;
        if (sealed) return false;
        double dq = -miss / sweep.excess.d[0], dy = 0.0;
        // Where too much flow makes a sweep run away the excess grows like an exponential, and Newton's steps are short for that.
        const bool near = std::abs(dq) <= 0.05 * q && std::abs(miss) <= sweep.highest;
        if (miss > 0.0) from_high = near ? dq : kNan;
        if (near && film.warms()) {
            const double a = sweep.excess.d[0], b = sweep.excess.d[1], at_this_y = dq;
            const double c = sweep.warming.d[0], d = sweep.warming.d[1] - 1.0;
            const double excess = sweep.warming.v - y, det = a * d - b * c;
            dq = std::clamp((-miss * d + excess * b) / det, -0.2 * q, 0.2 * q);
            dy = std::clamp((-excess * a + miss * c) / det, -0.5, 0.5);
            // The bracket belongs to the old y: the flow moves with y by the difference of the two steps.
            const double moved = 2.0 * std::abs(dq - at_this_y);
            low = std::max(0.0, low - moved), high += moved;
        }
        double next = q + dq;
        const bool bracketed = low > 0.0 && high < kInfinity;
        if (near) {
            const double error = std::max(std::abs(dq) / q, std::abs(dy));
            if (!std::isfinite(error)) return false;
            if (error <= kTolerance || (final_sweep && error <= 10.0 * kTolerance) ||
                (error <= 1e-10 && error >= 0.5 * last))
                return true;
            final_sweep = error <= 1e-8;
            last = error;
            if (bracketed && !(next > low && next < high)) next = std::sqrt(low * high);
        } else {
            const bool runs_away = std::abs(miss) > sweep.highest;
            if (runs_away || !(next > low && next < high) || !(sweep.excess.d[0] > 0.0)) {
                // A step that leaves nothing full has gone a little too far: most of it was right.
                // So has one from the side of too much flow that has come down on another film.
                const double most_of_it = high + 0.98 * from_high;
                if (bracketed && runs_away && most_of_it > low && most_of_it < high)
                    next = most_of_it;
                else if (bracketed)
                    next = empty && !was_empty ? low + 0.1 * (high - low) : std::sqrt(low * high);
                else
                    next = miss > 0.0 ? 0.15 * q : 2.5 * q;
            }
            next = std::clamp(next, 0.1 * q, 4.0 * q);
        }
        // Where the sweeps meet further up with a little less flow the excess may leap: there is an answer with the place kept.
        const bool leaps = high - low <= kLeap * q && std::abs(dq) > 2.0 * (high - low);
        const bool kept = meet != SoftFilm::kAnywhere;
        if (leaps || (round == kMostSweeps / 3 && !kept)) {  // or it leaps with the warming, to and fro
            if (std::abs(sweep.excess.v) <= 1e-6 * sweep.highest) return true;
            if (kept) return false;
            meet = met, low = 0.0, last = kInfinity;
            film.meet_at(meet);
        }
        was_empty = empty;
        film.predict(next - q, dy);
        q = next, y += dy;
    }
    return false;
}

/// Warming y of the film whose flow is that of the supplied layer.
bool solve_starved(SoftFilm& film, double q, double& y, Sweep& sweep) {
    for (int round = 0; round < kMostSweeps; ++round) {
        sweep = film.starved(q, y);
        if (!sweep.ok) return false;
        const double dy =
            film.warms() ? std::clamp((y - sweep.warming.v) / (sweep.warming.d[1] - 1.0), -0.5, 0.5) : 0.0;
        if (!std::isfinite(dy)) return false;
        if (std::abs(dy) <= kTolerance) return true;
        film.predict(0.0, dy);
        y += dy;
    }
    return false;
}

/// ln of what shear between parallel walls of this gap makes of the viscosity.
double likely_warming(const kernel::ContactSetup& s, double gap) {
    if (s.heat.length <= 0.0 || s.heat.andrade_constant <= 0.0) return 0.0;
    const double eta = s.ink != nullptr ? s.ink->at(s.speed / gap, 0.0).shear : s.viscosity;
    const double power = eta * s.supply_factor * s.land_fraction * s.speed * s.speed * s.facet_length / gap;
    return std::log(kernel::warming_factor(
        s.heat, kernel::temperature_rise(s.heat, kernel::thermal_resistance(s.heat, gap) * power)));
}

}  // namespace

double NipSolver::give_at(double tilt, double low_gap) const noexcept {
    if (tilt == 0.0 || !setup_.profile.empty() || lasting_.given_compliance) return compliance_;
    const double film_gap =
        kernel::filled_gap(*setup_.f1, setup_.asperities.sigma, low_gap) + 0.5 * setup_.asperities.sigma;
    constexpr double kGaps = 5.0;
    const double reach = kGaps * film_gap / std::abs(tilt) + 2.0 * std::sqrt(2.0 * setup_.edge_radius * film_gap);
    const double beyond = std::max(0.0, setup_.facet_length / reach - 1.0);
    return compliance_ / (1.0 + beyond * beyond * beyond / (1.0 + beyond * beyond));
}

kernel::ContactForces<double> NipSolver::soft_contact(double tilt, double low_gap, const kernel::Flank<double>& flank,
                                                      double slope_out) {
    const kernel::ContactArrays<double>& a = arrays_;
    const std::size_t n = a.x.size();
    kernel::ContactForces<double> out;
    if (soft_sweeps_ > most_soft_sweeps_) {
        out.unsettled = true;
        return out;
    }
    kernel::place_nodes(setup_, tilt, low_gap, flank.slope, flank.half_tangent, slope_out, a);
    if (lasting_.soft_memory.size() != 4 * n) {
        lasting_.soft_memory.assign(4 * n, 0.0);
        soft_flow_ = 0.0;
    }
    const auto part = [&](std::size_t k) { return std::span<double>(lasting_.soft_memory).subspan(k * n, n); };
    const std::span<double> separation = part(0);
    // low_gap is that of the loaded tip, by and large, so that meshes, strides and brackets made for a rigid tip hold as well:
    // without pressure the low end stands lower by the dent of the asperities and of a film in such a gap, held at a hundred
    // times the mean pressure. Any rising function of low_gap would lead to the same balance.
    const double film_gap =
        kernel::filled_gap(*setup_.f1, setup_.asperities.sigma, low_gap) + 0.5 * setup_.asperities.sigma;
    const double likely = kernel::asperity_pressure(*setup_.f52, setup_.asperities, low_gap) +
                          0.1 * setup_.nominal_viscosity * setup_.speed * setup_.facet_length /
                              (setup_.flow_factor * film_gap * film_gap);
    const double give = give_at(tilt, low_gap);
    const double pressure = likely / (1.0 + likely * setup_.facet_length / (100.0 * reference_load_));
    for (double& s : a.separation) s -= give * pressure;
    const auto from_scratch = [&] {
        std::transform(a.separation.begin(), a.separation.end(), separation.begin(),
                       [&](double s) { return s + give * pressure; });
        soft_flow_ = 0.5 * setup_.speed * film_gap;
        soft_warming_ = likely_warming(setup_, film_gap);
        soft_meet_ = SoftFilm::kAnywhere;
    };
    const bool cold = !(soft_flow_ > 0.0);
    if (cold) from_scratch();

    SoftFilm film(setup_, flank, give, a, separation, part(1), part(2), part(3));
    const double p_in = kernel::inlet_pressure(setup_, flank.corner), U = setup_.speed;
    double q = 0.0, y = 0.0;
    Sweep sweep;
    out.film_load = kNan;
    const auto solve = [&] {
        q = soft_flow_, y = soft_warming_;
        const double sealing_flow = 0.5 * U * kNoFilm;
        const bool solved = solve_flooded(film, p_in, sealing_flow, q, y, soft_meet_, sweep, soft_sealed_);
        soft_sweeps_ += std::exchange(film.sweeps, 0);
        soft_sealed_ = soft_sealed_ || (solved && q < sealing_flow);
        return solved && !soft_sealed_;
    };
    bool found = solve();
    if (!found && !cold && !soft_sealed_) {  // the film before was another one
        from_scratch();
        found = solve();
    }
    if (!found) {
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
    for (double& p : a.pressure) p = std::max(p, 0.0);
    std::copy(separation.begin(), separation.end(), a.separation.begin());
    kernel::fill_texture(setup_, a);
    out.temperature_rise = kernel::fill_viscosity(setup_, q, a);

    kernel::FilmPass<double>& pass = out.film;
    pass.flow = q;
    pass.starved = starved;
    pass.full_somewhere = sweep.full_somewhere;
    pass.ruptured = sweep.ruptured || !sweep.full_somewhere;
    pass.rupture_cell = sweep.rupture_cell;
    pass.rupture_x = a.x[n - 1], pass.rupture_gap = a.couette_gap[n - 1];
    pass.start_x = a.x[0];
    const double gap = 2.0 * q / U;
    if (!pass.full_somewhere) {
        pass.rupture_x = a.x[0], pass.rupture_gap = gap;
    } else if (pass.ruptured) {
        const std::size_t i = pass.rupture_cell;
        pass.rupture_gap = gap;
        pass.rupture_x =
            a.x[i] + (gap - a.couette_gap[i]) / (a.couette_gap[i + 1] - a.couette_gap[i]) * (a.x[i + 1] - a.x[i]);
    }
    const std::span<double> r = a.work.subspan(0, n);
    std::transform(a.couette_gap.begin(), a.couette_gap.end(), r.begin(), [](double h) { return 1.0 / h; });
    const std::size_t entry = kernel::facet_start(setup_.mesh);
    const double behind = (pass.rupture_x - a.x[entry]) * r[entry];
    const kernel::detail::FilmData<double> data{
        a.x,
        a.couette_gap,
        a.pressure_viscosity,
        a.shear_viscosity,
        a.flow_factor,
        U,
        {},
        {},
        r,
        kernel::facet_entry(setup_, kernel::facet_turn(setup_, flank, a), a).part(std::clamp(behind, 0.0, 1.0)),
        kernel::texture(setup_, a)};
    if (sweep.started) {
        const std::size_t i = sweep.start_cell;
        const double dx = a.x[i + 1] - a.x[i];
        pass.start_cell = i;
        const double end = a.pressure[i + 1] - (i + 1 == entry ? data.jump.rise(U, q) : 0.0);
        pass.start_x =
            a.x[i] + dx * kernel::detail::start_share(U, data.k(i), dx, a.couette_gap[i], r[i], a.couette_gap[i + 1],
                                                      sweep.missing, sweep.missing + end, q);
    }
    kernel::detail::add_cells<double>(pass, data, a.pressure, 0.0);
    kernel::add_to_film(setup_, flank.corner, p_in, a, out);
    return out;
}

}  // namespace libblade::detail
