#include "catch.hpp"
#include "expect.hpp"

#include <cmath>
#include <limits>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "libblade/parameters.hpp"
#include "libblade/solids.hpp"

using namespace libblade;

namespace {

constexpr double pi = 3.14159265358979323846;

std::vector<Problem> refusal(Case target, std::string_view path, double value) {
    const Case before = target;
    try {
        set_number(target, path, value);
    } catch (const InvalidInput& error) {
        CHECK(target == before);  // a refused value changes nothing
        return error.problems();
    }
    return {};
}

const Problem* find(const std::vector<Problem>& problems, std::string_view path) {
    for (const Problem& problem : problems)
        if (problem.path == path) return &problem;
    return nullptr;
}

bool says(const Problem* problem, std::string_view words) {
    return problem != nullptr && problem->message.find(words) != std::string::npos;
}

/// A case that has the field: the alternatives of tip, rheology and load decide which fields exist.
Case case_with(std::string_view path) {
    Case c;
    if (path == "tip.bedded_angle") std::get<Facet>(c.tip).bedding = BeddedAngle{0.48};
    if (path == "tip.bedded_set_angle" || path == "tip.bedded_line_load")
        std::get<Facet>(c.tip).bedding = BeddedElsewhere{0.5, 90.0};
    if (path == "tip.facet_length") std::get<Facet>(c.tip).length = 200e-6;
    if (path.substr(0, 13) == "ink.rheology." && path != "ink.rheology.viscosity") c.ink.rheology = Cross{};
    if (path == "ink.rheology.consistency") c.ink.rheology = PowerLaw{};
    if (path == "ink.rheology.transition") c.ink.rheology = CarreauYasuda{};
    if (path == "roll.engraving.cell_depth") c.roll.engraving.cell_depth = 20e-6;
    if (path == "roll.engraving.aspect") c.roll.engraving.pattern = Pattern::elongated;
    if (path.substr(0, 19) == "roll.bearing_curve.")
        for (int k = 0; k < kMostBearingPoints; ++k) c.roll.bearing_curve.push_back({0.1e-6 * k, 1e8 / (k + 1.0)});
    if (path.substr(0, 15) == "blade.sections.") {
        set_section_count(c, 8);
        for (BladeSection& section : c.blade.sections) section.length = 2e-3, section.end_thickness = 0.2e-3;
    }
    if (path == "setting.holder_stiffness") c.setting.holder_stiffness = 1e7;
    if (path == "setting.holder_rotation_stiffness") c.setting.holder_rotation_stiffness = 1e3;
    if (path.substr(0, 17) == "setting.actuator.") {
        const bool screw = path == "setting.actuator.advance" || path == "setting.actuator.slope";
        set_choice(c, "setting.actuator.kind", screw ? "screw" : "air");
        set_number(c, screw ? "setting.actuator.advance" : "setting.actuator.air_pressure", screw ? 0.3e-3 : 1e5);
    }
    if (path == "setting.interference") c.setting.load = Interference{0.25e-3};
    if (path == "setting.film_supply") c.setting.film_supply = 5e-6;
    if (path == "roll.engraving.pressure_flow_factor") c.roll.engraving.pressure_flow_factor = 4.0;
    if (path == "roll.engraving.land_fraction") c.roll.engraving.land_fraction = 0.25;
    return c;
}

}  // namespace

TEST_CASE("the field table is complete and consistent", "[parameters]") {
    std::set<std::string_view> paths;
    for (const Field& field : field_table()) {
        INFO(field.path);
        CHECK(paths.insert(field.path).second);
        CHECK_FALSE(field.meaning.empty());
        CHECK(find_field(field.path) == &field);
        if (field.kind == FieldKind::choice) {
            CHECK(choices_of(field).size() >= 2);
            continue;
        }
        CHECK_FALSE(field.source.empty());
        CHECK(field.hard_min <= field.usual_min);
        CHECK(field.usual_min < field.usual_max);
        CHECK(field.usual_max <= field.hard_max);
        // Field has a unit of its own dimension; plain numbers have none.
        CHECK(field.display_unit.empty() == (field.dimension == Dimension::none));
        CHECK(std::isfinite(from_si(1.0, field.display_unit, field.dimension)));
        // Hard ranges hold the usual ones widened threefold, where a threefold value still has a meaning.
        const bool bounded = field.dimension == Dimension::none || field.dimension == Dimension::angle ||
                             field.dimension == Dimension::temperature || field.path == "ink.vogel_temperature";
        if (!bounded) {
            CHECK(field.hard_min <= field.usual_min / 3.0);
            CHECK(field.hard_max >= field.usual_max * 3.0);
        }
    }
    CHECK(find_field("blade.thicknes") == nullptr);
    CHECK(find_field("") == nullptr);
}

