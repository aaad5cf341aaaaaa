#include "libblade/tip_outline.hpp"

#include <algorithm>
#include <numbers>
#include <utility>
#include <vector>

#include "expect.hpp"
#include "libblade/error.hpp"

using namespace libblade;

namespace {

constexpr double pi = std::numbers::pi;
constexpr double deg = pi / 180.0;
constexpr double um = 1e-6;
const char* const kExact = "plane geometry in double precision";

struct Cut {
    double length, span, area;
    std::size_t stretches;
};

/// The same cut by clipping the polygon (Sutherland & Hodgman 1974; shoelace area), the body closed at 20 mm. The line
/// is turned into the blade's frame, not the blade to the roll.
Cut clip(const Outline& outline, double angle, double retreat) {
    using Long = long double;  // the heights of a small cut lose digits
    struct P {
        Long u, v;
    };
    std::vector<P> blade;
    for (const OutlinePoint& p : outline) blade.push_back({p.along, p.across});
    blade.push_back({20e-3L, outline.back().across});
    blade.push_back({20e-3L, outline.front().across});
    const Long s = std::sin(Long{angle}), c = std::cos(Long{angle});
    Long touch = 1.0L;
    for (const P& p : blade) touch = std::min(touch, p.u * s + p.v * c);
    const auto height = [&](const P& p) { return p.u * s + p.v * c - touch - retreat; };
    std::vector<P> below;
    std::vector<Long> crossings;  // along the roll
    for (std::size_t i = 0; i < blade.size(); ++i) {
        const P &p = blade[i], &q = blade[(i + 1) % blade.size()];
        const Long hp = height(p), hq = height(q), share = hp / (hp - hq);
        if (hp <= 0.0L) below.push_back(p);
        if ((hp <= 0.0L) == (hq <= 0.0L)) continue;
        below.push_back({p.u + share * (q.u - p.u), p.v + share * (q.v - p.v)});
        crossings.push_back(below.back().u * c - below.back().v * s);
    }
    Long area = 0.0L, length = 0.0L;
    for (std::size_t i = 0; i < below.size(); ++i) {
        const P &p = below[i], &q = below[(i + 1) % below.size()];
        area += 0.5L * (q.u * p.v - p.u * q.v);
    }
    std::sort(crossings.begin(), crossings.end());
    for (std::size_t i = 0; i + 1 < crossings.size(); i += 2) length += crossings[i + 1] - crossings[i];
    return {static_cast<double>(length), static_cast<double>(crossings.back() - crossings.front()),
            static_cast<double>(area), crossings.size() / 2};
}

struct Named {
    const char* name;
    Outline outline;
};

std::vector<Named> sharp_outlines() {
    return {
        {"square", tip_outline(200 * um, SquareEnd{})},
        {"bevel, away side", tip_outline(200 * um, BevelledEnd{45 * deg, 200 * um, BladeSide::away})},
        {"long bevel, away side", tip_outline(150 * um, BevelledEnd{3 * deg, 150 * um, BladeSide::away})},
        {"part bevel, away side", tip_outline(200 * um, BevelledEnd{20 * deg, 120 * um, BladeSide::away})},
        {"bevel below the angle", tip_outline(200 * um, BevelledEnd{25 * deg, 200 * um, BladeSide::roll_facing})},
        {"part bevel above the angle", tip_outline(200 * um, BevelledEnd{70 * deg, 150 * um, BladeSide::roll_facing})},
        {"thin tip, level", tip_outline(200 * um, SteppedEnd{95 * um, 1.4e-3, Flush::roll})},
        {"thin tip, away", tip_outline(200 * um, SteppedEnd{95 * um, 1.4e-3, Flush::away})},
        {"short tip, away", tip_outline(200 * um, SteppedEnd{95 * um, 0.05e-3, Flush::away})},
        {"measured", {{300 * um, 0.0}, {40 * um, 5 * um}, {0.0, 60 * um}, {25 * um, 140 * um}, {90 * um, 200 * um}}}};
}

}  // namespace

