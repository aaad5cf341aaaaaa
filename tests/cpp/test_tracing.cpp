#include "libblade/tracing.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>

#include "expect.hpp"
#include "libblade/error.hpp"
#include "libblade/random.hpp"

using namespace libblade;

namespace {

// A second and a half per thousand observations under sanitizers.
#ifdef __SANITIZE_ADDRESS__
constexpr std::uint64_t kPerCause = 25;
constexpr double kSlack = 0.06;  // three standard errors of 300 observations
#else
constexpr std::uint64_t kPerCause = 500;
constexpr double kSlack = 0.0;
#endif
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

const LineContext& usual_nip() {
    static const LineContext context = [] {
        Case nip_case;
        nip_case.tip = Facet{200e-6, BeddedHere{}, 1e-6};
        FlowTables tables;
        NipOptions options;
        options.tables = &tables;
        return line_context(nip_case, solve(nip_case, options), options);
    }();
    return context;
}
const CauseModels& usual_models() {
    static const CauseModels models = cause_models(usual_nip());
    return models;
}

// An observer who is not the one of the likelihood: one answer in ten is wrong though said for sure, sizes are off by up to
// 20 %, evenly.
template <class T>
Answered<T> noisy(T truth, std::size_t answers, Random& random) {
    const auto k = static_cast<std::size_t>(truth);
    const bool wrong = random.uniform() < 0.1;
    return sure(static_cast<T>(wrong ? (k + 1 + random.below(answers - 1)) % answers : k));
}
MeasuredSize noisy_size(double size, Random& random) {
    const double factor = random.uniform(0.8, 1.2);
    return {size > 0.0 ? size * factor : 0.0};
}
/// All that can be seen and tried.
Observation observed(const LineSignature& s, Random& random) {
    Observation out;
    out.tone = noisy(s.tone, 2, random), out.direction = noisy(s.direction, 4, random);
    out.width = noisy_size(s.width, random), out.repeat = noisy_size(s.repeat, random);
    out.moves_with_blade = noisy(s.moves_with_blade, 2, random);
    out.goes_when_wiped = noisy(s.goes_when_wiped, 2, random);
    out.survives_blade_change = noisy(s.survives_blade_change, 2, random);
    out.survives_cleaning = noisy(s.survives_cleaning, 2, random);
    out.patchy = noisy(s.patchy, 2, random), out.began = noisy(s.began, kOnsets, random);
    return out;
}

/// Calls with a member of an Observation, by its question.
template <class Visit>
void at_question(LineQuestion question, const Visit& visit) {
    using O = Observation;
    switch (question) {
        case LineQuestion::tone:
            return visit(&O::tone);
        case LineQuestion::direction:
            return visit(&O::direction);
        case LineQuestion::width:
            return visit(&O::width);
        case LineQuestion::repeat:
            return visit(&O::repeat);
        case LineQuestion::moves_with_blade:
            return visit(&O::moves_with_blade);
        case LineQuestion::goes_when_wiped:
            return visit(&O::goes_when_wiped);
        case LineQuestion::survives_blade_change:
            return visit(&O::survives_blade_change);
        case LineQuestion::survives_cleaning:
            return visit(&O::survives_cleaning);
        case LineQuestion::patchy:
            return visit(&O::patchy);
        case LineQuestion::began:
            return visit(&O::began);
    }
}
void copy_answer(LineQuestion question, const Observation& from, Observation& to) {
    at_question(question, [&](auto member) { to.*member = from.*member; });
}
void forget(LineQuestion question, Observation& seen) {
    at_question(question, [&](auto member) { (seen.*member).reset(); });
}
LineQuestion question_at(std::size_t place) { return static_cast<LineQuestion>(place); }

/// Visits `count` observed lines of each cause, from a seed of their own.
template <class Visit>
void simulate(std::uint64_t count, const Visit& visit) {
    for (std::size_t c = 0; c < kLineCauses; ++c)
        for (std::uint64_t i = 0; i < count; ++i) {
            const SampledLine line = sample_visible(static_cast<LineCause>(c), usual_nip(), {}, 771, i);
            REQUIRE(line.print.visible());
            Random random(9001, i * kLineCauses + c);
            visit(c, observed(line.print.signature, random), random);
        }
}

double entropy(const std::vector<double>& shares) {
    double out = 0.0;
    for (const double p : shares)
        if (p > 0.0) out -= p * std::log2(p);
    return out;
}

/// Two causes and none of these: lines small enough for paper. A: dark, half of them moving; B: light, moving.
CauseModels on_paper() {
    CauseModels out;
    LineSignature line;
    line.tone = Tone::darker, line.moves_with_blade = true, line.width = 1e-3;
    out.causes[0].lines = {line, line};
    out.causes[0].lines[1].moves_with_blade = false;
    line.tone = Tone::lighter, line.width = 2e-3, line.repeat = 0.5;
    out.causes[1].lines = {line};
    out.causes[0].began = {0.5, 0.5, 0.0, 0.0, 0.0}, out.causes[1].began = {0.1, 0.0, 0.9, 0.0, 0.0};
    return out;
}
/// 0.45 each and 0.1 for none.
TracingOptions even_two() {
    TracingOptions out;
    out.priors.fill(1e-9);
    out.priors[0] = out.priors[1] = 0.5 * (1.0 - 10e-9);
    return out;
}

template <class Call>
std::vector<std::string> refused(Call&& call) {
    std::vector<std::string> out;
    try {
        call();
    } catch (const InvalidInput& error) {
        for (const Problem& problem : error.problems()) out.push_back(problem.path);
    }
    return out;
}

// Causes that are not among the twelve, each with a story of its own.

/// A holder that vibrates at 0.5 to 5 kHz, from 5 m/s of web on: fine bands that come and go, with any blade.
LineSignature chatter(Random& r) {
    LineSignature out;
    out.tone = Tone::darker, out.direction = LineDirection::across_web;
    out.repeat = 5.0 / r.log_uniform(0.5e3, 5e3), out.width = 0.5 * out.repeat;
    out.survives_blade_change = out.survives_cleaning = out.patchy = true;
    return out;
}
/// Foam in the ink: cells that meet a bubble come empty, here and there. It settles while the press stands for a wipe, and a
/// wash-up brings fresh ink.
LineSignature foam(Random& r) {
    LineSignature out;
    out.tone = Tone::lighter, out.direction = LineDirection::spots, out.width = r.log_uniform(1e-3, 10e-3);
    out.goes_when_wiped = out.survives_blade_change = out.patchy = true;
    out.began = r.uniform() < 0.8 ? Onset::gradual : Onset::after_standstill;
    return out;
}
/// Ink that gathers under the holder and drops on the web: spots without any order, gone for a while after a wipe of what
/// hangs there and after a wash-up, with any blade.
LineSignature drips(Random& r) {
    LineSignature out;
    out.tone = Tone::darker, out.direction = LineDirection::spots, out.width = r.log_uniform(3e-3, 20e-3);
    out.goes_when_wiped = out.survives_blade_change = out.patchy = true;
    out.began = r.uniform() < 0.6 ? Onset::gradual : Onset::sudden;
    return out;
}
/// The blade's traverse strikes its ends: a band across the web at each turn, every 4 to 15 m, as long as it is on.
LineSignature traverse_turns(Random& r) {
    LineSignature out;
    out.tone = Tone::darker, out.direction = LineDirection::across_web;
    out.width = r.log_uniform(20e-3, 200e-3), out.repeat = r.log_uniform(4.0, 15.0);
    out.moves_with_blade = out.survives_blade_change = out.survives_cleaning = true;
    return out;
}
/// Looks like something after this nip: a drive's bands at the pitch of its teeth, pi times a module of 2 to 6 mm.
LineSignature gear_marks(Random& r) {
    LineSignature out;
    const double pitch = std::numbers::pi * r.uniform(2e-3, 6e-3);
    out.tone = r.uniform() < 0.5 ? Tone::darker : Tone::lighter, out.direction = LineDirection::across_web;
    out.width = 0.5 * pitch, out.repeat = pitch;
    out.survives_blade_change = out.survives_cleaning = true;
    out.began = r.uniform() < 0.7 ? Onset::gradual : Onset::sudden;
    return out;
}
/// Looks like riding: ink that has lost its solvent is darker everywhere, but with any blade, until fresh ink comes in.
LineSignature thick_ink(Random& r) {
    LineSignature out;
    out.tone = Tone::darker, out.direction = LineDirection::whole_width, out.width = kNan;
    out.survives_blade_change = true;
    out.began = r.uniform() < 0.8 ? Onset::gradual : Onset::after_standstill;
    return out;
}

}  // namespace

