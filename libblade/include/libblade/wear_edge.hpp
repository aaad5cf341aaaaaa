// Wear of an edge whose asperities carry a constant load at a constant angle: closed forms, plane geometry.
#pragma once

namespace libblade {

/// A square edge (Archard 1953, J. Appl. Phys. 24:981, and plane geometry).
struct EdgeWear {
    double facet_length;      ///< sqrt(2 k_b N s / (sin a cos a)), at most t / sin a [m]
    double retreat;           ///< normal to the roll [m]
    double length_lost;       ///< along the roll-facing side, retreat / sin a [m]
    double distance_to_full;  ///< at which the facet is t / sin a: t^2 cot a / (2 k_b N) [m]
};
/// specific wear [m2/N], load [N/m], sliding distance [m], angle [rad], thickness [m].
[[nodiscard]] EdgeWear square_edge_wear(double specific_wear, double load, double distance, double angle,
                                        double thickness) noexcept;
/// Facet of an endless wedge with faces at these angles to the roll [rad]: sqrt(2 k_b N s (cot 1 + cot 2)) [m].
[[nodiscard]] double wedge_facet_length(double specific_wear, double load, double distance, double face_angle,
                                        double other_face_angle) noexcept;
/// Distance over which a facet of length b tilted by d is worn parallel while all its load stands on the end that goes:
/// b^2 d / (2 k_b N) [m] (own: the volume of the wedge that has to go).
[[nodiscard]] double rebedding_distance(double facet_length, double tilt, double specific_wear, double load) noexcept;

/// The straight cut that wear has made through a square end.
struct Cut {
    double length;         ///< of the facet [m]
    double length_lost;    ///< along the roll-facing side [m]
    double along, across;  ///< of the facet's centre, from the end and from the roll-facing side [m]
};
/// Cut at an angle to the roll-facing side [rad] that has taken an area [m2]; `fully_worn`: it has eaten the whole end.
[[nodiscard]] Cut cut_at(double area, double angle, bool fully_worn, double thickness) noexcept;
/// Area that a straight cut of this length takes from a square corner [m2].
[[nodiscard]] double corner_area(double facet_length, double angle) noexcept;
/// Area of the largest corner that leaves some of the end: t^2 cot a / 2 [m2].
[[nodiscard]] double full_corner_area(double angle, double thickness) noexcept;

}  // namespace libblade
