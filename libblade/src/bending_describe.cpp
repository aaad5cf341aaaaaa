// What is said about a state of the strip, and about inputs and loads that have none.
#include <algorithm>
#include <cmath>
#include <functional>
#include <numbers>

#include "bending_model.hpp"
#include "libblade/root.hpp"

namespace libblade {

using namespace bending_model;

namespace {

constexpr double kUpright = 0.5 * std::numbers::pi;

}  // namespace

Bent bending_model::failed(Status status, std::string_view message, int iterations, double residual) {
    Bent bent;
    for (double* number :
         {&bent.effective_angle, &bent.tip_rotation, &bent.travel, &bent.interference, &bent.tip_deflection,
          &bent.root_moment, &bent.root_force_o, &bent.root_force_z, &bent.max_moment, &bent.max_moment_place,
          &bent.max_stress, &bent.max_stress_place, &bent.plate_force, &bent.plate_clearance, &bent.holder_moment,
          &bent.contact_arc_length, &bent.overhang, &bent.wrapped_arc})
        *number = kNan;
    bent.convergence = {status, residual, kTolerance, iterations, std::string(message)};
    return bent;
}

namespace {

Complaint complaint_of_sections(const Strip& s) {
    if (s.section_count < 0 || s.section_count > static_cast<int>(s.sections.size()))
        return {Status::out_of_range, "a strip has 0 to 16 sections"};
    double sum = 0.0;
    for (int i = 0; i < s.section_count; ++i) {
        const StripSection& part = s.sections[static_cast<std::size_t>(i)];
        for (const double value : {part.length, part.thickness_clamp, part.thickness_tip, part.modulus, part.jump})
            if (!std::isfinite(value)) return {Status::non_finite, "a number given to a section is not finite"};
        if (!(std::min({part.length, part.thickness_clamp, part.thickness_tip, part.modulus}) > 0.0))
            return {Status::out_of_range, "length, thickness and modulus of a section must be positive"};
        sum += part.length;
    }
    if (s.section_count > 0 && s.length > sum * (1.0 + 1e-9))
        return {Status::out_of_range, "the sections are shorter than the strip"};
    if (!has_plate(s)) return {};
    if (!(s.plate.length < s.length)) return {Status::out_of_range, "the backing plate must end before the contact"};
    if (s.plate.gap < 0.0 || s.plate.compliance < 0.0)
        return {Status::out_of_range, "gap and compliance of the backing plate must not be negative"};
    // Where the strip is thicker inboard, the plane plate must clear it before there is a load.
    const auto face = [&](double at) { return kernel::mid_plane_rise(s, at) + 0.5 * local(s, at).thickness; };
    double joint = 0.0;
    for (int i = 0; i < s.section_count && joint < s.plate.length; ++i) {
        const double end = joint + s.sections[static_cast<std::size_t>(i)].length;
        for (const double at : {joint + 1e-12 * s.length, std::min(end, s.plate.length)})
            if (face(at) > face(s.plate.length) + s.plate.gap + 1e-12 * s.length)
                return {Status::out_of_range, "the backing plate would cut into a thicker part of the strip"};
        joint = end;
    }
    return {};
}

}  // namespace

Complaint bending_model::complaint(const Strip& s, const ContactForce& f, double more, int steps) {
    for (const double value :
         {s.stiffness, s.length, s.set_angle, s.offset, s.pressure, f.normal, f.tangential, f.centre, more,
          s.plate.length, s.plate.gap, s.plate.compliance, s.holder_compliance, s.holder_rotation})
        if (!std::isfinite(value)) return {Status::non_finite, "a number given to the strip is not finite"};
    if (std::isnan(s.roll_radius)) return {Status::non_finite, "the roll radius is not a number"};
    if (!(s.stiffness > 0.0) || !(s.length > 0.0) || !(s.roll_radius > 0.0) || steps < 1)
        return {Status::out_of_range, "stiffness, length, roll radius and steps must be positive"};
    if (!(s.set_angle > 0.0) || !(s.set_angle < kUpright))
        return {Status::out_of_range, "the set angle must lie between 0 and 90 deg"};
    if (s.holder_compliance < 0.0 || s.holder_rotation < 0.0)
        return {Status::out_of_range, "the compliance of the holder must not be negative"};
    return s.section_count != 0 || has_plate(s) ? complaint_of_sections(s) : Complaint{};
}

namespace {

/// Largest moment and stress inside the steps, from the series themselves: ends, and where they are stationary.
struct Largest {
    const Strip& strip;
    double at;  // arc length
    double moment = 0.0, moment_place = 0.0, stress = 0.0, stress_place = 0.0;
    bool off_roll = true;  // the corners of steps

