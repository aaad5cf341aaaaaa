#include "libblade/nip.hpp"

#include <cmath>
#include <functional>
#include <limits>
#include <numbers>

#include "../../libblade/src/nip_solver.hpp"
#include "expect.hpp"
#include "libblade/error.hpp"
#include "libblade/film.hpp"
#include "libblade/nip_branches.hpp"
#include "libblade/root.hpp"

using namespace libblade;
using detail::Bedded;
using detail::NipSolver;
using detail::State;
using detail::Target;

namespace {

constexpr double deg = std::numbers::pi / 180.0;

// tests/reference/base_case: an independent NumPy/SciPy solution of the same equations, given as intervals. It checks that this is
// the same model, not that the model is a press.
Case base_case(double viscosity, double speed, Orientation orientation, Holding holding = Holding::fixed,
               double load = 100.0) {
    Case c;
    c.blade = {12e-3, 0.2e-3, {}, 0.0, 0.0, 2e-15, {205e9, 0.29, 5.5e9, 1.6e9, 7850.0}};
    c.tip = Facet{200e-6, BeddedHere{}, 1e-6};
    c.roll.radius = 0.07;
    c.roll.land_roughness = 0.24e-6;
    c.roll.material = {200e9, 0.25, 12e9, 1e9, 5000.0};
    c.roll.engraving.pressure_flow_factor = 4.0;
    c.roll.engraving.land_fraction = 0.25;
    c.ink.rheology = Newtonian{viscosity};
    c.ink.density = 1100.0;
    c.setting.orientation = orientation;
    c.setting.holding = holding;
    c.setting.set_angle = 30 * deg;
    c.setting.load = LineLoad{load};
    c.setting.surface_speed = speed;
    c.setting.friction = 0.12;
    c.setting.wetted_length = 1e-4;
    return c;
}

void expect_between(double value, double low, double high) {
    INFO(value << " in " << low << " .. " << high);
    REQUIRE(std::isfinite(value));
    CHECK(value >= low);
    CHECK(value <= high);
}

struct Stepped {
    double film, tilt_deg, load, friction, asperity_share;
};

Stepped step(const Case& c, double relative, int mesh = 1) {
    NipSolver solver(c, mesh);
    const Bedded bed = solver.bed();
    REQUIRE(bed.ok());
    solver.adopt(bed, bed.angle, bed.facet_length);
    const Target begin{c.setting.holding == Holding::fixed, bed.load, bed.state.interference};
    Target end = begin;
    end.load *= 1.0 + relative;
    end.interference *= 1.0 + relative;
    const State s = solver.follow(solver.balance(0.0, begin, bed.state), begin, end);
    REQUIRE(s.ok());
    return {s.film_on_lands(c.setting.surface_speed) * 1e6, s.tilt / deg, s.force.normal,
            s.contact.tangential / s.force.normal, s.contact.asperity_load / s.force.normal};
}

NipOptions with_mesh(int mesh) {
    NipOptions o;
    o.mesh = mesh;
    return o;
}

}  // namespace

TEST_CASE("base case, doctoring, water ink", "[nip][base]") {
    const Case c = base_case(0.03, 5.0, Orientation::doctoring);
    for (const int mesh : {0, 1, 2}) {
        const OperatingPoint p = solve(c, with_mesh(mesh));
        REQUIRE(p.convergence.ok());
        expect_between(p.effective_angle / deg, 27.5, 27.9);
        expect_between(p.interference * 1e3, 0.265 * 0.97, 0.265 * 1.03);
        expect_between(p.film_on_lands * 1e6, 0.22, 0.35);
        expect_between(p.asperity_load_share, 0.4, 0.7);
        expect_between(p.friction_coefficient, 0.17, 0.25);
        CHECK(p.bedded_stable);
        CHECK(p.branch == Branch::bedded);
        const Stepped down = step(c, -0.05, mesh), up = step(c, 0.05, mesh), hard = step(c, 0.5, mesh);
        expect_between(down.film, 0.16, 0.24);
        expect_between(down.tilt_deg, -0.13, -0.09);
        expect_between(down.load, 95.0, 97.0);
        expect_between(up.film, 0.6, 1.0);
        expect_between(up.tilt_deg, 0.09, 0.13);
        CHECK(up.asperity_share < 0.01);
        expect_between(hard.film, 0.8, 1.2);
    }
}

