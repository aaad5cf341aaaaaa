#include "lines_relief.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <string>
#include <utility>
#include <vector>

#include "libblade/error.hpp"
#include "libblade/roll_wear.hpp"
#include "libblade/width.hpp"

namespace libblade::detail {

namespace {

constexpr double kEverywhere = std::numeric_limits<double>::infinity();

double one(double) { return 1.0; }
/// 1 - s^2 over a width.
double bowl(double y, double width) noexcept {
    const double s = 2.0 * y / width;
    return std::max(0.0, 1.0 - s * s);
}
std::function<double(double)> bowl_of(double height, double width) {
    return [=](double y) { return height * bowl(y, width); };
}
std::function<double(double)> flat_of(double height, double width) {
    return [=](double y) { return std::abs(y) <= 0.5 * width ? height : 0.0; };
}

Relief along_web(std::function<double(double)> across, double half_across) {
    return {std::move(across), one, half_across, kEverywhere};
}

/// Share of the cells' volume that is left below a depth under the lands.
double left_below(const Engraving& e, double depth) {
    if (!(depth < cell_depth(e))) return 0.0;
    return cell_volume(worn_engraving(e, depth)) / cell_volume(e);
}

double film_at(const LineContext& k, double advance) {
    const auto& x = k.advance;
    if (x.size() < 2) return k.film;
    const auto i = static_cast<std::size_t>(std::upper_bound(x.begin() + 1, x.end() - 1, advance) - x.begin());
    const double t = std::clamp((advance - x[i - 1]) / (x[i] - x[i - 1]), 0.0, 1.0);
    return std::lerp(k.advanced_film[i - 1], k.advanced_film[i], t);
}

/// Of a parabola, whose mean depth is two thirds.
double side_drag_of(double depth, double width) { return side_drag(2.0 / 3.0 * depth / width); }

Relief of(const BladeNick& d, const LineContext& k) {
    const double drag = side_drag_of(d.depth, d.width);
    return along_web(
        [=, &k](double y) {
            const double depth = d.depth * bowl(y, d.width);
            return drag * (lifted_film(k, depth) - k.film) + pressed_film(k, depth);
        },
        0.5 * d.width);
}

Relief of(const ScoredRoll& d, const LineContext& k) {
    const double travels = 1.0 - 0.5 * side_drag_of(d.depth, d.width);
    return along_web(
        [=, &k](double y) {
            const double depth = d.depth * bowl(y, d.width);
            const double cells = k.cell_ink > 0.0 ? k.cell_ink * (left_below(k.engraving, depth) - 1.0) : 0.0;
            return cells + travels * depth + pressed_film(k, depth);
        },
        0.5 * d.width);
}

Relief of(const WornBand& d, const LineContext& k) {
    const double loss = k.cell_ink > 0.0 ? land_loss_at(k.engraving, d.volume_share) : 0.0;
    return along_web(
        [=, &k](double y) {
            if (!(k.cell_ink > 0.0)) return 0.0;
            return k.cell_ink * (left_below(k.engraving, loss * bowl(y, d.width)) - 1.0);
        },
        0.5 * d.width);
}

Relief of(const PluggedCells& d, const LineContext& k) {
    const double part = k.roll_turn / d.count, length = std::min(d.length, part);
    const bool line = length * d.count >= 0.5 * k.roll_turn, closed = length >= part;
    // Every other patch comes a tenth late, so that only the turn repeats.
    const auto along = [=](double x) {
        if (closed) return 1.0;
        double sum = 0.0;
        for (int i = 0; i < d.count; ++i) {
            const double middle = part * (i + (i % 2 == 1 ? 0.1 * (1.0 - length / part) : 0.0));
            const double off = x - middle;
            sum += bowl(off - k.roll_turn * std::round(off / k.roll_turn), length);
        }
        return std::min(sum, 1.0);
    };
    Relief out{bowl_of(-d.share * k.cell_ink, d.width), along, 0.5 * d.width, kEverywhere};
    out.period = closed ? 0.0 : k.roll_turn;
    out.direction = line ? LineDirection::along_web : LineDirection::spots;
    out.patchy = true;
    if (!line && d.count == 1) out.half_along = 0.5 * length;
    return out;
}

Relief of(const HandlingMark& d, const LineContext& k) {
    const double fill = k.engraving.pattern == Pattern::smooth ? 1.0 : k.engraving.fill;
    Relief out{flat_of(fill * d.dent - d.crushed * k.cell_ink, d.width), bowl_of(1.0, d.length), 0.5 * d.width,
               0.5 * d.length};
    out.period = k.roll_turn;
    out.direction = d.width >= 3.0 * d.length ? LineDirection::across_web : LineDirection::spots;
    return out;
}

Relief of(const ProppedBlade& d, const LineContext& k) {
    const double a = stand_off(k.stiffness, k.line_load, d.lift);
    return along_web([=, &k](double y) { return lifted_film(k, stand_off_height(d.lift, a, y)) - k.film; }, a);
}

Relief of(const RidingBlade& d, const LineContext& k) {
    const double change = d.film - k.film;
    Relief out{[=](double) { return change; }, one, kEverywhere, kEverywhere};
    out.direction = LineDirection::whole_width;
    return out;
}

Relief of(const RunOutBands& d, const LineContext& k) {
    const auto along = [=, &k](double x) {
        return film_at(k, 0.5 * d.run_out * std::sin(2.0 * std::numbers::pi * x / k.roll_turn)) - k.film;
    };
    Relief out{one, along, kEverywhere, kEverywhere};
    out.period = k.roll_turn;
    out.direction = LineDirection::across_web;
    return out;
}

Relief of(const LodgedParticle& d, const LineContext& k) {
    const double a = d.lift > 0.0 ? stand_off(k.stiffness, k.line_load, d.lift) : 0.0, w = d.width;
    const double taken = d.wiped * k.nominal_ink();
    // Each bead is a quarter as wide as what was wiped and holds half of it: 3 / 2 over a parabola, times 2.
    const auto beads = [=](double y) {
        return std::abs(y) <= 0.5 * w ? -taken : 3.0 * taken * bowl(std::abs(y) - 0.625 * w, 0.25 * w);
    };
    return along_web(
        [=, &k](double y) {
            const double lifted = a > 0.0 ? lifted_film(k, stand_off_height(d.lift, a, y)) - k.film : 0.0;
            return lifted + (taken > 0.0 ? beads(y) : 0.0);
        },
        std::max(a, taken > 0.0 ? 0.75 * w : 0.0));
}

Relief of(const BlockedSupply& d, const LineContext& k) {
    return along_web(bowl_of((d.filled - 1.0) * k.cell_ink, d.width), 0.5 * d.width);
}

Relief of(const LeakingEndSeal& d, const LineContext&) {
    return along_web(bowl_of(0.5 * d.gap, d.width), 0.5 * d.width);
}

Relief of(const NotThisNip& d, const LineContext&) {
    Relief out;
    const double half = 0.5 * d.width;
    switch (d.direction) {
        case LineDirection::along_web:
            out = along_web(bowl_of(d.change, d.width), half);
            break;
        case LineDirection::across_web:
            out = {[=](double) { return d.change; }, bowl_of(1.0, d.width), kEverywhere, half};
            break;
        case LineDirection::whole_width:
            out = {[=](double) { return d.change; }, one, kEverywhere, kEverywhere};
            break;
        case LineDirection::spots:
            out = {bowl_of(d.change, d.width), bowl_of(1.0, d.width), half, half};
            break;
    }
    const bool marks = d.direction == LineDirection::across_web || d.direction == LineDirection::spots;
    out.period = marks ? d.repeat : 0.0;
    out.direction = d.direction;
    out.after_nip = true, out.patchy = d.patchy;
    return out;
}

/// Sizes of a defect with their hard ranges.
class Ranges {
  public:
    explicit Ranges(std::vector<Problem>& problems) : problems_(problems) {}
    void operator()(const BladeNick& d) { depth(d.depth), size("width", d.width); }
    void operator()(const ScoredRoll& d) { depth(d.depth), size("width", d.width); }
    void operator()(const WornBand& d) {
        within("volume_share", d.volume_share, 0.0, 0.99, "from 0 to 0.99"), size("width", d.width);
    }
    void operator()(const PluggedCells& d) {
        share("share", d.share), size("width", d.width), size("length", d.length);
        within("count", d.count, 1, 1000, "from 1 to 1000");
    }
    void operator()(const HandlingMark& d) {
        within("dent", d.dent, 0.0, 1e-3, "from 0 to 1 mm"), share("crushed", d.crushed);
        size("length", d.length), size("width", d.width);
    }
    void operator()(const ProppedBlade& d) { within("lift", d.lift, 1e-9, 1e-3, "from 1 nm to 1 mm"); }
    void operator()(const RidingBlade& d) { within("film", d.film, 0.0, 1e-3, "from 0 to 1 mm"); }
    void operator()(const RunOutBands& d) { within("run_out", d.run_out, 0.0, 2e-3, "from 0 to 2 mm"); }
    void operator()(const LodgedParticle& d) {
        within("lift", d.lift, 0.0, 1e-3, "from 0 to 1 mm"), share("wiped", d.wiped), size("width", d.width);
        if (!(d.lift > 0.0) && !(d.wiped > 0.0)) add("lift", d.lift, "above 0 where wiped is 0");
    }
    void operator()(const BlockedSupply& d) { share("filled", d.filled), size("width", d.width); }
    void operator()(const LeakingEndSeal& d) {
        within("gap", d.gap, 0.0, 1e-2, "from 0 to 10 mm"), size("width", d.width);
    }
    void operator()(const NotThisNip& d) {
        within("change", d.change, -1.0, 100.0, "from -1 to 100"), size("width", d.width);
        within("repeat", d.repeat, 0.0, 100.0, "from 0 to 100 m");
    }

