// The heat balance of heat.hpp for any scalar type.
#pragma once

#include <cmath>

#include "libblade/interpolation.hpp"

namespace libblade::kernel {

struct HeatSetup {
    double length = 0.0;                 ///< heated length along the motion [m]; 0: no heat
    double speed = 0.0;                  ///< [m/s]
    double land_fraction = 1.0;          ///< share of the length where the film shears [-]
    double roll_conductance = 1.0;       ///< e sqrt(U b) / (4 / (3 sqrt pi)) [W/(m K)]
    double ink_conductivity = 0.3;       ///< [W/(m K)]
    double ink_heat = 2.5e6;             ///< rho c [J/(m3 K)]
    double andrade_constant = 0.0;       ///< [K]
    double blade_conductance = 0.0;      ///< k t / L to the holder [W/(m K)]
    double supply_temperature = 298.15;  ///< above the Vogel temperature, which is 0 for Andrade's law [K]
};

/// Mean film temperature rise per dissipated power [m K/W].
template <class T>
[[nodiscard]] T thermal_resistance(const HeatSetup& s, const T& film) {
    const T across_film = film / (3.0 * s.ink_conductivity * s.land_fraction * s.length);
    // The ink carries heat away wherever it is made; only what goes to the roll has to cross the film first.
    const T to_roll = 1.0 / (across_film + 1.0 / s.roll_conductance);
    T away = to_roll + s.ink_heat * 0.5 * film * s.speed;
    if (s.blade_conductance > 0.0) away = away + 1.0 / (across_film + 1.0 / s.blade_conductance);
    return 1.0 / away;
}

/// f(T_supply + rise) / f(T_supply), f the temperature factor of the viscosity.
template <class T>
[[nodiscard]] T warming_factor(const HeatSetup& s, const T& rise) {
    using std::exp;
    return exp(T(s.andrade_constant * (1.0 / (s.supply_temperature + rise) - 1.0 / s.supply_temperature)));
}

/// Root of dT = full * f(T + dT)/f(T) [K]. Newton from below: the right side is convex and falling, so the steps rise towards
/// the root and never pass it.
template <class T>
[[nodiscard]] T temperature_rise(const HeatSetup& s, const T& full) {
    if (s.andrade_constant <= 0.0 || value_of(full) <= 0.0) return full;
    T rise = T(0.0 * full);
    for (int i = 0; i < 30; ++i) {
        const T f = full * warming_factor(s, rise), now = s.supply_temperature + rise;
        const T step = (f - rise) / (1.0 + f * s.andrade_constant / (now * now));
        rise = rise + step;
        if (std::abs(value_of(step)) <= 1e-13 * (1.0 + value_of(rise))) break;
    }
    return rise;
}

}  // namespace libblade::kernel