TEST_CASE("facet and worn area against polygon clipping", "[tip_outline]") {
    for (const Named& shape : sharp_outlines())
        for (const double angle : {28 * deg, 37.3 * deg, 58 * deg}) {
            const FacetLaw law(shape.outline, angle);
            for (const double z :
                 {0.7 * um, 13 * um, 61 * um, 160 * um, 190 * um, 333 * um, 700 * um, 850 * um, 2e-3}) {
                INFO(shape.name << ", " << angle / deg << " deg, retreat " << z);
                const OutlineFacet facet = law.at(z);
                const Cut cut = clip(shape.outline, angle, z);
                expect_close(facet.length, cut.length, 1e-12, kExact);
                expect_close(facet.area, cut.area, 1e-12, kExact);
                expect_close(facet.span, cut.span, 1e-12, kExact);
                CHECK(static_cast<std::size_t>(facet.stretches) == cut.stretches);
            }
        }
}

TEST_CASE("a square end follows the corner law", "[tip_outline]") {
    const double t = 200 * um, a = 30 * deg;
    const FacetLaw law(tip_outline(t, SquareEnd{}), a);
    for (const double z : {1e-9, 1 * um, 100 * um, 173 * um}) {
        const OutlineFacet facet = law.at(z);
        expect_close(facet.length, z / (std::sin(a) * std::cos(a)), 1e-13, kExact);
        expect_close(facet.area, z * z / (2.0 * std::sin(a) * std::cos(a)), 1e-13, kExact);
        expect_close(facet.front_angle, 60 * deg, 1e-13, "90 deg - a");
        expect_close(facet.body_angle, 30 * deg, 1e-13, "a");
        expect_close(facet.widening, 1.0 / (std::sin(a) * std::cos(a)), 1e-13, "cot a + tan a");
    }
    const OutlineFacet worn = law.at(1e-3);
    expect_close(worn.length, t / std::sin(a), 1e-13, kExact);
    expect_close(worn.front_angle, 150 * deg, 1e-13, "180 deg - a once the cut face is gone");
    CHECK(std::abs(worn.widening) < 1e-14);
    // Fully worn at z = t cos a, with t^2 cot a / 2 worn away.
    const std::vector<WearEvent> events = law.events();
    REQUIRE(events.size() == 2);
    CHECK(events[0].length_after == 0.0);
    expect_close(events[1].retreat, t * std::cos(a), 1e-13, kExact);
    expect_close(events[1].area, 0.5 * t * t / std::tan(a), 1e-13, kExact);
    expect_close(events[1].length_lost, t / std::tan(a), 1e-13, kExact);
    // From there a length costs its thickness: dA = t dl.
    expect_close(law.at(1e-3).area - law.at(0.5e-3).area, t * (law.length_lost(1e-3) - law.length_lost(0.5e-3)), 1e-12,
                 kExact);
}

// Archard 1953 (J. Appl. Phys. 24:981) on plane geometry, check values H1 and H2 (recomputed, printed to 10 digits):
// the area worn away is specific wear x load x distance.
TEST_CASE("facets of worn edges at a distance run", "[tip_outline]") {
    const auto facet = [](const FacetLaw& law, double area) { return law.at(law.retreat_for_area(area)).length; };
    const FacetLaw square(tip_outline(1e-3, SquareEnd{}), 30 * deg);
    expect_close(facet(square, 1e-15 * 200.0 * 1e5), 3.039342743e-4, 1e-9, "H1-wedge: flanks of 30 and 60 deg");
    const FacetLaw wedge(tip_outline(1e-3, BevelledEnd{60 * deg, 1e-3, BladeSide::away}), 45 * deg);
    expect_close(facet(wedge, 2e-15 * 150.0 * 2e5), 3.900691004e-4, 1e-9, "H1-wedge2: flanks of 45 and 75 deg");
    const FacetLaw blade(tip_outline(150 * um, SquareEnd{}), 30 * deg);
    expect_close(facet(blade, 1e-15 * 250.0 * 2e4), 1.519671371e-4, 1e-9, "H2-2e4");
    expect_close(blade.retreat_for_area(1e-15 * 250.0 * 2e4), 6.580370065e-5, 1e-9, "H2-2e4");
    expect_close(blade.retreat_for_area(1e-15 * 250.0 * 1e7), 8.398285239e-3, 1e-9, "H2-1e7");
    expect_close(blade.events().back().area / (1e-15 * 250.0), 77942.28634, 1e-9, "distance to the full facet");
}

