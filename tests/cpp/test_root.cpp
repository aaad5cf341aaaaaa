#include "libblade/root.hpp"

#include "expect.hpp"

using namespace libblade;

TEST_CASE("bracketed root of known functions", "[root]") {
    const auto cubic = [](double x) { return x * x * x - 2.0; };
    const Root root = bracketed_root(cubic, {0.0, cubic(0.0), 3.0, cubic(3.0)}, 1e-15, 1e-15);
    CHECK(root.status == Status::converged);
    expect_close(root.x, std::cbrt(2.0), 1e-14, "double precision");
    CHECK(root.evaluations <= 15);
    const auto steep = [](double x) { return std::exp(40.0 * x) - 1e6; };
    const Root far = bracketed_root(steep, {0.0, steep(0.0), 1.0, steep(1.0)}, 1e-14, 1e-8, 80);
    CHECK(far.status == Status::converged);
    expect_close(far.x, std::log(1e6) / 40.0, 1e-12, "double precision");
}

TEST_CASE("bracketed root says why it failed", "[root]") {
    const auto line = [](double x) { return x - 0.123456; };
    CHECK(bracketed_root(line, {0.2, line(0.2), 1.0, line(1.0)}, 1e-12, 1e-12).status == Status::out_of_range);
    const auto hole = [](double) { return std::numeric_limits<double>::quiet_NaN(); };
    CHECK(bracketed_root(hole, {0.0, -1.0, 1.0, 1.0}, 1e-12, 1e-12).status == Status::non_finite);
    const auto jump = [](double x) { return x < 0.3 ? -1.0 : 1.0; };
    CHECK(bracketed_root(jump, {0.0, -1.0, 1.0, 1.0}, 1e-12, 1e-12, 200).status == Status::stagnated);
    const auto bent = [](double x) { return std::atan(1e9 * (x - 0.3333)); };
    CHECK(bracketed_root(bent, {0.0, bent(0.0), 1.0, bent(1.0)}, 0.0, 0.0, 5).status == Status::max_iterations);
}

TEST_CASE("a function so steep that rounding of its place is all that is left has a root", "[root]") {
    // Next to 14 places are 1.8e-15 apart: values 6e-8.
    const auto steep = [](double x) { return 3.3e7 * (x - 14.0851265326) + 2e-8; };
    for (int i = 1; i < 1000; ++i) {
        const double low = 14.0851265326 - i * 1.3e-10, high = low + 2e-7;
        const Root root = bracketed_root(steep, {low, steep(low), high, steep(high)}, 1e-14, 1e-11);
        CHECK(root.status == Status::converged);
        CHECK(std::abs(root.f) < 1e-7);
    }
}

TEST_CASE("a root reached in the last allowed evaluation counts", "[root]") {
    const auto line = [](double x) { return x - 0.25; };
    const Root free = bracketed_root(line, {0.0, line(0.0), 1.0, line(1.0)}, 1e-15, 1e-12);
    REQUIRE(free.status == Status::converged);
    CHECK(bracketed_root(line, {0.0, line(0.0), 1.0, line(1.0)}, 1e-15, 1e-12, free.evaluations).status ==
          Status::converged);
}

TEST_CASE("falling root brackets itself from either side", "[root]") {
    const auto f = [](double u) { return 3.0 - 2.0 * u + std::sin(u); };
    for (const double start : {-3.0, 1.9, 8.0}) {
        const Root root = falling_root(f, start, -1.0, 0.5, -10.0, 10.0, 1e-14, 1e-13);
        CHECK(root.status == Status::converged);
        CHECK(std::abs(f(root.x)) <= 1e-12);
    }
    CHECK(falling_root(f, 0.0, -1.0, 0.5, -10.0, 1.0, 1e-14, 1e-13).status == Status::out_of_range);
    // A plateau slows strides but does not stop them.
    const auto flat = [](double u) { return u < 4.0 ? 1e-3 * (5.0 - u) : 1e-3 - (u - 4.0); };
    CHECK(falling_root(flat, 0.0, -4.0, 0.5, -10.0, 10.0, 1e-14, 1e-13).status == Status::converged);
}

TEST_CASE("a level before the fall is walked across in longest strides", "[root]") {
    const auto shelf = [](double x) { return x < 4.0 ? 1e-6 : 1e-6 - (x - 4.0); };
    const Root root = falling_root(shelf, 0.0, -4.0, 0.5, -10.0, 10.0, 1e-13, 1e-11);
    CHECK(root.status == Status::converged);
    expect_close(root.x, 4.0 + 1e-6, 1e-10, "where the line crosses 0");
    const Root none = falling_root([](double) { return 1e-6; }, 0.0, -4.0, 0.5, -10.0, 10.0, 1e-13, 1e-11);
    CHECK(none.status == Status::out_of_range);
}
