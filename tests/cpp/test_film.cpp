#include "libblade/film.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "catch.hpp"
#include "expect.hpp"
#include "film_problem.hpp"
#include "libblade/dual.hpp"
#include "libblade/error.hpp"
#include "libblade/film_kernel.hpp"

using namespace libblade;

namespace {

const char* const exact = "closed form; the solver is exact in flow and nodal pressure, Hermite load on fine cells";

FilmProblem step_bearing(double ratio, double deep_share) {
    // a step as a cell of 1e-9 L: changes the pressure by some 1e-9
    return FilmProblem::uniform({0.0, deep_share, deep_share + 1e-9, 1.0}, {ratio, ratio, 1.0, 1.0}, 1.0, 1.0);
}

/// A pad with a pocket between a and b, walls 1e-9 m wide; `land` is the gap without the pocket.
template <class Land>
FilmProblem pocket_pad(double length, double a, double b, double depth, Land land, double mu, double U,
                       double ambient) {
    std::vector<double> x, h;
    const auto stretch = [&](double from, double to, double extra) {
        for (int i = 0; i <= 40; ++i) {
            x.push_back(from + (to - from) * i / 40.0);
            h.push_back(land(x.back()) + extra);
        }
    };
    stretch(0.0, a, 0.0);
    stretch(a + 1e-9, b, depth);
    stretch(b + 1e-9, length, 0.0);
    FilmProblem f = FilmProblem::uniform(x, h, mu, U);
    f.rest.pressure_in = f.rest.pressure_out = ambient;
    return f;
}

FilmProblem cylinder(double from, double to, std::size_t n) {  // h0 = 1, sqrt(2 R h0) = 1, mu = U = 1
    return FilmProblem::sampled(
        from, to, n, [](double x) { return 1.0 + x * x; }, 1.0, 1.0);
}

FilmProblem parabolas(std::size_t n, double length, int count, double hmin, double hmax, double mu, double U,
                      double p) {
    FilmProblem f = FilmProblem::sampled(
        0.0, count * length, n,
        [&](double x) {
            const double s = 2.0 * (x / length - std::min(std::floor(x / length), count - 1.0)) - 1.0;
            return hmin + (hmax - hmin) * s * s;
        },
        mu, U);
    f.rest.pressure_in = f.rest.pressure_out = p;
    return f;
}

using Solve = Film (*)(const FilmInput&);
Film general(const FilmInput& in) { return solve_film(in); }
const Solve both[] = {general, solve_film_one_pass};

/// The flow at every cell and void node that determines it alone; largest departure from film.flow, relative.
double flow_variation(const FilmProblem& f, const Film& film, int& counted) {
    double worst = 0.0;
    counted = 0;
    const double U = f.rest.speed;
    for (std::size_t i = 0; i < f.x.size(); ++i) {
        if (film.void_fraction[i] > 0.0) {
            worst = std::max(worst, std::abs(0.5 * U * f.gap[i] * (1.0 - film.void_fraction[i]) / film.flow - 1.0));
            ++counted;
        }
        if (i == 0 || film.void_fraction[i] > 0.0 || film.void_fraction[i - 1] > 0.0) continue;
        // nodes alone cannot tell the flow in a cell where the film starts or ruptures, or both
        if (film.pressure[i - 1] <= 0.0 && i > 1) continue;
        const double a = f.gap[i - 1], b = f.gap[i], rupture_gap = 2.0 * film.flow / U;
        if (a < rupture_gap && rupture_gap < b) continue;
        const double conductance =
            f.flow_factor[i - 1] * a * a * b * b / (6.0 * f.viscosity[i - 1] * (f.x[i] - f.x[i - 1]) * (a + b));
        const double q = U * a * b / (a + b) - conductance * (film.pressure[i] - film.pressure[i - 1]);
        const double rounding = 4e-16 * conductance * std::max(film.pressure[i], film.pressure[i - 1]);
        worst = std::max(worst, (std::abs(q - film.flow) - rounding) / film.flow);
        ++counted;
    }
    return worst;
}

FilmProblem random_problem(unsigned seed) {
    Dice u(seed);
    const auto n = static_cast<std::size_t>(3 + std::floor(120.0 * u()));
    std::vector<double> x(n), h(n);
    double at = 0.0, level = -6.0;
    for (std::size_t i = 0; i < n; ++i) {
        at += 1e-6 * (0.2 + u());
        x[i] = at;
        level += 0.3 * (u() - 0.5);
        if (seed % 3 == 0) h[i] = std::pow(10.0, -7.0 + 2.0 * u());               // rough
        if (seed % 3 == 1) h[i] = std::pow(10.0, level);                          // wandering
        if (seed % 3 == 2) h[i] = 1e-6 * (1.2 + std::sin(at * 2e5) + 0.1 * u());  // wavy
    }
    FilmProblem f = FilmProblem::uniform(x, h, 0.05, 0.1 + 5.0 * u());
    for (double& phi : f.flow_factor) phi = 0.5 + u();
    if (u() < 0.5) f.rest.pressure_in = 1e5 * u();
    if (u() < 0.5) f.rest.pressure_out = 1e5 * u();
    if (u() < 0.3) f.rest.film_supply = 1e-6 * u();
    return f;
}

/// One minimum: falls over the first part, rises over the rest; the gap of the nip's shape and size.
FilmProblem random_one_minimum(unsigned seed) {
    Dice u(seed);
    const double tilt = 0.02 * u(), slope_in = 0.2 + 2.0 * u(), slope_out = 0.1 + u(),
                 h0 = 1e-7 * std::pow(10.0, 1.5 * u());
    std::vector<double> x, h;
    const double b = 5e-5 + 1e-4 * u();
    for (int i = 0; i <= 40; ++i) x.push_back(-1e-3 * std::pow(0.85, i));  // graded towards the facet
    for (int i = 0; i <= 20; ++i) x.push_back(b * i / 20.0);
    for (int i = 20; i >= 0; --i) x.push_back(b + 5e-4 * std::pow(0.8, i));
    for (const double s : x) {
        h.push_back(s < 0.0 ? h0 - slope_in * s : (s <= b ? h0 : h0 + slope_out * (s - b)) + tilt * s);
    }
    FilmProblem f = FilmProblem::uniform(x, h, 0.02 + u(), 0.5 + 5.0 * u());
    f.shear_viscosity.assign(x.size() - 1, 0.01);
    if (u() < 0.5) f.rest.pressure_in = 1e5 * u();
    if (u() < 0.5) f.rest.film_supply = 4e-7 * u();
    return f;
}

}  // namespace

