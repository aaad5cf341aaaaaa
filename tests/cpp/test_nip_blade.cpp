// What a real blade does to the nip: sections, backing plate, holder, run-out of the roll.
#include <numbers>

#include "expect.hpp"
#include "libblade/bending_case.hpp"
#include "libblade/nip.hpp"

using namespace libblade;

namespace {

constexpr double deg = std::numbers::pi / 180.0;

Case usual(Orientation orientation = Orientation::doctoring) {
    Case c;
    c.setting.orientation = orientation;
    c.setting.set_angle = 30 * deg;
    c.setting.load = LineLoad{100.0};
    return c;
}

}  // namespace

TEST_CASE("sections that make a uniform strip are a uniform strip", "[nip]") {
    const OperatingPoint whole = solve(usual());
    Case c = usual();
    c.blade.sections = {
        {5e-3, 0.2e-3, {}, Flush::roll}, {4e-3, 0.2e-3, 0.2e-3, Flush::away}, {3e-3, 0.2e-3, {}, Flush::centre}};
    const OperatingPoint parts = solve(c);
    REQUIRE(whole.convergence.ok());
    REQUIRE(parts.convergence.ok());
    expect_close(parts.effective_angle, whole.effective_angle, 1e-9, "same strip");
    expect_close(parts.interference, whole.interference, 1e-8, "same strip");
    expect_close(parts.film_on_lands, whole.film_on_lands, 1e-6, "same strip");
    expect_close(parts.max_bending_stress, whole.max_bending_stress, 1e-7, "same strip");
    expect_close(parts.wear_rate, whole.wear_rate, 1e-6, "same tip");
}

TEST_CASE("a thin tip wears a short facet, turns further and loses length faster", "[nip]") {
    const OperatingPoint whole = solve(usual());
    Case c = usual();
    c.blade.sections = {{10.5e-3, 0.2e-3, {}, Flush::roll}, {1.5e-3, 75e-6, {}, Flush::roll}};
    const OperatingPoint thin = solve(c);
    REQUIRE(thin.convergence.ok());
    expect_close(thin.facet_length, 75e-6 / std::sin(thin.bedded_angle), 1e-9, "b = t_tip / sin a, plane geometry");
    CHECK(thin.tip_rotation > whole.tip_rotation);
    expect_close(thin.wear_rate * 75e-6, c.blade.specific_wear * thin.asperity_load, 1e-12, "k_b N_a / t_tip");
    // Stress where it is largest in its own thickness: the step's moment N cos a l / (t_tip^2 / 6) (statics, small rotation).
    const Strip strip = strip_of(c);
    REQUIRE(strip.section_count == 2);
    expect_close(strip.sections[0].jump, -0.5 * (0.2e-3 - 75e-6), 1e-12,
                 "flush on the roll side: its mid-plane lies lower");
}

TEST_CASE("friction and chamber pressure turn the tip as statics of a cantilever has it", "[nip]") {
    // Small deflections (Timoshenko): (P L^2 / 2 - M L) / D from a force P across the blade and its couple M about the mid-plane,
    // p L^3 / (6 D) from pressure. N = 5 N/m turns the tip by 0.1 deg only.
    const double N = 5.0, mu = 0.3, p = 500.0, a = 30 * deg;
    for (const Orientation orientation : {Orientation::doctoring, Orientation::trailing}) {
        INFO((orientation == Orientation::doctoring ? "doctoring" : "trailing"));
        Case c = usual(orientation);
        c.setting.load = LineLoad{N};
        const double L = free_length(c.blade), D = bending_stiffness(c.blade), e = 0.5 * c.blade.thickness;
        // A doctoring blade's tip points against the roll's motion: friction pulls the tip to the body and unloads bending.
        const double T = orientation == Orientation::doctoring ? -mu * N : mu * N;
        const double across = N * std::cos(a) + T * std::sin(a), couple = e * (N * std::sin(a) - T * std::cos(a));
        const DryContact dry = bend_dry(c, mu), smooth = bend_dry(c, 0.0);
        REQUIRE(dry.bent.convergence.ok());
        REQUIRE(smooth.bent.convergence.ok());
        expect_close(dry.bent.tip_rotation, (0.5 * across * L * L - couple * L) / D, 0.01, "small deflections");
        // The chamber stands before the blade: over a doctoring blade, which it presses on the roll, under a trailing one.
        for (const PressureSide side :
             {PressureSide::by_orientation, PressureSide::away_from_roll, PressureSide::roll_facing}) {
            c.setting.chamber_pressure = p, c.setting.pressure_side = side;
            const bool onto_roll = side == PressureSide::away_from_roll ||
                                   (side == PressureSide::by_orientation && orientation == Orientation::doctoring);
            const DryContact pressed = bend_dry(c, 0.0);
            REQUIRE(pressed.bent.convergence.ok());
            expect_close(pressed.bent.tip_rotation - smooth.bent.tip_rotation,
                         (onto_roll ? -1.0 : 1.0) * p * L * L * L / (6.0 * D), 0.02, "small deflections");
        }
    }
}

