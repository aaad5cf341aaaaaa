// Lines on the print: what the roll carries at the place of a defect, and how that looks.
//
// Each cause is a defect of a physical size. The ink per roll area [m] at its place, against m0 = film on the lands + ink in
// the cells of the solved nip:
//
//   nick           what passes the facet n higher, as the film solver has it for a strip, held back by the notch's sides, plus
//                  what the pressure beside it presses through its length b:  film + F (film(n) - film) + P(n),
//                  P(n) = ((h + n)^3 - h^3) p / (12 eta b U), eta at U / (h + n); an upper estimate where the notch is wide
//   score          a groove of depth g along the motion. It has taken walls away; the cells below it come out full, but in itself
//                  ink is SHEARED past the blade, and of a wide one half stays behind:
//                  fill V(g) + film + (1 - F / 2) g + P(g),  V(g) what is left of the cells below g. Hence LIGHTER while shallow,
//                  where little wall went and closed cells with it, and darker once deeper than about twice the ink in the
//                  cells (own; the deep one is the trade's dark line)
//   worn band      the blade is worn to fit, the film stays, the cells have lost volume (roll_wear.hpp)
//   plugged        a share of the cells' ink is missing
//   handling mark  a dent is a closed pocket and comes out full, + fill x depth; a rub has crushed cells, - share of their ink
//   propped        the blade stands off about the particle (stand_off in width.hpp) and passes what the film solver gives at that
//                  gap
//   riding         the riding state's film everywhere
//   run-out        the film while the roll comes and goes by half the indicator reading, phase by phase, facet kept
//   lodged         lifts like a propped blade; or dried ink behind the edge wipes ink off and leaves it in two beads beside
//   blocked        the cells in its shadow come partly filled
//   end seal       a film gap / 2 passes unmetered (plane Couette flow)
//   not this nip   the roll carries what it should; what the plate or web makes of it differs
//
// Across the web nicks, scores and bands are parabolas, deepest in the middle; each place passes a strip's flow. F (side_drag) is
// the share of plane Couette flow that the sides of a groove leave of it.
//
// What moves, wipes off and survives follows from where the defect sits: see seat_rule.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string_view>
#include <variant>
#include <vector>

#include "libblade/nip.hpp"
#include "libblade/print.hpp"

