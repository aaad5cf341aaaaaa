#include "catch.hpp"
#include "expect.hpp"

#include <cmath>
#include <limits>
#include <locale>
#include <set>
#include <string>
#include <string_view>

#include "libblade/error.hpp"
#include "libblade/units.hpp"

using namespace libblade;
using D = Dimension;

namespace {

/// Message of the refusal; empty when nothing was refused.
std::string refusal(std::string_view text, Dimension dimension) {
    try {
        (void)parse_quantity(text, dimension, "some.path");
    } catch (const InvalidInput& error) {
        REQUIRE(error.problems().size() == 1);
        CHECK(error.problems().front().path == "some.path");
        return error.problems().front().message;
    }
    return {};
}

bool says(const std::string& message, std::string_view words) { return message.find(words) != std::string::npos; }

constexpr D dimensions[] = {D::none,
                            D::length,
                            D::angle,
                            D::line_load,
                            D::pressure,
                            D::speed,
                            D::viscosity,
                            D::density,
                            D::temperature,
                            D::volume_per_area,
                            D::per_length,
                            D::time,
                            D::conductivity,
                            D::specific_heat,
                            D::specific_wear,
                            D::area,
                            D::force,
                            D::volume,
                            D::volume_flow,
                            D::rate,
                            D::number_per_volume,
                            D::field_gradient,
                            D::effusivity};

struct Reading {
    std::string_view text;
    Dimension dimension;
    double si;
};

// Exact by definition: inch 25.4 mm, foot 0.3048 m, pound-force 4.4482216152605 N, kilogram-force 9.80665 N, degree
// pi/180, 0 degC = 273.15 K (NIST Special Publication 811, appendix B, from memory; they are definitions).
const Reading readings[] = {
    {"0.15 mm", D::length, 0.00015},
    {"0.3 um", D::length, 0.3e-6},
    {"0.3 \xC2\xB5m", D::length, 0.3e-6},
    {"0.3 \xCE\xBCm", D::length, 0.3e-6},
    {"8 thou", D::length, 0.0002032},
    {"8 mil", D::length, 0.0002032},
    {"2 inch", D::length, 0.0508},
    {"1.2 cm", D::length, 0.012},
    {"0.012", D::length, 0.012},
    {".5mm", D::length, 0.0005},
    {"5.mm", D::length, 0.005},
    {"+1e-1 mm", D::length, 0.0001},
    {"1E2um", D::length, 1e-4},
    {" \t2 mm\n", D::length, 0.002},
    {"250 nm", D::length, 2.5e-7},
    {"30 deg", D::angle, 0.52359877559829887},
    {"0.5 rad", D::angle, 0.5},
    {"30 \xC2\xB0", D::angle, 0.52359877559829887},
    {"30\xC2\xB0", D::angle, 0.52359877559829887},
    {"60 arcmin", D::angle, 0.017453292519943295},
    {"120N/m", D::line_load, 120.0},
    {"0.12 N/mm", D::line_load, 120.0},
    {"1.2 N/cm", D::line_load, 120.0},
    {"0.12 kN/m", D::line_load, 120.0},
    {"1 lbf/in", D::line_load, 175.12683524647636},
    {"1 kgf/cm", D::line_load, 980.665},
    {"100 N / m", D::line_load, 100.0},
    {"3 MPa", D::pressure, 3e6},
    {"205 GPa", D::pressure, 205e9},
    {"2 kPa", D::pressure, 2e3},
    {"0.02 bar", D::pressure, 2e3},
    {"20 mbar", D::pressure, 2e3},
    {"1 psi", D::pressure, 6894.7572931683613},
    {"3 N/mm\xC2\xB2", D::pressure, 3e6},
    {"300 m/min", D::speed, 5.0},
    {"5 m/s", D::speed, 5.0},
    {"1000 ft/min", D::speed, 5.08},
    {"18 km/h", D::speed, 5.0},
    {"60 mPa s", D::viscosity, 0.06},
    {"60 mPa.s", D::viscosity, 0.06},
    {"60 mPa\xC2\xB7s", D::viscosity, 0.06},
    {"60mPa*s", D::viscosity, 0.06},
    {"0.03 Pa s", D::viscosity, 0.03},
    {"30 cP", D::viscosity, 0.03},
    {"0.3 P", D::viscosity, 0.03},
    {"1.1 g/cm3", D::density, 1100.0},
    {"1.1 g/cm^3", D::density, 1100.0},
    {"1100 kg/m\xC2\xB3", D::density, 1100.0},
    {"25 degC", D::temperature, 298.15},
    {"25 \xC2\xB0"
     "C",
     D::temperature, 298.15},
    {"298 K", D::temperature, 298.0},
    {"77 degF", D::temperature, 298.15},
    {"-5 degC", D::temperature, 268.15},
    {"\xE2\x88\x92"
     "5 degC",
     D::temperature, 268.15},
    {"4 cm3/m2", D::volume_per_area, 4e-6},
    {"4 ml/m2", D::volume_per_area, 4e-6},
    {"1 BCM/in2", D::volume_per_area, 1.5500031000062e-6},
    {"1 BCM", D::volume_per_area, 1.5500031000062e-6},
    {"120 1/cm", D::per_length, 12000.0},
    {"120/cm", D::per_length, 12000.0},
    {"120 lines/cm", D::per_length, 12000.0},
    {"305 lines/inch", D::per_length, 12007.874015748031},
    {"305 lpi", D::per_length, 12007.874015748031},
    {"0.5 ms", D::time, 5e-4},
    {"0.3 W/(m K)", D::conductivity, 0.3},
    {"0.3 W/m/K", D::conductivity, 0.3},
    {"2.5 kJ/(kg K)", D::specific_heat, 2500.0},
    {"2e-15 m2/N", D::specific_wear, 2e-15},
    {"2e-6 mm3/(N m)", D::specific_wear, 2e-15},
    {"10 cm2", D::area, 1e-3},
    {"10 cm\xC2\xB2", D::area, 1e-3},
    {"250 mm^2", D::area, 2.5e-4},
    {"2 in2", D::area, 0.00129032},
    {"20 N", D::force, 20.0},
    {"1.2 kN", D::force, 1200.0},
    {"2 kgf", D::force, 19.6133},
    {"1 lbf", D::force, 4.4482216152605},
    {"20 L", D::volume, 0.02},
    {"5 ml", D::volume, 5e-6},
    {"9 L/min", D::volume_flow, 1.5e-4},
    {"7.2 l/h", D::volume_flow, 2e-6},
    {"90 1/h", D::rate, 0.025},
    {"2 1/ml", D::number_per_volume, 2e6},
    {"2 1/L", D::number_per_volume, 2e3},
    {"20 T^2/m", D::field_gradient, 20.0},
    {"3700 W s^0.5/(m2 K)", D::effusivity, 3700.0},
    {"90 %", D::none, 0.9},
    {"0.9", D::none, 0.9},
    {"4", D::none, 4.0},
};

}  // namespace

