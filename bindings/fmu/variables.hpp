// What the unit shows: names, references, units. The unit and the writer of its description read the same lists.
#pragma once

#include <array>
#include <cstdint>
#include <initializer_list>
#include <string>
#include <string_view>

#include "libblade/parameters.hpp"

namespace libblade::fmu {

using Reference = std::uint32_t;
inline constexpr Reference kTime = 0;
inline constexpr Reference kFirstOutput = 1;    ///< numbers, in the order of `outputs`
inline constexpr Reference kFirstWord = 100;    ///< enumerations, in the order of `words`
inline constexpr Reference kFirstField = 1000;  ///< fields of the case, by their row in the field table

/// A number that the unit gives.
struct Shown {
    std::string_view name, unit, display_unit;
    std::string meaning;
};
enum Number {
    film_on_lands,
    excess_ink,
    film_over_turn,
    tangential_load,
    power_per_width,
    effective_angle,
    bedded_angle,
    line_load,
    interference,
    asperity_load,
    wear_rate,
    facet_length,
    length_lost,
    distance,
    kNumbers
};
/// Units and meanings are those of nip_outputs.hpp where it has the name.
[[nodiscard]] const std::array<Shown, kNumbers>& outputs();

/// How the unit stands; the roll of a standing one does not turn.
enum class Standing { running = 1, standing, used_up };

/// Words: the first two are outputs, the others parameters. Values count from `first`.
struct Word {
    std::string_view name, meaning, choices;
    int first;
};
enum Spoken { regime, status, orientation, holding, tier, kWords };
[[nodiscard]] const std::array<Word, kWords>& words();
inline constexpr int kGivenWords = 2;

/// Inputs, by path.
inline constexpr std::array<std::string_view, 4> kInputs{"setting.surface_speed", "setting.line_load",
                                                         "setting.set_angle", "ink.temperature"};
enum Input { surface_speed, set_load, set_angle, ink_temperature };
/// Index in kInputs; -1: none.
[[nodiscard]] int input_of(std::string_view path) noexcept;
/// A number of this case that may be set before the unit starts: all it has, but the inputs and what plays no part in wear.
[[nodiscard]] bool is_parameter(const Case& shipped, const Field& field);
/// A length that also takes a word: 0 stands for it.
[[nodiscard]] bool takes_word(const Field& field) noexcept;
/// Smallest value that the unit takes: of a speed, and of a length that takes a word, 0 too.
[[nodiscard]] double smallest(const Field& field) noexcept;
/// "blade.sections.0.length" as the standard writes it: "blade.sections[0].length".
[[nodiscard]] std::string structured_name(std::string_view path);

/// Sixteen hexadecimal digits that tell these texts from others.
[[nodiscard]] std::string digest(std::initializer_list<std::string_view> texts);
/// Stands in the description and comes back at instantiation: the lists above, so that a description of other lists is refused.
[[nodiscard]] std::string instantiation_token();

/// Throws InvalidInput on a case that the unit cannot carry: its load must be a line load, its blade have a facet.
void check_carried(const Case& shipped);

}  // namespace libblade::fmu
