// Inside of the nip: balance at a tilt, bedding, branches. Not installed.
#pragma once

#include <array>
#include <cmath>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "libblade/bending.hpp"
#include "libblade/case.hpp"
#include "libblade/dual.hpp"
#include "libblade/nip.hpp"
#include "libblade/nip_kernel.hpp"
#include "libblade/nip_tables.hpp"
#include "libblade/root.hpp"

namespace libblade::detail {

inline constexpr double kSmallestAngle = 5e-3;  // below about 0.3 deg the strip lies on the roll for all purposes
inline constexpr double kSteepestAngle = 1.55;  // beyond it the blade stands on the roll
/// A facet that leans further is a wedge of its own, no tilted facet: the film's straight gap is off by 5 % of the Stokes wedge.
inline constexpr double kLargestTilt = 0.5;
/// ln of the load ratio where no gap is left, or a soft tip's film is not found: pressed far too hard; and where a contact pulls.
inline constexpr double kCrushed = 50.0, kPulls = -50.0;
/// [m] No liquid is as thin, and gaps are differences of numbers 100,000 times larger.
inline constexpr double kNoFilm = 1e-11;
inline constexpr double kFlowTolerance = 1e-11, kLoadTolerance = 1e-11;
inline constexpr double kPlaceTolerance = 1e-14;  // of u, which is some -10 to -20: a film may be steep in it

/// The same case with an actuator's reading turned into load or interference, and with a facet whose numbers say that it has
/// eaten the whole end called so: at another angle they no longer would.
[[nodiscard]] Case spelled_out(Case c);
void spell_out(Case& c);

/// What the holder keeps while the tilt is sought.
struct Target {
    bool fixed = true;
    double load = 0.0;          ///< floating: kept [N/m]
    double interference = 0.0;  ///< fixed: kept [m]
};

/// The nip in balance at one tilt.
struct State {
    double tilt = 0.0;        ///< d [rad]
    double angle = 0.0;       ///< effective angle [rad]
    double low_gap = 0.0;     ///< mean planes, at the lower facet end [m]
    double u = 0.0;           ///< ln(low_gap + 3 sigma), the unknown of the balance
    double load_by_u = -4.0;  ///< slope of ln of N over the load asked for, as it was last seen
    double drive = 0.0;       ///< elastic tilt minus tilt [rad]: where the tilt moves
    double interference = 0.0;
    double angle_residual = 0.0;  ///< set angle against the clamp's [rad]
    ContactForce force;           ///< on the blade
    kernel::ContactForces<double> contact;
    Status status = Status::not_run;
    [[nodiscard]] bool ok() const noexcept { return status == Status::converged; }
    [[nodiscard]] double film_on_lands(double speed) const noexcept { return contact.film.flow / speed; }
};

[[nodiscard]] inline State failed(State state, Status status) {
    state.status = status;
    return state;
}

/// A contact that the search for a bedded blade came through.
struct Passed {
    double angle = 0.0, u = 0.0;  ///< as in State
    ContactForce force;
};
/// How a parallel contact answers to u: slopes of ln N, T / N and the centre of load; the share by which they may be off.
struct Answer {
    double load = 0.0, ratio = 0.0, centre = 0.0, doubt = 1.0;
};

/// A bedded setting: the facet it wears and the holder position it was set to.
struct Bedded {
    double angle = 0.0;         ///< effective angle at d = 0 [rad]
    double facet_length = 0.0;  ///< [m]
    double load = 0.0;          ///< [N/m]
    State state;
    std::optional<Answer> answer;  ///< roughly, as the search has seen it
    StripJacobian jacobian;
    Status status = Status::not_run;
    [[nodiscard]] bool ok() const noexcept { return status == Status::converged; }
};

/// What the blade asks for at a trial state, with derivatives by a place (an angle or the tilt) and by u = ln(low_gap + 3 sigma).
struct NipResidual {
    double angle = 0.0;                     ///< set angle against the clamp's [rad]
    double interference = 0.0, load = 0.0;  ///< [m], ln of N [N/m]
    std::array<double, 2> angle_by{}, interference_by{}, load_by{};
    bool ok = false;
};

/// One case's contact with its workspace. Not thread-safe; one per thread.
class NipSolver {
  public:
    /// Tables are looked up in `tables`, or made for this solver alone. A compliance of the tip's surface [m/Pa] overrides that
    /// of its material; 0: rigid.
    NipSolver(const Case& nip_case, int mesh, FlowTables* tables = nullptr, std::optional<double> compliance = {});
    NipSolver(NipSolver&&) = default;  // the arrays point into the moved memory
    NipSolver& operator=(NipSolver&&) = default;
    NipSolver(const NipSolver&) = delete;
    /// As made anew for a case whose flow tables and bearing curve are those of this one. Takes nothing from the heap after
    /// set_aside() as long as the case has as many sections.
    void restart(const Case& nip_case);
    /// Takes at once all the memory that any case of this mesh may need.
    void set_aside();
    [[nodiscard]] std::size_t most_nodes() const noexcept;

