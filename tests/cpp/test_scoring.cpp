#include "libblade/scoring.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>

#include "expect.hpp"
#include "film_problem.hpp"
#include "libblade/error.hpp"
#include "libblade/feather.hpp"
#include "libblade/film.hpp"
#include "libblade/random.hpp"
#include "libblade/width.hpp"

using namespace libblade;

namespace {

constexpr double pi = std::numbers::pi, deg = pi / 180.0;

/// A mouth as a blade of 0.2 mm steel at 30 deg would have it.
Mouth usual_mouth() {
    Mouth m{};
    m.gap = m.leading_gap = 0.4e-6, m.edge_radius = 1e-6, m.wedge_angle = 60.0 * deg;
    m.film = 0.4e-6, m.viscosity = 0.03, m.speed = 5.0, m.line_load = 100.0, m.stiffness = 0.149;
    m.blade_hardness = 5.5e9, m.roll_hardness = 12e9;
    m.wall_width = 6e-6, m.opening = 90e-6, m.cell_depth = 15e-6, m.open_fraction = 0.85;
    return m;
}

/// All alike: a law without spread.
ParticleClass sphere(double size, double friction, double hardness = 20e9) {
    ParticleClass p;
    p.median_size = size, p.size_spread = 1.0, p.friction = friction, p.friction_spread = 1.0, p.angularity = 0.0;
    p.hardness = hardness, p.fresh_number = 1e8;
    return p;
}

Case press_case(double load = 100.0) {
    Case c;
    c.tip = Facet{200e-6, BeddedHere{}, 1e-6};
    c.setting.load = LineLoad{load};
    return c;
}
/// Run in at 100 N/m, then loaded without running in again.
Case moved_case(double load) {
    Case c = press_case(load);
    c.tip = Facet{200e-6, BeddedElsewhere{c.setting.set_angle, 100.0}, 1e-6};
    return c;
}
ScoringRisk risk_of(const Case& c, const ParticleClass& p, const InkLoop& loop = {}, const ScoringOptions& o = {}) {
    return scoring(c, solve(c), std::array{p}, loop, o);
}
double rate(const ScoringRisk& risk, Outcome outcome) { return risk.rate[static_cast<std::size_t>(outcome)]; }

}  // namespace

TEST_CASE("the nip angle is that of a sphere between a flat and a cylinder", "[scoring]") {
    for (const auto& row : read_table("particles/nip_angle.csv")) {
        Mouth m = usual_mouth();
        m.edge_radius = std::stod(row.at(0)), m.gap = m.leading_gap = std::stod(row.at(1));
        const double size = 2.0 * std::stod(row.at(2)), friction = std::stod(row.at(4));
        expect_close(nip_angle(m, size), std::stod(row.at(3)) * deg, 1e-9, "plane geometry");
        expect_close(entry_size(m, friction), size, 1e-9, "the sphere that this friction just draws in");
    }
    // Angle of nip of crushing rolls: a friction of 0.29 holds about 32 deg between the tangents (Coulson & Richardson,
    // vol. 2, from memory).
    CHECK(2.0 * std::atan(0.29) / deg == Approx(32.0).margin(0.5));
}

TEST_CASE("a rounded edge draws in up to h + mu^2 (2 r + h)", "[scoring]") {
    for (const double r : {0.0, 0.3e-6, 1e-6, 20e-6})
        for (const double h : {0.1e-6, 1e-6})
            for (const double mu : {0.05, 0.2, 0.5}) {
                Mouth m = usual_mouth();
                m.edge_radius = r, m.gap = m.leading_gap = h;
                INFO("r " << r << ", h " << h << ", mu " << mu);
                expect_close(entry_size(m, mu), h + mu * mu * (2.0 * r + h), 1e-12, "own");
                // Independent: by search, the size whose own angle has tan(psi / 2) = mu.
                double low = h, high = 1e-3;
                for (int k = 0; k < 200; ++k) {
                    const double middle = std::sqrt(low * high);
                    (std::tan(0.5 * nip_angle(m, middle)) <= mu ? low : high) = middle;
                }
                expect_close(entry_size(m, mu), low, 1e-6, "by search");
            }
}