TEST_CASE("every numeric field can be set and read back, and changes nothing else", "[parameters]") {
    for (const Field& field : field_table()) {
        if (field.kind != FieldKind::number) continue;
        INFO(field.path);
        const Case start = case_with(field.path);
        REQUIRE(has_field(start, field.path));
        const double value = 0.3 * field.usual_min + 0.7 * field.usual_max;
        Case changed = start;
        set_number(changed, field.path, value);
        CHECK(get_number(changed, field.path) == value);
        CHECK_FALSE(changed == start);
        for (const Field& other : field_table()) {
            if (other.kind != FieldKind::number || other.path == field.path) continue;
            const bool same_number = field.path.find("viscosity") != std::string_view::npos &&
                                     (other.path == "ink.viscosity" || other.path == "ink.rheology.viscosity");
            if (same_number) continue;
            INFO(other.path);
            const double before = get_number(start, other.path), after = get_number(changed, other.path);
            CHECK((before == after || (std::isnan(before) && std::isnan(after))));
        }
    }
}

TEST_CASE("every choice can be set and read back", "[parameters]") {
    for (const Field& field : field_table()) {
        for (const std::string_view choice : choices_of(field)) {
            INFO(field.path << " " << choice);
            Case c = case_with(field.path);
            set_choice(c, field.path, choice);
            CHECK(get_choice(c, field.path) == choice);
        }
    }
    Case c;
    set_choice(c, "blade.material.grade", "tool_steel");
    CHECK(c.blade.material == solid_named("tool steel").solid);
    set_number(c, "blade.material.hardness", 7.7e9);
    CHECK_FALSE(has_field(c, "blade.material.grade"));  // a user's own from then on
    CHECK(get_choice(c, "tip.facet_length") == "worn");
    set_choice(c, "setting.orientation", "trailing");
    CHECK(c.setting.orientation == Orientation::trailing);
    set_choice(c, "setting.holding", "floating");
    CHECK(c.setting.holding == Holding::floating);
    set_choice(c, "setting.pressure_side", "roll_facing");
    CHECK(c.setting.pressure_side == PressureSide::roll_facing);
    set_choice(c, "roll.engraving.pattern", "diamond");
    CHECK(c.roll.engraving.pattern == Pattern::diamond);
    set_choice(c, "roll.engraving.pattern", "elongated");
    CHECK(c.roll.engraving.pattern == Pattern::elongated);
    set_choice(c, "roll.engraving.profile", "parabolic");
    CHECK(c.roll.engraving.profile == CellProfile::parabolic);
    set_choice(c, "ink.rheology.law", "power_law");
    CHECK(std::holds_alternative<PowerLaw>(c.ink.rheology));
    set_choice(c, "ink.rheology.law", "carreau_yasuda");
    CHECK(std::holds_alternative<CarreauYasuda>(c.ink.rheology));
    set_choice(c, "tip.bedding", "elsewhere");
    CHECK(std::holds_alternative<BeddedElsewhere>(std::get<Facet>(c.tip).bedding));
    CHECK_THROWS_AS(set_choice(c, "setting.holding", "loose"), InvalidInput);
    CHECK_THROWS_AS(set_choice(c, "blade.thickness", "thin"), InvalidInput);
}