TEST_CASE("plane slider: load, drag, peak, centre and flow (Reynolds 1886)", "[film]") {
    for (const auto& row : read_table("reynolds_1886/slider_plane.csv")) {
        const double ratio = std::stod(row[0]);
        // nodes at even steps of the logarithm of the gap, and one at the pressure peak h = 2 n / (n + 1)
        std::vector<double> h;
        for (int i = 0; i <= 400; ++i) h.push_back(ratio * std::pow(ratio, -i / 400.0));
        h.back() = 1.0;
        h.push_back(2.0 * ratio / (ratio + 1.0));
        std::sort(h.begin(), h.end(), std::greater<>());
        std::vector<double> x;
        for (const double v : h) x.push_back((ratio - v) / (ratio - 1.0));
        const FilmProblem f = FilmProblem::uniform(x, h, 1.0, 1.0);
        for (const Solve solve : both) {
            const Film film = solve(f.input());
            REQUIRE(film.convergence.ok());
            expect_close(film.load, std::stod(row[1]), 1e-9, exact);
            expect_close(film.drag, std::stod(row[2]), 1e-9, exact);
            expect_close(*std::max_element(film.pressure.begin(), film.pressure.end()), std::stod(row[4]), 1e-9, exact);
            expect_close(film.centre_of_pressure, std::stod(row[6]), 1e-9, exact);
            expect_close(film.flow, std::stod(row[7]), 1e-9, exact);
        }
    }
    const Reference facet("reynolds_1886/blade_facet.csv");
    const FilmProblem f = FilmProblem::sampled(
        0.0, 2e-4, 101, [](double x) { return 6e-6 - 3.6e-6 * x / 2e-4; }, 0.05, 3.0);
    expect_close(solve_film(f.input()).load, facet("C1-dim", "W_N_per_m"), 1e-6, exact);
    expect_close(solve_film(f.input()).flow, facet("C1-dim", "q_m2_per_s"), 1e-9, exact);
}

