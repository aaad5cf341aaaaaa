// Cases on which the search for an operating point once ended without an answer, cut down from random ones (tests/campaign).
#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <iterator>
#include <numbers>
#include <string>
#include <string_view>

#include "../../libblade/src/nip_prepare.hpp"
#include "../../libblade/src/nip_solver.hpp"
#include "expect.hpp"
#include "libblade/bending_case.hpp"
#include "libblade/blade.hpp"
#include "libblade/case_file.hpp"
#include "libblade/error.hpp"
#include "libblade/nip.hpp"
#include "libblade/random.hpp"
#include "nip_options.hpp"

using namespace libblade;

namespace {

constexpr double deg = std::numbers::pi / 180.0;

/// A stated flow factor, a worn facet.
Case worn(double set_angle, double thickness, double free_length, double viscosity, double speed) {
    Case c;
    c.setting.set_angle = set_angle * deg, c.setting.surface_speed = speed;
    c.blade.thickness = thickness, c.blade.free_length = free_length;
    c.roll.engraving.pressure_flow_factor = 4.0, c.roll.engraving.land_fraction = 0.25;
    c.ink.rheology = Newtonian{viscosity};
    return c;
}

Status status_of(const Case& c, Start start = Start::resting) {
    NipOptions o = bare();
    o.start = start;
    return solve(c, o).convergence.status;
}

}  // namespace

TEST_CASE("bedding where the film's drag follows the angle", "[nip][search]") {
    // A polymer blade under a thick ink: T = 0.5 N, and the facet t / sin a as well as its film grow as the angle falls.
    Case c = worn(60.3, 348e-6, 16.3e-3, 0.6, 1.5);
    c.blade.material = {8.5e9, 0.38, 0.15e9, 65e6, 1400.0};
    c.roll.engraving.pressure_flow_factor = 1.5, c.roll.engraving.land_fraction = 0.5;
    c.setting.load = LineLoad{220.0};
    const OperatingPoint p = solve(c, bare());
    REQUIRE(p.convergence.ok());
    CHECK(p.line_load == Approx(220.0).epsilon(1e-9));
    // No load and no moment is left over: the strip integrated anew with four times the steps.
    CHECK(p.hydrodynamic_lift + p.asperity_load == Approx(220.0).epsilon(1e-9));
    CHECK(p.friction_coefficient > 0.2);
}

TEST_CASE("a stated interference whose first guess is locked by the film", "[nip][search]") {
    // Syrup: the drag exceeds what the blade carries, at any load that the advance could bring.
    Case c = worn(33.1, 143e-6, 10.1e-3, 4.0, 7.4);
    c.roll.engraving.pressure_flow_factor = 1.5, c.roll.engraving.land_fraction = 1.0;
    c.setting.load = Interference{1.8e-3};
    CHECK(status_of(c) == Status::unstable);
    // The same under water is an ordinary nip.
    c.ink.rheology = Newtonian{0.01};
    CHECK(status_of(c) == Status::converged);
}

TEST_CASE("a trailing tip that the drag alone draws on further than stated", "[nip][search]") {
    Case c = worn(47.4, 193e-6, 12.3e-3, 0.3, 3.0);
    c.setting.orientation = Orientation::trailing;
    c.blade.material = {39e9, 0.3, 0.5e9, 400e6, 1800.0};
    c.roll.engraving.land_fraction = 0.9;
    c.setting.film_supply = 0.6e-6;
    c.setting.load = Interference{1e-4};
    CHECK(status_of(c) == Status::lifted_off);
    // More drag lays the tip down: bending holds it up over sqrt(D / T) = 6 mm only, and the facet worn to t / sin a grows.
    c.ink.rheology = Newtonian{1.0};
    CHECK(status_of(c) == Status::lying_flat);
    // A flood of thin ink does not.
    c.setting.film_supply.reset(), c.ink.rheology = Newtonian{0.02};
    CHECK(status_of(c) == Status::converged);
}