TEST_CASE("values outside the hard range are refused with the range in shop units", "[parameters]") {
    for (const Field& field : field_table()) {
        if (field.kind != FieldKind::number) continue;
        INFO(field.path);
        if (field.path == "ink.rheology.exponent") continue;  // depends on the law, see below
        const Case start = case_with(field.path);
        for (const double bad : {field.hard_min - 1e-3 * (field.hard_max - field.hard_min), field.hard_max * 1.001,
                                 std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity()}) {
            const auto problems = refusal(start, field.path, bad);
            REQUIRE(problems.size() == 1);
            CHECK(problems.front().path == field.path);
            CHECK(says(&problems.front(), hard_range_text(field)));
        }
        CHECK(refusal(start, field.path, field.hard_min).empty());
        CHECK(refusal(start, field.path, field.hard_max).empty());
    }
    // Above m = 1 or at n = 0 the stress of a Cross or power-law ink no longer rises with the shear rate.
    struct Trial {
        Rheology law;
        double low, high;
        std::string_view range;
    };
    for (const Trial& trial :
         {Trial{Newtonian{}, 0.05, 1.0, "between 0.05 and 1"}, Trial{Cross{}, 0.05, 1.0, "between 0.05 and 1"},
          Trial{PowerLaw{}, 0.1, 1.5, "between 0.1 and 1.5"},
          Trial{CarreauYasuda{}, 0.1, 1.5, "between 0.1 and 1.5"}}) {
        Case c;
        c.ink.rheology = trial.law;
        for (const double bad : {0.999 * trial.low, 1.001 * trial.high, 0.0, std::nan("")}) {
            const auto problems = refusal(c, "ink.rheology.exponent", bad);
            REQUIRE(problems.size() == 1);
            CHECK(says(&problems.front(), trial.range));
            Case direct = c;
            std::visit(
                [&](auto& law) {
                    if constexpr (requires { law.exponent; }) law.exponent = bad;
                },
                direct.ink.rheology);
            const auto found = check(direct);
            if (!std::holds_alternative<Newtonian>(trial.law))
                CHECK(says(find(found, "ink.rheology.exponent"), trial.range));
        }
        CHECK(refusal(c, "ink.rheology.exponent", trial.low).empty());
        CHECK(refusal(c, "ink.rheology.exponent", trial.high).empty());
        CHECK(field_in(c, *find_field("ink.density")).hard_max == find_field("ink.density")->hard_max);
    }
    // Vogel's law has a pole at T0.
    CHECK(find_field("ink.vogel_temperature")->hard_max <= find_field("ink.temperature")->hard_min - 10.0);
    CHECK(find_field("ink.vogel_temperature")->hard_max <= find_field("ink.reference_temperature")->hard_min - 10.0);
    CHECK(hard_range_text(*find_field("blade.thickness")) == "between 0.02 mm and 2 mm");
    CHECK(hard_range_text(*find_field("setting.set_angle")) == "between 1 deg and 89 deg");
    CHECK_THROWS_AS(set_number(*std::make_unique<Case>(), "setting.holding", 1.0), InvalidInput);
    CHECK_THROWS_AS(set_number(*std::make_unique<Case>(), "blade.thicknes", 1e-4), InvalidInput);
    CHECK_THROWS_AS(get_number(Case{}, "blade.thicknes"), InvalidInput);
}

TEST_CASE("choosing one alternative replaces the other", "[parameters]") {
    Case c;
    set_number(c, "setting.interference", 0.25e-3);
    CHECK(std::isnan(get_number(c, "setting.line_load")));
    CHECK_FALSE(has_field(c, "setting.line_load"));
    set_number(c, "setting.line_load", 110.0);
    CHECK(std::isnan(get_number(c, "setting.interference")));

    set_number(c, "tip.bedded_angle", 0.48);
    CHECK(get_choice(c, "tip.bedding") == "angle");
    set_number(c, "tip.bedded_set_angle", 0.5);
    CHECK(get_choice(c, "tip.bedding") == "elsewhere");
    CHECK(std::isnan(get_number(c, "tip.bedded_angle")));
    // Half of "elsewhere" is not enough.
    CHECK(says(find(check(c), "tip.bedded_line_load"), "takes both"));
    set_number(c, "tip.bedded_line_load", 90.0);
    CHECK(check(c).empty());
    set_choice(c, "tip.bedding", "here");
    CHECK(std::isnan(get_number(c, "tip.bedded_line_load")));
    CHECK(std::holds_alternative<BeddedHere>(std::get<Facet>(c.tip).bedding));
    set_choice(c, "tip.bedding", "angle");
    CHECK(find(check(c), "tip.bedded_angle") != nullptr);

    Case edge;
    set_number(edge, "tip.edge_radius", 2e-6);
    set_choice(edge, "tip.kind", "square_edge");
    CHECK(get_number(edge, "tip.edge_radius") == 2e-6);
    CHECK_FALSE(has_field(edge, "tip.facet_length"));
    CHECK(get_choice(edge, "tip.bedding").empty());
    CHECK_THROWS_AS(set_number(edge, "tip.facet_length", 1e-4), InvalidInput);
    CHECK_THROWS_AS(set_number(edge, "tip.bedded_angle", 0.5), InvalidInput);
    CHECK_THROWS_AS(set_choice(edge, "tip.bedding", "here"), InvalidInput);
    set_choice(edge, "tip.kind", "facet");
    CHECK(get_choice(edge, "tip.facet_length") == "worn");
}

