// Options of tests that solve many points.
#pragma once

#include "libblade/nip.hpp"

/// The state alone, with tables that the whole program keeps.
inline libblade::NipOptions bare() {
    static libblade::FlowTables tables;
    libblade::NipOptions o;
    o.step_response = o.other_branch = o.run_out = false;
    o.tables = &tables;
    return o;
}
