// What a blade's history does to the print, in both tiers of wear and on two meshes. Numbers of the mechanics, none of them
// tuned: where a phenomenon is said to be absent its absence is a test.
#include <algorithm>
#include <vector>

#include "expect.hpp"
#include "libblade/error.hpp"
#include "wear_cases.hpp"

using namespace libblade;
using namespace wear_cases;

namespace {

struct Kind {
    WearTier tier;
    int mesh;
};
#ifdef __SANITIZE_ADDRESS__
const std::vector<Kind> kinds{{WearTier::facet, 1}, {WearTier::facet, 1}, {WearTier::profile, 1}};  // ten times as slow
#else
const std::vector<Kind> kinds{
    {WearTier::facet, 1}, {WearTier::facet, 2}, {WearTier::profile, 1}, {WearTier::profile, 2}};
#endif

FlowTables& tables() {
    static FlowTables kept;
    return kept;
}

WearOptions options_of(const Kind& kind) {
    WearOptions o;
    o.tier = kind.tier, o.mesh = kind.mesh, o.tables = &tables();
    return o;
}

std::string name(const Kind& kind) {
    return (kind.tier == WearTier::facet ? "facet" : "profile") + std::string(", mesh ") + std::to_string(kind.mesh);
}

std::size_t first_of_step(const WearHistory& w, int step) {
    return static_cast<std::size_t>(std::find(w.step.begin(), w.step.end(), step) - w.step.begin());
}

/// Excess at a distance after the start of a step, between entries.
double excess_at(const WearHistory& w, int step, double after) {
    const std::size_t first = first_of_step(w, step);
    const double s = w.distance[first] + after;
    for (std::size_t i = first + 1; i < w.distance.size(); ++i)
        if (w.distance[i] >= s) {
            const double part = (s - w.distance[i - 1]) / (w.distance[i] - w.distance[i - 1]);
            return w.excess_ink[i - 1] + part * (w.excess_ink[i] - w.excess_ink[i - 1]);
        }
    return w.excess_ink.back();
}

bool jumps(const WearHistory& w) {
    return std::any_of(w.events.begin(), w.events.end(),
                       [](const WearHistoryEvent& e) { return e.kind == WearEventKind::branch_jump; });
}

}  // namespace

TEST_CASE("the worn surface wears as its straight facet does, and no metal is lost", "[wear]") {
    for (const Orientation orientation : {Orientation::doctoring, Orientation::trailing})
        for (const int mesh : {1, 2}) {
            INFO("trailing " << (orientation == Orientation::trailing) << ", mesh " << mesh);
            const Case c = press_case(orientation, Holding::fixed);
            const WearHistory straight = wear(c, 20e3, options_of({WearTier::facet, mesh}));
            const WearHistory surface = wear(c, 20e3, options_of({WearTier::profile, mesh}));
            REQUIRE(straight.convergence.ok());
            REQUIRE(surface.convergence.ok());
            // A surface may round off where a straight facet can only turn.
            expect_close(surface.facet_length.back(), straight.facet_length.back(), 0.015,
                         "the ends wear at their own pressure");
            expect_close(surface.film_on_lands.back(), straight.film_on_lands.back(), 0.02, "the same");
            for (std::size_t i = 0; i < surface.distance.size(); ++i)
                expect_close(surface.removed_area[i], surface.worn_area[i], 1e-8, "removed metal by geometry and law");
        }
}

TEST_CASE("the surface of a square edge in a thin ink wears as the closed form says", "[wear]") {
    for (const int mesh : {1, 2}) {
        Case c = dry_case();
        c.tip = SquareEdge{1e-7};
        WearOptions o = options_of({WearTier::profile, mesh});
        o.tolerance = 1e-7;  // the facet grows from 5 um
        const WearHistory w = wear(c, 5e3, o);
        INFO(w.convergence.message << ", mesh " << mesh);
        REQUIRE(w.convergence.ok());
        const double a = w.effective_angle.back();
        // Archard 1953, J. Appl. Phys. 24:981.
        expect_close(w.facet_length.back(), std::sqrt(2.0 * kWear * kLoad * 5e3 / (std::sin(a) * std::cos(a))), 1e-4,
                     "all load on asperities, one angle");
        expect_close(w.removed_area.back(), w.worn_area.back(), 1e-8, "removed metal by geometry and law");
        expect_close(w.worn_area.back(), kWear * kLoad * 5e3, 1e-5, "Archard's volume; the film carries 1e-6");
    }
}

