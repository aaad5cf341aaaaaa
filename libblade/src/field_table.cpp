// The field table. Hard ranges: outside, the number is meaningless or the equations cannot be evaluated; they contain
// the usual ranges widened threefold each way where that keeps a meaning. Sources of usual ranges: "practice" is common
// practice without a published source, "memory" was written down from memory, "derived" follows from other rows,
// "assumption" is a modelling choice of this project.
#include <array>
#include <numbers>

#include "libblade/parameters.hpp"

namespace libblade {
namespace {

using D = Dimension;
using K = FieldKind;
/// As the parser converts it: "89 deg" is inside a range that ends at deg(89), to the last bit.
constexpr double deg(double angle) { return angle * std::numbers::pi / 180.0; }

// Rows of one section; the list has kMostSections of them.
// clang-format off
#define LIBBLADE_SECTION(k)                                                                                           \
    {"blade.sections." k ".length", "length of section " k ", counted from the clamp", K::number, D::length, "mm",    \
     1e-5, 0.1, 0.5e-3, 20e-3, "", "practice: thin tips 1.3 to 1.7 mm, memory"},                                      \
    {"blade.sections." k ".thickness", "thickness of section " k " at its clamp end", K::number, D::length, "um",     \
     1e-5, 5e-3, 65e-6, 510e-6, "", "practice, memory: thin tips 65 to 125 um"},                                      \
    {"blade.sections." k ".end_thickness", "thickness of section " k " at its tip end; absent: uniform", K::number,   \
     D::length, "um", 1e-5, 5e-3, 65e-6, 510e-6, "", "practice, memory"},                                             \
    {"blade.sections." k ".flush", "face on which section " k " continues the one before it", K::choice, D::none,     \
     "", 0, 0, 0, 0, "roll|away|centre", ""}

// Rows of one point of the bearing curve; the list has kMostBearingPoints of them.
#define LIBBLADE_BEARING_POINT(k)                                                                                     \
    {"roll.bearing_curve." k ".gap", "gap between mean planes at point " k ", rising from point to point", K::number, \
     D::length, "um", -1e-5, 1e-4, 0.0, 5e-6, "", "assumption: up to 6 rms heights"},                                 \
    {"roll.bearing_curve." k ".pressure", "measured contact pressure on the land at point " k ", falling", K::number, \
     D::pressure, "MPa", 1.0, 1e11, 1e4, 5e9, "", "assumption: asperities that carry from little to hardness"}
// clang-format on

constexpr auto table = std::to_array<Field>({
    {"blade.free_length", "clamp to line of contact along the strip", K::number, D::length, "mm", 1e-3, 0.1, 6e-3,
     20e-3, "", "practice, memory"},
    {"blade.thickness", "thickness of the blade body", K::number, D::length, "mm", 2e-5, 2e-3, 100e-6, 380e-6, "",
     "Western Michigan University lecture notes on doctor blades (100 to 380 um)"},
    LIBBLADE_SECTION("0"),
    LIBBLADE_SECTION("1"),
    LIBBLADE_SECTION("2"),
    LIBBLADE_SECTION("3"),
    LIBBLADE_SECTION("4"),
    LIBBLADE_SECTION("5"),
    LIBBLADE_SECTION("6"),
    LIBBLADE_SECTION("7"),
    {"blade.backing_length", "stiff plate behind the strip, from the clamp towards the tip; 0: none", K::number,
     D::length, "mm", 0.0, 0.1, 0.0, 15e-3, "", "practice"},
    {"blade.backing_gap", "gap between strip and backing plate", K::number, D::length, "um", 0.0, 5e-3, 0.0, 0.2e-3, "",
     "assumption: 0 where they are clamped together"},
    {"blade.specific_wear", "Archard specific wear of the blade in ink", K::number, D::specific_wear, "m2/N", 0.0,
     1e-11, 2e-16, 2e-14, "", "derived from about 1 mm of thin tip per 300 km at 100 N/m (practice)"},
    {"blade.thermal_conductivity", "thermal conductivity of the blade", K::number, D::conductivity, "W/(m K)", 0.01,
     1000.0, 0.15, 60.0, "", "memory: polymer 0.2, stainless steel 16, carbon steel 50 W/(m K)"},
    {"blade.material.grade", "nominal values of a named material, which stated numbers override", K::choice, D::none,
     "", 0, 0, 0, 0, "carbon_steel|stainless_steel|tool_steel|polymer|fibre_composite", ""},
    {"blade.material.youngs_modulus", "Young's modulus of the blade", K::number, D::pressure, "GPa", 1e8, 1.2e12, 0.8e9,
     225e9, "", "memory: polymer 0.8 to tool steel 225 GPa"},
    {"blade.material.poissons_ratio", "Poisson's ratio of the blade", K::number, D::none, "", 0.0, 0.495, 0.25, 0.42,
     "", "memory: steel 0.29, polymer up to 0.42"},
    {"blade.material.hardness", "indentation hardness of the blade", K::number, D::pressure, "GPa", 1e7, 1e11, 0.1e9,
     8e9, "", "500 to 600 HV: Western Michigan University lecture notes; tool steel to 8 GPa, polymer 0.1 GPa: memory"},
    {"blade.material.yield_strength", "yield strength of the blade", K::number, D::pressure, "MPa", 1e6, 2e10, 30e6,
     2.5e9, "", "memory: polymer 30 to hard steel strip 2500 MPa"},
    {"blade.material.density", "density of the blade", K::number, D::density, "kg/m3", 100.0, 3e4, 900.0, 8500.0, "",
     "memory: polymer to tool steel"},

    {"tip.kind", "facet: worn and bedded; square_edge: unworn corner", K::choice, D::none, "", 0, 0, 0, 0,
     "facet|square_edge", ""},
    {"tip.edge_radius", "radius of the edge or of the facet's ends", K::number, D::length, "um", 1e-8, 1e-4, 0.2e-6,
     5e-6, "", "memory"},
    {"tip.facet_length", "length of the worn facet along the roll, or \"worn\" for thickness / sin(effective angle)",
     K::number, D::length, "um", 1e-6, 1e-2, 20e-6, 0.9e-3, "worn",
     "derived: up to a fully worn 0.38 mm blade at 25 deg"},
    {"tip.bedding", "where the facet ran in: here at this setting, elsewhere at another one, or at an angle", K::choice,
     D::none, "", 0, 0, 0, 0, "here|elsewhere|angle", ""},
    {"tip.bedded_angle", "effective angle at which the facet is parallel to the roll (bedding \"angle\")", K::number,
     D::angle, "deg", deg(1), deg(89), deg(10), deg(65), "", "derived from the usual set angles"},
    {"tip.bedded_set_angle", "set angle at which the facet ran in (bedding \"elsewhere\")", K::number, D::angle, "deg",
     deg(1), deg(89), deg(12), deg(65), "", "practice"},
    {"tip.bedded_line_load", "line load at which the facet ran in (bedding \"elsewhere\")", K::number, D::line_load,
     "N/m", 0.1, 1e4, 20.0, 500.0, "", "practice"},

    {"roll.radius", "radius of the engraved roll", K::number, D::length, "mm", 5e-3, 2.0, 0.04, 0.15, "", "practice",
     true},
    {"roll.land_roughness", "combined arithmetic roughness Ra of land and blade; rms height is 1.25 Ra", K::number,
     D::length, "um", 1e-9, 1e-5, 0.05e-6, 0.4e-6, "",
     "practice, memory: 0.1 to 0.4 um, new and polished from 0.05 um"},
    {"roll.asperity_product", "asperity density x tip radius x rms height", K::number, D::none, "", 1e-4, 1.0, 0.03,
     0.05, "", "memory; uncertain by a factor of 10 together with the ratio"},
    {"roll.asperity_ratio", "rms height / asperity tip radius", K::number, D::none, "", 1e-6, 1.0, 1e-4, 1e-2, "",
     "memory; uncertain by a factor of 10 together with the product"},
    LIBBLADE_BEARING_POINT("0"),
    LIBBLADE_BEARING_POINT("1"),
    LIBBLADE_BEARING_POINT("2"),
    LIBBLADE_BEARING_POINT("3"),
    LIBBLADE_BEARING_POINT("4"),
    LIBBLADE_BEARING_POINT("5"),
    LIBBLADE_BEARING_POINT("6"),
    LIBBLADE_BEARING_POINT("7"),
    LIBBLADE_BEARING_POINT("8"),
    LIBBLADE_BEARING_POINT("9"),
    LIBBLADE_BEARING_POINT("10"),
    LIBBLADE_BEARING_POINT("11"),
    {"roll.run_out", "total indicator reading of the roll", K::number, D::length, "um", 0.0, 2e-3, 0.0, 20e-6, "",
     "practice"},
    {"roll.specific_wear", "Archard specific wear of the roll surface in ink", K::number, D::specific_wear, "m2/N", 0.0,
     1e-11, 1e-18, 1e-16, "", "derived from practice; uncertain by a factor of 10"},
    {"roll.dry_specific_wear", "Archard specific wear of the roll surface without ink", K::number, D::specific_wear,
     "m2/N", 0.0, 1e-11, 2.69e-16, 2.69e-14, "",
     "chromium oxide, dry ball on flat, 2.69e-15 m2/N: Bastakys et al. 2023, Coatings 13, 408; range of a factor of "
     "10: "
     "assumption"},
    {"roll.thermal_effusivity", "sqrt(conductivity x density x specific heat) of the roll surface", K::number,
     D::effusivity, "W s^0.5/(m2 K)", 10.0, 1e5, 1000.0, 15000.0, "", "memory: sprayed oxide to steel"},
    {"roll.material.youngs_modulus", "Young's modulus of the roll surface", K::number, D::pressure, "GPa", 1e8, 1.2e12,
     120e9, 250e9, "", "memory: sprayed chromium oxide"},
    {"roll.material.poissons_ratio", "Poisson's ratio of the roll surface", K::number, D::none, "", 0.0, 0.495, 0.2,
     0.3, "", "memory: sprayed chromium oxide, steel"},
    {"roll.material.hardness", "indentation hardness of the roll surface", K::number, D::pressure, "GPa", 1e7, 1e11,
     11e9, 13e9, "", "memory: sprayed chromium oxide, 1100 to 1350 HV0.3"},
    {"roll.material.yield_strength", "yield or compressive strength of the roll surface", K::number, D::pressure, "MPa",
     1e6, 2e10, 0.2e9, 4e9, "", "memory"},
    {"roll.material.density", "density of the roll surface", K::number, D::density, "kg/m3", 100.0, 3e4, 4500.0, 8000.0,
     "", "memory: sprayed chromium oxide to steel"},

    {"roll.engraving.pattern", "cell pattern", K::choice, D::none, "", 0, 0, 0, 0,
     "smooth|hexagon|diamond|channel|elongated", ""},
    {"roll.engraving.screen", "cells per length; the pitch is its inverse", K::number, D::per_length, "1/cm", 300.0,
     3e5, 2300.0, 63000.0, "", "practice: 60 to 1600 lines/inch"},
    {"roll.engraving.wall_width", "width of the land between two cells", K::number, D::length, "um", 1e-7, 1e-3, 2e-6,
     10e-6, "", "practice; below 3 um on the finest: ITSC 2011 paper on sprayed engraved rolls"},
    {"roll.engraving.screen_angle", "turns the pattern from the roll's motion towards its axis", K::number, D::angle,
     "deg", deg(-90), deg(90), 0.0, deg(60), "", "practice: 30, 45 and 60 deg"},
    {"roll.engraving.aspect", "stretch of elongated cells along the motion at screen angle 0", K::number, D::none, "",
     0.1, 10.0, 0.5, 3.0, "", "assumption"},
    {"roll.engraving.corner_radius", "rounding of the cell opening's corners, limited by its sides", K::number,
     D::length, "um", 0.0, 1e-3, 0.0, 20e-6, "", "assumption"},
    {"roll.engraving.profile", "depth over the opening: flat, or parabolic with the deepest point in the middle",
     K::choice, D::none, "", 0, 0, 0, 0, "flat|parabolic", ""},
    {"roll.engraving.cell_depth", "deepest point below the lands; stated instead of cell_volume", K::number, D::length,
     "um", 0.0, 1e-3, 2e-6, 60e-6, "", "derived from the usual volumes"},
    {"roll.engraving.cell_volume", "cell volume per roll area; stated instead of cell_depth", K::number,
     D::volume_per_area, "cm3/m2", 0.0, 2e-4, 1.5e-6, 20e-6, "", "practice"},
    {"roll.engraving.fill", "share of the cell volume that holds ink after the blade", K::number, D::none, "", 0.0, 1.0,
     0.7, 1.0, "", "assumption"},
    {"roll.engraving.pressure_flow_factor", "constant pressure-flow factor under the facet instead of the cell law",
     K::number, D::none, "", 0.01, 1e3, 1.0, 20.0, "", "derived: (2 - f) / f of land fractions from 0.1 to 1"},
    {"roll.engraving.land_fraction", "share of the surface that is land, instead of the geometric one", K::number,
     D::none, "", 1e-3, 1.0, 0.03, 0.6, "", "derived from usual walls and pitches"},

    {"ink.viscosity", "viscosity of a Newtonian ink, at the shear rate of the nip", K::number, D::viscosity, "mPa s",
     1e-4, 1e2, 0.008, 2.0, "", "memory: solvent ink at high shear to energy-curing ink at low shear"},
    {"ink.rheology.law", "law of viscosity against shear rate", K::choice, D::none, "", 0, 0, 0, 0,
     "newtonian|cross|power_law|carreau_yasuda", ""},
    {"ink.rheology.viscosity", "viscosity of the Newtonian law, same as ink.viscosity", K::number, D::viscosity,
     "mPa s", 1e-4, 1e2, 0.008, 2.0, "", "memory: solvent ink at high shear to energy-curing ink at low shear"},
    {"ink.rheology.zero_shear_viscosity", "Cross and Carreau-Yasuda laws: viscosity at rest", K::number, D::viscosity,
     "mPa s", 1e-4, 1e3, 0.02, 2.0, "", "memory: solvent 0.02 to 0.1, water 0.05 to 0.3, energy-curing 0.5 to 2 Pa s"},
    {"ink.rheology.infinite_shear_viscosity", "Cross and Carreau-Yasuda laws: viscosity at high shear rate", K::number,
     D::viscosity, "mPa s", 1e-4, 1e2, 0.008, 0.8, "",
     "memory: solvent 0.008 to 0.03, water 0.015 to 0.06, energy-curing 0.2 to 0.8 Pa s"},
    {"ink.rheology.time_constant", "Cross law: inverse of the shear rate at half the fall; Carreau-Yasuda: lambda",
     K::number, D::time, "ms", 1e-9, 1e4, 1e-6, 1.0, "", "memory"},
    {"ink.rheology.consistency", "power law: K in Pa s^n, the viscosity at 1 1/s", K::number, D::none, "", 1e-4, 1e4,
     0.02, 100.0, "", "derived: usual viscosities at 1e7 1/s with exponents from 0.5 to 1"},
    {"ink.rheology.exponent",
     "Cross law: m, 0.05 to 1, above it stress could fall with shear rate; power law and Carreau-Yasuda: n, 0.1 to 1.5",
     K::number, D::none, "", 0.05, 1.5, 0.3, 1.0, "", "memory"},
    {"ink.rheology.transition", "Carreau-Yasuda law: a, sharpness of the fall; 2 is Carreau's law", K::number, D::none,
     "", 0.1, 10.0, 0.5, 2.0, "", "memory"},
    {"ink.density", "density of the ink", K::number, D::density, "kg/m3", 300.0, 1e4, 1000.0, 1400.0, "", "memory"},
    {"ink.temperature", "temperature of the ink in the supply", K::number, D::temperature, "degC", 260.0, 420.0, 288.0,
     323.0, "", "practice"},
    {"ink.reference_temperature", "temperature at which the rheology was stated", K::number, D::temperature, "degC",
     260.0, 420.0, 288.0, 323.0, "", "practice"},
    {"ink.andrade_constant", "B in exp(B (1/(T - T0) - 1/(T_ref - T0))); 0: no temperature effect", K::number,
     D::temperature_difference, "K", 0.0, 3e4, 0.0, 8000.0, "", "memory"},
    // Ends 10 K below the coldest ink that a case may state.
    {"ink.vogel_temperature", "T0 of Vogel's law, above absolute zero; 0: Andrade's law", K::number,
     D::temperature_difference, "K", 0.0, 250.0, 0.0, 220.0, "", "memory: 50 to 100 K below the glass transition"},
    {"ink.thermal_conductivity", "thermal conductivity of the ink", K::number, D::conductivity, "W/(m K)", 0.01, 10.0,
     0.1, 0.7, "", "memory"},
    {"ink.heat_capacity", "specific heat of the ink", K::number, D::specific_heat, "J/(kg K)", 200.0, 2e4, 1500.0,
     4200.0, "", "memory"},

    {"ink.air_fraction",
     "share of air in the ink that fills the cells, at ambient pressure; only its validity is watched", K::number,
     D::none, "", 0.0, 0.9, 0.0, 0.02, "", "assumption: 0 to a few per cent of foam"},

    {"setting.orientation", "doctoring: the tip points against the motion; trailing: with it", K::choice, D::none, "",
     0, 0, 0, 0, "doctoring|trailing", ""},
    {"setting.holding", "fixed: the holder stays where it was set; floating: the load stays", K::choice, D::none, "", 0,
     0, 0, 0, "fixed|floating", ""},
    {"setting.set_angle", "undeformed blade to roll tangent at first touch", K::number, D::angle, "deg", deg(1),
     deg(89), deg(12), deg(65), "", "practice: 25 to 40 deg, containing blade down to 12, gravure up to 65", true},
    {"setting.line_load", "load per width at which the blade is set and bedded", K::number, D::line_load, "N/m", 0.1,
     1e4, 20.0, 500.0, "", "practice; 90 to 220 in paper-roll doctoring: supplier notes"},
    {"setting.interference", "holder advance past first touch, towards the roll's centre", K::number, D::length, "mm",
     0.0, 20e-3, 0.03e-3, 3e-3, "", "derived: 20 to 500 N/m on usual blades"},
    {"setting.actuator.kind", "what presses the blade on: none stated, air (pistons and lever) or a screw", K::choice,
     D::none, "", 0, 0, 0, 0, "none|air|screw", ""},
    {"setting.actuator.air_pressure", "gauge pressure at the pistons; stated instead of a load", K::number, D::pressure,
     "bar", 0.0, 2e6, 0.2e5, 6e5, "", "practice: shop air"},
    {"setting.actuator.piston_area", "area of all pistons together", K::number, D::area, "cm2", 1e-6, 1.0, 1e-4, 2e-2,
     "", "practice"},
    {"setting.actuator.lever_ratio", "force at the blade over force at the pistons", K::number, D::none, "", 0.01,
     100.0, 0.1, 10.0, "", "practice"},
    {"setting.actuator.blade_width", "width of the blade across the web", K::number, D::length, "m", 0.01, 30.0, 0.1,
     4.0, "", "practice"},
    {"setting.actuator.dead_load", "weight or springs at the blade without air; negative lifts it off", K::number,
     D::force, "N", -1e5, 1e5, -500.0, 500.0, "", "practice"},
    {"setting.actuator.advance", "travel of the screw past first touch; stated instead of a load", K::number, D::length,
     "mm", 0.0, 0.05, 0.03e-3, 4e-3, "", "derived from the usual interferences"},
    {"setting.actuator.slope", "screw to the roll's normal at the contact", K::number, D::angle, "deg", deg(-80),
     deg(80), deg(-60), deg(60), "", "practice"},
    {"setting.surface_speed", "surface speed of the roll", K::number, D::speed, "m/min", 1e-3, 100.0, 0.5, 10.0, "",
     "practice: narrow web 0.5 to 3, corrugated 2 to 5, wide web 3 to 10 m/s", true},
    {"setting.friction", "boundary friction coefficient, wet with ink", K::number, D::none, "", 0.0, 2.0, 0.08, 0.2, "",
     "memory; dry chromium oxide 0.43 to 0.50: Bastakys et al. 2022, Coatings 12, 1035"},
    {"setting.chamber_pressure", "gauge pressure on the ink side", K::number, D::pressure, "kPa", 0.0, 1e6, 0.0, 10e3,
     "", "memory: 0.5 to 10 kPa; 0: open"},
    {"setting.pressure_side", "face of the blade on which the chamber pressure acts", K::choice, D::none, "", 0, 0, 0,
     0, "by_orientation|away_from_roll|roll_facing", ""},
    {"setting.wetted_length", "how far ink wets the blade upstream of the contact", K::number, D::length, "um", 1e-7,
     2e-2, 1e-5, 3e-3, "", "assumption; doctoring: at most the remaining cut face"},
    {"setting.load_step", "relative step of load (floating) or interference (fixed) for the step response", K::number,
     D::none, "", 0.0, 0.9, 0.02, 0.3, "", "assumption"},
    {"setting.holder_stiffness", "stiffness of the holder along the roll's normal, per width; absent: rigid", K::number,
     D::stiffness_per_width, "N/m/mm", 1e3, 1e12, 1e5, 1e8, "", "memory"},
    {"setting.holder_rotation_stiffness", "stiffness of the holder against turning, per width; absent: rigid",
     K::number, D::rotational_stiffness, "N/rad", 0.1, 1e9, 50.0, 1e5, "", "memory"},
    {"setting.film_supply", "ink layer that arrives on the lands; absent: flooded", K::number, D::length, "um", 1e-9,
     1e-3, 0.1e-6, 100e-6, "", "derived from usual cell volumes"},
});

}  // namespace

std::span<const Field> field_table() noexcept { return table; }

}  // namespace libblade
