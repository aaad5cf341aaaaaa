#include "libblade/random.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <vector>

#include "expect.hpp"

using libblade::Random;

TEST_CASE("SplitMix64 gives its published outputs", "[random]") {
    // Seed 1234567 (Rosetta Code and the test vectors of several general-purpose libraries, from memory).
    const std::uint64_t expected[] = {6457827717110365317U, 3203168211198807973U, 9817491932198370423U,
                                      4593380528125082431U, 16408922859458223821U};
    std::uint64_t state = 1234567;
    for (const std::uint64_t value : expected) CHECK(Random::mixed(state += 0x9e3779b97f4a7c15U) == value);
}

TEST_CASE("draws have the moments of their distributions, and streams do not resemble each other", "[random]") {
    constexpr int n = 200000;
    Random random(7, 3), other(7, 4), seed(8, 3);
    double mean = 0.0, square = 0.0, fourth = 0.0, level = 0.0, with_other = 0.0, with_seed = 0.0;
    double least = 1.0, most = 0.0;
    for (int k = 0; k < n; ++k) {
        const double z = random.normal(), u = random.uniform();
        mean += z, square += z * z, fourth += z * z * z * z, level += u;
        least = std::min(least, u), most = std::max(most, u);
        (void)other.normal(), (void)seed.normal();
        with_other += (u - 0.5) * (other.uniform() - 0.5);
        with_seed += (u - 0.5) * (seed.uniform() - 0.5);
    }
    // Five standard errors each.
    CHECK(std::abs(mean / n) < 5.0 / std::sqrt(n));
    CHECK(std::abs(square / n - 1.0) < 5.0 * std::sqrt(2.0 / n));
    CHECK(std::abs(fourth / n - 3.0) < 5.0 * std::sqrt(96.0 / n));
    CHECK(std::abs(level / n - 0.5) < 5.0 / std::sqrt(12.0 * n));
    CHECK(std::abs(with_other / n) < 5.0 / (12.0 * std::sqrt(n)));
    CHECK(std::abs(with_seed / n) < 5.0 / (12.0 * std::sqrt(n)));
    CHECK((least > 0.0 && least < 1e-4 && most < 1.0 && most > 1.0 - 1e-4));
}

TEST_CASE("the same seed and index give the same draws, ranges are kept", "[random]") {
    Random a(42, 5), b(42, 5);
    std::vector<int> seen(7);
    for (int k = 0; k < 2000; ++k) {
        CHECK(a.next() == b.next());
        const double x = a.log_uniform(1e-6, 1e-3), y = a.uniform(-2.0, 5.0);
        CHECK((x >= 1e-6 && x <= 1e-3 && y >= -2.0 && y <= 5.0));
        (void)b.log_uniform(1e-6, 1e-3), (void)b.uniform(-2.0, 5.0);
        ++seen.at(a.below(7));
        (void)b.below(7);
    }
    for (const int count : seen) CHECK(std::abs(count - 2000.0 / 7.0) < 5.0 * std::sqrt(2000.0 * 6.0 / 49.0));
}
