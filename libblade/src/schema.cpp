#include "libblade/schema.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <string_view>
#include <utility>
#include <vector>

#include "libblade/case_file.hpp"
#include "libblade/parameters.hpp"

namespace libblade {
namespace {

using Json = nlohmann::ordered_json;
using Words = std::vector<std::string>;

std::string_view last_word(std::string_view path) noexcept { return path.substr(path.rfind('.') + 1); }

// --- names -----------------------------------------------------------------------------------------------------------

/// The ending of a field name that stands for a unit, "m_per_min" for "m/min": the way back of unit_of_suffix.
std::string suffix_of(std::string_view unit) {
    if (unit.substr(0, 2) == "1/") unit.remove_prefix(1);
    std::string suffix;
    for (const char c : unit) {
        if (c == '/')
            suffix += suffix.empty() ? "per_" : "_per_";
        else
            suffix += c == ' ' ? '_' : c;
    }
    return suffix;
}

struct Spelling {
    std::string key;
    std::string_view unit;  // empty: the key carries none
};

/// Every key under which the reader takes the field, the plain one first.
std::vector<Spelling> spellings(const Field& field) {
    const std::string word(last_word(field.path));
    std::vector<Spelling> all = {{word, {}}};
    if (field.kind != FieldKind::number) return all;
    for (const std::string_view unit : units_of(field.dimension)) {
        // The reader decides: some units stand in no key ("W/(m K)"), and two may share one ("1/m" and "/m").
        const std::string suffix = suffix_of(unit);
        const NamedField named = resolve_field(std::string(field.path) + "_" + suffix);
        const std::string key = word + "_" + suffix;
        const bool new_key = std::none_of(all.begin(), all.end(), [&](const Spelling& s) { return s.key == key; });
        if (named.field == &field && new_key) all.push_back({key, named.unit});
    }
    return all;
}

/// True of an object that has none of the fields, in any spelling.
Json unstated(const Words& words) {
    std::string names;
    for (const std::string& word : words) names += (names.empty() ? "" : "|") + word;
    return {{"propertyNames", {{"not", {{"pattern", "^(" + names + ")(_|$)"}}}}}};
}
Json stated(const std::string& word) { return {{"not", unstated({word})}}; }

/// Whether another field's name goes on where this one's ends: "screen_angle" after "screen".
bool begins_another(const Field& field) {
    const std::string start = std::string(field.path) + "_";
    return std::any_of(field_table().begin(), field_table().end(),
                       [&](const Field& other) { return other.path.substr(0, start.size()) == start; });
}
/// True of an object that has the field in none of its spellings.
Json unspelled(const Field& field, const std::vector<Spelling>& all) {
    if (!begins_another(field)) return unstated({all.front().key});
    Json any = Json::array();
    for (const Spelling& spelling : all) any.push_back(spelling.key);
    return {{"propertyNames", {{"not", {{"enum", std::move(any)}}}}}};
}

/// One spelling at most, or exactly one.
Json spelled_once(const Field& field, const std::vector<Spelling>& all) {
    Json one_of = Json::array();
    if (!field.required) one_of.push_back(unspelled(field, all));
    for (const Spelling& spelling : all) one_of.push_back({{"required", {spelling.key}}});
    return {{"oneOf", std::move(one_of)}};
}

// --- values ----------------------------------------------------------------------------------------------------------

/// 2 instead of 2.0.
Json number(double value) {
    if (std::floor(value) == value && std::abs(value) < 1e15) return static_cast<std::int64_t>(value);
    return value;
}

/// An end of the hard range in a unit: the last number that the reader takes, or a short one next to it that it takes
/// as well ("0.02" for 0.019999999999999997).
double limit(const Field& field, std::string_view unit, bool upper) {
    const double bound = upper ? field.hard_max : field.hard_min;
    if (unit.empty()) return bound;
    const auto inside = [&](double value) {
        const double si = to_si(value, unit, field.dimension, field.path);
        return upper ? si <= bound : si >= bound;
    };
    const double exact = from_si(bound, unit, field.dimension);
    const double brief = Json::parse(number_text(exact, 12)).get<double>();
    const double off = to_si(brief, unit, field.dimension, field.path) - bound;
    if (inside(brief) && std::abs(off) <= 4e-16 * std::abs(bound)) return brief;
    double value = exact;
    while (!inside(value)) value = std::nextafter(value, upper ? -HUGE_VAL : HUGE_VAL);
    return value;
}

// Blanks and factor dots as parse_quantity takes them: space, tab, line ends, no-break and thin spaces, middle dot,
// dot operator, asterisk.
constexpr std::string_view blank = "[ \\t\\r\\n\u00A0\u202F\u2009\u00B7\u22C5*]";

bool is_letter(char c) noexcept { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }

/// A unit as an expression for all its spellings: "\u00B5m" for "um", "cm\u00B3/m\u00B2" for "cm3/m2", "mPa.s" for
/// "mPa s", "\u00B0" for "deg".
std::string unit_pattern(std::string_view unit) {
    const std::string blanks = std::string(blank) + "*";
    std::string pattern;
    for (std::size_t i = 0; i < unit.size(); ++i) {
        const char c = unit[i];
        const bool after_letter = i > 0 && is_letter(unit[i - 1]);
        if (unit.substr(i, 3) == "deg") {
            pattern += "(deg|\u00B0)";
            i += 2;
        } else if (c == 'u') {
            pattern += "[u\u00B5\u03BC]";
        } else if (c == '2' || c == '3') {
            pattern += after_letter ? "\\^?[" : "[";
            pattern += c;
            pattern += c == '2' ? "\u00B2]" : "\u00B3]";
        } else if (c == '-') {
            pattern += "\\^?[-\u2212]";
        } else if (c == ' ') {
            const bool letters = after_letter && is_letter(unit[i + 1]);
            pattern += letters ? "(" + std::string(blank) + "+|\\.)" : std::string(blank) + "+";
        } else if (c == '/') {
            pattern += i == 0 ? "/" + blanks : blanks + "/" + blanks;
        } else if (c == '(') {
            pattern += "\\(" + blanks;
        } else if (c == ')') {
            pattern += blanks + "\\)";
        } else if (c == '0' && after_letter) {
            pattern += "\\^?0";
        } else {
            pattern += c == '.' ? "\\." : std::string(1, c);
        }
    }
    return pattern;
}

/// Texts of a dimension: a number and a unit; without unit they are SI, except for angles.
std::string quantity_pattern(Dimension dimension) {
    std::string plain, after_blank;
    for (const std::string_view unit : units_of(dimension)) {
        // "51/mm" is 51 and "/mm", so a unit that starts with a digit needs a blank before it.
        std::string& list = unit.front() == '1' ? after_blank : plain;
        list += (list.empty() ? "" : "|") + unit_pattern(unit);
    }
    const std::string blanks = std::string(blank) + "*";
    std::string unit = blanks + "(" + plain + ")";
    if (!after_blank.empty()) unit = "(" + unit + "|" + std::string(blank) + "+(" + after_blank + "))";
    if (dimension != Dimension::angle) unit = "(" + unit + ")?";
    return "^" + blanks + "[-+\u2212]?([0-9]+\\.?[0-9]*|\\.[0-9]+)([eE][-+\u2212]?[0-9]+)?" + unit + blanks + "$";
}

std::string definition_name(Dimension dimension) {
    if (dimension == Dimension::none) return "plain_number";
    std::string name(to_string(dimension));
    std::replace(name.begin(), name.end(), ' ', '_');
    return name;
}

Json definitions() {
    Json all = Json::object();
    for (const Field& field : field_table()) {
        if (field.kind != FieldKind::number) continue;
        Json& definition = all[definition_name(field.dimension)];
        if (!definition.is_null()) continue;
        std::string units;
        for (const std::string_view unit : units_of(field.dimension))
            units += (units.empty() ? "" : ", ") + std::string(unit);
        const bool angle = field.dimension == Dimension::angle;
        definition["description"] =
            std::string(to_string(field.dimension)) +
            " as a text, number and unit; its range is judged by the reader only. Units: " + units +
            (angle ? ". A bare number is refused." : "");
        definition["pattern"] = quantity_pattern(field.dimension);
    }
    return all;
}

/// What a case that does not state the field has; null where it must be stated or is absent.
Json default_of(const Field& field) {
    static const Case standard;
    const bool one_of_two = field.path == "setting.line_load" || field.path == "ink.viscosity" ||
                            field.path == "blade.free_length" || field.path == "blade.thickness" ||
                            (field.path.substr(0, 13) == "ink.rheology." && field.path != "ink.rheology.transition");
    if (field.required || one_of_two || !has_field(standard, field.path)) return {};
    const std::string word = field.choices.empty() ? std::string{} : get_choice(standard, field.path);
    return word.empty() ? number(get_number(standard, field.path)) : Json(word);
}

Json range(const Field& field, std::string_view unit) {
    return {{"minimum", number(limit(field, unit, false))}, {"maximum", number(limit(field, unit, true))}};
}

Json plain_field(const Field& field) {
    Json result = {{"description", field.meaning}};
    if (const Json standard = default_of(field); !standard.is_null()) result["default"] = standard;
    const auto words = choices_of(field);
    if (field.kind == FieldKind::choice) {
        result["enum"] = words;
        return result;
    }
    if (field.kind == FieldKind::text) {
        result["type"] = "string";
        return result;
    }
    result["x-unit"] = si_unit(field.dimension);
    if (!field.display_unit.empty()) result["x-display-unit"] = field.display_unit;
    result["x-usual-range"] = {number(field.usual_min), number(field.usual_max)};
    result["x-source"] = field.source;
    Json value;
    if (field.dimension == Dimension::angle) {
        value["type"] = "string";
    } else {
        value["type"] = {"number", "string"};
        value.update(range(field, {}));
    }
    value["$ref"] = "#/$defs/" + definition_name(field.dimension);
    if (words.empty())
        result.update(value);
    else
        result["anyOf"] = {{{"enum", words}}, value};
    return result;
}

Json suffixed_field(const Field& field, std::string_view unit) {
    Json result = {{"type", "number"}};
    result.update(range(field, unit));
    return result;
}

// --- contradictions: what Draft::check_presence in case_file.cpp refuses ----------------------------------------------

Json equals(const std::string& key, const std::string& word) {
    return {{"required", {key}}, {"properties", {{key, {{"const", word}}}}}};
}
Json if_else(Json condition, Json then, Json otherwise) {
    return {{"if", std::move(condition)}, {"then", std::move(then)}, {"else", std::move(otherwise)}};
}
Json all_of(Json rules) { return {{"allOf", std::move(rules)}}; }

Json tip_rule() {
    const Json faceted = all_of({
        if_else(equals("bedding", "angle"), stated("bedded_angle"), unstated({"bedded_angle"})),
        if_else(equals("bedding", "elsewhere"), all_of({stated("bedded_set_angle"), stated("bedded_line_load")}),
                unstated({"bedded_set_angle", "bedded_line_load"})),
    });
    return if_else(equals("kind", "square_edge"),
                   unstated({"facet_length", "bedding", "bedded_angle", "bedded_set_angle", "bedded_line_load"}),
                   faceted);
}

Json ink_rule() {
    return if_else(stated("viscosity"), {{"properties", {{"rheology", {{"maxProperties", 0}}}}}},
                   {{"required", {"rheology"}}, {"properties", {{"rheology", {{"required", {"law"}}}}}}});
}

/// The row's hard range as it is under a law, for the keys that hold it without a unit of their own.
Json exponent_range(const Case& of_law) {
    const Field& row = *find_field("ink.rheology.exponent");
    const Field held = field_in(of_law, row);
    Json keys = Json::object();
    for (const Spelling& spelling : spellings(row)) keys[spelling.key] = range(held, spelling.unit);
    return {{"properties", std::move(keys)}};
}

Json rheology_rule() {
    Json rules = Json::array();
    for (const std::string_view law : choices_of(*find_field("ink.rheology.law"))) {
        Case sample;
        set_choice(sample, "ink.rheology.law", law);
        Json parts = Json::array();
        Words others;
        for (const Field& field : field_table()) {
            if (field.path.substr(0, 13) != "ink.rheology." || field.path == "ink.rheology.law") continue;
            const std::string word(last_word(field.path));
            if (!has_field(sample, field.path))
                others.push_back(word);
            else if (word != "transition")  // has a default
                parts.push_back(stated(word));
            if (word == "exponent" && has_field(sample, field.path)) parts.push_back(exponent_range(sample));
        }
        parts.push_back(unstated(others));
        rules.push_back({{"if", equals("law", std::string(law))}, {"then", all_of(std::move(parts))}});
    }
    return all_of(std::move(rules));
}

Json actuator_states(const std::string& word) {
    return {{"required", {"actuator"}}, {"properties", {{"actuator", stated(word)}}}};
}
Json blade_rule() {
    return if_else({{"required", {"sections"}}}, unstated({"free_length", "thickness"}),
                   all_of({stated("free_length"), stated("thickness")}));
}
Json section_rule() { return all_of({stated("length"), stated("thickness")}); }
Json bearing_point_rule() { return all_of({stated("gap"), stated("pressure")}); }
Json volume_rule() { return {{"anyOf", {unstated({"cell_volume"}), unstated({"cell_depth"})}}}; }

Json load_rule() {
    return {
        {"oneOf",
         {stated("line_load"), stated("interference"), actuator_states("air_pressure"), actuator_states("advance")}}};
}

Json actuator_rule() {
    const Words air = {"air_pressure", "piston_area", "lever_ratio", "blade_width", "dead_load"};
    const Words screw = {"advance", "slope"};
    return if_else(equals("kind", "air"), all_of({stated("piston_area"), stated("blade_width"), unstated(screw)}),
                   if_else(equals("kind", "screw"), unstated(air), all_of({unstated(air), unstated(screw)})));
}

Json rule_of(std::string_view group) {
    if (group == "tip") return tip_rule();
    if (group == "blade") return blade_rule();
    if (group == "blade.sections.0") return section_rule();
    if (group == "roll.bearing_curve.0") return bearing_point_rule();
    if (group == "roll.engraving") return volume_rule();
    if (group == "ink") return ink_rule();
    if (group == "ink.rheology") return rheology_rule();
    if (group == "setting") return load_rule();
    if (group == "setting.actuator") return actuator_rule();
    return {};
}

// --- groups ----------------------------------------------------------------------------------------------------------

bool is_below(std::string_view path, std::string_view group) {
    return path.size() > group.size() && path.substr(0, group.size()) == group && path[group.size()] == '.';
}

Json group_schema(const std::string& group) {
    if (const int most = most_items(group); most > 0) {
        const bool sections = group == "blade.sections";
        return {{"description", sections ? "from clamp to tip, instead of free_length and thickness"
                                         : "measured contact of blade and land, instead of asperity_product and "
                                           "asperity_ratio; gap rising, pressure falling"},
                {"type", "array"},
                {"minItems", sections ? 1 : 2},
                {"maxItems", most},
                {"items", group_schema(group + ".0")}};
    }
    Json properties = Json::object(), rules = Json::array();
    for (const Field& field : field_table()) {
        if (!is_below(field.path, group)) continue;
        const std::string_view rest = field.path.substr(group.size() + 1);
        if (const std::size_t dot = rest.find('.'); dot != std::string_view::npos) {
            const std::string word(rest.substr(0, dot));
            if (!properties.contains(word)) properties[word] = group_schema(group + "." + word);
            continue;
        }
        const std::vector<Spelling> all = spellings(field);
        for (const Spelling& spelling : all)
            properties[spelling.key] =
                spelling.unit.empty() ? plain_field(field) : suffixed_field(field, spelling.unit);
        if (all.size() > 1 || field.required) rules.push_back(spelled_once(field, all));
    }
    if (Json rule = rule_of(group); !rule.is_null()) rules.push_back(std::move(rule));
    Json result = {{"type", "object"}, {"additionalProperties", false}, {"properties", std::move(properties)}};
    if (!rules.empty()) result["allOf"] = std::move(rules);
    return result;
}

// --- text ------------------------------------------------------------------------------------------------------------

constexpr std::size_t line_width = 120;

std::string one_line(const Json& value) {
    if (!value.is_structured() || value.empty()) return value.dump(-1, ' ', true);
    std::string text(1, value.is_object() ? '{' : '[');
    for (const auto& [key, item] : value.items()) {
        if (text.size() > 1) text += ", ";
        if (value.is_object()) text += Json(key).dump(-1, ' ', true) + ": ";
        text += one_line(item);
    }
    return text + (value.is_object() ? '}' : ']');
}

/// What fits stands on one line; the items of a list fill the lines.
void write(std::string& text, const Json& value, std::size_t indent) {
    const std::string line = one_line(value);
    const std::size_t start = text.rfind('\n') + 1;  // npos + 1 is 0
    if (!value.is_structured() || value.empty() || text.size() - start + line.size() < line_width) {
        text += line;
        return;
    }
    const std::string inner = '\n' + std::string(indent + 2, ' ');
    text += value.is_object() ? '{' : '[';
    bool first = true;
    for (const auto& [key, item] : value.items()) {
        if (!first) text += ',';
        const std::size_t column = text.size() - text.rfind('\n');
        if (first || value.is_object() || column + one_line(item).size() + 2 > line_width)
            text += inner;
        else
            text += ' ';
        first = false;
        if (value.is_object()) text += Json(key).dump(-1, ' ', true) + ": ";
        write(text, item, indent + 2);
    }
    text += '\n' + std::string(indent, ' ') + (value.is_object() ? '}' : ']');
}

}  // namespace

std::string case_schema() {
    Json properties = {{"schema", {{"description", "version of the file's format"}, {"const", current_case_format}}},
                       {"name", {{"description", "what the case is called"}, {"type", "string"}}},
                       {"note", {{"description", "where the numbers come from"}, {"type", "string"}}}};
    Json required = Json::array();
    for (const Field& field : field_table()) {
        const std::string group(field.path.substr(0, field.path.find('.')));
        if (!properties.contains(group)) properties[group] = group_schema(group);
        // Ink and blade have no required field, but must state one of two.
        const bool needed = field.required || group == "ink" || group == "blade";
        if (needed && std::find(required.begin(), required.end(), group) == required.end()) required.push_back(group);
    }
    const Json root = {
        {"$schema", "https://json-schema.org/draft/2020-12/schema"},
        {"$id", "urn:libblade:schema:" + std::string(current_case_format.substr(std::string_view("libblade-").size()))},
        {"title", std::string(current_case_format)},
        {"description",
         "One doctor-blade nip. A value is a number in SI units, a text with unit (\"0.15 mm\"), or its key carries "
         "the "
         "unit (\"thickness_mm\": 0.15). Beyond this schema, and refused by the reader: ranges of texts with unit, "
         "contradictions between numbers (a wall wider than the pitch), keys given twice."},
        {"type", "object"},
        {"required", std::move(required)},
        {"additionalProperties", false},
        {"properties", std::move(properties)},
        {"$defs", definitions()}};
    std::string text;
    write(text, root, 0);
    return text + '\n';
}

std::string fields_markdown() {
    std::string text =
        "# Fields of a case\n\n"
        "Made from the field table (`libblade schema --fields`). Outside the allowed range a value is refused, outside "
        "the usual\nrange it warns. Bold: a case file must state it; it also states `blade.free_length` and "
        "`blade.thickness`, or up to eight\n`blade.sections` (from 0 at the clamp), `setting.line_load`, "
        "`setting.interference` or the\nreading of its `setting.actuator`, and `ink.viscosity` or "
        "`ink.rheology`.\nWhere "
        "`roll.bearing_curve` is stated, it has 2 to 12 points (from 0 at the smallest gap).\n\n"
        "| field | meaning | SI unit | allowed | usual | source of the usual range |\n"
        "| --- | --- | --- | --- | --- | --- |\n";
    const auto span = [](const Field& field, double low, double high) {
        // The unit once: "0.02 to 2 mm".
        return number_text(from_si(low, field.display_unit, field.dimension)) + " to " +
               quantity_text(high, field.display_unit, field.dimension);
    };
    for (const Field& field : field_table()) {
        if (list_item(field.path).index > 0) continue;  // as item 0
        const std::string name = "`" + std::string(field.path) + "`";
        std::string words;
        for (const std::string_view word : choices_of(field))
            words += (words.empty() ? "`" : ", `") + std::string(word) + "`";
        const bool is_number = field.kind == FieldKind::number;
        std::string allowed = is_number ? span(field, field.hard_min, field.hard_max) : words;
        if (is_number && !words.empty()) allowed += ", " + words;
        text += "| " + (field.required ? "**" + name + "**" : name) + " | " + std::string(field.meaning) + " | " +
                (is_number ? std::string(si_unit(field.dimension)) : "") + " | " + allowed + " | " +
                (is_number ? span(field, field.usual_min, field.usual_max) : "") + " | " + std::string(field.source) +
                " |\n";
    }
    return text;
}

}  // namespace libblade
