// A soft tip (polymer, composite): film, asperities and the dent of the tip's surface found together.
#include <Eigen/Dense>
#include <chrono>
#include <cstdio>
#include <numbers>
#include <random>

#include "../../libblade/src/nip_solver.hpp"
#include "expect.hpp"
#include "libblade/contact.hpp"
#include "libblade/film.hpp"
#include "libblade/nip.hpp"

using namespace libblade;
using detail::Bedded;
using detail::NipSolver;

namespace {

constexpr double deg = std::numbers::pi / 180.0;

/// Conformal polymer blade under a curing ink.
[[maybe_unused]] Case polymer(double modulus) {
    Case c;
    c.setting.set_angle = 30 * deg;
    c.setting.load = LineLoad{100.0};
    c.blade.thickness = 0.5e-3;
    c.blade.material = {modulus, 0.38, 0.2e9, 80e6, 1400.0};
    c.tip = Facet{400e-6, BeddedHere{}, 1e-6};
    c.ink.rheology = Newtonian{0.1};
    return c;
}

/// The states a whole answer needs; which of them failed, and why. Empty: none.
std::string run(const Case& c, bool soft) {
    NipSolver solver(c, 1, soft);
    const Bedded bed = solver.bed();
    const auto said = [](const char* stage, Status status) { return stage + (": " + std::string(describe(status))); };
    if (!bed.ok()) return said("bedding", bed.status);
    solver.adopt(bed, bed.angle, bed.facet_length);
    const detail::Target target{c.setting.holding == Holding::fixed, bed.load, bed.state.interference};
    detail::State state = solver.balance(0.0, target, bed.state);
    if (!state.ok()) return said("balance", state.status);
    const double slope = solver.drive_slope(bed.state, target);
    if (!std::isfinite(slope)) return "slope";
    if (slope > 0.0) {
        state.tilt = -0.05 * solver.tilt_scale();
        state = solver.relax(state, target);
        if (!state.ok()) return said("relax", state.status);
    }
    for (const double part : {0.05, -0.05}) {
        detail::Target end = target;
        (end.fixed ? end.interference : end.load) *= 1.0 + part;
        const detail::State stepped = solver.follow(state, target, end, 2);
        if (!stepped.ok()) return said("step", stepped.status);
    }
    const detail::State thick = solver.thickest(target, state);
    if (!thick.ok()) return said("thickest", thick.status);
    const detail::State other = solver.relax(thick, target);
    return other.ok() ? "" : said("other branch", other.status);
}

}  // namespace

TEST_CASE("random", "[nip]") {
    std::mt19937 engine(7);
    const auto between = [&](double a, double b) { return std::exp(std::uniform_real_distribution<double>(std::log(a), std::log(b))(engine)); };
    const int cases = getenv("NCASE") ? atoi(getenv("NCASE")) : 100;
    int bad[2] = {0, 0}, only_soft = 0;
    double time[2] = {0, 0};
    for (int k = 0; k < cases; ++k) {
        Case c;
        c.blade.thickness = between(0.2e-3, 1.5e-3);
        c.blade.free_length = between(6e-3, 25e-3);
        c.blade.material = {between(0.8e9, 45e9), 0.38, 0.2e9, 80e6, 1400.0};
        c.tip = Facet{between(100e-6, 1500e-6), BeddedHere{}, 1e-6};
        const double eta = between(0.02, 1.0);
        if (engine() % 2) c.ink.rheology = Newtonian{eta};
        else c.ink.rheology = Cross{eta, 0.3 * eta, between(1e-6, 1e-4), 0.8};
        c.setting.surface_speed = between(0.5, 10.0);
        c.setting.load = LineLoad{between(20.0, 300.0)};
        c.setting.set_angle = between(15 * deg, 60 * deg);
        c.setting.orientation = engine() % 2 ? Orientation::doctoring : Orientation::trailing;
        c.setting.holding = engine() % 2 ? Holding::fixed : Holding::floating;
        if (engine() % 4 == 0) c.setting.film_supply = between(1e-6, 20e-6);
        std::string what[2];
        if (getenv("ONLY") && atoi(getenv("ONLY")) != k) continue;
        for (const bool rigid : {false, true}) {
            const auto t0 = std::chrono::steady_clock::now();
            const std::string w = run(c, !rigid);
            time[rigid] += std::chrono::duration<double>(std::chrono::steady_clock::now() - t0).count();
            what[rigid] = w;
            if (!w.empty()) ++bad[rigid];
        }
        if (!what[0].empty() && what[1].empty()) ++only_soft;
        if (what[0] != what[1])
        std::printf("%d E %.3g t %.3g b %.3g eta %.3g %s U %.3g N %.3g  ori %d hold %d: soft[%s] rigid[%s]\n", k, c.blade.material.youngs_modulus, c.blade.thickness, std::get<double>(std::get<Facet>(c.tip).length), eta,
            std::holds_alternative<Cross>(c.ink.rheology) ? "cross" : "newt", c.setting.surface_speed, std::get<LineLoad>(c.setting.load).value, (int)c.setting.orientation, (int)c.setting.holding, what[0].c_str(), what[1].c_str());
    }
    std::printf("bad soft %d rigid %d only soft %d; time soft %g rigid %g ms\n", bad[0], bad[1], only_soft, 1e3 * time[0] / cases, 1e3 * time[1] / cases);
}
