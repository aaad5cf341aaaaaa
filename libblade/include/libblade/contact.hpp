// What of the tip carries the load, and how the tip's surface gives way under it.
//
// Line contact: Johnson 1985, Contact Mechanics, ch. 4 and App. 3. Half-width a = sqrt(4 P R / (pi E*)), p0 = 2 P / (pi
// a), mean pressure pi p0 / 4. Both bodies are half-spaces: a must be small against the edge radius and the thickness.
// No adhesion, no friction. A contact width has three meanings, each with its mean pressure: the worn facet's length
// (facet_contact), the width of an unworn edge (edge_contact) and the stretch that carries most of a known pressure
// (load_bearing_width).
#pragma once

#include <span>

#include "libblade/blade.hpp"
#include "libblade/tip_outline.hpp"

namespace libblade {

struct HertzLine {
    double half_width;     ///< a [m]
    double peak_pressure;  ///< p0 [Pa]
};

/// load per width [N/m], relative radius with 1/R = 1/R1 + 1/R2 [m], contact modulus with 1/E* = sum (1 - nu^2)/E [Pa].
/// NaN unless load >= 0, radius > 0 and modulus > 0.
[[nodiscard]] HertzLine hertz_line(double load, double radius, double modulus) noexcept;

/// Full width of the contact of an edge [m]: 2 a while the mean pressure stays below the hardness [Pa] of the softer
/// body (hardness is a mean pressure: Tabor 1951, The Hardness of Metals); beyond, fully plastic, load / hardness.
/// Continuous; the elastic-plastic range between first yield and full plasticity is left out.
[[nodiscard]] double elastic_edge_width(double load, double radius, double modulus, double hardness) noexcept;

/// Mean pressure at which a wedge whose edge is pressed flat yields everywhere, H (1 + w / 2) / (1 + pi / 2): w
/// interior angle [rad], H hardness of the same metal as a half-space (w = 180 deg). Ideally plastic, symmetric,
/// frictionless (Hill 1950, The Mathematical Theory of Plasticity, slip lines of the truncated wedge, from memory). A
/// square edge: 0.69 H.
[[nodiscard]] double wedge_hardness(double hardness, double wedge_angle) noexcept;

struct WidthAndPressure {
    double width;          ///< [m]
    double mean_pressure;  ///< load / width [Pa]
};
/// Width of what touches of a worn outline, shoulder of a step included, and the load [N/m] over it.
[[nodiscard]] WidthAndPressure facet_contact(const OutlineFacet& facet, double load) noexcept;

struct EdgeContact {
    double width;          ///< [m]
    double mean_pressure;  ///< [Pa]
    double
        arc_share;  ///< half-width over the smaller half-chord of the rounding, r sin(face angle): line contact holds
                    ///< well below 1, at 1 a flank touches; infinite for a sharp corner
    bool plastic;   ///< the mean pressure is the hardness
};
/// Contact of an unworn edge. Angles of its two faces to the roll: FacetLaw::at(0) of the sharp outline. Elastic while
/// the mean pressure stays below the smaller of the edge's wedge_hardness and the roll's hardness, beyond that load /
/// hardness. radius 0: a sharp corner, always plastic. (Elastic, a blunt wedge with faces at angle f to the roll would
/// have mean pressure E* tan(f) / 2, Johnson 1985, sect. 5.2: 30 GPa for steel, 0.6 GPa for a 2 GPa polymer at 30 deg,
/// above either's hardness.) By how much a wedge is softer than the half-space is left out: no published solution known
/// for a rounded corner; arc_share says when it matters.
[[nodiscard]] EdgeContact edge_contact(double load, double radius, double modulus, double edge_hardness,
                                       double roll_hardness, double front_angle, double body_angle) noexcept;

struct LoadBearing {
    double width;          ///< [m]
    double from, to;       ///< [m]
    double load;           ///< of the whole profile [N/m]
    double mean_pressure;  ///< share x load / width [Pa]
};
/// Shortest single stretch that carries a share of the load, exactly for a pressure [Pa] linear between the places x
/// [m]. Tension counts as nothing. Islands of pressure are not joined up: a stretch that needs two of them spans the
/// gap between. A plateau leaves the place open: the first of equals. No load: width 0 and no places (NaN). NaN all
/// over unless x rises (equal neighbours are a jump), sizes agree, numbers are finite and 0 < share <= 1.
[[nodiscard]] LoadBearing load_bearing_width(std::span<const double> x, std::span<const double> pressure,
                                             double share = 0.95);
/// The same in the caller's memory, six numbers for each place.
[[nodiscard]] LoadBearing load_bearing_width(std::span<const double> x, std::span<const double> pressure, double share,
                                             std::span<double> memory);

/// How the tip's surface gives way. Two parts, to be added: indentation of the facet, and bending of the metal that
/// thins out towards its front once little of the cut face is left.
struct SurfaceCompliance {
    double indentation;    ///< local indentation over local pressure, c = (1 - nu^2) b / (2 E) [m/Pa]
    double feather_mean;   ///< lift of the facet over mean pressure where its front bends, mean over the facet [m/Pa]
    double feather_front;  ///< the same at the very front [m/Pa]
    double worn_share;     ///< b sin a / t: 1 when the cut face is gone, and the front is a feather of angle a [-]
};
/// Winkler's rule (u = c p, place by place) stands for the half-plane, whose surface answers through the logarithm of
/// the distance (Johnson 1985, sect. 2.2 to 2.3; Winkler foundations sect. 4.3). c is the mean of the least-squares
/// coefficients, about the mean displacement (which only shifts the gap), of a pressure linear over the facet, 3 / (2
/// pi), and of a parabola that falls to 0 at both ends, 5 / (3 pi), times (1 - nu^2) b / E. Limits (tests): 18 % rms
/// for the line, 9 % for the parabola, good where pressure varies over the whole of b; a ripple of wavelength l gives
/// way by (1 - nu^2) l / (pi E) p only. A uniform pressure dishes the half-plane by 0.44 (1 - nu^2) b p / E, Winkler
/// leaves it flat; a bedded facet has worn that dish away. Per MPa: steel 1 nm, polymer of 2 GPa 0.1 um.
///
/// Feather: plane-strain beam of the thickness left above the facet, normal to the roll, h0 + s tan a at a distance s
/// from the front with h0 = (t - b sin a) / cos a, under uniform pressure, held in line at the body's end (own; its
/// curvature lies within a quarter of plane-strain finite elements at 20 to 30 deg and 0.8 to 1 worn, tests; the mean
/// omits the indentation). At h0 = 0 the mean is 3/2 (1 - nu^2) b / (E tan^3 a), at 30 deg 16 times `indentation`, and
/// the front lifts four times as much. A facet bedded under load has worn this lift away; what counts is its change
/// with the load.
[[nodiscard]] SurfaceCompliance surface_compliance(const Solid& solid, double facet_length, double thickness,
                                                   double angle) noexcept;
/// Its indentation alone [m/Pa].
[[nodiscard]] double surface_indentation(const Solid& solid, double facet_length) noexcept;
/// Lift over uniform pressure [m/Pa] of the facet at a distance from its front, of the same beam; 0 at the body's end.
[[nodiscard]] double feather_lift(const Solid& solid, double facet_length, double thickness, double angle,
                                  double distance) noexcept;

/// Largest principal shear stress under a line contact, 0.3003 p0 at a depth of 0.7862 a (Johnson 1985, eq. 4.46).
struct SubsurfaceShear {
    double stress;  ///< [Pa]
    double depth;   ///< [m]
};
[[nodiscard]] SubsurfaceShear largest_shear(const HertzLine& contact) noexcept;

}  // namespace libblade
