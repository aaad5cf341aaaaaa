// The blade: a flat elastic strip clamped at the holder.
#pragma once

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

struct Blade {
    double free_length = 12e-3;    ///< clamp to line of contact along the strip [m]
    double thickness = 0.2e-3;     ///< [m]
    double specific_wear = 2e-15;  ///< Archard specific wear of the blade in ink k_b [m2/N]
    Solid material;
    bool operator==(const Blade&) const = default;
};

/// Plane-strain bending stiffness per width D = E t^3 / (12 (1 - nu^2)) [N m] (Timoshenko & Woinowsky-Krieger 1959).
[[nodiscard]] double bending_stiffness(const Blade& blade) noexcept;

/// Contact modulus E* with 1/E* = sum (1 - nu^2)/E [Pa] (Johnson 1985, ch. 4).
[[nodiscard]] double contact_modulus(const Solid& a, const Solid& b) noexcept;

}  // namespace libblade
