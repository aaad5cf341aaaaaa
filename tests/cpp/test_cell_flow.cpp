#include "libblade/cell_flow.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>
#include <vector>

#include "expect.hpp"
#include "libblade/dual.hpp"
#include "libblade/error.hpp"

using namespace libblade;

namespace {

constexpr double pitch_length = 100e-6;
const CellFlowOptions reynolds{96, 0.0};

Engraving cells(Pattern pattern, double wall_over_pitch, double depth) {
    Engraving e;
    e.pattern = pattern;
    e.screen = 1.0 / pitch_length;
    e.wall_width = wall_over_pitch * pitch_length;
    e.cell_depth = depth;
    return e;
}

template <class F>
GapMap map_of(std::size_t nx, std::size_t ny, F gap) {
    GapMap m{nx, ny, 1e-4, 1e-4, {}, 1e-6};
    for (std::size_t j = 0; j < ny; ++j)
        for (std::size_t i = 0; i < nx; ++i)
            m.gap.push_back(1e-6 * gap((static_cast<double>(i) + 0.5) / static_cast<double>(nx),
                                       (static_cast<double>(j) + 0.5) / static_cast<double>(ny)));
    return m;
}

double wave(double turns) { return std::sin(2.0 * std::numbers::pi * turns); }

/// Conductivity of a regular array of discs: Rayleigh 1892 to the order of Perrins, McKenzie & McPhedran 1979, Proc. R.
/// Soc. A 369:207 (coefficients from memory; they give the paper's 3.080 for a square array of perfect discs at f =
/// 0.5).
double disc_array(double f, double k, bool hexagonal) {
    const double t = (1.0 + k) / (1.0 - k);
    const double bracket =
        hexagonal
            ? 0.075422 * std::pow(f, 6) * t / (t * t - 1.060283 * std::pow(f, 12)) + 0.000076 * std::pow(f, 12) / t
            : 0.305827 * std::pow(f, 4) * t / (t * t - 1.402958 * std::pow(f, 8)) + 0.013362 * std::pow(f, 8) / t;
    return 1.0 - 2.0 * f / (t + f - bracket);
}

}  // namespace

TEST_CASE("without cells every factor is that of a plane gap", "[cell_flow]") {
    Engraving smooth;
    smooth.pattern = Pattern::smooth;
    for (const Engraving& e : {smooth, cells(Pattern::hexagon, 0.06, 0.0)}) {
        const CellFlow c = cell_flow(e, 1e-6);
        CHECK(c.convergence.ok());
        CHECK(c.pressure_factor == Tensor2{{{1.0, 0.0}, {0.0, 1.0}}});
        CHECK(c.shear_factor == Tensor2{});
        CHECK(c.mean_gap == 1e-6);
        CHECK(make_cell_flow_table(e).pressure_factor(1e-6) == 1.0);
        CHECK(make_cell_flow_table(e).land_couette_factor(1e-6) == 1.0);
    }
}

// Christensen 1969-70, Elrod 1979: one-dimensional textures have exact means, cubic along and harmonic across. Numbers:
// direct evaluation for lands of 0.3 of the pitch and grooves of four times the gap.
TEST_CASE("channels: cubic mean along, harmonic mean across", "[cell_flow]") {
    const Engraving e = cells(Pattern::channel, 0.3, 3e-6);
    const CellFlow c = cell_flow(e, 1e-6, reynolds);
    REQUIRE(c.convergence.ok());
    expect_close(c.pressure_factor[0][0], 45.1, 1e-10, "along: 0.3 + 0.7 * 64");
    expect_close(c.pressure_factor[1][1], 3.216080402, 1e-9, "across: 1 / (0.3 + 0.7 / 64), ten digits");
    expect_close(c.mean_gap, 3.1e-6, 1e-12, "0.3 + 0.7 * 4");
    const Tensor2 still = couette_factor(c, TextureMotion::stationary);
    expect_close(still[1][1], 1.105527638, 1e-9, "<h^-2> / <h^-3>, ten digits");
    expect_close(still[0][0], 3.1, 1e-10, "along a channel the mean gap is dragged");
    const Tensor2 moving = couette_factor(c, TextureMotion::moving);
    expect_close(moving[1][1], 5.094472362, 1e-9, "Galilean change of frame: 2 * 3.1 - 1.105527638");
    expect_close(moving[0][0], 3.1, 1e-10, "along a channel it does not matter which side moves");

    Engraving turned = e;
    turned.screen_angle = std::numbers::pi / 6.0;
    const CellFlow t = cell_flow(turned, 1e-6, reynolds);
    expect_close(t.pressure_factor[0][0], 0.75 * 45.1 + 0.25 * 3.216080402, 1e-9, "tensor turned by 30 degrees");
    expect_close(t.pressure_factor[0][1], 0.25 * std::numbers::sqrt3 * (45.1 - 3.216080402), 1e-9, "same, cross term");
    expect_close(t.pressure_factor[0][0], flow_factor(turned, 1e-6), 1e-9, "closed form of the room engraving");
}