TEST_CASE("the surface of a worn cut face: length loss k N_a / t", "[wear]") {
    Case c = dry_case();
    c.blade.thickness = 0.2e-3;
    c.blade.free_length = 1.5e-3;
    c.blade.material.youngs_modulus = 1.2e12;  // the angle stays
    c.tip = Facet{0.97 * 0.2e-3 / std::sin(30.0 * deg), BeddedHere{}, 1e-6};
    const double full = full_corner_area(30.0 * deg, 0.2e-3) / (kWear * kLoad);
    const WearHistory w = wear(c, 0.2 * full, options_of({WearTier::profile, 1}));
    REQUIRE(w.convergence.ok());
    REQUIRE(w.events.size() == 1);
    CHECK(w.events[0].kind == WearEventKind::fully_worn);
    const auto at = static_cast<std::size_t>(std::find(w.distance.begin(), w.distance.end(), w.events[0].distance) -
                                             w.distance.begin());
    REQUIRE(at + 2 < w.distance.size());
    expect_close(w.facet_length[at], 0.2e-3 / std::sin(w.bedded_angle[at]), 2e-4, "t / sin a; a crown of 1e-4 b");
    expect_close((w.length_lost.back() - w.length_lost[at]) / (w.distance.back() - w.distance[at]),
                 kWear * kLoad / 0.2e-3, 1e-4, "k N / t (Archard 1953 and plane geometry)");
    expect_close(w.removed_area.back(), w.worn_area.back(), 1e-8, "removed metal by geometry and law");
}

TEST_CASE("a tilted surface beds over b^2 d / (2 k N)", "[wear]") {
    for (const Orientation orientation : {Orientation::doctoring, Orientation::trailing})
        for (const double off : {1.0, -1.0}) {
            INFO("trailing " << (orientation == Orientation::trailing) << ", off by " << off);
            Case c = dry_case(orientation);
            c.tip = Facet{200e-6, BeddedAngle{(30.0 + off) * deg}, 1e-6};
            WearOptions o = options_of({WearTier::profile, 1});
            o.longest_step = 10.0;
            const WearHistory w = wear(c, 3000.0, o);
            REQUIRE(w.convergence.ok());
            const auto tilt = [&](std::size_t i) { return std::abs(w.bedded_angle[i] - w.effective_angle[i]); };
            // The worn part is parallel at once; what is left of the wedge is the part that does not carry yet. The
            // least-squares line has turned by nine tenths when all but a fifth carries, 1 - (1 - x)^2 (1 + 2 x) of it
            // worn: x = 0.804 of the length, 0.646 of the wedge's volume.
            std::size_t i = 0;
            while (i + 1 < w.distance.size() && tilt(i) > 0.1 * tilt(0)) ++i;
            expect_close(w.distance[i], 0.646 * rebedding_distance(200e-6, tilt(0), kWear, kLoad), 0.1,
                         "asperities of 0.3 um soften the kink of the worn part");
            CHECK(tilt(w.distance.size() - 1) < 0.005 * tilt(0));
        }
}

TEST_CASE("steps of the worn surface are of fifth order", "[wear]") {
    std::vector<double> end;
    for (const double step : {80.0, 40.0, 20.0}) {
        WearOptions o = options_of({WearTier::profile, 1});
        o.tolerance = 0.1, o.longest_step = step;
        const WearHistory w = wear(press_case(Orientation::doctoring, Holding::fixed), 31.0 + 400.0, o);
        REQUIRE(w.convergence.ok());
        REQUIRE(w.steps_rejected == 0);
        end.push_back(w.facet_length.back());
    }
    const double order = std::log2(std::abs((end[0] - end[1]) / (end[1] - end[2])));
    INFO("order " << order << ", differences " << end[0] - end[1] << " and " << end[1] - end[2]);
    CHECK(order > 4.0);
    CHECK(order < 6.5);
}