    /// Beds the blade parallel at the case's own setting. A facet length overrides the case's.
    /// `near`: begins there, if that is known, and leaves there where it ends.
    [[nodiscard]] Bedded bed(const double* facet_length = nullptr, WarmStart::Bed* near = nullptr);
    /// From now on: facet of this length bedded at this angle, without a search about it. Whether it has eaten the cut face is
    /// read off its length unless stated.
    void take_tip(double bedded_angle, double facet_length, std::optional<bool> fully_worn = {});
    /// The facet is worn to this profile (ContactSetup::profile, copied).
    void take_profile(std::span<const double> profile);
    /// The blade's response about a state, in balance or not; only an aid to find the balance.
    void respond_about(const State& at);
    /// The state at a tilt and gap, in balance or not.
    [[nodiscard]] State look(double tilt, double u);
    [[nodiscard]] bool fully_worn() const noexcept { return fully_worn_; }
    /// From now on: facet of this length bedded at this angle, blade response about `reference`.
    void adopt(const Bedded& reference, double bedded_angle, double facet_length);
    void set_speed(double speed);
    /// From now on derivatives of the flow of a shear-thinning ink are as exact as the flow.
    void settle_slopes() noexcept { setup_.settled_slopes = true; }
    void hold_friction(bool constant) noexcept { setup_.constant_friction = constant, looked_.current = false; }
    /// How far the tilt may move at once without leaping over a pair of states [rad].
    [[nodiscard]] double longest_stride(const State& at) const noexcept;

    /// Balance at a tilt; a neighbouring state speeds it up.
    [[nodiscard]] State balance(double tilt, const Target& target, const State& near);
    /// Lets the tilt move from `from` in the direction it is driven until the drive vanishes.
    [[nodiscard]] State relax(const State& from, const Target& target);
    /// The state the blade comes to from one that need not be in balance: it turns the way its elastic tip drives it until that
    /// drive vanishes (quasi-static).
    [[nodiscard]] State settle(const State& start, const Target& target);
    /// Moves the target in small steps along the branch.
    [[nodiscard]] State follow(const State& from, const Target& begin, const Target& end);
    /// Residuals about a state. angle_by_place, tilt_by_place: what moving the place does.
    [[nodiscard]] NipResidual residual(const State& at, double angle_by_place, double tilt_by_place);
    /// Neither tilt nor gap runs away from a state in balance. `known` from the search for a bedded one: spares a look.
    [[nodiscard]] bool stable(const State& at, const Target& target, const std::optional<Answer>& known = {});
    /// Neither tilt nor gap runs away.
    [[nodiscard]] bool stable(const NipResidual& at, const StripJacobian& blade, bool fixed) const noexcept;
    [[nodiscard]] StripJacobian blade_at(const State& at) const;
    /// State at the tilt of (about) the thickest film.
    [[nodiscard]] State thickest(const Target& target, const State& near);
    /// Speed raised from rest with the load on.
    [[nodiscard]] State from_rest(const Target& target, const State& near);