TEST_CASE("a flank rejects below tan of half its angle, and above lets any size in", "[scoring]") {
    Mouth m = usual_mouth();
    expect_close(std::tan(30.0 * deg), 0.577, 1e-3, "a flank of 60 deg");
    CHECK(std::isfinite(entry_size(m, 0.577)));
    CHECK(std::isinf(entry_size(m, 0.5774)));
    CHECK(entry_share(m, sphere(50e-6, 0.577), 50e-6, 1.0, 2.0) == 0.0);
    CHECK(entry_share(m, sphere(50e-6, 0.578), 50e-6, 1.0, 2.0) == 1.0);
    m.wedge_angle = 30.0 * deg;  // a trailing blade
    CHECK(std::isinf(entry_size(m, 0.268)));
    m.wedge_angle = 150.0 * deg;  // worn to the end: it leans over the ink
    CHECK(std::isfinite(entry_size(m, 3.7)));
}

TEST_CASE("a tilted facet admits what fits its leading gap", "[scoring]") {
    // A film far above the roughness, so that the mean gap is the distance between the mean planes.
    Case c = moved_case(300.0);
    c.ink.rheology = Newtonian{0.3};
    c.roll.land_roughness = 0.02e-6;
    const OperatingPoint p = solve(c);
    REQUIRE(p.convergence.ok());
    REQUIRE(p.facet_tilt > 0.1 * deg);
    // Low end + tilt x the flat part; the rounding of both ends lies inside the facet: a circle of the edge radius on the ink side,
    // a parabola on the far side (its chord tangents meet half-way).
    const double cut_in = 1e-6 * (std::tan(0.5 * p.ink_wedge_angle) - 0.5 * p.facet_tilt);
    const double cut_out = 0.5e-6 * (effective_slope(p.effective_angle) + p.facet_tilt);
    const double length = p.facet_length - cut_in - cut_out, low = p.leading_gap - p.facet_tilt * length;
    NipOptions with_section;
    with_section.section = true;
    const OperatingPoint seen = solve(c, with_section);
    double at_end = 1.0;  // gap where the flat part ends downstream
    for (std::size_t i = 0; i < seen.section.x.size(); ++i)
        if (std::abs(seen.section.x[i] - (0.5 * p.facet_length - cut_out)) < 1e-9) at_end = seen.section.gap[i];
    expect_close(low, at_end, 1e-6, "h + tilt x length at the other end");
    const Mouth m = mouth_of(c, p);
    const double sure = std::tan(0.5 * p.facet_tilt) + 1e-6;  // friction that just holds on the facet
    // A sphere that touches where the gap is h under a slope psi has the diameter h (1 + tan^2(psi / 2)).
    expect_close(entry_size(m, sure), m.leading_gap * (1.0 + std::pow(std::tan(0.5 * p.facet_tilt), 2)), 1e-6,
                 "what touches at the facet's end");
    CHECK(entry_size(m, 0.5 * p.facet_tilt * 0.9) == m.gap);
}

TEST_CASE("what a share of sizes enters is the mean over friction and shape", "[scoring]") {
    const Mouth m = usual_mouth();
    ParticleClass p = sphere(2e-6, 0.3);
    p.friction_spread = 1.6, p.angularity = 0.15;
    Random random(3);
    int in = 0;
    constexpr int n = 200000;
    const double psi = nip_angle(m, 2e-6);
    for (int k = 0; k < n; ++k) {
        const double friction = 0.3 * std::pow(1.6, random.normal());
        if (std::tan(0.5 * std::max(0.0, psi + 0.15 * random.normal())) <= friction) ++in;
    }
    // Force so large that drag does not count.
    expect_close(entry_share(m, p, 2e-6, 1e9, 2.0), static_cast<double>(in) / n, 0.02, "draws");
}

