// Every state of a bedded nip over one field: both branches, the unstable stretch between them, their folds.
//
// The blade is bedded at the case's setting; then the field moves. Facet and holder stay, except where the field is what
// sets the holder: the load or interference, the set angle, the blade. Under a fixed holder such a field puts the holder
// where a blade with this facet, bedded parallel there, would carry the load. States are the zeros of two equations in
// tilt and gap (turn of the tip; interference or load), followed by pseudo-arc-length continuation with derivatives from
// the kernels' dual numbers. Quasi-static: a branch ends where its tilt would run away.
#pragma once

#include <string>
#include <vector>

#include "libblade/nip.hpp"

namespace libblade {

struct BranchState {
    double value = 0.0;                 ///< of the field, SI
    double facet_tilt = 0.0;            ///< [rad]
    double film_on_lands = 0.0;         ///< [m]
    double excess_ink = 0.0;            ///< [m]
    double line_load = 0.0;             ///< [N/m]
    double friction_coefficient = 0.0;  ///< T / N [-]
    double asperity_load_share = 0.0;   ///< [-]
    double effective_angle = 0.0;       ///< [rad]
    bool stable = false;
};

/// States in order along the curve.
struct BranchCurve {
    std::vector<BranchState> states;
    std::vector<std::size_t> folds;   ///< indices where the field turns back: the blade jumps there
    std::vector<std::size_t> onsets;  ///< indices where excess_ink passes the limit
    Convergence convergence;          ///< not converged: the curve ends early, at an end of `states`
};

struct BranchDiagram {
    std::string field;
    std::vector<BranchCurve>
        curves;               ///< through the operating point; through the riding state where that is on another
    Convergence convergence;  ///< of the operating point it starts from
};

struct BranchOptions {
    double excess_limit = -1.0;  ///< of the onsets [m]; negative: none are looked for
    int mesh = 1;
    int max_points = 1000;  ///< of a curve, each way
    FlowTables* tables = nullptr;
};

/// Throws InvalidInput on a field that is no number, an empty range or one that does not hold the case's own value.
[[nodiscard]] BranchDiagram trace_branches(const Case& nip_case, const std::string& field, double from, double to,
                                           const BranchOptions& options = {});

/// How far a field may move either way from the case's value before excess_ink passes a limit, or the blade jumps.
struct RidingOnset {
    double lower, upper;            ///< NaN: not reached within the range
    bool lower_jumps, upper_jumps;  ///< the branch folds there before the limit is passed
    double searched_from, searched_to;
    Convergence convergence;
};
[[nodiscard]] RidingOnset riding_onset(const Case& nip_case, const std::string& field, double excess_limit, double from,
                                       double to, const BranchOptions& options = {});

/// Largest and smallest surface speed [m/s] up to which excess_ink stays below a limit [m] when the blade, bedded at the
/// case's setting, is run faster or slower without re-bedding.
struct SpeedLimit {
    double upper;  ///< NaN: not reached up to the range's end
    double lower;
    double searched_from, searched_to;
    Convergence convergence;
};
[[nodiscard]] SpeedLimit speed_limit(const Case& nip_case, double excess_limit, double factor = 3.0);

}  // namespace libblade
