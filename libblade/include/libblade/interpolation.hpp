// Cubic Hermite table on a uniform grid: C1, extended by straight lines.
#pragma once

#include <cmath>
#include <cstddef>
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

}  // namespace libblade
