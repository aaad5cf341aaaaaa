#include "variables.hpp"

#include <algorithm>
#include <variant>

#include "libblade/nip_outputs.hpp"
#include "libblade/version.hpp"

namespace libblade::fmu {

namespace {

constexpr std::array<std::string_view, kNumbers> names{
    "film_on_lands",   "excess_ink",   "film_over_turn", "tangential_load", "power_per_width",
    "effective_angle", "bedded_angle", "line_load",      "interference",    "asperity_load",
    "wear_rate",       "facet_length", "length_lost",    "distance"};

/// Of a roll that runs out; the others are those at its mean.
constexpr std::array<std::string_view, 4> means{"film_on_lands", "excess_ink", "asperity_load", "wear_rate"};

Shown shown(std::string_view name) {
    if (name == "length_lost") return {name, "m", "mm", "blade lost along its roll-facing side"};
    if (name == "distance") return {name, "m", "km", "roll surface that has passed the blade"};
    const auto* row = std::find_if(libblade::outputs::table.begin(), libblade::outputs::table.end(),
                                   [&](const Output& output) { return output.name == name; });
    const bool mean = std::find(means.begin(), means.end(), name) != means.end();
    return {name, row->unit, row->display_unit, std::string(row->long_name) + (mean ? ", mean over a turn" : "")};
}

}  // namespace

const std::array<Shown, kNumbers>& outputs() {
    static const std::array<Shown, kNumbers> rows = [] {
        std::array<Shown, kNumbers> out;
        std::transform(names.begin(), names.end(), out.begin(), shown);
        return out;
    }();
    return rows;
}

const std::array<Word, kWords>& words() {
    static const std::array<Word, kWords> rows{{
        {"regime", "who carries the load", "none|wiping|mixed|riding|heel_contact|starved", 0},
        {"status", "running; standing: the roll stands; used_up: the thin tip has come down to its step",
         "running|standing|used_up", 1},
        {"setting.orientation", find_field("setting.orientation")->meaning, "doctoring|trailing", 1},
        {"setting.holding", find_field("setting.holding")->meaning, "fixed|floating", 1},
        {"wear.tier", "facet: the worn facet stays straight; profile: the worn surface itself", "facet|profile", 1},
    }};
    return rows;
}

int input_of(std::string_view path) noexcept {
    const auto* at = std::find(kInputs.begin(), kInputs.end(), path);
    return at == kInputs.end() ? -1 : static_cast<int>(at - kInputs.begin());
}

bool takes_word(const Field& field) noexcept { return field.kind == FieldKind::number && !field.choices.empty(); }

bool is_parameter(const Case& shipped, const Field& field) {
    return field.kind == FieldKind::number && input_of(field.path) < 0 && field.path != "setting.load_step" &&
           has_field(shipped, field.path);
}

double smallest(const Field& field) noexcept {
    return field.path == kInputs[surface_speed] || takes_word(field) ? 0.0 : field.hard_min;
}

std::string structured_name(std::string_view path) {
    std::string out;
    while (true) {
        const std::size_t dot = path.find('.');
        const std::string_view part = path.substr(0, dot);
        if (part.find_first_not_of("0123456789") == std::string_view::npos)
            out.back() = '[', out.append(part), out += ']';
        else
            out.append(part);
        if (dot == std::string_view::npos) return out;
        out += '.', path.remove_prefix(dot + 1);
    }
}

std::string digest(std::initializer_list<std::string_view> texts) {
    std::uint64_t hash = 14695981039346656037U;  // FNV-1a (Fowler, Noll, Vo), from memory
    for (const std::string_view text : texts) {
        for (const char c : text) hash = (hash ^ static_cast<unsigned char>(c)) * 1099511628211U;
        hash = (hash ^ 0xFFU) * 1099511628211U;
    }
    constexpr std::string_view digits = "0123456789abcdef";
    std::string out;
    for (int shift = 60; shift >= 0; shift -= 4) out += digits[(hash >> shift) & 0xFU];
    return out;
}

std::string instantiation_token() {
    std::string lists;
    const auto add = [&](std::string_view text) { lists.append(text) += '\n'; };
    for (const std::string_view name : names) add(name);
    for (const Word& word : words()) add(word.name), add(word.choices);
    for (const Field& field : field_table()) add(field.path), add(si_unit(field.dimension));
    return "libblade-nip-" + digest({version, lists});
}

void check_carried(const Case& shipped) {
    std::vector<Problem> problems = check(shipped);
    if (!std::holds_alternative<LineLoad>(shipped.setting.load))
        problems.push_back({"setting.line_load", "", "must be stated: it is an input of the unit"});
    if (std::holds_alternative<SquareEdge>(shipped.tip))
        problems.push_back({"tip.kind", "square_edge",
                            "must be facet; a new blade begins with a short one, e.g. tip.facet_length \"5 um\""});
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

}  // namespace libblade::fmu
