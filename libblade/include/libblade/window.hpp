// The process window: where every limit holds, and the setting to recommend.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

namespace libblade {

/// Distances from a point of the grid to the first failing point in each direction, in units of the holding tolerance.
struct Margins {
    double angle_down = 0.0, angle_up = 0.0, load_down = 0.0, load_up = 0.0;
    [[nodiscard]] double smallest() const noexcept;
    bool operator==(const Margins&) const = default;
};

struct WindowInput {
    std::span<const double> angle;         ///< increasing [rad], (n,)
    std::span<const double> load;          ///< increasing [N/m] or [m], (m,)
    std::span<const std::uint8_t> inside;  ///< 1 where every limit holds, (n, m) row-major over angle
    double angle_tolerance = 0.0175;       ///< how well the angle is held, absolute [rad]
    double load_tolerance = 0.1;           ///< how well the load is held, relative [-]
};

struct Window {
    bool exists = false;                   ///< any point inside
    bool recommended_with_margin = false;  ///< the recommendation keeps one tolerance on every side
    std::size_t angle_index = 0, load_index = 0;
    Margins margins;           ///< at the recommended point
    std::vector<Margins> all;  ///< (n, m); zeros outside
};

/// Recommendation rule: the lowest load that keeps at least one holding tolerance of margin on every side; the largest
/// smallest margin breaks ties. Without such a point: the point with the largest smallest margin, flagged.
/// (Least load that still wipes: common practice, no published source.)
[[nodiscard]] Window process_window(const WindowInput& input);

}  // namespace libblade
