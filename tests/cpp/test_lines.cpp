#include "libblade/lines.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <set>

#include "expect.hpp"
#include "libblade/error.hpp"
#include "libblade/roll_wear.hpp"

using namespace libblade;

namespace {

constexpr double um = 1e-6, mm = 1e-3, kNan = std::numeric_limits<double>::quiet_NaN();

/// A nip in round numbers, so that each law can be worked out by hand: 4 um of ink in cells of 5 um, fill 0.8; 0.25 um on the
/// lands; half of every lift passes; 0.02 um more for every um that the roll comes nearer.
LineContext by_hand(double pressure = 0.0) {
    LineContext k;
    k.film = 0.25 * um, k.cell_ink = 4.0 * um, k.film_after_step = 0.4 * um, k.film_riding = kNan;
    k.lift = {0.0, 20.0 * um, 60.0 * um}, k.lifted_film = {0.25 * um, 10.25 * um, 30.25 * um};
    k.advance = {-50.0 * um, 0.0, 50.0 * um}, k.advanced_film = {-0.75 * um, 0.25 * um, 1.25 * um};
    k.gap = 0.5 * um, k.groove_length = 400.0 * um, k.film_pressure = pressure;
    k.line_load = 100.0, k.stiffness = 0.15, k.surface_speed = 5.0, k.roll_turn = 0.44;
    k.ink.rheology = Newtonian{0.03};
    k.engraving.cell_volume = 5.0 * um, k.engraving.fill = 0.8;
    k.engraving.pattern = Pattern::diamond, k.engraving.screen = 10000.0;  // pitch 100 um
    k.engraving.wall_width = 20.0 * um;                                    // opening 0.8^2 = 0.64, depth 5 / 0.64 um
    k.convergence.status = Status::converged;
    return k;
}

double ink_there(const LineDefect& defect, const LineContext& k = by_hand()) { return line_print(defect, k).ink / um; }

struct Solved {
    Case nip_case;
    FlowTables tables;
    OperatingPoint point;
    LineContext context;
    explicit Solved(Holding holding, Orientation orientation = Orientation::doctoring) {
        nip_case.tip = Facet{200e-6, BeddedHere{}, 1e-6};
        nip_case.setting.orientation = orientation, nip_case.setting.holding = holding;
        NipOptions options;
        options.tables = &tables;
        point = solve(nip_case, options);
        context = line_context(nip_case, point, options);
    }
};
const Solved& fixed() {
    static const Solved solved(Holding::fixed);
    return solved;
}

const LineDefect kTypical[] = {BladeNick{},      ScoredRoll{},    WornBand{},       PluggedCells{},
                               HandlingMark{},   ProppedBlade{},  RidingBlade{},    RunOutBands{},
                               LodgedParticle{}, BlockedSupply{}, LeakingEndSeal{}, NotThisNip{}};

template <class Call>
std::string refused(Call&& call) {
    try {
        call();
    } catch (const InvalidInput& error) {
        return error.problems().front().path;
    }
    return "nothing";
}

}  // namespace

TEST_CASE("a defect of no size leaves no line", "[lines]") {
    const LineContext k = by_hand(1e5);
    const LineDefect none[] = {BladeNick{0.0, 50 * um},
                               ScoredRoll{0.0, 50 * um},
                               WornBand{0.0, 20 * mm},
                               PluggedCells{0.0, 1 * mm, 1 * mm, 1},
                               HandlingMark{0.0, 0.0, 3 * mm, 50 * mm},
                               RidingBlade{k.film},
                               RunOutBands{0.0},
                               BlockedSupply{1.0, 5 * mm},
                               LeakingEndSeal{0.0, 5 * mm},
                               NotThisNip{0.0, LineDirection::spots, 1 * mm, 0.5}};
    for (const LineDefect& defect : none) {
        const LinePrint line = line_print(defect, k);
        INFO(to_string(line.cause));
        CHECK(std::abs(line.density_contrast) < 1e-15);
        CHECK(line.visibility < 1e-12);
        CHECK(std::abs(line.ink - k.nominal_ink()) < 1e-14 * um);
        CHECK(std::abs(line.nominal_density - 1.4) < 1e-14);
    }
    // Those that cannot be nothing fade.
    CHECK(std::abs(line_print(ProppedBlade{1e-9}, k).density_contrast) < 1e-3);
    CHECK(std::abs(line_print(LodgedParticle{1e-9, 0.0, 1 * mm}, k).density_contrast) < 1e-3);
}

