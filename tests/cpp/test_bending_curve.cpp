// Load-deflection curve, folds, buckling, frequencies; and many random blades.
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include "expect.hpp"
#include "film_problem.hpp"
#include "libblade/bending.hpp"

using namespace libblade;

namespace {

constexpr double kPi = std::numbers::pi, kInf = std::numeric_limits<double>::infinity();

Strip steel_strip() {
    const double t = 0.2e-3;
    Strip s{205e9 * t * t * t / (12.0 * (1.0 - 0.29 * 0.29)), 12e-3, kPi / 6.0, 0.5 * t, 0.0, 0.07};
    s.thickness = t;
    return s;
}

std::vector<LoadCurvePoint> marked(const LoadCurve& curve, CurveEvent event) {
    std::vector<LoadCurvePoint> out;
    for (const LoadCurvePoint& p : curve.points)
        if (p.event == event) out.push_back(p);
    return out;
}

/// Largest angle that balances a load, by halving: no derivative, no continuation.
double angle_by_halving(const Strip& s, double N, double ratio, double low, double high) {
    for (int i = 0; i < 60; ++i) {
        const double a = 0.5 * (low + high);
        (strip_mismatch(s, a, {N, ratio * N, 0.0}, 32).angle_residual > 0.0 ? low : high) = a;
    }
    return 0.5 * (low + high);
}

}  // namespace

TEST_CASE("points of the load curve are solutions and its marks lie where they should", "[bending]") {
    for (const double mu : {-0.3, 0.0, 0.3}) {
        Strip s = steel_strip();
        s.plate = {6e-3, 6e-5, 0.0};
        LoadCurveOptions options;
        options.yield_strength = 0.9e9;
        options.max_load = 6000.0;
        const LoadCurve curve = load_curve(s, mu, options);
        REQUIRE(curve.convergence.ok());
        expect_close(curve.points.back().normal, 6000.0, 1e-9, "ends at its bound");
        double last = 1.0;
        for (const LoadCurvePoint& p : curve.points) {
            const Bent b = solve_contact(s, {p.normal, mu * p.normal, 0.0});
            INFO(mu << ' ' << p.normal << ' ' << b.convergence.message);
            REQUIRE(b.convergence.ok());
            CHECK(std::abs(b.interference - p.interference) < 1e-9 * s.length);
            CHECK(std::abs(b.effective_angle - p.effective_angle) < 1e-8);
            CHECK(std::abs(b.plate_force - p.plate_force) <= 1e-5 * p.normal);
            CHECK(p.effective_angle <= last + 1e-12);  // the angle only falls
            last = p.effective_angle;
        }
        const auto touch = marked(curve, CurveEvent::plate_contact), flat = marked(curve, CurveEvent::lying_flat),
                   yield = marked(curve, CurveEvent::yield);
        REQUIRE(touch.size() == 1);
        REQUIRE(flat.size() == 1);
        REQUIRE(yield.size() == 1);
        const auto solve = [&](double N) { return solve_contact(s, {N, mu * N, 0.0}); };
        CHECK(solve(touch[0].normal * (1 - 1e-6)).plate_force == 0.0);
        CHECK(solve(touch[0].normal * (1 + 1e-6)).plate_force > 0.0);
        CHECK(solve(flat[0].normal * (1 - 1e-6)).contact_mode == ContactMode::tip);
        CHECK(solve(flat[0].normal * (1 + 1e-6)).contact_mode == ContactMode::flat);
        expect_close(yield[0].max_stress, 0.9e9, 1e-8, "found on the curve");
    }
}

