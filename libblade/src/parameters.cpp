// Access to the fields of a case by path. Ranges and contradictions are in parameters_check.cpp.
#include "libblade/parameters.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <tuple>
#include <utility>

#include "libblade/solids.hpp"

namespace libblade {
namespace {

using Number = std::optional<double>;  // empty: this case has no such field

[[noreturn]] void refuse(std::string_view path, std::string_view value, std::string message) {
    throw InvalidInput({Problem{std::string(path), std::string(value), std::move(message)}});
}

std::string in_quotes(std::string_view text) { return '"' + std::string(text) + '"'; }

struct NumberAccess {
    std::string_view path;
    Number (*get)(const Case&);
    void (*set)(Case&, double);
};

/// A member that is always there, or a std::optional one; `Member` is a lambda without captures.
template <class Member>
constexpr NumberAccess member(std::string_view path, Member) {
    return {path, [](const Case& c) -> Number { return Member{}(c); },
            [](Case& c, double value) { Member{}(c) = value; }};
}

Facet& facet_of(Case& target, std::string_view path) {
    if (auto* facet = std::get_if<Facet>(&target.tip)) return *facet;
    refuse(path, "", "a square edge has no facet; set tip.kind to \"facet\" first");
}

/// Viscosity where the nip works: of a power law, which has no plateau there, at a usual shear rate of nips [Pa s].
double high_shear_viscosity(const Rheology& rheology) noexcept {
    constexpr double usual_rate = 1e7;
    if (const auto* cross = std::get_if<Cross>(&rheology)) return cross->infinite_shear_viscosity;
    if (const auto* carreau = std::get_if<CarreauYasuda>(&rheology)) return carreau->infinite_shear_viscosity;
    return shear_viscosity(rheology, usual_rate);
}

// What another law makes of an ink: the same flow curve where it can hold it, else the same viscosity at high shear. Cross
// is Carreau-Yasuda with a = m and n = 1 - m.
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

template <class Law>
Law& law_of(Case& target) {
    if (!std::holds_alternative<Law>(target.ink.rheology)) target.ink.rheology = as_law(target.ink.rheology, Law{});
    return std::get<Law>(target.ink.rheology);
}

template <class Kind>
Kind& bedding_of(Case& target, std::string_view path) {
    Facet& facet = facet_of(target, path);
    if (!std::holds_alternative<Kind>(facet.bedding)) facet.bedding = Kind{};
    return std::get<Kind>(facet.bedding);
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

BladeSection& section_of(Case& target, std::size_t index) {
    auto& sections = target.blade.sections;
    if (index < sections.size()) return sections[index];
    refuse("blade.sections", std::to_string(sections.size()) + " sections",
           "has no section " + std::to_string(index) + "; they count from 0 at the clamp");
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

Number edge_radius(const Case& c) {
    return std::visit([](const auto& tip) { return tip.edge_radius; }, c.tip);
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

const NumberAccess* find_access(std::string_view path) noexcept {
    const std::span<const NumberAccess> groups[] = {blade_numbers, roll_numbers, ink_numbers, setting_numbers};
    for (const auto& group : groups)
        for (const NumberAccess& access : group)
            if (access.path == path) return &access;
    return nullptr;
}

const Field& known_field(std::string_view path, std::string_view value) {
    if (const Field* field = find_field(path)) return *field;
    const std::string near = nearest_field(path);
    refuse(path, value, "is not a known field" + (near.empty() ? std::string{} : "; the nearest is " + near));
}

/// The solid that a word of blade.material.grade stands for: "tool_steel" is the table's "tool steel".
const Solid& graded(std::string_view word) {
    std::string name(word);
    std::replace(name.begin(), name.end(), '_', ' ');
    return solid_named(name).solid;
}
std::optional<std::size_t> grade_index(const Solid& solid) {
    const auto words = choices_of(*find_field("blade.material.grade"));
    for (std::size_t k = 0; k < words.size(); ++k)
        if (graded(words[k]) == solid) return k;
    return std::nullopt;
}

/// Section that "blade.sections.2.flush" speaks of.
std::optional<std::size_t> flush_index(std::string_view path) noexcept {
    const ListItem item = list_item(path);
    if (item.list != "blade.sections" || item.word != "flush") return std::nullopt;
    return static_cast<std::size_t>(item.index);
}

/// Index of the alternative of a variant or the value of an enumeration that a choice field stands for; the table lists
/// the words in that order, except where noted.
std::optional<std::size_t> choice_index(const Case& c, std::string_view path) {
    const auto* facet = std::get_if<Facet>(&c.tip);
    if (path == "tip.kind") return c.tip.index();
    if (path == "tip.bedding") return facet == nullptr ? std::nullopt : std::optional(facet->bedding.index());
    if (path == "tip.facet_length")
        return facet != nullptr && std::holds_alternative<WornLength>(facet->length) ? std::optional<std::size_t>(0)
                                                                                     : std::nullopt;
    if (path == "ink.rheology.law") return c.ink.rheology.index();
    if (path == "roll.engraving.pattern") return static_cast<std::size_t>(c.roll.engraving.pattern);
    if (path == "roll.engraving.profile") return static_cast<std::size_t>(c.roll.engraving.profile);
    if (path == "setting.orientation") return static_cast<std::size_t>(c.setting.orientation);
    if (path == "setting.holding") return static_cast<std::size_t>(c.setting.holding);
    if (path == "setting.pressure_side") return static_cast<std::size_t>(c.setting.pressure_side);
    if (path == "blade.material.grade") return grade_index(c.blade.material);
    if (path == "setting.actuator.kind") return c.setting.actuator.index();
    if (const auto section = flush_index(path); section && *section < c.blade.sections.size())
        return static_cast<std::size_t>(c.blade.sections[*section].flush);
    return std::nullopt;
}

/// A load that came from another actuator stays as it was.
void choose_actuator(Setting& setting, std::size_t index) {
    if (index == setting.actuator.index()) return;
    if (std::holds_alternative<ByActuator>(setting.load))
        std::visit([&](const auto& load) { setting.load = load; }, load_of(setting));
    if (index == 1)
        setting.actuator = PneumaticActuator{};
    else if (index == 2)
        setting.actuator = ScrewActuator{};
    else
        setting.actuator = NoActuator{};
}

void apply_choice(Case& c, std::string_view path, std::size_t index) {
    if (path == "tip.kind") {
        if (index == c.tip.index()) return;
        const double radius = *edge_radius(c);
        if (index == 0)
            c.tip = Facet{WornLength{}, BeddedHere{}, radius};
        else
            c.tip = SquareEdge{radius};
    } else if (path == "tip.bedding") {
        if (index == 0)
            bedding_of<BeddedHere>(c, path);
        else if (index == 1)
            bedding_of<BeddedElsewhere>(c, path);
        else
            bedding_of<BeddedAngle>(c, path);
    } else if (path == "tip.facet_length") {
        facet_of(c, path).length = WornLength{};
    } else if (path == "ink.rheology.law") {
        if (index == 0)
            law_of<Newtonian>(c);
        else if (index == 1)
            law_of<Cross>(c);
        else if (index == 2)
            law_of<PowerLaw>(c);
        else
            law_of<CarreauYasuda>(c);
    } else if (path == "roll.engraving.pattern") {
        c.roll.engraving.pattern = static_cast<Pattern>(index);
        if (c.roll.engraving.pattern != Pattern::elongated) c.roll.engraving.aspect = Engraving{}.aspect;
    } else if (path == "roll.engraving.profile") {
        c.roll.engraving.profile = static_cast<CellProfile>(index);
    } else if (path == "setting.orientation") {
        c.setting.orientation = static_cast<Orientation>(index);
    } else if (path == "setting.holding") {
        c.setting.holding = static_cast<Holding>(index);
    } else if (path == "setting.pressure_side") {
        c.setting.pressure_side = static_cast<PressureSide>(index);
    } else if (path == "blade.material.grade") {
        c.blade.material = graded(choices_of(*find_field(path))[index]);
    } else if (path == "setting.actuator.kind") {
        choose_actuator(c.setting, index);
    } else if (const auto section = flush_index(path)) {
        section_of(c, *section).flush = static_cast<Flush>(index);
    }
}

}  // namespace

void set_number(Case& target, std::string_view path, double si_value) {
    const Field field = field_in(target, known_field(path, number_text(si_value)));
    const NumberAccess* access = find_access(path);
    if (access == nullptr)
        refuse(path, number_text(si_value), "is a choice, not a number: " + std::string(field.choices));
    if (!(si_value >= field.hard_min && si_value <= field.hard_max)) {
        std::string message = "must be " + hard_range_text(field);
        const std::string slip = likely_slip(field, si_value);
        if (!slip.empty()) message += "; " + slip;
        refuse(path, quantity_text(si_value, field.display_unit, field.dimension), std::move(message));
    }
    access->set(target, si_value);
}

void set_choice(Case& target, std::string_view path, std::string_view choice) {
    const Field& field = known_field(path, in_quotes(choice));
    const std::vector<std::string_view> words = choices_of(field);
    if (words.empty()) refuse(path, in_quotes(choice), "is a number, not a choice");
    const auto found = std::find(words.begin(), words.end(), choice);
    if (found == words.end()) {
        std::string message = field.kind == FieldKind::number ? "must be a number or " : "must be ";
        for (std::size_t i = 0; i < words.size(); ++i)
            message += (i == 0 ? "" : i + 1 == words.size() ? " or " : ", ") + in_quotes(words[i]);
        const std::string near = nearest_word(choice, words);
        refuse(path, in_quotes(choice),
               message + (near.empty() ? std::string{} : "; the nearest is " + in_quotes(near)));
    }
    apply_choice(target, path, static_cast<std::size_t>(found - words.begin()));
}

void set_section_count(Case& target, int count) {
    if (count < 0 || count > kMostSections)
        refuse("blade.sections", std::to_string(count) + " sections",
               "must have at most " + std::to_string(kMostSections) + " sections");
    Blade& blade = target.blade;
    const auto size = static_cast<std::size_t>(count);
    if (size == 0 && !blade.sections.empty())
        std::tie(blade.free_length, blade.thickness) = std::pair(free_length(blade), body_thickness(blade));
    BladeSection next{blade.free_length, blade.thickness, {}, Flush::roll};
    if (!blade.sections.empty()) next = blade.sections.back();
    blade.sections.resize(size, next);
    if (size > 0) blade.free_length = Blade{}.free_length, blade.thickness = Blade{}.thickness;
}

void set_bearing_count(Case& target, int count) {
    if (count < 0 || count > kMostBearingPoints)
        refuse("roll.bearing_curve", std::to_string(count) + " points",
               "must have at most " + std::to_string(kMostBearingPoints) + " points");
    target.roll.bearing_curve.resize(static_cast<std::size_t>(count));
}

void clear_field(Case& target, std::string_view path) {
    known_field(path, "");
    std::optional<double>* optional = nullptr;
    if (path == "setting.film_supply") optional = &target.setting.film_supply;
    if (path == "setting.holder_stiffness") optional = &target.setting.holder_stiffness;
    if (path == "setting.holder_rotation_stiffness") optional = &target.setting.holder_rotation_stiffness;
    if (path == "roll.engraving.pressure_flow_factor") optional = &target.roll.engraving.pressure_flow_factor;
    if (path == "roll.engraving.land_fraction") optional = &target.roll.engraving.land_fraction;
    if (path == "roll.engraving.cell_depth") {
        Engraving& engraving = target.roll.engraving;
        if (engraving.pattern != Pattern::smooth) engraving.cell_volume = cell_volume(engraving);
        optional = &engraving.cell_depth;
    }
    if (const ListItem item = list_item(path); item.list == "blade.sections" && item.word == "end_thickness")
        optional = &section_of(target, static_cast<std::size_t>(item.index)).end_thickness;
    if (optional == nullptr) refuse(path, "", "cannot be left out");
    optional->reset();
}

double get_number(const Case& source, std::string_view path) {
    const Field& field = known_field(path, "");
    const NumberAccess* access = find_access(path);
    if (access == nullptr) refuse(path, "", "is a choice, not a number: " + std::string(field.choices));
    return access->get(source).value_or(std::numeric_limits<double>::quiet_NaN());
}

std::string get_choice(const Case& source, std::string_view path) {
    const std::vector<std::string_view> words = choices_of(known_field(path, ""));
    if (words.empty()) refuse(path, "", "is a number, not a choice");
    const std::optional<std::size_t> index = choice_index(source, path);
    return index && *index < words.size() ? std::string(words[*index]) : std::string{};
}

bool has_field(const Case& source, std::string_view path) {
    known_field(path, "");
    const NumberAccess* access = find_access(path);
    if (access != nullptr && access->get(source).has_value()) return true;
    return choice_index(source, path).has_value();
}

}  // namespace libblade