TEST_CASE("flakes lie down as Jeffery's orbit has it", "[scoring]") {
    // Jeffery 1922, in the plane of shear: f' = rate (sin^2 f + q^2 cos^2 f) / (1 + q^2), q = thickness / length, f from the
    // flow; time below an angle by integration of 1 / f'.
    const double length = 40e-6, thickness = 4e-6, q = thickness / length;
    ParticleClass p = sphere(length, 0.2);
    p.shape = ParticleShape::flake;
    p.thickness = thickness;
    const auto time_below = [&](double f) {
        double sum = 0.0;
        constexpr int n = 20000;
        for (int k = 0; k < n; ++k) {
            const double a = f * (k + 0.5) / n;
            sum += f / n * (1.0 + q * q) / (std::sin(a) * std::sin(a) + q * q * std::cos(a) * std::cos(a));
        }
        return sum;
    };
    Mouth m = usual_mouth();
    for (const double opening : {4.2e-6, 6e-6, 9e-6, 25e-6}) {
        m.gap = m.leading_gap = opening;
        m.edge_radius = 0.0;
        const double admits = entry_size(m, 0.2);
        double low = 0.0, high = 0.5 * pi - q;  // angle at which the flake stands as high as that
        for (int k = 0; k < 100; ++k) {
            const double f = 0.5 * (low + high);
            (length * std::sin(f) + thickness * std::cos(f) < admits ? low : high) = f;
        }
        const double expected = time_below(low) / time_below(0.5 * pi);
        INFO("opening " << opening);
        CHECK(std::abs(entry_share(m, p, length, 1e9, 2.0) - expected) < 0.5 / 8.0 + 1e-9);  // eight postures
    }
}

TEST_CASE("ink that flows towards the nip is the forward part of Reynolds' profile", "[scoring]") {
    const Mouth m = usual_mouth();
    for (const double d : {0.2e-6, 0.4e-6, 0.5e-6, 0.7e-6, 3e-6, 100e-6}) {
        const double k = 1.0 - m.film / d;
        double sum = 0.0;
        constexpr int n = 200000;
        for (int i = 0; i < n; ++i) {
            const double s = (i + 0.5) / n, u = (1.0 - s) * (1.0 - 3.0 * k * s);
            sum += std::max(u, 0.0) / n;
        }
        expect_close(offered_flow(m, d), m.speed * d * sum, 1e-8, "by quadrature");
    }
    expect_close(offered_flow(m, 1.0) / (m.speed * 1.0), 4.0 / 27.0, 1e-5, "a scraper that lets nothing through");
    expect_close(offered_flow(m, 0.3e-6), 0.5 * m.speed * m.film, 1e-12, "all that passes");
}

TEST_CASE("drag is the push of the flow less the pressure's", "[scoring]") {
    const Mouth m = usual_mouth();
    const double d = 0.9e-6, q = 0.5 * m.speed * m.film;
    // Reynolds: p' = 12 eta (U d / 2 - q) / d^3.
    const double rise = 12.0 * m.viscosity * (0.5 * m.speed * d - q) / (d * d * d);
    const double expected = 3.0 * pi * m.viscosity * d * 2.0 * q / d - rise * pi * d * d * d / 6.0;
    expect_close(fluid_drag(m, d, 2.0), expected, 1e-12, "own");
    CHECK(fluid_drag(m, 3.99 * m.film, 2.0) > 0.0);
    CHECK(fluid_drag(m, 4.01 * m.film, 2.0) < 0.0);
    // It lets in what is weak: friction needed falls by D / (2 F cos(psi / 2)).
    const double psi = nip_angle(m, d), D = fluid_drag(m, d, 2.0), F = 3.0 * D;
    const double needed = std::tan(0.5 * psi) - D / (2.0 * F * std::cos(0.5 * psi));
    REQUIRE(needed > 0.01);
    CHECK(entry_share(m, sphere(d, 1.0001 * needed), d, F, 2.0) == 1.0);
    CHECK(entry_share(m, sphere(d, 0.9999 * needed), d, F, 2.0) == 0.0);
    CHECK(entry_share(m, sphere(d, 1e-3), d, 1e-3 * D, 2.0) == 1.0);  // far too weak to resist
}