TEST_CASE("step bearing (Rayleigh 1918)", "[film]") {
    const Reference ref("rayleigh_1918/step.csv");
    const double best = ref("C2-opt", "h1/h2"), share = ref("C2-opt", "L1/L (deep; inlet side)");
    for (const Solve solve : both) {
        const Film film = solve(step_bearing(best, share).input());
        expect_close(film.load, ref("C2-opt", "W h2^2/(mu U L^2)"), 1e-7, "step wall of 1e-9 L");
        expect_close(film.pressure[1], ref("C2-opt", "p_step h2^2/(mu U L)"), 1e-7, "step wall of 1e-9 L");
        const Film other = solve(step_bearing(2.5, 0.5).input());
        expect_close(other.load, ref("C2-2.5", "W h2^2/(mu U L^2)"), 1e-7, "step wall of 1e-9 L");
    }
}

TEST_CASE("cylinder on a plane, Reynolds exit (Martin 1916, Swift 1932, Stieber 1933)", "[film]") {
    const Reference ref("martin_1916/cylinder.csv");
    // R = 1/2 in units of sqrt(2 R h0) = h0 = 1
    const FilmProblem finite = cylinder(-2.0, 1.0, 1501);
    std::vector<double> work(2 * finite.x.size()), p(finite.x.size());
    const auto pass = kernel::one_pass<double>(finite.x, finite.gap, finite.viscosity, finite.shear_viscosity,
                                               finite.flow_factor, 1.0, 0.0, 0.0, -1.0, p, work);
    expect_close(pass.rupture_x, ref("C3-fin2", "x_sep/sqrt(2Rh0)"), 1e-5, "curved gap as chords, dx = 0.002");
    expect_close(pass.load, 0.5 * ref("C3-fin2", "W h0/(mu S R)"), 1e-5, "curved gap as chords, dx = 0.002");
    CHECK(pass.ruptured);

    // flooded from far away: p at -x decays as x^-3, so -1000 cuts 1e-9 of the load's scale; graded nodes x = sinh s
    std::vector<double> x, h;
    for (int i = 0; i <= 6000; ++i) x.push_back(std::sinh(-7.6 + 9.0 * i / 6000.0));
    for (const double s : x) h.push_back(1.0 + s * s);
    const FilmProblem f = FilmProblem::uniform(x, h, 1.0, 1.0);
    for (const Solve solve : both) {
        const Film film = solve(f.input());
        expect_close(film.flow, 0.5 * ref("C3-Re", "h*/h0"), 1e-4, "required of the fast path");
        expect_close(film.load, 0.5 * ref("C3-Re", "W h0/(mu S R)"), 1e-4, "required of the fast path");
        expect_close(*std::max_element(film.pressure.begin(), film.pressure.end()),
                     ref("C3-Re", "p_max/(mu S sqrt(2R/h0^3))"), 1e-4, "required of the fast path");
    }
    // a rounded blade tip: 20 um radius, 0.5 um film
    FilmProblem tip = f;
    const double scale = std::sqrt(2.0 * 2e-5 * 5e-7);
    for (double& s : tip.x) s *= scale;
    for (double& s : tip.gap) s *= 5e-7;
    tip.viscosity.assign(tip.viscosity.size(), 0.05);
    tip.rest.speed = 4.0;
    const Film film = solve_film_one_pass(tip.input());
    expect_close(film.load, ref("C3-dim", "W_N_per_m"), 1e-4, "required of the fast path");
    expect_close(film.flow / 4.0, ref("C3-dim", "film_downstream q/U_m"), 1e-4, "required of the fast path");
}

