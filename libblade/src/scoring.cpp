#include "libblade/scoring.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <string>

#include "libblade/error.hpp"
#include "libblade/feather.hpp"
#include "libblade/root.hpp"
#include "libblade/width.hpp"

namespace libblade {

namespace {

constexpr double pi = std::numbers::pi;
constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kInfinite = std::numeric_limits<double>::infinity();
constexpr double kFeatherAngle = pi / 6.0, kFeatherPressure = 0.5e6;

void check_options(const ScoringOptions& o) {
    std::vector<Problem> problems;
    const auto require = [&](bool good, const char* name, double value, const char* words) {
        if (!good) problems.push_back({name, std::to_string(value), std::string("must be ") + words});
    };
    require(o.face_width > 0.0 && o.face_width <= 100.0, "face_width", o.face_width, "above 0, at most 100 m");
    require(o.run_time > 0.0 && o.run_time <= 1e10, "run_time", o.run_time, "above 0, at most 1e10 s");
    require(o.hardness_ratio >= 0.5 && o.hardness_ratio <= 3.0, "hardness_ratio", o.hardness_ratio, "from 0.5 to 3");
    require(o.edge_toughness > 0.0 && std::isfinite(o.edge_toughness), "edge_toughness", o.edge_toughness,
            "above 0 N/m");
    require(o.scratch_friction > 0.0 && o.scratch_friction <= 2.0, "scratch_friction", o.scratch_friction,
            "above 0, at most 2");
    require(o.narrowness > 0.0 && o.narrowness <= 100.0, "narrowness", o.narrowness, "above 0, at most 100");
    require(o.sizes >= 16 && o.sizes <= 100000, "sizes", o.sizes, "from 16 to 100000");
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

/// Depth of a sphere under a force, fully plastic; its radius at the most.
double plastic_depth(double radius, double force, double hardness) noexcept {
    return radius - std::sqrt(std::max(0.0, radius * radius - force / (pi * hardness)));
}
double chord(double radius, double depth) noexcept {
    const double y = std::min(depth, radius);
    return 2.0 * std::sqrt(y * (2.0 * radius - y));
}

/// Share of a size over an opening with room for it.
double share_in_cells(const Mouth& m, const ParticleClass& p, double size) noexcept {
    const bool flake = p.shape == ParticleShape::flake;
    const double high = flake ? p.thickness : size, room = 1.0 - size / m.opening;
    if (!(m.opening > 0.0) || room <= 0.0 || high > m.cell_depth + m.gap) return 0.0;
    return m.open_fraction * (m.channels ? room : room * room);
}

/// What the blade itself sheds as particles of this class [1/s].
double shed_by_blade(const Case& c, const OperatingPoint& point, const ParticleClass& p, double face_width) {
    const double length = point.facet_length, angle = point.bedded_angle;
    if (!(p.worn_blade_share > 0.0) || !eats_whole_end(length, angle, tip_thickness(c.blade))) return 0.0;
    const double side = c.setting.orientation == Orientation::trailing ? 1.0 : -1.0;
    const double peak = feather_stress(angle, point.mean_pressure, side * point.tangential_load / length).peak;
    const double reference = feather_stress(kFeatherAngle, kFeatherPressure).peak;
    const SliverSource shed =
        sliver_source(c.blade.specific_wear, point.asperity_load, peak, reference, p.worn_blade_share);
    return shed.volume * c.setting.surface_speed * face_width / mean_volume(p);
}

FirstScore first_score(std::span<const ScoreSource> sources) {
    const auto when = [&](double probability) { return time_of_first_score(sources, probability); };
    FirstScore out{kInfinite, when(0.1), when(0.5), when(0.9)};
    const double last = when(1.0 - 1e-15);
    if (!std::isfinite(last)) return out;
    constexpr int n = 2000;  // Simpson's rule in the root of time, which suits both a steady and a growing rate
    double sum = 0.0;
    for (int k = 0; k <= n; ++k) {
        const double u = static_cast<double>(k) / n, weight = k == 0 || k == n ? 1.0 : k % 2 == 1 ? 4.0 : 2.0;
        sum += weight * 2.0 * u * std::exp(-expected_scores(sources, last * u * u));
    }
    out.mean = last * sum / (3.0 * n);
    return out;
}

constexpr std::size_t at(Outcome outcome) { return static_cast<std::size_t>(outcome); }

/// Per number that is offered at one size, averaged over what may happen to it.
std::array<double, kOutcomes> shares(const Mouth& m, const ParticleClass& p, double size, const ParticleFate& fate,
                                     double narrowness) {
    std::array<double, kOutcomes> out{};
    out[at(Outcome::offered)] = 1.0;
    if (fate.passes) {
        out[at(Outcome::passed)] = 1.0;
        return out;
    }
    const double cell = share_in_cells(m, p, size);
    const double in = (1.0 - cell) * entry_share(m, p, size, fate.force, narrowness);
    out[at(Outcome::in_cell)] = cell;
    out[at(fluid_drag(m, size, narrowness) > 0.0 ? Outcome::held : Outcome::rejected)] = 1.0 - cell - in;
    if (fate.crushed) out[at(p.ductile ? Outcome::smeared : Outcome::crumbled)] = in;
    const std::pair<bool, Outcome> damage[] = {{fate.props, Outcome::props},   {fate.nicks, Outcome::nicks},
                                               {fate.stays, Outcome::stays},   {fate.dents_roll, Outcome::dents},
                                               {fate.scores, Outcome::scores}, {fate.chips, Outcome::chips}};
    for (const auto& [happens, outcome] : damage)
        if (happens) out[at(outcome)] = in;
    return out;
}

/// Means over the particles of one outcome.
struct Mean {
    double sum = 0.0, weight = 0.0;
    void add(double value, double w) { sum += value * w, weight += w; }
    [[nodiscard]] double get() const { return weight > 0.0 ? sum / weight : kNan; }
};

class Tally {
  public:
    Tally(const Case& c, const Mouth& m, const InkLoop& loop, const ScoringOptions& o)
        : case_(c),
          mouth_(m),
          loop_(loop),
          options_(o),
          supply_viscosity_(shear_viscosity(c.ink, kTankRate, c.ink.temperature)) {}

    ClassRisk add(const ParticleClass& p, double shed) {
        ClassRisk out;
        out.name = p.name;
        out.entry_size = entry_size(mouth_, p.friction);
        Mean depth, width, nick, streak;
        std::vector<std::pair<double, double>> scored;  // size, rate
        const int n = p.size_spread > 1.0 ? options_.sizes : 1;
        double total = 0.0;
        const auto z_of = [&](int k) { return n == 1 ? 0.0 : -4.0 + 8.0 * (k + 0.5) / n; };
        for (int k = 0; k < n; ++k) total += std::exp(-0.5 * z_of(k) * z_of(k));
        for (int k = 0; k < n; ++k) {
            const double z = z_of(k), share = std::exp(-0.5 * z * z) / total;
            const double size = p.median_size * std::exp(z * std::log(p.size_spread));
            const ParticleFate fate = particle_fate(mouth_, p, size, options_);
            const auto part = shares(mouth_, p, size, fate, options_.narrowness);
            const double flow = offered_flow(mouth_, size) * options_.face_width;
            double mean = 0.0, last = 0.0;
            for (const bool ferrous : {false, true}) {
                const double kind = share * (ferrous ? p.ferrous_share : 1.0 - p.ferrous_share);
                if (kind <= 0.0) continue;
                const ChamberNumber number =
                    chamber_number(loop_, loop_efficiency(loop_, p, size, ferrous, supply_viscosity_),
                                   settling_flow(loop_, p, size, case_.ink.density, supply_viscosity_),
                                   kind * p.fresh_number, kind * p.tank_rate, kind * (p.chamber_rate + shed));
                mean += number.integral(options_.run_time) / options_.run_time;
                last += number.at(options_.run_time);
                if (part[at(Outcome::scores)] > 0.0) sources.push_back({flow * part[at(Outcome::scores)], number});
            }
            out.chamber_number += mean;
            for (std::size_t i = 0; i < kOutcomes; ++i) {
                out.rate[i] += flow * part[i] * mean;
                out.last[i] += flow * part[i] * last;
            }
            const auto rate = [&](Outcome outcome) { return flow * part[at(outcome)] * mean; };
            if (rate(Outcome::scores) > 0.0) scored.emplace_back(size, rate(Outcome::scores));
            depth.add(fate.groove_depth, rate(Outcome::scores));
            width.add(fate.groove_width, rate(Outcome::scores));
            nick.add(fate.nick_width, rate(Outcome::nicks));
            streak.add(fate.streak_width, rate(Outcome::props));
            out.smeared_volume += rate(Outcome::smeared) * volume_of(p, size);
        }
        out.scoring_size = median(scored);
        out.groove_depth = depth.get(), out.groove_width = width.get();
        out.nick_width = nick.get(), out.streak_width = streak.get();
        return out;
    }

    std::vector<ScoreSource> sources;

  private:
    static constexpr double kTankRate = 10.0;  // shear rate of ink that settles or passes a magnet, about [1/s]

    static double volume_of(const ParticleClass& p, double size) {
        return p.shape == ParticleShape::flake ? p.breadth * p.thickness * size * size : pi / 6.0 * size * size * size;
    }
    static double median(const std::vector<std::pair<double, double>>& scored) {  // sizes rise
        double all = 0.0, sum = 0.0;
        for (const auto& [size, rate] : scored) all += rate;
        for (const auto& [size, rate] : scored)
            if ((sum += rate) >= 0.5 * all) return size;
        return kNan;
    }

    const Case& case_;
    const Mouth& mouth_;
    const InkLoop& loop_;
    const ScoringOptions& options_;
    double supply_viscosity_;
};

}  // namespace

std::string_view to_string(Outcome outcome) noexcept {
    static constexpr std::string_view words[] = {"offered",  "passed",  "in_cell", "rejected", "held",
                                                 "crumbled", "smeared", "props",   "nicks",    "stays",
                                                 "dents",    "scores",  "chips"};
    return words[at(outcome)];
}

Mouth mouth_of(const Case& c, const OperatingPoint& point) noexcept {
    const double film = 2.0 * point.film_on_lands, U = c.setting.surface_speed;
    const Engraving& e = c.roll.engraving;
    const bool smooth = e.pattern == Pattern::smooth, channels = e.pattern == Pattern::channel;
    const double open = smooth ? 0.0 : open_fraction(e),
                 edge = std::visit([](const auto&tip) { return tip.edge_radius; }, c.tip);
    Mouth m{};
    m.gap = point.min_film, m.leading_gap = std::max(point.leading_gap, point.min_film);
    m.edge_radius = edge, m.facet_tilt = point.facet_tilt, m.wedge_angle = point.ink_wedge_angle;
    m.film = film, m.speed = U;
    m.viscosity = shear_viscosity(c.ink, U / film, point.film_temperature);
    m.line_load = point.line_load, m.stiffness = bending_stiffness(c.blade);
    m.blade_hardness = c.blade.material.hardness, m.roll_hardness = c.roll.material.hardness;
    m.wall_width = smooth ? kInfinite : e.wall_width;
    m.opening = smooth ? 0.0 : pitch(e) * (channels ? open : std::sqrt(open));
    m.cell_depth = smooth ? 0.0 : cell_depth(e), m.open_fraction = open, m.channels = channels;
    return m;
}

ParticleFate particle_fate(const Mouth& m, const ParticleClass& p, double size, const ScoringOptions& o) {
    ParticleFate out;
    const bool flake = p.shape == ParticleShape::flake;
    const double R = 0.5 * size, high = flake ? std::min(p.thickness, size) : size, rest = high - m.gap;
    if (!(rest > 0.0)) {
        out.passes = true;
        return out;
    }
    const bool dents_blade = p.hardness >= o.hardness_ratio * m.blade_hardness;
    const bool dents_roll = p.hardness >= o.hardness_ratio * m.roll_hardness;
    const double blade = dents_blade ? m.blade_hardness : std::min(p.hardness, m.blade_hardness);
    const double roll = dents_roll ? m.roll_hardness : std::min(p.hardness, m.roll_hardness);
    const double area = flake ? p.breadth * size * size : pi * R * R, full = area * std::min(blade, roll);
    const double per_lift = 72.0 * m.stiffness * m.line_load * m.line_load;  // u = F^3 / per_lift
    // A flake lies on its face and leaves no depth before it sinks.
    const auto depth = [&](double force, double hardness) {
        return flake ? 0.0 : plastic_depth(R, std::min(force, pi * R * R * hardness), hardness);
    };
    const auto taken = [&](double force) {
        return depth(force, blade) + depth(force, roll) + force * force * force / per_lift;
    };
    double at_blade = 0.0, at_roll = 0.0;
    const double most = taken(full);
    out.props = m.line_load * std::cbrt(72.0 * m.stiffness * rest / m.line_load) < full;
    if (most > rest) {
        const auto excess = [&](double share) { return taken(share * full) / rest - 1.0; };
        out.force = full * bracketed_root(excess, {0.0, -1.0, 1.0, excess(1.0)}, 1e-15, 1e-13, 200).x;
    } else {
        out.force = full;
    }
    out.lift = out.force * out.force * out.force / per_lift;
    at_blade = depth(out.force, blade), at_roll = depth(out.force, roll);
    if (most <= rest) (blade <= roll ? at_blade : at_roll) += rest - most;  // swallowed by the softer side
    (dents_blade ? out.blade_depth : out.flattening) += at_blade;
    (dents_roll ? out.roll_depth : out.flattening) += at_roll;

    out.crushed = !out.props && !(blade <= roll ? dents_blade : dents_roll);
    const double hold = 2.0 * o.scratch_friction * o.scratch_friction / (1.0 + o.scratch_friction * o.scratch_friction);
    out.stays = dents_blade && !out.crushed && out.blade_depth >= hold * R;
    out.nicks = dents_blade && !out.stays && out.blade_depth > m.gap;
    if (out.nicks || out.stays) out.nick_width = flake ? p.breadth * size : chord(R, out.blade_depth);
    if (out.props) out.streak_width = 2.0 * stand_off(m.stiffness, m.line_load, out.lift);
    out.scores = out.stays && dents_roll;
    out.dents_roll = dents_roll && !out.stays;
    if (out.scores) {
        out.groove_depth = plastic_depth(R, 2.0 * out.force, m.roll_hardness);
        out.groove_width = chord(R, out.groove_depth);
    }
    if (p.hardness >= m.roll_hardness && std::isfinite(m.wall_width) && !out.crushed) {
        const double contact = 2.0 * std::sqrt(out.force / (pi * m.roll_hardness));
        out.chips = out.force > o.edge_toughness * m.wall_width * std::max(1.0, contact / (m.opening + m.wall_width));
    }
    return out;
}

ScoringRisk scoring(const Case& c, const OperatingPoint& point, std::span<const ParticleClass> particles,
                    const InkLoop& loop, const ScoringOptions& options) {
    check_particles(particles, loop);
    check_options(options);
    ScoringRisk out;
    out.convergence = point.convergence;
    if (!point.convergence.ok()) {
        out.rate.fill(kNan);
        out.first_score = {kNan, kNan, kNan, kNan};
        out.film_on_lands = out.excess_ink = out.wear_rate = kNan;
        return out;
    }
    out.film_on_lands = point.film_on_lands, out.excess_ink = point.excess_ink;
    out.wear_rate = point.wear_rate, out.regime = point.regime;
    out.mouth = mouth_of(c, point);
    Tally tally(c, out.mouth, loop, options);
    for (const ParticleClass& p : particles) {
        out.classes.push_back(tally.add(p, shed_by_blade(c, point, p, options.face_width)));
        for (std::size_t i = 0; i < kOutcomes; ++i) out.rate[i] += out.classes.back().rate[i];
    }
    out.first_score = first_score(tally.sources);
    out.sources = std::move(tally.sources);
    return out;
}

double expected_scores(std::span<const ScoreSource> sources, double time) noexcept {
    double sum = 0.0;
    for (const ScoreSource& source : sources) sum += source.flow * source.number.integral(time);
    return sum;
}

double time_of_first_score(std::span<const ScoreSource> sources, double probability) {
    constexpr double longest = 1e13;  // [s]
    const double count = -std::log1p(-probability);
    if (!(expected_scores(sources, longest) > count)) return kInfinite;
    if (count <= 0.0) return 0.0;
    const auto excess = [&](double log_time) { return std::log(expected_scores(sources, std::exp(log_time)) / count); };
    const double high = std::log(longest);
    double low = 0.0;
    while (excess(low) > 0.0 && low > -200.0) low -= 10.0;
    return std::exp(bracketed_root(excess, {low, excess(low), high, excess(high)}, 1e-13, 1e-12, 200).x);
}

}  // namespace libblade
