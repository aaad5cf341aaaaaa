#include <array>
#include <limits>
#include <type_traits>

#include "bind.hpp"
#include "libblade/error.hpp"
#include "libblade/risk.hpp"

using namespace libblade;

namespace {

// A plain struct in Python: a dictionary of SI numbers by these names.
template <class T>
struct Number {
    const char* name;
    double T::*member;
};
template <class T>
constexpr std::nullptr_t numbers_of = nullptr;
template <>
constexpr auto numbers_of<ParticleClass> = std::to_array<Number<ParticleClass>>({
    {"median_size", &ParticleClass::median_size},
    {"size_spread", &ParticleClass::size_spread},
    {"thickness", &ParticleClass::thickness},
    {"breadth", &ParticleClass::breadth},
    {"hardness", &ParticleClass::hardness},
    {"density", &ParticleClass::density},
    {"ferrous_share", &ParticleClass::ferrous_share},
    {"friction", &ParticleClass::friction},
    {"friction_spread", &ParticleClass::friction_spread},
    {"angularity", &ParticleClass::angularity},
    {"fresh_number", &ParticleClass::fresh_number},
    {"tank_rate", &ParticleClass::tank_rate},
    {"chamber_rate", &ParticleClass::chamber_rate},
    {"worn_blade_share", &ParticleClass::worn_blade_share},
});
template <>
constexpr auto numbers_of<Filter> = std::to_array<Number<Filter>>({
    {"size", &Filter::size},
    {"beta", &Filter::beta},
    {"sharpness", &Filter::sharpness},
    {"bypass", &Filter::bypass},
});
template <>
constexpr auto numbers_of<Magnet> = std::to_array<Number<Magnet>>({
    {"area", &Magnet::area},
    {"field_gradient", &Magnet::field_gradient},
    {"susceptibility", &Magnet::susceptibility},
});
template <>
constexpr auto numbers_of<InkLoop> = std::to_array<Number<InkLoop>>({
    {"flow", &InkLoop::flow},
    {"tank_volume", &InkLoop::tank_volume},
    {"consumption", &InkLoop::consumption},
    {"settling_area", &InkLoop::settling_area},
});
template <>
constexpr auto numbers_of<ScoringOptions> = std::to_array<Number<ScoringOptions>>({
    {"face_width", &ScoringOptions::face_width},
    {"run_time", &ScoringOptions::run_time},
    {"hardness_ratio", &ScoringOptions::hardness_ratio},
    {"edge_toughness", &ScoringOptions::edge_toughness},
    {"scratch_friction", &ScoringOptions::scratch_friction},
    {"narrowness", &ScoringOptions::narrowness},
});
template <>
constexpr auto numbers_of<RiskSpread> = std::to_array<Number<RiskSpread>>({
    {"line_load", &RiskSpread::line_load},
    {"set_angle", &RiskSpread::set_angle},
    {"viscosity", &RiskSpread::viscosity},
    {"number", &RiskSpread::number},
    {"friction", &RiskSpread::friction},
    {"hardness", &RiskSpread::hardness},
    {"edge_toughness", &RiskSpread::edge_toughness},
    {"hardness_ratio", &RiskSpread::hardness_ratio},
});
// What comes back of a class and of the mouth of the nip.
template <>
constexpr auto numbers_of<ClassRisk> = std::to_array<Number<ClassRisk>>({
    {"chamber_number", &ClassRisk::chamber_number},
    {"entry_size", &ClassRisk::entry_size},
    {"scoring_size", &ClassRisk::scoring_size},
    {"groove_depth", &ClassRisk::groove_depth},
    {"groove_width", &ClassRisk::groove_width},
    {"nick_width", &ClassRisk::nick_width},
    {"streak_width", &ClassRisk::streak_width},
    {"smeared_volume", &ClassRisk::smeared_volume},
});
template <>
constexpr auto numbers_of<Mouth> = std::to_array<Number<Mouth>>({
    {"gap", &Mouth::gap},
    {"leading_gap", &Mouth::leading_gap},
    {"edge_radius", &Mouth::edge_radius},
    {"facet_tilt", &Mouth::facet_tilt},
    {"wedge_angle", &Mouth::wedge_angle},
    {"film", &Mouth::film},
    {"viscosity", &Mouth::viscosity},
    {"speed", &Mouth::speed},
    {"line_load", &Mouth::line_load},
    {"stiffness", &Mouth::stiffness},
    {"blade_hardness", &Mouth::blade_hardness},
    {"roll_hardness", &Mouth::roll_hardness},
    {"wall_width", &Mouth::wall_width},
    {"opening", &Mouth::opening},
    {"cell_depth", &Mouth::cell_depth},
    {"open_fraction", &Mouth::open_fraction},
});
template <>
constexpr auto numbers_of<ScoringRisk> = std::to_array<Number<ScoringRisk>>({
    {"film_on_lands", &ScoringRisk::film_on_lands},
    {"excess_ink", &ScoringRisk::excess_ink},
    {"wear_rate", &ScoringRisk::wear_rate},
});
template <>
constexpr auto numbers_of<FirstScore> = std::to_array<Number<FirstScore>>({
    {"mean", &FirstScore::mean},
    {"p10", &FirstScore::p10},
    {"p50", &FirstScore::p50},
    {"p90", &FirstScore::p90},
});

template <class T>
T read(const py::dict& given) {
    T out;
    for (const auto& [name, member] : numbers_of<T>) out.*member = given[name].template cast<double>();
    return out;
}
template <class T>
py::dict written(const T& value) {
    py::dict out;
    for (const auto& [name, member] : numbers_of<T>) out[name] = value.*member;
    return out;
}

ParticleClass particle_of(const py::dict& given) {
    auto out = read<ParticleClass>(given);
    out.name = given["name"].cast<std::string>();
    out.shape = given["shape"].cast<std::string>() == "flake" ? ParticleShape::flake : ParticleShape::grain;
    out.ductile = given["ductile"].cast<bool>();
    return out;
}
std::vector<ParticleClass> particles_of(const py::list& given) {
    std::vector<ParticleClass> out;
    for (const auto& item : given) out.push_back(particle_of(item.cast<py::dict>()));
    return out;
}
InkLoop loop_of(const py::dict& given) {
    auto out = read<InkLoop>(given);
    if (!given["filter"].is_none()) out.filter = read<Filter>(given["filter"]);
    if (!given["magnet"].is_none()) out.magnet = read<Magnet>(given["magnet"]);
    return out;
}
ScoringOptions options_of(const py::dict& given) {
    auto out = read<ScoringOptions>(given);
    out.sizes = given["sizes"].cast<int>();
    return out;
}
ScoringJob job_of(const py::tuple& given) {
    return {given[0].cast<const Case&>(), particles_of(given[1]), loop_of(given[2]), options_of(given[3])};
}

/// Values of every job, or of every class of every job, in a row each; NaN where a job has none.
class Rows {
  public:
    Rows(std::vector<py::ssize_t> shape) : array_(std::move(shape)), to_(array_.mutable_data()) {
        std::fill_n(to_, array_.size(), std::numeric_limits<double>::quiet_NaN());
    }
    void put(double value) { *to_++ = value; }
    void skip(std::size_t count) { to_ += count; }
    template <class T>
    void put_numbers(const T& value) {
        for (const auto& number : numbers_of<T>) put(value.*number.member);
    }
    [[nodiscard]] py::array_t<double> array() const { return array_; }

