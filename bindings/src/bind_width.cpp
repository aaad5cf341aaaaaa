#include "bind.hpp"
#include "libblade/bending_case.hpp"
#include "libblade/width.hpp"

using namespace libblade;

namespace {

/// Load of the dry blade of a case at an interference; NaN where there is no solution.
double load_at(const Strip& strip, double ratio, double interference) {
    ContactForce force;
    const Bent bent = solve_contact_at(strip, interference, ratio, force);
    return bent.convergence.ok() ? force.normal : std::numeric_limits<double>::quiet_NaN();
}

}  // namespace

void bind_width(py::module_& module) {
    module.def(
        "width_loads",
        [](const Case& c, double friction, bool fixed, double advance, double mean_load, std::size_t places,
           double width, double misalignment, double holder_bow, double holder_sag, double roll_sag,
           double waviness_amplitude, double waviness_length) {
            const WidthShape shape{width,    misalignment,       holder_bow,      holder_sag,
                                   roll_sag, waviness_amplitude, waviness_length, 0.0};
            const WidthLoads loads = [&] {
                const py::gil_scoped_release release;
                const Strip strip = strip_of(c);
                const auto load_of = [&](double interference) {
                    return load_at(strip, tangential_ratio(c, friction), interference);
                };
                return fixed ? fixed_holder_loads(shape, places, strip.length, advance, load_of)
                             : floating_holder_loads(shape, places, strip.length, mean_load, advance, load_of);
            }();
            py::dict out;
            out["y"] = to_array(loads.y);
            out["interference"] = to_array(loads.interference);
            out["load"] = to_array(loads.load);
            out["advance"] = loads.advance;
            out["mean_load"] = loads.mean_load;
            out["lifted_share"] = loads.lifted_share;
            out["wave_stiffening"] = loads.wave_stiffening;
            out["strips_coupled"] = loads.strips_coupled;
            out["convergence"] = convergence_tuple(loads.convergence);
            return out;
        },
        py::arg("case"), py::kw_only(), py::arg("friction"), py::arg("fixed"), py::arg("advance"), py::arg("mean_load"),
        py::arg("places"), py::arg("width"), py::arg("misalignment"), py::arg("holder_bow"), py::arg("holder_sag"),
        py::arg("roll_sag"), py::arg("waviness_amplitude"), py::arg("waviness_length"));
}
