#include "libblade/lines.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "lines_relief.hpp"

namespace libblade {

namespace {

using namespace detail;

constexpr int kHalf = 200;  // places each side of a line's middle

/// Width at half of the largest contrast, about its place.
double width_at_half(const std::vector<double>& place, const std::vector<double>& contrast, std::size_t peak) {
    const double half = 0.5 * contrast[peak];
    const auto walk = [&](int step) {
        std::size_t i = peak;
        const std::size_t end = step < 0 ? 0 : contrast.size() - 1;
        while (i != end) {
            const std::size_t next = step < 0 ? i - 1 : i + 1;
            const double here = contrast[i] / half, there = contrast[next] / half;
            if (there <= 1.0) return std::lerp(place[i], place[next], (here - 1.0) / (here - there));
            i = next;
        }
        return place[end];
    };
    return walk(1) - walk(-1);
}

/// Along a mark of a repeated or short pattern.
double length_of(const Relief& relief, const Printer& print, double nominal) {
    if (relief.direction != LineDirection::spots) return std::numeric_limits<double>::infinity();
    const double reach = std::isfinite(relief.half_along) ? relief.half_along : 0.5 * relief.period;
    std::vector<double> place, contrast;
    for (int i = -kHalf; i <= kHalf; ++i) {
        place.push_back(reach * i / kHalf);
        contrast.push_back(print(relief.across(0.0) * relief.along(place.back())).density - nominal);
    }
    return contrast[kHalf] == 0.0 ? 2.0 * reach : width_at_half(place, contrast, kHalf);
}

}  // namespace

LinePrint line_print(const LineDefect& defect, const LineContext& context, const PrintLaw& law) {
    check_line(defect, context, law);
    const Relief relief = relief_of(defect, context);
    const Printer print(context, law, relief.after_nip);
    LinePrint out;
    out.cause = cause_of(defect);
    const Printer::Seen beside = print(0.0);
    out.nominal_ink = beside.ink, out.nominal_film = beside.film, out.nominal_density = beside.density;

    const bool across = relief.direction == LineDirection::across_web;
    const bool whole = relief.direction == LineDirection::whole_width;
    double reach = across ? relief.half_along : relief.half_across;
    if (!std::isfinite(reach)) reach = across ? 0.5 * relief.period : 0.5;
    std::vector<double> contrast;
    std::size_t peak = 0;
    double change_at_peak = 0.0;
    for (int i = -kHalf; i <= kHalf; ++i) {
        const double at = reach * i / kHalf;
        const double change = relief.across(across ? 0.0 : at) * relief.along(across ? at : 0.0);
        const Printer::Seen seen = print(change);
        out.place.push_back(at), out.profile.push_back(seen.ink);
        contrast.push_back(seen.density - beside.density);
        const double weight = i == -kHalf || i == kHalf ? 0.5 : 1.0;
        out.excess_area += weight * (seen.ink - beside.ink) * (whole ? 1.0 / (2.0 * kHalf) : reach / kHalf);
        // Of two equal ones the one nearer to the middle.
        const std::size_t here = contrast.size() - 1;
        if (std::abs(contrast[here]) > std::abs(contrast[peak]) * (1.0 + 1e-12)) peak = here, change_at_peak = change;
    }
    if (peak == 0) change_at_peak = relief.across(across ? 0.0 : -reach) * relief.along(across ? -reach : 0.0);
    const Printer::Seen there = print(change_at_peak);
    out.ink = there.ink, out.film = there.film, out.density = there.density;
    out.density_contrast = there.density - beside.density;

    LineSignature& s = out.signature;
    const bool seen = out.density_contrast != 0.0;
    s.tone = out.density_contrast < 0.0 ? Tone::lighter : Tone::darker;
    s.direction = relief.direction, s.repeat = relief.period, s.patchy = relief.patchy, s.began = relief.began;
    s.width = whole  ? std::numeric_limits<double>::quiet_NaN()
              : seen ? width_at_half(out.place, contrast, peak)
                     : 2.0 * reach;
    const SeatRule rule = seat_rule(seat_of(out.cause));
    s.moves_with_blade = rule.moves_with_blade, s.goes_when_wiped = rule.goes_when_wiped;
    s.survives_blade_change = rule.survives_blade_change, s.survives_cleaning = rule.survives_cleaning;

    const double light = luminance_contrast(out.density, out.nominal_density);
    if (whole)
        out.visibility = std::abs(light) / law.eye.comparison_contrast;
    else
        out.visibility = visibility(law.eye, light, s.width, length_of(relief, print, beside.density));
    return out;
}

}  // namespace libblade