TEST_CASE("the ink of each cause, by hand", "[lines]") {
    // 4.25 um beside. Nick 6 um deep, 60 wide: F(2/3 x 0.1) = 1 - 0.5427545 / 15, half of 6 um passes by the film.
    expect_close(ink_there(BladeNick{6 * um, 60 * um}), 4.25 + 3.0 * (1.0 - 0.5427545 / 15.0), 1e-9, "notch");
    // With 0.1 MPa beside: + (6.5^3 - 0.5^3) um^3 x 1e5 / (12 x 0.03 x 400 um x 5).
    expect_close(ink_there(BladeNick{6 * um, 60 * um}, by_hand(1e5)) - ink_there(BladeNick{6 * um, 60 * um}),
                 274.5e-18 * 1e5 / 7.2e-4 / um, 1e-9, "pressed through");
    // Score 20 um deep, 80 wide, through the cells of 7.8125 um: F(1/6), 1 - F / 2 = 0.5452295 of it travels.
    expect_close(ink_there(ScoredRoll{20 * um, 80 * um}), 0.25 + 20.0 * 0.5452295, 1e-7, "deep groove");
    // 1 um deep, 100 wide: cells lose 0.64 x 0.8 um, in the groove 1 - F(1/150) / 2 of 1 um travels.
    expect_close(ink_there(ScoredRoll{1 * um, 100 * um}), 4.25 - 0.512 + 0.5 + 0.25 * 0.5427545 / 75.0, 1e-9,
                 "shallow groove");
    expect_close(ink_there(WornBand{0.15, 20 * mm}), 4.25 - 0.6, 1e-12, "15 % of 4 um");
    expect_close(ink_there(PluggedCells{0.3, 2 * mm, 5 * mm, 3}), 4.25 - 1.2, 1e-12, "30 % of 4 um");
    expect_close(ink_there(HandlingMark{5 * um, 0.1, 3 * mm, 60 * mm}), 4.25 + 0.8 * 5.0 - 0.4, 1e-12, "dent");
    expect_close(ink_there(HandlingMark{0.0, 0.1, 3 * mm, 60 * mm}), 4.25 - 0.4, 1e-12, "rub");
    expect_close(ink_there(ProppedBlade{3 * um}), 4.25 + 1.5, 1e-12, "half of 3 um");
    expect_close(ink_there(RidingBlade{1.1 * um}), 5.1, 1e-12, "instead of 0.25");
    expect_close(ink_there(RunOutBands{30 * um}), 4.25 - 0.3, 1e-6, "15 um away: the density feels less ink more");
    expect_close(ink_there(LodgedParticle{2 * um, 0.0, 1 * mm}), 4.25 + 1.0, 1e-12, "half of 2 um");
    expect_close(ink_there(LodgedParticle{0.0, 0.1, 1 * mm}), 4.25 * 1.3, 1e-4, "beads: 3 x 10 %");
    expect_close(ink_there(BlockedSupply{0.6, 5 * mm}), 4.25 - 1.6, 1e-12, "40 % of 4 um");
    expect_close(ink_there(LeakingEndSeal{15 * um, 8 * mm}), 4.25 + 7.5, 1e-12, "half of 15 um");
    CHECK(line_print(NotThisNip{}, by_hand()).ink == by_hand().nominal_ink());
    // Density through (4.25 um, 1.4) under 1.8: 1.8 (1 - (2/9)^r), r the ratio of the inks; proportional transfer, any share.
    const LinePrint line = line_print(BlockedSupply{0.6, 5 * mm}, by_hand());
    expect_close(line.density, 1.8 * (1.0 - std::pow(2.0 / 9.0, 2.65 / 4.25)), 1e-12, "by hand");
    expect_close(line.film, 0.3 * 2.65 * um, 1e-12, "share 0.3");
    expect_close(line_print(NotThisNip{-0.3}, by_hand()).density, 1.8 * (1.0 - std::pow(2.0 / 9.0, 0.7)), 1e-12,
                 "by hand");
    // Under the wide groove of a smooth roll plane Couette flow leaves half the gap (Middleman 1977): 0.25 + g / 2.
    LineContext smooth = by_hand();
    smooth.cell_ink = 0.0, smooth.engraving.pattern = Pattern::smooth;
    expect_close(ink_there(ScoredRoll{4 * um, 1 * mm}, smooth), 2.25, 2e-3, "half of the groove");
}

