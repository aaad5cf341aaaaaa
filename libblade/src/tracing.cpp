#include "libblade/tracing.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <numeric>
#include <string>

#include "libblade/error.hpp"

namespace libblade {

namespace {

using Shares = std::array<double, kHypotheses>;

constexpr double kClass = 0.15;  // of ln size

std::size_t at(LineQuestion question) noexcept { return static_cast<std::size_t>(question); }
LineQuestion question_of(std::size_t place) noexcept { return static_cast<LineQuestion>(place); }

/// Calls with each question in words but began, and the members that hold its answer in an Observation and a LineSignature.
template <class Visit>
void each_word(const Visit& visit) {
    using O = Observation;
    using L = LineSignature;
    visit(LineQuestion::tone, &O::tone, &L::tone);
    visit(LineQuestion::direction, &O::direction, &L::direction);
    visit(LineQuestion::moves_with_blade, &O::moves_with_blade, &L::moves_with_blade);
    visit(LineQuestion::goes_when_wiped, &O::goes_when_wiped, &L::goes_when_wiped);
    visit(LineQuestion::survives_blade_change, &O::survives_blade_change, &L::survives_blade_change);
    visit(LineQuestion::survives_cleaning, &O::survives_cleaning, &L::survives_cleaning);
    visit(LineQuestion::patchy, &O::patchy, &L::patchy);
}
template <class Visit>
void each_size(const Visit& visit) {
    visit(LineQuestion::width, &Observation::width, &LineSignature::width, &CauseModel::width_bandwidth);
    visit(LineQuestion::repeat, &Observation::repeat, &LineSignature::repeat, &CauseModel::repeat_bandwidth);
}

double log_range(LineQuestion question) noexcept {
    const SizeRange range = size_range(question);
    return std::log(range.high / range.low);
}

// What a line makes somebody say ---------------------------------------------------------------------------------------------

double gauss(double x, double s) noexcept { return std::exp(-0.5 * (x / s) * (x / s)) / (s * 2.5066282746310002); }

/// P(answer | true answer) of a question in words.
struct Words {
    double match, mismatch;
    Words(bool sure, std::size_t answers, const Doubt& doubt) noexcept
        : match(sure ? doubt.sure : doubt.doubtful), mismatch((1.0 - match) / static_cast<double>(answers - 1)) {}
    [[nodiscard]] double operator()(bool same) const noexcept { return same ? match : mismatch; }
};

/// An answered question: its likelihood for each line of a cause, (n,), and for one that could be anything.
struct Said {
    LineQuestion question;
    std::function<std::vector<double>(const CauseModel&)> of_lines;
    double anything;
};

template <class Likelihood>
auto for_each_line(Likelihood likelihood) {
    return [likelihood](const CauseModel& cause) {
        std::vector<double> out;
        out.reserve(cause.lines.size());
        for (const LineSignature& line : cause.lines) out.push_back(likelihood(line, cause));
        return out;
    };
}

template <class T>
Said said_word(LineQuestion q, const Answered<T>& answer, T LineSignature::*member, const Doubt& doubt) {
    const Words words(answer.sure, answers_of(q), doubt);
    const T given = answer.value;
    return {q,
            for_each_line([=](const LineSignature& line, const CauseModel&) { return words(line.*member == given); }),
            1.0 / static_cast<double>(answers_of(q))};
}

/// How it began is drawn apart from all else: its odds are known, not counted.
Said said_began(const Answered<Onset>& answer, const Doubt& doubt) {
    const Words words(answer.sure, kOnsets, doubt);
    const auto given = static_cast<std::size_t>(answer.value);
    return {LineQuestion::began,
            [=](const CauseModel& cause) {
                double likelihood = 0.0;
                for (std::size_t k = 0; k < kOnsets; ++k) likelihood += cause.began[k] * words(k == given);
                return std::vector<double>(cause.lines.size(), likelihood);
            },
            1.0 / static_cast<double>(kOnsets)};
}

bool has_size(double size) noexcept { return size > 0.0; }  // not 0, not NaN

Said said_size(LineQuestion q, const MeasuredSize& given, double LineSignature::*member, double CauseModel::*bandwidth,
               const Doubt& doubt) {
    const double right = doubt.size, none = no_size_share(q);
    if (!has_size(given.value))
        return {q, for_each_line([=](const LineSignature& line, const CauseModel&) {
                    return (has_size(line.*member) ? 0.0 : right) + (1.0 - right) * none;
                }),
                none};
    const double anything = (1.0 - none) / log_range(q), log_size = std::log(given.value);
    return {q, for_each_line([=, uncertainty = given.uncertainty](const LineSignature& line, const CauseModel& cause) {
                const double wrong = (1.0 - right) * anything;
                if (!has_size(line.*member)) return wrong;
                return right * gauss(log_size - std::log(line.*member), std::hypot(cause.*bandwidth, uncertainty)) +
                       wrong;
            }),
            anything};
}

/// A haze over the whole width has no width of its own: nobody is asked, and who says so says nothing new.
bool senseless(LineQuestion question, const Observation& seen) noexcept {
    return question == LineQuestion::width && seen.direction && seen.direction->value == LineDirection::whole_width;
}

std::vector<Said> said(const Observation& seen, const Doubt& doubt) {
    std::vector<Said> out;
    each_word([&](LineQuestion q, auto observed, auto line) {
        if (const auto& answer = seen.*observed) out.push_back(said_word(q, *answer, line, doubt));
    });
    if (seen.began) out.push_back(said_began(*seen.began, doubt));
    each_size([&](LineQuestion q, auto observed, auto line, auto bandwidth) {
        const auto& size = seen.*observed;
        if (size && (has_size(size->value) || !senseless(q, seen)))
            out.push_back(said_size(q, *size, line, bandwidth, doubt));
    });
    return out;
}

// Bayes' rule ---------------------------------------------------------------------------------------------------------------

double sum_of(const std::vector<double>& values) { return std::accumulate(values.begin(), values.end(), 0.0); }

/// What the answers say of one hypothesis.
struct Judged {
    std::vector<double> lines;  ///< likelihood of all answers, by line, over their number; could be anything: the last
    std::vector<double> alone;  ///< mean over the lines of each answer alone
};

Judged judge(const CauseModel* cause, const std::vector<Said>& answers) {
    Judged out;
    const std::size_t n = cause == nullptr ? 0 : cause->lines.size();
    out.lines.assign(n + 1, 1.0 / static_cast<double>(n + 1));
    for (const Said& one : answers) {
        std::vector<double> likelihood = cause == nullptr ? std::vector<double>{} : one.of_lines(*cause);
        likelihood.push_back(one.anything);
        for (std::size_t i = 0; i <= n; ++i) out.lines[i] *= likelihood[i];
        out.alone.push_back(sum_of(likelihood) / static_cast<double>(n + 1));
    }
    return out;
}

const CauseModel* cause_at(const CauseModels& models, std::size_t h) noexcept {
    return h == kNoneOfThese ? nullptr : &models.causes[h];
}

struct Verdict {
    Shares prior, probability;
    std::array<Judged, kHypotheses> judged;
};

Verdict verdict(const CauseModels& models, const std::vector<Said>& answers, const TracingOptions& options) {
    Verdict out;
    for (std::size_t h = 0; h < kHypotheses; ++h) {
        const CauseModel* cause = cause_at(models, h);
        const bool shown = cause == nullptr || !cause->lines.empty();
        const double stated = cause == nullptr ? options.none_share : (1.0 - options.none_share) * options.priors[h];
        out.prior[h] = shown ? stated : 0.0;
    }
    const double total = std::accumulate(out.prior.begin(), out.prior.end(), 0.0);
    double sum = 0.0;
    for (std::size_t h = 0; h < kHypotheses; ++h) {
        out.prior[h] /= total;
        out.judged[h] = judge(cause_at(models, h), answers);
        sum += out.probability[h] = out.prior[h] * sum_of(out.judged[h].lines);
    }
    for (double& share : out.probability) share /= sum;
    return out;
}

/// Likelihood of each answer alone over that of the other hypotheses.
std::vector<Evidence> evidence_of(std::size_t hypothesis, const Verdict& now, const std::vector<Said>& answers) {
    std::vector<Evidence> out;
    for (std::size_t i = 0; i < answers.size(); ++i) {
        double others = 0.0;
        for (std::size_t h = 0; h < kHypotheses; ++h)
            if (h != hypothesis) others += now.prior[h] * now.judged[h].alone[i];
        const double own = now.judged[hypothesis].alone[i] * (1.0 - now.prior[hypothesis]);
        out.push_back({answers[i].question, std::log(own / others)});
    }
    std::stable_sort(out.begin(), out.end(), [](const Evidence& a, const Evidence& b) {
        return std::abs(a.log_ratio) > std::abs(b.log_ratio);
    });
    return out;
}

// Checks ---------------------------------------------------------------------------------------------------------------------

/// Probabilities of the answers to a question.
using Answers = std::vector<double>;

/// Of true ones, when asked for sure. What was answered in doubt before has made some of them likelier.
template <class T>
Answers words_expected(Answers truth, const std::optional<Answered<T>>& doubted, double anything, const Doubt& doubt) {
    const std::size_t n = truth.size();
    const Words now(true, n, doubt), before(false, n, doubt);
    Answers out(n);
    for (std::size_t k = 0; k < n; ++k) {
        const bool same = doubted && k == static_cast<std::size_t>(doubted->value);
        truth[k] += anything * (doubted ? before(same) : 1.0 / static_cast<double>(n));
        for (std::size_t given = 0; given < n; ++given) out[given] += truth[k] * now(k == given);
    }
    return out;
}

template <class T>
Answers words_expected(LineQuestion q, const std::optional<Answered<T>>& doubted, T LineSignature::*member,
                       const CauseModel* cause, const std::vector<double>& weights, const Doubt& doubt) {
    const double total = sum_of(weights);
    Answers truth(answers_of(q));
    for (std::size_t i = 0; i + 1 < weights.size(); ++i)
        truth[static_cast<std::size_t>(cause->lines[i].*member)] += weights[i] / total;
    return words_expected(std::move(truth), doubted, weights.back() / total, doubt);
}

Answers began_expected(const std::optional<Answered<Onset>>& doubted, const CauseModel* cause,
                       const std::vector<double>& weights, const Doubt& doubt) {
    const double anything = weights.back() / sum_of(weights);
    const Words before(false, kOnsets, doubt);
    Answers truth(kOnsets);
    if (cause != nullptr)
        for (std::size_t k = 0; k < kOnsets; ++k)
            truth[k] = cause->began[k] * (doubted ? before(k == static_cast<std::size_t>(doubted->value)) : 1.0);
    if (const double sum = sum_of(truth); sum > 0.0)
        for (double& share : truth) share *= (1.0 - anything) / sum;
    return words_expected(std::move(truth), doubted, anything, doubt);
}

/// Classes of ln size, the first one: none.
Answers sizes_expected(LineQuestion q, double LineSignature::*member, double bandwidth, const CauseModel* cause,
                       const std::vector<double>& weights, const Doubt& doubt) {
    const double low = std::log(size_range(q).low), none = no_size_share(q), total = sum_of(weights);
    const auto classes = static_cast<std::size_t>(std::ceil(log_range(q) / kClass));
    Answers truth(classes + 1);
    for (std::size_t i = 0; i + 1 < weights.size(); ++i) {
        const double size = cause->lines[i].*member;
        const double place =
            has_size(size) ? std::clamp((std::log(size) - low) / kClass, 0.0, static_cast<double>(classes) - 0.5) + 1.0
                           : 0.0;
        truth[static_cast<std::size_t>(place)] += weights[i] / total;
    }
    // Anything: the last line, and the wrong ones among the rest.
    const double last = weights.back() / total, anything = last + (1.0 - last) * (1.0 - doubt.size);
    Answers out(classes + 1, anything * (1.0 - none) / static_cast<double>(classes));
    out[0] = anything * none + doubt.size * truth[0];
    const double s = std::hypot(bandwidth, kClass);
    std::vector<double> kernel(classes);
    for (std::size_t d = 0; d < classes; ++d) kernel[d] = gauss(kClass * static_cast<double>(d), s);
    for (std::size_t k = 1; k <= classes; ++k) {
        if (truth[k] == 0.0) continue;
        double sum = 0.0;
        for (std::size_t j = 1; j <= classes; ++j) sum += kernel[j > k ? j - k : k - j];
        for (std::size_t j = 1; j <= classes; ++j)
            out[j] += doubt.size * truth[k] * kernel[j > k ? j - k : k - j] / sum;
    }
    return out;
}

double median_size(double LineSignature::*member, const CauseModel* cause, const std::vector<double>& weights) {
    if (cause == nullptr || cause->lines.empty()) return std::numeric_limits<double>::quiet_NaN();
    std::vector<std::pair<double, double>> sizes;
    double half = 0.0;
    for (std::size_t i = 0; i < cause->lines.size(); ++i) {
        const double size = cause->lines[i].*member;
        sizes.emplace_back(has_size(size) ? size : 0.0, weights[i]);
        half += 0.5 * weights[i];
    }
    std::sort(sizes.begin(), sizes.end());
    std::size_t i = 0;
    while (i + 1 < sizes.size() && (half -= sizes[i].second) > 0.0) ++i;
    return sizes[i].first;
}

/// Mutual information of hypothesis and answer [bit].
double information(const Shares& share, const std::array<Answers, kHypotheses>& expected) {
    double out = 0.0;
    for (std::size_t j = 0; j < expected[0].size(); ++j) {
        double mean = 0.0;
        for (std::size_t h = 0; h < kHypotheses; ++h) mean += share[h] * expected[h][j];
        for (std::size_t h = 0; h < kHypotheses; ++h)
            if (const double p = expected[h][j]; share[h] > 0.0 && p > 0.0) out += share[h] * p * std::log2(p / mean);
    }
    return std::max(0.0, out);
}

// Models ---------------------------------------------------------------------------------------------------------------------

CauseModel model_of(LineCause cause, const LineContext& context, const ModelOptions& options) {
    CauseModel out;
    out.began = onset_odds(cause);
    std::vector<double> widths, repeats;
    int tries = 0;
    for (std::size_t i = 0; i < options.samples; ++i) {
        // Once nothing has been seen in so many tries, one each for the rest.
        const int most = i > 0 && out.lines.empty() ? 1 : options.most_tries;
        const SampledLine line = sample_visible(cause, context, options.law, options.seed, i, most);
        tries += line.tries;
        if (!line.print.visible()) continue;
        const LineSignature& signature = out.lines.emplace_back(line.print.signature);
        widths.push_back(signature.width), repeats.push_back(signature.repeat);
    }
    out.width_bandwidth = kernel_bandwidth(std::move(widths));
    out.repeat_bandwidth = kernel_bandwidth(std::move(repeats));
    out.seen_share = static_cast<double>(out.lines.size()) / tries;
    return out;
}

// Checks of the input -----------------------------------------------------------------------------------------------------

class Problems {
  public:
    void need(bool good, std::string path, double value, const char* words) {
        if (!good) found_.push_back({std::move(path), std::to_string(value), std::string("must be ") + words});
    }
    void raise() {
        if (!found_.empty()) throw InvalidInput(std::move(found_));
    }

