#include "libblade/contact.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

namespace libblade {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

/// Running load of a pressure that is linear between places, tension left out.
class RunningLoad {
  public:
    /// In memory of six numbers for each place.
    RunningLoad(std::span<const double> x, std::span<const double> pressure, std::span<double> memory)
        : x_(memory.subspan(0, 2 * x.size())),
          p_(memory.subspan(2 * x.size(), 2 * x.size())),
          sum_(memory.subspan(4 * x.size(), 2 * x.size())) {
        for (std::size_t i = 0; i < x.size(); ++i) {
            if (i > 0 && pressure[i - 1] * pressure[i] < 0.0)  // the place where it changes sign
                add(x[i - 1] + (x[i] - x[i - 1]) * pressure[i - 1] / (pressure[i - 1] - pressure[i]), 0.0);
            add(x[i], std::max(0.0, pressure[i]));
        }
    }
    [[nodiscard]] std::size_t size() const { return size_; }
    [[nodiscard]] double x(std::size_t i) const { return x_[i]; }
    [[nodiscard]] double pressure(std::size_t i) const { return p_[i]; }
    [[nodiscard]] double load(std::size_t i) const { return sum_[i]; }
    /// The pieces have a pressure in common.
    [[nodiscard]] bool meet(std::size_t i, std::size_t j) const {
        return std::max(p_[i], p_[i + 1]) >= std::min(p_[j], p_[j + 1]) &&
               std::max(p_[j], p_[j + 1]) >= std::min(p_[i], p_[i + 1]);
    }
    [[nodiscard]] double slope(std::size_t i) const { return (p_[i + 1] - p_[i]) / (x_[i + 1] - x_[i]); }

    /// First place at which the running load reaches a value; `near`: a piece to look from.
    [[nodiscard]] double first(double load, std::size_t near) const {
        std::size_t i = near;
        while (i > 0 && sum_[i - 1] >= load) --i;
        while (i < size_ && sum_[i] < load) ++i;
        return place(i, load);
    }
    /// Last place at which it is still no more than a value.
    [[nodiscard]] double last(double load, std::size_t near) const {
        std::size_t i = near;
        while (i > 0 && sum_[i - 1] > load) --i;
        while (i < size_ && sum_[i] <= load) ++i;
        return place(i, load);
    }

  private:
    void add(double x, double p) {
        const std::size_t n = size_++;
        sum_[n] = n == 0 ? 0.0 : sum_[n - 1] + 0.5 * (p_[n - 1] + p) * (x - x_[n - 1]);
        x_[n] = x, p_[n] = p;
    }
    [[nodiscard]] double place(std::size_t i, double load) const {
        return i == 0 ? x_[0] : i == size_ ? x_[size_ - 1] : within(i - 1, load);
    }
    [[nodiscard]] double within(std::size_t i, double load) const {
        const double rest = load - sum_[i], width = x_[i + 1] - x_[i];
        if (!(rest > 0.0) || width == 0.0) return x_[i];
        // p s + m s^2 / 2 = rest, without the difference of near numbers.
        const double square = std::max(0.0, p_[i] * p_[i] + 2.0 * slope(i) * rest);
        return x_[i] + std::min(width, 2.0 * rest / (p_[i] + std::sqrt(square)));
    }
    std::span<double> x_, p_, sum_;
    std::size_t size_ = 0;
};

/// Integral of s^power / (s + h)^3 from s1 to s2, for powers 2 to 4. The closed form loses digits where h is large;
/// Gauss's rule of eight points loses them where it is small.
double taper_integral(int power, double s1, double s2, double h) {
    if (h <= s2) {
        const auto primitive = [&](double s) {
            const double y = s + h,
                         log = h > 0.0 || s > 0.0 ? std::log(y) : 0.0;  // at y = 0 only s^2 / s^3 would diverge
            if (y == 0.0) return 0.0;
            if (power == 2) return log + 2.0 * h / y - 0.5 * h * h / (y * y);
            if (power == 3) return y - 3.0 * h * log - 3.0 * h * h / y + 0.5 * h * h * h / (y * y);
            return 0.5 * y * y - 4.0 * h * y + 6.0 * h * h * log + 4.0 * h * h * h / y - 0.5 * h * h * h * h / (y * y);
        };
        return primitive(s2) - primitive(s1);
    }
    // Abramowitz & Stegun 1964, table 25.4.
    constexpr std::array<double, 4> node{0.183434642495649805, 0.525532409916328986, 0.796666477413626740,
                                         0.960289856497536232};
    constexpr std::array<double, 4> weight{0.362683783378361983, 0.313706645877887287, 0.222381034453374471,
                                           0.101228536290376259};
    const double half = 0.5 * (s2 - s1), middle = 0.5 * (s1 + s2);
    double sum = 0.0;
    for (std::size_t i = 0; i < node.size(); ++i)
        for (const double s : {middle - half * node[i], middle + half * node[i]})
            sum += weight[i] * s * s * (power == 2 ? 1.0 : power == 3 ? s : s * s) / ((s + h) * (s + h) * (s + h));
    return half * sum;
}

}  // namespace

