#include "libblade/lesson.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "libblade/error.hpp"
#include "libblade/parameters.hpp"
#include "libblade/print.hpp"
#include "libblade/units.hpp"
#include "libblade/wear_edge.hpp"
#include "nip_prepare.hpp"

namespace libblade {

namespace {

using detail::spelled_out;

constexpr double kPi = std::numbers::pi;
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kLeastStep = -0.9, kMostStep = 1.0;
constexpr double kGrainFriction = 0.15;
constexpr double kBeddedAgain = 0.02;  // of the first tilt
constexpr std::array<double, 3> kTints{0.25, 0.5, 0.75};

void check_request(const LessonRequest& r) {
    std::vector<Problem> problems = check(r.nip_case);
    if (!(r.step >= kLeastStep && r.step <= kMostStep))
        problems.push_back({"step", number_text(r.step), "must be between -0.9 and 1"});
    if (r.approved_ink && !(*r.approved_ink > 0.0 && *r.approved_ink <= 1e-3))
        problems.push_back({"approved_ink", number_text(*r.approved_ink), "must be above 0 m, at most 1e-3 m"});
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

OperatingPoint plain_point(const Case& c, const LessonRequest& r, Start start = Start::resting) {
    NipOptions options;
    options.start = start, options.tables = r.tables;
    options.step_response = options.other_branch = options.run_out = false;
    return solve(c, options);
}

bool whole_end(const Case& c, const OperatingPoint& point) {
    return eats_whole_end(point.facet_length, point.bedded_angle, tip_thickness(c.blade));
}

/// Right after the step: the facet has not changed, the holder has.
Case pressed(const Case& c, const OperatingPoint& from, double step) {
    Case out = c;
    if (auto* facet = std::get_if<Facet>(&out.tip))
        facet->bedding = BeddedAngle{from.bedded_angle}, facet->length = from.facet_length;
    if (c.setting.holding == Holding::fixed)
        set_number(out, "setting.interference", from.interference * (1.0 + step));
    else
        set_number(out, "setting.line_load", from.line_load * (1.0 + step));
    return spelled_out(std::move(out));
}

/// Mid-plane to faces, at a place along the strip from the clamp.
double thickness_at(const Blade& blade, double along) {
    if (blade.sections.empty()) return blade.thickness;
    for (const BladeSection& part : blade.sections) {
        if (along <= part.length || &part == &blade.sections.back())
            return std::lerp(part.thickness, part.end_thickness.value_or(part.thickness),
                             std::clamp(along / part.length, 0.0, 1.0));
        along -= part.length;
    }
    return tip_thickness(blade);
}

BladePicture blade_picture(const Case& c, const OperatingPoint& point) {
    BladePicture out;
    const Shape& shape = point.blade;
    const std::size_t n = shape.o.size();
    const double downstream = c.setting.orientation == Orientation::doctoring ? -1.0 : 1.0;
    const double length = free_length(c.blade), b = point.facet_length, t = tip_thickness(c.blade);
    const double bedded = b > 0.0 ? point.bedded_angle : 0.5 * kPi;
    const double back = 0.5 * b * std::cos(bedded);  // the facet's centre is the strip's end
    // Along the strip and off it from a place of its mid-plane.
    const auto from = [&](std::size_t i, double along, double off) -> std::array<double, 2> {
        const double s = std::sin(shape.slope[i]), k = std::cos(shape.slope[i]);
        return {downstream * (shape.o[i] + along * k + off * s), shape.z[i] - along * s + off * k};
    };
    for (std::size_t i = 0; i < n; ++i) {
        const double along = length * static_cast<double>(i) / static_cast<double>(n - 1);
        const double half = 0.5 * thickness_at(c.blade, along);
        out.mid.push_back(from(i, 0.0, 0.0));
        if (along < length - back) out.roll_side.push_back(from(i, 0.0, -half));
        out.away_side.push_back(from(i, 0.0, half));
        out.free_mid.push_back(from(0, along, 0.0));
    }
    const double worn = b * std::sin(bedded);
    out.roll_side.push_back(from(n - 1, -back, -0.5 * t));
    out.roll_side.push_back(from(n - 1, back, worn - 0.5 * t));
    out.away_side.push_back(from(n - 1, back, 0.5 * t));
    out.contact = from(n - 1, 0.0, 0.5 * (worn - t));
    return out;
}

FacetPicture facet_picture(const Case& c, const OperatingPoint& point) {
    const bool doctoring = c.setting.orientation == Orientation::doctoring, worn = point.facet_length > 0.0;
    const double a = point.effective_angle;
    FacetPicture out{
        point.facet_length,         point.bedded_angle, a, point.facet_tilt, point.ink_wedge_angle, a, kNan, kNan,
        worn && whole_end(c, point)};
    if (!doctoring) out.face_angle_far = (out.whole_end ? kPi : 0.5 * kPi) - a;
    if (!worn) return out;
    out.gap_ink_end = point.leading_gap;
    out.gap_far_end = point.leading_gap;
    if (const Section& s = point.section; !s.x.empty()) {
        const auto next = static_cast<std::size_t>(std::upper_bound(s.x.begin() + 1, s.x.end() - 1, 0.0) - s.x.begin());
        const double share = -s.x[next - 1] / (s.x[next] - s.x[next - 1]);
        out.gap_far_end = 2.0 * std::lerp(s.gap[next - 1], s.gap[next], share) - point.leading_gap;
    }
    return out;
}

/// One size of each kind. Sizes and kinds are invented for the lesson; hardnesses are those of handbooks (from memory).
std::vector<ParticleClass> lesson_particles() {
    const auto grain = [](const char* name, double size, double hardness) {
        ParticleClass out;
        out.name = name, out.median_size = size, out.hardness = hardness;
        return out;
    };
    std::vector<ParticleClass> all{grain("pigment aggregate", 1.5e-6, 10e9), grain("ceramic chip", 5e-6, 13e9),
                                   grain("mineral dust", 8e-6, 11e9), grain("alumina grit", 12e-6, 20e9)};
    ParticleClass sliver = grain("blade sliver", 40e-6, 6e9), crumb = grain("dried ink", 60e-6, 0.2e9);
    sliver.shape = crumb.shape = ParticleShape::flake;
    sliver.thickness = 3e-6, sliver.breadth = 0.3;
    crumb.thickness = 15e-6, crumb.breadth = 0.7, crumb.ductile = true;
    all.push_back(sliver), all.push_back(crumb);
    return all;
}

void meet_particles(const Case& c, LessonState& out) {
    const Mouth mouth = mouth_of(c, out.point);
    const ScoringOptions usual;
    out.entry_size = entry_size(mouth, kGrainFriction);
    for (ParticleClass& particle : lesson_particles()) {
        const ParticleFate fate = particle_fate(mouth, particle, particle.median_size, usual);
        const double enters = entry_share(mouth, particle, particle.median_size, fate.force, usual.narrowness);
        out.particles.push_back({std::move(particle), fate.passes ? 1.0 : enters, fate});
    }
}

WebPrint web_print(double approved_ink, double ink) {
    const PrintLaw law;
    const double approved_film = ink_transfer(law.transfer, approved_ink);
    const SolidDensity solid = density_through(approved_film, law.nominal_density, law.density_limit);
    WebPrint out{approved_ink, ink, law.nominal_density, print_density(solid, ink_transfer(law.transfer, ink)), 0.0,
                 0.0,          {}};
    out.contrast = luminance_contrast(out.density, out.approved_density);
    out.visibility = std::abs(out.contrast) / law.eye.comparison_contrast;
    for (std::size_t i = 0; i < kTints.size(); ++i)
        out.tints[i] = {kTints[i], tint_density(kTints[i], out.approved_density), tint_density(kTints[i], out.density)};
    return out;
}

/// As long as all load of the asperities stands on the end that goes.
double bed_again(const Blade& blade, const OperatingPoint& point) {
    if (point.facet_tilt == 0.0) return 0.0;
    if (!(blade.specific_wear * point.asperity_load > 0.0)) return kNan;
    return rebedding_distance(point.facet_length, point.facet_tilt, blade.specific_wear, point.asperity_load);
}

}  // namespace

LessonState lesson_state(const LessonRequest& r) {
    check_request(r);
    LessonState out;
    const Case given = spelled_out(r.nip_case);
    out.as_solved = given;
    // What an operating point costs is little; a table of the ink is not.
    FlowTables own;
    LessonRequest with = r;
    if (with.tables == nullptr) with.tables = &own;

    std::optional<OperatingPoint> unpressed;
    if (r.step != 0.0) {
        unpressed = plain_point(given, with);
        if (!unpressed->convergence.ok()) {
            out.point.convergence = unpressed->convergence;
            return out;
        }
        out.as_solved = pressed(given, *unpressed, r.step);
    }
    NipOptions options;
    options.start = r.start, options.section = r.drawing, options.tables = with.tables;
    options.step_response = options.run_out = r.drawing;
    out.point = solve_after_step(given, r.step, options);
    if (!out.point.convergence.ok()) return out;

    const auto* facet = std::get_if<Facet>(&given.tip);
    const auto* elsewhere = facet != nullptr ? std::get_if<BeddedElsewhere>(&facet->bedding) : nullptr;
    const bool known = facet == nullptr || !std::holds_alternative<BeddedAngle>(facet->bedding);
    if (elsewhere != nullptr)
        out.before = plain_point(detail::bedding_case(given, *elsewhere), with);
    else if (known && unpressed)
        out.before = unpressed;
    else if (known && r.start == Start::riding)
        out.before = plain_point(given, with);
    if (out.before && !out.before->convergence.ok()) out.before.reset();

    const double before = out.before  ? out.before->ink_carried
                          : unpressed ? unpressed->ink_carried
                                      : out.point.ink_carried;
    out.print = web_print(r.approved_ink.value_or(before), out.point.ink_carried);
    out.facet = facet_picture(out.as_solved, out.point);
    out.rebedding_distance = bed_again(given.blade, out.point);
    if (r.drawing) {
        out.blade = blade_picture(out.as_solved, out.point);
        out.section = out.point.section;
        meet_particles(out.as_solved, out);
    }
    return out;
}

LessonLife lesson_life(const LessonRequest& r, double distance) {
    check_request(r);
    Case c = spelled_out(r.nip_case);
    if (r.step != 0.0) {
        const OperatingPoint unpressed = plain_point(c, r);
        if (!unpressed.convergence.ok()) {
            LessonLife failed;
            failed.history.convergence = unpressed.convergence;
            return failed;
        }
        c = pressed(c, unpressed, r.step);
    }
    const double sign = c.setting.orientation == Orientation::doctoring ? 1.0 : -1.0;
    const auto tilt = [sign](const WearHistory& h, std::size_t k) {
        return sign * (h.bedded_angle[k] - h.effective_angle[k]);
    };
    WearOptions options;
    options.start = r.start, options.tables = r.tables;
    LessonLife out;
    options.watch = [&](const WearHistory& h) {
        const std::size_t last = h.distance.size() - 1;
        if (out.bedded_again || std::abs(tilt(h, last)) > kBeddedAgain * std::abs(tilt(h, 0))) return !out.bedded_again;
        out.bedded_again = last;
        return false;
    };
    out.history = wear(c, distance, options);
    return out;
}

}  // namespace libblade