TEST_CASE("pads with a pocket: rupture at the pocket's edge and re-formation in it (Olver 2006, Fowell 2007)",
          "[film]") {
    const Reference ref("fowell_2007/pocket_pads.csv");
    const char* const why = "piecewise exact solution; walls 1e-9 m wide, re-formation placed within its cell";
    const auto flat = [](double h) { return [h](double) { return h; }; };
    const auto incline = [](double x) { return 1.02e-6 - 0.02e-6 * x / 0.02; };
    struct Pad {
        const char* id;
        FilmProblem f;
        double length;
    };
    const Pad pads[] = {{"C4-pocket-cav", pocket_pad(0.02, 2e-3, 8e-3, 4e-6, flat(1e-6), 0.01, 1.0, 1e5), 0.02},
                        {"C4-pocket-full", pocket_pad(0.02, 2e-3, 8e-3, 4e-6, flat(5e-6), 0.01, 0.2, 1e5), 0.02},
                        {"C4-incl-cav", pocket_pad(0.02, 3e-3, 9e-3, 1e-6, incline, 0.01, 1.0, 1e5), 0.02},
                        {"C4-incl-full", pocket_pad(0.02, 3e-3, 9e-3, 3e-6, incline, 0.01, 0.02, 1e5), 0.02}};
    for (const Pad& pad : pads) {
        INFO(pad.id);
        const Film film = solve_film(pad.f.input());
        REQUIRE(film.convergence.ok());
        expect_close(film.flow, ref(pad.id, "q_m2_per_s"), 2e-6, why);
        expect_close(film.load - 1e5 * pad.length, ref(pad.id, "W_rel_N_per_m"), 1e-4, why);
        expect_close(*std::max_element(film.pressure.begin(), film.pressure.end()), ref(pad.id, "p_pocket_exit_Pa"),
                     1e-5, why);
        CHECK(solve_film_one_pass(pad.f.input()).convergence.status == Status::out_of_range);
    }
    const Film cavitated = solve_film(pads[0].f.input());
    expect_close(1.0 - cavitated.void_fraction[60], ref("C4-pocket-cav", "theta_cavity"), 1e-5, why);
    const Film full = solve_film(pads[1].f.input());
    CHECK(*std::max_element(full.void_fraction.begin(), full.void_fraction.end()) == 0.0);
    expect_close(full.pressure[40], ref("C4-pocket-full", "p_pocket_inlet_Pa"), 1e-5, why);
}

TEST_CASE("parabolic sliders: errors and observed order (after Vijayaraghavan & Keith 1989)", "[film]") {
    const Reference ref("vijayaraghavan_1989/parabolic_sliders.csv");
    struct Errors {
        double load, flow;
    };
    const auto order = [](const char* name, auto error) {
        const Errors a = error(101), b = error(201), c = error(401);
        const double load[] = {std::log2(a.load / b.load), std::log2(b.load / c.load)};
        const double flow[] = {std::log2(a.flow / b.flow), std::log2(b.flow / c.flow)};
        UNSCOPED_INFO(name << ": load errors " << a.load << ' ' << b.load << ' ' << c.load << ", order " << load[0]
                           << ' ' << load[1] << "; flow errors " << a.flow << ' ' << b.flow << ' ' << c.flow
                           << ", order " << flow[0] << ' ' << flow[1]);
        CHECK(a.load < 1e-3);
        CHECK(a.flow < 5e-4);
        // chords of a curved gap: second order, with rupture and re-formation inside cells
        for (const double o : {load[0], load[1], flow[0], flow[1]}) {
            CHECK(o > 1.8);
            CHECK(o < 2.2);
        }
    };
    order("twin", [&](std::size_t n) {
        const Film film = solve_film(parabolas(n, 0.01, 2, 1e-6, 1.5e-6, 0.01, 0.5, 1e5).input());
        REQUIRE(film.convergence.ok());
        return Errors{std::abs(film.load / ref("C5-twin", "W") - 1.0), std::abs(film.flow / ref("C5-twin", "q") - 1.0)};
    });
    for (const Solve solve : both) {
        order("single", [&](std::size_t n) {
            const Film film = solve(parabolas(n, 0.0762, 1, 2.54e-5, 5.08e-5, 0.039, 4.57, 0.0).input());
            REQUIRE(film.convergence.ok());
            return Errors{std::abs(film.load / ref("C5-single", "W") - 1.0),
                          std::abs(film.flow / ref("C5-single", "q") - 1.0)};
        });
    }
}

TEST_CASE("film left by a coating blade (Middleman 1977)", "[film]") {
    const Reference ref("middleman_1977/blade_coating.csv");
    const auto linear = [](double h1, double h2, double L, double mu, double U, double P) {
        FilmProblem f = FilmProblem::sampled(
            0.0, L, 11, [&](double x) { return h1 + (h2 - h1) * x / L; }, mu, U);
        f.rest.pressure_in = P;
        return f;
    };
    for (const Solve solve : both) {
        expect_close(solve(linear(1e-5, 1e-5, 1e-3, 0.05, 1.5, 0.0).input()).flow / 1.5, ref("E1-par", "t_m"), 1e-9,
                     exact);
        expect_close(solve(linear(3e-5, 1e-5, 1e-3, 0.05, 1.5, 0.0).input()).flow / 1.5, ref("E2-taper", "t_m"), 1e-9,
                     exact);
        expect_close(solve(linear(1e-5, 1e-5, 1e-3, 0.05, 1.5, 5e4).input()).flow / 1.5, ref("E3-parP", "t_m"), 1e-9,
                     exact);
        expect_close(solve(linear(3e-5, 1e-5, 5e-4, 0.05, 1.5, 2e4).input()).flow / 1.5, ref("E4-taperP", "t_m"), 1e-9,
                     exact);
    }
}