TEST_CASE("a riding blade does not wear: haze stays for kilometres", "[wear]") {
    for (const Kind& kind : kinds) {
        INFO(name(kind));
        WearOptions o = options_of(kind);
        o.start = Start::riding;
        const WearHistory w = wear(press_case(Orientation::doctoring, Holding::floating, 0.3, 3.0), 3000.0, o);
        REQUIRE(w.convergence.ok());
        CHECK(w.asperity_load.front() == 0.0);
        CHECK(w.excess_ink.front() > 1e-6);
        CHECK(w.removed_area.back() == w.removed_area.front());
        CHECK(w.excess_ink.back() == Approx(w.excess_ink.front()).epsilon(1e-9));
    }
}

TEST_CASE("a floating wiping blade beds itself into the fold and rides", "[wear]") {
    const Case floating = press_case(Orientation::doctoring, Holding::floating);
    for (const Kind& kind : kinds) {
        INFO(name(kind));
        const WearHistory w = wear(floating, 5e3, options_of(kind));
        REQUIRE(w.convergence.ok());
        REQUIRE(jumps(w));
        CHECK(w.regime.front() == Regime::wiping);
        CHECK(w.regime.back() == Regime::riding);
        CHECK(w.events.front().distance > 100.0);
        CHECK(w.events.front().distance < 500.0);
        CHECK(w.film_on_lands.back() > 2.0 * w.film_on_lands.front());
        // Absent in a fixed holder, where rotation is geometry, and with a friction coefficient that does not fall.
        const WearHistory fixed = wear(press_case(Orientation::doctoring, Holding::fixed), 5e3, options_of(kind));
        WearOptions constant = options_of(kind);
        constant.constant_friction = true;
        const WearHistory even = wear(floating, 5e3, constant);
        for (const WearHistory* other : {&fixed, &even}) {
            REQUIRE(other->convergence.ok());
            CHECK_FALSE(jumps(*other));
            CHECK(other->excess_ink.back() < 0.05e-6);
        }
    }
}

TEST_CASE("a ripple beds the blade to where it never closes, and the mean opening rises", "[wear]") {
    for (const Kind& kind : kinds)
        for (const Orientation orientation : {Orientation::doctoring, Orientation::trailing}) {
            INFO(name(kind) << ", trailing " << (orientation == Orientation::trailing));
            const Case c = press_case(orientation, Holding::fixed);
            std::vector<double> film, lead;
            for (const double ripple : {0.0, 0.05}) {
                ScheduleStep step = run(5e3);
                step.ripple = ripple;
                const WearHistory w = wear(c, Schedule{step}, options_of(kind));
                REQUIRE(w.convergence.ok());
                film.push_back(w.film_on_lands.back());
                lead.push_back(w.bedded_angle.back() - w.effective_angle.back());
            }
            CHECK(film[1] > 1.5 * film[0]);
            CHECK(std::abs(lead[0]) < 0.005 * deg);
            // How far the angle swings: a dry blade's own bending at both ends of the ripple.
            NipOptions still;
            still.step_response = still.other_branch = still.run_out = false;
            still.tables = &tables();
            std::vector<double> angle;
            const double rest = solve(c, still).interference;
            for (const double part : {0.95, 1.05}) {
                Case end = c;
                end.setting.load = Interference{part * rest};
                angle.push_back(solve(end, still).effective_angle);
            }
            const double swing = 0.5 * (angle[0] - angle[1]);
            REQUIRE(swing > 0.05 * deg);
            // The steepest angle of the turn for doctoring, the shallowest for trailing.
            const double sign = orientation == Orientation::doctoring ? 1.0 : -1.0;
            expect_close(sign * lead[1], swing, 0.1,
                         "phases of the turn stop 3 % short of its ends; film in the last tenth");
        }
}

