// Writes modelDescription.xml and documentation/index.html of the unit for a case file: describe CASE FOLDER.
//
// Every number of the case is a variable, with name, meaning, unit and hard range of its row in the field table.
#include <algorithm>
#include <cstdio>
#include <exception>
#include <fstream>
#include <map>
#include <optional>
#include <set>
#include <stdexcept>
#include <string>

#include "libblade/case_file.hpp"
#include "libblade/version.hpp"
#include "nip_unit.hpp"

namespace {

using namespace libblade;
using namespace libblade::fmu;

/// Exponents of SI base units (and rad, as FMI counts it).
struct Base {
    int kg = 0, m = 0, s = 0, A = 0, K = 0, rad = 0;
};
const std::map<std::string_view, Base>& bases() {
    static const std::map<std::string_view, Base> table{
        {"m", {0, 1}},
        {"m2", {0, 2}},
        {"m3", {0, 3}},
        {"1/m", {0, -1}},
        {"1/m3", {0, -3}},
        {"m3/m2", {0, 1}},
        {"m/m", {}},
        {"s", {0, 0, 1}},
        {"1/s", {0, 0, -1}},
        {"m/s", {0, 1, -1}},
        {"m3/s", {0, 3, -1}},
        {"rad", {0, 0, 0, 0, 0, 1}},
        {"K", {0, 0, 0, 0, 1}},
        {"N", {1, 1, -2}},
        {"N/m", {1, 0, -2}},
        {"N/m2", {1, -1, -2}},
        {"N/rad", {1, 1, -2, 0, 0, -1}},
        {"Pa", {1, -1, -2}},
        {"Pa s", {1, -1, -1}},
        {"kg/m3", {1, -3}},
        {"m2/N", {-1, 1, 2}},
        {"W/m", {1, 1, -3}},
        {"W/(m K)", {1, 1, -3, 0, -1}},
        {"J/(kg K)", {0, 2, -2, 0, -1}},
        {"T2/m", {2, -1, -4, -2}},
    };
    return table;
}

std::string escaped(std::string_view text) {
    std::string out;
    for (const char c : text) switch (c) {
            case '&':
                out += "&amp;";
                break;
            case '<':
                out += "&lt;";
                break;
            case '>':
                out += "&gt;";
                break;
            case '"':
                out += "&quot;";
                break;
            default:
                out += c;
        }
    return out;
}

std::string attribute(std::string_view name, std::string_view value) {
    return " " + std::string(name) + "=\"" + escaped(value) + "\"";
}
std::string attribute(std::string_view name, double value) { return attribute(name, number_text(value, 17)); }

std::string display_name(std::string_view unit, std::string_view display) {
    return display.empty() || display == unit ? std::string() : std::string(display);
}

/// A row of the description and of the page.
struct Variable {
    Reference reference = 0;
    std::string name, unit, display, meaning, causality;
    std::optional<Dimension> dimension;
    double min = 0.0, max = 0.0, start = 0.0;
    std::string range;
};

Dimension dimension_of(std::string_view unit) {
    for (int d = 0; d <= static_cast<int>(Dimension::effusivity); ++d)
        if (si_unit(static_cast<Dimension>(d)) == unit) return static_cast<Dimension>(d);
    return Dimension::none;
}

std::vector<Variable> inputs_and_parameters(const NipUnit& unit) {
    std::vector<Variable> out;
    const auto table = field_table();
    for (const bool inputs : {true, false})
        for (std::size_t row = 0; row < table.size(); ++row) {
            const Field field = field_in(unit.shipped(), table[row]);
            const bool input = input_of(field.path) >= 0;
            const double start = unit.memory().fields[row];
            if (std::isnan(start) || input != inputs) continue;
            Variable v;
            v.reference = kFirstField + static_cast<Reference>(row);
            v.name = structured_name(field.path), v.meaning = field.meaning, v.dimension = field.dimension;
            if (takes_word(field)) v.meaning += "; 0: \"" + std::string(field.choices) + "\"";
            if (input_of(field.path) == surface_speed) v.meaning += "; 0: the roll stands";
            v.causality = input ? "input" : "parameter";
            if (field.dimension != Dimension::none) v.unit = si_unit(field.dimension);
            v.display = display_name(v.unit, field.display_unit);
            v.min = smallest(field), v.max = field.hard_max, v.start = start;
            v.range = hard_range_text(field) + (v.min < field.hard_min ? " or 0" : "");
            out.push_back(std::move(v));
        }
    return out;
}

std::vector<Variable> given_numbers() {
    std::vector<Variable> out;
    for (int n = 0; n < kNumbers; ++n) {
        const Shown& row = outputs()[static_cast<std::size_t>(n)];
        Variable v;
        v.reference = kFirstOutput + static_cast<Reference>(n), v.name = row.name, v.meaning = row.meaning;
        v.causality = "output";
        v.unit = row.unit, v.display = display_name(row.unit, row.display_unit), v.dimension = dimension_of(row.unit);
        out.push_back(std::move(v));
    }
    return out;
}

std::vector<std::string_view> split(std::string_view choices) {
    std::vector<std::string_view> out;
    while (true) {
        const std::size_t bar = choices.find('|');
        out.push_back(choices.substr(0, bar));
        if (bar == std::string_view::npos) return out;
        choices.remove_prefix(bar + 1);
    }
}

std::string type_name(const Word& word) {
    std::string out(word.name.substr(word.name.rfind('.') == std::string_view::npos ? 0 : word.name.rfind('.') + 1));
    return out;
}

/// Nothing for a unit of broken exponents, which FMI cannot say: s^0.5 in the effusivity's.
std::string base_xml(const std::string& unit) {
    if (unit == si_unit(Dimension::effusivity)) return "";
    const auto known = bases().find(unit);
    if (known == bases().end()) throw std::logic_error("the unit \"" + unit + "\" has no exponents here");
    const Base& b = known->second;
    std::string out = "   <BaseUnit";
    for (const auto& [name, exponent] :
         {std::pair{"kg", b.kg}, {"m", b.m}, {"s", b.s}, {"A", b.A}, {"K", b.K}, {"rad", b.rad}})
        if (exponent != 0) out += attribute(name, std::to_string(exponent));
    return out + "/>\n";
}

std::string units_xml(const std::vector<Variable>& variables) {
    std::map<std::string, std::set<std::string>> displays;
    std::map<std::string, Dimension> dimensions;
    for (const Variable& v : variables) {
        if (v.unit.empty()) continue;
        dimensions.try_emplace(v.unit, *v.dimension);
        auto& seen = displays[v.unit];
        if (!v.display.empty()) seen.insert(v.display);
    }
    std::string out = " <UnitDefinitions>\n";
    for (const auto& [unit, shown] : displays) {
        out += "  <Unit" + attribute("name", unit) + ">\n" + base_xml(unit);
        for (const std::string& display : shown) {
            const Dimension dimension = dimensions.at(unit);
            const double offset = from_si(0.0, display, dimension), factor = from_si(1.0, display, dimension) - offset;
            out += "   <DisplayUnit" + attribute("name", display) + attribute("factor", factor);
            out += (offset != 0.0 ? attribute("offset", offset) : std::string()) + "/>\n";
        }
        out += "  </Unit>\n";
    }
    return out + " </UnitDefinitions>\n";
}

std::string types_xml() {
    std::string out = " <TypeDefinitions>\n";
    for (const Word& word : words()) {
        out += "  <EnumerationType" + attribute("name", type_name(word)) + ">\n";
        int value = word.first;
        for (const std::string_view choice : split(word.choices))
            out += "   <Item" + attribute("name", choice) + attribute("value", std::to_string(value++)) + "/>\n";
        out += "  </EnumerationType>\n";
    }
    return out + " </TypeDefinitions>\n";
}

std::string number_xml(const Variable& v) {
    std::string out = "  <Float64" + attribute("name", v.name) +
                      attribute("valueReference", std::to_string(v.reference)) + attribute("description", v.meaning) +
                      attribute("causality", v.causality);
    if (v.causality == "parameter")
        out += " variability=\"fixed\" initial=\"exact\"";
    else
        out += " variability=\"continuous\"";
    if (v.causality == "output") out += " initial=\"calculated\"";
    if (!v.unit.empty()) out += attribute("unit", v.unit);
    if (!v.display.empty()) out += attribute("displayUnit", v.display);
    if (v.causality != "output") out += attribute("min", v.min) + attribute("max", v.max) + attribute("start", v.start);
    return out + "/>\n";
}

std::string word_xml(int k, const NipUnit& unit) {
    const Word& word = words()[static_cast<std::size_t>(k)];
    std::string out = "  <Enumeration" + attribute("name", word.name) +
                      attribute("valueReference", std::to_string(kFirstWord + static_cast<Reference>(k))) +
                      attribute("description", word.meaning) + attribute("declaredType", type_name(word));
    if (k < kGivenWords) return out + " causality=\"output\" variability=\"discrete\" initial=\"calculated\"/>\n";
    return out + " causality=\"parameter\" variability=\"fixed\" initial=\"exact\"" +
           attribute("start", std::to_string(unit.memory().words[static_cast<std::size_t>(k)])) + "/>\n";
}

/// No output follows an input before the next step; at the start all of them do.
std::string structure_xml(const std::vector<Variable>& numbers) {
    std::vector<Reference> given;
    for (const Variable& v : numbers) given.push_back(v.reference);
    for (int k = 0; k < kGivenWords; ++k) given.push_back(kFirstWord + static_cast<Reference>(k));
    std::string out = " <ModelStructure>\n";
    for (const Reference r : given)
        out += "  <Output" + attribute("valueReference", std::to_string(r)) + " dependencies=\"\"/>\n";
    for (const Reference r : given)
        out += "  <InitialUnknown" + attribute("valueReference", std::to_string(r)) + "/>\n";
    return out + " </ModelStructure>\n";
}

std::string description(const NipUnit& unit) {
    const std::vector<Variable> given = given_numbers(), taken = inputs_and_parameters(unit);
    Variable time;
    time.name = "time", time.unit = "s", time.meaning = "simulation time", time.dimension = Dimension::time;
    std::vector<Variable> all{time};
    all.insert(all.end(), given.begin(), given.end());
    all.insert(all.end(), taken.begin(), taken.end());
    std::string out =
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<fmiModelDescription fmiVersion=\"3.0\" modelName=\"nip\"";
    out += attribute("instantiationToken", instantiation_token());
    out += attribute("description", "Doctor blade on an engraved roll, its wear as the state; case: " +
                                        (unit.shipped().name.empty() ? "unnamed" : unit.shipped().name));
    out += attribute("version", version) + " license=\"MIT\"" +
           attribute("generationTool", "libblade " + std::string(version));
    out += " variableNamingConvention=\"structured\">\n";
    out +=
        " <CoSimulation modelIdentifier=\"nip\" canHandleVariableCommunicationStepSize=\"true\""
        " canGetAndSetFMUState=\"true\" canSerializeFMUState=\"true\" mightReturnEarlyFromDoStep=\"true\"/>\n";
    out += units_xml(all) + types_xml();
    out +=
        " <LogCategories>\n"
        "  <Category name=\"logEvents\" description=\"what happens to the blade: worn through, on another branch\"/>\n"
        "  <Category name=\"logStatusDiscard\" description=\"values and steps that were refused\"/>\n"
        "  <Category name=\"logStatusError\" description=\"calls that cannot be answered\"/>\n"
        " </LogCategories>\n <DefaultExperiment startTime=\"0\" stopTime=\"28800\" stepSize=\"60\"/>\n "
        "<ModelVariables>\n";
    out +=
        "  <Float64 name=\"time\" valueReference=\"0\" description=\"simulation time\" causality=\"independent\""
        " variability=\"continuous\" unit=\"s\"/>\n";
    for (const Variable& v : given) out += number_xml(v);
    for (int k = 0; k < kGivenWords; ++k) out += word_xml(k, unit);
    for (const Variable& v : taken) out += number_xml(v);
    for (int k = kGivenWords; k < kWords; ++k) out += word_xml(k, unit);
    return out + " </ModelVariables>\n" + structure_xml(given) + "</fmiModelDescription>\n";
}

std::string page(const NipUnit& unit) {
    std::string out =
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head><meta charset=\"utf-8\"><title>Nip of a doctor blade</title>\n"
        "<style>body{font:1rem/1.5 sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem}"
        "td,th{text-align:left;vertical-align:top;padding:.15rem .8rem .15rem 0}</style></head>\n<body>\n"
        "<h1>Nip of a doctor blade, with wear</h1>\n<p>Case: " +
        escaped(unit.shipped().name) + ". " + escaped(unit.shipped().note) +
        "</p>\n<p>A communication step slides the blade over speed times step, inputs held, and wears it; between "
        "steps it stays "
        "as it is. Speed 0: the roll stands, time passes, nothing slides; the numbers are those of the blade from rest "
        "at 0.01 m/s, without power. Values out of range and steps without a solution are refused (fmi3Discard) "
        "with a "
        "message, and the unit stays as it was. A used-up thin tip ends the simulation early where that is "
        "allowed.</p>\n"
        "<p>Blades are razor-sharp, rolls draw in: what the unit says replaces no guard, no procedure and no trained "
        "hand.</p>\n";
    const auto section = [&](const char* title, const std::vector<Variable>& rows, std::string_view causality) {
        out += "<h2>" + std::string(title) +
               "</h2>\n<table>\n<tr><th>name</th><th>unit</th><th>meaning</th><th>allowed</th></tr>\n";
        for (const Variable& v : rows)
            if (v.causality == causality)
                out += "<tr><td>" + escaped(v.name) + "</td><td>" + escaped(v.unit) + "</td><td>" + escaped(v.meaning) +
                       "</td><td>" + escaped(v.range) + "</td></tr>\n";
        for (int k = 0; k < kWords; ++k) {
            const Word& word = words()[static_cast<std::size_t>(k)];
            if (causality == (k < kGivenWords ? "output" : "parameter"))
                out += "<tr><td>" + escaped(word.name) + "</td><td></td><td>" + escaped(word.meaning) + "</td><td>" +
                       escaped(word.choices) + "</td></tr>\n";
        }
        out += "</table>\n";
    };
    const std::vector<Variable> taken = inputs_and_parameters(unit);
    section("Inputs", taken, "input");
    section("Outputs", given_numbers(), "output");
    section("Parameters", taken, "parameter");
    return out + "</body>\n</html>\n";
}

bool write(const std::string& path, const std::string& text) {
    std::ofstream file(path, std::ios::binary);
    file << text;
    return static_cast<bool>(file.flush());
}

}  // namespace

int main(int count, char** arguments) {
    if (count != 3) return std::fputs("usage: describe CASE FOLDER\n", stderr), 2;
    try {
        const NipUnit unit(load_case(arguments[1]));
        const std::string folder = arguments[2];
        if (write(folder + "/modelDescription.xml", description(unit)) &&
            write(folder + "/documentation/index.html", page(unit)))
            return 0;
        std::fprintf(stderr, "%s cannot be written\n", folder.c_str());
    } catch (const std::exception& error) {
        std::fprintf(stderr, "%s\n", error.what());
    }
    return 1;
}
