#include "libblade/width.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>

#include "libblade/error.hpp"
#include "libblade/root.hpp"

namespace libblade {

namespace {

/// Trapezoid rule on even places, over their width.
double mean(const std::vector<double>& values) {
    double sum = 0.5 * (values.front() + values.back());
    for (std::size_t i = 1; i + 1 < values.size(); ++i) sum += values[i];
    return sum / static_cast<double>(values.size() - 1);
}

/// Share of the width where a value linear between places is not positive.
double lifted(const std::vector<double>& interference) {
    double sum = 0.0;
    for (std::size_t i = 1; i < interference.size(); ++i) {
        const double a = interference[i - 1], b = interference[i];
        sum += a <= 0.0 && b <= 0.0 ? 1.0
               : a > 0.0 && b > 0.0 ? 0.0
                                    : std::min(a, b) / (std::min(a, b) - std::max(a, b));
    }
    return sum / static_cast<double>(interference.size() - 1);
}

void set_loads(WidthLoads& out, const WidthProfile& profile, double advance, const LoadOfInterference& load_of) {
    out.advance = advance;
    for (std::size_t i = 0; i < profile.y.size(); ++i) {
        out.interference[i] = advance + profile.interference[i];
        out.load[i] = out.interference[i] > 0.0 ? load_of(out.interference[i]) : 0.0;
    }
    out.mean_load = mean(out.load);
}

WidthLoads begin(const WidthShape& shape, const WidthProfile& profile, double free_length) {
    WidthLoads out;
    out.y = profile.y;
    out.interference.resize(out.y.size());
    out.load.resize(out.y.size());
    if (shape.waviness_amplitude != 0.0) out.wave_stiffening = wave_stiffening(shape.waviness_length, free_length, 0.3);
    out.strips_coupled = out.wave_stiffening > 1.25;
    return out;
}

/// What is read off the loads. A strip whose load is no load is an error of the caller's function.
void finish(WidthLoads& out) {
    out.lifted_share = lifted(out.interference);
    out.lightest = static_cast<std::size_t>(std::min_element(out.load.begin(), out.load.end()) - out.load.begin());
    out.heaviest = static_cast<std::size_t>(std::max_element(out.load.begin(), out.load.end()) - out.load.begin());
    for (const double load : out.load) {
        if (load >= 0.0 && std::isfinite(load)) continue;
        out.convergence.status = Status::non_finite;
        out.convergence.message = "the load of a strip is negative or no number";
    }
}

}  // namespace

double uniform_load_sag(double load, double span, double stiffness) noexcept {
    return 5.0 * load * span * span * span * span / (384.0 * stiffness);
}

double tube_second_moment(double outer_diameter, double inner_diameter) noexcept {
    const double outer = outer_diameter * outer_diameter, inner = inner_diameter * inner_diameter;
    return std::numbers::pi / 64.0 * (outer - inner) * (outer + inner);
}

double uniform_load_line(double s) noexcept { return 3.2 * s * (1.0 - s) * (1.0 + s * (1.0 - s)); }

double stand_off(double stiffness, double line_load, double lift) noexcept {
    return 0.56 * std::cbrt(72.0 * stiffness * lift / line_load);
}

double stand_off_height(double lift, double half_length, double y) noexcept {
    const double s = std::min(std::abs(y) / half_length, 1.0), t = 1.0 - s;
    return lift * t * t * t * (1.0 + 3.0 * s);
}

double wave_stiffening(double wave_length, double free_length, double poissons_ratio) noexcept {
    // w = A u sinh u + B (sinh u - u cosh u), u = 2 pi x / wave length, is clamped at x = 0. Moment m and shear v at
    // the edge, all divided by cosh u: w'' - nu k^2 w = 0 there, and the load is -D (w''' - (2 - nu) k^2 w').
    const double u = 2.0 * std::numbers::pi * free_length / wave_length, nu = poissons_ratio, th = std::tanh(u);
    if (u < 1e-3) return 1.0;  // 1 + O(u^2)
    const double m1 = 2.0 + (1.0 - nu) * u * th, m2 = -(1.0 + nu) * th - (1.0 - nu) * u;
    const double v1 = (1.0 + nu) * th - (1.0 - nu) * u, v2 = -2.0 + (1.0 - nu) * u * th;
    return u * u * u / 3.0 * (v2 * m1 - v1 * m2) / (u * th * m2 - (th - u) * m1);
}

WidthProfile width_profile(const WidthShape& shape, std::size_t places) {
    std::vector<Problem> problems;
    const auto require = [&](bool good, const char* path, double value, const char* message) {
        if (!good) problems.push_back({path, std::to_string(value), message});
    };
    require(shape.width > 0.0 && std::isfinite(shape.width), "width", shape.width, "must be positive");
    require(places >= 2 && places <= 1'000'000, "places", static_cast<double>(places), "must be 2 to 1000000");
    const double pitch = places >= 2 ? shape.width / static_cast<double>(places - 1) : shape.width;
    require(shape.waviness_amplitude == 0.0 || shape.waviness_length >= 8.0 * pitch, "waviness_length",
            shape.waviness_length, "must span at least eight places");
    for (const double value : {shape.misalignment, shape.holder_bow, shape.holder_sag, shape.roll_sag,
                               shape.waviness_amplitude, shape.waviness_phase})
        require(std::isfinite(value), "shape", value, "must be a number");
    if (!problems.empty()) throw InvalidInput(std::move(problems));

    WidthProfile profile;
    for (std::size_t i = 0; i < places; ++i) {
        const double s = static_cast<double>(i) / static_cast<double>(places - 1), y = s * shape.width;
        const double wave =
            shape.waviness_amplitude == 0.0
                ? 0.0
                : shape.waviness_amplitude *
                      std::sin(2.0 * std::numbers::pi * y / shape.waviness_length + shape.waviness_phase);
        profile.y.push_back(y);
        profile.interference.push_back(shape.misalignment * (s - 0.5) - shape.holder_bow * 4.0 * s * (1.0 - s) -
                                       (shape.holder_sag + shape.roll_sag) * uniform_load_line(s) + wave);
    }
    return profile;
}

WidthLoads fixed_holder_loads(const WidthShape& shape, std::size_t places, double free_length, double advance,
                              const LoadOfInterference& load_of) {
    const WidthProfile profile = width_profile(shape, places);
    WidthLoads out = begin(shape, profile, free_length);
    out.convergence = {Status::converged, 0.0, 0.0, 0, {}};
    set_loads(out, profile, advance, load_of);
    finish(out);
    return out;
}

WidthLoads floating_holder_loads(const WidthShape& shape, std::size_t places, double free_length, double mean_load,
                                 double advance_guess, const LoadOfInterference& load_of) {
    if (!(mean_load > 0.0 && std::isfinite(mean_load)) || !(advance_guess > 0.0 && std::isfinite(advance_guess)))
        throw InvalidInput({{"mean_load", std::to_string(mean_load), "mean load and guess must be positive"}});
    const WidthProfile profile = width_profile(shape, places);
    WidthLoads out = begin(shape, profile, free_length);
    const auto surplus = [&](double advance) {
        set_loads(out, profile, advance, load_of);
        return out.mean_load / mean_load - 1.0;
    };
    // Below, every strip is lifted off. Above, the advance grows until the load suffices.
    const double lowest = -*std::max_element(profile.interference.begin(), profile.interference.end());
    double reach = advance_guess, high = surplus(lowest + reach);
    int n = 1;
    for (; high < 0.0 && n < 60; ++n) high = surplus(lowest + (reach *= 2.0));
    constexpr double tolerance = 1e-12;
    const Root root = bracketed_root(surplus, {lowest, -1.0, lowest + reach, high}, 1e-15 * (reach + std::abs(lowest)),
                                     tolerance, 200);
    if (out.advance != root.x) (void)surplus(root.x);
    out.convergence = {root.status, std::abs(root.f), tolerance, n + root.evaluations, {}};
    if (!out.convergence.ok()) out.convergence.message = "no advance of the holder gives the set mean load";
    finish(out);
    return out;
}

}  // namespace libblade