TEST_CASE("quantities are read in the spellings of the trade", "[units]") {
    for (const Reading& reading : readings) {
        INFO(reading.text);
        expect_close(parse_quantity(reading.text, reading.dimension, "p"), reading.si, 4e-15,
                     "definitions of the units; a few roundings of a double");
    }
}

TEST_CASE("decimal multiples give the double nearest to the decimal number", "[units]") {
    CHECK(parse_quantity("0.15 mm", D::length, "p") == 0.00015);
    CHECK(parse_quantity("0.2 mm", D::length, "p") == 0.0002);
    CHECK(parse_quantity("0.24 um", D::length, "p") == 0.24e-6);
    CHECK(parse_quantity("60 mPa s", D::viscosity, "p") == 0.06);
    CHECK(parse_quantity("300 m/min", D::speed, "p") == 5.0);
}

TEST_CASE("what cannot be read is refused with the reason", "[units]") {
    CHECK(says(refusal("30", D::angle), "set_angle_deg"));
    CHECK(says(refusal("30", D::angle), "30 deg"));
    CHECK(says(refusal("30 cSt", D::viscosity), "kinematic"));
    CHECK(says(refusal("30 cSt", D::viscosity), "multiply by the density"));
    CHECK(says(refusal("30 mpa s", D::viscosity), "\"mPa s\""));
    CHECK(says(refusal("3 MPa", D::length), "unit of pressure, not of length"));
    CHECK(says(refusal("3 furlong", D::length), "mm"));
    CHECK(says(refusal("0,15 mm", D::length), "decimal point"));
    CHECK(says(refusal("1,000 N/m", D::line_load), "no separators"));
    CHECK(says(refusal("1e999 mm", D::length), "too large"));
    CHECK(says(refusal("1e308 GPa", D::pressure), "too large"));
    for (const std::string_view text : {"", "  ", "mm", "-", "+", ".", "e5 mm", ".e5", "nan", "nan mm", "inf mm",
                                        "--5 mm", "\xC2\xB0", "\xFF\xFE", "\xC2"}) {
        INFO(text);
        CHECK_FALSE(refusal(text, D::length).empty());
    }
    for (const std::string_view text :
         {"5 5 mm", "0x10 mm", "5e mm", "5 mm mm", "5 mm/", "5 /mm", "5 ()", "1.2.3 mm", "5 \xFF"}) {
        INFO(text);
        CHECK(says(refusal(text, D::length), "the unit"));
    }
    const std::string long_text = std::string(100000, '9') + " mm";
    CHECK(says(refusal(long_text, D::length), "too long"));
    CHECK(says(refusal("1e400 mm", D::length), "too large"));
}

