#include "libblade/wear_schedule.hpp"

#include <cmath>
#include <utility>

#include "libblade/error.hpp"
#include "libblade/parameters.hpp"

namespace libblade {

namespace {

bool begins_with(const std::string& text, const char* start) { return text.rfind(start, 0) == 0; }

std::string place(std::size_t step, const std::string& word) { return "schedule." + std::to_string(step) + "." + word; }

/// Wear owns the blade's end; a new blade brings another.
bool of_the_blade(const std::string& field) {
    return (begins_with(field, "blade.") && field != "blade.specific_wear") || begins_with(field, "tip.");
}

/// Makes the changes and notes what is wrong with them.
void make(Case& c, const ScheduleStep& step, std::size_t k, const std::vector<FieldChange>& changes, const char* list,
          std::vector<Problem>& problems) {
    for (const FieldChange& change : changes) {
        const std::string where = place(k, list) + "." + change.field;
        if (of_the_blade(change.field) && (!step.new_blade || &changes == &step.ramp)) {
            problems.push_back({where, "", "can be set only at the start of a step with a new blade"});
            continue;
        }
        try {
            set_number(c, change.field, change.value);
        } catch (const InvalidInput& refused) {
            for (const Problem& p : refused.problems()) problems.push_back({where, p.value, p.message});
        }
    }
}

void check_step(const ScheduleStep& step, std::size_t k, std::vector<Problem>& problems) {
    const auto number = [&](const char* word, double value, double below, const char* rule) {
        if (!(value >= 0.0 && value < below)) problems.push_back({place(k, word), std::to_string(value), rule});
    };
    number("distance", step.distance, 1e12, "must be 0 m or more");
    number("duration", step.duration, 1e12, "must be 0 s or more");
    number("ripple", step.ripple, 1.0, "must be at least 0 and below 1");
    if (step.distance > 0.0 && step.duration > 0.0)
        problems.push_back(
            {place(k, "duration"), std::to_string(step.duration), "give a distance or a duration, not both"});
    if (step.stopped && step.distance > 0.0)
        problems.push_back(
            {place(k, "distance"), std::to_string(step.distance), "nothing slides while the roll stands"});
    if (!step.ramp.empty() && (step.stopped || !(step.distance + step.duration > 0.0)))
        problems.push_back({place(k, "ramp"), "", "needs a way to go: a distance or a duration"});
}

}  // namespace

double time_over(double distance, double speed_begin, double speed_end) noexcept {
    const double change = speed_end / speed_begin - 1.0;
    return distance / speed_begin * (std::abs(change) < 1e-9 ? 1.0 : std::log1p(change) / change);
}

double distance_of(const ScheduleStep& step, double speed_begin, double speed_end) noexcept {
    if (step.stopped) return 0.0;
    return step.distance > 0.0 ? step.distance : step.duration / time_over(1.0, speed_begin, speed_end);
}

Case case_after(const Case& before, const Schedule& schedule, std::size_t step) {
    Case c = before;
    std::vector<Problem> problems;
    make(c, schedule[step], step, schedule[step].set, "set", problems);
    if (problems.empty())
        for (const Problem& p : check(c)) problems.push_back({place(step, "set") + "." + p.path, p.value, p.message});
    if (!problems.empty()) throw InvalidInput(std::move(problems));
    return c;
}

Case case_within(const Case& begin, const ScheduleStep& step, double share) {
    Case c = begin;
    for (const FieldChange& r : step.ramp) {
        const double from = get_number(begin, r.field);
        set_number(c, r.field, share >= 1.0 ? r.value : from + share * (r.value - from));
    }
    return c;
}

void check_schedule(const Case& first, const Schedule& schedule) {
    std::vector<Problem> problems;
    if (schedule.empty()) problems.push_back({"schedule", "0 steps", "must have at least one step"});
    Case c = first;
    for (std::size_t k = 0; k < schedule.size(); ++k) {
        check_step(schedule[k], k, problems);
        make(c, schedule[k], k, schedule[k].set, "set", problems);
        make(c, schedule[k], k, schedule[k].ramp, "ramp", problems);
        for (const Problem& p : check(c)) problems.push_back({place(k, p.path), p.value, p.message});
        if (!problems.empty()) break;  // what follows would only repeat it
    }
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

}  // namespace libblade