TEST_CASE("a trailing blade at a low angle clears when pressed harder and returns within kilometres", "[wear]") {
    Case c = press_case(Orientation::trailing, Holding::fixed);
    c.setting.set_angle = 15.0 * deg;
    c.setting.load = LineLoad{60.0};
    ScheduleStep harder = run(6e3);
    harder.set = {{"setting.line_load", 75.0}};
    for (const Kind& kind : kinds)
        for (const Holding holding : {Holding::fixed, Holding::floating}) {
            INFO(name(kind) << ", floating " << (holding == Holding::floating));
            c.setting.holding = holding;
            const WearHistory w = wear(c, Schedule{run(5e3), harder}, options_of(kind));
            REQUIRE(w.convergence.ok());
            const std::size_t pressed = first_of_step(w, 1);
            const double before = w.excess_ink[pressed - 1];
            CHECK(before > 0.2e-6);
            CHECK(w.excess_ink[pressed] == 0.0);
            CHECK(excess_at(w, 1, 500.0) < 0.2 * before);
            CHECK(excess_at(w, 1, 3000.0) > 0.4 * before);
        }
    // A doctoring blade opens when it is pressed harder, rides and stays: nothing clears.
    for (const Kind& kind : kinds) {
        INFO(name(kind) << ", doctoring");
        Case d = press_case(Orientation::doctoring, Holding::fixed);
        ScheduleStep more = run(6e3);
        more.set = {{"setting.line_load", 125.0}};
        const WearHistory w = wear(d, Schedule{run(5e3), more}, options_of(kind));
        REQUIRE(w.convergence.ok());
        const std::size_t pressed = first_of_step(w, 1);
        CHECK(w.excess_ink[pressed] > 5.0 * w.excess_ink[pressed - 1]);
        CHECK(w.excess_ink.back() > 5.0 * w.excess_ink[pressed - 1]);
    }
}

TEST_CASE("a schedule: what each step does to blade and holder", "[wear]") {
    const Case c = press_case(Orientation::doctoring, Holding::fixed);
    for (const Kind& kind : {kinds[0], kinds[2]}) {
        INFO(name(kind));
        ScheduleStep faster = run(2e3), stopped, thicker = run(1e3), timed, fresh = run(1e3);
        faster.ramp = {{"setting.surface_speed", 8.0}};
        stopped.stopped = true, stopped.duration = 600.0;
        thicker.set = {{"ink.viscosity", 0.06}};
        timed.duration = 200.0, timed.ramp = {{"setting.line_load", 130.0}};
        fresh.new_blade = true, fresh.set = {{"blade.thickness", 0.25e-3}};
        const WearHistory w = wear(c, Schedule{run(1e3), faster, stopped, thicker, timed, fresh}, options_of(kind));
        INFO(w.convergence.message);
        REQUIRE(w.convergence.ok());
        const auto at = [&](int step) { return first_of_step(w, step); };
        for (std::size_t i = 1; i < w.distance.size(); ++i) {
            CHECK(w.distance[i] >= w.distance[i - 1]);
            CHECK(w.time[i] >= w.time[i - 1]);
        }
        // Way and time, by hand: speed in proportion to the distance, dt = ds / U(s).
        CHECK(w.distance.back() == Approx(1e3 + 2e3 + 1e3 + 200.0 * 8.0 + 1e3).epsilon(1e-12));
        expect_close(w.time[at(2)] - w.time[at(1)], 2e3 * std::log(8.0 / 5.0) / 3.0 + 600.0, 1e-9,
                     "integral over the ramp, and the stop");
        expect_close(w.time[at(5)] - w.time[at(4)], 200.0, 1e-9, "a step of 200 s");
        // A faster roll drags more ink under; the tip stays where it is at a step.
        CHECK(w.film_on_lands[at(2) - 1] > 1.02 * w.film_on_lands[at(1)]);
        for (const int step : {1, 2, 3, 4}) {
            CHECK(w.removed_area[at(step)] == w.removed_area[at(step) - 1]);
            CHECK(w.facet_length[at(step)] == w.facet_length[at(step) - 1]);
        }
        // Not the 130 N/m of a blade bedded there: this one stands open and its friction is low.
        CHECK(w.line_load[at(5) - 1] > 1.1 * w.line_load[at(4)]);
        expect_close(w.facet_length[at(5)], 200e-6, 1e-9, "the new blade's own facet");
        expect_close(w.line_load[at(5)], 130.0, 1e-6, "set at the case's load as it is by then");
    }
}

