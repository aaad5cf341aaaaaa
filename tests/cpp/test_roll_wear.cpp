#include "libblade/roll_wear.hpp"

#include <boost/numeric/odeint/integrate/integrate_adaptive.hpp>
#include <boost/numeric/odeint/stepper/generation.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include "expect.hpp"
#include "libblade/case.hpp"
#include "libblade/error.hpp"
#include "libblade/parameters.hpp"

using namespace libblade;

namespace {

Engraving cells(Pattern pattern, CellProfile profile) {
    Engraving e;  // 100 um pitch, walls of 6 um
    e.pattern = pattern, e.profile = profile, e.cell_depth = 20e-6;
    if (pattern == Pattern::elongated) e.aspect = 1.7;
    return e;
}

/// Volume per area of all that lies below the worn lands, by counting: the cell is a stack of slices, the slice at a depth
/// below the first lands similar to the opening (closed cells in area, channels in width).
double volume_by_slices(const Engraving& e, double z) {
    const double depth = cell_depth(e), open = open_fraction(e);
    const int n = 20000;
    double sum = 0.0;
    for (int k = 0; k < n; ++k) {
        const double below = z + (depth - z) * (k + 0.5) / n;
        const double rho = e.profile == CellProfile::flat ? 1.0 : std::sqrt(1.0 - below / depth);
        sum += e.pattern == Pattern::channel ? rho : rho * rho;
    }
    return open * sum * (depth - z) / n;
}

}  // namespace

TEST_CASE("a land loses k N_a / f per pass, whatever the contact", "[roll_wear]") {
    // The point of a land meets the pressure of the facet over its length: Archard's integral for three shapes of it.
    const double f = 0.2, load = 60.0, k = 1e-17;
    for (const double width : {20e-6, 400e-6})
        for (const int shape : {0, 1, 2}) {
            const int n = 4000;
            double carried = 0.0, lost = 0.0;
            std::vector<double> p(n);
            for (int i = 0; i < n; ++i) {
                const double s = (i + 0.5) / n;
                p[i] = shape == 0 ? 1.0 : shape == 1 ? s : std::sin(std::numbers::pi * s);
                carried += f * p[i] * width / n;  // the lands alone carry
            }
            for (const double at : p) lost += k * at * load / carried * width / n;
            expect_close(land_loss_per_pass(k, load, f), lost, 1e-12, "the same sum");
        }
    expect_close(land_loss_per_pass(1e-17, 60.0, 0.2), 3e-15, 1e-14, "by hand");
}

