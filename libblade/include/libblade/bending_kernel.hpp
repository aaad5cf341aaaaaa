// The bent strip from its contact to its clamp: sections, plate edge, holder; templated on the scalar.
//
// The integration runs in the frame of the contact, where the angle and the force are known; the clamp angle it arrives
// at says how far the whole picture has to be turned, and hence where on the roll the contact lies. No iteration.
//
// T needs + - * / and comparisons, and sin, cos, sqrt, atan2 found by argument lookup. Nothing allocates.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

#include "libblade/bending.hpp"
#include "libblade/bending_series.hpp"

namespace libblade::kernel {

/// A stretch of strip without joint, from its outer end inwards.
template <class T>
struct StripSpan {
    T length, stiffness, taper;  ///< [m]; D at the outer end [N m]; growth of the thickness to the inner end [-]
    double jump = 0.0;           ///< at the inner end: mid-plane outboard of it above the one inboard [m]
    double joint_turn = 0.0;  ///< at the inner end: turn of the joint under a unit moment of its thinner side [rad/N]
    bool thin_outboard = true;
    int steps = 1;
};

/// Turn of a step over t M / D of its thinner section, at a ratio of thicknesses above 1: the stress of the thin section spreads
/// into the thick one over about a thickness, which no beam knows. Fit of 0.113, 0.238, 0.393, 0.515, 0.558 at ratios 1.25, 1.5,
/// 2, 3, 4 (plane-strain finite elements, tests/finite_elements; 3 % uncertain, little changed by Poisson's ratio or the flush
/// side) to 0.2 %; beyond it tends to 0.63.
[[nodiscard]] inline double step_turn(double ratio) noexcept {
    if (!(ratio > 1.0)) return 0.0;
    const double x = 1.0 - 1.0 / ratio;
    return x * (0.15054 + x * (2.74909 + x * (-3.64212 + 1.37586 * x)));
}

/// The strip from one arc length down to another. 16 sections, cut once more.
template <class T>
struct StripLayout {
    std::array<StripSpan<T>, 17> span;
    int count = 0;
};

/// Growth of the thickness per step that the series of the softness bears: 45 g^8 = 1e-8 of a step's turn, which is
/// itself a hundredth of the whole.
inline constexpr double kTaperStep = 0.06;

/// Lays out the strip from arc length `outer` down to `inner`; value(T) gives the plain number. `steps` for a strip of
/// even stiffness of the whole length; softer stretches get more.
template <class T, class Value>
void lay_out(StripLayout<T>& out, const Strip& strip, const T& outer, double inner, int steps, Value&& value) noexcept {
    const double outermost = value(outer);
    out.count = 0;
    if (strip.section_count == 0) {
        const double share = (outermost - inner) / strip.length;
        const int n = std::max(1, static_cast<int>(std::ceil(steps * std::min(share, 1.0) - 1e-9)));
        out.span[0] = {outer - inner, T(strip.stiffness), T(0.0), 0.0, 0.0, true, n};
        out.count = 1;
        return;
    }
    double thickest = 0.0;
    for (int i = 0; i < strip.section_count; ++i) {
        const StripSection& s = strip.sections[static_cast<std::size_t>(i)];
        thickest = std::max(thickest, section_stiffness(s, std::max(s.thickness_clamp, s.thickness_tip)));
    }
    std::array<double, 17> start{}, turns{};
    double turn = 0.0;
    constexpr double most = kMostStripSteps;  // of a stretch
    for (int i = 0; i < strip.section_count; ++i)
        start[static_cast<std::size_t>(i) + 1] =
            start[static_cast<std::size_t>(i)] + strip.sections[static_cast<std::size_t>(i)].length;
    for (int i = strip.section_count; i-- > 0;) {
        const auto k = static_cast<std::size_t>(i);
        const StripSection& s = strip.sections[k];
        const bool outmost = out.count == 0;
        if (outmost && start[k] >= outermost && i > 0) continue;  // outboard of the contact
        const double end = i + 1 == strip.section_count ? std::max(start[k + 1], outermost) : start[k + 1];
        if (end <= inner) break;
        const double from = std::max(start[k], inner);
        const double slope = (s.thickness_tip - s.thickness_clamp) / s.length;
        const double t_in = s.thickness_clamp + slope * (from - start[k]);
        const T top = outmost ? outer : T(end);
        const T t_out = s.thickness_clamp + slope * (top - start[k]);
        StripSpan<T>& span = out.span[static_cast<std::size_t>(out.count++)];
        span.length = top - from;
        const T per = 1.0 / t_out;
        span.taper = slope != 0.0 ? T(t_in * per - 1.0) : T(0.0);
        span.stiffness = s.modulus / 12.0 * (t_out * t_out * t_out);
        const bool joint = from == start[k] && i > 0;
        span.jump = joint ? strip.sections[k - 1].jump : 0.0;
        span.joint_turn = 0.0;
        if (joint && strip.compliant_joints) {
            const StripSection& inboard = strip.sections[k - 1];
            const double thin = std::min(s.thickness_clamp, inboard.thickness_tip);
            const double thick = std::max(s.thickness_clamp, inboard.thickness_tip);
            span.thin_outboard = s.thickness_clamp <= inboard.thickness_tip;
            span.joint_turn =
                step_turn(thick / thin) * thin / section_stiffness(span.thin_outboard ? s : inboard, thin);
        }
        const double softest = section_stiffness(s, std::min(t_in, value(t_out)));
        const double soft = std::sqrt(thickest / softest);
        const double by_length = steps * value(span.length) / strip.length * std::min(soft, 8.0);
        const double growth = value(span.taper);
        const double by_taper = std::abs(growth) / std::min(1.0, 1.0 + growth) / kTaperStep;
        span.steps = std::max(1, static_cast<int>(std::ceil(std::min(std::max(by_length, by_taper), most) - 1e-9)));
        // What a force at the contact turns the stretch by, over the force: (l - s) / D summed up.
        const double near = outermost - value(top), far = outermost - from;
        turn += turns[static_cast<std::size_t>(out.count - 1)] = 0.5 * (far * far - near * near) / softest;
        if (from <= inner) break;
    }
    // The error of a step goes with the fourth power of what it turns by over its length: the same everywhere.
    for (int i = 0; i < out.count; ++i) {
        const double share = std::sqrt(turns[static_cast<std::size_t>(i)] / turn);
        int& n = out.span[static_cast<std::size_t>(i)].steps;
        n = std::max(n, static_cast<int>(std::ceil(std::min(steps * share, most) - 1e-9)));
    }
}

/// Mid-plane just outboard of an arc length above the one at the clamp, unloaded [m].
[[nodiscard]] inline double mid_plane_rise(const Strip& strip, double arc_length) noexcept {
    double rise = 0.0, joint = 0.0;
    for (int i = 0; i + 1 < strip.section_count; ++i) {
        const StripSection& s = strip.sections[static_cast<std::size_t>(i)];
        joint += s.length;
        if (joint >= arc_length) break;
        rise += s.jump;
    }
    return rise;
}

/// Carries the force across a jump of the mid-plane: place and moment change, the force does not (the pressure on the
/// end face of a step, p times its height, is left out like the one on the end of the strip).
template <class T>
void cross_jump(StripState<T>& at, StripLoad<T>& load, double jump) noexcept {
    using std::cos;
    using std::sin;
    const T fo = load.force_o - load.pressure * (at.z - load.z_ref);
    const T fz = load.force_z + load.pressure * (at.o - load.o_ref);
    const T s = sin(at.theta), c = cos(at.theta);
    at.o = at.o - jump * s;
    at.z = at.z - jump * c;
    at.moment = at.moment - jump * (fz * s - fo * c);
    load.force_o = fo, load.force_z = fz, load.o_ref = at.o, load.z_ref = at.z;
}

template <class T, class Visit = NoVisit>
void integrate_layout(StripState<T>& at, StripLoad<T>& load, const StripLayout<T>& layout,
                      Visit&& visit = {}) noexcept {
    for (int i = 0; i < layout.count; ++i) {
        const StripSpan<T>& span = layout.span[static_cast<std::size_t>(i)];
        load.stiffness = span.stiffness;
        at = integrate_strip(at, load, span.length, span.steps, visit, span.taper);
        if (span.joint_turn != 0.0 && span.thin_outboard) at.theta = at.theta - span.joint_turn * at.moment;
        if (span.jump != 0.0) cross_jump(at, load, span.jump);
        if (span.joint_turn != 0.0 && !span.thin_outboard) at.theta = at.theta - span.joint_turn * at.moment;
    }
}

template <class T>
struct StripForce {
    T normal, tangential, centre;
};

/// Where the integration starts: the contact, with the local frame's origin on the roll surface and o along it.
template <class T>
struct StripStart {
    StripState<T> at;
    StripLoad<T> load;
};

/// The strip touches with its end. The contact force's arm about the mid-plane is e (-sin a, -cos a) + centre (1, 0).
template <class T>
[[nodiscard]] StripStart<T> start_at_tip(const Strip& strip, const T& angle, const StripForce<T>& force) noexcept {
    using std::cos;
    using std::sin;
    const T s = sin(angle), c = cos(angle);
    const T moment = strip.offset * (s * force.normal - c * force.tangential) - force.centre * force.normal;
    const StripState<T> at{angle, moment, strip.offset * s, strip.offset * c};
    return {at, {T(strip.stiffness), force.tangential, force.normal, T(strip.pressure), at.o, at.z}};
}

/// What the plate's edge does: without friction it presses on the back of the strip along the strip's normal, at a slip outboard of
/// the section at the plate's length: by half a thickness times the sine of the turn, and by what the bent strip falls short.
template <class T>
struct PlateForce {
    T force, direction, slip;  ///< [N/m]; slope of the plate in the local frame [rad]; [m]
    double stiffness = 0.0;    ///< D of the strip there [N m]
    T theta{}, o{}, z{};       ///< slope and mid-plane where the edge presses
    T force_o{}, force_z{};    ///< [N/m]
};
/// From the section at the plate's length out to its edge, there the force, and back.
template <class T>
void push(StripState<T>& at, StripLoad<T>& load, PlateForce<T>& plate) noexcept {
    using std::cos;
    using std::sin;
    // A step of no length has no series; a thousandth of an atom is nothing to the rest.
    const T slip = plate.slip + 1e-13;
    load.stiffness = T(plate.stiffness);
    at = integrate_strip(at, load, T(-1.0 * slip), 1);
    plate.theta = at.theta, plate.o = at.o, plate.z = at.z;
    plate.force_o = -1.0 * (plate.force * sin(at.theta));
    plate.force_z = -1.0 * (plate.force * cos(at.theta));
    load.force_o = load.force_o - load.pressure * (at.z - load.z_ref) + plate.force_o;
    load.force_z = load.force_z + load.pressure * (at.o - load.o_ref) + plate.force_z;
    load.o_ref = at.o, load.z_ref = at.z;
    at = integrate_strip(at, load, slip, 1);
}
/// What plate and strip miss at the edge: the plate is parallel to the clamp, the strip's back is at the edge, across and along
/// the plate. All vanish when the edge touches; across is minus the clearance when it does not. `half` a thickness of the strip.
template <class T>
struct PlateMiss {
    T turn, across, along;
};
template <class T>
[[nodiscard]] PlateMiss<T> plate_miss(const Strip& strip, const PlateForce<T>& plate, const StripState<T>& clamp,
                                      double half, double level) noexcept {
    using std::cos;
    using std::sin;
    const T s = sin(plate.direction), c = cos(plate.direction), turned = plate.direction - plate.theta;
    const T o = plate.o - clamp.o, z = plate.z - clamp.z;
    return {
        clamp.theta - plate.direction,
        o * s + z * c - half * (1.0 - cos(turned)) - (level + strip.plate.gap) - strip.plate.compliance * plate.force,
        o * c - z * s - half * sin(turned) - strip.plate.length};
}

/// The strip with its contact on the roll and its clamp on the line along which the holder advances.
template <class T>
struct StripPose {
    StripState<T> clamp;  ///< in the local frame
    T roll_turn;          ///< turn of the roll tangent at the contact from first touch [rad]
    T travel_o;           ///< contact point along o from first touch [m]
    T holder_moment;      ///< of all that acts on blade and plate about the clamp, positive: away from the roll [N]
    T push_o, push_z;     ///< the force of all that, in the frame of first touch [N/m]
    T angle_residual;     ///< angle of the clamp asked for minus the one found: zero at equilibrium [rad]
    T interference;       ///< advance of the holder's drive [m]
};

/// First touch: the undeformed strip at the set angle touches at the origin, so the clamp is at
/// (-L cos a0 + e sin a0, L sin a0 + e cos a0) with e the offset less all jumps. Now the contact is at
/// (R sin psi, R cos psi - R) and the clamp at the local (x, y) turned by psi; the same o gives
/// (R + y) sin psi + x cos psi = X0.
template <class T>
[[nodiscard]] StripPose<T> pose_at_clamp(const Strip& strip, const StripState<T>& clamp, const StripLoad<T>& load,
                                         const PlateForce<T>* plate) noexcept {
    using std::atan2;
    using std::cos;
    using std::sin;
    using std::sqrt;
    StripPose<T> out;
    out.clamp = clamp;
    const double e = strip.offset - mid_plane_rise(strip, strip.length);
    const double s0 = std::sin(strip.set_angle), c0 = std::cos(strip.set_angle);
    const double X0 = e * s0 - strip.length * c0, Z0 = e * c0 + strip.length * s0;
    const T per_radius = 1.0 / (strip.roll_radius + clamp.z);  // zero for a plane
    const T X = X0 * per_radius, x = clamp.o * per_radius;
    const T w2 = 1.0 + x * x - X * X;
    const T w = w2 > T(0.0) ? T(sqrt(w2)) : T(0.0);
    const T norm = 1.0 / (1.0 + x * x);
    const T sin_psi = (X - x * w) * norm, cos_psi = (X * x + w) * norm;
    out.roll_turn = atan2(sin_psi, cos_psi);
    out.travel_o = X0 - clamp.o * cos_psi - clamp.z * sin_psi;

    T fo = load.force_o - load.pressure * (clamp.z - load.z_ref);
    T fz = load.force_z + load.pressure * (clamp.o - load.o_ref);
    out.holder_moment = -1.0 * clamp.moment;
    if (plate != nullptr) {
        const T po = -1.0 * plate->force_o, pz = -1.0 * plate->force_z;
        fo = fo + po, fz = fz + pz;
        out.holder_moment = out.holder_moment - (pz * (clamp.o - plate->o) - po * (clamp.z - plate->z));
    }
    out.push_o = fo * cos_psi + fz * sin_psi;
    out.push_z = fz * cos_psi - fo * sin_psi;
    out.angle_residual = strip.set_angle - strip.holder_rotation * out.holder_moment - clamp.theta - out.roll_turn;
    // The contact lies R (1 - cos psi) = travel_o tan(psi / 2) below the tangent of first touch.
    const T drop = out.travel_o * sin_psi / (1.0 + cos_psi);
    out.interference = Z0 + drop + clamp.o * sin_psi - clamp.z * cos_psi + strip.holder_compliance * out.push_z;
    return out;
}

}  // namespace libblade::kernel
