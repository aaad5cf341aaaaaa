// Particles at the nip: which get in, what becomes of them, and what they do to blade and roll.
//
// Everything is read off the operating point: gap at both ends of the facet, its tilt, the rounding of its edge, the angle
// of the face that meets the ink, film, load.
//
// ENTRY. A rounded particle of diameter d touches roll and tip where their tangents enclose psi. Moments about its
// centre make both frictions equal, and it is drawn in where tan(psi / 2) <= mu (rolls and a lump: Coulson &
// Richardson, vol. 2). On the rounding (radius r, lowest point g over the roll)
//
//   cos psi = (r + g - d / 2) / (r + d / 2),    hence all up to    d = g + mu^2 (2 r + g)    are drawn in (own)
//
// never more than the face behind it, angle b: tan(b / 2) <= mu lets any size in. A facet that opens towards the ink by
// its tilt has g = h + tilt x length: it admits what fits its mouth. Grains are not spheres: psi varies by `angularity`.
// A flake turns with the shear (Jeffery 1922): lying down for most of its time, it needs the height s = l sin f + t cos f
// only, f at the time share tan f = (t / l) tan(pi tau / 2), tau evenly in 0 to 1.
//
// DRAG of the ink (own; flow q = U h* / 2 in a gap of height d): q carries a particle that is held, 3 pi eta d K q / d,
// and the pressure that rises towards the nip pushes it back, p' pi d^3 / 6:
//
//   D = pi eta U (1.5 K h* - (d - h*)),  K about 2 for the narrowness (1 to 5, assumed)
//
// With D > 0 a particle that friction does not draw in is HELD at the mouth, contact force D / (2 (sin - mu cos)(psi /
// 2)), and pressed through where that is the force F it takes: drag lowers the friction needed by D / (2 F cos(psi / 2)).
// That lets in what is weak or hardly larger than the film; with D <= 0 it goes back with the eddy: REJECTED.
//
// Number that comes: those in the ink that flows towards the nip where the wedge is as high as they are. Reynolds' flow
// u = U (1 - s)(1 - 3 k s), k = 1 - h* / d, runs forward for s < 1 / (3k): per width U d (4 / 27 at k = 1, (1 - k) / 2
// below 1/3). A factor of 2 uncertain, as the particle is as large as the flow.
//
// FATE of what is in. As large as d < gap it passes in the film; over an opening it may pass in the cell. Otherwise d - gap
// has to go somewhere: depths in blade and roll, flattening, lift u of the blade, all under one contact force F:
//
//   depth:  pi (2 R y - y^2) = F / H (fully plastic: Tabor 1951); equal forces: depths go as 1 / hardness
//   lift:   F = N (72 D u / N)^(1/3), which is stand_off's law (width.hpp): Levy's plate with one-sided contact has 0.91 of
//           that force while the length is short against the free length, 0.96 where it is as long (tests)
//
// A surface is dented by particles `hardness_ratio` (1.2, Pintaude 2010) times harder; a softer particle is flattened.
// When F reaches pi R^2 H of the softer side, that side swallows the particle: small ones are pressed in flush. Large ones
// PROP the blade up: those for which N (72 D (d - gap) / N)^(1/3), which lifts it all the way, is less than that. Pressed deeper than R 2 mu^2 / (1 + mu^2) into the
// blade, one stays there when the roll drags at it (own: moments about the dent's rim, mu its friction when scratching)
// and is a fixed tool: it SCORES the roll, groove from pi (2 R y - y^2) / 2 = F / H_c, since a sliding tool bears on its
// front half (Rabinowicz 1965). One that does not stay leaves a notch in the blade and a dent in the roll. A wall of the
// engraving CHIPS where F exceeds edge toughness x its width (Quinn 2014 for the edge toughness).
#pragma once

#include <array>
#include <cstdint>
#include <string_view>
#include <vector>

#include "libblade/case.hpp"
#include "libblade/nip.hpp"
#include "libblade/particle.hpp"
#include "libblade/status.hpp"