TEST_CASE("a bevel on the away side steepens the front and widens all its life", "[tip_outline]") {
    const double t = 200 * um, a = 30 * deg, bevel = 45 * deg;
    const FacetLaw law(tip_outline(t, BevelledEnd{bevel, t, BladeSide::away}), a);
    const double full = t * std::sin(a + bevel) / std::sin(bevel), front = pi - a - bevel;
    for (const double share : {0.01, 0.5, 0.99}) {
        const OutlineFacet facet = law.at(share * full);
        expect_close(facet.length, share * full * (1.0 / std::tan(a) + 1.0 / std::tan(front)), 1e-12, kExact);
        expect_close(facet.front_angle, front, 1e-12, "180 deg - a - B");
    }
    expect_close(law.events().back().retreat, full, 1e-13, kExact);
    expect_close(law.at(2.0 * full).length, t / std::sin(a), 1e-13, kExact);
    // At 90 deg the bevel is the square cut.
    const FacetLaw square(tip_outline(t, SquareEnd{}), a);
    const FacetLaw right(tip_outline(t, BevelledEnd{90 * deg, t, BladeSide::away}), a);
    for (const double z : {3 * um, 90 * um, 400 * um})
        expect_close(right.at(z).length, square.at(z).length, 1e-12, kExact);
    CHECK(law.at(100 * um).length < square.at(100 * um).length);
}

TEST_CASE("a bevel on the roll-facing side: edge, heel and the facet ground to the angle", "[tip_outline]") {
    const double t = 200 * um, a = 30 * deg;
    const OutlineFacet edge = FacetLaw(tip_outline(t, BevelledEnd{25 * deg, t, BladeSide::roll_facing}), a).at(2 * um);
    expect_close(edge.body_angle, 5 * deg, 1e-10, "a - B");
    expect_close(edge.front_angle, 150 * deg, 1e-12, "the away side leans over the roll");
    const OutlineFacet heel = FacetLaw(tip_outline(t, BevelledEnd{40 * deg, t, BladeSide::roll_facing}), a).at(2 * um);
    expect_close(heel.front_angle, 10 * deg, 1e-10, "B - a");
    expect_close(heel.body_angle, a, 1e-12, "a");
    // Ground to the running angle.
    const FacetLaw ground(tip_outline(t, BevelledEnd{a, t, BladeSide::roll_facing}), a);
    const std::vector<WearEvent> events = ground.events();
    expect_close(events.front().length_after, t / std::sin(a), 1e-10, "a facet from the first touch");
    expect_close(ground.at(1 * um).length, t / std::sin(a), 1e-10, "and it stays");
    expect_close(ground.at(50 * um).area, 50 * um * t / std::sin(a), 1e-10, kExact);
}