TEST_CASE("pressure goes as one over the flow factor (Reynolds 1886 is linear in it)", "[film]") {
    // A wedge that closes and opens: full film and torn one. The flow does not depend on an even factor.
    const auto gap = [](double x) { return 1.0 + 0.8 * x * x; };
    const FilmProblem plain = FilmProblem::sampled(-1.5, 1.0, 401, gap, 1.0, 1.0);
    FilmProblem cells = plain;
    constexpr double phi = 2.5;
    cells.flow_factor.assign(cells.x.size() - 1, phi);
    for (const Solve& solve : both) {
        const Film one = solve(plain.input()), other = solve(cells.input());
        REQUIRE((one.convergence.ok() && other.convergence.ok()));
        REQUIRE(one.load > 0.0);
        expect_close(other.flow, one.flow, 1e-10, "rounding");
        expect_close(other.load * phi, one.load, 1e-9, "rounding");
        for (std::size_t i = 0; i < plain.x.size(); i += 20)
            CHECK(std::abs(other.pressure[i] * phi - one.pressure[i]) <= 1e-9 * one.load);
    }
}

TEST_CASE("one pass and general solver agree on gaps with one minimum", "[film]") {
    int starved = 0;
    for (unsigned seed = 0; seed < 300; ++seed) {
        INFO("seed " << seed);
        const FilmProblem f = random_one_minimum(seed);
        const Film a = solve_film_one_pass(f.input()), b = solve_film(f.input());
        REQUIRE(a.convergence.ok());
        REQUIRE(b.convergence.ok());
        // same equations solved by different routes: a quadratic against Newton on the flow (1e-12)
        expect_close(b.flow, a.flow, 1e-10, "rounding");
        expect_close(b.drag, a.drag, 1e-8, "rounding");
        CHECK(std::abs(b.load - a.load) <= 1e-8 * std::abs(a.load) + 1e-9);
        for (std::size_t i = 0; i < f.x.size(); ++i) {
            CHECK(std::abs(a.pressure[i] - b.pressure[i]) <= 1e-8 * a.load / 1e-4 + 1e-6);
            CHECK(std::abs(a.void_fraction[i] - b.void_fraction[i]) <= 1e-8);
        }
        if (f.rest.film_supply && a.flow == f.rest.speed * *f.rest.film_supply) ++starved;
    }
    CHECK(starved > 30);
}

TEST_CASE("of several narrow places the film ends at the narrowest", "[film]") {
    // A throat ahead of the minimum, wider and narrower than that: against the general solver, which tears films anywhere.
    for (const double throat : {1.4, 1.05, 0.9, 0.6}) {
        for (const double pressure : {0.0, 2e4}) {
            INFO("throat " << throat << " pressure " << pressure);
            const auto gap = [&](double x) {
                const double a = (x - 0.2e-3) / 0.15e-3, b = (x - 0.7e-3) / 0.2e-3;
                return 1e-6 * (3.0 - (3.0 - throat) * std::exp(-a * a) - 2.0 * std::exp(-b * b));
            };
            FilmProblem f = FilmProblem::sampled(0.0, 1e-3, 401, gap, 0.02, 2.0);
            f.rest.pressure_in = pressure;
            const Film film = solve_film(f.input());
            REQUIRE(film.convergence.ok());
            std::vector<double> p(f.x.size()), work(2 * f.x.size());
            const auto pass = kernel::one_pass<double>(f.x, f.gap, f.viscosity, f.viscosity, f.flow_factor, 2.0,
                                                       pressure, 0.0, -1.0, p, work);
            expect_close(pass.flow, film.flow, 1e-10, "flow");
            if (throat > 1.2) expect_close(pass.load, film.load, 1e-8, "load");  // the others tear in it
        }
    }
}