TEST_CASE("who knows nothing keeps the priors", "[tracing]") {
    const Tracing found = trace(usual_models(), {});
    const auto priors = usual_priors();
    for (std::size_t c = 0; c < kLineCauses; ++c) {
        CHECK(std::abs(found.probability[c] - 0.9 * priors[c]) < 1e-15);
        CHECK(found.evidence[c].empty());
    }
    CHECK(std::abs(found.probability[kNoneOfThese] - 0.1) < 1e-15);
    CHECK(std::abs(std::accumulate(priors.begin(), priors.end(), 0.0) - 1.0) < 1e-12);
}

TEST_CASE("Bayes' rule by hand", "[tracing]") {
    const CauseModels models = on_paper();
    const TracingOptions options = even_two();
    Observation seen;
    seen.tone = sure(Tone::darker), seen.moves_with_blade = doubtful(true);
    // Each cause: its lines and one that answers evenly. Right with 0.95 where sure, 0.7 where not.
    const double a = (0.95 * 0.7 + 0.95 * 0.3 + 0.25) / 3.0, b = (0.05 * 0.7 + 0.25) / 2.0, none = 0.25;
    const double sum = 0.45 * a + 0.45 * b + 0.1 * none;
    const Tracing found = trace(models, seen, options);
    CHECK(std::abs(found.probability[0] - 0.45 * a / sum) < 1e-9);  // of the priors the ten others took 1e-8
    const auto exactly = [&](std::size_t h, double likelihood) {
        const double total = found.prior[0] * a + found.prior[1] * b + found.prior[kNoneOfThese] * none;
        CHECK(std::abs(found.probability[h] - found.prior[h] * likelihood / total) < 1e-12);
    };
    exactly(0, a), exactly(1, b), exactly(kNoneOfThese, none);
    CHECK(found.probability[5] == 0.0);  // shows nothing at this nip
    CHECK((found.ranked[0] == 0 && found.ranked[1] == 1 && found.ranked[2] == kNoneOfThese));

    // Evidence of the tone for A: its own likelihood over that of B and none, by their priors 0.45 and 0.1.
    const double tone_a = (2 * 0.95 + 0.5) / 3.0, tone_b = (0.05 + 0.5) / 2.0;
    REQUIRE(found.evidence[0].size() == 2);
    CHECK(found.evidence[0][0].question == LineQuestion::tone);
    CHECK(std::abs(found.evidence[0][0].log_ratio - std::log(tone_a / ((0.45 * tone_b + 0.1 * 0.5) / 0.55))) < 1e-8);
    CHECK(found.evidence[1][0].log_ratio < -0.5);  // lighter is what B is
    // The heavier one first, not the first one: likelihoods 0.633 over 0.418, 0.5 over 0.316.
    seen.tone = doubtful(Tone::darker), seen.moves_with_blade = sure(false);
    CHECK(trace(models, seen, options).evidence[0][0].question == LineQuestion::moves_with_blade);
}

