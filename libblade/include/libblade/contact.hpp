// Elastic line contact of the unworn edge (Johnson 1985, Contact Mechanics, ch. 4 and App. 3).
//
// Half-width a = sqrt(4 P R / (pi E*)), p0 = 2 P / (pi a), mean pressure pi p0 / 4. Both bodies are half-spaces: a must be
// small against the edge radius and the thickness; a wedge-shaped tip is softer than that. No adhesion, no friction.
#pragma once

namespace libblade {

struct HertzLine {
    double half_width;     ///< a [m]
    double peak_pressure;  ///< p0 [Pa]
};

/// load per width [N/m], relative radius with 1/R = 1/R1 + 1/R2 [m], contact modulus with 1/E* = sum (1 - nu^2)/E [Pa].
/// NaN unless load >= 0, radius > 0 and modulus > 0.
[[nodiscard]] HertzLine hertz_line(double load, double radius, double modulus) noexcept;

/// Full width of the contact of an edge [m]: 2 a while the mean pressure stays below the hardness [Pa] of the softer body
/// (hardness is a mean pressure: Tabor 1951, The Hardness of Metals); beyond, fully plastic, load / hardness. Continuous;
/// the elastic-plastic range between first yield and full plasticity is left out.
[[nodiscard]] double elastic_edge_width(double load, double radius, double modulus, double hardness) noexcept;

/// Largest principal shear stress under a line contact, 0.3003 p0 at a depth of 0.7862 a (Johnson 1985, eq. 4.46).
struct SubsurfaceShear {
    double stress;  ///< [Pa]
    double depth;   ///< [m]
};
[[nodiscard]] SubsurfaceShear largest_shear(const HertzLine& contact) noexcept;

}  // namespace libblade
