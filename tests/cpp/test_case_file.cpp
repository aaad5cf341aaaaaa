#include "catch.hpp"
#include "expect.hpp"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <limits>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include "libblade/case_file.hpp"
#include "libblade/parameters.hpp"

using namespace libblade;

namespace {

const std::string reference = LIBBLADE_TEST_REFERENCE;

std::string contents(const std::string& file_name) {
    std::ifstream file(file_name, std::ios::binary);
    REQUIRE(file);
    std::ostringstream text;
    text << file.rdbuf();
    return text.str();
}

/// Lines "a | b | c" of a manifest without its comments; short lines are filled up with empty parts.
std::vector<std::vector<std::string>> manifest(const std::string& file_name) {
    std::vector<std::vector<std::string>> rows;
    std::istringstream text(contents(file_name));
    for (std::string line; std::getline(text, line);) {
        if (line.empty() || line.front() == '#') continue;
        std::vector<std::string> row;
        for (std::size_t start = 0; start <= line.size();) {
            const std::size_t bar = std::min(line.find(" | ", start), line.size());
            row.push_back(line.substr(start, bar - start));
            start = bar + 3;
        }
        if (row.back().size() > 2 && row.back().substr(row.back().size() - 2) == " |")
            row.back().resize(row.back().size() - 2);
        row.resize(3);
        rows.push_back(row);
    }
    return rows;
}

std::vector<Problem> refusal(const std::string& text) {
    try {
        (void)read_case(text);
    } catch (const InvalidInput& error) {
        CHECK_FALSE(error.problems().empty());
        return error.problems();
    }
    return {};
}

const std::string minimal = R"({
  "blade": {"free_length_mm": 12, "thickness_mm": 0.2},
  "roll": {"radius": 0.07},
  "ink": {"viscosity": 0.03},
  "setting": {"set_angle_deg": 30, "line_load": 100, "surface_speed": 5}
})";

void check_round_trip(const Case& original) {
    const std::string text = write_case(original);
    const Case again = read_case(text);
    CHECK(again == original);
    CHECK(write_case(again) == text);
}

}  // namespace

TEST_CASE("every malformed case is refused at its field", "[case_file]") {
    const auto rows = manifest(reference + "/malformed_cases/manifest.txt");
    REQUIRE(rows.size() >= 45);
    for (const auto& row : rows) {
        INFO(row[0]);
        const auto problems = refusal(contents(reference + "/malformed_cases/" + row[0]));
        REQUIRE_FALSE(problems.empty());
        std::istringstream paths(row[1]);
        for (std::string path; paths >> path;) {
            if (path == "-") path.clear();
            INFO("must name " << path);
            CHECK(std::any_of(problems.begin(), problems.end(), [&](const Problem& p) { return p.path == path; }));
        }
        INFO("must say " << row[2]);
        CHECK(std::any_of(problems.begin(), problems.end(),
                          [&](const Problem& p) { return p.message.find(row[2]) != std::string::npos; }));
    }
}

TEST_CASE("a broken field brings no problems of other fields", "[case_file]") {
    // The files that break one thing name one thing. These break several, or leave a field out by breaking it.
    const std::vector<std::string> several = {"three_ranges.json",     "square_edge_with_bedding.json",
                                              "text_for_group.json",   "viscosity_and_rheology.json",
                                              "cross_incomplete.json", "empty_object.json",
                                              "empty_groups.json",     "rheology_as_text.json"};
    for (const auto& row : manifest(reference + "/malformed_cases/manifest.txt")) {
        INFO(row[0]);
        const auto problems = refusal(contents(reference + "/malformed_cases/" + row[0]));
        const bool one = std::find(several.begin(), several.end(), row[0]) == several.end();
        if (one)
            CHECK(problems.size() == 1);
        else
            CHECK(problems.size() > 1);
    }
}

