#include "bind.hpp"
#include "libblade/case.hpp"
#include "libblade/feather.hpp"

using namespace libblade;

void bind_feather(py::module_& module) {
    module.def(
        "tip_thickness", [](const Case& c) { return tip_thickness(c.blade); }, py::arg("case"));
    module.def(
        "feather_stress",
        [](double angle, double pressure, double shear) {
            const FeatherStress s = feather_stress(angle, pressure, shear);
            return py::make_tuple(s.peak, s.loaded_face, s.free_face, s.leading);
        },
        py::arg("angle"), py::arg("pressure"), py::arg("shear"));
    module.def(
        "sliver_source",
        [](double specific_wear, double asperity_load, double peak, double reference_peak, double fraction) {
            const SliverSource s = sliver_source(specific_wear, asperity_load, peak, reference_peak, fraction);
            return py::make_tuple(s.relative_index, s.share, s.worn_volume, s.volume);
        },
        py::arg("specific_wear"), py::arg("asperity_load"), py::arg("peak"), py::arg("reference_peak"),
        py::arg("fraction"));
}
