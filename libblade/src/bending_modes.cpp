// Buckling loads and natural frequencies of the straight strip by beam elements: cubic deflection, exact joints of
// thickness. A jump of the mid-plane is left out here (it couples to axial motion in second order only).
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

#include "bending_model.hpp"

namespace libblade {

using namespace bending_model;

namespace {

/// Symmetric matrix of half bandwidth 3: entry (i, i + k) at band[i][k].
using Band = std::vector<std::array<double, 4>>;

std::vector<double> times(const Band& a, const std::vector<double>& x) {
    std::vector<double> y(x.size(), 0.0);
    for (std::size_t i = 0; i < x.size(); ++i) {
        y[i] += a[i][0] * x[i];
        for (std::size_t k = 1; k < 4 && i + k < x.size(); ++k) y[i] += a[i][k] * x[i + k], y[i + k] += a[i][k] * x[i];
    }
    return y;
}
/// L D L^T in place.
void factor(Band& a) {
    for (std::size_t i = 0; i < a.size(); ++i)
        for (std::size_t k = 1; k < 4 && i + k < a.size(); ++k) {
            const double m = a[i][k] / a[i][0];
            for (std::size_t j = k; j < 4 && i + j < a.size(); ++j) a[i + k][j - k] -= m * a[i][j];
        }
    for (auto& row : a)
        for (std::size_t k = 1; k < 4; ++k) row[k] /= row[0];
}
void solve(const Band& a, std::vector<double>& x) {
    const std::size_t n = x.size();
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t k = 1; k < 4 && i + k < n; ++k) x[i + k] -= a[i][k] * x[i];
    for (std::size_t i = 0; i < n; ++i) x[i] /= a[i][0];
    for (std::size_t i = n; i-- > 0;)
        for (std::size_t k = 1; k < 4 && i + k < n; ++k) x[i] -= a[i][k] * x[i + k];
}
double dot(const std::vector<double>& a, const std::vector<double>& b) {
    double sum = 0.0;
    for (std::size_t i = 0; i < a.size(); ++i) sum += a[i] * b[i];
    return sum;
}

enum class Other { axial_load, mass };

/// Smallest eigenvalue of stiffness against the other matrix, for a strip clamped at 0 and held as told.
double smallest_eigenvalue(const Strip& strip, double length, StripEnd end, double held, Other other) {
    constexpr int kElements = 64;
    std::vector<double> cuts{0.0};
    double joint = 0.0;
    for (int i = 0; i + 1 < strip.section_count; ++i) {
        joint += strip.sections[static_cast<std::size_t>(i)].length;
        if (joint < length * (1.0 - 1e-12)) cuts.push_back(joint);
    }
    if (held > 0.0) cuts.push_back(held);
    cuts.push_back(length);
    std::sort(cuts.begin(), cuts.end());
    std::vector<double> nodes{0.0};
    for (std::size_t i = 1; i < cuts.size(); ++i) {
        const double part = cuts[i] - cuts[i - 1];
        if (!(part > 1e-12 * length)) continue;
        const int n = std::max(8, static_cast<int>(std::ceil(kElements * part / length)));
        for (int k = 1; k <= n; ++k) nodes.push_back(cuts[i - 1] + part * k / n);
    }
    const std::size_t size = 2 * nodes.size();
    Band K(size, std::array<double, 4>{}), B = K;
    // Four Gauss points (Abramowitz & Stegun 1964, table 25.4): exact for a linear thickness and a cubic deflection.
    constexpr std::array<double, 4> x{0.069431844202974, 0.330009478207572, 0.669990521792428, 0.930568155797026};
    constexpr std::array<double, 4> w{0.173927422568727, 0.326072577431273, 0.326072577431273, 0.173927422568727};
    const double D0 = local(strip, 0.0).stiffness, L = length;
    for (std::size_t e = 0; e + 1 < nodes.size(); ++e) {
        const double h = (nodes[e + 1] - nodes[e]) / L;
        for (std::size_t g = 0; g < x.size(); ++g) {
            const double s = x[g], place = nodes[e] + s * h * L;
            const Local here = local(strip, place);
            const double rho = strip.section_count == 0
                                   ? strip.density
                                   : strip.sections[static_cast<std::size_t>(here.section)].density;
            const std::array<double, 4> value{1 - 3 * s * s + 2 * s * s * s, h * s * (1 - s) * (1 - s),
                                              s * s * (3 - 2 * s), h * s * s * (s - 1)};
            const std::array<double, 4> slope{6 * s * (s - 1) / h, (1 - s) * (1 - 3 * s), 6 * s * (1 - s) / h,
                                              s * (3 * s - 2)};
            const std::array<double, 4> bend{(12 * s - 6) / (h * h), (6 * s - 4) / h, (6 - 12 * s) / (h * h),
                                             (6 * s - 2) / h};
            for (std::size_t i = 0; i < 4; ++i)
                for (std::size_t j = i; j < 4; ++j) {
                    K[2 * e + i][j - i] += w[g] * h * here.stiffness / D0 * bend[i] * bend[j];
                    B[2 * e + i][j - i] +=
                        w[g] * h *
                        (other == Other::mass ? rho * here.thickness * value[i] * value[j] : slope[i] * slope[j]);
                }
        }
    }
    const auto hold = [&](std::size_t dof) {
        for (Band* m : {&K, &B}) {
            for (std::size_t k = 0; k < 4; ++k) {
                (*m)[dof][k] = 0.0;
                if (k > 0 && dof >= k) (*m)[dof - k][k] = 0.0;
            }
        }
        K[dof][0] = 1.0;
    };
    hold(0), hold(1);
    if (end == StripEnd::pinned) hold(size - 2);
    if (held > 0.0)
        for (std::size_t i = 0; i < nodes.size(); ++i)
            if (std::abs(nodes[i] - held) < 1e-9 * length) hold(2 * i);
    const Band stiff = K;
    factor(K);
    std::vector<double> v(size);
    for (std::size_t i = 0; i < size; ++i) v[i] = 1.0 + 0.3 * std::sin(static_cast<double>(i * i));
    // Inverse iteration, down to the rounding of the elimination; the Rayleigh quotient converges with the square of
    // the ratio of the first two eigenvalues.
    double value = kNan;
    for (int i = 0; i < 400; ++i) {
        v = times(B, v);
        solve(K, v);
        const double norm = std::sqrt(dot(v, v));
        for (double& q : v) q /= norm;
        const double now = dot(v, times(stiff, v)) / dot(v, times(B, v));
        if (std::abs(now - value) <= 1e-9 * now && i > 25) return now * D0;
        value = now;
    }
    return kNan;
}

}  // namespace

double buckling_load(const Strip& strip, double length, StripEnd end, bool with_plate) {
    const double held = with_plate && has_plate(strip) && strip.plate.length < length ? strip.plate.length : 0.0;
    return smallest_eigenvalue(strip, length, end, held, Other::axial_load) / (length * length);
}

double buckling_ratio(const Strip& strip, const Bent& bent, const ContactForce& force) {
    if (!bent.convergence.ok()) return kNan;
    const double axial =
        force.normal * std::sin(bent.effective_angle) - force.tangential * std::cos(bent.effective_angle);
    return axial / buckling_load(strip, bent.contact_arc_length, StripEnd::pinned, bent.plate_force > 0.0);
}

double natural_frequency(const Strip& strip, StripEnd end) {
    if (strip.section_count == 0 && !(strip.thickness > 0.0)) return kNan;
    const double L = strip.length;
    const double square = smallest_eigenvalue(strip, L, end, 0.0, Other::mass) / (L * L * L * L);
    return std::sqrt(square) / (2.0 * std::numbers::pi);
}

}  // namespace libblade
