// Functions of the interface for what the description does not offer: importers look for all of them in the binary.
#include "instance.hpp"

namespace {

using namespace libblade::fmu;

fmi3Instance other_interface(fmi3InstanceEnvironment environment, fmi3LogMessageCallback log) {
    if (log != nullptr) log(environment, fmi3Error, kCategories[errors].data(), "the unit is for Co-Simulation only");
    return nullptr;
}

}  // namespace

extern "C" {

#define NO_TYPE(name)                                                                                          \
    FMI3_EXPORT fmi3Status fmi3Get##name(fmi3Instance instance, const fmi3ValueReference[], std::size_t count, \
                                         fmi3##name[], std::size_t) {                                          \
        return no_such_type(instance, count, "fmi3Get" #name);                                                 \
    }                                                                                                          \
    FMI3_EXPORT fmi3Status fmi3Set##name(fmi3Instance instance, const fmi3ValueReference[], std::size_t count, \
                                         const fmi3##name[], std::size_t) {                                    \
        return no_such_type(instance, count, "fmi3Set" #name);                                                 \
    }
NO_TYPE(Float32)
NO_TYPE(Int8)
NO_TYPE(UInt8)
NO_TYPE(Int16)
NO_TYPE(UInt16)
NO_TYPE(Int32)
NO_TYPE(UInt32)
NO_TYPE(UInt64)
NO_TYPE(Boolean)
NO_TYPE(String)
#undef NO_TYPE

FMI3_EXPORT fmi3Status fmi3GetBinary(fmi3Instance instance, const fmi3ValueReference[], std::size_t count,
                                     std::size_t[], fmi3Binary[], std::size_t) {
    return no_such_type(instance, count, "fmi3GetBinary");
}
FMI3_EXPORT fmi3Status fmi3SetBinary(fmi3Instance instance, const fmi3ValueReference[], std::size_t count,
                                     const std::size_t[], const fmi3Binary[], std::size_t) {
    return no_such_type(instance, count, "fmi3SetBinary");
}
FMI3_EXPORT fmi3Status fmi3GetClock(fmi3Instance instance, const fmi3ValueReference[], std::size_t count, fmi3Clock[]) {
    return no_such_type(instance, count, "fmi3GetClock");
}
FMI3_EXPORT fmi3Status fmi3SetClock(fmi3Instance instance, const fmi3ValueReference[], std::size_t count,
                                    const fmi3Clock[]) {
    return no_such_type(instance, count, "fmi3SetClock");
}

#define ABSENT(name, ...) \
    FMI3_EXPORT fmi3Status name(fmi3Instance instance __VA_OPT__(, ) __VA_ARGS__) { return absent(instance, #name); }
ABSENT(fmi3EnterEventMode)
ABSENT(fmi3EnterStepMode)
ABSENT(fmi3EnterConfigurationMode)
ABSENT(fmi3ExitConfigurationMode)
ABSENT(fmi3EvaluateDiscreteStates)
ABSENT(fmi3UpdateDiscreteStates, fmi3Boolean*, fmi3Boolean*, fmi3Boolean*, fmi3Boolean*, fmi3Boolean*, fmi3Float64*)
ABSENT(fmi3GetNumberOfVariableDependencies, fmi3ValueReference, std::size_t*)
ABSENT(fmi3GetVariableDependencies, fmi3ValueReference, std::size_t[], fmi3ValueReference[], std::size_t[],
       fmi3DependencyKind[], std::size_t)
ABSENT(fmi3GetDirectionalDerivative, const fmi3ValueReference[], std::size_t, const fmi3ValueReference[], std::size_t,
       const fmi3Float64[], std::size_t, fmi3Float64[], std::size_t)
ABSENT(fmi3GetAdjointDerivative, const fmi3ValueReference[], std::size_t, const fmi3ValueReference[], std::size_t,
       const fmi3Float64[], std::size_t, fmi3Float64[], std::size_t)
ABSENT(fmi3GetOutputDerivatives, const fmi3ValueReference[], std::size_t, const fmi3Int32[], fmi3Float64[], std::size_t)
ABSENT(fmi3GetIntervalDecimal, const fmi3ValueReference[], std::size_t, fmi3Float64[], fmi3IntervalQualifier[])
ABSENT(fmi3GetIntervalFraction, const fmi3ValueReference[], std::size_t, fmi3UInt64[], fmi3UInt64[],
       fmi3IntervalQualifier[])
ABSENT(fmi3GetShiftDecimal, const fmi3ValueReference[], std::size_t, fmi3Float64[])
ABSENT(fmi3GetShiftFraction, const fmi3ValueReference[], std::size_t, fmi3UInt64[], fmi3UInt64[])
ABSENT(fmi3SetIntervalDecimal, const fmi3ValueReference[], std::size_t, const fmi3Float64[])
ABSENT(fmi3SetIntervalFraction, const fmi3ValueReference[], std::size_t, const fmi3UInt64[], const fmi3UInt64[])
ABSENT(fmi3SetShiftDecimal, const fmi3ValueReference[], std::size_t, const fmi3Float64[])
ABSENT(fmi3SetShiftFraction, const fmi3ValueReference[], std::size_t, const fmi3UInt64[], const fmi3UInt64[])
ABSENT(fmi3EnterContinuousTimeMode)
ABSENT(fmi3CompletedIntegratorStep, fmi3Boolean, fmi3Boolean*, fmi3Boolean*)
ABSENT(fmi3SetTime, fmi3Float64)
ABSENT(fmi3SetContinuousStates, const fmi3Float64[], std::size_t)
ABSENT(fmi3GetContinuousStateDerivatives, fmi3Float64[], std::size_t)
ABSENT(fmi3GetEventIndicators, fmi3Float64[], std::size_t)
ABSENT(fmi3GetContinuousStates, fmi3Float64[], std::size_t)
ABSENT(fmi3GetNominalsOfContinuousStates, fmi3Float64[], std::size_t)
ABSENT(fmi3GetNumberOfEventIndicators, std::size_t*)
ABSENT(fmi3GetNumberOfContinuousStates, std::size_t*)
ABSENT(fmi3ActivateModelPartition, fmi3ValueReference, fmi3Float64)
#undef ABSENT

FMI3_EXPORT fmi3Instance fmi3InstantiateModelExchange(fmi3String, fmi3String, fmi3String, fmi3Boolean, fmi3Boolean,
                                                      fmi3InstanceEnvironment environment, fmi3LogMessageCallback log) {
    return other_interface(environment, log);
}
FMI3_EXPORT fmi3Instance fmi3InstantiateScheduledExecution(fmi3String, fmi3String, fmi3String, fmi3Boolean, fmi3Boolean,
                                                           fmi3InstanceEnvironment environment,
                                                           fmi3LogMessageCallback log,
                                                           void (*)(fmi3InstanceEnvironment), void (*)(), void (*)()) {
    return other_interface(environment, log);
}

}  // extern "C"
