// The table of flow viscosities: at every node two equations for T_m and P, solved by Newton along a column of equal
// rate.
#include <algorithm>
#include <array>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <limits>
#include <string>
#include <utility>

#include "ink_flow_curve.hpp"
#include "libblade/error.hpp"
#include "libblade/ink_flow.hpp"

namespace libblade {
namespace {

/// Cubic Hermite basis of one cell of length 1, and its derivative; straight lines outside.
struct Basis {
    double left, right, left_slope, right_slope;      // factors of the two values and the two slopes
    double dleft, dright, dleft_slope, dright_slope;  // their derivatives
};

inline Basis basis(double place) noexcept {
    const double t = std::clamp(place, 0.0, 1.0), u = 1.0 - t;
    Basis b{u * u * (1.0 + 2.0 * t), t * t * (3.0 - 2.0 * t), u * u * t, -t * t * u, -6.0 * t * u, 6.0 * t * u,
            u * (1.0 - 3.0 * t),     t * (3.0 * t - 2.0)};
    if (place != t) {
        b.left_slope += (place - t) * b.dleft_slope;
        b.right_slope += (place - t) * b.dright_slope;
    }
    return b;
}

/// Cell of a place counted in cells, and the place from its left end; the end cells go on outwards, and a NaN falls into
/// the first. Signed numbers: they turn into doubles and back in one instruction.
struct Place {
    std::size_t cell;
    double share;
};
inline Place locate(double place, std::size_t cells) noexcept {
    const auto last = static_cast<double>(static_cast<std::ptrdiff_t>(cells) - 1);
    const auto i = static_cast<std::ptrdiff_t>(place > 0.0 ? std::min(place, last) : 0.0);
    return {static_cast<std::size_t>(i), place - static_cast<double>(i)};
}

/// R and its integrals int_0 R dT (even), int_0 T R dT (odd) at any stress, from a table over t = ln |T|. Tabulated
/// are ln R, a = int R dT / (R T) and b = int T R dT / (R T^2), which are constant wherever the law is a power of the
/// rate: da/dt = 1 - (1 + N) a, db/dt = 1 - (2 + N) b with N = d ln R / d ln T.
class StressIntegrals {
  public:
    struct Wall {
        double rate, first, second;
    };

    template <class Law>
    StressIntegrals(const Law& law, double log_rate_from, double log_rate_to) : smooth_over_(smooth(law)) {
        const auto log_stress = [&](double x) { return x + std::log(kernel::viscosity(law, std::exp(x)).apparent); };
        start_ = log_stress(log_rate_from);
        const double end = log_stress(log_rate_to);
        const auto cells = static_cast<std::size_t>(std::max(1.0, std::ceil((end - start_) / kStep)));
        step_ = (end - start_) / static_cast<double>(cells);
        nodes_.reserve(cells + 1);
        double x = log_rate_from, N = slope(law, x);
        double a = 1.0 / (1.0 + N), b = 1.0 / (2.0 + N);  // the plateau, or the power law, below the table
        for (std::size_t i = 0;; ++i) {
            nodes_.push_back({x, N, a, 1.0 - (1.0 + N) * a, b, 1.0 - (2.0 + N) * b});
            if (i == cells) break;
            const double t = start_ + static_cast<double>(i + 1) * step_;
            const double next = log_rate(law, t, x + N * step_);
            // Three-point Gauss over the cell in ln rate, in units of the wall values at its end.
            const double half = 0.5 * (next - x), middle = 0.5 * (next + x);
            double first = 0.0, second = 0.0;
            for (const auto& [place, weight] :
                 {std::pair{-std::sqrt(0.6), 5.0 / 9.0}, {0.0, 8.0 / 9.0}, {std::sqrt(0.6), 5.0 / 9.0}}) {
                const double y = middle + place * half;
                const auto v = kernel::viscosity(law, std::exp(y));
                const double T = std::exp(y - t) * v.apparent;
                const double w = weight * half * std::exp(y - next) * T * v.tangent / v.apparent;
                first += w;
                second += w * T;
            }
            a = a * std::exp(x - next - step_) + first;
            b = b * std::exp(x - next - 2.0 * step_) + second;
            x = next;
            N = slope(law, x);
        }
    }

