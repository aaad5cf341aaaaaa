// How a solve ended. A result that did not converge says so and why.
#pragma once

#include <limits>
#include <string>
#include <string_view>

namespace libblade {

enum class Status {
    not_run,
    converged,
    max_iterations,     ///< the iteration bound was reached
    stagnated,          ///< no further progress above the tolerance
    singular_jacobian,  ///< a linear solve failed
    non_finite,         ///< a NaN or infinity appeared
    step_too_small,     ///< continuation could not advance
    lying_flat,         ///< the blade leaves its edge and lies on the roll: no tip contact
    unstable,           ///< tip contact has lost stability (dig-in, snap-through)
    lifted_off,         ///< the blade does not touch: no load
    out_of_range        ///< the solution lies outside the range the equations cover
};

[[nodiscard]] std::string_view to_string(Status status) noexcept;
/// One plain sentence for people.
[[nodiscard]] std::string_view describe(Status status) noexcept;

/// Every solver returns one. Pessimistic by default; success is residual <= tolerance on finite numbers.
struct Convergence {
    Status status = Status::not_run;
    double residual = std::numeric_limits<double>::infinity();  ///< scaled, dimensionless
    double tolerance = 0.0;
    int iterations = 0;
    std::string message;  ///< why, in a sentence; empty when converged
    [[nodiscard]] bool ok() const noexcept { return status == Status::converged; }
    bool operator==(const Convergence&) const = default;
};

}  // namespace libblade
