#include "libblade/wear_edge.hpp"

#include <cmath>

namespace libblade {

double corner_area(double facet_length, double angle) noexcept {
    return 0.5 * facet_length * facet_length * std::sin(angle) * std::cos(angle);
}

double full_corner_area(double angle, double thickness) noexcept {
    return 0.5 * thickness * thickness / std::tan(angle);
}

Cut cut_at(double area, double angle, bool fully_worn, double thickness) noexcept {
    if (fully_worn) {
        const double middle = area / thickness;
        return {thickness / std::sin(angle), middle + 0.5 * thickness / std::tan(angle), middle, 0.5 * thickness};
    }
    const double b = std::sqrt(2.0 * area / (std::sin(angle) * std::cos(angle)));
    return {b, b * std::cos(angle), 0.5 * b * std::cos(angle), 0.5 * b * std::sin(angle)};
}

EdgeWear square_edge_wear(double specific_wear, double load, double distance, double angle, double thickness) noexcept {
    const double area = specific_wear * load * distance, full = full_corner_area(angle, thickness);
    const Cut cut = cut_at(area, angle, area > full, thickness);
    return {cut.length, cut.length_lost * std::sin(angle), cut.length_lost, full / (specific_wear * load)};
}

double wedge_facet_length(double specific_wear, double load, double distance, double face_angle,
                          double other_face_angle) noexcept {
    return std::sqrt(2.0 * specific_wear * load * distance *
                     (1.0 / std::tan(face_angle) + 1.0 / std::tan(other_face_angle)));
}

double rebedding_distance(double facet_length, double tilt, double specific_wear, double load) noexcept {
    return facet_length * facet_length * std::abs(tilt) / (2.0 * specific_wear * load);
}

}  // namespace libblade