TEST_CASE("depths are fully plastic, in inverse proportion to hardness", "[scoring]") {
    for (const auto& row : read_table("particles/indentation.csv")) {  // the formula the next checks use
        const double F = std::stod(row.at(0)), H = std::stod(row.at(1)), r = std::stod(row.at(2)),
                     y = std::stod(row.at(3));
        expect_close(pi * (2.0 * r * y - y * y) * H, F, 1e-12, "Tabor 1951");
    }
    const Mouth m = usual_mouth();
    for (const double size : {0.5e-6, 2e-6, 8e-6, 15e-6, 40e-6, 200e-6}) {
        const ParticleFate f = particle_fate(m, sphere(size, 0.2), size);
        INFO("size " << size);
        const double R = 0.5 * size;
        expect_close(f.blade_depth + f.roll_depth + f.lift, size - m.gap, 1e-9, "all of it goes somewhere");
        expect_close(f.lift, std::pow(f.force, 3) / (72.0 * m.stiffness * m.line_load * m.line_load), 1e-12, "lift");
        expect_close(pi * f.roll_depth * (2.0 * R - f.roll_depth) * m.roll_hardness, f.force, 1e-9, "roll");
        if (f.blade_depth < R)
            expect_close(pi * f.blade_depth * (2.0 * R - f.blade_depth) * m.blade_hardness, f.force, 1e-9, "blade");
        else
            expect_close(pi * R * R * m.blade_hardness, f.force, 1e-12, "pressed in flush");
    }
    // Far from the equator, inverse to hardness: within the curvature of the dent.
    const ParticleFate shallow = particle_fate(m, sphere(0.41e-6, 0.2), 0.41e-6);
    expect_close(shallow.blade_depth / shallow.roll_depth, 12.0 / 5.5, 0.02, "indentation split");
}

TEST_CASE("a propped blade stands off over the length on which it weighs as much", "[scoring]") {
    const Mouth m = usual_mouth();
    const ParticleFate f = particle_fate(m, sphere(200e-6, 0.2), 200e-6);
    expect_close(f.force, m.line_load * std::cbrt(72.0 * m.stiffness * f.lift / m.line_load), 1e-12, "force");
    expect_close(f.streak_width, 1.12 * std::cbrt(72.0 * m.stiffness * f.lift / m.line_load), 1e-12, "streak");
    expect_close(f.streak_width, 2.0 * stand_off(m.stiffness, m.line_load, f.lift), 1e-12, "the same");
}

TEST_CASE("large particles prop the blade up, small ones are pressed in", "[scoring]") {
    const Mouth m = usual_mouth();
    // Crossover by search: H_b pi d^2 / 4 = N (72 D (d - h) / N)^(1/3).
    double low = 1e-6, high = 1e-3;
    for (int k = 0; k < 100; ++k) {
        const double d = std::sqrt(low * high);
        const double flush = m.blade_hardness * pi * d * d / 4.0;
        (flush < m.line_load * std::cbrt(72.0 * m.stiffness * (d - m.gap) / m.line_load) ? low : high) = d;
    }
    CHECK((low > 10e-6 && low < 30e-6));
    CHECK(!particle_fate(m, sphere(0.999 * low, 0.2), 0.999 * low).props);
    CHECK(particle_fate(m, sphere(1.001 * low, 0.2), 1.001 * low).props);
    // Well beyond, the blade gives way and not the steel; well below, the other way round.
    const ParticleFate large = particle_fate(m, sphere(10.0 * low, 0.2), 10.0 * low);
    const ParticleFate small = particle_fate(m, sphere(0.2 * low, 0.2), 0.2 * low);
    CHECK(large.lift > 0.9 * (10.0 * low - m.gap));
    CHECK(small.lift < 0.05 * (0.2 * low - m.gap));
    CHECK(small.blade_depth > 0.8 * (0.2 * low - m.gap));
    CHECK((small.stays && !large.stays));
}

