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

inline Case engraved() {
    Case c = base();
    c.roll.engraving = Engraving{};
    return c;
}
/// Cells, thinning, warming, chamber pressure, worn facet.
inline Case everything() {
    Case c = engraved();
    c.tip = Facet{WornLength{}, BeddedHere{}, 1e-6};
    c.ink.rheology = CarreauYasuda{0.8, 0.15, 1e-5, 0.5, 2.0};
    c.ink.andrade_constant = 4500.0;
    c.setting.surface_speed = 3.0;
    c.setting.chamber_pressure = 3e3;
    return c;
}

}  // namespace bench_cases