TEST_CASE("a facet that rests on one end is said to", "[nip]") {
    // From the section, by the trapezoid rule: the lands carry more than half, and their centre lies in the outer 15 % of the facet.
    int on_heel = 0, flat = 0;
    for (const Orientation orientation : {Orientation::doctoring, Orientation::trailing}) {
        const Case here = usual(orientation);
        const OperatingPoint bedded = solve(here);
        REQUIRE(bedded.convergence.ok());
        for (const double shift : {-2.0, 0.0, 2.0}) {
            Case c = here;
            std::get<Facet>(c.tip).bedding = BeddedAngle{bedded.bedded_angle + shift * deg};
            NipOptions options;
            options.section = true;
            const OperatingPoint p = solve(c, options);
            INFO("bedded off by " << shift << " deg, " << to_string(p.regime));
            REQUIRE(p.convergence.ok());
            double load = 0.0, moment = 0.0;
            const auto &x = p.section.x, &q = p.section.asperity_pressure;
            for (std::size_t i = 1; i < x.size(); ++i) {
                load += 0.5 * (x[i] - x[i - 1]) * (q[i] + q[i - 1]);
                moment += 0.25 * (x[i] * x[i] - x[i - 1] * x[i - 1]) * (q[i] + q[i - 1]);
            }
            const double off = load > 0.0 ? std::abs(moment / load) / p.facet_length : 0.0;
            REQUIRE(std::abs(off - 0.35) > 0.02);  // no close call
            const bool heel = off > 0.35 && p.asperity_load > 0.5 * p.line_load;
            CHECK((p.regime == Regime::heel_contact) == heel);
            (heel ? on_heel : flat) += 1;
        }
    }
    CHECK(on_heel > 0);
    CHECK(flat > 0);
}

TEST_CASE("cells carry their volume times their fill", "[nip]") {
    Case c = usual();
    c.roll.engraving.pressure_flow_factor = 4.0;  // no table: all of the cells' ink travels with the roll
    c.roll.engraving.cell_volume = 5e-6, c.roll.engraving.fill = 0.6;
    const OperatingPoint p = solve(c);
    REQUIRE(p.convergence.ok());
    expect_close(p.ink_carried - p.film_on_lands, 3e-6, 1e-12, "5 cm3/m2 x 0.6");
}

