#include "libblade/bending.hpp"

#include <array>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_fehlberg78.hpp>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include "expect.hpp"
#include "film_problem.hpp"
#include "libblade/bending_kernel.hpp"

using namespace libblade;

namespace {

constexpr double kPi = std::numbers::pi, kDegree = std::numbers::pi / 180.0;
constexpr double kInf = std::numeric_limits<double>::infinity(), kNan = std::numeric_limits<double>::quiet_NaN();

Strip unit_strip(double set_angle) { return {1.0, 1.0, set_angle, 0.0, 0.0, kInf}; }

/// Steel, 0.2 mm thick, 12 mm long, at 30 deg on a roll of 70 mm radius (D as in Timoshenko & Woinowsky-Krieger 1959).
Strip steel_strip() {
    const double t = 0.2e-3;
    return {205e9 * t * t * t / (12.0 * (1.0 - 0.29 * 0.29)), 12e-3, 30.0 * kDegree, 0.5e-4, 0.0, 0.07};
}

/// The limit of vanishing size, from two sizes: removes the part that is linear in the size.
template <class F>
double small_limit(F f, double size) {
    return 2.0 * f(0.5 * size) - f(size);
}

/// One blade by other means: from the clamp, in the frame of first touch, with the internal forces as unknowns of their own.
struct FromClamp {
    double force, moment, place, angle;  // what misses at the tip, in units of N, N L, L and rad
};
FromClamp integrate_from_clamp(const Strip& s, const Bent& b, const ContactForce& f) {
    namespace ode = boost::numeric::odeint;
    using State = std::array<double, 6>;  // o / L, z / L, theta, moment L / D, force_o L^2 / D, force_z L^2 / D
    const double L = s.length, D = s.stiffness, unit = D / (L * L), p = s.pressure * L / unit;
    const double s0 = std::sin(s.set_angle), c0 = std::cos(s.set_angle), e = s.offset / L;
    State y{e * s0 - c0,
            e * c0 + s0 - b.interference / L,
            s.set_angle,
            -b.root_moment * L / D,
            -b.root_force_o / unit,
            -b.root_force_z / unit};
    const auto slope = [&](const State& u, State& d, double) {
        const double sn = std::sin(u[2]), cs = std::cos(u[2]);
        d = {cs, -sn, u[3], u[4] * sn + u[5] * cs, p * sn, p * cs};
    };
    ode::controlled_runge_kutta<ode::runge_kutta_fehlberg78<State>> stepper(
        ode::default_error_checker<double, ode::array_algebra, ode::default_operations>(1e-12, 1e-12));
    double at = 0.0, step = 0.01;
    for (int tries = 0; at < 1.0; ++tries) {
        REQUIRE(tries < 2000);
        step = std::min(step, 1.0 - at);
        (void)stepper.try_step(slope, y, at, step);
    }
    const double psi = y[2] - b.effective_angle, sp = std::sin(psi), cp = std::cos(psi);
    const double co = y[0] - e * std::sin(y[2]), cz = y[1] - e * std::cos(y[2]), R = s.roll_radius / L;
    FromClamp miss{};
    miss.force = std::hypot(y[4] - (f.tangential * cp + f.normal * sp) / unit,
                            y[5] - (f.normal * cp - f.tangential * sp) / unit);
    const double arm_o = -e * std::sin(y[2]) + f.centre / L * cp, arm_z = -e * std::cos(y[2]) - f.centre / L * sp;
    miss.moment = std::abs(y[3] - (arm_z * y[4] - arm_o * y[5]));
    miss.place = std::isinf(R) ? std::abs(cz) : std::hypot(co - R * sp, cz - R * (cp - 1.0));
    miss.angle = std::isinf(R) ? std::abs(psi) : 0.0;
    return miss;
}

void check_all_nan(const Bent& b) {
    for (const double x : {b.effective_angle, b.tip_rotation, b.travel, b.interference, b.tip_deflection, b.root_moment,
                           b.root_force_o, b.root_force_z, b.max_moment, b.max_moment_place})
        CHECK(std::isnan(x));
}

}  // namespace

TEST_CASE("elastica: transverse dead load", "[bending]") {
    const std::string why = "recomputed table, 12 digits printed";
    for (const auto& row : read_table("bisshopp_drucker_1945/elastica_transverse.csv")) {
        const CantileverEnd end = solve_cantilever({1.0, 1.0, 0.0, std::stod(row.at(0)), 0.0});
        REQUIRE(end.convergence.ok());
        expect_close(end.y, std::stod(row.at(1)), 1e-10, why);
        expect_close(1.0 - end.x, std::stod(row.at(2)), 1e-10, why);
        expect_close(end.rotation, std::stod(row.at(3)), 1e-10, why);
    }
    // The same in metres: D of a 0.2 mm blade (E 210 GPa, nu 0.3), 12 mm long, P L^2 / D = 0.4 (Mattiasson 1981, scaled).
    const CantileverEnd end = solve_cantilever({0.1538461538461538, 12e-3, 0.0, 427.3504274, 0.0});
    expect_close(end.y, 0.001571702905, 1e-9, "printed to 10 digits");
    expect_close(12e-3 - end.x, 0.0001242470586, 1e-8, "printed to 10 digits, a difference of lengths");
}

