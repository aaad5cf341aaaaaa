// Wear of the blade along the sliding distance: the blade's memory.
//
// Archard, point by point on the facet, asperity pressure only: the surface recedes from the roll by k_b p_a(x) per
// sliding distance (Archard 1953, J. Appl. Phys. 24:981; s counts roll surface passing the blade). Two tiers of that law:
//
// profile   the worn surface itself: heights over a straight line at evenly spaced places that move with the facet's
//           ends, and the ends where they meet the two faces (WearTier::profile).
// facet     the surface stays straight; kept are its area worn away A and its angle B, the mean and the tilt of the law:
//             dA/ds = k_b N_a              square end: A = b^2 sin B cos B / 2 up to b = t / sin B, then A / t is lost
//             dB/ds = -+ 12 k_b M_a / b^3  doctoring -, trailing +; M_a = integral of p_a x dx, x downstream of the
//                                          facet's centre, held within N_a b / 6
//           Sign: with the facet tilt d the gap is h = h_c - d x. Wear opens the gap, dh/ds = k_b p_a, and its
//           least-squares line over the facet has the slope 12 k_b M_a / b^3, hence dd/ds = -12 k_b M_a / b^3: a facet
//           that opens upstream (d > 0) carries downstream (M_a > 0) and closes. B = a + d (doctoring), B = a - d
//           (trailing). A turn about the facet's centre wears nothing away (first order), which is why A and B are
//           independent states. Beyond |M_a| = N_a b / 6 that line would give metal back at the unloaded end; of the
//           lines that nowhere do, the best has the slope 2 k_b N_a / b^2. A facet that stands on one end then beds
//           within b^2 d / (2 k_b N_a), the volume of the wedge that has to go (own).
//
// The holder (setting.holding). floating: the load stays. fixed: the holder stays, and the advance left is that of its
// setting less what the facet's centre has receded along the roll's normal, c sin a0 + y cos a0 at the set angle a0, with
// the centre at c along and y across the square end (full facet: dL sin a0). In both, the free length falls by c.
//
// The blade remembers where it stands: from point to point it turns the way its elastic tip drives it (quasi-static), so
// it stays on its branch while there is one and jumps where that folds (event branch_jump). A thick film
// under a parallel facet has two states within a thousandth of a degree, torn or not, and wears to and fro between them
// hundreds of times in a life; once half of the steps are rejected, they are good to 1e-4 only and pass over that. Under a ripple the nip is
// followed round a turn of the roll and the wear is the mean over it.
//
// Left out: change of roughness; dynamics.
#pragma once

#include <functional>
#include <optional>
#include <string_view>
#include <vector>

#include "libblade/case.hpp"
#include "libblade/nip.hpp"
#include "libblade/status.hpp"
#include "libblade/wear_edge.hpp"
#include "libblade/wear_schedule.hpp"