TEST_CASE("the tone of a score turns with its depth", "[lines]") {
    // Wide grooves: a depth g takes fill x opening of closed cells and carries g / 2: lighter from the start where cells hold
    // more than half of the surface, 0.8 x 0.64 = 0.512; darker again once g / 2 > 4 um.
    const auto change = [](double depth) {
        const LinePrint line = line_print(ScoredRoll{depth, 1e4 * depth}, by_hand());
        CHECK((line.signature.tone == Tone::lighter) == (line.ink < line.nominal_ink));
        return line.ink - line.nominal_ink;
    };
    expect_close(change(1 * um), (0.5 - 0.512) * um, 4e-3, "shallow");
    CHECK(change(7.9 * um) < 0.0);
    CHECK(change(9.0 * um) > 0.0);  // its flanks are lighter still, by 0.1 um at the most
    // Wide walls: a groove adds what it takes from them.
    LineContext walls = by_hand();
    walls.engraving.wall_width = 60 * um, walls.engraving.cell_volume = 5 * um;  // opening 0.16
    CHECK(line_print(ScoredRoll{1 * um, 1 * mm}, walls).signature.tone == Tone::darker);
}

TEST_CASE("channels of an engraving carry what a wide score carries", "[lines]") {
    // The nip's own account of channels along the motion, which has no sides: half of their volume. The sides of one 17 times
    // as wide as deep add 3 %.
    Case c;
    c.tip = Facet{200e-6, BeddedHere{}, 1e-6};
    c.roll.engraving.pattern = Pattern::channel, c.roll.engraving.fill = 1.0;
    c.roll.engraving.cell_volume = 5 * um;
    NipOptions quick;
    quick.step_response = quick.other_branch = quick.run_out = false;
    const OperatingPoint point = solve(c, quick);
    REQUIRE(point.convergence.ok());
    const double width = pitch(c.roll.engraving) - c.roll.engraving.wall_width, depth = cell_depth(c.roll.engraving);
    const double travels = (point.ink_carried - point.film_on_lands) / (5 * um);
    expect_close(1.0 - 0.5 * side_drag(depth / width), travels, 0.04, "3 % of sides");
}

TEST_CASE("drag of a groove with sides", "[lines]") {
    // Half as deep as wide and twice: by symmetry F(s) + F(1 / s) = 1, F(1) = 1/2 (the square's lid flow, series by hand).
    expect_close(side_drag(1.0), 0.5, 2e-6, "square");
    for (const double s : {0.25, 0.5, 0.7}) expect_close(side_drag(s) + side_drag(1.0 / s), 1.0, 1e-5, "mirrored");
    expect_close(side_drag(0.2), side_drag(0.2 + 1e-12), 1e-5, "the line joins the series");
    CHECK(side_drag(0.0) == 1.0);
    // Finite differences of the lid-driven duct, 1 deep, 2 wide: independent of the series.
    constexpr int n = 40, m = 80;
    std::vector<double> u((n + 1) * (m + 1), 0.0);
    const auto at = [&](int i, int j) -> double& { return u[static_cast<std::size_t>(i * (m + 1) + j)]; };
    for (int j = 1; j < m; ++j) at(n, j) = 1.0;
    for (int round = 0; round < 4000; ++round)
        for (int i = 1; i < n; ++i)
            for (int j = 1; j < m; ++j)
                at(i, j) += 1.9 * (0.25 * (at(i - 1, j) + at(i + 1, j) + at(i, j - 1) + at(i, j + 1)) - at(i, j));
    double flow = 0.0;
    for (int i = 1; i <= n; ++i)
        for (int j = 1; j < m; ++j) flow += at(i, j) * (i == n ? 0.5 : 1.0);
    expect_close(side_drag(0.5), 2.0 * flow / (n * m), 1e-2, "corners of the lid cost the grid 0.5 %");
}