TEST_CASE("changing the law of an ink keeps its viscosity where the nip works", "[parameters]") {
    Case c;
    set_number(c, "ink.viscosity", 0.04);
    CHECK(get_number(c, "ink.rheology.viscosity") == 0.04);
    set_choice(c, "ink.rheology.law", "cross");
    CHECK(get_number(c, "ink.rheology.zero_shear_viscosity") == 0.04);
    CHECK(get_number(c, "ink.rheology.infinite_shear_viscosity") == 0.04);
    CHECK(std::isnan(get_number(c, "ink.viscosity")));
    set_number(c, "ink.rheology.zero_shear_viscosity", 0.15);
    CHECK(check(c).empty());
    set_choice(c, "ink.rheology.law", "newtonian");
    CHECK(get_number(c, "ink.viscosity") == 0.04);
    set_number(c, "ink.rheology.exponent", 0.8);
    CHECK(get_choice(c, "ink.rheology.law") == "cross");
    set_number(c, "ink.viscosity", 0.05);
    CHECK(get_choice(c, "ink.rheology.law") == "newtonian");
}

TEST_CASE("a change of law keeps the flow curve or its high-shear end", "[parameters]") {
    const std::vector<std::string_view> laws = {"newtonian", "cross", "power_law", "carreau_yasuda"};
    Case power;
    power.ink.rheology = PowerLaw{2.0, 0.7};
    const double at_nip = shear_viscosity(power.ink.rheology, 1e7);
    const Rheology starts[] = {Newtonian{0.04}, Cross{0.2, 0.03, 1e-4, 0.6}, power.ink.rheology,
                               CarreauYasuda{0.2, 0.03, 1e-4, 0.4, 2.0}};
    const double high[] = {0.04, 0.03, at_nip, 0.03};
    for (std::size_t i = 0; i < 4; ++i)
        for (const std::string_view law : laws) {
            INFO(i << " to " << law);
            Case c;
            c.ink.rheology = starts[i];
            set_choice(c, "ink.rheology.law", law);
            CHECK(get_choice(c, "ink.rheology.law") == law);
            CHECK(check(c).empty());
            if (law == laws[i])
                CHECK(c.ink.rheology == starts[i]);
            else if (i == 2)
                expect_close(shear_viscosity(c.ink.rheology, 1e7), at_nip, 1e-14, "the viscosity at 1e7 1/s stays");
            else  // far beyond 1 / lambda the fall has left 1e-7 of the drop at most (exponent 0.6, lambda rate 1e16)
                expect_close(shear_viscosity(c.ink.rheology, 1e20), high[i], 1e-6, "the plateau stays");
        }
    // Cross is Carreau-Yasuda with a = m, n = 1 - m: the whole curve.
    Case cross;
    cross.ink.rheology = starts[1];
    Case carreau = cross;
    set_number(carreau, "ink.rheology.transition", 0.6);
    for (const double rate : {1.0, 1e3, 1e4, 1e6, 1e8})
        expect_close(shear_viscosity(carreau.ink.rheology, rate), shear_viscosity(cross.ink.rheology, rate), 1e-13,
                     "the same function");
    set_choice(carreau, "ink.rheology.law", "cross");
    for (const double rate : {1.0, 1e4, 1e8})
        expect_close(shear_viscosity(carreau.ink.rheology, rate), shear_viscosity(cross.ink.rheology, rate), 1e-13,
                     "and back");
    // A parameter keeps the law that has it, else brings the first that has.
    Case c;
    c.ink.rheology = starts[3];
    set_number(c, "ink.rheology.exponent", 0.6);
    set_number(c, "ink.rheology.time_constant", 2e-4);
    CHECK(c.ink.rheology == Rheology{CarreauYasuda{0.2, 0.03, 2e-4, 0.6, 2.0}});
    set_number(c, "ink.rheology.consistency", 3.0);
    CHECK(c.ink.rheology == Rheology{PowerLaw{3.0, 1.0}});
    set_number(c, "ink.rheology.exponent", 0.8);
    CHECK(c.ink.rheology == Rheology{PowerLaw{3.0, 0.8}});
    set_number(c, "ink.rheology.zero_shear_viscosity", 0.5);
    CHECK(get_choice(c, "ink.rheology.law") == "cross");
    CHECK(std::isnan(get_number(c, "ink.rheology.consistency")));
}