TEST_CASE("sizes by hand", "[tracing]") {
    const CauseModels models = on_paper();
    const TracingOptions options = even_two();
    const auto odds = [&](const Observation& seen) {
        const Tracing t = trace(models, seen, options);
        return std::array{t.probability[0] / t.prior[0], t.probability[1] / t.prior[1],
                          t.probability[kNoneOfThese] / t.prior[kNoneOfThese]};
    };
    // Width 1.2 mm +- 10 %: normal in ln, a tenth of the lines that could be anything have none, the rest 1e-6 to 10 m.
    const double range = std::log(1e7), any = 0.9 / range, peak = 0.98 / (0.1 * std::sqrt(2.0 * std::numbers::pi));
    const auto near = [&](double ratio) {
        return peak * std::exp(-0.5 * std::pow(std::log(ratio) / 0.1, 2)) + 0.02 * any;
    };
    Observation seen;
    seen.width = MeasuredSize{1.2e-3, 0.1};
    auto found = odds(seen);
    expect_close(found[0] / found[2], (2 * near(1.2) + any) / 3.0 / any, 1e-12, "exact");
    expect_close(found[1] / found[2], (near(0.6) + any) / 2.0 / any, 1e-12, "exact");
    // No repeat: A never has one, B has; half of those that could be anything.
    seen = {};
    seen.repeat = MeasuredSize{0.0};
    found = odds(seen);
    expect_close(found[0] / found[2], (2 * (0.98 + 0.02 * 0.5) + 0.5) / 3.0 / 0.5, 1e-12, "exact");
    expect_close(found[1] / found[2], (0.02 * 0.5 + 0.5) / 2.0 / 0.5, 1e-12, "exact");
    // How it began, whose odds are known: 0.5 sudden, none at a roll change.
    seen = {};
    seen.began = sure(Onset::at_roll_change);
    found = odds(seen);
    expect_close(found[0] / found[2], (2 * (0.05 / 4.0) + 0.2) / 3.0 / 0.2, 1e-12, "exact");
}

