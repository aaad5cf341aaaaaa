// Tracing a line on the print back to its cause.
//
// Bayes' rule over the twelve causes and "none of these". What a cause looks like comes of the forward models (lines.hpp): some
// hundreds of visible lines i of random size at this very operating point, each kept whole, so that answers that go together
// (a shallow score is lighter and narrow, a deep one darker and wide) stay together:
//
//   P(answers | cause) = (sum_i prod_q P(answer q | line i) + P(answers | none of these)) / (n + 1)
//
// Given the line, answers are independent; how it began is so given the cause, and its odds are known. The last term is one
// line that could be anything, Laplace's rule of succession.
//
//   words   right with a stated probability, else evenly one of the wrong ones
//   sizes   Gaussian in ln size, its variance that of the observer's relative uncertainty and of a kernel of bandwidth 1.06
//           min(standard deviation, interquartile range / 1.34) n^(-1/5) (Silverman 1986, Density Estimation; from memory);
//           with a stated probability wrong, and then anything
//
// NONE OF THESE and what is wrong: words evenly; a size log-uniform over its range, or none at all with a stated share. A cause
// whose lines fit badly falls behind it: none is forced.
//
// A CHECK is worth what it is expected to tell of the cause, the mutual information of cause and answer given what has been
// answered (Lindley 1956, Ann. Math. Stat. 27:986; from memory) [bit].
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "libblade/lines.hpp"

namespace libblade {

/// What may be asked, in the order of looking first and trying after.
enum class LineQuestion {
    tone,
    direction,
    width,
    repeat,
    moves_with_blade,
    goes_when_wiped,
    survives_blade_change,
    survives_cleaning,
    patchy,
    began,
};
inline constexpr std::size_t kLineQuestions = 10;
[[nodiscard]] std::string_view to_string(LineQuestion question) noexcept;
/// Of those with words; 0 for sizes.
[[nodiscard]] std::size_t answers_of(LineQuestion question) noexcept;

/// The twelve causes in their order, then none of these.
inline constexpr std::size_t kHypotheses = kLineCauses + 1;
inline constexpr std::size_t kNoneOfThese = kLineCauses;

/// An answer in words.
template <class T>
struct Answered {
    T value{};
    bool sure = true;
    bool operator==(const Answered&) const = default;
};
template <class T>
[[nodiscard]] constexpr Answered<T> sure(T value) noexcept {
    return {value, true};
}
template <class T>
[[nodiscard]] constexpr Answered<T> doubtful(T value) noexcept {
    return {value, false};
}
struct MeasuredSize {
    double value = 0.0;         ///< [m]
    double uncertainty = 0.15;  ///< relative, one standard deviation [-]
    bool operator==(const MeasuredSize&) const = default;
};

/// What somebody beside the press has seen and tried; empty: unknown. As LineSignature has them.
struct Observation {
    std::optional<Answered<Tone>> tone;
    std::optional<Answered<LineDirection>> direction;
    std::optional<MeasuredSize> width;   ///< 0: without one, over the whole width
    std::optional<MeasuredSize> repeat;  ///< 0: continuous or irregular
    std::optional<Answered<bool>> moves_with_blade, goes_when_wiped, survives_blade_change, survives_cleaning, patchy;
    std::optional<Answered<Onset>> began;
    bool operator==(const Observation&) const = default;
    [[nodiscard]] bool answered(LineQuestion question) const noexcept;
};

/// Probability that an answer is right (assumed; common practice, no published source) [-].
struct Doubt {
    double sure = 0.95, doubtful = 0.7;
    double size = 0.98;  ///< within its uncertainty: who holds a rule to it errs less
    bool operator==(const Doubt&) const = default;
};

/// Sizes that a line can have [m].
struct SizeRange {
    double low, high;
};
[[nodiscard]] SizeRange size_range(LineQuestion question) noexcept;

/// Share of lines without a size among those that could be anything [-].
[[nodiscard]] double no_size_share(LineQuestion question) noexcept;

/// How a cause shows at a nip.
struct CauseModel {
    std::vector<LineSignature> lines;                      ///< visible ones, (n,); empty: this nip shows none of it
    std::array<double, kOnsets> began{};                   ///< odds, onset_odds [-]
    double width_bandwidth = 0.0, repeat_bandwidth = 0.0;  ///< of ln size [-]
    double seen_share = 0.0;                               ///< of the defects drawn that make a visible line [-]
};

struct ModelOptions {
    PrintLaw law{};
    Doubt doubt{};
    std::size_t samples = 400;  ///< per cause, 20 to 100000
    std::uint64_t seed = 20240501;
    int most_tries = 60;  ///< per visible line
};
/// Built once for a nip, a value that the caller keeps.
struct CauseModels {
    std::array<CauseModel, kLineCauses> causes;
    Doubt doubt;
};
/// Bandwidth of a kernel for these sizes [m]; 0 where there are none, or all alike.
[[nodiscard]] double kernel_bandwidth(std::vector<double> sizes);
/// Throws InvalidInput on a context that did not converge and on options out of range.
[[nodiscard]] CauseModels cause_models(const LineContext& context, const ModelOptions& options = {});

/// Before anything is seen (assumed; common practice, no published source); their sum is 1.
[[nodiscard]] std::array<double, kLineCauses> usual_priors() noexcept;

struct TracingOptions {
    std::array<double, kLineCauses> priors = usual_priors();  ///< above 0, sum 1, among the twelve [-]
    double none_share = 0.1;                                  ///< prior of none of these, above 0 and below 1 [-]
    std::array<double, kLineQuestions> effort{1, 1, 1, 1, 1, 1, 1, 1, 1, 1};  ///< of each check, relative, above 0 [-]
};

/// What an answer says of one hypothesis: ln of its likelihood over that of the others, weighted by their priors.
struct Evidence {
    LineQuestion question = LineQuestion::tone;
    double log_ratio = 0.0;  ///< positive: for it [-]
};
struct Tracing {
    std::array<double, kHypotheses> prior{};
    std::array<double, kHypotheses> probability{};            ///< posterior, sum 1 [-]
    std::array<std::vector<Evidence>, kHypotheses> evidence;  ///< heaviest first
    std::array<std::size_t, kHypotheses> ranked{};            ///< most probable first
};
/// A cause that this nip cannot show (no lines) is out before anything is asked; the rest keep their proportions.
/// Throws InvalidInput with all that is wrong.
[[nodiscard]] Tracing trace(const CauseModels& models, const Observation& observation,
                            const TracingOptions& options = {});

struct Check {
    LineQuestion question = LineQuestion::tone;
    double information = 0.0;  ///< expected, of the cause [bit]
    double per_effort = 0.0;   ///< [bit]
    /// Probability of each answer in words, (hypothesis, answer); sizes have none.
    std::array<std::vector<double>, kHypotheses> expected;
    /// Median of what each hypothesis leads one to measure [m]; 0: none, NaN: words, or could be anything.
    std::array<double, kHypotheses> expected_size{};
};
/// Checks that are left, most information per effort first: what is unknown, and what was answered in doubt, answered once more
/// and for sure. Ties in the order of the questions. Sizes are told apart in classes of an uncertainty of 0.15. Throws
/// InvalidInput as trace.
[[nodiscard]] std::vector<Check> next_checks(const CauseModels& models, const Observation& observation,
                                             const TracingOptions& options = {});

}  // namespace libblade