TEST_CASE("well-formed cases read in every spelling", "[case_file]") {
    const auto rows = manifest(reference + "/valid_cases/manifest.txt");
    REQUIRE(rows.size() >= 50);
    for (const auto& row : rows) {
        INFO(row[0] << " " << row[1]);
        const Case read = load_case(reference + "/valid_cases/" + row[0]);
        const double expected = parse_quantity(row[2], Dimension::none, row[1]);
        expect_close(get_number(read, row[1]), expected, 1e-14,
                     "definitions of the units; a few roundings of a double");
        check_round_trip(read);
        CHECK(unusual(read).empty());
    }
    const Case options = load_case(reference + "/valid_cases/every_option.json");
    CHECK(options.setting.orientation == Orientation::trailing);
    CHECK(options.setting.holding == Holding::floating);
    CHECK(options.setting.pressure_side == PressureSide::roll_facing);
    CHECK(options.roll.engraving.pattern == Pattern::diamond);
    CHECK(std::holds_alternative<SquareEdge>(load_case(reference + "/valid_cases/square_edge.json").tip));
}

TEST_CASE("the shipped cases are good, usual and marked as invented", "[case_file]") {
    for (const std::string name : {"folding_carton_water", "narrow_web_curing", "corrugated_coarse"}) {
        INFO(name);
        const Case shipped = load_case(reference + "/../../bindings/libblade/cases/" + name + ".json");
        CHECK(check(shipped).empty());
        CHECK(unusual(shipped).empty());
        CHECK_FALSE(shipped.name.empty());
        CHECK(shipped.note.find("Invented data for demonstration") == 0);
        CHECK(get_choice(shipped, "ink.rheology.law") == "cross");
        check_round_trip(shipped);
    }
}

TEST_CASE("what a case leaves out takes the defaults", "[case_file]") {
    Case expected;
    expected.setting.set_angle = to_si(30.0, "deg", Dimension::angle, "");
    const Case read = read_case(minimal);
    CHECK(read == expected);
    CHECK(check(read).empty());
}