TEST_CASE("a propped blade stands off about the particle", "[lines]") {
    const LineContext k = by_hand();
    const double u = 3 * um, a = 0.56 * std::cbrt(72.0 * 0.15 * u / 100.0);  // 3.846 mm
    const LinePrint line = line_print(ProppedBlade{u}, k);
    expect_close(line.place.back(), a, 1e-12, "half length");
    // E I w'''' = - q on 0 to a, w = w' = w'' = 0 at a, w' = 0 at 0 gives w = u (1 - 6 s^2 + 8 s^3 - 3 s^4), a^4 = 72 E I u / q
    // (by hand); half of it passes.
    for (std::size_t i = 0; i < line.place.size(); i += 37) {
        const double s = std::abs(line.place[i]) / a;
        const double w = u * (1.0 - 6.0 * s * s + 8.0 * s * s * s - 3.0 * s * s * s * s);
        CHECK(std::abs(line.profile[i] - k.nominal_ink() - 0.5 * w) < 1e-12 * um + 1e-9 * w);
    }
    expect_close(line.excess_area, 0.5 * 0.8 * u * a, 1e-4, "mean lift 0.4 u over 2 a, half of it passes");
    CHECK(line.signature.width > 0.7 * a);
    CHECK(line.signature.width < 0.9 * a);  // half contrast, where w is about u / 2: s = 0.386
}

TEST_CASE("ink is neither made nor lost", "[lines]") {
    const LineContext k = by_hand(1e5);
    const double turn = k.roll_turn;
    // Dried ink behind the edge only moves it.
    const LinePrint beads = line_print(LodgedParticle{0.0, 0.3, 1 * mm}, k);
    CHECK(std::abs(beads.excess_area) < 0.01 * 0.3 * k.nominal_ink() * 1 * mm);  // a step between two places

    struct Balance {
        LineDefect defect;
        double volume;  // over one turn [m3]
    };
    // A parabola's mean is two thirds, both ways.
    const Balance balances[] = {
        {WornBand{0.2, 9 * mm}, -0.2 * 4 * um * 2.0 / 3.0 * 9 * mm * turn},
        {PluggedCells{0.5, 3 * mm, 20 * mm, 4}, -4 * 0.5 * 4 * um * 4.0 / 9.0 * 3 * mm * 20 * mm},
        {HandlingMark{4 * um, 0.0, 6 * mm, 8 * mm}, 0.8 * 4 * um * 8 * mm * 2.0 / 3.0 * 6 * mm},
        {BlockedSupply{0.5, 6 * mm}, -0.5 * 4 * um * 2.0 / 3.0 * 6 * mm * turn},
        {LeakingEndSeal{10 * um, 6 * mm}, 5 * um * 2.0 / 3.0 * 6 * mm * turn},
        {ProppedBlade{0.5 * um}, 0.4 * 0.5 * um * 0.56 * std::cbrt(72 * 0.15 * 0.5 * um / 100) * turn},
        {RidingBlade{0.75 * um}, 0.5 * um * 12 * mm * turn},
    };
    for (const Balance& b : balances) {
        const PrintStrip strip = print_strip(b.defect, k, {}, {12 * mm, turn, 120, 440});
        INFO(to_string(cause_of(b.defect)));
        double ink = 0.0;
        for (const double x : strip.ink) ink += x - k.nominal_ink();
        expect_close(ink * 12 * mm * turn / static_cast<double>(strip.ink.size()), b.volume, 2e-3,
                     "volume over a turn");
    }
    // As much comes as goes over a turn where the film follows the roll in a straight line.
    const PrintStrip bands = print_strip(RunOutBands{20 * um}, k, {}, {12 * mm, turn, 4, 440});
    double sum = 0.0;
    for (const double x : bands.ink) sum += x - k.nominal_ink();
    CHECK(std::abs(sum) < 1e-9 * k.nominal_ink() * static_cast<double>(bands.ink.size()));
    // To the web and back to the chamber; the law is linear here, so it holds of means.
    const PrintStrip strip = print_strip(BladeNick{20 * um, 3 * mm}, k, {}, {});
    for (std::size_t i = 0; i < strip.ink.size(); i += 7) {
        CHECK(strip.film[i] <= strip.ink[i]);
        CHECK(std::abs(strip.film[i] - 0.3 * strip.ink[i]) < 1e-12 * um);
    }
}