TEST_CASE("elastica: slanted load, moment, both, follower", "[bending]") {
    const Reference ref("frisch_fay_1962/cantilever.csv");
    const std::string why = "recomputed two ways to 1e-10 or better";
    const auto compare = [&](const std::string& id, const CantileverEnd& end, bool root) {
        REQUIRE(end.convergence.ok());
        expect_close(end.x, ref(id, "x"), 1e-9, why);
        expect_close(end.y, ref(id, "y"), 1e-9, why);
        expect_close(end.rotation, ref(id, "rotation"), 1e-9, why);
        if (root) expect_close(end.root_curvature, ref(id, "root_curvature"), 1e-9, why);
    };
    struct Slanted {
        const char* id;
        double load, degrees;
    };
    for (const Slanted& s :
         {Slanted{"A2-1-45", 1, 45}, {"A2-1-135", 1, 135}, {"A2-3-120", 3, 120}, {"A2-2-60", 2, 60}}) {
        const double angle = s.degrees * kDegree;
        compare(s.id, solve_cantilever({1.0, 1.0, s.load * std::cos(angle), s.load * std::sin(angle), 0.0}), true);
    }
    compare("A3-0.5", solve_cantilever({1.0, 1.0, 0.0, 0.0, 0.5}), false);
    compare("A3-halfpi", solve_cantilever({1.0, 1.0, 0.0, 0.0, 0.5 * kPi}), false);
    compare("A3-2", solve_cantilever({1.0, 1.0, 0.0, 0.0, 2.0}), false);
    compare("A4-1-0.5", solve_cantilever({1.0, 1.0, 0.0, 1.0, 0.5}), true);
    compare("A4-2--0.5", solve_cantilever({1.0, 1.0, 0.0, 2.0, -0.5}), true);
    // A follower is at rest in the frame of the tip: one integration, no iteration.
    for (const auto& [id, load] : {std::pair{"A5-1", 1.0}, {"A5-2", 2.0}, {"A5-4", 4.0}}) {
        const auto clamp = kernel::integrate_strip<double>({0, 0, 0, 0}, {1.0, 0.0, load, 0.0, 0.0, 0.0}, 1.0, 64);
        const double s = std::sin(clamp.theta), c = std::cos(clamp.theta);
        expect_close(clamp.theta, ref(id, "rotation"), 1e-9, why);
        expect_close(-clamp.o * c + clamp.z * s, ref(id, "x"), 1e-9, why);
        expect_close(-clamp.o * s - clamp.z * c, ref(id, "y"), 1e-9, why);
    }
}

TEST_CASE("elastica: buckled column", "[bending]") {
    const Reference ref("timoshenko_gere_1961/column.csv");
    for (const double degrees : {40.0, 60.0, 100.0}) {
        const std::string id = "A11-" + std::to_string(static_cast<int>(degrees));
        const CantileverEnd end = solve_cantilever({1.0, 1.0, -ref(id, "load"), 0.0, 0.0}, 0.95 * degrees * kDegree);
        REQUIRE(end.convergence.ok());
        expect_close(end.rotation, degrees * kDegree, 1e-8, "the load follows the angle weakly near 40 deg");
        expect_close(end.x, ref(id, "x"), 1e-8, "same");
        expect_close(end.y, ref(id, "y"), 1e-8, "same");
        expect_close(ref(id, "load"), ref(id, "load_ratio") * kPi * kPi / 4.0, 1e-12, "Pcr = pi^2 EI / (4 L^2)");
    }
}

TEST_CASE("blade tip on a plane with friction", "[bending]") {
    const Reference ref("frisch_fay_1962/blade_on_plane.csv");
    struct Case {
        const char* id;
        double degrees, advance, ratio;
    };
    for (const Case& c : {Case{"A6-b30-d0.02-mu0+1", 30, 0.02, 0.0},
                          {"A6-b30-d0.05-mu0.2+1", 30, 0.05, 0.2},
                          {"A6-b45-d0.1-mu0.2-1", 45, 0.1, -0.2}}) {
        const Strip strip = unit_strip(c.degrees * kDegree);
        ContactForce force;
        const Bent bent = solve_bending_at(strip, c.advance, c.ratio, force);
        REQUIRE(bent.convergence.ok());
        expect_close(force.normal, ref(c.id, "normal"), 1e-9, "recomputed two ways");
        expect_close(bent.effective_angle / kDegree, ref(c.id, "angle_deg"), 1e-9, "recomputed two ways");
        expect_close(std::cos(strip.set_angle) + bent.travel, ref(c.id, "x"), 1e-9, "recomputed two ways");
    }
}