TEST_CASE("depth and volume of the cells are stated one by one", "[parameters]") {
    Case c;
    set_number(c, "roll.engraving.cell_volume", 5e-6);
    set_number(c, "roll.engraving.cell_depth", 12e-6);
    CHECK_FALSE(has_field(c, "roll.engraving.cell_volume"));
    // (1 - 6/100)^2 of the area, 12 um deep (arithmetic).
    expect_close(cell_volume(c.roll.engraving), 0.94 * 0.94 * 12e-6, 1e-14, "open share times depth");
    CHECK(check(c).empty());
    Case volume = c;
    clear_field(volume, "roll.engraving.cell_depth");
    expect_close(get_number(volume, "roll.engraving.cell_volume"), 0.94 * 0.94 * 12e-6, 1e-14, "the cells stay");
    set_number(c, "roll.engraving.cell_volume", 5e-6);
    CHECK_FALSE(has_field(c, "roll.engraving.cell_depth"));
    CHECK(cell_volume(c.roll.engraving) == 5e-6);

    Case deep;  // flat cells of 60 um on a pitch of 100 um
    set_number(deep, "roll.engraving.cell_depth", 60e-6);
    CHECK(says(find(unusual(deep), "roll.engraving.cell_depth"), "pitch 100 um"));
    set_choice(deep, "roll.engraving.profile", "parabolic");  // half as deep on average
    CHECK(unusual(deep).empty());
}

TEST_CASE("a bearing curve rises in gap and falls in pressure", "[parameters]") {
    Case c;
    set_bearing_count(c, 3);
    CHECK(find(check(c), "roll.bearing_curve.2.pressure") != nullptr);  // not set yet
    c.roll.bearing_curve = {{0.0, 3e8}, {0.3e-6, 4e7}, {1e-6, 1e5}};
    CHECK(check(c).empty());
    CHECK(unusual(c).empty());
    CHECK(get_number(c, "roll.bearing_curve.1.gap") == 0.3e-6);
    CHECK(std::isnan(get_number(c, "roll.bearing_curve.3.gap")));
    CHECK_THROWS_AS(set_number(c, "roll.bearing_curve.3.gap", 2e-6), InvalidInput);
    CHECK_THROWS_AS(clear_field(c, "roll.bearing_curve.1.gap"), InvalidInput);
    CHECK_THROWS_AS(set_bearing_count(c, kMostBearingPoints + 1), InvalidInput);
    CHECK_THROWS_AS(set_bearing_count(c, -1), InvalidInput);
    Case flat = c;
    set_number(flat, "roll.bearing_curve.1.gap", 0.0);
    CHECK(says(find(check(flat), "roll.bearing_curve.1.gap"), "larger than roll.bearing_curve.0.gap (0 um)"));
    Case close = c;
    set_number(close, "roll.bearing_curve.1.gap", 1.9e-9);  // of 1 um
    CHECK(says(find(check(close), "roll.bearing_curve.1.gap"), "1/500"));
    set_number(close, "roll.bearing_curve.1.gap", 2.1e-9);
    CHECK(check(close).empty());
    Case rising = c;
    set_number(rising, "roll.bearing_curve.2.pressure", 4e7);
    CHECK(says(find(check(rising), "roll.bearing_curve.2.pressure"),
               "smaller than roll.bearing_curve.1.pressure (40 MPa)"));
    Case one = c;
    set_bearing_count(one, 1);
    CHECK(says(find(check(one), "roll.bearing_curve"), "2 to 12 points"));
    set_bearing_count(one, 0);
    CHECK(one == Case{});
    Case many;
    for (int k = 0; k < 13; ++k) many.roll.bearing_curve.push_back({0.1e-6 * k, 1e8 / (k + 1.0)});
    CHECK(says(find(check(many), "roll.bearing_curve"), "2 to 12 points"));
}

