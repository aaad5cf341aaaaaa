#include "libblade/case_file.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <set>
#include <utility>

#include "case_file_reading.hpp"
#include "case_file_versions.hpp"
#include "libblade/parameters.hpp"

namespace libblade {
namespace {

using case_reading::empty_object;
using case_reading::Entry;
using case_reading::in_quotes;
using case_reading::needs_of_item;
using case_reading::Reader;
using case_reading::shortened;

constexpr std::size_t largest_file = 1 << 20;  // a case is a few kilobytes; more is another kind of file
constexpr std::size_t many_problems = 20;      // whose file is no mistyped case: names are not guessed any more

/// What the file says, field by field, before it becomes a case.
class Draft {
  public:
    explicit Draft(std::vector<Problem>& problems) : problems_(problems) {}

    void take(const Entry& entry) {
        if (entry.path == "name" || entry.path == "note" || entry.path == "schema") return take_text(entry);
        const NamedField named = resolve_field(entry.path);
        if (named.field == nullptr) return unknown(entry);
        const std::string path(named.field->path);
        if (!stated_.insert(path).second) return twice(entry);
        spelling_[path] = entry.path;
        written_[path] = entry.written();
        if (entry.kind == Entry::Kind::other) {
            bad_.insert(path);
            return refuse(entry, "must be " + expected(*named.field) + ", not " + entry.text, "");
        }
        if (named.field->kind != FieldKind::number) return take_choice(*named.field, entry);
        take_number(named, entry);
    }

    /// A field under the name of a later version than the file's.
    void take_later_name(const Entry& entry) {
        instead_of(*resolve_field(entry.path).field, entry.path, "is a name of a later version than the file's");
    }

    /// A later format: what else looks wrong is only unknown to this version.
    [[nodiscard]] bool newer() const noexcept { return newer_; }
    [[nodiscard]] bool stated(std::string_view path) const { return stated_.contains(std::string(path)); }

    void check_presence() {
        for (const Field& field : field_table())
            if (field.required && !stated(field.path)) missing(field.path, "is missing: a case must state it");
        check_blade();
        check_items();
        check_volume();
        check_load();
        check_ink();
        check_tip();
    }

    [[nodiscard]] Case build() {
        Case result;
        result.name = name_;
        result.note = note_;
        set_section_count(result, item_count("blade.sections"));
        set_bearing_count(result, item_count("roll.bearing_curve"));
        // Choices first: they decide which numbers a case has.
        for (const auto& choice : choices_)
            apply(choice.first, [&] { set_choice(result, choice.first, choice.second); });
        for (const auto& number : numbers_)
            apply(number.first, [&] { set_number(result, number.first, number.second); });
        for (Problem& problem : check(result))
            if (!concerns_bad_field(problem)) problems_.push_back(std::move(problem));
        return result;
    }

  private:
    static std::string expected(const Field& field) {
        if (field.kind != FieldKind::number) {
            std::string list;
            for (const std::string_view word : choices_of(field)) list += (list.empty() ? "" : ", ") + in_quotes(word);
            return "one of " + list;
        }
        if (field.dimension == Dimension::none) return "a number";
        return "a number or a text with unit such as " +
               in_quotes(quantity_text(field.usual_max, field.display_unit, field.dimension));
    }

    void refuse(const Entry& entry, std::string message) { refuse(entry, std::move(message), entry.written()); }
    void refuse(const Entry& entry, std::string message, std::string value) {
        problems_.push_back({entry.path, std::move(value), std::move(message)});
    }
    void missing(std::string_view path, std::string message) {
        bad_.insert(std::string(path));
        problems_.push_back({std::string(path), "", std::move(message)});
    }
    void contradiction(std::string_view path, std::string message) {
        bad_.insert(std::string(path));
        problems_.push_back({std::string(path), written_[std::string(path)], std::move(message)});
    }
    /// The reader has already named keys that are equal; this finds two spellings of one field.
    void twice(const Entry& entry) {
        const bool named = std::any_of(problems_.begin(), problems_.end(), [&](const Problem& problem) {
            return problem.path == entry.path || entry.path.substr(0, problem.path.size() + 1) == problem.path + ".";
        });
        if (!named) refuse(entry, "is given twice, with and without a unit or in two places");
    }

