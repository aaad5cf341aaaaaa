#include "libblade/wear.hpp"

#include <array>
#include <boost/numeric/odeint/integrate/integrate_adaptive.hpp>
#include <boost/numeric/odeint/stepper/generation.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>
#include <cmath>
#include <fstream>
#include <sstream>
#include <vector>

#include "expect.hpp"
#include "libblade/error.hpp"
#include "libblade/wear_edge.hpp"
#include "wear_cases.hpp"

using namespace libblade;
using namespace wear_cases;

namespace {

std::vector<std::vector<double>> rows(const std::string& name) {
    std::ifstream table(std::string(LIBBLADE_TEST_REFERENCE) + "/archard_1953/" + name);
    REQUIRE(table.good());
    std::vector<std::vector<double>> out;
    std::string line;
    std::getline(table, line);
    while (std::getline(table, line)) {
        std::istringstream cells(line);
        std::string cell;
        out.emplace_back();
        while (std::getline(cells, cell, ',')) out.back().push_back(std::stod(cell));
    }
    REQUIRE(!out.empty());
    return out;
}

}  // namespace

TEST_CASE("the worn corner is a right triangle, then a slab is added", "[wear]") {
    const double t = 200e-6;
    for (const double a : {0.2, 0.5, 1.1}) {
        // Legs b cos a along the roll-facing side and b sin a along the end.
        const double b = 0.6 * t / std::sin(a), along = b * std::cos(a), across = b * std::sin(a);
        expect_close(corner_area(b, a), 0.5 * along * across, 1e-14, "plane geometry");
        const Cut cut = cut_at(0.5 * along * across, a, false, t);
        expect_close(cut.length, b, 1e-14, "hypotenuse");
        expect_close(cut.length_lost, along, 1e-14, "leg");
        expect_close(cut.along, 0.5 * along, 1e-14, "middle of the hypotenuse");
        expect_close(cut.across, 0.5 * across, 1e-14, "middle of the hypotenuse");
        const double full = 0.5 * t * t / std::tan(a), more = 40e-6;
        expect_close(full_corner_area(a, t), full, 1e-14, "legs t and t cot a");
        const Cut slab = cut_at(full + t * more, a, true, t);
        expect_close(slab.length, t / std::sin(a), 1e-14, "from side to side");
        expect_close(slab.length_lost, t / std::tan(a) + more, 1e-13, "all of the blade gets shorter by it");
        expect_close(slab.along, 0.5 * t / std::tan(a) + more, 1e-13, "middle");
        expect_close(slab.across, 0.5 * t, 1e-14, "middle");
    }
}

TEST_CASE("wear of an edge whose asperities carry all, closed forms", "[wear]") {
    const std::string why = "tests/reference/archard_1953, ten digits";
    for (const auto& r : rows("wedge.csv"))
        expect_close(wedge_facet_length(r[0], r[1], r[2], r[3] * deg, r[4] * deg), r[5], 1e-9, why);
    for (const auto& r : rows("square.csv")) {
        const EdgeWear w = square_edge_wear(r[0], r[1], r[2], r[3] * deg, r[4]);
        expect_close(w.facet_length, r[5], 1e-9, why);
        expect_close(w.retreat, r[6], 1e-9, why);
        expect_close(w.length_lost, r[6] / std::sin(r[3] * deg), 1e-9, "plane geometry");
        expect_close(w.distance_to_full, r[7], 1e-9, why);
    }
    for (const auto& r : rows("full.csv"))
        expect_close(square_edge_wear(kWear, kLoad, 1e9, r[1] * deg, r[0]).facet_length, r[2], 1e-9, why);
}

TEST_CASE("a square edge in a thin ink wears as the closed form says", "[wear]") {
    Case c = dry_case();
    c.tip = SquareEdge{1e-7};
    const WearHistory w = wear(c, 20e3);
    REQUIRE(w.convergence.ok());
    REQUIRE(w.distance.back() == 20e3);
    // Archard 1953: b = sqrt(2 k N s / (sin a cos a)), at the angle the loaded blade runs at.
    const double a = w.effective_angle.back();
    expect_close(w.facet_length.back(), std::sqrt(2.0 * kWear * kLoad * 20e3 / (std::sin(a) * std::cos(a))), 1e-4,
                 "the film's share of the load and the bedding's lag behind the angle");
    // Removed volume = k x integral of N_a: geometry of the cut against the trapezoids of a load that varies by 1e-6.
    double run = w.removed_area.front();
    for (std::size_t i = 1; i < w.distance.size(); ++i)
        run += kWear * 0.5 * (w.asperity_load[i] + w.asperity_load[i - 1]) * (w.distance[i] - w.distance[i - 1]);
    expect_close(cut_corner(w.facet_length.back(), w.bedded_angle.back()), run, 1e-8, "volume is kept");
    for (std::size_t i = 0; i < w.distance.size(); ++i)
        expect_close(w.length_lost[i], w.facet_length[i] * std::cos(w.bedded_angle[i]), 1e-12, "plane geometry");
}