TEST_CASE("fields of lists", "[parameters]") {
    const ListItem item = list_item("roll.bearing_curve.11.pressure");
    CHECK(item.list == "roll.bearing_curve");
    CHECK(item.word == "pressure");
    CHECK(item.index == 11);
    for (const std::string_view path : {"blade.thickness", "roll.bearing_curve", "roll.bearing_curve.1", "1.gap",
                                        "a1.gap", "a.123.gap", "a.1b.gap", ""})
        CHECK(list_item(path).index == -1);
    CHECK(most_items("roll.bearing_curve") == kMostBearingPoints);
    CHECK(most_items("blade.sections") == kMostSections);
    CHECK(most_items("blade") == 0);
    CHECK(most_items("") == 0);
}

TEST_CASE("optional fields can be absent, others cannot", "[parameters]") {
    Case c;
    for (const std::string_view path :
         {"setting.film_supply", "roll.engraving.pressure_flow_factor", "roll.engraving.land_fraction"}) {
        CHECK(std::isnan(get_number(c, path)));
        set_number(c, path, path == "setting.film_supply" ? 5e-6 : 0.5);
        CHECK(has_field(c, path));
        clear_field(c, path);
        CHECK_FALSE(has_field(c, path));
    }
    CHECK(c == Case{});
    CHECK_THROWS_AS(clear_field(c, "blade.thickness"), InvalidInput);
}

TEST_CASE("a good case has no problems and nothing unusual", "[parameters]") {
    CHECK(check(Case{}).empty());
    CHECK(unusual(Case{}).empty());
    Case trailing;
    trailing.setting.orientation = Orientation::trailing;
    trailing.setting.chamber_pressure = 2000.0;
    trailing.setting.pressure_side = PressureSide::roll_facing;
    CHECK(check(trailing).empty());
    Case steep;
    // The very end of the usual range, and what the last bit of pi / 180 may make of it.
    steep.setting.set_angle = std::nextafter(find_field("setting.set_angle")->usual_max, 2.0);
    CHECK(unusual(steep).empty());
}