TEST_CASE("the refused value is shown as it was written", "[units]") {
    try {
        (void)parse_quantity("30 furlong", D::length, "blade.thickness");
        FAIL("was accepted");
    } catch (const InvalidInput& error) {
        CHECK(error.problems().front().value == "\"30 furlong\"");
        CHECK(error.problems().front().path == "blade.thickness");
    }
}

TEST_CASE("every unit converts there and back, and has its SI unit first", "[units]") {
    for (const D dimension : dimensions) {
        const auto names = units_of(dimension);
        REQUIRE_FALSE(names.empty());
        std::set<std::string_view> distinct(names.begin(), names.end());
        CHECK(distinct.size() == names.size());
        CHECK(from_si(7.25, si_unit(dimension), dimension) == 7.25);
        CHECK(to_si(7.25, si_unit(dimension), dimension, "p") == 7.25);
        for (const std::string_view name : names) {
            INFO(name);
            // Offsets of temperatures cost digits: 460 / 7 roundings of a double.
            expect_close(from_si(to_si(7.25, name, dimension, "p"), name, dimension), 7.25, 1e-13,
                         "round trip of doubles");
            CHECK(parse_quantity("7.25 " + std::string(name), dimension, "p") == to_si(7.25, name, dimension, "p"));
        }
    }
    CHECK_THROWS_AS(from_si(1.0, "furlong", D::length), InvalidInput);
    CHECK_THROWS_AS(to_si(1.0, "MPa", D::length, "p"), InvalidInput);
    CHECK_THROWS_AS(to_si(30.0, "", D::angle, "p"), InvalidInput);
    CHECK(to_si(30.0, "", D::length, "p") == 30.0);
}

