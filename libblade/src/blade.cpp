#include "libblade/blade.hpp"

namespace libblade {

namespace {
double plane_strain_compliance(const Solid& s) noexcept {
    return (1.0 - s.poissons_ratio * s.poissons_ratio) / s.youngs_modulus;
}
}  // namespace

double bending_stiffness(const Blade& blade) noexcept {
    const double t = blade.thickness;
    return t * t * t / (12.0 * plane_strain_compliance(blade.material));
}

double contact_modulus(const Solid& a, const Solid& b) noexcept {
    return 1.0 / (plane_strain_compliance(a) + plane_strain_compliance(b));
}

}  // namespace libblade
