// Asperity contact of two rough surfaces (Greenwood & Tripp 1970-71, Proc. IMechE 185:625):
//
//   p_a = (16 sqrt2 pi / 15) (eta beta sigma)^2 sqrt(sigma / beta) E* F_5/2(h / sigma),   1/E* = sum (1 - nu^2)/E
//
// with the product eta beta sigma and the ratio sigma / beta as inputs. Gaussian heights. Texts with 8 sqrt2 use a modulus
// twice as large.
//
// A roll with a bearing curve takes the pressure from its measured points instead: ln p by a monotone cubic through the
// points (Fritsch & Carlson 1980, SIAM J. Numer. Anal. 17:238), straight beyond both ends. Roughness, land fraction and
// hardness stay what they are for Greenwood-Tripp.
#pragma once

#include "libblade/interpolation.hpp"
#include "libblade/roll.hpp"

namespace libblade {

/// F_n(H) = int_H^inf (s - H)^n exp(-s^2/2)/sqrt(2 pi) ds [-], n >= 0, by quadrature (relative error below 1e-9 for |H| <= 6).
[[nodiscard]] double greenwood_tripp_integral(double order, double separation);

/// What one pair of surfaces needs: built once, then evaluated without allocation.
struct AsperityLaw {
    double sigma = 0.0;          ///< combined rms roughness [m]; 0: smooth, no contact
    double coefficient = 0.0;    ///< pressure at F_5/2 = 1 with the land fraction [Pa]; measured: the land fraction [-]
    double cap = 0.0;            ///< land fraction times the softer hardness [Pa]
    HermiteTable measured = {};  ///< ln of the measured pressure on the land [Pa] against gap [m]; empty: none
    double fade = 0.0;           ///< gap from which a measured pressure is brought to zero, over one sigma [m]
};
/// Measured points are resampled into a uniform table: exact at evenly spaced points; at others ln p is off by less than
/// 3e-5 of its largest change between neighbours where the smallest distance is 1/64 of the whole, 2e-3 where it is 1/500.
/// A measured pressure fades from the last point or 5 sigma, whichever is further out.
[[nodiscard]] AsperityLaw asperity_law(const Roll& roll, const Solid& blade);

/// Mean asperity pressure over land and cells at a gap between mean planes [Pa]; the hardness caps it smoothly.
[[nodiscard]] double asperity_pressure(const AsperityLaw& law, double gap);
/// Mean filled gap sigma (H + F_1(H)) under touching surfaces [m]: the gap in the Reynolds equation.
[[nodiscard]] double filled_gap(double sigma, double gap);
/// Gap between mean planes at which the asperities alone carry a mean pressure [m]; NaN where they cannot.
[[nodiscard]] double gap_at_pressure(const AsperityLaw& law, double pressure);

/// Tables of F_5/2 and F_1: constant data, made at first use. From 5 on F_5/2 is brought to zero at 6 with its slope; what is cut
/// is under 1e-8 of its value at 2.
[[nodiscard]] const UniformCubic& f52_table();
[[nodiscard]] const UniformCubic& f1_table();

namespace kernel {
/// filled_gap() for many gaps.
template <class T>
class FilledGap {
  public:
    FilledGap(const UniformCubic& f1, double sigma)
        : f1_(f1), sigma_(sigma), per_sigma_(sigma > 0.0 ? 1.0 / sigma : 0.0), touching_(6.0 * sigma) {}
    [[nodiscard]] T operator()(const T& gap) const {
        if (value_of(gap) >= touching_ || !(sigma_ > 0.0)) return gap;
        return gap + sigma_ * f1_(T(gap * per_sigma_));
    }

  private:
    const UniformCubic& f1_;
    double sigma_, per_sigma_, touching_;
};
template <class T>
[[nodiscard]] T filled_gap(const UniformCubic& f1, double sigma, const T& gap) {
    return FilledGap<T>(f1, sigma)(gap);
}
/// p / (1 + (p / cap)^4)^(1/4).
template <class T>
[[nodiscard]] T capped(const T& p, double cap) {
    using std::sqrt;
    if (value_of(p) < 1e-3 * cap) return p;       // the cap takes less than 1e-12 off
    if (value_of(p) >= 1e9 * cap) return T(cap);  // to the last bit, before a power overflows
    const T r = p / cap;
    return p / sqrt(sqrt(1.0 + r * r * r * r));
}
/// What brings a pressure to zero with its slope, u from 0 to 1.
template <class T>
[[nodiscard]] T faded(const T& u) {
    return (1.0 - u) * (1.0 - u) * (1.0 + 2.0 * u);
}
template <class T>
[[nodiscard]] T measured_pressure(const AsperityLaw& law, const T& gap) {
    using std::exp;
    const T beyond = (gap - law.fade) / law.sigma;
    if (value_of(beyond) >= 1.0) return T(0.0);
    const T p = law.coefficient * exp(law.measured(gap));
    return capped(value_of(beyond) > 0.0 ? T(p * faded(beyond)) : p, law.cap);
}
/// Gap from which there is no pressure [m].
[[nodiscard]] inline double asperity_reach(const AsperityLaw& law) noexcept {
    return law.measured.value.empty() ? 6.0 * law.sigma : law.fade + law.sigma;
}
/// asperity_pressure() for many gaps.
template <class T>
class AsperityPressure {
  public:
    AsperityPressure(const UniformCubic& f52, const AsperityLaw& law)
        : f52_(f52), law_(law), per_sigma_(1.0 / law.sigma), measured_(!law.measured.value.empty()) {}
    [[nodiscard]] T operator()(const T& gap) const {
        if (measured_) return measured_pressure(law_, gap);
        const T H = gap * per_sigma_;
        return value_of(H) >= 6.0 ? T(0.0) : capped(T(law_.coefficient * f52_(H)), law_.cap);
    }

  private:
    const UniformCubic& f52_;
    const AsperityLaw& law_;
    double per_sigma_;
    bool measured_;
};
template <class T>
[[nodiscard]] T asperity_pressure(const UniformCubic& f52, const AsperityLaw& law, const T& gap) {
    return law.sigma > 0.0 ? AsperityPressure<T>(f52, law)(gap) : T(0.0);
}
}  // namespace kernel

}  // namespace libblade
