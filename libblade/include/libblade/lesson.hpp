// A lesson at the nip: a blade that is run in, moved and pressed, with all that a picture of it takes.
//
// The state before is that of the blade where it was run in. Moving it or pressing it leaves the facet as it is (bedding
// elsewhere; after a step of the load: bedded at the angle that it had, as long as it was). A moved blade starts from rest where
// it stands now; a step is followed from the running blade (solve_after_step).
//
// Pictures. The blade to scale: x along the roll's motion, z off the roll, origin where it first touches. The nip unrolled:
// the section of the operating point, over a roll that lies flat at z = 0.
//
// The print is a solid that covers the whole web: its density passes through that of the approved print at the ink which the
// roll carried then (print.hpp). Kinds and sizes of the particles are invented; what they do is not (scoring.hpp).
#pragma once

#include <array>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "libblade/case.hpp"
#include "libblade/nip.hpp"
#include "libblade/particle.hpp"
#include "libblade/scoring.hpp"
#include "libblade/wear.hpp"

namespace libblade {

struct LessonRequest {
    Case nip_case;                       ///< tip.bedding says where the facet was run in
    double step = 0.0;                   ///< relative step of load (floating) or interference (fixed), facet kept [-]
    std::optional<double> approved_ink;  ///< ink_carried of the approved print [m]; none: of the state before
    Start start = Start::resting;
    bool drawing = true;  ///< without: blade, tip, section and particles stay empty
    FlowTables* tables = nullptr;
};

using Places = std::vector<std::array<double, 2>>;  ///< (x, z) [m]

/// To scale.
struct BladePicture {
    Places mid;                  ///< deflected mid-plane, clamp to tip
    Places roll_side, away_side; /**< faces, clamp to tip; the facet is the end of the roll side */
    Places free_mid;             ///< unloaded, the clamp where it stands
    std::array<double, 2> contact{};
};

/// How the worn end stands over the roll.
struct FacetPicture {
    double length, bedded_angle, effective_angle, tilt;  ///< [m], [rad]
    double face_angle_ink, face_angle_far;               ///< of the faces beyond it, to the roll [rad]
    double gap_ink_end, gap_far_end;                     ///< [m]; NaN without drawing
    bool whole_end;                                      ///< wear has eaten the whole end
};

/// One particle of an invented size.
struct ParticlePicture {
    ParticleClass particle;  ///< median_size is its size
    double enters = 0.0;     ///< share that is drawn in [-]
    ParticleFate fate;       ///< once in
};

struct WebPrint {
    double approved_ink, ink;                    ///< on the roll [m]
    double approved_density, density;            ///< of a solid [-]
    double contrast;                             ///< of luminance against the approved print [-]
    double visibility;                           ///< seen from 1 on [-]
    std::array<std::array<double, 3>, 3> tints;  ///< area of the dots, density approved and now [-]
};

struct LessonState {
    Case as_solved;        ///< with the step in its load
    OperatingPoint point;  ///< not converged: the rest is empty
    std::optional<OperatingPoint>
        before;  ///< where the blade was run in; none: it stands there, or nothing is known of it
    BladePicture blade;
    FacetPicture facet{};
    Section section;                                               ///< at most 200 places
    double entry_size = std::numeric_limits<double>::quiet_NaN();  ///< of a sphere of friction 0.15 [m]; infinite: any
    std::vector<ParticlePicture> particles;
    WebPrint print{};
    double rebedding_distance = 0.0;  ///< until the tilted facet is worn parallel [m]; NaN: nothing wears
};

/// Throws InvalidInput.
[[nodiscard]] LessonState lesson_state(const LessonRequest& request);

/// The blade of a lesson, started from rest, goes on wearing until its facet is parallel again, or over `distance` [m].
struct LessonLife {
    WearHistory history;
    std::optional<std::size_t> bedded_again;  ///< entry at which the facet's tilt is down to a fiftieth of the first
};
/// Throws InvalidInput.
[[nodiscard]] LessonLife lesson_life(const LessonRequest& request, double distance);

/// The door: requests and answers as JSON text. Keeps the tables of its inks and engravings.
class Lesson {
  public:
    /// Never throws on what the text holds: bad input is an answer with its problems.
    [[nodiscard]] std::string answer(std::string_view request);

  private:
    FlowTables tables_;
};

}  // namespace libblade