TEST_CASE("folds of the load curve against scanning", "[bending]") {
    // Doctoring close to tan a = 1 / mu: the force's arm about the mid-plane turns the tip up, the stiffness falls to
    // nothing.
    const Strip s{1.0, 1.0, 0.9684, 0.01374, 0.0, kInf};
    const double mu = -0.657;
    const LoadCurve curve = load_curve(s, mu);
    const auto fold = marked(curve, CurveEvent::interference_limit);
    REQUIRE(fold.size() == 1);
    // Scanned: interference at the angle that balances each load.
    const auto interference = [&](double N) {
        const double a = angle_by_halving(s, N, mu, 0.8, 1.2);
        return strip_mismatch(s, a, {N, mu * N, 0.0}, 32).interference;
    };
    double best = 0.0, at = 0.0;
    for (double N = 0.5; N < 1.6; N += 1e-3)
        if (const double d = interference(N); d > best) best = d, at = N;
    const double h = 1e-2, d0 = interference(at - h), d1 = interference(at), d2 = interference(at + h);
    const double vertex = at + 0.5 * h * (d0 - d2) / (d0 - 2.0 * d1 + d2);
    expect_close(fold[0].normal, vertex, 1e-3, "vertex of a parabola over 2 h, h^2 of it");
    expect_close(fold[0].interference, best, 1e-6, "the value is flat there");
    CHECK(std::abs(1.0 / tangent_stiffness(s, fold[0].effective_angle, {fold[0].normal, mu * fold[0].normal, 0.0})) <
          1e-6);
    const auto dig = marked(curve, CurveEvent::dig_in);
    REQUIRE(dig.size() == 1);
    expect_close(std::tan(dig[0].effective_angle), 1.0 / -mu, 1e-8, "definition");
    // A fixed holder finds no equilibrium beyond the fold, and one before it.
    ContactForce f;
    CHECK(solve_contact_at(s, 1.01 * fold[0].interference, mu, f).convergence.status == Status::unstable);
    REQUIRE(solve_contact_at(s, 0.99 * fold[0].interference, mu, f).convergence.ok());
    CHECK(f.normal < fold[0].normal);
    // Friction that digs in from first touch is marked there.
    const LoadCurve lost = load_curve(s, -0.8);
    REQUIRE_FALSE(lost.points.empty());
    CHECK(lost.points[0].event == CurveEvent::dig_in);
}

TEST_CASE("buckling of uniform and stepped strips", "[bending]") {
    const Reference ref("beam_tables/beams.csv");
    const Strip one{1.0, 1.0, 0.5, 0.0, 0.0, kInf};
    expect_close(buckling_load(one, 1.0, StripEnd::free), kPi * kPi / 4.0, 1e-7, "64 elements: (h k)^4 / 720");
    expect_close(buckling_load(one, 1.0, StripEnd::pinned), ref("clamped-pinned", "buckling"), 1e-7, "same");
    expect_close(buckling_load(one, 0.5, StripEnd::pinned), 4.0 * ref("clamped-pinned", "buckling"), 1e-7, "same");
    // Held in the middle: two spans, clamped-pinned and pinned-pinned, coupled; between 20.19 / 0.25 and pi^2 / 0.25.
    Strip held = one;
    held.plate = {0.5, 0.0, 0.0};
    const double load = buckling_load(held, 1.0, StripEnd::pinned, true);
    CHECK(load > 4.0 * kPi * kPi);
    CHECK(load < 4.0 * ref("clamped-pinned", "buckling"));
    // Stepped, clamped-free: tan(k1 a) tan(k2 b) = k2 / k1 (Timoshenko & Gere 1961, ch. 2, derived anew).
    Strip two = one;
    two.section_count = 2;
    two.sections[0] = {0.6, std::cbrt(12.0), std::cbrt(12.0), 1.0};
    two.sections[1] = {0.4, std::cbrt(12.0 * 0.2), std::cbrt(12.0 * 0.2), 1.0};
    double low = 0.1, high = 2.4;
    for (int i = 0; i < 100; ++i) {
        const double P = 0.5 * (low + high), k1 = std::sqrt(P), k2 = std::sqrt(P / 0.2);
        (k1 * std::sin(k1 * 0.6) * std::sin(k2 * 0.4) < k2 * std::cos(k1 * 0.6) * std::cos(k2 * 0.4) ? low : high) = P;
    }
    expect_close(buckling_load(two, 1.0, StripEnd::free), low, 1e-6, "64 elements");
    const Strip steel = steel_strip();
    const ContactForce f{100.0, -20.0, 0.0};
    const Bent b = solve_bending(steel, f);
    const double axial = 100.0 * std::sin(b.effective_angle) + 20.0 * std::cos(b.effective_angle);
    expect_close(buckling_ratio(steel, b, f), axial * 144e-6 / (20.190728556 * steel.stiffness), 1e-6, "by hand");
}

