#include "libblade/evaluate.hpp"

#include <cmath>
#include <string>
#include <vector>

#include "expect.hpp"
#include "libblade/error.hpp"
#include "libblade/nip_gradient.hpp"
#include "libblade/parameters.hpp"
#include "libblade/random.hpp"

using namespace libblade;

namespace {

Case press_case() {
    Case c;
    c.tip = Facet{200e-6, BeddedHere{}, 1e-6};
    return c;
}
const std::vector<std::string> kFields{"setting.set_angle", "setting.line_load", "ink.viscosity"};
using P = OperatingPoint;
const std::vector<double P::*> kOutputs{&P::film_on_lands, &P::effective_angle, &P::excess_after_step};

struct Table {
    std::vector<double> numbers, slopes;
    std::vector<Status> status;
    std::vector<std::uint8_t> kinked;
    std::size_t done = 0;
};
Table evaluated(const std::vector<double>& values, bool with_slopes, const EvaluateOptions& options = {},
                const std::vector<std::string>& fields = kFields, const std::vector<double P::*>& outputs = kOutputs) {
    const std::size_t points = values.size() / fields.size();
    Table t;
    t.numbers.resize(points * outputs.size()), t.status.resize(points);
    if (with_slopes) t.slopes.resize(t.numbers.size() * fields.size()), t.kinked.resize(points * fields.size());
    t.done = evaluate(press_case(), {fields, outputs}, values, {t.numbers, t.status, t.slopes, t.kinked}, options);
    return t;
}

std::vector<double> random_rows(std::size_t points) {
    Random random(11);
    std::vector<double> rows;
    for (std::size_t i = 0; i < points; ++i) {
        rows.push_back(random.uniform(0.45, 0.65));
        rows.push_back(random.uniform(60.0, 220.0));
        rows.push_back(random.log_uniform(0.01, 0.3));
    }
    return rows;
}

}  // namespace

TEST_CASE("rows give what their cases give alone, in any number of threads", "[evaluate]") {
    const auto rows = random_rows(8);
    EvaluateOptions one, two;
    one.threads = 1, two.threads = 2;
    const Table a = evaluated(rows, true, one), b = evaluated(rows, true, two);
    CHECK(a.done == 8);
    for (std::size_t i = 0; i < 8; ++i) {
        Case c = press_case();
        for (std::size_t k = 0; k < 3; ++k) set_number(c, kFields[k], rows[3 * i + k]);
        const OperatingPoint p = solve(c);
        const NipGradient g = gradient(c, kFields);
        REQUIRE(a.status[i] == Status::converged);
        for (std::size_t k = 0; k < 3; ++k) {
            CHECK(a.numbers[3 * i + k] == p.*kOutputs[k]);
            CHECK(a.numbers[3 * i + k] == b.numbers[3 * i + k]);
            for (std::size_t f = 0; f < 3; ++f) {
                const double slope = a.slopes[(3 * i + k) * 3 + f], other = b.slopes[(3 * i + k) * 3 + f];
                CHECK((k == 2 ? std::isnan(slope) : slope == g.by[f].*kOutputs[k] && slope == other));
            }
        }
    }
}

TEST_CASE("a row that cannot be or does not solve is marked, the others are not touched", "[evaluate]") {
    auto rows = random_rows(4);
    rows[3] = -1.0;    // angle outside the hard range
    rows[7] = 3000.0;  // lies flat
    const Table t = evaluated(rows, false);
    CHECK((t.status[0] == Status::converged && t.status[3] == Status::converged));
    CHECK(t.status[1] == Status::out_of_range);
    CHECK((t.status[2] != Status::converged && t.status[2] != Status::not_run));
    for (std::size_t k = 0; k < 3; ++k) CHECK((std::isnan(t.numbers[3 + k]) && std::isnan(t.numbers[6 + k])));
    CHECK(std::isfinite(t.numbers[9]));
    EvaluateOptions stopped;
    stopped.progress = [](std::size_t, std::size_t) { return false; };
    const Table part = evaluated(random_rows(2000), false, stopped);
    CHECK(part.done < 2000);
    CHECK((part.status.back() == Status::not_run && std::isnan(part.numbers.back())));
}

TEST_CASE("fields that are unknown, choices, twice or against each other are refused", "[evaluate]") {
    const auto told = [](const std::vector<std::string>& fields) {
        try {
            (void)evaluated(std::vector<double>(fields.size(), 1.0), false, {}, fields);
        } catch (const InvalidInput& e) {
            return e.problems().at(0).path + ": " + e.problems().at(0).message;
        }
        return std::string("not refused");
    };
    CHECK(told({"setting.angle"}) == "setting.angle: is not a known field");
    CHECK(told({"setting.holding"}) == "setting.holding: is a choice, not a number");
    CHECK(told({"setting.set_angle", "setting.set_angle"}) == "setting.set_angle: can be given once");
    CHECK(told({"setting.line_load", "setting.interference"}) ==
          "setting.line_load: is taken away by another field that is given");
    std::vector<double> numbers(3);
    std::vector<Status> status(1);
    CHECK_THROWS_AS(evaluate(press_case(), {kFields, kOutputs}, std::vector<double>(4), {numbers, status, {}, {}}),
                    InvalidInput);
    CHECK_THROWS_AS(evaluate(press_case(), {{}, kOutputs}, {}, {numbers, status, {}, {}}), InvalidInput);
}

TEST_CASE("a corner of an output is found, with its slope towards larger values", "[evaluate]") {
    // excess_ink = max(0, film - clean wipe): a corner where a blade just begins to pass more than its asperities leave.
    // Run in at 100 N/m: less load turns the facet the closing way and it passes less than one that lies parallel.
    Case moved = press_case();
    moved.tip = Facet{200e-6, BeddedElsewhere{moved.setting.set_angle, 100.0}, 1e-6};
    const std::vector<std::string> load{"setting.line_load"};
    const std::vector<double P::*> outputs{&P::film_on_lands, &P::clean_wipe_film, &P::excess_ink};
    std::vector<double> numbers(3), slopes(3);
    std::vector<Status> status(1);
    std::vector<std::uint8_t> kinked(1);
    const auto beyond = [&](double at, bool with_slopes = false) {
        const EvaluateResult out =
            with_slopes ? EvaluateResult{numbers, status, slopes, kinked} : EvaluateResult{numbers, status, {}, {}};
        (void)evaluate(moved, {load, outputs}, std::vector{at}, out);
        return numbers[0] - numbers[1];
    };
    double low = 95.0, high = 99.9;
    REQUIRE((beyond(low) < 0.0 && beyond(high) > 0.0));
    for (int k = 0; k < 50; ++k) (beyond(0.5 * (low + high)) < 0.0 ? low : high) = 0.5 * (low + high);
    (void)beyond(low, true);
    CHECK(kinked[0] == 1);
    expect_close(slopes[2], slopes[0] - slopes[1], 1e-3, "beyond the corner it grows as their difference");
    (void)beyond(1.001 * low, true);
    CHECK(kinked[0] == 0);
    expect_close(slopes[2], slopes[0] - slopes[1], 1e-9, "beyond it");
    (void)beyond(0.999 * low, true);
    CHECK((kinked[0] == 0 && slopes[2] == 0.0));
    // Away from corners none is seen.
    const Table smooth = evaluated(random_rows(15), true);
    for (const std::uint8_t kink : smooth.kinked) CHECK(kink == 0);
}