  private:
    py::array_t<double> array_;
    double* to_;
};

template <class T>
constexpr std::size_t width = numbers_of<T>.size();

template <class T>
Rows table(std::size_t rows) {
    return Rows({static_cast<py::ssize_t>(rows), static_cast<py::ssize_t>(width<T>)});
}

py::dict columns(const std::vector<ScoringRisk>& risks, std::size_t classes) {
    const auto n = static_cast<py::ssize_t>(risks.size()), k = static_cast<py::ssize_t>(classes);
    constexpr auto outcomes = static_cast<py::ssize_t>(kOutcomes);
    Rows rate({n, outcomes}), class_rate({n, k, outcomes}), class_last({n, k, outcomes}),
        class_numbers({n, k, static_cast<py::ssize_t>(width<ClassRisk>)});
    Rows first = table<FirstScore>(risks.size()), mouth = table<Mouth>(risks.size()),
         nip = table<ScoringRisk>(risks.size());
    py::array_t<std::int8_t> status(n), regime(n);
    py::list convergence;
    for (py::ssize_t i = 0; i < n; ++i) {
        const ScoringRisk& risk = risks[static_cast<std::size_t>(i)];
        const bool ok = risk.convergence.ok();
        status.mutable_at(i) = static_cast<std::int8_t>(risk.convergence.status);
        regime.mutable_at(i) = static_cast<std::int8_t>(risk.regime);
        convergence.append(convergence_tuple(risk.convergence));
        if (!ok) {
            for (Rows* rows : {&rate, &class_rate, &class_last}) rows->skip(kOutcomes * (rows == &rate ? 1 : classes));
            class_numbers.skip(classes * width<ClassRisk>), first.skip(width<FirstScore>);
            mouth.skip(width<Mouth>), nip.skip(width<ScoringRisk>);
            continue;
        }
        for (const double value : risk.rate) rate.put(value);
        for (const ClassRisk& c : risk.classes) {
            for (const double value : c.rate) class_rate.put(value);
            for (const double value : c.last) class_last.put(value);
            class_numbers.put_numbers(c);
        }
        first.put_numbers(risk.first_score), mouth.put_numbers(risk.mouth), nip.put_numbers(risk);
    }
    py::dict out;
    out["rate"] = rate.array(), out["class_rate"] = class_rate.array(), out["class_last"] = class_last.array();
    out["class_numbers"] = class_numbers.array(), out["first_score"] = first.array();
    out["mouth"] = mouth.array(), out["nip"] = nip.array();
    out["status"] = status, out["regime"] = regime, out["convergence"] = convergence;
    return out;
}

template <class T>
std::vector<const char*> names() {
    std::vector<const char*> out;
    for (const auto& number : numbers_of<T>) out.push_back(number.name);
    return out;
}

py::dict defaults() {
    py::dict out, particle = written(ParticleClass{}), loop = written(InkLoop{}), options = written(ScoringOptions{});
    particle["shape"] = "grain", particle["ductile"] = ParticleClass{}.ductile;
    loop["filter"] = py::none(), loop["magnet"] = py::none();
    options["sizes"] = ScoringOptions{}.sizes;
    out["particle"] = particle, out["filter"] = written(Filter{}), out["magnet"] = written(Magnet{});
    out["loop"] = loop, out["options"] = options, out["spread"] = written(RiskSpread{});
    return out;
}

}  // namespace

