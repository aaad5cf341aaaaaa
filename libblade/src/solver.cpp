#include "libblade/solver.hpp"

#include <algorithm>
#include <limits>

#include "libblade/error.hpp"
#include "libblade/parameters.hpp"
#include "nip_prepare.hpp"
#include "parameters_access.hpp"

namespace libblade {

namespace {

using namespace detail;
using P = OperatingPoint;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr std::size_t kMostFlags = 32, kLongestMessage = 256;

bool begins_with(const std::string& text, std::string_view start) { return text.rfind(start, 0) == 0; }

/// Why a field cannot move here; empty: it can.
std::string refusal(const Case& base, const Case& moved, const std::string& field) {
    const bool curve = !base.roll.bearing_curve.empty();
    if (begins_with(field, "setting.actuator."))
        return "cannot move in a hot loop; turn the actuator's reading into setting.line_load or setting.interference";
    if (std::holds_alternative<ByActuator>(moved.setting.load))
        return "needs setting.line_load or setting.interference as an input, not an actuator's reading";
    const bool cells = base.roll.engraving.pattern != Pattern::smooth && !base.roll.engraving.pressure_flow_factor;
    if (begins_with(field, "roll.engraving.") && cells && field != "roll.engraving.fill" &&
        field != "roll.engraving.land_fraction")
        return "shapes the cells and so the table of their flow: make one Solver for each engraving, or state "
               "roll.engraving.pressure_flow_factor";
    if (begins_with(field, "ink.") && !std::holds_alternative<Newtonian>(moved.ink.rheology) &&
        (begins_with(field, "ink.rheology.") || field == "ink.viscosity"))
        return "is part of a flow curve that is kept as a table: make one Solver for each ink, or move ink.temperature";
    if (curve && (begins_with(field, "roll.") || begins_with(field, "blade.material.")) &&
        !begins_with(field, "roll.engraving.fill") && field != "roll.run_out" && field != "roll.radius")
        return "goes into a table of the bearing curve";
    return {};
}

std::vector<Problem> problems_of(const Case& base, std::span<const std::string> fields) {
    std::vector<Problem> problems = check(base);
    Case trial = base;
    const std::vector<Problem> bad = problems_of_fields(fields, trial);
    problems.insert(problems.end(), bad.begin(), bad.end());
    for (const std::string& path : fields)
        if (find_access(path) != nullptr && has_field(trial, path))
            if (std::string why = refusal(base, trial, path); !why.empty())
                problems.push_back({path, "", std::move(why)});
    return problems;
}

}  // namespace

NipOptions needed_by(std::span<double P::*const> outputs, NipOptions options) {
    const auto reads = [&](std::initializer_list<double P::*> members) {
        return std::any_of(outputs.begin(), outputs.end(), [&](double P::*output) {
            return std::find(members.begin(), members.end(), output) != members.end();
        });
    };
    options.step_response = reads({&P::film_after_step, &P::excess_after_step});
    options.run_out = reads({&P::run_out_load, &P::run_out_angle, &P::run_out_tilt, &P::film_over_turn});
    options.strength = reads({&P::contact_width, &P::bearing_pressure, &P::mean_pressure, &P::tip_deflection,
                              &P::tip_rotation, &P::max_bending_stress, &P::stress_ratio, &P::tangent_stiffness,
                              &P::elastic_width, &P::elastic_pressure});
    options.other_branch = options.section = false;
    return options;
}

struct Solver::Parts {
    Case base;
    std::vector<const NumberAccess*> access;
    std::vector<const Field*> fields;
    std::vector<double P::*> outputs;
    NipOptions options;
    FlowTables own;
};

struct Workspace::Parts {
    const void* of;  ///< the solver it was made by
    Case now;        ///< the case of the latest inputs
    Case worn_in;    ///< where its facet ran in elsewhere
    Prepared nip;
    OperatingPoint point;
};

Workspace::Workspace(std::unique_ptr<Parts> parts) noexcept : parts_(std::move(parts)) {}
Workspace::Workspace(Workspace&&) noexcept = default;
Workspace& Workspace::operator=(Workspace&&) noexcept = default;
Workspace::~Workspace() = default;
const OperatingPoint& Workspace::point() const noexcept { return parts_->point; }

Solver::Solver(const Case& base, std::span<const std::string> fields, std::span<double P::*const> outputs,
               const NipOptions& options) {
    if (auto problems = problems_of(base, fields); !problems.empty()) throw InvalidInput(std::move(problems));
    auto parts = std::make_unique<Parts>();
    parts->base = base;
    parts->base.name.clear(), parts->base.note.clear();  // nothing is computed from them
    for (const std::string& path : fields)
        parts->access.push_back(find_access(path)), parts->fields.push_back(find_field(path));
    parts->outputs.assign(outputs.begin(), outputs.end());
    parts->options = needed_by(outputs, options);
    parts->options.near = nullptr;
    if (parts->options.tables == nullptr) parts->options.tables = &parts->own;
    parts_ = std::move(parts);
}
Solver::~Solver() = default;
Solver::Solver(Solver&&) noexcept = default;
Solver& Solver::operator=(Solver&&) noexcept = default;

std::size_t Solver::inputs() const noexcept { return parts_->access.size(); }
std::size_t Solver::outputs() const noexcept { return parts_->outputs.size(); }

bool Solver::takes(const Case& base, std::span<const std::string> fields) { return problems_of(base, fields).empty(); }

Workspace Solver::workspace() const {
    Case now = parts_->base;
    // The inputs may bring the load, the facet, ...: set up as they will leave the case.
    for (std::size_t k = 0; k < inputs(); ++k) {
        const double value = get_number(now, parts_->fields[k]->path);
        const Field& f = *parts_->fields[k];
        parts_->access[k]->set(now, value == value ? value : 0.5 * (f.usual_min + f.usual_max));
    }
    const NipOptions& o = parts_->options;
    Prepared nip(NipSolver(now, o.mesh, o.tables));
    nip.solver.set_aside();
    Case worn_in = now;
    if (const auto* elsewhere = ran_in_elsewhere(now)) {
        worn_in = bedding_case(now, *elsewhere);
        nip.there.emplace(worn_in, o.mesh, o.tables);
        nip.there->set_aside();
    }
    auto w = std::make_unique<Workspace::Parts>(
        Workspace::Parts{parts_.get(), std::move(now), std::move(worn_in), std::move(nip), OperatingPoint{}});
    w->nip.memory.reserve(7 * w->nip.solver.most_nodes());
    w->point.validity.reserve(kMostFlags);
    w->point.convergence.message.reserve(kLongestMessage);
    return Workspace(std::move(w));
}

Status Solver::solve(std::span<const double> in, std::span<double> out, Workspace& workspace,
                     WarmStart* near) const noexcept {
    std::fill(out.begin(), out.end(), kNan);
    Workspace::Parts& w = *workspace.parts_;
    w.point.clear();
    const auto refused = [&] {
        if (near != nullptr) near->forget();
        outcome(Status::out_of_range, w.point.convergence);
        return Status::out_of_range;
    };
    if (in.size() != inputs() || out.size() != outputs() || w.of != parts_.get()) return refused();
    try {
        w.now = parts_->base;
        for (std::size_t k = 0; k < in.size(); ++k) {
            const Field& f = *parts_->fields[k];
            if (!(in[k] >= f.hard_min && in[k] <= f.hard_max)) return refused();
            parts_->access[k]->set(w.now, in[k]);
        }
        if (!is_consistent(w.now)) return refused();  // what is no input was looked at when the solver was made
        w.nip.solver.restart(w.now);
        if (const auto* elsewhere = ran_in_elsewhere(w.now)) {
            bedding_case(w.now, *elsewhere, w.worn_in);
            w.nip.there->restart(w.worn_in);
        }
        NipOptions options = parts_->options;
        options.near = near;
        prepare(w.now, options, w.nip);
        answer(w.now, w.nip, options, w.point);
    } catch (...) {  // memory: nothing else is left that throws
        if (near != nullptr) near->forget();
        w.point.clear();
        return w.point.convergence.status;
    }
    const Status status = w.point.convergence.status;
    if (status == Status::converged)
        for (std::size_t k = 0; k < out.size(); ++k) out[k] = w.point.*parts_->outputs[k];
    return status;
}

}  // namespace libblade