namespace libblade {

enum class WearEventKind {
    fully_worn,   ///< the facet has eaten the cut face; the history goes on
    branch_jump,  ///< the nip has no state left near where it stood; the history goes on
    facet_limit,  ///< these end it
    length_limit,
    excess_limit,
    thin_tip_used_up,  ///< the step of a thin tip has come down to the roll
};
[[nodiscard]] std::string_view to_string(WearEventKind kind) noexcept;
[[nodiscard]] bool ends_history(WearEventKind kind) noexcept;
struct WearHistoryEvent {
    WearEventKind kind;
    double distance;  ///< [m]
    double time;      ///< [s]
    int step;         ///< of the schedule
};

enum class WearTier { facet, profile };

/// Where a history stands, with all that it needs to go on to the same bits.
struct WearState {
    std::size_t step = 0;                          ///< of the schedule
    double step_start = 0.0;                       ///< distance at which it began [m]
    double in_step = 0.0;                          ///< distance run in it [m]
    double distance = 0.0;                         ///< in all [m]
    double time = 0.0;                             ///< in all [s]
    double next_step = 1.0;                        ///< the integrator's [m]
    std::vector<double> tip;                       ///< the tier's own numbers
    double frame_angle = 0.0, first_length = 0.0;  ///< facet of this blade at its start [rad], [m]
    bool fully_worn = false;
    double angle = 0.0, u = 0.0;            ///< where the blade stands: effective angle [rad], ln((gap + 3 sigma) / m)
    double load = 0.0, interference = 0.0;  ///< what the holder keeps, at the start of the step [N/m], [m]
    double load_end = 0.0, interference_end = 0.0;  ///< and at its end
    double recess = 0.0;                            ///< of the facet's centre when the holder was set [m]
    double trouble = 0.0;                           ///< steps rejected of late
    bool to_and_fro = false;                        ///< the tolerance is 1e-4: see above
    bool begun = false;                             ///< the changes of this step are made
};

/// One entry per accepted step of the integrator, in order of distance; the first of a schedule's step repeats the distance.
struct WearHistory {
    std::vector<double> distance;         ///< slid [m]
    std::vector<double> time;             ///< [s]
    std::vector<int> step;                ///< of the schedule
    std::vector<double> facet_length;     ///< [m]
    std::vector<double> bedded_angle;     ///< B; of a profile, of its least-squares line [rad]
    std::vector<double> effective_angle;  ///< [rad]
    std::vector<double> length_lost;      ///< of this blade along the roll-facing side, from the square end [m]
    std::vector<double> removed_area;     ///< of this blade, from the square end; by its geometry [m2]
    std::vector<double> worn_area;        ///< the same, as the integral of k_b N_a [m2]
    std::vector<double> film_on_lands;    ///< mean over a turn [m]
    std::vector<double> film_over_turn;   ///< largest over a turn [m]
    std::vector<double> excess_ink;       ///< mean over a turn [m]
    std::vector<double> asperity_load;    ///< N_a, mean over a turn [N/m]
    std::vector<double> line_load;        ///< N [N/m]
    std::vector<double> tangential_load;  ///< T [N/m]
    std::vector<double> interference;     ///< [m]
    std::vector<Regime> regime;
    std::vector<WearHistoryEvent> events;
    int steps_rejected = 0;
    int nip_solves = 0;
    std::vector<double> profile_place;   ///< profile tier, at the end: along the facet from upstream [m]
    std::vector<double> profile_height;  ///< over its chord [m]
    WearState state;                     ///< where it ended
    /// Not converged: the history ends where it could not go on. residual: largest error of a step over the tolerance.
    Convergence convergence;
};

/// A limit that is already passed at the start ends the history there.
struct WearOptions {
    WearTier tier = WearTier::facet;
    std::optional<double> facet_limit;   ///< facet length [m]
    std::optional<double> length_limit;  ///< length lost along the roll-facing side [m]
    std::optional<double> excess_limit;  ///< excess ink, mean over a turn [m]
    double first_facet = 5e-6;           ///< where the history of a square edge begins [m]
    double tolerance =
        1e-6;  ///< of a step: in area over that of a full facet, in angle over 0.1 rad, in height over 1 um
    double longest_step = 0.0;  ///< [m]; 0: free
    int max_steps = 20000;      ///< tried, rejected ones included
    Start start = Start::resting;
    int mesh = 1;
    bool constant_friction = false;  ///< NipOptions::constant_friction
    FlowTables* tables = nullptr;    ///< kept by the caller; none: made anew
    /// Called after every accepted step with what there is so far; false ends the history there, to be resumed from its state.
    std::function<bool(const WearHistory&)> watch;
};

/// Wears a case's blade through a schedule, from its facet as bedded or from a square edge, or on from a state that the same
/// case, schedule and options have led to. The state at the end of one schedule, its `step` put back to 0, begins another on
/// the case that the first has come to, to the bits of both as one. Throws InvalidInput on values outside their hard ranges, on
/// a facet longer than the blade's end gives and on a blade that tapers at its tip.
[[nodiscard]] WearHistory wear(const Case& nip_case, const Schedule& schedule, const WearOptions& options = {},
                               const WearState* from = nullptr);
/// Over one distance [m].
[[nodiscard]] WearHistory wear(const Case& nip_case, double distance, const WearOptions& options = {});

}  // namespace libblade