namespace libblade {

enum class LineCause {
    blade_nick,        ///< notch in the edge
    scored_roll,       ///< groove round the roll
    worn_band,         ///< abraded band of the roll with a blade worn to fit it
    plugged_cells,     ///< dried ink or metal in the cells
    handling_mark,     ///< dent or rub mark across the roll, from handling or storage
    propped_blade,     ///< a particle embedded in the edge props the blade up
    riding,            ///< the blade rides on the ink
    run_out,           ///< load and angle change over a turn of the roll
    lodged_particle,   ///< loose particle or dried ink at or behind the edge
    blocked_supply,    ///< something ahead of the edge keeps ink from the cells
    leaking_end_seal,  ///< ink leaves past the end of the blade
    not_this_nip,      ///< plate, web, impression
};
inline constexpr std::size_t kLineCauses = 12;
enum class Tone { darker, lighter };
enum class LineDirection { along_web, across_web, whole_width, spots };
enum class Onset { sudden, gradual, at_blade_change, at_roll_change, after_standstill };
inline constexpr std::size_t kOnsets = 5;
[[nodiscard]] std::string_view to_string(LineCause cause) noexcept;
[[nodiscard]] std::string_view to_string(Tone tone) noexcept;
[[nodiscard]] std::string_view to_string(LineDirection direction) noexcept;
[[nodiscard]] std::string_view to_string(Onset onset) noexcept;

/// What somebody beside the press can see and try. NaN width: without meaning for this line.
struct LineSignature {
    Tone tone = Tone::darker;
    LineDirection direction = LineDirection::along_web;
    double width = 0.0;             ///< of one line, spot or band, across its direction, at half its contrast [m]
    double repeat = 0.0;            ///< along the web [m]; 0: continuous or irregular
    bool moves_with_blade = false;  ///< with the blade's traverse
    bool goes_when_wiped = false;   ///< when the edge is wiped
    bool survives_blade_change = false;
    bool survives_cleaning = false;  ///< ordinary cleaning of the roll
    bool patchy = false;             ///< comes and goes along its way
    Onset began = Onset::sudden;
};

/// Where a defect sits.
enum class LineSeat { blade, loose, roll_surface, in_cells, supply, end, whole_nip, elsewhere };
struct SeatRule {
    bool moves_with_blade, goes_when_wiped, survives_blade_change, survives_cleaning;
};
/// What follows from the seat alone (common practice, no published source; reasons beside each in lines_rules.cpp).
[[nodiscard]] SeatRule seat_rule(LineSeat seat) noexcept;
[[nodiscard]] LineSeat seat_of(LineCause cause) noexcept;

/// The numbers of a solved nip that lines are made of.
struct LineContext {
    double film = 0.0;                  ///< on the lands [m]
    double cell_ink = 0.0;              ///< in the cells, per roll area [m]
    double film_after_step = 0.0;       ///< largest after the case's load step [m]
    double film_riding = 0.0;           ///< of the riding state [m]; NaN: there is none
    std::vector<double> lift;           ///< of the tip at the same tilt, from 0 up [m], (n,)
    std::vector<double> lifted_film;    ///< that passes under it [m], (n,)
    std::vector<double> advance;        ///< of the roll's surface towards the blade, from its mean, rising [m], (k,)
    std::vector<double> advanced_film;  ///< that passes then [m], (k,); a single one at 0: the holder follows the roll
    double gap = 0.0;                   ///< smallest, between mean surfaces [m]
    double groove_length = 0.0;         ///< facet, or contact width of an unworn edge [m]
    double film_pressure = 0.0;         ///< mean over that length [Pa]
    double line_load = 0.0;             ///< [N/m]
    double stiffness = 0.0;             ///< of the blade as a plate, D [N m]
    double surface_speed = 0.0;         ///< [m/s]
    double roll_turn = 0.0;             ///< circumference of the roll [m]
    Ink ink;                            ///< its temperature is that of the film
    Engraving engraving;
    Convergence convergence;  ///< not converged: nothing may be asked of it
    /// m0 [m].
    [[nodiscard]] double nominal_ink() const noexcept { return film + cell_ink; }
};
/// From a point that was solved with its step response. Lifts the tip and walks the roll through its run-out; where another
/// state exists and the point is not the riding one, solves for that too. Tables: `options.tables`, else its own.
[[nodiscard]] LineContext line_context(const Case& nip_case, const OperatingPoint& point,
                                       const NipOptions& options = {});
/// Film that passes with the tip lifted by `lift` [m], 0 up; a straight line beyond the last.
[[nodiscard]] double lifted_film(const LineContext& context, double lift);
/// P: what the film's pressure presses through a groove of this depth, per width and roll speed [m].
[[nodiscard]] double pressed_film(const LineContext& context, double depth) noexcept;
/// F: drag flow in a rectangular channel under a moving lid over U depth / 2, 1 where it is wide: 16 / (pi^3 s) sum over odd i of
/// tanh(i pi s / 2) / i^3, s = depth over width (Middleman 1977, Fundamentals of Polymer Processing; from memory).
[[nodiscard]] double side_drag(double depth_over_width) noexcept;

// The defects. Sizes are at their middle, where they are deepest.
struct BladeNick {
    double depth = 5e-6;   ///< [m]
    double width = 50e-6;  ///< [m]
    Onset began = Onset::sudden;
};
struct ScoredRoll {
    double depth = 15e-6;  ///< of the groove [m]
    double width = 60e-6;  ///< [m]
    Onset began = Onset::sudden;
};
struct WornBand {
    double volume_share = 0.15;  ///< of the cells' volume lost, below 1 [-]
    double width = 20e-3;        ///< [m]
    Onset began = Onset::gradual;
};
struct PluggedCells {
    double share = 0.5;    ///< of the cells' ink that is missing [-]
    double width = 2e-3;   ///< of a patch [m]
    double length = 5e-3;  ///< of a patch along the circumference [m]; a turn and more: a line all round
    int count = 3;         ///< patches in a turn, from 1
    Onset began = Onset::gradual;
};
struct HandlingMark {
    double dent = 0.0;     ///< depth below the lands [m]
    double crushed = 0.3;  ///< share of the cells' ink lost [-]
    double length = 3e-3;  ///< along the circumference [m]
    double width = 60e-3;  ///< across the web [m]
    Onset began = Onset::at_roll_change;
};
struct ProppedBlade {
    double lift = 3e-6;  ///< at the particle [m]
    Onset began = Onset::sudden;
};
struct RidingBlade {
    double film = 1e-6;  ///< on the lands [m]
    Onset began = Onset::gradual;
};
struct RunOutBands {
    double run_out = 30e-6;  ///< total indicator reading [m]
    Onset began = Onset::at_roll_change;
};
struct LodgedParticle {
    double lift = 1e-6;     ///< of the blade at the particle [m]; 0: dried ink behind the edge alone
    double wiped = 0.0;     ///< share of the carried ink that it wipes off over its width, left in two beads beside [-]
    double width = 0.5e-3;  ///< over which it wipes [m]
    Onset began = Onset::sudden;
};
struct BlockedSupply {
    double filled = 0.6;  ///< share of the cells' usual ink that they come with [-]
    double width = 5e-3;  ///< of the shadow [m]
    Onset began = Onset::sudden;
};
struct LeakingEndSeal {
    double gap = 15e-6;   ///< past the seal [m]
    double width = 8e-3;  ///< [m]
    Onset began = Onset::gradual;
};
struct NotThisNip {
    double change = -0.3;  ///< of the ink on the print, relative, above -1 at the least [-]
    LineDirection direction = LineDirection::along_web;
    double width = 1e-3;  ///< across its direction; of a spot: both ways [m]
    double repeat = 0.5;  ///< the plate's, of bands and spots; 0: irregular [m]
    bool patchy = false;
    Onset began = Onset::sudden;
};
using LineDefect = std::variant<BladeNick, ScoredRoll, WornBand, PluggedCells, HandlingMark, ProppedBlade, RidingBlade,
                                RunOutBands, LodgedParticle, BlockedSupply, LeakingEndSeal, NotThisNip>;
static_assert(std::variant_size_v<LineDefect> == kLineCauses);
[[nodiscard]] inline LineCause cause_of(const LineDefect& defect) noexcept {
    return static_cast<LineCause>(defect.index());
}

struct LinePrint {
    LineCause cause = LineCause::blade_nick;
    double ink = 0.0, nominal_ink = 0.0;          ///< on the roll: where it differs most, and beside [m]
    double film = 0.0, nominal_film = 0.0;        ///< on the print, there and beside [m]
    double density = 0.0, nominal_density = 0.0;  ///< there and beside [-]
    double density_contrast = 0.0;                ///< density - nominal_density: positive is darker [-]
    double excess_area =
        0.0;  ///< ink on the roll beyond the nominal, over the profile [m2]; whole_width: per length [m]
    double visibility = 0.0;      ///< seen from 1 on [-]
    std::vector<double> place;    ///< across the line from its middle [m], (n,); across_web: along the web
    std::vector<double> profile;  ///< ink on the roll there [m], (n,)
    LineSignature signature;      ///< tone without meaning where nothing differs
    [[nodiscard]] bool visible() const noexcept { return visibility >= 1.0; }
};
/// Throws InvalidInput on sizes out of range, a bad law, and a context that did not converge.
[[nodiscard]] LinePrint line_print(const LineDefect& defect, const LineContext& context, const PrintLaw& law = {});

/// A piece of the print. Zero sizes: 1.5 turns of the roll long, wide enough to show the line.
struct StripSize {
    double width = 0.0, length = 0.0;  ///< [m]
    std::size_t columns = 120, rows = 480;
};
struct PrintStrip {
    std::vector<double> across,
        along;                    ///< middles of the pixels, from the line's middle and from the strip's start [m]
    std::vector<double> ink;      ///< on the roll, mean of each pixel [m], (rows, columns)
    std::vector<double> film;     ///< on the print, likewise [m]
    std::vector<double> density;  ///< of the mean reflectance of each pixel [-]
};
/// The first mark of a repeat lies a quarter of a turn from the start. Throws InvalidInput.
[[nodiscard]] PrintStrip print_strip(const LineDefect& defect, const LineContext& context, const PrintLaw& law = {},
                                     const StripSize& size = {});

/// A defect of random size, the same on every platform. Ranges and odds: lines_sample.cpp (assumed; common practice, no
/// published source).
[[nodiscard]] LineDefect sample_defect(LineCause cause, const LineContext& context, std::uint64_t seed,
                                       std::uint64_t index);
/// The odds with which a cause begins in each way, in the order of Onset; their sum is 1.
[[nodiscard]] std::array<double, kOnsets> onset_odds(LineCause cause) noexcept;

struct SampledLine {
    LineDefect defect;
    LinePrint print;
    int tries = 0;  ///< print.visible() false after all of them: the last one
};
/// Draws until the line is seen, `most_tries` times at the most, at least once.
[[nodiscard]] SampledLine sample_visible(LineCause cause, const LineContext& context, const PrintLaw& law,
                                         std::uint64_t seed, std::uint64_t index, int most_tries = 100);

}  // namespace libblade