TEST_CASE("parabolic channels agree with a quadrature", "[cell_flow]") {
    Engraving e = cells(Pattern::channel, 0.2, 8e-6);
    e.profile = CellProfile::parabolic;
    const double gap = 1e-6, open = 0.8;
    double m3 = 0.0, m_3 = 0.0, m_2 = 0.0;  // midpoint rule over the groove, 1e5 points
    for (int i = 0; i < 100000; ++i) {
        const double rho = (i + 0.5) / 100000.0, h = 1.0 + 8.0 * (1.0 - rho * rho);
        m3 += h * h * h / 100000.0;
        m_3 += 1.0 / (h * h * h) / 100000.0;
        m_2 += 1.0 / (h * h) / 100000.0;
    }
    const CellFlow c = cell_flow(e, gap, reynolds);
    expect_close(c.pressure_factor[1][1], 1.0 / (0.2 + open * m_3), 1e-4, "harmonic mean");
    expect_close(couette_factor(c, TextureMotion::stationary)[1][1], (0.2 + open * m_2) / (0.2 + open * m_3), 1e-4,
                 "<h^-2> / <h^-3>");
    expect_close(c.pressure_factor[0][0], 0.2 + open * m3, 1e-3, "cubic mean, mesh of 96 a pitch");
    expect_close(c.mean_gap, gap + 8e-6 * open * 2.0 / 3.0, 1e-12, "a parabola fills 2/3");
}

// Sinusoid h = hm (1 + a sin): E[h^3] = 1 + 1.5 a^2, E[h^-2] = (1 - a^2)^-1.5, E[h^-3] = (1 + a^2/2)(1 - a^2)^-2.5
// (Christensen 1969-70; Elrod 1979); the midpoint sums of a smooth period converge faster than any power.
TEST_CASE("sinusoidal grooves, straight and oblique", "[cell_flow]") {
    const CellFlow c = cell_flow(map_of(64, 3, [](double x, double) { return 1.0 + 0.5 * wave(x); }));
    expect_close(c.pressure_factor[1][1], 1.375, 1e-10, "along");
    expect_close(c.pressure_factor[0][0], 0.4330127019, 1e-9, "across, ten digits");
    expect_close(couette_factor(c, TextureMotion::stationary)[0][0], 2.0 / 3.0, 1e-10, "Couette across");
    CHECK(c.shear_factor[0][0] > 0.3);

    // Grooves across the diagonal: half the sum and half the difference of the straight ones.
    const auto oblique = [](double x, double y) { return 1.0 + 0.5 * wave(x + y); };
    const CellFlow o = cell_flow(map_of(128, 128, oblique)), coarse = cell_flow(map_of(64, 64, oblique));
    const double sum = 0.5 * (1.375 + 0.4330127019), difference = 0.5 * (0.4330127019 - 1.375);
    expect_close(o.pressure_factor[0][0], sum, 2e-3, "second order on 128 cells a period");
    expect_close(o.pressure_factor[0][1], difference, 5e-3, "same, cross term");
    expect_close((coarse.pressure_factor[0][0] - sum) / (o.pressure_factor[0][0] - sum), 4.0, 0.05, "second order");
    expect_close(o.pressure_factor[1][0], o.pressure_factor[0][1], 1e-10, "symmetric");
    expect_close(couette_factor(o, TextureMotion::stationary)[0][1], 0.5 * (2.0 / 3.0 - 1.0), 5e-3,
                 "Couette, cross term");
}