TEST_CASE("base case, doctoring, high viscosity", "[nip][base]") {
    const Case c = base_case(0.3, 3.0, Orientation::doctoring);
    for (const int mesh : {0, 1, 2}) {
        const OperatingPoint p = solve(c, with_mesh(mesh));
        REQUIRE(p.convergence.ok());
        expect_between(p.effective_angle / deg, 27.5, 28.1);
        expect_between(p.interference * 1e3, 0.25 * 0.95, 0.25 * 1.05);
        expect_between(p.film_on_lands * 1e6, 0.8, 1.4);
        CHECK(p.asperity_load_share < 0.02);
        expect_between(p.friction_coefficient, 0.25, 0.36);
        const Stepped down = step(c, -0.05, mesh), up = step(c, 0.05, mesh), hard = step(c, 0.5, mesh);
        expect_between(down.film, 0.17, 0.24);
        expect_between(down.friction, 0.6, 0.8);
        expect_between(up.film, 1.5, 2.2);
        expect_between(hard.film, 2.3, 3.3);
    }
}

TEST_CASE("base case, trailing", "[nip][base]") {
    for (const int mesh : {0, 1, 2}) {
        const Case water = base_case(0.03, 5.0, Orientation::trailing),
                   thick = base_case(0.3, 3.0, Orientation::trailing);
        const OperatingPoint p = solve(water, with_mesh(mesh)), q = solve(thick, with_mesh(mesh));
        REQUIRE(p.convergence.ok());
        REQUIRE(q.convergence.ok());
        expect_between(p.film_on_lands * 1e6, 0.28, 0.45);
        expect_between(p.effective_angle / deg, 27.05, 27.45);
        expect_between(step(water, -0.05, mesh).film, 0.7, 1.05);
        expect_between(step(water, 0.05, mesh).film, 0.16, 0.25);
        expect_between(q.film_on_lands * 1e6, 2.2, 3.5);
        expect_between(step(thick, -0.05, mesh).film, 2.7, 4.0);
        expect_between(step(thick, 0.05, mesh).film, 1.4, 2.3);
    }
}

namespace {
/// Load raised from 90 N/m and lowered again: loads at which the film jumps.
struct Loop {
    double up = 0.0, down = 0.0;
    bool unstable_at_parallel = false;
};
Loop load_loop(const Case& c, double top, double stride = 0.5, int mesh = 1) {
    NipSolver solver(c, mesh);
    const Bedded bed = solver.bed();
    REQUIRE(bed.ok());
    solver.adopt(bed, bed.angle, bed.facet_length);
    Loop loop;
    const Target start{false, bed.load, 0.0};
    State s = solver.balance(0.0, start, bed.state);
    loop.unstable_at_parallel = !solver.stable(s, start);
    s.tilt = -0.05 * solver.tilt_scale();
    s = solver.relax(s, start);
    double film = s.film_on_lands(1.0);
    const auto move = [&](double load) {
        s = solver.relax(s, Target{false, load, 0.0});
        REQUIRE(s.ok());
        return s.film_on_lands(1.0) / std::exchange(film, s.film_on_lands(1.0));
    };
    for (double load = bed.load; load <= top; load += stride)
        if (move(load) > 1.5 && loop.up == 0.0) loop.up = load;
    for (double load = top; load >= 70.0; load -= stride)
        if (move(load) < 0.67 && loop.down == 0.0) loop.down = load;
    return loop;
}
}  // namespace

TEST_CASE("base case, floating: jumps up and back", "[nip][base]") {
    for (const int mesh : {0, 1, 2}) {
        const Loop water =
            load_loop(base_case(0.03, 5.0, Orientation::doctoring, Holding::floating, 90.0), 110.0, 0.5, mesh);
        CHECK(water.unstable_at_parallel);
        expect_between(water.up, 91.0, 96.0);
        expect_between(water.down, 82.0, 88.0);
        const Loop thick =
            load_loop(base_case(0.2, 5.0, Orientation::doctoring, Holding::floating, 90.0), 150.0, 0.5, mesh);
        expect_between(thick.up, 125.0, 140.0);
        expect_between(thick.down, 85.0, 93.0);
    }
}

