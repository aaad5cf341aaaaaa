#include "libblade/heat.hpp"

#include <cmath>
#include <numbers>

namespace libblade {

kernel::HeatSetup heat_setup(const Ink& ink, double roll_effusivity, double length, double speed, double land_fraction,
                             double blade_conductance) noexcept {
    const double band = 4.0 / (3.0 * std::sqrt(std::numbers::pi));
    return {length,
            speed,
            land_fraction,
            roll_effusivity * std::sqrt(speed * length) / band,
            ink.thermal_conductivity,
            ink.density * ink.heat_capacity,
            ink.andrade_constant,
            blade_conductance,
            ink.temperature - ink.vogel_temperature};
}

double film_temperature_rise(const kernel::HeatSetup& setup, double film, double power) noexcept {
    return kernel::temperature_rise(setup, kernel::thermal_resistance(setup, film) * power);
}

double nahme_number(const Ink& ink, double viscosity, double speed, double temperature) noexcept {
    const double above = temperature - ink.vogel_temperature;
    return ink.andrade_constant * viscosity * speed * speed / (ink.thermal_conductivity * above * above);
}

}  // namespace libblade
