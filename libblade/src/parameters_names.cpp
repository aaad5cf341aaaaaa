// The names of the fields: found, resolved, and guessed where they are mistyped.
#include <algorithm>
#include <limits>
#include <numeric>
#include <unordered_map>

#include "libblade/parameters.hpp"

namespace libblade {
namespace {

/// Single letters inserted, left out, replaced or swapped with their neighbour (optimal string alignment).
std::size_t edit_distance(std::string_view a, std::string_view b) {
    std::vector<std::size_t> before(b.size() + 1), above(b.size() + 1), row(b.size() + 1);
    std::iota(above.begin(), above.end(), std::size_t{0});
    for (std::size_t i = 1; i <= a.size(); ++i) {
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            row[j] = std::min({above[j] + 1, row[j - 1] + 1, above[j - 1] + (a[i - 1] == b[j - 1] ? 0u : 1u)});
            const bool swapped = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
            if (swapped) row[j] = std::min(row[j], before[j - 2] + 1);
        }
        before.swap(above);
        above.swap(row);
    }
    return above[b.size()];
}

std::string_view last_word(std::string_view path) noexcept {
    const std::size_t dot = path.rfind('.');
    return dot == std::string_view::npos ? path : path.substr(dot + 1);
}

/// "radius" in "edge_radius" as a whole word.
bool has_word(std::string_view name, std::string_view word) {
    for (std::size_t at = name.find(word); at != std::string_view::npos; at = name.find(word, at + 1)) {
        const std::size_t end = at + word.size();
        if ((at == 0 || name[at - 1] == '_') && (end == name.size() || name[end] == '_')) return true;
    }
    return false;
}

}  // namespace

const Field* find_field(std::string_view path) noexcept {
    static const auto places = [] {
        std::unordered_map<std::string_view, const Field*> map;
        for (const Field& field : field_table()) map.emplace(field.path, &field);
        return map;
    }();
    const auto found = places.find(path);
    return found == places.end() ? nullptr : found->second;
}

std::vector<std::string_view> choices_of(const Field& field) {
    std::vector<std::string_view> words;
    std::string_view rest = field.choices;
    while (!rest.empty()) {
        const std::size_t bar = std::min(rest.find('|'), rest.size());
        words.push_back(rest.substr(0, bar));
        rest.remove_prefix(std::min(bar + 1, rest.size()));
    }
    return words;
}

std::string nearest_word(std::string_view word, std::span<const std::string_view> known) {
    if (word.size() > 200) return {};
    std::string best;
    std::size_t smallest = std::max<std::size_t>(word.size() / 3, 1) + 1;  // more than a third wrong is no likeness
    for (const std::string_view candidate : known) {
        const std::size_t distance = edit_distance(word, candidate);
        if (distance < smallest) {
            smallest = distance;
            best = candidate;
        }
    }
    return best;
}

std::string nearest_field(std::string_view path) {
    if (path.empty() || path.size() > 200) return {};
    const std::string_view word = last_word(path);
    std::string best;
    double smallest = std::numeric_limits<double>::infinity();
    const auto offer = [&](const Field& field, double distance) {
        if (distance < smallest) {
            smallest = distance;
            best = field.path;
        }
    };
    for (const Field& field : field_table()) {
        const std::string_view field_word = last_word(field.path);
        const auto whole = static_cast<double>(edit_distance(path, field.path));
        if (whole <= std::max(1.0, static_cast<double>(path.size()) / 5.0)) offer(field, whole);
        // The right name in the wrong group, a mistyped name, a name that carries a unit, one word of a longer name.
        // Among equals the group decides: half a letter for every letter of the path that differs.
        const double elsewhere = 0.01 * whole;
        const auto name = static_cast<double>(edit_distance(word, field_word));
        if (name <= static_cast<double>(word.size()) / 4.0) offer(field, name + elsewhere);
        if (word.size() > field_word.size() && word.substr(0, field_word.size()) == field_word)
            offer(field, 1.0 + elsewhere);
        if (word.size() > 3 && has_word(field_word, word)) offer(field, 1.5 + elsewhere);
    }
    return best;
}

NamedField resolve_field(std::string_view path) noexcept {
    if (const Field* field = find_field(path)) return {field, {}};
    const std::size_t start = path.size() - last_word(path).size();
    for (std::size_t at = path.find('_', start); at != std::string_view::npos; at = path.find('_', at + 1)) {
        const Field* field = find_field(path.substr(0, at));
        if (field == nullptr || field->kind != FieldKind::number) continue;
        const std::string_view unit = unit_of_suffix(path.substr(at + 1), field->dimension);
        if (!unit.empty()) return {field, unit};
    }
    return {};
}

ListItem list_item(std::string_view path) noexcept {
    const std::size_t digit = path.find_first_of("0123456789");
    if (digit == std::string_view::npos || digit == 0 || path[digit - 1] != '.') return {};
    const std::size_t end = path.find('.', digit);
    if (end == std::string_view::npos || end > digit + 2) return {};
    int index = 0;
    for (const char c : path.substr(digit, end - digit)) {
        if (c < '0' || c > '9') return {};
        index = 10 * index + (c - '0');
    }
    return {path.substr(0, digit - 1), path.substr(end + 1), index};
}

int most_items(std::string_view list) noexcept {
    int most = 0;
    for (const Field& field : field_table())
        if (const ListItem item = list_item(field.path); item.index >= 0 && item.list == list)
            most = std::max(most, item.index + 1);
    return most;
}

}  // namespace libblade
