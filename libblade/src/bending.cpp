#include "libblade/bending.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <utility>

#include "libblade/bending_kernel.hpp"

namespace libblade {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kTolerance = 1e-12;  // [rad]; rounding of one integration is 1e-15

/// Value and derivatives by two variables (forward mode).
struct Dual {
    double v = 0.0, d0 = 0.0, d1 = 0.0;
    Dual() = default;
    Dual(double value) : v(value) {}
    Dual(double value, double by0, double by1) : v(value), d0(by0), d1(by1) {}
};
Dual operator+(const Dual& a, const Dual& b) { return {a.v + b.v, a.d0 + b.d0, a.d1 + b.d1}; }
Dual operator-(const Dual& a, const Dual& b) { return {a.v - b.v, a.d0 - b.d0, a.d1 - b.d1}; }
Dual operator*(const Dual& a, const Dual& b) { return {a.v * b.v, a.d0 * b.v + a.v * b.d0, a.d1 * b.v + a.v * b.d1}; }
Dual operator*(double a, const Dual& b) { return {a * b.v, a * b.d0, a * b.d1}; }
Dual operator*(const Dual& a, double b) { return b * a; }
Dual operator/(const Dual& a, const Dual& b) {
    const double q = a.v / b.v, r = 1.0 / b.v;
    return {q, (a.d0 - q * b.d0) * r, (a.d1 - q * b.d1) * r};
}
bool operator>(const Dual& a, const Dual& b) { return a.v > b.v; }
bool operator!=(const Dual& a, const Dual& b) { return a.v != b.v; }
Dual chain(double value, double slope, const Dual& a) { return {value, slope * a.d0, slope * a.d1}; }
Dual sin(const Dual& a) { return chain(std::sin(a.v), std::cos(a.v), a); }
Dual cos(const Dual& a) { return chain(std::cos(a.v), -std::sin(a.v), a); }
Dual sqrt(const Dual& a) { return chain(std::sqrt(a.v), 0.5 / std::sqrt(a.v), a); }
Dual atan2(const Dual& y, const Dual& x) {
    const double n = 1.0 / (x.v * x.v + y.v * y.v);
    return {std::atan2(y.v, x.v), (x.v * y.d0 - y.v * x.d0) * n, (x.v * y.d1 - y.v * x.d1) * n};
}

template <class T>
kernel::StripSetup<T> setup_of(const Strip& s) {
    return {T(s.stiffness), T(s.length), T(s.set_angle), T(s.offset), T(s.pressure), T(s.roll_radius)};
}

template <class Visit = kernel::NoVisit>
kernel::StripPose<double> pose_of(const Strip& strip, double angle, const ContactForce& f, int steps,
                                  Visit&& visit = {}) {
    return kernel::strip_pose(setup_of<double>(strip), angle, {f.normal, f.tangential, f.centre}, steps, visit);
}

/// By angle (d0) and by normal load at constant ratio of the forces (d1).
kernel::StripPose<Dual> dual_pose(const Strip& strip, double angle, double normal, double ratio, double centre,
                                  int steps) {
    const Dual N(normal, 0.0, 1.0);
    return kernel::strip_pose(setup_of<Dual>(strip), Dual(angle, 1.0, 0.0), {N, ratio * N, Dual(centre)}, steps);
}

/// Jacobi's condition for a strip under dead load: turning the tip turns every section the same way. Where it fails the strip
/// balances in a higher mode, which cannot be reached by pressing the blade on.
bool first_mode(const Strip& strip, double angle, const ContactForce& f, int steps) {
    bool same_way = true;
    const auto look = [&](const kernel::StripSeries<Dual>& u) { same_way = same_way && u.theta[0].d0 > 0.0; };
    (void)kernel::strip_pose(setup_of<Dual>(strip), Dual(angle, 1.0, 0.0),
                             {Dual(f.normal), Dual(f.tangential), Dual(f.centre)}, steps, look);
    return same_way;
}

double force_ratio(const ContactForce& f) noexcept { return f.normal != 0.0 ? f.tangential / f.normal : 0.0; }
/// Part of the contact force that bends the blade away from the roll.
double transverse(double angle, double normal, double tangential) noexcept {
    return normal * std::cos(angle) + tangential * std::sin(angle);
}

Bent failed(Status status, std::string message, int iterations,
            double residual = std::numeric_limits<double>::infinity()) {
    Bent bent;
    for (double* number :
         {&bent.effective_angle, &bent.tip_rotation, &bent.travel, &bent.interference, &bent.tip_deflection,
          &bent.root_moment, &bent.root_force_o, &bent.root_force_z, &bent.max_moment, &bent.max_moment_place})
        *number = kNan;
    bent.convergence = {status, residual, kTolerance, iterations, std::move(message)};
    return bent;
}

/// Empty when the strip can be integrated at all.
std::pair<Status, std::string> complaint(const Strip& s, const ContactForce& f, double more, int steps) {
    for (const double value :
         {s.stiffness, s.length, s.set_angle, s.offset, s.pressure, f.normal, f.tangential, f.centre, more})
        if (!std::isfinite(value)) return {Status::non_finite, "a number given to the strip is not finite"};
    if (std::isnan(s.roll_radius)) return {Status::non_finite, "the roll radius is not a number"};
    if (!(s.stiffness > 0.0) || !(s.length > 0.0) || !(s.roll_radius > 0.0) || steps < 1)
        return {Status::out_of_range, "stiffness, length, roll radius and steps must be positive"};
    if (!(s.set_angle > 0.0) || !(s.set_angle < 0.5 * std::numbers::pi))
        return {Status::out_of_range, "the set angle must lie between 0 and 90 deg"};
    return {Status::not_run, {}};
}

/// Value (0), first or second derivative of a series at x in [0, 1].
double slope(const std::array<double, kernel::kSeriesOrder + 1>& c, double x, std::size_t derivative) {
    double sum = 0.0;
    for (std::size_t k = kernel::kSeriesOrder + 1; k-- > derivative;) {
        const double n = static_cast<double>(k);
        sum = sum * x + (derivative == 0 ? 1.0 : derivative == 1 ? n : n * (n - 1.0)) * c[k];
    }
    return sum;
}

/// Largest |theta'| inside the steps, from the series themselves: ends, and where theta'' = 0.
struct LargestCurvature {
    double step = 0.0, value = 0.0, from_tip = 0.0;
    int done = 0;

