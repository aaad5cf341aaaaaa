#include "bind.hpp"
#include "libblade/case_file.hpp"
#include "libblade/schema.hpp"

using namespace libblade;

void bind_schema(py::module_& module) {
    module.def("case_schema", &case_schema);
    module.def("fields_markdown", &fields_markdown);
    module.def("migrate_case", &migrate_case, py::arg("json_text"));
}
