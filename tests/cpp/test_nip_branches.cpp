// Branches over one field by continuation.
#include "libblade/nip_branches.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "../../libblade/src/nip_prepare.hpp"
#include "expect.hpp"
#include "libblade/error.hpp"
#include "libblade/parameters.hpp"

using namespace libblade;

namespace {

constexpr double deg = std::numbers::pi / 180.0;

/// tests/reference/base_case, water ink unless stated, bedded at 90 N/m.
Case base_case(Holding holding, double viscosity = 0.03, double load = 90.0) {
    Case c;
    c.blade.material = {205e9, 0.29, 5.5e9, 1.6e9, 7850.0};
    c.tip = Facet{200e-6, BeddedHere{}, 1e-6};
    c.roll.engraving.pressure_flow_factor = 4.0;
    c.roll.engraving.land_fraction = 0.25;
    c.ink.rheology = Newtonian{viscosity};
    c.setting.holding = holding;
    c.setting.set_angle = 30 * deg;
    c.setting.load = LineLoad{load};
    c.setting.surface_speed = 5.0;
    return c;
}

BranchDiagram over_load(const Case& c, double limit = -1.0) {
    BranchOptions options;
    options.excess_limit = limit;
    return trace_branches(c, "setting.line_load", 60.0, 160.0, options);
}

}  // namespace

TEST_CASE("folds of the base case", "[nip][branches]") {
    // tests/reference/base_case: a hand-written solution of the same equations jumps to riding between 91 and 96 N/m and returns
    // between 82 and 88; at eta U = 1 N/m up between 125 and 140, down between 85 and 93. tests/benchmarks/reference_nip.py (other
    // integrator, arc-length tracing of its own): 92.8 and 85.0; 133.7 and 89.0 N/m.
    const struct { double viscosity, up, down; } rows[] = {{0.03, 92.8, 85.0}, {0.2, 133.7, 89.0}};
    for (const auto& row : rows) {
        const BranchDiagram d = over_load(base_case(Holding::floating, row.viscosity));
        INFO(row.viscosity << " Pa s");
        REQUIRE(d.convergence.ok());
        REQUIRE(d.curves.size() == 1);
        const BranchCurve& curve = d.curves.front();
        CHECK(curve.convergence.ok());
        REQUIRE(curve.folds.size() == 2);
        expect_close(curve.states[curve.folds[0]].value, row.up, 5e-3,
                     "another integrator, the facet's entry left out");
        expect_close(curve.states[curve.folds[1]].value, row.down, 5e-3,
                     "another integrator, the facet's entry left out");
        // Stable outside the folds, not between them.
        for (std::size_t i = 0; i < curve.states.size(); ++i) {
            if (i == curve.folds[0] || i == curve.folds[1]) continue;
            INFO("state " << i << " at " << curve.states[i].value << " N/m");
            CHECK(curve.states[i].stable == (i < curve.folds[0] || i > curve.folds[1]));
        }
    }
}

TEST_CASE("every state of a curve is in balance", "[nip][branches]") {
    // Each point again by the nip's own balance at its tilt, which finds the gap by bracketing: the drive must vanish there.
    const Case c = base_case(Holding::floating);
    const BranchDiagram d = over_load(c);
    REQUIRE(!d.curves.empty());
    FlowTables tables;
    NipOptions options;
    options.tables = &tables;
    detail::Prepared p = detail::prepare(c, options);
    int seen = 0;
    for (std::size_t i = 0; i < d.curves[0].states.size(); i += 7) {
        const BranchState& s = d.curves[0].states[i];
        const detail::Target target{false, s.value, 0.0};
        const detail::State again = p.solver.balance(s.facet_tilt, target, p.state);
        if (!again.ok()) continue;
        INFO(s.value << " N/m, tilt " << s.facet_tilt);
        CHECK(std::abs(again.drive) < 1e-8);
        expect_close(again.film_on_lands(5.0), s.film_on_lands, 1e-6, "same equations");
        ++seen;
    }
    CHECK(seen > 5);
}

TEST_CASE("a fixed holder leaves one state and no fold", "[nip][branches]") {
    const BranchDiagram d = over_load(base_case(Holding::fixed));
    REQUIRE(d.curves.size() == 1);
    CHECK(d.curves[0].folds.empty());
    for (const BranchState& s : d.curves[0].states) CHECK(s.stable);
    expect_close(d.curves[0].states.front().value, 60.0, 1e-6, "ends on the range");
    expect_close(d.curves[0].states.back().value, 160.0, 1e-6, "ends on the range");
}

TEST_CASE("riding onset is where the excess passes the limit", "[nip][branches]") {
    const double limit = 0.2e-6;
    Case c = base_case(Holding::fixed);
    for (const auto& [field, from, to] :
         {std::tuple{"setting.line_load", 70.0, 130.0}, std::tuple{"setting.set_angle", 25 * deg, 35 * deg},
          std::tuple{"ink.viscosity", 0.005, 0.5}}) {
        const RidingOnset onset = riding_onset(c, field, limit, from, to);
        INFO(field);
        REQUIRE(onset.convergence.ok());
        const bool up = std::isfinite(onset.upper);
        const double found = up ? onset.upper : onset.lower;
        REQUIRE(std::isfinite(found));
        CHECK(!(up ? onset.upper_jumps : onset.lower_jumps));
        // The diagram's own onset is the same place, and the excess there the limit.
        BranchOptions options;
        options.excess_limit = limit;
        const BranchDiagram d = trace_branches(c, field, from, to, options);
        double nearest = 1e9;
        for (const std::size_t k : d.curves[0].onsets) {
            const BranchState& s = d.curves[0].states[k];
            expect_close(s.excess_ink, limit, 1e-6, "located on the curve");
            nearest = std::min(nearest, std::abs(s.value - found));
        }
        CHECK(nearest < 1e-6 * found);
    }
    // Floating, the branch folds before the limit: the onset is the jump.
    const RidingOnset jump = riding_onset(base_case(Holding::floating), "setting.line_load", limit, 60.0, 150.0);
    CHECK(jump.upper_jumps);
    expect_close(jump.upper, 92.9, 5e-3, "the fold");
    CHECK(std::isnan(jump.lower));
}

TEST_CASE("fields without a branch are refused", "[nip][branches]") {
    const Case c = base_case(Holding::fixed);
    CHECK_THROWS_AS(trace_branches(c, "setting.line_load", 100.0, 150.0), InvalidInput);  // 90 N/m is outside
    CHECK_THROWS_AS(trace_branches(c, "setting.holding", 0.0, 1.0), InvalidInput);
    CHECK_THROWS_AS(trace_branches(c, "setting.interference", 0.0, 1.0), InvalidInput);  // a load is stated
    CHECK_THROWS_AS(trace_branches(c, "setting.line_load", -5.0, 150.0), InvalidInput);
    CHECK_THROWS_AS(riding_onset(c, "setting.line_load", 0.0, 60.0, 150.0), InvalidInput);
}