    void note(double turn, double at) {
        const double curvature = std::abs(turn / step);
        if (curvature > value) value = curvature, from_tip = (done + at) * -step;
    }
    void operator()(const kernel::StripSeries<double>& u) {
        const auto& q = u.turn;
        note(q[0], 0.0);
        note(kernel::series_end(q), 1.0);
        const double g0 = slope(q, 0.0, 1), g1 = slope(q, 1.0, 1);
        if (g0 * g1 < 0.0) {
            double x = g0 / (g0 - g1);
            for (int i = 0; i < 4; ++i) x = std::clamp(x - slope(q, x, 1) / slope(q, x, 2), 0.0, 1.0);
            note(slope(q, x, 0), x);
        }
        ++done;
    }
};

Bent describe_state(const Strip& strip, double angle, const ContactForce& f, int steps, int iterations,
                    double tolerance) {
    LargestCurvature largest;
    largest.step = -strip.length / steps;
    const auto pose = pose_of(strip, angle, f, steps, largest);
    Bent bent;
    const double psi = pose.roll_turn, s = std::sin(psi), c = std::cos(psi);
    const double o = pose.clamp.o - pose.tip.o, z = pose.clamp.z - pose.tip.z;  // tip to clamp
    bent.effective_angle = angle;
    bent.tip_rotation = pose.clamp.theta - angle;
    bent.travel = std::abs(s) > 1e-8 ? pose.travel_o * psi / s : pose.travel_o;
    bent.interference = pose.interference;
    bent.tip_deflection = -(o * std::sin(pose.clamp.theta) + z * std::cos(pose.clamp.theta));
    bent.root_moment = -strip.stiffness * pose.clamp.curvature;
    // All that acts on the blade outside the clamp: contact and pressure, turned into the frame of first touch.
    const double fo = f.tangential - strip.pressure * z, fz = f.normal + strip.pressure * o;
    bent.root_force_o = -(fo * c + fz * s);
    bent.root_force_z = -(fz * c - fo * s);
    bent.max_moment = strip.stiffness * largest.value;
    bent.max_moment_place = strip.length - largest.from_tip;
    const double residual = std::abs(pose.angle_residual);
    const double finite = bent.effective_angle + bent.travel + bent.interference + bent.tip_deflection +
                          bent.root_moment + bent.root_force_o + bent.root_force_z + bent.max_moment;
    if (!std::isfinite(finite) || !std::isfinite(residual))
        return failed(Status::non_finite, "the integrated strip is not finite", iterations);
    if (!(residual <= tolerance))
        return failed(Status::stagnated, "the angle does not balance the force", iterations, residual);
    bent.convergence = {Status::converged, residual, tolerance, iterations, {}};
    return bent;
}

struct AngleSearch {
    double angle = kNan, slope = kNan;
    Status status = Status::not_run;
    std::string message;
    int iterations = 0;
};

/// Effective angle under dead force: the residual falls with the angle, so a positive value at zero angle and a negative
/// one above bracket it. Newton from the undeformed angle, inside the bracket.
AngleSearch find_angle(const Strip& strip, const ContactForce& f, int steps, int max_iterations) {
    AngleSearch out;
    const double a0 = strip.set_angle, ratio = force_ratio(f);
    const auto residual = [&](double a) { return pose_of(strip, a, f, steps).angle_residual; };
    const auto stop = [&](Status status, const char* message) {
        out.status = status, out.message = message;
        return out;
    };
    double low = 0.0, high = a0;  // residual positive at low, not positive at high
    const double at_set = residual(a0);
    if (!std::isfinite(at_set)) return stop(Status::non_finite, "the integrated strip is not finite");
    if (at_set > 0.0) {
        low = a0, high = 0.5 * std::numbers::pi;
        if (!(residual(high) <= 0.0)) return stop(Status::out_of_range, "the strip is turned beyond upright");
    } else if (!(residual(0.0) > 0.0)) {
        // The residual is convex for the loads of a blade: then there is no root. Look before saying so.
        constexpr int kLook = 16;
        int i = kLook - 1;
        while (i > 0 && !(residual(a0 * i / kLook) > 0.0)) --i;
        if (i == 0) return stop(Status::lying_flat, "the load turns the tip flat: no positive angle carries it");
        low = a0 * i / kLook, high = a0 * (i + 1) / kLook;
    }
    double a = at_set > 0.0 ? low : high;
    for (;; ++out.iterations) {
        const auto r = dual_pose(strip, a, f.normal, ratio, f.centre, steps).angle_residual;
        if (!std::isfinite(r.v) || !std::isfinite(r.d0))
            return stop(Status::non_finite, "the integrated strip is not finite");
        (r.v > 0.0 ? low : high) = a;
        double next = a - r.v / r.d0;
        const bool inside = next > low && next < high;
        if (std::abs(r.v) <= kTolerance) {
            // One step more costs nothing and leaves rounding only.
            out.angle = std::isfinite(next) && std::abs(next - a) < 1e-6 ? next : a;
            out.slope = r.d0;
            return stop(Status::converged, "");
        }
        if (out.iterations >= max_iterations)
            return stop(Status::max_iterations, "the effective angle was not found in time");
        a = inside ? next : 0.5 * (low + high);
        if (high - low < 1e-15)
            return stop(Status::stagnated, "the bracket of the effective angle closed without balance");
    }
}

}  // namespace