TEST_CASE("small deflections", "[bending]") {
    // Linear beam (Timoshenko & Gere 1961): tip rotation N cos a0 L^2 / (2 D) less the offset's N e sin a0 L / D, deflection
    // N cos a0 L^3 / (3 D) less N e sin a0 L^2 / (2 D), interference = deflection cos a0 + e times the rotation's part.
    Strip strip = unit_strip(0.4);
    strip.offset = 0.02;
    const double s = std::sin(0.4), c = std::cos(0.4), turn = c / 2 - 0.02 * s, lift = c / 3 - 0.02 * s / 2;
    const std::string why = "linear limit; what is left is quadratic in the load 1e-4";
    const auto per_load = [&](auto pick) {
        return small_limit([&](double N) { return pick(solve_bending(strip, {N, 0.0, 0.0})) / N; }, 1e-4);
    };
    expect_close(per_load([](const Bent& b) { return b.tip_rotation; }), turn, 1e-7, why);
    expect_close(per_load([](const Bent& b) { return b.tip_deflection; }), lift, 1e-7, why);
    expect_close(per_load([](const Bent& b) { return b.root_moment; }), c - 0.02 * s, 1e-7, why);
    expect_close(per_load([](const Bent& b) { return b.interference; }), lift * c - turn * 0.02 * s, 1e-7, why);
    // A centre of pressure off the nominal point: its moment N centre bends away from the roll.
    const auto off = [&](double N) { return solve_bending(strip, {N, 0.0, 0.03}).tip_rotation / N; };
    expect_close(small_limit(off, 1e-4), turn + 0.03, 1e-7, why);
    // On a roll the tangent turns by travel / R with it. For a plane it does not.
    strip.roll_radius = 8.0;
    const Bent bent = solve_bending(strip, {1e-4, 0.0, 0.0});
    expect_close(bent.effective_angle, 0.4 - bent.tip_rotation - bent.travel / 8.0, 1e-13, "definition");
    const double forward = lift * s + turn * 0.02 * c;  // of the contact point, to first order
    expect_close(bent.travel / 1e-4, forward, 1e-3, "first order in the load and in 1 / R times the deflection");
}

TEST_CASE("chamber pressure on a blade that just touches", "[bending]") {
    // Clamped-pinned strip under uniform pressure: end reaction 3 p L / 8, end rotation p L^3 / (48 D) (beam tables; here the
    // reaction is N cos a0, for the plane is met at the set angle). Deviations are linear in p L^3 / D to begin with: two sizes.
    for (const double a0 : {0.02, 0.5}) {
        Strip strip = unit_strip(a0);
        const auto solved = [&](double p, auto pick) {
            strip.pressure = p;
            ContactForce force;
            const Bent bent = solve_bending_at(strip, 0.0, 0.0, force);
            REQUIRE(bent.convergence.ok());
            return pick(bent, force) / p;
        };
        const auto reaction = [&](double p) {
            return solved(p, [](const Bent&, const ContactForce& f) { return f.normal; });
        };
        const auto rotation = [&](double p) {
            return solved(p, [](const Bent& b, const ContactForce&) { return b.tip_rotation; });
        };
        const auto root = [&](double p) {
            return solved(p, [](const Bent& b, const ContactForce&) { return b.root_moment; });
        };
        expect_close(small_limit(reaction, 1e-3) * std::cos(a0), 3.0 / 8.0, 1e-6,
                     "left: (p L^3 / D)^2 = 1e-6 times a small number");
        expect_close(small_limit(rotation, 1e-3), 1.0 / 48.0, 1e-6, "same");
        expect_close(small_limit(root, 1e-3), -1.0 / 8.0, 1e-6, "same; the clamp holds the blade off the roll");
    }
}

TEST_CASE("the largest moment is found inside the strip", "[bending]") {
    // End reaction r p L, pressure p: M(x) = r p L x - p x^2 / 2 from the tip, largest r^2 p L^2 / 2 at x = r L.
    Strip strip = unit_strip(0.3);
    const auto at = [&](double p, auto pick) {
        strip.pressure = p;
        const Bent bent = solve_bending(strip, {0.45 * p / std::cos(0.3), 0.0, 0.0});
        REQUIRE(bent.convergence.ok());
        return pick(bent);
    };
    expect_close(small_limit([&](double p) { return at(p, [](const Bent& b) { return b.max_moment; }) / p; }, 1e-3),
                 0.45 * 0.45 / 2.0, 1e-6, "left: second order in 1e-3");
    expect_close(small_limit([&](double p) { return at(p, [](const Bent& b) { return b.max_moment_place; }); }, 1e-3),
                 0.55, 1e-6, "same");
    const Bent plain = solve_bending(steel_strip(), {100.0, 0.0, 0.0});
    expect_close(plain.max_moment, plain.root_moment, 1e-13, "without pressure the clamp sees the largest");
    CHECK(std::abs(plain.max_moment_place) < 1e-15);
}