    void take_text(const Entry& entry) {
        if (entry.kind != Entry::Kind::text) return refuse(entry, "must be a text");
        if (entry.path == "name") name_ = entry.text;
        if (entry.path == "note") note_ = entry.text;
        if (entry.path == "schema") check_schema(entry);
    }

    void check_schema(const Entry& entry) {
        using Kind = case_versions::Format::Kind;
        const Kind kind = case_versions::read_format(entry.text).kind;
        newer_ = kind == Kind::newer;
        const std::string current(current_case_format);
        if (newer_) refuse(entry, "is newer than this program reads: " + current);
        if (kind == Kind::foreign) refuse(entry, "is not a case format of libblade; this version reads " + current);
    }

    void unknown(const Entry& entry) {
        const std::string now = case_versions::current_path(entry.path, case_versions::oldest);
        if (now != entry.path)
            return instead_of(*resolve_field(now).field, entry.path,
                              "is no longer a field: it is " + now +
                                  " now (\"libblade migrate\" renames it in a file "
                                  "that states its version, " +
                                  case_versions::format_name(case_versions::oldest) + ")");
        if (const Field* field = field_with_foreign_unit(entry.path)) {
            const std::string ending = entry.path.substr(field->path.size());
            return instead_of(*field, entry.path,
                              "is not a known field: " + in_quotes(shortened(ending)) + " is not a unit of " +
                                  std::string(to_string(field->dimension)));
        }
        for (const Field& field : field_table()) {
            if (is_below(entry.path, field.path))
                return instead_of(field, std::string(field.path), "must be " + expected(field) + ", not an object");
            if (is_below(field.path, entry.path)) {
                if (entry.text != empty_object) refuse(entry, "is a group of fields and must be an object { }");
                return;
            }
        }
        static constexpr auto top =
            std::to_array<std::string_view>({"blade", "tip", "roll", "ink", "setting", "name", "note", "schema"});
        std::string near = problems_.size() < many_problems ? nearest_field(entry.path) : std::string{};
        if (near.empty() && entry.path.find('.') == std::string::npos) near = nearest_word(entry.path, top);
        const std::string message =
            "is not a known field" + (near.empty() ? std::string{} : "; the nearest is " + near);
        if (const Field* field = find_field(near))
            instead_of(*field, shortened(entry.path), message);
        else
            problems_.push_back({shortened(entry.path), shortened(entry.written()), message});
    }

    static bool is_below(std::string_view path, std::string_view group) {
        return path.size() > group.size() && path.substr(0, group.size()) == group && path[group.size()] == '.';
    }

    static bool is_spelled_on(std::string_view path, std::string_view shorter) {
        return path.size() > shorter.size() && path.substr(0, shorter.size()) == shorter && path[shorter.size()] == '_';
    }

    /// The field whose name the path begins with, when the rest reads like a unit: "blade.thickness_deg".
    static const Field* field_with_foreign_unit(std::string_view path) {
        const std::size_t dot = path.rfind('.');
        for (std::size_t at = path.find('_', dot == std::string_view::npos ? 0 : dot); at != std::string_view::npos;
             at = path.find('_', at + 1)) {
            const Field* field = find_field(path.substr(0, at));
            // Not "screen" where "screen_angel" was to be "screen_angle".
            const bool mistyped = field != nullptr && is_spelled_on(nearest_field(path), field->path);
            if (field != nullptr && field->kind == FieldKind::number && !mistyped) return field;
        }
        return nullptr;
    }

    /// A field under a wrong name is not a missing field as well.
    void instead_of(const Field& field, std::string path, std::string message) {
        stated_.insert(std::string(field.path));
        bad_.insert(std::string(field.path));
        problems_.push_back({std::move(path), "", std::move(message)});
    }

    void take_choice(const Field& field, const Entry& entry) {
        const std::string path(field.path);
        if (entry.kind == Entry::Kind::text)
            choices_.emplace_back(path, entry.text);
        else
            bad_.insert(path), refuse(entry, "must be " + expected(field));
    }

    void take_number(const NamedField& named, const Entry& entry) {
        const Field& field = *named.field;
        const std::string path(field.path);
        try {
            if (entry.kind == Entry::Kind::number) {
                numbers_.emplace_back(path, to_si(entry.number, named.unit, field.dimension, entry.path));
            } else if (!named.unit.empty()) {
                bad_.insert(path);
                refuse(entry, "must be a number, because the name already carries the unit " + in_quotes(named.unit));
            } else if (const auto words = choices_of(field);
                       std::find(words.begin(), words.end(), entry.text) != words.end()) {
                choices_.emplace_back(path, entry.text);
            } else {
                numbers_.emplace_back(path, parse_quantity(entry.text, field.dimension, entry.path));
            }
        } catch (const InvalidInput& error) {
            bad_.insert(path);
            for (Problem problem : error.problems()) {
                problem.value = shortened(problem.value);
                problems_.push_back(std::move(problem));
            }
        }
    }

