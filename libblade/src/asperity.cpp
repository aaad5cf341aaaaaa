#include "libblade/asperity.hpp"

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include "libblade/dual.hpp"
#include "libblade/root.hpp"

namespace libblade {

namespace {

constexpr double kTableStart = -6.0, kTableStep = 0.03125;
constexpr int kTableSize = 12 * 32 + 1;  // up to H = 6

double normal_density(double s) { return std::exp(-0.5 * s * s) / std::sqrt(2.0 * std::numbers::pi); }

// s = H + t^2 removes the root at the lower end, so that Gauss points converge fast for half-integer orders.
double integral(double order, double H) {
    const double top = std::sqrt(std::sqrt(H * H + 90.0) - H);  // integrand below 1e-19 of its peak beyond
    const auto f = [&](double t) { return 2.0 * std::pow(t, 2.0 * order + 1.0) * normal_density(H + t * t); };
    using Rule = boost::math::quadrature::gauss<double, 30>;
    constexpr int pieces = 4;
    double sum = 0.0;
    for (int i = 0; i < pieces; ++i) sum += Rule::integrate(f, top * i / pieces, top * (i + 1) / pieces);
    return sum;
}

UniformCubic make_f52() {
    HermiteTable table{kTableStart, kTableStep, {}, {}};
    for (int i = 0; i < kTableSize; ++i) {
        const double H = kTableStart + kTableStep * i, f = integral(2.5, H), slope = -2.5 * integral(1.5, H);
        const double u = std::max(H - 5.0, 0.0), fade = kernel::faded(u);  // F_n' = -n F_(n-1)
        table.value.push_back(f * fade);
        table.slope.push_back(slope * fade - f * 6.0 * u * (1.0 - u));
    }
    return UniformCubic(table);
}

UniformCubic make_f1() {
    HermiteTable table{kTableStart, kTableStep, {}, {}};
    for (int i = 0; i < kTableSize; ++i) {
        const double H = kTableStart + kTableStep * i, tail = 0.5 * std::erfc(H / std::numbers::sqrt2);
        table.value.push_back(normal_density(H) - H * tail);
        table.slope.push_back(-tail);
    }
    return UniformCubic(table);
}

/// Cuts the slopes of a falling sequence back to where its cubic has no turn: for each step the two slopes over the
/// secant lie in the circle of radius 3 (Fritsch & Carlson 1980, SIAM J. Numer. Anal. 17:238).
template <class Width>
void keep_monotone(const std::vector<double>& value, std::vector<double>& slope, Width width) {
    for (std::size_t i = 0; i + 1 < value.size(); ++i) {
        const double secant = (value[i + 1] - value[i]) / width(i);
        const double size = std::hypot(slope[i], slope[i + 1]), most = 3.0 * std::abs(secant);
        if (size > most) slope[i] *= most / size, slope[i + 1] *= most / size;
    }
}

/// Slope of ln p at an end: of the parabola through three points, but falling, and no steeper than three secants.
double end_slope(double width, double next_width, double secant, double next_secant) {
    const double parabola = secant + (secant - next_secant) * width / (width + next_width);
    return std::clamp(parabola, 3.0 * secant, 0.5 * secant);
}

/// ln p against gap, uniform. Steps: a whole number between evenly spaced points, so that they are nodes.
HermiteTable bearing_table(const std::vector<BearingPoint>& points) {
    constexpr std::size_t kFewest = 64, kMost = 4096;  // steps in the smallest distance, and in all
    const std::size_t last = points.size() - 1;
    std::vector<double> value, slope(last + 1), secant(last), width(last);
    for (const BearingPoint& point : points) value.push_back(std::log(point.pressure));
    for (std::size_t i = 0; i < last; ++i) {
        width[i] = points[i + 1].gap - points[i].gap;
        secant[i] = (value[i + 1] - value[i]) / width[i];
    }
    for (std::size_t i = 1; i < last; ++i)
        slope[i] = (width[i - 1] * secant[i] + width[i] * secant[i - 1]) / (width[i - 1] + width[i]);
    slope[0] = last > 1 ? end_slope(width[0], width[1], secant[0], secant[1]) : secant[0];
    slope[last] =
        last > 1 ? end_slope(width[last - 1], width[last - 2], secant[last - 1], secant[last - 2]) : secant[last - 1];
    keep_monotone(value, slope, [&](std::size_t i) { return width[i]; });

    const double start = points.front().gap, length = points.back().gap - start;
    const double share = length / (static_cast<double>(last) * *std::min_element(width.begin(), width.end()));
    const double wanted = std::ceil(static_cast<double>(kFewest) * share * (1.0 - 1e-9));
    const std::size_t steps = last * static_cast<std::size_t>(std::min(wanted, static_cast<double>(kMost / last)));
    HermiteTable table{start, length / static_cast<double>(steps), {}, {}};
    std::size_t i = 0;
    for (std::size_t k = 0; k <= steps; ++k) {
        const double gap = start + table.step * static_cast<double>(k);
        while (i + 1 < last && gap >= points[i + 1].gap) ++i;
        const double w = width[i], t = std::min((gap - points[i].gap) / w, 1.0), u = 1.0 - t;
        table.value.push_back(u * u * ((1.0 + 2.0 * t) * value[i] + t * w * slope[i]) +
                              t * t * ((3.0 - 2.0 * t) * value[i + 1] - u * w * slope[i + 1]));
        table.slope.push_back(6.0 * t * u * secant[i] + u * (1.0 - 3.0 * t) * slope[i] +
                              t * (3.0 * t - 2.0) * slope[i + 1]);
    }
    keep_monotone(table.value, table.slope, [&](std::size_t) { return table.step; });  // points closer than the steps
    return table;
}

}  // namespace

double greenwood_tripp_integral(double order, double separation) { return integral(order, separation); }

const UniformCubic& f52_table() {
    static const UniformCubic table = make_f52();
    return table;
}

const UniformCubic& f1_table() {
    static const UniformCubic table = make_f1();
    return table;
}

AsperityLaw asperity_law(const Roll& roll, const Solid& blade) {
    const double f = land_fraction(roll.engraving), sigma = rms_roughness(roll);
    const double cap = f * std::min(blade.hardness, roll.material.hardness);
    if (roll.bearing_curve.size() > 1)
        return {sigma, f, cap, bearing_table(roll.bearing_curve), std::max(5.0 * sigma, roll.bearing_curve.back().gap)};
    const double base = 16.0 * std::numbers::sqrt2 * std::numbers::pi / 15.0;
    return {sigma,
            f * base * roll.asperity_product * roll.asperity_product * std::sqrt(roll.asperity_ratio) *
                contact_modulus(blade, roll.material),
            cap};
}

double asperity_pressure(const AsperityLaw& law, double gap) {
    return kernel::asperity_pressure(f52_table(), law, gap);
}

double filled_gap(double sigma, double gap) { return kernel::filled_gap(f1_table(), sigma, gap); }

double gap_at_pressure(const AsperityLaw& law, double pressure) {
    if (law.sigma <= 0.0) return 0.0;
    // Newton's steps on ln p, which falls like a parabola; inside a bracket where they do not settle.
    const kernel::AsperityPressure<Dual<1>> slope_at(f52_table(), law);
    double place = 1.0;
    for (int step = 0; step < 10; ++step) {
        const Dual<1> miss = log(slope_at(variable<1>(place, 0) * law.sigma) / pressure);
        if (std::abs(miss.v) <= 1e-12) return place * law.sigma;
        const double change = -miss.v / miss.d[0];
        if (!(miss.d[0] < 0.0) || !std::isfinite(change)) break;
        place += std::clamp(change, -1.0, 1.0);
    }
    const kernel::AsperityPressure<double> at(f52_table(), law);
    const auto mismatch = [&](double H) { return std::log(std::max(at(H * law.sigma), 1e-300) / pressure); };
    double low = -6.0, high = 5.999;
    if (const HermiteTable& table = law.measured; !table.value.empty()) {
        // Where the straight end has reached ten times the pressure at which the cap is all there is.
        const double rise = std::max(std::log(1e10 * law.cap / law.coefficient) - table.value[0], 0.0);
        low = (table.start + rise / table.slope[0]) / law.sigma;
        high = law.fade / law.sigma + 0.999;
    }
    const Bracket bracket{low, mismatch(low), high, mismatch(high)};
    const Root root = bracketed_root(mismatch, bracket, 1e-13, 1e-12, 100);
    return root.status == Status::converged ? root.x * law.sigma : std::numeric_limits<double>::quiet_NaN();
}

}  // namespace libblade
