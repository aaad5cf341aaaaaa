#include "libblade/engraving.hpp"

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