TEST_CASE("long blades under high loads lie flat or carry", "[nip][search]") {
    for (const double length : {18e-3, 20e-3, 22e-3, 24e-3})
        for (const double load : {200.0, 230.0, 260.0, 300.0})
            for (const Orientation orientation : {Orientation::doctoring, Orientation::trailing}) {
                Case c = worn(30.0, 0.2e-3, length, 0.03, 5.0);
                c.setting.orientation = orientation, c.setting.load = LineLoad{load};
                const Status s = status_of(c);
                CAPTURE(length, load, to_string(s));
                CHECK((s == Status::converged || s == Status::lying_flat));
                // Onset on a plane without friction, N = 2 D a0 / L^2 (bending.hpp); friction and the roll move it by a part.
                const double onset = 2.0 * bending_stiffness(c.blade) * c.setting.set_angle / (length * length);
                if (load < 0.6 * onset) CHECK(s == Status::converged);
                if (load > 1.6 * onset) CHECK(s == Status::lying_flat);
            }
}

TEST_CASE("a riding film that ends while the tilt moves", "[nip][search]") {
    for (const double viscosity : {0.03, 0.1, 0.3})
        for (const double load : {40.0, 64.0, 90.0, 130.0}) {
            Case c = worn(27.3, 281e-6, 10.3e-3, viscosity, 4.0);
            c.roll.land_roughness = 0.1e-6;
            c.roll.engraving.pressure_flow_factor = 1.2, c.roll.engraving.land_fraction = 0.8;
            c.setting.friction = 0.15, c.setting.load = LineLoad{load};
            CAPTURE(viscosity, load);
            CHECK(status_of(c, Start::riding) == Status::converged);
        }
}

TEST_CASE("a facet that leans by more than half a radian is no facet", "[nip][search]") {
    Case c = worn(50.0, 0.2e-3, 10e-3, 0.03, 3.0);
    c.setting.load = LineLoad{50.0};
    c.tip = Facet{100e-6, BeddedAngle{15.0 * deg}, 1e-6};
    CHECK(status_of(c) == Status::out_of_range);
    CHECK_THROWS_AS(tip_film(c, {0.5, 100e-6, 0.51, 1e-6}, bare()), InvalidInput);
}

TEST_CASE("the film of a soft tip is found at every gap", "[nip][search]") {
    // Long steel facet, given way by 3 nm per MPa, under an ink that warms: flow and warming are sought together.
    Case c = worn(14.8, 351e-6, 19.6e-3, 0.06, 0.64);
    c.roll.land_roughness = 0.3e-6, c.roll.engraving.pressure_flow_factor = 1.5;
    c.ink.andrade_constant = 2000.0;
    detail::NipSolver solver(c, 1, bare().tables);
    solver.take_tip(14.29 * deg, 1.42e-3, true);
    REQUIRE(solver.compliance() > 0.0);
    double last = 0.0;
    for (double u = -12.0; u > -14.0; u -= 0.02) {
        const auto contact = solver.contact_at(0.0, 14.29 * deg, std::exp(u) - 3.0 * solver.setup().asperities.sigma);
        CAPTURE(u);
        REQUIRE(std::isfinite(contact.normal()));
        CHECK(contact.normal() > last);
        last = contact.normal();
    }
}

TEST_CASE("a load that asperities alone cannot carry leaves the excess unknown, and says so", "[nip]") {
    // Lands of 2.6 MPa at the most (own number) under a mean of some 0.5 and 5 MPa: the film carries the rest.
    Case c = worn(32.0, 0.2e-3, 12e-3, 0.1, 5.0);
    c.tip = Facet{20e-6, BeddedHere{}, 1e-6};
    c.roll.material.hardness = 10.4e6;
    c.setting.load = LineLoad{10.0};
    const OperatingPoint gentle = solve(c, bare());
    REQUIRE(gentle.convergence.ok());
    CHECK(std::isfinite(gentle.excess_ink));
    c.setting.load = LineLoad{100.0};
    const OperatingPoint hard = solve(c, bare());
    REQUIRE(hard.convergence.ok());
    CHECK(std::isnan(hard.clean_wipe_film));
    CHECK(std::isnan(hard.excess_ink));
    CHECK(
        std::any_of(hard.validity.begin(), hard.validity.end(), [](const auto& f) { return f.name == "clean_wipe"; }));
}