TEST_CASE("check finds ranges and contradictions, all at once", "[parameters]") {
    Case c;
    c.blade.thickness = std::numeric_limits<double>::quiet_NaN();
    c.roll.radius = -1.0;
    c.setting.surface_speed = 0.0;
    const auto ranges = check(c);
    CHECK(ranges.size() == 3);
    CHECK(find(ranges, "blade.thickness") != nullptr);
    CHECK(find(ranges, "roll.radius") != nullptr);
    CHECK(find(ranges, "setting.surface_speed") != nullptr);

    struct Trial {
        std::string_view path;
        void (*spoil)(Case&);
        std::string_view other;  // the field that takes part
    };
    const Trial trials[] = {
        {"roll.engraving.wall_width", [](Case& x) { x.roll.engraving.wall_width = 110e-6; }, "roll.engraving.screen"},
        {"ink.rheology.infinite_shear_viscosity",
         [](Case& x) {
             x.ink.rheology = Cross{0.03, 0.1, 1e-3, 0.7};
         },
         "ink.rheology.zero_shear_viscosity"},
        {"ink.rheology.infinite_shear_viscosity",
         [](Case& x) {
             x.ink.rheology = CarreauYasuda{0.03, 0.1, 1e-3, 0.7, 2.0};
         },
         "ink.rheology.zero_shear_viscosity"},
        {"roll.engraving.aspect", [](Case& x) { x.roll.engraving.aspect = 2.0; }, "roll.engraving.pattern"},
        {"roll.engraving.profile", [](Case& x) { x.roll.engraving.profile = static_cast<CellProfile>(5); },
         "flat|parabolic"},
        {"tip.facet_length", [](Case& x) { std::get<Facet>(x.tip).length = 1.3e-3; }, "blade.thickness"},
        {"tip.edge_radius", [](Case& x) { x.blade.thickness = 0.15e-3, x.tip = SquareEdge{90e-6}; }, "blade.thickness"},
        {"blade.free_length", [](Case& x) { x.blade.free_length = 1.9e-3, x.blade.thickness = 0.4e-3; },
         "blade.thickness"},
        {"setting.interference", [](Case& x) { x.setting.load = Interference{7e-3}; }, "blade.free_length"},
        {"blade.material.yield_strength", [](Case& x) { x.blade.material.youngs_modulus = 1e9; },
         "blade.material.youngs_modulus"},
        {"roll.material.yield_strength", [](Case& x) { x.roll.material.youngs_modulus = 0.9e9; },
         "roll.material.youngs_modulus"},
        {"setting.holding", [](Case& x) { x.setting.holding = static_cast<Holding>(7); }, "fixed|floating"},
        {"tip.bedded_line_load",
         [](Case& x) {
             std::get<Facet>(x.tip).bedding = BeddedElsewhere{0.5, 0.0};
         },
         "tip.bedded_set_angle"},
    };
    for (const Trial& trial : trials) {
        INFO(trial.path);
        Case spoiled;
        trial.spoil(spoiled);
        const auto problems = check(spoiled);
        CHECK(problems.size() == 1);
        CHECK(says(find(problems, trial.path), trial.other));
    }
    // 3 t / sin(30 deg) = 1.2 mm: just inside is allowed; a smooth roll has no walls.
    Case inside;
    std::get<Facet>(inside.tip).length = 1.19e-3;
    CHECK(check(inside).empty());
    Case stretched;
    set_choice(stretched, "roll.engraving.pattern", "elongated");
    set_number(stretched, "roll.engraving.aspect", 2.0);
    CHECK(check(stretched).empty());
    set_choice(stretched, "roll.engraving.pattern", "hexagon");
    CHECK(stretched == Case{});
    Case smooth;
    smooth.roll.engraving.pattern = Pattern::smooth;
    smooth.roll.engraving.wall_width = 110e-6;
    CHECK(check(smooth).empty());
}

TEST_CASE("an unusual value is named with its usual range and the unit slip that explains it", "[parameters]") {
    struct Trial {
        std::string_view path;
        double value;
        std::string_view meant;  // empty: no slip explains it
    };
    const Trial trials[] = {
        {"setting.set_angle", 1.1 * pi / 180.0, "1.1 rad"},  // deg for rad
        {"ink.viscosity", 30.0, "30 mPa s"},                 // Pa s for mPa s
        {"ink.viscosity", 3e-4, "0.3 Pa s"},                 // mPa s for Pa s
        {"setting.line_load", 0.12, "120 N/m"},              // N/m for N/mm (or kN/m)
        {"setting.line_load", 5000.0, ""},
        {"setting.surface_speed", 50.0, "50 m/min"},     // m/s for m/min
        {"setting.surface_speed", 5.0 / 60.0, "5 m/s"},  // m/min for m/s
        {"roll.radius", 1.0, ""},
        {"roll.engraving.cell_volume", 1e-4, ""},
        {"blade.thickness", 0.5e-3, ""},
        {"roll.land_roughness", 1.5e-6, ""},
    };
    for (const Trial& trial : trials) {
        INFO(trial.path << " " << trial.value);
        Case c = case_with(trial.path);
        set_number(c, trial.path, trial.value);
        const auto found = unusual(c);
        const Problem* problem = find(found, trial.path);
        REQUIRE(problem != nullptr);
        CHECK(says(problem, usual_range_text(*find_field(trial.path))));
        if (trial.meant.empty())
            CHECK_FALSE(says(problem, "meant"));
        else if (trial.path == "setting.line_load")
            CHECK(says(problem, "if 0.12 N/mm was meant"));
        else
            CHECK(says(problem, "if " + std::string(trial.meant) + " was meant"));
    }
    // Refused outright, with the same hint.
    const auto hint = [](std::string_view path, double value) {
        const auto problems = refusal(case_with(path), path, value);
        return problems.empty() ? std::string{} : problems.front().message;
    };
    CHECK(hint("blade.thickness", 0.15).find("0.15 mm") != std::string::npos);
    CHECK(hint("blade.free_length", 12.0).find("12 mm") != std::string::npos);
    CHECK(hint("roll.engraving.wall_width", 5.0).find("5 um") != std::string::npos);
    CHECK(hint("setting.set_angle", 0.5 * pi / 180.0).find("0.5 rad") != std::string::npos);
    CHECK(hint("setting.set_angle", 30.0).find("30 deg") != std::string::npos);
    CHECK(hint("ink.temperature", 25.0).find("25 degC") != std::string::npos);
    CHECK(hint("roll.engraving.screen", 120.0).find("120 1/cm") != std::string::npos);
    CHECK(hint("setting.surface_speed", 300.0).find("300 m/min") != std::string::npos);
    CHECK(hint("blade.material.youngs_modulus", 205.0).find("205 GPa") != std::string::npos);

    Case deep;  // 6 cm3/m2 on 1000 cells/cm: 6 um deep as a mean on a pitch of 10 um
    deep.roll.engraving.screen = 1e5;
    deep.roll.engraving.wall_width = 2e-6;
    CHECK(says(find(unusual(deep), "roll.engraving.cell_volume"), "pitch 10 um"));
    CHECK(check(deep).empty());
}

