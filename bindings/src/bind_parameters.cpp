#include "bind.hpp"
#include "libblade/parameters.hpp"
#include "libblade/units.hpp"

using namespace libblade;

namespace {

const Field& field_at(std::string_view path) {
    const Field* field = find_field(path);
    if (field == nullptr) throw InvalidInput({{std::string(path), "", "is not a known field"}});
    return *field;
}

Dimension dimension_of(std::string_view si) {
    for (int k = 0; k <= static_cast<int>(Dimension::effusivity); ++k)
        if (si_unit(static_cast<Dimension>(k)) == si) return static_cast<Dimension>(k);
    throw InvalidInput({{"unit", std::string(si), "is not an SI unit of the table"}});
}

py::list problem_list(const std::vector<Problem>& problems) {
    py::list out;
    for (const Problem& p : problems) out.append(py::make_tuple(p.path, p.value, p.message));
    return out;
}

}  // namespace

void bind_parameters(py::module_& module) {
    module.def("field_table", [] {
        py::list out;
        for (const Field& f : field_table()) {
            py::dict row;
            row["path"] = f.path;
            row["meaning"] = f.meaning;
            row["kind"] = f.kind == FieldKind::number ? "number" : f.kind == FieldKind::choice ? "choice" : "text";
            row["dimension"] = to_string(f.dimension);
            row["unit"] = f.kind == FieldKind::number ? si_unit(f.dimension) : std::string_view{};
            row["display_unit"] = f.display_unit;
            row["hard_range"] = py::make_tuple(f.hard_min, f.hard_max);
            row["usual_range"] = py::make_tuple(f.usual_min, f.usual_max);
            row["choices"] = choices_of(f);
            row["source"] = f.source;
            row["required"] = f.required;
            out.append(row);
        }
        return out;
    });
    module.def(
        "resolve_field",
        [](std::string_view path) -> py::object {
            const NamedField named = resolve_field(path);
            if (named.field == nullptr) return py::none();
            return py::make_tuple(named.field->path, named.unit);
        },
        py::arg("path"));
    module.def("nearest_field", &nearest_field, py::arg("path"));
    module.def(
        "likely_slip", [](std::string_view path, double value) { return likely_slip(field_at(path), value); },
        py::arg("path"), py::arg("value"));
    module.def(
        "parse_field",
        [](std::string_view text, std::string_view path, std::string_view given) {
            return parse_quantity(text, field_at(path).dimension, given);
        },
        py::arg("text"), py::arg("path"), py::arg("given"));
    module.def(
        "field_to_si",
        [](double value, std::string_view unit, std::string_view path, std::string_view given) {
            return to_si(value, unit, field_at(path).dimension, given);
        },
        py::arg("value"), py::arg("unit"), py::arg("path"), py::arg("given"));
    module.def(
        "column_to_si",
        [](const Doubles& values, std::string_view unit, std::string_view path, std::string_view given) {
            std::vector<double> out;
            for (const double value : view(values)) out.push_back(to_si(value, unit, field_at(path).dimension, given));
            return to_array(out);
        },
        py::arg("values"), py::arg("unit"), py::arg("path"), py::arg("given"), "As field_to_si, of many, (n,).");
    module.def(
        "field_from_si",
        [](double value, std::string_view unit, std::string_view path) {
            return from_si(value, unit, field_at(path).dimension);
        },
        py::arg("value"), py::arg("unit"), py::arg("path"));
    module.def(
        "parse_quantity",
        [](std::string_view text, std::string_view unit, std::string_view name) {
            return parse_quantity(text, dimension_of(unit), name);
        },
        py::arg("text"), py::arg("unit"), py::arg("name"),
        "Text with unit to SI; `unit` is the SI unit it must reduce to.");
    module.def(
        "to_si",
        [](double value, std::string_view given, std::string_view unit, std::string_view name) {
            return to_si(value, given, dimension_of(unit), name);
        },
        py::arg("value"), py::arg("given"), py::arg("unit"), py::arg("name"));
    module.def(
        "unit_of_suffix",
        [](std::string_view suffix, std::string_view unit) { return unit_of_suffix(suffix, dimension_of(unit)); },
        py::arg("suffix"), py::arg("unit"));
    module.def(
        "check", [](const Case& c) { return problem_list(check(c)); }, py::arg("case"));
    module.def(
        "unusual", [](const Case& c) { return problem_list(unusual(c)); }, py::arg("case"));
}
