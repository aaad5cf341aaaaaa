#include "bind.hpp"
#include "libblade/lesson.hpp"

using namespace libblade;

void bind_lesson(py::module_& module) {
    module.def(
        "lesson_answer",
        [](const std::string& request) {
            static Lesson lesson;  // the process is the caller that keeps its tables
            const py::gil_scoped_release release;
            return lesson.answer(request);
        },
        py::arg("request"));
}
