// Flow cups: efflux time to kinematic viscosity, by standard and cup number.
//
// Two printed forms, in mm2/s and s: nu = a (t - b) and nu = a t - b / t. Each holds between two times only. A cup shears the
// ink at 1e2 to 1e3 1/s; the nip does so at 1e6 to 1e8. How far the ink thins in between is no cup's to say, so the
// high-shear ratio is an input of its own. Readings scatter by 5 to 10 % between cups (common practice, no published source).
// The formulas are for Newtonian oils at the standard's temperature: 23 degC (ISO 2431), 25 degC (ASTM); DIN 53211 23 degC,
// 20 degC in older practice (from memory).
#pragma once

#include <span>
#include <string_view>

namespace libblade {

enum class CupForm {
    linear,     ///< nu = a (t - b)
    reciprocal  ///< nu = a t - b / t
};

struct FlowCup {
    std::string_view name;  ///< standard and cup number, e.g. "iso_2431_4"
    CupForm form = CupForm::linear;
    double a = 0.0;                               ///< as printed [mm2/s2]
    double b = 0.0;                               ///< as printed: [s] when linear, [mm2] when reciprocal
    double min_seconds = 0.0, max_seconds = 0.0;  ///< the formula holds between these [s]
    std::string_view source;                      ///< of formula and range
};

/// Every cup, by standard and number.
[[nodiscard]] std::span<const FlowCup> flow_cups() noexcept;
/// Kinematic viscosity [m2/s] from the efflux time [s]. Throws InvalidInput (path "cup" or "seconds") on an unknown cup, with
/// the nearest name, and on a time outside the cup's range. Speaks for 1e2 to 1e3 1/s only.
[[nodiscard]] double flow_cup_viscosity(std::string_view cup, double seconds);
/// Viscosity in the nip [Pa s], for a Newtonian ink: kinematic viscosity of the cup x density [kg/m3] x high-shear ratio.
/// The ratio is high-shear over cup viscosity, 0.05 to 1, usually 0.3 to 1 (from memory); measure it, or try both ends.
/// Throws InvalidInput (path "cup", "seconds", "density" or "high_shear_ratio").
[[nodiscard]] double ink_from_cup(std::string_view cup, double seconds, double density, double high_shear_ratio);

}  // namespace libblade
