// The blade: a flat elastic strip clamped at the holder.
#pragma once

#include <optional>
#include <vector>

namespace libblade {

/// An isotropic solid.
struct Solid {
    double youngs_modulus = 205e9;  ///< [Pa]
    double poissons_ratio = 0.29;   ///< [-]
    double hardness = 5.5e9;        ///< indentation hardness [Pa]
    double yield_strength = 1.6e9;  ///< [Pa]
    double density = 7850.0;        ///< [kg/m3]
    bool operator==(const Solid&) const = default;
};

/// The face on which a section continues the one before it without a step.
enum class Flush { roll, away, centre };

/// A length of the strip. Thinner towards the tip: a ground thin tip or a taper.
struct BladeSection {
    double length = 12e-3;                ///< along the strip [m]
    double thickness = 0.2e-3;            ///< at its clamp end [m]
    std::optional<double> end_thickness;  ///< at its tip end, a straight taper [m]; none: uniform
    Flush flush = Flush::roll;            ///< how it joins the section before it; of the first one: without meaning
    bool operator==(const BladeSection&) const = default;
};
inline constexpr int kMostSections = 8;

struct Blade {
    double free_length = 12e-3;          ///< clamp to line of contact along the strip [m]
    double thickness = 0.2e-3;           ///< [m]
    std::vector<BladeSection> sections;  ///< from clamp to tip, instead of free_length and thickness; empty: uniform
    double backing_length = 0.0;         ///< plate behind the strip, from the clamp towards the tip [m]; 0: none
    double backing_gap = 0.0;            ///< between strip and plate [m]
    double specific_wear = 2e-15;        ///< Archard specific wear of the blade in ink k_b [m2/N]
    Solid material;
    double thermal_conductivity = 45.0;  ///< [W/(m K)]
    bool operator==(const Blade&) const = default;
};

/// Clamp to tip along the strip [m].
[[nodiscard]] double free_length(const Blade& blade) noexcept;
/// At the clamp [m].
[[nodiscard]] double body_thickness(const Blade& blade) noexcept;
/// At the tip [m].
[[nodiscard]] double tip_thickness(const Blade& blade) noexcept;

/// Of the body at the clamp: plane-strain bending stiffness per width D = E t^3 / (12 (1 - nu^2)) [N m] (Timoshenko & Woinowsky-Krieger 1959).
[[nodiscard]] double bending_stiffness(const Blade& blade) noexcept;

/// Contact modulus E* with 1/E* = sum (1 - nu^2)/E [Pa] (Johnson 1985, ch. 4).
[[nodiscard]] double contact_modulus(const Solid& a, const Solid& b) noexcept;

}  // namespace libblade
