#include "libblade/asperity.hpp"

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <numbers>

#include "libblade/root.hpp"

namespace libblade {

namespace {

constexpr double kTableStart = -6.0, kTableStep = 0.0625;
constexpr int kTableSize = 12 * 16 + 1;  // up to H = 6

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

HermiteTable make_log_f52() {
    HermiteTable table{kTableStart, kTableStep, {}, {}};
    for (int i = 0; i < kTableSize; ++i) {
        const double H = kTableStart + kTableStep * i, f = integral(2.5, H);
        table.value.push_back(std::log(f));
        table.slope.push_back(-2.5 * integral(1.5, H) / f);  // F_n' = -n F_(n-1)
    }
    return table;
}

HermiteTable make_f1() {
    HermiteTable table{kTableStart, kTableStep, {}, {}};
    for (int i = 0; i < kTableSize; ++i) {
        const double H = kTableStart + kTableStep * i, tail = 0.5 * std::erfc(H / std::numbers::sqrt2);
        table.value.push_back(normal_density(H) - H * tail);
        table.slope.push_back(-tail);
    }
    return table;
}

}  // namespace

double greenwood_tripp_integral(double order, double separation) { return integral(order, separation); }

const HermiteTable& log_f52_table() {
    static const HermiteTable table = make_log_f52();
    return table;
}

const HermiteTable& f1_table() {
    static const HermiteTable table = make_f1();
    return table;
}

AsperityLaw asperity_law(const Roll& roll, const Solid& blade) {
    const double f = land_fraction(roll.engraving);
    const double base = 16.0 * std::numbers::sqrt2 * std::numbers::pi / 15.0;
    return {rms_roughness(roll),
            f * base * roll.asperity_product * roll.asperity_product * std::sqrt(roll.asperity_ratio) *
                contact_modulus(blade, roll.material),
            f * std::min(blade.hardness, roll.material.hardness)};
}

double asperity_pressure(const AsperityLaw& law, double gap) {
    return kernel::asperity_pressure(log_f52_table(), law, gap);
}

double filled_gap(double sigma, double gap) { return kernel::filled_gap(f1_table(), sigma, gap); }

double gap_at_pressure(const AsperityLaw& law, double pressure) {
    if (law.sigma <= 0.0) return 0.0;
    const auto mismatch = [&](double H) {
        return std::log(std::max(asperity_pressure(law, H * law.sigma), 1e-300) / pressure);
    };
    const Bracket bracket{-6.0, mismatch(-6.0), 5.999, mismatch(5.999)};
    const Root root = bracketed_root(mismatch, bracket, 1e-13, 1e-12, 100);
    return root.x * law.sigma;
}

}  // namespace libblade
