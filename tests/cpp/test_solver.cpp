// The nip in a hot loop: the same answers as solve(), nothing from the heap, warm starts that change time and not results.
#include <cmath>
#include <thread>

#include "expect.hpp"
#include "heap_count.hpp"
#include "libblade/error.hpp"
#include "libblade/nip_outputs.hpp"
#include "libblade/random.hpp"
#include "libblade/solver.hpp"

using namespace libblade;

namespace {

#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
constexpr int kCalls = 2000;
#else
constexpr int kCalls = 1000000;
#endif

const std::vector<std::string> kFields{"setting.set_angle", "setting.line_load", "setting.surface_speed",
                                       "ink.temperature"};

Case newtonian() {
    Case c;
    c.tip = Facet{200e-6, BeddedHere{}, 1e-6};
    c.roll.engraving.pressure_flow_factor = 4.0;
    c.roll.engraving.land_fraction = 0.25;
    c.ink.rheology = Newtonian{0.03};
    c.ink.andrade_constant = 3500.0;
    return c;
}

Case everything() {
    Case c = newtonian();
    c.roll.engraving = Engraving{};
    c.roll.run_out = 10e-6;
    c.ink.rheology = CarreauYasuda{0.8, 0.15, 1e-5, 0.5, 2.0};
    return c;
}

Case elsewhere(Holding holding) {
    Case c = newtonian();
    c.tip = Facet{200e-6, BeddedElsewhere{0.58, 110.0}, 1e-6};
    c.setting.holding = holding;
    return c;
}

std::vector<double OperatingPoint::*> all_outputs() {
    std::vector<double OperatingPoint::*> out;
    for (const Output& o : outputs::table) out.push_back(o.member);
    return out;
}

/// A walk of inputs as a press model makes them: small changes of everything, inside their usual ranges.
class Walk {
  public:
    explicit Walk(std::uint64_t seed) : random_(seed) {}
    const std::array<double, 4>& next() {
        constexpr std::array<double, 4> low{0.48, 60.0, 1.0, 290.0}, high{0.62, 200.0, 8.0, 310.0};
        for (std::size_t k = 0; k < 4; ++k) {
            const double size = high[k] - low[k];
            at_[k] = std::clamp(at_[k] + random_.uniform(-0.01, 0.01) * size, low[k], high[k]);
        }
        return at_;
    }

  private:
    Random random_;
    std::array<double, 4> at_{0.55, 110.0, 4.0, 298.0};
};

Case with(Case c, const std::array<double, 4>& in) {
    c.setting.set_angle = in[0], c.setting.load = LineLoad{in[1]}, c.setting.surface_speed = in[2],
    c.ink.temperature = in[3];
    return c;
}

}  // namespace

TEST_CASE("a solver from scratch gives the bits of solve()", "[solver]") {
    const auto outputs = all_outputs();
    for (const Case& base : {newtonian(), everything(), elsewhere(Holding::fixed), elsewhere(Holding::floating)}) {
        FlowTables tables;
        NipOptions options;
        options.tables = &tables;
        const Solver solver(base, kFields, outputs, options);
        Workspace workspace = solver.workspace();
        std::vector<double> out(outputs.size());
        Random random(3);
        for (int i = 0; i < 12; ++i) {
            const std::array<double, 4> in{random.uniform(0.48, 0.62), random.uniform(60.0, 200.0),
                                           random.uniform(1.0, 8.0), random.uniform(290.0, 310.0)};
            const Status status = solver.solve(in, out, workspace);
            options.other_branch = false;
            const OperatingPoint direct = solve(with(base, in), options);
            REQUIRE(status == direct.convergence.status);
            for (std::size_t k = 0; k < outputs.size(); ++k) {
                const double there = direct.*outputs[k];
                CHECK((out[k] == there || (std::isnan(out[k]) && std::isnan(there))));
            }
            CHECK(workspace.point().regime == direct.regime);
            CHECK(workspace.point().validity == direct.validity);
            CHECK(workspace.point().convergence == direct.convergence);
        }
    }
}

TEST_CASE("a hot loop takes nothing from the heap", "[solver]") {
    const std::vector<double OperatingPoint::*> film{&OperatingPoint::film_on_lands, &OperatingPoint::tangential_load};
    const auto outputs = all_outputs();
    struct Kind {
        const char* name;
        Case base;
        std::span<double OperatingPoint::*const> outputs;
        int calls;
    };
    const Kind kinds[] = {{"Newtonian, film and friction", newtonian(), film, kCalls},
                          {"everything", everything(), outputs, kCalls / 100},
                          {"worn elsewhere, fixed", elsewhere(Holding::fixed), outputs, kCalls / 100},
                          {"worn elsewhere, floating", elsewhere(Holding::floating), outputs, kCalls / 100}};
    for (const Kind& kind : kinds) {
        const Solver solver(kind.base, kFields, kind.outputs);
        Workspace workspace = solver.workspace();
        std::vector<double> out(kind.outputs.size());
        Walk walk(7);
        WarmStart near;
        (void)solver.solve(walk.next(), out, workspace, &near);
        const long before = taken;
        int solved = 0, refused = 0, silent = 0;
        for (int i = 0; i < kind.calls; ++i) {
            std::array<double, 4> in = walk.next();
            if (i % 1000 == 999) in[1] = -1.0;                 // a caller's mistake takes nothing either
            if (i % 1000 == 499) in[0] = 0.03, in[1] = 900.0;  // nor does a blade that lies flat
            const Status status = solver.solve(in, out, workspace, i % 2 == 0 ? &near : nullptr);
            solved += status == Status::converged, refused += status == Status::out_of_range;
            silent += status != Status::converged && !std::isnan(out[0]);
        }
        const long after = taken;  // the test's own words take some
        INFO(kind.name);
        CHECK(after == before);
        CHECK(silent == 0);
        CHECK(solved >= kind.calls - 2 * (kind.calls / 1000) - kind.calls / 1000);
        CHECK(refused == kind.calls / 1000);
    }
}