TEST_CASE("mistyped names find their neighbour", "[parameters]") {
    CHECK(nearest_field("blade.thicknes") == "blade.thickness");
    CHECK(nearest_field("blade.free_lenght") == "blade.free_length");
    CHECK(nearest_field("baldes.thickness") == "blade.thickness");
    CHECK(nearest_field("thickness") == "blade.thickness");
    CHECK(nearest_field("blade.youngs_modulus") == "blade.material.youngs_modulus");
    CHECK(nearest_field("roll.youngs_modulus") == "roll.material.youngs_modulus");
    CHECK(nearest_field("setting.speed") == "setting.surface_speed");
    CHECK(nearest_field("roll.screen") == "roll.engraving.screen");
    CHECK(nearest_field("blade.radius") == "roll.radius");
    CHECK(nearest_field("setting.angle") == "setting.set_angle");
    CHECK(nearest_field("roll.engraving.screen_angel") == "roll.engraving.screen_angle");
    CHECK(nearest_field("setting.moon_phase").empty());
    CHECK(nearest_field("").empty());
    CHECK(nearest_field(std::string(1000000, 'x')).empty());
}

TEST_CASE("a path may carry its unit", "[parameters]") {
    const auto resolved = [](std::string_view path) {
        const NamedField named = resolve_field(path);
        return named.field == nullptr ? std::string{} : std::string(named.field->path) + "|" + std::string(named.unit);
    };
    CHECK(resolved("setting.set_angle_deg") == "setting.set_angle|deg");
    CHECK(resolved("setting.set_angle") == "setting.set_angle|");
    CHECK(resolved("ink.rheology.zero_shear_viscosity_mPa_s") == "ink.rheology.zero_shear_viscosity|mPa s");
    CHECK(resolved("roll.engraving.screen_lines_per_inch") == "roll.engraving.screen|lines/inch");
    CHECK(resolved("roll.engraving.screen_per_cm") == "roll.engraving.screen|1/cm");
    CHECK(resolved("roll.engraving.screen_angle") == "roll.engraving.screen_angle|");
    CHECK(resolved("roll.engraving.screen_angle_deg") == "roll.engraving.screen_angle|deg");
    CHECK(resolved("roll.bearing_curve.10.pressure_MPa") == "roll.bearing_curve.10.pressure|MPa");
    CHECK(resolved("ink.vogel_temperature_K") == "ink.vogel_temperature|K");
    CHECK(resolved("ink.vogel_temperature_degC").empty());
    CHECK(resolved("ink.temperature_degC") == "ink.temperature|degC");
    CHECK(resolved("blade.thickness_deg").empty());
    CHECK(resolved("setting.holding_percent").empty());
    CHECK(resolved("setting.load_step_percent") == "setting.load_step|percent");
    CHECK(resolved("").empty());
}