namespace libblade {

struct ScoringOptions {
    double face_width = 1.0;        ///< of roll and blade [m]
    double run_time = 8 * 3600.0;   ///< from fresh ink [s]
    double hardness_ratio = 1.2;    ///< from which a particle dents a surface (0.7 to 1.2: polishes) [-]
    double edge_toughness = 50e3;   ///< of the engraving's walls, uncertain by a factor of 3 [N/m]
    double scratch_friction = 0.4;  ///< of an embedded particle on the roll [-]
    double narrowness = 2.0;        ///< K of the drag [-]
    int sizes = 128;                ///< of a class, over +/-4 standard deviations
    bool operator==(const ScoringOptions&) const = default;
};

/// The mouth of a nip and what closes it, read off an operating point.
struct Mouth {
    double gap;                              ///< smallest [m]
    double leading_gap;                      ///< at the ink-side end of the facet [m]
    double edge_radius;                      ///< [m]
    double facet_tilt;                       ///< [rad]
    double wedge_angle;                      ///< of the face beyond, to the roll [rad]
    double film;                             ///< h* = 2 q / U [m]
    double viscosity;                        ///< in the film [Pa s]
    double speed;                            ///< [m/s]
    double line_load;                        ///< [N/m]
    double stiffness;                        ///< of the blade as a plate, D [N m]
    double blade_hardness, roll_hardness;    ///< [Pa]
    double wall_width, opening, cell_depth;  ///< of the engraving; opening: side of a square as large [m]
    double open_fraction;                    ///< [-]
    bool channels;                           ///< an opening is a groove
};
/// The point must be converged (else NaN come back).
[[nodiscard]] Mouth mouth_of(const Case& nip_case, const OperatingPoint& point) noexcept;

/// Angle between roll and tip where a sphere touches both [rad]; 0: it touches neither or the facet's end at no tilt.
[[nodiscard]] double nip_angle(const Mouth& mouth, double size) noexcept;
/// Largest sphere that this friction draws in [m]; infinite where the face itself does.
[[nodiscard]] double entry_size(const Mouth& mouth, double friction) noexcept;
/// Force of the ink on a sphere that touches both, towards the nip [N].
[[nodiscard]] double fluid_drag(const Mouth& mouth, double size, double narrowness) noexcept;
/// Flow towards the nip, per width, where the wedge is as high as the particle [m2/s].
[[nodiscard]] double offered_flow(const Mouth& mouth, double size) noexcept;
/// Share of a size that is drawn in, over friction and shape; `force`: what it takes to pass.
[[nodiscard]] double entry_share(const Mouth& mouth, const ParticleClass& particle, double size, double force,
                                 double narrowness);

/// What becomes of one particle that has got in and met a land.
struct ParticleFate {
    double force = 0.0;                             ///< on it [N]
    double blade_depth = 0.0;                       ///< [m]
    double roll_depth = 0.0;                        ///< of the dent [m]
    double flattening = 0.0;                        ///< of the particle, both sides [m]
    double lift = 0.0;                              ///< of the blade [m]
    double nick_width = 0.0;                        ///< [m]
    double groove_depth = 0.0, groove_width = 0.0;  ///< where it scores [m]
    double streak_width = 0.0;                      ///< over which the blade stands off [m]
    bool passes = false;                            ///< no larger than the gap
    bool crushed = false, props = false, nicks = false, stays = false, dents_roll = false, scores = false,
         chips = false;
};
[[nodiscard]] ParticleFate particle_fate(const Mouth& mouth, const ParticleClass& particle, double size,
                                         const ScoringOptions& options = {});

/// What is counted. Of what comes: passed, in_cell, rejected, held, crushed or smeared, or left whole; the damage on top.
enum class Outcome {
    offered,
    passed,
    in_cell,
    rejected,
    held,
    crumbled,
    smeared,
    props,
    nicks,
    stays,
    dents,
    scores,
    chips
};
inline constexpr std::size_t kOutcomes = 13;
[[nodiscard]] std::string_view to_string(Outcome outcome) noexcept;

struct ClassRisk {
    std::string name;
    std::array<double, kOutcomes> rate{};  ///< mean over the run, over the face [1/s]
    std::array<double, kOutcomes> last{};  ///< at its end [1/s]
    double chamber_number = 0.0;           ///< mean over the run [1/m3]
    double entry_size = 0.0;               ///< of a sphere of its median friction [m]
    double scoring_size = 0.0;             ///< median of those that score; NaN: none [m]
    double groove_depth = 0.0;             ///< mean of those that score; NaN: none [m]
    double groove_width = 0.0;             ///< likewise [m]
    double nick_width = 0.0;               ///< mean of those that nick; NaN: none [m]
    double streak_width = 0.0;             ///< mean of those that prop; NaN: none [m]
    double smeared_volume = 0.0;           ///< left on the roll by what smears, mean over the run [m3/s]
};
/// Particles of one size and kind that score: how much of the chamber's ink they are swept out of, and their number there.
struct ScoreSource {
    double flow;  ///< [m3/s]
    ChamberNumber number;
};
struct FirstScore {
    double mean, p10, p50, p90;  ///< running time until the first score: chance alone, infinite where there is none [s]
};
struct ScoringRisk {
    std::vector<ClassRisk> classes;
    std::array<double, kOutcomes> rate{};  ///< of all [1/s]
    FirstScore first_score{};
    std::vector<ScoreSource> sources;
    Mouth mouth{};
    double film_on_lands = 0.0;  ///< of the nip, with what follows: what it costs to score less [m]
    double excess_ink = 0.0;     ///< [m]
    double wear_rate = 0.0;      ///< blade length worn per length of web [-]
    Regime regime = Regime::none;
    Convergence convergence;  ///< of the nip; failed: everything is NaN
};

/// A class with worn_blade_share sheds into the chamber what wear and the strain of the feather give at this point
/// (feather.hpp; the reference is a feather of 30 deg under 0.5 MPa).
/// Throws InvalidInput on bad particles, loop or options.
[[nodiscard]] ScoringRisk scoring(const Case& nip_case, const OperatingPoint& point,
                                  std::span<const ParticleClass> particles, const InkLoop& loop,
                                  const ScoringOptions& options = {});

/// Scores to be expected until a running time [s].
[[nodiscard]] double expected_scores(std::span<const ScoreSource> sources, double time) noexcept;
/// Running time by which the first score has come with this probability, 0 to below 1 [s]; infinite where it never gets
/// as likely. Scores come independently of each other: exp(- expected) is the chance of none.
[[nodiscard]] double time_of_first_score(std::span<const ScoreSource> sources, double probability);

}  // namespace libblade
