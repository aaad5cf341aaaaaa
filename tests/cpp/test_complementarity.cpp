// The cavitation solved a second way: finite volumes and Newton on the Fischer-Burmeister function.
#include <algorithm>
#include <cmath>
#include <vector>

#include "catch.hpp"
#include "expect.hpp"
#include "film_finite_volume.hpp"
#include "film_problem.hpp"

TEST_CASE("Fischer-Burmeister function: zero exactly at complementarity, derivatives by differences",
          "[complementarity]") {
    using finite_volume::fischer_burmeister;
    for (const double a : {0.0, 1e-12, 0.3, 1e8}) {
        CHECK(fischer_burmeister(a, 0.0).value == 0.0);
        CHECK(fischer_burmeister(0.0, a).value == 0.0);
    }
    CHECK(fischer_burmeister(1e-9, 1e9).value > 0.0);
    CHECK(fischer_burmeister(-1e-9, 1.0).value < 0.0);
    CHECK(fischer_burmeister(-1.0, -1.0).value < 0.0);
    for (const auto& [a, b] :
         {std::pair{0.3, 0.2}, std::pair{-0.4, 0.1}, std::pair{0.2, -0.7}, std::pair{-1.0, -2.0}}) {
        const double d = 1e-6;
        const auto f = fischer_burmeister(a, b);
        CHECK(std::abs(f.by_a - (fischer_burmeister(a + d, b).value - fischer_burmeister(a - d, b).value) / (2 * d)) <
              1e-8);
        CHECK(std::abs(f.by_b - (fischer_burmeister(a, b + d).value - fischer_burmeister(a, b - d).value) / (2 * d)) <
              1e-8);
    }
}

TEST_CASE("block-tridiagonal elimination reproduces a product", "[complementarity]") {
    using finite_volume::Matrix2;
    using finite_volume::Vector2;
    Dice u(3);
    const std::size_t n = 9;
    std::vector<Matrix2> lower(n), diagonal(n), upper(n);
    std::vector<Vector2> x(n), rhs(n);
    for (std::size_t i = 0; i < n; ++i) {
        lower[i] = {u(), u(), u(), u()};
        upper[i] = {u(), u(), u(), u()};
        diagonal[i] = {6.0 + u(), u(), -u(), 6.0 + u()};
        x[i] = {u(), -u()};
    }
    for (std::size_t i = 0; i < n; ++i) {
        rhs[i] = diagonal[i] * x[i];
        if (i > 0) rhs[i] = {rhs[i].a + (lower[i] * x[i - 1]).a, rhs[i].b + (lower[i] * x[i - 1]).b};
        if (i + 1 < n) rhs[i] = {rhs[i].a + (upper[i] * x[i + 1]).a, rhs[i].b + (upper[i] * x[i + 1]).b};
    }
    finite_volume::solve_block_tridiagonal(lower, diagonal, upper, rhs);
    for (std::size_t i = 0; i < n; ++i) {
        CHECK(std::abs(rhs[i].a - x[i].a) < 1e-13);
        CHECK(std::abs(rhs[i].b - x[i].b) < 1e-13);
    }
}

TEST_CASE("film with several ruptures: the sweep and the complementarity solver agree", "[complementarity]") {
    for (unsigned seed = 0; seed < 40; ++seed) {
        INFO("seed " << seed);
        Dice u(seed);
        const double a = 0.6 * u(), b = 0.3 * u(), c = 6.0 * u(), tilt = u() - 0.5, level = 1.0 + u();
        const double p_in = u() < 0.5 ? 1e4 * u() : 0.0, p_out = u() < 0.5 ? 1e4 * u() : 0.0;
        const auto at = [&](std::size_t n) {
            FilmProblem f = FilmProblem::sampled(
                0.0, 1e-3, n,
                [&](double x) {
                    const double s = 1e3 * x;
                    return 1e-6 * (level - 0.4 * s * tilt + a * std::cos(15.0 * s + c) + b * std::cos(40.0 * s));
                },
                0.02, 1.0);
            f.rest.pressure_in = p_in;
            f.rest.pressure_out = p_out;
            return f;
        };
        // its ruptures sit on nodes: flow and load differ by O(dx^2), which the second grid must show
        double load[2], flow[2];
        for (int k = 0; k < 2; ++k) {
            const FilmProblem f = at(k == 0 ? 201 : 1601);
            const libblade::FilmInput in = f.input();
            const libblade::Film film = libblade::solve_film(in);
            REQUIRE(film.convergence.ok());
            const double peak = *std::max_element(film.pressure.begin(), film.pressure.end());
            const finite_volume::Solution s = finite_volume::Solver(in, 1e3 * std::max(peak, 1.0)).solve(in);
            REQUIRE(s.residual < 1e-12);
            load[k] = std::abs(s.load / film.load - 1.0);
            flow[k] = std::abs(s.flow / film.flow - 1.0);
        }
        INFO("load " << load[0] << ' ' << load[1] << ", flow " << flow[0] << ' ' << flow[1]);
        CHECK(load[1] < 1e-3);
        CHECK(flow[1] < 2e-4);
    }
}
