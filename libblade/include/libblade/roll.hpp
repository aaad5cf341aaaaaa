// The engraved roll.
#pragma once

#include <vector>

#include "libblade/blade.hpp"
#include "libblade/engraving.hpp"

namespace libblade {

/// One measured point of the contact of blade and land.
struct BearingPoint {
    double gap = 0.0;       ///< between mean planes [m]
    double pressure = 0.0;  ///< mean over the land, not over the cells [Pa]
    bool operator==(const BearingPoint&) const = default;
};

struct Roll {
    double radius = 0.07;                     ///< [m]
    double land_roughness = 0.24e-6;          ///< combined Ra of land and blade [m]; sigma = 1.25 Ra
    double asperity_product = 0.05;           ///< asperity density x tip radius x sigma [-]
    double asperity_ratio = 0.01;             ///< sigma / asperity tip radius [-]
    std::vector<BearingPoint> bearing_curve;  ///< replaces product and ratio; gap rising, pressure falling; empty: none
    double run_out = 0.0;                     ///< total indicator reading [m]
    double specific_wear = 1e-17;             ///< of the surface in ink k_c [m2/N]; uncertain by a factor of 10
    double dry_specific_wear = 2.69e-15;      ///< and without ink [m2/N]
    double thermal_effusivity = 3700.0;       ///< sqrt(k rho c) of the roll surface [W s^0.5/(m2 K)]
    Solid material{200e9, 0.25, 12e9, 1.0e9, 5000.0};
    Engraving engraving;
    bool operator==(const Roll&) const = default;
};

/// Combined rms roughness sigma = 1.25 Ra [m] (Gaussian heights).
[[nodiscard]] double rms_roughness(const Roll& roll) noexcept;

}  // namespace libblade
