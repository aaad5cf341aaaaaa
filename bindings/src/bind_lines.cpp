#include <algorithm>

#include "bind.hpp"
#include "libblade/error.hpp"
#include "libblade/lines.hpp"
#include "line_sizes.hpp"

using namespace libblade;

namespace {

constexpr LineDirection kDirections[] = {LineDirection::along_web, LineDirection::across_web,
                                         LineDirection::whole_width, LineDirection::spots};

/// A defect of its usual size, of each cause in turn.
template <std::size_t... I>
std::vector<LineDefect> usual(std::index_sequence<I...>) {
    return {LineDefect(std::in_place_index<I>)...};
}
std::vector<LineDefect> usual() { return usual(std::make_index_sequence<kLineCauses>{}); }

LineDefect usual_of(std::string_view cause) {
    std::string words;
    for (LineDefect& defect : usual()) {
        if (to_string(cause_of(defect)) == cause) return defect;
        words += (words.empty() ? "" : ", ") + std::string(to_string(cause_of(defect)));
    }
    throw InvalidInput({{"cause", std::string(cause), "must be one of " + words}});
}

struct Reader {
    const py::dict& given;
    std::vector<std::string> names = {};

    template <class T>
    void operator()(const char* name, const char*, T& value) {
        names.emplace_back(name);
        if (given.contains(name)) take(given[name], value);
    }
    static void take(const py::handle& from, double& value) { value = from.cast<double>(); }
    static void take(const py::handle& from, bool& value) { value = from.cast<bool>(); }
    static void take(const py::handle& from, int& value) { value = static_cast<int>(from.cast<double>()); }
    static void take(const py::handle& from, LineDirection& value) {
        const auto word = from.cast<std::string>();
        for (const LineDirection direction : kDirections)
            if (to_string(direction) == word) {
                value = direction;
                return;
            }
        throw InvalidInput({{"direction", word, "must be along_web, across_web, whole_width or spots"}});
    }
};

LineDefect defect_of(std::string_view cause, const py::dict& sizes) {
    LineDefect defect = usual_of(cause);
    Reader reader{sizes};
    std::visit([&](auto& d) { line_sizes::visit(d, reader); }, defect);
    for (const auto& item : sizes) {
        const auto name = item.first.cast<std::string>();
        if (std::find(reader.names.begin(), reader.names.end(), name) != reader.names.end()) continue;
        std::string words = "is no size of this cause, which has ";
        for (const std::string& known : reader.names) words += (&known == &reader.names.front() ? "" : ", ") + known;
        throw InvalidInput({{"sizes." + std::string(cause) + "." + name, "", words}});
    }
    return defect;
}

struct Writer {
    py::dict out = {};
    template <class T>
    void operator()(const char* name, const char*, const T& value) {
        if constexpr (std::is_same_v<T, LineDirection>)
            out[name] = to_string(value);
        else
            out[name] = value;
    }
};

py::dict print_dict(LineDefect defect, const LinePrint& line) {
    py::dict out, signature;
    Writer writer;
    std::visit([&](auto& d) { line_sizes::visit(d, writer); }, defect);
    out["cause"] = to_string(line.cause);
    out["sizes"] = writer.out;
    out["ink"] = line.ink, out["nominal_ink"] = line.nominal_ink;
    out["film"] = line.film, out["nominal_film"] = line.nominal_film;
    out["density"] = line.density, out["nominal_density"] = line.nominal_density;
    out["density_contrast"] = line.density_contrast, out["excess_area"] = line.excess_area;
    out["visibility"] = line.visibility;
    out["place"] = to_array(line.place), out["profile"] = to_array(line.profile);
    const LineSignature& s = line.signature;
    signature["tone"] = to_string(s.tone), signature["direction"] = to_string(s.direction);
    signature["width"] = s.width, signature["repeat"] = s.repeat;
    signature["moves_with_blade"] = s.moves_with_blade, signature["goes_when_wiped"] = s.goes_when_wiped;
    signature["survives_blade_change"] = s.survives_blade_change;
    signature["survives_cleaning"] = s.survives_cleaning, signature["patchy"] = s.patchy;
    signature["began"] = to_string(s.began);
    out["signature"] = signature;
    return out;
}

}  // namespace

void bind_lines(py::module_& module) {
    module.def("line_sizes", [] {
        py::dict out;
        for (LineDefect& defect : usual()) {
            py::list sizes;
            std::visit(
                [&](auto& d) {
                    line_sizes::visit(d, [&](const char* name, const char* unit, const auto&) {
                        sizes.append(py::make_tuple(name, unit));
                    });
                },
                defect);
            out[py::str(to_string(cause_of(defect)))] = sizes;
        }
        return out;
    });
    py::class_<LineContext>(module, "LineContext")
        .def_property_readonly("film", [](const LineContext& k) { return k.film; })
        .def_property_readonly("cell_ink", [](const LineContext& k) { return k.cell_ink; })
        .def_property_readonly("film_riding", [](const LineContext& k) { return k.film_riding; })
        .def_property_readonly("film_after_step", [](const LineContext& k) { return k.film_after_step; })
        .def_property_readonly("roll_turn", [](const LineContext& k) { return k.roll_turn; })
        .def_property_readonly("convergence", [](const LineContext& k) { return convergence_tuple(k.convergence); });
    module.def(
        "line_context",
        [](const Case& c, const NipOptions& options) {
            const py::gil_scoped_release release;
            return line_context(c, solve(c, options), options);
        },
        py::arg("case"), py::arg("options"));
    module.def(
        "line_print",
        [](const std::string& cause, const py::dict& sizes, const LineContext& context, const PrintLaw& law) {
            const LineDefect defect = defect_of(cause, sizes);
            return print_dict(defect, line_print(defect, context, law));
        },
        py::arg("cause"), py::arg("sizes"), py::arg("context"), py::arg("law"));
    module.def(
        "sample_line",
        [](const std::string& cause, const LineContext& context, const PrintLaw& law, std::uint64_t seed,
           std::uint64_t index, int most_tries) {
            const SampledLine line = sample_visible(cause_of(usual_of(cause)), context, law, seed, index, most_tries);
            return print_dict(line.defect, line.print);
        },
        py::arg("cause"), py::arg("context"), py::arg("law"), py::arg("seed"), py::arg("index"), py::arg("most_tries"));
    module.def(
        "print_strip",
        [](const std::string& cause, const py::dict& sizes, const LineContext& context, const PrintLaw& law,
           double width, double length, std::size_t columns, std::size_t rows) {
            const LineDefect defect = defect_of(cause, sizes);
            const PrintStrip strip = [&] {
                const py::gil_scoped_release release;
                return print_strip(defect, context, law, {width, length, columns, rows});
            }();
            const auto map = [&](const std::vector<double>& values) {
                return py::array_t<double>({rows, columns}, values.data());
            };
            return py::make_tuple(to_array(strip.across), to_array(strip.along), map(strip.density), map(strip.ink));
        },
        py::arg("cause"), py::arg("sizes"), py::arg("context"), py::arg("law"), py::kw_only(), py::arg("width"),
        py::arg("length"), py::arg("columns"), py::arg("rows"));
}