void bind_scoring(py::module_& module) {
    module.def("scoring_defaults", &defaults, "Values of what scoring takes, where nobody states them.");
    module.def(
        "scoring_names",
        [] {
            std::vector<std::string_view> outcomes;
            for (std::size_t k = 0; k < kOutcomes; ++k) outcomes.push_back(to_string(static_cast<Outcome>(k)));
            py::dict out;
            out["outcomes"] = outcomes, out["class_numbers"] = names<ClassRisk>();
            out["first_score"] = names<FirstScore>(), out["mouth"] = names<Mouth>(), out["nip"] = names<ScoringRisk>();
            return out;
        },
        "Names of the columns of `scoring`.");
    module.def(
        "check_particles",
        [](const py::list& particles, const py::dict& loop) {
            check_particles(particles_of(particles), loop_of(loop));
        },
        py::arg("particles"), py::arg("loop"));
    module.def(
        "particle_volume", [](const py::dict& particle) { return mean_volume(particle_of(particle)); },
        py::arg("particle"));
    module.def(
        "loop_efficiency",
        [](const py::dict& loop, const py::dict& particle, const Doubles& sizes, bool ferrous, double viscosity) {
            const InkLoop l = loop_of(loop);
            const ParticleClass p = particle_of(particle);
            std::vector<double> out;
            for (const double size : view(sizes)) out.push_back(loop_efficiency(l, p, size, ferrous, viscosity));
            return to_array(out);
        },
        py::arg("loop"), py::arg("particle"), py::arg("sizes"), py::arg("ferrous"), py::arg("viscosity"));
    module.def(
        "scoring",
        [](const py::list& given, const NipOptions& nip, int threads, py::object progress) {
            std::vector<ScoringJob> jobs;
            for (const auto& item : given) jobs.push_back(job_of(item.cast<py::tuple>()));
            const std::size_t classes = jobs.empty() ? 0 : jobs.front().particles.size();
            for (const ScoringJob& job : jobs)
                if (job.particles.size() != classes)
                    throw InvalidInput(
                        {{"particles", std::to_string(job.particles.size()), "must be as many in every job"}});
            Watcher watcher(std::move(progress));
            const RiskOptions options{nip, threads,
                                      [&](std::size_t done, std::size_t total) { return watcher(done, total); }};
            const std::vector<ScoringRisk> risks = [&] {
                const py::gil_scoped_release release;
                return scoring_of(jobs, options);
            }();
            return py::make_tuple(columns(risks, classes), watcher.error());
        },
        py::arg("jobs"), py::arg("options"), py::arg("threads"), py::arg("progress"),
        "Columns over jobs of case, particles, loop and options, and the error that stopped them or None.");
    module.def(
        "sample_risk",
        [](const py::tuple& given, const py::dict& spread, std::size_t count, std::uint64_t seed, const NipOptions& nip,
           int threads, py::object progress) {
            const ScoringJob job = job_of(given);
            Watcher watcher(std::move(progress));
            const RiskOptions options{nip, threads,
                                      [&](std::size_t done, std::size_t total) { return watcher(done, total); }};
            const std::vector<RiskSample> samples = [&, s = read<RiskSpread>(spread)] {
                const py::gil_scoped_release release;
                return sample_risk(job, s, count, seed, options);
            }();
            const auto n = static_cast<py::ssize_t>(samples.size());
            Rows rate({n, static_cast<py::ssize_t>(kOutcomes)}), first({n}), expected({n});
            py::array_t<std::int8_t> status(n);
            for (py::ssize_t i = 0; i < n; ++i) {
                const RiskSample& sample = samples[static_cast<std::size_t>(i)];
                for (const double value : sample.rate) rate.put(value);
                first.put(sample.first), expected.put(sample.expected_first);
                status.mutable_at(i) = static_cast<std::int8_t>(sample.status);
            }
            return py::make_tuple(rate.array(), first.array(), expected.array(), status, watcher.error());
        },
        py::arg("job"), py::arg("spread"), py::arg("count"), py::arg("seed"), py::arg("options"), py::arg("threads"),
        py::arg("progress"),
        "Draws: rates, first score drawn and its mean at those numbers, status; and the error that stopped them or "
        "None.");
}