TEST_CASE("a written case reads back bit for bit", "[case_file]") {
    check_round_trip(Case{});
    std::mt19937_64 random(20240611);
    std::uniform_real_distribution<double> uniform(0.0, 1.0);
    for (int trial = 0; trial < 200; ++trial) {
        Case c;
        c.name = "trial \"" + std::to_string(trial) + "\" \xC2\xB5 \n\t\\";
        c.note = trial % 2 == 0 ? "" : "invented";
        if (trial % 5 == 0) set_choice(c, "tip.kind", "square_edge");
        const auto laws = choices_of(*find_field("ink.rheology.law"));
        set_choice(c, "ink.rheology.law", laws[static_cast<std::size_t>(trial) % laws.size()]);
        for (int k = 0; k < (trial % 5) * 3; ++k)  // up to 12 points
            c.roll.bearing_curve.push_back({0.1e-6 * (k + uniform(random)), 1e9 * std::exp(-k - uniform(random))});
        const bool facet = std::holds_alternative<Facet>(c.tip);
        set_section_count(c, trial % 3 == 0 ? 1 + trial % 8 : 0);
        set_choice(c, "setting.actuator.kind", trial % 4 == 1 ? "air" : trial % 4 == 2 ? "screw" : "none");
        for (const Field& field : field_table()) {
            const auto words = choices_of(field);
            const ListItem item = list_item(field.path);
            const bool of_section = item.list == "blade.sections";
            if (item.list == "roll.bearing_curve") continue;
            if (of_section && item.index >= static_cast<int>(c.blade.sections.size())) continue;
            if (field.path == "roll.engraving.cell_volume" && trial % 2 == 0) continue;  // after the depth
            if (field.path == "roll.engraving.aspect" && c.roll.engraving.pattern != Pattern::elongated) continue;
            if (field.kind == FieldKind::choice) {
                const bool fixed = field.path.substr(0, 3) == "tip" || field.path.substr(0, 3) == "ink" ||
                                   field.path == "setting.actuator.kind";
                if (!fixed) set_choice(c, field.path, words[static_cast<std::size_t>(random()) % words.size()]);
                continue;
            }
            const bool of_facet = field.path.substr(0, 4) == "tip." && field.path != "tip.edge_radius";
            const bool of_law = field.path.substr(0, 4) == "ink." && !has_field(c, field.path);
            if ((of_facet && !facet) || of_law) continue;
            if (field.path.substr(0, 10) == "tip.bedded" && trial % 3 == 0) continue;
            if (field.path == "tip.bedded_angle" || (field.path == "tip.facet_length" && trial % 7 == 0)) continue;
            if (of_section && item.word == "end_thickness" && trial % 2 == 0) continue;
            if (!c.blade.sections.empty() && (field.path == "blade.thickness" || field.path == "blade.free_length"))
                continue;
            const bool reading =
                field.path == "setting.actuator.air_pressure" || field.path == "setting.actuator.advance";
            const bool screw = field.path == "setting.actuator.advance" || field.path == "setting.actuator.slope";
            if (field.path.substr(0, 17) == "setting.actuator." &&
                (c.setting.actuator.index() != (screw ? 2u : 1u) || (reading && trial % 8 < 4)))
                continue;
            if (field.path == "setting.interference" && trial % 4 != 0) continue;
            const double share = uniform(random);
            set_number(c, field.path, field.usual_min + share * (field.usual_max - field.usual_min));
        }
        // Drawn at random, the two plateaus may come out in the wrong order, the facet too long, the edge too round.
        if (auto* cross = std::get_if<Cross>(&c.ink.rheology))
            cross->zero_shear_viscosity = std::max(cross->zero_shear_viscosity, cross->infinite_shear_viscosity);
        if (auto* carreau = std::get_if<CarreauYasuda>(&c.ink.rheology))
            carreau->zero_shear_viscosity = std::max(carreau->zero_shear_viscosity, carreau->infinite_shear_viscosity);
        if (auto* tip = std::get_if<Facet>(&c.tip))
            if (auto* length = std::get_if<double>(&tip->length)) *length = 0.3 * tip_thickness(c.blade);
        for (BladeSection& section : c.blade.sections) section.length = 6e-3 + 0.3 * section.length;
        c.blade.backing_length = std::min(c.blade.backing_length, 0.5 * free_length(c.blade));
        if (auto* air = std::get_if<PneumaticActuator>(&c.setting.actuator)) air->dead_load = std::abs(air->dead_load);
        if (const auto* air = std::get_if<PneumaticActuator>(&c.setting.actuator);
            air != nullptr && std::holds_alternative<ByActuator>(c.setting.load))
            set_number(c, "setting.actuator.air_pressure",
                       std::clamp(150.0 * air->blade_width / (air->piston_area * air->lever_ratio), 0.0, 2e6));
        c.roll.engraving.wall_width = std::min(c.roll.engraving.wall_width, 0.5 / c.roll.engraving.screen);
        c.blade.material.youngs_modulus = std::max(c.blade.material.youngs_modulus, 10e9);
        for (const Problem& problem : check(c)) FAIL(problem.path << " = " << problem.value << " " << problem.message);
        check_round_trip(c);
    }
}

TEST_CASE("a case that cannot be written is refused", "[case_file]") {
    Case c;
    c.blade.thickness = std::numeric_limits<double>::quiet_NaN();
    c.roll.radius = std::numeric_limits<double>::infinity();
    try {
        (void)write_case(c);
        FAIL("was written");
    } catch (const InvalidInput& error) {
        CHECK(error.problems().size() == 2);
        CHECK(error.problems().front().path == "blade.thickness");
    }
    Case named;
    named.name = "\xFF";
    CHECK_THROWS_AS(write_case(named), InvalidInput);
}

TEST_CASE("files that cannot be read are refused", "[case_file]") {
    CHECK_THROWS_AS(load_case(reference + "/no_such_case.json"), InvalidInput);
    try {
        (void)load_case(reference);  // a folder
        FAIL("a folder was read");
    } catch (const InvalidInput& error) {
        CHECK(error.problems().front().message == "the case file cannot be read");
        CHECK(error.problems().front().value.find(reference) != std::string::npos);
    }
    CHECK_THROWS_AS(load_case(""), InvalidInput);
}

