#include "sweep_threads.hpp"

#include <algorithm>
#include <atomic>
#include <chrono>
#include <condition_variable>
#include <exception>
#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

namespace libblade::detail {

std::size_t workers(std::size_t total, int threads) {
    const unsigned cores = std::max(1U, std::thread::hardware_concurrency());
    return std::min<std::size_t>(threads > 0 ? static_cast<unsigned>(threads) : cores, total);
}

std::size_t run_in_threads(std::size_t total, int wanted_threads,
                           const std::function<bool(std::size_t, std::size_t)>& progress,
                           const std::function<void(std::size_t, std::size_t)>& body) {
    std::atomic<std::size_t> next{0}, done{0};
    std::atomic<bool> stop{false};
    std::exception_ptr failure;
    std::mutex mutex;
    std::condition_variable changed;
    unsigned running = 0;
    const auto work = [&](std::size_t worker) {
        try {
            for (std::size_t i; !stop && (i = next++) < total; ++done) body(i, worker);
        } catch (...) {
            const std::lock_guard lock(mutex);
            failure = std::current_exception();
            stop = true;
        }
        const std::lock_guard lock(mutex);
        --running;
        changed.notify_all();
    };
    running = static_cast<unsigned>(workers(total, wanted_threads));
    std::vector<std::thread> threads;
    unsigned unstarted = running;
    threads.reserve(unstarted);
    try {
        for (; unstarted > 0; --unstarted) threads.emplace_back(work, unstarted - 1);
    } catch (const std::system_error&) {
        // The system gives no more: those that there are do the work, or this one alone.
        const bool alone = threads.empty();
        {
            const std::lock_guard lock(mutex);
            running -= alone ? unstarted - 1 : unstarted;
        }
        if (alone) work(0);
    }

    // The caller's callback runs here only, never in a worker. A point takes milliseconds: Ctrl-C is answered in 0.1 s.
    {
        std::unique_lock lock(mutex);
        while (running > 0) {
            changed.wait_for(lock, std::chrono::milliseconds(50));
            if (!progress || running == 0) continue;
            lock.unlock();
            try {
                if (!progress(done, total)) stop = true;
            } catch (...) {
                stop = true;
                lock.lock();
                failure = std::current_exception();
                lock.unlock();
            }
            lock.lock();
            if (failure) break;
        }
    }
    for (std::thread& thread : threads) thread.join();
    if (failure) std::rethrow_exception(failure);
    if (progress) (void)progress(done, total);
    // They are taken in order, and one once taken is finished.
    return done;
}

}  // namespace libblade::detail