TEST_CASE("random blades against an independent integration from the clamp", "[bending]") {
    Dice dice(20240607);
    for (int i = 0; i < 60; ++i) {
        Strip s = steel_strip();
        s.stiffness *= 0.3 + 2.0 * dice();
        s.length *= 0.6 + dice();
        s.set_angle = (15.0 + 40.0 * dice()) * kDegree;
        s.offset *= 4.0 * dice();
        s.roll_radius = i % 7 == 0 ? kInf : 0.03 + 0.2 * dice();
        const double unit = s.stiffness / (s.length * s.length);
        s.pressure = (dice() - 0.4) * 0.5 * unit / s.length;
        const double normal = (0.1 + 0.7 * dice()) * unit * s.set_angle;
        const ContactForce f{normal, (dice() - 0.5) * normal, (dice() - 0.5) * 2e-4};
        const Bent bent = solve_bending(s, f, 64);
        INFO("blade " << i << ": " << bent.convergence.message);
        REQUIRE(bent.convergence.ok());
        const FromClamp miss = integrate_from_clamp(s, bent, f);
        CHECK(miss.force < 1e-8);
        CHECK(miss.moment < 1e-8);
        CHECK(miss.place < 1e-8);
        CHECK(miss.angle < 1e-8);
        ContactForce again{0.0, 0.0, f.centre};
        const Bent held = solve_bending_at(s, bent.interference, f.tangential / f.normal, again, 64);
        INFO("held: " << held.convergence.message);
        REQUIRE(held.convergence.ok());
        expect_close(again.normal, f.normal, 1e-8,
                     "interference is a difference of lengths, 1e-18 m in 1e-4 m or more");
        expect_close(held.effective_angle, bent.effective_angle, 1e-8, "same");
    }
}

TEST_CASE("order of the integrator", "[bending]") {
    Strip s = unit_strip(0.9);
    s.pressure = 1.0, s.offset = 0.02, s.roll_radius = 6.0;
    const ContactForce f{2.0, -0.6, 0.0};
    const StripMismatch exact = strip_mismatch(s, 0.4, f, 512);
    const auto error = [&](int steps) {
        return std::abs(strip_mismatch(s, 0.4, f, steps).interference - exact.interference);
    };
    const double coarse = error(6), middle = error(12), fine = error(24);
    INFO(coarse << ' ' << middle << ' ' << fine);
    CHECK(std::log2(coarse / middle) > 7.5);  // order 8 from above or below
    CHECK(std::log2(middle / fine) > 7.5);
    CHECK(std::log2(middle / fine) < 9.5);
}

TEST_CASE("default steps are enough up to N L^2 / D = 3", "[bending]") {
    double worst_angle = 0.0, worst_place = 0.0, usual = 0.0;
    for (const double load : {0.3, 1.0, 3.0})
        for (const double angle : {0.05, 0.3, 0.6, 1.0})
            for (const double ratio : {-0.5, 0.0, 0.5})
                for (const double pressure : {0.0, 0.4}) {
                    const Strip s{1.0, 1.0, 0.9, 5e-3, pressure, 6.0};
                    const ContactForce f{load, ratio * load, 0.0};
                    const StripMismatch few = strip_mismatch(s, angle, f), many = strip_mismatch(s, angle, f, 512);
                    const double miss = std::abs(few.angle_residual - many.angle_residual);
                    worst_angle = std::max(worst_angle, miss);
                    worst_place = std::max(worst_place, std::abs(few.interference - many.interference));
                    if (load < 0.5) usual = std::max(usual, miss);
                }
    CHECK(worst_angle < 2e-8);
    CHECK(worst_place < 2e-8);
    CHECK(usual < 1e-10);
}

TEST_CASE("few steps are taken only where they are exact", "[bending]") {
    double worst_angle = 0.0, worst_place = 0.0, worst_bent = 0.0;
    int fewest = kStripSteps, most = 0;
    for (const double load : {0.01, 0.02, 0.03, 0.04, 0.06, 0.109, 0.111, 0.15, 0.199, 0.201, 0.3, 1.0, 3.0, 10.0})
        for (const double angle : {0.05, 0.3, 0.6, 1.0})
            for (const double ratio : {-0.5, 0.0, 0.5})
                for (const double share : {0.0, 0.5, 1.0}) {  // of the load's turn that chamber pressure makes
                    const Strip s{1.0, 1.0, 0.9, 5e-3, 3.0 * share * load, 6.0};
                    const double force = (1.0 - share) * load;
                    const ContactForce f{force, ratio * force, 0.0};
                    const int steps = enough_strip_steps(s, force);
                    fewest = std::min(fewest, steps), most = std::max(most, steps);
                    const StripMismatch few = strip_mismatch(s, angle, f, steps),
                                        many = strip_mismatch(s, angle, f, 512);
                    if (steps >= kStripSteps) {
                        worst_bent = std::max({worst_bent, std::abs(few.angle_residual - many.angle_residual),
                                               std::abs(few.interference - many.interference)});
                        continue;
                    }
                    worst_angle = std::max(worst_angle, std::abs(few.angle_residual - many.angle_residual));
                    worst_place = std::max(worst_place, std::abs(few.interference - many.interference));
                }
    CHECK(fewest == 3);
    CHECK(most >= kStripSteps);
    CHECK(worst_bent < 1e-8);
    INFO(worst_angle << ' ' << worst_place);
    CHECK(worst_angle < 5e-12);
    CHECK(worst_place < 3e-11);
}

