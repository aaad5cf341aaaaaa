// Gradients by implicit differentiation against differences of whole solves.
#include "libblade/nip_gradient.hpp"

#include <cmath>
#include <numbers>
#include <random>

#include "../../libblade/src/nip_prepare.hpp"
#include "expect.hpp"
#include "libblade/error.hpp"
#include "libblade/parameters.hpp"
#include "nip_options.hpp"

using namespace libblade;

namespace {

constexpr double deg = std::numbers::pi / 180.0;

Case inked() {
    Case c;
    c.blade.material = {205e9, 0.29, 5.5e9, 1.6e9, 7850.0};
    c.tip = Facet{200e-6, BeddedHere{}, 1e-6};
    c.ink.rheology = CarreauYasuda{0.2, 0.03, 1e-5, 0.5, 2.0};
    c.ink.andrade_constant = 3000.0;
    c.setting.set_angle = 30 * deg;
    c.setting.load = LineLoad{90.0};
    return c;
}

/// d(output)/d(field) by differences of solves at h and 2 h, Richardson's extrapolation.
double difference(const Case& c, const std::string& field, double OperatingPoint::*output, double h) {
    const double x = get_number(c, field);
    const auto at = [&](double shift) {
        Case moved = c;
        set_number(moved, field, x + shift);
        const OperatingPoint p = solve(moved, bare());
        REQUIRE(p.convergence.ok());
        return p.*output;
    };
    const double one = (at(h) - at(-h)) / (2.0 * h), two = (at(2.0 * h) - at(-2.0 * h)) / (4.0 * h);
    return (4.0 * one - two) / 3.0;
}

constexpr double OperatingPoint::*kChecked[] = {
    &OperatingPoint::film_on_lands,      &OperatingPoint::effective_angle,   &OperatingPoint::friction_coefficient,
    &OperatingPoint::asperity_load,      &OperatingPoint::hydrodynamic_lift, &OperatingPoint::line_load,
    &OperatingPoint::max_bending_stress, &OperatingPoint::film_temperature};

}  // namespace

TEST_CASE("gradients follow differences of solves", "[nip][gradient]") {
    const std::vector<std::string> fields = {
        "setting.set_angle", "setting.line_load", "setting.surface_speed",
        "blade.thickness",   "blade.free_length", "roll.land_roughness",
        "setting.friction",  "ink.density",       "ink.rheology.zero_shear_viscosity",
        "roll.radius"};
    std::vector<Case> cases(5, inked());
    cases[1].setting.orientation = Orientation::trailing;
    cases[2].setting.holding = Holding::floating;  // bedded parallel is not where it stays: four unknowns
    std::get<Facet>(cases[3].tip).length = WornLength{};
    std::get<Facet>(cases[4].tip).bedding = BeddedElsewhere{30 * deg, 88.0};  // six unknowns
    for (const Case& c : cases) {
        const NipGradient g = gradient(c, fields, bare());
        REQUIRE(g.convergence.ok());
        const OperatingPoint p = solve(c, bare());
        for (double OperatingPoint::*output : kChecked)
            expect_close(g.point.*output, p.*output, 1e-9, "the point itself");
        for (std::size_t i = 0; i < fields.size(); ++i) {
            const double x = get_number(c, fields[i]);
            for (double OperatingPoint::*output : kChecked) {
                const double whole = difference(c, fields[i], output, 1e-5 * x), found = g.by[i].*output;
                INFO(fields[i] << ": " << found << " against " << whole);
                // 1e-6 of the slope, and what the solves' tolerance of 1e-11 leaves over a step of 1e-5.
                CHECK(std::abs(found - whole) <= 1e-6 * std::abs(whole) + 6e-6 * std::abs(p.*output / x));
            }
        }
    }
}

