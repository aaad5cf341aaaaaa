#include <algorithm>
#include <cmath>
#include <string>

#include "libblade/error.hpp"
#include "lines_relief.hpp"

namespace libblade {

namespace {

using namespace detail;

/// Places within a pixel that follow what is `feature` wide, their middles.
int places_in(double pixel, double feature) {
    constexpr double most = 48.0;
    return static_cast<int>(std::clamp(std::ceil(12.0 * pixel / feature), 1.0, most));
}

double auto_width(const Relief& relief) {
    if (!std::isfinite(relief.half_across)) return 0.2;
    return std::max(5e-3, 6.0 * relief.half_across);
}

/// Of a place along the strip, from the nearest mark.
double from_mark(double along, const Relief& relief, double first) {
    const double off = along - first;
    return relief.period > 0.0 ? off - relief.period * std::round(off / relief.period) : off;
}

void check_size(const StripSize& size) {
    std::vector<Problem> problems;
    const auto need = [&](bool good, const char* name, double value, const char* words) {
        if (!good) problems.push_back({name, std::to_string(value), std::string("must be ") + words});
    };
    need(size.width >= 0.0 && size.width <= 100.0, "strip.width", size.width, "from 0 (chosen) to 100 m");
    need(size.length >= 0.0 && size.length <= 100.0, "strip.length", size.length, "from 0 (1.5 turns) to 100 m");
    need(size.columns >= 1 && size.columns <= 10000, "strip.columns", static_cast<double>(size.columns),
         "from 1 to 10000");
    need(size.rows >= 1 && size.rows <= 10000, "strip.rows", static_cast<double>(size.rows), "from 1 to 10000");
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

}  // namespace

PrintStrip print_strip(const LineDefect& defect, const LineContext& context, const PrintLaw& law,
                       const StripSize& size) {
    check_line(defect, context, law);
    check_size(size);
    const Relief relief = relief_of(defect, context);
    const Printer print(context, law, relief.after_nip);
    const double width = size.width > 0.0 ? size.width : auto_width(relief);
    const double length = size.length > 0.0 ? size.length : 1.5 * context.roll_turn;
    const double column = width / static_cast<double>(size.columns), row = length / static_cast<double>(size.rows);
    const double first = 0.25 * context.roll_turn;
    const int parts_across = std::isfinite(relief.half_across) ? places_in(column, relief.half_across) : 1;
    const int parts_along = relief.period > 0.0 || std::isfinite(relief.half_along)
                                ? places_in(row, std::min(relief.half_along, 0.02 * context.roll_turn))
                                : 1;
    PrintStrip out;
    for (std::size_t j = 0; j < size.columns; ++j)
        out.across.push_back(column * (static_cast<double>(j) + 0.5) - 0.5 * width);
    for (std::size_t i = 0; i < size.rows; ++i) out.along.push_back(row * (static_cast<double>(i) + 0.5));

    std::vector<double> change(size.columns * static_cast<std::size_t>(parts_across));
    for (std::size_t k = 0; k < change.size(); ++k) {
        const double y = width * ((static_cast<double>(k) + 0.5) / static_cast<double>(change.size()) - 0.5);
        change[k] = std::abs(y) <= relief.half_across ? relief.across(y) : 0.0;
    }
    const Printer::Seen beside = print(0.0);
    const double parts = parts_across * parts_along;
    for (std::size_t i = 0; i < size.rows; ++i) {
        std::vector<double> strength;
        for (int n = 0; n < parts_along; ++n) {
            const double x = from_mark(row * (static_cast<double>(i) + (n + 0.5) / parts_along), relief, first);
            strength.push_back(std::abs(x) <= relief.half_along ? relief.along(x) : 0.0);
        }
        for (std::size_t j = 0; j < size.columns; ++j) {
            double ink = 0.0, film = 0.0, light = 0.0;
            for (const double s : strength)
                for (int m = 0; m < parts_across; ++m) {
                    const double here =
                        s * change[j * static_cast<std::size_t>(parts_across) + static_cast<std::size_t>(m)];
                    const Printer::Seen seen = here == 0.0 ? beside : print(here);
                    ink += seen.ink, film += seen.film, light += reflectance(seen.density);
                }
            out.ink.push_back(ink / parts), out.film.push_back(film / parts);
            out.density.push_back(-std::log10(light / parts));
        }
    }
    return out;
}

}  // namespace libblade