TEST_CASE("a surface is scratched from a hardness ratio of 1.2", "[scoring]") {
    const Mouth m = usual_mouth();
    const double d = 3e-6;
    CHECK(particle_fate(m, sphere(d, 0.2, 1.201 * m.roll_hardness), d).scores);
    const ParticleFate softer = particle_fate(m, sphere(d, 0.2, 1.199 * m.roll_hardness), d);
    CHECK((!softer.scores && !softer.dents_roll && softer.roll_depth == 0.0 && softer.flattening > 0.0));
    CHECK(softer.stays);  // it still dents the blade
    CHECK(particle_fate(m, sphere(d, 0.2, 1.201 * m.blade_hardness), d).stays);
    const ParticleFate soft = particle_fate(m, sphere(d, 0.2, 1.199 * m.blade_hardness), d);
    CHECK((!soft.stays && !soft.nicks && soft.blade_depth == 0.0));
    // Both surfaces give way under alumina, none under calcite, only steel under quartz.
    for (const auto& row : read_table("particles/hardness.csv")) {
        Mouth only = m;
        const bool roll = row.at(1) == "chromium oxide";
        (roll ? only.roll_hardness : only.blade_hardness) = std::stod(row.at(3));
        const ParticleFate f = particle_fate(only, sphere(d, 0.2, std::stod(row.at(2))), d);
        INFO(row.at(0) << " on " << row.at(1));
        CHECK(((roll ? f.roll_depth : f.blade_depth) > 0.0) == (row.at(4) == "1"));
    }
}

TEST_CASE("a dent in the edge is a nick where it is deeper than the gap", "[scoring]") {
    ScoringOptions options;
    options.scratch_friction = 2.0;  // the roll levers every grain out
    const Mouth m = usual_mouth();
    int nicked = 0, not_nicked = 0;
    for (double d = 0.45e-6; d < 40e-6; d *= 1.3) {
        const ParticleFate f = particle_fate(m, sphere(d, 0.2), d, options);
        INFO(d << " m, dent " << f.blade_depth << " m");
        REQUIRE((f.blade_depth > 0.0 && !f.stays));
        CHECK(f.nicks == (f.blade_depth > 0.4e-6));
        const double y = std::min(f.blade_depth, 0.5 * d);  // chord of a circle, the diameter at the most
        if (f.nicks) expect_close(f.nick_width, 2.0 * std::sqrt(y * (d - y)), 1e-9, "plane geometry");
        (f.nicks ? nicked : not_nicked) += 1;
    }
    CHECK(nicked > 0);
    CHECK(not_nicked > 0);
}

TEST_CASE("soft particles crumble or smear and leave the lands alone", "[scoring]") {
    const ParticleFate dried = particle_fate(usual_mouth(), sphere(20e-6, 0.2, 0.3e9), 20e-6);
    CHECK((dried.crushed && !dried.scores && !dried.nicks && !dried.props && dried.blade_depth == 0.0));
    ParticleClass p = sphere(20e-6, 0.7, 0.3e9);
    const ScoringRisk brittle = risk_of(press_case(), p);
    p.ductile = true;
    const ScoringRisk ductile = risk_of(press_case(), p);
    CHECK((rate(brittle, Outcome::crumbled) > 0.0 && rate(brittle, Outcome::smeared) == 0.0));
    expect_close(rate(ductile, Outcome::smeared), rate(brittle, Outcome::crumbled), 1e-12, "one or the other");
    expect_close(ductile.classes[0].smeared_volume, rate(ductile, Outcome::smeared) * pi / 6.0 * 8e-15, 1e-9, "volume");
}

TEST_CASE("a tool stays in the blade when the roll cannot lever it out, and ploughs on its front half", "[scoring]") {
    const Mouth m = usual_mouth();
    ScoringOptions o;
    const double size = 4e-6, R = 2e-6;
    const ParticleFate f = particle_fate(m, sphere(size, 0.2), size, o);
    REQUIRE(f.stays);
    // Moments about the dent's rim: force x half chord against drag x what stands out of the blade.
    const double half_chord = std::sqrt(f.blade_depth * (size - f.blade_depth));
    CHECK(f.force * half_chord > o.scratch_friction * f.force * (size - f.blade_depth));
    expect_close(0.5 * pi * f.groove_depth * (size - f.groove_depth) * m.roll_hardness, f.force, 1e-9,
                 "Rabinowicz 1965");
    expect_close(f.groove_width, 2.0 * std::sqrt(f.groove_depth * (size - f.groove_depth)), 1e-9,
                 "chord of the groove");
    // At the limit of staying the two moments are equal.
    const double mu = f.blade_depth < R ? half_chord / (size - f.blade_depth) : 1.0;
    if (f.blade_depth < R) {
        o.scratch_friction = 0.999 * mu;
        CHECK(particle_fate(m, sphere(size, 0.2), size, o).stays);
        o.scratch_friction = 1.001 * mu;
        CHECK(!particle_fate(m, sphere(size, 0.2), size, o).stays);
    }
    Mouth narrow = m;
    narrow.gap = 3.4e-6;  // little of it is in the way: it dents and goes
    const ParticleFate gone = particle_fate(narrow, sphere(size, 0.2), size);
    CHECK((!gone.stays && !gone.scores && gone.dents_roll));
}

