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

TEST_CASE("what a message quotes neither steers a terminal nor breaks its encoding", "[error]") {
    const auto shown = [](const std::string& text) { return InvalidInput({{"", "", text}}).problems()[0].message; };
    // The forms that the Unicode Standard, table 3-7, lists as well-formed, at both ends of each row; control characters apart.
    for (const std::string good : {" ~", "\xC2\xA0\xDF\xBF", "\xE0\xA0\x80\xEC\xBF\xBF", "\xED\x80\x80\xED\x9F\xBF",
                                   "\xEE\x80\x80\xEF\xBF\xBF", "\xF0\x90\x80\x80", "\xF4\x8F\xBF\xBF"})
        CHECK(shown(good) == good);
    CHECK(shown("\x1b[31mred\a\n\x7f") == "?[31mred???");
    CHECK(shown(std::string("a\0b", 3)) == "a?b");
    CHECK(shown("\xC2\x9B") == "??");            // a control character of two bytes
    CHECK(shown("\xC0\xAF") == "??");            // too long a form
    CHECK(shown("\xE0\x9F\xBF") == "???");       // likewise
    CHECK(shown("\xED\xA0\x80") == "???");       // half of a letter
    CHECK(shown("\xF4\x90\x80\x80") == "????");  // behind the last letter
    CHECK(shown("\xF0\x8F\xBF\xBF") == "????");
    CHECK(shown("\xE2\x82") == "??");  // cut
    CHECK(shown("\xE2\x82(") ==
          "?"
          "?(");
    CHECK(std::string(InvalidInput({{"a\tb", "\x01", "m"}}).what()) == "a?b: m (got ?)");
}
