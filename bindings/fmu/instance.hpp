// An instance of the unit as the interface sees it: its state of calling, its log.
#pragma once

#include <array>
#include <exception>
#include <string>
#include <string_view>

#include "fmi3.hpp"
#include "libblade/error.hpp"
#include "nip_unit.hpp"

namespace libblade::fmu {

enum class Phase { instantiated, initialization, stepping, terminated };

/// Categories of the standard that the unit speaks in.
inline constexpr std::array<std::string_view, 3> kCategories{"logEvents", "logStatusDiscard", "logStatusError"};
enum Category { events, discards, errors };

struct Instance {
    NipUnit unit;
    fmi3InstanceEnvironment environment;
    fmi3LogMessageCallback log;
    std::array<bool, kCategories.size()> speaks;
    bool may_end_early;
    Phase phase = Phase::instantiated;
    double start_time = 0.0;
};

inline fmi3Status tell(const Instance& i, fmi3Status status, const std::string& message) {
    const Category category = status == fmi3OK ? events : status == fmi3Discard ? discards : errors;
    if (i.log != nullptr && i.speaks[category])
        i.log(i.environment, status, kCategories[category].data(), message.c_str());
    return status;
}

/// What `act` returns; a refused value leaves everything as it was, anything else thrown is an error.
template <class Act>
fmi3Status guarded(fmi3Instance instance, Act&& act) {
    if (instance == nullptr) return fmi3Error;
    auto& i = *static_cast<Instance*>(instance);
    try {
        return act(i);
    } catch (const InvalidInput& refused) {
        return tell(i, fmi3Discard, refused.what());
    } catch (const std::exception& failure) {
        return tell(i, fmi3Error, failure.what());
    }
}

inline fmi3Status not_now(const Instance& i, const char* function) {
    constexpr const char* phases[] = {"instantiated", "initialization mode", "step mode", "terminated"};
    return tell(i, fmi3Error,
                std::string(function) + " may not be called in this state: " + phases[static_cast<int>(i.phase)]);
}

inline fmi3Status absent(fmi3Instance instance, const char* function) {
    return guarded(instance, [&](Instance& i) {
        return tell(i, fmi3Error,
                    std::string(function) + " is not part of this unit: its description does not offer it");
    });
}

/// No variable has such a type: only an empty request is right.
inline fmi3Status no_such_type(fmi3Instance instance, std::size_t asked, const char* function) {
    return asked == 0 && instance != nullptr ? fmi3OK : absent(instance, function);
}

}  // namespace libblade::fmu
