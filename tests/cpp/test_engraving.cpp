#include "libblade/engraving.hpp"

#include <cmath>
#include <numbers>

#include "expect.hpp"

using namespace libblade;

// Closed cells in a regular pattern: geometry (squares: exact counting of the open area).
TEST_CASE("land fraction and deep flow factor", "[engraving]") {
    Engraving e;
    e.screen = 10000.0;  // pitch 100 um
    e.wall_width = 10e-6;
    expect_close(land_fraction(e), 1.0 - 0.81, 1e-12, "1 - (1 - w/P)^2");
    expect_close(deep_flow_factor(e), (2.0 - 0.19) / 0.19, 1e-12, "closed form (2 - f)/f");
    // thin walls: pitch / wall width
    e.wall_width = 0.1e-6;
    expect_close(deep_flow_factor(e), 1000.0, 1e-3, "thin-wall limit P/w");
    // walls as wide as the pitch: no cells
    e.wall_width = 99.99e-6;
    expect_close(deep_flow_factor(e), 1.0, 1e-6, "no cells left");
}

TEST_CASE("flow factor falls to one in wide gaps", "[engraving]") {
    Engraving e;
    double last = flow_factor(e, 0.0);
    expect_close(last, deep_flow_factor(e), 1e-12, "vanishing gap");
    for (double h = 1e-7; h < 1e-2; h *= 3.0) {
        const double now = flow_factor(e, h);
        CHECK(now < last);
        CHECK(now > 1.0);
        last = now;
    }
    expect_close(flow_factor(e, 1.0), 1.0, 1e-3, "wide gap");
    e.pattern = Pattern::smooth;
    CHECK(flow_factor(e, 1e-7) == 1.0);
    CHECK(land_fraction(e) == 1.0);
}

// Area counted from the walls: 1 - (1 - w/P)^2 for the regular patterns, w/P for channels; circles by hand.
TEST_CASE("openings of every pattern", "[engraving]") {
    Engraving e;
    e.screen = 10000.0;
    e.wall_width = 10e-6;
    for (const Pattern pattern : {Pattern::hexagon, Pattern::diamond}) {
        e.pattern = pattern;
        CHECK(open_fraction(e) == (1.0 - 0.1) * (1.0 - 0.1));
        // The smallest rounding takes the general way: continuous with the closed form.
        e.corner_radius = 1e-12;
        expect_close(open_fraction(e), 0.81, 1e-12, "sharp corners");
        e.corner_radius = 10e-6;
        const double corners = pattern == Pattern::hexagon ? 6.0 / std::numbers::sqrt3 : 4.0;
        const double area = pattern == Pattern::hexagon ? std::numbers::sqrt3 / 2.0 : 1.0;
        expect_close(open_fraction(e), 0.81 - 0.01 * (corners - std::numbers::pi) / area, 1e-12,
                     "each corner loses r^2 (tan - arc)");
        e.corner_radius = 1.0;
        expect_close(open_fraction(e), std::numbers::pi * 0.45 * 0.45 / area, 1e-12, "inscribed circle");
        e.corner_radius = 0.0;
    }
    e.pattern = Pattern::channel;
    expect_close(open_fraction(e), 0.9, 1e-12, "grooves");
    expect_close(deep_flow_factor(e), 10.0, 1e-12, "across deep grooves only the lands resist");
    e.pattern = Pattern::elongated;
    expect_close(open_fraction(e), 0.81, 1e-12, "aspect 1: the hexagon");
    // Stretched hexagon by hand: R = aspect P / sqrt 3, slanted wall x / R + y / P = k, flat at y = (P - w) / 2.
    for (const double aspect : {0.5, 2.0, 4.0}) {
        e.aspect = aspect;
        const double r = aspect * 100e-6 / std::numbers::sqrt3, flat = 45e-6;
        const double k = 1.0 - 5e-6 * std::hypot(1.0 / r, 1.0 / 100e-6);
        const double area = 4.0 * r * (k * flat - flat * flat / (2.0 * 100e-6));
        expect_close(open_fraction(e), area / (1.5 * r * 100e-6), 1e-12, "trapezia between the four slanted walls");
        expect_close(cells_per_area(e) * 1.5 * r * 100e-6, 1.0, 1e-12, "one cell on each hexagon");
    }
    // The flats are gone: a rhombus between the slanted walls.
    e.aspect = 0.2;
    e.wall_width = 22e-6;
    const double r = 0.2 * 100e-6 / std::numbers::sqrt3, k = 1.0 - 11e-6 * std::hypot(1.0 / r, 1.0 / 100e-6);
    REQUIRE(k > 0.0);
    REQUIRE(k * 100e-6 < 39e-6);
    expect_close(open_fraction(e), 2.0 * k * r * k * 100e-6 / (1.5 * r * 100e-6), 1e-12, "rhombus");
    e.wall_width = 200e-6;
    for (const Pattern pattern : {Pattern::hexagon, Pattern::diamond, Pattern::channel, Pattern::elongated}) {
        e.pattern = pattern;
        CHECK(open_fraction(e) == 0.0);
        CHECK(cell_depth(e) == 0.0);
    }
}

// 500 lines per inch: 44744.735 cells/cm2 in the hexagonal, 38750.0775 in the square lattice (geometry, 0.0508 mm
// pitch).
TEST_CASE("cells per area", "[engraving]") {
    Engraving e;
    e.screen = 500.0 / 0.0254;
    expect_close(cells_per_area(e), 44744.73535e4, 1e-9, "2 / (sqrt 3 P^2), ten digits");
    e.pattern = Pattern::diamond;
    expect_close(cells_per_area(e), 38750.0775e4, 1e-9, "1 / P^2, nine digits");
    e.pattern = Pattern::channel;
    CHECK(cells_per_area(e) == 0.0);
}

TEST_CASE("cell volume and depth", "[engraving]") {
    Engraving e;
    e.wall_width = 10e-6;
    e.cell_volume = 8.1e-6;
    expect_close(cell_depth(e), 10e-6, 1e-12, "8.1 um over 81 % of the surface");
    CHECK(cell_volume(e) == 8.1e-6);
    e.profile = CellProfile::parabolic;
    expect_close(cell_depth(e), 20e-6, 1e-12, "a paraboloid fills half its cylinder");
    e.pattern = Pattern::channel;
    expect_close(cell_depth(e), 8.1e-6 / (0.9 * 2.0 / 3.0), 1e-12, "a parabola fills two thirds (Archimedes)");
    e.cell_depth = 3e-6;
    CHECK(cell_depth(e) == 3e-6);
    expect_close(cell_volume(e), 1.8e-6, 1e-12, "a stated depth decides");
    e.pattern = Pattern::smooth;
    CHECK(cell_volume(e) == 0.0);
    CHECK(cell_depth(e) == 0.0);
}

// Christensen 1969-70: mean of h^3 along, inverse mean of h^-3 across; land 0.3, groove four times the gap.
TEST_CASE("flow factor of channels", "[engraving]") {
    Engraving e;
    e.pattern = Pattern::channel;
    e.wall_width = 30e-6;
    e.cell_depth = 3e-6;
    expect_close(flow_factor(e, 1e-6), 45.1, 1e-12, "0.3 + 0.7 * 64");
    e.screen_angle = std::numbers::pi / 2.0;
    expect_close(flow_factor(e, 1e-6), 3.216080402, 1e-9, "1 / (0.3 + 0.7 / 64), ten digits");
    expect_close(flow_factor(e, 1e-12), deep_flow_factor(e), 1e-9, "deep");
}
