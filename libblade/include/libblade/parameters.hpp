// The field table: every input field once, as data. Error texts, docs, keyword names and sweep paths come from it.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "libblade/case.hpp"
#include "libblade/error.hpp"
#include "libblade/units.hpp"

namespace libblade {

enum class FieldKind { number, choice, text };

struct Field {
    std::string_view path;          ///< "blade.thickness"
    std::string_view meaning;       ///< one line
    FieldKind kind = FieldKind::number;
    Dimension dimension = Dimension::none;
    std::string_view display_unit;  ///< shop unit, e.g. "mm"
    double hard_min = 0.0, hard_max = 0.0;    ///< SI; outside is refused
    double usual_min = 0.0, usual_max = 0.0;  ///< SI; outside warns
    std::string_view choices;       ///< for kind choice: "doctoring|trailing"
    std::string_view source;        ///< of the usual range
};

[[nodiscard]] std::span<const Field> field_table() noexcept;
[[nodiscard]] const Field* find_field(std::string_view path) noexcept;
/// Closest known path to a mistyped one; empty when none is near.
[[nodiscard]] std::string nearest_field(std::string_view path);

/// Sets a numeric field by path, SI; choosing setting.line_load or setting.interference replaces the other, likewise
/// ink.viscosity and the rheology, tip.bedded_angle and the bedding. Throws InvalidInput on an unknown path or a value out of range.
void set_number(Case& target, std::string_view path, double si_value);
/// Sets a choice field, e.g. ("setting.holding", "floating"); tip.facet_length accepts "worn".
void set_choice(Case& target, std::string_view path, std::string_view choice);
/// NaN when the field is absent in this case (e.g. interference under a line load).
[[nodiscard]] double get_number(const Case& source, std::string_view path);
/// Empty when the field is absent in this case.
[[nodiscard]] std::string get_choice(const Case& source, std::string_view path);

/// Every problem of a case: hard ranges and contradictions. Empty: good.
[[nodiscard]] std::vector<Problem> check(const Case& candidate);
/// Fields outside their usual range, with what may have been meant. Never refused.
[[nodiscard]] std::vector<Problem> unusual(const Case& candidate);

}  // namespace libblade