TEST_CASE("forces and moments balance about the clamp", "[bending]") {
    Strip s = steel_strip();
    s.pressure = 8000.0;
    const ContactForce f{90.0, 25.0, 3e-5};
    const Bent bent = solve_bending(s, f);
    REQUIRE(bent.convergence.ok());
    constexpr int n = 2001;
    const Shape shape = strip_shape(s, bent, f, n);
    REQUIRE(shape.o.size() == n);
    const double psi = std::asin((shape.o.back() - s.offset * std::sin(shape.slope.back())) / s.roll_radius);
    expect_close(psi * s.roll_radius, bent.travel, 1e-9, "the contact point lies on the roll");
    expect_close(shape.slope.back() - psi, bent.effective_angle, 1e-13, "definition of the effective angle");
    expect_close(shape.slope.front(), s.set_angle, 1e-12, "the clamp");
    expect_close(shape.z.front(), s.length * 0.5 + s.offset * std::cos(s.set_angle) - bent.interference, 1e-12,
                 "the holder");
    const double No = f.tangential * std::cos(psi) + f.normal * std::sin(psi),
                 Nz = f.normal * std::cos(psi) - f.tangential * std::sin(psi);
    const double contact_o = shape.o.back() - s.offset * std::sin(shape.slope.back()) + f.centre * std::cos(psi);
    const double contact_z = shape.z.back() - s.offset * std::cos(shape.slope.back()) - f.centre * std::sin(psi);
    // Moment that turns the blade from z to o (away from the roll is o to z: minus), about the clamp.
    double fo = No, fz = Nz;
    double moment = (contact_o - shape.o[0]) * Nz - (contact_z - shape.z[0]) * No;
    for (int i = 0; i < n; ++i) {
        const auto k = static_cast<std::size_t>(i);
        const double w = (i == 0 || i == n - 1 ? 1.0
                          : i % 2 == 1         ? 4.0
                                               : 2.0) /
                         3.0 * s.length / (n - 1) * s.pressure;  // Simpson
        const double po = -w * std::sin(shape.slope[k]), pz = -w * std::cos(shape.slope[k]);
        fo += po, fz += pz;
        moment += (shape.o[k] - shape.o[0]) * pz - (shape.z[k] - shape.z[0]) * po;
    }
    expect_close(-bent.root_force_o, fo, 1e-10, "Simpson over 2000 intervals");
    expect_close(-bent.root_force_z, fz, 1e-10, "Simpson over 2000 intervals");
    expect_close(bent.root_moment, moment, 1e-10, "Simpson over 2000 intervals");
    const double normal_o = std::sin(s.set_angle), normal_z = std::cos(s.set_angle);
    expect_close((shape.o.back() - shape.o[0]) * normal_o + (shape.z.back() - shape.z[0]) * normal_z,
                 bent.tip_deflection, 1e-12, "normal to the undeformed blade");
}

TEST_CASE("few points give the same shape as many", "[bending]") {
    const Strip s = steel_strip();
    const ContactForce f{100.0, -20.0, 0.0};
    const Bent bent = solve_bending(s, f);
    const Shape few = strip_shape(s, bent, f, 3), many = strip_shape(s, bent, f, 129);
    REQUIRE(few.o.size() == 3);
    expect_close(few.o[1], many.o[64], 1e-9, "16 steps inside against 128");
    expect_close(few.z[1], many.z[64], 1e-9, "16 steps inside against 128");
}

TEST_CASE("the holder's work is the energy of bending when nothing rubs", "[bending]") {
    const Strip s = steel_strip();
    // Ten Gauss points as two panels of five (Abramowitz & Stegun 1964, table 25.4).
    const std::array<double, 5> x{0.046910077030668, 0.230765344947158, 0.5, 0.769234655052842, 0.953089922969332};
    const std::array<double, 5> w{0.118463442528095, 0.239314335249683, 0.284444444444444, 0.239314335249683,
                                  0.118463442528095};
    const double full = 5e-4;
    double work = 0.0;
    for (int panel = 0; panel < 2; ++panel)
        for (std::size_t i = 0; i < 5; ++i) {
            ContactForce f;
            const Bent b = solve_bending_at(s, full / 2 * (panel + x[i]), 0.0, f);
            REQUIRE(b.convergence.ok());
            work += -b.root_force_z * w[i] * full / 2;
        }
    ContactForce f;
    const Bent end = solve_bending_at(s, full, 0.0, f);
    expect_close(strain_energy(s, end.effective_angle, f), work, 1e-10, "Gauss quadrature of a smooth curve");
}

