#include "libblade/tip_outline.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <string>

#include "libblade/error.hpp"
#include "libblade/root.hpp"

namespace libblade {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kPi = std::numbers::pi;

struct Vector {
    double x, z;
};
Vector operator+(Vector a, Vector b) { return {a.x + b.x, a.z + b.z}; }
Vector operator-(Vector a, Vector b) { return {a.x - b.x, a.z - b.z}; }
Vector operator*(double s, Vector a) { return {s * a.x, s * a.z}; }

bool positive(double value) { return value > 0.0 && std::isfinite(value); }

void require(bool good, std::vector<Problem>& problems, const char* path, double value, const char* message) {
    if (!good) problems.push_back({path, std::to_string(value), message});
}

/// Height of a thin tip's roll-facing side over the body's, across the blade.
double stand_off(double thickness, const SteppedEnd& end) noexcept {
    const double difference = thickness - end.thickness;
    return end.flush == Flush::roll ? 0.0 : end.flush == Flush::away ? difference : 0.5 * difference;
}

}  // namespace

Outline tip_outline(double thickness, const EndShape& end, double edge_radius) {
    std::vector<Problem> problems;
    require(positive(thickness), problems, "thickness", thickness, "must be positive");
    require(edge_radius >= 0.0 && std::isfinite(edge_radius), problems, "edge_radius", edge_radius,
            "must not be negative");
    const double t = thickness, r = edge_radius;
    Outline points;
    if (std::holds_alternative<SquareEnd>(end)) {
        points = {{0.0, 0.0, r}, {0.0, t, r}};
    } else if (const auto* bevel = std::get_if<BevelledEnd>(&end)) {
        require(bevel->angle > 0.0 && bevel->angle <= 0.5 * kPi, problems, "angle", bevel->angle,
                "must be more than 0 and at most 90 deg");
        require(bevel->depth > 0.0 && bevel->depth <= t, problems, "depth", bevel->depth,
                "must be more than 0 and at most the thickness");
        const double back = bevel->depth / std::tan(bevel->angle), rest = t - bevel->depth;
        if (bevel->side == BladeSide::away) {
            points = {{0.0, 0.0, r}, {0.0, rest, r}, {back, t, r}};
            if (rest == 0.0) points.erase(points.begin() + 1);
        } else {
            points = {{back, 0.0, r}, {0.0, bevel->depth, r}, {0.0, t, r}};
            if (rest == 0.0) points.pop_back();
        }
    } else {
        const SteppedEnd& step = std::get<SteppedEnd>(end);
        require(step.thickness > 0.0 && step.thickness < t, problems, "tip.thickness", step.thickness,
                "must be positive and less than the body's");
        require(positive(step.length), problems, "tip.length", step.length, "must be positive");
        const double from = stand_off(t, step), to = from + step.thickness;
        if (from > 0.0) points = {{step.length, 0.0}, {step.length, from}};
        points.push_back({0.0, from, r});
        points.push_back({0.0, to, r});
        if (step.flush != Flush::away) points.insert(points.end(), {{step.length, to}, {step.length, t}});
    }
    if (!problems.empty()) throw InvalidInput(std::move(problems));
    (void)FacetLaw(points, 0.25 * kPi);  // refuses a rounding that does not fit
    return points;
}

