// Viscosity laws for any scalar type.
#pragma once

#include <cmath>

#include "libblade/ink.hpp"

namespace libblade::kernel {

/// Apparent and tangent viscosity at one shear rate [Pa s]. Across a strong shear a small pressure flow is resisted by the
/// slope of stress against rate (first order in dp/dx; the power-law case is the factor n of Dien & Elrod 1983, J. Lubr.
/// Technol. 105:385).
template <class T>
struct Viscosity {
    T apparent, tangent;
};

template <class T>
[[nodiscard]] Viscosity<T> viscosity(const Newtonian& law, const T&) {
    return {T(law.viscosity), T(law.viscosity)};
}

template <class T>
[[nodiscard]] Viscosity<T> viscosity(const Cross& law, const T& rate) {
    using std::pow;
    const T z = pow(law.time_constant * rate, law.exponent);
    const double drop = law.zero_shear_viscosity - law.infinite_shear_viscosity;
    const T s = 1.0 / (1.0 + z);
    return {law.infinite_shear_viscosity + drop * s,
            law.infinite_shear_viscosity + drop * s * (1.0 - law.exponent * z * s)};
}

template <class T>
[[nodiscard]] Viscosity<T> viscosity(const PowerLaw& law, const T& rate) {
    using std::pow;
    const T eta = law.consistency * pow(rate, law.exponent - 1.0);
    return {eta, T(law.exponent * eta)};
}

template <class T>
[[nodiscard]] Viscosity<T> viscosity(const CarreauYasuda& law, const T& rate) {
    using std::pow;
    const T z = pow(law.time_constant * rate, law.transition);
    const double drop = law.zero_shear_viscosity - law.infinite_shear_viscosity;
    const T s = drop * pow(T(1.0 + z), (law.exponent - 1.0) / law.transition);
    return {law.infinite_shear_viscosity + s, law.infinite_shear_viscosity + s * (1.0 + law.exponent * z) / (1.0 + z)};
}

}  // namespace libblade::kernel
