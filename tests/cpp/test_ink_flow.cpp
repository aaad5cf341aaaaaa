#include "libblade/ink_flow.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "expect.hpp"
#include "film_problem.hpp"
#include "libblade/dual.hpp"
#include "libblade/error.hpp"
#include "libblade/ink_kernel.hpp"
#include "libblade/root.hpp"

using namespace libblade;

namespace {

PlaneFlow converged(const Rheology& law, double gap, double speed, double gradient) {
    const PlaneFlow out = plane_flow(law, gap, speed, gradient);
    INFO("gap " << gap << ", speed " << speed << ", dp/dx " << gradient << ", residual " << out.convergence.residual);
    REQUIRE(out.convergence.ok());
    return out;
}

/// s and the two viscosities of a flow, by their definitions.
struct Exact {
    double s, pressure, shear;
};
Exact viscosities(const PlaneFlow& f, double h, double U, double gradient) {
    return {2.0 * f.flow / (U * h) - 1.0, gradient * h * h * h / (12.0 * (0.5 * U * h - f.flow)),
            (f.moving_wall_stress - 0.5 * h * gradient) * h / U};
}

/// Laws over the range for which the table's accuracy is stated.
Rheology random_law(int kind, Dice& dice, bool corner) {
    if (corner && kind == 0) return Cross{1.0, 0.02, 1e-4, 0.7};
    if (corner && kind == 1) return CarreauYasuda{1.0, 0.02, 1e-4, 0.3, 2.0};
    if (corner) return PowerLaw{0.5, 0.4};
    const double low = 0.02, high = low * std::pow(50.0, dice()), lambda = std::pow(10.0, -6.0 + 4.0 * dice());
    const double n = 0.3 + 0.7 * dice();
    if (kind == 0) return Cross{high, low, lambda, 1.0 - n};
    if (kind == 1) return CarreauYasuda{high, low, lambda, n, 0.7 + 1.8 * dice()};
    return PowerLaw{0.5, 0.4 + 0.6 * dice()};
}

double characteristic_rate(const Rheology& law) {
    if (const auto* c = std::get_if<Cross>(&law)) return 1.0 / c->time_constant;
    if (const auto* c = std::get_if<CarreauYasuda>(&law)) return 1.0 / c->time_constant;
    return 1e5;
}

}  // namespace

TEST_CASE("power-law Poiseuille flow", "[ink_flow]") {
    // Closed form (Bird, Armstrong & Hassager 1987, ch. 4): q = n / (2 n + 1) (h^2 / 2) (h G / 2 K)^(1/n).
    for (const double n : {0.1, 0.3, 0.6, 1.0, 1.4}) {
        const double K = 0.8, h = 5e-5, G = 1e7;
        const PlaneFlow f = converged(PowerLaw{K, n}, h, 0.0, -G);
        const double q = n / (2.0 * n + 1.0) * 0.5 * h * h * std::pow(h * G / (2.0 * K), 1.0 / n);
        expect_close(f.flow, q, 1e-12, "quadrature to rounding");
        expect_close(f.fixed_wall_stress, 0.5 * h * G, 1e-14, "balance of forces");
        expect_close(f.moving_wall_stress, -0.5 * h * G, 1e-14, "balance of forces");
    }
}

TEST_CASE("power-law flow that leaves the moving wall without stress", "[ink_flow]") {
    // Closed form, own: T = P (z / h), rate (P z / (K h))^v with v = 1 / n, so U / h = (P / K)^v / (v + 1) and s = v
    // / (v + 2).
    for (const double n : {0.1, 0.4, 0.7, 1.0}) {
        const double K = 0.5, h = 2e-6, P = 2e4 * std::pow(1e3, n - 0.4), v = 1.0 / n;
        const double U = h * std::pow(P / K, v) / (v + 1.0), s = v / (v + 2.0);
        const PlaneFlow f = converged(PowerLaw{K, n}, h, U, -P / h);
        expect_close(f.flow, 0.5 * U * h * (1.0 + s), 1e-11, "12 digits on the speed");
        expect_close(f.fixed_wall_stress, P, 1e-11, "12 digits on the speed");
        CHECK(std::abs(f.moving_wall_stress) <= 1e-11 * P);
        if (n < 0.4) continue;
        const auto eta = make_ink_flow_table(PowerLaw{K, n}).at(U / h, s);
        expect_close(eta.pressure, P * h / (6.0 * U * s), 1e-7, "least smooth place of the table");
        expect_close(eta.shear, 0.5 * P * h / U, 1e-7, "least smooth place of the table");
    }
}

