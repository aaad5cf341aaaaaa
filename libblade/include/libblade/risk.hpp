// Scoring risk of many settings at once, and of one whose numbers are not known exactly.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <span>
#include <vector>

#include "libblade/nip.hpp"
#include "libblade/scoring.hpp"

namespace libblade {

/// A nip, what swims in its ink, and how it is run.
struct ScoringJob {
    Case nip_case;
    std::vector<ParticleClass> particles;
    InkLoop loop;
    ScoringOptions options;
};

struct RiskOptions {
    NipOptions nip;
    int threads = 0;                                         ///< 0: one per core
    std::function<bool(std::size_t, std::size_t)> progress;  ///< as in SweepOptions
};

/// Each job's nip solved and its particles judged; a nip that does not solve is a status in its place. Any number of threads
/// gives identical bits. `sources` come back empty. Throws InvalidInput before any solve where particles, loop or options are bad. Jobs that were not
/// reached have the status not_run.
[[nodiscard]] std::vector<ScoringRisk> scoring_of(std::span<const ScoringJob> jobs, const RiskOptions& options = {});

/// What is not known: one standard deviation each, of independent normal values or factors. A gauge that reads wrong did so
/// when the blade was bedded elsewhere: that load and angle move along, the step from there is as stated.
struct RiskSpread {
    double line_load = 0.35;       ///< relative, a lognormal factor; where the interference is set, of that [-]
    double set_angle = 0.026;      ///< 1.5 deg [rad]
    double viscosity = 2.0;        ///< geometric [-]; of every viscosity of the ink's law
    double number = 3.0;           ///< geometric, of each class on its own [-]
    double friction = 1.3;         ///< geometric, of the classes' medians together [-]
    double hardness = 1.15;        ///< geometric, of each class on its own [-]
    double edge_toughness = 3.0;   ///< geometric [-]
    double hardness_ratio = 0.05;  ///< [-]
    bool operator==(const RiskSpread&) const = default;
};

/// One draw.
struct RiskSample {
    std::array<double, kOutcomes> rate;  ///< [1/s]; NaN where the nip did not solve
    double expected_first = 0.0;         ///< mean time to the first score at these numbers [s]
    double first = 0.0;                  ///< a time drawn from its distribution [s]
    Status status = Status::not_run;
};

/// Draws 0 ... count - 1 of a seed, each from a generator of its own, so that threads and count do not change one. Values
/// beyond a field's hard range are drawn again, 100 times at the most, then the stated value is kept.
/// Throws InvalidInput as scoring_of, on spreads that are negative or below 1 where geometric, and on no draws.
[[nodiscard]] std::vector<RiskSample> sample_risk(const ScoringJob& job, const RiskSpread& spread, std::size_t count,
                                                  std::uint64_t seed, const RiskOptions& options = {});

}  // namespace libblade
