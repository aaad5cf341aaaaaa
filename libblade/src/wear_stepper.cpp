#include "wear_stepper.hpp"

#include <algorithm>
#include <array>
#include <boost/numeric/odeint/stepper/rosenbrock4.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>
#include <cmath>

namespace libblade::detail {

namespace {

namespace odeint = boost::numeric::odeint;
using Vector = std::vector<double>;

bool finite(const Vector& y) {
    return std::all_of(y.begin(), y.end(), [](double v) { return std::isfinite(v); });
}

class StiffStepper final : public WearStepper {
  public:
    explicit StiffStepper(bool moving) : moving_(moving) {}

    bool take(const WearRates& rates, const Vector& y, double s, double step) override {
        static const odeint::default_rosenbrock_coefficients<double> c;
        start_ = y;
        Vector f(2), below(2), above(2);
        if (!rates(y, s, f)) return false;
        // Along a bedding that follows, both columns nearly cancel: central differences, of 3e-7 rad between the nip's
        // noise and its curvature (N_a changes by a tenth over 3e-5 rad).
        std::array<Pair, 2> m{};  // 1 / (gamma step) - Jacobian, by columns
        for (std::size_t k = 0; k < 2; ++k) {
            const double by = k == 0 ? 2e-5 * y[0] : 3e-6;
            Vector less = y, more = y;
            less[k] -= by, more[k] += by;
            if (!rates(less, s, below) || !rates(more, s, above)) return false;
            for (std::size_t i = 0; i < 2; ++i)
                m[k][i] = (i == k ? 1.0 / (c.gamma * step) : 0.0) - (above[i] - below[i]) / (2.0 * by);
        }
        const double det = m[0][0] * m[1][1] - m[1][0] * m[0][1];
        if (det == 0.0 || !std::isfinite(det)) return false;
        Pair drift{};  // df/ds
        if (moving_) {
            const double by = 1e-3 * step;
            if (!rates(y, s + by, above)) return false;
            for (std::size_t i = 0; i < 2; ++i) drift[i] = (above[i] - f[i]) / by;
        }
        const auto solved = [&](const Pair& r) {
            return Pair{(m[1][1] * r[0] - m[1][0] * r[1]) / det, (m[0][0] * r[1] - m[0][1] * r[0]) / det};
        };
        const std::array<std::array<double, 4>, 4> a{
            {{c.a21}, {c.a31, c.a32}, {c.a41, c.a42, c.a43}, {c.a51, c.a52, c.a53, c.a54}}};
        const std::array<std::array<double, 5>, 5> b{{{c.c21},
                                                      {c.c31, c.c32},
                                                      {c.c41, c.c42, c.c43},
                                                      {c.c51, c.c52, c.c53, c.c54},
                                                      {c.c61, c.c62, c.c63, c.c64, c.c65}}};
        const std::array<double, 5> when{c.c2, c.c3, c.c4, 1.0, 1.0}, drifts{c.d2, c.d3, c.d4, 0.0, 0.0};
        std::array<Pair, 5> g{};
        g[0] = solved({f[0] + step * c.d1 * drift[0], f[1] + step * c.d1 * drift[1]});
        Vector at(2);
        error_.assign(2, 0.0);
        for (std::size_t stage = 0; stage < 5; ++stage) {
            if (stage < 4) at = y;
            for (std::size_t i = 0; i < 2; ++i) {
                if (stage < 4)
                    for (std::size_t j = 0; j <= stage; ++j) at[i] += a[stage][j] * g[j][i];
                else
                    at[i] += g[4][i];
            }
            if (!rates(at, s + when[stage] * step, f)) return false;
            Pair r{};
            for (std::size_t i = 0; i < 2; ++i) {
                r[i] = f[i] + step * drifts[stage] * drift[i];
                for (std::size_t j = 0; j <= stage; ++j) r[i] += b[stage][j] * g[j][i] / step;
            }
            const Pair next = solved(r);
            if (stage < 4)
                g[stage + 1] = next;
            else
                error_ = {next[0], next[1]};
        }
        end_.assign(2, 0.0);
        for (std::size_t i = 0; i < 2; ++i) {
            end_[i] = at[i] + error_[i];
            third_[i] = c.d21 * g[0][i] + c.d22 * g[1][i] + c.d23 * g[2][i] + c.d24 * g[3][i] + c.d25 * g[4][i];
            fourth_[i] = c.d31 * g[0][i] + c.d32 * g[1][i] + c.d33 * g[2][i] + c.d34 * g[3][i] + c.d35 * g[4][i];
        }
        return finite(end_);
    }
    [[nodiscard]] Vector within(double share) const override {
        Vector y(2);
        const double rest = 1.0 - share;
        for (std::size_t i = 0; i < 2; ++i)
            y[i] = start_[i] * rest + share * (end_[i] + rest * (third_[i] + share * fourth_[i]));
        return y;
    }
    [[nodiscard]] double growth(double error) const override {
        return std::clamp(0.9 * std::pow(std::max(error, 1e-8), -0.25), 0.2, 5.0);
    }

  private:
    using Pair = std::array<double, 2>;
    bool moving_;
    Pair third_{}, fourth_{};
};

class ExplicitStepper final : public WearStepper {
  public:
    bool take(const WearRates& rates, const Vector& y, double s, double step) override {
        start_ = y;
        bool answered = true;
        const auto system = [&](const Vector& at, Vector& out, double where) {
            if (answered) answered = rates(at, where, out);
        };
        const std::size_t n = y.size();
        rate_start_.resize(n), rate_end_.resize(n), end_.resize(n), error_.resize(n);
        from_ = s, to_ = s + step;
        system(y, rate_start_, s);
        if (answered) stepper_.do_step(system, y, rate_start_, s, end_, rate_end_, step, error_);
        return answered && finite(end_);
    }
    [[nodiscard]] Vector within(double share) const override {
        if (share <= 0.0) return start_;
        if (share >= 1.0) return end_;
        Vector y(start_.size());
        stepper_.calc_state(from_ + share * (to_ - from_), y, start_, rate_start_, from_, end_, rate_end_, to_);
        return y;
    }
    [[nodiscard]] double growth(double error) const override {
        return std::clamp(0.9 * std::pow(std::max(error, 1e-8), -0.2), 0.2, 5.0);
    }

  private:
    odeint::runge_kutta_dopri5<Vector> stepper_;
    Vector rate_start_, rate_end_;
    double from_ = 0.0, to_ = 0.0;
};

}  // namespace

double WearStepper::error(double tolerance) const {
    double sum = 0.0;
    for (std::size_t i = 0; i < end_.size(); ++i) {
        const double e = error_[i] / (tolerance * (1.0 + std::max(std::abs(start_[i]), std::abs(end_[i]))));
        sum += e * e;
    }
    return std::sqrt(sum / static_cast<double>(end_.size()));
}

std::unique_ptr<WearStepper> stiff_stepper(bool moving) { return std::make_unique<StiffStepper>(moving); }
std::unique_ptr<WearStepper> explicit_stepper() { return std::make_unique<ExplicitStepper>(); }

}  // namespace libblade::detail