TEST_CASE("the message shows the value as the file has it", "[case_file]") {
    std::string text = minimal;
    text.replace(text.find("0.2}"), 4, "200}");
    const auto problems = refusal(text);
    REQUIRE(problems.size() == 1);
    CHECK(problems.front().path == "blade.thickness_mm");
    CHECK(problems.front().value == "200 = 200 mm");
    CHECK(problems.front().message == "must be between 0.02 mm and 2 mm; if 0.2 mm was meant, write \"0.2 mm\"");
}

TEST_CASE("no damage to a file crashes the reader or gives a bad case", "[case_file]") {
    const std::string seed = contents(reference + "/valid_cases/every_option.json");
    std::mt19937_64 random(7);
    const auto below = [&](std::size_t n) { return static_cast<std::size_t>(random() % n); };
    const std::string tokens[] = {"{",    "}",    "[",       "]",  "\"",  ",",    ":",    "1e999",    "-",
                                  "null", "true", "\\u0000", "\\", "NaN", "\xC2", "\xFF", "\"tip\":", "\"blade\":{}",
                                  "mm",   "0",    "e",       ".",  " ",   "\n"};
    int refused = 0, accepted = 0;
    for (int trial = 0; trial < 4000; ++trial) {
        std::string text = seed;
        const std::size_t wounds = 1 + below(3);
        for (std::size_t i = 0; i < wounds && !text.empty(); ++i) {
            const std::size_t at = below(text.size());
            switch (below(5)) {
                case 0:
                    text.erase(at, 1 + below(12));
                    break;
                case 1:
                    text.insert(at, tokens[below(std::size(tokens))]);
                    break;
                case 2:
                    text[at] = static_cast<char>(below(256));
                    break;
                case 3:
                    text.resize(at);
                    break;
                default:
                    text.insert(at, text.substr(below(text.size()), below(40)));
                    break;
            }
        }
        try {
            const Case read = read_case(text);
            ++accepted;
            CHECK(check(read).empty());
            check_round_trip(read);
        } catch (const InvalidInput& error) {
            ++refused;
            CHECK_FALSE(error.problems().empty());
        }
    }
    // Both happen: damage inside the name or in blanks does no harm.
    CHECK(refused > 2000);
    CHECK(accepted > 20);
}

namespace {

/// A file of version 0 with one part replaced.
std::string version_0(const std::string& from, const std::string& to) {
    std::string text = R"({
  "schema": "libblade-case-0",
  "blade": {"extension": "12 mm", "thickness": "0.2 mm"},
  "roll": {"radius": "70 mm", "roughness": "0.2 um"},
  "ink": {"viscosity": "30 mPa s"},
  "setting": {"set_angle": "30 deg", "load": "100 N/m", "surface_speed": "5 m/s"}
})";
    if (!from.empty()) text.replace(text.find(from), from.size(), to);
    return text;
}

Problem only_problem(const std::string& text) {
    const auto problems = refusal(text);
    REQUIRE(problems.size() == 1);
    return problems.front();
}

}  // namespace

TEST_CASE("the version before this one is read under its own names", "[case_file]") {
    const Case read = read_case(version_0("", ""));
    CHECK(get_number(read, "blade.free_length") == 0.012);
    CHECK(get_number(read, "roll.land_roughness") == 0.2 / 1e6);
    CHECK(get_number(read, "setting.line_load") == 100.0);
    // "load_step" is a field of both versions and no spelling of "load".
    const Case stepped = read_case(version_0("\"load\"", "\"load_step\": 0.2, \"load\""));
    CHECK(get_number(stepped, "setting.load_step") == 0.2);
    CHECK(get_number(read_case(version_0("\"load\": \"100 N/m\"", "\"load_N_per_cm\": 2")), "setting.line_load") ==
          200.0);
}

