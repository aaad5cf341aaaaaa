// What a case may hold: ranges, contradictions, and what an unusual value may have been meant to be.
#include <algorithm>
#include <array>
#include <cmath>

#include "libblade/parameters.hpp"

namespace libblade {
namespace {

using D = Dimension;

/// Relative slack at the ends of a usual range: "25 deg" must not warn because of the last bit of pi / 180.
constexpr double rounding = 1e-9;

bool is_usual(const Field& field, double value) noexcept {
    return value >= field.usual_min - rounding * std::abs(field.usual_min) &&
           value <= field.usual_max + rounding * std::abs(field.usual_max);
}

std::string range_text(const Field& field, double low, double high) {
    return "between " + quantity_text(low, field.display_unit, field.dimension) + " and " +
           quantity_text(high, field.display_unit, field.dimension);
}

std::string display(const Field& field, double value) {
    return quantity_text(value, field.display_unit, field.dimension);
}

/// A number read in the unit `written` that was a number in the unit `meant`.
struct Slip {
    Dimension dimension;
    std::string_view written;
    std::string_view meant;
};
constexpr auto slips = std::to_array<Slip>({
    {D::angle, "rad", "deg"},
    {D::angle, "deg", "rad"},
    {D::length, "m", "mm"},
    {D::length, "m", "um"},
    {D::length, "mm", "um"},
    {D::length, "um", "mm"},
    {D::length, "m", "cm"},
    {D::length, "mm", "cm"},
    {D::length, "mm", "inch"},
    {D::line_load, "N/m", "N/mm"},
    {D::line_load, "N/mm", "N/m"},
    {D::line_load, "N/m", "kN/m"},
    {D::line_load, "N/m", "N/cm"},
    {D::line_load, "N/m", "lbf/in"},
    {D::speed, "m/s", "m/min"},
    {D::speed, "m/min", "m/s"},
    {D::speed, "m/s", "ft/min"},
    {D::viscosity, "Pa s", "mPa s"},
    {D::viscosity, "mPa s", "Pa s"},
    {D::pressure, "Pa", "GPa"},
    {D::pressure, "Pa", "MPa"},
    {D::pressure, "Pa", "kPa"},
    {D::pressure, "MPa", "GPa"},
    {D::pressure, "GPa", "MPa"},
    {D::pressure, "kPa", "Pa"},
    {D::pressure, "bar", "mbar"},
    {D::density, "kg/m3", "g/cm3"},
    {D::temperature, "K", "degC"},
    {D::temperature, "degC", "K"},
    {D::temperature, "degC", "degF"},
    {D::volume_per_area, "m3/m2", "cm3/m2"},
    {D::volume_per_area, "cm3/m2", "m3/m2"},
    {D::per_length, "1/m", "1/cm"},
    {D::per_length, "1/m", "lines/inch"},
    {D::per_length, "1/cm", "1/m"},
    {D::time, "s", "ms"},
    {D::time, "ms", "s"},
    {D::specific_heat, "J/(kg K)", "kJ/(kg K)"},
    {D::specific_wear, "m2/N", "mm3/(N m)"},
    {D::none, "1", "%"},
});

class Findings {
  public:
    /// Without words it is only told whether there is a problem, and nothing is taken from the heap.
    explicit Findings(const Case& candidate, bool words = true) : case_(candidate), words_(words) {}

    /// One problem at `path`, whose message names every other field that takes part.
    template <class Message>
    void add(std::string_view path, Message&& message) {
        if (!words_) {
            sound = false;
            return;
        }
        const Field* field = find_field(path);
        const double value = get_number(case_, path);
        problems.push_back({std::string(path), display(*field, value), message()});
    }
    /// One problem that is no field's.
    void add(std::string_view path, std::string value, std::string message) {
        sound = false;
        if (words_) problems.push_back({std::string(path), std::move(value), std::move(message)});
    }
    std::vector<Problem> problems;
    bool sound = true;  ///< without words

