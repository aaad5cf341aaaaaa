// A history under way: the blade as wear has left it, in the step of the schedule that is on. Not installed.
#pragma once

#include <memory>
#include <optional>
#include <string>

#include "libblade/wear.hpp"
#include "wear_tip.hpp"

namespace libblade::detail {

/// The nip at a point of the history.
struct Look {
    State state;                                ///< at the holder's mean position
    Place place;                                ///< where the blade stands next
    Rub rub;                                    ///< mean over a turn
    double film = 0.0;                          ///< on the lands, mean over a turn [m]
    double film_over_turn = 0.0, excess = 0.0;  ///< largest; mean [m]
    double specific_wear = 0.0;                 ///< of the blade there [m2/N]
};

class WearRun {
  public:
    WearRun(const Case& first, const Schedule& schedule, const WearOptions& options, const WearState* from);

    /// The blade in its holder, before anything has worn. False: why() says so.
    [[nodiscard]] bool start_blade();
    /// Makes the changes of the step that is due. False: why() says so.
    [[nodiscard]] bool begin_step();
    void end_step();
    [[nodiscard]] bool over() const noexcept { return state_.step == schedule_.size(); }
    [[nodiscard]] double length() const noexcept { return length_; }  ///< of this step [m]
    [[nodiscard]] bool moving() const noexcept { return !schedule_[state_.step].ramp.empty(); }

    [[nodiscard]] bool look(const Vector& y, double in_step, Look& out);
    [[nodiscard]] bool rates(const Vector& y, double in_step, Vector& out);
    /// Goes on to a state looked at.
    void move_to(const Vector& y, double in_step, const Look& look);
    void record(WearHistory& out, const Look& look);

    /// Above 0 once the event has happened; NaN where it is not watched or the nip does not solve.
    [[nodiscard]] double progress(WearEventKind kind, const Vector& y, double in_step);
    void wear_through() noexcept;

    [[nodiscard]] WearState& state() noexcept { return state_; }
    [[nodiscard]] const WornTip& tip() const noexcept { return *tip_; }
    [[nodiscard]] const Convergence& why() const noexcept { return why_; }
    [[nodiscard]] int solves() const noexcept { return solves_; }

  private:
    struct Here {
        Case now;
        Target target;
    };
    [[nodiscard]] std::optional<Here> here(const Vector& y, double in_step);
    [[nodiscard]] bool go_round(HeldNip& nip, const Target& mean, Look& out);
    void add(HeldNip& nip, double part, Look& out);
    [[nodiscard]] bool set_holder(const Case& at, Target& out);
    [[nodiscard]] bool move_holder(const Target& to);
    void make_tip();
    bool fail(Status status, std::string message);
    [[nodiscard]] double recess(const Cut& cut, double set_angle) const;
    [[nodiscard]] Target kept(double share) const;

    const Case first_;
    const Schedule schedule_;
    const WearOptions options_;
    NipOptions nip_;
    std::unique_ptr<FlowTables> own_tables_;
    WearState state_;
    Case begin_;  ///< at the start of the step that is on
    double length_ = 0.0;
    std::unique_ptr<WornTip> tip_;
    double first_along_ = 0.0;  ///< of the facet's centre when the blade was new [m]
    double thin_length_ = 0.0;  ///< length lost at which the step of a thin tip is at the roll [m]; 0: none
    Vector pressure_;
    Convergence why_;
    int solves_ = 0;
};

}  // namespace libblade::detail
