// The tip's surface gives way under the pressure it carries: gap = rigid gap + c (p - p_ref), p_ref the load over the facet, so
// that the gap named in the balance stays that of the loaded facet.
//
// Film and asperities stiffen steeply as the gap closes, so plain repetition diverges. Anderson's mixing over the last few
// deflections (Walker & Ni 2011, SIAM J. Numer. Anal. 49:1715) settles it.
#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>

#include "nip_solver.hpp"

namespace libblade::detail {

namespace {
constexpr int kDepth = 6, kMostRounds = 150;
constexpr double kDeflectionTolerance = 1e-11;  // of the rms roughness, or of a nanometre on a smooth roll
}  // namespace

kernel::ContactForces<double> NipSolver::soft_contact(double tilt, double low_gap, double corner, double slope_out) {
    using Vector = Eigen::VectorXd;
    kernel::place_nodes(setup_, tilt, low_gap, std::sqrt(6.0 / corner), slope_out, arrays_);
    const auto n = static_cast<Eigen::Index>(arrays_.x.size());
    rigid_.assign(arrays_.separation.begin(), arrays_.separation.end());
    if (static_cast<Eigen::Index>(deflection_.size()) != n) deflection_.assign(static_cast<std::size_t>(n), 0.0);
    const double sigma = setup_.asperities.sigma, lowest = sigma > 0.0 ? -2.9 * sigma : 1e-10;
    const double tolerance = kDeflectionTolerance * std::max(sigma, 1e-9);

    Eigen::Map<Vector> deflection(deflection_.data(), n);
    kernel::ContactForces<double> out;
    // Deflection that the pressure of a deflection asks for.
    const auto response = [&](const Vector& given) {
        for (Eigen::Index i = 0; i < n; ++i) {
            const auto k = static_cast<std::size_t>(i);
            arrays_.separation[k] = std::max(rigid_[k] + given[i], lowest);
            arrays_.gap[k] = kernel::filled_gap(*setup_.f1, sigma, arrays_.separation[k]);
        }
        out = kernel::forces_on_gap(setup_, corner, arrays_);
        Vector asked(n);
        for (Eigen::Index i = 0; i < n; ++i) {
            const auto k = static_cast<std::size_t>(i);
            const double solid = sigma > 0.0 ? asperity_pressure(setup_.asperities, arrays_.separation[k]) : 0.0;
            asked[i] = compliance_ * (arrays_.pressure[k] + solid - reference_pressure_);
        }
        return asked;
    };
    Eigen::MatrixXd steps(n, kDepth), turns(n, kDepth);  // differences of deflections and of residuals
    Vector last_deflection, last_residual;
    double mixing = 0.3, best = std::numeric_limits<double>::infinity();
    for (int round = 0; round < kMostRounds; ++round) {
        const Vector residual = response(deflection) - deflection;
        const double error = residual.cwiseAbs().maxCoeff();
        if (!std::isfinite(error)) break;
        if (error <= tolerance) return out;
        if (error > 10.0 * best) mixing = std::max(0.5 * mixing, 0.02);
        best = std::min(best, error);
        if (round > 0) {
            const int column = (round - 1) % kDepth;
            steps.col(column) = deflection - last_deflection;
            turns.col(column) = residual - last_residual;
        }
        last_deflection = deflection, last_residual = residual;
        Vector next = deflection + mixing * residual;
        if (const int known = std::min(round, kDepth); known > 0) {
            const auto S = steps.leftCols(known), F = turns.leftCols(known);
            const Vector weights = F.colPivHouseholderQr().solve(residual);
            next -= (S + mixing * F) * weights;
        }
        deflection = next;
    }
    deflection.setZero();
    out = {};
    out.film_load = std::numeric_limits<double>::quiet_NaN();
    return out;
}

}  // namespace libblade::detail
