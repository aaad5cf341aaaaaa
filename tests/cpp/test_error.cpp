#include "catch.hpp"

#include <string>

#include "libblade/error.hpp"

using namespace libblade;

TEST_CASE("an error lists every problem, one a line, with path, message and value", "[error]") {
    const InvalidInput error({{"blade.thickness", "2 m", "must be between 0.02 mm and 2 mm"},
                              {"roll.radius", "", "is missing"},
                              {"", "\"case.json\"", "the case file cannot be opened"}});
    CHECK(std::string(error.what()) ==
          "blade.thickness: must be between 0.02 mm and 2 mm (got 2 m)\n"
          "roll.radius: is missing\n"
          "the case file cannot be opened (got \"case.json\")");
    REQUIRE(error.problems().size() == 3);
    CHECK(error.problems()[1].path == "roll.radius");
}

TEST_CASE("an error is an invalid_argument and never silent", "[error]") {
    const auto fail = [] { throw InvalidInput({}); };
    CHECK_THROWS_AS(fail(), std::invalid_argument);
    CHECK(std::string(InvalidInput({}).what()) == "invalid input");
}