TEST_CASE("Couette-Poiseuille flow of a power-law and a Carreau fluid", "[ink_flow]") {
    const Reference table("bird_armstrong_hassager_1987/couette_poiseuille.csv");
    const std::string why = "printed to 10 digits";
    expect_close(converged(PowerLaw{0.8, 0.6}, 5e-5, 0.0, -1e7).flow, table("G8", "flow"), 1e-9, why);
    const auto check = [&](const std::string& id, const Rheology& law, double gradient) {
        const PlaneFlow f = converged(law, 2e-5, 1.0, gradient);
        expect_close(f.flow, table(id, "flow"), 1e-9, why);
        expect_close(f.moving_wall_stress, table(id, "moving_wall_stress"), 1e-9, why);
        expect_close(f.fixed_wall_stress, f.moving_wall_stress - 2e-5 * gradient, 1e-12, "balance of forces");
    };
    check("G9+", PowerLaw{0.8, 0.6}, -1e7);
    check("G9-", PowerLaw{0.8, 0.6}, 4e7);
    check("G10", CarreauYasuda{0.2, 0.02, 1e-3, 0.5, 2.0}, -2e7);
}

TEST_CASE("random flows against SciPy", "[ink_flow]") {
    const auto rows = read_table("bird_armstrong_hassager_1987/plane_flow.csv");
    REQUIRE(rows.size() == 30);
    for (const auto& row : rows) {
        const auto number = [&](std::size_t i) { return std::stod(row.at(i)); };
        const Rheology law = row[0] == "power_law" ? Rheology(PowerLaw{number(1), number(2)})
                             : row[0] == "cross"
                                 ? Rheology(Cross{number(1), number(2), number(3), number(4)})
                                 : Rheology(CarreauYasuda{number(1), number(2), number(3), number(4), number(5)});
        const double h = number(6), U = number(7), gradient = number(8);
        const PlaneFlow f = converged(law, h, U, gradient);
        expect_close(f.flow, number(9), 1e-11, "12 digits, quadrature to 1e-12");
        expect_close(f.moving_wall_stress, number(10), 1e-11, "12 digits, quadrature to 1e-12");
        const double s = 2.0 * number(9) / (U * h) - 1.0;
        const InkFlowTable table = make_ink_flow_table(law);
        const auto eta = table.at(U / h, s);
        expect_close(0.5 * U * h - h * h * h * gradient / (12.0 * eta.pressure), number(9), 2e-5,
                     "table, times pressure flow over flow");
        expect_close(eta.pressure, -gradient * h * h / (6.0 * U * s), 1e-6, "table");
        expect_close(eta.shear, (number(10) - 0.5 * h * gradient) * h / U, 1e-6, "table");
    }
}

TEST_CASE("a Newtonian ink", "[ink_flow]") {
    const double eta = 0.03, h = 3e-6, U = 2.0, gradient = 4e9;
    const PlaneFlow f = converged(Newtonian{eta}, h, U, gradient);
    expect_close(f.flow, 0.5 * U * h - h * h * h * gradient / (12.0 * eta), 1e-12, "plane Couette-Poiseuille flow");
    expect_close(f.moving_wall_stress, eta * U / h + 0.5 * h * gradient, 1e-12, "plane Couette-Poiseuille flow");
    const InkFlowTable table = make_ink_flow_table(Newtonian{eta});
    CHECK(table.convergence().ok());
    CHECK(table.at(1e6, 0.7).pressure == eta);
    CHECK(table.at(1e6, 0.7).shear == eta);
    CHECK(table.at(Dual<1>(1e6, {1.0}), Dual<1>(0.7, {1.0})).pressure.d[0] == 0.0);
}