Outline blade_outline(const Blade& blade, double edge_radius) {
    if (blade.sections.empty()) return tip_outline(blade.thickness, SquareEnd{}, edge_radius);
    std::vector<Problem> problems;
    for (const BladeSection& part : blade.sections)
        for (const double size : {part.length, part.thickness, part.end_thickness.value_or(part.thickness)})
            require(positive(size), problems, "blade.sections", size, "needs positive lengths and thicknesses");
    if (!problems.empty()) throw InvalidInput(std::move(problems));
    // Clamp to tip; each section tapers about its own mid-plane. A point is left out where a side just runs on.
    Outline roll_side, away_side;
    const auto add = [](Outline& side, double along, double across) {
        const std::size_t n = side.size();
        if (n > 0 && side[n - 1].along == along && side[n - 1].across == across) return;
        if (n > 1 && side[n - 1].across == across && side[n - 2].across == across) side.pop_back();
        side.push_back({along, across});
    };
    double along = free_length(blade), roll = 0.0, away = 0.0;
    for (const BladeSection& part : blade.sections) {
        const bool first = roll_side.empty();
        const double taper = 0.5 * (part.thickness - part.end_thickness.value_or(part.thickness));
        // The side on which it is level keeps its place, to the last bit.
        if (first || part.flush == Flush::roll)
            away = roll + part.thickness;
        else if (part.flush == Flush::away)
            roll = away - part.thickness;
        else
            roll = 0.5 * (roll + away - part.thickness), away = roll + part.thickness;
        add(roll_side, along, roll), add(away_side, along, away);
        along = &part == &blade.sections.back() ? 0.0 : along - part.length;
        roll += taper, away -= taper;
        add(roll_side, along, roll), add(away_side, along, away);
    }
    // Before the first bend a side only runs on from the clamp.
    for (Outline* side : {&roll_side, &away_side}) {
        side->back().radius = edge_radius;
        if (side->size() > 1 && side->front().across == (*side)[1].across) side->erase(side->begin());
    }
    roll_side.insert(roll_side.end(), away_side.rbegin(), away_side.rend());
    (void)FacetLaw(roll_side, 0.25 * kPi);  // refuses lengths and roundings that do not fit
    return roll_side;
}

double FacetLaw::Piece::x(double z) const {
    if (radius == 0.0) return z == low ? x0 : x0 + slope * (z - low);
    const double up = std::max(0.0, z - (centre - radius)), down = std::max(0.0, centre + radius - z);
    return x0 + side * std::sqrt(up * down);
}

double FacetLaw::Piece::steepness(double z) const {
    if (radius == 0.0) return slope;
    const double up = std::max(0.0, z - (centre - radius)), down = std::max(0.0, centre + radius - z);
    return side * (centre - z) / std::sqrt(up * down);
}

double FacetLaw::Piece::area(double z) const {
    const double rise = std::min(z, high) - low;
    if (!(rise > 0.0)) return 0.0;
    if (radius == 0.0) return rise * (x0 + 0.5 * slope * rise);
    // Half the circle's segment; loses digits only where that is far below the square of the radius.
    const auto half_segment = [this](double h) {
        const double up = std::max(0.0, h - (centre - radius)), down = std::max(0.0, centre + radius - h);
        const double chord = std::sqrt(up * down), t = std::atan2(chord, centre - h);
        return 0.5 * (radius * radius * t - chord * (centre - h));
    };
    return x0 * rise + side * (half_segment(low + rise) - half_segment(low));
}

