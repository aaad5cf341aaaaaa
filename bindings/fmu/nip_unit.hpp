// The nip with the wear of its blade as a thing that is stepped through time.
//
// A step slides speed x duration under inputs that are held: one step of a wear schedule with the changed inputs set at its
// start (wear_schedule.hpp), on from where the blade stands. A history made in such steps is the history of one schedule made of
// them, to the same bits. While the roll stands (speed 0) time passes and nothing slides; when it turns again the schedule has a
// `stopped` step: the speed is raised from rest. Numbers of a standing roll are those of the blade from rest at an inching
// speed of 0.01 m/s, where the touching lands carry nearly all, without power.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <string>
#include <vector>

#include "libblade/case.hpp"
#include "libblade/nip_tables.hpp"
#include "libblade/wear.hpp"
#include "variables.hpp"

namespace libblade::fmu {

using Inputs = std::array<double, kInputs.size()>;

/// All that a unit knows beyond its case file.
struct Memory {
    double time = 0.0;           ///< [s]
    std::vector<double> fields;  ///< by row of the field table, SI, as wanted; NaN: not in this case
    std::array<int, kWords> words{};
    bool started = false;
    Inputs applied{};    ///< the inputs under which the blade stands
    double still = 0.0;  ///< for how long the roll has been standing [s]
    Inputs looked{};     ///< under which a standing nip was looked at
    std::array<double, kNumbers> numbers{};
    WearState wear;
};

struct Outcome {
    enum class Kind { done, refused, ended } kind = Kind::done;
    double time = 0.0;                ///< to which it came [s]
    std::string message;              ///< why not done
    std::vector<std::string> events;  ///< on the way
};

class NipUnit {
  public:
    /// Throws InvalidInput on a case that the unit cannot carry.
    explicit NipUnit(Case shipped);

    [[nodiscard]] const Case& shipped() const noexcept { return shipped_; }
    [[nodiscard]] const Memory& memory() const noexcept { return memory_; }
    void recall(const Memory& memory);

    /// The memory as bytes of this machine's order, which read back to the same memory in a unit of the same case.
    [[nodiscard]] std::vector<std::uint8_t> to_bytes(const Memory& memory) const;
    /// False: they are of another unit or damaged.
    [[nodiscard]] bool from_bytes(const std::uint8_t* bytes, std::size_t size, Memory& out) const;

    /// Throws InvalidInput outside the hard range and where the case has no such number.
    void set_field(std::size_t row, double value);
    /// Throws InvalidInput on another value.
    void set_word(Spoken word, int value);

    /// The blade in its holder at a time, before anything has slid. Refused: the nip has no solution; throws InvalidInput.
    Outcome start(double time);
    /// One step from a time, which is where the unit stands but for rounding. Refused: nothing has changed. Ended: a thin tip was used up on the way, and there it stands; unless it may not
    /// end early, which is refused.
    Outcome step(double at, double duration, bool may_end_early);

  private:
    [[nodiscard]] Inputs wanted() const;
    [[nodiscard]] Case case_at(const Inputs& inputs) const;
    [[nodiscard]] WearOptions options();
    [[nodiscard]] std::vector<FieldChange> changes(const Inputs& to) const;
    Outcome look_standing();
    void show(const WearHistory& history, const Case& at, double speed);

    Case shipped_;
    std::string mark_;  ///< of its lists and its case
    Memory memory_;
    FlowTables tables_;
};

}  // namespace libblade::fmu