StripMismatch strip_mismatch(const Strip& strip, double effective_angle, const ContactForce& force,
                             int steps) noexcept {
    const auto pose = pose_of(strip, effective_angle, force, steps);
    return {pose.angle_residual, pose.interference};
}

StripJacobian strip_jacobian(const Strip& strip, double effective_angle, const ContactForce& force, int steps) {
    const auto pose = dual_pose(strip, effective_angle, force.normal, force_ratio(force), force.centre, steps);
    return {pose.angle_residual.d0, pose.angle_residual.d1, pose.interference.d0, pose.interference.d1};
}

double tangent_stiffness(const Strip& strip, double effective_angle, const ContactForce& force) {
    const StripJacobian J = strip_jacobian(strip, effective_angle, force, 16);
    return J.residual_by_angle /
           (J.interference_by_normal * J.residual_by_angle - J.interference_by_angle * J.residual_by_normal);
}

Bent bent_at(const Strip& strip, double effective_angle, const ContactForce& force, int steps, double tolerance) {
    if (auto [status, message] = complaint(strip, force, effective_angle, steps); status != Status::not_run)
        return failed(status, message, 0);
    return describe_state(strip, effective_angle, force, steps, 0, tolerance);
}

Bent solve_bending(const Strip& strip, const ContactForce& force, int steps, int max_iterations) {
    if (auto [status, message] = complaint(strip, force, 0.0, steps); status != Status::not_run)
        return failed(status, message, 0);
    if (force.normal < 0.0) return failed(Status::lifted_off, "a contact cannot pull: the normal load is negative", 0);
    const AngleSearch found = find_angle(strip, force, steps, max_iterations);
    if (found.status != Status::converged) return failed(found.status, found.message, found.iterations);
    if (!(found.slope < 0.0)) return failed(Status::unstable, "under dead load the tip runs away", found.iterations);
    if (transverse(found.angle, force.normal, force.tangential) < 0.0)
        return failed(Status::unstable, "the contact force pushes the tip towards the roll (it digs in)",
                      found.iterations);
    if (!first_mode(strip, found.angle, force, steps))
        return failed(Status::lying_flat, "only a buckled or coiled strip carries this load: the tip turned flat",
                      found.iterations);
    return describe_state(strip, found.angle, force, steps, found.iterations, kTolerance);
}

