#include "libblade/tip.hpp"

#include <numbers>

#include "expect.hpp"

using namespace libblade;

namespace {
constexpr double deg = std::numbers::pi / 180.0;
}

// Plane geometry of a square corner cut parallel to the roll (check values H1 to H3, recomputed).
TEST_CASE("worn facet length t / sin a", "[tip]") {
    expect_close(worn_facet_length(1e-4, 30 * deg), 2e-4, 1e-9, "H3-30");
    expect_close(worn_facet_length(1e-4, 35 * deg), 1.743446796e-4, 1e-9, "H3-35");
    expect_close(worn_facet_length(1e-4, 45 * deg), 1.414213562e-4, 1e-9, "H3-45");
}

TEST_CASE("facet from retreat grows to the full thickness and stops", "[tip]") {
    // H2-2e4: retreat 65.80370065 um of a 150 um strip at 30 deg gives a facet of 151.9671371 um.
    expect_close(facet_from_retreat(6.580370065e-5, 30 * deg, 1.5e-4), 1.519671371e-4, 1e-9, "H2-2e4");
    expect_close(facet_from_retreat(8.4e-3, 30 * deg, 1.5e-4), 3e-4, 1e-12, "H2-1e7: full facet");
}
