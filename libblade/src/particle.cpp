#include "libblade/particle.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "libblade/error.hpp"

namespace libblade {

namespace {

constexpr double pi = std::numbers::pi;
constexpr double mu0 = 1.25663706212e-6;  // CODATA 2018 [N/A2]

struct Range {
    const char* field;
    double value, low, high;
    const char* words;
};

double across_of(const ParticleClass& p, double size) noexcept {
    return p.shape == ParticleShape::flake ? p.breadth * size : size;
}

std::string shown(double value) {
    std::string text = std::to_string(value);
    if (std::abs(value) < 1e-2 && value != 0.0) text = std::to_string(1e6 * value) + "e-6";
    return text;
}

void require(std::vector<Problem>& problems, const std::string& path, std::initializer_list<Range> ranges) {
    for (const Range& r : ranges)
        if (!(r.value >= r.low && r.value <= r.high))
            problems.push_back({path + r.field, shown(r.value), std::string("must be ") + r.words});
}

}  // namespace

double mean_volume(const ParticleClass& p) noexcept {
    const double s = std::log(p.size_spread), d = p.median_size;
    if (p.shape == ParticleShape::flake) return p.breadth * p.thickness * d * d * std::exp(2.0 * s * s);
    return pi / 6.0 * d * d * d * std::exp(4.5 * s * s);
}

double filter_beta(const Filter& filter, double size) noexcept {
    return 1.0 + (filter.beta - 1.0) * std::pow(size / filter.size, filter.sharpness);
}

double filter_efficiency(const Filter& filter, double size) noexcept {
    return (1.0 - filter.bypass) * (1.0 - 1.0 / filter_beta(filter, size));
}

double magnet_velocity(const Magnet& magnet, double size, double viscosity) noexcept {
    return magnet.susceptibility * size * size * magnet.field_gradient / (36.0 * mu0 * viscosity);
}

double magnet_efficiency(const Magnet& magnet, double size, double viscosity, double flow) noexcept {
    return -std::expm1(-magnet_velocity(magnet, size, viscosity) * magnet.area / flow);
}

double loop_efficiency(const InkLoop& loop, const ParticleClass& particle, double size, bool ferrous,
                       double viscosity) noexcept {
    const double across = across_of(particle, size);
    double passed = 1.0;
    if (loop.filter) passed *= 1.0 - filter_efficiency(*loop.filter, across);
    if (loop.magnet && ferrous) passed *= 1.0 - magnet_efficiency(*loop.magnet, across, viscosity, loop.flow);
    return 1.0 - passed;
}

double ChamberNumber::at(double time) const noexcept { return final + rise * std::exp(-rate * time) + slope * time; }

double ChamberNumber::integral(double time) const noexcept {
    return final * time + (rate > 0.0 ? -rise * std::expm1(-rate * time) / rate : rise * time) +
           0.5 * slope * time * time;
}

double settling_flow(const InkLoop& loop, const ParticleClass& particle, double size, double ink_density,
                     double viscosity) noexcept {
    constexpr double gravity = 9.80665;
    const double across = across_of(particle, size);
    return loop.settling_area *
           std::max(0.0, (particle.density - ink_density) * gravity * across * across / (18.0 * viscosity));
}

ChamberNumber chamber_number(const InkLoop& loop, double caught, double settled, double fresh, double tank,
                             double chamber) noexcept {
    const double Q = loop.flow, C = loop.consumption;
    const double rate = (Q * caught + C * (1.0 - caught) + settled) / loop.tank_volume;
    const double gain = (tank + C * fresh + (Q - C) * chamber / Q) / loop.tank_volume;
    const double through = 1.0 - caught, own = chamber / Q;
    if (!(rate > 0.0)) return {through * fresh + own, 0.0, 0.0, through * gain};
    return {through * gain / rate + own, through * (fresh - gain / rate), rate, 0.0};
}

void check_particles(std::span<const ParticleClass> particles, const InkLoop& loop) {
    std::vector<Problem> problems;
    if (particles.empty()) problems.push_back({"particles", "none", "at least one class is needed"});
    constexpr double most = 1e300;
    for (std::size_t k = 0; k < particles.size(); ++k) {
        const ParticleClass& p = particles[k];
        require(problems, "particles." + std::to_string(k) + ".",
                {{"median_size", p.median_size, 1e-8, 1e-2, "from 0.01 um to 10 mm"},
                 {"size_spread", p.size_spread, 1.0, 10.0, "from 1 to 10"},
                 {"thickness", p.thickness, 1e-8, 1e-2, "from 0.01 um to 10 mm"},
                 {"breadth", p.breadth, 1e-3, 1.0, "from 0.001 to 1"},
                 {"hardness", p.hardness, 1e3, 2e11, "from 1 kPa to 200 GPa"},
                 {"density", p.density, 1.0, 1e5, "from 1 to 100000 kg/m3"},
                 {"ferrous_share", p.ferrous_share, 0.0, 1.0, "from 0 to 1"},
                 {"friction", p.friction, 1e-3, 10.0, "from 0.001 to 10"},
                 {"friction_spread", p.friction_spread, 1.0, 10.0, "from 1 to 10"},
                 {"angularity", p.angularity, 0.0, 1.5, "from 0 to 1.5 rad"},
                 {"fresh_number", p.fresh_number, 0.0, most, "at least 0 1/m3 and finite"},
                 {"tank_rate", p.tank_rate, 0.0, most, "at least 0 1/s and finite"},
                 {"chamber_rate", p.chamber_rate, 0.0, most, "at least 0 1/s and finite"},
                 {"worn_blade_share", p.worn_blade_share, 0.0, 1.0, "from 0 to 1"}});
    }
    require(problems, "loop.",
            {{"flow", loop.flow, 1e-9, 1.0, "from 1e-9 to 1 m3/s"},
             {"tank_volume", loop.tank_volume, 1e-6, 1e3, "from 1e-6 to 1000 m3"},
             {"consumption", loop.consumption, 0.0, loop.flow, "at least 0 m3/s and at most the flow"},
             {"settling_area", loop.settling_area, 0.0, 1e4, "from 0 to 10000 m2"}});
    if (loop.filter)
        require(problems, "loop.filter.",
                {{"size", loop.filter->size, 1e-8, 1e-2, "from 0.01 um to 10 mm"},
                 {"beta", loop.filter->beta, 1.0 + 1e-9, 1e9, "above 1, at most 1e9"},
                 {"sharpness", loop.filter->sharpness, 0.1, 50.0, "from 0.1 to 50"},
                 {"bypass", loop.filter->bypass, 0.0, 1.0, "from 0 to 1"}});
    if (loop.magnet)
        require(problems, "loop.magnet.",
                {{"area", loop.magnet->area, 0.0, 1e3, "from 0 to 1000 m2"},
                 {"field_gradient", loop.magnet->field_gradient, 0.0, 1e6, "from 0 to 1e6 T2/m"},
                 {"susceptibility", loop.magnet->susceptibility, 0.0, 10.0, "from 0 to 10"}});
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

}  // namespace libblade