TEST_CASE("a cut face worn away: event, then length loss k N_a / t at any angle", "[wear]") {
    for (const double angle : {30.0, 45.0}) {
        INFO("set angle " << angle);
        Case c = dry_case();
        c.blade.thickness = 0.2e-3;
        c.blade.free_length = 1.5e-3;
        c.blade.material.youngs_modulus = 1.2e12;  // the angle stays
        c.setting.set_angle = angle * deg;
        const double a0 = angle * deg, full = 0.5 * 0.2e-3 * 0.2e-3 / std::tan(a0) / (kWear * kLoad);
        const double b = 0.8 * 0.2e-3 / std::sin(a0);
        c.tip = Facet{b, BeddedHere{}, 1e-6};
        const WearHistory w = wear(c, full);
        REQUIRE(w.convergence.ok());
        REQUIRE(w.events.size() == 1);
        CHECK(w.events[0].kind == WearEventKind::fully_worn);
        const std::size_t at = [&] {
            for (std::size_t i = 0; i < w.distance.size(); ++i)
                if (w.distance[i] == w.events[0].distance) return i;
            return std::size_t{0};
        }();
        REQUIRE(at > 0);
        const double a = w.bedded_angle[at];
        expect_close(w.facet_length[at], 0.2e-3 / std::sin(a), 1e-9, "t / sin a");
        expect_close(kWear * kLoad * w.events[0].distance,
                     0.5 * 0.2e-3 * 0.2e-3 / std::tan(a) - cut_corner(b, w.bedded_angle[0]), 1e-4,
                     "Archard 1953: volume of the full corner less that of the facet it started from");
        expect_close((w.length_lost.back() - w.length_lost[at]) / (w.distance.back() - w.distance[at]),
                     kWear * kLoad / 0.2e-3, 1e-4, "k N / t (Archard 1953 and plane geometry)");
    }
}

TEST_CASE("a worn blade bends as the shorter blade that it is", "[wear]") {
    Case c = dry_case();
    c.blade.thickness = 0.2e-3;
    const double full = 0.5 * 0.2e-3 * 0.2e-3 / std::tan(30.0 * deg) / (kWear * kLoad);
    for (const double distance : {0.7 * full, 3.0 * full}) {
        INFO(distance << " m");
        const WearHistory w = wear(c, distance);
        REQUIRE(w.convergence.ok());
        // The facet's centre, from the end of the new blade along its side (plane geometry).
        const double B = w.bedded_angle.back(), b = w.facet_length.back();
        const double centre = w.length_lost.back() - 0.5 * b * std::cos(B);
        const double first = 0.5 * 200e-6 * std::cos(w.bedded_angle[0]);
        CHECK(centre - first > 50e-6);
        Case shorter = c;
        shorter.blade.free_length -= centre - first;
        shorter.tip = Facet{b, BeddedAngle{B}, 1e-6};
        const OperatingPoint p = solve(shorter);
        REQUIRE(p.convergence.ok());
        expect_close(w.effective_angle.back(), p.effective_angle, 1e-6, "solved apart");
        expect_close(w.interference.back(), p.interference, 1e-5, "solved apart");
    }
}

TEST_CASE("a tilted facet beds over b^2 d / (2 k N), whichever end it stands on", "[wear]") {
    for (const Orientation orientation : {Orientation::doctoring, Orientation::trailing})
        for (const double off : {0.5, -0.5}) {
            INFO("trailing " << (orientation == Orientation::trailing) << ", off by " << off);
            Case c = dry_case(orientation);
            c.tip = Facet{200e-6, BeddedAngle{(30.0 + off) * deg}, 1e-6};
            WearOptions options;
            options.longest_step = 10.0;
            const WearHistory w = wear(c, 1500.0, options);
            REQUIRE(w.convergence.ok());
            const auto tilt = [&](std::size_t i) { return std::abs(w.bedded_angle[i] - w.effective_angle[i]); };
            std::size_t i = 0;
            while (i + 1 < w.distance.size() && tilt(i) > 0.1 * tilt(0)) ++i;
            // Nine tenths of the wedge that the tilt leaves over the facet, at the rate k N (plane geometry). The last
            // tenth is left out: asperities of 0.3 um carry everywhere by then.
            expect_close(w.distance[i], 0.9 * rebedding_distance(200e-6, tilt(0), kWear, kLoad), 0.1,
                         "the facet grows by 1 % meanwhile");
            CHECK(tilt(w.distance.size() - 1) < 0.005 * tilt(0));
        }
}