TEST_CASE("bandwidth of Silverman's rule", "[tracing]") {
    // ln size 0, 1, 2, 3, 4: standard deviation sqrt 2, quartiles 1 and 3.
    std::vector<double> sizes;
    for (int i = 4; i >= 0; --i) sizes.push_back(std::exp(i));
    sizes.push_back(0.0), sizes.push_back(kNan);
    expect_close(kernel_bandwidth(sizes), 1.06 * std::min(std::numbers::sqrt2, 2.0 / 1.34) * std::pow(5.0, -0.2), 1e-12,
                 "Silverman 1986, from memory");
    CHECK(kernel_bandwidth({0.44, 0.44, 0.44}) == 0.0);
    CHECK(kernel_bandwidth({}) == 0.0);
}

TEST_CASE("the information of a check is what it takes off the entropy", "[tracing]") {
    // P(answers | hypothesis) enumerated anew: lines, truths, answers, with tables in the place of formulas.
    const CauseModels models = on_paper();
    const TracingOptions options = even_two();
    const auto tone = [](double right, Tone truth, Tone said) { return truth == said ? right : 1.0 - right; };
    const auto moves = [](double right, bool truth, bool said) { return truth == said ? right : 1.0 - right; };
    Observation seen;
    seen.tone = doubtful(Tone::darker);
    const auto prior = trace(models, {}, options).prior;
    // joint[h][tone said for sure][moves said for sure], with the doubtful tone given.
    double joint[3][2][2] = {};
    const std::size_t place[3] = {0, 1, kNoneOfThese};
    for (std::size_t h = 0; h < 3; ++h) {
        std::vector<LineSignature> lines;
        if (h < 2) lines = models.causes[h].lines;
        const double each = prior[place[h]] / static_cast<double>(lines.size() + 1);
        for (int t = 0; t < 2; ++t)
            for (int m = 0; m < 2; ++m) {
                for (const LineSignature& line : lines)
                    joint[h][t][m] += each * tone(0.7, line.tone, Tone::darker) *
                                      tone(0.95, line.tone, static_cast<Tone>(t)) *
                                      moves(0.95, line.moves_with_blade, m == 1);
                // Anything: each true tone as likely, and so what is said of the motion.
                for (const Tone truth : {Tone::darker, Tone::lighter})
                    joint[h][t][m] +=
                        each * 0.5 * tone(0.7, truth, Tone::darker) * tone(0.95, truth, static_cast<Tone>(t)) * 0.5;
            }
    }
    const auto gain = [&](bool of_tone) {
        double total = 0.0, after = 0.0;
        std::vector<double> now(3);
        for (std::size_t h = 0; h < 3; ++h)
            for (int t = 0; t < 2; ++t)
                for (int m = 0; m < 2; ++m) now[h] += joint[h][t][m], total += joint[h][t][m];
        for (int j = 0; j < 2; ++j) {
            std::vector<double> then(3);
            double sum = 0.0;
            for (std::size_t h = 0; h < 3; ++h)
                then[h] = of_tone ? joint[h][j][0] + joint[h][j][1] : joint[h][0][j] + joint[h][1][j], sum += then[h];
            for (double& p : then) p /= sum;
            after += sum / total * entropy(then);
        }
        for (double& p : now) p /= total;
        return entropy(now) - after;
    };
    int found = 0;
    for (const Check& check : next_checks(models, seen, options)) {
        if (check.question == LineQuestion::tone) expect_close(check.information, gain(true), 1e-9, "doubted"), ++found;
        if (check.question == LineQuestion::moves_with_blade)
            expect_close(check.information, gain(false), 1e-9, "unknown"), ++found;
    }
    CHECK(found == 2);
}

