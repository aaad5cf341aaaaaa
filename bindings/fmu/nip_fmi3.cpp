// The functions of the FMI 3.0 interface for Co-Simulation over a NipUnit.
#include <algorithm>
#include <cmath>
#include <cstring>
#include <string>
#include <utility>
#include <vector>

#include "instance.hpp"
#include "libblade/case_file.hpp"

namespace {

using namespace libblade;
using namespace libblade::fmu;

/// A memory and the phase it was taken in.
struct Saved {
    Memory memory;
    Phase phase;
    double start_time;
};

/// In initialization mode the numbers follow what has been set.
fmi3Status ready(Instance& i, const char* function) {
    if (i.phase == Phase::instantiated) return not_now(i, function);
    if (i.phase != Phase::initialization || i.unit.memory().started) return fmi3OK;
    const Outcome out = i.unit.start(i.start_time);
    return out.kind == Outcome::Kind::done ? fmi3OK
                                           : tell(i, fmi3Error, "the nip has no solution at the start: " + out.message);
}

/// What has been started no longer follows what is set now.
void unsettle(Instance& i) {
    if (i.phase != Phase::initialization || !i.unit.memory().started) return;
    Memory memory = i.unit.memory();
    memory.started = false;
    i.unit.recall(memory);
}

bool is_field(fmi3ValueReference reference) {
    return reference >= kFirstField && reference - kFirstField < field_table().size();
}

fmi3Status wrong_reference(const Instance& i, fmi3ValueReference reference) {
    return tell(i, fmi3Error,
                "there is no variable of this type with the value reference " + std::to_string(reference));
}

fmi3Status get_float64(Instance& i, fmi3ValueReference reference, double& value) {
    const Memory& memory = i.unit.memory();
    if (reference == kTime) {
        value = memory.started ? memory.time : i.start_time;
        return fmi3OK;
    }
    if (is_field(reference)) {
        value = memory.fields[reference - kFirstField];
        return std::isnan(value) ? wrong_reference(i, reference) : fmi3OK;
    }
    if (reference < kFirstOutput || reference - kFirstOutput >= kNumbers) return wrong_reference(i, reference);
    const fmi3Status status = ready(i, "fmi3GetFloat64 of an output");
    value = memory.numbers[reference - kFirstOutput];
    return status;
}

fmi3Status set_float64(Instance& i, fmi3ValueReference reference, double value) {
    if (!is_field(reference) || std::isnan(i.unit.memory().fields[reference - kFirstField]))
        return wrong_reference(i, reference);
    const std::size_t row = reference - kFirstField;
    if (i.phase == Phase::terminated || (i.phase == Phase::stepping && input_of(field_table()[row].path) < 0))
        return not_now(i, ("setting " + std::string(field_table()[row].path)).c_str());
    i.unit.set_field(row, value);
    unsettle(i);
    return fmi3OK;
}

/// Its reference as a word; kWords: none.
int word_at(fmi3ValueReference reference) {
    return reference >= kFirstWord && reference < kFirstWord + kWords ? static_cast<int>(reference - kFirstWord)
                                                                      : kWords;
}

constexpr const char* kCount = "as many values as value references are needed";

}  // namespace