TEST_CASE("random gaps: pressure, void, complementarity and a constant flow", "[film]") {
    int ruptured = 0, reformed = 0;
    for (unsigned seed = 0; seed < 600; ++seed) {
        INFO("seed " << seed);
        const FilmProblem f = random_problem(seed);
        const Film film = solve_film(f.input());
        REQUIRE(film.convergence.ok());
        CHECK(film.convergence.residual <= film.convergence.tolerance);
        bool was_void = false;
        for (std::size_t i = 0; i < f.x.size(); ++i) {
            CHECK(film.pressure[i] >= 0.0);
            CHECK(film.void_fraction[i] >= 0.0);
            CHECK(film.void_fraction[i] <= 1.0);
            CHECK(film.pressure[i] * film.void_fraction[i] == 0.0);
            if (film.void_fraction[i] > 0.0) was_void = true;
            if (was_void && film.pressure[i] > 0.0) {
                ++reformed;
                was_void = false;
            }
        }
        if (was_void) ++ruptured;
        int counted = 0;
        if (film.flow > 0.0) {
            CHECK(flow_variation(f, film, counted) <= 1e-8);
            CHECK(counted > 0);
        }
        CHECK(film.pressure.back() == f.rest.pressure_out);
        if (!f.rest.film_supply) CHECK(film.pressure.front() == f.rest.pressure_in);
    }
    CHECK(ruptured > 50);
    CHECK(reformed > 300);
}

TEST_CASE("the film scales as its dimensions do", "[film]") {
    for (unsigned seed = 0; seed < 50; ++seed) {
        INFO("seed " << seed);
        const FilmProblem f = random_problem(seed);
        const Film a = solve_film(f.input());
        FilmProblem g = f;  // lengths x, gaps, viscosity and speed each by a factor of their own
        const double cx = 37.0, ch = 0.13, cn = 5.0, cu = 0.7, cp = cn * cu * cx / (ch * ch);
        for (double& v : g.x) v *= cx;
        for (double& v : g.gap) v *= ch;
        for (double& v : g.viscosity) v *= cn;
        for (double& v : g.shear_viscosity) v *= cn;
        g.rest.speed *= cu;
        g.rest.pressure_in *= cp;
        g.rest.pressure_out *= cp;
        if (g.rest.film_supply) g.rest.film_supply = *g.rest.film_supply * ch;
        const Film b = solve_film(g.input());
        expect_close(b.flow, a.flow * cu * ch, 1e-11, "rounding");
        CHECK(std::abs(b.load - a.load * cp * cx) <= 1e-9 * std::abs(b.load) + 1e-12 * cp * cx);
        expect_close(b.drag, a.drag * cn * cu * cx / ch, 1e-8, "rounding");
    }
}

TEST_CASE("mirrored gap with the pressures raised so that nothing ruptures: pressures about the mean are mirrored",
          "[film]") {
    // U -> -U with x -> -x leaves the equation alone, and p - p0 is odd in U
    Dice u(7);
    for (int k = 0; k < 20; ++k) {
        const double a = u(), b = u(), c = u();
        const auto gap = [&](double x) {
            return 1e-6 * (1.0 + 0.5 * a * x + 0.3 * b * x * x + 0.1 * std::sin(3.0 * x + c));
        };
        FilmProblem f = FilmProblem::sampled(-1.0, 1.0, 81, gap, 1e-9, 1.0);
        FilmProblem g = FilmProblem::sampled(
            -1.0, 1.0, 81, [&](double x) { return gap(-x); }, 1e-9, 1.0);
        f.rest.pressure_in = f.rest.pressure_out = g.rest.pressure_in = g.rest.pressure_out = 1e6;
        const Film p = solve_film(f.input()), m = solve_film(g.input());
        double peak = 0.0;
        for (const double v : p.pressure) peak = std::max(peak, std::abs(v - 1e6));
        REQUIRE(peak > 1.0);
        for (std::size_t i = 0; i < 81; ++i) {
            CHECK(std::abs((p.pressure[i] - 1e6) + (m.pressure[80 - i] - 1e6)) <= 1e-8 * 1e6);
        }
        expect_close(m.flow, p.flow, 1e-9, "same film run backwards");
    }
}

