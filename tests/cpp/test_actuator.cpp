#include "libblade/actuator.hpp"

#include <cmath>
#include <limits>
#include <numbers>
#include <string>
#include <string_view>
#include <vector>

#include "expect.hpp"
#include "libblade/error.hpp"

using namespace libblade;

namespace {

constexpr double no_number = std::numeric_limits<double>::quiet_NaN();
constexpr double infinite = std::numeric_limits<double>::infinity();
constexpr double degree = std::numbers::pi / 180.0;

// Invented: 1.5 bar on 10 cm2, a lever of 1.2, 20 N of weight, a blade of 1.3 m.
const PneumaticActuator example{1.5e5, 1e-3, 1.2, 1.3, 20.0};

template <class Call>
std::vector<Problem> problems_of(Call call) {
    try {
        (void)call();
    } catch (const InvalidInput& error) {
        return error.problems();
    }
    return {};
}

template <class Call>
void refuses(std::string_view path, std::string_view words, Call call) {
    const auto problems = problems_of(call);
    REQUIRE(problems.size() == 1);
    INFO(problems.front().path << ": " << problems.front().message << " (got " << problems.front().value << ")");
    CHECK(problems.front().path == path);
    CHECK(problems.front().message.find(words) != std::string::npos);
}

}  // namespace

TEST_CASE("line load is the balance of the lever over the width", "[actuator]") {
    // By hand: 1.5e5 Pa x 1e-3 m2 x 1.2 = 180 N, + 20 N = 200 N, over 1.3 m = 153.846154 N/m.
    expect_close(line_load_of(example), 153.846154, 3e-9, "9 digits by hand");
    // And back: 100 N/m x 1.3 m = 130 N, - 20 N = 110 N; / (1e-3 m2 x 1.2) = 91666.67 Pa.
    expect_close(air_pressure_for(example, 100.0), 91666.6667, 1e-9, "9 digits by hand");
}

TEST_CASE("air pressure and line load go there and back", "[actuator]") {
    for (const double load : {16.0, 40.0, 100.0, 250.0, 1000.0}) {
        for (const double dead : {-50.0, 0.0, 20.0}) {
            PneumaticActuator actuator = example;
            actuator.dead_load = dead;
            actuator.air_pressure = air_pressure_for(actuator, load);
            // The difference load - dead load costs digits where they nearly cancel: 20.8 N - 20 N, a factor of 26.
            expect_close(line_load_of(actuator), load, 1e-14, "roundings of a double");
        }
    }
}

TEST_CASE("each lever of the actuator acts as statics says", "[actuator]") {
    PneumaticActuator actuator = example;
    actuator.dead_load = 0.0;
    const double load = line_load_of(actuator);
    actuator.air_pressure *= 2.0;
    expect_close(line_load_of(actuator), 2.0 * load, 1e-15, "proportional to pressure");
    actuator.piston_area *= 0.5, actuator.lever_ratio *= 3.0;
    expect_close(line_load_of(actuator), 3.0 * load, 1e-15, "proportional to area and lever ratio");
    actuator.blade_width *= 2.0;
    expect_close(line_load_of(actuator), 1.5 * load, 1e-15, "spread over the width");
    actuator.air_pressure = 0.0, actuator.dead_load = 26.0;
    expect_close(line_load_of(actuator), 10.0, 1e-15, "26 N over 2.6 m");
    CHECK(air_pressure_for(actuator, 10.0) == 0.0);
}

TEST_CASE("what the actuator cannot do is refused with the reason", "[actuator]") {
    // 20 N over 1.3 m is 15.3846 N/m without any air.
    refuses("line_load", "15.3846 N/m that the dead load alone", [] { return air_pressure_for(example, 15.0); });
    // 2000 N/m x 1.3 m = 2600 N; (2600 - 20) / 1.2e-3 = 21.5 bar.
    refuses("line_load", "21.5 bar, above 20 bar", [] { return air_pressure_for(example, 2000.0); });
    PneumaticActuator lifted = example;
    lifted.dead_load = -200.0;
    refuses("air_pressure", "does not overcome the dead load of -200 N", [&] { return line_load_of(lifted); });
}

TEST_CASE("bad values of an actuator are refused by name", "[actuator]") {
    const auto with = [](double PneumaticActuator::*member, double value) {
        PneumaticActuator actuator = example;
        actuator.*member = value;
        return actuator;
    };
    const auto both_doors = [&](double PneumaticActuator::*member, std::string_view path, double value) {
        refuses(path, "must be between", [&] { return line_load_of(with(member, value)); });
        refuses(path, "must be between", [&] { return air_pressure_for(with(member, value), 100.0); });
    };
    for (const double value : {-1.0, 1e9, no_number, infinite})
        refuses("air_pressure", "between 0 bar and 20 bar",
                [&] { return line_load_of(with(&PneumaticActuator::air_pressure, value)); });
    for (const double value : {0.0, -1e-3, 10.0, no_number, infinite})
        both_doors(&PneumaticActuator::piston_area, "piston_area", value);
    for (const double value : {0.0, -1.2, 1e3, no_number})
        both_doors(&PneumaticActuator::lever_ratio, "lever_ratio", value);
    for (const double value : {0.0, -1.3, 1300.0, no_number})
        both_doors(&PneumaticActuator::blade_width, "blade_width", value);
    for (const double value : {-1e9, 1e9, no_number, infinite})
        both_doors(&PneumaticActuator::dead_load, "dead_load", value);
    for (const double value : {0.0, -100.0, 1e9, no_number})
        refuses("line_load", "must be between", [&] { return air_pressure_for(example, value); });
    // Every problem at once.
    const auto problems = problems_of([] { return line_load_of({-1.0, 0.0, 0.0, 0.0, no_number}); });
    CHECK(problems.size() == 5);
}

TEST_CASE("interference is the screw's travel along the normal", "[actuator]") {
    // By hand: 2 mm at 60 deg to the normal bring 2 x cos 60 = 1 mm.
    expect_close(interference_of({2e-3, 60.0 * degree}), 1e-3, 1e-15, "cos 60 deg = 1/2");
    expect_close(interference_of({2e-3, -60.0 * degree}), 1e-3, 1e-15, "either way");
    CHECK(interference_of({0.7e-3, 0.0}) == 0.7e-3);
    for (const double slope : {-75.0, -10.0, 0.0, 25.0, 80.0}) {
        ScrewActuator screw{0.0, slope * degree};
        screw.advance = advance_for(screw, 0.4e-3);
        expect_close(interference_of(screw), 0.4e-3, 1e-15, "there and back, two roundings");
    }
}

TEST_CASE("bad values of a screw are refused by name", "[actuator]") {
    for (const double value : {-1e-3, 1.0, no_number, infinite})
        refuses("advance", "between 0 mm and 50 mm", [&] { return interference_of({value, 0.0}); });
    for (const double value : {85.0 * degree, -90.0 * degree, 30.0, no_number}) {
        refuses("slope", "between -80 deg and 80 deg", [&] { return interference_of({1e-3, value}); });
        refuses("slope", "between -80 deg and 80 deg", [&] { return advance_for({0.0, value}, 1e-3); });
    }
    for (const double value : {-1e-3, 1.0, no_number})
        refuses("interference", "must be between", [&] { return advance_for({0.0, 0.0}, value); });
}
