// From the ink that the roll carries to what an eye sees on the print.
//
// TRANSFER of x, the ink offered per area, to y on the print [m]:
//   proportional     y = s x; of the ink on the roll some 0.25 to 0.40 gets there (common practice, no published source)
//   Walker & Fetsko  y = (1 - e^(-k x)) (b (1 - e^(-x / b)) (1 - f) + f x)   (1955, TAGA; from memory)
// with k the smoothness of the print [1/m], b what its surface can immobilise [m], f the split of the free ink. x - y stays.
//
// DENSITY of a solid D = D_inf (1 - e^(-m y)) (Tollenaar & Ernst 1961, from memory), reflectance R = 10^-D (ISO 5-4), all
// relative to the paper. A tint whose dots cover a: R^(1/n) = a Rs^(1/n) + 1 - a, n = 1: Murray 1936 (Murray & Davies), n of 1 to
// 2: Yule & Nielsen 1951.
//
// VISIBILITY of a line (own rule of two numbers): a wide band beside another is seen from a contrast (R - R0) / R0 of about 1 %
// on (Weber's law; from memory). Below about 1 minute of arc the eye sums the light over the line's width, so that contrast x
// width counts; a spot is summed both ways (Ricco's law; from memory). A black line is then seen from 0.6 seconds of arc on;
// Hecht & Mintz 1939 (J. Gen. Physiol. 22:593; from memory) found about 0.5. What covers the whole web has no neighbour and is
// compared with an approved print: 10 %, common practice, no published source.
#pragma once

#include <limits>
#include <variant>

namespace libblade {

/// y = share x.
struct ProportionalTransfer {
    double share = 0.3;  ///< of the ink on the roll that reaches the print [-]
    bool operator==(const ProportionalTransfer&) const = default;
};
/// The defaults are of the order that printability testers report for coated paper (from memory, a factor of 2 uncertain).
struct WalkerFetsko {
    double smoothness = 1e6;    ///< k [1/m]
    double immobilised = 1e-6;  ///< b [m]
    double split = 0.3;         ///< f of the free ink [-]
    bool operator==(const WalkerFetsko&) const = default;
};
using InkTransfer = std::variant<ProportionalTransfer, WalkerFetsko>;

/// Ink on the print [m] of that offered [m], at least 0. Throws InvalidInput, also on constants out of range.
[[nodiscard]] double ink_transfer(const InkTransfer& law, double offered);

/// Density of a solid against its ink.
struct SolidDensity {
    double limit = 1.8;           ///< D_inf, of a thick film (common practice, no published source) [-]
    double absorption = 1.253e6;  ///< m; the default gives 1.4 at 1.2 um [1/m]
    bool operator==(const SolidDensity&) const = default;
};
/// D at a film [m], at least 0. Throws InvalidInput, as do all below, also on constants out of range.
[[nodiscard]] double print_density(const SolidDensity& law, double film);
/// dD/dy at a film [1/m].
[[nodiscard]] double density_slope(const SolidDensity& law, double film);
/// Film of a density from 0 to below the limit [m].
[[nodiscard]] double film_of_density(const SolidDensity& law, double density);
/// The law that gives this density, above 0 and below the limit, at a film above 0 [m].
[[nodiscard]] SolidDensity density_through(double film, double density, double limit = 1.8);
/// The law through two readings, films rising and densities too, though by less. At y2 = 2 y1 in closed form: e^(-m y1) =
/// D2 / D1 - 1.
[[nodiscard]] SolidDensity density_from_readings(double film_1, double density_1, double film_2, double density_2);

/// 10^-D.
[[nodiscard]] double reflectance(double density) noexcept;
/// Density of a tint: area 0 to 1, density of its solid at least 0, n at least 1.
[[nodiscard]] double tint_density(double area, double solid_density, double n = 1.0);
/// Area of the dots of a tint of this density, 0 to that of its solid, which is above 0.
[[nodiscard]] double dot_area(double density, double solid_density, double n = 1.0);

/// What an eye needs.
struct Visibility {
    double contrast = 0.01;            ///< of a wide band against its neighbour [-]
    double summing_angle = 2.909e-4;   ///< below which contrast x width counts: 1 minute of arc [rad]
    double reading_distance = 0.4;     ///< [m]
    double comparison_contrast = 0.1;  ///< of one whole print against another [-]
    bool operator==(const Visibility&) const = default;
};
/// (R - R0) / R0 of a density against that of what lies around it: negative darker, -1 black.
[[nodiscard]] double luminance_contrast(double density, double around) noexcept;
/// Contrast that is there over the one needed: seen from 1 on. width, and length where it is short, across which it is small
/// [m].
[[nodiscard]] double visibility(const Visibility& eye, double contrast, double width,
                                double length = std::numeric_limits<double>::infinity());

/// From the roll to the print. The density passes through `nominal_density` at the nip's own film: what is held on press.
struct PrintLaw {
    InkTransfer transfer{};
    double density_limit = 1.8;    ///< D_inf [-]
    double nominal_density = 1.4;  ///< of a solid where there is no defect (common practice, no published source) [-]
    double tint = 1.0;             ///< area of the dots that are looked at; 1: a solid [-]
    double yule_nielsen = 1.0;     ///< n of the tint [-]
    Visibility eye{};
    bool operator==(const PrintLaw&) const = default;
};
/// Throws InvalidInput with all that is wrong.
void check_print_law(const PrintLaw& law);

}  // namespace libblade