HertzLine hertz_line(double load, double radius, double modulus) noexcept {
    if (!(load >= 0.0) || !(radius > 0.0) || !(modulus > 0.0)) return {kNan, kNan};
    constexpr double pi = std::numbers::pi;
    // The peak from P E* / (pi R) rather than from P / a: no 0 / 0 at zero load.
    return {std::sqrt(4.0 * load * radius / (pi * modulus)), std::sqrt(load * modulus / (pi * radius))};
}

double elastic_edge_width(double load, double radius, double modulus, double hardness) noexcept {
    if (!(hardness > 0.0)) return kNan;
    const double elastic = 2.0 * hertz_line(load, radius, modulus).half_width;
    return std::isnan(elastic) ? elastic : std::max(elastic, load / hardness);
}

double wedge_hardness(double hardness, double wedge_angle) noexcept {
    return hardness * (1.0 + 0.5 * wedge_angle) / (1.0 + 0.5 * std::numbers::pi);
}

WidthAndPressure facet_contact(const OutlineFacet& facet, double load) noexcept {
    return {facet.length, load / facet.length};
}

EdgeContact edge_contact(double load, double radius, double modulus, double edge_hardness, double roll_hardness,
                         double front_angle, double body_angle) noexcept {
    constexpr double pi = std::numbers::pi;
    const double wedge = pi - front_angle - body_angle;
    if (!(load >= 0.0) || !(radius >= 0.0) || !(modulus > 0.0) || !(edge_hardness > 0.0) || !(roll_hardness > 0.0) ||
        !(front_angle > 0.0) || !(body_angle > 0.0) || !(wedge > 0.0))
        return {kNan, kNan, kNan, false};
    const double hardness = std::min(wedge_hardness(edge_hardness, wedge), roll_hardness);
    const double elastic = radius > 0.0 ? 2.0 * hertz_line(load, radius, modulus).half_width : 0.0;
    const double width = std::max(elastic, load / hardness);
    // Beyond 90 deg a face leans over: the rounding then reaches its full radius on that side.
    const double chord = radius * std::sin(std::min({front_angle, body_angle, 0.5 * pi}));
    return {width, load > 0.0 ? load / width : 0.0,
            chord > 0.0 ? 0.5 * width / chord : std::numeric_limits<double>::infinity(), width > elastic};
}

LoadBearing load_bearing_width(std::span<const double> x, std::span<const double> pressure, double share) {
    std::vector<double> memory(6 * x.size());
    return load_bearing_width(x, pressure, share, memory);
}