TEST_CASE("asking again how it began is worth what is left in doubt", "[tracing]") {
    const CauseModels models = on_paper();
    const TracingOptions options = even_two();
    Observation seen;
    seen.began = doubtful(Onset::sudden);
    const auto prior = trace(models, {}, options).prior;
    const auto say = [](double right, std::size_t truth, std::size_t said) {
        return truth == said ? right : (1.0 - right) / 4.0;
    };
    // joint[h][said for sure], over every truth; of the lines that could be anything each truth is as likely.
    double joint[3][kOnsets] = {}, total = 0.0, after = 0.0;
    std::vector<double> now(3);
    const std::size_t place[3] = {0, 1, kNoneOfThese};
    for (std::size_t h = 0; h < 3; ++h)
        for (std::size_t truth = 0; truth < kOnsets; ++truth) {
            const double n = h == 0 ? 2.0 : h == 1 ? 1.0 : 0.0;
            const double odds = h < 2 ? models.causes[h].began[truth] : 0.0;
            const double share = (n * odds + 0.2) / (n + 1.0) * say(0.7, truth, 0);
            for (std::size_t j = 0; j < kOnsets; ++j) {
                const double p = prior[place[h]] * share * say(0.95, truth, j);
                joint[h][j] += p, now[h] += p, total += p;
            }
        }
    for (std::size_t j = 0; j < kOnsets; ++j) {
        std::vector<double> then = {joint[0][j], joint[1][j], joint[2][j]};
        const double sum = then[0] + then[1] + then[2];
        for (double& p : then) p /= sum;
        after += sum / total * entropy(then);
    }
    for (double& p : now) p /= total;
    const Tracing traced = trace(models, seen, options);
    for (std::size_t h = 0; h < 3; ++h) expect_close(traced.probability[place[h]], now[h], 1e-9, "posterior");
    for (const Check& check : next_checks(models, seen, options))
        if (check.question == LineQuestion::began)
            expect_close(check.information, entropy(now) - after, 1e-9, "asked again");
}

TEST_CASE("the information of a check equals the mean of the entropies that traces leave", "[tracing]") {
    const CauseModels& models = usual_models();
    Observation seen;
    seen.tone = sure(Tone::darker), seen.direction = sure(LineDirection::along_web);
    const Tracing before = trace(models, seen);
    const auto left = [](const Tracing& t) { return entropy({t.probability.begin(), t.probability.end()}); };
    // P(answer) from two traces: the share of none of these falls from p to p' by P(answer | none) / P(answer).
    const auto chance = [&](const Tracing& after, double of_none) {
        return of_none * before.probability[kNoneOfThese] / after.probability[kNoneOfThese];
    };
    for (const Check& check : next_checks(models, seen)) {
        double sum = 0.0, after = 0.0;
        const auto with = [&](const Observation& next, double of_none) {
            const Tracing t = trace(models, next);
            const double p = chance(t, of_none);
            sum += p, after += p * left(t);
        };
        Observation next = seen;
        if (answers_of(check.question) > 0) {
            at_question(check.question, [&](auto member) {
                using Answer = typename std::decay_t<decltype(next.*member)>::value_type;
                if constexpr (!std::is_same_v<Answer, MeasuredSize>) {
                    using T = decltype(Answer::value);
                    const std::size_t n = answers_of(check.question);
                    for (std::size_t k = 0; k < n; ++k) {
                        next.*member = sure(static_cast<T>(k));
                        with(next, 1.0 / static_cast<double>(n));
                    }
                }
            });
            expect_close(sum, 1.0, 1e-9, "answers exclude each other");
            expect_close(check.information, left(before) - after, 1e-6, std::string(to_string(check.question)));
        } else {
            const SizeRange range = size_range(check.question);
            const double log_range = std::log(range.high / range.low), step = 0.05,
                         none = no_size_share(check.question);
            const auto measured = [&](double size, double of_none) {
                (check.question == LineQuestion::width ? next.width : next.repeat) = MeasuredSize{size};
                with(next, of_none);
            };
            measured(0.0, none);
            for (double x = 0.5 * step; x < log_range; x += step)
                measured(range.low * std::exp(x), (1.0 - none) * step / log_range);
            expect_close(sum, 1.0, 0.01, "a sum for an integral over ln size");
            expect_close(check.information, left(before) - after, 0.05, std::string(to_string(check.question)));
        }
    }
}

