#include "parameters_access.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <span>
#include <unordered_map>
#include <utility>

namespace libblade::detail {

void refuse(std::string_view path, std::string_view value, std::string message) {
    throw InvalidInput({Problem{std::string(path), std::string(value), std::move(message)}});
}

Facet& facet_of(Case& target, std::string_view path) {
    if (auto* facet = std::get_if<Facet>(&target.tip)) return *facet;
    refuse(path, "", "a square edge has no facet; set tip.kind to \"facet\" first");
}

namespace {

/// Viscosity where the nip works: of a power law, which has no plateau there, at a usual shear rate of nips [Pa s].
double high_shear_viscosity(const Rheology& rheology) noexcept {
    constexpr double usual_rate = 1e7;
    if (const auto* cross = std::get_if<Cross>(&rheology)) return cross->infinite_shear_viscosity;
    if (const auto* carreau = std::get_if<CarreauYasuda>(&rheology)) return carreau->infinite_shear_viscosity;
    return shear_viscosity(rheology, usual_rate);
}

}  // namespace

// Cross is Carreau-Yasuda with a = m and n = 1 - m.
Newtonian as_law(const Rheology& from, Newtonian) { return {high_shear_viscosity(from)}; }
PowerLaw as_law(const Rheology& from, PowerLaw) { return {high_shear_viscosity(from), 1.0}; }
Cross as_law(const Rheology& from, Cross law) {
    law.zero_shear_viscosity = law.infinite_shear_viscosity = high_shear_viscosity(from);
    if (const auto* same = std::get_if<CarreauYasuda>(&from))
        law = {same->zero_shear_viscosity, same->infinite_shear_viscosity, same->time_constant,
               std::clamp(1.0 - same->exponent, 0.05, 1.0)};
    return law;
}
CarreauYasuda as_law(const Rheology& from, CarreauYasuda law) {
    law.zero_shear_viscosity = law.infinite_shear_viscosity = high_shear_viscosity(from);
    if (const auto* same = std::get_if<Cross>(&from))
        law = {same->zero_shear_viscosity, same->infinite_shear_viscosity, same->time_constant,
               std::max(1.0 - same->exponent, 0.1), std::max(same->exponent, 0.1)};
    return law;
}

BladeSection& section_of(Case& target, std::size_t index) {
    auto& sections = target.blade.sections;
    if (index < sections.size()) return sections[index];
    refuse("blade.sections", std::to_string(sections.size()) + " sections",
           "has no section " + std::to_string(index) + "; they count from 0 at the clamp");
}
Number edge_radius(const Case& c) {
    return std::visit([](const auto& tip) { return tip.edge_radius; }, c.tip);
}

namespace {

/// A member that is always there, or a std::optional one; `Member` is a lambda without captures.
template <class Member>
constexpr NumberAccess member(std::string_view path, Member) {
    return {path, [](const Case& c) -> Number { return Member{}(c); },
            [](Case& c, double value) { Member{}(c) = value; }};
}

template <class Kind>
Kind& actuator_of(Case& target, std::string_view path) {
    if (auto* actuator = std::get_if<Kind>(&target.setting.actuator)) return *actuator;
    constexpr bool air = std::is_same_v<Kind, PneumaticActuator>;
    refuse(path, "", std::string("set setting.actuator.kind to ") + (air ? "\"air\"" : "\"screw\"") + " first");
}

/// Thickness and length of a blade without sections.
template <double Blade::*Value>
constexpr NumberAccess uniform_number(std::string_view path) {
    return {path, [](const Case& c) { return c.blade.sections.empty() ? Number{c.blade.*Value} : Number{}; },
            [](Case& c, double value) {
                if (!c.blade.sections.empty())
                    refuse("blade.sections", "",
                           "this blade is made of sections: set blade.sections.0.thickness and the like");
                c.blade.*Value = value;
            }};
}

template <std::size_t Index, class Member>
constexpr NumberAccess section_member(std::string_view path, Member) {
    return {path,
            [](const Case& c) {
                return Index < c.blade.sections.size() ? Number{Member{}(c.blade.sections[Index])} : Number{};
            },
            [](Case& c, double value) { Member{}(section_of(c, Index)) = value; }};
}

template <std::size_t Index, double BearingPoint::*Value>
constexpr NumberAccess bearing_number(std::string_view path) {
    return {path,
            [](const Case& c) {
                const auto& points = c.roll.bearing_curve;
                return Index < points.size() ? Number{points[Index].*Value} : Number{};
            },
            [](Case& c, double value) {
                auto& points = c.roll.bearing_curve;
                if (Index >= points.size())
                    refuse("roll.bearing_curve", std::to_string(points.size()) + " points",
                           "has no point " + std::to_string(Index) + "; they count from 0 at the smallest gap");
                points[Index].*Value = value;
            }};
}

/// Member of one alternative of the tip's bedding, the rheology or the load.
template <class Kind, class Variant>
Number of_variant(const Variant& variant, double Kind::*value) {
    const auto* kind = std::get_if<Kind>(&variant);
    return kind == nullptr ? Number{} : Number{kind->*value};
}

template <class Kind>
Number of_bedding(const Case& c, double Kind::*value) {
    const auto* facet = std::get_if<Facet>(&c.tip);
    return facet == nullptr ? Number{} : of_variant(facet->bedding, value);
}

Number facet_length(const Case& c) {
    const auto* facet = std::get_if<Facet>(&c.tip);
    const double* length = facet == nullptr ? nullptr : std::get_if<double>(&facet->length);
    return length == nullptr ? Number{} : Number{*length};
}

constexpr std::string_view bedded_angle = "tip.bedded_angle";
constexpr std::string_view bedded_set_angle = "tip.bedded_set_angle";
constexpr std::string_view bedded_line_load = "tip.bedded_line_load";

#define LIBBLADE_SECTION(k)                                                                   \
    section_member<k>(                                                                        \
        "blade.sections." #k ".length", [](auto& s) -> auto& { return s.length; }),           \
        section_member<k>(                                                                    \
            "blade.sections." #k ".thickness", [](auto& s) -> auto& { return s.thickness; }), \
        section_member<k>(                                                                    \
            "blade.sections." #k ".end_thickness", [](auto& s) -> auto& { return s.end_thickness; })

constexpr auto blade_numbers = std::to_array<NumberAccess>({
    uniform_number<&Blade::free_length>("blade.free_length"),
    uniform_number<&Blade::thickness>("blade.thickness"),
    LIBBLADE_SECTION(0),
    LIBBLADE_SECTION(1),
    LIBBLADE_SECTION(2),
    LIBBLADE_SECTION(3),
    LIBBLADE_SECTION(4),
    LIBBLADE_SECTION(5),
    LIBBLADE_SECTION(6),
    LIBBLADE_SECTION(7),
    member(
        "blade.backing_length", [](auto& c) -> auto& { return c.blade.backing_length; }),
    member(
        "blade.backing_gap", [](auto& c) -> auto& { return c.blade.backing_gap; }),
    member(
        "blade.specific_wear", [](auto& c) -> auto& { return c.blade.specific_wear; }),
    member(
        "blade.thermal_conductivity", [](auto& c) -> auto& { return c.blade.thermal_conductivity; }),
    member(
        "blade.material.youngs_modulus", [](auto& c) -> auto& { return c.blade.material.youngs_modulus; }),
    member(
        "blade.material.poissons_ratio", [](auto& c) -> auto& { return c.blade.material.poissons_ratio; }),
    member(
        "blade.material.hardness", [](auto& c) -> auto& { return c.blade.material.hardness; }),
    member(
        "blade.material.yield_strength", [](auto& c) -> auto& { return c.blade.material.yield_strength; }),
    member(
        "blade.material.density", [](auto& c) -> auto& { return c.blade.material.density; }),
    {"tip.edge_radius", edge_radius,
     [](Case& c, double value) { std::visit([value](auto& tip) { tip.edge_radius = value; }, c.tip); }},
    {"tip.facet_length", facet_length, [](Case& c, double value) { facet_of(c, "tip.facet_length").length = value; }},
    {bedded_angle, [](const Case& c) { return of_bedding(c, &BeddedAngle::angle); },
     [](Case& c, double value) { bedding_of<BeddedAngle>(c, bedded_angle).angle = value; }},
    {bedded_set_angle, [](const Case& c) { return of_bedding(c, &BeddedElsewhere::set_angle); },
     [](Case& c, double value) { bedding_of<BeddedElsewhere>(c, bedded_set_angle).set_angle = value; }},
    {bedded_line_load, [](const Case& c) { return of_bedding(c, &BeddedElsewhere::line_load); },
     [](Case& c, double value) { bedding_of<BeddedElsewhere>(c, bedded_line_load).line_load = value; }},
});

/// A volume beside a depth is not stated: the depth decides it.
Number stated_volume(const Case& c) {
    return c.roll.engraving.cell_depth ? Number{} : Number{c.roll.engraving.cell_volume};
}

#define LIBBLADE_BEARING_POINT(k)                                           \
    bearing_number<k, &BearingPoint::gap>("roll.bearing_curve." #k ".gap"), \
        bearing_number<k, &BearingPoint::pressure>("roll.bearing_curve." #k ".pressure")

constexpr auto roll_numbers = std::to_array<NumberAccess>({
    member(
        "roll.radius", [](auto& c) -> auto& { return c.roll.radius; }),
    member(
        "roll.land_roughness", [](auto& c) -> auto& { return c.roll.land_roughness; }),
    member(
        "roll.asperity_product", [](auto& c) -> auto& { return c.roll.asperity_product; }),
    member(
        "roll.asperity_ratio", [](auto& c) -> auto& { return c.roll.asperity_ratio; }),
    LIBBLADE_BEARING_POINT(0),
    LIBBLADE_BEARING_POINT(1),
    LIBBLADE_BEARING_POINT(2),
    LIBBLADE_BEARING_POINT(3),
    LIBBLADE_BEARING_POINT(4),
    LIBBLADE_BEARING_POINT(5),
    LIBBLADE_BEARING_POINT(6),
    LIBBLADE_BEARING_POINT(7),
    LIBBLADE_BEARING_POINT(8),
    LIBBLADE_BEARING_POINT(9),
    LIBBLADE_BEARING_POINT(10),
    LIBBLADE_BEARING_POINT(11),
    member(
        "roll.run_out", [](auto& c) -> auto& { return c.roll.run_out; }),
    member(
        "roll.specific_wear", [](auto& c) -> auto& { return c.roll.specific_wear; }),
    member(
        "roll.dry_specific_wear", [](auto& c) -> auto& { return c.roll.dry_specific_wear; }),
    member(
        "roll.thermal_effusivity", [](auto& c) -> auto& { return c.roll.thermal_effusivity; }),
    member(
        "roll.material.youngs_modulus", [](auto& c) -> auto& { return c.roll.material.youngs_modulus; }),
    member(
        "roll.material.poissons_ratio", [](auto& c) -> auto& { return c.roll.material.poissons_ratio; }),
    member(
        "roll.material.hardness", [](auto& c) -> auto& { return c.roll.material.hardness; }),
    member(
        "roll.material.yield_strength", [](auto& c) -> auto& { return c.roll.material.yield_strength; }),
    member(
        "roll.material.density", [](auto& c) -> auto& { return c.roll.material.density; }),
    member(
        "roll.engraving.screen", [](auto& c) -> auto& { return c.roll.engraving.screen; }),
    member(
        "roll.engraving.wall_width", [](auto& c) -> auto& { return c.roll.engraving.wall_width; }),
    {"roll.engraving.cell_volume", stated_volume,
     [](Case& c, double value) {
         c.roll.engraving.cell_volume = value;
         c.roll.engraving.cell_depth.reset();
     }},
    {"roll.engraving.cell_depth", [](const Case& c) -> Number { return c.roll.engraving.cell_depth; },
     [](Case& c, double value) {
         c.roll.engraving.cell_depth = value;
         c.roll.engraving.cell_volume = Engraving{}.cell_volume;
     }},
    member(
        "roll.engraving.screen_angle", [](auto& c) -> auto& { return c.roll.engraving.screen_angle; }),
    member(
        "roll.engraving.aspect", [](auto& c) -> auto& { return c.roll.engraving.aspect; }),
    member(
        "roll.engraving.corner_radius", [](auto& c) -> auto& { return c.roll.engraving.corner_radius; }),
    member(
        "roll.engraving.fill", [](auto& c) -> auto& { return c.roll.engraving.fill; }),
    member(
        "roll.engraving.pressure_flow_factor", [](auto& c) -> auto& { return c.roll.engraving.pressure_flow_factor; }),
    member(
        "roll.engraving.land_fraction", [](auto& c) -> auto& { return c.roll.engraving.land_fraction; }),
});

/// Reading of an actuator: absent while the case states a load itself. Setting it makes the load follow it.
template <class Kind, double Kind::*Value>
constexpr NumberAccess reading(std::string_view path) {
    return {path,
            [](const Case& c) {
                const bool read = std::holds_alternative<ByActuator>(c.setting.load);
                return read ? of_variant(c.setting.actuator, Value) : Number{};
            },
            [](Case& c, double value) {
                actuator_of<Kind>(c, "setting.actuator").*Value = value;
                c.setting.load = ByActuator{};
            }};
}
template <class Kind, double Kind::*Value>
constexpr NumberAccess actuator_number(std::string_view path) {
    return {path, [](const Case& c) { return of_variant(c.setting.actuator, Value); },
            [](Case& c, double value) { actuator_of<Kind>(c, "setting.actuator").*Value = value; }};
}

/// A number of one or more laws; setting it turns an ink of another law into the first of them.
template <class Law>
Law law_with(double Law::*);
template <auto First, auto... Others>
constexpr NumberAccess law_number(std::string_view path) {
    return {path,
            [](const Case& c) {
                Number found = of_variant(c.ink.rheology, First);
                ((found = found ? found : of_variant(c.ink.rheology, Others)), ...);
                return found;
            },
            [](Case& c, double value) {
                const auto take = [&](auto member) {
                    auto* law = std::get_if<decltype(law_with(member))>(&c.ink.rheology);
                    if (law != nullptr) law->*member = value;
                    return law != nullptr;
                };
                if (!(take(First) || ... || take(Others))) law_of<decltype(law_with(First))>(c).*First = value;
            }};
}

constexpr auto ink_numbers = std::to_array<NumberAccess>({
    law_number<&Newtonian::viscosity>("ink.viscosity"),
    law_number<&Newtonian::viscosity>("ink.rheology.viscosity"),
    law_number<&Cross::zero_shear_viscosity, &CarreauYasuda::zero_shear_viscosity>("ink.rheology.zero_shear_viscosity"),
    law_number<&Cross::infinite_shear_viscosity, &CarreauYasuda::infinite_shear_viscosity>(
        "ink.rheology.infinite_shear_viscosity"),
    law_number<&Cross::time_constant, &CarreauYasuda::time_constant>("ink.rheology.time_constant"),
    law_number<&PowerLaw::consistency>("ink.rheology.consistency"),
    law_number<&Cross::exponent, &PowerLaw::exponent, &CarreauYasuda::exponent>("ink.rheology.exponent"),
    law_number<&CarreauYasuda::transition>("ink.rheology.transition"),
    member(
        "ink.density", [](auto& c) -> auto& { return c.ink.density; }),
    member(
        "ink.temperature", [](auto& c) -> auto& { return c.ink.temperature; }),
    member(
        "ink.reference_temperature", [](auto& c) -> auto& { return c.ink.reference_temperature; }),
    member(
        "ink.andrade_constant", [](auto& c) -> auto& { return c.ink.andrade_constant; }),
    member(
        "ink.vogel_temperature", [](auto& c) -> auto& { return c.ink.vogel_temperature; }),
    member(
        "ink.thermal_conductivity", [](auto& c) -> auto& { return c.ink.thermal_conductivity; }),
    member(
        "ink.heat_capacity", [](auto& c) -> auto& { return c.ink.heat_capacity; }),
    member(
        "ink.air_fraction", [](auto& c) -> auto& { return c.ink.air_fraction; }),
});

constexpr auto setting_numbers = std::to_array<NumberAccess>({
    member(
        "setting.set_angle", [](auto& c) -> auto& { return c.setting.set_angle; }),
    {"setting.line_load", [](const Case& c) { return of_variant(c.setting.load, &LineLoad::value); },
     [](Case& c, double value) { c.setting.load = LineLoad{value}; }},
    {"setting.interference", [](const Case& c) { return of_variant(c.setting.load, &Interference::value); },
     [](Case& c, double value) { c.setting.load = Interference{value}; }},
    reading<PneumaticActuator, &PneumaticActuator::air_pressure>("setting.actuator.air_pressure"),
    actuator_number<PneumaticActuator, &PneumaticActuator::piston_area>("setting.actuator.piston_area"),
    actuator_number<PneumaticActuator, &PneumaticActuator::lever_ratio>("setting.actuator.lever_ratio"),
    actuator_number<PneumaticActuator, &PneumaticActuator::blade_width>("setting.actuator.blade_width"),
    actuator_number<PneumaticActuator, &PneumaticActuator::dead_load>("setting.actuator.dead_load"),
    reading<ScrewActuator, &ScrewActuator::advance>("setting.actuator.advance"),
    actuator_number<ScrewActuator, &ScrewActuator::slope>("setting.actuator.slope"),
    member(
        "setting.surface_speed", [](auto& c) -> auto& { return c.setting.surface_speed; }),
    member(
        "setting.friction", [](auto& c) -> auto& { return c.setting.friction; }),
    member(
        "setting.chamber_pressure", [](auto& c) -> auto& { return c.setting.chamber_pressure; }),
    member(
        "setting.wetted_length", [](auto& c) -> auto& { return c.setting.wetted_length; }),
    member(
        "setting.load_step", [](auto& c) -> auto& { return c.setting.load_step; }),
    member(
        "setting.holder_stiffness", [](auto& c) -> auto& { return c.setting.holder_stiffness; }),
    member(
        "setting.holder_rotation_stiffness", [](auto& c) -> auto& { return c.setting.holder_rotation_stiffness; }),
    member(
        "setting.film_supply", [](auto& c) -> auto& { return c.setting.film_supply; }),
});

}  // namespace

const NumberAccess* find_access(std::string_view path) noexcept {
    static const auto places = [] {
        std::unordered_map<std::string_view, const NumberAccess*> map;
        for (const std::span<const NumberAccess> group :
             {std::span<const NumberAccess>(blade_numbers), std::span<const NumberAccess>(roll_numbers),
              std::span<const NumberAccess>(ink_numbers), std::span<const NumberAccess>(setting_numbers)})
            for (const NumberAccess& access : group) map.emplace(access.path, &access);
        return map;
    }();
    const auto found = places.find(path);
    return found == places.end() ? nullptr : found->second;
}

}  // namespace libblade::detail