    void operator()(const kernel::StripSeries<double>& u) {
        // The section is asked for in the middle of the step: at its ends a joint may lie either way by a rounding.
        const Local middle = local(strip, at + 0.5 * u.step);
        const double unit = u.stiffness / u.step, thick = middle.thickness - 0.5 * u.step * middle.slope, g = u.growth;
        const auto note = [&](double x) {
            const double m = std::abs(polynomial(u.moment, x) * unit), t = thick * (1.0 + g * x);
            if (m > moment) moment = m, moment_place = at + x * u.step;
            if (6.0 * m / (t * t) > stress) stress = 6.0 * m / (t * t), stress_place = at + x * u.step;
        };
        note(0.0), note(1.0);
        const double slope0 = u.moment[1], slope1 = polynomial(u.moment, 1.0, 1);
        if (slope0 * slope1 < 0.0) {
            double x = slope0 / (slope0 - slope1);
            for (int i = 0; i < 4; ++i)
                x = std::clamp(x - polynomial(u.moment, x, 1) / polynomial(u.moment, x, 2), 0.0, 1.0);
            note(x);
        }
        if (g != 0.0) {  // of m / t^2
            const auto rise = [&](double x) {
                return polynomial(u.moment, x, 1) * (1.0 + g * x) - 2.0 * g * polynomial(u.moment, x);
            };
            const double low = rise(0.0), high = rise(1.0);
            if (low * high < 0.0) note(bracketed_root(rise, {0.0, low, 1.0, high}, 1e-12, 0.0).x);
        }
        at += u.step;
        if (strip.section_count > 1) look_at_corner(u);
    }

