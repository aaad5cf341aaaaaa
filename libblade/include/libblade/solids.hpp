// Materials a blade is made of: nominal values with the range within which a grade may lie.
#pragma once

#include <span>
#include <string_view>

#include "libblade/blade.hpp"

namespace libblade {

struct SolidRange {
    double low, high;
};

/// Nominal values and ranges in the units of Solid. Indentation hardness 1 HV = 9.807 MPa.
struct NamedSolid {
    std::string_view name;
    Solid solid;
    SolidRange youngs_modulus, poissons_ratio, hardness, yield_strength, density;
    std::string_view note;  ///< what it stands for, and where the numbers come from
};

/// Steels, a generic polymer and a generic fibre composite. The composite is orthotropic: its values stand for bending
/// along the fibres, yield_strength for the stress at break.
[[nodiscard]] std::span<const NamedSolid> solids_table() noexcept;
/// The solid of a name. Throws InvalidInput with the nearest name where one is near, else with all of them.
[[nodiscard]] const NamedSolid& solid_named(std::string_view name);

}  // namespace libblade