TEST_CASE("a history goes on from its state to the same bits", "[wear]") {
    ScheduleStep harder = run(2e3), rippled = run(1e3);
    harder.set = {{"setting.line_load", 120.0}}, harder.ramp = {{"setting.surface_speed", 6.0}};
    rippled.ripple = 0.03;
    const Schedule schedule{run(2e3), harder, rippled};
    const Case c = press_case(Orientation::trailing, Holding::fixed);
    for (const Kind& kind : {kinds[0], kinds[2]}) {
        const WearHistory whole = wear(c, schedule, options_of(kind));
        REQUIRE(whole.convergence.ok());
        const std::size_t all = whole.distance.size();
        for (const std::size_t kill : {std::size_t{3}, all / 2, all - 4}) {
            INFO(name(kind) << ", killed at entry " << kill << " of " << all);
            WearState left;
            WearOptions watched = options_of(kind);
            watched.watch = [&](const WearHistory& so_far) {
                left = so_far.state;
                return so_far.distance.size() < kill;
            };
            const WearHistory first = wear(c, schedule, watched);
            const WearHistory rest = wear(c, schedule, options_of(kind), &left);
            REQUIRE(rest.convergence.ok());
            REQUIRE(first.distance.size() + rest.distance.size() == all);
            for (std::size_t i = 0; i < rest.distance.size(); ++i) {
                const std::size_t k = first.distance.size() + i;
                CHECK(rest.distance[i] == whole.distance[k]);
                CHECK(rest.time[i] == whole.time[k]);
                CHECK(rest.facet_length[i] == whole.facet_length[k]);
                CHECK(rest.film_on_lands[i] == whole.film_on_lands[k]);
                CHECK(rest.bedded_angle[i] == whole.bedded_angle[k]);
            }
        }
    }
}

TEST_CASE("the end of a schedule begins the next one to the same bits", "[wear]") {
    ScheduleStep harder = run(1e3), stop, slower = run(500.0);
    harder.set = {{"setting.line_load", 120.0}, {"setting.set_angle", 31.0 * deg}};
    stop.stopped = true, stop.duration = 600.0, stop.set = {{"setting.surface_speed", 2.0}};
    slower.set = {{"ink.temperature", 305.0}};
    const Schedule schedule{{}, run(1e3), harder, stop, slower};
    for (const Kind& kind : {kinds[0], kinds[2]})
        for (const Holding holding : {Holding::fixed, Holding::floating}) {
            INFO(name(kind) << (holding == Holding::fixed ? ", fixed" : ", floating"));
            Case now = press_case(Orientation::doctoring, holding);
            const WearHistory whole = wear(now, schedule, options_of(kind));
            REQUIRE(whole.convergence.ok());
            WearHistory part;
            std::size_t at = 0;
            for (std::size_t k = 0; k < schedule.size(); ++k) {
                WearState from = part.state;
                from.step = 0;
                const Schedule one{schedule[k]};
                part = wear(now, one, options_of(kind), k == 0 ? nullptr : &from);
                REQUIRE(part.convergence.ok());
                REQUIRE(at + part.distance.size() <= whole.distance.size());
                for (std::size_t i = 0; i < part.distance.size(); ++i, ++at) {
                    CHECK(part.distance[i] == whole.distance[at]);
                    CHECK(part.time[i] == whole.time[at]);
                    CHECK(part.facet_length[i] == whole.facet_length[at]);
                    CHECK(part.film_on_lands[i] == whole.film_on_lands[at]);
                    CHECK(part.effective_angle[i] == whole.effective_angle[at]);
                    CHECK(part.line_load[i] == whole.line_load[at]);
                }
                now = case_within(case_after(now, one, 0), one[0], 1.0);
            }
            CHECK(at == whole.distance.size());
        }
}

TEST_CASE("a floating holder follows the blade; chamber pressure holds a blade that a fixed one has let go", "[wear]") {
    // Interference under a constant load: that of the blade where it stands, which its shortening hardly changes.
    const WearHistory kept = wear(dry_case(), 20e3, options_of(kinds[0]));
    REQUIRE(kept.convergence.ok());
    expect_close(kept.interference.back(), kept.interference.front(), 0.01, "a strip shorter by some 10 um of 12 mm");
    // A light fixed blade wears until its advance is used up: nothing else holds it then.
    Case light = press_case(Orientation::trailing, Holding::fixed, 1e-4, 0.01);
    light.setting.load = LineLoad{1.0};
    const WearHistory gone = wear(light, 3e6, options_of(kinds[0]));
    light.setting.chamber_pressure = 500.0, light.setting.pressure_side = PressureSide::away_from_roll;
    const WearHistory held = wear(light, 3e6, options_of(kinds[0]));
    INFO(gone.convergence.message << "; " << held.convergence.message);
    CHECK(gone.line_load.back() < 0.5);
    CHECK(held.distance.back() >= gone.distance.back());
    CHECK(held.line_load.back() > gone.line_load.back());
}

