#include <chrono>

#include "bind.hpp"
#include "libblade/parameters.hpp"
#include "libblade/roll_wear.hpp"
#include "libblade/wear.hpp"

using namespace libblade;

namespace {

using Changes = std::vector<std::pair<std::string, double>>;
/// As the Python record ScheduleStep gives it.
using StepTuple = std::tuple<double, double, Changes, Changes, double, bool, bool>;

std::vector<FieldChange> changes_of(const Changes& given) {
    std::vector<FieldChange> out;
    for (const auto& [field, value] : given) out.push_back({field, value});
    return out;
}

Schedule schedule_of(const std::vector<StepTuple>& steps) {
    Schedule out;
    for (const auto& [distance, duration, set, ramp, ripple, stopped, new_blade] : steps) {
        ScheduleStep step;
        step.distance = distance, step.duration = duration;
        step.set = changes_of(set), step.ramp = changes_of(ramp);
        step.ripple = ripple, step.stopped = stopped, step.new_blade = new_blade;
        out.push_back(std::move(step));
    }
    return out;
}

/// Does the same with every member of a state, by its name.
template <class State, class Visit>
void each_member(State& s, const Visit& visit) {
    visit("step", s.step);
    visit("in_step", s.in_step);
    visit("step_start", s.step_start);
    visit("distance", s.distance);
    visit("time", s.time);
    visit("next_step", s.next_step);
    visit("tip", s.tip);
    visit("frame_angle", s.frame_angle);
    visit("first_length", s.first_length);
    visit("fully_worn", s.fully_worn);
    visit("angle", s.angle);
    visit("u", s.u);
    visit("load", s.load);
    visit("interference", s.interference);
    visit("load_end", s.load_end);
    visit("interference_end", s.interference_end);
    visit("recess", s.recess);
    visit("trouble", s.trouble);
    visit("to_and_fro", s.to_and_fro);
    visit("begun", s.begun);
}

py::dict state_dict(const WearState& state) {
    py::dict out;
    each_member(state, [&](const char* name, const auto& value) { out[name] = value; });
    return out;
}

WearState state_of(const py::dict& given) {
    WearState out;
    each_member(out, [&](const char* name, auto& value) { value = given[name].cast<std::decay_t<decltype(value)>>(); });
    return out;
}

py::dict columns(const WearHistory& w) {
    py::dict out;
    out["distance"] = to_array(w.distance), out["time"] = to_array(w.time);
    out["schedule_step"] = py::array_t<int>(static_cast<py::ssize_t>(w.step.size()), w.step.data());
    out["facet_length"] = to_array(w.facet_length), out["bedded_angle"] = to_array(w.bedded_angle);
    out["effective_angle"] = to_array(w.effective_angle), out["length_lost"] = to_array(w.length_lost);
    out["removed_area"] = to_array(w.removed_area), out["worn_area"] = to_array(w.worn_area);
    out["film_on_lands"] = to_array(w.film_on_lands), out["film_over_turn"] = to_array(w.film_over_turn);
    out["excess_ink"] = to_array(w.excess_ink), out["asperity_load"] = to_array(w.asperity_load);
    out["line_load"] = to_array(w.line_load), out["tangential_load"] = to_array(w.tangential_load);
    out["interference"] = to_array(w.interference);
    py::array_t<std::int8_t> regime(static_cast<py::ssize_t>(w.regime.size()));
    std::int8_t* to = regime.mutable_data();
    for (const Regime r : w.regime) *to++ = static_cast<std::int8_t>(r);
    out["regime"] = regime;
    return out;
}

/// Cases at the start and at the end of each step.
std::vector<std::pair<Case, Case>> step_cases(const Case& first, const Schedule& schedule) {
    std::vector<std::pair<Case, Case>> out;
    Case at = first;
    for (std::size_t k = 0; k < schedule.size(); ++k) {
        const Case begin = case_after(at, schedule, k);
        at = case_within(begin, schedule[k], 1.0);
        out.emplace_back(begin, at);
    }
    return out;
}

std::vector<double> step_lengths(const Schedule& schedule, const std::vector<std::pair<Case, Case>>& cases) {
    std::vector<double> out;
    for (std::size_t k = 0; k < schedule.size(); ++k)
        out.push_back(
            distance_of(schedule[k], cases[k].first.setting.surface_speed, cases[k].second.setting.surface_speed));
    return out;
}

}  // namespace

