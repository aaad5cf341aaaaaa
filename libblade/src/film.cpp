#include "libblade/film.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "libblade/complementarity.hpp"
#include "libblade/error.hpp"
#include "libblade/film_kernel.hpp"
#include "libblade/tridiagonal.hpp"

namespace libblade {
namespace {

constexpr double eps = std::numeric_limits<double>::epsilon();

// ---- input ----------------------------------------------------------------------------------------------------------

class Checker {
  public:
    void size(const char* path, std::size_t got, std::size_t wanted) {
        if (got != wanted) add(path, std::to_string(got) + " values", "must have " + std::to_string(wanted) + " values");
    }
    void positive(const char* path, std::span<const double> values) {
        for (std::size_t i = 0; i < values.size(); ++i) {
            if (std::isfinite(values[i]) && values[i] > 0.0) continue;
            add(path + ("[" + std::to_string(i) + "]"), std::to_string(values[i]), "must be finite and above 0");
            return;  // the first of an array is enough
        }
    }
    void at_least_zero(const char* path, double value) {
        if (!std::isfinite(value) || value < 0.0) add(path, std::to_string(value), "must be finite and not below 0");
    }
    void increasing(const char* path, std::span<const double> x) {
        for (std::size_t i = 0; i < x.size(); ++i) {
            if (std::isfinite(x[i]) && (i == 0 || x[i] > x[i - 1])) continue;
            add(path + ("[" + std::to_string(i) + "]"), std::to_string(x[i]), "must be finite and above the one before");
            return;
        }
    }
    void add(std::string path, std::string value, std::string message) {
        problems_.push_back({std::move(path), std::move(value), std::move(message)});
    }
    void raise() {
        if (!problems_.empty()) throw InvalidInput(std::move(problems_));
    }

  private:
    std::vector<Problem> problems_;
};

void check(const FilmInput& in) {
    Checker c;
    const std::size_t n = in.x.size();
    if (n < 2) c.add("x", std::to_string(n) + " values", "must have at least 2 nodes");
    const std::size_t cells = n < 2 ? 1 : n - 1;
    c.size("gap", in.gap.size(), std::max<std::size_t>(n, 2));
    c.size("pressure_viscosity", in.pressure_viscosity.size(), cells);
    c.size("shear_viscosity", in.shear_viscosity.size(), cells);
    c.size("flow_factor", in.flow_factor.size(), cells);
    c.increasing("x", in.x);
    c.positive("gap", in.gap);
    c.positive("pressure_viscosity", in.pressure_viscosity);
    c.positive("shear_viscosity", in.shear_viscosity);
    c.positive("flow_factor", in.flow_factor);
    c.positive("speed", std::span<const double>(&in.speed, 1));
    c.at_least_zero("pressure_in", in.pressure_in);
    c.at_least_zero("pressure_out", in.pressure_out);
    if (in.film_supply) c.at_least_zero("film_supply", *in.film_supply);
    c.raise();
}

// ---- general solver -------------------------------------------------------------------------------------------------

// Unknowns at the nodes: pressure P = p / scale, and void v of the cell downstream of the node (upwind: the void share
// of a cell is carried by its first node). Flux in a cell, exact for full films in piecewise linear gaps:
//   q = c (1 - v_i) - g (P_{i+1} - P_i),   c = (U / 2) P2 / P3 = U h1 h2 / (h1 + h2),   g = scale / P3
// Continuity holds at every inner node; P v = 0 with both >= 0 (Giacopini et al. 2010, Woloszynski et al. 2015).
struct Discrete {
    std::vector<double> P2, P3;  // int k dx / h^2, int k dx / h^3 per cell
    std::vector<double> couette, conductance;  // c, g
    double scale = 1.0;          // [Pa]
    double P_in = 0.0, P_out = 0.0;
    std::optional<double> supplied_flow;  // starved: the flow at the inlet [m2/s]
    std::size_t n = 0;

