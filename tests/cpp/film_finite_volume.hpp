// A second, independent solver of the same film for the tests: finite volumes with the cavitation as a complementarity
// solved by Newton on the Fischer-Burmeister function (Fischer 1992; Giacopini et al. 2010; Woloszynski et al. 2015).
//
// Unknowns at the nodes: P = p / scale and the void share v of the cell downstream (upwind). Flux in a cell
//   q = c (1 - v_i) - g (P_{i+1} - P_i),  c = U h1 h2 / (h1 + h2),  g = scale phi h1^2 h2^2 / (6 eta dx (h1 + h2)).
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

#include "libblade/film.hpp"

namespace finite_volume {

/// a + b - sqrt(a^2 + b^2): zero exactly when a >= 0, b >= 0 and a b = 0.
struct FischerBurmeister {
    double value, by_a, by_b;
};

inline FischerBurmeister fischer_burmeister(double a, double b) {
    const double r = std::sqrt(a * a + b * b);
    if (r == 0.0) return {0.0, 1.0 - std::sqrt(0.5), 1.0 - std::sqrt(0.5)};
    return {a + b > 0.0 ? 2.0 * a * b / (a + b + r) : a + b - r, 1.0 - a / r, 1.0 - b / r};
}

struct Vector2 {
    double a = 0.0, b = 0.0;
};
struct Matrix2 {
    double aa = 0.0, ab = 0.0, ba = 0.0, bb = 0.0;
};
inline Vector2 operator*(const Matrix2& m, const Vector2& v) {
    return {m.aa * v.a + m.ab * v.b, m.ba * v.a + m.bb * v.b};
}
inline Matrix2 operator*(const Matrix2& m, const Matrix2& k) {
    return {m.aa * k.aa + m.ab * k.ba, m.aa * k.ab + m.ab * k.bb, m.ba * k.aa + m.bb * k.ba, m.ba * k.ab + m.bb * k.bb};
}

/// lower[i] x[i-1] + diagonal[i] x[i] + upper[i] x[i+1] = rhs[i]; the solution is left in rhs.
inline void solve_block_tridiagonal(const std::vector<Matrix2>& lower, const std::vector<Matrix2>& diagonal,
                                    std::vector<Matrix2>& upper, std::vector<Vector2>& rhs) {
    const std::size_t n = diagonal.size();
    for (std::size_t i = 0; i < n; ++i) {
        Matrix2 d = diagonal[i];
        if (i > 0) {
            const Matrix2 lu = lower[i] * upper[i - 1];
            const Vector2 lr = lower[i] * rhs[i - 1];
            d = {d.aa - lu.aa, d.ab - lu.ab, d.ba - lu.ba, d.bb - lu.bb};
            rhs[i] = {rhs[i].a - lr.a, rhs[i].b - lr.b};
        }
        const double s = 1.0 / (d.aa * d.bb - d.ab * d.ba);
        const Matrix2 inverse{d.bb * s, -d.ab * s, -d.ba * s, d.aa * s};
        upper[i] = inverse * upper[i];
        rhs[i] = inverse * rhs[i];
    }
    for (std::size_t i = n - 1; i-- > 0;) {
        const Vector2 back = upper[i] * rhs[i + 1];
        rhs[i] = {rhs[i].a - back.a, rhs[i].b - back.b};
    }
}

struct Solution {
    double load = 0.0, flow = 0.0, residual = 0.0;
    std::vector<double> pressure, cell_void;
};

/// Flooded films only. `scale` well above the peak pressure keeps the Newton steps long.
class Solver {
  public:
    Solver(const libblade::FilmInput& in, double scale) : n_(in.x.size()), scale_(scale), u_(n_) {
        for (std::size_t i = 0; i + 1 < n_; ++i) {
            const double h1 = in.gap[i], h2 = in.gap[i + 1], dx = in.x[i + 1] - in.x[i];
            c_.push_back(in.speed * h1 * h2 / (h1 + h2));
            g_.push_back(scale * in.flow_factor[i] * h1 * h1 * h2 * h2 /
                         (6.0 * in.pressure_viscosity[i] * dx * (h1 + h2)));
        }
        in_ = in.pressure_in / scale;
        out_ = in.pressure_out / scale;
    }

    Solution solve(const libblade::FilmInput& in) {
        double m = merit(u_);
        for (int iteration = 0; iteration < 200 && m > 1e-26; ++iteration) step(m);
        Solution s;
        s.residual = std::sqrt(m);
        s.flow = flux(0, u_);
        for (std::size_t i = 0; i < n_; ++i) {
            s.pressure.push_back(scale_ * u_[i].a);
            s.cell_void.push_back(u_[i].b);
            if (i > 0) s.load += 0.5 * (s.pressure[i] + s.pressure[i - 1]) * (in.x[i] - in.x[i - 1]);
        }
        return s;
    }

  private:
    double flux(std::size_t i, const std::vector<Vector2>& u) const {
        return c_[i] * (1.0 - u[i].b) - g_[i] * (u[i + 1].a - u[i].a);
    }
    double row(std::size_t i) const { return g_[i - 1] + c_[i - 1] + g_[i] + c_[i]; }
    Vector2 residual(const std::vector<Vector2>& u, std::size_t i) const {
        if (i == 0) return {u[0].a - in_, u[0].b};
        if (i + 1 == n_) return {u[i].a - out_, u[i].b};
        return {(flux(i, u) - flux(i - 1, u)) / row(i), fischer_burmeister(u[i].a, u[i].b).value};
    }
    double merit(const std::vector<Vector2>& u) const {
        double sum = 0.0;
        for (std::size_t i = 0; i < n_; ++i) {
            const Vector2 r = residual(u, i);
            sum += r.a * r.a + r.b * r.b;
        }
        return sum;
    }
    void step(double& m) {
        std::vector<Matrix2> lower(n_), diagonal(n_), upper(n_);
        std::vector<Vector2> delta(n_), trial(n_);
        for (std::size_t i = 0; i < n_; ++i) {
            const Vector2 r = residual(u_, i);
            delta[i] = {-r.a, -r.b};
            diagonal[i] = {1.0, 0.0, 0.0, 1.0};
            if (i == 0 || i + 1 == n_) continue;
            const double s = 1.0 / row(i);
            const FischerBurmeister f = fischer_burmeister(u_[i].a, u_[i].b);
            diagonal[i] = {(g_[i] + g_[i - 1]) * s, -c_[i] * s, f.by_a, f.by_b};
            upper[i].aa = -g_[i] * s;
            lower[i] = {-g_[i - 1] * s, c_[i - 1] * s, 0.0, 0.0};
        }
        solve_block_tridiagonal(lower, diagonal, upper, delta);
        double m_trial = 0.0;
        for (double t = 1.0; t > 1e-4; t *= 0.5) {
            for (std::size_t i = 0; i < n_; ++i) trial[i] = {u_[i].a + t * delta[i].a, u_[i].b + t * delta[i].b};
            m_trial = merit(trial);
            if (m_trial <= (1.0 - 1e-4 * t) * m) break;
        }
        u_ = trial;
        m = m_trial;
    }

    std::size_t n_;
    double scale_, in_ = 0.0, out_ = 0.0;
    std::vector<double> c_, g_;
    std::vector<Vector2> u_;
};

}  // namespace finite_volume
