// A nip set up and solved at its own setting, and what is read off a state of it. Not installed.
#pragma once

#include <span>
#include <string>
#include <utility>
#include <vector>

#include "libblade/error.hpp"
#include "nip_solver.hpp"

namespace libblade::detail {

/// A solved nip ready for questions: the solver bedded and set, what the holder keeps, and the state reached.
struct Prepared {
    explicit Prepared(NipSolver of) : solver(std::move(of)) {}
    NipSolver solver;
    std::optional<NipSolver> there;  ///< where the facet ran in elsewhere, if it did
    Target target;
    Bedded reference;  ///< bedded at this very setting: fixes the holder position
    double bedded_angle = 0.0, facet_length = 0.0;
    State state;
    Branch branch = Branch::none;
    bool bedded_stable = false;
    Status status = Status::not_run;
    Bedded run_in;  ///< there
    bool worn_there = false;
    std::vector<double> memory;  ///< of the report
    double slack = 1e-8;         ///< how far from balance the strip may be and still be described [rad]
};

/// Throws InvalidInput on values outside their hard ranges.
void require_sound(const Case& c);
/// Throws InvalidInput on a path that is no number of this case.
void require_number(const Case& c, const std::string& field);
/// Why these fields, in their order, cannot all be set as numbers and be there at the end; leaves `trial` as they make it.
[[nodiscard]] std::vector<Problem> problems_of_fields(std::span<const std::string> fields, Case& trial);

/// Changing this field calls for setting the holder anew.
[[nodiscard]] bool sets_holder(const std::string& field);

[[nodiscard]] Convergence outcome(Status status);
void outcome(Status status, Convergence& out);
[[nodiscard]] Prepared prepare(const Case& c, const NipOptions& options);
/// The same with solvers that stand ready for this case and for bedding_case.
void prepare(const Case& c, const NipOptions& options, Prepared& p);
/// Everything of the point, or why there is none. Takes nothing from the heap where `out` has room for flags and message.
void answer(const Case& nip_case, Prepared& p, const NipOptions& options, OperatingPoint& out);
[[nodiscard]] bool bedded_elsewhere(const Case& c);
/// The case at whose setting the facet ran in elsewhere.
[[nodiscard]] Case bedding_case(const Case& c, const BeddedElsewhere& elsewhere);
void bedding_case(const Case& c, const BeddedElsewhere& elsewhere, Case& out);
/// Where it did; null: it did not.
[[nodiscard]] const BeddedElsewhere* ran_in_elsewhere(const Case& c) noexcept;
/// Of the film over what a clean wipe would leave under the same load [m].
[[nodiscard]] double excess(const State& s, double speed, double clean_wipe_film);
[[nodiscard]] double excess(const Prepared& p, const State& s, double speed);

void flag(OperatingPoint& out, const char* name, double value, double limit, const char* message);
/// The arrays that the solver's last contact left behind.
[[nodiscard]] Section section_of(const NipSolver& solver, const kernel::FilmPass<double>& film);
/// Everything of the point that follows from the state alone.
void fill(const Case& c, Prepared& p, OperatingPoint& out, const NipOptions& options);

}  // namespace libblade::detail
