#include "libblade/feather.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <string>

#include "libblade/error.hpp"

namespace libblade {

namespace {

void require(bool good, const char* name, double value, const char* message) {
    if (!good) throw InvalidInput({{name, std::to_string(value), message}});
}
bool at_least_0(double value) { return value >= 0.0 && std::isfinite(value); }

}  // namespace

WedgeStress wedge_stress(double wedge_angle, double pressure, double shear, double angle) noexcept {
    const double a = wedge_angle, s = std::sin(2.0 * a), sin_a = std::sin(a), c_1 = -2.0 * sin_a * sin_a;
    const double det = 8.0 * sin_a * (sin_a - a * std::cos(a)), load = 0.5 * pressure + shear * a;
    const double A = (2.0 * load * c_1 - shear * (s - 2.0 * a)) / det, B = (shear * c_1 + 2.0 * load * s) / det;
    const double C = -shear - 2.0 * B, D = -0.5 * pressure - A;
    const double c_t = std::cos(2.0 * angle), s_t = std::sin(2.0 * angle);
    const double wave = A * c_t + B * s_t, line = C * angle + D;
    return {2.0 * (line - wave), 2.0 * (line + wave), 2.0 * (A * s_t - B * c_t) - C};
}

FeatherStress feather_stress(double wedge_angle, double pressure, double shear) {
    constexpr double deg = std::numbers::pi / 180.0;
    require(wedge_angle >= 0.1 * deg && wedge_angle <= 90.0 * deg, "angle", wedge_angle,
            "must be between 0.1 and 90 deg (0.001745 to 1.571 rad)");
    require(at_least_0(pressure), "pressure", pressure, "must be at least 0 Pa");
    require(std::isfinite(shear), "shear", shear, "must be finite");
    FeatherStress out;
    out.loaded_face = wedge_stress(wedge_angle, pressure, shear, 0.0).radial;
    out.free_face = wedge_stress(wedge_angle, pressure, shear, wedge_angle).radial;
    const double cot = std::cos(wedge_angle) / std::sin(wedge_angle);
    out.leading = 3.0 * pressure * cot * cot + 4.0 * shear * cot;
    out.peak = std::max(std::abs(out.loaded_face), std::abs(out.free_face));
    return out;
}

SliverSource sliver_source(double specific_wear, double asperity_load, double peak, double reference_peak,
                           double fraction) {
    require(at_least_0(specific_wear), "specific_wear", specific_wear, "must be at least 0 m2/N");
    require(at_least_0(asperity_load), "asperity_load", asperity_load, "must be at least 0 N/m");
    require(at_least_0(peak), "peak", peak, "must be at least 0 Pa");
    require(reference_peak > 0.0 && std::isfinite(reference_peak), "reference_peak", reference_peak,
            "must be above 0 Pa");
    require(fraction >= 0.0 && fraction <= 1.0, "fraction", fraction, "must be from 0 to 1");
    SliverSource out;
    out.relative_index = peak / reference_peak;
    out.share = std::min(fraction * out.relative_index, 1.0);
    out.worn_volume = specific_wear * asperity_load;
    out.volume = out.share * out.worn_volume;
    return out;
}

}  // namespace libblade