TEST_CASE("scaling of lengths and stiffness", "[bending]") {
    Strip s = steel_strip();
    s.pressure = 5000.0;
    ContactForce f{80.0, -16.0, 2e-5};
    const Bent one = solve_bending(s, f);
    const double k = 3.7, l = 0.21;  // stiffness and lengths
    Strip t{s.stiffness * k, s.length * l, s.set_angle, s.offset * l, s.pressure * k / (l * l * l), s.roll_radius * l};
    const Bent two = solve_bending(t, {f.normal * k / (l * l), f.tangential * k / (l * l), f.centre * l});
    expect_close(two.effective_angle, one.effective_angle, 1e-13, "rounding");
    expect_close(two.interference, one.interference * l, 1e-11, "rounding");
    expect_close(two.travel, one.travel * l, 1e-11, "rounding");
    expect_close(two.root_moment, one.root_moment * k / l, 1e-12, "rounding");
}

TEST_CASE("orientations mirror each other when nothing rubs", "[bending]") {
    // Doctoring and trailing differ by the sign of the friction alone: even part to second order in it.
    const Strip s = steel_strip();
    const auto angle = [&](double T) { return solve_bending(s, {100.0, T, 0.0}).effective_angle; };
    const double none = angle(0.0), fine = angle(1.0) + angle(-1.0) - 2.0 * none,
                 coarse = angle(2.0) + angle(-2.0) - 2.0 * none;
    expect_close(coarse, 4.0 * fine, 1e-2, "even part quadratic; fourth-order rest");
    CHECK(std::abs(fine) < 1e-3 * std::abs(angle(1.0) - angle(-1.0)));
}

TEST_CASE("signs of friction", "[bending]") {
    const Strip s = steel_strip();
    const double none = solve_bending(s, {100.0, 0.0, 0.0}).effective_angle;
    CHECK(solve_bending(s, {100.0, -20.0, 0.0}).effective_angle > none);
    CHECK(solve_bending(s, {100.0, 20.0, 0.0}).effective_angle < none);
    // Given interference on a plane, small: N = 3 D delta / (L^3 cos a (cos a - mu sin a)) for doctoring (model of forces at the
    // tip, Timoshenko beam tables), which diverges at tan a = 1 / mu.
    const Strip flat = unit_strip(0.6);
    double last = 0.0;
    for (const double mu : {0.0, 0.3, 0.6, 0.9, 1.2, 1.4}) {
        const auto load = [&](double delta) {
            ContactForce f;
            const Bent b = solve_bending_at(flat, delta, -mu, f);
            REQUIRE(b.convergence.ok());
            return f.normal / delta;
        };
        const double stiffness = small_limit(load, 1e-6);
        expect_close(stiffness, 3.0 / (std::cos(0.6) * (std::cos(0.6) - mu * std::sin(0.6))), 1e-6,
                     "rest quadratic in 1e-6 / (1 - mu tan a); rounding 1e-16 / 1e-6");
        CHECK(stiffness > last);
        last = stiffness;
    }
    ContactForce f;
    const Bent lost = solve_bending_at(flat, 1e-3, -1.01 / std::tan(0.6), f);
    CHECK(lost.convergence.status == Status::unstable);
    CHECK(std::isnan(f.normal));
    check_all_nan(lost);
    CHECK(solve_bending(flat, {0.1, -0.2, 0.0}).convergence.status == Status::unstable);
    // A centre of pressure towards the tip bends the blade away, yet the force still digs in.
    f = {0.0, 0.0, 0.3};
    CHECK(solve_bending_at(flat, 1e-3, -1.01 / std::tan(0.6), f).convergence.status == Status::unstable);
    f = {0.0, 0.0, 0.3};
    CHECK(solve_bending_at(flat, 1e-3, -0.9 / std::tan(0.6), f).convergence.ok());
}