TEST_CASE("base case, floating with constant T = 0.12 N: one state, no jump", "[nip][base]") {
    // The fall of friction with the film is what makes two states: with T held at 0.12 N the elastic tilt crosses the tilt once.
    for (const double viscosity : {0.03, 0.2}) {
        const Case c = base_case(viscosity, 5.0, Orientation::doctoring, Holding::floating, 90.0);
        NipSolver solver(c, 1);
        const Bedded bed = solver.bed();
        REQUIRE(bed.ok());
        const Strip strip = solver.strip(bed.facet_length, bed.angle);
        const double parallel = solve_bending(strip, {90.0, -0.12 * 90.0, bed.state.force.centre}).effective_angle;
        Bedded reference = bed;
        solver.adopt(reference, parallel, bed.facet_length);
        for (const double load : {80.0, 85.0, 90.0, 93.0, 100.0, 120.0, 140.0}) {
            State near = bed.state;
            int crossings = 0;
            double last = 0.0;
            for (double tilt = -1.0 * deg; tilt < 2.5 * deg; tilt += 0.01 * deg) {
                near = solver.balance(tilt, {false, load, 0.0}, near);
                REQUIRE(near.ok());
                const Bent bent = solve_bending(strip, {load, -0.12 * load, near.force.centre}, 24);
                const double drive = (parallel - bent.effective_angle) - tilt;
                if (last != 0.0 && (drive > 0.0) != (last > 0.0)) ++crossings;
                last = drive;
            }
            INFO("viscosity " << viscosity << " load " << load);
            CHECK(crossings == 1);
        }
    }
}

TEST_CASE("floating: the point reported is the stable neighbour on the wiping side", "[nip]") {
    const OperatingPoint p = solve(base_case(0.03, 5.0, Orientation::doctoring, Holding::floating, 90.0));
    REQUIRE(p.convergence.ok());
    CHECK_FALSE(p.bedded_stable);
    CHECK(p.branch == Branch::wiping);
    CHECK(p.facet_tilt < 0.0);
    CHECK(p.other_branch_exists);
    NipOptions riding;
    riding.start = Start::riding;
    const OperatingPoint q = solve(base_case(0.03, 5.0, Orientation::doctoring, Holding::floating, 90.0), riding);
    REQUIRE(q.convergence.ok());
    CHECK(q.film_on_lands > 2.0 * p.film_on_lands);
    CHECK(q.other_branch_exists);
}

TEST_CASE("mesh doubling changes every film by less than one per cent", "[nip]") {
    for (const auto orientation : {Orientation::doctoring, Orientation::trailing})
        for (const auto& [eta, U] : {std::pair{0.03, 5.0}, std::pair{0.3, 3.0}}) {
            const Case c = base_case(eta, U, orientation);
            const double usual = solve(c).film_on_lands;
            expect_close(solve(c, with_mesh(0)).film_on_lands, usual, 0.01, "half mesh");
            expect_close(solve(c, with_mesh(2)).film_on_lands, usual, 0.01, "double mesh");
            for (const double rel : {-0.05, 0.05}) {
                const double at = step(c, rel).film;
                expect_close(step(c, rel, 0).film, at, 0.01, "half mesh, stepped");
                expect_close(step(c, rel, 2).film, at, 0.01, "double mesh, stepped");
            }
        }
}

TEST_CASE("balance: film, wedge and asperities carry the load", "[nip]") {
    for (const auto orientation : {Orientation::doctoring, Orientation::trailing}) {
        NipOptions o;
        o.section = true;
        const OperatingPoint p = solve(base_case(0.03, 5.0, orientation), o);
        REQUIRE(p.convergence.ok());
        expect_close(p.line_load, 100.0, 1e-9, "set load at the bedded point");
        expect_close(p.film_load_share + p.wedge_load_share + p.asperity_load_share, 1.0, 1e-9, "shares");
        expect_close(p.hydrodynamic_lift + p.asperity_load, p.line_load, 1e-9, "loads");
        double sum = 0.0;
        const auto& s = p.section;
        for (std::size_t i = 1; i < s.x.size(); ++i)
            sum += 0.5 * (s.x[i] - s.x[i - 1]) *
                   (s.film_pressure[i] + s.film_pressure[i - 1] + s.asperity_pressure[i] + s.asperity_pressure[i - 1]);
        expect_close(sum, p.line_load, 0.05, "trapezoid over the drawn section, without the outer wedge");
    }
}

