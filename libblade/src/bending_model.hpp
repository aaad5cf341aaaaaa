// What the files of the bending room share: one trial state of the strip in tip or flat contact.
//
// The place of the contact is one number u: an effective angle u > 0 at the tip, or -u the share of the strip that
// hangs over beyond a flat contact. The residual of the clamp angle falls with u on both sides and is continuous at 0.
#pragma once

#include <limits>
#include <string>
#include <type_traits>

#include "libblade/bending.hpp"
#include "libblade/bending_kernel.hpp"
#include "libblade/dual.hpp"

namespace libblade::bending_model {

inline constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
inline constexpr double kTolerance = 1e-12;  // [rad]; rounding of one integration is 1e-15

/// Value (0), first or second derivative of a series at x in [0, 1].
inline double polynomial(const std::array<double, kernel::kSeriesOrder + 1>& c, double x, std::size_t derivative = 0) {
    double sum = 0.0;
    for (std::size_t k = kernel::kSeriesOrder + 1; k-- > derivative;) {
        const double n = static_cast<double>(k);
        sum = sum * x + (derivative == 0 ? 1.0 : derivative == 1 ? n : n * (n - 1.0)) * c[k];
    }
    return sum;
}

/// Section that holds an arc length (the inboard one at a joint), and the strip there.
struct Local {
    double thickness, slope;  ///< [m], [-]; thickness 0 for a uniform strip that was given none
    double stiffness;         ///< [N m]
    double stiffness_slope;   ///< dD/ds [N]
    double offset;            ///< face towards the roll below the mid-plane [m]
    int section;
};
Local local(const Strip& strip, double arc_length) noexcept;

/// Free end beyond a flat contact, and the arc that lies on the roll.
struct Overhang {
    bool ok = true;
    double length = 0.0, arc = 0.0;                           ///< [m]
    double moment = 0.0, force_o = 0.0, force_z = 0.0;        ///< at the contact, of all that lies outboard
    double moment_s = 0.0, force_o_s = 0.0, force_z_s = 0.0;  ///< by the contact's arc length
    double tip_angle = 0.0;   ///< slope at the end in the frame of the overhang's root [rad]
    double o = 0.0, z = 0.0;  ///< end of the strip from the overhang's root [m]
};
Overhang overhang(const Strip& strip, double contact) noexcept;

/// A trial state and its response; `by_normal` at constant tangential ratio and centre.
struct Trial {
    double u = kNan, normal = kNan;
    double residual = kNan, residual_u = kNan, residual_N = kNan;  ///< of the clamp angle [rad]
    double interference = kNan, interference_u = kNan, interference_N = kNan;
    double residual_T = kNan, interference_T = kNan;  ///< by the tangential force; K = 4 only
    double residual_c = kNan, interference_c = kNan;  ///< by the centre of pressure; K = 4 only
    double plate_force = 0.0, plate_direction = 0.0;
    bool first_mode =
        true;  ///< Jacobi's condition outboard of a plate that is touched: turning the tip turns every section the same way
    [[nodiscard]] bool finite() const noexcept { return std::isfinite(residual + residual_u + interference); }
    /// Negative where the tangent stiffness is positive, if residual_u < 0.
    [[nodiscard]] double determinant() const noexcept {
        return residual_u * interference_N - residual_N * interference_u;
    }
};
struct Drive {
    double ratio = 0.0, centre = 0.0;  ///< tangential over normal; centre of pressure [m]
    int steps = 16;
    bool tip_only = false;  ///< u < 0 is an angle, too: a trial state of the coupled solver
};
/// Where the plate's force was found last.
struct PlateGuess {
    double force = 0.0, turn = 0.0, slip = 0.0;  ///< [N/m]; plate against the strip at its length [rad]; [m]
    std::array<double, 3> turn_by{}, across_by{},
        along_by{};  ///< slopes of the conditions by force, direction and slip
};
/// Newton's ingredients at a trial state, by u (K = 1), by u and N at a fixed ratio T / N (K = 2), or by u, N, T and the centre of
/// pressure (K = 4). Residual and residual_u are not finite
/// when the strip cannot be integrated there.
template <std::size_t K>
Trial evaluate(const Strip& strip, double u, double normal, const Drive& drive, PlateGuess* warm = nullptr) noexcept;

/// The trial state in plain numbers; the plate's force is found, not given.
struct Pose {
    kernel::StripState<double> tip;
    kernel::StripPose<double> at;
    double plate_force = 0.0, plate_direction = 0.0, plate_slip = 0.0;
    double clearance = std::numeric_limits<double>::infinity();  ///< strip to plate edge [m]
    double contact = kNan;                                       ///< arc length [m]
    kernel::StripState<double> edge;                             ///< at the plate's edge, outboard of its force
    kernel::StripLoad<double> edge_load;
    Overhang beyond;
    bool ok = false;
    [[nodiscard]] double residual() const noexcept { return ok ? at.angle_residual : kNan; }
};

/// The plate's force for what arrives at its edge from outboard.
struct PlateSolution {
    double force = 0.0, direction = 0.0, slip = 0.0, clearance = 0.0;
    bool ok = false;
};
PlateSolution solve_plate(const Strip& strip, const kernel::StripState<double>& edge,
                          const kernel::StripLoad<double>& load, int steps, PlateGuess* warm) noexcept;

/// Every number NaN.
Bent failed(Status status, std::string_view message, int iterations,
            double residual = std::numeric_limits<double>::infinity());

/// Status not_run when the strip can be integrated at all.
struct Complaint {
    Status status = Status::not_run;
    const char* message = "";
};
Complaint complaint(const Strip& strip, const ContactForce& force, double more, int steps);

/// No place was found, but nothing is known against one.
inline bool undecided(Status s) noexcept {
    return s == Status::max_iterations || s == Status::stagnated || s == Status::non_finite ||
           s == Status::step_too_small;
}

inline constexpr double kSmallStrain = 0.3;  // beyond, bending theory says nothing
inline constexpr const char* kStrained = "the load strains the strip beyond any elastic limit";
double strain_scale(const Strip& strip, double force);
Bent explain(const Strip& strip, double normal, double tangential, Bent bent);

/// The way from the unloaded blade to a load or an interference (options.max_load or .max_interference) along the curve of
/// equilibria. Converged: its last point is there, and settles within `max_points`. Else why it is not reached: a fold on
/// the way (unstable), friction that digs in, strains beyond any elastic range, or what describe_state refuses.
enum class Goal { whole, load, interference };
LoadCurve trace(const Strip& strip, double tangential_ratio, const LoadCurveOptions& options, Goal goal);

inline constexpr double kElastic = 0.03;  // no material of blades stays elastic beyond
inline constexpr const char* kPlastic = "on the way the strip is strained beyond the elastic range of any blade";
/// Strain of the face of a described state, by the stiffest section: no more than there is.
double strain_of(const Strip& strip, const Bent& bent) noexcept;

/// All there is to say about a state that balances; status stagnated when its residual exceeds the tolerance.
Bent describe_state(const Strip& strip, double u, const ContactForce& force, int steps, int iterations,
                    double tolerance, PlateGuess* warm = nullptr);

/// The place of a solved contact.
inline double place_of(const Strip& strip, const Bent& bent) noexcept {
    return bent.contact_mode == ContactMode::flat ? bent.contact_arc_length / strip.length - 1.0 : bent.effective_angle;
}

inline bool has_plate(const Strip& strip) noexcept { return strip.plate.length > 0.0; }

/// Linear rotation of the contact against the clamp under the loads taken by their size, for a contact at an arc
/// length: how far from straight the strip may be [rad].
double severity(const Strip& strip, double contact, double force) noexcept;
/// Steps that keep the integration exact at such a severity.
int enough_steps(int steps, double severity) noexcept;

/// Cost of one trial state, in steps of integration: soft stretches get more, the plate's force and a pressed overhang
/// are iterated; a plate's force that is not found costs kVain times that.
double cost(const Strip& strip, double u, int steps) noexcept;
inline constexpr double kVain = 20.0;
inline constexpr double kMostWork = 6e5, kMostCurveWork = 4.0 * kMostWork;  // of a search that fails

/// Stretched coordinates of a trial state, in which the curve of equilibria is tame: y = u at the tip, the logarithm of
/// the contact's share of the length when flat; w = N L^2 / D up to 3, then logarithmic.
struct Stretched {
    double y = 0.0, w = 0.0;
};
double load_unit(const Strip& strip) noexcept;
Stretched stretch(const Strip& strip, double u, double normal) noexcept;
double place_of(double y) noexcept;
double place_slope(double y) noexcept;  ///< du/dy
double normal_of(const Strip& strip, double w) noexcept;
double normal_slope(const Strip& strip, double w) noexcept;  ///< dN/dw

template <class T>
kernel::StripStart<T> start(const Strip& strip, const T& u, const kernel::StripForce<T>& force, bool tip_only,
                            T& contact, Overhang& beyond) noexcept {
    if (tip_only || !(value_of(u) < 0.0)) {
        contact = T(strip.length);
        return kernel::start_at_tip(strip, u, force);
    }
    contact = strip.length * (1.0 + u);
    const double s = value_of(contact);
    beyond = overhang(strip, s);
    const Local here = local(strip, s);
    const T ds = contact - s;
    const T e = here.offset + 0.5 * here.slope * ds;
    const T moment = beyond.moment + beyond.moment_s * ds - e * force.tangential - force.centre * force.normal;
    const T fo = force.tangential + (beyond.force_o + beyond.force_o_s * ds);
    const T fz = force.normal + (beyond.force_z + beyond.force_z_s * ds);
    const kernel::StripState<T> at{T(0.0), moment, T(0.0), e};
    return {at, {T(here.stiffness), fo, fz, T(strip.pressure), at.o, at.z}};
}

/// Solution of a system of three by elimination with Cramer's rule; not finite when singular.
inline std::array<double, 3> solve3(const std::array<std::array<double, 3>, 3>& m,
                                    const std::array<double, 3>& y) noexcept {
    const auto cross = [](const std::array<double, 3>& a, const std::array<double, 3>& b) {
        return std::array<double, 3>{a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]};
    };
    const auto r0 = cross(m[1], m[2]), r1 = cross(m[2], m[0]), r2 = cross(m[0], m[1]);
    const double det = m[0][0] * r0[0] + m[0][1] * r0[1] + m[0][2] * r0[2];
    std::array<double, 3> x{};
    for (std::size_t i = 0; i < 3; ++i) x[i] = (r0[i] * y[0] + r1[i] * y[1] + r2[i] * y[2]) / det;
    return x;
}

