// Wear of the blade, facet tier: a worn facet stays straight; wear changes its length, its angle and that of the blade.
//
// Archard, point by point on the facet, asperity pressure only: the surface recedes from the roll by k_b p_a(x) per
// sliding distance (Archard 1953, J. Appl. Phys. 24:981; s counts roll surface passing the blade). Kept of that: its
// mean and its tilt.
//
//   dA/ds = k_b N_a               area worn away per width; with a square end the state in place of b^2:
//                                 A = b^2 sin B cos B / 2 up to b = t / sin B, then b stays and A / t is length lost
//   dB/ds = -+ 12 k_b M_a / b^3   doctoring -, trailing +; M_a = integral of p_a x dx, x downstream of the facet's
//                                 centre, held within N_a b / 6
//
// Sign: with the facet tilt d the gap is h = h_c - d x. Wear opens the gap, dh/ds = k_b p_a, and its least-squares line
// over the facet has the slope 12 k_b M_a / b^3, hence dd/ds = -12 k_b M_a / b^3: a facet that opens upstream (d > 0)
// carries downstream (M_a > 0) and closes. B = a + d (doctoring), B = a - d (trailing). A turn about the facet's centre
// wears nothing away (first order), which is why A and B are independent states. Beyond |M_a| = N_a b / 6 that line
// would give metal back at the unloaded end; of the lines that nowhere do, the best has the slope 2 k_b N_a / b^2. A
// facet that stands on one end then beds within b^2 d / (2 k_b N_a), the volume of the wedge that has to go (own).
//
// The holder (setting.holding). floating: the load stays. fixed: the holder stays, and the advance left is that of the
// start less what the facet's centre has receded along the roll's normal, c sin a0 + y cos a0 at the set angle a0, with
// the centre at c along and y across the square end (full facet: dL sin a0). In both, the free length falls by c.
//
// Each operating point is found anew, from rest. Where that answer jumps between wiping and riding (a fold of the nip)
// the rates jump with it: a bedding that comes to lie on the jump slides along it in many short steps, and the wear
// cycle that a blade with a memory would run there is not resolved.
//
// Left out: curvature of the facet, change of roughness, the roll's own wear, the wear within a turn of the roll. From
// a square edge to `first_facet` asperities are taken to carry the whole load.
#pragma once

#include <optional>
#include <string_view>
#include <vector>

#include "libblade/case.hpp"
#include "libblade/nip.hpp"
#include "libblade/status.hpp"

namespace libblade {

/// A square edge whose asperities carry a constant load, at a constant angle: closed form.
struct EdgeWear {
    double facet_length;      ///< sqrt(2 k_b N s / (sin a cos a)), at most t / sin a [m]
    double retreat;           ///< normal to the roll [m]
    double length_lost;       ///< along the roll-facing side, retreat / sin a [m]
    double distance_to_full;  ///< at which the facet is t / sin a: t^2 cot a / (2 k_b N) [m]
};
/// specific wear [m2/N], load [N/m], sliding distance [m], angle [rad], thickness [m].
[[nodiscard]] EdgeWear square_edge_wear(double specific_wear, double load, double distance, double angle,
                                        double thickness) noexcept;
/// Facet of an endless wedge with faces at these angles to the roll [rad]: sqrt(2 k_b N s (cot 1 + cot 2)) [m].
[[nodiscard]] double wedge_facet_length(double specific_wear, double load, double distance, double face_angle,
                                        double other_face_angle) noexcept;
/// Distance over which a facet of length b tilted by d is worn parallel while all its load stands on the end that goes:
/// b^2 d / (2 k_b N) [m].
[[nodiscard]] double rebedding_distance(double facet_length, double tilt, double specific_wear, double load) noexcept;

enum class WearEventKind {
    fully_worn,   ///< the facet has eaten the cut face; the history goes on
    facet_limit,  ///< these end it
    length_limit,
    excess_limit
};
[[nodiscard]] std::string_view to_string(WearEventKind kind) noexcept;
struct WearHistoryEvent {
    WearEventKind kind;
    double distance;  ///< [m]
};

/// A limit that is already passed at the start ends the history there.
struct WearOptions {
    std::optional<double> facet_limit;   ///< facet length [m]
    std::optional<double> length_limit;  ///< length lost along the roll-facing side [m]
    std::optional<double> excess_limit;  ///< excess ink [m]
    double first_facet = 5e-6;           ///< where the history of a square edge begins [m]
    double tolerance = 1e-6;             ///< of a step: in area over that of a full facet, in angle over 0.1 rad
    double longest_step = 0.0;           ///< [m]; 0: free
    int max_steps = 2000;                ///< tried, rejected ones included
    Start start = Start::resting;
    int mesh = 1;
    FlowTables* tables = nullptr;  ///< kept by the caller; none: made anew
};

/// One entry per accepted step, in order of distance.
struct WearHistory {
    std::vector<double> distance;         ///< slid [m]
    std::vector<double> facet_length;     ///< [m]
    std::vector<double> bedded_angle;     ///< B [rad]
    std::vector<double> effective_angle;  ///< [rad]
    std::vector<double> length_lost;      ///< along the roll-facing side, from the square end [m]
    std::vector<double> removed_area;     ///< A, from the square end [m2]
    std::vector<double> film_on_lands;    ///< [m]
    std::vector<double> excess_ink;       ///< [m]
    std::vector<double> asperity_load;    ///< N_a [N/m]
    std::vector<double> line_load;        ///< N [N/m]
    std::vector<double> interference;     ///< [m]
    std::vector<WearHistoryEvent> events;
    int steps_rejected = 0;
    int nip_solves = 0;
    /// Not converged: the history ends where it could not go on. residual: largest error of a step over the tolerance.
    Convergence convergence;
};

/// Wears a case's blade over a sliding distance [m], from its facet as bedded or from a square edge. Throws
/// InvalidInput on values outside their hard ranges, on a facet longer than the blade's end gives and
/// on a blade that tapers at its tip.
[[nodiscard]] WearHistory wear(const Case& nip_case, double distance, const WearOptions& options = {});

}  // namespace libblade
