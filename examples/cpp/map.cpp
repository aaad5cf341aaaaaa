// A map of excess ink over set angle and line load, and the process window, on every core.
//
//     map [case file]
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <numbers>
#include <vector>

#include <libblade/case_file.hpp>
#include <libblade/error.hpp>
#include <libblade/sweep.hpp>
#include <libblade/window.hpp>

namespace {

constexpr double degree = std::numbers::pi / 180.0;

std::vector<double> steps(double from, double to, std::size_t count) {
    std::vector<double> values(count);
    for (std::size_t k = 0; k < count; ++k)
        values[k] = from + (to - from) * static_cast<double>(k) / static_cast<double>(count - 1);
    return values;
}

int run(const libblade::Case& nip) {
    const libblade::Axis angle{"setting.set_angle", steps(28.0 * degree, 44.0 * degree, 17)};
    const libblade::Axis load{"setting.line_load", steps(40.0, 240.0, 11)};
    const std::vector<libblade::Axis> axes{angle, load};
    const libblade::SweepResult grid = libblade::sweep(nip, axes);

    // Inside: the run-in blade wipes, and a load step lets little pass beyond a clean wipe; both as shares of the ink carried.
    constexpr double wiped = 0.05, stepped = 0.15;
    std::vector<std::uint8_t> inside;
    for (const libblade::OperatingPoint& p : grid.points)
        inside.push_back(p.convergence.ok() && p.film_on_lands <= wiped * p.ink_carried &&
                         p.excess_after_step <= stepped * p.ink_carried);
    const libblade::Window window = libblade::process_window({angle.values, load.values, inside});

    std::printf("ink left on the lands after the load step beyond a clean wipe [um]; * inside the window\n%8s", "N/m");
    for (const double a : angle.values) std::printf("%6.0f ", a / degree);
    std::printf(" deg\n");
    for (std::size_t j = load.values.size(); j-- > 0;) {
        std::printf("%8.0f", load.values[j]);
        for (std::size_t i = 0; i < angle.values.size(); ++i) {
            const std::size_t k = i * load.values.size() + j;
            std::printf("%6.2f%c", grid.points[k].excess_after_step * 1e6, inside[k] != 0 ? '*' : ' ');
        }
        std::printf("\n");
    }
    if (!window.exists) {
        std::printf("no setting on this map keeps the limit\n");
    } else {
        std::printf("%s: %.0f deg, %.0f N/m, smallest margin %.1f holding tolerances\n",
                    window.recommended_with_margin ? "recommended" : "inside, but with too little margin",
                    angle.values[window.angle_index] / degree, load.values[window.load_index],
                    window.margins.smallest());
    }
    return grid.complete ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
    try {
        return run(argc > 1 ? libblade::load_case(argv[1]) : libblade::Case{});
    } catch (const libblade::InvalidInput& error) {
        std::fprintf(stderr, "%s\n", error.what());
        return 2;
    }
}
