#include "libblade/ink.hpp"

#include <cmath>

#include "libblade/ink_kernel.hpp"

namespace libblade {

double shear_viscosity(const Rheology& law, double shear_rate) noexcept {
    return std::visit([&](const auto& l) { return kernel::viscosity(l, shear_rate).apparent; }, law);
}

double tangent_viscosity(const Rheology& law, double shear_rate) noexcept {
    return std::visit([&](const auto& l) { return kernel::viscosity(l, shear_rate).tangent; }, law);
}

double temperature_factor(const Ink& ink, double temperature) noexcept {
    const double T0 = ink.vogel_temperature;
    return std::exp(ink.andrade_constant * (1.0 / (temperature - T0) - 1.0 / (ink.reference_temperature - T0)));
}

double shear_viscosity(const Ink& ink, double shear_rate, double temperature) noexcept {
    return shear_viscosity(ink.rheology, shear_rate) * temperature_factor(ink, temperature);
}

}  // namespace libblade