TEST_CASE("what is wrong in an older file is said with its own names", "[case_file]") {
    const Problem range = only_problem(version_0("\"12 mm\"", "\"12 m\""));
    CHECK(range.path == "blade.free_length");
    CHECK(range.message.find("; in libblade-case-0 it is blade.extension") != std::string::npos);
    const Problem missing = only_problem(version_0("\"extension\": \"12 mm\", ", ""));
    CHECK(missing.path == "blade.free_length");
    CHECK(missing.message.find("; in libblade-case-0 it is blade.extension") != std::string::npos);
    const Problem twice = only_problem(version_0("\"load\"", "\"load\": 90, \"load\""));
    CHECK(twice.path == "setting.line_load");
    CHECK(twice.message.find("is given twice") == 0);
    const Problem later = only_problem(version_0("extension", "free_length"));
    CHECK(later.path == "blade.free_length");
    CHECK(later.message == "is a name of a later version than the file's; in libblade-case-0 it is blade.extension");
    // The other way round: an old name in a file of today, with and without its version.
    for (const std::string schema : {"\"libblade-case-1\"", ""}) {
        std::string text = version_0("\"libblade-case-0\"", schema);
        if (schema.empty()) text.replace(text.find("\"schema\": ,"), 11, "");
        text.replace(text.find("roughness"), 9, "land_roughness");
        text.replace(text.find("\"load\""), 6, "\"line_load\"");
        const Problem old = only_problem(text);
        CHECK(old.path == "blade.extension");
        CHECK(old.message.find("it is blade.free_length now") != std::string::npos);
    }
}

TEST_CASE("versions that are not read are refused by name", "[case_file]") {
    for (const std::string newer : {"2", "10", "99999", "123456789012345678901234567890"}) {
        const Problem problem = only_problem(version_0("libblade-case-0", "libblade-case-" + newer));
        CHECK(problem.path == "schema");
        CHECK(problem.message == "is newer than this program reads: libblade-case-1");
    }
    for (const std::string foreign : {"libblade-case-", "libblade-case-00", "libblade-case-01", "libblade-case-0 ",
                                      "libblade-case--1", "libblade-case-1.0", "libblade-run-1", ""}) {
        INFO(foreign);
        const auto problems = refusal(version_0("libblade-case-0", foreign));
        CHECK(std::any_of(problems.begin(), problems.end(), [](const Problem& p) {
            return p.path == "schema" &&
                   p.message == "is not a case format of libblade; this version reads libblade-case-1";
        }));
    }
}

TEST_CASE("an older file is renamed and otherwise left as it is spelled", "[case_file]") {
    const std::string old = contents(reference + "/old_cases/version_0.json");
    const std::string golden = contents(reference + "/old_cases/version_0.migrated.json");
    CHECK(migrate_case(old) == golden);
    CHECK(read_case(golden) == read_case(old));
    CHECK(migrate_case(golden) == golden);
    CHECK(migrate_case("\xEF\xBB\xBF" + old) == "\xEF\xBB\xBF" + golden);
    CHECK(migrate_case(minimal) == minimal);
    CHECK_THROWS_AS(migrate_case(version_0("\"12 mm\"", "\"12 m\"")), InvalidInput);
    CHECK_THROWS_AS(migrate_case(version_0("}", "")), InvalidInput);
    CHECK_THROWS_AS(migrate_case(version_0("libblade-case-0", "libblade-case-2")), InvalidInput);
}

TEST_CASE("columns of syntax errors count letters", "[case_file]") {
    // Two bytes before the fault are one letter; a byte order mark is none.
    CHECK(only_problem("{\"name\": \"\xC3\xA9\" 1}").message.find("line 1, column 14: ") == 0);
    CHECK(only_problem("{\"name\": \"e\" 1}").message.find("line 1, column 14: ") == 0);
    CHECK(only_problem("\xEF\xBB\xBF{\"name\": \"e\" 1}").message.find("line 1, column 14: ") == 0);
    CHECK(only_problem(" \n").message.find("line ") == 0);
}