TEST_CASE("what is left of a cell", "[roll_wear]") {
    for (const Pattern pattern : {Pattern::hexagon, Pattern::diamond, Pattern::channel, Pattern::elongated})
        for (const CellProfile profile : {CellProfile::flat, CellProfile::parabolic})
            for (const double radius : {0.0, 8e-6})
                for (const double z : {0.0, 1e-6, 7e-6, 19e-6}) {
                    Engraving e = cells(pattern, profile);
                    if (pattern != Pattern::channel) e.corner_radius = radius;
                    INFO(static_cast<int>(pattern) << " " << static_cast<int>(profile) << " " << radius << " " << z);
                    const Engraving worn = worn_engraving(e, z);
                    expect_close(cell_depth(worn), 20e-6 - z, 1e-13, "the deepest point stays where it is");
                    expect_close(cell_volume(worn), volume_by_slices(e, z), 2e-6,
                                 "20000 slices, square root at the bottom");
                    CHECK(worn.pattern == pattern);
                    CHECK(worn.screen == e.screen);
                    if (profile == CellProfile::flat || z == 0.0) {
                        CHECK(worn.wall_width == e.wall_width);
                    } else {
                        CHECK(worn.wall_width > e.wall_width);
                        CHECK(land_fraction(worn) > land_fraction(e));
                    }
                    Case c;  // downstream rooms take it
                    c.roll.engraving = worn;
                    CHECK(check(c).empty());
                    // Worn twice is worn once.
                    if (z > 0.0 && z < 10e-6) {
                        const Engraving twice = worn_engraving(worn_engraving(e, 0.4 * z), 0.6 * z);
                        expect_close(twice.wall_width, worn.wall_width, 1e-11, "root of the elongated wall");
                        expect_close(cell_volume(twice), cell_volume(worn), 1e-12, "the same cell");
                    }
                }
    // By hand: 100 um pitch, 6 um walls, 20 um deep, 5 um lost: the opening shrinks from 94 to 94 sqrt(3/4) um.
    const Engraving hand = worn_engraving(cells(Pattern::hexagon, CellProfile::parabolic), 5e-6);
    expect_close(hand.wall_width, 100e-6 - 94e-6 * std::sqrt(0.75), 1e-12, "similar contours");
    expect_close(land_fraction(hand), 1.0 - 0.8836 * 0.75, 1e-12, "area");
    expect_close(cell_volume(hand), 0.8836 * 0.75 * 15e-6 / 2.0, 1e-12, "open x depth / 2");
    // A stated volume gives the same cell as the depth that belongs to it.
    Engraving stated = cells(Pattern::diamond, CellProfile::parabolic);
    stated.cell_depth.reset();
    stated.cell_volume = 0.8836 * 10e-6;
    expect_close(cell_volume(worn_engraving(stated, 5e-6)), cell_volume(hand), 1e-12, "20 um deep");
    // A stated land fraction follows the geometric one; the volume does not know it.
    Engraving share = cells(Pattern::hexagon, CellProfile::parabolic);
    share.land_fraction = 0.3;
    expect_close(land_fraction(worn_engraving(share, 5e-6)), 1.0 - 0.7 * 0.75, 1e-12, "opening x 3/4");
    expect_close(cell_volume(worn_engraving(share, 5e-6)), cell_volume(hand), 1e-12, "geometry");
    // A smooth roll has no cells to lose.
    Engraving smooth;
    smooth.pattern = Pattern::smooth;
    CHECK(worn_engraving(smooth, 1e-5) == smooth);
}

TEST_CASE("loss of height for a share of the volume", "[roll_wear]") {
    for (const Pattern pattern : {Pattern::hexagon, Pattern::channel, Pattern::elongated})
        for (const CellProfile profile : {CellProfile::flat, CellProfile::parabolic})
            for (const double share : {1e-6, 0.1, 0.5, 0.999}) {
                const Engraving e = cells(pattern, profile);
                const double left = cell_volume(worn_engraving(e, land_loss_at(e, share)));
                expect_close(left, (1.0 - share) * cell_volume(e), 1e-10, "inverse of the volume");
            }
    expect_close(land_loss_at(cells(Pattern::hexagon, CellProfile::flat), 0.1), 2e-6, 1e-12, "a tenth of the depth");
    expect_close(land_loss_at(cells(Pattern::hexagon, CellProfile::parabolic), 0.19), 2e-6, 1e-12, "1 - 0.9^2");
    CHECK(land_loss_at(cells(Pattern::hexagon, CellProfile::flat), 0.0) == 0.0);
}