TEST_CASE("a strip is drawn to scale", "[lines]") {
    const LineContext k = by_hand();
    const StripSize size{20 * mm, 0.0, 100, 330};
    const PrintStrip strip = print_strip(HandlingMark{0.0, 0.5, 8 * mm, 10 * mm}, k, {}, size);
    REQUIRE(strip.density.size() == 100 * 330);
    expect_close(strip.along.back() + 0.5 * 0.66 / 330, 1.5 * 0.44, 1e-12, "1.5 turns");
    std::vector<double> marks;
    const auto density = [&](std::size_t i, std::size_t j) { return strip.density[i * 100 + j]; };
    for (std::size_t i = 1; i + 1 < 330; ++i)
        if (density(i, 50) < 1.39 && density(i, 50) < density(i - 1, 50) && density(i, 50) <= density(i + 1, 50))
            marks.push_back(strip.along[i]);
    REQUIRE(marks.size() == 2);
    CHECK(std::abs(marks[0] - 0.11) <= 2 * mm);
    CHECK(std::abs(marks[1] - marks[0] - 0.44) <= 2.1 * mm);  // a pixel of 2 mm
    const auto row = static_cast<std::size_t>(marks[0] / (0.66 / 330));
    std::size_t narrow = 0;
    for (std::size_t j = 0; j < 100; ++j) narrow += density(row, j) < 1.39;
    CHECK(narrow == 50);  // 10 of 20 mm
    // Far away the print is as it should be, and finer than a pixel a line fades but does not vanish.
    expect_close(density(200, 50), 1.4, 1e-12, "beside");
    const PrintStrip fine = print_strip(BladeNick{10 * um, 50 * um}, k, {}, size);
    const double peak = line_print(BladeNick{10 * um, 50 * um}, k).density_contrast;
    CHECK(*std::max_element(fine.density.begin(), fine.density.end()) - 1.4 < 0.5 * peak);
    CHECK(*std::max_element(fine.density.begin(), fine.density.end()) - 1.4 > 0.05 * peak);
}

TEST_CASE("widths and repeats as somebody would measure them", "[lines]") {
    const LineContext k = by_hand();
    // A faint parabola is half as strong at 1 / sqrt 2 of its width.
    expect_close(line_print(WornBand{0.01, 20 * mm}, k).signature.width, 20 * mm * std::numbers::sqrt2 / 2.0, 5e-3,
                 "faint");
    // A faint sine is above a half for a third of its period.
    const LinePrint bands = line_print(RunOutBands{1 * um}, k);
    expect_close(bands.signature.width, k.roll_turn / 3.0, 1e-2, "120 degrees");
    expect_close(bands.signature.repeat, k.roll_turn, 1e-14, "once per turn");
    CHECK(std::isnan(line_print(RidingBlade{}, k).signature.width));
    CHECK(line_print(PluggedCells{0.5, 1 * mm, 1.0, 1}, k).signature.repeat == 0.0);
    CHECK(line_print(PluggedCells{0.5, 1 * mm, 0.08, 4}, k).signature.direction == LineDirection::along_web);
    CHECK(line_print(PluggedCells{0.5, 1 * mm, 0.02, 4}, k).signature.direction == LineDirection::spots);
    CHECK(line_print(NotThisNip{-0.3, LineDirection::spots, 1 * mm, 0.61}, k).signature.repeat == 0.61);
    // A whole print against the approved one: 10 % of its light.
    const LinePrint haze = line_print(RidingBlade{0.5 * um}, k);
    expect_close(haze.visibility, 10.0 * (1.0 - std::pow(10.0, -haze.density_contrast)), 1e-12, "by hand");
    // Visibility by hand: a faint line 50 um wide at 0.4 m spans 50 / 116.4 of a minute of arc.
    const LinePrint thin = line_print(NotThisNip{-0.05, LineDirection::along_web, 50 * um}, k);
    const double light = std::pow(10.0, -thin.density_contrast) - 1.0;
    expect_close(thin.visibility, 100.0 * light * thin.signature.width / (0.4 * std::numbers::pi / 10800.0), 1e-3,
                 "by hand");
}