TEST_CASE("a backing plate stiffens the blade and is named when it carries", "[nip]") {
    Case c = usual();
    const DryContact bare = bend_dry(c, 0.0);
    c.blade.backing_length = 6e-3;
    const DryContact backed = bend_dry(c, 0.0);
    INFO(backed.bent.convergence.message);
    REQUIRE(backed.bent.convergence.ok());
    CHECK(backed.bent.plate_force > 0.0);
    CHECK(backed.bent.tip_rotation < bare.bent.tip_rotation);
    // Rotation of a propped cantilever's overhang, small rotation: P b (a / 4 + b / 2) / D with b beyond the prop at a
    // (Timoshenko & Gere 1972, Mechanics of Materials, from memory; by the force method: slope at the prop M a / (4 D)).
    const double D = bending_stiffness(c.blade), a = 6e-3, b = 6e-3, P = 1.0 * std::cos(30 * deg);
    c.setting.load = LineLoad{1.0};
    c.roll.radius = 2.0;
    const DryContact light = bend_dry(c, 0.0);
    // The corner lies half a thickness off the mid-plane, e sin a nearer to the body: that much less lever.
    const double end_moment = -1.0 * 0.5 * c.blade.thickness * std::sin(30 * deg);
    const double rotation = P * b * (a / 4 + b / 2) / D + end_moment * (a / 4 + b) / D;
    expect_close(light.bent.tip_rotation, rotation, 2e-3, "propped cantilever, load and moment at the end");
    c.setting.load = LineLoad{100.0};
    c.roll.radius = 0.07;
    const OperatingPoint p = solve(c);
    REQUIRE(p.convergence.ok());
    CHECK(p.tip_rotation < solve(usual()).tip_rotation);
}

TEST_CASE("a soft holder takes up advance and forgives run-out", "[nip]") {
    Case c = usual();
    c.roll.run_out = 10e-6;
    const OperatingPoint hard = solve(c);
    c.setting.holder_stiffness = 5e5;  // N/m per metre of width
    const OperatingPoint soft = solve(c);
    REQUIRE(soft.convergence.ok());
    // Force along the normal at first touch: N, but for the turn of the tangent (travel / R) times the friction force.
    expect_close(soft.interference - hard.interference, 100.0 / 5e5, 2e-3, "two springs in series");
    CHECK(soft.run_out_load < hard.run_out_load);
    CHECK(soft.run_out_load > 0.0);
}

TEST_CASE("run-out is a quasi-static ripple", "[nip]") {
    for (const Orientation orientation : {Orientation::doctoring, Orientation::trailing}) {
        Case c = usual(orientation);
        c.tip = Facet{200e-6, BeddedHere{}, 1e-6};
        const OperatingPoint still = solve(c);
        CHECK(still.run_out_load == 0.0);
        CHECK(still.film_over_turn == still.film_on_lands);
        c.roll.run_out = 10e-6;
        const OperatingPoint p = solve(c);
        REQUIRE(p.convergence.ok());
        // The same states by solving at both holder positions with the facet kept.
        Case in = c, away = c;
        for (Case* moved : {&in, &away}) {
            moved->roll.run_out = 0.0;
            std::get<Facet>(moved->tip) = {p.facet_length, BeddedAngle{p.bedded_angle}, 1e-6};
        }
        in.setting.load = Interference{p.interference + 5e-6};
        away.setting.load = Interference{p.interference - 5e-6};
        const OperatingPoint high = solve(in), low = solve(away);
        REQUIRE(high.convergence.ok());
        REQUIRE(low.convergence.ok());
        // Pressing on may lower the load: friction falls as the facet opens, and friction unloads a doctoring blade.
        expect_close(p.run_out_load, 0.5 * std::abs(high.line_load - low.line_load), 1e-4, "both ends of the turn");
        expect_close(p.run_out_tilt, 0.5 * std::abs(high.facet_tilt - low.facet_tilt), 1e-4, "both ends of the turn");
        expect_close(p.film_over_turn, std::max({p.film_on_lands, high.film_on_lands, low.film_on_lands}), 1e-4,
                     "thickest");
        c.setting.holding = Holding::floating;
        CHECK(solve(c).run_out_load == 0.0);
    }
    Case loose = usual();
    loose.roll.run_out = 2e-3;  // more than the whole advance: the blade leaves the roll every turn
    const OperatingPoint lifted = solve(loose);
    REQUIRE(lifted.convergence.ok());
    CHECK(std::isnan(lifted.run_out_load));
    CHECK(
        std::any_of(lifted.validity.begin(), lifted.validity.end(), [](const auto& f) { return f.name == "run_out"; }));
}