    /// Two nodes: ln R is straight, a and b are constant.
    StressIntegrals(const PowerLaw& law, double, double) : start_(std::log(law.consistency)), step_(1.0) {
        const double N = 1.0 / law.exponent, a = 1.0 / (1.0 + N), b = 1.0 / (2.0 + N);
        nodes_ = {{0.0, N, a, 0.0, b, 0.0}, {N, N, a, 0.0, b, 0.0}};
    }

    /// Length in ln |T| over which seven points integrate R.
    [[nodiscard]] double smooth_over() const noexcept { return smooth_over_; }

    /// Smallest and largest s at which the stress of a flow vanishes at a wall: 2 b / a - 1.
    [[nodiscard]] std::array<double, 2> flows_without_stress_at_a_wall() const noexcept {
        std::array<double, 2> out{1.0, 0.0};
        for (const Node& n : nodes_) {
            const double s = 2.0 * n.b / n.a - 1.0;
            out = {std::min(out[0], s), std::max(out[1], s)};
        }
        return out;
    }

    [[nodiscard]] Wall operator()(double T) const noexcept {
        if (T == 0.0) return {0.0, 0.0, 0.0};
        const double size = std::abs(T), t = std::log(size);
        const auto [i, share] = locate((t - start_) / step_, nodes_.size() - 1);
        const Basis h = basis(share);
        const Node &l = nodes_[i], &r = nodes_[i + 1];
        const auto mix = [&](double f0, double s0, double f1, double s1) {
            return h.left * f0 + h.right * f1 + step_ * (h.left_slope * s0 + h.right_slope * s1);
        };
        const double R = std::exp(mix(l.x, l.N, r.x, r.N));
        const double a = mix(l.a, l.da, r.a, r.da), b = mix(l.b, l.db, r.b, r.db);
        return {std::copysign(R, T), a * R * size, b * R * size * T};
    }

  private:
    struct Node {
        double x, N, a, da, b, db;
    };

    template <class Law>
    static double slope(const Law& law, double x) noexcept {
        const auto v = kernel::viscosity(law, std::exp(x));
        return v.apparent / v.tangent;
    }
    template <class Law>
    static double smooth(const Law&) noexcept {
        return 0.5;
    }
    // Half as far as 15 points in ln rate do, which above the bend is ln |T| / n.
    static double smooth(const CarreauYasuda& law) noexcept { return std::min(0.5, 0.5 * law.exponent * piece(law)); }
    static constexpr double kStep = 0.01;
    double start_, step_, smooth_over_ = 0.5;
    std::vector<Node> nodes_;
};

/// The flow at given stresses: mean rate, first moment M = (U / h) s / 2, and their symmetric derivatives.
struct State {
    double rate, moment, rate_T, rate_P, moment_P;

