// Wear of the engraved roll under the blade: the lands are worn down, and the cells lose volume.
//
// Archard, land by land (Archard 1953, J. Appl. Phys. 24:981). On its way under the blade each point of a land sees the
// pressure p of the land over the sliding distance, once per revolution and blade. The asperity load is carried by the
// lands alone, N_a = f integral of p dx, hence, whatever the width of the contact and the shape of its pressure,
//
//   loss of land height per pass = k_c N_a / f
//
// with f the land fraction. Volume of ceramic per roll area, f dz, is then k_c N_a per pass however f changes. What f is
// after a loss z follows from the cell as stated. A parabolic cell, depth D (1 - rho^2) over similar contours, stays one:
// D - z deep, its opening shrunk by sqrt(1 - z / D), since that is where it was z deep. A flat one keeps its opening.
//
//   cell volume V / V0 = (1 - z / D)^n,   n = 1 flat, 2 parabolic cells, 3/2 parabolic channels
//   passes             = (z - (V0 - V) (1 - f0) / open fraction) / (k_c N_a)
//
// where the last is exact, because - dV / dz is the open fraction. N_a and the roughness of the lands are taken to stay.
#pragma once

#include "libblade/engraving.hpp"
#include "libblade/roll.hpp"

namespace libblade {

/// Loss of land height per pass under one blade, k_c N_a / f [m]. specific wear [m2/N], asperity load [N/m], land fraction.
[[nodiscard]] double land_loss_per_pass(double specific_wear, double asperity_load, double land_fraction) noexcept;

/// The engraving after its lands have lost this height [m]: cell_depth, wall_width and, where they are stated,
/// corner_radius and land_fraction follow; a stated pressure_flow_factor stays. Elongated cells with a parabolic profile
/// get walls of the width that leaves the true opening; the true walls then are no longer even. A smooth roll stays as
/// it is. Throws InvalidInput unless 0 <= land_loss < depth of the cells.
[[nodiscard]] Engraving worn_engraving(const Engraving& engraving, double land_loss);

/// Loss of land height [m] at which this share of the cell volume is lost, 0 to below 1. Throws InvalidInput on another
/// share and on a roll without cells.
[[nodiscard]] double land_loss_at(const Engraving& engraving, double volume_share);

/// How the roll is run.
struct RollDuty {
    double asperity_load = 0.0;  ///< N_a in ink [N/m]
    double surface_speed = 1.0;  ///< [m/s]
    double dry_share = 0.0;      ///< of the passes, that run without ink
    double dry_load = 0.0;       ///< N_a of those: all of the line load, no film carries [N/m]
};

struct RollLife {
    double land_loss;      ///< [m]
    double cell_volume;    ///< left [m3/m2]
    double land_fraction;  ///< at the end [-]
    double wall_width;     ///< at the end [m]
    double loss_per_pass;  ///< of land height at the start, mean of wet and dry passes [m]
    double revolutions;    ///< infinite where nothing wears
    double distance;       ///< of web [m]
    double hours;          ///< [h]
};
/// Life until this share of the cell volume is lost; one blade, hence one pass per revolution. Specific wear is that of the
/// roll, wet and dry, weighted by the shares of the passes. Throws InvalidInput on values that are negative or not finite
/// and on a roll without cells.
[[nodiscard]] RollLife roll_life(const Roll& roll, const RollDuty& duty, double volume_share = 0.1);

}  // namespace libblade
