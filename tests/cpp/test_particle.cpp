#include "libblade/particle.hpp"

#include <array>
#include <boost/numeric/odeint/integrate/integrate_adaptive.hpp>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/generation.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>
#include <cmath>
#include <limits>
#include <numbers>

#include "expect.hpp"
#include "film_problem.hpp"
#include "libblade/error.hpp"
#include "libblade/random.hpp"

using namespace libblade;
namespace odeint = boost::numeric::odeint;

namespace {

constexpr double pi = std::numbers::pi;

/// y' = slope(t, y), by an independent integrator.
template <class F>
double integrated(F slope, double start, double time) {
    using Vector = std::array<double, 1>;
    Vector y{start};
    odeint::integrate_adaptive(
        odeint::make_controlled<odeint::runge_kutta_dopri5<Vector>>(1e-12 * std::abs(start + 1e-30), 1e-12),
        [&](const Vector& x, Vector& d, double t) { d[0] = slope(t, x[0]); }, y, 0.0, time, 1e-4 * time);
    return y[0];
}

}  // namespace

TEST_CASE("a filter keeps 1 - 1 / beta", "[particle]") {
    for (const auto& row : read_table("particles/filter.csv")) {  // ISO 16889
        const Filter filter{50e-6, std::stod(row.at(0)), 3.0, 0.0};
        expect_close(filter_efficiency(filter, 50e-6), std::stod(row.at(1)), 1e-11, "beta at its size");
    }
    const Filter filter{50e-6, 75.0, 3.0, 0.0};
    CHECK(filter_beta(filter, 0.0) == 1.0);
    expect_close(filter_beta(filter, 100e-6) - 1.0, 74.0 * 8.0, 1e-12, "twice the size, cubed");
    CHECK(filter_efficiency(filter, 100e-6) > filter_efficiency(filter, 50e-6));
    // A fifth goes round it.
    expect_close(filter_efficiency({50e-6, 75.0, 3.0, 0.2}, 50e-6), 0.8 * 74.0 / 75.0, 1e-12, "bypass");
}

TEST_CASE("a magnet pulls a grain at the speed at which drag balances it", "[particle]") {
    // Force chi V grad(B^2) / (2 mu0), mu0 = 4 pi 1e-7; Stokes' drag 3 pi eta d v.
    const Magnet magnet{0.03, 40.0, 3.0};
    const double d = 20e-6, eta = 0.1, Q = 1.5e-4;
    const double force = 3.0 * pi / 6.0 * d * d * d * 40.0 / (2.0 * 4e-7 * pi);
    const double v = magnet_velocity(magnet, d, eta);
    expect_close(3.0 * pi * eta * d * v, force, 1e-8, "balance; mu0 is no longer exact");
    // Deutsch: along the poles the mixed stream loses v n per area.
    const double left = integrated([&](double, double n) { return -v * n / Q; }, 1.0, magnet.area);
    expect_close(1.0 - magnet_efficiency(magnet, d, eta, Q), left, 1e-9, "along the poles");
    CHECK(magnet_efficiency({0.0, 40.0, 3.0}, d, eta, Q) == 0.0);
}

TEST_CASE("filter and magnet in line keep what the first lets by, and a magnet only what is ferrous", "[particle]") {
    InkLoop loop;
    const ParticleClass grain;
    CHECK(loop_efficiency(loop, grain, 30e-6, true, 0.1) == 0.0);
    loop.filter = Filter{30e-6, 10.0, 3.0, 0.0};
    loop.magnet = Magnet{0.02, 20.0, 3.0};
    const double kept = magnet_efficiency(*loop.magnet, 30e-6, 0.1, loop.flow);
    expect_close(loop_efficiency(loop, grain, 30e-6, false, 0.1), 0.9, 1e-12, "filter");
    expect_close(loop_efficiency(loop, grain, 30e-6, true, 0.1), 1.0 - 0.1 * (1.0 - kept), 1e-12, "both");
    ParticleClass flake;
    flake.shape = ParticleShape::flake;
    flake.breadth = 0.5;
    expect_close(loop_efficiency(loop, flake, 60e-6, false, 0.1), 0.9, 1e-12, "a flake passes by its breadth");
}

