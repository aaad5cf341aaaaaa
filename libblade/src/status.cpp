#include "libblade/status.hpp"

namespace libblade {

// Both switches have no default, so that the compiler names a status that was forgotten here.
std::string_view to_string(Status status) noexcept {
    switch (status) {
        case Status::not_run:
            return "not_run";
        case Status::converged:
            return "converged";
        case Status::max_iterations:
            return "max_iterations";
        case Status::stagnated:
            return "stagnated";
        case Status::singular_jacobian:
            return "singular_jacobian";
        case Status::non_finite:
            return "non_finite";
        case Status::step_too_small:
            return "step_too_small";
        case Status::lying_flat:
            return "lying_flat";
        case Status::unstable:
            return "unstable";
        case Status::lifted_off:
            return "lifted_off";
        case Status::out_of_range:
            return "out_of_range";
    }
    return "unknown";  // only a value that is not of the enumeration gets here
}

std::string_view describe(Status status) noexcept {
    switch (status) {
        case Status::not_run:
            return "The solver has not been run.";
        case Status::converged:
            return "Solved to the stated tolerance.";
        case Status::max_iterations:
            return "The iteration limit was reached before the tolerance.";
        case Status::stagnated:
            return "The residual stopped falling before it reached the tolerance.";
        case Status::singular_jacobian:
            return "A linear solve failed because its matrix is singular.";
        case Status::non_finite:
            return "A number became infinite or undefined during the solve.";
        case Status::step_too_small:
            return "No step along the solution path was small enough to succeed.";
        case Status::lying_flat:
            return "The blade lies flat on the roll and no longer touches with its tip.";
        case Status::unstable:
            return "The tip contact is not stable: the blade digs in or snaps through.";
        case Status::lifted_off:
            return "The blade does not touch the roll and carries no load.";
        case Status::out_of_range:
            return "The solution lies outside the range that the equations cover.";
    }
    return "Unknown status.";
}

}  // namespace libblade
