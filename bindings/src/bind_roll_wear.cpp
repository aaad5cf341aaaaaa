#include "bind.hpp"
#include "libblade/case.hpp"
#include "libblade/roll_wear.hpp"

using namespace libblade;

void bind_roll_wear(py::module_& module) {
    module.def(
        "roll_life",
        [](const Case& c, double asperity_load, double dry_share, double dry_load, double volume_share) {
            const RollLife life =
                roll_life(c.roll, {asperity_load, c.setting.surface_speed, dry_share, dry_load}, volume_share);
            return py::make_tuple(life.land_loss, life.cell_volume, life.land_fraction, life.wall_width,
                                  life.loss_per_pass, life.revolutions, life.distance, life.hours);
        },
        py::arg("case"), py::arg("asperity_load"), py::arg("dry_share"), py::arg("dry_load"), py::arg("volume_share"));
    module.def(
        "worn_case",
        [](const Case& c, double land_loss) {
            Case worn = c;
            worn.roll.engraving = worn_engraving(c.roll.engraving, land_loss);
            return worn;
        },
        py::arg("case"), py::arg("land_loss"));
}