    State(const StressIntegrals& curve, double T_m, double P) noexcept {
        const auto one = curve(T_m + 0.5 * P), zero = curve(T_m - 0.5 * P);
        const double jump = one.rate - zero.rate;
        if (P > 0.5 * T_m) {
            rate = (one.first - zero.first) / P;
            moment = (one.second - zero.second) / (P * P) - T_m * rate / P;
        } else {
            // Walls nearly alike: the differences would cancel, and a few points integrate.
            using Rule = boost::math::quadrature::gauss<double, 7>;
            const double pieces = std::max(1.0, std::ceil(P / T_m / curve.smooth_over()));
            rate = moment = 0.0;
            const auto add = [&](double w, double weight) {
                const double share = weight * curve(T_m + w * P).rate;
                rate += share;
                moment += w * share;
            };
            for (double i = 0.5; i < pieces; ++i) {
                const double middle = i / pieces - 0.5;
                for (std::size_t k = 0; k < Rule::abscissa().size(); ++k) {
                    const double dw = 0.5 * Rule::abscissa()[k] / pieces, weight = 0.5 * Rule::weights()[k] / pieces;
                    add(middle - dw, weight);
                    if (dw > 0.0) add(middle + dw, weight);
                }
            }
        }
        rate_T = jump / P;
        rate_P = (0.5 * (one.rate + zero.rate) - rate) / P;
        moment_P = (0.25 * jump - 2.0 * moment) / P;
    }
    /// Changes of T_m and P for changes of the mean rate and the moment.
    [[nodiscard]] std::array<double, 2> solve(double drate, double dmoment) const noexcept {
        const double det = rate_T * moment_P - rate_P * rate_P;
        return {(moment_P * drate - rate_P * dmoment) / det, (rate_T * dmoment - rate_P * drate) / det};
    }
};

/// Widths of the cells in ln rate and y. Where the stress vanishes at a wall the viscosities of a thinning ink are
/// only as smooth as |T|^(1 + 1/n) down to the stress of its Newtonian plateau: narrow rows there and, by `margin`,
/// around. `tolerance`: on rate and flow at a node ahead of its last Newton step, relative; the step leaves about the
/// square of it in the values and that much in the slopes.
struct Steps {
    double log_rate, fine, narrow, margin, wide, tolerance;
};
template <class Law>
Steps steps(const Law&) noexcept {
    return {0.11, 0.0125, 0.0025, 0.15, 0.05, 1e-7};
}
// A power law is straight in ln rate: two columns, whose slopes count over the whole range.
Steps steps(const PowerLaw&) noexcept { return {1e300, 0.005, 0.0005, 0.1, 0.01, 1e-11}; }

}  // namespace

class InkFlowTableBuilder {
  public:
    InkFlowTableBuilder(const Steps& steps, const InkFlowTableRange& range, const StressIntegrals& curve)
        : curve_(curve) {
        table_.convergence_ = {Status::converged, 0.0, steps.tolerance, 0, ""};
        const auto cells = [](double length, double step) {
            return static_cast<std::size_t>(std::max(1.0, std::ceil(length / step)));
        };
        const double length = std::log(range.highest_rate / range.lowest_rate);
        table_.log_start_ = std::log(range.lowest_rate);
        table_.columns_ = cells(length, steps.log_rate) + 1;
        table_.log_step_ = length / static_cast<double>(table_.columns_ - 1);
        table_.columns_per_log_ = 1.0 / table_.log_step_;

        const auto [s_low, s_high] = curve.flows_without_stress_at_a_wall();
        const double y_low = std::asinh(s_low), y_high = std::asinh(s_high) + steps.margin;
        const std::array ends{std::max(y_low - 0.3 * steps.margin, 0.5 * y_low), y_high, std::max(1.0, y_high + 0.1),
                              std::asinh(std::max(range.largest_flow, 4.0))};
        const std::array widths{steps.fine, steps.narrow, steps.fine, steps.wide};
        double start = 0.0;
        y_ = {0.0};
        for (std::size_t z = 0; z < ends.size(); ++z) {
            const std::size_t n = cells(ends[z] - start, widths[z]);
            table_.zones_[z] = {start, (ends[z] - start) / static_cast<double>(n),
                                static_cast<double>(n) / (ends[z] - start), y_.size() - 1, n};
            for (std::size_t j = 1; j <= n; ++j) y_.push_back(start + static_cast<double>(j) * table_.zones_[z].step);
            start = ends[z];
        }
        table_.rows_ = y_.size();
        for (const double y : y_) {
            s_.push_back(std::sinh(y));
            dsdy_.push_back(std::cosh(y));
        }
        constexpr double kUnsolved = std::numeric_limits<double>::quiet_NaN();
        table_.nodes_.assign(table_.columns_ * table_.rows_, Node{{kUnsolved, kUnsolved}, {}, {}, {}});
    }

    template <class Law>
    InkFlowTable operator()(const Law& law) {
        for (std::size_t i = 0; i < table_.columns_; ++i) {
            const double rate = std::exp(table_.log_start_ + static_cast<double>(i) * table_.log_step_);
            Node* column = &table_.nodes_[i * table_.rows_];
            pure_shear(column[0], law, rate);
            for (std::size_t j = 1; j < table_.rows_; ++j) solve_node(column, j, rate);
            mixed_derivatives(column);
        }
        Convergence& c = table_.convergence_;
        if (!(c.residual <= c.tolerance)) {
            c.status = std::isfinite(c.residual) ? Status::max_iterations : Status::non_finite;
            c.message = "the flow was not found at some node of the ink's table";
        }
        return std::move(table_);
    }

    static InkFlowTable constant(double viscosity) {
        InkFlowTable table;
        table.constant_ = viscosity;
        table.convergence_ = {Status::converged, 0.0, 0.0, 0, ""};
        return table;
    }

  private:
    using Node = InkFlowTable::Node;

