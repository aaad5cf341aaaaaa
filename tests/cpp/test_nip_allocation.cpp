// What an operating point takes from the heap, with its tables kept by the caller.
#include "expect.hpp"
#include "heap_count.hpp"
#include "libblade/nip.hpp"
#include "libblade/random.hpp"

using namespace libblade;

namespace {

/// Largest and mean number of allocations of a solve, of many at random settings, after one that makes the tables.
struct Taken {
    long most = 0;
    double mean = 0.0;
};
Taken taken_by(Case c, NipOptions options) {
    FlowTables tables;
    options.tables = &tables;
    (void)solve(c, options);
    Random random(5);
    Taken out;
    constexpr int kSolves = 200;
    for (int i = 0; i < kSolves; ++i) {
        c.setting.set_angle = random.uniform(0.45, 0.65);
        c.setting.load = LineLoad{random.uniform(60.0, 200.0)};
        const long before = taken;
        const OperatingPoint p = solve(c, options);
        const long here = taken - before;
        REQUIRE(p.convergence.ok());
        out.most = std::max(out.most, here), out.mean += static_cast<double>(here) / kSolves;
    }
    return out;
}

}  // namespace

TEST_CASE("an operating point takes little from the heap", "[nip]") {
    NipOptions bare;
    bare.step_response = bare.other_branch = bare.run_out = false;
    Case newtonian;
    newtonian.tip = Facet{200e-6, BeddedHere{}, 1e-6};
    newtonian.roll.engraving.pressure_flow_factor = 4.0;
    newtonian.roll.engraving.land_fraction = 0.25;
    newtonian.ink.rheology = Newtonian{0.03};
    Case everything = newtonian;
    everything.roll.engraving = Engraving{};
    everything.ink.rheology = CarreauYasuda{0.8, 0.15, 1e-5, 0.5, 2.0};
    everything.ink.andrade_constant = 4500.0;
    NipOptions all = bare;
    all.step_response = all.run_out = true;
    const Taken plain = taken_by(newtonian, bare), more = taken_by(everything, bare), after = taken_by(everything, all);
    WARN("allocations a solve, mean (most): " << plain.mean << " (" << plain.most << "), engraved and thinning "
                                              << more.mean << " (" << more.most << "), with step and run-out "
                                              << after.mean << " (" << after.most << ")");
    CHECK(plain.most > 0);  // the count counts
    CHECK(plain.most <= 12);
    CHECK(more.most <= 16);
    CHECK(after.most <= 18);
}
