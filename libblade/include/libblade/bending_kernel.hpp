// The bent strip integrated from its tip to its clamp, templated on the scalar.
//
// D theta'' = F_o sin theta + F_z cos theta, o' = cos theta, z' = -sin theta, and because the pressure follows the strip
// F_o(s) = F_o - p (z(s) - z_tip), F_z(s) = F_z + p (o(s) - o_tip) exactly. In every step the solution is its Taylor
// series: with S = sin theta, C = cos theta, S' = theta' C and C' = -theta' S make the coefficients a recurrence of
// products (Moore 1966, Interval Analysis, ch. 11), so a step of order 8 costs one sine and one cosine.
//
// The integration runs in the frame of the contact, where the angle and the force are known; the clamp angle it arrives at
// says how far the whole picture has to be turned, and hence where on the roll the contact lies. No iteration.
//
// T needs + - * / and comparisons, and sin, cos, sqrt, atan2 found by argument lookup. Nothing allocates.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>

namespace libblade::kernel {

inline constexpr std::size_t kSeriesOrder = 8;

template <class T>
struct StripState {
    T theta, curvature, o, z;  ///< [rad], [rad/m], [m], [m]
};

/// Dead force at the tip and following pressure.
template <class T>
struct StripLoad {
    T stiffness;         ///< D [N m]
    T force_o, force_z;  ///< [N/m]
    T pressure;          ///< towards the roll [Pa]
    T o_tip, z_tip;      ///< place of the mid-plane end [m]
};

/// One step: Taylor coefficients in (s - s_0) / step, so that each field is the sum of its own at the end.
template <class T>
struct StripSeries {
    std::array<T, kSeriesOrder + 1> theta, turn, o, z;  ///< turn = step theta'
};

template <class T>
[[nodiscard]] T series_end(const std::array<T, kSeriesOrder + 1>& c) noexcept {
    T sum = c[kSeriesOrder];
    for (std::size_t k = kSeriesOrder; k-- > 0;) sum = sum + c[k];
    return sum;
}

template <class T>
void strip_series(StripSeries<T>& u, const StripState<T>& at, const StripLoad<T>& load, const T& step) noexcept {
    using std::cos;
    using std::sin;
    const T scale = step * step / load.stiffness;
    const T pull = scale * load.pressure;
    const bool loaded = load.pressure != T(0.0);
    std::array<T, kSeriesOrder + 1> S, C, fo, fz;
    u.theta[0] = at.theta;
    u.turn[0] = step * at.curvature;
    u.o[0] = at.o;
    u.z[0] = at.z;
    S[0] = sin(at.theta);
    C[0] = cos(at.theta);
    fo[0] = scale * load.force_o - pull * (at.z - load.z_tip);
    fz[0] = scale * load.force_z + pull * (at.o - load.o_tip);
    for (std::size_t k = 0; k < kSeriesOrder; ++k) {
        const double share = 1.0 / static_cast<double>(k + 1);
        T bend = fo[0] * S[k] + fz[0] * C[k];
        if (loaded)
            for (std::size_t j = 1; j <= k; ++j) bend = bend + fo[j] * S[k - j] + fz[j] * C[k - j];
        T ds = u.turn[0] * C[k], dc = u.turn[0] * S[k];
        for (std::size_t j = 1; j <= k; ++j) {
            ds = ds + u.turn[j] * C[k - j];
            dc = dc + u.turn[j] * S[k - j];
        }
        u.theta[k + 1] = share * u.turn[k];
        u.turn[k + 1] = share * bend;
        u.o[k + 1] = share * (step * C[k]);
        u.z[k + 1] = -share * (step * S[k]);
        fo[k + 1] = -1.0 * (pull * u.z[k + 1]);
        fz[k + 1] = pull * u.o[k + 1];
        S[k + 1] = share * ds;
        C[k + 1] = -share * dc;
    }
}

struct NoVisit {
    template <class T>
    void operator()(const StripSeries<T>&) const noexcept {}
};

/// From the tip state to the clamp in equal steps; visit(series) sees every step, tip first.
template <class T, class Visit = NoVisit>
[[nodiscard]] StripState<T> integrate_strip(StripState<T> state, const StripLoad<T>& load, const T& length, int steps,
                                            Visit&& visit = {}) noexcept {
    const T step = length * (-1.0 / static_cast<double>(steps));
    const T per_step = 1.0 / step;
    StripSeries<T> u;
    for (int i = 0; i < steps; ++i) {
        strip_series(u, state, load, step);
        state = {series_end(u.theta), series_end(u.turn) * per_step, series_end(u.o), series_end(u.z)};
        visit(u);
    }
    return state;
}

template <class T>
struct StripSetup {
    T stiffness, length, set_angle, offset, pressure, roll_radius;
};
template <class T>
struct StripForce {
    T normal, tangential, centre;
};

/// The strip with its tip on the roll and its clamp on the line along which the holder advances.
template <class T>
struct StripPose {
    StripState<T> tip, clamp;  ///< in the local frame: contact point at the origin, o along the roll surface
    T roll_turn;               ///< turn of the roll tangent at the contact from first touch [rad]
    T travel_o;                ///< contact point along o from first touch [m]
    T angle_residual;          ///< set angle minus clamp angle: zero at equilibrium [rad]
    T interference;            ///< [m]
};

/// First touch: the undeformed strip at the set angle touches at the origin, so the clamp is at
/// (-L cos a0 + e sin a0, L sin a0 + e cos a0) with e the offset. Now the contact is at (R sin psi, R cos psi - R) and the
/// clamp at the local (x, y) turned by psi; the same o gives (R + y) sin psi + x cos psi = X0.
template <class T, class Visit = NoVisit>
[[nodiscard]] StripPose<T> strip_pose(const StripSetup<T>& strip, const T& angle, const StripForce<T>& force, int steps,
                                      Visit&& visit = {}) noexcept {
    using std::atan2;
    using std::cos;
    using std::sin;
    using std::sqrt;
    const T s = sin(angle), c = cos(angle);
    StripPose<T> out;
    // Moment of the contact force about the mid-plane end; the arm is e (-sin a, -cos a) + centre (1, 0).
    const T moment = strip.offset * (s * force.normal - c * force.tangential) - force.centre * force.normal;
    out.tip = {angle, moment / strip.stiffness, strip.offset * s, strip.offset * c};
    const StripLoad<T> load{strip.stiffness, force.tangential, force.normal, strip.pressure, out.tip.o, out.tip.z};
    out.clamp = integrate_strip(out.tip, load, strip.length, steps, visit);

    const T s0 = sin(strip.set_angle), c0 = cos(strip.set_angle);
    const T X0 = strip.offset * s0 - strip.length * c0;
    const T Z0 = strip.offset * c0 + strip.length * s0;
    const T per_radius = 1.0 / (strip.roll_radius + out.clamp.z);  // zero for a plane
    const T X = X0 * per_radius, x = out.clamp.o * per_radius;
    const T w2 = 1.0 + x * x - X * X;
    const T w = w2 > T(0.0) ? T(sqrt(w2)) : T(0.0);
    const T norm = 1.0 / (1.0 + x * x);
    const T sin_psi = (X - x * w) * norm, cos_psi = (X * x + w) * norm;
    out.roll_turn = atan2(sin_psi, cos_psi);
    out.travel_o = X0 - out.clamp.o * cos_psi - out.clamp.z * sin_psi;
    out.angle_residual = strip.set_angle - out.clamp.theta - out.roll_turn;
    // The contact lies R (1 - cos psi) = travel_o tan(psi / 2) below the tangent of first touch.
    const T drop = out.travel_o * sin_psi / (1.0 + cos_psi);
    out.interference = Z0 + drop + out.clamp.o * sin_psi - out.clamp.z * cos_psi;
    return out;
}

}  // namespace libblade::kernel