void bind_wear(py::module_& module) {
    py::class_<WearOptions>(module, "WearOptions")
        .def(py::init([](bool profile, std::optional<double> facet_limit, std::optional<double> length_limit,
                         std::optional<double> excess_limit, double first_facet, double tolerance, double longest_step,
                         int max_steps, bool riding, int mesh, bool constant_friction) {
                 WearOptions options;
                 options.tier = profile ? WearTier::profile : WearTier::facet;
                 options.facet_limit = facet_limit, options.length_limit = length_limit;
                 options.excess_limit = excess_limit;
                 options.first_facet = first_facet, options.tolerance = tolerance, options.longest_step = longest_step;
                 options.max_steps = max_steps;
                 options.start = riding ? Start::riding : Start::resting;
                 options.mesh = mesh, options.constant_friction = constant_friction;
                 options.tables = &flow_tables();
                 return options;
             }),
             py::kw_only(), py::arg("profile"), py::arg("facet_limit"), py::arg("length_limit"),
             py::arg("excess_limit"), py::arg("first_facet"), py::arg("tolerance"), py::arg("longest_step"),
             py::arg("max_steps"), py::arg("riding"), py::arg("mesh"), py::arg("constant_friction"));
    module.def(
        "schedule_steps",
        [](const Case& c, const std::vector<StepTuple>& steps) {
            const Schedule schedule = schedule_of(steps);
            check_schedule(c, schedule);
            const auto cases = step_cases(c, schedule);
            return py::make_tuple(cases, step_lengths(schedule, cases));
        },
        py::arg("case"), py::arg("schedule"),
        "Cases at the start and at the end of each step, and the steps' distances [m].");
    module.def(
        "wear",
        [](const Case& c, const std::vector<StepTuple>& steps, WearOptions options, const std::optional<py::dict>& from,
           py::object progress, int most_steps, double most_seconds) {
            const Schedule schedule = schedule_of(steps);
            check_schedule(c, schedule);
            const std::vector<double> lengths = step_lengths(schedule, step_cases(c, schedule));
            double total = 0.0;
            for (const double length : lengths) total += length;
            const std::optional<WearState> state = from ? std::optional(state_of(*from)) : std::nullopt;
            Watcher watcher(std::move(progress));
            bool paused = false;
            const auto began = std::chrono::steady_clock::now();
            options.watch = [&](const WearHistory& w) {
                if (!watcher(static_cast<std::size_t>(w.state.distance), static_cast<std::size_t>(total)))
                    return paused = true, false;
                const std::chrono::duration<double> run = std::chrono::steady_clock::now() - began;
                const bool ended = w.state.in_step >= lengths[w.state.step];
                const bool due = w.convergence.iterations >= most_steps || run.count() >= most_seconds || ended;
                // A history that is about to run out of steps says so itself.
                paused = most_steps > 0 && due && w.convergence.iterations + w.steps_rejected < options.max_steps;
                return !paused;
            };
            const WearHistory w = [&] {
                const py::gil_scoped_release release;
                return wear(c, schedule, options, state ? &*state : nullptr);
            }();
            py::list events;
            for (const WearHistoryEvent& e : w.events)
                events.append(py::make_tuple(to_string(e.kind), e.distance, e.time, e.step, ends_history(e.kind)));
            py::dict out;
            out["columns"] = columns(w);
            out["events"] = events;
            out["state"] = state_dict(w.state);
            out["profile"] = py::make_tuple(to_array(w.profile_place), to_array(w.profile_height));
            out["steps_rejected"] = w.steps_rejected;
            out["nip_solves"] = w.nip_solves;
            out["convergence"] = convergence_tuple(w.convergence);
            out["paused"] = paused;
            return py::make_tuple(out, watcher.error());
        },
        py::arg("case"), py::arg("schedule"), py::arg("options"), py::arg("from_state"), py::arg("progress"),
        py::arg("most_steps"), py::arg("most_seconds"),
        "A stretch of a history: to its end, or with most_steps above 0 until it pauses. The error that stopped it or "
        "None.");
    module.def(
        "wear_cut",
        [](const Doubles& area, const Doubles& angle, double full_from, double thickness) {
            const auto a = view(area), b = view(angle);
            std::vector<double> length, lost;
            for (std::size_t i = 0; i < a.size(); ++i) {
                const Cut cut = cut_at(a[i], b[i], a[i] >= full_from, thickness);
                length.push_back(cut.length), lost.push_back(cut.length_lost);
            }
            return py::make_tuple(to_array(length), to_array(lost));
        },
        py::arg("area"), py::arg("angle"), py::arg("full_from"), py::arg("thickness"),
        "Facet lengths and lengths lost where straight cuts have taken these areas; the end is eaten from full_from "
        "on.");
    module.def(
        "land_loss_per_pass",
        [](const Case& c, double asperity_load) {
            return land_loss_per_pass(c.roll.specific_wear, asperity_load, land_fraction(c.roll.engraving));
        },
        py::arg("case"), py::arg("asperity_load"));
}
