#include "libblade/print.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>
#include <vector>

#include "libblade/error.hpp"
#include "libblade/root.hpp"

namespace libblade {

namespace {

struct Checked {
    std::vector<Problem> problems;
    void require(bool good, const char* name, double value, const char* words) {
        if (!good) problems.push_back({name, std::to_string(value), std::string("must be ") + words});
    }
    void done() {
        if (!problems.empty()) throw InvalidInput(std::move(problems));
    }
};

bool within(double value, double low, double high) { return value >= low && value <= high; }
bool above_0(double value) { return value > 0.0 && std::isfinite(value); }
bool at_least_0(double value) { return value >= 0.0 && std::isfinite(value); }

void check_transfer(Checked& check, const InkTransfer& law) {
    if (const auto* p = std::get_if<ProportionalTransfer>(&law)) {
        check.require(within(p->share, 0.0, 1.0), "transfer.share", p->share, "from 0 to 1");
        return;
    }
    const auto& w = std::get<WalkerFetsko>(law);
    check.require(above_0(w.smoothness), "transfer.smoothness", w.smoothness, "above 0 1/m");
    check.require(above_0(w.immobilised), "transfer.immobilised", w.immobilised, "above 0 m");
    check.require(within(w.split, 0.0, 1.0), "transfer.split", w.split, "from 0 to 1");
}

void check_density(Checked& check, const SolidDensity& law) {
    check.require(law.limit > 0.0 && law.limit <= 10.0, "density.limit", law.limit, "above 0, at most 10");
    check.require(above_0(law.absorption), "density.absorption", law.absorption, "above 0 1/m");
}

void check_eye(Checked& check, const Visibility& eye) {
    check.require(eye.contrast > 0.0 && eye.contrast <= 1.0, "eye.contrast", eye.contrast, "above 0, at most 1");
    check.require(eye.summing_angle > 0.0 && eye.summing_angle <= 1.0, "eye.summing_angle", eye.summing_angle,
                  "above 0, at most 1 rad");
    check.require(above_0(eye.reading_distance), "eye.reading_distance", eye.reading_distance, "above 0 m");
    check.require(eye.comparison_contrast > 0.0 && eye.comparison_contrast <= 1.0, "eye.comparison_contrast",
                  eye.comparison_contrast, "above 0, at most 1");
}

void check_tint(Checked& check, double area, double n) {
    check.require(within(area, 0.0, 1.0), "tint", area, "from 0 to 1");
    check.require(within(n, 1.0, 10.0), "yule_nielsen", n, "from 1 to 10");
}

}  // namespace

double ink_transfer(const InkTransfer& law, double x) {
    Checked check;
    check_transfer(check, law);
    check.require(at_least_0(x), "offered", x, "at least 0 m");
    check.done();
    if (const auto* p = std::get_if<ProportionalTransfer>(&law)) return p->share * x;
    const auto& w = std::get<WalkerFetsko>(law);
    const double held = -w.immobilised * std::expm1(-x / w.immobilised);
    return -std::expm1(-w.smoothness * x) * (held * (1.0 - w.split) + w.split * x);
}

double print_density(const SolidDensity& law, double film) {
    Checked check;
    check_density(check, law);
    check.require(at_least_0(film), "film", film, "at least 0 m");
    check.done();
    return -law.limit * std::expm1(-law.absorption * film);
}

double density_slope(const SolidDensity& law, double film) {
    return law.absorption * (law.limit - print_density(law, film));
}

double film_of_density(const SolidDensity& law, double density) {
    Checked check;
    check_density(check, law);
    check.require(density >= 0.0 && density < law.limit, "density", density, "at least 0 and below its limit");
    check.done();
    return -std::log1p(-density / law.limit) / law.absorption;
}

SolidDensity density_through(double film, double density, double limit) {
    Checked check;
    check_density(check, {limit, 1.0});
    check.require(above_0(film), "film", film, "above 0 m");
    check.require(density > 0.0 && density < limit, "density", density, "above 0 and below its limit");
    check.done();
    return {limit, -std::log1p(-density / limit) / film};
}

SolidDensity density_from_readings(double y1, double d1, double y2, double d2) {
    Checked check;
    check.require(above_0(y1), "film_1", y1, "above 0 m");
    check.require(y2 > y1 && std::isfinite(y2), "film_2", y2, "above film_1");
    check.require(above_0(d1), "density_1", d1, "above 0");
    check.require(d2 > d1 && d2 * y1 < d1 * y2, "density_2", d2,
                  "above density_1, and below density_1 film_2 / film_1: the curve bends down");
    check.done();
    // (1 - e^(-m y1)) / (1 - e^(-m y2)) rises from y1 / y2 at no m to 1.
    const auto excess = [&](double m) { return std::expm1(-m * y1) / std::expm1(-m * y2) - d1 / d2; };
    double m = -std::log(d2 / d1 - 1.0) / y1;
    if (std::abs(y2 - 2.0 * y1) > 1e-14 * y2) {
        double low = 1.0 / y1, high = low;
        while (excess(low) > 0.0 && low > 1e-12 / y1) low *= 0.5;
        while (excess(high) < 0.0 && high < 1e4 / y1) high *= 2.0;
        const Root root = bracketed_root(excess, {low, excess(low), high, excess(high)}, 1e-15 * high, 1e-16, 200);
        m = root.x;
    }
    return {-d1 / std::expm1(-m * y1), m};
}

double reflectance(double density) noexcept { return std::pow(10.0, -density); }

double tint_density(double area, double solid, double n) {
    Checked check;
    check_tint(check, area, n);
    check.require(at_least_0(solid), "solid_density", solid, "at least 0");
    check.done();
    const double density = -n * std::log10(area * std::pow(10.0, -solid / n) + 1.0 - area);
    return std::clamp(density, 0.0, solid);
}

double dot_area(double density, double solid, double n) {
    Checked check;
    check_tint(check, 0.0, n);
    check.require(above_0(solid), "solid_density", solid, "above 0");
    check.require(within(density, 0.0, solid), "density", density, "from 0 to that of the solid");
    check.done();
    return (1.0 - std::pow(10.0, -density / n)) / (1.0 - std::pow(10.0, -solid / n));
}

double luminance_contrast(double density, double around) noexcept { return reflectance(density - around) - 1.0; }

double visibility(const Visibility& eye, double contrast, double width, double length) {
    Checked check;
    check_eye(check, eye);
    check.require(width > 0.0, "width", width, "above 0 m");
    check.require(length > 0.0, "length", length, "above 0 m");
    check.done();
    const double summed = eye.summing_angle * eye.reading_distance;
    return std::abs(contrast) / eye.contrast * std::min(1.0, width / summed) * std::min(1.0, length / summed);
}

void check_print_law(const PrintLaw& law) {
    Checked check;
    check_transfer(check, law.transfer);
    check.require(law.density_limit > 0.0 && law.density_limit <= 10.0, "density_limit", law.density_limit,
                  "above 0, at most 10");
    check.require(law.nominal_density > 0.0 && law.nominal_density < law.density_limit, "nominal_density",
                  law.nominal_density, "above 0 and below density_limit");
    check_tint(check, law.tint, law.yule_nielsen);
    check.require(law.tint > 0.0, "tint", law.tint, "above 0");
    check_eye(check, law.eye);
    check.done();
}

}  // namespace libblade
