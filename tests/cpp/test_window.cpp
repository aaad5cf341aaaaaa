#include "libblade/window.hpp"

#include <vector>

#include "expect.hpp"
#include "libblade/error.hpp"

using namespace libblade;

namespace {
struct Grid {
    std::vector<double> angle{0.40, 0.42, 0.44, 0.46, 0.48}, load{80, 90, 100, 110, 120, 130};
    std::vector<std::uint8_t> inside = std::vector<std::uint8_t>(30, 0);
    void open(std::size_t i0, std::size_t i1, std::size_t j0, std::size_t j1) {
        for (std::size_t i = i0; i <= i1; ++i)
            for (std::size_t j = j0; j <= j1; ++j) inside[i * 6 + j] = 1;
    }
    [[nodiscard]] Window window() const { return process_window({angle, load, inside, 0.02, 0.1}); }
};
}  // namespace

TEST_CASE("window: lowest load that keeps a tolerance on every side", "[window]") {
    Grid grid;
    grid.open(1, 3, 0, 5);
    const Window w = grid.window();
    REQUIRE(w.exists);
    CHECK(w.recommended_with_margin);
    CHECK(w.angle_index == 2);  // the only angle with one tolerance (one step) on both sides
    CHECK(w.load_index == 1);   // 90 - 80 is more than 10 % of 90; at 80 nothing is left below
    expect_close(w.margins.load_down, 10.0 / 9.0, 1e-12, "by hand");
    expect_close(w.margins.load_up, 40.0 / 9.0, 1e-12, "by hand: up to the edge of the grid");
    expect_close(w.margins.angle_up, 1.0, 1e-9, "by hand");
}

TEST_CASE("window: margin breaks ties at equal load", "[window]") {
    Grid grid;
    grid.open(0, 4, 0, 5);
    const Window w = grid.window();
    CHECK(w.load_index == 1);
    CHECK(w.angle_index == 2);  // 1 and 3 hold one tolerance too, the middle holds two
}

TEST_CASE("window: too narrow is said, empty is said", "[window]") {
    Grid grid;
    CHECK_FALSE(grid.window().exists);
    grid.open(2, 2, 2, 3);
    const Window w = grid.window();
    CHECK(w.exists);
    CHECK_FALSE(w.recommended_with_margin);
    CHECK(w.margins.smallest() == 0.0);
}

TEST_CASE("window: bad input is refused by name", "[window]") {
    Grid grid;
    grid.open(1, 3, 1, 4);
    CHECK_THROWS_AS(process_window({grid.angle, grid.load, std::span(grid.inside).subspan(1), 0.02, 0.1}),
                    InvalidInput);
    CHECK_THROWS_AS(process_window({grid.angle, grid.load, grid.inside, 0.0, 0.1}), InvalidInput);
    std::vector<double> falling{0.48, 0.46, 0.44, 0.42, 0.40};
    CHECK_THROWS_AS(process_window({falling, grid.load, grid.inside, 0.02, 0.1}), InvalidInput);
}
