#include "libblade/window.hpp"

#include <algorithm>

#include "libblade/error.hpp"

namespace libblade {

double Margins::smallest() const noexcept { return std::min({angle_down, angle_up, load_down, load_up}); }

namespace {

/// Last index reached from `from` in steps of `direction` while `inside` holds.
template <class Inside>
std::size_t reach(std::size_t from, int direction, std::size_t count, const Inside& inside) {
    std::size_t k = from;
    while (direction < 0 ? k > 0 : k + 1 < count) {
        const std::size_t next = direction < 0 ? k - 1 : k + 1;
        if (!inside(next)) break;
        k = next;
    }
    return k;
}

void refuse_bad(const WindowInput& in) {
    std::vector<Problem> problems;
    const auto rising = [](std::span<const double> v) {
        return !v.empty() &&
               std::adjacent_find(v.begin(), v.end(), [](double a, double b) { return !(a < b); }) == v.end();
    };
    if (!rising(in.angle)) problems.push_back({"angle", std::to_string(in.angle.size()) + " values", "must rise"});
    if (!rising(in.load) || in.load.front() <= 0.0)
        problems.push_back({"load", std::to_string(in.load.size()) + " values", "must rise and be above 0"});
    if (in.inside.size() != in.angle.size() * in.load.size())
        problems.push_back(
            {"inside", std::to_string(in.inside.size()) + " values", "must have one value per angle and load"});
    if (!(in.angle_tolerance > 0.0))
        problems.push_back({"angle_tolerance", std::to_string(in.angle_tolerance), "must be above 0 rad"});
    if (!(in.load_tolerance > 0.0))
        problems.push_back({"load_tolerance", std::to_string(in.load_tolerance), "must be above 0"});
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

}  // namespace

Window process_window(const WindowInput& in) {
    refuse_bad(in);
    const std::size_t n = in.angle.size(), m = in.load.size();
    Window out;
    out.all.resize(n * m);
    const auto inside = [&](std::size_t i, std::size_t j) { return in.inside[i * m + j] != 0; };
    for (std::size_t i = 0; i < n; ++i) {
        for (std::size_t j = 0; j < m; ++j) {
            if (!inside(i, j)) continue;
            // Up to the last good point of the grid, never beyond its edge: what was not computed is not promised.
            const auto along_angle = [&](std::size_t k) { return inside(k, j); };
            const auto along_load = [&](std::size_t k) { return inside(i, k); };
            const double angle_unit = in.angle_tolerance, load_unit = in.load_tolerance * in.load[j];
            out.all[i * m + j] = {(in.angle[i] - in.angle[reach(i, -1, n, along_angle)]) / angle_unit,
                                  (in.angle[reach(i, +1, n, along_angle)] - in.angle[i]) / angle_unit,
                                  (in.load[j] - in.load[reach(j, -1, m, along_load)]) / load_unit,
                                  (in.load[reach(j, +1, m, along_load)] - in.load[j]) / load_unit};
            const double margin = out.all[i * m + j].smallest();
            const double best = out.margins.smallest();
            const bool holds = margin >= 1.0 - 1e-9;
            // Loads run fastest inside an angle, so "lowest load" is compared across angles too.
            const bool better = !out.exists || (holds && !out.recommended_with_margin) ||
                                (holds && (j < out.load_index || (j == out.load_index && margin > best))) ||
                                (!holds && !out.recommended_with_margin && margin > best);
            if (better) {
                out.angle_index = i, out.load_index = j;
                out.margins = out.all[i * m + j];
                out.recommended_with_margin = holds;
            }
            out.exists = true;
        }
    }
    return out;
}

}  // namespace libblade