    [[nodiscard]] Strip strip(double facet_length, double facet_angle) const;
    [[nodiscard]] int strip_steps() const noexcept { return strip_steps_; }
    /// As many as another solver of nearly this case has settled on: numbers of both then differ by the case alone.
    void take_strip_steps(int steps) noexcept { strip_steps_ = steps; }
    /// As many as this contact's force on the blade asks for; false where they already are.
    bool raise_strip_steps(const State& at) noexcept;
    /// Twice the steps that there may be say otherwise: this contact's force winds the strip up.
    [[nodiscard]] bool winds_up(const State& at) const noexcept;
    [[nodiscard]] double clean_wipe_film(double load) const;
    /// Of the flow tables; no contact is to be trusted without them.
    [[nodiscard]] Status tables_status() const noexcept { return lasting_.tables; }
    [[nodiscard]] const kernel::ContactSetup& setup() const noexcept { return setup_; }
    [[nodiscard]] const kernel::ContactArrays<double>& arrays() const noexcept { return arrays_; }
    [[nodiscard]] double tilt_scale() const noexcept { return tilt_scale_; }
    /// Angle of the ink wedge ahead of the facet [rad].
    [[nodiscard]] double ink_side_angle(double angle) const noexcept;
    /// resolved: the arrays are looked at, in all cells of the facet.
    [[nodiscard]] kernel::ContactForces<double> contact_at(double tilt, double angle, double low_gap,
                                                           bool resolved = false);
    [[nodiscard]] int sign() const noexcept { return sign_; }
    /// Local indentation of the tip's surface over local pressure [m/Pa]; 0: taken as rigid.
    [[nodiscard]] double compliance() const noexcept { return compliance_; }
    /// Sweeps of a soft film so far: what a search has cost.
    [[nodiscard]] int soft_sweeps() const noexcept { return soft_sweeps_; }
    /// After so many sweeps no soft contact settles any more.
    void stop_after(int soft_sweeps) noexcept { most_soft_sweeps_ = soft_sweeps; }
    /// That of a facet that does not bear over all its length. A surface gives some half a loaded length deep
    /// (surface_indentation), and five gaps further up than its lower end a film bears a thirtieth, asperities nothing.
    [[nodiscard]] double give_at(double tilt, double low_gap) const noexcept;

