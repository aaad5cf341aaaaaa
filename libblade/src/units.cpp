#include "libblade/units.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <locale>
#include <numbers>
#include <optional>
#include <sstream>
#include <utility>

#include "libblade/error.hpp"

namespace libblade {
namespace {

/// SI = (value + shift) * times / over. Two factors, because 0.15 / 1000 rounds to the double nearest 0.00015 where
/// 0.15 * 0.001 need not.
struct Unit {
    std::string_view name;  // as `tidy` leaves it
    Dimension dimension;
    double times = 1.0;
    double over = 1.0;
    double shift = 0.0;
};

using D = Dimension;
constexpr double inch = 0.0254;                  // exact (international inch)
constexpr double pound_force = 4.4482216152605;  // [N], exact by definition of the pound and standard gravity
constexpr double kilogram_force = 9.80665;       // [N], exact
constexpr double foot = 0.3048;                  // exact

// The first unit of each dimension is SI; the spellings that messages offer come next.
constexpr auto units = std::to_array<Unit>({
    {"1", D::none},
    {"%", D::none, 1, 100},
    {"percent", D::none, 1, 100},

    {"m", D::length},
    {"mm", D::length, 1, 1e3},
    {"um", D::length, 1, 1e6},
    {"cm", D::length, 1, 1e2},
    {"nm", D::length, 1, 1e9},
    {"in", D::length, inch},
    {"inch", D::length, inch},
    {"mil", D::length, inch, 1e3},
    {"thou", D::length, inch, 1e3},
    {"micron", D::length, 1, 1e6},
    {"microns", D::length, 1, 1e6},
    {"ft", D::length, foot},
    {"km", D::length, 1e3},

    {"rad", D::angle},
    {"deg", D::angle, std::numbers::pi, 180},
    {"mrad", D::angle, 1, 1e3},
    {"degree", D::angle, std::numbers::pi, 180},
    {"degrees", D::angle, std::numbers::pi, 180},
    {"arcmin", D::angle, std::numbers::pi, 10800},

    {"N/m", D::line_load},
    {"N/mm", D::line_load, 1e3},
    {"N/cm", D::line_load, 1e2},
    {"kN/m", D::line_load, 1e3},
    {"lbf/in", D::line_load, pound_force, inch},
    {"lbf/inch", D::line_load, pound_force, inch},
    {"pli", D::line_load, pound_force, inch},
    {"kgf/m", D::line_load, kilogram_force},
    {"kgf/cm", D::line_load, kilogram_force * 1e2},
    {"mN/mm", D::line_load},

    {"Pa", D::pressure},
    {"kPa", D::pressure, 1e3},
    {"MPa", D::pressure, 1e6},
    {"GPa", D::pressure, 1e9},
    {"bar", D::pressure, 1e5},
    {"mbar", D::pressure, 1e2},
    {"hPa", D::pressure, 1e2},
    {"N/m2", D::pressure},
    {"N/mm2", D::pressure, 1e6},
    {"psi", D::pressure, pound_force, inch* inch},

    {"m/s", D::speed},
    {"m/min", D::speed, 1, 60},
    {"ft/min", D::speed, foot, 60},
    {"fpm", D::speed, foot, 60},
    {"mm/s", D::speed, 1, 1e3},
    {"km/h", D::speed, 1e3, 3600},
    {"ft/s", D::speed, foot},

    {"Pa s", D::viscosity},
    {"mPa s", D::viscosity, 1, 1e3},
    {"cP", D::viscosity, 1, 1e3},
    {"P", D::viscosity, 1, 10},
    {"N s/m2", D::viscosity},
    {"kg/(m s)", D::viscosity},

    {"kg/m3", D::density},
    {"g/cm3", D::density, 1e3},
    {"g/ml", D::density, 1e3},
    {"g/mL", D::density, 1e3},
    {"kg/l", D::density, 1e3},
    {"kg/L", D::density, 1e3},
    {"g/l", D::density},
    {"g/L", D::density},

    {"K", D::temperature},
    {"degC", D::temperature, 1, 1, 273.15},
    {"C", D::temperature, 1, 1, 273.15},
    {"degF", D::temperature, 5, 9, 459.67},
    {"F", D::temperature, 5, 9, 459.67},

    {"m3/m2", D::volume_per_area},
    {"cm3/m2", D::volume_per_area, 1, 1e6},
    {"ml/m2", D::volume_per_area, 1, 1e6},
    {"mL/m2", D::volume_per_area, 1, 1e6},
    // A billion cubic micrometres on a square inch: 1e9 * 1e-18 m3 / in2.
    {"BCM/in2", D::volume_per_area, 1e-9, inch* inch},
    {"BCM/inch2", D::volume_per_area, 1e-9, inch* inch},
    {"BCM", D::volume_per_area, 1e-9, inch* inch},
    {"bcm/in2", D::volume_per_area, 1e-9, inch* inch},
    {"bcm", D::volume_per_area, 1e-9, inch* inch},

    {"1/m", D::per_length},
    {"1/cm", D::per_length, 1e2},
    {"lines/cm", D::per_length, 1e2},
    {"lines/inch", D::per_length, 1, inch},
    {"lpi", D::per_length, 1, inch},
    {"1/mm", D::per_length, 1e3},
    {"1/in", D::per_length, 1, inch},
    {"1/inch", D::per_length, 1, inch},
    {"lines/in", D::per_length, 1, inch},
    {"l/cm", D::per_length, 1e2},
    {"L/cm", D::per_length, 1e2},
    {"lpcm", D::per_length, 1e2},
    {"cells/cm", D::per_length, 1e2},
    {"cells/inch", D::per_length, 1, inch},
    {"lines/m", D::per_length},
    {"lines/mm", D::per_length, 1e3},
    {"cells/m", D::per_length},
    {"/cm", D::per_length, 1e2},
    {"/m", D::per_length},
    {"cm-1", D::per_length, 1e2},
    {"m-1", D::per_length},

    {"s", D::time},
    {"ms", D::time, 1, 1e3},
    {"us", D::time, 1, 1e6},
    {"min", D::time, 60},
    {"h", D::time, 3600},

    {"W/(m K)", D::conductivity},
    {"W/m/K", D::conductivity},
    {"W/m K", D::conductivity},
    {"mW/(m K)", D::conductivity, 1, 1e3},

    {"J/(kg K)", D::specific_heat},
    {"kJ/(kg K)", D::specific_heat, 1e3},
    {"J/kg/K", D::specific_heat},
    {"J/kg K", D::specific_heat},
    {"J/(g K)", D::specific_heat, 1e3},
    {"kJ/kg/K", D::specific_heat, 1e3},
    {"kJ/kg K", D::specific_heat, 1e3},

    {"m2/N", D::specific_wear},
    {"mm2/N", D::specific_wear, 1, 1e6},
    {"mm3/(N m)", D::specific_wear, 1, 1e9},
    {"mm3/N/m", D::specific_wear, 1, 1e9},
    {"mm3/N m", D::specific_wear, 1, 1e9},
    {"m3/(N m)", D::specific_wear},

    {"m2", D::area},
    {"cm2", D::area, 1, 1e4},
    {"mm2", D::area, 1, 1e6},
    {"in2", D::area, inch* inch},

    {"N", D::force},
    {"kN", D::force, 1e3},
    {"kgf", D::force, kilogram_force},
    {"lbf", D::force, pound_force},

    {"K", D::temperature_difference},

    {"N/m2", D::stiffness_per_width},
    {"N/m/mm", D::stiffness_per_width, 1e3},
    {"N/m/um", D::stiffness_per_width, 1e6},
    {"N/mm2", D::stiffness_per_width, 1e6},
    {"kN/m2", D::stiffness_per_width, 1e3},

    {"N/rad", D::rotational_stiffness},
    {"N/deg", D::rotational_stiffness, 180, std::numbers::pi},
    {"N m/rad/m", D::rotational_stiffness},

    {"W/m", D::power_per_width},
    {"kW/m", D::power_per_width, 1e3},

    {"m/m", D::wear_rate},
    {"mm/1000 km", D::wear_rate, 1, 1e9},
    {"mm/km", D::wear_rate, 1, 1e6},
    {"um/km", D::wear_rate, 1, 1e9},

    {"m3", D::volume},
    {"L", D::volume, 1, 1e3},
    {"ml", D::volume, 1, 1e6},
    {"l", D::volume, 1, 1e3},
    {"mL", D::volume, 1, 1e6},
    {"cm3", D::volume, 1, 1e6},

    {"m3/s", D::volume_flow},
    {"L/min", D::volume_flow, 1, 6e4},
    {"L/h", D::volume_flow, 1, 3.6e6},
    {"m3/h", D::volume_flow, 1, 3600},
    {"ml/min", D::volume_flow, 1, 6e7},
    {"l/min", D::volume_flow, 1, 6e4},
    {"l/h", D::volume_flow, 1, 3.6e6},
    {"mL/min", D::volume_flow, 1, 6e7},

    {"1/s", D::rate},
    {"1/min", D::rate, 1, 60},
    {"1/h", D::rate, 1, 3600},

    {"1/m3", D::number_per_volume},
    {"1/L", D::number_per_volume, 1e3},
    {"1/ml", D::number_per_volume, 1e6},
    {"1/l", D::number_per_volume, 1e3},
    {"1/mL", D::number_per_volume, 1e6},
    {"1/cm3", D::number_per_volume, 1e6},

    {"T2/m", D::field_gradient},

    {"W s0.5/(m2 K)", D::effusivity},
    {"W s0.5/m2/K", D::effusivity},
    {"J/(m2 K s0.5)", D::effusivity},
    {"J/(s0.5 m2 K)", D::effusivity},
});

bool is_digit(char c) noexcept { return c >= '0' && c <= '9'; }
bool is_letter(char c) noexcept { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }
bool is_blank(char c) noexcept { return c == ' ' || c == '\t' || c == '\n' || c == '\r'; }

std::string_view trimmed(std::string_view text) noexcept {
    while (!text.empty() && is_blank(text.front())) text.remove_prefix(1);
    while (!text.empty() && is_blank(text.back())) text.remove_suffix(1);
    return text;
}

void replace_all(std::string& text, std::string_view from, std::string_view to) {
    for (std::size_t at = text.find(from); at != std::string::npos; at = text.find(from, at + to.size()))
        text.replace(at, from.size(), to);
}

/// Signs that keyboards and word processors write in UTF-8, in plain letters.
std::string plain_letters(std::string_view text) {
    std::string plain(text);
    static constexpr std::pair<std::string_view, std::string_view> signs[] = {
        {"\xC2\xA0", " "},
        {"\xE2\x80\xAF", " "},
        {"\xE2\x80\x89", " "},  // no-break and thin spaces
        {"\xC2\xB5", "u"},
        {"\xCE\xBC", "u"},  // micro sign, Greek mu
        {"\xC2\xB0", "deg"},
        {"\xC2\xB7", " "},
        {"\xE2\x8B\x85", " "},  // degree, middle dot, dot operator
        {"\xC2\xB2", "2"},
        {"\xC2\xB3", "3"},
        {"\xE2\x88\x92", "-"},  // superscripts, minus
        {"^", ""},
        {"*", " "}};
    for (const auto& [sign, letters] : signs) replace_all(plain, sign, letters);
    return plain;
}

/// A unit as the table spells it: plain letters, one space between factors, none around a slash.
std::string tidy(std::string_view text) {
    const std::string plain = plain_letters(text);
    std::string unit;
    for (std::size_t i = 0; i < plain.size(); ++i) {
        char c = plain[i];
        if (c == '.' && i > 0 && i + 1 < plain.size() && is_letter(plain[i - 1]) && is_letter(plain[i + 1])) c = ' ';
        if (is_blank(c)) {
            if (!unit.empty() && unit.back() != ' ' && unit.back() != '/' && unit.back() != '(') unit += ' ';
            continue;
        }
        if ((c == '/' || c == ')') && !unit.empty() && unit.back() == ' ') unit.pop_back();
        unit += c;
    }
    while (!unit.empty() && unit.back() == ' ') unit.pop_back();
    return unit;
}

const Unit* find_unit(std::string_view name, Dimension dimension) noexcept {
    const auto* found = std::find_if(
        units.begin(), units.end(), [&](const Unit& unit) { return unit.dimension == dimension && unit.name == name; });
    return found == units.end() ? nullptr : found;
}

const Unit* find_unit(std::string_view name) noexcept {
    const auto* found = std::find_if(units.begin(), units.end(), [&](const Unit& unit) { return unit.name == name; });
    return found == units.end() ? nullptr : found;
}

std::string lower(std::string_view text) {
    std::string result(text);
    for (char& c : result)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    return result;
}

std::string accepted_units(Dimension dimension) {
    std::string list;
    int count = 0;
    for (const Unit& unit : units) {
        if (unit.dimension != dimension || count == 6) continue;
        list += (count++ == 0 ? "" : ", ") + std::string(unit.name);
    }
    return list;
}

std::string in_quotes(std::string_view text) { return '"' + std::string(text) + '"'; }

constexpr std::size_t longest_text = 200;  // of a number and a unit: what a text can ask of time and memory
std::string shortened(std::string_view text) {
    return text.size() <= longest_text ? std::string(text) : std::string(text.substr(0, 60)) + "...";
}

[[noreturn]] void refuse(std::string_view path, std::string_view value, std::string message) {
    throw InvalidInput({Problem{std::string(path), std::string(value), std::move(message)}});
}

std::string bare_angle_message() {
    return "a bare number for an angle is refused because degrees and radians cannot be told apart; write \"30 deg\" "
           "or "
           "\"0.5236 rad\", or put the unit in the name (set_angle_deg, set_angle_rad)";
}

std::string wrong_unit_message(std::string_view unit, Dimension dimension) {
    std::string message = "the unit " + in_quotes(unit) + " ";
    const bool kinematic = unit == "cSt" || unit == "St" || unit == "mm2/s" || unit == "m2/s";
    const Unit* known = find_unit(unit);
    if (dimension == D::viscosity && kinematic) {
        message +=
            "measures kinematic viscosity and dynamic viscosity is needed: multiply by the density "
            "(30 cSt at 1100 kg/m3 is 33 mPa s)";
    } else if (known != nullptr) {
        message += "is a unit of " + std::string(to_string(known->dimension)) + ", not of " +
                   std::string(to_string(dimension));
    } else {
        message += "is not known";
        std::string same_letters;
        for (const Unit& candidate : units)
            if (candidate.dimension == dimension && lower(candidate.name) == lower(unit))
                same_letters += (same_letters.empty() ? "" : " or ") + in_quotes(candidate.name);
        if (!same_letters.empty()) message += " (capitals matter: " + same_letters + ")";
    }
    return message + "; accepted for " + std::string(to_string(dimension)) + ": " + accepted_units(dimension);
}

/// Length of the decimal number at the start of text: sign, digits, point, exponent. 0 when there is none.
std::size_t number_length(std::string_view text) noexcept {
    std::size_t at = 0;
    if (at < text.size() && (text[at] == '+' || text[at] == '-')) ++at;
    const std::size_t first = at;
    std::size_t digits = 0;
    for (; at < text.size() && is_digit(text[at]); ++at) ++digits;
    if (at < text.size() && text[at] == '.') {
        ++at;
        for (; at < text.size() && is_digit(text[at]); ++at) ++digits;
    }
    if (digits == 0) return 0;
    // An "e" belongs to the number only when digits follow.
    if (at < text.size() && (text[at] == 'e' || text[at] == 'E')) {
        std::size_t power = at + 1;
        if (power < text.size() && (text[power] == '+' || text[power] == '-')) ++power;
        const std::size_t start = power;
        while (power < text.size() && is_digit(text[power])) ++power;
        if (power > start) at = power;
    }
    return at > first ? at : 0;
}

/// Value of an isolated number token. A stream with the classic locale, because strtod follows the program's locale.
std::optional<double> number_value(std::string_view token) {
    if (!token.empty() && token.front() == '+') token.remove_prefix(1);
    std::istringstream stream{std::string(token)};
    stream.imbue(std::locale::classic());
    double value = 0.0;
    stream >> value;
    if (stream.fail() || !std::isfinite(value)) return std::nullopt;
    return value;
}

}  // namespace

std::string_view si_unit(Dimension dimension) noexcept {
    if (dimension == D::effusivity) return "W s^0.5/(m2 K)";
    const auto* found =
        std::find_if(units.begin(), units.end(), [&](const Unit& unit) { return unit.dimension == dimension; });
    return found == units.end() ? std::string_view("1") : found->name;
}

std::string_view to_string(Dimension dimension) noexcept {
    switch (dimension) {
        case D::none:
            return "a plain number";
        case D::length:
            return "length";
        case D::angle:
            return "angle";
        case D::line_load:
            return "line load";
        case D::pressure:
            return "pressure";
        case D::speed:
            return "speed";
        case D::viscosity:
            return "dynamic viscosity";
        case D::density:
            return "density";
        case D::temperature:
            return "temperature";
        case D::volume_per_area:
            return "volume per area";
        case D::per_length:
            return "number per length";
        case D::time:
            return "time";
        case D::conductivity:
            return "thermal conductivity";
        case D::specific_heat:
            return "specific heat";
        case D::specific_wear:
            return "specific wear";
        case D::area:
            return "area";
        case D::force:
            return "force";
        case D::temperature_difference:
            return "temperature difference";
        case D::stiffness_per_width:
            return "stiffness per width";
        case D::rotational_stiffness:
            return "rotational stiffness per width";
        case D::power_per_width:
            return "power per width";
        case D::wear_rate:
            return "wear per length of web";
        case D::volume:
            return "volume";
        case D::volume_flow:
            return "volume flow";
        case D::rate:
            return "number per time";
        case D::number_per_volume:
            return "number per volume";
        case D::field_gradient:
            return "gradient of the squared induction";
        case D::effusivity:
            return "thermal effusivity";
    }
    return "unknown dimension";
}

std::vector<std::string_view> units_of(Dimension dimension) {
    std::vector<std::string_view> names;
    for (const Unit& unit : units)
        if (unit.dimension == dimension) names.push_back(unit.name);
    return names;
}

double to_si(double value, std::string_view unit, Dimension dimension, std::string_view path) {
    if (unit.size() > longest_text) refuse(path, shortened(unit), "is longer than any unit");
    const std::string name = tidy(unit);
    if (name.empty()) {
        if (dimension == D::angle) refuse(path, number_text(value), bare_angle_message());
        return value + 0.0;  // "-0" is 0
    }
    const Unit* found = find_unit(name, dimension);
    if (found == nullptr)
        refuse(path, number_text(value) + " " + std::string(unit), wrong_unit_message(name, dimension));
    return (value + found->shift) * found->times / found->over + 0.0;
}

double from_si(double value, std::string_view unit, Dimension dimension) {
    if (unit.size() > longest_text) refuse("", shortened(unit), "is longer than any unit");
    const std::string name = tidy(unit);
    if (name.empty()) return value;
    const Unit* found = find_unit(name, dimension);
    if (found == nullptr) refuse("", std::string(unit), wrong_unit_message(name, dimension));
    return value * found->over / found->times - found->shift;
}

double parse_quantity(std::string_view text, Dimension dimension, std::string_view path) {
    if (text.size() > longest_text)
        refuse(path, in_quotes(shortened(text)),
               "is too long; write a number and a unit: " + accepted_units(dimension));
    const std::string plain = plain_letters(text);
    const std::string_view body = trimmed(plain);
    if (body.empty())
        refuse(path, in_quotes(text), "is empty; write a number and a unit: " + accepted_units(dimension));
    const std::size_t length = number_length(body);
    if (length == 0)
        refuse(path, in_quotes(text),
               "does not start with a number; write a number and a unit: " + accepted_units(dimension));
    const std::string_view rest = body.substr(length);
    if (rest.size() > 1 && rest.front() == ',' && is_digit(rest[1]))
        refuse(path, in_quotes(text), "has a comma in the number; write a decimal point and no separators");
    const std::optional<double> value = number_value(body.substr(0, length));
    if (!value) refuse(path, in_quotes(text), "is too large for a number");
    try {
        const double si = to_si(*value, rest, dimension, path);
        if (!std::isfinite(si)) refuse(path, in_quotes(text), "is too large for a number");
        return si;
    } catch (const InvalidInput& error) {
        refuse(path, in_quotes(text), error.problems().front().message);  // the value as the caller wrote it
    }
}

std::string_view unit_of_suffix(std::string_view suffix, Dimension dimension) noexcept {
    // Compared letter by letter, without building the unit: nothing can fail here.
    for (const Unit& unit : units) {
        if (unit.dimension != dimension || unit.name.find_first_of("()%") != std::string_view::npos) continue;
        std::string_view left = suffix;
        std::string_view name = unit.name;
        if (name.substr(0, 2) == "1/") name.remove_prefix(1);
        bool same = !name.empty();
        for (std::size_t i = 0; same && i < name.size(); ++i) {
            const std::string_view expected = name[i] == '/'   ? (i == 0 ? "per_" : "_per_")
                                              : name[i] == ' ' ? std::string_view("_")
                                                               : name.substr(i, 1);
            same = left.substr(0, expected.size()) == expected;
            if (same) left.remove_prefix(expected.size());
        }
        if (same && left.empty()) return unit.name;
    }
    return {};
}

std::string number_text(double value, int digits) {
    std::ostringstream stream;
    stream.imbue(std::locale::classic());
    stream.precision(digits);
    stream << value;
    return stream.str();
}

std::string quantity_text(double si_value, std::string_view unit, Dimension dimension) {
    const std::string number = number_text(from_si(si_value, unit, dimension));
    return unit.empty() || unit == "1" ? number : number + " " + std::string(unit);
}

}  // namespace libblade
