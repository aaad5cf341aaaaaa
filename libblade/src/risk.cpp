#include "libblade/risk.hpp"

#include <cmath>
#include <limits>
#include <string>

#include "libblade/error.hpp"
#include "libblade/parameters.hpp"
#include "libblade/random.hpp"
#include "sweep_threads.hpp"

namespace libblade {

namespace {

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();

void refuse_bad_job(const ScoringJob& job) {
    (void)scoring(job.nip_case, OperatingPoint{}, job.particles, job.loop, job.options);
    if (std::vector<Problem> problems = check(job.nip_case); !problems.empty()) throw InvalidInput(std::move(problems));
}

/// As `scoring`; a draw that contradicts itself is a status.
ScoringRisk solved(const ScoringJob& job, const NipOptions& nip) {
    OperatingPoint point;
    try {
        point = solve(job.nip_case, nip);
    } catch (const InvalidInput& bad) {
        point.convergence.status = Status::out_of_range;
        point.convergence.message = bad.what();
    }
    return scoring(job.nip_case, point, job.particles, job.loop, job.options);
}

NipOptions bare(const NipOptions& asked, FlowTables& own) {
    NipOptions nip = asked;
    nip.step_response = nip.other_branch = nip.run_out = nip.section = false;
    if (nip.tables == nullptr) nip.tables = &own;
    return nip;
}

void scale_viscosity(Rheology& law, double factor) {
    std::visit(
        [&](auto& ink) {
            if constexpr (requires { ink.viscosity; }) ink.viscosity *= factor;
            if constexpr (requires { ink.consistency; }) ink.consistency *= factor;
            if constexpr (requires { ink.zero_shear_viscosity; })
                ink.zero_shear_viscosity *= factor, ink.infinite_shear_viscosity *= factor;
        },
        law);
}

void scale_load(Setting& setting, double factor) {
    const auto load = load_of(setting);
    if (const auto* line = std::get_if<LineLoad>(&load))
        setting.load = LineLoad{line->value * factor};
    else
        setting.load = Interference{std::get<Interference>(load).value * factor};
}

BeddedElsewhere* bedded_elsewhere(Tip& tip) {
    auto* facet = std::get_if<Facet>(&tip);
    return facet == nullptr ? nullptr : std::get_if<BeddedElsewhere>(&facet->bedding);
}

ScoringJob drawn(const ScoringJob& job, const RiskSpread& s, Random& random) {
    const auto factor = [&](double spread) { return std::exp(std::log(spread) * random.normal()); };
    for (int tries = 0; tries < 100; ++tries) {
        ScoringJob out = job;
        const double load = std::sqrt(std::log1p(s.line_load * s.line_load));  // of the logarithm
        const double pressed = std::exp(load * random.normal() - 0.5 * load * load);
        const double turned = s.set_angle * random.normal();
        scale_load(out.nip_case.setting, pressed);
        out.nip_case.setting.set_angle += turned;
        if (auto* there = bedded_elsewhere(out.nip_case.tip)) there->line_load *= pressed, there->set_angle += turned;
        scale_viscosity(out.nip_case.ink.rheology, factor(s.viscosity));
        const double friction = factor(s.friction);
        for (ParticleClass& p : out.particles) {
            const double number = factor(s.number);
            p.fresh_number *= number, p.tank_rate *= number, p.chamber_rate *= number;
            p.worn_blade_share = std::min(1.0, p.worn_blade_share * number);
            p.friction *= friction;
            p.hardness *= factor(s.hardness);
        }
        out.options.edge_toughness *= factor(s.edge_toughness);
        out.options.hardness_ratio += s.hardness_ratio * random.normal();
        try {
            refuse_bad_job(out);
            return out;
        } catch (const InvalidInput&) {
            continue;
        }
    }
    return job;
}

void check_spread(const RiskSpread& s, std::size_t count) {
    std::vector<Problem> problems;
    const auto require = [&](const char* name, double value, double low, double high, const char* words) {
        if (!(value >= low && value <= high)) problems.push_back({name, std::to_string(value), words});
    };
    require("line_load", s.line_load, 0.0, 2.0, "must be from 0 to 2");
    require("set_angle", s.set_angle, 0.0, 0.3, "must be from 0 to 0.3 rad");
    require("hardness_ratio", s.hardness_ratio, 0.0, 0.5, "must be from 0 to 0.5");
    for (const auto& [name, value] :
         {std::pair{"viscosity", s.viscosity}, std::pair{"number", s.number}, std::pair{"friction", s.friction},
          std::pair{"hardness", s.hardness}, std::pair{"edge_toughness", s.edge_toughness}})
        require(name, value, 1.0, 100.0, "must be from 1 to 100");
    if (count == 0) problems.push_back({"samples", "0", "must be at least 1"});
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

}  // namespace

std::vector<ScoringRisk> scoring_of(std::span<const ScoringJob> jobs, const RiskOptions& options) {
    for (const ScoringJob& job : jobs) refuse_bad_job(job);
    FlowTables own;
    const NipOptions nip = bare(options.nip, own);
    std::vector<ScoringRisk> out(jobs.size());
    detail::run_in_threads(jobs.size(), options.threads, options.progress, [&](std::size_t i, std::size_t) {
        out[i] = solved(jobs[i], nip);
        out[i].sources = {};  // a hundred kilobytes each
    });
    return out;
}

std::vector<RiskSample> sample_risk(const ScoringJob& job, const RiskSpread& spread, std::size_t count,
                                    std::uint64_t seed, const RiskOptions& options) {
    check_spread(spread, count);
    refuse_bad_job(job);
    FlowTables own;
    const NipOptions nip = bare(options.nip, own);
    std::vector<RiskSample> out(count);
    detail::run_in_threads(count, options.threads, options.progress, [&](std::size_t i, std::size_t) {
        Random random(seed, i);
        const double share = random.uniform();
        const ScoringRisk risk = solved(drawn(job, spread, random), nip);
        RiskSample& sample = out[i];
        sample.rate = risk.rate;
        sample.status = risk.convergence.status;
        sample.expected_first = risk.first_score.mean;
        sample.first = risk.convergence.ok() ? time_of_first_score(risk.sources, share) : kNan;
    });
    return out;
}

}  // namespace libblade
