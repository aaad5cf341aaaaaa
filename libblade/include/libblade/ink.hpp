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
/// eta = K rate^(n-1) (de Waele 1923, Ostwald 1925).
struct PowerLaw {
    double consistency = 0.5;  ///< K [Pa s^n]
    double exponent = 0.7;     ///< n [-]
    bool operator==(const PowerLaw&) const = default;
};
/// eta = eta_inf + (eta_0 - eta_inf) (1 + (lambda * rate)^a)^((n-1)/a) (Carreau 1972, a = 2; Yasuda 1979).
struct CarreauYasuda {
    double zero_shear_viscosity = 0.1;       ///< eta_0 [Pa s]
    double infinite_shear_viscosity = 0.03;  ///< eta_inf [Pa s]
    double time_constant = 1e-4;             ///< lambda [s]
    double exponent = 0.5;                   ///< n [-]
    double transition = 2.0;                 ///< a [-]
    bool operator==(const CarreauYasuda&) const = default;
};
using Rheology = std::variant<Newtonian, Cross, PowerLaw, CarreauYasuda>;

struct Ink {
    Rheology rheology = Newtonian{};
    double density = 1100.0;                ///< [kg/m3]
    double temperature = 298.15;            ///< of the ink in the supply [K]
    double reference_temperature = 298.15;  ///< at which the rheology was stated [K]
    double andrade_constant = 0.0;          ///< B in exp(B (1/(T - T0) - 1/(T_ref - T0))) [K]; 0: no temperature effect
    double vogel_temperature = 0.0;         ///< T0 [K] (Vogel 1921); 0: Andrade's law
    double thermal_conductivity = 0.3;      ///< [W/(m K)]
    double heat_capacity = 2500.0;          ///< [J/(kg K)]
    double air_fraction = 0.0;              ///< share of air in the ink that fills the cells, at ambient pressure [-]
    bool operator==(const Ink&) const = default;
};

/// Apparent viscosity at a shear rate [1/s] and the reference temperature [Pa s].
[[nodiscard]] double shear_viscosity(const Rheology& law, double shear_rate) noexcept;
/// Slope of stress against rate, d(eta rate)/d rate [Pa s]: what resists a small pressure flow across a strong shear.
[[nodiscard]] double tangent_viscosity(const Rheology& law, double shear_rate) noexcept;
/// exp(B (1/(T - T0) - 1/(T_ref - T0))) [-]: Andrade 1930 (T0 = 0), Vogel 1921. It scales the stress at a given shear rate; the
/// time constants of the laws stay as they are.
[[nodiscard]] double temperature_factor(const Ink& ink, double temperature) noexcept;
/// shear_viscosity times the temperature factor [Pa s].
[[nodiscard]] double shear_viscosity(const Ink& ink, double shear_rate, double temperature) noexcept;

}  // namespace libblade
