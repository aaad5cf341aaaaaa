// One function per room; module.cpp calls them in order.
#pragma once

#include <pybind11/numpy.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>

#include <optional>
#include <span>
#include <string_view>
#include <utility>
#include <vector>

#include "libblade/nip_tables.hpp"
#include "libblade/status.hpp"

namespace py = pybind11;

void bind_error(py::module_& module);
void bind_case(py::module_& module);
void bind_parameters(py::module_& module);
void bind_nip(py::module_& module);
void bind_branches(py::module_& module);
void bind_sweep(py::module_& module);
void bind_window(py::module_& module);
void bind_film(py::module_& module);
void bind_bending(py::module_& module);
void bind_laws(py::module_& module);
void bind_flow_cup(py::module_& module);
void bind_actuator(py::module_& module);
void bind_tip_outline(py::module_& module);
void bind_width(py::module_& module);
void bind_wear(py::module_& module);
void bind_roll_wear(py::module_& module);
void bind_feather(py::module_& module);
void bind_scoring(py::module_& module);
void bind_print(py::module_& module);
void bind_lines(py::module_& module);
void bind_tracing(py::module_& module);
void bind_cell_flow(py::module_& module);
void bind_ink_flow(py::module_& module);
void bind_evaluate(py::module_& module);
void bind_schema(py::module_& module);
void bind_lesson(py::module_& module);

libblade::FlowTables& flow_tables();

using Doubles = py::array_t<double, py::array::c_style | py::array::forcecast>;

inline std::span<const double> view(const Doubles& array) {
    return {array.data(), static_cast<std::size_t>(array.size())};
}
/// As the Python record Convergence takes it.
inline auto convergence_tuple(const libblade::Convergence& k) {
    return py::make_tuple(libblade::to_string(k.status), k.residual, k.tolerance, k.iterations, k.message);
}
inline py::array_t<double> to_array(const std::vector<double>& values) {
    return py::array_t<double>(static_cast<py::ssize_t>(values.size()), values.data());
}

/// Ctrl-C and the caller's callback, both in the calling thread. A Python error stops the work and is thrown after it.
class Watcher {
  public:
    explicit Watcher(py::object progress) : progress_(std::move(progress)) {}
    bool operator()(std::size_t done, std::size_t total) {
        const py::gil_scoped_acquire acquire;
        if (error_) return false;
        try {
            if (PyErr_CheckSignals() != 0) throw py::error_already_set();
            if (!progress_.is_none()) progress_(done, total);
            return true;
        } catch (py::error_already_set& error) {
            error_ = std::move(error);
            return false;
        }
    }
    /// The error with its traceback as an object, or None.
    py::object error() {
        if (!error_) return py::none();
        py::object value = error_->value();
        if (error_->trace()) PyException_SetTraceback(value.ptr(), error_->trace().ptr());
        error_.reset();
        return value;
    }

  private:
    py::object progress_;
    std::optional<py::error_already_set> error_;
};
