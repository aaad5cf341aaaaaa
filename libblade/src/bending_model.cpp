#include "bending_model.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <tuple>
#include <utility>

#include "libblade/root.hpp"

namespace libblade::bending_model {

namespace {

using kernel::StripLayout;
using kernel::StripLoad;
using kernel::StripState;

constexpr double kUpright = 0.5 * std::numbers::pi;
constexpr double kLinear = 3.0;  // N L^2 / D up to which the stretched load is the load

template <std::size_t N>
double plain(const Dual<N>& x) {
    return x.v;
}

/// Room for three variables more.
template <std::size_t K>
Dual<K + 3> widen(const Dual<K>& a) {
    Dual<K + 3> wide(a.v);
    for (std::size_t i = 0; i < K; ++i) wide.d[i] = a.d[i];
    return wide;
}

}  // namespace

Local local(const Strip& strip, double arc_length) noexcept {
    if (strip.section_count == 0) return {strip.thickness, 0.0, strip.stiffness, 0.0, strip.offset, 0};
    double start = 0.0;
    int i = 0;
    while (i + 1 < strip.section_count && arc_length > start + strip.sections[static_cast<std::size_t>(i)].length)
        start += strip.sections[static_cast<std::size_t>(i++)].length;
    const StripSection& s = strip.sections[static_cast<std::size_t>(i)];
    const double slope = (s.thickness_tip - s.thickness_clamp) / s.length;
    const double t = s.thickness_clamp + slope * (arc_length - start);
    // A facet may have eaten some of the end's half thickness; inboard sections lie on the roll with their face.
    const bool last = strip.length <= start + s.length || i + 1 == strip.section_count;
    const double e = last ? strip.offset + 0.5 * slope * (arc_length - strip.length) : 0.5 * t;
    const double D = section_stiffness(s, t);
    return {t, slope, D, 3.0 * D * slope / t, e, i};
}

double severity(const Strip& strip, double contact, double force) noexcept {
    // Rotation under a unit force and a unit pressure, integral of (l - s) / D and of (l - s)^2 / (2 D); behind a
    // plate's edge the strip is held.
    const double from = has_plate(strip) ? std::min(strip.plate.length, 0.9 * contact) : 0.0,
                 p = std::abs(strip.pressure);
    const auto piece = [&](double s0, double s1, double D) {
        const double a = contact - s0, b = contact - s1;
        return (0.5 * force * (a * a - b * b) + p / 6.0 * (a * a * a - b * b * b)) / D;
    };
    if (strip.section_count == 0) return piece(from, contact, strip.stiffness);
    double sum = 0.0, start = 0.0;
    for (int i = 0; i < strip.section_count && start < contact; ++i) {
        const StripSection& s = strip.sections[static_cast<std::size_t>(i)];
        const double s0 = std::max(start, from), s1 = std::min(start + s.length, contact);
        start += s.length;
        if (s1 > s0) sum += piece(s0, s1, section_stiffness(s, std::min(s.thickness_clamp, s.thickness_tip)));
    }
    return sum;
}

int enough_steps(int steps, double severity) noexcept {
    constexpr double most = kMostStripSteps / 8.0;
    return std::max(steps, 8 * static_cast<int>(std::ceil(std::sqrt(std::min(severity, most * most)))));
}

double cost(const Strip& strip, double u, int steps) noexcept {
    double thickest = 0.0, sum = strip.section_count == 0 ? 1.0 : 0.0;
    for (const bool count : {false, true})
        for (int i = 0; i < strip.section_count; ++i) {
            const StripSection& s = strip.sections[static_cast<std::size_t>(i)];
            const double D = section_stiffness(s, std::min(s.thickness_clamp, s.thickness_tip));
            thickest = std::max(thickest, D);
            if (count) sum += std::min(std::sqrt(thickest / D), 8.0) * s.length / strip.length;
        }
    return (has_plate(strip) ? 10.0 : 1.0) * sum * (steps + 8) + (u < 0.0 && strip.pressure > 0.0 ? 500.0 : 0.0);
}

double load_unit(const Strip& strip) noexcept { return local(strip, 0.0).stiffness / (strip.length * strip.length); }
Stretched stretch(const Strip& strip, double u, double normal) noexcept {
    const double w = normal / load_unit(strip);
    return {u < 0.0 ? std::log1p(u) : u, w > kLinear ? kLinear * (1.0 + std::log(w / kLinear)) : w};
}
double place_of(double y) noexcept { return y < 0.0 ? std::expm1(y) : y; }
double place_slope(double y) noexcept { return y < 0.0 ? std::exp(y) : 1.0; }
double normal_of(const Strip& strip, double w) noexcept {
    return load_unit(strip) * (w > kLinear ? kLinear * std::exp(w / kLinear - 1.0) : w);
}
double normal_slope(const Strip& strip, double w) noexcept {
    return load_unit(strip) * (w > kLinear ? std::exp(w / kLinear - 1.0) : 1.0);
}

namespace {

struct FreeEnd {
    bool ok = false;
    double angle = 0.0;                       // slope at the end [rad]
    double o = 0.0, z = 0.0;                  // end from root
    double moment = 0.0, fo = 0.0, fz = 0.0;  // at the root
    double moment_s = 0.0, fo_s = 0.0, fz_s = 0.0;
};

/// A strip under following pressure alone from the end to a root where its slope is zero: Newton on the slope of the
/// end, from the linear p c^3 / (6 D).
FreeEnd free_end(const Strip& strip, double root) noexcept {
    FreeEnd out;
    const double c = strip.length - root, p = strip.pressure;
    const Local here = local(strip, std::min(root * (1.0 + 1e-15), strip.length));
    using D1 = Dual<1>;
    StripLayout<D1> layout;
    // Turned by its linear slope far beyond upright even if it were as stiff as its stiffer end: coiled.
    if (std::abs(p) * c * c * c > 24.0 * std::max(here.stiffness, local(strip, strip.length).stiffness)) return out;
    const int n = static_cast<int>(std::min(1e6, std::ceil(12.0 * strip.length / c)));  // 12 over the free end
    kernel::lay_out(layout, strip, D1(strip.length), root, n, plain<1>);
    double angle = std::clamp(p * c * c * c / (6.0 * here.stiffness), -1.0, 1.0);
    for (int i = 0; i < 20; ++i) {
        StripState<D1> at{variable<1>(angle, 0), D1(0.0), D1(0.0), D1(0.0)};
        StripLoad<D1> load{D1(here.stiffness), D1(0.0), D1(0.0), D1(p), D1(0.0), D1(0.0)};
        kernel::integrate_layout(at, load, layout);
        const double change = -at.theta.v / at.theta.d[0];
        if (!std::isfinite(change) || std::abs(angle) > kUpright) return out;
        if (std::abs(change) <= 1e-14 * (1.0 + std::abs(angle))) {
            const D1 fo = load.force_o - p * (at.z - load.z_ref), fz = load.force_z + p * (at.o - load.o_ref);
            out.ok = true;
            out.angle = angle, out.moment = at.moment.v, out.fo = fo.v, out.fz = fz.v, out.o = -at.o.v, out.z = -at.z.v;
            // The root moves: the state there follows the strip, and the end's slope keeps the root's slope zero.
            const double by_s = -at.moment.v / here.stiffness / at.theta.d[0];
            out.moment_s = fz.v + at.moment.d[0] * by_s;
            out.fo_s = fo.d[0] * by_s;
            out.fz_s = p + fz.d[0] * by_s;
            return out;
        }
        angle += std::clamp(change, -0.3, 0.3);
    }
    return out;
}

}  // namespace

Overhang overhang(const Strip& strip, double contact) noexcept {
    Overhang out;
    out.length = out.o = strip.length - contact;
    if (strip.pressure == 0.0 || !(out.length > 0.0)) return out;
    const auto limit = [&](double s) {
        const Local here = local(strip, s);
        return here.stiffness / (strip.roll_radius + here.offset);
    };
    if (std::isinf(strip.roll_radius) && strip.pressure > 0.0) {  // on a plane nothing is free
        out.arc = std::exchange(out.length, 0.0), out.o = 0.0;
        out.force_z = -strip.pressure * out.arc, out.force_z_s = strip.pressure;
        return out;
    }
    // A long overhang lies down long before it can be integrated as a free one: then its linear moment says enough.
    const double linear = 0.5 * strip.pressure * out.length * out.length;
    FreeEnd end;
    if (linear < 4.0 * limit(contact)) end = free_end(strip, contact);
    if (end.ok && !(end.moment > limit(contact))) {
        out.moment = end.moment, out.force_o = end.fo, out.force_z = end.fz;
        out.moment_s = end.moment_s, out.force_o_s = end.fo_s, out.force_z_s = end.fz_s;
        out.tip_angle = end.angle, out.o = end.o, out.z = end.z;
        return out;
    }
    if (!(strip.pressure > 0.0) || !(linear > limit(contact))) {
        out.ok = false;
        return out;
    }
    // Where the strip lifts off the arc. Towards the end the moment vanishes; inwards it exceeds the limit.
    FreeEnd lift;
    const auto surplus = [&](double s) {
        lift = free_end(strip, s);
        return lift.ok ? lift.moment / limit(s) - 1.0 : kNan;
    };
    const double guess = std::sqrt(2.0 * limit(strip.length) / strip.pressure);
    double inner = contact, outer = strip.length, at_inner = kNan, at_outer = -1.0;
    for (const double width : {1.02, 1.3, 2.0}) {
        inner = std::max(contact, strip.length - width * guess);
        at_inner = surplus(inner);
        if (at_inner > 0.0) break;
        if (std::isfinite(at_inner)) outer = inner, at_outer = at_inner;
    }
    if (!(at_inner > 0.0)) {
        out.ok = false;
        return out;
    }
    if (const double near = strip.length - 0.98 * guess; near > inner && near < outer)
        if (const double there = surplus(near); there < 0.0) outer = near, at_outer = there;
    const Root root = bracketed_root(surplus, {inner, at_inner, outer, at_outer}, 1e-15 * strip.length, 1e-13, 40);
    if (root.status != Status::converged) {
        out.ok = false;
        return out;
    }
    (void)surplus(root.x);
    const Local here = local(strip, contact);
    const double radius = strip.roll_radius + here.offset, p = strip.pressure;
    out.length = strip.length - root.x, out.arc = root.x - contact;
    out.moment = here.stiffness / radius;
    out.moment_s = (here.stiffness_slope - 0.5 * here.slope * here.stiffness / radius) / radius;
    out.force_o = lift.fo, out.force_z = lift.fz - p * out.arc, out.force_z_s = p;
    out.tip_angle = lift.angle, out.o = lift.o, out.z = lift.z;
    return out;
}

PlateSolution solve_plate(const Strip& strip, const StripState<double>& edge, const StripLoad<double>& load, int steps,
                          PlateGuess* warm) noexcept {
    using D3 = Dual<3>;
    const BackingPlate& plate = strip.plate;
    const double a = plate.length, level = kernel::mid_plane_rise(strip, a), D = local(strip, a).stiffness;
    StripLayout<double> fine;
    kernel::lay_out(fine, strip, a, 0.0, steps, [](double x) { return x; });
    const double fo = load.force_o - load.pressure * (edge.z - load.z_ref);
    const double fz = load.force_z + load.pressure * (edge.o - load.o_ref);
    // Linear beam: deflection V a^3 / (3 D) + M a^2 / (2 D) of the free one against the gap.
    const double shear = fo * std::sin(edge.theta) + fz * std::cos(edge.theta);
    const double guess =
        (shear * a * a * a / 3.0 - 0.5 * edge.moment * a * a - strip.pressure * a * a * a * a / 8.0 - plate.gap * D) /
        (a * a * a / 3.0 + plate.compliance * D);

    const double half = 0.5 * local(strip, a).thickness;
    PlateSolution out;
    const auto miss = [&](double force, double direction, double slip, bool free = false) {
        StripState<double> at = edge;
        StripLoad<double> here = load;
        kernel::PlateForce<double> push{force, direction, slip, D};
        kernel::push(at, here, push);
        kernel::integrate_layout(at, here, fine);
        if (free) push.direction = at.theta;  // no force: the plate stands as the clamp is found
        const auto m = kernel::plate_miss(strip, push, at, half, level);
        return std::array<double, 4>{m.turn, m.across, m.along, push.direction};
    };
    const auto untouched = [&] {
        double slip = 0.0, across = 0.0, along = 0.0, direction = 0.0;
        for (int i = 0; i < 4; ++i) {
            std::tie(across, along, direction) = [&] {
                const auto m = miss(0.0, 0.0, slip, true);
                return std::tuple(m[1], m[2], m[3]);
            }();
            slip -= along;
        }
        if (!(across <= 0.0)) return false;
        out = {0.0, direction, slip, -across, true};
        return true;
    };
    const bool near = warm != nullptr && warm->force > 0.0;
    if (!near && !(guess > 0.0) && untouched()) return out;
    double force = near ? warm->force : std::max(guess, 0.0);
    double direction = near ? edge.theta + warm->turn : edge.theta - 0.25 * edge.moment * a / D + 1.5 * plate.gap / a;
    double slip = near ? warm->slip : half * std::sin(direction - edge.theta);
    if (!std::isfinite(force)) return out;

    // Newton; the derivatives come from few steps, the misses from all of them once the start is close.
    StripLayout<D3> coarse;
    const double small = 1e-13 * D / (a * a);
    std::array<std::array<double, 3>, 3> by{};
    if (near) by = {warm->turn_by, warm->across_by, warm->along_by};
    int close = near ? 1 : 0;  // strides taken with the slopes as they are
    double change = 1.0, missed = std::numeric_limits<double>::infinity(), part = 1.0;
    std::array<double, 3> last_place{force, direction, slip}, stride{};
    int halvings = 0;
    constexpr int kMostLost = 15;  // rounds in which it comes no nearer: the strip has no pose over the plate
    int lost = 0;
    double least = missed;
    for (int i = 0; i < 60; ++i) {
        std::array<double, 3> missing{};
        if (close == 0) {
            if (coarse.count == 0) kernel::lay_out(coarse, strip, D3(a), 0.0, std::max(4, steps / 3), plain<3>);
            StripState<D3> at{D3(edge.theta), D3(edge.moment), D3(edge.o), D3(edge.z)};
            StripLoad<D3> here{D3(load.stiffness), D3(load.force_o), D3(load.force_z),
                               D3(load.pressure),  D3(load.o_ref),   D3(load.z_ref)};
            kernel::PlateForce<D3> push{variable<3>(force, 0), variable<3>(direction, 1), variable<3>(slip, 2), D};
            kernel::push(at, here, push);
            kernel::integrate_layout(at, here, coarse);
            const auto m = kernel::plate_miss(strip, push, at, half, level);
            missing = {m.turn.v, m.across.v, m.along.v};
            by = {m.turn.d, m.across.d, m.along.d};
            // A far start: strides that miss by more are halved.
            const double now = std::hypot(m.turn.v, m.across.v / a, m.along.v / a);
            lost = now < 0.5 * least ? 0 : lost + 1;
            least = std::min(least, now);
            if (lost > kMostLost) return out;
            if (!(now < missed) && halvings < 8) {
                ++halvings;
                part *= 0.5;
                force = last_place[0] + part * stride[0], direction = last_place[1] + part * stride[1];
                slip = last_place[2] + part * stride[2];
                continue;
            }
            missed = now, halvings = 0;
        } else {
            const auto m = miss(force, direction, slip);
            missing = {m[0], m[1], m[2]};
        }
        stride = solve3(by, {-missing[0], -missing[1], -missing[2]});
        if (!std::isfinite(stride[0] + stride[1] + stride[2])) return out;
        const double damp = std::min(1.0, 0.5 / std::max(std::abs(stride[1]) + std::abs(stride[2]) / a, 1e-300));
        for (double& x : stride) x *= damp;
        last_place = {force, direction, slip}, part = 1.0;
        force += stride[0], direction += stride[1], slip += stride[2];
        const double last = change;
        change = (std::abs(stride[1]) + std::abs(stride[2]) / a) / damp +
                 std::abs(stride[0]) / damp / (std::abs(force) + D / (a * a));
        // What a stride leaves is the stride times the last contraction; 1e-12 is rounding.
        if (close > 0 && (change <= 1e-12 || (close > 1 && change <= 1e-10 && change < 1e-2 * last))) {
            if (force < -small) {
                (void)untouched();
                return out;
            }
            if (warm != nullptr) *warm = {force, direction - edge.theta, slip, by[0], by[1], by[2]};
            return {std::max(force, 0.0), direction, slip, 0.0, true};
        }
        // Slopes that no longer bring it closer are renewed. The first stride after few steps corrects their error,
        // too.
        const bool well = close == 0   ? change < 1e-3
                          : close == 1 ? change < 1e-2
                                       : change < std::max(0.3 * last, 1e-11);
        close = well ? close + 1 : 0;
    }
    return out;
}

template <std::size_t K>
Trial evaluate(const Strip& strip, double u, double normal, const Drive& drive, PlateGuess* warm) noexcept {
    using S = Dual<K>;
    using W = Dual<K + 3>;
    Trial out;
    out.u = u, out.normal = normal;
    S N(normal);
    if constexpr (K >= 2) N.d[1] = 1.0;
    kernel::StripForce<S> force{N, drive.ratio * N, S(drive.centre)};
    if constexpr (K == 4) {
        force.tangential = variable<K>(drive.ratio * normal, 2);
        force.centre = variable<K>(drive.centre, 3);
    }
    S contact;
    Overhang beyond;
    auto [at, load] = start<S>(strip, variable<K>(u, 0), force, drive.tip_only, contact, beyond);
    if (!beyond.ok) return out;
    const bool plate = has_plate(strip);
    if (!(contact.v > (plate ? strip.plate.length : 0.0))) return out;
    StripLayout<S> layout;
    kernel::lay_out(layout, strip, contact, plate ? strip.plate.length : 0.0, drive.steps, plain<K>);
    const auto look = [&](const kernel::StripSeries<S>& s) {
        if (s.theta[0].d[0] < 0.0) out.first_mode = false;
    };
    kernel::integrate_layout(at, load, layout, look);
    const auto take = [&](double r, double d, auto r_by, auto d_by) {
        out.residual = r, out.interference = d;
        out.residual_u = r_by(std::size_t{0}), out.interference_u = d_by(std::size_t{0});
        if constexpr (K >= 2) out.residual_N = r_by(std::size_t{1}), out.interference_N = d_by(std::size_t{1});
        if constexpr (K == 4) {
            out.residual_T = r_by(std::size_t{2}), out.interference_T = d_by(std::size_t{2});
            out.residual_c = r_by(std::size_t{3}), out.interference_c = d_by(std::size_t{3});
        }
    };
    PlateSolution found;
    if (plate) {
        found =
            solve_plate(strip, {at.theta.v, at.moment.v, at.o.v, at.z.v},
                        {load.stiffness.v, load.force_o.v, load.force_z.v, load.pressure.v, load.o_ref.v, load.z_ref.v},
                        drive.steps, warm);
        if (!found.ok) return out;
        out.plate_force = found.force, out.plate_direction = found.direction;
    }
    if (found.force == 0.0) {
        if (plate) {
            kernel::lay_out(layout, strip, S(strip.plate.length), 0.0, drive.steps, plain<K>);
            kernel::integrate_layout(at, load, layout, look);
        }
        const auto pose = kernel::pose_at_clamp<S>(strip, at, load, nullptr);
        const S &r = pose.angle_residual, &d = pose.interference;
        take(
            r.v, d.v, [&](std::size_t i) { return r.d[i]; }, [&](std::size_t i) { return d.d[i]; });
        return out;
    }
    // The force answers to what comes from outboard: both conditions keep holding (implicit function).
    StripState<W> wide{widen(at.theta), widen(at.moment), widen(at.o), widen(at.z)};
    StripLoad<W> wide_load{widen(load.stiffness), widen(load.force_o), widen(load.force_z),
                           widen(load.pressure),  widen(load.o_ref),   widen(load.z_ref)};
    kernel::PlateForce<W> push{variable<K + 3>(found.force, K), variable<K + 3>(found.direction, K + 1),
                               variable<K + 3>(found.slip, K + 2), local(strip, strip.plate.length).stiffness};
    kernel::push(wide, wide_load, push);
    StripLayout<W> inner;
    kernel::lay_out(inner, strip, W(strip.plate.length), 0.0, drive.steps, plain<K + 3>);
    kernel::integrate_layout(wide, wide_load, inner);
    const auto m = kernel::plate_miss(strip, push, wide, 0.5 * local(strip, strip.plate.length).thickness,
                                      kernel::mid_plane_rise(strip, strip.plate.length));
    const auto pose = kernel::pose_at_clamp<W>(strip, wide, wide_load, &push);
    std::array<std::array<double, 3>, 3> by{};
    for (std::size_t k = 0; k < 3; ++k)
        by[0][k] = m.turn.d[K + k], by[1][k] = m.across.d[K + k], by[2][k] = m.along.d[K + k];
    std::array<std::array<double, 3>, K> answer{};
    for (std::size_t i = 0; i < K; ++i) answer[i] = solve3(by, {-m.turn.d[i], -m.across.d[i], -m.along.d[i]});
    const auto total = [&](const W& y) {
        return [&](std::size_t i) {
            return y.d[i] + y.d[K] * answer[i][0] + y.d[K + 1] * answer[i][1] + y.d[K + 2] * answer[i][2];
        };
    };
    const W &r = pose.angle_residual, &d = pose.interference;
    take(r.v, d.v, total(r), total(d));
    return out;
}
template Trial evaluate<1>(const Strip&, double, double, const Drive&, PlateGuess*) noexcept;
template Trial evaluate<2>(const Strip&, double, double, const Drive&, PlateGuess*) noexcept;
template Trial evaluate<4>(const Strip&, double, double, const Drive&, PlateGuess*) noexcept;

}  // namespace libblade::bending_model

namespace libblade {

StripResponse strip_response(const Strip& strip, double effective_angle, const ContactForce& force, int steps) {
    const bending_model::Trial t = bending_model::evaluate<4>(
        strip, effective_angle, force.normal, {force.tangential / force.normal, force.centre, steps, true});
    return {{t.residual, t.interference},
            {t.residual_u, t.residual_N, t.residual_T, t.residual_c},
            {t.interference_u, t.interference_N, t.interference_T, t.interference_c}};
}

}  // namespace libblade