TEST_CASE("at rest, in pure shear, mirrored and reversed", "[ink_flow]") {
    const Rheology law = CarreauYasuda{0.5, 0.02, 1e-4, 0.4, 1.3};
    const double h = 4e-6, U = 1.5, gradient = 8e9;
    CHECK(plane_flow(law, h, 0.0, 0.0).flow == 0.0);
    CHECK(plane_flow(law, h, 0.0, 0.0).moving_wall_stress == 0.0);
    const PlaneFlow shear = converged(law, h, U, 0.0);
    CHECK(shear.flow == 0.5 * U * h);
    expect_close(shear.moving_wall_stress, shear_viscosity(law, U / h) * U / h, 1e-14, "law");
    // Seen from the moving wall the other one moves: flows add up to U h, the walls change places.
    const PlaneFlow a = converged(law, h, U, gradient), b = converged(law, h, U, -gradient);
    expect_close(a.flow + b.flow, U * h, 1e-14, "mirror");
    expect_close(a.moving_wall_stress, b.fixed_wall_stress, 1e-14, "mirror");
    const PlaneFlow c = converged(law, h, -U, -gradient);
    CHECK(c.flow == -a.flow);
    CHECK(c.moving_wall_stress == -a.moving_wall_stress);
    // First order in dp/dx: tangent viscosity; the wall stress keeps the apparent one.
    for (const double small : {1e-2, 1e-3, 1e-4}) {
        const double G = small * 6.0 * tangent_viscosity(law, U / h) * U / (h * h);
        const Exact e = viscosities(converged(law, h, U, G), h, U, G);
        expect_close(e.pressure, tangent_viscosity(law, U / h), small * small + 1e-11 / small, "even in s");
        expect_close(e.shear, shear_viscosity(law, U / h), small * small + 1e-11, "even in s");
    }
    const InkFlowTable table = make_ink_flow_table(law);
    for (const double s : {0.01, 0.34, 7.0}) CHECK(table.at(1e6, s).pressure == table.at(1e6, -s).pressure);
    for (double rate = 2.0; rate < 1e11; rate *= 31.7) {
        const auto eta = table.at(rate, 0.0);
        expect_close(eta.pressure, tangent_viscosity(law, rate), 1e-6, "table");
        expect_close(eta.shear, shear_viscosity(law, rate), 1e-6, "table");
        CHECK(table.at(Dual<1>(rate), Dual<1>(0.0, {1.0})).pressure.d[0] == 0.0);
    }
}

TEST_CASE("the table against the flow itself", "[ink_flow]") {
    const int kind = GENERATE(0, 1, 2);
    Dice dice(static_cast<unsigned>(20 + kind));
    double worst = 0.0;
    for (int i = 0; i < 8; ++i) {
        const Rheology law = random_law(kind, dice, i == 0);
        const InkFlowTable table = make_ink_flow_table(law);
        REQUIRE(table.convergence().ok());
        for (int k = 0; k < (i == 0 ? 1500 : 150); ++k) {
            const double h = 1e-6;
            // Half of the points where the law bends; many where the stress may vanish at a wall, or close to pure
            // shear.
            const double rate = k % 2 == 0 ? characteristic_rate(law) * std::pow(10.0, 4.0 * dice() - 0.5)
                                           : std::pow(10.0, 11.0 * dice());
            const double size = k % 5 == 4  ? 0.002 + 0.1 * dice()
                                : k % 4 < 2 ? 0.25 + 0.4 * dice()
                                            : std::sinh(5.25 * dice());
            const double s = dice() < 0.5 ? -size : size;
            const double U = std::clamp(rate, 1.0, 1e11) * h;
            const double gradient = -6.0 * table.at(U / h, s).pressure * U * s / (h * h);
            const Exact e = viscosities(converged(law, h, U, gradient), h, U, gradient);
            const auto eta = table.at(U / h, e.s);
            worst = std::max({worst, std::abs(eta.pressure / e.pressure - 1.0), std::abs(eta.shear / e.shear - 1.0)});
        }
    }
    INFO("law " << kind << ", worst relative error " << worst);
    CHECK(worst < (kind == 2 ? 2e-7 : 1e-6));
    CHECK(worst > 1e-12);  // two methods
}

TEST_CASE("tables of inks whose law bends far more sharply than for which the accuracy is stated", "[ink_flow]") {
    const CarreauYasuda law = GENERATE(CarreauYasuda{8.0267, 9.4e-4, 1.36456, 0.14184, 7.0},
                                       CarreauYasuda{1.9682, 2.169e-3, 1.24607e-4, 0.0604544, 5.29053},
                                       CarreauYasuda{0.405104, 9.34025e-3, 2.96571e-7, 0.140099, 5.74113});
    const InkFlowTable table = make_ink_flow_table(law);
    INFO("transition " << law.transition << ", exponent " << law.exponent);
    REQUIRE(table.convergence().ok());
    Dice dice(31u);
    double worst = 0.0;
    for (int k = 0; k < 300; ++k) {
        const double h = 1e-6;
        const double rate = std::clamp(std::pow(10.0, 3.0 * dice() - 1.0) / law.time_constant, 1.0, 1e11);
        const double U = rate * h, s = 3.0 * dice(), gradient = -6.0 * table.at(rate, s).pressure * rate * s / h;
        const Exact e = viscosities(converged(law, h, U, gradient), h, U, gradient);
        const auto eta = table.at(rate, e.s);
        worst = std::max({worst, std::abs(eta.pressure / e.pressure - 1.0), std::abs(eta.shear / e.shear - 1.0)});
    }
    INFO("worst relative error " << worst);
    CHECK(worst < 1e-3);
    CHECK(worst > 1e-12);  // two methods
}