// Keller 1964, J. Math. Phys. 5:548; Mendelson 1975, J. Appl. Phys. 46:917: in two dimensions the conductances k and
// 1/k have effective tensors A and R^T A^-1 R, R a quarter turn.
TEST_CASE("duality of a gap and its inverse", "[cell_flow]") {
    const auto k = [](double x, double y) { return 1.2 * wave(x) * wave(2.0 * y + 0.1) + 0.5 * wave(x + y); };
    const auto a = cell_flow(map_of(96, 96, [&](double x, double y) { return std::exp(k(x, y) / 3.0); }));
    const auto b = cell_flow(map_of(96, 96, [&](double x, double y) { return std::exp(-k(x, y) / 3.0); }));
    const Tensor2 &p = a.pressure_factor, &q = b.pressure_factor;
    const double det = p[0][0] * p[1][1] - p[0][1] * p[1][0];
    expect_close(q[0][0], p[0][0] / det, 2e-3, "mesh of 96 a period, second order");
    expect_close(q[1][1], p[1][1] / det, 2e-3, "same");
    expect_close(q[0][1], p[0][1] / det, 2e-2, "same, small cross term");
}

TEST_CASE("round cells agree with the conductivity of disc arrays", "[cell_flow]") {
    for (const Pattern pattern : {Pattern::hexagon, Pattern::diamond})
        for (const double depth_ratio : {1.0, 3.0, 1000.0}) {
            Engraving e = cells(pattern, 0.15, depth_ratio * 1e-6);
            e.corner_radius = pitch_length;  // as round as fits
            const double f = open_fraction(e), gap_ratio = 1.0 + depth_ratio;
            const double expected = disc_array(f, gap_ratio * gap_ratio * gap_ratio, pattern == Pattern::hexagon);
            INFO("pattern " << static_cast<int>(pattern) << ", depth / gap " << depth_ratio << ", f " << f);
            CellFlowOptions fine = reynolds;
            fine.resolution = 256;
            expect_close(cell_flow(e, 1e-6, reynolds).pressure_factor[0][0], expected, 5e-3, "default mesh");
            expect_close(cell_flow(e, 1e-6, fine).pressure_factor[0][0], expected, 2e-3, "256 a pitch");
        }
}

// Independent solution of the same problem in the deep limit: linear finite elements on a triangular lattice whose
// lines carry every wall edge (upper bound; Python with SciPy, extrapolated from 20, 40, 80 lattice steps a cell side
// at the observed order 1.5): 9.6442, 2.9813, 1.6872 at wall / pitch 0.1, 0.3, 0.5.
TEST_CASE("deep closed hexagons", "[cell_flow]") {
    struct Row {
        double wall, phi;
    };
    for (const Row& r : {Row{0.1, 9.6442}, Row{0.3, 2.9813}, Row{0.5, 1.6872}}) {
        const Engraving e = cells(Pattern::hexagon, r.wall, 100e-6);
        const CellFlow c = cell_flow(e, 1e-7, reynolds);
        INFO("wall / pitch " << r.wall);
        REQUIRE(c.convergence.ok());
        expect_close(c.pressure_factor[0][0], r.phi, 2e-3, "finite elements; default mesh");
        expect_close(c.pressure_factor[1][1], c.pressure_factor[0][0], 1e-3, "six-fold symmetry: isotropic");
        CHECK(c.pressure_factor[0][1] == 0.0);
        expect_close(couette_factor(c, TextureMotion::stationary)[0][0], 1.0, 1e-4, "deep limit: land gap alone");
    }
    double last = 1.0;
    for (const double wall : {0.01, 0.03, 0.1, 0.2, 0.3}) {
        const Engraving e = cells(Pattern::hexagon, wall, 100e-6);
        const double phi = cell_flow(e, 1e-7, reynolds).pressure_factor[0][0];
        CellFlowOptions finer = reynolds;
        finer.resolution = 2 * reynolds.resolution;
        INFO("wall / pitch " << wall);
        expect_close(phi, cell_flow(e, 1e-7, finer).pressure_factor[0][0], 2e-3, "mesh-converged");
        CHECK(phi * wall < last);  // pitch / wall times a factor that falls from 1
        last = phi * wall;
        CHECK(phi > deep_flow_factor(e) * 0.999);
        expect_close(phi, deep_flow_factor(e), 0.021, "closed form (2 - f) / f: low by up to 2 %");
    }
    expect_close(cell_flow(cells(Pattern::hexagon, 0.01, 1e-4), 1e-7, reynolds).pressure_factor[0][0], 100.0, 0.01,
                 "thin walls: pitch / wall");
    expect_close(last, 0.894, 2e-3, "2.9813 x 0.3");
}