// --- Limits of the film under the tip: prefactors and exponents -------------------------------------------------------------------

namespace {
/// A smooth tip far from every other length: gap at a load by root finding on the contact kernel.
struct SmoothTip {
    kernel::ContactSetup setup;
    std::vector<double> memory;
    kernel::ContactArrays<double> arrays;
    SmoothTip(double facet, double radius, double viscosity, double speed, double phi) {
        setup.mesh = {120, 60, 160, 60};
        setup.facet_length = facet, setup.edge_radius = radius;
        setup.speed = speed, setup.density = 1e-3;  // no inertia
        setup.nominal_viscosity = viscosity;
        setup.flank_length = setup.wetted_length = 1e3 * std::max(facet, radius);
        setup.flow_factor = phi;
        setup.viscosity = viscosity;
        setup.f1 = &f1_table(), setup.f52 = &f52_table();
        const std::size_t n = setup.mesh.nodes();
        memory.resize(kernel::kArraySize * n);
        arrays = kernel::contact_arrays(std::span<double>(memory), n);
    }
    kernel::ContactForces<double> at(double tilt, double gap) {
        const double steep = 0.5 * std::numbers::pi;
        return kernel::contact_forces(setup, tilt, gap, steep, steep, arrays);
    }
    double gap_at_load(double tilt, double load) {
        const Root root = falling_root([&](double u) { return std::log(at(tilt, std::exp(u)).normal() / load); },
                                       std::log(1e-6), -2.0, 1.0, std::log(1e-12), std::log(1e-2), 1e-13, 1e-12, 200);
        REQUIRE(root.status == Status::converged);
        return std::exp(root.x);
    }
};

double exponent(const std::function<double(double)>& film, double at) {
    return std::log(film(at * 1.1) / film(at / 1.1)) / std::log(1.21);
}
}  // namespace

TEST_CASE("rounded nose: h0 = 2.447 eta U r / N, film 0.613 h0", "[nip][limits]") {
    // Martin 1916 (Engineering 102:119) constant with the Swift-Stieber exit, recomputed: W h0/(eta U R) = 2.447484247, q = 1.225748 U h0/2.
    const auto gap = [](double eta, double N, double r) {
        return SmoothTip(0.0, r, eta, 5.0, 1.0).gap_at_load(0.0, N);
    };
    const double eta = 1e-4, N = 1000.0, r = 1e-2;  // h0 / r about 1e-6: the flanks are far away
    const double h0 = gap(eta, N, r);
    expect_close(h0, 2.447484247 * eta * 5.0 * r / N, 0.01, "flanks begin 2000 h0-widths away");
    SmoothTip tip(0.0, r, eta, 5.0, 1.0);
    expect_close(tip.at(0.0, h0).film.flow / 5.0, 0.5 * 1.225748441 * h0, 0.01, "Swift-Stieber exit");
    CHECK(std::abs(exponent([&](double v) { return gap(v, N, r); }, eta) - 1.0) < 0.01);
    CHECK(std::abs(exponent([&](double v) { return gap(eta, v, r); }, N) + 1.0) < 0.01);
    CHECK(std::abs(exponent([&](double v) { return gap(eta, N, v); }, r) - 1.0) < 0.01);
}