/// From the plate's edge to the clamp.
template <class Visit>
kernel::PlateForce<double> behind_plate(const Strip& strip, const Pose& pose, int steps, kernel::StripState<double>& at,
                                        kernel::StripLoad<double>& load, Visit&& visit) noexcept {
    kernel::PlateForce<double> pushed{pose.plate_force, pose.plate_direction, pose.plate_slip,
                                      local(strip, strip.plate.length).stiffness};
    kernel::push(at, load, pushed);
    kernel::StripLayout<double> layout;
    kernel::lay_out(layout, strip, strip.plate.length, 0.0, steps, [](double x) { return x; });
    kernel::integrate_layout(at, load, layout, visit);
    return pushed;
}

template <class Visit = kernel::NoVisit>
Pose pose(const Strip& strip, double u, const ContactForce& f, int steps, Visit&& visit = {},
          PlateGuess* warm = nullptr, bool tip_only = false) noexcept {
    Pose out;
    auto [at, load] = start<double>(strip, u, {f.normal, f.tangential, f.centre}, tip_only, out.contact, out.beyond);
    if (!out.beyond.ok) return out;
    out.tip = at;
    const kernel::StripLoad<double> begun = load;
    kernel::StripLayout<double> layout;
    const auto value = [](double x) { return x; };
    const bool plate = has_plate(strip);
    if (plate && !(strip.plate.length < out.contact)) return out;
    kernel::lay_out(layout, strip, out.contact, plate ? strip.plate.length : 0.0, steps, value);
    kernel::PlateForce<double> pushed{};
    if (!plate) {
        kernel::integrate_layout(at, load, layout, visit);
    } else {
        kernel::integrate_layout(at, load, layout);
        out.edge = at, out.edge_load = load;
        const PlateSolution found = solve_plate(strip, at, load, steps, warm);
        if (!found.ok) return out;
        out.plate_force = found.force, out.plate_direction = found.direction, out.plate_slip = found.slip;
        out.clearance = found.clearance;
        pushed = behind_plate(strip, out, steps, at, load, kernel::NoVisit{});
        if constexpr (!std::is_same_v<std::remove_cvref_t<Visit>, kernel::NoVisit>) {
            // Once more for the one who looks on: from the contact to where the edge presses, and from there.
            const double edge = strip.plate.length + (found.force > 0.0 ? found.slip : 0.0);
            kernel::StripState<double> seen = out.tip;
            kernel::StripLoad<double> seen_load = begun;
            kernel::lay_out(layout, strip, out.contact, edge, steps, value);
            kernel::integrate_layout(seen, seen_load, layout, visit);
            kernel::PlateForce<double> there{found.force, found.direction, 0.0, local(strip, edge).stiffness};
            kernel::push(seen, seen_load, there);
            kernel::lay_out(layout, strip, edge, 0.0, steps, value);
            kernel::integrate_layout(seen, seen_load, layout, visit);
        }
    }
    out.at = kernel::pose_at_clamp(strip, at, load, plate ? &pushed : nullptr);
    out.ok = true;
    return out;
}

}  // namespace libblade::bending_model