// Thin walls in the deep limit are resistors between cells of uniform pressure: by hand, with R the distance from the
// centre to the point, l = sqrt(R^2 + P^2) / 2 the slanted wall: phi_x = 3 R l / (w P), phi_y = P (l / 2 + R) / (1.5 R
// w).
TEST_CASE("elongated cells resist least along their length", "[cell_flow]") {
    for (const double aspect : {0.6, 1.0, 1.5, 2.5}) {
        Engraving e = cells(Pattern::elongated, 0.01, 1e-4);
        e.aspect = aspect;
        const double p = pitch_length, r = aspect * p / std::numbers::sqrt3, l = 0.5 * std::hypot(r, p);
        const CellFlow c = cell_flow(e, 1e-7, reynolds);
        INFO("aspect " << aspect);
        expect_close(c.pressure_factor[0][0], 3.0 * r * l / (e.wall_width * p), 0.015, "walls of 1 % of the pitch");
        expect_close(c.pressure_factor[1][1], p * (0.5 * l + r) / (1.5 * r * e.wall_width), 0.015, "same, across");
        if (aspect > 1.0) CHECK(c.pressure_factor[0][0] > c.pressure_factor[1][1] * aspect * 0.9);
    }
    Engraving same = cells(Pattern::elongated, 0.1, 1e-5);
    same.aspect = 1.0;
    CHECK(cell_flow(same, 1e-6).pressure_factor == cell_flow(cells(Pattern::hexagon, 0.1, 1e-5), 1e-6).pressure_factor);
}

TEST_CASE("diamonds", "[cell_flow]") {
    const Engraving e = cells(Pattern::diamond, 0.02, 1e-4);
    const CellFlow c = cell_flow(e, 1e-7, reynolds);
    expect_close(c.pressure_factor[0][0], 50.0, 0.02, "thin walls: pitch / wall");
    expect_close(c.pressure_factor[1][1], c.pressure_factor[0][0], 1e-9, "four-fold symmetry: isotropic");
    // By hand, deep limit: no exchange between strips along the gradient bounds phi from below, cells widened into
    // channels across it bound phi from above.
    for (const double wall : {0.1, 0.3, 0.6}) {
        const double s = 1.0 - wall;
        const double phi = cell_flow(cells(Pattern::diamond, wall, 1e-4), 1e-7, reynolds).pressure_factor[0][0];
        INFO("wall / pitch " << wall);
        CHECK(phi > s / wall + wall);
        CHECK(phi < 1.0 / wall);
    }
}