  private:
    const Case& case_;
    bool words_;
};

void check_ranges(const Case& candidate, std::vector<Problem>& problems) {
    if (within_hard_ranges(candidate)) return;
    for (const Field& row : field_table()) {
        const Field field = field_in(candidate, row);
        if (field.path == "ink.rheology.viscosity") continue;  // the same number as ink.viscosity
        if (field.kind != FieldKind::number) {
            if (has_field(candidate, field.path) && get_choice(candidate, field.path).empty())
                problems.push_back({std::string(field.path), "", "is not one of " + std::string(field.choices)});
            continue;
        }
        if (!has_field(candidate, field.path)) continue;
        const double value = get_number(candidate, field.path);
        if (!field.choices.empty() && !get_choice(candidate, field.path).empty()) continue;  // "worn"
        if (value >= field.hard_min && value <= field.hard_max) continue;                    // false for NaN
        std::string message = "must be " + hard_range_text(field);
        const bool bedded = field.path == "tip.bedded_set_angle" || field.path == "tip.bedded_line_load";
        if (bedded && value == 0.0)
            message = "is needed: tip.bedding \"elsewhere\" takes both tip.bedded_set_angle and tip.bedded_line_load";
        if (field.path == "tip.bedded_angle" && value == 0.0) message = "is needed: tip.bedding is \"angle\"";
        const std::string slip = likely_slip(field, value);
        if (!slip.empty()) message += "; " + slip;
        problems.push_back({std::string(field.path), display(field, value), std::move(message)});
    }
}

void check_blade(const Case& c, Findings& findings) {
    // Beam theory is a fair description only of a slender strip.
    const bool uniform = c.blade.sections.empty();
    const std::string_view length_path = uniform ? "blade.free_length" : "blade.sections.0.length";
    const std::string_view name = uniform ? "blade.free_length" : "the length of blade.sections";
    double thickest = body_thickness(c.blade);
    for (const BladeSection& section : c.blade.sections)
        thickest = std::max({thickest, section.thickness, section.end_thickness.value_or(0.0)});
    if (free_length(c.blade) < 5.0 * thickest)
        findings.add(length_path, [&] {
            return std::string("must be at least 5 times " +
                               std::string(uniform ? "blade.thickness" : "the largest thickness") + " (" +
                               quantity_text(thickest, "mm", D::length) + "): a shorter strip is not a bending blade");
        });
    if (free_length(c.blade) > find_field("blade.free_length")->hard_max && !uniform)
        findings.add(length_path, [&] {
            return std::string("makes " + std::string(name) + " longer than " +
                               quantity_text(find_field("blade.free_length")->hard_max, "mm", D::length));
        });
    if (c.blade.backing_length > 0.95 * free_length(c.blade))
        findings.add("blade.backing_length", [&] {
            return std::string("must be at most 95 % of " + std::string(name) + " (" +
                               quantity_text(free_length(c.blade), "mm", D::length) + ")");
        });
    if (c.blade.material.yield_strength >= c.blade.material.youngs_modulus)
        findings.add("blade.material.yield_strength", [&] {
            return std::string("must be smaller than blade.material.youngs_modulus (" +
                               quantity_text(c.blade.material.youngs_modulus, "GPa", D::pressure) + ")");
        });
    if (c.roll.material.yield_strength >= c.roll.material.youngs_modulus)
        findings.add("roll.material.yield_strength", [&] {
            return std::string("must be smaller than roll.material.youngs_modulus (" +
                               quantity_text(c.roll.material.youngs_modulus, "GPa", D::pressure) + ")");
        });
    if (const auto* advance = std::get_if<Interference>(&c.setting.load))
        if (advance->value > 0.5 * free_length(c.blade))
            findings.add("setting.interference", [&] {
                return std::string("must be at most half of " + std::string(name) + " (" +
                                   quantity_text(free_length(c.blade), "mm", D::length) + ")");
            });
}

/// What an actuator's reading brings has to be a load or an interference that a case may state.
void check_actuator(const Case& c, std::vector<Problem>& problems) {
    if (!std::holds_alternative<ByActuator>(c.setting.load) || !problems.empty()) return;
    try {
        Case stated = c;
        std::visit([&](const auto& load) { stated.setting.load = load; }, load_of(c.setting));
        const bool air = std::holds_alternative<PneumaticActuator>(c.setting.actuator);
        const Field& brought = *find_field(air ? "setting.line_load" : "setting.interference");
        const Field& reading = *find_field(air ? "setting.actuator.air_pressure" : "setting.actuator.advance");
        const double value = get_number(stated, brought.path);
        if (value >= brought.hard_min && value <= brought.hard_max) return;
        problems.push_back({std::string(reading.path), display(reading, get_number(c, reading.path)),
                            "brings " + std::string(brought.path) + " to " + display(brought, value) +
                                ", which must be " + hard_range_text(brought)});
    } catch (const InvalidInput& error) {
        for (const Problem& p : error.problems())
            problems.push_back(
                {p.path.find('.') == std::string::npos ? "setting.actuator." + p.path : p.path, p.value, p.message});
    }
}

void check_tip(const Case& c, Findings& findings) {
    const double radius = std::visit([](const auto& tip) { return tip.edge_radius; }, c.tip);
    const double thickness = tip_thickness(c.blade);
    const std::string_view name = c.blade.sections.empty() ? "blade.thickness" : "the thickness at the tip";
    if (radius > 0.5 * thickness)
        findings.add("tip.edge_radius", [&] {
            return std::string("must be at most half of " + std::string(name) + " (" +
                               quantity_text(thickness, "um", D::length) + ")");
        });
    const auto* facet = std::get_if<Facet>(&c.tip);
    const double* length = facet == nullptr ? nullptr : std::get_if<double>(&facet->length);
    if (length == nullptr) return;
    double angle = c.setting.set_angle;
    if (const auto* elsewhere = std::get_if<BeddedElsewhere>(&facet->bedding)) angle = elsewhere->set_angle;
    if (const auto* given = std::get_if<BeddedAngle>(&facet->bedding)) angle = given->angle;
    if (!(angle > 0.0)) return;  // reported as a range
    // A square edge wears to t / sin(angle) at most; the effective angle can be well below the set angle: 3 times.
    const double longest = 3.0 * thickness / std::sin(angle);
    if (*length > longest)
        findings.add("tip.facet_length", [&] {
            return std::string("must be at most " + quantity_text(longest, "um", D::length) + ", 3 times what " +
                               std::string(name) +
                               " and setting.set_angle (or the bedded angle) "
                               "can wear to, thickness / sin(angle)");
        });
}

void check_roll_and_ink(const Case& c, Findings& findings) {
    const Engraving& engraving = c.roll.engraving;
    if (engraving.pattern != Pattern::smooth && engraving.screen > 0.0 &&
        engraving.wall_width * engraving.screen >= 1.0)
        findings.add("roll.engraving.wall_width", [&] {
            return std::string("must be smaller than the pitch " +
                               quantity_text(1.0 / engraving.screen, "um", D::length) +
                               ", the inverse of roll.engraving.screen");
        });
    if (engraving.pattern != Pattern::elongated && engraving.aspect != Engraving{}.aspect)
        findings.add("roll.engraving.aspect", [&] {
            return std::string("needs roll.engraving.pattern \"elongated\"; other cells have no aspect");
        });
    // Both are NaN for a law without plateaus.
    const double zero = get_number(c, "ink.rheology.zero_shear_viscosity");
    if (get_number(c, "ink.rheology.infinite_shear_viscosity") > zero)
        findings.add("ink.rheology.infinite_shear_viscosity", [&] {
            return std::string("must not exceed ink.rheology.zero_shear_viscosity (" +
                               quantity_text(zero, "mPa s", D::viscosity) + ")");
        });
}

void check_bearing_curve(const Case& c, Findings& findings) {
    const auto& points = c.roll.bearing_curve;
    if (points.empty()) return;
    if (points.size() == 1 || points.size() > kMostBearingPoints)
        findings.add("roll.bearing_curve", std::to_string(points.size()) + " points",
                     "takes 2 to " + std::to_string(kMostBearingPoints) + " points");
    const auto name = [](std::size_t point, const char* word) {
        return "roll.bearing_curve." + std::to_string(point) + word;
    };
    const std::size_t known = std::min<std::size_t>(points.size(), kMostBearingPoints);
    for (std::size_t k = 1; k < known; ++k) {
        const double distance = points[k].gap - points[k - 1].gap;
        if (!(distance > 0.0))
            findings.add(name(k, ".gap"), [&] {
                return "must be larger than " + name(k - 1, ".gap") + " (" +
                       quantity_text(points[k - 1].gap, "um", D::length) + ")";
            });
        else if (distance < (points[known - 1].gap - points[0].gap) / 500.0)  // the table would not resolve it
            findings.add(name(k, ".gap"), [&] {
                return "must be larger than " + name(k - 1, ".gap") + " by at least 1/500 of the curve's range";
            });
        if (!(points[k].pressure < points[k - 1].pressure))
            findings.add(name(k, ".pressure"), [&] {
                return "must be smaller than " + name(k - 1, ".pressure") + " (" +
                       quantity_text(points[k - 1].pressure, "MPa", D::pressure) + ")";
            });
    }
}

/// Cells deeper than their pitch are not engraved: most often a volume in another unit, or the wrong screen.
void unusual_volume(const Case& c, std::vector<Problem>& problems) {
    const Engraving& engraving = c.roll.engraving;
    const double volume = cell_volume(engraving);
    if (engraving.pattern == Pattern::smooth || volume * engraving.screen <= 0.5) return;
    const Field& stated =
        *find_field(engraving.cell_depth ? "roll.engraving.cell_depth" : "roll.engraving.cell_volume");
    problems.push_back({std::string(stated.path), display(stated, get_number(c, stated.path)),
                        "makes cells that are on average deeper than half of the pitch " +
                            quantity_text(1.0 / engraving.screen, "um", D::length) +
                            "; roll.engraving.screen or the unit may be wrong (1 BCM/in2 is 1.55 cm3/m2)"});
}

}  // namespace

std::string hard_range_text(const Field& field) { return range_text(field, field.hard_min, field.hard_max); }
std::string usual_range_text(const Field& field) { return range_text(field, field.usual_min, field.usual_max); }

Field field_in(const Case& source, const Field& field) {
    Field row = field;
    if (field.path != "ink.rheology.exponent") return row;
    // Stress must rise with shear rate. A Newtonian ink would become one of Cross.
    const bool n = std::holds_alternative<PowerLaw>(source.ink.rheology) ||
                   std::holds_alternative<CarreauYasuda>(source.ink.rheology);
    row.hard_min = n ? 0.1 : 0.05;
    row.hard_max = n ? 1.5 : 1.0;
    return row;
}

std::string likely_slip(const Field& field, double si_value) {
    if (!std::isfinite(si_value) || si_value == 0.0 || is_usual(field, si_value)) return {};
    for (const Slip& slip : slips) {
        if (slip.dimension != field.dimension) continue;
        const double number = from_si(si_value, slip.written, field.dimension);
        const double meant = to_si(number, slip.meant, field.dimension, field.path);
        if (!is_usual(field, meant) || meant == 0.0) continue;
        const std::string text = quantity_text(meant, slip.meant, field.dimension);
        return "if " + text + " was meant, write \"" + text + "\"";
    }
    return {};
}

namespace {

void check_together(const Case& candidate, Findings& findings) {
    check_blade(candidate, findings);
    check_tip(candidate, findings);
    check_roll_and_ink(candidate, findings);
    check_bearing_curve(candidate, findings);
}

}  // namespace

std::vector<Problem> check(const Case& candidate) {
    Findings findings(candidate);
    check_ranges(candidate, findings.problems);
    check_together(candidate, findings);
    check_actuator(candidate, findings.problems);
    return findings.problems;
}

bool is_sound(const Case& candidate) { return within_hard_ranges(candidate) && is_consistent(candidate); }

bool is_consistent(const Case& candidate) {
    Findings findings(candidate, false);
    check_together(candidate, findings);
    if (!std::holds_alternative<ByActuator>(candidate.setting.load)) return findings.sound;
    std::vector<Problem> problems;
    check_actuator(candidate, problems);
    return findings.sound && problems.empty();
}

std::vector<Problem> unusual(const Case& candidate) {
    std::vector<Problem> problems;
    for (const Field& field : field_table()) {
        if (field.kind != FieldKind::number || field.path == "ink.rheology.viscosity") continue;
        const double value = get_number(candidate, field.path);
        if (std::isnan(value) || is_usual(field, value)) continue;
        std::string message =
            "is outside the usual range, " + usual_range_text(field) + " (" + std::string(field.source) + ")";
        const std::string slip = likely_slip(field, value);
        if (!slip.empty()) message += "; " + slip;
        problems.push_back({std::string(field.path), display(field, value), std::move(message)});
    }
    unusual_volume(candidate, problems);
    return problems;
}

}  // namespace libblade
