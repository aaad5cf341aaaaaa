// Comparison that cannot pass by accident: refuses wide tolerances and non-finite numbers.
#pragma once

#include <cmath>
#include <string>

#include "catch.hpp"

/// |actual - expected| <= rel |expected|; `why` says where the tolerance comes from.
inline void expect_close(double actual, double expected, double rel, const std::string& why) {
    INFO("actual " << actual << ", expected " << expected << ", relative tolerance " << rel << ": " << why);
    REQUIRE(std::isfinite(actual));
    REQUIRE(std::isfinite(expected));
    REQUIRE(expected != 0.0);
    REQUIRE(rel > 0.0);
    REQUIRE(rel <= 0.1);
    CHECK(std::abs(actual - expected) <= rel * std::abs(expected));
}