TEST_CASE("a wall chips beyond its edge toughness times its width", "[scoring]") {
    const Mouth m = usual_mouth();
    ScoringOptions o;
    const ParticleFate f = particle_fate(m, sphere(8e-6, 0.2), 8e-6, o);
    o.edge_toughness = 0.999 * f.force / m.wall_width;
    CHECK(particle_fate(m, sphere(8e-6, 0.2), 8e-6, o).chips);
    o.edge_toughness = 1.001 * f.force / m.wall_width;
    CHECK(!particle_fate(m, sphere(8e-6, 0.2), 8e-6, o).chips);
    // A flattened face over several fine walls loads them together.
    Mouth fine = m;
    fine.wall_width = 0.5e-6, fine.opening = 1.5e-6;
    const double walls = 2.0 * std::sqrt(f.force / (pi * m.roll_hardness)) / 2e-6;
    REQUIRE(walls > 1.1);
    o.edge_toughness = 1.001 * f.force / (walls * 0.5e-6);
    CHECK(!particle_fate(fine, sphere(8e-6, 0.2), 8e-6, o).chips);
    o.edge_toughness = 0.999 * f.force / (walls * 0.5e-6);
    CHECK(particle_fate(fine, sphere(8e-6, 0.2), 8e-6, o).chips);
    Mouth smooth = m;
    smooth.wall_width = std::numeric_limits<double>::infinity();
    o.edge_toughness = 1.0;
    CHECK(!particle_fate(smooth, sphere(8e-6, 0.2), 8e-6, o).chips);
}

TEST_CASE("every particle is counted once on its way", "[scoring]") {
    ParticleClass p = sphere(3e-6, 0.15);
    p.size_spread = 2.5, p.friction_spread = 1.5, p.angularity = 0.2;
    for (const double hardness : {0.2e9, 11e9, 20e9}) {
        p.hardness = hardness;
        const ScoringRisk r = risk_of(moved_case(130.0), p);
        const double in = rate(r, Outcome::offered) - rate(r, Outcome::passed) - rate(r, Outcome::in_cell) -
                          rate(r, Outcome::rejected) - rate(r, Outcome::held);
        INFO("hardness " << hardness);
        CHECK(in > 0.0);
        const double soft = rate(r, Outcome::crumbled), kept = rate(r, Outcome::stays) + rate(r, Outcome::nicks);
        CHECK(soft + kept <= in * (1.0 + 1e-9));
        if (hardness < 1e9) CHECK(soft > 0.5 * in);  // what props is not crushed
        CHECK(rate(r, Outcome::scores) <= rate(r, Outcome::stays) * (1.0 + 1e-12));
        expect_close(r.rate[0], r.classes[0].rate[0], 1e-12, "the sum over classes");
        ScoringOptions fine;
        fine.sizes = 1024;
        const ScoringRisk again = risk_of(moved_case(130.0), p, {}, fine);
        if (rate(again, Outcome::scores) > 0.0)
            expect_close(rate(r, Outcome::scores), rate(again, Outcome::scores), 0.03, "128 sizes against 1024");
    }
    // By hand: one size, steady number, all drawn in.
    ParticleClass one = sphere(5e-6, 0.7);
    const Case c = press_case();
    const OperatingPoint point = solve(c);
    const ScoringRisk r = scoring(c, point, std::array{one}, {}, {});
    const Mouth m = mouth_of(c, point);
    const double room = 1.0 - 5e-6 / m.opening, cell = m.open_fraction * room * room;
    expect_close(rate(r, Outcome::scores), 1e8 * offered_flow(m, 5e-6) * (1.0 - cell), 1e-9, "by hand");
    expect_close(rate(r, Outcome::in_cell), 1e8 * offered_flow(m, 5e-6) * cell, 1e-9, "by hand");
}

