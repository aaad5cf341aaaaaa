// Cubic Hermite table on a uniform grid: C1, extended by straight lines.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstring>
#include <vector>

namespace libblade {

/// The plain number behind a scalar type; dual-number types bring their own overload.
[[nodiscard]] inline double value_of(double x) noexcept { return x; }

struct HermiteTable {
    double start = 0.0, step = 1.0;
    std::vector<double> value, slope;  ///< at start + i step

    template <class T>
    [[nodiscard]] T operator()(const T& x) const {
        const std::size_t last = value.size() - 1;
        const double place = (value_of(x) - start) / step;
        if (place <= 0.0) return value[0] + slope[0] * (x - start);
        if (place >= static_cast<double>(last))
            return value[last] + slope[last] * (x - (start + step * static_cast<double>(last)));
        const auto i = static_cast<std::size_t>(place);
        const T t = (x - (start + step * static_cast<double>(i))) / step;
        const T u = 1.0 - t;
        return u * u * ((1.0 + 2.0 * t) * value[i] + t * step * slope[i]) +
               t * t * ((3.0 - 2.0 * t) * value[i + 1] - u * step * slope[i + 1]);
    }
};

/// The cubics of a HermiteTable, for hot loops.
class UniformCubic {
  public:
    UniformCubic() = default;
    explicit UniformCubic(const HermiteTable& table) : start_(table.start), per_step_(1.0 / table.step) {
        for (std::size_t i = 0; i + 1 < table.value.size(); ++i) {
            const double rise = table.value[i + 1] - table.value[i], a = table.step * table.slope[i],
                         b = table.step * table.slope[i + 1];
            cubics_.push_back({table.value[i], a, 3.0 * rise - 2.0 * a - b, a + b - 2.0 * rise});
        }
        steps_ = static_cast<double>(cubics_.size());
    }
    template <class T>
    [[nodiscard]] T operator()(const T& x) const {
        const T place = (x - start_) * per_step_;
        const double p = value_of(place);
        if (!(p > 0.0 && p < steps_)) return beyond(place);
        const int i = static_cast<int>(p);
        const auto& c = cubics_[static_cast<std::size_t>(i)];
        const T t = place - static_cast<double>(i);
        return c[0] + t * (c[1] + t * (c[2] + t * c[3]));
    }

  private:
    template <class T>
    [[nodiscard]] T beyond(const T& place) const {
        if (!(value_of(place) > 0.0)) return cubics_.front()[0] + cubics_.front()[1] * place;
        const auto& c = cubics_.back();
        return (c[0] + c[1] + c[2] + c[3]) + (c[1] + 2.0 * c[2] + 3.0 * c[3]) * (place - steps_);
    }
    double start_ = 0.0, per_step_ = 1.0, steps_ = 0.0;
    std::vector<std::array<double, 4>> cubics_;
};

/// Two functions of a positive number by cubics on the eighths of its octaves, once differentiable; the place of a number is
/// read off its bits, which saves the logarithm. Constant beyond the ends.
class OctavePair {
  public:
    OctavePair() = default;
    /// f(x) gives {value, slope} of both functions: std::array<double, 4>.
    template <class F>
    OctavePair(double from, double to, const F& f) : first_(key(from)), last_(key(to)) {
        std::array<double, 4> left = f(start(first_));
        for (std::uint64_t k = first_; k <= last_; ++k) {
            const double width = start(k + 1) - start(k);
            const std::array<double, 4> right = f(start(k + 1));
            std::array<double, 8> cubic{};
            for (std::size_t i = 0; i < 2; ++i) {
                const double rise = right[2 * i] - left[2 * i], a = width * left[2 * i + 1],
                             b = width * right[2 * i + 1];
                cubic[i] = left[2 * i];
                cubic[2 + i] = a;
                cubic[4 + i] = 3.0 * rise - 2.0 * a - b;
                cubic[6 + i] = a + b - 2.0 * rise;
            }
            cubics_.push_back(cubic);
            left = right;
        }
    }
    template <class T>
    [[nodiscard]] std::array<T, 2> operator()(const T& x) const {
        const std::uint64_t k = key(value_of(x));
        if (k < first_) return {T(cubics_.front()[0]), T(cubics_.front()[1])};
        if (k > last_) {
            const auto& c = cubics_.back();
            return {T(c[0] + c[2] + c[4] + c[6]), T(c[1] + c[3] + c[5] + c[7])};
        }
        // An octave from 2^e on has eighths of width 2^(e - 3).
        constexpr std::uint64_t exponent = 0x7ffULL << 52;
        const double per_width = 8.0 * of_bits((2046ULL << 52) - (bits_of(start(k)) & exponent));
        const T t = (x - start(k)) * per_width;
        const auto& c = cubics_[static_cast<std::size_t>(k - first_)];
        return {T(c[0] + t * (c[2] + t * (c[4] + t * c[6]))), T(c[1] + t * (c[3] + t * (c[5] + t * c[7])))};
    }
    [[nodiscard]] bool empty() const noexcept { return cubics_.empty(); }

  private:
    // std::bit_cast is missing from the libc++ that is still about.
    [[nodiscard]] static std::uint64_t bits_of(double x) noexcept {
        std::uint64_t bits;
        std::memcpy(&bits, &x, sizeof x);
        return bits;
    }
    [[nodiscard]] static double of_bits(std::uint64_t bits) noexcept {
        double x;
        std::memcpy(&x, &bits, sizeof x);
        return x;
    }
    /// Counts the eighths of all octaves; rises with x > 0.
    [[nodiscard]] static std::uint64_t key(double x) noexcept { return x > 0.0 ? bits_of(x) >> 49 : 0; }
    [[nodiscard]] static double start(std::uint64_t key) noexcept { return of_bits(key << 49); }
    std::uint64_t first_ = 1, last_ = 0;
    std::vector<std::array<double, 8>> cubics_;
};

}  // namespace libblade