  private:
    void add(const char* name, double value, const char* words) {
        problems_.push_back({name, std::to_string(value), std::string("must be ") + words});
    }
    void within(const char* name, double value, double low, double high, const char* words) {
        if (!(value >= low && value <= high)) add(name, value, words);
    }
    void share(const char* name, double value) { within(name, value, 0.0, 1.0, "from 0 to 1"); }
    void size(const char* name, double value) { within(name, value, 1e-7, 100.0, "from 0.1 um to 100 m"); }
    void depth(double value) { within("depth", value, 0.0, 1e-3, "from 0 to 1 mm"); }
    std::vector<Problem>& problems_;
};

}  // namespace

Relief relief_of(const LineDefect& defect, const LineContext& context) {
    return std::visit(
        [&](const auto& d) {
            Relief out = of(d, context);
            out.began = d.began;
            return out;
        },
        defect);
}

Printer::Printer(const LineContext& context, const PrintLaw& law, bool after_nip)
    : law_(law), after_nip_(after_nip), nominal_(context.nominal_ink()) {
    solid_ = density_through(ink_transfer(law.transfer, nominal_), law.nominal_density, law.density_limit);
}

Printer::Seen Printer::operator()(double change) const {
    const double ink = after_nip_ ? nominal_ : std::max(0.0, nominal_ + change);
    const double film = ink_transfer(law_.transfer, ink) * (after_nip_ ? 1.0 + change : 1.0);
    return {ink, film, tint_density(law_.tint, print_density(solid_, film), law_.yule_nielsen)};
}

void check_line(const LineDefect& defect, const LineContext& context, const PrintLaw& law) {
    check_print_law(law);
    std::vector<Problem> problems;
    std::visit(Ranges(problems), defect);
    if (!context.convergence.ok())
        problems.push_back(
            {"context", std::string(to_string(context.convergence.status)), "must be that of a solved nip"});
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

}  // namespace libblade::detail