    template <class Law>
    static void pure_shear(Node& node, const Law& law, double rate) noexcept {
        // Slopes in ln rate: the apparent viscosity's is n - 1 with n the local exponent; the tangent one's by
        // differences.
        constexpr double kStep = 1e-3;
        const auto log_tangent = [&](double x) { return std::log(kernel::viscosity(law, x).tangent); };
        const auto v = kernel::viscosity(law, rate);
        const auto difference = [&](double d) {
            return (log_tangent(rate * std::exp(d)) - log_tangent(rate * std::exp(-d))) / (2.0 * d);
        };
        node = {{std::log(v.tangent), std::log(v.apparent)},
                {(4.0 * difference(kStep) - difference(2.0 * kStep)) / 3.0, v.tangent / v.apparent - 1.0},
                {0.0, 0.0},
                {0.0, 0.0}};
    }

    void solve_node(Node* column, std::size_t j, double rate) noexcept {
        const auto guess = extrapolated(column, j);
        const double s = s_[j], M = 0.5 * rate * s;
        double P = 6.0 * rate * s * std::exp(guess[0]), T_m = rate * std::exp(guess[1]), residual = 0.0;
        constexpr int kMaxIterations = 40;
        for (int n = 0; n < kMaxIterations; ++n) {
            const State now(curve_, T_m, P);
            const double r1 = rate - now.rate, r2 = M - now.moment;
            residual = std::max(std::abs(r1) / rate, std::abs(r2) / M);
            const auto [dT, dP] = now.solve(r1, r2);
            // The two stresses stay positive; near the root the steps are Newton's own.
            const double scale = std::min({1.0, 0.7 * T_m / std::abs(dT), 0.7 * P / std::abs(dP)});
            T_m += scale * dT;
            P += scale * dP;
            ++table_.convergence_.iterations;
            if (residual <= table_.convergence_.tolerance) {
                const auto [T_x, P_x] = now.solve(rate, M);
                const auto [T_y, P_y] = now.solve(0.0, 0.5 * rate * dsdy_[j]);
                column[j] = {{std::log(P / (6.0 * rate * s)), std::log(T_m / rate)},
                             {P_x / P - 1.0, T_x / T_m - 1.0},
                             {P_y / P - dsdy_[j] / s, T_y / T_m},
                             {0.0, 0.0}};
                break;
            }
            if (!std::isfinite(residual)) break;
        }
        double& worst = table_.convergence_.residual;
        if (!std::isnan(worst) && !(residual <= worst)) worst = residual;
    }

    /// ln of the viscosities at row j from the rows before it.
    [[nodiscard]] std::array<double, 2> extrapolated(const Node* column, std::size_t j) const noexcept {
        std::array<double, 2> out{};
        const double d = y_[j] - y_[j - 1];
        const bool cubic = j >= 2 && std::abs(y_[j - 1] - y_[j - 2] - d) < 1e-9;
        for (std::size_t k = 0; k < 2; ++k) {
            const Node& b = column[j - 1];
            out[k] = b.value[k] + d * b.by_y[k];
            if (!cubic) continue;
            const Node& a = column[j - 2];  // the Hermite cubic one cell further
            out[k] = 5.0 * a.value[k] - 4.0 * b.value[k] + d * (2.0 * a.by_y[k] + 4.0 * b.by_y[k]);
        }
        return out;
    }

    /// d2 / (d ln rate dy) from the parabola through the slopes in ln rate of three rows; 0 at y = 0, by evenness.
    void mixed_derivatives(Node* column) const noexcept {
        for (std::size_t j = 1; j < table_.rows_; ++j) {
            const std::size_t m = std::min(j, table_.rows_ - 2);  // middle row
            const double d0 = y_[m] - y_[m - 1], d1 = y_[m + 1] - y_[m];
            for (std::size_t k = 0; k < 2; ++k) {
                const double e0 = (column[m].by_rate[k] - column[m - 1].by_rate[k]) / d0;
                const double e1 = (column[m + 1].by_rate[k] - column[m].by_rate[k]) / d1;
                const double bend = (e1 - e0) / (d0 + d1);
                column[j].mixed[k] = e0 + bend * d0 + 2.0 * bend * (y_[j] - y_[m]);
            }
        }
    }