TEST_CASE("a thin tip keeps its facet until the step", "[tip_outline]") {
    const double t = 200 * um, tip = 95 * um, l = 1.4e-3, a = 32 * deg, s = std::sin(a), c = std::cos(a);
    SECTION("level with the roll-facing side") {
        const SteppedEnd end{tip, l, Flush::roll};
        const FacetLaw law(tip_outline(t, end), a);
        const StepWear step = step_wear(t, end, a);
        expect_close(step.retreat_to_step, l * s + tip * c, 1e-13, kExact);
        expect_close(step.facet_at_step, tip / s, 1e-12, kExact);
        expect_close(step.area_to_step, tip * l + 0.5 * tip * tip * c / s, 1e-12, "the tip and the triangle behind it");
        expect_close(step.retreat_to_body - step.retreat_to_step, (t - tip) * c, 1e-11, "growth, not a jump");
        expect_close(step.facet_of_body, t / s, 1e-12, kExact);
        expect_close(step.area_to_body, tip * l + 0.5 * t * t * c / s, 1e-12, kExact);
        const OutlineFacet half = law.at(0.5 * (step.retreat_to_step + step.retreat_to_body));
        expect_close(half.length, 0.5 * (tip + t) / s, 1e-12, kExact);
        expect_close(half.front_angle, 0.5 * pi - a, 1e-12, "the step's face");
        CHECK(half.stretches == 1);
    }
    SECTION("level with the away side: the shoulder touches apart") {
        const SteppedEnd end{tip, l, Flush::away};
        const FacetLaw law(tip_outline(t, end), a);
        const StepWear step = step_wear(t, end, a);
        expect_close(step.retreat_to_step, l * s - (t - tip) * c, 1e-12, kExact);
        expect_close(step.facet_at_step, tip / s, 1e-12, kExact);
        const double z = step.retreat_to_step + 20 * um;
        CHECK(law.at(z).stretches == 2);
        expect_close(law.at(z).length, tip / s + 20 * um / (s * c), 1e-12, kExact);
        expect_close(law.at(z).span, t / s, 1e-12, "from the away side to the roll-facing side");
        expect_close(step.facet_of_body, t / s, 1e-12, kExact);
        CHECK(law.at(step.retreat_to_body * (1.0 + 1e-9)).stretches == 1);
    }
    SECTION("in the middle: first the shoulder, then the tip, then the far step") {
        const SteppedEnd end{tip, l, Flush::centre};
        const FacetLaw law(tip_outline(t, end), a);
        const StepWear step = step_wear(t, end, a);
        expect_close(step.retreat_to_step, l * s - 0.5 * (t - tip) * c, 1e-12, kExact);
        expect_close(step.facet_at_step, tip / s, 1e-12, kExact);
        expect_close(step.retreat_to_body - step.retreat_to_step, t * c, 1e-12, kExact);
        expect_close(step.facet_of_body, t / s, 1e-12, kExact);
        CHECK(law.at(0.999 * step.retreat_to_body).length < step.facet_of_body);
    }
    SECTION("a tip too short to reach the roll") {
        const StepWear step = step_wear(t, {tip, 0.05e-3, Flush::away}, a);
        CHECK(step.retreat_to_step == 0.0);
        CHECK(step.facet_at_step == 0.0);
        expect_close(step.facet_of_body, t / s, 1e-12, kExact);
    }
}

TEST_CASE("outline of a blade in sections", "[tip_outline]") {
    Blade blade;
    const auto expect_same = [](const Outline& a, const Outline& b) {
        REQUIRE(a.size() == b.size());
        for (std::size_t i = 0; i < a.size(); ++i) {
            CHECK(std::abs(a[i].along - b[i].along) < 1e-18);
            CHECK(std::abs(a[i].across - a[0].across - b[i].across + b[0].across) < 1e-18);
            CHECK(a[i].radius == b[i].radius);
        }
    };
    expect_same(blade_outline(blade, 2 * um), tip_outline(blade.thickness, SquareEnd{}, 2 * um));
    for (const Flush flush : {Flush::roll, Flush::away, Flush::centre}) {
        blade.sections = {{10e-3, 200 * um, {}, Flush::roll}, {1.4e-3, 95 * um, {}, flush}};
        expect_same(blade_outline(blade, 2 * um), tip_outline(200 * um, SteppedEnd{95 * um, 1.4e-3, flush}, 2 * um));
        // The same blade, its body in two lengths.
        blade.sections = {{4e-3, 200 * um, {}, Flush::roll}, {6e-3, 200 * um, {}, flush}, {1.4e-3, 95 * um, {}, flush}};
        expect_same(blade_outline(blade, 2 * um), tip_outline(200 * um, SteppedEnd{95 * um, 1.4e-3, flush}, 2 * um));
    }
    // A taper about its mid-plane, 200 to 100 um over 2 mm: its face stands at a - atan(50 / 2000) to the roll.
    blade.sections = {{10e-3, 200 * um, {}, Flush::roll}, {2e-3, 200 * um, 100 * um, Flush::roll}};
    const FacetLaw law(blade_outline(blade), 30 * deg);
    const double tilt = std::atan(50.0 / 2000.0), z = 10 * um;
    expect_close(law.at(z).body_angle, 30 * deg - tilt, 1e-10, kExact);
    expect_close(law.at(z).length, z * (1.0 / std::tan(30 * deg - tilt) + std::tan(30 * deg)), 1e-11, kExact);
    expect_close(law.at(3e-3).length, 200 * um / std::sin(30 * deg), 1e-12, "the body");
    blade.sections[1].length = -1e-3;
    CHECK_THROWS_AS(blade_outline(blade), InvalidInput);
    blade.sections = {{10e-3, 200 * um, {}, Flush::roll}, {1.4e-3, 95 * um, {}, Flush::away}};
    CHECK_THROWS_AS(blade_outline(blade, 60 * um), InvalidInput);
}

