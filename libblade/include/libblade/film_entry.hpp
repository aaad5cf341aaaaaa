// Where the ink turns from the flank into the gap under a facet, Stokes flow.
//
// The parallel flow under the facet, carried back to the facet's nominal end, starts at
//   p = 6 (eta U / h) S - 12 (eta q / h^2) C
// above the reservoir. The film on the effective slope m (film.hpp) with an edge parabola, whose flat part begins where the edge's
// circle leaves the facet (r tan(b/2) from its nominal end), gives S and C by integrals of h^-2 and h^-3 alone; what is missing
// is the turn of the flow, of the order of one gap height of facet. Fits of what Stokes flow (tests/reference/stokes_facet_entry:
// 15 to 150 deg, edge radii up to 10 gaps) has beyond the film:
//   S - C to 0.0031, S to 0.0123. Sharp: S gains 0.298 b.
#pragma once

#include <cmath>

#include "libblade/interpolation.hpp"

namespace libblade::kernel {

/// Lengths of facet, in gaps, that the turn of the flow stands for; shear >= pressure.
template <class T>
struct EntryLength {
    T shear;     ///< for the pure shear flow, S beyond the film [-]
    T pressure;  ///< for the pressure flow, C beyond the film [-]
};

/// angle: of the ink wedge b [rad], up to pi; radius: of the edge over the gap [-], > 0.
template <class T>
[[nodiscard]] EntryLength<T> entry_length(const T& angle, const T& radius) {
    using std::exp, std::log, std::sqrt;
    const T ln_angle = log(angle), ln_radius = log(radius);  // eight powers of two numbers
    const auto power = [&](double k) { return exp(T(k * ln_angle)); };
    const T round = 0.3566 * radius * power(0.7304);
    const T edge = 1.0 + exp(T(0.8758 * (std::log(0.3996) + ln_radius + 2.8377 * ln_angle))) + round * round;
    const T turn = 0.298 * angle * exp(T(-0.518 * log(edge)));
    const T x = radius * power(1.353), b2 = angle * angle;
    const T sharp = angle * (0.01879 + b2 * (0.01179 - 0.000434 * b2));
    const T difference = (sharp + 0.02916 * power(1.7821) * x + 0.009897 * x * x) /
                         (1.0 + 0.14665 * power(2.2489) * x + 0.20648 * x * sqrt(x) + 0.24437 * x * x);
    return {turn, T(turn - difference)};
}

}  // namespace libblade::kernel