    [[nodiscard]] std::string choice(std::string_view path, std::string_view otherwise) const {
        for (const auto& [key, value] : choices_)
            if (key == path) return value;
        return std::string(otherwise);
    }

    /// Items of a list that the file has.
    [[nodiscard]] int item_count(std::string_view list) const {
        int count = 0;
        for (const Field& field : field_table())
            if (const ListItem item = list_item(field.path); item.list == list && stated(field.path))
                count = std::max(count, item.index + 1);
        return count;
    }

    void check_blade() {
        const bool sections = item_count("blade.sections") > 0;
        for (const std::string_view path : {"blade.free_length", "blade.thickness"}) {
            if (sections && stated(path)) contradiction(path, "contradicts blade.sections: state one of the two");
            if (!sections && !stated(path)) missing(path, "is missing: a case must state it, or blade.sections");
        }
    }

    void check_items() {
        for (const Field& field : field_table()) {
            const ListItem item = list_item(field.path);
            if (item.index < 0 || stated(field.path) || item.index >= item_count(item.list)) continue;
            const auto needs = needs_of_item(item.list);
            if (item.word == needs.first || item.word == needs.second)
                missing(field.path, "is missing: " + std::string(needs.words));
        }
    }

    void check_volume() {
        if (stated("roll.engraving.cell_volume") && stated("roll.engraving.cell_depth"))
            contradiction("roll.engraving.cell_depth",
                          "contradicts roll.engraving.cell_volume: state one of the two, the other follows");
    }

    void check_load() {
        static constexpr auto loads = std::to_array<std::string_view>(
            {"setting.line_load", "setting.interference", "setting.actuator.air_pressure", "setting.actuator.advance"});
        std::string_view first;
        for (const std::string_view path : loads) {
            if (!stated(path)) continue;
            if (!first.empty()) contradiction(path, "contradicts " + std::string(first) + ": state one of the two");
            if (first.empty()) first = path;
        }
        if (first.empty())
            missing("setting.line_load",
                    "is missing: a case must state setting.line_load, setting.interference, or the reading of its "
                    "setting.actuator");
        struct Part {
            std::string_view path, kind;
            bool needed;
        };
        static constexpr auto parts = std::to_array<Part>({{"setting.actuator.air_pressure", "air", false},
                                                           {"setting.actuator.piston_area", "air", true},
                                                           {"setting.actuator.lever_ratio", "air", false},
                                                           {"setting.actuator.blade_width", "air", true},
                                                           {"setting.actuator.dead_load", "air", false},
                                                           {"setting.actuator.advance", "screw", false},
                                                           {"setting.actuator.slope", "screw", false}});
        const std::string kind = choice("setting.actuator.kind", bad_.contains("setting.actuator.kind") ? "" : "none");
        if (kind != "none" && kind != "air" && kind != "screw") return;
        for (const Part& part : parts) {
            if (part.kind == kind && part.needed && !stated(part.path))
                missing(part.path, "is missing: setting.actuator.kind \"air\" takes it");
            if (part.kind != kind && stated(part.path))
                contradiction(part.path,
                              "needs setting.actuator.kind " + in_quotes(part.kind) + "; it is " + in_quotes(kind));
        }
    }