TEST_CASE("natural frequencies of uniform and stepped strips", "[bending]") {
    const Reference ref("beam_tables/beams.csv");
    const Strip s = steel_strip();
    const double unit = std::sqrt(s.stiffness / (7850.0 * 0.2e-3)) / (2.0 * kPi * 144e-6);
    expect_close(natural_frequency(s, StripEnd::free), std::pow(ref("clamped-free", "root"), 2) * unit, 1e-7,
                 "64 elements");
    expect_close(natural_frequency(s, StripEnd::pinned), std::pow(ref("clamped-pinned", "root"), 2) * unit, 1e-7,
                 "same");
    Strip unknown = s;
    unknown.thickness = 0.0;
    CHECK(std::isnan(natural_frequency(unknown, StripEnd::free)));
    // Stepped: exact transfer of (w, w', M, Q) over each section by Krylov's functions; the clamp leaves M and Q free.
    Strip two = s;
    two.section_count = 2;
    two.sections[0] = {8e-3, 0.2e-3, 0.2e-3, 2e11, 0.0, 7850.0};
    two.sections[1] = {4e-3, 0.1e-3, 0.1e-3, 2e11, 0.0, 7850.0};
    const auto misfit = [&](double omega, bool pinned) {
        std::array<std::array<double, 4>, 2> y{{{0, 0, 1, 0}, {0, 0, 0, 1}}};
        for (int i = 0; i < 2; ++i) {
            const StripSection& q = two.sections[static_cast<std::size_t>(i)];
            const double D = section_stiffness(q, q.thickness_tip);
            const double k = std::pow(q.density * q.thickness_tip * omega * omega / D, 0.25), x = k * q.length;
            const double a = 0.5 * (std::cosh(x) + std::cos(x)), b = 0.5 * (std::sinh(x) + std::sin(x)),
                         c = 0.5 * (std::cosh(x) - std::cos(x)), d = 0.5 * (std::sinh(x) - std::sin(x));
            for (auto& v : y) {
                const double w = v[0], t = v[1] / k, m = v[2] / (D * k * k), r = v[3] / (D * k * k * k);
                v = {w * a + t * b + m * c + r * d, k * (w * d + t * a + m * b + r * c),
                     D * k * k * (w * c + t * d + m * a + r * b), D * k * k * k * (w * b + t * c + m * d + r * a)};
            }
        }
        const std::size_t i = pinned ? 0 : 2, j = pinned ? 2 : 3;
        return y[0][i] * y[1][j] - y[1][i] * y[0][j];
    };
    for (const bool pinned : {false, true}) {
        double low = 10.0, high = low;
        while (misfit(low, pinned) * misfit(high * 1.01, pinned) > 0.0) high *= 1.01;
        low = high, high *= 1.01;
        for (int i = 0; i < 60; ++i) {
            const double m = 0.5 * (low + high);
            (misfit(low, pinned) * misfit(m, pinned) > 0.0 ? low : high) = m;
        }
        expect_close(natural_frequency(two, pinned ? StripEnd::pinned : StripEnd::free), low / (2.0 * kPi), 1e-6,
                     "64 elements");
    }
}

