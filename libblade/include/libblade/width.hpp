// Load across the width of the web: the nip as independent strips side by side.
//
// y runs across the web from its left edge (0) to its right edge (width), seen along the web's motion. A part of the
// interference is positive where it presses the blade further into the roll. Interference at y = mean advance of the
// holder + profile(y).
//
// Strips do not hold each other. In the blade they do: a waviness of the edge finds the blade stiffer than its strips
// by `wave_stiffening`: 1.05 at a wave of 20 free lengths, 1.3 at 8, 2.7 at 4, 12.5 at 2. There the true loads are more
// uneven than those found here, and the blade bridges valleys that the strips still reach; `strips_coupled` flags it.
// Misalignment, bow and sag are long against the free length. The last free length before each edge of the blade is not
// treated apart.
#pragma once

#include <cstddef>
#include <functional>
#include <vector>

#include "libblade/status.hpp"

namespace libblade {

struct WidthShape {
    double width = 1.0;         ///< of the web, between the ends of holder and roll [m]
    double misalignment = 0.0;  ///< holder advance at the right end less that at the left [m]
    double holder_bow = 0.0;    ///< holder's middle lies this far back from the roll, against its ends; a parabola [m]
    double holder_sag = 0.0;    ///< the same under line load between supports at the ends: see uniform_load_sag [m]
    double roll_sag = 0.0;      ///< roll's middle lies this far away from the blade, against its ends, same line [m]
    double waviness_amplitude = 0.0;  ///< of the blade's edge, half of peak to valley [m]
    double waviness_length = 0.1;     ///< wave length [m]
    double waviness_phase = 0.0;      ///< 0: a sine that starts at the left edge [rad]
    bool operator==(const WidthShape&) const = default;
};

/// Sag in the middle of a beam on two ends under uniform line load, 5 w L^4 / (384 E I) [m] (Timoshenko & Gere 1961,
/// ch. 1; any handbook). load [N/m], span [m], stiffness E I [N m2]. For a holder or a roll held at both ends without
/// clamping.
[[nodiscard]] double uniform_load_sag(double load, double span, double stiffness) noexcept;
/// Second moment of area of a tube pi (D^4 - d^4) / 64 [m4].
[[nodiscard]] double tube_second_moment(double outer_diameter, double inner_diameter) noexcept;
/// Line of that beam over its span, 16 (s - 2 s^3 + s^4) / 5 with s = y / L: 0 at the ends, 1 in the middle.
[[nodiscard]] double uniform_load_line(double s) noexcept;

struct WidthProfile {
    std::vector<double> y;             ///< evenly spaced, both edges included [m]
    std::vector<double> interference;  ///< to be added to the mean advance [m]
};
/// Misalignment turns about the middle; bow and sags are 0 at the ends; waviness is about 0. Throws InvalidInput, also
/// where fewer than eight places fall on a wave length.
[[nodiscard]] WidthProfile width_profile(const WidthShape& shape, std::size_t places);

/// Half the length over which a blade of plate stiffness D [N m] under a line load N [N/m] stands off the roll when it is
/// lifted by u [m] at one place of its edge, 0.56 (72 D u / N)^(1/3) [m]: a plate on a bed on which it weighs N. Lengths go as
/// (D u / N)^(1/3), since a beam lifted in its middle stands off over (72 E I u / N)^(1/4) and a plate's edge is about a beam as
/// wide as that; the number is Levy's plate's with one-sided contact (own, tests), within 2 % up to a free length.
[[nodiscard]] double stand_off(double stiffness, double line_load, double lift) noexcept;
/// The blade's height over the roll there [m], at y [m] from that place: u (1 - s)^3 (1 + 3 s), s = y / half length, the beam's
/// own line; Levy's plate keeps within 0.03 u of it.
[[nodiscard]] double stand_off_height(double lift, double half_length, double y) noexcept;

/// Line load [N/m] of a strip at an interference > 0 [m], rising. Not called at or below 0, where the strip is lifted
/// off.
using LoadOfInterference = std::function<double(double)>;

struct WidthLoads {
    std::vector<double> y;             ///< [m]
    std::vector<double> interference;  ///< of each strip; negative: lifted off by that much [m]
    std::vector<double> load;          ///< [N/m]
    double advance = 0.0;              ///< mean advance of the holder past first touch of an even nip [m]
    double mean_load = 0.0;            ///< trapezoid rule over the width [N/m]
    double lifted_share = 0.0;         ///< of the width without load
    std::size_t lightest = 0;          ///< index; first of equals: worst at wiping
    std::size_t heaviest = 0;          ///< index; first of equals: worst at wear
    double wave_stiffening = 1.0;      ///< of this waviness; 1: none
    bool strips_coupled = false;       ///< wave_stiffening above 1.25, waves below about 9 free lengths
    Convergence convergence;
};

/// Stiffness of a clamped plate against a sinusoidal line load along its free edge, over that of its strips, 3 D / L^3.
/// Levy's solution between clamp and edge (Timoshenko & Woinowsky-Krieger 1959, ch. 6): the edge free of moment,
/// Kirchhoff's shear carries the load. Small deflection, uniform thickness, all of the edge in contact.
[[nodiscard]] double wave_stiffening(double wave_length, double free_length, double poissons_ratio) noexcept;

/// Holder locked at an advance. `free_length` of the blade only serves wave_stiffening (Poisson's ratio 0.3).
[[nodiscard]] WidthLoads fixed_holder_loads(const WidthShape& shape, std::size_t places, double free_length,
                                            double advance, const LoadOfInterference& load_of);
/// Holder free to move, but not to turn: the advance at which the mean load is the set one. `advance_guess` > 0 is
/// where the search for the upper end begins, e.g. the interference of an even nip.
[[nodiscard]] WidthLoads floating_holder_loads(const WidthShape& shape, std::size_t places, double free_length,
                                               double mean_load, double advance_guess,
                                               const LoadOfInterference& load_of);

}  // namespace libblade
