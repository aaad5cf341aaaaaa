#include "libblade/flow_cup.hpp"

#include <algorithm>
#include <array>
#include <string>
#include <utility>
#include <vector>

#include "libblade/error.hpp"
#include "libblade/parameters.hpp"
#include "libblade/units.hpp"

namespace libblade {
namespace {

using F = CupForm;

// The standards were not at hand: constants and ranges are those of a calibration laboratory's public table and of a public
// conversion script, checked against the ranges that the standards print.
constexpr std::string_view iso_2431 =
    "ISO 2431:2011, annex; agrees with its ranges 7-42, 34-135, 91-326, 188-684 mm2/s";
constexpr std::string_view astm_d1200 = "ASTM D1200, from a laboratory's table";
// D4212 holds two families under the same numbers. These are the cups with a plain hole in a rounded bottom; those with a
// capillary below (shapes from memory) are left out, since standard and number do not tell them apart.
constexpr std::string_view astm_d4212 = "ASTM D4212, dip cups with a plain hole, from a laboratory's table";
constexpr std::string_view din_53211 =
    "DIN 53211 (withdrawn), from a public script; another table prints 112-685 mm2/s for the same times";

constexpr auto cups = std::to_array<FlowCup>({
    {"iso_2431_3", F::reciprocal, 0.443, 200.0, 30.0, 100.0, iso_2431},
    {"iso_2431_4", F::reciprocal, 1.37, 200.0, 30.0, 100.0, iso_2431},
    {"iso_2431_5", F::reciprocal, 3.28, 220.0, 30.0, 100.0, iso_2431},
    {"iso_2431_6", F::reciprocal, 6.9, 570.0, 30.0, 100.0, iso_2431},
    {"astm_d1200_1", F::linear, 0.49, 35.0, 55.0, 100.0, astm_d1200},
    {"astm_d1200_2", F::linear, 1.44, 18.0, 40.0, 100.0, astm_d1200},
    {"astm_d1200_3", F::linear, 2.31, 6.58, 20.0, 100.0, astm_d1200},
    {"astm_d1200_4", F::linear, 3.85, 4.49, 20.0, 100.0, astm_d1200},
    {"astm_d1200_5", F::linear, 12.1, 2.0, 20.0, 100.0, astm_d1200},
    {"astm_d4212_1", F::linear, 1.1, 29.0, 35.0, 80.0, astm_d4212},
    {"astm_d4212_2", F::linear, 3.5, 14.0, 20.0, 80.0, astm_d4212},
    {"astm_d4212_3", F::linear, 11.7, 7.5, 20.0, 80.0, astm_d4212},
    {"astm_d4212_4", F::linear, 14.8, 5.0, 20.0, 80.0, astm_d4212},
    {"astm_d4212_5", F::linear, 23.0, 0.0, 20.0, 80.0, astm_d4212},
    {"din_53211_4", F::reciprocal, 4.57, 452.0, 25.0, 150.0, din_53211},
});

[[noreturn]] void refuse(std::string_view path, std::string value, std::string message) {
    throw InvalidInput({Problem{std::string(path), std::move(value), std::move(message)}});
}

const FlowCup& cup_named(std::string_view name) {
    const auto* found = std::find_if(cups.begin(), cups.end(), [&](const FlowCup& cup) { return cup.name == name; });
    if (found != cups.end()) return *found;
    std::vector<std::string_view> names;
    for (const FlowCup& cup : cups) names.push_back(cup.name);
    const std::string near = nearest_word(name, names);
    std::string message = "is not a known cup";
    if (near.empty()) {
        message += "; known are";
        for (const std::string_view known : names)
            message += (known == names.front() ? " " : ", ") + std::string(known);
    } else {
        message += "; the nearest is " + near;
    }
    refuse("cup", '"' + std::string(name.substr(0, 60)) + '"', std::move(message));
}

}  // namespace

std::span<const FlowCup> flow_cups() noexcept { return cups; }

double flow_cup_viscosity(std::string_view cup, double seconds) {
    const FlowCup& found = cup_named(cup);
    if (!(seconds >= found.min_seconds && seconds <= found.max_seconds))
        refuse("seconds", number_text(seconds) + " s",
               "must be between " + number_text(found.min_seconds) + " s and " + number_text(found.max_seconds) +
                   " s for " + std::string(found.name) + ", where its formula holds: take another cup");
    const double t = seconds;
    const double nu = found.form == F::linear ? found.a * (t - found.b) : found.a * t - found.b / t;  // [mm2/s]
    return nu * 1e-6;
}

double ink_from_cup(std::string_view cup, double seconds, double density, double high_shear_ratio) {
    const double kinematic = flow_cup_viscosity(cup, seconds);
    std::vector<Problem> problems;
    const Field& field = *find_field("ink.density");
    if (!(density >= field.hard_min && density <= field.hard_max))
        problems.push_back(
            {"density", quantity_text(density, "kg/m3", Dimension::density), "must be " + hard_range_text(field)});
    if (!(high_shear_ratio >= 0.05 && high_shear_ratio <= 1.0))
        problems.push_back({"high_shear_ratio", number_text(high_shear_ratio),
                            "must be between 0.05 and 1: viscosity in the nip over viscosity in the cup"});
    if (!problems.empty()) throw InvalidInput(std::move(problems));
    return kinematic * density * high_shear_ratio;
}

}  // namespace libblade