TEST_CASE("pressing a bedded doctoring blade harder lets larger particles in", "[scoring]") {
    // Through tilt and film of the operating point: the blade flexes, the facet opens towards the ink.
    double before = 0.0, scored = 0.0;
    for (const double load : {100.0, 110.0, 130.0, 160.0, 200.0}) {
        const Case c = moved_case(load);
        const OperatingPoint p = solve(c);
        REQUIRE(p.convergence.ok());
        const Mouth m = mouth_of(c, p);
        CHECK((m.gap == p.min_film && m.leading_gap == p.leading_gap && m.facet_tilt == p.facet_tilt &&
               m.wedge_angle == p.ink_wedge_angle && m.film == 2.0 * p.film_on_lands && m.line_load == p.line_load));
        const double size = entry_size(m, 0.15);
        CHECK(size > before);
        before = size;
        ParticleClass grit = sphere(3e-6, 0.15);
        grit.size_spread = 2.0, grit.friction_spread = 1.4;
        const double now = rate(scoring(c, p, std::array{grit}, {}, {}), Outcome::scores);
        CHECK(now > scored);
        scored = now;
    }
    // Run in again at the higher load, the mouth is closed: less than at the lower one.
    CHECK(entry_size(mouth_of(press_case(200.0), solve(press_case(200.0))), 0.15) <
          entry_size(mouth_of(press_case(100.0), solve(press_case(100.0))), 0.15));
}

TEST_CASE("a filter takes scores away, a magnet only those of iron", "[scoring]") {
    ParticleClass grit = sphere(20e-6, 0.15);
    grit.size_spread = 2.0, grit.friction_spread = 1.6, grit.tank_rate = 1e4;
    const Case c = press_case();
    double before = std::numeric_limits<double>::infinity();
    for (const double size : {200e-6, 100e-6, 50e-6, 20e-6}) {
        InkLoop loop;
        loop.filter = Filter{size, 75.0, 4.0, 0.0};
        const double now = rate(risk_of(c, grit, loop), Outcome::scores);
        CHECK((now > 0.0 && now < before));
        before = now;
    }
    InkLoop magnet;
    magnet.magnet = Magnet{};
    CHECK(rate(risk_of(c, grit, magnet), Outcome::scores) == rate(risk_of(c, grit), Outcome::scores));
    grit.ferrous_share = 0.5;
    const double held = rate(risk_of(c, grit, magnet), Outcome::scores);
    CHECK((held < rate(risk_of(c, grit), Outcome::scores) && held > 0.49 * rate(risk_of(c, grit), Outcome::scores)));
}