TEST_CASE("lying flat sets in at N = 2 D a0 / L^2", "[bending]") {
    // Linear limit; corrections are of order a0^2.
    const Strip s = unit_strip(0.02);
    double low = 0.0, high = 0.1;
    for (int i = 0; i < 40; ++i) {
        const double N = 0.5 * (low + high);
        const Bent b = solve_bending(s, {N, 0.0, 0.0});
        if (b.convergence.ok()) {
            CHECK(b.effective_angle > 0.0);
            low = N;
        } else {
            REQUIRE(b.convergence.status == Status::lying_flat);
            CHECK_FALSE(b.convergence.message.empty());
            check_all_nan(b);
            high = N;
        }
    }
    expect_close(low, 2.0 * 0.02, 5e-4, "a0^2 = 4e-4");
    // Far beyond, where a strip in its second mode (column: (3 pi / 2)^2 = 22) or a coiled one would balance the load.
    for (const double a0 : {0.02, 0.5, 1.2})
        for (const double ratio : {-0.3, 0.0, 0.3})
            for (double N = 4.0; N < 500.0; N *= 1.05) {
                const Bent b = solve_bending(unit_strip(a0), {N, ratio * N, 0.0});
                INFO(a0 << ' ' << ratio << ' ' << N << ' ' << b.effective_angle);
                CHECK_FALSE(b.convergence.ok());
            }
    ContactForce f;
    // Tip flat: deflection N L^3 / (3 D) = 2 a0 L / 3.
    CHECK(solve_bending_at(s, 0.66 * 0.02, 0.0, f).convergence.ok());
    CHECK(solve_bending_at(s, 0.68 * 0.02, 0.0, f).convergence.status == Status::lying_flat);
    CHECK(std::isnan(f.normal));
}

TEST_CASE("lifted off", "[bending]") {
    Strip s = steel_strip();
    ContactForce f;
    CHECK(solve_bending_at(s, -1e-6, 0.0, f).convergence.status == Status::lifted_off);
    CHECK(std::isnan(f.normal));
    const Bent touching = solve_bending_at(s, 0.0, 0.1, f);
    REQUIRE(touching.convergence.ok());
    CHECK(f.normal == 0.0);
    CHECK(touching.effective_angle == Approx(s.set_angle).margin(1e-14));
    CHECK(solve_bending(s, {-1.0, 0.0, 0.0}).convergence.status == Status::lifted_off);
    // Pressure from the roll side lifts the free blade by p L^4 / (8 D) normal to itself (beam tables): the holder must follow.
    s.offset = 0.0, s.roll_radius = kInf, s.pressure = -200.0;
    const double free = 200.0 * std::pow(s.length, 4) / (8.0 * s.stiffness) * std::cos(s.set_angle);
    CHECK(solve_bending_at(s, 0.99 * free, 0.0, f).convergence.status == Status::lifted_off);
    CHECK(solve_bending_at(s, 1.01 * free, 0.0, f).convergence.ok());
    // and from the other side keeps it in touch when the holder is drawn back as far.
    s.pressure = 200.0;
    CHECK(solve_bending_at(s, -0.99 * free, 0.0, f).convergence.ok());
    CHECK(solve_bending_at(s, -1.01 * free, 0.0, f).convergence.status == Status::lifted_off);
}

TEST_CASE("derivatives of the bent strip", "[bending]") {
    Strip s = steel_strip();
    s.pressure = 6000.0;
    const double a = 0.47, N = 95.0, ratio = -0.22;
    const auto at = [&](double angle, double normal) {
        return strip_mismatch(s, angle, {normal, ratio * normal, 1e-5});
    };
    const StripJacobian J = strip_jacobian(s, a, {N, ratio * N, 1e-5});
    // Taylor remainder: halving the step quarters what the derivative leaves.
    const auto remainder = [&](double da, double dN, bool residual) {
        const auto pick = [&](const StripMismatch& m) { return residual ? m.angle_residual : m.interference; };
        const double linear = residual ? J.residual_by_angle * da + J.residual_by_normal * dN
                                       : J.interference_by_angle * da + J.interference_by_normal * dN;
        return pick(at(a + da, N + dN)) - pick(at(a, N)) - linear;
    };
    for (const bool residual : {true, false})
        for (const auto& [da, dN] : {std::pair{1e-2, 0.0}, {0.0, 8.0}, {1e-2, -5.0}})
            expect_close(remainder(da, dN, residual) / remainder(0.5 * da, 0.5 * dN, residual), 4.0, 0.05,
                         "third-order rest");
    const auto slope = [&](double h, auto pick) { return (pick(h) - pick(-h)) / (2.0 * h); };
    const std::string why = "central difference, rest (1e-4)^2";
    expect_close(J.residual_by_angle, slope(1e-4, [&](double h) { return at(a + h, N).angle_residual; }), 1e-7, why);
    expect_close(J.residual_by_normal, slope(1e-2, [&](double h) { return at(a, N + h).angle_residual; }), 1e-7, why);
    expect_close(J.interference_by_angle, slope(1e-4, [&](double h) { return at(a + h, N).interference; }), 1e-7, why);
    expect_close(J.interference_by_normal, slope(1e-2, [&](double h) { return at(a, N + h).interference; }), 1e-7, why);
}

