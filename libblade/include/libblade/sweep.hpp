// Many operating points in parallel.
#pragma once

#include <functional>
#include <span>
#include <string>
#include <vector>

#include "libblade/nip.hpp"

namespace libblade {

/// One swept field: dotted path with SI values.
struct Axis {
    std::string path;
    std::vector<double> values;
};

struct SweepOptions {
    NipOptions nip;
    int threads = 0;  ///< 0: one per core
    /// Called from the calling thread with (done, total) about ten times a second; returning false stops the sweep.
    std::function<bool(std::size_t, std::size_t)> progress;
};

struct SweepResult {
    std::vector<OperatingPoint> points;  ///< row-major over the axes, last axis fastest; unrun points have status not_run
    bool complete = false;
};

/// Full grid over the axes. Throws InvalidInput before any solve when a path or a value is bad.
/// Points are independent, so any number of threads gives identical bits.
[[nodiscard]] SweepResult sweep(const Case& base, std::span<const Axis> axes, const SweepOptions& options = {});

}  // namespace libblade