TEST_CASE("what moves, wipes off and survives follows from the seat", "[lines]") {
    // Common practice, no published source: a particle under the edge goes when it is wiped and a nick does not, both travel with
    // the blade; scores stay on the roll with a new blade; plugged cells outlast ordinary cleaning.
    const auto signature = [](LineCause cause) {
        return line_print(kTypical[static_cast<std::size_t>(cause)], by_hand()).signature;
    };
    for (const LineCause cause : {LineCause::blade_nick, LineCause::propped_blade, LineCause::lodged_particle}) {
        CHECK(signature(cause).moves_with_blade);
        CHECK_FALSE(signature(cause).survives_blade_change);
        CHECK(signature(cause).tone == Tone::darker);
    }
    CHECK(signature(LineCause::lodged_particle).goes_when_wiped);
    CHECK_FALSE(signature(LineCause::blade_nick).goes_when_wiped);
    for (const LineCause cause : {LineCause::scored_roll, LineCause::worn_band, LineCause::plugged_cells,
                                  LineCause::handling_mark, LineCause::run_out, LineCause::not_this_nip}) {
        CHECK_FALSE(signature(cause).moves_with_blade);
        CHECK(signature(cause).survives_blade_change);
        CHECK(signature(cause).survives_cleaning);
    }
    CHECK_FALSE(signature(LineCause::blocked_supply).survives_cleaning);
    for (std::size_t i = 0; i < kLineCauses; ++i) CHECK(static_cast<std::size_t>(cause_of(kTypical[i])) == i);
    // The words are all different.
    std::set<std::string_view> words;
    for (std::size_t i = 0; i < kLineCauses; ++i) words.insert(to_string(static_cast<LineCause>(i)));
    CHECK(words.size() == kLineCauses);
}

TEST_CASE("the numbers of a solved nip", "[lines]") {
    const Solved& s = fixed();
    const LineContext& k = s.context;
    REQUIRE(k.convergence.ok());
    expect_close(k.nominal_ink(), s.point.ink_carried, 1e-14, "film and cells");
    // Far up half the gap passes (plane Couette), and what the ink's own push, at most rho U^2 ahead of the blade, presses
    // through the facet's length: gap^3 rho U^2 / (12 eta b U).
    const double up = 60 * um + k.gap, pressed = up * up * up * 1100.0 * 5.0 / (12.0 * 0.03 * 200 * um);
    expect_close(lifted_film(k, 0.0), k.film, 1e-14, "no lift");
    CHECK(lifted_film(k, 60 * um) > 0.5 * up);
    CHECK(lifted_film(k, 60 * um) < 0.5 * up + pressed);
    for (std::size_t i = 1; i < k.lift.size(); ++i) CHECK(k.lifted_film[i] > k.lifted_film[i - 1]);
    // Round a turn: the largest film is what the nip itself reports of a roll with that indicator reading.
    for (const double reading : {10 * um, 40 * um, 90 * um}) {
        Case out_of_true = s.nip_case;
        out_of_true.roll.run_out = reading;
        NipOptions quick;
        quick.step_response = quick.other_branch = false;
        const double film = solve(out_of_true, quick).film_over_turn;
        const LinePrint line = line_print(RunOutBands{reading}, k);
        const double most = *std::max_element(line.profile.begin(), line.profile.end());
        expect_close(most - k.cell_ink, film, 0.03, "straight lines between 7.5 um");
        CHECK(most > line.nominal_ink);
    }
    // Every cause's tone in a nip: what adds ink is darker.
    for (const LineDefect& defect : kTypical) {
        const LinePrint line = line_print(defect, k);
        INFO(to_string(line.cause));
        CHECK(line.visible());
        const bool darker = line.density > line.nominal_density;
        CHECK((line.signature.tone == Tone::darker) == darker);
        if (line.cause != LineCause::not_this_nip) CHECK((line.ink > line.nominal_ink) == darker);
        const std::set<LineCause> light{LineCause::worn_band, LineCause::plugged_cells, LineCause::handling_mark,
                                        LineCause::blocked_supply, LineCause::not_this_nip};
        CHECK(darker == !light.contains(line.cause));
    }
}

