// The load-deflection curve through folds.
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

#include "bending_model.hpp"
#include "libblade/continuation.hpp"

namespace libblade {

using namespace bending_model;

namespace {

/// What the watched functions mean; the last two are the bounds.
constexpr std::array<CurveEvent, 8> kEvents{
    CurveEvent::interference_limit, CurveEvent::load_limit, CurveEvent::dig_in, CurveEvent::lying_flat,
    CurveEvent::plate_contact,      CurveEvent::yield,      CurveEvent::none,   CurveEvent::none};

/// The curve in stretched coordinates: one equation, the residual of the clamp angle.
class Equilibria {
  public:
    Equilibria(const Strip& strip, double ratio, const LoadCurveOptions& options)
        : strip_(strip), options_(options), ratio_(ratio) {
        highest_ = options.max_load > 0.0 ? options.max_load : 50.0 * load_unit(strip);
        furthest_ =
            options.max_interference > 0.0 ? options.max_interference : strip.length * std::sin(strip.set_angle);
    }

    bool operator()(const std::array<double, 2>& x, CurveEquations<2>& e) {
        if (bounded && tired()) return false;
        const Trial t = trial(x);
        if (!t.finite() || !std::isfinite(t.residual_N)) return false;
        e.f[0] = t.residual;
        e.jacobian[0] = {t.residual_u * place_slope(x[0]), t.residual_N * normal_slope(strip_, x[1])};
        // A place deep inboard is known to rounding of the whole length only.
        if (std::abs(e.f[0]) <= 1e-15 * std::abs(t.residual_u)) e.f[0] = 0.0;
        return true;
    }

    std::array<double, kEvents.size()> watch(const CurvePoint<2>& at) {
        const Trial t = trial(at.x);
        const double unit = load_unit(strip_);
        const double climb = t.interference_u * place_slope(at.x[0]) * at.tangent[0] +
                             t.interference_N * normal_slope(strip_, at.x[1]) * at.tangent[1];
        const double a = std::max(at.x[0], 0.0);
        const LoadCurvePoint p = point(at);
        return {
            climb / strip_.length,
            at.tangent[1],
            std::cos(a) + ratio_ * std::sin(a),
            at.x[0],
            has_plate(strip_) ? (t.plate_force > 0.0 ? t.plate_force / unit : -clearance_ / strip_.length) : 1.0,
            options_.yield_strength > 0.0 && p.max_stress > 0.0 ? 1.0 - p.max_stress / options_.yield_strength : 1.0,
            (furthest_ - t.interference) / strip_.length,
            (highest_ - p.normal) / unit};
    }

    LoadCurvePoint point(const CurvePoint<2>& at) {
        const double u = place_of(at.x[0]), N = std::max(normal_of(strip_, at.x[1]), 0.0);
        const Bent b = describe_state(strip_, u, {N, ratio_ * N, options_.centre}, steps(at.x), 0, 1e-8, &warm_);
        reason_ = b.convergence;
        strain_ = strain_of(strip_, b);
        clearance_ = b.plate_clearance;
        return {b.interference, N, b.effective_angle, b.contact_arc_length, b.plate_force, b.max_stress,
                b.contact_mode};
    }
    [[nodiscard]] const Convergence& reason() const { return reason_; }
    [[nodiscard]] double strain() const { return strain_; }
    [[nodiscard]] bool tired() const { return work_ > kMostCurveWork; }
    bool bounded = false;  ///< give up after a while

  private:
    int steps(const std::array<double, 2>& x) const {
        const double u = place_of(x[0]), contact = u < 0.0 ? strip_.length * (1.0 + u) : strip_.length;
        return enough_steps(16, severity(strip_, contact, std::hypot(1.0, ratio_) * std::abs(normal_of(strip_, x[1]))));
    }
    Trial trial(const std::array<double, 2>& x) {
        work_ += cost(strip_, x[0], steps(x));
        const Trial t =
            evaluate<2>(strip_, place_of(x[0]), normal_of(strip_, x[1]), {ratio_, options_.centre, steps(x)}, &warm_);
        if (!t.finite() && has_plate(strip_)) work_ += kVain * cost(strip_, x[0], steps(x));
        return t;
    }

