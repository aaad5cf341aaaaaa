#include "libblade/risk.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "expect.hpp"
#include "libblade/error.hpp"

using namespace libblade;

namespace {

ScoringJob usual_job() {
    ScoringJob job;
    job.nip_case.tip = Facet{200e-6, BeddedHere{}, 1e-6};
    ParticleClass grit;
    grit.name = "grit", grit.median_size = 4e-6, grit.hardness = 20e9, grit.fresh_number = 1e6,
    grit.friction_spread = 1.8;
    job.particles = {grit};
    job.loop.filter = Filter{};
    return job;
}
constexpr RiskSpread kNone{0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.0};
double scores(const std::array<double, kOutcomes>& rate) { return rate[static_cast<std::size_t>(Outcome::scores)]; }

double quantile(std::vector<double> values, double share) {
    std::sort(values.begin(), values.end());
    return values.at(static_cast<std::size_t>(share * static_cast<double>(values.size() - 1)));
}

}  // namespace

TEST_CASE("jobs give what they give alone, in any number of threads", "[risk]") {
    std::vector<ScoringJob> jobs;
    for (const double load : {60.0, 90.0, 130.0, 180.0, 250.0}) {
        jobs.push_back(usual_job());
        jobs.back().nip_case.setting.load = LineLoad{load};
    }
    jobs.push_back(usual_job());
    jobs.back().nip_case.setting.load = LineLoad{3000.0};  // bends flat
    RiskOptions one, two;
    one.threads = 1, two.threads = 2;
    const auto a = scoring_of(jobs, one), b = scoring_of(jobs, two);
    for (std::size_t i = 0; i < 5; ++i) {
        CHECK(a[i].rate == b[i].rate);
        const ScoringRisk alone =
            scoring(jobs[i].nip_case, solve(jobs[i].nip_case), jobs[i].particles, jobs[i].loop, jobs[i].options);
        CHECK(a[i].rate == alone.rate);
    }
    CHECK((!a[5].convergence.ok() && std::isnan(a[5].rate[0])));
    // The callback ends the work: what was not reached says so.
    RiskOptions stopped;
    stopped.progress = [](std::size_t, std::size_t) { return false; };
    std::vector<ScoringJob> many(200, usual_job());
    const auto part = scoring_of(many, stopped);
    CHECK(part.back().convergence.status == Status::not_run);
    jobs[2].particles[0].hardness = -1.0;
    CHECK_THROWS_AS(scoring_of(jobs, one), InvalidInput);
}

TEST_CASE("without spread every draw is the stated setting", "[risk]") {
    const ScoringJob job = usual_job();
    const ScoringRisk plain = scoring(job.nip_case, solve(job.nip_case), job.particles, job.loop, job.options);
    for (const RiskSample& s : sample_risk(job, kNone, 20, 1)) {
        CHECK(s.status == Status::converged);
        expect_close(scores(s.rate), scores(plain.rate), 1e-9, "rate");
        expect_close(s.expected_first, plain.first_score.mean, 1e-9, "mean time");
    }
}

TEST_CASE("the time drawn is that of an exponential law at a steady rate", "[risk]") {
    std::vector<double> times;
    ScoringJob job = usual_job();
    job.loop.filter.reset();
    const auto samples = sample_risk(job, kNone, 400, 9);
    double sum = 0.0;
    for (const RiskSample& s : samples) times.push_back(s.first), sum += s.first;
    const double mean = samples[0].expected_first;
    expect_close(mean * scores(samples[0].rate), 1.0, 1e-6, "steady");
    CHECK(std::abs(sum / 400.0 / mean - 1.0) < 4.0 / std::sqrt(400.0));  // four standard errors
    CHECK(std::abs(quantile(times, 0.5) / mean - std::numbers::ln2) < 0.15);
}

TEST_CASE("draws depend on seed and index alone, and spread as asked", "[risk]") {
    const ScoringJob job = usual_job();
    RiskOptions one, two;
    one.threads = 1, two.threads = 2;
    const auto a = sample_risk(job, {}, 60, 5, one), b = sample_risk(job, {}, 90, 5, two),
               c = sample_risk(job, {}, 60, 6);
    int same = 0;
    for (std::size_t i = 0; i < 60; ++i) {
        CHECK(a[i].status == b[i].status);
        if (a[i].status == Status::converged) CHECK((a[i].rate == b[i].rate && a[i].first == b[i].first));
        same += scores(a[i].rate) == scores(c[i].rate) ? 1 : 0;
    }
    CHECK(same < 3);
    // Number alone: the rate is proportional to it, hence lognormal with the same spread.
    RiskSpread number = kNone;
    number.number = 3.0;
    std::vector<double> logs;
    const double plain = scores(sample_risk(job, kNone, 1, 1)[0].rate);
    for (const RiskSample& s : sample_risk(job, number, 600, 2)) logs.push_back(std::log(scores(s.rate) / plain));
    double mean = 0.0, square = 0.0;
    for (const double x : logs) mean += x / 600.0;
    for (const double x : logs) square += (x - mean) * (x - mean) / 599.0;
    CHECK(std::abs(mean) < 4.0 * std::log(3.0) / std::sqrt(600.0));
    expect_close(std::sqrt(square), std::log(3.0), 0.1, "spread: standard error 3 %");
}

