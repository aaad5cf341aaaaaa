// Asperity contact of two rough surfaces (Greenwood & Tripp 1970-71, Proc. IMechE 185:625):
//
//   p_a = (16 sqrt2 pi / 15) (eta beta sigma)^2 sqrt(sigma / beta) E* F_5/2(h / sigma),   1/E* = sum (1 - nu^2)/E
//
// with the product eta beta sigma and the ratio sigma / beta as inputs. Gaussian heights. Texts with 8 sqrt2 use a modulus
// twice as large.
#pragma once

#include "libblade/interpolation.hpp"
#include "libblade/roll.hpp"

namespace libblade {

/// F_n(H) = int_H^inf (s - H)^n exp(-s^2/2)/sqrt(2 pi) ds [-], n >= 0, by quadrature (relative error below 1e-9 for |H| <= 6).
[[nodiscard]] double greenwood_tripp_integral(double order, double separation);

/// What one pair of surfaces needs: built once, then evaluated without allocation.
struct AsperityLaw {
    double sigma = 0.0;        ///< combined rms roughness [m]; 0: smooth, no contact
    double coefficient = 0.0;  ///< pressure at F_5/2 = 1, including the land fraction [Pa]
    double cap = 0.0;          ///< land fraction times the softer hardness [Pa]
};
[[nodiscard]] AsperityLaw asperity_law(const Roll& roll, const Solid& blade);

/// Mean asperity pressure over land and cells at a gap between mean planes [Pa]; the hardness caps it smoothly.
[[nodiscard]] double asperity_pressure(const AsperityLaw& law, double gap);
/// Mean filled gap sigma (H + F_1(H)) under touching surfaces [m]: the gap in the Reynolds equation.
[[nodiscard]] double filled_gap(double sigma, double gap);
/// Gap between mean planes at which the asperities alone carry a mean pressure [m].
[[nodiscard]] double gap_at_pressure(const AsperityLaw& law, double pressure);

/// Tables of ln F_5/2 and F_1: constant data, made at first use.
[[nodiscard]] const HermiteTable& log_f52_table();
[[nodiscard]] const HermiteTable& f1_table();

namespace kernel {
template <class T>
[[nodiscard]] T filled_gap(const HermiteTable& f1, double sigma, const T& gap) {
    if (sigma <= 0.0) return gap;
    const T H = gap / sigma;
    if (value_of(H) >= 6.0) return gap;
    return sigma * (H + f1(H));
}
template <class T>
[[nodiscard]] T asperity_pressure(const HermiteTable& log_f52, const AsperityLaw& law, const T& gap) {
    using std::exp, std::sqrt;
    if (law.sigma <= 0.0) return T(0.0);
    const T H = gap / law.sigma;
    if (value_of(H) >= 6.0) return T(0.0);
    // Below 6 sigma the pressure is brought to zero with its slope; what is cut is under 1e-8 of the pressure at 2 sigma.
    const T fade = value_of(H) > 5.0 ? T((6.0 - H) * (6.0 - H) * (2.0 * H - 9.0)) : T(1.0);
    const T p = law.coefficient * exp(log_f52(H)) * fade;
    if (value_of(p) < 1e-3 * law.cap) return p;  // the cap takes less than 1e-12 off
    const T r = p / law.cap;
    return p / sqrt(sqrt(1.0 + r * r * r * r));
}
}  // namespace kernel

}  // namespace libblade