TEST_CASE("shallow cells lie between a plane gap and the deep limit", "[cell_flow]") {
    double last = 1.0;
    for (const double depth : {0.1, 0.3, 1.0, 3.0, 10.0, 100.0, 1000.0}) {
        const CellFlow c = cell_flow(cells(Pattern::hexagon, 0.1, depth * 1e-6), 1e-6, reynolds);
        CHECK(c.pressure_factor[0][0] > last);
        last = c.pressure_factor[0][0];
    }
    const double ten = cell_flow(cells(Pattern::hexagon, 0.1, 1e-5), 1e-6, reynolds).pressure_factor[0][0];
    expect_close(ten, last, 0.02, "independent of depth once ten times the gap");
    // Weak contrast k of share f, isotropic: <k> - var(k) / (2 <k>) + third order (e.g. Torquato 2002, Random
    // Heterogeneous Materials, from memory).
    const double f = 0.81, k = 1.02 * 1.02 * 1.02, mean = 1.0 + f * (k - 1.0);
    const double expected = mean - f * (1.0 - f) * (k - 1.0) * (k - 1.0) / (2.0 * mean);
    const double phi = cell_flow(cells(Pattern::hexagon, 0.1, 0.02e-6), 1e-6, reynolds).pressure_factor[0][0];
    expect_close(phi - 1.0, expected - 1.0, 5e-3, "area of slanted walls on the mesh");
    Engraving bowl = cells(Pattern::hexagon, 0.1, 0.002e-6);
    bowl.profile = CellProfile::parabolic;
    expect_close(cell_flow(bowl, 1e-6, reynolds).pressure_factor[0][0] - 1.0, 3.0 * cell_volume(bowl) / 1e-6, 5e-3,
                 "first order: 3 volume / gap, the volume of a paraboloid");
}

TEST_CASE("moving and stationary texture differ in sign", "[cell_flow]") {
    for (const double gap : {0.3e-6, 3e-6, 30e-6}) {
        const Engraving e = cells(Pattern::hexagon, 0.06, 8e-6);
        const CellFlow c = cell_flow(e, gap, reynolds);
        const double moving = couette_factor(c, TextureMotion::moving)[0][0];
        const double still = couette_factor(c, TextureMotion::stationary)[0][0], mean = c.mean_gap / gap;
        CHECK(moving > mean);
        CHECK(still < mean);
        expect_close(moving - mean, mean - still, 1e-12, "Patir & Cheng 1979: equal and opposite");
        CHECK(still >= 1.0);
    }
    // Deep: the roll carries its cells whole.
    const Engraving e = cells(Pattern::hexagon, 0.06, 8e-6);
    const double gap = 2e-8, carried = couette_factor(cell_flow(e, gap, reynolds), TextureMotion::moving)[0][0];
    expect_close(0.5 * gap * carried, 0.5 * gap + cell_volume(e), 1e-5, "U h / 2 + U volume");
}

// The Couette factor without the reciprocity used by the library: the flow between a moving plane and a resting
// texture, its own pressure solved for with a dense matrix.
TEST_CASE("Couette factor from a solve of its own", "[cell_flow]") {
    constexpr int n = 9;
    const GapMap m = map_of(n, n, [](double x, double y) {
        return 1.0 + 0.6 * wave(x) * wave(y + 0.2) + 0.3 * wave(2.0 * x + y) + (x > 0.4 && y < 0.5 ? 4.0 : 0.0);
    });
    const CellFlow c = cell_flow(m);
    for (int j = 0; j < 2; ++j) {
        Eigen::MatrixXd a = Eigen::MatrixXd::Zero(n * n, n * n);
        Eigen::VectorXd b = Eigen::VectorXd::Zero(n * n);
        struct Face {
            int from, to, axis;
            double shear, conductance;  // flux = shear - conductance (p_to - p_from)
        };
        std::vector<Face> faces;
        for (int y = 0; y < n; ++y)
            for (int x = 0; x < n; ++x)
                for (int axis = 0; axis < 2; ++axis) {
                    const int from = y * n + x, to = axis == 0 ? y * n + (x + 1) % n : (y + 1) % n * n + x;
                    const double h1 = m.gap[static_cast<std::size_t>(from)] / 1e-6;
                    const double h2 = m.gap[static_cast<std::size_t>(to)] / 1e-6;
                    const double r2 = 0.5 * (1.0 / (h1 * h1) + 1.0 / (h2 * h2));
                    const double r3 = 0.5 * (1.0 / (h1 * h1 * h1) + 1.0 / (h2 * h2 * h2));
                    faces.push_back({from, to, axis, axis == j ? r2 / r3 : 0.0, 1.0 / r3});
                }
        for (const Face& f : faces) {
            a(f.from, f.from) += f.conductance;
            a(f.from, f.to) -= f.conductance;
            a(f.to, f.to) += f.conductance;
            a(f.to, f.from) -= f.conductance;
            b[f.from] -= f.shear;
            b[f.to] += f.shear;
        }
        a.row(0).setZero();
        a(0, 0) = 1.0;
        b[0] = 0.0;
        const Eigen::VectorXd p = a.partialPivLu().solve(b);
        double mean[2] = {0.0, 0.0};
        for (const Face& f : faces) mean[f.axis] += (f.shear - f.conductance * (p[f.to] - p[f.from])) / (n * n);
        for (std::size_t i = 0; i < 2; ++i) {
            const double factor = couette_factor(c, TextureMotion::stationary)[i][static_cast<std::size_t>(j)];
            INFO("flow along " << i << ", motion along " << j);
            expect_close(factor, mean[i], 1e-9, "dense solve of the driven flow");
        }
    }
}