TEST_CASE("checks come by information, per effort, and senseless ones not at all", "[tracing]") {
    const CauseModels& models = usual_models();
    Observation seen;
    seen.tone = sure(Tone::darker), seen.direction = sure(LineDirection::along_web);
    const auto checks = next_checks(models, seen);
    REQUIRE(checks.size() == 8);
    CHECK(std::is_sorted(checks.begin(), checks.end(),
                         [](const Check& a, const Check& b) { return a.information > b.information; }));
    CHECK(checks[0].information > 0.5);
    TracingOptions dear;
    dear.effort[static_cast<std::size_t>(checks[0].question)] = 1000.0;
    CHECK(next_checks(models, seen, dear).back().question == checks[0].question);
    CHECK(next_checks(models, seen, dear).back().information == checks[0].information);
    for (const Check& check : checks) {
        const bool words = answers_of(check.question) > 0;
        for (std::size_t h = 0; h < kHypotheses; ++h) {
            CHECK(check.expected[h].size() == answers_of(check.question));
            CHECK(std::isnan(check.expected_size[h]) == (words || h == kNoneOfThese));
        }
        // A nick's darker lines are threads, those under a propped blade are millimetres wide.
        if (check.question == LineQuestion::width)
            CHECK((check.expected_size[0] < 1e-4 && check.expected_size[5] > 1e-3));
        if (check.question == LineQuestion::repeat) CHECK(check.expected_size[0] == 0.0);
        if (check.question == LineQuestion::moves_with_blade) {
            CHECK((check.expected[0][1] > 0.9 && check.expected[1][1] < 0.1));
            CHECK(check.expected[kNoneOfThese][1] == 0.5);
        }
    }
    seen.direction = sure(LineDirection::whole_width);
    for (const Check& check : next_checks(models, seen)) CHECK(check.question != LineQuestion::width);
    CHECK(seen.answered(LineQuestion::tone));
    CHECK(!seen.answered(LineQuestion::width));
}

TEST_CASE("what a nip cannot show is out", "[tracing]") {
    LineContext context = usual_nip();
    context.advance = {0.0}, context.advanced_film = {context.film};  // the holder follows the roll
    context.cell_ink = 0.0;                                           // nor is there ink in any cells
    ModelOptions options;
    options.samples = 40;
    const CauseModels models = cause_models(context, options);
    const Tracing found = trace(models, {});
    for (const LineCause cause : {LineCause::run_out, LineCause::plugged_cells, LineCause::blocked_supply}) {
        CHECK(models.causes[static_cast<std::size_t>(cause)].lines.empty());
        CHECK(found.probability[static_cast<std::size_t>(cause)] == 0.0);
    }
    CHECK(std::abs(std::accumulate(found.probability.begin(), found.probability.end(), 0.0) - 1.0) < 1e-12);
    const auto priors = usual_priors();
    expect_close(found.probability[0] / found.probability[kNoneOfThese], 0.9 * priors[0] / 0.1, 1e-12, "proportions");
}