TEST_CASE("gradients at random points", "[nip][gradient]") {
    std::mt19937 engine(7);
    const auto between = [&](double a, double b) { return std::uniform_real_distribution(a, b)(engine); };
    const std::vector<std::string> fields = {"setting.set_angle", "setting.line_load", "ink.viscosity"};
    int checked = 0;
    for (int k = 0; k < 40; ++k) {
        Case c = inked();
        c.ink.rheology = Newtonian{between(0.01, 0.3)};
        c.setting.set_angle = between(26.0, 40.0) * deg;
        c.setting.load = LineLoad{between(50.0, 160.0)};
        c.setting.surface_speed = between(1.0, 6.0);
        if (k % 2 == 1) c.setting.orientation = Orientation::trailing;
        const NipGradient g = gradient(c, fields, bare());
        if (!g.convergence.ok()) continue;
        for (std::size_t i = 0; i < fields.size(); ++i) {
            const double x = get_number(c, fields[i]);
            const double whole = difference(c, fields[i], &OperatingPoint::film_on_lands, 2e-5 * x);
            INFO("point " << k << ", " << fields[i] << ": " << g.by[i].film_on_lands << " against " << whole);
            CHECK(std::abs(g.by[i].film_on_lands - whole) <= 1e-6 * std::abs(whole) + 6e-6 * g.point.film_on_lands / x);
            ++checked;
        }
    }
    CHECK(checked > 100);
}

TEST_CASE("gradients under a soft tip follow differences of solves", "[nip][gradient]") {
    // Its film is found by sweeps. Density and wetted length move it by a hundredth of what the load does. Differences over one
    // part in a hundred: over less the film's end passes a node or not, which moves a slope by a part in a thousand.
    Case c = inked();
    c.blade.material = {3e9, 0.38, 0.2e9, 0.06e9, 1300.0};
    c.blade.thickness = 500e-6;
    c.ink.rheology = Newtonian{0.05};
    c.setting.load = LineLoad{60.0};
    const std::vector<std::string> fields = {"setting.line_load", "setting.surface_speed", "ink.density",
                                             "setting.wetted_length"};
    const NipGradient g = gradient(c, fields, bare());
    REQUIRE(g.convergence.ok());
    for (std::size_t i = 0; i < fields.size(); ++i) {
        const double whole = difference(c, fields[i], &OperatingPoint::film_on_lands, 1e-2 * get_number(c, fields[i]));
        expect_close(g.by[i].film_on_lands, whole, 1e-3, "what the sweeps leave of a soft film");
    }
}

TEST_CASE("the kernels' dual numbers give the same slopes", "[nip][gradient]") {
    // What the branches are followed with, against differences of the state at a tilt and gap.
    for (const bool thinning : {false, true}) {
        Case c = inked();
        if (!thinning) c.ink.rheology = Newtonian{0.05};
        detail::Prepared p = detail::prepare(c, bare());
        REQUIRE(p.status == Status::converged);
        for (const double tilt : {-1e-3, 2e-4, 3e-3}) {
            const double u = p.state.u + 0.1, dt = 1e-7, du = 1e-5;
            const detail::State at = p.solver.look(tilt, u);
            const detail::NipResidual r = p.solver.residual(at, -p.solver.sign(), 1.0);
            REQUIRE(r.ok);
            const auto slope = [&](double a, double b) {
                const detail::State up = p.solver.look(tilt + a, u + b);
                const double r_up = up.angle_residual;
                const detail::State down = p.solver.look(tilt - a, u - b);
                const double step = 2.0 * (a + b);
                return std::array<double, 3>{(r_up - down.angle_residual) / step,
                                             (up.interference - down.interference) / step,
                                             std::log(up.force.normal / down.force.normal) / step};
            };
            const auto by_tilt = slope(dt, 0.0), by_u = slope(0.0, du);
            const char* const why = "central differences";
            expect_close(r.angle_by[0], by_tilt[0], 1e-6, why);
            expect_close(r.interference_by[0], by_tilt[1], 2e-6, why);
            expect_close(r.load_by[0], by_tilt[2], 2e-6, why);
            expect_close(r.angle_by[1], by_u[0], 2e-6, why);
            expect_close(r.interference_by[1], by_u[1], 2e-6, why);
            expect_close(r.load_by[1], by_u[2], 1e-6, why);
        }
    }
}

TEST_CASE("gradients refuse what has no slope", "[nip][gradient]") {
    CHECK_THROWS_AS(gradient(inked(), std::vector<std::string>{"setting.holding"}), InvalidInput);
    CHECK_THROWS_AS(gradient(inked(), std::vector<std::string>{"setting.interference"}), InvalidInput);
    CHECK_THROWS_AS(gradient(inked(), std::vector<std::string>{"setting.nothing"}), InvalidInput);
}
