// Defects of random size. Every range is an assumption: common practice where a trade fact stands beside it, no published
// source. Sizes are log-uniform, shares uniform.
#include <algorithm>
#include <cmath>
#include <string>

#include "libblade/error.hpp"
#include "libblade/lines.hpp"
#include "libblade/random.hpp"

namespace libblade {

namespace {

constexpr double um = 1e-6, mm = 1e-3;

Onset draw_onset(LineCause cause, Random& random) {
    const auto odds = onset_odds(cause);
    double left = random.uniform();
    for (std::size_t i = 0; i + 1 < kOnsets; ++i)
        if ((left -= odds[i]) < 0.0) return static_cast<Onset>(i);
    return static_cast<Onset>(kOnsets - 1);
}

/// Grooves are some times as wide as deep: a rounded grain's print 4 to 12 times, a sharp one's 3.
double groove_width(double depth, Random& random) { return depth * random.log_uniform(3.0, 12.0); }

LineDefect draw(LineCause cause, const LineContext& k, Random& r) {
    switch (cause) {
        case LineCause::blade_nick: {
            const double depth = r.log_uniform(1.0 * um, 40.0 * um);
            return BladeNick{depth, groove_width(depth, r), {}};
        }
        case LineCause::scored_roll: {
            const double depth = r.log_uniform(2.0 * um, 40.0 * um);
            return ScoredRoll{depth, groove_width(depth, r), {}};
        }
        case LineCause::worn_band:
            return WornBand{r.uniform(0.03, 0.4), r.log_uniform(3.0 * mm, 150.0 * mm), {}};
        case LineCause::plugged_cells: {
            const double share = r.uniform(0.1, 0.9), width = r.log_uniform(0.3 * mm, 30.0 * mm);
            const int count = 1 + static_cast<int>(r.below(6));
            const double length = std::min(k.roll_turn, width * r.log_uniform(0.7, 100.0));
            return PluggedCells{share, width, length, count, {}};
        }
        case LineCause::handling_mark: {
            const bool dent = r.uniform() < 0.3;
            const double length = r.log_uniform(0.5 * mm, 20.0 * mm);
            return HandlingMark{dent ? r.log_uniform(1.0 * um, 30.0 * um) : 0.0,
                                r.uniform(0.1, 0.7),
                                length,
                                length * r.log_uniform(3.0, 60.0),
                                {}};
        }
        case LineCause::propped_blade:
            return ProppedBlade{r.log_uniform(0.5 * um, 20.0 * um), {}};
        case LineCause::riding: {
            const double riding = std::isfinite(k.film_riding) ? k.film_riding : 0.0;
            return RidingBlade{r.log_uniform(1.2 * k.film, std::max({riding, k.film_after_step, 5.0 * k.film})), {}};
        }
        case LineCause::run_out:
            return RunOutBands{r.log_uniform(8.0 * um, std::max(9.0 * um, 2.0 * k.advance.back())), {}};
        case LineCause::lodged_particle:
            if (r.uniform() < 0.5) return LodgedParticle{r.log_uniform(0.3 * um, 5.0 * um), 0.0, 0.5 * mm, {}};
            return LodgedParticle{0.0, r.uniform(0.05, 0.6), r.log_uniform(0.1 * mm, 3.0 * mm), {}};
        case LineCause::blocked_supply:
            return BlockedSupply{r.uniform(0.2, 0.95), r.log_uniform(0.5 * mm, 40.0 * mm), {}};
        case LineCause::leaking_end_seal:
            return LeakingEndSeal{r.log_uniform(2.0 * um, 100.0 * um), r.log_uniform(2.0 * mm, 25.0 * mm), {}};
        case LineCause::not_this_nip: {
            const double change = r.uniform() < 0.5 ? -r.uniform(0.05, 0.9) : r.uniform(0.05, 0.9);
            const double odd = r.uniform();  // plate edges and web run along; joins and gears across; dirt in spots
            const auto direction = odd < 0.35   ? LineDirection::along_web
                                   : odd < 0.6  ? LineDirection::across_web
                                   : odd < 0.95 ? LineDirection::spots
                                                : LineDirection::whole_width;
            const double repeat = r.uniform() < 0.7 ? r.log_uniform(0.25, 1.2) : 0.0;
            return NotThisNip{change, direction, r.log_uniform(0.1 * mm, 20.0 * mm), repeat, r.uniform() < 0.3, {}};
        }
    }
    throw InvalidInput({{"cause", std::to_string(static_cast<int>(cause)), "must be one of the causes"}});
}

}  // namespace

std::array<double, kOnsets> onset_odds(LineCause cause) noexcept {
    // sudden, gradual, at a blade change, at a roll change, after a standstill
    static constexpr std::array<double, kOnsets> odds[kLineCauses] = {
        {0.60, 0.05, 0.30, 0.00, 0.05},  // nick: a grain, or the new blade was hit
        {0.70, 0.15, 0.10, 0.05, 0.00},  // score: a grain under the blade; a roll may come back with one
        {0.00, 0.80, 0.05, 0.15, 0.00},  // worn band: over months; seen when that roll is put in
        {0.05, 0.40, 0.00, 0.15, 0.40},  // plugged: ink dries in over weeks, or while the press stands
        {0.05, 0.05, 0.05, 0.80, 0.05},  // handling: out of the press and back
        {0.80, 0.10, 0.05, 0.00, 0.05},  // propped
        {0.25, 0.50, 0.15, 0.05, 0.05},  // riding: by wear, or a jump
        {0.05, 0.20, 0.05, 0.65, 0.05},  // run-out: a roll or its bearings
        {0.50, 0.25, 0.05, 0.00, 0.20},  // lodged: a particle, or ink that dries on
        {0.40, 0.30, 0.00, 0.05, 0.25},  // blocked supply
        {0.15, 0.60, 0.20, 0.05, 0.00},  // end seal: wears, or was set badly
        {0.45, 0.35, 0.00, 0.05, 0.15},  // not this nip
    };
    return odds[static_cast<std::size_t>(cause)];
}

LineDefect sample_defect(LineCause cause, const LineContext& context, std::uint64_t seed, std::uint64_t index) {
    Random random(seed, index * kLineCauses + static_cast<std::uint64_t>(cause));
    LineDefect defect = draw(cause, context, random);
    std::visit([&](auto& d) { d.began = draw_onset(cause, random); }, defect);
    return defect;
}

SampledLine sample_visible(LineCause cause, const LineContext& context, const PrintLaw& law, std::uint64_t seed,
                           std::uint64_t index, int most_tries) {
    SampledLine out;
    do {
        // A stream of its own for each try.
        const std::uint64_t stream =
            out.tries == 0 ? seed : Random::mixed(seed + static_cast<std::uint64_t>(out.tries));
        out.defect = sample_defect(cause, context, stream, index);
        out.print = line_print(out.defect, context, law);
        ++out.tries;
    } while (!out.print.visible() && out.tries < most_tries);
    return out;
}

}  // namespace libblade