TEST_CASE("beyond the table", "[ink_flow]") {
    // A power law scales: viscosities go with rate^(n-1) at equal s, and at large s with s^(n-1).
    const InkFlowTable power = make_ink_flow_table(PowerLaw{0.5, 0.6}, {1e3, 1e6, 100.0});
    expect_close(power.at(1e9, 0.4).pressure / power.at(1e4, 0.4).pressure, std::pow(1e5, -0.4), 1e-10, "straight");
    expect_close(power.at(1.0, 0.4).shear / power.at(1e4, 0.4).shear, std::pow(1e-4, -0.4), 1e-10, "straight");
    expect_close(power.at(1e5, 1e5).pressure / power.at(1e5, 1e3).pressure, std::pow(100.0, -0.4), 1e-4, "asymptote");
    const InkFlowTable table = make_ink_flow_table(Cross{0.2, 0.02, 1e-4, 0.7}, {1e3, 1e7, 20.0});
    expect_close(table.at(1e7 * (1.0 + 1e-9), 0.3).pressure, table.at(1e7 * (1.0 - 1e-9), 0.3).pressure, 1e-8, "C0");
    const auto inside = table.at(Dual<1>(1e7 * (1.0 - 1e-9), {1.0}), Dual<1>(0.3)),
               outside = table.at(Dual<1>(1e7 * (1.0 + 1e-9), {1.0}), Dual<1>(0.3));
    expect_close(outside.pressure.d[0], inside.pressure.d[0], 1e-6, "C1");
}

TEST_CASE("derivatives of the table", "[ink_flow]") {
    const Rheology law = Cross{0.6, 0.02, 1e-4, 0.6};
    const InkFlowTable table = make_ink_flow_table(law);
    Dice dice(5);
    for (int k = 0; k < 300; ++k) {
        const double rate = std::pow(10.0, -1.0 + 13.0 * dice());  // beyond both ends, too
        const double s = std::sinh(12.0 * dice() - 6.0), d = 1e-5;
        const auto by_rate = table.at(Dual<1>(rate, {rate}), Dual<1>(s));
        const auto by_s = table.at(Dual<1>(rate), Dual<1>(s, {std::sqrt(1.0 + s * s)}));
        const auto plain = table.at(rate, s);
        CHECK(by_rate.pressure.v == plain.pressure);
        CHECK(by_s.shear.v == plain.shear);
        const auto up = table.at(rate * std::exp(d), s), down = table.at(rate * std::exp(-d), s);
        const double y = std::asinh(s);
        const auto more = table.at(rate, std::sinh(y + d)), less = table.at(rate, std::sinh(y - d));
        const auto close = [&](double slope, double above, double below, double value) {
            INFO("rate " << rate << ", s " << s);
            CHECK(std::abs(slope - (above - below) / (2.0 * d)) <= 2e-6 * value);  // second derivatives jump at nodes
        };
        close(by_rate.pressure.d[0], up.pressure, down.pressure, plain.pressure);
        close(by_rate.shear.d[0], up.shear, down.shear, plain.shear);
        close(by_s.pressure.d[0], more.pressure, less.pressure, plain.pressure);
        close(by_s.shear.d[0], more.shear, less.shear, plain.shear);
    }
}

// Slider of Dien & Elrod's class, solved exactly (check values C10): gap 4 to 2 um over 0.1 mm, U = 2 m/s, no
// pressure at the ends.
namespace {

struct Slider {
    std::string id;
    PowerLaw law;
};
const std::vector<Slider> kSliders = {{"PL0.7", {1.0, 0.7}}, {"PL0.85", {0.4, 0.85}}};
constexpr double kLength = 1e-4, kSpeed = 2.0;
double slider_gap(double x) { return 4e-6 - 2e-6 * x / kLength; }

/// Root by secants from two values close to it.
template <class F>
double secant(F&& f, double x0, double x1) {
    double f0 = f(x0);
    for (int i = 0; i < 30; ++i) {
        const double f1 = f(x1);
        if (f1 == f0) return x1;
        const double x2 = x1 - f1 * (x1 - x0) / (f1 - f0);
        x0 = x1, f0 = f1, x1 = x2;
        if (std::abs(x1 - x0) < 1e-13 * std::abs(x1)) return x1;
    }
    FAIL("secant did not end");
    return 0.0;
}

}  // namespace