TEST_CASE("the blade remembers its branch: over a fold and back it rides on, short of it nothing has changed",
          "[wear]") {
    Case c = press_case(Orientation::doctoring, Holding::floating);
    c.setting.load = LineLoad{90.0};  // between its folds, 85 and 93 N/m (test_nip_branches)
    c.blade.specific_wear = 0.0;
    const auto film_after = [&](double there) {
        Schedule s;
        for (const double speed : {5.0, there, 5.0}) {
            s.push_back(run(1.0));
            s.back().set = {{"setting.surface_speed", speed}};
        }
        const WearHistory w = wear(c, s, options_of(kinds[0]));
        REQUIRE(w.convergence.ok());
        return w.film_on_lands.back() / w.film_on_lands.front();
    };
    CHECK(film_after(6.0) == Approx(1.0).epsilon(1e-6));
    CHECK(film_after(4.0) == Approx(1.0).epsilon(1e-6));
    CHECK(film_after(3.0) > 3.0);
}

TEST_CASE("a ripple of the load under a floating holder", "[wear]") {
    WearOptions o = options_of(kinds[0]);
    o.constant_friction = true;  // no fold to jump at
    std::vector<double> film;
    for (const double ripple : {0.0, 0.05}) {
        ScheduleStep step = run(5e3);
        step.ripple = ripple;
        const WearHistory w = wear(press_case(Orientation::doctoring, Holding::floating), Schedule{step}, o);
        REQUIRE(w.convergence.ok());
        film.push_back(w.film_on_lands.back());
    }
    CHECK(film[1] > 1.5 * film[0]);
}

TEST_CASE("a thin tip is used up where its step comes down to the roll", "[wear]") {
    Case c = press_case(Orientation::doctoring, Holding::floating, 0.03, 0.5);
    c.setting.load = LineLoad{60.0};
    c.blade.sections = {{10e-3, 0.2e-3, {}, Flush::roll}, {0.4e-3, 0.08e-3, {}, Flush::roll}};
    c.tip = Facet{WornLength{}, BeddedHere{}, 1e-6};
    const WearHistory w = wear(c, 1e6, options_of(kinds[0]));
    INFO(w.convergence.message);
    REQUIRE(w.convergence.ok());
    REQUIRE(!w.events.empty());
    CHECK(w.events.back().kind == WearEventKind::thin_tip_used_up);
    CHECK(w.distance.back() < 1e6);
    // Plane geometry: the step's inner corner lies on the away face, t cot a ahead of the facet's end on the roll's side;
    // the tip was 0.4 mm from the step to the facet's centre.
    const double cot = 1.0 / std::tan(w.bedded_angle.front()), t = 0.08e-3;
    expect_close(w.length_lost.back(), 0.4e-3 + 0.5 * t * cot + t * cot, 0.01, "the angle turns a little meanwhile");
}

TEST_CASE("a schedule that cannot be is refused with step, field and range", "[wear]") {
    const Case c = press_case(Orientation::doctoring, Holding::fixed);
    const auto refused = [&](const Schedule& schedule, const std::string& path) {
        try {
            (void)wear(c, schedule);
        } catch (const InvalidInput& e) {
            for (const Problem& p : e.problems())
                if (p.path.rfind(path, 0) == 0) return true;
            FAIL(std::string(e.what()));
        }
        return false;
    };
    CHECK(refused({}, "schedule"));
    ScheduleStep step = run(-1.0);
    CHECK(refused({run(1.0), step}, "schedule.1.distance"));
    step = run(10.0), step.duration = 5.0;
    CHECK(refused({step}, "schedule.0.duration"));
    step = run(10.0), step.set = {{"setting.surface_speed", -3.0}};
    CHECK(refused({step}, "schedule.0.set.setting.surface_speed"));
    step.set = {{"no.such_field", 1.0}};
    CHECK(refused({step}, "schedule.0.set.no.such_field"));
    step.set = {{"blade.thickness", 0.15e-3}};
    CHECK(refused({step}, "schedule.0.set.blade.thickness"));
    step = {}, step.ramp = {{"setting.surface_speed", 3.0}};
    CHECK(refused({step}, "schedule.0.ramp"));
    step = run(10.0), step.stopped = true;
    CHECK(refused({step}, "schedule.0.distance"));
    step = run(10.0), step.ripple = 1.0;
    CHECK(refused({step}, "schedule.0.ripple"));
}