TEST_CASE("small tilt: h0 = (eta U b^3 d / (2 phi N))^(1/3)", "[nip][limits]") {
    // Plane slider (Reynolds 1886) expanded for d b << h; valid for d b^2 >> h^2 / m.
    const double eta = 0.03, N = 3e6, b = 0.1, d = 2e-8;
    const auto gap = [&](double viscosity, double load, double length, double phi) {
        return SmoothTip(length, 1e-9, viscosity, 5.0, phi).gap_at_load(d, load);
    };
    const double h0 = gap(eta, N, b, 1.0);
    expect_close(h0, std::cbrt(eta * 5.0 * b * b * b * d / (2.0 * N)), 0.01, "d b / h 0.25 %, d b^2 m / h^2 above 600");
    CHECK(std::abs(exponent([&](double v) { return gap(v, N, b, 1.0); }, eta) - 1.0 / 3.0) < 0.01);
    CHECK(std::abs(exponent([&](double v) { return gap(eta, v, b, 1.0); }, N) + 1.0 / 3.0) < 0.01);
    CHECK(std::abs(exponent([&](double v) { return gap(eta, N, v, 1.0); }, b) - 1.0) < 0.01);
    expect_close(h0 / gap(eta, N, b, 7.0), std::cbrt(7.0), 0.01, "cells relieve pressure: cube root of phi");
}

TEST_CASE("best tilt: h0 = 0.400 b sqrt(eta U / (phi N)) at d = 1.19 h0 / b", "[nip][limits]") {
    // Optimum plane slider: W h2^2/(eta U L^2) = 0.1602431413 at h1/h2 = 2.188704796 (Reynolds 1886; Cameron 1966), recomputed.
    const double eta = 0.03, N = 1e5, b = 0.1;
    const auto best = [&](double viscosity, double load, double length, double phi) {
        SmoothTip tip(length, 1e-9, viscosity, 5.0, phi);
        const double expected = 0.4003 * length * std::sqrt(viscosity * 5.0 / (phi * load));
        double low = 0.6 * expected / length, high = 2.2 * expected / length;  // golden section on the gap
        const double g = 0.5 * (std::sqrt(5.0) - 1.0);
        for (int i = 0; i < 40; ++i) {
            const double d1 = high - g * (high - low), d2 = low + g * (high - low);
            (tip.gap_at_load(d1, load) < tip.gap_at_load(d2, load) ? low : high) =
                tip.gap_at_load(d1, load) < tip.gap_at_load(d2, load) ? d1 : d2;
        }
        return std::pair{tip.gap_at_load(0.5 * (low + high), load), 0.5 * (low + high)};
    };
    const auto [h0, d] = best(eta, N, b, 1.0);
    expect_close(h0, std::sqrt(0.1602431413) * b * std::sqrt(eta * 5.0 / N), 0.01, "wedge load below 1 %");
    expect_close(d, 1.188704796 * h0 / b, 0.01, "flat optimum");
    CHECK(std::abs(exponent([&](double v) { return best(v, N, b, 1.0).first; }, eta) - 0.5) < 0.01);
    CHECK(std::abs(exponent([&](double v) { return best(eta, v, b, 1.0).first; }, N) + 0.5) < 0.01);
    CHECK(std::abs(exponent([&](double v) { return best(eta, N, v, 1.0).first; }, b) - 1.0) < 0.01);
    expect_close(h0 / best(eta, N, b, 7.0).first, std::sqrt(7.0), 0.01, "cells relieve pressure: square root of phi");
}

// --- Published trends -------------------------------------------------------------------------------------------------------------

TEST_CASE("slower is thinner at fixed tip shape", "[nip][trends]") {
    // Tjiptowidjojo et al. 2018 (J. Coat. Technol. Res. 15:983): the film falls with speed in all their cases. Here an unworn edge and a
    // facet bedded once, both orientations, riding (their film is hydrodynamic).
    for (const auto orientation : {Orientation::doctoring, Orientation::trailing})
        for (const bool worn : {false, true}) {
            double last = std::numeric_limits<double>::infinity();
            for (const double U : {6.0, 4.0, 2.5, 1.5}) {
                Case c = base_case(0.3, U, orientation);
                if (worn) std::get<Facet>(c.tip).bedding = BeddedAngle{27.5 * deg};
                if (!worn) c.tip = SquareEdge{20e-6};
                c.roll.land_roughness = 0.02e-6;
                const OperatingPoint p = solve(c);
                REQUIRE(p.convergence.ok());
                INFO("speed " << U << " film " << p.film_on_lands);
                CHECK(p.film_on_lands < last);
                last = p.film_on_lands;
            }
        }
}