  private:
    /// The corner of the inboard section towards the roll, in the frame of the contact.
    void look_at_corner(const kernel::StripSeries<double>& u) {
        double joint = 0.0;
        for (int i = 0; i + 1 < strip.section_count; ++i) {
            const StripSection& s = strip.sections[static_cast<std::size_t>(i)];
            joint += s.length;
            if (std::abs(at - joint) > 1e-9 * s.length) continue;
            const double theta = kernel::series_end(u.theta), reach = s.jump + 0.5 * s.thickness_tip;
            const double o = kernel::series_end(u.o) - reach * std::sin(theta);
            const double z = kernel::series_end(u.z) - reach * std::cos(theta);
            const double sag = std::isinf(strip.roll_radius) ? 0.0 : 0.5 * (o * o + z * z) / strip.roll_radius;
            if (z + sag < -1e-10 * strip.length) off_roll = false;
        }
    }
};

/// Whether the strip stays off the plate between clamp and edge: integrated once more, now that the clamp is known.
bool off_plate(const Strip& strip, const Pose& found, int steps) {
    const double s = std::sin(found.at.clamp.theta), c = std::cos(found.at.clamp.theta), length = strip.plate.length;
    const double edge = kernel::mid_plane_rise(strip, length) + 0.5 * local(strip, length).thickness + strip.plate.gap;
    double at = length;
    bool off = true;
    const auto look = [&](const kernel::StripSeries<double>& u) {
        for (const double x : {0.25, 0.5, 0.75}) {
            const double place = at + x * u.step, share = place / length;
            const double rise =
                (polynomial(u.o, x) - found.at.clamp.o) * s + (polynomial(u.z, x) - found.at.clamp.z) * c;
            // The plate bends like a cantilever under an end load.
            const double give = strip.plate.compliance * found.plate_force * 0.5 * share * share * (3.0 - share);
            if (rise + 0.5 * local(strip, place).thickness > edge + give + 1e-10 * strip.length) off = false;
        }
        at += u.step;
    };
    kernel::StripState<double> state = found.edge;
    kernel::StripLoad<double> load = found.edge_load;
    (void)behind_plate(strip, found, steps, state, load, look);
    return off;
}

}  // namespace

Bent bending_model::describe_state(const Strip& strip, double u, const ContactForce& f, int steps, int iterations,
                                   double tolerance, PlateGuess* warm) {
    Largest largest{strip, u < 0.0 ? strip.length * (1.0 + u) : strip.length};
    const Pose found = pose(strip, u, f, steps, std::ref(largest), warm);
    if (!found.ok) return failed(Status::non_finite, "the strip cannot be integrated", iterations);
    const auto& at = found.at;
    const double psi = at.roll_turn, s = std::sin(psi);
    const double o = at.clamp.o - found.tip.o, z = at.clamp.z - found.tip.z;  // contact to clamp
    Bent bent;
    bent.effective_angle = std::max(u, 0.0);
    bent.tip_rotation = at.clamp.theta - found.tip.theta;
    bent.travel = std::abs(s) > 1e-8 ? at.travel_o * psi / s : at.travel_o;
    bent.interference = at.interference;
    bent.tip_deflection =
        -(o * std::sin(at.clamp.theta) + z * std::cos(at.clamp.theta)) - kernel::mid_plane_rise(strip, found.contact);
    bent.root_moment = -at.clamp.moment;
    bent.root_force_o = -at.push_o;
    bent.root_force_z = -at.push_z;
    bent.max_moment = largest.moment;
    bent.max_moment_place = largest.moment_place;
    const bool known = strip.section_count > 0 || strip.thickness > 0.0;
    bent.max_stress = known ? largest.stress : kNan;
    bent.max_stress_place = known ? largest.stress_place : kNan;
    bent.plate_force = found.plate_force;
    bent.plate_clearance = found.clearance;
    bent.holder_moment = at.holder_moment;
    bent.contact_mode = u < 0.0 ? ContactMode::flat : ContactMode::tip;
    bent.contact_arc_length = found.contact;
    bent.overhang = u < 0.0 ? found.beyond.length : 0.0;
    bent.wrapped_arc = found.beyond.arc;
    const double residual = std::abs(at.angle_residual);
    const double finite = bent.effective_angle + bent.travel + bent.interference + bent.tip_deflection +
                          bent.root_moment + bent.root_force_o + bent.root_force_z + bent.max_moment;
    if (!std::isfinite(finite) || !std::isfinite(residual))
        return failed(Status::non_finite, "the integrated strip is not finite", iterations);
    if (!(residual <= tolerance))
        return failed(Status::stagnated, "the angle does not balance the force", iterations, residual);
    if (!largest.off_roll) return failed(Status::out_of_range, "a step of the strip would touch the roll", iterations);
    if (bent.plate_force > 0.0) {
        // Beyond the buckling load of the stretch behind the plate (clamped, held at the edge) what balances is a higher
        // mode that pressing the blade on does not reach.
        const double theta = found.edge.theta, a = strip.plate.length;
        const double compression =
            found.edge_load.force_z * std::sin(theta) - found.edge_load.force_o * std::cos(theta);
        if (compression * a * a > 20.19 * local(strip, a).stiffness &&
            (strip.section_count == 0 || compression > buckling_load(strip, a, StripEnd::pinned)))
            return failed(Status::unstable, "the strip buckles between clamp and plate", iterations);
    }
    if (has_plate(strip) && !off_plate(strip, found, steps))
        return failed(Status::out_of_range, "the strip is pressed onto the backing plate inboard of its edge",
                      iterations);
    bent.convergence = {Status::converged, residual, tolerance, iterations, {}};
    return bent;
}

/// Strain of the face that a load brings about at least: by the first integral of the elastica the root of a flat strip
/// has the curvature sqrt(2 F a0 / D); a strip that pressure coils has some (p / D)^(1/3).
double bending_model::strain_scale(const Strip& strip, double force) {
    double strain = 0.0;
    const double pressure = std::abs(strip.pressure), L = strip.length;
    const auto look = [&](double D, double thick) {
        const double by_pressure =
            pressure * L * L * L < 9.0 * D ? pressure * L * L / (2.0 * D) : 1.5 * std::cbrt(pressure / D);
        const double by_force = std::sqrt(2.0 * force * strip.set_angle / D);
        strain = std::max(strain, 0.5 * thick * std::max(by_force, by_pressure));
    };
    if (strip.section_count == 0) look(strip.stiffness, strip.thickness > 0.0 ? strip.thickness : 2.0 * strip.offset);
    for (int i = 0; i < strip.section_count; ++i) {
        const StripSection& s = strip.sections[static_cast<std::size_t>(i)];
        const double thin = std::min(s.thickness_clamp, s.thickness_tip);
        look(section_stiffness(s, thin), thin);
    }
    return strain;
}

double bending_model::strain_of(const Strip& strip, const Bent& bent) noexcept {
    if (strip.section_count == 0)
        return bent.max_moment * (strip.thickness > 0.0 ? 0.5 * strip.thickness : strip.offset) / strip.stiffness;
    double stiffest = 0.0;
    for (int i = 0; i < strip.section_count; ++i)
        stiffest = std::max(stiffest, strip.sections[static_cast<std::size_t>(i)].modulus);
    return bent.max_stress / stiffest;
}

/// What no blade bears and single shooting cannot follow is told from a failure: strained beyond any elastic limit,
/// contact off the roll's side, or buckled behind the plate (clamped-pinned, Timoshenko & Gere 1961).
Bent bending_model::explain(const Strip& strip, double normal, double tangential, Bent bent) {
    if (!undecided(bent.convergence.status)) return bent;
    const int spent = bent.convergence.iterations;
    if (strain_scale(strip, std::hypot(normal, tangential)) > kElastic)
        return failed(Status::out_of_range, kStrained, spent);
    if (strip.length * std::cos(strip.set_angle) > strip.roll_radius)
        return failed(Status::out_of_range, "the clamp stands beside the roll, off which the contact slides", spent);
    if (strip.pressure != 0.0) {
        // The shape that the pressure alone gives a strip without plate does not depend on how it stands: no search.
        Strip bare = strip;
        bare.plate = {};
        const Pose free = pose(bare, strip.set_angle, {}, 64);
        const double tip = 2.0 * strip.set_angle - free.at.clamp.theta;  // slope of the free end
        if (free.ok && (tip > kUpright || tip < -kUpright))
            return failed(Status::out_of_range,
                          "the pressure alone would turn the free end of the blade beyond upright", spent);
    }
    const double a = strip.plate.length;
    const double along = normal * std::sin(strip.set_angle) - tangential * std::cos(strip.set_angle);
    if (has_plate(strip) && std::max(along, -tangential) * a * a > 20.19 * local(strip, a).stiffness)
        return failed(Status::unstable, "the strip buckles between clamp and plate", spent);
    return bent;
}

int enough_strip_steps(const Strip& strip, double force) noexcept {
    const int many = enough_steps(kStripSteps, severity(strip, strip.length, force));
    if (has_plate(strip)) return 2 * many;  // strongly bent from its edge on
    // The error goes with (bent / steps^2)^4; under pressure, which bends less where it turns more, five times the turn counts.
    const double bent = severity(strip, strip.length, force) + 4.0 * severity(strip, strip.length, 0.0);
    return bent < 0.05 ? 3 : bent < 0.095 ? 4 : many;
}

}  // namespace libblade