extern "C" {

FMI3_EXPORT const char* fmi3GetVersion() { return "3.0"; }

FMI3_EXPORT fmi3Status fmi3SetDebugLogging(fmi3Instance instance, fmi3Boolean on, std::size_t count,
                                           const fmi3String categories[]) {
    return guarded(instance, [&](Instance& i) {
        if (count == 0) i.speaks.fill(on);
        for (std::size_t k = 0; k < count; ++k) {
            const auto at = std::find(kCategories.begin(), kCategories.end(), categories[k]);
            if (at == kCategories.end())
                return tell(i, fmi3Error, std::string("there is no log category ") + categories[k]);
            i.speaks[static_cast<std::size_t>(at - kCategories.begin())] = on;
        }
        return fmi3OK;
    });
}

FMI3_EXPORT fmi3Instance fmi3InstantiateCoSimulation(fmi3String name, fmi3String token, fmi3String resources,
                                                     fmi3Boolean, fmi3Boolean logging, fmi3Boolean event_mode,
                                                     fmi3Boolean early_return, const fmi3ValueReference[], std::size_t,
                                                     fmi3InstanceEnvironment environment, fmi3LogMessageCallback log,
                                                     fmi3IntermediateUpdateCallback) {
    const auto refuse = [&](const std::string& message) -> fmi3Instance {
        if (log != nullptr)
            log(environment, fmi3Error, kCategories[errors].data(),
                ((name != nullptr ? std::string(name) + ": " : std::string()) + message).c_str());
        return nullptr;
    };
    try {
        if (token == nullptr || token != instantiation_token())
            return refuse(
                "the instantiation token is not that of this binary: its modelDescription.xml is of another unit");
        if (event_mode) return refuse("the unit has no event mode");
        if (resources == nullptr || *resources == '\0') return refuse("the unit needs the path of its resources");
        std::string path = resources;
        if (path.back() != '/' && path.back() != '\\') path += '/';
        return new Instance{
            NipUnit(load_case(path + "case.json")), environment, log, {logging, true, true}, early_return};
    } catch (const std::exception& failure) {
        return refuse(std::string("resources/case.json: ") + failure.what());
    }
}

FMI3_EXPORT void fmi3FreeInstance(fmi3Instance instance) { delete static_cast<Instance*>(instance); }

FMI3_EXPORT fmi3Status fmi3EnterInitializationMode(fmi3Instance instance, fmi3Boolean, fmi3Float64,
                                                   fmi3Float64 start_time, fmi3Boolean, fmi3Float64) {
    return guarded(instance, [&](Instance& i) {
        if (i.phase != Phase::instantiated) return not_now(i, "fmi3EnterInitializationMode");
        if (!std::isfinite(start_time)) return tell(i, fmi3Error, "the start time must be a number");
        i.phase = Phase::initialization, i.start_time = start_time;
        return fmi3OK;
    });
}

FMI3_EXPORT fmi3Status fmi3ExitInitializationMode(fmi3Instance instance) {
    return guarded(instance, [&](Instance& i) {
        if (i.phase != Phase::initialization) return not_now(i, "fmi3ExitInitializationMode");
        const fmi3Status status = ready(i, "fmi3ExitInitializationMode");
        if (status == fmi3OK) i.phase = Phase::stepping;
        return status;
    });
}

FMI3_EXPORT fmi3Status fmi3Terminate(fmi3Instance instance) {
    return guarded(instance, [&](Instance& i) {
        if (i.phase != Phase::stepping) return not_now(i, "fmi3Terminate");
        i.phase = Phase::terminated;
        return fmi3OK;
    });
}

FMI3_EXPORT fmi3Status fmi3Reset(fmi3Instance instance) {
    return guarded(instance, [&](Instance& i) {
        i.unit.recall(NipUnit(i.unit.shipped()).memory());
        i.phase = Phase::instantiated, i.start_time = 0.0;
        return fmi3OK;
    });
}

FMI3_EXPORT fmi3Status fmi3DoStep(fmi3Instance instance, fmi3Float64 at, fmi3Float64 duration, fmi3Boolean,
                                  fmi3Boolean* event_handling_needed, fmi3Boolean* terminate, fmi3Boolean* early_return,
                                  fmi3Float64* last_successful_time) {
    *event_handling_needed = *terminate = *early_return = false;
    return guarded(instance, [&](Instance& i) {
        const double now = i.unit.memory().time;
        *last_successful_time = now;
        if (i.phase != Phase::stepping) return not_now(i, "fmi3DoStep");
        if (!(duration > 0.0) || !std::isfinite(duration))
            return tell(i, fmi3Error, "the communication step must be longer than 0 s, not " + number_text(duration));
        if (!(std::abs(at - now) <= 1e-9 * std::max({1.0, std::abs(now), duration})))
            return tell(i, fmi3Error,
                        "the communication point " + number_text(at, 17) +
                            " s is not where the unit stands: " + number_text(now, 17) + " s");
        const Outcome out = i.unit.step(at, duration, i.may_end_early);
        for (const std::string& event : out.events) (void)tell(i, fmi3OK, event);
        *last_successful_time = out.time;
        if (out.kind == Outcome::Kind::refused)
            return tell(i, fmi3Discard, "the step from " + number_text(now, 10) + " s was not made: " + out.message);
        if (out.kind == Outcome::Kind::ended) {
            *terminate = *early_return = true;
            (void)tell(i, fmi3OK, out.message + " at " + number_text(out.time, 10) + " s");
        }
        return fmi3OK;
    });
}

FMI3_EXPORT fmi3Status fmi3GetFloat64(fmi3Instance instance, const fmi3ValueReference references[], std::size_t count,
                                      fmi3Float64 values[], std::size_t value_count) {
    return guarded(instance, [&](Instance& i) {
        if (count != value_count) return tell(i, fmi3Error, kCount);
        for (std::size_t k = 0; k < count; ++k)
            if (const fmi3Status status = get_float64(i, references[k], values[k]); status != fmi3OK) return status;
        return fmi3OK;
    });
}

FMI3_EXPORT fmi3Status fmi3SetFloat64(fmi3Instance instance, const fmi3ValueReference references[], std::size_t count,
                                      const fmi3Float64 values[], std::size_t value_count) {
    return guarded(instance, [&](Instance& i) {
        if (count != value_count) return tell(i, fmi3Error, kCount);
        const Memory before = i.unit.memory();
        try {
            for (std::size_t k = 0; k < count; ++k)
                if (const fmi3Status status = set_float64(i, references[k], values[k]); status != fmi3OK)
                    return i.unit.recall(before), status;
        } catch (...) {
            i.unit.recall(before);
            throw;
        }
        return fmi3OK;
    });
}

FMI3_EXPORT fmi3Status fmi3GetInt64(fmi3Instance instance, const fmi3ValueReference references[], std::size_t count,
                                    fmi3Int64 values[], std::size_t value_count) {
    return guarded(instance, [&](Instance& i) {
        if (count != value_count) return tell(i, fmi3Error, kCount);
        for (std::size_t k = 0; k < count; ++k) {
            const int word = word_at(references[k]);
            if (word == kWords) return wrong_reference(i, references[k]);
            if (word < kGivenWords)
                if (const fmi3Status status = ready(i, "fmi3GetInt64 of an output"); status != fmi3OK) return status;
            values[k] = i.unit.memory().words[static_cast<std::size_t>(word)];
        }
        return fmi3OK;
    });
}

FMI3_EXPORT fmi3Status fmi3SetInt64(fmi3Instance instance, const fmi3ValueReference references[], std::size_t count,
                                    const fmi3Int64 values[], std::size_t value_count) {
    return guarded(instance, [&](Instance& i) {
        if (count != value_count) return tell(i, fmi3Error, kCount);
        for (std::size_t k = 0; k < count; ++k) {
            const int word = word_at(references[k]);
            if (word == kWords || word < kGivenWords) return wrong_reference(i, references[k]);
            if (i.phase == Phase::stepping || i.phase == Phase::terminated) return not_now(i, "setting a parameter");
            i.unit.set_word(static_cast<Spoken>(word), static_cast<int>(std::clamp<fmi3Int64>(values[k], -1, 1000)));
            unsettle(i);
        }
        return fmi3OK;
    });
}

FMI3_EXPORT fmi3Status fmi3GetFMUState(fmi3Instance instance, fmi3FMUState* state) {
    return guarded(instance, [&](Instance& i) {
        Saved saved{i.unit.memory(), i.phase, i.start_time};
        if (*state == nullptr)
            *state = new Saved(std::move(saved));
        else
            *static_cast<Saved*>(*state) = std::move(saved);
        return fmi3OK;
    });
}

FMI3_EXPORT fmi3Status fmi3SetFMUState(fmi3Instance instance, fmi3FMUState state) {
    return guarded(instance, [&](Instance& i) {
        if (state == nullptr) return tell(i, fmi3Error, "there is no state to go back to");
        const auto& saved = *static_cast<const Saved*>(state);
        i.unit.recall(saved.memory);
        i.phase = saved.phase, i.start_time = saved.start_time;
        return fmi3OK;
    });
}

FMI3_EXPORT fmi3Status fmi3FreeFMUState(fmi3Instance instance, fmi3FMUState* state) {
    return guarded(instance, [&](Instance&) {
        if (state != nullptr) delete static_cast<Saved*>(std::exchange(*state, nullptr));
        return fmi3OK;
    });
}

namespace {

std::vector<std::uint8_t> bytes_of(const NipUnit& unit, const Saved& saved) {
    std::vector<std::uint8_t> out = unit.to_bytes(saved.memory);
    out.insert(out.begin(), 1, static_cast<std::uint8_t>(saved.phase));
    const auto* start = reinterpret_cast<const std::uint8_t*>(&saved.start_time);
    out.insert(out.begin(), start, start + sizeof(double));
    return out;
}

}  // namespace

FMI3_EXPORT fmi3Status fmi3SerializedFMUStateSize(fmi3Instance instance, fmi3FMUState state, std::size_t* size) {
    return guarded(instance, [&](Instance& i) {
        if (state == nullptr) return tell(i, fmi3Error, "there is no state");
        *size = bytes_of(i.unit, *static_cast<const Saved*>(state)).size();
        return fmi3OK;
    });
}

FMI3_EXPORT fmi3Status fmi3SerializeFMUState(fmi3Instance instance, fmi3FMUState state, fmi3Byte bytes[],
                                             std::size_t size) {
    return guarded(instance, [&](Instance& i) {
        if (state == nullptr) return tell(i, fmi3Error, "there is no state");
        const auto written = bytes_of(i.unit, *static_cast<const Saved*>(state));
        if (size < written.size())
            return tell(i, fmi3Error, "the state takes " + std::to_string(written.size()) + " bytes");
        std::copy(written.begin(), written.end(), bytes);
        return fmi3OK;
    });
}

FMI3_EXPORT fmi3Status fmi3DeserializeFMUState(fmi3Instance instance, const fmi3Byte bytes[], std::size_t size,
                                               fmi3FMUState* state) {
    return guarded(instance, [&](Instance& i) {
        Saved saved{};
        const std::size_t head = sizeof(double) + 1;
        const bool sound = bytes != nullptr && size > head &&
                           bytes[sizeof(double)] <= static_cast<int>(Phase::terminated) &&
                           i.unit.from_bytes(bytes + head, size - head, saved.memory);
        if (!sound) return tell(i, fmi3Error, "these bytes are no state of this unit");
        std::memcpy(&saved.start_time, bytes, sizeof(double));
        saved.phase = static_cast<Phase>(bytes[sizeof(double)]);
        if (*state == nullptr)
            *state = new Saved(std::move(saved));
        else
            *static_cast<Saved*>(*state) = std::move(saved);
        return fmi3OK;
    });
}

}  // extern "C"
