// Gradient of an operating point by its fields: implicit differentiation.
//
// The point is where residuals F(y; theta) vanish, y being angle or tilt and gap of the bedding and of the state itself. Along
// it dy/dtheta = -(dF/dy)^-1 dF/dtheta, and every output moves with theta and y together. F is a strip under contact forces: dF/dtheta
// is that of the strip, under forces that stay, and its answer to the forces' own slopes. Outputs are differenced along the straight
// way dy/dtheta, on which the balance magnifies nothing. Each difference takes the steps that leave least in doubt: good to 1e-6 of
// the output per usual range of the field at all of a thousand random points but where a corner is flagged (tests). Where the
// straight way leaves the balance (a corner, a soft tip) residuals are settled along it and differences go over fixed steps. The
// kernels' dual numbers, which the branches are followed with, give the same dF/dy (tests). By an engraving's screen and wall width the film moves in steps of some
// 1e-4 with the mesh of the cell problem: slopes by these two are good to a few tenths only.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "libblade/nip.hpp"

namespace libblade {

struct NipGradient {
    OperatingPoint point;  ///< without step response, other branch and run-out
    std::vector<std::string> fields;
    /// d(output)/d(field), SI, in the members that hold the outputs; NaN for what step, run-out and the other branch would give.
    std::vector<OperatingPoint> by;
    /// Outputs, as bits in the order of numbers(), that have a corner here by the field, within 3e-4 of its value: their slope
    /// is that towards larger values.
    std::vector<std::uint64_t> corners;
    [[nodiscard]] bool has_corner(std::size_t field, double OperatingPoint::*output) const noexcept;
    Convergence convergence;
};

/// Throws InvalidInput on a field that is no number or that the case does not have. At a corner of the residuals themselves
/// (the end of a table, a facet that is just worn through) the unknowns' own slopes are a mean of both sides.
[[nodiscard]] NipGradient gradient(const Case& nip_case, std::span<const std::string> fields,
                                   const NipOptions& options = {});

}  // namespace libblade
