#include "bind.hpp"
#include "libblade/case_file.hpp"
#include "libblade/parameters.hpp"

using namespace libblade;

void bind_case(py::module_& module) {
    py::class_<Case>(module, "Case")
        .def(py::init<>())
        .def_readwrite("name", &Case::name)
        .def_readwrite("note", &Case::note)
        .def("copy", [](const Case& c) { return Case(c); })
        .def(
            "set_number", [](Case& c, std::string_view path, double value) { set_number(c, path, value); },
            py::arg("path"), py::arg("value"))
        .def(
            "set_choice", [](Case& c, std::string_view path, std::string_view word) { set_choice(c, path, word); },
            py::arg("path"), py::arg("word"))
        .def(
            "set_section_count", [](Case& c, int count) { set_section_count(c, count); }, py::arg("count"))
        .def(
            "set_bearing_count", [](Case& c, int count) { set_bearing_count(c, count); }, py::arg("count"))
        .def(
            "clear_field", [](Case& c, std::string_view path) { clear_field(c, path); }, py::arg("path"))
        .def(
            "get_number", [](const Case& c, std::string_view path) { return get_number(c, path); }, py::arg("path"))
        .def(
            "get_choice", [](const Case& c, std::string_view path) { return get_choice(c, path); }, py::arg("path"))
        .def(
            "has_field", [](const Case& c, std::string_view path) { return has_field(c, path); }, py::arg("path"))
        .def("__eq__", [](const Case& a, const py::object& b) {
            return py::isinstance<Case>(b) && a == py::cast<const Case&>(b);
        });
    module.def(
        "read_case", [](std::string_view text) { return read_case(text); }, py::arg("json_text"));
    module.def(
        "load_case", [](const std::string& file) { return load_case(file); }, py::arg("file_name"));
    module.def(
        "write_case", [](const Case& c) { return write_case(c); }, py::arg("case"));
}