TEST_CASE("a warm start changes the time and not the answer", "[solver]") {
    const std::vector<double OperatingPoint::*> outputs{
        &OperatingPoint::film_on_lands, &OperatingPoint::effective_angle, &OperatingPoint::tangential_load};
    for (const Case& base : {newtonian(), everything(), elsewhere(Holding::fixed), elsewhere(Holding::floating)}) {
        const Solver solver(base, kFields, outputs);
        Workspace workspace = solver.workspace();
        WarmStart near;
        Walk walk(11);
        double largest = 0.0;
        for (int i = 0; i < 300; ++i) {
            const auto in = walk.next();
            std::array<double, 3> warm{}, cold{};
            REQUIRE(solver.solve(in, warm, workspace, &near) == Status::converged);
            REQUIRE(solver.solve(in, cold, workspace) == Status::converged);
            for (std::size_t k = 0; k < 3; ++k) largest = std::max(largest, std::abs(warm[k] / cold[k] - 1.0));
        }
        INFO("largest difference " << largest);
        CHECK(largest < 1e-8);
    }
}

TEST_CASE("a warm start is the caller's: put back, it leads to the same bits", "[solver]") {
    const Case base = elsewhere(Holding::fixed);
    const std::vector<double OperatingPoint::*> outputs{&OperatingPoint::film_on_lands};
    const Solver solver(base, kFields, outputs);
    Workspace one = solver.workspace(), other = solver.workspace();
    Walk walk(5);
    WarmStart near;
    std::array<double, 1> out{}, again{};
    for (int i = 0; i < 20; ++i) REQUIRE(solver.solve(walk.next(), out, one, &near) == Status::converged);
    const WarmStart kept = near;
    const auto in = walk.next();
    REQUIRE(solver.solve(in, out, one, &near) == Status::converged);
    WarmStart back = kept;
    REQUIRE(solver.solve(in, again, other, &back) == Status::converged);
    CHECK(out[0] == again[0]);
}

TEST_CASE("one solver serves threads at once", "[solver]") {
    const std::vector<double OperatingPoint::*> outputs{&OperatingPoint::film_on_lands};
    const Solver solver(everything(), kFields, outputs);
    constexpr int kPoints = 64;
    std::vector<std::array<double, 4>> in;
    Walk walk(9);
    for (int i = 0; i < kPoints; ++i) in.push_back(walk.next());
    const auto run = [&](std::vector<double>& films) {
        Workspace workspace = solver.workspace();
        for (int i = 0; i < kPoints; ++i)
            (void)solver.solve(in[static_cast<std::size_t>(i)],
                               std::span(films).subspan(static_cast<std::size_t>(i), 1), workspace);
    };
    std::vector<double> a(kPoints), b(kPoints), alone(kPoints);
    std::thread first([&] { run(a); }), second([&] { run(b); });
    first.join(), second.join();
    run(alone);
    CHECK(a == alone);
    CHECK(b == alone);
}

TEST_CASE("a solver names what cannot move in a hot loop", "[solver]") {
    const std::vector<double OperatingPoint::*> film{&OperatingPoint::film_on_lands};
    const auto refused = [&](const Case& base, std::vector<std::string> fields) {
        try {
            (void)Solver(base, fields, film);
        } catch (const InvalidInput& bad) {
            return bad.problems().front().path;
        }
        return std::string("taken");
    };
    CHECK(refused(everything(), {"roll.engraving.screen"}) == "roll.engraving.screen");
    CHECK(refused(newtonian(), {"roll.engraving.pressure_flow_factor"}) == "taken");
    CHECK(refused(everything(), {"ink.rheology.time_constant"}) == "ink.rheology.time_constant");
    CHECK(refused(newtonian(), {"ink.viscosity"}) == "taken");
    CHECK(refused(newtonian(), {"setting.actuator.air_pressure"}) == "setting.actuator");
    CHECK(refused(newtonian(), {"setting.line_load", "setting.interference"}) == "setting.line_load");
    CHECK(refused(newtonian(), {"setting.set_angle", "setting.set_angle"}) == "setting.set_angle");
    CHECK(refused(newtonian(), {"setting.holding"}) == "setting.holding");
    CHECK(refused(newtonian(), {"blade.colour"}) == "blade.colour");
    Case bad = newtonian();
    bad.blade.thickness = -1.0;
    CHECK(refused(bad, {"setting.set_angle"}) == "blade.thickness");

    const Solver solver(newtonian(), kFields, film);
    Workspace workspace = solver.workspace();
    std::array<double, 1> out{};
    CHECK(solver.solve(std::array{0.5}, out, workspace) == Status::out_of_range);
    CHECK(std::isnan(out[0]));
    CHECK(solver.inputs() == 4);
    CHECK(solver.outputs() == 1);
}