    void check_ink() {
        std::vector<std::string_view> parameters;  // of all laws
        for (const Field& field : field_table())
            if (is_below(field.path, "ink.rheology") && field.path != "ink.rheology.law")
                parameters.push_back(field.path);
        const bool any = std::any_of(parameters.begin(), parameters.end(), [&](auto path) { return stated(path); });
        const bool law = stated("ink.rheology.law");
        if (stated("ink.viscosity")) {
            for (const Field& field : field_table())
                if (is_below(field.path, "ink.rheology") && stated(field.path))
                    contradiction(field.path, "contradicts ink.viscosity: state either ink.viscosity or ink.rheology");
            return;
        }
        if (!law && any) return missing("ink.rheology.law", "is missing: " + expected(*find_field("ink.rheology.law")));
        if (!law) return missing("ink.viscosity", "is missing: a case must state ink.viscosity or ink.rheology");
        const std::string chosen = choice("ink.rheology.law", "");
        const auto laws = choices_of(*find_field("ink.rheology.law"));
        if (std::find(laws.begin(), laws.end(), chosen) == laws.end()) return;
        const auto takes = [](std::string_view word, std::string_view path) {
            Case sample;
            set_choice(sample, "ink.rheology.law", word);
            return has_field(sample, path);
        };
        for (const std::string_view path : parameters) {
            const bool taken = takes(chosen, path), optional = path == "ink.rheology.transition";
            if (taken && !optional && !stated(path)) missing(path, "is missing: the " + chosen + " law takes it");
            if (taken || !stated(path)) continue;
            std::string owners;
            for (const std::string_view word : laws)
                if (takes(word, path)) owners += (owners.empty() ? "" : " or ") + std::string(word);
            contradiction(path, "belongs to the " + owners + " law; ink.rheology.law is " + in_quotes(chosen));
        }
    }

    void check_tip() {
        static constexpr auto facet_fields = std::to_array<std::string_view>(
            {"tip.facet_length", "tip.bedding", "tip.bedded_angle", "tip.bedded_set_angle", "tip.bedded_line_load"});
        if (choice("tip.kind", "facet") == "square_edge") {
            for (const std::string_view path : facet_fields)
                if (stated(path)) contradiction(path, "contradicts tip.kind \"square_edge\", which has no facet");
            return;
        }
        const std::string bedding = choice("tip.bedding", bad_.contains("tip.bedding") ? "" : "here");
        const auto belongs = [&](std::string_view path, std::string_view kind) {
            if (bedding == kind && !stated(path))
                missing(path, "is missing: tip.bedding " + in_quotes(kind) + " takes it");
            if (bedding != kind && stated(path) && (bedding == "here" || bedding == "elsewhere" || bedding == "angle"))
                contradiction(path, "needs tip.bedding " + in_quotes(kind) + "; it is " + in_quotes(bedding));
        };
        belongs("tip.bedded_angle", "angle");
        belongs("tip.bedded_set_angle", "elsewhere");
        belongs("tip.bedded_line_load", "elsewhere");
    }

    template <class Set>
    void apply(const std::string& path, Set set) {
        if (bad_.contains(path)) return;
        try {
            set();
        } catch (const InvalidInput& error) {
            bad_.insert(path);
            for (Problem problem : error.problems()) {
                problem.path = spelling_[path];
                // A bare number shows what it was taken for: 25 is -248.15 degC.
                const std::string& given = written_[path];
                problem.value = given.front() == '"' || given == problem.value ? given : given + " = " + problem.value;
                problems_.push_back(std::move(problem));
            }
        }
    }

    /// A field that is missing or refused holds its default in the draft: no contradiction with it is the caller's.
    [[nodiscard]] bool concerns_bad_field(const Problem& problem) const {
        return std::any_of(bad_.begin(), bad_.end(), [&](const std::string& path) {
            return problem.path == path || problem.message.find(path) != std::string::npos;
        });
    }