namespace {

struct Drawn {
    Strip s;
    double load, ratio, interference, modulus;
};
/// Far beyond what a press sees: foils of 20 um to bars of 5 mm, foam to carbide, 1 to 89 deg.
Drawn draw(Dice& dice) {
    const auto even = [&](double a, double b) { return a * std::pow(b / a, dice()); };
    Drawn r{};
    Strip& s = r.s;
    const double t = even(2e-5, 5e-3), E = r.modulus = even(1e8, 1e12);
    s.length = even(1e-3, 1e-1), s.set_angle = (1.0 + 88.0 * dice()) * kPi / 180.0;
    s.stiffness = E * t * t * t / 12.0, s.thickness = t, s.offset = 0.5 * t, s.roll_radius = even(5e-3, 1.0);
    s.pressure = dice() < 0.5 ? 0.0 : (2.0 * dice() - 1.0) * 1e5;
    if (dice() < 0.5) {
        s.section_count = 1 + static_cast<int>(4.0 * dice());
        std::array<double, 4> part{};
        double sum = 0.0, thick = t;
        const auto count = static_cast<std::size_t>(s.section_count);
        for (std::size_t i = 0; i < count; ++i) sum += part[i] = 0.1 + dice();
        const int flush = static_cast<int>(3.0 * dice());
        for (std::size_t i = 0; i < count; ++i) {
            StripSection& q = s.sections[i];
            q.length = s.length * part[i] / sum, q.modulus = E, q.thickness_clamp = thick;
            q.thickness_tip = dice() < 0.5 ? thick : thick * (0.5 + 0.5 * dice());
            thick = q.thickness_tip * (dice() < 0.7 ? 0.3 + 0.7 * dice() : 1.0);
            const double step = 0.5 * (thick - q.thickness_tip);
            if (i + 1 < count) q.jump = flush == 0 ? step : flush == 1 ? -step : 0.0;
            s.offset = 0.5 * q.thickness_tip;
        }
    }
    if (dice() < 0.33)
        s.plate = {s.length * (0.05 + 0.9 * dice()), dice() < 0.5 ? 0.0 : 0.05 * s.length * dice(),
                   dice() < 0.5 ? 0.0 : even(1e-12, 1e-7)};
    if (dice() < 0.33) s.holder_compliance = even(1e-11, 1e-6), s.holder_rotation = even(1e-8, 1e-2);
    r.ratio = (dice() < 0.5 ? -1.0 : 1.0) * dice();
    r.load = even(0.1, 1e4), r.interference = even(1e-6, 0.5 * s.length);
    return r;
}

bool classified(const Bent& b) {
    const Status s = b.convergence.status;
    return s == Status::converged || s == Status::unstable || s == Status::lifted_off || s == Status::out_of_range;
}

}  // namespace

TEST_CASE("random blades over hard ranges are solved or classified", "[bending]") {
#if defined(__SANITIZE_ADDRESS__)
    constexpr int kBlades = 100;
#else
    constexpr int kBlades = 10000;
#endif
    Dice dice(20260101);
    int lost_load = 0, lost_held = 0, solved = 0, rescanned = 0, followed = 0;
    for (int i = 0; i < kBlades; ++i) {
        const Drawn r = draw(dice);
        const ContactForce f{r.load, r.ratio * r.load, 0.0};
        const Bent b = solve_contact(r.s, f);
        ContactForce g;
        const Bent held = solve_contact_at(r.s, r.interference, r.ratio, g);
        INFO("blade " << i << ": " << b.convergence.message << " | " << held.convergence.message);
        lost_load += !classified(b), lost_held += !classified(held);
        for (const Bent* state : {&b, &held}) {
            const bool ok = state->convergence.ok();
            CHECK(ok == std::isfinite(state->interference));
            CHECK(ok == state->convergence.message.empty());
            if (!ok) continue;
            ++solved;
            CHECK(state->plate_force >= 0.0);
            CHECK(state->plate_clearance >= 0.0);
            CHECK(state->plate_force * (std::isinf(state->plate_clearance) ? 0.0 : state->plate_clearance) == 0.0);
            CHECK((state->contact_mode == ContactMode::tip) == (state->overhang == 0.0 && state->wrapped_arc == 0.0));
        }
        if (held.convergence.ok()) {
            CHECK(g.normal >= 0.0);
            CHECK(std::abs(held.interference - r.interference) <= 1e-8 * r.s.length);
        }
        // A sample of flat contacts is reached by raising the load from zero.
        if (i % 20 == 0 && b.convergence.ok() && b.contact_mode == ContactMode::flat && r.s.pressure == 0.0) {
            LoadCurveOptions way;
            way.max_load = r.load, way.max_interference = 1e3 * r.s.length;
            const LoadCurve curve = load_curve(r.s, r.ratio, way);
            if (curve.convergence.ok() && std::abs(curve.points.back().normal - r.load) < 1e-6 * r.load) {
                ++followed;
                CHECK(std::abs(curve.points.back().interference - b.interference) < 1e-6 * r.s.length);
            }
        }
        // A sample is confirmed by scanning the residual over the angles of the tip.
        if (i % 20 == 0 && b.convergence.ok() && b.contact_mode == ContactMode::tip && r.s.pressure == 0.0) {
            ++rescanned;
            const double a = b.effective_angle, h = 1e-4 * a;
            const auto residual = [&](double x) { return strip_mismatch(r.s, x, f, 64).angle_residual; };
            CHECK(residual(a - h) > 0.0);
            CHECK(residual(a + h) < 0.0);
            for (int k = 1; k < 40; ++k) {  // no stable balance between here and upright
                const double x0 = a + h + (0.5 * kPi - a - h) * (k - 1) / 40.0,
                             x1 = a + h + (0.5 * kPi - a - h) * k / 40.0;
                CHECK_FALSE((residual(x0) > 0.0 && residual(x1) < 0.0));
            }
        }
    }
    INFO("solved " << solved << ", lost " << lost_load << " and " << lost_held << ", scanned " << rescanned);
    CHECK(rescanned > kBlades / 200);
    CHECK(solved > kBlades * 4 / 5);
    CHECK(lost_load <= kBlades / 1000);
    CHECK(lost_held <= kBlades / 1000);
    CHECK(followed >= kBlades / 400);
}

