#include "libblade/ink_flow.hpp"

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <limits>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "ink_flow_curve.hpp"
#include "libblade/error.hpp"

namespace libblade {
namespace {

using Rule = boost::math::quadrature::gauss<double, 15>;
constexpr double kTolerance = 1e-12;  // relative, on the speed: rounding of the quadrature is some 1e-14
constexpr int kMaxIterations = 100;

/// Means over the stresses from Ta to Tb: of R and of (T - (Ta + Tb) / 2) R.
struct Means {
    double rate, moment;
};

/// Wall stress and the logarithm of its rate.
struct Wall {
    double T, x;
    [[nodiscard]] double rate() const noexcept { return std::exp(x); }
};

/// 0 <= a.T <= b.T. Integrated in ln rate, dT = tangent viscosity x rate d(ln rate): no inversion inside, and the end
/// of a power law at zero stress is a plain exponential.
template <class Law>
Means means(const Law& law, const Wall& a, const Wall& b) noexcept {
    constexpr double kDeep = 40.0;  // the share of the flow below exp(-40) of the rate is lost in rounding
    const double from = std::max(a.x, b.x - kDeep);
    const bool narrow = b.x - from < 1.0;
    if (!(b.x > from)) return {b.rate(), 0.0};
    const double T_mean = 0.5 * (a.T + b.T);
    // Over a narrow interval the product nearly cancels: R is then counted from its middle.
    const double R_ref = narrow ? std::exp(0.5 * (from + b.x)) : 0.0;
    const int pieces = static_cast<int>(std::ceil((b.x - from) / piece(law)));
    const double half = 0.5 * (b.x - from) / pieces;
    double sum = 0.0, rate = 0.0, moment = 0.0;
    const auto add = [&](double x, double weight) {
        const double g = std::exp(x);
        const auto v = kernel::viscosity(law, g);
        const double w = weight * half * g * v.tangent;
        sum += w;
        rate += w * g;
        moment += w * (g * v.apparent - T_mean) * (g - R_ref);
    };
    for (int i = 0; i < pieces; ++i) {
        const double middle = from + (2 * i + 1) * half;
        for (std::size_t k = 0; k < Rule::abscissa().size(); ++k) {
            const double dx = half * Rule::abscissa()[k], w = Rule::weights()[k];
            add(middle + dx, w);
            if (dx > 0.0) add(middle - dx, w);
        }
    }
    // The summed weights know a narrow interval better than the difference of its ends does.
    const double length = narrow ? sum : b.T - a.T;
    return {rate / length, moment / length};
}

/// The two integrals of the flow for T_m >= 0, P > 0: mean rate, first moment, and d(mean rate)/dT_m.
struct Integrals {
    double rate, moment, slope;
};

template <class Law>
Wall wall_at(const Law& law, double T) noexcept {
    if (!(T > 0.0)) return {0.0, -std::numeric_limits<double>::infinity()};
    return {T, log_rate(law, std::log(T), 0.0)};
}

template <class Law>
Integrals integrals(const Law& law, double T_m, double P) noexcept {
    const double T0 = T_m - 0.5 * P;
    const Wall one = wall_at(law, T_m + 0.5 * P), zero = wall_at(law, std::abs(T0));
    const double g1 = one.rate(), g0 = std::copysign(zero.rate(), T0);
    if (T0 >= 0.0) {
        const Means m = means(law, zero, one);
        // Walls alike: the difference of their rates would be rounding.
        const double slope = P < 1e-6 * T_m ? 1.0 / kernel::viscosity(law, g1).tangent : (g1 - g0) / P;
        return {m.rate, m.moment / P, slope};
    }
    // R is odd: the part from T0 to -T0 carries no net rate, and twice the moment of one half.
    const auto moment_about_zero = [](const Means& m, double from, double to) {
        return (m.moment + 0.5 * (from + to) * m.rate) * (to - from);
    };
    const Means core = means(law, wall_at(law, 0.0), zero), rest = means(law, zero, one);
    const double rate = rest.rate * 2.0 * T_m / P;
    const double moment = 2.0 * moment_about_zero(core, 0.0, zero.T) + moment_about_zero(rest, zero.T, one.T);
    return {rate, moment / (P * P) - T_m * rate / P, (g1 - g0) / P};
}

/// speed >= 0. P = -h dp/dx of either sign: the profile of -P is the mirror image.
template <class Law>
PlaneFlow solve(const Law& law, double h, double U, double P_signed) noexcept {
    const double P = std::abs(P_signed), nominal = U / h;
    PlaneFlow out;
    out.convergence.tolerance = kTolerance;
    const auto finish = [&](double T_m, double moment, double residual, int iterations) {
        out.flow = 0.5 * U * h + std::copysign(h * h * moment, P_signed);
        out.moving_wall_stress = T_m - 0.5 * P_signed;
        out.fixed_wall_stress = T_m + 0.5 * P_signed;
        const bool finite = std::isfinite(out.flow) && std::isfinite(T_m);
        out.convergence.residual = residual;
        out.convergence.iterations = iterations;
        out.convergence.status = !finite                  ? Status::non_finite
                                 : residual <= kTolerance ? Status::converged
                                                          : Status::max_iterations;
        if (!out.convergence.ok()) out.convergence.message = "the stress half-way between the walls was not found";
        return out;
    };
    const double pure = nominal > 0.0 ? nominal * kernel::viscosity(law, nominal).apparent : 0.0;
    if (P == 0.0) return finish(pure, 0.0, 0.0, 0);
    if (nominal == 0.0) return finish(0.0, integrals(law, 0.0, P).moment, 0.0, 0);

    // The mean rate rises with T_m. A pressure flow lowers the T_m of a thinning ink, so that Newton descends from
    // pure shear, for those laws on a convex curve; for any other the bracket opens upwards.
    double low = 0.0, high = std::numeric_limits<double>::infinity(), T_m = pure;
    Integrals now{};
    double residual = std::numeric_limits<double>::infinity();
    int n = 0;
    for (; n < kMaxIterations; ++n) {
        now = integrals(law, T_m, P);
        const double f = now.rate - nominal;
        residual = std::abs(f) / nominal;
        if (residual <= kTolerance || !std::isfinite(f)) break;
        (f > 0.0 ? high : low) = T_m;
        const double next = T_m - f / now.slope;
        T_m = next > low && next < high ? next : std::isfinite(high) ? 0.5 * (low + high) : 2.0 * T_m;
    }
    return finish(T_m, now.moment, residual, n);
}

}  // namespace

PlaneFlow plane_flow(const Rheology& law, double gap, double speed, double pressure_gradient) {
    std::vector<Problem> problems;
    if (!(gap > 0.0) || !std::isfinite(gap)) problems.push_back({"gap", std::to_string(gap), "must be above 0 [m]"});
    if (!std::isfinite(speed)) problems.push_back({"speed", std::to_string(speed), "must be finite [m/s]"});
    if (!std::isfinite(pressure_gradient))
        problems.push_back({"pressure_gradient", std::to_string(pressure_gradient), "must be finite [Pa/m]"});
    if (!problems.empty()) throw InvalidInput(std::move(problems));
    const double sign = speed < 0.0 ? -1.0 : 1.0;
    PlaneFlow out =
        std::visit([&](const auto& l) { return solve(l, gap, sign * speed, -sign * pressure_gradient * gap); }, law);
    out.flow *= sign;
    out.moving_wall_stress *= sign;
    out.fixed_wall_stress *= sign;
    return out;
}

}  // namespace libblade