TEST_CASE("area is the integral of length, and both can be inverted", "[tip_outline]") {
    std::vector<Named> shapes = sharp_outlines();
    shapes.push_back({"rounded square", tip_outline(200 * um, SquareEnd{}, 3 * um)});
    shapes.push_back({"rounded tip", tip_outline(200 * um, SteppedEnd{95 * um, 1.4e-3}, 40 * um)});
    // Gauss-Legendre of three points is exact on the straight pieces.
    const auto integral = [](const FacetLaw& law, double from, double to, int parts) {
        double sum = 0.0;
        const double step = (to - from) / parts;
        for (int i = 0; i < parts; ++i) {
            const double middle = from + (i + 0.5) * step, away = 0.5 * step * std::sqrt(0.6);
            sum +=
                step / 18.0 *
                (5.0 * law.at(middle - away).length + 8.0 * law.at(middle).length + 5.0 * law.at(middle + away).length);
        }
        return sum;
    };
    for (const Named& shape : shapes) {
        const FacetLaw law(shape.outline, 31 * deg);
        const std::vector<WearEvent> events = law.events();
        const bool rounded = shape.outline.front().radius > 0.0;
        double sum = 0.0;
        for (std::size_t i = 0; i + 1 < events.size(); ++i) {
            INFO(shape.name << ", piece " << i);
            sum += integral(law, events[i].retreat, events[i + 1].retreat, rounded ? 4000 : 1);
            expect_close(events[i + 1].area, sum, rounded ? 1e-6 : 1e-12, "the first root of a rounding is integrated");
            const double z = 0.3 * events[i].retreat + 0.7 * events[i + 1].retreat;
            expect_close(law.retreat_for_area(law.at(z).area), z, 1e-12, "inverse");
            if (law.at(z).widening > 1e-6) expect_close(law.retreat_for_length(law.at(z).length), z, 1e-11, "inverse");
        }
        CHECK(law.retreat_for_area(0.0) == 0.0);
        const double beyond = events.back().retreat + 77 * um;
        expect_close(law.retreat_for_area(law.at(beyond).area), beyond, 1e-12, "beyond the last corner");
        CHECK(std::isnan(law.retreat_for_length(1.01 * law.at(beyond).length)));
        CHECK(std::isnan(law.retreat_for_length(-1.0)));
        CHECK(std::isnan(law.at(-1.0).length));
    }
}

TEST_CASE("a rounded corner: circle, then flanks", "[tip_outline]") {
    const double r = 5 * um, a = 30 * deg, front = 60 * deg;
    const FacetLaw law(tip_outline(200 * um, SquareEnd{}, r), a);
    // Each side of the lowest point: the circle up to r (1 - cos), then its tangent at the angle of the face.
    const auto side = [&](double z, double angle) {
        return z < r * (1.0 - std::cos(angle)) ? std::sqrt(z * (2.0 * r - z))
                                               : z / std::tan(angle) + r * std::tan(0.5 * angle);
    };
    for (const double z : {1e-11, 0.1 * um, 0.5 * um, 1 * um, 2.2 * um, 3 * um, 20 * um, 150 * um})
        expect_close(law.at(z).length, side(z, a) + side(z, front), 1e-12, kExact);
    expect_close(law.at(1e-14).front_angle, std::sqrt(2e-14 / r), 1e-6, "level at the first touch");
    // The sharp corner lies below the circle: the same chord at a retreat larger by what the rounding took.
    const double lost = r * (std::tan(0.5 * a) + std::tan(0.5 * front)) / (1.0 / std::tan(a) + 1.0 / std::tan(front));
    const FacetLaw sharp(tip_outline(200 * um, SquareEnd{}), a);
    expect_close(law.at(50 * um).length, sharp.at(50 * um + lost).length, 1e-12, kExact);
    // Area against a polygon of many sides, inscribed: short by about (turn / n)^2.
    Outline many{{300 * um, 0.0}};
    constexpr int n = 2000;
    for (int i = 0; i <= n; ++i)
        many.push_back({r - r * std::sin(0.5 * pi * i / n), r - r * std::cos(0.5 * pi * i / n)});
    many.push_back({0.0, 100 * um});
    const FacetLaw polygon(many, a);
    for (const double z : {0.5 * um, 3 * um, 40 * um})
        expect_close(law.at(z).area, polygon.at(z).area, 2e-6, "polygon of 2000 sides");
}