namespace {

/// By brute force, one mechanism a line: pressure, then load are raised in small steps, and in each the angle is searched around
/// the last one for a stable balance (a residual that falls through zero) by widening and halving. No slopes, no continuation.
struct Ramp {
    enum class End { reached, flat, lost, dug_in, strained, refused } end = End::reached;
    double angle = 0.0, interference = 0.0, strain = 0.0;
};
Ramp raise(const Strip& strip, double modulus, double load, double ratio) {
    Strip s = strip;
    s.pressure = 0.0;
    Ramp out;
    out.angle = s.set_angle;
    constexpr int kPressure = 120, kLoad = 240;
    for (int k = strip.pressure == 0.0 ? kPressure : 1; k <= kPressure + kLoad; ++k) {
        s.pressure = strip.pressure * std::min(1.0, static_cast<double>(k) / kPressure);
        const double share = std::max(0.0, static_cast<double>(k - kPressure) / kLoad), N = load * share * share;
        const ContactForce f{N, ratio * N, 0.0};
        const auto residual = [&](double a) { return strip_mismatch(s, a, f, 32).angle_residual; };
        double low = out.angle, high = out.angle;
        bool found = false;
        for (double h = 1e-4; h < 0.35 && !found; h *= 1.6) {
            low = out.angle - h, high = out.angle + h;
            found = residual(low) > 0.0 && residual(high) < 0.0;
        }
        if (!found) return out.end = Ramp::End::lost, out;
        for (int i = 0; i < 50; ++i) {
            const double a = 0.5 * (low + high);
            (residual(a) > 0.0 ? low : high) = a;
        }
        out.angle = 0.5 * (low + high);
        if (out.angle <= 0.0) return out.end = Ramp::End::flat, out;
        if (out.angle > 0.5 * kPi) return out.end = Ramp::End::refused, out;
        if (N > 0.0 && N * (std::cos(out.angle) + ratio * std::sin(out.angle)) < 0.0)
            return out.end = Ramp::End::dug_in, out;
        const Bent b = bent_at(s, out.angle, f, 32, 1e-5);
        if (!b.convergence.ok()) return out.end = Ramp::End::refused, out;
        out.strain = b.max_stress / modulus, out.interference = b.interference;
        if (out.strain > 0.03) return out.end = Ramp::End::strained, out;
    }
    return out;
}

}  // namespace

