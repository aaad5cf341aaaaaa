// What a shift does to a blade: steps of distance or time, with fields set, ramped and rippled.
#pragma once

#include <string>
#include <vector>

#include "libblade/case.hpp"

namespace libblade {

/// A number of the case by its path, SI.
struct FieldChange {
    std::string field;
    double value = 0.0;
    bool operator==(const FieldChange&) const = default;
};

/// One step. Changes of setting.line_load, setting.interference, setting.set_angle and the actuator move the holder; under
/// other changes it stays (setting.holding says what that means). A holder is set as a blade with this facet, bedded
/// parallel there, would carry the load.
struct ScheduleStep {
    double distance = 0.0;          ///< of roll surface past the blade [m]
    double duration = 0.0;          ///< instead of a distance [s]; neither: the changes alone
    std::vector<FieldChange> set;   ///< at the start of the step
    std::vector<FieldChange> ramp;  ///< reached at its end, in proportion to the distance
    double ripple =
        0.0;  ///< relative amplitude, once per turn and slowly, of the load (floating) or interference (fixed)
    bool stopped = false;    ///< the roll stands for the duration; then the speed is raised from rest, with the load on
    bool new_blade = false;  ///< the blade is changed before; only then may fields of blade and tip be set
    bool operator==(const ScheduleStep&) const = default;
};
using Schedule = std::vector<ScheduleStep>;

/// Distance of a step at its speeds [m]. speed_begin, speed_end: of the roll surface [m/s].
[[nodiscard]] double distance_of(const ScheduleStep& step, double speed_begin, double speed_end) noexcept;
/// Time that a distance takes while the speed changes in proportion to it [s].
[[nodiscard]] double time_over(double distance, double speed_begin, double speed_end) noexcept;

/// The case once a step's changes are made. Throws InvalidInput that names step, field, value and range.
[[nodiscard]] Case case_after(const Case& before, const Schedule& schedule, std::size_t step);
/// The case at a share of a step's ramps, 0 to 1; no checks.
[[nodiscard]] Case case_within(const Case& begin, const ScheduleStep& step, double share);

/// Throws InvalidInput with everything that is wrong with a schedule on a case.
void check_schedule(const Case& first, const Schedule& schedule);

}  // namespace libblade