TEST_CASE("outlet above the cavitation pressure", "[film]") {
    // cylinder: a small outlet pressure re-forms the film before the outlet, a large one keeps it whole
    FilmProblem f = cylinder(-3.0, 3.0, 601);
    f.rest.pressure_out = 0.02;
    const Film reformed = solve_film(f.input());
    CHECK(solve_film_one_pass(f.input()).convergence.status == Status::out_of_range);
    CHECK(reformed.void_fraction[380] > 0.0);
    CHECK(reformed.void_fraction[599] == 0.0);
    int counted = 0;
    CHECK(flow_variation(f, reformed, counted) <= 1e-8);
    f.rest.pressure_out = 0.0;
    expect_close(reformed.flow, solve_film(f.input()).flow, 1e-11, "the void separates the outlet from the inlet");
    f.rest.pressure_out = 1.0;
    const Film whole = solve_film(f.input()), fast = solve_film_one_pass(f.input());
    REQUIRE(fast.convergence.ok());
    CHECK(*std::max_element(whole.void_fraction.begin(), whole.void_fraction.end()) == 0.0);
    expect_close(fast.flow, whole.flow, 1e-10, "same film");
    expect_close(fast.load, whole.load, 1e-9, "same film");
}

TEST_CASE("a supplied layer limits the flow", "[film]") {
    FilmProblem f = cylinder(-3.0, 3.0, 601);
    const Film flooded = solve_film(f.input());
    for (const Solve solve : both) {
        double load = 0.0;
        for (const double supply : {0.2, 0.499, 0.51, 0.55, 0.6}) {
            f.rest.film_supply = supply;
            const Film film = solve(f.input());
            REQUIRE(film.convergence.ok());
            CHECK(film.flow == Approx(supply).epsilon(1e-15));
            CHECK(film.void_fraction[0] == Approx(1.0 - 2.0 * supply / 10.0).epsilon(1e-14));
            if (supply < 0.5) CHECK(film.load == 0.0);  // passes below the minimum gap of 1
            if (supply > 0.5) CHECK(film.load > load);
            CHECK(film.load < flooded.load);
            load = film.load;
        }
        f.rest.film_supply = 0.9;
        expect_close(solve(f.input()).load, flooded.load, 1e-11, "more than the flooded film takes changes nothing");
        f.rest.film_supply = flooded.flow * (1.0 - 1e-7);
        expect_close(solve(f.input()).load, flooded.load, 1e-2, "continuous at the change from flooded to starved");
    }
}

TEST_CASE("parallel land that opens: half the gap passes, without pressure", "[film]") {
    // the rupture gap is that of a node and of the whole land; E1 of Middleman 1977
    const FilmProblem f = FilmProblem::uniform({0.0, 1.0, 2.0, 3.0, 4.0}, {1.0, 1.0, 1.0, 1.5, 4.0}, 1.0, 1.0);
    for (const Solve solve : both) {
        const Film film = solve(f.input());
        REQUIRE(film.convergence.ok());
        expect_close(film.flow, 0.5, 1e-11, "closed form; Newton stops within 1e-12 at a double root");
        CHECK(std::abs(film.load) < 1e-10);
        expect_close(film.void_fraction[3], 1.0 / 3.0, 1e-10, "closed form");
        expect_close(film.void_fraction[4], 0.75, 1e-10, "closed form");
        // shear: 1 over the two full lengths, then the filled share q' / h^2
        expect_close(film.drag, 2.0 + 1.0 / 1.5 + 1.0 / 6.0, 1e-9, "closed form");
    }
}

TEST_CASE("rupture gap of the kernel satisfies q = U h_r / 2 and p = 0 to rounding", "[film]") {
    const FilmProblem f = cylinder(-2.0, 1.0, 91);
    std::vector<double> work(2 * f.x.size()), p(f.x.size());
    const auto pass = kernel::one_pass<double>(f.x, f.gap, f.viscosity, f.shear_viscosity, f.flow_factor, 1.0, 0.3, 0.0,
                                               -1.0, p, work);
    const std::size_t c = pass.rupture_cell;
    REQUIRE(f.x[c] <= pass.rupture_x);
    REQUIRE(pass.rupture_x <= f.x[c + 1]);
    expect_close(pass.flow, 0.5 * pass.rupture_gap, 1e-14, "the exit condition");
    // pressure carried from the last full node to the rupture
    const double dx = pass.rupture_x - f.x[c], a = f.gap[c], b = pass.rupture_gap;
    const double rise = 12.0 * dx * (0.5 / (a * b) - pass.flow * (a + b) / (2.0 * a * a * b * b));
    CHECK(std::abs(p[c] + rise) <= 1e-14);
}