TEST_CASE("a sample of every class is confirmed by brute force", "[bending]") {
#if defined(__SANITIZE_ADDRESS__)
    constexpr int kBlades = 40, kLeast = 1;
#else
    constexpr int kBlades = 500, kLeast = 6;
#endif
    Dice dice(20260102);
    int tip = 0, flat = 0, unstable = 0, beyond = 0, off = 0, open = 0;
    for (int i = 0; i < kBlades; ++i) {
        const Drawn r = draw(dice);
        if (i % 2 == 0) continue;
        const Bent b = solve_contact(r.s, {r.load, r.ratio * r.load, 0.0});
        const Ramp ramp = raise(r.s, r.modulus, r.load, r.ratio);
        INFO("blade " << i << ": " << b.convergence.message << " | ramp " << static_cast<int>(ramp.end) << " at "
                      << ramp.angle << " strained " << ramp.strain);
        using End = Ramp::End;
        switch (b.convergence.status) {
            case Status::converged:
                if (b.contact_mode == ContactMode::flat) {
                    CHECK(ramp.end != End::reached);
                    flat += ramp.end == End::flat;
                } else if (ramp.end == End::reached) {
                    CHECK(std::abs(b.effective_angle - ramp.angle) < 1e-5);
                    ++tip;
                } else {
                    ++open;
                }
                break;
            case Status::unstable:
                CHECK(ramp.end != End::reached);
                unstable += ramp.end == End::lost || ramp.end == End::dug_in;
                break;
            case Status::out_of_range:
                CHECK(ramp.end != End::reached);
                beyond += ramp.end == End::strained || ramp.end == End::refused || ramp.end == End::lost;
                break;
            default:
                ++open;
        }
        // Held at an interference that the unloaded blade does not reach: the pressure lifts it off.
        ContactForce g;
        const Bent held = solve_contact_at(r.s, r.interference, r.ratio, g);
        if (held.convergence.status == Status::lifted_off) {
            const Ramp idle = raise(r.s, r.modulus, 0.0, 0.0);
            INFO("unloaded " << idle.interference << " of " << r.interference);
            if (idle.end == End::reached) {
                CHECK(idle.interference > r.interference);
                ++off;
            }
        }
    }
    INFO("tip " << tip << ", flat " << flat << ", unstable " << unstable << ", beyond " << beyond << ", off " << off
                << ", open " << open);
    CHECK(std::min({tip, flat, unstable, beyond}) >= kLeast);
    CHECK(off >= kLeast / 4);
    CHECK(open <= kBlades / 20);
}

TEST_CASE("scaling of stepped, backed and pressed strips in a holder that gives", "[bending]") {
    // Lengths times k and moduli times c leave the angles: loads c k, pressure c, compliances 1 / c, per moment 1 / (c k^2).
    constexpr double k = 3.0, c = 0.7;
    Dice dice(7);
    int compared = 0, backed = 0, pressed = 0;
    for (int i = 0; i < 400; ++i) {
        Drawn r = draw(dice);
        if (r.s.section_count == 0) continue;
        const Bent a = solve_contact(r.s, {r.load, r.ratio * r.load, 0.0});
        if (!a.convergence.ok()) continue;
        Strip q = r.s;
        q.stiffness *= c * k * k * k, q.length *= k, q.offset *= k, q.pressure *= c, q.roll_radius *= k,
            q.thickness *= k;
        for (StripSection& part : q.sections)
            part.length *= k, part.thickness_clamp *= k, part.thickness_tip *= k, part.jump *= k, part.modulus *= c;
        q.plate.length *= k, q.plate.gap *= k, q.plate.compliance /= c;
        q.holder_compliance /= c, q.holder_rotation /= c * k * k;
        const double N = c * k * r.load;
        const Bent b = solve_contact(q, {N, r.ratio * N, 0.0});
        INFO(i << ' ' << b.convergence.message);
        REQUIRE(b.convergence.ok());
        ++compared, backed += a.plate_force > 0.0, pressed += r.s.pressure != 0.0;
        CHECK(std::abs(b.effective_angle - a.effective_angle) < 1e-9);
        CHECK(std::abs(b.tip_rotation - a.tip_rotation) < 1e-9);
        CHECK(std::abs(b.interference / k - a.interference) < 1e-9 * r.s.length);
        CHECK(std::abs(b.contact_arc_length / k - a.contact_arc_length) < 1e-9 * r.s.length);
        CHECK(std::abs(b.plate_force / (c * k) - a.plate_force) <= 1e-8 * (a.plate_force + r.load));
        CHECK(std::abs(b.max_stress / c - a.max_stress) <= 1e-8 * a.max_stress);
    }
    CHECK(compared > 60);
    CHECK(backed > 2);
    CHECK(pressed > 5);
}
