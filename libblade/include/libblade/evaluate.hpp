// Operating points that are no grid, as plain numbers: what optimisers, samplers and fits call.
#pragma once

#include <cstdint>
#include <functional>
#include <span>
#include <string>

#include "libblade/nip.hpp"
#include "libblade/status.hpp"

namespace libblade {

/// Names of the columns: fields set in every point, and outputs read off it.
struct EvaluateColumns {
    std::span<const std::string> fields;
    std::span<double OperatingPoint::*const> outputs;
};

struct EvaluateOptions {
    NipOptions nip;   ///< solves that the outputs do not need are left out whatever stands here
    int threads = 0;  ///< 0: one per core
    std::function<bool(std::size_t, std::size_t)> progress;  ///< as in SweepOptions
};

/// Where the numbers go: the caller's memory.
struct EvaluateResult {
    std::span<double> numbers;  ///< (points x outputs); NaN where a point is not solved
    std::span<Status> status;   ///< (points); out_of_range, too, for a row that is no sound case
    std::span<double> slopes;   ///< (points x outputs x fields), d(output)/d(field), SI; empty: not wanted
    std::span<std::uint8_t>
        kinked;  ///< (points x fields): some output has a corner (NipGradient::corners); with slopes only
};

/// Solves a point for every row of `values` (points x fields, SI). Slopes by implicit differentiation (nip_gradient.hpp): NaN
/// for what step response, run-out and other branch give. Returns how many rows are done, which are the first ones; the
/// rest is NaN and not_run. Any number of threads gives identical bits.
/// Throws InvalidInput on a field that is no number or that setting another one takes away, and where sizes do not agree.
std::size_t evaluate(const Case& base, const EvaluateColumns& columns, std::span<const double> values,
                     const EvaluateResult& out, const EvaluateOptions& options = {});

}  // namespace libblade