TEST_CASE("tangent stiffness follows the load curve", "[bending]") {
    const Strip s = steel_strip();
    for (const double ratio : {-0.2, 0.0, 0.2}) {
        const auto load = [&](double delta) {
            ContactForce f;
            REQUIRE(solve_bending_at(s, delta, ratio, f).convergence.ok());
            return f.normal;
        };
        ContactForce f;
        const Bent bent = solve_bending_at(s, 3e-4, ratio, f);
        const double h = 1e-7;
        expect_close(tangent_stiffness(s, bent.effective_angle, f), (load(3e-4 + h) - load(3e-4 - h)) / (2.0 * h), 1e-6,
                     "central difference, rest (3e-4)^2");
    }
    // Small: 3 D / (L^3 cos^2 a0) on a plane.
    expect_close(tangent_stiffness(unit_strip(0.5), 0.5, {0.0, 0.0, 0.0}), 3.0 / std::pow(std::cos(0.5), 2), 1e-9,
                 "linear beam");
}

TEST_CASE("a steel blade worked by hand", "[bending]") {
    // Independent collocation of the same equations (tests/reference/base_case): angles, interference; classes stated there.
    const Strip s = steel_strip();
    const Bent doctoring = solve_bending(s, {100.0, -20.0, 0.0}), trailing = solve_bending(s, {100.0, 20.0, 0.0});
    REQUIRE(doctoring.convergence.ok());
    REQUIRE(trailing.convergence.ok());
    expect_close(doctoring.effective_angle / kDegree, 27.7, 0.2 / 27.7, "T / N is 0.17 to 0.25 there");
    expect_close(doctoring.interference, 0.265e-3, 0.03, "same");
    expect_close(trailing.effective_angle / kDegree, 27.25, 0.2 / 27.25, "same");
    // regression value, says nothing about physics
    expect_close(doctoring.effective_angle / kDegree, 27.713831, 1e-7, "printed digits");
}

TEST_CASE("a known state is described without solving", "[bending]") {
    const Strip s = steel_strip();
    const ContactForce f{100.0, -20.0, 0.0};
    const Bent solved = solve_bending(s, f), known = bent_at(s, solved.effective_angle, f);
    REQUIRE(known.convergence.ok());
    CHECK(known.interference == solved.interference);
    const Bent wrong = bent_at(s, solved.effective_angle + 1e-3, f);
    CHECK(wrong.convergence.status == Status::stagnated);
    check_all_nan(wrong);
}

TEST_CASE("bending never turns a bad input into a number", "[bending]") {
    const Strip good = steel_strip();
    for (double Strip::*field : {&Strip::stiffness, &Strip::length, &Strip::set_angle, &Strip::offset, &Strip::pressure,
                                 &Strip::roll_radius}) {
        Strip s = good;
        s.*field = kNan;
        const Bent b = solve_bending(s, {100.0, 0.0, 0.0});
        CHECK(b.convergence.status == Status::non_finite);
        check_all_nan(b);
        ContactForce f;
        CHECK(solve_bending_at(s, 1e-4, 0.0, f).convergence.status == Status::non_finite);
        CHECK(std::isnan(f.normal));
    }
    for (double ContactForce::*field : {&ContactForce::normal, &ContactForce::tangential, &ContactForce::centre}) {
        ContactForce f{100.0, 0.0, 0.0};
        f.*field = kNan;
        CHECK(solve_bending(good, f).convergence.status == Status::non_finite);
        CHECK(std::isnan(strip_mismatch(good, 0.5, f).angle_residual));
    }
    ContactForce f;
    CHECK(solve_bending_at(good, kNan, 0.0, f).convergence.status == Status::non_finite);
    CHECK(solve_bending_at(good, 1e-4, kNan, f).convergence.status == Status::non_finite);
    CHECK(solve_bending_at(good, 1e-4, kInf, f).convergence.status == Status::non_finite);
    CHECK(solve_cantilever({1.0, 1.0, 0.0, kNan, 0.0}).convergence.status == Status::non_finite);
    Strip s = good;
    s.stiffness = 0.0;
    CHECK(solve_bending(s, {100.0, 0.0, 0.0}).convergence.status == Status::out_of_range);
    CHECK(Bent{}.convergence.status == Status::not_run);
}

TEST_CASE("the last allowed iteration counts", "[bending]") {
    const Strip s = steel_strip();
    const ContactForce f{100.0, -20.0, 0.0};
    const int needed = solve_bending(s, f).convergence.iterations;
    CHECK(needed >= 2);
    CHECK(needed <= 4);  // Newton: quadratic
    CHECK(solve_bending(s, f, 16, needed).convergence.ok());
    const Bent late = solve_bending(s, f, 16, needed - 1);
    CHECK(late.convergence.status == Status::max_iterations);
    check_all_nan(late);
    ContactForce g;
    const int held = solve_bending_at(s, 3e-4, -0.2, g).convergence.iterations;
    CHECK(held <= 6);
    CHECK(solve_bending_at(s, 3e-4, -0.2, g, 16, held).convergence.ok());
    CHECK(solve_bending_at(s, 3e-4, -0.2, g, 16, held - 1).convergence.status == Status::max_iterations);
    CHECK(std::isnan(g.normal));
}
