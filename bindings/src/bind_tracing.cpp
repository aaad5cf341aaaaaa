#include <algorithm>

#include "bind.hpp"
#include "libblade/error.hpp"
#include "libblade/tracing.hpp"

using namespace libblade;

namespace {

LineQuestion question_at(std::size_t place) { return static_cast<LineQuestion>(place); }

/// Words of the answers to a question; none for sizes.
std::vector<std::string_view> words_of(LineQuestion question) {
    std::vector<std::string_view> out;
    for (std::size_t k = 0; k < answers_of(question); ++k) {
        if (question == LineQuestion::tone)
            out.push_back(to_string(static_cast<Tone>(k)));
        else if (question == LineQuestion::direction)
            out.push_back(to_string(static_cast<LineDirection>(k)));
        else if (question == LineQuestion::began)
            out.push_back(to_string(static_cast<Onset>(k)));
        else
            out.push_back(k == 1 ? "yes" : "no");
    }
    return out;
}

/// As the Python record Observation gives it: (word, sure) or (size, uncertainty), by question.
Observation observation_of(const py::dict& given) {
    Observation out;
    const auto size = [&](const char* name, std::optional<MeasuredSize>& to) {
        if (!given.contains(name)) return;
        const auto [value, uncertainty] = given[name].cast<std::pair<double, double>>();
        to = MeasuredSize{value, uncertainty};
    };
    const auto word = [&]<class T>(LineQuestion question, std::optional<Answered<T>>& to) {
        const std::string name(to_string(question));
        if (!given.contains(name.c_str())) return;
        const auto [text, is_sure] = given[name.c_str()].cast<std::pair<std::string, bool>>();
        const auto words = words_of(question);
        const auto place = std::find(words.begin(), words.end(), text);
        if (place == words.end()) throw InvalidInput({{name, text, "is no answer to this question"}});
        to = Answered<T>{static_cast<T>(place - words.begin()), is_sure};
    };
    size("width", out.width), size("repeat", out.repeat);
    word(LineQuestion::tone, out.tone);
    word(LineQuestion::direction, out.direction);
    word(LineQuestion::moves_with_blade, out.moves_with_blade);
    word(LineQuestion::goes_when_wiped, out.goes_when_wiped);
    word(LineQuestion::survives_blade_change, out.survives_blade_change);
    word(LineQuestion::survives_cleaning, out.survives_cleaning);
    word(LineQuestion::patchy, out.patchy);
    word(LineQuestion::began, out.began);
    return out;
}

}  // namespace

void bind_tracing(py::module_& module) {
    module.def("line_questions", [] {
        py::dict out;
        for (std::size_t q = 0; q < kLineQuestions; ++q)
            out[py::str(to_string(question_at(q)))] = words_of(question_at(q));
        return out;
    });
    module.def(
        "size_range",
        [](const std::string& question) {
            const SizeRange range = size_range(question == "width" ? LineQuestion::width : LineQuestion::repeat);
            return py::make_tuple(range.low, range.high);
        },
        py::arg("question"));
    module.def("usual_priors", [] {
        py::dict out;
        for (std::size_t c = 0; c < kLineCauses; ++c)
            out[py::str(to_string(static_cast<LineCause>(c)))] = usual_priors()[c];
        return out;
    });
    py::class_<CauseModels>(module, "CauseModels").def_property_readonly("seen_shares", [](const CauseModels& m) {
        std::vector<double> out;
        for (const CauseModel& cause : m.causes) out.push_back(cause.seen_share);
        return out;
    });
    module.def(
        "cause_models",
        [](const LineContext& context, const PrintLaw& law, double sure_right, double doubtful_right, double size_right,
           std::size_t samples, std::uint64_t seed, int most_tries) {
            ModelOptions options;
            options.law = law, options.doubt = {sure_right, doubtful_right, size_right};
            options.samples = samples, options.seed = seed, options.most_tries = most_tries;
            const py::gil_scoped_release release;
            return cause_models(context, options);
        },
        py::arg("context"), py::arg("law"), py::kw_only(), py::arg("sure"), py::arg("doubtful"), py::arg("size"),
        py::arg("samples"), py::arg("seed"), py::arg("most_tries"));
    module.def(
        "trace",
        [](const CauseModels& models, const py::dict& given, const std::array<double, kLineCauses>& priors,
           double none_share, const std::array<double, kLineQuestions>& effort) {
            const Observation seen = observation_of(given);
            TracingOptions options;
            options.priors = priors, options.none_share = none_share, options.effort = effort;
            const auto [tracing, checks] = [&] {
                const py::gil_scoped_release release;
                return std::pair{trace(models, seen, options), next_checks(models, seen, options)};
            }();
            py::list ranked, left;
            for (const std::size_t h : tracing.ranked) {
                py::list evidence;
                for (const Evidence& one : tracing.evidence[h])
                    evidence.append(py::make_tuple(to_string(one.question), one.log_ratio));
                ranked.append(py::make_tuple(h == kNoneOfThese ? "none_of_these" : to_string(static_cast<LineCause>(h)),
                                             tracing.probability[h], tracing.prior[h], evidence));
            }
            for (const Check& check : checks)
                left.append(py::make_tuple(to_string(check.question), check.information, check.per_effort,
                                           check.expected, check.expected_size));
            return py::make_tuple(ranked, left);
        },
        py::arg("models"), py::arg("observation"), py::arg("priors"), py::arg("none_share"), py::arg("effort"),
        "Hypotheses, most probable first: name, probability, prior, evidence as (question, ln ratio); and the checks "
        "left: question, bits, bits per effort, expected answers and sizes by hypothesis.");
}