    const Strip& strip_;
    const LoadCurveOptions& options_;
    double ratio_, furthest_, highest_, clearance_ = 0.0, strain_ = 0.0;
    double work_ = 0.0;
    PlateGuess warm_;
    Convergence reason_;
};

}  // namespace

LoadCurve load_curve(const Strip& strip, double tangential_ratio, const LoadCurveOptions& options) {
    return trace(strip, tangential_ratio, options, Goal::whole);
}

LoadCurve bending_model::trace(const Strip& strip, double tangential_ratio, const LoadCurveOptions& options,
                               Goal goal) {
    LoadCurve out;
    const Bent free = solve_contact(strip, {0.0, 0.0, options.centre});
    if (!free.convergence.ok()) {
        out.convergence = free.convergence;
        return out;
    }
    if (!std::isfinite(tangential_ratio)) {
        out.convergence.status = Status::non_finite;
        out.convergence.message = "the ratio of the forces is not finite";
        return out;
    }
    Equilibria curve(strip, tangential_ratio, options);
    CurvePoint<2> start;
    start.x = {stretch(strip, place_of(strip, free), 0.0).y, 0.0};
    start.tangent = {0.0, 1.0};
    ContinuationOptions how;
    how.largest_step = options.largest_step, how.first_step = 0.2 * options.largest_step;
    how.max_points = options.max_points;
    if (goal != Goal::whole) how.tolerance = 1e-10;  // its last point is settled by the caller
    const char* why = "";
    bool covered = true;
    Status missed = Status::not_run;
    curve.bounded = goal != Goal::whole;
    const auto miss = [&](bool is, Status status, const char* text) {
        if (is) missed = status, why = text;
        return is;
    };
    const auto visit = [&](const CurvePoint<2>& at, int event) {
        LoadCurvePoint p = curve.point(at);
        if (!curve.reason().ok()) {
            covered = false;
            return false;
        }
        if (event >= 0) p.event = kEvents[static_cast<std::size_t>(event)];
        if (p.event == CurveEvent::lying_flat) p.effective_angle = 0.0;
        // Friction may push the blade towards the roll from the first touch on.
        if (out.points.empty() && std::cos(p.effective_angle) + tangential_ratio * std::sin(p.effective_angle) <= 0.0)
            p.event = CurveEvent::dig_in;
        const auto over = [&](bool is, const char* text) {
            if (is) why = text;
            return is;
        };
        const bool vanishes = !out.points.empty() && at.x[1]<-1e-9, upright = at.x[0]> 0.5 * std::numbers::pi;
        if (goal != Goal::whole &&
            (miss(curve.strain() > kElastic, Status::out_of_range, kPlastic) ||
             miss(p.event == CurveEvent::dig_in, Status::unstable,
                  "friction pushes the tip towards the roll (it digs in)") ||
             miss(p.event == CurveEvent::load_limit && goal == Goal::load, Status::unstable,
                  "under dead load the tip runs away") ||
             miss(p.event == CurveEvent::interference_limit && goal == Goal::interference, Status::unstable,
                  "the holder snaps before it reaches the interference") ||
             miss(vanishes, Status::lifted_off, "the blade leaves the roll before the holder gets there") ||
             miss(upright, Status::out_of_range, "the strip is turned beyond upright")))
            return false;
        if (over(vanishes, "the load vanishes") || over(upright, "the blade stands upright")) return false;
        out.points.push_back(p);
        return !over(event == 6, "the interference reaches its bound") &&
               !over(event == 7, "the load reaches its bound") &&
               !over(p.event == CurveEvent::lying_flat && !options.allow_flat, "the blade lies flat");
    };
    const CurveEnd end = follow_curve(
        curve, start, [&](const CurvePoint<2>& at) { return curve.watch(at); }, visit, how);
    out.convergence = {end.status, 0.0, how.tolerance, end.evaluations, why};
    if (!covered) out.convergence = curve.reason();
    if (missed != Status::not_run) out.convergence.status = missed;
    if (curve.bounded && curve.tired() && undecided(out.convergence.status))
        out.convergence = {Status::max_iterations, 0.0, how.tolerance, end.evaluations, "the curve is too long"};
    return out;
}

}  // namespace libblade
