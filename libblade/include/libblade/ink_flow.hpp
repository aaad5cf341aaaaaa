// Plane flow of an ink in a gap, exact for its viscosity law, and a table of it for film solvers.
//
// The surface at z = 0 moves with U along x, the wall at z = h rests, dp/dx is uniform over the gap. Momentum makes the
// stress T = -eta du/dz linear, T = T_m - dp/dx (z - h / 2), and the law gives the shear rate R(T), odd and rising
// (Bird, Armstrong & Hassager 1987, Dynamics of Polymeric Liquids vol. 1, ch. 4). With w = z / h - 1/2 and P = -h dp/dx
//   U / h = int R(T_m + P w) dw,   q = U h / 2 + h^2 int w R(T_m + P w) dw,   w from -1/2 to 1/2.
// The Newtonian forms q = U h / 2 - h^3 / (12 eta_p) dp/dx and T_m = eta_s U / h hold exactly with two viscosities
// that depend on the nominal rate U / h and on the relative pressure flow s = 2 q / (U h) - 1: P = 6 eta_p (U / h) s.
// Both are even in s; at s = 0 they are the tangent and the apparent viscosity (first order: Dien & Elrod 1983, J.
// Lubr. Technol. 105:385). s = 0 is pure shear, s = -1 no net flow; the stress vanishes at one wall near |s| = 1/3.
// Laminar, isothermal over the gap, no slip, no memory of the fluid.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <type_traits>
#include <vector>

#include "libblade/ink.hpp"
#include "libblade/interpolation.hpp"
#include "libblade/status.hpp"

namespace libblade {

struct PlaneFlow {
    double flow = 0.0;  ///< q, along the motion of the moving wall [m2/s]
    double moving_wall_stress =
        0.0;  ///< shear on the moving wall, positive against +x: it brakes a wall moving to +x [Pa]
    double fixed_wall_stress = 0.0;  ///< shear on the wall at rest, positive along +x [Pa]
    Convergence convergence;         ///< residual: relative error of the speed reached
};

/// Flow between a wall moving at `speed` [m/s] and one at rest, `gap` [m] apart, under dp/dx [Pa/m]. Stress must rise
/// with the shear rate. Relative error of flow and stresses about 1e-11. Throws InvalidInput on a gap <= 0 or numbers
/// not finite.
[[nodiscard]] PlaneFlow plane_flow(const Rheology& law, double gap, double speed, double pressure_gradient);

/// eta_p and eta_s above.
template <class T>
struct FlowViscosity {
    T pressure;  ///< against pressure flow [Pa s]
    T shear;     ///< for the stress half-way between the walls [Pa s]
};

struct InkFlowTableRange {
    double lowest_rate = 1.0;     ///< U / h [1/s]
    double highest_rate = 1e11;   ///< [1/s]
    double largest_flow = 100.0;  ///< |s|, at least 4 is tabulated [-]
};

/// ln eta_p and ln eta_s over ln(U / h) and y = asinh |s|: bicubic Hermite, C1, extended by straight lines. Rows of
/// equal y are narrow where the stress may vanish at a wall and wide at large |s|. Immutable; any number of threads
/// may read.
class InkFlowTable {
  public:
    /// Viscosities at the nominal rate U / h > 0 [1/s] and the relative pressure flow s [-]; nothing allocates. First
    /// derivatives are passed on to T, which needs only sums and products and an overload of value_of.
    template <class T>
    [[nodiscard]] FlowViscosity<T> at(const T& rate, const T& s) const {
        if constexpr (std::is_same_v<T, double>) {
            const Local v = look_up<false>(rate, s);
            return {v.pressure, v.shear};
        } else {
            const Local v = look_up<true>(value_of(rate), value_of(s));
            const T dr = rate - value_of(rate), ds = s - value_of(s);  // zero in value
            return {v.pressure + v.pressure_by_rate * dr + v.pressure_by_s * ds,
                    v.shear + v.shear_by_rate * dr + v.shear_by_s * ds};
        }
    }
    [[nodiscard]] const Convergence& convergence() const noexcept { return convergence_; }

  private:
    struct Local {
        double pressure, shear, pressure_by_rate, shear_by_rate, pressure_by_s, shear_by_s;
    };
    /// Of ln eta_p and ln eta_s: value, slope in ln rate, slope in y, mixed.
    struct Node {
        double value[2], by_rate[2], by_y[2], mixed[2];
    };
    /// Rows of equal distance.
    struct Zone {
        double start, step, per_step;  // in y
        std::size_t first_row, cells;
    };
    template <bool kSlopes>
    [[nodiscard]] Local look_up(double rate, double s) const noexcept;

    double constant_ = 0.0;  // Newtonian: the viscosity, without nodes
    double log_start_ = 0.0, log_step_ = 1.0, columns_per_log_ = 1.0;
    std::array<Zone, 4> zones_{};         // of rows, one after the other
    std::size_t columns_ = 0, rows_ = 0;  // columns of equal rate, rows of equal s
    std::vector<Node> nodes_;             // column by column
    Convergence convergence_;

    friend class InkFlowTableBuilder;
};

/// A table for one law. Largest interpolation error over the default range: 1e-6 for Cross and Carreau-Yasuda laws
/// (time constant 1 us to 10 ms, n = 0.3 to 1, viscosities falling by up to 50), 2e-7 for a power law, n = 0.4 to 1.
/// Takes some 15 ms and 4 MB, for a power law 0.5 ms and 0.1 MB. Not converged when the flow could not be solved at
/// some node; the viscosities there are NaN. Throws InvalidInput on an empty range.
[[nodiscard]] InkFlowTable make_ink_flow_table(const Rheology& law, const InkFlowTableRange& range = {});

}  // namespace libblade