TEST_CASE("a floating blade has a riding state and follows the roll", "[lines]") {
    static const Solved solved(Holding::floating);
    const LineContext& k = solved.context;
    REQUIRE(k.convergence.ok());
    REQUIRE(solved.point.other_branch_exists);
    NipOptions riding;
    riding.start = Start::riding;
    expect_close(k.film_riding, solve(solved.nip_case, riding).film_on_lands, 1e-9, "solved apart");
    CHECK(k.film_riding > 1.1 * k.film);
    CHECK(line_print(RidingBlade{k.film_riding}, k).signature.direction == LineDirection::whole_width);
    CHECK(k.advance.size() == 1);
    const SampledLine none = sample_visible(LineCause::run_out, k, {}, 1, 0, 7);
    CHECK_FALSE(none.print.visible());
    CHECK(none.tries == 7);
}

TEST_CASE("random defects are the same everywhere and seen", "[lines]") {
    const LineContext& k = fixed().context;
    for (std::size_t c = 0; c < kLineCauses; ++c) {
        const auto cause = static_cast<LineCause>(c);
        INFO(to_string(cause));
        double sum = 0.0;
        for (const double odds : onset_odds(cause)) sum += odds;
        expect_close(sum, 1.0, 1e-12, "odds");
        std::array<int, kOnsets> began{};
        std::set<double> inks;
        constexpr int n = 400;
        for (std::uint64_t i = 0; i < n; ++i) {
            const SampledLine one = sample_visible(cause, k, {}, 11, i);
            CHECK(one.print.visible());
            CHECK(cause_of(one.defect) == cause);
            ++began[static_cast<std::size_t>(one.print.signature.began)];
            inks.insert(one.print.density);
            if (i % 50 == 0) {  // each draw stands alone
                const SampledLine again = sample_visible(cause, k, {}, 11, i);
                CHECK(again.print.density == one.print.density);
                CHECK(again.print.signature.began == one.print.signature.began);
            }
        }
        CHECK(inks.size() > 360);
        for (std::size_t i = 0; i < kOnsets; ++i) {
            const double p = onset_odds(cause)[i];
            CHECK(std::abs(began[i] - n * p) <= 4.0 * std::sqrt(n * p * (1.0 - p)) + 1e-9);
        }
    }
    const auto nick = std::get<BladeNick>(sample_defect(LineCause::blade_nick, k, 11, 3));
    CHECK(nick.depth >= 1 * um);
    CHECK(nick.depth <= 40 * um);
    CHECK(nick.depth != std::get<BladeNick>(sample_defect(LineCause::blade_nick, k, 12, 3)).depth);
}

TEST_CASE("sizes out of range are refused by name", "[lines]") {
    const LineContext k = by_hand();
    CHECK(refused([&] { (void)line_print(BladeNick{-1e-6}, k); }) == "depth");
    CHECK(refused([&] { (void)line_print(BladeNick{1e-6, 0.0}, k); }) == "width");
    CHECK(refused([&] { (void)line_print(WornBand{1.0}, k); }) == "volume_share");
    CHECK(refused([&] { (void)line_print(PluggedCells{1.5}, k); }) == "share");
    CHECK(refused([&] { (void)line_print(PluggedCells{0.5, 1e-3, 1e-3, 0}, k); }) == "count");
    CHECK(refused([&] { (void)line_print(ProppedBlade{kNan}, k); }) == "lift");
    CHECK(refused([&] { (void)line_print(LodgedParticle{0.0, 0.0}, k); }) == "lift");
    CHECK(refused([&] { (void)line_print(NotThisNip{-1.5}, k); }) == "change");
    PrintLaw law;
    law.nominal_density = 2.0;
    CHECK(refused([&] { (void)line_print(BladeNick{}, k, law); }) == "nominal_density");
    LineContext unsolved = k;
    unsolved.convergence.status = Status::lifted_off;
    CHECK(refused([&] { (void)line_print(BladeNick{}, unsolved); }) == "context");
    CHECK(refused([&] { (void)print_strip(BladeNick{}, k, {}, {0.0, 0.0, 0, 10}); }) == "strip.columns");
    CHECK(refused([&] { (void)sample_defect(static_cast<LineCause>(12), k, 1, 1); }) == "cause");
}