TEST_CASE("more load is thinner for an unworn edge", "[nip][trends]") {
    // Tjiptowidjojo et al. 2018: more force gives a thinner film at fixed tip shape (rounded or unworn edge).
    double last = std::numeric_limits<double>::infinity();
    for (const double load : {50.0, 80.0, 120.0, 200.0}) {
        Case c = base_case(0.3, 3.0, Orientation::trailing, Holding::floating, load);
        c.tip = SquareEdge{5e-6};
        const OperatingPoint p = solve(c);
        REQUIRE(p.convergence.ok());
        CHECK(p.film_on_lands < last);
        last = p.film_on_lands;
    }
}

TEST_CASE("a rigid blade misses the load trend", "[nip][trends]") {
    // Hariprasad et al. 2016 (J. Appl. Phys. 119): without blade deformation the trend with load is not obtained. At a tilt held by force
    // the film can only fall with load; the bent blade opens its facet and the film rises.
    const Case c = base_case(0.03, 5.0, Orientation::doctoring);
    NipSolver solver(c, 1);
    const Bedded bed = solver.bed();
    REQUIRE(bed.ok());
    solver.adopt(bed, bed.angle, bed.facet_length);
    const State set = solver.balance(0.0, {false, 100.0, 0.0}, bed.state);
    const State rigid = solver.balance(0.0, {false, 105.0, 0.0}, set);
    REQUIRE(rigid.ok());
    CHECK(rigid.contact.film.flow < set.contact.film.flow);
    CHECK(step(c, 0.05).film > 1.5 * set.film_on_lands(5.0) * 1e6);
}

// --- Doors ------------------------------------------------------------------------------------------------------------------------

TEST_CASE("interference in, load out, and back", "[nip]") {
    Case c = base_case(0.03, 5.0, Orientation::doctoring);
    const OperatingPoint p = solve(c);
    c.setting.load = Interference{p.interference};
    const OperatingPoint q = solve(c);
    REQUIRE(q.convergence.ok());
    expect_close(q.line_load, 100.0, 1e-8, "same holder position, same load");
    expect_close(q.film_on_lands, p.film_on_lands, 1e-7, "same film");
}

TEST_CASE("bedding elsewhere at the same setting is bedding here", "[nip]") {
    Case c = base_case(0.03, 5.0, Orientation::doctoring);
    const OperatingPoint p = solve(c);
    std::get<Facet>(c.tip).bedding = BeddedElsewhere{30 * deg, 100.0};
    const OperatingPoint q = solve(c);
    REQUIRE(q.convergence.ok());
    expect_close(q.film_on_lands, p.film_on_lands, 1e-6, "fixed holder: the state is unique");
    CHECK(std::abs(q.facet_tilt) < 1e-8);
}

TEST_CASE("a step by continuation equals a solve at the stepped interference", "[nip]") {
    Case c = base_case(0.03, 5.0, Orientation::doctoring);
    const OperatingPoint p = solve(c);
    std::get<Facet>(c.tip).bedding = BeddedAngle{p.bedded_angle};
    for (const double rel : {-0.05, 0.05}) {
        c.setting.load = Interference{p.interference * (1.0 + rel)};
        const OperatingPoint q = solve(c);
        REQUIRE(q.convergence.ok());
        expect_close(q.film_on_lands * 1e6, step(base_case(0.03, 5.0, Orientation::doctoring), rel).film, 1e-5,
                     "two ways to one state");
    }
}

TEST_CASE("a blade pressed flat is said to lie flat", "[nip]") {
    Case c = base_case(0.03, 5.0, Orientation::trailing);
    c.setting.set_angle = 15 * deg;
    c.setting.load = LineLoad{1500.0};
    const OperatingPoint p = solve(c);
    CHECK(p.convergence.status == Status::lying_flat);
    CHECK(std::isnan(p.film_on_lands));
    CHECK_FALSE(p.convergence.message.empty());
}

TEST_CASE("bad values are refused with their field", "[nip]") {
    Case c = base_case(0.03, 5.0, Orientation::doctoring);
    c.blade.thickness = -1.0;
    c.setting.surface_speed = std::numeric_limits<double>::quiet_NaN();
    try {
        (void)solve(c);
        FAIL("accepted");
    } catch (const InvalidInput& bad) {
        CHECK(bad.problems().size() >= 2);
        CHECK(std::string(bad.what()).find("blade.thickness") != std::string::npos);
        CHECK(std::string(bad.what()).find("setting.surface_speed") != std::string::npos);
    }
    CHECK_THROWS_AS(speed_limit(base_case(0.03, 5.0, Orientation::doctoring), -1.0), InvalidInput);
}

