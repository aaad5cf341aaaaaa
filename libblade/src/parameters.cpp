// Access to the fields of a case by path. Ranges and contradictions are in parameters_check.cpp.
#include "libblade/parameters.hpp"

#include <algorithm>
#include <limits>
#include <optional>
#include <tuple>
#include <utility>

#include "libblade/solids.hpp"
#include "parameters_access.hpp"

namespace libblade {

using namespace detail;

namespace {

std::string in_quotes(std::string_view text) { return '"' + std::string(text) + '"'; }

const Field& known_field(std::string_view path, std::string_view value) {
    if (const Field* field = find_field(path)) return *field;
    const std::string near = nearest_field(path);
    refuse(path, value, "is not a known field" + (near.empty() ? std::string{} : "; the nearest is " + near));
}

/// The solid that a word of blade.material.grade stands for: "tool_steel" is the table's "tool steel".
const Solid& graded(std::string_view word) {
    std::string name(word);
    std::replace(name.begin(), name.end(), '_', ' ');
    return solid_named(name).solid;
}
std::optional<std::size_t> grade_index(const Solid& solid) {
    const auto words = choices_of(*find_field("blade.material.grade"));
    for (std::size_t k = 0; k < words.size(); ++k)
        if (graded(words[k]) == solid) return k;
    return std::nullopt;
}

/// Section that "blade.sections.2.flush" speaks of.
std::optional<std::size_t> flush_index(std::string_view path) noexcept {
    const ListItem item = list_item(path);
    if (item.list != "blade.sections" || item.word != "flush") return std::nullopt;
    return static_cast<std::size_t>(item.index);
}

/// Index of the alternative of a variant or the value of an enumeration that a choice field stands for; the table lists
/// the words in that order, except where noted.
std::optional<std::size_t> choice_index(const Case& c, std::string_view path) {
    const auto* facet = std::get_if<Facet>(&c.tip);
    if (path == "tip.kind") return c.tip.index();
    if (path == "tip.bedding") return facet == nullptr ? std::nullopt : std::optional(facet->bedding.index());
    if (path == "tip.facet_length")
        return facet != nullptr && std::holds_alternative<WornLength>(facet->length) ? std::optional<std::size_t>(0)
                                                                                     : std::nullopt;
    if (path == "ink.rheology.law") return c.ink.rheology.index();
    if (path == "roll.engraving.pattern") return static_cast<std::size_t>(c.roll.engraving.pattern);
    if (path == "roll.engraving.profile") return static_cast<std::size_t>(c.roll.engraving.profile);
    if (path == "setting.orientation") return static_cast<std::size_t>(c.setting.orientation);
    if (path == "setting.holding") return static_cast<std::size_t>(c.setting.holding);
    if (path == "setting.pressure_side") return static_cast<std::size_t>(c.setting.pressure_side);
    if (path == "blade.material.grade") return grade_index(c.blade.material);
    if (path == "setting.actuator.kind") return c.setting.actuator.index();
    if (const auto section = flush_index(path); section && *section < c.blade.sections.size())
        return static_cast<std::size_t>(c.blade.sections[*section].flush);
    return std::nullopt;
}

/// A load that came from another actuator stays as it was.
void choose_actuator(Setting& setting, std::size_t index) {
    if (index == setting.actuator.index()) return;
    if (std::holds_alternative<ByActuator>(setting.load))
        std::visit([&](const auto& load) { setting.load = load; }, load_of(setting));
    if (index == 1)
        setting.actuator = PneumaticActuator{};
    else if (index == 2)
        setting.actuator = ScrewActuator{};
    else
        setting.actuator = NoActuator{};
}

void apply_choice(Case& c, std::string_view path, std::size_t index) {
    if (path == "tip.kind") {
        if (index == c.tip.index()) return;
        const double radius = *edge_radius(c);
        if (index == 0)
            c.tip = Facet{WornLength{}, BeddedHere{}, radius};
        else
            c.tip = SquareEdge{radius};
    } else if (path == "tip.bedding") {
        if (index == 0)
            bedding_of<BeddedHere>(c, path);
        else if (index == 1)
            bedding_of<BeddedElsewhere>(c, path);
        else
            bedding_of<BeddedAngle>(c, path);
    } else if (path == "tip.facet_length") {
        facet_of(c, path).length = WornLength{};
    } else if (path == "ink.rheology.law") {
        if (index == 0)
            law_of<Newtonian>(c);
        else if (index == 1)
            law_of<Cross>(c);
        else if (index == 2)
            law_of<PowerLaw>(c);
        else
            law_of<CarreauYasuda>(c);
    } else if (path == "roll.engraving.pattern") {
        c.roll.engraving.pattern = static_cast<Pattern>(index);
        if (c.roll.engraving.pattern != Pattern::elongated) c.roll.engraving.aspect = Engraving{}.aspect;
    } else if (path == "roll.engraving.profile") {
        c.roll.engraving.profile = static_cast<CellProfile>(index);
    } else if (path == "setting.orientation") {
        c.setting.orientation = static_cast<Orientation>(index);
    } else if (path == "setting.holding") {
        c.setting.holding = static_cast<Holding>(index);
    } else if (path == "setting.pressure_side") {
        c.setting.pressure_side = static_cast<PressureSide>(index);
    } else if (path == "blade.material.grade") {
        c.blade.material = graded(choices_of(*find_field(path))[index]);
    } else if (path == "setting.actuator.kind") {
        choose_actuator(c.setting, index);
    } else if (const auto section = flush_index(path)) {
        section_of(c, *section).flush = static_cast<Flush>(index);
    }
}

}  // namespace

void set_number(Case& target, std::string_view path, double si_value) {
    const Field* known =
        find_field(path);  // words are made where they are needed: a sampler sets numbers by the million
    const Field field = field_in(target, known != nullptr ? *known : known_field(path, number_text(si_value)));
    const NumberAccess* access = find_access(path);
    if (access == nullptr)
        refuse(path, number_text(si_value), "is a choice, not a number: " + std::string(field.choices));
    if (!(si_value >= field.hard_min && si_value <= field.hard_max)) {
        std::string message = "must be " + hard_range_text(field);
        const std::string slip = likely_slip(field, si_value);
        if (!slip.empty()) message += "; " + slip;
        refuse(path, quantity_text(si_value, field.display_unit, field.dimension), std::move(message));
    }
    access->set(target, si_value);
}

void set_choice(Case& target, std::string_view path, std::string_view choice) {
    const Field& field = known_field(path, in_quotes(choice));
    const std::vector<std::string_view> words = choices_of(field);
    if (words.empty()) refuse(path, in_quotes(choice), "is a number, not a choice");
    const auto found = std::find(words.begin(), words.end(), choice);
    if (found == words.end()) {
        std::string message = field.kind == FieldKind::number ? "must be a number or " : "must be ";
        for (std::size_t i = 0; i < words.size(); ++i)
            message += (i == 0 ? "" : i + 1 == words.size() ? " or " : ", ") + in_quotes(words[i]);
        const std::string near = nearest_word(choice, words);
        refuse(path, in_quotes(choice),
               message + (near.empty() ? std::string{} : "; the nearest is " + in_quotes(near)));
    }
    apply_choice(target, path, static_cast<std::size_t>(found - words.begin()));
}

void set_section_count(Case& target, int count) {
    if (count < 0 || count > kMostSections)
        refuse("blade.sections", std::to_string(count) + " sections",
               "must have at most " + std::to_string(kMostSections) + " sections");
    Blade& blade = target.blade;
    const auto size = static_cast<std::size_t>(count);
    if (size == 0 && !blade.sections.empty())
        std::tie(blade.free_length, blade.thickness) = std::pair(free_length(blade), body_thickness(blade));
    BladeSection next{blade.free_length, blade.thickness, {}, Flush::roll};
    if (!blade.sections.empty()) next = blade.sections.back();
    blade.sections.resize(size, next);
    if (size > 0) blade.free_length = Blade{}.free_length, blade.thickness = Blade{}.thickness;
}

void set_bearing_count(Case& target, int count) {
    if (count < 0 || count > kMostBearingPoints)
        refuse("roll.bearing_curve", std::to_string(count) + " points",
               "must have at most " + std::to_string(kMostBearingPoints) + " points");
    target.roll.bearing_curve.resize(static_cast<std::size_t>(count));
}

void clear_field(Case& target, std::string_view path) {
    known_field(path, "");
    std::optional<double>* optional = nullptr;
    if (path == "setting.film_supply") optional = &target.setting.film_supply;
    if (path == "setting.holder_stiffness") optional = &target.setting.holder_stiffness;
    if (path == "setting.holder_rotation_stiffness") optional = &target.setting.holder_rotation_stiffness;
    if (path == "roll.engraving.pressure_flow_factor") optional = &target.roll.engraving.pressure_flow_factor;
    if (path == "roll.engraving.land_fraction") optional = &target.roll.engraving.land_fraction;
    if (path == "roll.engraving.cell_depth") {
        Engraving& engraving = target.roll.engraving;
        if (engraving.pattern != Pattern::smooth) engraving.cell_volume = cell_volume(engraving);
        optional = &engraving.cell_depth;
    }
    if (const ListItem item = list_item(path); item.list == "blade.sections" && item.word == "end_thickness")
        optional = &section_of(target, static_cast<std::size_t>(item.index)).end_thickness;
    if (optional == nullptr) refuse(path, "", "cannot be left out");
    optional->reset();
}

double get_number(const Case& source, std::string_view path) {
    const Field& field = known_field(path, "");
    const NumberAccess* access = find_access(path);
    if (access == nullptr) refuse(path, "", "is a choice, not a number: " + std::string(field.choices));
    return access->get(source).value_or(std::numeric_limits<double>::quiet_NaN());
}

std::string get_choice(const Case& source, std::string_view path) {
    const std::vector<std::string_view> words = choices_of(known_field(path, ""));
    if (words.empty()) refuse(path, "", "is a number, not a choice");
    const std::optional<std::size_t> index = choice_index(source, path);
    return index && *index < words.size() ? std::string(words[*index]) : std::string{};
}

namespace {

/// An enumeration may hold any number; alternatives of a variant and grades may not.
bool may_be_foreign(std::string_view path) noexcept {
    return path != "tip.kind" && path != "tip.bedding" && path != "tip.facet_length" && path != "ink.rheology.law" &&
           path != "blade.material.grade" && path != "setting.actuator.kind";
}

}  // namespace

bool within_hard_ranges(const Case& c) {
    struct Row {
        const Field* field;
        const NumberAccess* access;
        std::size_t words;
        bool of_section, of_curve, by_law;
    };
    static const auto rows = [] {
        std::vector<Row> all;
        for (const Field& field : field_table())
            all.push_back({&field, find_access(field.path), may_be_foreign(field.path) ? choices_of(field).size() : 0,
                           field.path.starts_with("blade.sections."), field.path.starts_with("roll.bearing_curve."),
                           field.path == "ink.rheology.exponent"});
        return all;
    }();
    const bool uniform = c.blade.sections.empty(), unmeasured = c.roll.bearing_curve.empty();
    for (const Row& row : rows) {
        if ((row.of_section && uniform) || (row.of_curve && unmeasured)) continue;  // most cases have none
        if (row.words > 0)
            if (const auto index = choice_index(c, row.field->path); index && *index >= row.words) return false;
        const Number value = row.access == nullptr ? Number{} : row.access->get(c);
        if (!value) continue;
        double low = row.field->hard_min, high = row.field->hard_max;
        if (row.by_law) {
            const Field here = field_in(c, *row.field);
            low = here.hard_min, high = here.hard_max;
        }
        if (!(*value >= low && *value <= high)) return false;
    }
    return true;
}

bool has_field(const Case& source, std::string_view path) {
    known_field(path, "");
    const NumberAccess* access = find_access(path);
    if (access != nullptr && access->get(source).has_value()) return true;
    return choice_index(source, path).has_value();
}

}  // namespace libblade