TEST_CASE("models are the same for the same seed, and of the asked size", "[tracing]") {
    ModelOptions options;
    options.samples = 30;
    const CauseModels a = cause_models(usual_nip(), options), b = cause_models(usual_nip(), options);
    options.seed += 1;
    const CauseModels other = cause_models(usual_nip(), options);
    for (std::size_t c = 0; c < kLineCauses; ++c) {
        REQUIRE(a.causes[c].lines.size() == 30);
        CHECK((a.causes[c].seen_share > 0.2 && a.causes[c].seen_share <= 1.0));
        bool differs = false;
        for (std::size_t i = 0; i < 30; ++i) {
            CHECK(a.causes[c].lines[i].repeat == b.causes[c].lines[i].repeat);
            differs = differs || a.causes[c].lines[i].width != other.causes[c].lines[i].width ||
                      std::isnan(other.causes[c].lines[i].width);
        }
        CHECK(differs);
    }
}

TEST_CASE("simulated lines are traced to their cause", "[tracing]") {
    // Each cause comes equally often here, and the priors say so.
    TracingOptions options;
    options.priors.fill(1.0 / kLineCauses);
    std::array<int, kLineCauses> first{}, in_two{};
    std::array<int, 3> said{}, right{};  // posterior of the first: 0.5 to 0.7, 0.7 to 0.9, above
    std::array<double, 3> believed{};
    simulate(kPerCause, [&](std::size_t cause, Observation seen, Random& random) {
        const Tracing all = trace(usual_models(), seen, options);
        const double top = all.probability[all.ranked[0]];
        CHECK(std::abs(std::accumulate(all.probability.begin(), all.probability.end(), 0.0) - 1.0) < 1e-12);
        first[cause] += all.ranked[0] == cause;
        if (top >= 0.5) {
            const std::size_t bin = top < 0.7 ? 0 : top < 0.9 ? 1 : 2;
            ++said[bin], right[bin] += all.ranked[0] == cause, believed[bin] += top;
        }
        for (int left = 3; left > 0;) {
            const LineQuestion q = question_at(random.below(kLineQuestions));
            if (!seen.answered(q)) continue;
            forget(q, seen);
            --left;
        }
        const Tracing some = trace(usual_models(), seen, options);
        in_two[cause] += some.ranked[0] == cause || some.ranked[1] == cause;
    });
    const auto share = [](const std::array<int, kLineCauses>& hits) {
        return std::accumulate(hits.begin(), hits.end(), 0) / static_cast<double>(kLineCauses * kPerCause);
    };
    const auto of = [](int hits, double all) { return static_cast<double>(hits) / all; };
    INFO("first " << share(first) << ", three missing, in two " << share(in_two));
    for (std::size_t c = 0; c < kLineCauses; ++c) {
        INFO(to_string(static_cast<LineCause>(c))
             << ": first " << of(first[c], double(kPerCause)) << ", in two " << of(in_two[c], double(kPerCause)));
        CHECK(of(first[c], double(kPerCause)) >
              0.6 - 2.0 * kSlack);  // the worst one: after this nip, which looks like anything
    }
    CHECK(share(first) >= 0.85 - kSlack);
    CHECK(share(in_two) >= 0.85 - kSlack);
    // The observer errs twice as often as the likelihood takes him to: beliefs may be a little too strong, not more.
    for (std::size_t bin = 0; bin < 3; ++bin) {
        INFO("said " << believed[bin] / said[bin] << ", right " << of(right[bin], said[bin]) << " of " << said[bin]);
        CHECK(std::abs(believed[bin] / said[bin] - of(right[bin], said[bin])) < 0.08 + 2.0 * kSlack);
    }
}

TEST_CASE("causes outside the list are called none of these, or are at least not forced", "[tracing]") {
    constexpr int kCount = 300;
    const auto shares = [](LineSignature (*generator)(Random&), std::uint64_t seed) {
        std::array<double, kHypotheses> out{};
        for (std::uint64_t i = 0; i < kCount; ++i) {
            Random random(seed, i);
            const LineSignature line = generator(random);
            out[trace(usual_models(), observed(line, random)).ranked[0]] += 1.0 / kCount;
        }
        return out;
    };
    LineSignature (*const strangers[])(Random&) = {chatter, foam, drips, traverse_turns};
    for (std::uint64_t g = 0; g < std::size(strangers); ++g) {
        const double none = shares(strangers[g], 4242 + g)[kNoneOfThese];
        INFO("generator " << g << ": none of these " << none);
        CHECK(none > 0.6);
    }
    // Two that differ from one of the twelve in a repeat or in two answers alone.
    const auto gears = shares(gear_marks, 11), thick = shares(thick_ink, 12);
    CHECK(gears[kNoneOfThese] > 0.25);
    CHECK(gears[kNoneOfThese] + gears[static_cast<std::size_t>(LineCause::not_this_nip)] > 0.85);
    CHECK(thick[kNoneOfThese] > 0.25);
    CHECK(thick[kNoneOfThese] + thick[static_cast<std::size_t>(LineCause::riding)] > 0.85);
}