TEST_CASE("the first score comes as a process of independent events has it", "[scoring]") {
    const std::array steady{ScoreSource{2e-12, {1e8, 0.0, 0.0, 0.0}}};  // 2e-4 a second
    expect_close(expected_scores(steady, 1e4), 2.0, 1e-12, "count");
    expect_close(time_of_first_score(steady, 0.5), std::numbers::ln2 / 2e-4, 1e-9, "exponential");
    expect_close(time_of_first_score(steady, 0.9), std::log(10.0) / 2e-4, 1e-9, "exponential");
    const std::array growing{ScoreSource{2e-12, {0.0, 0.0, 0.0, 1e5}}};  // 2e-7 t a second
    expect_close(time_of_first_score(growing, 0.5), std::sqrt(std::numbers::ln2 / 1e-7), 1e-9, "Rayleigh");
    const std::array dying{ScoreSource{1e-12, {0.0, 1e8, 1e-3, 0.0}}};  // 0.1 in all
    CHECK(std::isinf(time_of_first_score(dying, 0.5)));
    expect_close(expected_scores(dying, 1e9), 0.1, 1e-12, "all there will ever be");
    CHECK(std::isinf(time_of_first_score({}, 0.1)));

    ParticleClass p = sphere(5e-6, 0.7);
    const ScoringRisk constant = risk_of(press_case(), p);
    expect_close(constant.first_score.mean, 1.0 / rate(constant, Outcome::scores), 1e-6, "exponential: mean");
    expect_close(constant.first_score.p10, -std::log(0.9) * constant.first_score.mean, 1e-6, "exponential: 10 %");
    p.fresh_number = 0.0, p.tank_rate = 1e-3;
    InkLoop closed;
    closed.consumption = 0.0;
    const ScoringRisk rising = risk_of(press_case(), p, closed);  // nothing leaves: the number grows with time
    const double growth = rising.sources[0].flow * rising.sources[0].number.slope;
    expect_close(rising.first_score.mean, std::sqrt(pi / (2.0 * growth)), 1e-6, "Rayleigh: mean");
    p.hardness = 11e9;
    CHECK(std::isinf(risk_of(press_case(), p).first_score.mean));
}

TEST_CASE("a blade worn to a feather sheds slivers, and more at a lower angle", "[scoring]") {
    ParticleClass sliver = sphere(40e-6, 0.2, 5.5e9);
    sliver.shape = ParticleShape::flake, sliver.fresh_number = 0.0, sliver.worn_blade_share = 0.01;
    Case worn = press_case();
    worn.tip = Facet{WornLength{}, BeddedHere{}, 1e-6};
    CHECK(risk_of(press_case(), sliver).classes[0].chamber_number == 0.0);
    const ScoringRisk at_30 = risk_of(worn, sliver);
    CHECK(at_30.classes[0].chamber_number > 0.0);
    CHECK(rate(at_30, Outcome::scores) == 0.0);  // steel does not score the ceramic
    sliver.worn_blade_share = 0.02;
    expect_close(risk_of(worn, sliver).rate[0], 2.0 * at_30.rate[0], 1e-9, "twice the share");
    // By the laws of feather.hpp; drag pushes the edge of a doctoring blade back and pulls that of a trailing one out.
    for (const Orientation orientation : {Orientation::doctoring, Orientation::trailing}) {
        worn.setting.orientation = orientation;
        const OperatingPoint p = solve(worn);
        const double drag = p.tangential_load / p.facet_length;
        const double peak =
            feather_stress(p.bedded_angle, p.mean_pressure, orientation == Orientation::trailing ? drag : -drag).peak;
        const double volume = 0.02 * peak / feather_stress(30.0 * deg, 0.5e6).peak * 2e-15 * p.asperity_load;
        const double shed = volume * 5.0 / (0.5 * 2e-6 * 40e-6 * 40e-6);  // of one size
        const InkLoop loop;  // steady: what is shed leaves with the web, Q (1 - E) n -> S_c
        const double last = chamber_number(loop, 0.0, 0.0, 0.0, 0.0, shed).at(8 * 3600.0);
        const ScoringRisk r = scoring(worn, p, std::array{sliver}, loop, {});
        expect_close(r.classes[0].last[0], last * offered_flow(r.mouth, 40e-6), 1e-9, "number in the chamber");
    }
}

TEST_CASE("bad options are refused, and a point that failed gives no numbers", "[scoring]") {
    ScoringOptions o;
    o.face_width = 0.0, o.sizes = 3;
    try {
        (void)risk_of(press_case(), sphere(1e-6, 0.2), {}, o);
        FAIL("not refused");
    } catch (const InvalidInput& e) {
        REQUIRE(e.problems().size() == 2);
        CHECK((e.problems()[0].path == "face_width" && e.problems()[1].path == "sizes"));
    }
    OperatingPoint failed;
    failed.convergence.status = Status::lying_flat;
    const ScoringRisk r = scoring(press_case(), failed, std::array{sphere(1e-6, 0.2)}, {}, {});
    CHECK((std::isnan(r.rate[0]) && std::isnan(r.first_score.p50) && r.convergence.status == Status::lying_flat));
}