TEST_CASE("life of a roll against the integrated history", "[roll_wear]") {
    // dz/dn = k N_a / f(z) integrated by Odeint to the stated number of revolutions has to lose the stated share.
    for (const Pattern pattern : {Pattern::hexagon, Pattern::channel, Pattern::elongated})
        for (const CellProfile profile : {CellProfile::flat, CellProfile::parabolic})
            for (const bool stated : {false, true}) {
                Roll roll;
                roll.engraving = cells(pattern, profile);
                if (stated) roll.engraving.land_fraction = 0.25;
                const RollDuty duty{50.0, 5.0, 0.0, 0.0};
                const RollLife life = roll_life(roll, duty, 0.3);
                std::vector<double> z{0.0};
                const auto rate = [&](const std::vector<double>& at, std::vector<double>& out, double) {
                    out[0] = land_loss_per_pass(roll.specific_wear, 50.0,
                                                land_fraction(worn_engraving(roll.engraving, at[0] * 1e-6))) *
                             1e6;
                };
                namespace ode = boost::numeric::odeint;
                ode::integrate_adaptive(
                    ode::make_controlled(1e-11, 1e-11, ode::runge_kutta_dopri5<std::vector<double>>()), rate, z, 0.0,
                    life.revolutions, life.revolutions / 50.0);
                expect_close(z[0] * 1e-6, life.land_loss, 1e-9, "Odeint at 1e-11");
                expect_close(cell_volume(worn_engraving(roll.engraving, z[0] * 1e-6)),
                             0.7 * cell_volume(roll.engraving), 1e-9, "the share");
                expect_close(life.cell_volume, 0.7 * cell_volume(roll.engraving), 1e-12, "the share");
                expect_close(life.distance, life.revolutions * 2.0 * std::numbers::pi * 0.07, 1e-13, "circumference");
                expect_close(life.hours, life.distance / 5.0 / 3600.0, 1e-13, "speed");
            }
    // By hand, flat: 2 um of 20 um at f = 1 - 0.94^2 = 0.1164 and 1e-17 x 50: 2e-6 x 0.1164 / 5e-16 = 4.656e8 turns.
    Roll roll;
    roll.engraving = cells(Pattern::hexagon, CellProfile::flat);
    const RollLife hand = roll_life(roll, {50.0, 5.0, 0.0, 0.0});
    expect_close(hand.revolutions, 4.656e8, 1e-11, "by hand");
    expect_close(hand.loss_per_pass, 5e-16 / 0.1164, 1e-12, "by hand");
    // By hand, parabolic: z = 20 um (1 - sqrt(0.9)), ceramic gone z - 0.1 x 8.836 um.
    roll.engraving.profile = CellProfile::parabolic;
    const double z = 20e-6 * (1.0 - std::sqrt(0.9));
    expect_close(roll_life(roll, {50.0, 5.0, 0.0, 0.0}).revolutions, (z - 0.1 * 8.836e-6) / 5e-16, 1e-11, "by hand");
}

TEST_CASE("a dry minute costs hours of wet running", "[roll_wear]") {
    // Wet: half of 100 N/m on asperities at 1e-17 m2/N. Dry: all of it at 2.69e-15 m2/N, 538 times as much per pass, so a
    // dry minute costs 538 wet minutes: 9 hours. k_c wet is uncertain by a factor of 10, and so is this.
    const Roll roll;
    const RollDuty wet{50.0, 5.0, 0.0, 100.0};
    RollDuty dry = wet;
    dry.dry_share = 1.0;
    const double ratio = roll_life(roll, wet).hours / roll_life(roll, dry).hours;
    expect_close(ratio, 538.0, 1e-12, "2.69e-15 x 100 / (1e-17 x 50)");
    expect_close(ratio / 60.0, 8.966667, 1e-6, "wet hours per dry minute");
    RollDuty some = wet;
    some.dry_share = 0.001;  // one turn in a thousand: 0.999 + 0.538
    expect_close(roll_life(roll, wet).revolutions / roll_life(roll, some).revolutions, 1.537, 1e-12, "weighted mean");
}

TEST_CASE("what a roll cannot be asked is refused", "[roll_wear]") {
    constexpr double nan = std::numeric_limits<double>::quiet_NaN();
    const Engraving e = cells(Pattern::hexagon, CellProfile::parabolic);
    for (const double z : {-1e-9, 20e-6, 1.0, nan}) CHECK_THROWS_AS(worn_engraving(e, z), InvalidInput);
    for (const double share : {-0.1, 1.0, nan}) CHECK_THROWS_AS(land_loss_at(e, share), InvalidInput);
    Roll roll;
    for (const RollDuty& bad :
         {RollDuty{-1.0, 5.0, 0.0, 0.0}, RollDuty{nan, 5.0, 0.0, 0.0}, RollDuty{50.0, 0.0, 0.0, 0.0},
          RollDuty{50.0, 5.0, 1.1, 0.0}, RollDuty{50.0, 5.0, 0.1, nan}})
        CHECK_THROWS_AS(roll_life(roll, bad), InvalidInput);
    CHECK(std::isinf(roll_life(roll, RollDuty{}).hours));
    roll.engraving.pattern = Pattern::smooth;
    CHECK_THROWS_AS(roll_life(roll, RollDuty{50.0, 5.0, 0.0, 0.0}), InvalidInput);
    Case c;
    for (const char* path : {"roll.specific_wear", "roll.dry_specific_wear"}) {
        CHECK_THROWS_AS(set_number(c, path, 1e-10), InvalidInput);
        CHECK_THROWS_AS(set_number(c, path, -1e-17), InvalidInput);
    }
}
