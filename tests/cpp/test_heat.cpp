#include "libblade/heat.hpp"

#include <cmath>
#include <numbers>

#include "expect.hpp"

using namespace libblade;

namespace {
Ink curing_ink() {
    Ink ink;
    ink.andrade_constant = 4500.0;
    ink.thermal_conductivity = 0.15;
    ink.heat_capacity = 1800.0;
    return ink;
}
}  // namespace

TEST_CASE("roll side of the heat path is the moving half-space", "[heat]") {
    // Surface rise under a uniform flux q after time t: 2 q sqrt(t / pi) / e (Carslaw & Jaeger 1959, ch. 2.9). Its mean over the
    // passage of a band b at speed U, summed numerically, must be what the conductance gives when nothing else resists.
    const double e = 3700.0, b = 2e-4, U = 3.0, power = 1000.0;
    double mean = 0.0;
    const int n = 200000;
    for (int i = 0; i < n; ++i) mean += 2.0 * (power / b) * std::sqrt((i + 0.5) / n * b / U / std::numbers::pi) / e / n;
    Ink ink;
    ink.heat_capacity = 1e-9;
    ink.thermal_conductivity = 1e9;
    expect_close(film_temperature_rise(heat_setup(ink, e, b, U, 1.0), 1e-6, power), mean, 1e-5,
                 "midpoint sum of a square root");
}

TEST_CASE("thermal paths add as they should", "[heat]") {
    const Ink ink = curing_ink();
    Ink cold = ink;
    cold.andrade_constant = 0.0;
    const double b = 2e-4, U = 3.0, h = 1e-6, P = 500.0;
    const double rise = film_temperature_rise(heat_setup(cold, 3700.0, b, U, 0.25), h, P);
    // hand: to the roll through the film, in parallel with the ink that leaves
    const double across = h / (3.0 * 0.15 * 0.25 * b),
                 roll = 4.0 / (3.0 * std::sqrt(std::numbers::pi)) / (3700.0 * std::sqrt(U * b));
    const double with_ink = 1100.0 * 1800.0 * 0.5 * h * U;
    expect_close(rise, P / (1.0 / (across + roll) + with_ink), 1e-12, "same formula by hand");
}

TEST_CASE("temperature feedback solves its equation", "[heat]") {
    const Ink ink = curing_ink();
    const auto setup = heat_setup(ink, 3700.0, 2e-4, 3.0, 0.25);
    Ink cold = ink;
    cold.andrade_constant = 0.0;
    for (const double power : {10.0, 300.0, 5000.0, 1e6}) {
        const double full = film_temperature_rise(heat_setup(cold, 3700.0, 2e-4, 3.0, 0.25), 1e-6, power);
        const double rise = film_temperature_rise(setup, 1e-6, power);
        CHECK(rise < full);
        const double T = ink.temperature + rise;
        expect_close(rise, full * std::exp(4500.0 * (1.0 / T - 1.0 / ink.temperature)), 1e-10,
                     "fixed point of the balance");
    }
}

TEST_CASE("Nahme number of a hand case", "[heat]") {
    // B eta U^2 / (k T^2) = 4500 * 0.3 * 9 / (0.15 * 298.15^2)
    expect_close(nahme_number(curing_ink(), 0.3, 3.0, 298.15), 0.91120, 1e-4, "hand calculation to 5 digits");
}
