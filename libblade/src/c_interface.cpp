#include "libblade/c_interface.h"

#include <algorithm>
#include <cstring>
#include <limits>
#include <new>
#include <optional>
#include <string>
#include <type_traits>
#include <vector>

#include "libblade/case_file.hpp"
#include "libblade/error.hpp"
#include "libblade/nip_outputs.hpp"
#include "libblade/parameters.hpp"
#include "libblade/solver.hpp"
#include "libblade/version.hpp"

using namespace libblade;

static_assert(BLADE_CONVERGED == static_cast<int>(Status::converged) &&
              BLADE_OUT_OF_RANGE == static_cast<int>(Status::out_of_range));
static_assert(std::is_trivially_copyable_v<WarmStart>);

struct blade_case {
    Case value;
    std::string error;
};
struct blade_solver {
    std::optional<Solver> value;
    std::string error;
};
struct blade_workspace {
    Workspace value;
    WarmStart near;
    std::vector<double> in, out;  // one point of many
};

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

/// Runs what may throw; its words end up in the handle.
template <class Work>
blade_status guarded(std::string& error, Work&& work) noexcept {
    try {
        error.clear();
        return work();
    } catch (const InvalidInput& bad) {
        try {
            error = bad.what();
        } catch (...) {
            return BLADE_NO_MEMORY;
        }
        return BLADE_BAD_INPUT;
    } catch (...) {
        return BLADE_NO_MEMORY;
    }
}

/// Texts of the library are literals that end where their view ends.
const char* literal(std::string_view text) noexcept { return text.data(); }

template <class Handle>
Handle* made() noexcept {
    return new (std::nothrow) Handle{};
}

template <class Handle>
const char* error_of(const Handle* handle) noexcept {
    return handle != nullptr ? handle->error.c_str() : "";
}

/// SI value of a text with a unit, or the choice itself.
void set_text(Case& target, std::string_view path, std::string_view text) {
    const Field* field = find_field(path);
    if (field == nullptr) throw InvalidInput({{std::string(path), std::string(text), "is not a known field"}});
    const auto words = choices_of(*field);
    const bool choice = std::find(words.begin(), words.end(), text) != words.end();
    if (field->kind == FieldKind::number && !choice)
        set_number(target, path, parse_quantity(text, field->dimension, path));
    else
        set_choice(target, path, text);
}

}  // namespace