TEST_CASE("whether a bedded blade stays, told in passing, is what dual numbers say", "[nip][search]") {
    Random random(11);
    std::array<int, 2> seen{};
    for (int n = 0; n < 240; ++n) {
        const auto between = [&](double low, double high) { return low * std::pow(high / low, random.uniform()); };
        Case c = worn(between(20.0, 60.0), between(0.1e-3, 0.38e-3), between(8e-3, 16e-3), between(0.01, 0.3),
                      between(0.5, 10.0));
        const double length = free_length(c.blade), turn = between(0.01, 0.25);
        c.setting.load = LineLoad{2.0 * turn * bending_stiffness(c.blade) / (length * length)};
        c.roll.land_roughness = between(0.05e-6, 0.4e-6);
        if (n % 2 == 0) c.tip = Facet{between(50e-6, 400e-6), BeddedHere{}, 1e-6};
        if (n % 3 == 0) c.ink.rheology = CarreauYasuda{0.2, 0.03, 1e-5, 0.5, 2.0};
        if (n % 5 == 0) c.setting.orientation = Orientation::trailing;
        if (n % 7 == 0) c.setting.holding = Holding::floating;
        detail::Prepared p = detail::prepare(c, bare());
        if (!p.reference.ok() || p.solver.compliance() > 0.0) continue;
        p.solver.adopt(p.reference, p.reference.angle, p.reference.facet_length);
        const detail::NipResidual exact = p.solver.residual(p.reference.state, -p.solver.sign(), 1.0);
        REQUIRE(exact.ok);
        CAPTURE(n);
        CHECK(p.bedded_stable == p.solver.stable(exact, p.reference.jacobian, p.target.fixed));
        ++seen[p.bedded_stable ? 1 : 0];
    }
    WARN(seen[0] << " turn away, " << seen[1] << " stay");
    CHECK(std::min(seen[0], seen[1]) > 20);
}