TEST_CASE("derivative of the load by dual numbers equals central differences", "[film]") {
    const auto run = [](auto tilt, double supply, double p_out) {
        using T = decltype(tilt);
        std::vector<T> x, h, eta, phi, p, work;
        for (int i = 0; i <= 120; ++i) {
            const double s = -2.0 + 0.025 * i;
            x.push_back(T(s));
            h.push_back(T(1.0 + s * s + tilt * s));
        }
        eta.assign(120, T(1.0));
        phi.assign(120, T(0.8));
        p.assign(121, T(0.0));
        work.assign(242, T(0.0));
        return kernel::one_pass<T>(x, h, eta, eta, phi, T(1.0), T(0.1), T(p_out), T(supply), p, work);
    };
    // flooded and ruptured; starved and ruptured; outlet pressure keeps the film whole
    for (const auto& [supply, p_out] : {std::pair{-1.0, 0.0}, std::pair{0.55, 0.0}, std::pair{-1.0, 3.0}}) {
        const double at = 0.137, d = 1e-5;
        const auto dual = run(Dual<1>(at, {1.0}), supply, p_out);
        const auto more = run(at + d, supply, p_out), less = run(at - d, supply, p_out);
        expect_close(dual.load.v, run(at, supply, p_out).load, 1e-14, "same arithmetic");
        const char* const why = "central differences, step 1e-5";
        expect_close(dual.load.d[0], (more.load - less.load) / (2.0 * d), 1e-6, why);
        expect_close(dual.moment.d[0], (more.moment - less.moment) / (2.0 * d), 1e-6, why);
        if (dual.ruptured) {
            expect_close(dual.rupture_x.d[0], (more.rupture_x - less.rupture_x) / (2.0 * d), 1e-6, why);
        }
        const double drag =
            (more.couette_drag + more.pressure_drag - less.couette_drag - less.pressure_drag) / (2.0 * d);
        expect_close(dual.couette_drag.d[0] + dual.pressure_drag.d[0], drag, 1e-6, why);
    }
}

TEST_CASE("bad film input is refused with every problem named", "[film]") {
    const FilmProblem good = cylinder(-2.0, 1.0, 31);
    const auto refused = [](const FilmProblem& f) {
        CHECK_THROWS_AS(solve_film(f.input()), InvalidInput);
        CHECK_THROWS_AS(solve_film_one_pass(f.input()), InvalidInput);
    };
    CHECK_NOTHROW(solve_film(good.input()));
    const double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();
    for (const double bad : {nan, inf, -1.0, 0.0}) {
        FilmProblem f = good;
        f.gap[3] = bad;
        refused(f);
        f = good;
        f.viscosity[5] = bad;
        refused(f);
        f = good;
        f.shear_viscosity[0] = bad;
        refused(f);
        f = good;
        f.flow_factor[29] = bad;
        refused(f);
        f = good;
        f.rest.speed = bad;
        refused(f);
    }
    for (const double bad : {nan, inf, -1.0}) {
        FilmProblem f = good;
        f.rest.pressure_in = bad;
        refused(f);
        f = good;
        f.rest.pressure_out = bad;
        refused(f);
        f = good;
        f.rest.film_supply = bad;
        refused(f);
    }
    FilmProblem f = good;
    f.x[4] = f.x[3];
    refused(f);
    f = good;
    f.x[4] = nan;
    refused(f);
    f = good;
    f.gap.pop_back();
    refused(f);
    f = good;
    f.flow_factor.push_back(1.0);
    refused(f);
    refused(FilmProblem{});
    f = good;
    f.gap[3] = -1.0;
    f.rest.speed = nan;
    try {
        (void)solve_film(f.input());
        FAIL("not refused");
    } catch (const InvalidInput& e) {
        CHECK(e.problems().size() == 2);
        CHECK(e.problems()[0].path == "gap[3]");
    }
}

TEST_CASE("the bound on iterations is kept and told; the last allowed one may succeed", "[film]") {
    const FilmProblem f = parabolas(101, 0.01, 2, 1e-6, 1.5e-6, 0.01, 0.5, 1e5);
    const int needed = solve_film(f.input()).convergence.iterations;
    REQUIRE(needed > 1);
    FilmOptions options;
    options.max_iterations = needed - 1;
    const Film stopped = solve_film(f.input(), options);
    CHECK(stopped.convergence.status == Status::max_iterations);
    CHECK(stopped.convergence.iterations == needed - 1);
    CHECK(stopped.convergence.residual > options.tolerance);
    CHECK_FALSE(stopped.convergence.message.empty());
    options.max_iterations = needed;
    CHECK(solve_film(f.input(), options).convergence.ok());
}