extern "C" {

const char* blade_version(void) { return literal(version); }

const char* blade_status_text(int status) {
    switch (status) {
        case BLADE_BAD_ARGUMENT:
            return "A handle or a pointer is missing, or sizes do not agree.";
        case BLADE_BAD_INPUT:
            return "The input is not sound; the handle's error says why.";
        case BLADE_NO_MEMORY:
            return "There is no memory left.";
        case BLADE_TOO_SMALL:
            return "The buffer is too small.";
        case BLADE_CONVERGED:
            return "";
        default:
            return status >= 0 && status <= BLADE_OUT_OF_RANGE ? literal(describe(static_cast<Status>(status)))
                                                               : "This is no status.";
    }
}

size_t blade_field_count(void) { return field_table().size(); }

blade_status blade_field_at(size_t index, blade_field* field) {
    if (field == nullptr || index >= field_table().size()) return BLADE_BAD_ARGUMENT;
    const Field& row = field_table()[index];
    *field = {literal(row.path),
              literal(row.meaning),
              literal(si_unit(row.dimension)),
              row.kind == FieldKind::number ? 1 : 0,
              row.hard_min,
              row.hard_max,
              row.usual_min,
              row.usual_max};
    return BLADE_CONVERGED;
}

size_t blade_output_count(void) { return outputs::table.size(); }

blade_status blade_output_at(size_t index, blade_output* output) {
    if (output == nullptr || index >= outputs::table.size()) return BLADE_BAD_ARGUMENT;
    const Output& row = outputs::table[index];
    *output = {literal(row.name), literal(row.unit), literal(row.long_name)};
    return BLADE_CONVERGED;
}

blade_case* blade_case_new(void) { return made<blade_case>(); }
void blade_case_free(blade_case* handle) { delete handle; }
const char* blade_case_error(const blade_case* handle) { return error_of(handle); }

blade_status blade_case_read(blade_case* handle, const char* text, size_t size) {
    if (handle == nullptr || (text == nullptr && size > 0)) return BLADE_BAD_ARGUMENT;
    return guarded(handle->error, [&] {
        handle->value = read_case(std::string_view(text, size));
        return BLADE_CONVERGED;
    });
}

blade_status blade_case_write(blade_case* handle, char* text, size_t size, size_t* needed) {
    if (handle == nullptr || (text == nullptr && size > 0)) return BLADE_BAD_ARGUMENT;
    return guarded(handle->error, [&] {
        const std::string all = write_case(handle->value);
        if (needed != nullptr) *needed = all.size();
        if (size < all.size()) return BLADE_TOO_SMALL;
        std::memcpy(text, all.data(), all.size());
        return BLADE_CONVERGED;
    });
}

blade_status blade_case_set_number(blade_case* handle, const char* path, double si_value) {
    if (handle == nullptr || path == nullptr) return BLADE_BAD_ARGUMENT;
    return guarded(handle->error, [&] {
        Case changed = handle->value;
        set_number(changed, path, si_value);
        handle->value = std::move(changed);
        return BLADE_CONVERGED;
    });
}

blade_status blade_case_set_text(blade_case* handle, const char* path, const char* text) {
    if (handle == nullptr || path == nullptr || text == nullptr) return BLADE_BAD_ARGUMENT;
    return guarded(handle->error, [&] {
        Case changed = handle->value;
        set_text(changed, path, text);
        handle->value = std::move(changed);
        return BLADE_CONVERGED;
    });
}

blade_status blade_case_number(blade_case* handle, const char* path, double* si_value) {
    if (handle == nullptr || path == nullptr || si_value == nullptr) return BLADE_BAD_ARGUMENT;
    *si_value = kNan;
    return guarded(handle->error, [&] {
        const Field* field = find_field(path);
        if (field == nullptr || field->kind != FieldKind::number)
            throw InvalidInput({{path, "", field == nullptr ? "is not a known field" : "is a choice, not a number"}});
        *si_value = get_number(handle->value, path);
        return BLADE_CONVERGED;
    });
}

blade_solver* blade_solver_new(void) { return made<blade_solver>(); }
void blade_solver_free(blade_solver* handle) { delete handle; }
const char* blade_solver_error(const blade_solver* handle) { return error_of(handle); }

blade_status blade_solver_set_up(blade_solver* handle, const blade_case* of, size_t fields,
                                 const char* const* field_paths, size_t outputs, const char* const* output_names,
                                 int start) {
    const auto missing = [](size_t count, const char* const* names) {
        return count > 0 &&
               (names == nullptr || std::any_of(names, names + count, [](auto* n) { return n == nullptr; }));
    };
    if (handle == nullptr || of == nullptr || missing(fields, field_paths) || missing(outputs, output_names) ||
        (start != 0 && start != 1))
        return BLADE_BAD_ARGUMENT;
    return guarded(handle->error, [&] {
        const std::vector<std::string> paths(field_paths, field_paths + fields);
        std::vector<double OperatingPoint::*> members;
        std::vector<Problem> problems;
        for (size_t k = 0; k < outputs; ++k) {
            members.push_back(find_output(output_names[k]));
            if (members.back() == nullptr)
                problems.push_back({output_names[k], "", "is no output of an operating point"});
        }
        if (!problems.empty()) throw InvalidInput(std::move(problems));
        NipOptions options;
        options.start = start == 1 ? Start::riding : Start::resting;
        handle->value.emplace(of->value, paths, members, options);
        return BLADE_CONVERGED;
    });
}

blade_workspace* blade_workspace_new(const blade_solver* of) {
    if (of == nullptr || !of->value) return nullptr;
    try {
        return new blade_workspace{of->value->workspace(),
                                   {},
                                   std::vector<double>(of->value->inputs()),
                                   std::vector<double>(of->value->outputs())};
    } catch (...) {
        return nullptr;
    }
}
void blade_workspace_free(blade_workspace* handle) { delete handle; }

const char* blade_workspace_error(const blade_workspace* handle) {
    if (handle == nullptr) return "";
    const Convergence& latest = handle->value.point().convergence;
    return latest.ok() ? "" : literal(describe(latest.status));
}

blade_status blade_solve(const blade_solver* solver, blade_workspace* workspace, const double* in, double* out,
                         int warm) {
    if (solver == nullptr || !solver->value || workspace == nullptr) return BLADE_BAD_ARGUMENT;
    const size_t inputs = solver->value->inputs(), outputs = solver->value->outputs();
    if ((in == nullptr && inputs > 0) || (out == nullptr && outputs > 0)) return BLADE_BAD_ARGUMENT;
    return static_cast<blade_status>(
        solver->value->solve({in, inputs}, {out, outputs}, workspace->value, warm != 0 ? &workspace->near : nullptr));
}

blade_status blade_solve_many(const blade_solver* solver, blade_workspace* workspace, const blade_many* many) {
    if (solver == nullptr || !solver->value || workspace == nullptr || many == nullptr) return BLADE_BAD_ARGUMENT;
    const auto inputs = static_cast<ptrdiff_t>(solver->value->inputs());
    const auto outputs = static_cast<ptrdiff_t>(solver->value->outputs());
    if (many->points > 0 && ((many->in == nullptr && inputs > 0) || (many->out == nullptr && outputs > 0)))
        return BLADE_BAD_ARGUMENT;
    std::vector<double>&in = workspace->in, &out = workspace->out;
    if (in.size() != solver->value->inputs() || out.size() != solver->value->outputs()) return BLADE_BAD_ARGUMENT;
    blade_status all = BLADE_CONVERGED;
    for (size_t i = 0; i < many->points; ++i) {
        const auto point = static_cast<ptrdiff_t>(i);
        for (ptrdiff_t k = 0; k < inputs; ++k)
            in[static_cast<size_t>(k)] = many->in[point * many->in_point_stride + k * many->in_field_stride];
        const blade_status here = blade_solve(solver, workspace, in.data(), out.data(), many->warm);
        for (ptrdiff_t k = 0; k < outputs; ++k)
            many->out[point * many->out_point_stride + k * many->out_output_stride] = out[static_cast<size_t>(k)];
        if (many->statuses != nullptr) many->statuses[i] = here;
        if (here != BLADE_CONVERGED) all = here;
    }
    return all;
}

size_t blade_stand_size(void) { return sizeof(WarmStart); }

blade_status blade_workspace_keep(const blade_workspace* handle, void* bytes, size_t size) {
    if (handle == nullptr || bytes == nullptr || size != sizeof(WarmStart)) return BLADE_BAD_ARGUMENT;
    std::memcpy(bytes, &handle->near, sizeof(WarmStart));
    return BLADE_CONVERGED;
}

blade_status blade_workspace_put_back(blade_workspace* handle, const void* bytes, size_t size) {
    if (handle == nullptr || bytes == nullptr || size != sizeof(WarmStart)) return BLADE_BAD_ARGUMENT;
    std::memcpy(&handle->near, bytes, sizeof(WarmStart));
    return BLADE_CONVERGED;
}

size_t blade_workspace_flag_count(const blade_workspace* handle) {
    return handle != nullptr ? handle->value.point().validity.size() : 0;
}

blade_status blade_workspace_flag(const blade_workspace* handle, size_t index, blade_flag* flag) {
    if (flag == nullptr || index >= blade_workspace_flag_count(handle)) return BLADE_BAD_ARGUMENT;
    const ValidityFlag& f = handle->value.point().validity[index];
    *flag = {literal(f.name), literal(f.message), f.value, f.limit, static_cast<int>(f.why)};
    return BLADE_CONVERGED;
}

}  // extern "C"