TEST_CASE("on a round roll the facet is an arc", "[tip_outline]") {
    expect_close(facet_sag(200 * um, 0.07), 0.0714286 * um, 1e-6, "(200 um)^2 / (8 x 70 mm)");
    // Against the chord of a circle: R (1 - cos(asin(b / 2 R))).
    const double R = 20e-3, b = 200 * um;
    expect_close(facet_sag(b, R), R - std::sqrt(R * R - 0.25 * b * b), 1e-5, "first term in (b / R)^2");
    // A circle of radius R pressed into the square corner by z below its lowest point cuts the faces at two points.
    const double a = 30 * deg, z = 80 * um;
    const auto reach = [&](double angle) {  // x where the face meets the circle: x tan(angle) = z - sag(x)
        double x = z / std::tan(angle);
        for (int i = 0; i < 50; ++i) x = (z - (R - std::sqrt(R * R - x * x))) / std::tan(angle);
        return x;
    };
    const double left = reach(0.5 * pi - a), right = reach(a);
    const double line = FacetLaw(tip_outline(300 * um, SquareEnd{}), a).at(z).length;
    // First term in b / R: the ends of the line's facet lie x^2 / (2 R) above the circle.
    const double cot = 1.0 / std::tan(a), tan = std::tan(a);
    const double first = 0.5 * line / R * (cot * cot * cot + tan * tan * tan) / ((cot + tan) * (cot + tan));
    expect_close(line / (left + right) - 1.0, first, 0.02, "first term in b / R, itself half a per cent");
}

TEST_CASE("outlines that are none are refused with every reason", "[tip_outline]") {
    CHECK_THROWS_AS(tip_outline(-1.0, SquareEnd{}, -1.0), InvalidInput);
    try {
        (void)tip_outline(-1.0, SquareEnd{}, -1.0);
    } catch (const InvalidInput& e) {
        CHECK(e.problems().size() == 2);
    }
    CHECK_THROWS_AS(tip_outline(2e-4, SquareEnd{}, 1.1e-4), InvalidInput);
    CHECK_THROWS_AS(tip_outline(2e-4, BevelledEnd{2.0, 1e-4, BladeSide::away}), InvalidInput);
    CHECK_THROWS_AS(tip_outline(2e-4, BevelledEnd{0.5, 3e-4, BladeSide::away}), InvalidInput);
    CHECK_THROWS_AS(tip_outline(2e-4, SteppedEnd{2e-4, 1e-3, Flush::away}), InvalidInput);
    CHECK_THROWS_AS(tip_outline(2e-4, SteppedEnd{1e-4, 0.0, Flush::away}), InvalidInput);
    const Outline square = tip_outline(2e-4, SquareEnd{});
    CHECK_THROWS_AS(FacetLaw(square, 0.0), InvalidInput);
    CHECK_THROWS_AS(FacetLaw(square, 0.5 * pi), InvalidInput);
    CHECK_THROWS_AS(FacetLaw({{0.0, 0.0}}, 0.5), InvalidInput);
    CHECK_THROWS_AS(FacetLaw({{0.0, 0.0}, {0.0, 0.0}, {0.0, 1e-4}}, 0.5), InvalidInput);
    CHECK_THROWS_AS(FacetLaw({{0.0, 0.0}, {0.0, 1e-4}, {1e-4, 1e-4, 1e-5}, {1e-4, 2e-4}}, 0.5), InvalidInput);
}
