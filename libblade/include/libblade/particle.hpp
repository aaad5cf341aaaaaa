// Particles in the ink, and the loop that brings, catches and sheds them.
//
// Size: lognormal by number, median and geometric standard deviation. Grains are rounded; flakes are thin plates.
//
// Filter: grade efficiency 1 - 1 / beta(d), beta = particles of a size before over behind it (ISO 16889: the ratio of
// counts; its shape against size is assumed): beta - 1 = (beta_rated - 1) (d / size)^sharpness.
//
// Magnet: a grain drifts at v = chi d^2 grad(B^2) / (36 mu0 eta), magnetic force chi V grad(B^2) / (2 mu0) against
// Stokes' drag 3 pi eta d v (magnetophoresis; from memory). A sphere of iron or steel is held back by its own field,
// chi = 3 chi0 / (3 + chi0) -> 3, a plate by less; above its saturation it is less still. What a mixed stream Q past an
// area A loses is 1 - exp(- v A / Q) (Deutsch 1922, for precipitators; from memory).
//
// Loop: tank of volume V, from which a flow Q passes filter and magnet (together catching E) into the chamber; the web
// takes the flow C out of the chamber, fresh ink of the same amount enters the tank, the rest runs back. A chamber is
// small: it has the number n_c = (1 - E) n + s_c / Q at once. Of each size and kind
//
//   V dn/dt = s_t + C n_fresh + (Q - C) n_c - (Q + v A) n     n tank, s_t shed into the tank, s_c into the chamber [1/s]
//
// which an exponential solves (own balance; nothing sticks to walls). v A: a tank that is not stirred loses over its floor A
// what sinks at Stokes' velocity v = (rho_p - rho) g d^2 / (18 eta).
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace libblade {

enum class ParticleShape { grain, flake };

/// One kind of particle.
struct ParticleClass {
    std::string name;
    ParticleShape shape = ParticleShape::grain;
    double median_size = 10e-6;    ///< by number: diameter of a grain, longest side of a flake [m]
    double size_spread = 2.0;      ///< geometric standard deviation, 1: all alike [-]
    double thickness = 2e-6;       ///< of a flake [m]
    double breadth = 0.5;          ///< of a flake over its length [-]
    double hardness = 11e9;        ///< indentation hardness [Pa]
    bool ductile = false;          ///< a soft one smears; otherwise it crumbles
    double density = 2650.0;       ///< [kg/m3]
    double ferrous_share = 0.0;    ///< of their number, that a magnet holds [-]
    double friction = 0.15;        ///< the smaller of those against blade and roll, median [-]
    double friction_spread = 1.4;  ///< geometric standard deviation [-]
    double angularity = 0.1;       ///< its face at a contact off the sphere's tangent, standard deviation [rad]
    double fresh_number = 0.0;     ///< in the ink that is poured in [1/m3]
    double tank_rate = 0.0;        ///< shed into the tank [1/s]
    double chamber_rate = 0.0;     ///< shed into the chamber [1/s]
    double worn_blade_share =
        0.0;  ///< of the blade's worn volume that comes off as these, at the reference feather [-]
    bool operator==(const ParticleClass&) const = default;
};

struct Filter {
    double size = 100e-6;    ///< at which beta_rated holds [m]
    double beta = 75.0;      ///< of that size, above 1 [-]
    double sharpness = 4.0;  ///< exponent of beta - 1 against size: a mesh is sharper than a fleece [-]
    double bypass = 0.0;     ///< share of the flow that goes round it [-]
    bool operator==(const Filter&) const = default;
};
struct Magnet {
    double area = 0.02;            ///< of the poles that the ink passes [m2]
    double field_gradient = 20.0;  ///< of the squared induction, grad(B^2) [T2/m]
    double susceptibility = 3.0;   ///< apparent, of the particle [-]
    bool operator==(const Magnet&) const = default;
};
struct InkLoop {
    double flow = 1.5e-4;        ///< pumped through filter and chamber [m3/s]
    double tank_volume = 0.02;   ///< [m3]
    double consumption = 2e-6;   ///< that the web takes, below the flow [m3/s]
    double settling_area = 0.0;  ///< floor of a tank that is not stirred; 0: stirred [m2]
    std::optional<Filter> filter;
    std::optional<Magnet> magnet;
    bool operator==(const InkLoop&) const = default;
};

[[nodiscard]] double mean_volume(const ParticleClass& particle) noexcept;  ///< of a lognormal population [m3]
/// Particles of a size before over behind the filter [-]; no bypass counted.
[[nodiscard]] double filter_beta(const Filter& filter, double size) noexcept;
/// Share of a size that the filter keeps, bypass counted [-].
[[nodiscard]] double filter_efficiency(const Filter& filter, double size) noexcept;
/// Drift of a ferrous grain towards the magnet [m/s]. viscosity [Pa s].
[[nodiscard]] double magnet_velocity(const Magnet& magnet, double size, double viscosity) noexcept;
/// Share of ferrous particles of a size that it holds [-]. flow [m3/s].
[[nodiscard]] double magnet_efficiency(const Magnet& magnet, double size, double viscosity, double flow) noexcept;
/// Filter and magnet in line [-]. A flake passes the filter and the magnet as a grain of its breadth.
[[nodiscard]] double loop_efficiency(const InkLoop& loop, const ParticleClass& particle, double size, bool ferrous,
                                     double viscosity) noexcept;

/// Flow out of which a size settles in the tank, v A, at least 0 [m3/s]. A flake sinks as a grain of its breadth would.
[[nodiscard]] double settling_flow(const InkLoop& loop, const ParticleClass& particle, double size, double ink_density,
                                   double viscosity) noexcept;

/// Number of one size and kind per volume in the chamber [1/m3] against time: final + rise exp(- rate t), or a line where
/// nothing takes them out: final + slope t. The tank begins with fresh ink.
struct ChamberNumber {
    double final = 0.0, rise = 0.0, rate = 0.0, slope = 0.0;
    [[nodiscard]] double at(double time) const noexcept;        ///< [1/m3]
    [[nodiscard]] double integral(double time) const noexcept;  ///< from 0 [s/m3]
};
/// caught: loop_efficiency; settled: settling_flow; of this size, fresh [1/m3], tank and chamber [1/s].
[[nodiscard]] ChamberNumber chamber_number(const InkLoop& loop, double caught, double settled, double fresh,
                                           double tank, double chamber) noexcept;

/// Throws InvalidInput with all that is wrong, paths like "particles.0.hardness" and "loop.filter.beta".
void check_particles(std::span<const ParticleClass> particles, const InkLoop& loop);

}  // namespace libblade