TEST_CASE("steps of the wear history are of fourth order", "[wear]") {
    const Case c = press_case(Orientation::doctoring, Holding::fixed);
    std::vector<double> end;
    for (const double step : {100.0, 50.0, 25.0}) {
        WearOptions options;
        options.tolerance = 0.1;  // every step is accepted
        options.longest_step = step;
        const WearHistory w = wear(c, 31.0 + 400.0, options);  // steps of 1, 5 and 25 come first
        REQUIRE(w.convergence.ok());
        REQUIRE(w.steps_rejected == 0);
        end.push_back(w.bedded_angle.back());
    }
    const double order = std::log2(std::abs((end[0] - end[1]) / (end[1] - end[2])));
    INFO("order " << order << ", differences " << end[0] - end[1] << " and " << end[1] - end[2]);
    CHECK(order > 3.3);
    CHECK(order < 5.5);
}

TEST_CASE("an explicit integrator of another library comes to the same facet", "[wear]") {
    // The same law written once more, over b^2 instead of the area and with trapezoids instead of Simpson's rule, by
    // Boost.Odeint's Dormand-Prince: short steps resolve the bedding that the implicit ones pass over.
    for (const Orientation orientation : {Orientation::doctoring, Orientation::trailing}) {
        INFO("trailing " << (orientation == Orientation::trailing));
        const Case start = press_case(orientation, Holding::floating, 0.03, 0.1);
        FlowTables tables;
        NipOptions nip;
        nip.step_response = nip.other_branch = nip.run_out = false;
        nip.section = true;
        nip.mesh = 2;
        nip.tables = &tables;
        const double B0 = solve(start, nip).bedded_angle + 0.02 * deg;
        Case tilted = start;
        tilted.tip = Facet{200e-6, BeddedAngle{B0}, 1e-6};
        using Y = std::array<double, 2>;  // b^2, B
        const auto rates = [&](const Y& y, Y& out, double) {
            const double b = std::sqrt(y[0]);
            Case now = tilted;
            now.tip = Facet{b, BeddedAngle{y[1]}, 1e-6};
            now.blade.free_length -= 0.5 * (b * std::cos(y[1]) - 200e-6 * std::cos(B0));
            const OperatingPoint p = solve(now, nip);
            REQUIRE(p.convergence.ok());
            double moment = 0.0;
            const auto& x = p.section.x;
            const auto& pa = p.section.asperity_pressure;
            for (std::size_t i = 1; i < x.size(); ++i)
                moment += 0.5 * (x[i] - x[i - 1]) * (pa[i] * x[i] + pa[i - 1] * x[i - 1]);
            REQUIRE(std::abs(moment) < p.asperity_load * b / 6.0);  // the whole facet carries
            out[1] = (orientation == Orientation::doctoring ? -12.0 : 12.0) * kWear * moment / (b * b * b);
            // d(b^2 sin B cos B / 2) = k N_a ds
            out[0] = 2.0 * (kWear * p.asperity_load - 0.5 * y[0] * std::cos(2.0 * y[1]) * out[1]) /
                     (std::sin(y[1]) * std::cos(y[1]));
        };
        namespace ode = boost::numeric::odeint;
        Y y{200e-6 * 200e-6, B0};
        ode::integrate_adaptive(ode::make_controlled(1e-12, 1e-7, ode::runge_kutta_dopri5<Y>()), rates, y, 0.0, 150.0,
                                1.0);
        WearOptions options;
        options.tolerance = 1e-7;
        options.mesh = 2;
        const WearHistory w = wear(tilted, 150.0, options);
        REQUIRE(w.convergence.ok());
        const double turned = w.bedded_angle.back() - B0;
        INFO("turned " << turned << " rad, " << w.convergence.iterations << " steps");
        CHECK(turned < -0.005 * deg);
        expect_close(turned, y[1] - B0, 2e-3, "trapezoids of the moment, steps good to 1e-8 rad");
        expect_close(w.facet_length.back() - 200e-6, std::sqrt(y[0]) - 200e-6, 2e-3, "the same");
    }
}

TEST_CASE("a riding blade does not wear and stays as it is", "[wear]") {
    WearOptions options;
    options.start = Start::riding;
    const WearHistory w = wear(press_case(Orientation::doctoring, Holding::floating, 0.3, 3.0), 3000.0, options);
    REQUIRE(w.convergence.ok());
    REQUIRE(w.distance.size() > 2);
    CHECK(w.asperity_load.front() == 0.0);
    CHECK(w.excess_ink.front() > 1e-6);
    CHECK(w.facet_length.back() == w.facet_length.front());
    CHECK(w.bedded_angle.back() == w.bedded_angle.front());
    CHECK(w.removed_area.back() == w.removed_area.front());
    CHECK(w.excess_ink.back() == Approx(w.excess_ink.front()).epsilon(1e-9));
}