TEST_CASE("the next check needs fewer checks than a fixed order or a random one", "[tracing]") {
    double wise = 0.0, fixed = 0.0, random_order = 0.0;
    int lines = 0, right = 0;
    simulate(std::max<std::uint64_t>(5, kPerCause / 20),
             [&](std::size_t cause, const Observation& truth, Random& random) {
                 // Looked at first: tone and direction. Then one after the other until somebody is believed to 0.9.
                 const auto checks = [&](const auto& choose) {
                     Observation seen;
                     seen.tone = truth.tone, seen.direction = truth.direction;
                     int count = 0;
                     Tracing now = trace(usual_models(), seen);
                     for (; count < 8 && now.probability[now.ranked[0]] < 0.9; ++count) {
                         copy_answer(choose(seen), truth, seen);
                         now = trace(usual_models(), seen);
                     }
                     return std::pair{count, now.ranked[0]};
                 };
                 const auto [by_information, named] = checks([&](const Observation& seen) {
                     for (const Check& check : next_checks(usual_models(), seen))
                         if (!seen.answered(check.question)) return check.question;
                     // Left: the width of what was called a haze.
                     return LineQuestion::width;
                 });
                 wise += by_information, right += named == cause;
                 fixed += checks([](const Observation& seen) {
                              std::size_t q = 0;
                              while (seen.answered(question_at(q))) ++q;
                              return question_at(q);
                          }).first;
                 random_order += checks([&](const Observation& seen) {
                                     LineQuestion q;
                                     do q = question_at(random.below(kLineQuestions));
                                     while (seen.answered(q));
                                     return q;
                                 }).first;
                 ++lines;
             });
    INFO("checks: by information " << wise / lines << ", in order " << fixed / lines << ", at random "
                                   << random_order / lines << "; right " << right << " of " << lines);
    CHECK(wise < 0.9 * fixed);
    CHECK(wise < 0.85 * random_order);
    CHECK(right > 0.75 * lines);
}

TEST_CASE("bad observations, priors and options are refused by name", "[tracing]") {
    using Names = std::vector<std::string>;
    const CauseModels models = on_paper();
    Observation seen;
    seen.width = MeasuredSize{-1e-3, 0.1}, seen.repeat = MeasuredSize{0.4, 0.0};
    CHECK(refused([&] { (void)trace(models, seen); }) == Names{"width", "repeat.uncertainty"});
    CHECK(refused([&] { (void)next_checks(models, seen); }) == Names{"width", "repeat.uncertainty"});
    seen.width = MeasuredSize{kNan}, seen.repeat = MeasuredSize{50.0};
    CHECK(refused([&] { (void)trace(models, seen); }) == Names{"width", "repeat"});
    TracingOptions options;
    options.priors[3] = 0.0, options.none_share = 1.0, options.effort[4] = 0.0;
    CHECK(refused([&] { (void)trace(models, {}, options); }) ==
          Names{"priors.plugged_cells", "priors", "none_share", "effort.moves_with_blade"});
    ModelOptions m;
    m.doubt = {1.0, 0.4, 0.0}, m.samples = 5, m.most_tries = 0;
    CHECK(refused([&] { (void)cause_models(usual_nip(), m); }) ==
          Names{"doubt.sure", "doubt.size", "doubt.doubtful", "samples", "most_tries"});
    LineContext unsolved = usual_nip();
    unsolved.convergence.status = Status::not_run;
    CHECK(refused([&] { (void)cause_models(unsolved); }) == Names{"context"});
}