TEST_CASE("energy identity and conservation up to contrasts of a thousand million", "[cell_flow]") {
    for (const double depth : {1e-6, 1e-5, 1e-4, 1e-3}) {
        const CellFlow c = cell_flow(cells(Pattern::hexagon, 0.06, depth), 1e-6, reynolds);
        INFO("depth " << depth << ", residual " << c.convergence.residual);
        REQUIRE(c.convergence.ok());
        CHECK(c.convergence.residual < 1e-4);
        expect_close(c.dissipation_factor[0][0], c.pressure_factor[0][0], 1e-7, "<grad p h^3 grad p> = <h^3 d_x p>");
    }
    const CellFlow m = cell_flow(map_of(20, 30, [](double x, double y) {
        return 1.0 + 0.4 * wave(x + 2.0 * y) + (wave(x) * wave(y) > 0.3 ? 20.0 : 0.0);
    }));
    REQUIRE(m.convergence.ok());
    for (std::size_t i = 0; i < 2; ++i)
        for (std::size_t j = 0; j < 2; ++j)
            expect_close(m.dissipation_factor[i][j], m.pressure_factor[i][j], 1e-8, "energy identity, full tensor");
}

TEST_CASE("walls act longer by the turn of the flow at their edges", "[cell_flow]") {
    // To first order the same as walls wider by the end length on both sides.
    Engraving e = cells(Pattern::hexagon, 0.06, 20e-6);
    const double gap = 0.5e-6, ends = 2.0 * gap * wall_end_length(40.0);
    Engraving wider = e;
    wider.wall_width += ends;
    const double phi = cell_flow(e, gap).pressure_factor[0][0];
    expect_close(phi, cell_flow(wider, gap, reynolds).pressure_factor[0][0], 1e-3, "second order in ends / opening");
    expect_close(phi, cell_flow(e, gap, reynolds).pressure_factor[0][0] * 6.0 / (6.0 + ends / 1e-6), 0.01,
                 "thin walls: phi goes with 1 / wall");
    // Gap as wide as the wall: phi more than halved.
    Engraving thin = cells(Pattern::hexagon, 0.03, 60e-6);
    const double ratio =
        cell_flow(thin, 3e-6).pressure_factor[0][0] / cell_flow(thin, 3e-6, reynolds).pressure_factor[0][0];
    CHECK(ratio < 0.5);
    CHECK(ratio > 0.4);
    // 2D Stokes flow over grooves by finite elements (tests/stokes/grooves.py, recomputed): wall, opening and depth in
    // land gaps; end lengths of the pressure and the shear flow; Couette factor.
    struct Groove {
        double wall, opening, depth, pressure_end, shear_end, length, couette;
    };
    for (const Groove& g :
         {Groove{4.0, 12.0, 6.0, 0.6211, 0.7932, 5.2772, 1.1050},
          Groove{2.0, 12.0, 6.0, 0.6211, 0.7932, 3.2772, 1.1691},
          Groove{1.0, 12.0, 6.0, 0.6211, 0.7932, 2.2772, 1.2433},
          Groove{2.0, 12.0, 12.0, 0.6330, 0.8636, 3.2714, 1.1610},
          Groove{2.0, 12.0, 3.0, 0.5853, 0.6742, 3.3580, 1.2205},
          Groove{2.0, 12.0, 1.0, 0.4223, 0.3933, 4.3446, 1.3319},
          Groove{2.0, 12.0, 0.5, 0.2651, 0.2181, 6.0857, 1.2767}, Groove{2.0, 6.0, 6.0, 0.6202, 0.7879, 3.2579, 1.1352},
          Groove{2.0, 3.0, 6.0, 0.5913, 0.7115, 3.1913, 1.0918},
          Groove{2.0, 100.0, 100.0, 0.6376, 0.9364, 3.2753, 1.1854},
          Groove{2.0, 12.0, 0.1, 0.0392, 0.02755, 11.0942, 1.0792},
          Groove{0.6, 9.4, 0.7, 0.3434, 0.2990, 3.2001, 1.3907},
          Groove{0.06, 0.94, 0.07, 0.0219, 0.0152, 0.8712, 1.0462}}) {
        const double period = g.wall + g.opening;
        Engraving groove = cells(Pattern::channel, g.wall / period, g.depth * 1e-6);
        groove.screen = 1e6 / period;
        groove.wall_width = g.wall * 1e-6;
        INFO("wall " << g.wall << ", opening " << g.opening << ", depth " << g.depth);
        const CellFlow c = cell_flow(groove, 1e-6);
        expect_close(c.pressure_factor[1][1], period / g.length, 0.01, "2D Stokes flow");
        expect_close(couette_factor(c, TextureMotion::stationary)[1][1], g.couette, 0.015, "2D Stokes flow");
        if (g.opening < 12.0) continue;  // the fits are for cells wide against the gap
        expect_close(wall_end_length(g.depth), g.pressure_end, g.depth < 0.5 ? 0.06 : 0.01, "fit to the table");
        expect_close(shear_end_length(g.depth), g.shear_end, g.depth < 0.5 ? 0.04 : 0.01, "fit to the table");
    }
    // A bowl has no steep wall, and along a channel nothing turns.
    e.profile = CellProfile::parabolic;
    CHECK(cell_flow(e, gap).pressure_factor == cell_flow(e, gap, reynolds).pressure_factor);
    const Engraving channel = cells(Pattern::channel, 0.2, 8e-6);
    CHECK(cell_flow(channel, gap).pressure_factor[0][0] == cell_flow(channel, gap, reynolds).pressure_factor[0][0]);
    CHECK(cell_flow(channel, gap).pressure_factor[1][1] < cell_flow(channel, gap, reynolds).pressure_factor[1][1]);
}