  private:
    /// What outlives a case.
    struct Lasting {
        Case nip_case;  ///< its load is a line load or an interference
        std::shared_ptr<const CellFlowTable> cells;
        std::shared_ptr<const InkFlowTable> ink;
        Status tables = Status::converged;
        AsperityLaw asperities;
        std::unique_ptr<double[]> memory;  // NOLINT: never read before it is written
        std::size_t numbers = 0;           ///< in that memory
        std::vector<double> profile;
        std::vector<Dual<2>> dual_memory;  ///< of residual
        std::vector<double> soft_memory;   ///< of soft_contact, 4 per node
        int mesh = 1;
        std::optional<double> given_compliance;
    };
    explicit NipSolver(Lasting lasting);
    /// A rigid tip's contact, and where it was looked at.
    struct Looked {
        double tilt = 0.0, angle = 0.0, low_gap = 0.0, flow_tolerance = 0.0;
        int cells = 0;
        bool current = false;  ///< the setup and the numbers in the arrays are still those
        kernel::ContactForces<double> contact;
    };
    /// Slopes by tilt and u: of ln N, and of what the blade misses under an unchanged N.
    struct AtLoad {
        std::array<double, 2> load_by{}, angle_by{}, interference_by{};
    };
    /// Of the load's surplus by u, of the drive by the tilt with the surplus kept at zero; the size of what the latter sums.
    struct Slopes {
        double surplus = 0.0, drive = 0.0, parts = 0.0;
    };
    [[nodiscard]] Slopes slopes(const AtLoad& at, const StripJacobian& blade, double load, bool fixed) const noexcept;
    [[nodiscard]] const Case& the_case() const noexcept { return lasting_.nip_case; }
    void make_room(std::size_t numbers);
    /// A state without drive is an answer where the blade's mismatch vanishes as well.
    [[nodiscard]] State at_rest(State state, const Target& target) const noexcept;
    /// What a search for the gap came upon that is too much for the contact.
    struct Overload {
        bool sealed = false;      ///< a soft tip bears on its wedge as well, and no ink gets in
        bool unbearable = false;  ///< no strip bears the load
    };
    /// What stands for ln of the load ratio where a contact has none; nothing where it has one.
    [[nodiscard]] std::optional<double> off_scale(const kernel::ContactForces<double>& contact,
                                                  Overload& overload) const noexcept;
    /// u = ln(low_gap + 3 sigma) at which a load's surplus vanishes; `overload`: what the surplus came upon. A soft film may hang
    /// on the one before it: where the load leaps the search is tried once more without.
    template <class F>
    [[nodiscard]] Root root_of(F&& surplus, double start, double slope, double stride, double tolerance,
                               Overload& overload) {
        const double sigma = setup_.asperities.sigma;
        const double lowest = std::log(sigma > 0.0 ? 0.3 * sigma : 1e-10), highest = std::log(1e-3);
        const auto search = [&] {
            return falling_root(surplus, start, slope, stride, lowest, highest, kPlaceTolerance, tolerance);
        };
        const Root root = search();
        if (root.status != Status::stagnated || compliance_ <= 0.0 || overload.sealed) return root;
        soft_flow_ = 0.0, overload = {};
        return search();
    }
    /// How that search ended: where the load leaps over the one wanted, by what it leaps to.
    [[nodiscard]] static Status ended(const Root& root, const Overload& overload, const State& at) noexcept;
    /// Outside what the equations cover.
    [[nodiscard]] bool beyond(double tilt, double angle) const noexcept;
    void set_facet(double facet_length, double facet_angle);
    void settle_inertia();
    void scale_tilt(double low_gap);
    void cut_facet(int cells);
    [[nodiscard]] Bedded bed_at_once(double load, const double* given, WarmStart::Bed* near);
    [[nodiscard]] Bedded bed_at_load(double load, const double* facet_length, WarmStart::Bed* near);
    [[nodiscard]] State balance_load(double angle, double load, double guess_u, double tolerance);
    [[nodiscard]] kernel::ContactForces<double> soft_contact(double tilt, double low_gap,
                                                             const kernel::Flank<double>& flank, double slope_out);
    [[nodiscard]] State by_newton(const State& from, const Target& target);
    [[nodiscard]] ContactForce on_blade(const kernel::ContactForces<double>& contact) const noexcept;
    [[nodiscard]] double low_gap(double u) const noexcept;

    [[nodiscard]] double far_side_angle(double angle) const noexcept;
    /// Of the blade's end face, or of the front that is left of it.
    [[nodiscard]] double cut_side_angle(double angle) const noexcept;

    Lasting lasting_;
    kernel::ContactSetup setup_;
    bool second_half_ = false;  ///< of the memory, for a look aside
    Looked looked_;             ///< what the arrays hold
    int facet_cells_ = 0;       ///< of a facet that is not parallel
    std::size_t half_ = 0;
    kernel::ContactArrays<double> arrays_;
    int sign_ = 1;             ///< +1 doctoring: a = a_bedded - d; -1 trailing: a = a_bedded + d
    bool fully_worn_ = false;  ///< the facet has eaten the cut face
    double facet_angle_ = 0.0;
    double inertial_radius_ = 0.0, settled_speed_ = 0.0;  ///< [m], for this speed [m/s]
    bool settled_worn_ = false;                           ///< and this tip
    Strip strip_;
    int strip_steps_ = kStripSteps;
    StripJacobian jacobian_;
    double compliance_ = 0.0;
    double soft_flow_ = 0.0, soft_warming_ = 0.0;  ///< where its next search starts; flow 0: from scratch
    std::size_t soft_meet_ = 0;                    ///< node where both its sweeps have to meet (SoftFilm)
    int soft_sweeps_ = 0, most_soft_sweeps_ = std::numeric_limits<int>::max();
    bool soft_sealed_ = false;  ///< the tip's surface touches as far as the ink: no film gets in
    double bedded_angle_ = 0.0, reference_load_ = 0.0, tilt_scale_ = 1e-3;
};

}  // namespace libblade::detail