namespace {

/// Equilibrium curve over interference at constant ratio of the forces, followed from the unloaded blade.
class Follower {
  public:
    Follower(const Strip& strip, double ratio, double centre, int steps, int budget)
        : strip_(strip), ratio_(ratio), centre_(centre), steps_(steps), budget_(budget) {}

    double angle = kNan, normal = 0.0;
    Status status = Status::not_run;
    std::string message;
    int iterations = 0;

    bool start() {
        const AngleSearch free = find_angle(strip_, {0.0, 0.0, centre_}, steps_, budget_);
        iterations = free.iterations;
        if (free.status != Status::converged) return fail(free.status, free.message);
        angle = free.angle;
        here_ = evaluate(angle, 0.0);
        return healthy(angle, 0.0, here_) || fail(reason_, reason_message_);
    }

    bool go_to(double interference) {
        if (interference < here_.delta - 1e-15 * strip_.length)
            return fail(Status::lifted_off, "the holder is too far from the roll: no load");
        double at = here_.delta, stride = interference - at;
        const double smallest = 1e-4 * stride;  // halved so far, the last refusal is the reason
        while (interference - at > 1e-15 * strip_.length) {
            stride = std::min(stride, interference - at);
            if (correct(at + stride)) {
                at += stride;
                stride *= 2.0;
            } else if (budget_spent()) {
                return fail(Status::max_iterations, "the load was not found in time");
            } else {
                stride *= 0.5;
                if (stride < smallest) return fail(reason_, reason_message_);
            }
        }
        status = Status::converged;
        return true;
    }

  private:
    struct Point {
        double r, r_a, r_N, delta, delta_a, delta_N;
        [[nodiscard]] double det() const { return r_a * delta_N - r_N * delta_a; }
    };

