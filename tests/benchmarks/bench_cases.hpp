// The case that the benchmarks share.
#pragma once

#include "libblade/case.hpp"

namespace bench_cases {

using namespace libblade;

/// tests/reference/base_case/case.json: water ink, constant flow factor.
inline Case base() {
    Case c;
    c.blade.material = {205e9, 0.29, 5.5e9, 1.6e9, 7850.0};
    c.tip = Facet{200e-6, BeddedHere{}, 1e-6};
    c.roll.engraving.pressure_flow_factor = 4.0;
    c.roll.engraving.land_fraction = 0.25;
    c.ink.rheology = Newtonian{0.03};
    c.setting.surface_speed = 5.0;
    return c;
}

}  // namespace bench_cases
