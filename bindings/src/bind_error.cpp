#include "bind.hpp"
#include "libblade/error.hpp"
#include "libblade/status.hpp"

using namespace libblade;

void bind_error(py::module_& module) {
    // The Python exception is made in Python; here it is only thrown.
    py::register_local_exception_translator([](std::exception_ptr pointer) {
        try {
            if (pointer) std::rethrow_exception(pointer);
        } catch (const InvalidInput& error) {
            py::list problems;
            for (const Problem& p : error.problems()) problems.append(py::make_tuple(p.path, p.value, p.message));
            const py::object type = py::module_::import("libblade._errors").attr("InvalidInput");
            PyErr_SetObject(type.ptr(), type(problems).ptr());
        }
    });
    module.def(
        "describe_status",
        [] {
            py::dict words;
            for (int k = 0; k <= static_cast<int>(Status::out_of_range); ++k)
                words[py::str(to_string(static_cast<Status>(k)))] = describe(static_cast<Status>(k));
            return words;
        },
        "Every status and its sentence, in the order of the integer flags.");
}