TEST_CASE("a field name may end in a unit", "[units]") {
    const auto unit = [](std::string_view suffix, D dimension) {
        return std::string(unit_of_suffix(suffix, dimension));
    };
    CHECK(unit("deg", D::angle) == "deg");
    CHECK(unit("mm", D::length) == "mm");
    CHECK(unit("m", D::length) == "m");
    CHECK(unit("m_per_min", D::speed) == "m/min");
    CHECK(unit("mPa_s", D::viscosity) == "mPa s");
    CHECK(unit("N_per_m", D::line_load) == "N/m");
    CHECK(unit("per_cm", D::per_length) == "1/cm");
    CHECK(unit("lines_per_inch", D::per_length) == "lines/inch");
    CHECK(unit("cm3_per_m2", D::volume_per_area) == "cm3/m2");
    CHECK(unit("BCM_per_in2", D::volume_per_area) == "BCM/in2");
    CHECK(unit("degC", D::temperature) == "degC");
    CHECK(unit("GPa", D::pressure) == "GPa");
    CHECK(unit("kPa", D::pressure) == "kPa");
    CHECK(unit("W_per_m_K", D::conductivity) == "W/m K");
    CHECK(unit("J_per_kg_K", D::specific_heat) == "J/kg K");
    CHECK(unit("m2_per_N", D::specific_wear) == "m2/N");
    CHECK(unit("percent", D::none) == "percent");
    CHECK(unit("deg", D::length).empty());
    CHECK(unit("", D::length).empty());
    CHECK(unit("mm_", D::length).empty());
    CHECK(unit("m_per", D::speed).empty());
}

namespace {
struct CommaForPoint : std::numpunct<char> {
    char do_decimal_point() const override { return ','; }
    char do_thousands_sep() const override { return '.'; }
    std::string do_grouping() const override { return "\3"; }
};
}  // namespace

TEST_CASE("the program's locale changes nothing", "[units]") {
    const std::locale before = std::locale::global(std::locale(std::locale::classic(), new CommaForPoint));
    const double read = parse_quantity("1234.5 mm", D::length, "p");
    const std::string written = number_text(1234.5);
    const std::string refused = refusal("0,15 mm", D::length);
    std::locale::global(before);
    CHECK(read == 1.2345);
    CHECK(written == "1234.5");
    CHECK_FALSE(refused.empty());
}

TEST_CASE("numbers are written short, or with all their digits", "[units]") {
    CHECK(number_text(0.15) == "0.15");
    CHECK(number_text(2e-15) == "2e-15");
    CHECK(quantity_text(0.00015, "mm", D::length) == "0.15 mm");
    CHECK(quantity_text(298.15, "degC", D::temperature) == "25 degC");
    CHECK(quantity_text(0.9, "", D::none) == "0.9");
    for (const double value : {0.1, 1.0 / 3.0, 2e-15, 205e9, 5e-324, std::numeric_limits<double>::max()})
        CHECK(parse_quantity(number_text(value, 17), D::length, "p") == value);
}

TEST_CASE("a text can ask for little", "[units]") {
    std::string degrees = "30 ";
    for (int k = 0; k < 500'000; ++k) degrees += "\xC2\xB0";  // each longer when spelled out
    for (const std::string& text : {degrees, "1 " + std::string(1'000'000, 'm'), std::string(1'000'000, '9')}) {
        const std::string message = refusal(text, D::angle);
        CHECK_FALSE(message.empty());
        CHECK(message.size() < 1000);
    }
    CHECK_THROWS_AS(to_si(1.0, degrees, D::angle, "p"), InvalidInput);
    CHECK_THROWS_AS(from_si(1.0, degrees, D::angle), InvalidInput);
    CHECK(parse_quantity("0.15" + std::string(150, '0') + " mm", D::length, "p") ==
          parse_quantity("0.15 mm", D::length, "p"));
}

TEST_CASE("a zero has no sign", "[units]") {  // found by fuzzing: "-0" did not come back from "-0 m"
    CHECK_FALSE(std::signbit(parse_quantity("-0", D::length, "p")));
    CHECK_FALSE(std::signbit(parse_quantity("-0 m", D::length, "p")));
    CHECK_FALSE(std::signbit(parse_quantity("-4e-324 um", D::length, "p")));
    CHECK_FALSE(std::signbit(to_si(-0.0, "", D::none, "p")));
}
