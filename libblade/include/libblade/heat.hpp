// Heat in the film: one lumped balance.
//
// Dissipation in the contact leaves with the ink, into the roll and along the blade to its holder, which is taken to be at the
// supply's temperature, without cooling on its faces: k t / L, about 1 W/(m K) of steel against some 100 of the roll. The roll is a half-space that passes under a band source (mean rise q'' sqrt(b/U) / e times
// 4/(3 sqrt pi) over the band: Carslaw & Jaeger 1959, ch. 2.9 and 10.7, high-speed limit); the film sits above it with an
// adiabatic blade (mean excess q'' h / (3 k)), likewise for the little that goes the other way. The pressure flow's share of the dissipation is left out.
#pragma once

#include "libblade/heat_kernel.hpp"
#include "libblade/ink.hpp"

namespace libblade {

/// From the ink, the roll's effusivity sqrt(k rho c) [W s^0.5/(m2 K)], the heated length [m], the speed [m/s] and the blade's
/// conductance k t / L [W/(m K)].
[[nodiscard]] kernel::HeatSetup heat_setup(const Ink& ink, double roll_effusivity, double length, double speed,
                                           double land_fraction, double blade_conductance = 0.0) noexcept;
/// Rise of the mean film temperature [K] for a film [m] and a power stated at the supply temperature [W/m].
[[nodiscard]] double film_temperature_rise(const kernel::HeatSetup& setup, double film, double power) noexcept;
/// Nahme number B eta U^2 / (k T^2): how far dissipation across the film lowers its own viscosity [-].
[[nodiscard]] double nahme_number(const Ink& ink, double viscosity, double speed, double temperature) noexcept;

}  // namespace libblade