TEST_CASE("speed limit is where the excess passes the limit", "[nip]") {
    const Case c = base_case(0.03, 5.0, Orientation::doctoring);
    const SpeedLimit limit = speed_limit(c, 0.15e-6);
    REQUIRE(limit.convergence.ok());
    REQUIRE(std::isfinite(limit.upper));
    CHECK(limit.upper > 5.0);
    // Independent way: hold the bedding and the holder, solve at speeds on both sides.
    const OperatingPoint p = solve(c);
    Case faster = c;
    std::get<Facet>(faster.tip).bedding = BeddedAngle{p.bedded_angle};
    const auto excess_at = [&](double U) {
        NipSolver solver(c, 1);
        const Bedded bed = solver.bed();
        solver.adopt(bed, bed.angle, bed.facet_length);
        State s = solver.balance(0.0, {true, bed.load, bed.state.interference}, bed.state);
        solver.set_speed(U);
        s = solver.relax(s, {true, bed.load, bed.state.interference});
        return s.film_on_lands(U) - solver.clean_wipe_film(s.force.normal);
    };
    CHECK(excess_at(0.995 * limit.upper) < 0.15e-6);
    CHECK(excess_at(1.005 * limit.upper) > 0.15e-6);
}

TEST_CASE("heat thins a curing ink and leaves a water ink alone", "[nip]") {
    Case c = base_case(0.3, 3.0, Orientation::doctoring);
    const double cold = solve(c).film_on_lands;
    c.ink.andrade_constant = 4500.0;
    c.ink.thermal_conductivity = 0.15;
    const OperatingPoint warm = solve(c);
    CHECK(warm.film_temperature > c.ink.temperature + 3.0);
    CHECK(warm.film_on_lands < cold);
    Case water = base_case(0.03, 5.0, Orientation::doctoring);
    water.ink.andrade_constant = 2000.0;
    expect_close(solve(water).film_on_lands, solve(base_case(0.03, 5.0, Orientation::doctoring)).film_on_lands, 0.05,
                 "a few kelvin");
}

TEST_CASE("after a step the blade is where the step response says", "[nip]") {
    for (const Orientation orientation : {Orientation::doctoring, Orientation::trailing})
        for (const Holding holding : {Holding::fixed, Holding::floating}) {
            Case c;
            c.setting.orientation = orientation, c.setting.holding = holding, c.setting.load_step = 0.05;
            FlowTables tables;
            NipOptions options;
            options.tables = &tables;
            const OperatingPoint before = solve(c, options);
            REQUIRE(before.convergence.ok());
            double film = before.film_on_lands, over = before.excess_ink;
            for (const double step : {0.05, -0.05}) {
                const OperatingPoint after = solve_after_step(c, step, options);
                REQUIRE(after.convergence.ok());
                film = std::max(film, after.film_on_lands), over = std::max(over, after.excess_ink);
                CHECK(after.bedded_angle == before.bedded_angle);
                CHECK(after.facet_length == before.facet_length);
                if (holding == Holding::fixed)
                    expect_close(after.interference, (1.0 + step) * before.interference, 1e-8, "what the holder keeps");
                else
                    expect_close(after.line_load, (1.0 + step) * before.line_load, 1e-9, "what the holder keeps");
            }
            expect_close(film, before.film_after_step, 1e-12, "the same walk");
            expect_close(over, before.excess_after_step, 1e-12, "the same walk");
            const OperatingPoint none = solve_after_step(c, 0.0, options);
            CHECK(none.film_on_lands == before.film_on_lands);
            CHECK(none.branch == before.branch);
        }
    CHECK_THROWS_AS(solve_after_step(Case{}, -0.95), InvalidInput);
    CHECK_THROWS_AS(solve_after_step(Case{}, std::numeric_limits<double>::quiet_NaN()), InvalidInput);
}