FacetLaw::FacetLaw(const Outline& outline, double angle) : angle_(angle) {
    const std::size_t n = outline.size();
    std::vector<Problem> problems;
    require(angle > 0.0 && angle < 0.5 * kPi, problems, "angle", angle, "must lie between 0 and 90 deg");
    require(n >= 2 && outline.front().across < outline.back().across, problems, "outline", static_cast<double>(n),
            "must run from the roll-facing side to the away side, in at least two points");
    for (const OutlinePoint& p : outline)
        require(std::isfinite(p.along) && std::isfinite(p.across) && p.radius >= 0.0 && std::isfinite(p.radius),
                problems, "outline", p.along, "holds a point that is not finite or a negative radius");
    if (!problems.empty()) throw InvalidInput(std::move(problems));

    const double c = std::cos(angle), s = std::sin(angle);
    std::vector<Vector> point(n), heading(n + 1);  // heading[i]: towards point i; the sides are the first and the last
    for (std::size_t i = 0; i < n; ++i)
        point[i] = {outline[i].along * c - outline[i].across * s, outline[i].along * s + outline[i].across * c};
    std::vector<double> edge(n + 1, kInfinity), cut(n, 0.0), turn(n);
    heading.front() = {-c, -s};
    heading.back() = {c, s};
    for (std::size_t i = 1; i < n; ++i) {
        const Vector step = point[i] - point[i - 1];
        edge[i] = std::hypot(step.x, step.z);
        require(edge[i] > 0.0, problems, "outline", outline[i].along, "holds a point twice");
        heading[i] = (1.0 / edge[i]) * step;
    }
    if (!problems.empty()) throw InvalidInput(std::move(problems));
    for (std::size_t i = 0; i < n; ++i) {
        const Vector in = heading[i], out = heading[i + 1];
        turn[i] = -std::atan2(in.x * out.z - in.z * out.x, in.x * out.x + in.z * out.z);  // positive: outer corner
        if (outline[i].radius > 0.0) {
            require(turn[i] > 0.0, problems, "radius", outline[i].radius, "rounds an inner corner");
            cut[i] = outline[i].radius * std::tan(0.5 * std::max(0.0, turn[i]));
        }
    }
    for (std::size_t i = 1; i < n; ++i)
        require(cut[i - 1] + cut[i] <= edge[i], problems, "radius", outline[i].radius, "does not fit its edges");
    if (!problems.empty()) throw InvalidInput(std::move(problems));

    // The outline runs with the metal on its right: what falls bounds the metal at large x, what rises at small x.
    const auto add_line = [&](Vector from, Vector to) {
        if (from.z == to.z) return;
        const bool falls = to.z < from.z;
        const Vector low = falls ? to : from, high = falls ? from : to;
        pieces_.push_back({low.z, high.z, low.x, (high.x - low.x) / (high.z - low.z), 0.0, 0.0, falls ? 1.0 : -1.0});
    };
    const Vector first = point.front() - cut.front() * heading.front();
    pieces_.push_back({first.z, kInfinity, first.x, c / s, 0.0, 0.0, 1.0});
    for (std::size_t i = 0; i < n; ++i) {
        if (i > 0) add_line(point[i - 1] + cut[i - 1] * heading[i], point[i] - cut[i] * heading[i]);
        if (cut[i] == 0.0) continue;
        const double r = outline[i].radius;
        const Vector in = heading[i], centre = point[i] - cut[i] * in + r * Vector{in.z, -in.x};
        // Headings fall from that of one edge to that of the next; the arc is split where they are level.
        const double begin = std::atan2(in.z, in.x), end = begin - turn[i];
        const double level = kPi * std::floor(begin / kPi);
        std::vector<double> stops{begin};
        for (const double stop : {level, level - kPi})
            if (stop < begin && stop > end) stops.push_back(stop);
        stops.push_back(end);
        const auto height = [&](double h) { return centre.z + r * std::cos(h); };
        for (std::size_t k = 1; k < stops.size(); ++k) {
            const double a = height(stops[k - 1]), b = height(stops[k]);
            const double middle = std::sin(0.5 * (stops[k - 1] + stops[k]));
            if (a != b)
                pieces_.push_back(
                    {std::min(a, b), std::max(a, b), centre.x, 0.0, r, centre.z, middle < 0.0 ? 1.0 : -1.0});
        }
    }
    const Vector last = point.back() + cut.back() * heading.back();
    pieces_.push_back({last.z, kInfinity, last.x, c / s, 0.0, 0.0, -1.0});

    double lowest = kInfinity;
    for (const Piece& p : pieces_) lowest = std::min(lowest, p.low);
    for (Piece& p : pieces_) {
        p.low -= lowest, p.high -= lowest, p.centre -= lowest;
        corners_.push_back(p.low);
        if (std::isfinite(p.high)) corners_.push_back(p.high);
    }
    // Ends of neighbouring pieces are one corner, up to rounding.
    std::sort(corners_.begin(), corners_.end());
    double size = outline.back().across - outline.front().across;
    for (std::size_t i = 1; i < n; ++i) size = std::max(size, edge[i]);
    const double near = 1e-14 * size;
    std::vector<double> merged;
    for (const double corner : corners_)
        if (merged.empty() || corner - merged.back() > near) merged.push_back(corner);
    const auto snap = [&](double z) {
        const auto it = std::upper_bound(merged.begin(), merged.end(), z);
        return it == merged.begin() ? z : *(it - 1);
    };
    for (Piece& p : pieces_) {
        p.low = snap(p.low);
        if (std::isfinite(p.high)) p.high = snap(p.high);
    }
    corners_ = std::move(merged);
}

double FacetLaw::length(double z, bool before) const {
    double sum = 0.0;
    for (const Piece& p : pieces_)
        if (before ? p.low < z && z <= p.high : p.low <= z && z < p.high) sum += p.side * p.x(z);
    return std::max(0.0, sum);
}