TEST_CASE("numbers in tank and chamber follow their balance", "[particle]") {
    struct Trial {
        double flow, volume, taken, caught, settled, fresh, tank, chamber;
    };
    for (const Trial& t :
         {Trial{1.5e-4, 0.02, 2e-6, 0.4, 0.0, 1e9, 2e3, 50.0}, Trial{1e-4, 0.05, 1e-5, 0.0, 0.0, 1e8, 0.0, 0.0},
          Trial{2e-4, 0.01, 0.0, 0.05, 1e-6, 0.0, 1e4, 300.0}, Trial{1e-4, 0.02, 0.0, 0.0, 0.0, 1e7, 5e3, 70.0}}) {
        INFO("caught " << t.caught << ", taken " << t.taken);
        const InkLoop loop{t.flow, t.volume, t.taken, 0.0, {}, {}};
        const ChamberNumber n = chamber_number(loop, t.caught, t.settled, t.fresh, t.tank, t.chamber);
        const auto in_chamber = [&](double tank) { return (1.0 - t.caught) * tank + t.chamber / t.flow; };
        for (const double time : {10.0, 600.0, 30000.0}) {
            // Tank first, then what the chamber has of it: the balance as a sum of flows, not its solution.
            const double tank = integrated(
                [&](double, double x) {
                    return (t.tank + t.taken * t.fresh + (t.flow - t.taken) * in_chamber(x) -
                            (t.flow + t.settled) * x) /
                           t.volume;
                },
                t.fresh, time);
            expect_close(n.at(time), in_chamber(tank), 1e-8, "against an ODE integrator");
            const int steps = 4000;  // Simpson
            double sum = 0.0;
            for (int k = 0; k <= steps; ++k)
                sum += (k == 0 || k == steps ? 1.0 : k % 2 == 1 ? 4.0 : 2.0) * n.at(time * k / steps);
            expect_close(n.integral(time), sum * time / steps / 3.0, 1e-7, "its integral");
        }
    }
    // Steady, what is shed is what is caught and taken: S = Q E n + C (1 - E) n.
    const InkLoop loop{1.5e-4, 0.02, 2e-6, 0.0, {}, {}};
    const double tank = chamber_number(loop, 0.4, 0.0, 0.0, 2e3, 0.0).final / 0.6;
    expect_close(1.5e-4 * 0.4 * tank + 2e-6 * 0.6 * tank, 2e3, 1e-12, "steady");
}

TEST_CASE("a still tank loses what sinks", "[particle]") {
    // Stokes: a quartz grain of 20 um in water of 1 mPa s sinks 0.36 mm/s (Stokes 1851; handbooks of sedimentation).
    ParticleClass quartz;
    InkLoop loop;
    loop.settling_area = 1.0;
    expect_close(settling_flow(loop, quartz, 20e-6, 1000.0, 1e-3), 3.6e-4, 0.01, "velocity x area");
    quartz.density = 900.0;
    CHECK(settling_flow(loop, quartz, 20e-6, 1000.0, 1e-3) == 0.0);
}

TEST_CASE("the mean volume is that of the lognormal population", "[particle]") {
    ParticleClass grain;
    grain.median_size = 5e-6, grain.size_spread = 1.8;
    ParticleClass flake = grain;
    flake.shape = ParticleShape::flake;
    Random random(1);
    double cubes = 0.0, squares = 0.0;
    constexpr int n = 400000;
    for (int k = 0; k < n; ++k) {
        const double d = 5e-6 * std::pow(1.8, random.normal());
        cubes += pi / 6.0 * d * d * d, squares += 0.5 * 2e-6 * d * d;
    }
    expect_close(mean_volume(grain), cubes / n, 0.06, "of grains: draws, standard error 1 to 2 %");
    expect_close(mean_volume(flake), squares / n, 0.02, "of flakes");
}

TEST_CASE("bad particles and loops are refused with every field named", "[particle]") {
    ParticleClass bad;
    bad.hardness = -1.0, bad.ferrous_share = 1.5, bad.size_spread = std::numeric_limits<double>::quiet_NaN();
    InkLoop loop;
    loop.consumption = 1.0;
    loop.filter = Filter{1e-4, 1.0, 4.0, 0.0};
    try {
        check_particles(std::array{ParticleClass{}, bad}, loop);
        FAIL("not refused");
    } catch (const InvalidInput& e) {
        std::string all;
        for (const Problem& p : e.problems()) all += p.path + " ";
        CHECK(all ==
              "particles.1.size_spread particles.1.hardness particles.1.ferrous_share loop.consumption "
              "loop.filter.beta ");
    }
    CHECK_THROWS_AS(check_particles({}, InkLoop{}), InvalidInput);
    check_particles(std::array{ParticleClass{}}, InkLoop{});
}
