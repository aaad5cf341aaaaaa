// A defect as ink over the roll's surface: what is drawn, integrated and judged. Not installed.
#pragma once

#include <functional>

#include "libblade/lines.hpp"

namespace libblade::detail {

/// Ink on the roll at (across, along) from the middle of a mark = nominal + across(y) along(x); of a defect after this nip the
/// product is the relative change of the print instead.
struct Relief {
    std::function<double(double)> across;  ///< [m] or [-]
    std::function<double(double)> along;   ///< [-], over one repeat
    double half_across, half_along;        ///< nothing beyond [m]; infinite: everywhere
    double period = 0.0;                   ///< along [m]; 0: none
    LineDirection direction = LineDirection::along_web;
    bool after_nip = false, patchy = false;
    Onset began = Onset::sudden;
};
[[nodiscard]] Relief relief_of(const LineDefect& defect, const LineContext& context);

/// From ink to print.
class Printer {
  public:
    Printer(const LineContext& context, const PrintLaw& law, bool after_nip);
    struct Seen {
        double ink, film, density;
    };
    /// Of a change as Relief has it.
    [[nodiscard]] Seen operator()(double change) const;

  private:
    const PrintLaw& law_;
    bool after_nip_;
    double nominal_;
    SolidDensity solid_;
};

/// Throws InvalidInput as line_print does.
void check_line(const LineDefect& defect, const LineContext& context, const PrintLaw& law);

}  // namespace libblade::detail
