#include "libblade/bending_case.hpp"

#include <limits>

namespace libblade {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

/// How far the mid-plane of the thinner or thicker part lies above the one before it, away from the roll [m].
double jump(double before, double after, Flush flush) noexcept {
    switch (flush) {
        case Flush::roll:
            return 0.5 * (after - before);
        case Flush::away:
            return 0.5 * (before - after);
        case Flush::centre:
            break;
    }
    return 0.0;
}

}  // namespace

Strip strip_of(const Case& c, double worn) {
    const Setting& set = c.setting;
    const Blade& blade = c.blade;
    const Solid& steel = blade.material;
    const bool away = set.pressure_side == PressureSide::away_from_roll ||
                      (set.pressure_side == PressureSide::by_orientation && set.orientation == Orientation::doctoring);
    Strip strip;
    strip.stiffness = bending_stiffness(blade);
    strip.length = free_length(blade);
    strip.set_angle = set.set_angle;
    strip.offset = 0.5 * (tip_thickness(blade) - worn);
    strip.pressure = away ? set.chamber_pressure : -set.chamber_pressure;
    strip.roll_radius = c.roll.radius;
    strip.thickness = blade.thickness;
    strip.density = steel.density;
    const double modulus = steel.youngs_modulus / (1.0 - steel.poissons_ratio * steel.poissons_ratio);
    for (const BladeSection& s : blade.sections) {
        StripSection& part = strip.sections[static_cast<std::size_t>(strip.section_count++)];
        part = {s.length, s.thickness, s.end_thickness.value_or(s.thickness), modulus, 0.0, steel.density};
        if (strip.section_count > 1) {
            StripSection& before = strip.sections[static_cast<std::size_t>(strip.section_count - 2)];
            before.jump = jump(before.thickness_tip, part.thickness_clamp, s.flush);
        }
    }
    strip.plate = {blade.backing_length, blade.backing_gap, 0.0};
    strip.compliant_joints = true;
    strip.holder_compliance = set.holder_stiffness ? 1.0 / *set.holder_stiffness : 0.0;
    strip.holder_rotation = set.holder_rotation_stiffness ? 1.0 / *set.holder_rotation_stiffness : 0.0;
    return strip;
}

double tangential_ratio(const Case& c, double friction) noexcept {
    return c.setting.orientation == Orientation::doctoring ? -friction : friction;
}

DryContact bend_dry(const Case& c, double friction, int points) {
    const Strip strip = strip_of(c);
    const double ratio = tangential_ratio(c, friction);
    DryContact out{{}, {}, kNan, kNan, kNan, kNan, {}};
    const auto load = load_of(c.setting);
    if (const auto* given = std::get_if<LineLoad>(&load)) {
        out.force = {given->value, ratio * given->value, 0.0};
        out.bent = solve_contact(strip, out.force);
    } else {
        out.bent = solve_contact_at(strip, std::get<Interference>(load).value, ratio, out.force);
    }
    out.frequency_free = natural_frequency(strip, StripEnd::free);
    out.frequency_pinned = natural_frequency(strip, StripEnd::pinned);
    if (!out.bent.convergence.ok()) return out;
    out.tangent_stiffness = tangent_stiffness(strip, out.bent, out.force);
    out.buckling_ratio = buckling_ratio(strip, out.bent, out.force);
    out.shape = strip_shape(strip, out.bent, out.force, points);
    return out;
}

}  // namespace libblade