    const StressIntegrals& curve_;
    InkFlowTable table_;
    std::vector<double> y_, s_, dsdy_;
};

namespace {

InkFlowTable make(const Newtonian& law, const InkFlowTableRange&) {
    return InkFlowTableBuilder::constant(law.viscosity);
}

template <class Law>
InkFlowTable make(const Law& law, const InkFlowTableRange& range) {
    // Rates met at the walls: down to zero stress, up to those of the largest pressure flow.
    const double below = 10.0, above = std::log(20.0 * (1.0 + range.largest_flow));
    const StressIntegrals curve(law, std::log(range.lowest_rate) - below, std::log(range.highest_rate) + above);
    return InkFlowTableBuilder(steps(law), range, curve)(law);
}

}  // namespace

template <bool kSlopes>
InkFlowTable::Local InkFlowTable::look_up(double rate, double s) const noexcept {
    if (nodes_.empty()) return {constant_, constant_, 0.0, 0.0, 0.0, 0.0};
    const double root = std::sqrt(1.0 + s * s), y = std::log(std::abs(s) + root);
    const double column = (std::log(rate) - log_start_) * columns_per_log_;
    std::size_t z = 0;
    for (std::size_t k = 1; k < zones_.size(); ++k) z += y >= zones_[k].start ? 1 : 0;  // without a branch
    const Zone& zone = zones_[z];
    const double dx = log_step_, dy = zone.step, row = (y - zone.start) * zone.per_step;
    const Place i = locate(column, columns_ - 1), j = locate(row, zone.cells);
    const Basis x = basis(i.share), w = basis(j.share);
    const Node* node[2] = {&nodes_[i.cell * rows_ + zone.first_row + j.cell], nullptr};
    node[1] = node[0] + rows_;
    double value[2] = {}, by_x[2] = {}, by_y[2] = {};
    const double X[2][2] = {{x.left, x.right}, {dx * x.left_slope, dx * x.right_slope}};
    const double dX[2][2] = {{x.dleft * columns_per_log_, x.dright * columns_per_log_},
                             {x.dleft_slope, x.dright_slope}};
    const double W[2][2] = {{w.left, w.right}, {dy * w.left_slope, dy * w.right_slope}};
    const double dW[2][2] = {{w.dleft * zone.per_step, w.dright * zone.per_step}, {w.dleft_slope, w.dright_slope}};
    for (int c = 0; c < 2; ++c) {
        for (int r = 0; r < 2; ++r) {
            const Node& n = node[c][r];
            for (int k = 0; k < 2; ++k) {
                const double f = X[0][c] * n.value[k] + X[1][c] * n.by_rate[k];
                const double g = X[0][c] * n.by_y[k] + X[1][c] * n.mixed[k];
                value[k] += W[0][r] * f + W[1][r] * g;
                if constexpr (kSlopes) {
                    by_y[k] += dW[0][r] * f + dW[1][r] * g;
                    by_x[k] += W[0][r] * (dX[0][c] * n.value[k] + dX[1][c] * n.by_rate[k]) +
                               W[1][r] * (dX[0][c] * n.by_y[k] + dX[1][c] * n.mixed[k]);
                }
            }
        }
    }
    const double pressure = std::exp(value[0]), shear = std::exp(value[1]);
    if constexpr (!kSlopes) return {pressure, shear, 0.0, 0.0, 0.0, 0.0};
    const double dyds = std::copysign(1.0 / root, s);
    return {pressure,
            shear,
            pressure * by_x[0] / rate,
            shear * by_x[1] / rate,
            pressure * by_y[0] * dyds,
            shear * by_y[1] * dyds};
}
template InkFlowTable::Local InkFlowTable::look_up<false>(double, double) const noexcept;
template InkFlowTable::Local InkFlowTable::look_up<true>(double, double) const noexcept;

InkFlowTable make_ink_flow_table(const Rheology& law, const InkFlowTableRange& range) {
    if (!(range.lowest_rate > 0.0) || !(range.highest_rate > range.lowest_rate) || !std::isfinite(range.highest_rate))
        throw InvalidInput(
            {{"lowest_rate", std::to_string(range.lowest_rate), "must be above 0 and below highest_rate"}});
    if (!(range.largest_flow > 0.0) || !std::isfinite(range.largest_flow))
        throw InvalidInput({{"largest_flow", std::to_string(range.largest_flow), "must be above 0"}});
    return std::visit([&](const auto& l) { return make(l, range); }, law);
}

}  // namespace libblade