TEST_CASE("the mean of the drawn loads is the stated load", "[risk]") {
    // A lognormal load of mean N has its median at N exp(-sigma^2 / 2), sigma^2 = ln(1 + spread^2); what falls with the load all the
    // way lies above its value there in half of the draws.
    const auto offered = [](const RiskSample& s) { return s.rate[static_cast<std::size_t>(Outcome::offered)]; };
    const auto at = [&](double share) {
        ScoringJob job = usual_job();
        job.nip_case.setting.load = LineLoad{100.0 * share};
        return offered(sample_risk(job, kNone, 1, 1)[0]);
    };
    ScoringJob job = usual_job();
    job.nip_case.setting.load = LineLoad{100.0};
    RiskSpread load = kNone;
    load.line_load = 1.0;
    const double median = at(std::exp(-0.5 * std::log(2.0)));
    REQUIRE((at(0.5) > median && median > at(1.0) && at(1.0) > at(2.0)));
    double above = 0.0, solved = 0.0;
    for (const RiskSample& s : sample_risk(job, load, 400, 3)) {
        if (s.status != Status::converged) continue;
        solved += 1.0, above += offered(s) > median ? 1.0 : 0.0;
    }
    CHECK(solved > 390.0);
    CHECK(std::abs(above / solved - 0.5) < 0.1);  // four standard errors; 0.16 off were the median at N
}

TEST_CASE("a blade bedded elsewhere at its own setting is one bedded here, in every draw", "[risk]") {
    ScoringJob here = usual_job(), there = here;
    const Setting& set = here.nip_case.setting;
    const double load = std::get<LineLoad>(load_of(set)).value;
    std::get<Facet>(there.nip_case.tip).bedding = BeddedElsewhere{set.set_angle, load};
    RiskSpread spread = kNone;
    spread.line_load = 0.35, spread.set_angle = 0.026;
    const auto a = sample_risk(here, spread, 12, 4), b = sample_risk(there, spread, 12, 4);
    for (std::size_t i = 0; i < a.size(); ++i) {
        CHECK(a[i].status == b[i].status);
        expect_close(scores(b[i].rate), scores(a[i].rate), 1e-4, "two solves of the bedded state");
    }
}

TEST_CASE("every spread is felt where it should be", "[risk]") {
    ScoringJob job = usual_job();
    job.particles[0].hardness = 14.4e9;  // at the limit of 1.2 x 12 GPa
    const auto differ = [&](auto member, double value, Outcome outcome) {
        RiskSpread spread = kNone;
        spread.*member = value;
        const auto samples = sample_risk(job, spread, 12, 3);
        const auto first = samples[0].rate[static_cast<std::size_t>(outcome)];
        for (const RiskSample& s : samples)
            if (s.rate[static_cast<std::size_t>(outcome)] != first) return true;
        return false;
    };
    CHECK(!differ(&RiskSpread::line_load, 0.0, Outcome::offered));
    CHECK(differ(&RiskSpread::line_load, 0.3, Outcome::offered));
    CHECK(differ(&RiskSpread::set_angle, 0.03, Outcome::offered));
    CHECK(differ(&RiskSpread::viscosity, 2.0, Outcome::offered));
    CHECK(differ(&RiskSpread::friction, 1.5, Outcome::stays));
    CHECK(differ(&RiskSpread::hardness, 1.2, Outcome::scores));
    CHECK(differ(&RiskSpread::hardness_ratio, 0.1, Outcome::scores));
    CHECK(differ(&RiskSpread::edge_toughness, 3.0, Outcome::chips));
    // An ink of any law, and a load set as interference.
    job.nip_case.ink.rheology = Cross{};
    CHECK(differ(&RiskSpread::viscosity, 2.0, Outcome::offered));
    job.nip_case.ink.rheology = PowerLaw{};
    CHECK(differ(&RiskSpread::viscosity, 2.0, Outcome::offered));
    job.nip_case.ink.rheology = Newtonian{};
    job.nip_case.setting.load = Interference{0.26e-3};
    CHECK(differ(&RiskSpread::line_load, 0.3, Outcome::offered));
}

TEST_CASE("bad spreads and no draws are refused", "[risk]") {
    RiskSpread bad;
    bad.viscosity = 0.5, bad.line_load = -1.0;
    try {
        (void)sample_risk(usual_job(), bad, 0, 1);
        FAIL("not refused");
    } catch (const InvalidInput& e) {
        REQUIRE(e.problems().size() == 3);
        CHECK((e.problems()[0].path == "line_load" && e.problems()[1].path == "viscosity" &&
               e.problems()[2].path == "samples"));
    }
}
