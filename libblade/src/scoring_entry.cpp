// Which particles get into the nip.
#include <algorithm>
#include <array>
#include <boost/math/special_functions/erf.hpp>
#include <cmath>
#include <limits>
#include <numbers>

#include "libblade/scoring.hpp"

namespace libblade {

namespace {

constexpr double pi = std::numbers::pi;
constexpr std::size_t kNodes = 8;  // equally likely shapes, and postures of a flake

/// Means of a normal distribution's `kNodes` equally likely parts: phi(a) - phi(b) over their share.
std::array<double, kNodes> normal_parts() {
    std::array<double, kNodes> parts;
    const auto density = [](double share) {
        if (share <= 0.0 || share >= 1.0) return 0.0;
        const double z = std::numbers::sqrt2 * boost::math::erf_inv(2.0 * share - 1.0);
        return std::exp(-0.5 * z * z) / std::sqrt(2.0 * pi);
    };
    for (std::size_t k = 0; k < kNodes; ++k)
        parts[k] = kNodes * (density(static_cast<double>(k) / kNodes) - density(static_cast<double>(k + 1) / kNodes));
    return parts;
}

/// The rounding's lowest point over the roll, were it a whole circle.
double lowest(const Mouth& m) noexcept { return m.leading_gap - m.edge_radius * (1.0 - std::cos(m.facet_tilt)); }

/// Share of a lognormal friction that is at least this.
double share_above(const ParticleClass& p, double friction) noexcept {
    if (friction <= 0.0) return 1.0;
    const double spread = std::log(p.friction_spread), z = std::log(friction / p.friction);
    if (spread == 0.0) return z <= 0.0 ? 1.0 : 0.0;
    return 0.5 * std::erfc(z / (spread * std::numbers::sqrt2));
}

/// Of a particle that stands this high in the wedge.
double share_at_height(const Mouth& m, const ParticleClass& p, double height, double force, double narrowness) {
    if (height <= m.gap) return 1.0;
    static const std::array<double, kNodes> normal = normal_parts();
    const double psi = nip_angle(m, height), drag = std::max(0.0, fluid_drag(m, height, narrowness));
    double sum = 0.0;
    for (const double z : normal) {
        const double half = 0.5 * std::clamp(psi + p.angularity * z, 0.0, 0.999 * pi);
        sum += share_above(p, std::tan(half) - (force > 0.0 ? drag / (2.0 * force * std::cos(half)) : 1e300));
        if (p.angularity == 0.0) return sum;
    }
    return sum / kNodes;
}

}  // namespace

double nip_angle(const Mouth& m, double size) noexcept {
    const double R = 0.5 * size, r = m.edge_radius;
    const double cosine = (r + lowest(m) - R) / (r + R);
    const double on_rounding = cosine >= 1.0 ? 0.0 : cosine <= -1.0 ? pi : std::acos(cosine);
    return std::min(std::max({on_rounding, m.facet_tilt, 0.0}), m.wedge_angle);
}

double entry_size(const Mouth& m, double friction) noexcept {
    const double psi = 2.0 * std::atan(friction), g = lowest(m);
    if (psi >= m.wedge_angle) return std::numeric_limits<double>::infinity();
    if (psi < m.facet_tilt) return m.gap;
    return g + friction * friction * (2.0 * m.edge_radius + g);
}

double fluid_drag(const Mouth& m, double size, double narrowness) noexcept {
    return pi * m.viscosity * m.speed * (1.5 * narrowness * m.film - (size - m.film));
}

double offered_flow(const Mouth& m, double size) noexcept {
    const double k = 1.0 - m.film / size, s = k > 1.0 / 3.0 ? 1.0 / (3.0 * k) : 1.0;
    return m.speed * size * s * (1.0 - 0.5 * s * (1.0 + 3.0 * k) + k * s * s);
}

double entry_share(const Mouth& m, const ParticleClass& p, double size, double force, double narrowness) {
    if (p.shape == ParticleShape::grain) return share_at_height(m, p, size, force, narrowness);
    double sum = 0.0;
    for (std::size_t k = 0; k < kNodes; ++k) {
        const double tau = (static_cast<double>(k) + 0.5) / kNodes;
        const double turned = std::atan(p.thickness / size * std::tan(0.5 * pi * tau));
        sum += share_at_height(m, p, size * std::sin(turned) + p.thickness * std::cos(turned), force, narrowness);
    }
    return sum / kNodes;
}

}  // namespace libblade