TEST_CASE("a fixed holder loses the advance that the facet's centre recedes, and load with it", "[wear]") {
    for (const Orientation orientation : {Orientation::doctoring, Orientation::trailing}) {
        const WearHistory w = wear(press_case(orientation, Holding::fixed), 20e3);
        REQUIRE(w.convergence.ok());
        const auto recess = [&](std::size_t i) {
            const double b = w.facet_length[i], B = w.bedded_angle[i], a0 = 30.0 * deg;
            return 0.5 * b * (std::cos(B) * std::sin(a0) + std::sin(B) * std::cos(a0));
        };
        const std::size_t n = w.distance.size() - 1;
        CHECK(recess(n) - recess(0) > 1e-6);
        expect_close(w.interference[0] - w.interference[n], recess(n) - recess(0), 1e-6, "plane geometry");
        CHECK(w.line_load[n] < w.line_load[0]);
        // Archard's volume from the recorded loads; they vary, so that trapezoids are good to a per cent.
        double run = 0.0;
        for (std::size_t i = 1; i <= n; ++i)
            run += kWear * 0.5 * (w.asperity_load[i] + w.asperity_load[i - 1]) * (w.distance[i] - w.distance[i - 1]);
        expect_close(cut_corner(w.facet_length[n], w.bedded_angle[n]) - cut_corner(200e-6, w.bedded_angle[0]), run,
                     0.01, "volume is kept");
    }
}

TEST_CASE("limits end the history where they are passed", "[wear]") {
    const Case c = press_case(Orientation::trailing, Holding::fixed);
    WearOptions options;
    options.facet_limit = 201e-6;
    const WearHistory facet = wear(c, 300e3, options);
    REQUIRE(facet.convergence.ok());
    REQUIRE(facet.events.size() == 1);
    CHECK(facet.events[0].kind == WearEventKind::facet_limit);
    CHECK(facet.events[0].distance == facet.distance.back());
    expect_close(facet.facet_length.back(), 201e-6, 1e-9, "root on the dense output");
    CHECK(facet.distance.back() < 300e3);

    options = {};
    options.length_limit = 179e-6;
    const WearHistory length = wear(c, 300e3, options);
    REQUIRE(length.events.size() == 1);
    CHECK(length.events[0].kind == WearEventKind::length_limit);
    expect_close(length.length_lost.back(), 179e-6, 1e-9, "root on the dense output");

    options = {};
    options.excess_limit = 0.12e-6;
    const WearHistory excess = wear(c, 300e3, options);
    REQUIRE(excess.events.size() == 1);
    CHECK(excess.events[0].kind == WearEventKind::excess_limit);
    expect_close(excess.excess_ink.back(), 0.12e-6, 1e-6, "root on the dense output");

    options = {};
    options.excess_limit = 1e-9;  // passed from the start
    const WearHistory none = wear(c, 300e3, options);
    CHECK(none.distance.size() == 1);
    CHECK(none.events.size() == 1);
}

TEST_CASE("a history that cannot go on says why", "[wear]") {
    WearOptions options;
    options.max_steps = 3;
    const WearHistory few = wear(press_case(Orientation::trailing, Holding::fixed), 300e3, options);
    CHECK(few.convergence.status == Status::max_iterations);
    CHECK(few.distance.size() == 4);
    CHECK(few.distance.back() < 300e3);

    Case c = press_case(Orientation::doctoring, Holding::fixed);
    c.setting.set_angle = 1.5 * deg;
    c.setting.load = LineLoad{1000.0};
    const WearHistory flat = wear(c, 1e3);
    CHECK_FALSE(flat.convergence.ok());
    CHECK_FALSE(flat.convergence.message.empty());
    CHECK(flat.distance.empty());

    c = dry_case();
    c.tip = SquareEdge{1e-6};
    const WearHistory brief = wear(c, 10.0);  // the first facet takes 27 m
    CHECK(brief.convergence.status == Status::out_of_range);
    CHECK(brief.distance.empty());
    c.blade.specific_wear = 0.0;
    CHECK_THROWS_AS(wear(c, 10.0), InvalidInput);

    c = press_case(Orientation::doctoring, Holding::fixed);
    c.tip = Facet{600e-6, BeddedHere{}, 1e-6};
    CHECK_THROWS_AS(wear(c, 1e3), InvalidInput);
    c = press_case(Orientation::doctoring, Holding::fixed);
    CHECK_THROWS_AS(wear(c, 0.0), InvalidInput);
    c.blade.sections = {{12e-3, 0.2e-3, 0.1e-3, Flush::roll}};
    CHECK_THROWS_AS(wear(c, 1e3), InvalidInput);
}
