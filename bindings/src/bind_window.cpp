#include "bind.hpp"
#include "libblade/window.hpp"

using namespace libblade;

void bind_window(py::module_& module) {
    using Mask = py::array_t<std::uint8_t, py::array::c_style | py::array::forcecast>;
    module.def(
        "process_window",
        [](const Doubles& angle, const Doubles& load, const Mask& inside, double angle_tolerance,
           double load_tolerance) {
            const Window window = process_window({view(angle),
                                                  view(load),
                                                  {inside.data(), static_cast<std::size_t>(inside.size())},
                                                  angle_tolerance,
                                                  load_tolerance});
            const auto sides = [](const Margins& m) {
                return py::make_tuple(m.angle_down, m.angle_up, m.load_down, m.load_up);
            };
            py::array_t<double> smallest({angle.size(), load.size()});
            double* to = smallest.mutable_data();
            for (const Margins& m : window.all) *to++ = m.smallest();
            return py::make_tuple(window.exists, window.recommended_with_margin, window.angle_index, window.load_index,
                                  sides(window.margins), smallest);
        },
        py::arg("angle"), py::arg("load"), py::arg("inside"), py::arg("angle_tolerance"), py::arg("load_tolerance"));
}
