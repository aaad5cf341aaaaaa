// Random numbers that are the same everywhere: each draw is a function of seed, index and place, without a state to share.
//
// SplitMix64 (Steele, Lea & Flood 2014, Fast splittable pseudorandom number generators; constants from memory, checked in
// the tests against its published first outputs). The standard's distributions differ between libraries: own ones here.
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>

namespace libblade {

class Random {
  public:
    explicit Random(std::uint64_t seed, std::uint64_t index = 0) noexcept : state_(seed) {
        const std::uint64_t stream = next();
        state_ = stream ^ (index * 0xd1342543de82ef95ULL);
        (void)next();
    }
    /// 64 evenly likely bits.
    std::uint64_t next() noexcept { return mixed(state_ += 0x9e3779b97f4a7c15ULL); }
    /// Evenly in (0, 1), ends left out.
    double uniform() noexcept { return (static_cast<double>(next() >> 11) + 0.5) * 0x1p-53; }
    double uniform(double low, double high) noexcept { return low + (high - low) * uniform(); }
    double log_uniform(double low, double high) noexcept { return low * std::exp(uniform() * std::log(high / low)); }
    /// Box & Muller 1958; two draws of `next`.
    double normal() noexcept {
        const double radius = std::sqrt(-2.0 * std::log(uniform()));
        return radius * std::cos(6.283185307179586 * uniform());
    }
    /// Evenly one of 0 ... count - 1.
    std::size_t below(std::size_t count) noexcept {
        return static_cast<std::size_t>(uniform() * static_cast<double>(count));
    }
    [[nodiscard]] static std::uint64_t mixed(std::uint64_t z) noexcept {
        z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
        z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
        return z ^ (z >> 31);
    }

  private:
    std::uint64_t state_;
};

}  // namespace libblade