    Point evaluate(double a, double N) {
        const auto pose = dual_pose(strip_, a, N, ratio_, centre_, steps_);
        return {pose.angle_residual.v, pose.angle_residual.d0, pose.angle_residual.d1,
                pose.interference.v,   pose.interference.d0,   pose.interference.d1};
    }
    bool fail(Status why, std::string text) {
        status = why, message = std::move(text);
        return false;
    }
    bool reject(Status why, const char* text) {
        reason_ = why, reason_message_ = text;
        return false;
    }
    [[nodiscard]] bool budget_spent() const { return iterations >= budget_; }

    bool healthy(double a, double N, const Point& p) {
        if (a <= 0.0) return reject(Status::lying_flat, "the interference turns the tip flat");
        if (!(transverse(a, 1.0, ratio_) > 0.0))
            return reject(Status::unstable, "friction pushes the tip towards the roll (it digs in)");
        if (!(p.r_a < 0.0) || !(p.det() < 0.0))
            return reject(Status::unstable, "the tangent stiffness is no longer positive");
        if (N < 0.0) return reject(Status::lifted_off, "the holder is too far from the roll: no load");
        return true;
    }

    bool correct(double wanted) {
        double a = angle, N = normal;
        Point p = here_;
        const double load_scale = strip_.stiffness / (strip_.length * strip_.length);
        for (int i = 0; i < 8 && !budget_spent(); ++i) {
            const double e = wanted - p.delta, det = p.det();
            const double da = -(p.r * p.delta_N + e * p.r_N) / det;
            const double dN = (p.r_a * e + p.r * p.delta_a) / det;
            if (!std::isfinite(da) || !std::isfinite(dN))
                return reject(Status::non_finite, "the integrated strip is not finite");
            if (std::abs(da) > 0.3 || std::abs(a + da - angle) > 0.5)
                return reject(Status::step_too_small, "the equilibrium curve could not be followed");
            a += da;
            N += dN;
            p = evaluate(a, N);
            ++iterations;
            if (std::abs(p.r) <= kTolerance && std::abs(dN) <= 1e-9 * (std::abs(N) + 1e-6 * load_scale)) {
                if (!healthy(a, std::abs(N) <= 1e-12 * load_scale ? 0.0 : N, p)) return false;
                angle = a, normal = std::max(N, 0.0), here_ = p;
                return true;
            }
        }
        return reject(Status::step_too_small, "the equilibrium curve could not be followed");
    }

    const Strip& strip_;
    double ratio_, centre_;
    int steps_, budget_;
    Point here_{};
    Status reason_ = Status::step_too_small;
    const char* reason_message_ = "";
};

}  // namespace

Bent solve_bending_at(const Strip& strip, double interference, double tangential_ratio, ContactForce& force, int steps,
                      int max_iterations) {
    const double centre = force.centre;
    force = {kNan, kNan, centre};
    const ContactForce probe{0.0, tangential_ratio, centre};
    if (auto [status, message] = complaint(strip, probe, interference, steps); status != Status::not_run)
        return failed(status, message, 0);
    Follower curve(strip, tangential_ratio, centre, steps, max_iterations);
    if (!curve.start() || !curve.go_to(interference)) return failed(curve.status, curve.message, curve.iterations);
    const ContactForce found{curve.normal, tangential_ratio * curve.normal, centre};
    Bent bent = describe_state(strip, curve.angle, found, steps, curve.iterations, kTolerance);
    if (bent.convergence.ok()) force = found;
    return bent;
}

Shape strip_shape(const Strip& strip, const Bent& bent, const ContactForce& force, int points) {
    const int n = std::max(points, 2), inside = (15 + n - 1) / (n - 1);  // at least 16 steps over the strip
    std::vector<kernel::StripState<double>> nodes;
    int step = 0;
    const auto pose =
        pose_of(strip, bent.effective_angle, force, (n - 1) * inside, [&](const kernel::StripSeries<double>& u) {
            if (step++ % inside == 0) nodes.push_back({u.theta[0], 0.0, u.o[0], u.z[0]});
        });
    nodes.push_back(pose.clamp);
    const double s = std::sin(pose.roll_turn), c = std::cos(pose.roll_turn);
    const double drop = pose.travel_o * s / (1.0 + c);
    Shape shape;
    for (auto node = nodes.rbegin(); node != nodes.rend(); ++node) {
        shape.o.push_back(pose.travel_o + node->o * c + node->z * s);
        shape.z.push_back(-drop - node->o * s + node->z * c);
        shape.slope.push_back(node->theta + pose.roll_turn);
    }
    return shape;
}