TEST_CASE("a blade made of sections", "[case_file]") {
    const std::string head = R"({"roll": {"radius_mm": 70}, "ink": {"viscosity": 0.03},
        "setting": {"set_angle_deg": 30, "line_load": 100, "surface_speed": 5}, "blade": )";
    const auto read = [&](const std::string& blade) { return read_case(head + blade + "}"); };
    const Case c = read(R"({"sections": [{"length_mm": 10.5, "thickness": "0.2 mm"},
                                         {"length_mm": 1.5, "thickness_um": 75, "flush": "away"}]})");
    REQUIRE(c.blade.sections.size() == 2);
    CHECK(free_length(c.blade) == Approx(12e-3).epsilon(1e-15));
    CHECK(tip_thickness(c.blade) == 75e-6);
    CHECK(c.blade.sections[1].flush == Flush::away);
    CHECK(read_case(write_case(c)) == c);

    const auto problems = [&](const std::string& blade) {
        try {
            (void)read(blade);
        } catch (const InvalidInput& error) {
            return error.problems();
        }
        return std::vector<Problem>{};
    };
    const auto refused = [&](const std::string& blade, const std::string& path, const std::string& words) {
        INFO(blade);
        for (const Problem& p : problems(blade))
            if (p.path == path && p.message.find(words) != std::string::npos) return true;
        return false;
    };
    CHECK(refused(R"({"sections": []})", "blade.sections", "empty list"));
    CHECK(
        refused(R"({"sections": {"0": {"length_mm": 12, "thickness_mm": 0.2}}})", "blade.sections", "must be a list"));
    CHECK(refused(R"({"sections": [{"length_mm": 12}]})", "blade.sections.0.thickness", "is missing"));
    CHECK(refused(R"({"sections": [{"length_mm": 12, "thickness_mm": 0.2}, {}]})", "blade.sections.1", "is empty"));
    CHECK(
        refused(R"({"sections": [{"length_mm": 12, "thickness_mm": 9}]})", "blade.sections.0.thickness_mm", "between"));
    CHECK(
        refused(R"({"sections": [{"length_mm": 12, "thicknes_mm": 0.2}]})", "blade.sections.0.thicknes_mm", "nearest"));
    CHECK(refused(R"({"thickness_mm": 0.2, "sections": [{"length_mm": 12, "thickness_mm": 0.2}]})", "blade.thickness",
                  "contradicts blade.sections"));
    CHECK(refused(R"({"sections": [12, 3]})", "blade.sections.0", "must be an object"));
    std::string nine = R"({"sections": [)";
    for (int k = 0; k < 9; ++k) nine += std::string(k > 0 ? "," : "") + R"({"length_mm": 2, "thickness_mm": 0.2})";
    CHECK(refused(nine + "]}", "blade.sections", "at most 8"));
}

TEST_CASE("every field of roll and ink goes through a file", "[case_file]") {
    const Case c = load_case(reference + "/valid_cases/measured_roll.json");
    CHECK(c.roll.engraving.pattern == Pattern::elongated);
    CHECK(c.roll.engraving.profile == CellProfile::parabolic);
    REQUIRE(c.roll.bearing_curve.size() == 11);
    CHECK(c.roll.bearing_curve[10] == BearingPoint{3e-6, 0.02e6});
    CHECK(c.ink.rheology == Rheology{CarreauYasuda{0.12, 0.03, 1e-4, 0.4, 2.0}});  // a has a default
    const std::string text = write_case(c);
    CHECK(text.find("\"cell_volume\"") == std::string::npos);
    CHECK(text.find("\"cell_depth\"") != std::string::npos);
    CHECK(text.find("\"transition\"") != std::string::npos);
    CHECK(read_case(text) == c);
    const Case power = load_case(reference + "/valid_cases/power_law_ink.json");
    CHECK(power.ink.rheology == Rheology{PowerLaw{3.0, 0.7}});
    check_round_trip(power);
}

