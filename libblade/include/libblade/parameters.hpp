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
    std::string_view path;     ///< "blade.thickness"
    std::string_view meaning;  ///< one line
    FieldKind kind = FieldKind::number;
    Dimension dimension = Dimension::none;
    std::string_view display_unit;            ///< shop unit, e.g. "mm"; empty for plain numbers and choices
    double hard_min = 0.0, hard_max = 0.0;    ///< SI; outside is refused
    double usual_min = 0.0, usual_max = 0.0;  ///< SI; outside warns
    std::string_view choices;  ///< for kind choice: "doctoring|trailing"; a number with choices also takes a word
    std::string_view source;   ///< of the usual range
    bool required = false;     ///< a case file must state it
};

[[nodiscard]] std::span<const Field> field_table() noexcept;
[[nodiscard]] const Field* find_field(std::string_view path) noexcept;
/// Closest known path to a mistyped one; empty when none is near.
[[nodiscard]] std::string nearest_field(std::string_view path);
/// Closest of the known words to a mistyped one; empty when none is near.
[[nodiscard]] std::string nearest_word(std::string_view word, std::span<const std::string_view> known);
/// The words a field accepts, split at the bars.
[[nodiscard]] std::vector<std::string_view> choices_of(const Field& field);

/// A field and the unit that its name carries: "setting.set_angle_deg" is setting.set_angle in "deg".
struct NamedField {
    const Field* field = nullptr;  ///< null: no such field
    std::string_view unit;         ///< empty: the name carries none
};
/// Resolves a path whose last word may end in a unit. A known field whose ending is no unit of its dimension
/// gives null.
[[nodiscard]] NamedField resolve_field(std::string_view path) noexcept;

/// A field of an item of a list: "blade.sections.2.flush" is "flush" of item 2 of "blade.sections".
struct ListItem {
    std::string_view list, word;
    int index = -1;  ///< -1: not of a list
};
[[nodiscard]] ListItem list_item(std::string_view path) noexcept;
/// Items that a list of the table may have; 0: no such list.
[[nodiscard]] int most_items(std::string_view list) noexcept;
inline constexpr int kMostBearingPoints = 12;

/// The row with the hard range that holds in this case: that of ink.rheology.exponent depends on the law.
[[nodiscard]] Field field_in(const Case& source, const Field& field);
/// Every number and choice that the case has is inside its row's hard range; without words, and fast.
[[nodiscard]] bool within_hard_ranges(const Case& candidate);
/// "between 0.02 mm and 2 mm" in the display unit.
[[nodiscard]] std::string hard_range_text(const Field& field);
[[nodiscard]] std::string usual_range_text(const Field& field);
/// "if 0.15 mm was meant, write "0.15 mm"": the unit slip that would bring an SI value into the usual range; empty when
/// none.
[[nodiscard]] std::string likely_slip(const Field& field, double si_value);

/// Sets a numeric field by path, SI; choosing setting.line_load or setting.interference replaces the other, likewise
/// ink.viscosity and the rheology, tip.bedded_angle and the bedding, roll.engraving.cell_volume and cell_depth. A parameter
/// of another law turns the ink into the first law that has it, with the same flow curve where that law can hold it, else
/// with the viscosity at high shear: its infinite-shear viscosity, that of a power law at 1e7 1/s. Throws InvalidInput on
/// an unknown path, a value out of range or a facet field of a square edge.
void set_number(Case& target, std::string_view path, double si_value);
/// Sets a choice field, e.g. ("setting.holding", "floating"); tip.facet_length accepts "worn". "elsewhere" and "angle"
/// leave the bedded values at 0, which check() refuses until they are set. Another pattern than "elongated" brings
/// roll.engraving.aspect back to 1.
void set_choice(Case& target, std::string_view path, std::string_view choice);
/// Number of blade.sections: new ones start as the last one is, or as the uniform blade. 0 makes the blade uniform again, as
/// thick and as long as it was. Throws InvalidInput above kMostSections.
void set_section_count(Case& target, int count);
/// Number of points of roll.bearing_curve; gap and pressure of new ones are 0, which check() refuses until they are set.
/// Throws InvalidInput above kMostBearingPoints.
void set_bearing_count(Case& target, int count);
/// Makes an optional field absent: setting.film_supply, setting.holder_stiffness, blade.sections.0.end_thickness, ...
/// Without roll.engraving.cell_depth the cells keep the volume that it gave them.
void clear_field(Case& target, std::string_view path);
/// NaN when the field is absent in this case (e.g. interference under a line load).
[[nodiscard]] double get_number(const Case& source, std::string_view path);
/// Empty when the field is absent in this case.
[[nodiscard]] std::string get_choice(const Case& source, std::string_view path);
/// Whether this case has the field at all.
[[nodiscard]] bool has_field(const Case& source, std::string_view path);

/// Every problem of a case: hard ranges and contradictions. Empty: good.
[[nodiscard]] std::vector<Problem> check(const Case& candidate);
/// check(candidate).empty(), fast; takes nothing from the heap unless an actuator sets the load.
[[nodiscard]] bool is_sound(const Case& candidate);
/// The same where within_hard_ranges(candidate) is known.
[[nodiscard]] bool is_consistent(const Case& candidate);
/// Fields outside their usual range, with what may have been meant. Never refused.
[[nodiscard]] std::vector<Problem> unusual(const Case& candidate);

}  // namespace libblade