TEST_CASE("table against the land gap", "[cell_flow]") {
    Engraving hexagon = cells(Pattern::hexagon, 0.06, 8e-6), channel = cells(Pattern::channel, 0.2, 8e-6);
    Engraving elongated = cells(Pattern::elongated, 0.1, 15e-6);
    channel.screen_angle = 0.8;
    elongated.aspect = 1.6;
    elongated.screen_angle = -0.4;
    const CellFlowOptions coarse{48, deep_end_length};
    for (const Engraving& e : {hexagon, channel, elongated}) {
        const CellFlowTable t = make_cell_flow_table(e, 1e-8, 1e-3, 33, coarse);
        REQUIRE(t.convergence.ok());
        // Grooves along the motion: q = U <h> / 2 exactly, half of their content stays behind.
        const double turn = std::sin(e.screen_angle) * std::sin(e.screen_angle);
        CHECK(std::abs(t.deep_share - (e.pattern == Pattern::channel ? turn : 1.0)) < 1e-12);
        INFO("pattern " << static_cast<int>(e.pattern));
        double last = std::numeric_limits<double>::infinity();
        for (double h = 1.3e-9; h < 0.1; h *= 1.31) {
            const double phi = t.pressure_factor(h), share = t.carried_share(h);
            CHECK(phi >= 1.0);
            CHECK(phi <= last);
            CHECK((share >= 0.0 && share <= 1.0));
            last = phi;
            // Derivative of the look-up: dual numbers against a central difference.
            const Dual<1> d = t.pressure_factor(Dual<1>(h, {1.0})), b = t.land_couette_factor(Dual<1>(h, {1.0}));
            const double step = 1e-5 * h;
            const double slope = (t.pressure_factor(h + step) - t.pressure_factor(h - step)) / (2.0 * step);
            CHECK(std::abs(d.d[0] - slope) * h <= 1e-5 * phi);
            const double b_slope = (t.land_couette_factor(h + step) - t.land_couette_factor(h - step)) / (2.0 * step);
            CHECK(std::abs(b.d[0] - b_slope) * h <= 1e-5);
        }
        for (double h = 1.5e-8; h < 1e-3; h *= 2.3) {
            const CellFlow c = cell_flow(e, h, coarse);
            INFO("gap " << h);
            expect_close(t.pressure_factor(h), c.pressure_factor[0][0], 5e-3, "interpolation, 6.5 points a decade");
            const double moving = couette_factor(c, TextureMotion::moving)[0][0];
            expect_close(t.land_couette_factor(h) + (1.0 + t.deep_share) * t.volume / h, moving, 5e-3,
                         "q = U h b / 2 + U volume (1 + deep share) / 2");
        }
    }
    const CellFlowTable t = make_cell_flow_table(hexagon, 1e-8, 1e-3, 33, coarse);
    Engraving turned = hexagon;
    turned.screen_angle = 0.5;
    CHECK(make_cell_flow_table(turned, 1e-8, 1e-3, 33, coarse).pressure_factor(1e-6) == t.pressure_factor(1e-6));
    expect_close(t.pressure_factor(1.0), 1.0, 1e-4, "wide gap");
    expect_close(t.pressure_factor(1e-10), deep_flow_factor(hexagon), 0.02, "vanishing gap: the deep limit");
    expect_close(t.carried_share(1e-10), 1.0, 1e-8, "deep cells travel whole");
    expect_close(t.land_couette_factor(1e-10), 1.0, 1e-4, "land gap alone");
}

