// Independent pieces of work in threads of their own, with a callback in the caller's.
#pragma once

#include <cstddef>
#include <functional>

namespace libblade::detail {

/// Threads that run_in_threads starts: as many as are wanted, one per core when that is 0, and no more than there is work.
[[nodiscard]] std::size_t workers(std::size_t total, int threads);
/// body(i, worker) for i = 0, 1, ... total - 1, each once, in any order; worker: number of the thread. `progress` as in
/// SweepOptions. Returns how many are done, which are the first ones. What a body or the callback throws ends the work
/// and is thrown to the caller.
std::size_t run_in_threads(std::size_t total, int threads,
                           const std::function<bool(std::size_t, std::size_t)>& progress,
                           const std::function<void(std::size_t, std::size_t)>& body);

}  // namespace libblade::detail
