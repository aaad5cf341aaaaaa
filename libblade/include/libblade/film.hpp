// The ink film: generalised Reynolds equation with mass-conserving cavitation.
//
//   q = U h / 2 - (phi h^3 / (12 eta)) dp/dx,  dq/dx = 0,   p >= p_cav, void >= 0, (p - p_cav) void = 0
//
// x downstream [m], surface at z = 0 moving with U > 0, gap h [m]. In the void only the share (1 - void) of the gap is
// filled and q = U h (1 - void) / 2 (Jakobsson-Floberg-Olsson; complementarity form: Giacopini et al. 2010,
// Woloszynski et al. 2015). Steep flanks: Stokes corner (Taylor 1962).
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "libblade/status.hpp"

namespace libblade {

struct FilmInput {
    std::span<const double> x;                   ///< nodes, increasing [m], (n,)
    std::span<const double> gap;                 ///< > 0 [m], (n,)
    std::span<const double> pressure_viscosity;  ///< viscosity against pressure flow, per cell [Pa s], (n-1,)
    std::span<const double> shear_viscosity;     ///< viscosity for shear stress, per cell [Pa s], (n-1,)
    std::span<const double> flow_factor;         ///< phi per cell [-], (n-1,)
    double speed = 1.0;                          ///< U [m/s]
    double pressure_in = 0.0;                    ///< [Pa], above the cavitation pressure
    double pressure_out = 0.0;                   ///< [Pa], above the cavitation pressure
    std::optional<double> film_supply;           ///< layer arriving on the moving surface [m]; none: flooded
};

struct Film {
    double load = 0.0;                  ///< integral of p [N/m]
    double centre_of_pressure = 0.0;    ///< [m]
    double drag = 0.0;                  ///< shear force on the moving surface, along -x, positive number [N/m]
    double flow = 0.0;                  ///< q [m2/s]
    double min_gap = 0.0;               ///< [m]
    std::vector<double> pressure;       ///< above cavitation pressure [Pa], (n,)
    std::vector<double> void_fraction;  ///< [-], (n,)
    Convergence convergence;
};

struct FilmOptions {
    double tolerance = 1e-12;  ///< on the last Newton step of the flow, relative to the flow [-]
    int max_iterations = 100;  ///< Newton steps
};

/// General solver, any number of ruptures and re-formations: for a given flow the complementarity is solved exactly by one
/// sweep upstream, the flow by Newton on the pressure at the inlet (convex and increasing in the flow, so the steps
/// descend to the root from the flow of the never-ruptured film). Exact for piecewise linear gaps; order 2 in the node distance for curved ones. When starved, the pressure
/// ahead of the film is the cavitation pressure. Throws InvalidInput on bad arrays.
[[nodiscard]] Film solve_film(const FilmInput& input, const FilmOptions& options = {});
/// One-pass solver for gaps with one minimum (falling, then rising): exact integrals over piecewise linear gaps,
/// one closed-form root for the rupture. Status out_of_range when the gap has more than one minimum, or when the film
/// ruptures and re-forms ahead of an outlet above the cavitation pressure.
[[nodiscard]] Film solve_film_one_pass(const FilmInput& input);

/// Stokes corner factor C(b) = 2 sin^2 b / (b^2 - sin^2 b): pressure on the roll p = C eta U / r (Taylor 1962).
[[nodiscard]] double corner_factor(double angle) noexcept;
/// dC/db [1/rad].
[[nodiscard]] double corner_factor_slope(double angle) noexcept;
/// Slope of the flank that gives the Stokes corner pressure in the Reynolds equation: sqrt(6 / C(b)).
[[nodiscard]] double effective_slope(double angle) noexcept;

/// Stresses at distance r [m] from the corner of a scraper at `angle` [rad] to a plane moving into the corner (Taylor 1962).
struct TaylorWedge {
    double pressure_on_blade = 0.0;  ///< normal stress on the scraper [Pa]
    double shear_on_blade = 0.0;     ///< [Pa]
    double pressure_on_roll = 0.0;   ///< [Pa]
    double shear_on_roll = 0.0;      ///< [Pa]
};
[[nodiscard]] TaylorWedge taylor_wedge(double angle, double r, double viscosity, double speed);

}  // namespace libblade
