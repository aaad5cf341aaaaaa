#include "libblade/blade.hpp"

namespace libblade {

namespace {
double plane_strain_compliance(const Solid& s) noexcept {
    return (1.0 - s.poissons_ratio * s.poissons_ratio) / s.youngs_modulus;
}
}  // namespace

double free_length(const Blade& blade) noexcept {
    if (blade.sections.empty()) return blade.free_length;
    double sum = 0.0;
    for (const BladeSection& section : blade.sections) sum += section.length;
    return sum;
}

double body_thickness(const Blade& blade) noexcept {
    return blade.sections.empty() ? blade.thickness : blade.sections.front().thickness;
}

double tip_thickness(const Blade& blade) noexcept {
    if (blade.sections.empty()) return blade.thickness;
    const BladeSection& tip = blade.sections.back();
    return tip.end_thickness.value_or(tip.thickness);
}

double bending_stiffness(const Blade& blade) noexcept {
    const double t = body_thickness(blade);
    return t * t * t / (12.0 * plane_strain_compliance(blade.material));
}

double contact_modulus(const Solid& a, const Solid& b) noexcept {
    return 1.0 / (plane_strain_compliance(a) + plane_strain_compliance(b));
}

}  // namespace libblade
