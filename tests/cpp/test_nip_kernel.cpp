// The contact kernel: with another scalar, derivatives by dual numbers against differences; the ink wedge by hand.
#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "expect.hpp"
#include "libblade/dual.hpp"
#include "libblade/film.hpp"
#include "libblade/heat.hpp"
#include "libblade/nip_kernel.hpp"
#include "libblade/nip_tables.hpp"

using namespace libblade;

namespace {

using D = Dual<1>;

kernel::ContactSetup setup_with(const Rheology& rheology, double andrade, bool constant_phi) {
    static FlowTables tables;
    Ink ink;
    ink.rheology = rheology;
    ink.andrade_constant = andrade;
    kernel::ContactSetup s;
    s.facet_length = 2e-4, s.edge_radius = 1e-6;
    s.speed = 3.0, s.density = 1100.0;
    s.nominal_viscosity = 0.05;
    s.wetted_length = 1e-4;
    s.flank_length = s.nominal_viscosity / (s.density * s.speed);
    s.land_fraction = 0.25, s.flow_factor = 5.0;
    static const auto cells = tables.cells(Engraving{});
    if (!constant_phi) s.cells = cells.get();
    s.friction = 0.12;
    static std::shared_ptr<const InkFlowTable> viscosities;
    viscosities = tables.ink(rheology);
    s.viscosity = 0.05, s.ink = viscosities.get();
    s.asperities = asperity_law(Roll{}, Solid{});
    s.heat = heat_setup(ink, 3700.0, s.facet_length, s.speed, s.land_fraction);
    s.f52 = &f52_table(), s.f1 = &f1_table();
    return s;
}

template <class T>
kernel::ContactForces<T> forces(const kernel::ContactSetup& s, const T& tilt, const T& gap) {
    const std::size_t n = s.mesh.nodes();
    std::vector<T> memory(kernel::kArraySize * n);
    const auto arrays = kernel::contact_arrays(std::span<T>(memory), n);
    const double in = std::numbers::pi / 3.0, out = std::numbers::pi / 6.0;
    return kernel::contact_forces<T>(s, tilt, gap, T(in), T(out), arrays);
}

void expect_slope(double dual, double up, double down, double step) {
    expect_close(dual, (up - down) / (2.0 * step), 2e-5, "central difference, step 1e-5 of the scale");
}

}  // namespace

TEST_CASE("dual numbers pass through the whole contact", "[nip_kernel]") {
    const Rheology laws[] = {Newtonian{0.05}, Cross{0.4, 0.03, 1e-5, 0.7}};
    for (const Rheology& law : laws)
        for (const double andrade : {0.0, 4000.0})
            for (const bool constant : {false, true})
                for (const double tilt : {-2e-3, 3e-4, 4e-3}) {
                    const auto s = setup_with(law, andrade, constant);
                    const double gap = 4.5e-7, dt = 1e-8, dg = 4.5e-12;
                    const D one(gap, {1.0}), fixed(gap);
                    const auto by_gap = forces<D>(s, D(tilt), one);
                    const auto up = forces<double>(s, tilt, gap + dg), down = forces<double>(s, tilt, gap - dg);
                    expect_slope(by_gap.normal().d[0], up.normal(), down.normal(), dg);
                    expect_slope(by_gap.tangential.d[0], up.tangential, down.tangential, dg);
                    expect_slope(by_gap.film.flow.d[0], up.film.flow, down.film.flow, dg);
                    const auto by_tilt = forces<D>(s, D(tilt, {1.0}), fixed);
                    const auto right = forces<double>(s, tilt + dt, gap), left = forces<double>(s, tilt - dt, gap);
                    expect_slope(by_tilt.normal().d[0], right.normal(), left.normal(), dt);
                    expect_slope(by_tilt.moment.d[0], right.moment, left.moment, dt);
                    // the plain value rides along unchanged
                    expect_close(by_tilt.normal().v, forces<double>(s, tilt, gap).normal(), 1e-13, "same arithmetic");
                }
}

TEST_CASE("the wedge beyond the film carries the corner's pressure up to where inertia takes over", "[nip_kernel]") {
    // Taylor 1962: p = C eta U / r on the flank, C = 2 sin^2 b / (b^2 - sin^2 b); rho U^2 at the most; on top the chamber's.
    const double b = std::numbers::pi / 3.0, sine2 = 0.75;
    kernel::ContactSetup s = setup_with(Newtonian{0.05}, 0.0, true);
    s.flank_length = 3e-5, s.wetted_length = 2e-4;
    for (const double chamber : {0.0, 2e3}) {
        s.pressure_in = chamber;
        const auto pressure = [&](double r) {
            return chamber + std::min(1100.0 * 9.0, 2.0 * sine2 / (b * b - sine2) * 0.05 * 3.0 / r);
        };
        const auto out = forces<double>(s, 0.0, 4.5e-7);
        double load = 0.0;
        constexpr int n = 100000;
        for (int i = 0; i < n; ++i) load += pressure(3e-5 + 1.7e-4 * (i + 0.5) / n) * 1.7e-4 / n;
        expect_close(out.outer_load, load, 1e-6, "midpoint rule");
        const std::size_t nodes = s.mesh.nodes();
        std::vector<double> memory(kernel::kArraySize * nodes);
        const auto arrays = kernel::contact_arrays(std::span<double>(memory), nodes);
        (void)kernel::contact_forces<double>(s, 0.0, 4.5e-7, b, std::numbers::pi / 6.0, arrays);
        expect_close(arrays.pressure[0], pressure(3e-5), 1e-12, "where the film begins");
    }
}

TEST_CASE("graded places", "[nip_kernel]") {
    std::vector<double> even(11), graded(11);
    kernel::graded_places(std::span<double>(even), 1.0);
    kernel::graded_places(std::span<double>(graded), 100.0);
    CHECK(even[0] == 0.0);
    CHECK(graded[10] == 1.0);
    for (std::size_t i = 1; i + 1 < 11; ++i) {
        CHECK(std::abs(even[i] - 0.1 * static_cast<double>(i)) < 1e-14);
        expect_close((graded[i + 1] - graded[i]) / (graded[i] - graded[i - 1]), std::pow(100.0, 0.1), 1e-12,
                     "constant growth");
    }
    // About a centre: 1 + the distance from it grows by one factor from there to either side.
    std::vector<double> about(11);
    kernel::graded_about(std::span<double>(about), 0.0, 99.0);
    for (std::size_t i = 1; i < 11; ++i) expect_close(about[i], graded[i], 1e-12, "the same with the centre at 0");
    constexpr double centre = 30.0, whole = 99.0;
    kernel::graded_about(std::span<double>(about), centre, whole);
    CHECK(about[0] == 0.0);
    CHECK(about[10] == 1.0);
    const auto gap = [&](std::size_t i) { return 1.0 + std::abs(about[i] * whole - centre); };
    const double growth = std::pow((1.0 + centre) * (1.0 + whole - centre), 0.1);
    for (std::size_t i = 0; i < 10; ++i) {
        CHECK(about[i + 1] > about[i]);
        if ((about[i] * whole - centre) * (about[i + 1] * whole - centre) > 0.0)
            expect_close(std::max(gap(i), gap(i + 1)) / std::min(gap(i), gap(i + 1)), growth, 1e-12, "constant growth");
    }
}