  private:
    std::vector<Problem> found_;
};

void check_models(const LineContext& context, const ModelOptions& o) {
    if (!context.convergence.ok())
        throw InvalidInput(
            {{"context", std::string(to_string(context.convergence.status)), "must be that of a solved nip"}});
    check_print_law(o.law);
    Problems problems;
    problems.need(o.doubt.sure > 0.5 && o.doubt.sure < 1.0, "doubt.sure", o.doubt.sure, "above 0.5 and below 1");
    problems.need(o.doubt.size > 0.5 && o.doubt.size < 1.0, "doubt.size", o.doubt.size, "above 0.5 and below 1");
    problems.need(o.doubt.doubtful > 0.5 && o.doubt.doubtful <= o.doubt.sure, "doubt.doubtful", o.doubt.doubtful,
                  "above 0.5 and at most that of a sure answer");
    problems.need(o.samples >= 20 && o.samples <= 100000, "samples", static_cast<double>(o.samples),
                  "from 20 to 100000");
    problems.need(o.most_tries >= 1 && o.most_tries <= 10000, "most_tries", o.most_tries, "from 1 to 10000");
    problems.raise();
}

void check_tracing(const Observation& seen, const TracingOptions& o) {
    Problems problems;
    each_size([&](LineQuestion q, auto observed, auto, auto) {
        const auto& size = seen.*observed;
        if (!size) return;
        const SizeRange range = size_range(q);
        const std::string name(to_string(q));
        problems.need(size->value == 0.0 || (size->value >= range.low && size->value <= range.high), name, size->value,
                      q == LineQuestion::repeat ? "0 (continuous) or from 0.0001 to 20 m"
                                                : "0 (over the whole width) or from 0.000001 to 10 m");
        problems.need(size->uncertainty >= 0.001 && size->uncertainty <= 2.0, name + ".uncertainty", size->uncertainty,
                      "from 0.001 to 2");
    });
    double sum = 0.0;
    for (std::size_t c = 0; c < kLineCauses; ++c) {
        sum += o.priors[c];
        problems.need(o.priors[c] > 0.0 && o.priors[c] <= 1.0,
                      "priors." + std::string(to_string(static_cast<LineCause>(c))), o.priors[c],
                      "above 0 and at most 1");
    }
    problems.need(std::abs(sum - 1.0) <= 1e-6, "priors", sum, "such that their sum over the twelve causes is 1");
    problems.need(o.none_share > 0.0 && o.none_share < 1.0, "none_share", o.none_share, "above 0 and below 1");
    for (std::size_t q = 0; q < kLineQuestions; ++q)
        problems.need(o.effort[q] > 0.0 && std::isfinite(o.effort[q]),
                      "effort." + std::string(to_string(question_of(q))), o.effort[q], "above 0");
    problems.raise();
}

}  // namespace

std::string_view to_string(LineQuestion question) noexcept {
    static constexpr std::string_view words[] = {"tone",
                                                 "direction",
                                                 "width",
                                                 "repeat",
                                                 "moves_with_blade",
                                                 "goes_when_wiped",
                                                 "survives_blade_change",
                                                 "survives_cleaning",
                                                 "patchy",
                                                 "began"};
    return words[at(question)];
}

std::size_t answers_of(LineQuestion question) noexcept {
    static constexpr std::size_t numbers[] = {2, 4, 0, 0, 2, 2, 2, 2, 2, kOnsets};
    return numbers[at(question)];
}

SizeRange size_range(LineQuestion question) noexcept {
    return question == LineQuestion::width ? SizeRange{1e-6, 10.0} : SizeRange{1e-4, 20.0};
}

double no_size_share(LineQuestion question) noexcept { return question == LineQuestion::width ? 0.1 : 0.5; }

bool Observation::answered(LineQuestion question) const noexcept {
    bool out = false;
    const auto look = [&](LineQuestion q, auto observed, auto...) {
        out = out || (q == question && (this->*observed).has_value());
    };
    each_word(look);
    each_size(look);
    look(LineQuestion::began, &Observation::began);
    return out;
}

std::array<double, kLineCauses> usual_priors() noexcept {
    // nick, score, worn band, plugged, handling, propped, riding, run-out, lodged, blocked, end seal, not this nip
    return {0.14, 0.11, 0.05, 0.10, 0.04, 0.06, 0.09, 0.05, 0.16, 0.06, 0.05, 0.09};
}

double kernel_bandwidth(std::vector<double> sizes) {
    std::vector<double> logs;
    for (const double size : sizes)
        if (has_size(size)) logs.push_back(std::log(size));
    if (logs.empty()) return 0.0;
    std::sort(logs.begin(), logs.end());
    const auto n = static_cast<double>(logs.size());
    const double mean = sum_of(logs) / n;
    double square = 0.0;
    for (const double x : logs) square += (x - mean) * (x - mean) / n;
    const auto quantile = [&](double share) {
        const double place = share * (n - 1.0);
        const auto i = static_cast<std::size_t>(place);
        return i + 1 < logs.size() ? std::lerp(logs[i], logs[i + 1], place - static_cast<double>(i)) : logs[i];
    };
    return 1.06 * std::min(std::sqrt(square), (quantile(0.75) - quantile(0.25)) / 1.34) * std::pow(n, -0.2);
}

CauseModels cause_models(const LineContext& context, const ModelOptions& options) {
    check_models(context, options);
    CauseModels out;
    out.doubt = options.doubt;
    for (std::size_t c = 0; c < kLineCauses; ++c) out.causes[c] = model_of(static_cast<LineCause>(c), context, options);
    return out;
}

Tracing trace(const CauseModels& models, const Observation& observation, const TracingOptions& options) {
    check_tracing(observation, options);
    const std::vector<Said> answers = said(observation, models.doubt);
    const Verdict now = verdict(models, answers, options);
    Tracing out;
    out.prior = now.prior, out.probability = now.probability;
    for (std::size_t h = 0; h < kHypotheses; ++h) out.evidence[h] = evidence_of(h, now, answers);
    std::iota(out.ranked.begin(), out.ranked.end(), std::size_t{0});
    std::stable_sort(out.ranked.begin(), out.ranked.end(),
                     [&](std::size_t a, std::size_t b) { return out.probability[a] > out.probability[b]; });
    return out;
}

std::vector<Check> next_checks(const CauseModels& models, const Observation& observation,
                               const TracingOptions& options) {
    check_tracing(observation, options);
    const Verdict now = verdict(models, said(observation, models.doubt), options);
    std::vector<Check> out;
    const auto add = [&](LineQuestion q, const auto& answers_for) {
        Check& check = out.emplace_back();
        check.question = q;
        check.expected_size.fill(std::numeric_limits<double>::quiet_NaN());
        for (std::size_t h = 0; h < kHypotheses; ++h)
            check.expected[h] = answers_for(cause_at(models, h), now.judged[h].lines);
        check.information = information(now.probability, check.expected);
        check.per_effort = check.information / options.effort[at(q)];
    };
    each_word([&](LineQuestion q, auto observed, auto line) {
        const auto& answer = observation.*observed;
        if (answer && answer->sure) return;
        add(q, [&](const CauseModel* cause, const std::vector<double>& weights) {
            return words_expected(q, answer, line, cause, weights, models.doubt);
        });
    });
    if (!observation.began || !observation.began->sure)
        add(LineQuestion::began, [&](const CauseModel* cause, const std::vector<double>& weights) {
            return began_expected(observation.began, cause, weights, models.doubt);
        });
    each_size([&](LineQuestion q, auto observed, auto line, auto bandwidth) {
        if (observation.*observed || senseless(q, observation)) return;
        add(q, [&](const CauseModel* cause, const std::vector<double>& weights) {
            return sizes_expected(q, line, cause == nullptr ? 0.0 : cause->*bandwidth, cause, weights, models.doubt);
        });
        for (std::size_t h = 0; h < kHypotheses; ++h) {
            out.back().expected_size[h] = median_size(line, cause_at(models, h), now.judged[h].lines);
            out.back().expected[h].clear();
        }
    });
    std::stable_sort(out.begin(), out.end(), [](const Check& a, const Check& b) {
        return a.per_effort != b.per_effort ? a.per_effort > b.per_effort : a.question < b.question;
    });
    return out;
}

}  // namespace libblade
