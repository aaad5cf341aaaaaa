// The ink: viscosity against shear rate and temperature.
#pragma once

#include <variant>

namespace libblade {

/// Constant viscosity [Pa s].
struct Newtonian {
    double viscosity = 0.03;
    bool operator==(const Newtonian&) const = default;
};
/// eta = eta_inf + (eta_0 - eta_inf) / (1 + (lambda * rate)^m) (Cross 1965, J. Colloid Sci. 20:417).
struct Cross {
    double zero_shear_viscosity = 0.1;       ///< eta_0 [Pa s]
    double infinite_shear_viscosity = 0.03;  ///< eta_inf [Pa s]
    double time_constant = 1e-4;             ///< lambda [s]
    double exponent = 0.7;                   ///< m [-]
    bool operator==(const Cross&) const = default;
};
using Rheology = std::variant<Newtonian, Cross>;

struct Ink {
    Rheology rheology = Newtonian{};
    double density = 1100.0;                ///< [kg/m3]
    double temperature = 298.15;            ///< of the ink in the supply [K]
    double reference_temperature = 298.15;  ///< at which the rheology was stated [K]
    double andrade_constant = 0.0;          ///< B in exp(B (1/T - 1/T_ref)) [K]; 0: no temperature effect
    double thermal_conductivity = 0.3;      ///< [W/(m K)]
    double heat_capacity = 2500.0;          ///< [J/(kg K)]
    bool operator==(const Ink&) const = default;
};

/// Apparent viscosity at a shear rate [1/s] and the reference temperature [Pa s].
[[nodiscard]] double shear_viscosity(const Rheology& law, double shear_rate) noexcept;
/// Slope of stress against rate, d(eta rate)/d rate [Pa s]: what resists a small pressure flow across a strong shear.
[[nodiscard]] double tangent_viscosity(const Rheology& law, double shear_rate) noexcept;
/// Andrade factor exp(B (1/T - 1/T_ref)) [-] (Andrade 1930).
[[nodiscard]] double temperature_factor(const Ink& ink, double temperature) noexcept;
/// shear_viscosity times the temperature factor [Pa s].
[[nodiscard]] double shear_viscosity(const Ink& ink, double shear_rate, double temperature) noexcept;

}  // namespace libblade