double FacetLaw::area(double z) const {
    double sum = 0.0;
    for (const Piece& p : pieces_) sum += p.side * p.area(z);
    return std::max(0.0, sum);
}

OutlineFacet FacetLaw::at(double retreat) const {
    if (!(retreat >= 0.0)) return {kNan, kNan, 0, kNan, kNan, kNan, kNan};
    OutlineFacet facet{length(retreat, false), 0.0, 0, area(retreat), kNan, kNan, 0.0};
    double left = kInfinity, right = -kInfinity;
    int crossings = 0;
    for (const Piece& p : pieces_) {
        if (!(p.low <= retreat && retreat < p.high)) continue;
        const double x = p.x(retreat), steepness = p.steepness(retreat);
        ++crossings;
        facet.widening += p.side * steepness;
        if (p.side > 0.0 && x >= right) right = x, facet.body_angle = std::atan2(1.0, steepness);
        if (p.side < 0.0 && x <= left) left = x, facet.front_angle = std::atan2(1.0, -steepness);
    }
    facet.span = std::max(0.0, right - left);
    facet.stretches = crossings / 2;
    return facet;
}

template <class F>
double FacetLaw::solve(F&& excess, double from, double to, double scale) const {
    const Root root = bracketed_root(excess, {from, excess(from), to, excess(to)}, 4e-16 * to, 1e-15 * scale, 100);
    return root.status == Status::converged ? root.x : kNan;
}

double FacetLaw::retreat_for_length(double wanted) const {
    if (!(wanted >= 0.0)) return kNan;
    const double enough = wanted * (1.0 - 1e-14);  // the last length is approached, never passed
    for (std::size_t k = 0; k < corners_.size(); ++k) {
        if (length(corners_[k], false) >= enough) return corners_[k];
        if (k + 1 == corners_.size() || length(corners_[k + 1], true) < enough) continue;
        const auto excess = [&](double z) {
            return (z == corners_[k + 1] ? length(z, true) : length(z, false)) - wanted;
        };
        if (excess(corners_[k + 1]) <= 0.0) return corners_[k + 1];
        return solve(excess, corners_[k], corners_[k + 1], wanted);
    }
    return kNan;
}

double FacetLaw::retreat_for_area(double wanted) const {
    if (!(wanted >= 0.0)) return kNan;
    for (std::size_t k = 1; k < corners_.size(); ++k)
        if (area(corners_[k]) >= wanted)
            return solve([&](double z) { return area(z) - wanted; }, corners_[k - 1], corners_[k], wanted);
    const double last = corners_.back();
    return last + (wanted - area(last)) / length(last, false);
}

std::vector<WearEvent> FacetLaw::events() const {
    std::vector<WearEvent> list;
    for (const double z : corners_) list.push_back({z, length_lost(z), area(z), length(z, true), length(z, false)});
    return list;
}

double FacetLaw::length_lost(double retreat) const noexcept { return retreat / std::sin(angle_); }

StepWear step_wear(double thickness, const SteppedEnd& end, double angle) {
    const FacetLaw law(tip_outline(thickness, end), angle);
    const double c = std::cos(angle), s = std::sin(angle), tip = stand_off(thickness, end) * c,
                 shoulder = end.length * s;
    // Heights in the blade's frame. A tip that stands off meets the roll with its corner and then the body's corner
    // comes down; a level one is used up when the step's inner corner is there. The facet is the body's once the last
    // corner has passed.
    const bool level = end.flush == Flush::roll;
    const double touch = level ? 0.0 : std::min(tip, shoulder);
    const double to_step = shoulder + (level ? end.thickness * c : 0.0) - touch;
    const double to_body =
        (end.flush == Flush::away ? std::max(shoulder + tip, thickness * c) : shoulder + thickness * c) - touch;
    const OutlineFacet at_step = law.at(to_step), at_body = law.at(to_body);
    return {to_step, law.length_lost(to_step), at_step.area, at_step.length, to_body, at_body.area, at_body.length};
}

double facet_sag(double length, double roll_radius) noexcept { return length * length / (8.0 * roll_radius); }

}  // namespace libblade