TEST_CASE("slider with a power-law fluid, from the flow itself", "[ink_flow]") {
    const Reference table("dien_elrod_1983/power_law_slider.csv");
    for (const Slider& slider : kSliders) {
        constexpr int kCells = 120;
        double load = 0.0, drag = 0.0;
        // p at the outlet, 0 for the right flow; Simpson's rule.
        const auto outlet = [&](double q) {
            double p = 0.0;
            load = drag = 0.0;
            for (int i = 0; i <= kCells; ++i) {
                const double x = kLength * i / kCells, h = slider_gap(x);
                const double w = kLength / kCells / 3.0 * (i == 0 || i == kCells ? 1.0 : i % 2 == 1 ? 4.0 : 2.0);
                const double eta = tangent_viscosity(slider.law, kSpeed / h);
                const double guess = 12.0 * eta / (h * h * h) * (0.5 * kSpeed * h - q);
                const double gradient =
                    secant([&](double G) { return converged(slider.law, h, kSpeed, G).flow / q - 1.0; }, guess,
                           0.98 * guess + 1e3);
                p += w * gradient;
                load -= w * x * gradient;
                drag += w * converged(slider.law, h, kSpeed, gradient).moving_wall_stress;
            }
            return p;
        };
        const double q = secant(outlet, 2.66e-6, 2.68e-6);
        expect_close(q, table(slider.id, "q"), 2e-7, "Simpson over a cell in which the stress vanishes at a wall");
        expect_close(load, table(slider.id, "W"), 2e-6, "as above");
        expect_close(drag, table(slider.id, "F"), 2e-7, "as above");
    }
}

TEST_CASE("slider with a power-law fluid, film solver and table", "[ink_flow]") {
    const Reference table("dien_elrod_1983/power_law_slider.csv");
    for (const Slider& slider : kSliders) {
        const InkFlowTable inks = make_ink_flow_table(slider.law);
        FilmProblem problem = FilmProblem::sampled(0.0, kLength, 1001, slider_gap, 1.0, kSpeed);
        Film film;
        const auto mismatch = [&](double q) {
            for (std::size_t i = 0; i + 1 < problem.x.size(); ++i) {
                const double h = 0.5 * (problem.gap[i] + problem.gap[i + 1]);
                const auto eta = inks.at(kSpeed / h, 2.0 * q / (kSpeed * h) - 1.0);
                problem.viscosity[i] = eta.pressure;
                problem.shear_viscosity[i] = eta.shear;
            }
            film = solve_film_one_pass(problem.input());
            REQUIRE(film.convergence.ok());
            return film.flow / q - 1.0;
        };
        secant(mismatch, 2.66e-6, 2.68e-6);
        expect_close(film.flow, table(slider.id, "q"), 1e-8, "1000 cells of constant viscosity, second order");
        expect_close(film.load, table(slider.id, "W"), 1e-7, "as above");
        expect_close(film.drag, table(slider.id, "F"), 1e-7, "as above");
    }
}

TEST_CASE("what cannot be solved says so", "[ink_flow]") {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    CHECK_THROWS_AS(plane_flow(Cross{}, 0.0, 1.0, 0.0), InvalidInput);
    CHECK_THROWS_AS(plane_flow(Cross{}, 1e-6, nan, 0.0), InvalidInput);
    CHECK_THROWS_AS(plane_flow(Cross{}, 1e-6, 1.0, nan), InvalidInput);
    CHECK_THROWS_AS(make_ink_flow_table(Cross{}, {1e5, 1e4, 100.0}), InvalidInput);
    CHECK_THROWS_AS(make_ink_flow_table(Cross{}, {1.0, 1e4, nan}), InvalidInput);
    const Rheology broken = Cross{nan, 0.02, 1e-4, 0.7};
    CHECK_FALSE(plane_flow(broken, 1e-6, 1.0, 1e9).convergence.ok());
    const InkFlowTable unsolved = make_ink_flow_table(broken, {1e3, 1e4, 10.0});
    CHECK(unsolved.convergence().status == Status::non_finite);
    CHECK(std::isnan(unsolved.at(3e3, 0.3).pressure));
    CHECK(InkFlowTable().convergence().status == Status::not_run);
    CHECK_FALSE(make_ink_flow_table(PowerLaw{nan, 0.7}, {1e3, 1e4, 10.0}).convergence().ok());
}