TEST_CASE("random cases on which a search once ended without an answer", "[nip][search]") {
    const auto named = [](const char* name) {
        std::ifstream file(LIBBLADE_TEST_REFERENCE "/searches/" + std::string(name) + ".json");
        return read_case(std::string(std::istreambuf_iterator<char>(file), {}));
    };
    const struct {
        const char* name;
        Status status;
        Start start = Start::resting;
    } ends[] = {
        // No strip bears the film's drag at any angle the load leaves; from one load to the next the blade goes past the advance;
        // it stands at its first touch and the drag draws the tip on.
        {"drag_no_strip_bears", Status::unstable},
        {"snaps_past", Status::unstable},
        {"first_touch_trailing", Status::lifted_off},
        // Two bedded angles are about to become one at the load that the advance asks for.
        {"angles_meet", Status::unstable},
        // Blades that bend until they lie flat, past films found from a neighbour only or not at all.
        {"another_film_before", Status::lying_flat},
        {"barely_filled", Status::lying_flat},
        // Pressed on with its wedge as well; two films at one tilt that drive the blade to and fro, and two in one gap.
        {"sealed", Status::lying_flat},
        {"two_films", Status::unstable},
        {"film_gaps", Status::unstable},
        // Drag that no strip bears at the first angles looked at, or only once the blade has turned; that winds the strip up.
        {"no_strip_at_first", Status::unstable},
        {"drag_when_tilted", Status::unstable},
        {"wound_up", Status::out_of_range},
        // Past films that are torn on the way to the answer, or that keep to a narrow branch as long as there is one.
        {"torn_on_the_way", Status::lifted_off},
        {"narrow_branch", Status::out_of_range, Start::riding},
        // Past angles at which the load leaps a little from one film to another.
        {"next_to_no_load", Status::lifted_off},
        {"flat_past_a_leap", Status::lying_flat},
        // Drag that winds the strip up at the first touch, or beside which the load is lost in rounding.
        {"winds_at_first_touch", Status::lifted_off},
        {"drag_drowns_load", Status::unstable},
        // Between two films the search's own slope leads nowhere; a soft strip behind its plate lies flat at the end of a long way.
        {"slope_between_films", Status::unstable},
        {"flat_at_last", Status::lying_flat},
    };
    for (const auto& end : ends) {
        INFO(end.name);
        CHECK(status_of(named(end.name), end.start) == end.status);
    }
    // Nothing is left for a tip whose wedge carries all of the load.
    const OperatingPoint wedge = solve(named("wedge_carries_all"));
    REQUIRE(wedge.convergence.ok());
    CHECK(wedge.wedge_load_share == Approx(1.0));
    CHECK(wedge.contact_width == 0.0);
    CHECK(wedge.bearing_pressure == 0.0);
    // After the step the asperities alone carry the load at no gap: that the excess is not known is said.
    const OperatingPoint stepped = solve(named("step_beyond_asperities"));
    REQUIRE(stepped.convergence.ok());
    CHECK(std::isfinite(stepped.excess_ink));
    CHECK(std::isfinite(stepped.film_after_step));
    CHECK(std::isnan(stepped.excess_after_step));
    CHECK(std::count_if(stepped.validity.begin(), stepped.validity.end(),
                        [](const ValidityFlag& f) { return std::string_view(f.name) == "clean_wipe"; }) == 1);
    // Under a rigid tip the answer is looked at anew: the contact at the reported place, the blade under its forces.
    for (const char* name :
         {"loose_bracket", "round_edge_trailing", "first_touch", "starved_over_walls", "narrow_peak",
          "drag_beyond_steps", "closes_again", "crushed_start", "thin_end", "thin_walls", "steep_film", "steep_load"}) {
        INFO(name);
        const Case c = named(name);
        const OperatingPoint p = solve(c, bare());
        REQUIRE(p.convergence.ok());
        const double angle = p.facet_length > 0.0 ? p.bedded_angle : p.effective_angle;
        const double low_gap = libblade::detail::prepare(c, bare()).state.low_gap;
        const TipFilm film = tip_film(c, {angle, p.facet_length, p.facet_tilt, low_gap}, bare());
        CHECK(film.convergence.ok());
        expect_close(film.film_load + film.outer_load + film.asperity_load, p.line_load, 1e-6, "contact");
        const double sign = c.setting.orientation == Orientation::doctoring ? 1.0 : -1.0;
        const Strip strip = strip_of(c, p.facet_length * std::sin(angle));
        const StripMismatch blade = strip_mismatch(
            strip, p.effective_angle, {p.line_load, -sign * film.tangential_load, -sign * film.moment / p.line_load},
            std::max(64, 2 * enough_strip_steps(strip, std::hypot(p.line_load, film.tangential_load))));
        CHECK(std::abs(blade.angle_residual) < 1e-6);
        CHECK(std::abs(blade.interference - p.interference) < 1e-9);
    }
    // Soft tips: films that rang or had two answers, that take off within a cell, tear between two places or glow; a facet that
    // stands on its end. A rigid one whose load follows the gap so steeply that rounding of its place is all that is left.
    for (const char* name :
         {"stiff_cells", "on_its_end", "ringing_film", "blunt_front", "pulling_film", "pulling_film_loaded",
          "torn_between", "glowing_film", "takes_off", "steep_take_off", "runs_away", "leaps_on_the_way",
          "leaps_at_first", "film_hangs_on", "from_beside", "finer_cells", "gap_lost_in_rounding"}) {
        INFO(name);
        const OperatingPoint p = solve(named(name), bare());
        CHECK(p.convergence.ok());
        expect_close(p.hydrodynamic_lift + p.asperity_load, p.line_load, 1e-6, "shares");
    }
}