    std::vector<Problem>& problems_;
    std::string name_, note_;
    bool newer_ = false;
    std::set<std::string> stated_, bad_;
    std::map<std::string, std::string> spelling_;  // the key as the file has it
    std::map<std::string, std::string> written_;   // the value as the file has it
    std::vector<std::pair<std::string, std::string>> choices_;
    std::vector<std::pair<std::string, double>> numbers_;
};

int version_of(const std::vector<Entry>& entries) {
    for (const Entry& entry : entries)
        if (entry.path == "schema" && entry.kind == Entry::Kind::text)
            return case_versions::read_format(entry.text).version;
    return case_versions::current;
}

/// Fields are checked under the names of today; the message adds the name that the file has.
void add_earlier_names(std::vector<Problem>& problems, int version) {
    for (Problem& problem : problems)
        if (const auto then = case_versions::earlier_name(problem.path, version); !then.empty())
            problem.message += "; in " + case_versions::format_name(version) + " it is " + std::string(then);
}

void throw_if_any(std::vector<Problem>& problems) {
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

/// "set_angle_rad": a bare number for an angle would be refused when read back.
std::string key_for(const Field& field) {
    return std::string(field.path) + (field.dimension == Dimension::angle ? "_rad" : "");
}

void put(nlohmann::ordered_json& root, std::string_view path, nlohmann::ordered_json value) {
    nlohmann::ordered_json* node = &root;
    for (std::size_t dot = path.find('.'); dot != std::string_view::npos; dot = path.find('.')) {
        const std::string_view word = path.substr(0, dot);
        if (word.front() >= '0' && word.front() <= '9') {  // the fields of an item come together and in order
            const auto index = static_cast<std::size_t>(std::stoi(std::string(word)));
            if (node->size() <= index) node->push_back(nlohmann::ordered_json::object());
            node = &(*node)[index];
        } else {
            node = &(*node)[std::string(word)];
        }
        path.remove_prefix(dot + 1);
    }
    (*node)[std::string(path)] = std::move(value);
}

}  // namespace

Case read_case(std::string_view json_text) {
    if (json_text.size() > largest_file)
        throw InvalidInput({{"", "", "the case is larger than 1 MiB, which no case is"}});
    Reader reader(json_text);
    const bool complete = nlohmann::json::sax_parse(json_text.begin(), json_text.end(), &reader);
    if (!complete || !reader.is_object()) {
        if (reader.problems.empty()) reader.problems.push_back({"", "", "a case must be a JSON object { }"});
        throw InvalidInput(std::move(reader.problems));
    }
    std::vector<Problem> problems = std::move(reader.problems);
    const int version = version_of(reader.entries);
    for (Problem& problem : problems) problem.path = case_versions::current_path(problem.path, version);
    Draft draft(problems);
    for (Entry& entry : reader.entries) {
        if (!case_versions::earlier_name(entry.path, version).empty()) {
            draft.take_later_name(entry);
            continue;
        }
        entry.path = case_versions::current_path(entry.path, version);
        draft.take(entry);
    }
    if (draft.newer()) {
        problems.erase(
            std::remove_if(problems.begin(), problems.end(), [](const auto& p) { return p.path != "schema"; }),
            problems.end());
        throw InvalidInput(std::move(problems));
    }
    draft.check_presence();
    Case result = draft.build();
    add_earlier_names(problems, version);
    throw_if_any(problems);
    return result;
}

Case load_case(const std::string& file_name) {
    const auto refuse = [&](const std::string& message) -> Case {
        throw InvalidInput({Problem{"", in_quotes(file_name), message}});
    };
    std::ifstream file(file_name, std::ios::binary);
    if (!file) return refuse("the case file cannot be opened");
    std::string text;
    std::array<char, 4096> block{};
    while (file.read(block.data(), block.size()) || file.gcount() > 0) {
        text.append(block.data(), static_cast<std::size_t>(file.gcount()));
        if (text.size() > largest_file) return refuse("the case file is larger than 1 MiB, which no case is");
    }
    if (file.bad()) return refuse("the case file cannot be read");
    return read_case(text);
}

std::string write_case(const Case& source) {
    nlohmann::ordered_json root;
    root["schema"] = current_case_format;
    root["name"] = source.name;
    root["note"] = source.note;
    const bool newtonian = std::holds_alternative<Newtonian>(source.ink.rheology);
    std::vector<Problem> problems;
    for (const Field& field : field_table()) {
        // A Newtonian ink is written once, by its short name.
        if (newtonian && field.path.substr(0, 13) == "ink.rheology.") continue;
        if (!has_field(source, field.path)) continue;
        const std::string choice = field.choices.empty() ? std::string{} : get_choice(source, field.path);
        if (!choice.empty()) {
            put(root, field.path, choice);
        } else if (field.kind == FieldKind::number) {
            const double value = get_number(source, field.path);
            if (!std::isfinite(value))
                problems.push_back({std::string(field.path), number_text(value), "is not a finite number"});
            put(root, key_for(field), value);
        } else {
            problems.push_back({std::string(field.path), "", "is not one of " + std::string(field.choices)});
        }
    }
    throw_if_any(problems);
    try {
        std::string text = root.dump(2) + '\n';
        if (text.size() > largest_file)
            throw InvalidInput({Problem{"note", "", "is too long: a case file is at most 1 MiB"}});
        return text;
    } catch (const nlohmann::json::exception&) {
        throw InvalidInput({Problem{"name", "", "name and note must be well-formed UTF-8"}});
    }
}

}  // namespace libblade
