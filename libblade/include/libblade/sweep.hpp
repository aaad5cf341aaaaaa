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
    /// Called from the calling thread with (done, count) about twenty times a second; returning false stops the sweep.
    std::function<bool(std::size_t, std::size_t)> progress;
    std::size_t first = 0;                  ///< first point of the grid to solve
    std::size_t count = std::string::npos;  ///< how many from there; to the end of the grid when there are fewer
};

struct SweepResult {
    std::vector<OperatingPoint>
        points;            ///< row-major over the axes, last axis fastest; unrun points have status not_run
    std::size_t done = 0;  ///< the first `done` points are solved, the others were not reached
    bool complete = false;
};

/// Full grid over the axes, or the stretch of it that the options name. Throws InvalidInput before any solve when a path, a value or the
/// stretch is bad.
/// Points are independent, so any number of threads gives identical bits.
[[nodiscard]] SweepResult sweep(const Case& base, std::span<const Axis> axes, const SweepOptions& options = {});

}  // namespace libblade