double strain_energy(const Strip& strip, double effective_angle, const ContactForce& force, int steps) {
    double sum = 0.0;
    const double step = strip.length / steps;
    (void)pose_of(strip, effective_angle, force, steps, [&](const kernel::StripSeries<double>& u) {
        // Five Gauss points in every step (Abramowitz & Stegun 1964, table 25.4): exact to degree 9.
        constexpr std::array<double, 5> x{0.046910077030668, 0.230765344947158, 0.5, 0.769234655052842,
                                          0.953089922969332};
        constexpr std::array<double, 5> w{0.118463442528095, 0.239314335249683, 0.284444444444444, 0.239314335249683,
                                          0.118463442528095};
        for (std::size_t i = 0; i < x.size(); ++i) {
            const double turn = slope(u.turn, x[i], 0);
            sum += w[i] * turn * turn;
        }
    });
    return 0.5 * strip.stiffness * sum / step;
}

CantileverEnd solve_cantilever(const Cantilever& beam, double start_rotation, int steps) {
    CantileverEnd out;
    out.x = out.y = out.rotation = out.root_curvature = kNan;
    const auto stop = [&](Status status, const char* message) {
        out.convergence.status = status, out.convergence.message = message;
        return out;
    };
    out.convergence.tolerance = kTolerance;
    const double D = beam.stiffness, L = beam.length;
    for (const double value : {D, L, beam.force_x, beam.force_y, beam.moment, start_rotation})
        if (!std::isfinite(value)) return stop(Status::non_finite, "a number given to the cantilever is not finite");
    if (!(D > 0.0) || !(L > 0.0) || steps < 1)
        return stop(Status::out_of_range, "stiffness, length and steps must be positive");
    // In the strip's words: theta = -rotation, o = x, z = y; theta at the clamp must vanish.
    const auto shoot = [&](double rotation, double share) {
        const Dual zero(0.0);
        const kernel::StripState<Dual> tip{Dual(-rotation, 1.0, 0.0), Dual(-share * beam.moment / D), zero, zero};
        const kernel::StripLoad<Dual> load{Dual(D), Dual(share * beam.force_x), Dual(share * beam.force_y), zero, zero,
                                           zero};
        return kernel::integrate_strip(tip, load, Dual(L), steps);
    };
    const double severity = (std::hypot(beam.force_x, beam.force_y) * L + std::abs(beam.moment)) * L / D;
    const int levels = start_rotation != 0.0 ? 1 : 1 + static_cast<int>(std::min(4.0 * severity, 400.0));
    double rotation = start_rotation, previous = start_rotation;
    for (int level = 1; level <= levels; ++level) {
        const double share = static_cast<double>(level) / levels;
        const double guess = level > 2 ? 2.0 * rotation - previous : rotation;
        previous = std::exchange(rotation, guess);
        kernel::StripState<Dual> clamp = shoot(rotation, share);
        for (int i = 0; std::abs(clamp.theta.v) > kTolerance; ++i) {
            if (i == 30) return stop(Status::max_iterations, "the end rotation was not found in time");
            rotation += std::clamp(clamp.theta.v / clamp.theta.d0, -0.5, 0.5);
            clamp = shoot(rotation, share);
            ++out.convergence.iterations;
            if (!std::isfinite(clamp.theta.v) || !std::isfinite(clamp.theta.d0))
                return stop(Status::non_finite, "the integrated cantilever is not finite");
        }
        out.x = -clamp.o.v, out.y = -clamp.z.v, out.rotation = rotation, out.root_curvature = -clamp.curvature.v;
        out.convergence.residual = std::abs(clamp.theta.v);
    }
    out.convergence.status = Status::converged;
    return out;
}

}  // namespace libblade