LoadBearing load_bearing_width(std::span<const double> x, std::span<const double> pressure, double share,
                               std::span<double> memory) {
    const LoadBearing none{kNan, kNan, kNan, kNan, kNan};
    if (x.size() < 2 || x.size() != pressure.size() || memory.size() < 6 * x.size() || !(share > 0.0 && share <= 1.0))
        return none;
    for (std::size_t i = 0; i < x.size(); ++i)
        if (!std::isfinite(x[i]) || !std::isfinite(pressure[i]) || (i > 0 && x[i] < x[i - 1])) return none;

    const RunningLoad run(x, pressure, memory);
    const std::size_t n = run.size();
    const double total = run.load(n - 1), wanted = share * total;
    if (!(total > 0.0)) return {0.0, kNan, kNan, 0.0, kNan};
    LoadBearing best{std::numeric_limits<double>::infinity(), 0.0, 0.0, total, 0.0};
    const auto offer = [&](double from, double to) {
        if (to - from < best.width) best.width = to - from, best.from = from, best.to = to;
    };
    const double slack = 4e-16 * total;
    // A shortest stretch begins or ends at a place, or has the same pressure at both ends: moving it does not shorten
    // it.
    // Ends move on together with their beginnings.
    std::size_t ahead = 0, behind = 0;
    for (std::size_t i = 0; i < n; ++i) {
        if (run.load(i) + wanted <= total + slack) {
            const double upto = std::min(total, run.load(i) + wanted);
            while (ahead + 1 < n && run.load(ahead) < upto) ++ahead;
            if (ahead == 0 || run.x(ahead - 1) - run.x(i) < best.width) offer(run.x(i), run.first(upto, ahead));
        }
        if (run.load(i) >= wanted - slack) {
            const double from = std::max(0.0, run.load(i) - wanted);
            while (behind + 1 < n && run.load(behind) <= from) ++behind;
            if (run.x(i) - run.x(behind) < best.width) offer(run.last(from, behind), run.x(i));
        }
    }
    std::size_t nearest = 0;  // piece that the stretch from the start of piece i just reaches
    for (std::size_t i = 0; i + 1 < n; ++i) {
        while (nearest + 1 < n && run.load(nearest + 1) - run.load(i) < wanted) ++nearest;
        if (run.x(i + 1) == run.x(i) || run.load(i) + wanted > total) continue;
        const double mi = run.slope(i), pi = run.pressure(i);
        for (std::size_t j = nearest; j + 1 < n && run.load(j) - run.load(i + 1) <= wanted; ++j) {
            if (run.x(j) - run.x(i + 1) >= best.width) break;
            if (run.x(j + 1) == run.x(j) || !run.meet(i, j)) continue;
            const double mj = run.slope(j), pj = run.pressure(j);
            if (mi == 0.0 && mj == 0.0) continue;  // width linear in the place: shortest at an end
            // The load up to the pressure q in a piece is (q^2 - p^2) / (2 m); a flat piece states q itself.
            const double q2 = mi == 0.0 ? pi * pi
                              : mj == 0.0
                                  ? pj * pj
                                  : 2.0 * (wanted - run.load(j) + run.load(i) + 0.5 * (pj * pj / mj - pi * pi / mi)) /
                                        (1.0 / mj - 1.0 / mi);
            if (!(q2 >= 0.0 && std::isfinite(q2))) continue;
            if (mi != 0.0) {
                const double from = run.x(i) + (std::sqrt(q2) - pi) / mi,
                             before = run.load(i) + 0.5 * (q2 - pi * pi) / mi;
                if (from >= run.x(i) && from <= run.x(i + 1) && before + wanted <= total)
                    offer(from, run.first(before + wanted, j + 1));
            } else {
                const double to = run.x(j) + (std::sqrt(q2) - pj) / mj, upto = run.load(j) + 0.5 * (q2 - pj * pj) / mj;
                if (to >= run.x(j) && to <= run.x(j + 1) && upto >= wanted) offer(run.last(upto - wanted, i), to);
            }
        }
    }
    best.mean_pressure = wanted / best.width;
    return best;
}

double feather_lift(const Solid& solid, double facet_length, double thickness, double angle, double distance) noexcept {
    const double b = facet_length, s = distance, slope = std::tan(angle), nu = solid.poissons_ratio;
    const double front = (thickness - b * std::sin(angle)) / std::cos(angle);
    if (!(s >= 0.0 && s <= b) || !(slope > 0.0) || !(front > -1e-9 * thickness)) return kNan;
    // Moment p s^2 / 2 over stiffness E (h0 + s tan a)^3 / (12 (1 - nu^2)), twice integrated from the body's end.
    const double scale = 6.0 * (1.0 - nu * nu) / (solid.youngs_modulus * slope * slope * slope);
    const double h = std::max(0.0, front) / slope;
    const double arm = s > 0.0 ? s * taper_integral(2, s, b, h) : 0.0;
    return scale * (taper_integral(3, s, b, h) - arm);
}

double surface_indentation(const Solid& solid, double facet_length) noexcept {
    return 0.5 * (1.0 - solid.poissons_ratio * solid.poissons_ratio) / solid.youngs_modulus * facet_length;
}

SurfaceCompliance surface_compliance(const Solid& solid, double facet_length, double thickness, double angle) noexcept {
    const double b = facet_length, slope = std::tan(angle), nu = solid.poissons_ratio;
    const double soft = (1.0 - nu * nu) / solid.youngs_modulus;
    const double front = std::max(0.0, (thickness - b * std::sin(angle)) / std::cos(angle));
    const double lift = feather_lift(solid, b, thickness, angle, 0.0);
    const double mean = 3.0 * soft / (slope * slope * slope * b) * taper_integral(4, 0.0, b, front / slope);
    return {surface_indentation(solid, b), std::isnan(lift) ? lift : mean, lift, b * std::sin(angle) / thickness};
}

SubsurfaceShear largest_shear(const HertzLine& contact) noexcept {
    // On the axis tau_1 = (p0 / a) (z - z^2 / sqrt(a^2 + z^2)); stationary where s (s^2 + 2) = (1 + s^2)^(3/2), s = z /
    // a, that is s^4 + s^2 = 1: s^2 = (sqrt 5 - 1) / 2.
    const double s = std::sqrt(0.5 * (std::sqrt(5.0) - 1.0));
    return {contact.peak_pressure * (s - s * s / std::sqrt(1.0 + s * s)), contact.half_width * s};
}

}  // namespace libblade