    [[nodiscard]] double flux(std::size_t i, std::span<const Vector2> u) const noexcept {
        return couette[i] * (1.0 - u[i].b) - conductance[i] * (u[i + 1].a - u[i].a);
    }
    [[nodiscard]] double row_scale(std::size_t i) const noexcept {
        double s = 0.0;
        if (i > 0) s += conductance[i - 1] + couette[i - 1];
        if (i + 1 < n) s += conductance[i] + couette[i];
        return s;
    }
};

Discrete discretise(const FilmInput& in) {
    Discrete d;
    d.n = in.x.size();
    d.P2.resize(d.n - 1);
    d.P3.resize(d.n - 1);
    double sum2 = 0.0, sum3 = 0.0;
    for (std::size_t i = 0; i + 1 < d.n; ++i) {
        const double h1 = in.gap[i], h2 = in.gap[i + 1];
        const double kdx = 12.0 * in.pressure_viscosity[i] / in.flow_factor[i] * (in.x[i + 1] - in.x[i]);
        d.P2[i] = kdx / (h1 * h2);
        d.P3[i] = 0.5 * d.P2[i] * (h1 + h2) / (h1 * h2);
        sum2 += d.P2[i];
        sum3 += d.P3[i];
    }
    // scale: the largest pressure, of either sign, of the film that never ruptures
    const double q = (in.pressure_in - in.pressure_out + 0.5 * in.speed * sum2) / sum3;
    double p = in.pressure_in;
    d.scale = std::max(in.pressure_in, in.pressure_out);
    for (std::size_t i = 0; i + 1 < d.n; ++i) {
        p += 0.5 * in.speed * d.P2[i] - q * d.P3[i];
        d.scale = std::max(d.scale, std::abs(p));
    }
    d.scale = std::max(d.scale, 1e-6 * in.speed * sum2);  // parallel gaps have no pressure of their own
    for (std::size_t i = 0; i + 1 < d.n; ++i) {
        d.couette.push_back(0.5 * in.speed * d.P2[i] / d.P3[i]);
        d.conductance.push_back(d.scale / d.P3[i]);
    }
    d.P_in = in.pressure_in / d.scale;
    d.P_out = in.pressure_out / d.scale;
    return d;
}

struct NewtonArrays {
    std::vector<Matrix2> lower, diagonal, upper;
    std::vector<Vector2> step, trial;
    explicit NewtonArrays(std::size_t n) : lower(n), diagonal(n), upper(n), step(n), trial(n) {}
};

/// Continuity and complementarity rows at node i.
Vector2 residual(const Discrete& d, std::span<const Vector2> u, std::size_t i) noexcept {
    if (i == 0 && !d.supplied_flow) return {u[0].a - d.P_in, u[0].b};
    if (i + 1 == d.n) return {u[i].a - d.P_out, u[i].b};
    const double before = i == 0 ? *d.supplied_flow : d.flux(i - 1, u);
    return {(d.flux(i, u) - before) / d.row_scale(i), fischer_burmeister(u[i].a, u[i].b).value};
}

double merit(const Discrete& d, std::span<const Vector2> u) noexcept {
    double sum = 0.0;
    for (std::size_t i = 0; i < d.n; ++i) {
        const Vector2 r = residual(d, u, i);
        sum += r.a * r.a + r.b * r.b;
    }
    return sum;
}

enum class Rows { fischer_burmeister, active_set };

/// Jacobian and right-hand side. active_set: each node is either full (v = 0) or void (P = 0), whichever is nearer; the
/// solution of that linear system satisfies the complementarity exactly when its signs are right.
void assemble(const Discrete& d, std::span<const Vector2> u, Rows rows, NewtonArrays& a) noexcept {
    for (std::size_t i = 0; i < d.n; ++i) {
        const Vector2 r = residual(d, u, i);
        a.step[i] = {-r.a, -r.b};
        a.lower[i] = a.upper[i] = {};
        if ((i == 0 && !d.supplied_flow) || i + 1 == d.n) {
            a.diagonal[i] = {1.0, 0.0, 0.0, 1.0};
            continue;
        }
        const double s = 1.0 / d.row_scale(i);
        a.diagonal[i] = {d.conductance[i] * s, -d.couette[i] * s, 0.0, 0.0};
        a.upper[i].aa = -d.conductance[i] * s;
        if (i > 0) {
            a.diagonal[i].aa += d.conductance[i - 1] * s;
            a.lower[i] = {-d.conductance[i - 1] * s, d.couette[i - 1] * s, 0.0, 0.0};
        }
        if (rows == Rows::fischer_burmeister) {
            const FischerBurmeister f = fischer_burmeister(u[i].a, u[i].b);
            a.diagonal[i].ba = f.by_a;
            a.diagonal[i].bb = f.by_b;
        } else if (u[i].a > u[i].b) {
            a.diagonal[i].bb = 1.0;
            a.step[i].b = -u[i].b;
        } else {
            a.diagonal[i].ba = 1.0;
            a.step[i].b = -u[i].a;
        }
    }
}

/// Largest departure of any face flux from the mean, and of any sign, relative to the flow.
double flux_residual(const Discrete& d, std::span<const Vector2> u, double least_flow, double& flow) noexcept {
    double lowest = std::numeric_limits<double>::infinity(), highest = -lowest;
    for (std::size_t i = 0; i + 1 < d.n; ++i) {
        const double q = d.flux(i, u);
        if (!std::isfinite(q)) return std::numeric_limits<double>::infinity();
        lowest = std::min(lowest, q);
        highest = std::max(highest, q);
    }
    flow = d.supplied_flow ? *d.supplied_flow : 0.5 * (lowest + highest);
    return std::max(highest - flow, flow - lowest) / std::max(std::abs(flow), least_flow);
}

/// Tries to end the iteration with one active-set step from u. True: u is replaced by the exact discrete solution.
bool finish(const Discrete& d, std::vector<Vector2>& u, double sign_tolerance, NewtonArrays& a) {
    assemble(d, u, Rows::active_set, a);
    if (!solve_block_tridiagonal(a.lower, a.diagonal, a.upper, a.step)) return false;
    for (std::size_t i = 0; i < d.n; ++i) {
        const bool full = u[i].a > u[i].b || (i == 0 && !d.supplied_flow) || i + 1 == d.n;
        Vector2 v{u[i].a + a.step[i].a, u[i].b + a.step[i].b};
        (full ? v.b : v.a) = 0.0;
        if (!(v.a >= -sign_tolerance) || !(v.b >= -sign_tolerance)) return false;
        a.trial[i] = {std::max(v.a, 0.0), std::max(v.b, 0.0)};
    }
    u.swap(a.trial);
    return true;
}

struct Limits {
    double tolerance = 1e-9;  // on face fluxes, relative to the flow
    int max_iterations = 200;
};

Convergence solve_discrete(const Discrete& d, std::vector<Vector2>& u, double least_flow, double& flow,
                           const Limits& limits) {
    NewtonArrays a(d.n);
    Convergence c;
    double noise = 0.0;  // rounding of p in the steepest conductance, as a share of the flow
    for (std::size_t i = 0; i + 1 < d.n; ++i) noise = std::max(noise, d.conductance[i]);
    double m = merit(d, u);
    for (c.iterations = 0;; ++c.iterations) {
        if (!std::isfinite(m)) {
            c.status = Status::non_finite;
            c.message = "The pressure or the void is not a finite number.";
            return c;
        }
        std::vector<Vector2> exact = u;
        if (finish(d, exact, 1e-12, a)) {
            c.residual = flux_residual(d, exact, least_flow, flow);
            double largest = 0.0;
            for (std::size_t i = 0; i + 1 < d.n; ++i) {
                largest = std::max(largest, d.conductance[i] * std::max(exact[i].a, exact[i + 1].a));
            }
            c.tolerance = limits.tolerance + 8.0 * eps * largest / std::max(std::abs(flow), least_flow);
            if (c.residual <= c.tolerance) {
                u.swap(exact);
                c.status = Status::converged;
                return c;
            }
        }
        if (c.iterations == limits.max_iterations) {
            c.status = Status::max_iterations;
            c.message = "The film did not converge within " + std::to_string(limits.max_iterations) + " iterations.";
            c.residual = flux_residual(d, u, least_flow, flow);
            return c;
        }
        assemble(d, u, Rows::fischer_burmeister, a);
        if (!solve_block_tridiagonal(a.lower, a.diagonal, a.upper, a.step)) {
            c.status = Status::singular_jacobian;
            c.message = "The linear system of the film is singular.";
            return c;
        }
        double t = 1.0;
        double m_trial = 0.0;
        for (int halvings = 0;; ++halvings) {
            for (std::size_t i = 0; i < d.n; ++i) {
                a.trial[i] = {u[i].a + t * a.step[i].a, u[i].b + t * a.step[i].b};
            }
            m_trial = merit(d, a.trial);
            if (m_trial <= (1.0 - 1e-4 * t) * m || halvings == 12) break;
            t *= 0.5;
        }
        u.swap(a.trial);
        m = m_trial;
    }
}