TEST_CASE("behind walls far thinner than the gap no film flows back", "[cell_flow]") {
    // A pitch of 1.8 mm with walls of 0.1 um: the averaged factor itself would be negative.
    Engraving e;
    e.pattern = Pattern::elongated, e.aspect = 8.5, e.screen = 556.0, e.screen_angle = 1.48, e.wall_width = 1e-7;
    e.cell_volume = 2.6e-7, e.cell_depth.reset();
    const CellFlowTable t = make_cell_flow_table(e, 1e-8, 1e-3, 17, {48, deep_end_length});
    REQUIRE(t.convergence.ok());
    CHECK(t.land_couette_factor(2e-8) < 0.0);
    double last = 0.0;
    for (double h = 1e-8; h < 1e-3; h *= 1.2) {
        const double g = h * t.resistance_and_couette(h)[1];
        CHECK(g > last);
        last = g;
    }
    CHECK(t.drawn_back_from <= 2e-8);  // and a flag says so
}

TEST_CASE("input without sense is refused", "[cell_flow]") {
    const Engraving e = cells(Pattern::hexagon, 0.06, 8e-6);
    CHECK_THROWS_AS(cell_flow(e, 0.0), InvalidInput);
    CHECK_THROWS_AS(cell_flow(e, std::nan("")), InvalidInput);
    CHECK_THROWS_AS(cell_flow(e, 1e-6, {2, 0.0}), InvalidInput);
    CHECK_THROWS_AS(cell_flow(e, 1e-6, {96, -1.0}), InvalidInput);
    Engraving bad = e;
    bad.screen = -1.0;
    CHECK_THROWS_AS(cell_flow(bad, 1e-6), InvalidInput);
    bad = e;
    bad.cell_depth = -1e-6;
    CHECK_THROWS_AS(cell_flow(bad, 1e-6), InvalidInput);
    CHECK_THROWS_AS(make_cell_flow_table(e, 1e-3, 1e-6), InvalidInput);
    CHECK_THROWS_AS(cell_flow(GapMap{2, 2, 1.0, 1.0, {1.0, 1.0, 1.0}, 1.0}), InvalidInput);
    CHECK_THROWS_AS(cell_flow(GapMap{1, 2, 1.0, 1.0, {1.0, -1.0}, 1.0}), InvalidInput);
}