TEST_CASE("a load in the actuator's own terms", "[case_file]") {
    const std::string head = R"({"roll": {"radius_mm": 70}, "ink": {"viscosity": 0.03},
        "blade": {"free_length_mm": 12, "thickness_mm": 0.2}, "setting": {"set_angle_deg": 30, "surface_speed": 5, )";
    const auto read = [&](const std::string& setting) { return read_case(head + setting + "}}"); };
    // 1.5 bar on 10 cm2 through a lever of 2 over 1.5 m: 200 N/m (statics, by hand).
    const Case air = read(R"("actuator": {"kind": "air", "air_pressure_bar": 1.5, "piston_area_cm2": 10,
                                          "lever_ratio": 2, "blade_width": "1.5 m"})");
    CHECK(std::get<LineLoad>(load_of(air.setting)).value == Approx(200.0).epsilon(1e-14));
    CHECK(read_case(write_case(air)) == air);
    CHECK_FALSE(has_field(air, "setting.line_load"));
    Case loaded = air;
    set_number(loaded, "setting.line_load", 120.0);
    CHECK_FALSE(has_field(loaded, "setting.actuator.air_pressure"));
    CHECK(has_field(loaded, "setting.actuator.piston_area"));
    CHECK(read_case(write_case(loaded)).setting.load == loaded.setting.load);

    const Case screw = read(R"("actuator": {"kind": "screw", "advance_mm": 0.5, "slope_deg": 60})");
    CHECK(std::get<Interference>(load_of(screw.setting)).value == Approx(0.25e-3).epsilon(1e-12));

    const auto refused = [&](const std::string& setting, const std::string& path) {
        try {
            (void)read(setting);
        } catch (const InvalidInput& error) {
            for (const Problem& p : error.problems())
                if (p.path == path) return true;
        }
        return false;
    };
    CHECK(refused(R"("actuator": {"kind": "air", "air_pressure_bar": 1.5, "piston_area_cm2": 10})",
                  "setting.actuator.blade_width"));
    CHECK(refused(R"("line_load": 100, "actuator": {"kind": "air", "air_pressure_bar": 1.5, "piston_area_cm2": 10,
                     "blade_width": 1})",
                  "setting.actuator.air_pressure"));
    CHECK(refused(R"("line_load": 100, "actuator": {"piston_area_cm2": 10})", "setting.actuator.piston_area"));
    // 20 bar on a square metre: no line load of a blade.
    CHECK(refused(R"("actuator": {"kind": "air", "air_pressure_bar": 20, "piston_area": 1, "blade_width": 1})",
                  "setting.actuator.air_pressure"));
    // Springs that lift the blade off more than the air presses it on.
    CHECK(refused(R"("actuator": {"kind": "air", "air_pressure_bar": 0.1, "piston_area_cm2": 10, "blade_width": 1,
                     "dead_load_N": -100})",
                  "setting.actuator.air_pressure"));
}

TEST_CASE("a file can ask for little time and memory", "[case_file]") {
    const auto told = [](const std::string& text) -> std::string {
        try {
            (void)read_case(text);
        } catch (const InvalidInput& refusal) {
            for (const Problem& p : refusal.problems()) {
                CHECK(p.path.size() < 300);
                CHECK(p.value.size() < 300);
            }
            CHECK(refusal.problems().size() < 1100);
            return refusal.what();
        }
        return {};
    };
    const auto has = [](const std::string& text, const std::string& words) {
        return text.find(words) != std::string::npos;
    };
    std::string many = "{", kids = "{\"" + std::string(400'000, 'k') + "\": {";
    for (int k = 0; k < 40'000; ++k) {
        many += "\"blade" + std::to_string(k) + "\": 1, ";
        kids += "\"" + std::to_string(k) + "\": 1, ";
    }
    CHECK(has(told(many + "\"a\": 1}"), "more than 1000 values"));
    CHECK(has(told(kids + "\"a\": 1}}"), "is longer than any name of a field"));
    CHECK(has(told("{\"name\": \"" + std::string(std::size_t{1} << 20, 'x') + "\"}"), "larger than 1 MiB"));
    CHECK(has(told("{\"blade\": {\"thickness\": 0." + std::string(500'000, '0') + "1}}"), "blade.thickness"));
    CHECK(has(told(R"({"\u001b[31m": 1})"), "?[31m: is not a known field"));
    const std::string name(201, 'n');
    CHECK(has(told("{\"" + name + "\": 1}"), "is longer than any name of a field"));
    CHECK(has(told("{\"" + name.substr(1) + "\": 1}"), "is not a known field"));
    Case c;
    c.note.assign(std::size_t{1} << 20, 'x');
    CHECK_THROWS_AS(write_case(c), InvalidInput);
}
