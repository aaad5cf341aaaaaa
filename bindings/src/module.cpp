// Table of contents of libblade._core.
#include "bind.hpp"
#include "libblade/version.hpp"

PYBIND11_MODULE(_core, module) {
    module.doc() = "C++ core of libblade: SI numbers in, SI numbers out. Use the package libblade.";
    module.attr("version") = libblade::version;
    bind_error(module);
    bind_case(module);
    bind_parameters(module);
    bind_nip(module);
    bind_branches(module);
    bind_sweep(module);
    bind_evaluate(module);
    bind_window(module);
    bind_film(module);
    bind_bending(module);
    bind_laws(module);
    bind_flow_cup(module);
    bind_actuator(module);
    bind_tip_outline(module);
    bind_width(module);
    bind_wear(module);
    bind_roll_wear(module);
    bind_feather(module);
    bind_scoring(module);
    bind_print(module);
    bind_lines(module);
    bind_tracing(module);
    bind_cell_flow(module);
    bind_ink_flow(module);
    bind_schema(module);
    bind_lesson(module);
}
