// The tip: what of the blade meets the roll.
#pragma once

#include <variant>

namespace libblade {

/// Facet as long as a fully worn square edge: thickness / sin(effective angle).
struct WornLength {
    bool operator==(const WornLength&) const = default;
};
using FacetLength = std::variant<WornLength, double>;  ///< double: given length [m]

/// Bedded parallel to the roll at the case's own setting.
struct BeddedHere {
    bool operator==(const BeddedHere&) const = default;
};
/// Bedded at another set angle [rad] and load [N/m] (same blade, ink, roll and speed), then moved here.
struct BeddedElsewhere {
    double set_angle = 0.0;
    double line_load = 0.0;
    bool operator==(const BeddedElsewhere&) const = default;
};
/// Bedded at a given effective angle [rad].
struct BeddedAngle {
    double angle = 0.0;
    bool operator==(const BeddedAngle&) const = default;
};
using Bedding = std::variant<BeddedHere, BeddedElsewhere, BeddedAngle>;

/// An unworn square edge: meets the roll with its rounded corner.
struct SquareEdge {
    double edge_radius = 1e-6;  ///< [m]
    bool operator==(const SquareEdge&) const = default;
};
/// A worn facet, conformal to the roll at its bedded angle, with rounded ends.
struct Facet {
    FacetLength length = WornLength{};
    Bedding bedding = BeddedHere{};
    double edge_radius = 1e-6;  ///< [m]
    bool operator==(const Facet&) const = default;
};
using Tip = std::variant<Facet, SquareEdge>;

/// Facet length of a square corner worn by `retreat` normal to the roll [m]:
/// b = z / (sin a cos a) up to t / sin a (plane geometry).
[[nodiscard]] double facet_from_retreat(double retreat, double angle, double thickness) noexcept;
/// Facet length of a fully worn square edge t / sin a [m].
[[nodiscard]] double worn_facet_length(double thickness, double angle) noexcept;
/// A facet bedded at this angle has eaten the whole end of a square edge, to a part in a thousand.
[[nodiscard]] bool eats_whole_end(double facet_length, double angle, double thickness) noexcept;

}  // namespace libblade
