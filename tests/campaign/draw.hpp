// Random cases out of the field table: every field of a case drawn in its hard range or in its usual range, independently of all
// others.
//
// Ranges that span a factor of 20 and more are drawn evenly in the logarithm. Fields whose range begins at zero are zero in one
// draw of four, else evenly in the logarithm over the last three decades. Tables of flow factors and viscosities take far longer
// than a point, so that engravings without a stated flow factor and non-Newtonian laws come from a pool which many cases share.
#pragma once

#include <algorithm>
#include <atomic>
#include <cmath>
#include <string_view>
#include <thread>
#include <vector>

#include "../../libblade/src/parameters_access.hpp"
#include "libblade/blade.hpp"
#include "libblade/nip.hpp"
#include "libblade/parameters.hpp"
#include "libblade/random.hpp"
#include "libblade/solids.hpp"

namespace campaign {

using namespace libblade;

enum class Population { usual, hard };

class Draw {
  public:
    /// `pool`: engravings, and inks, that the cases share.
    Draw(Population population, std::uint64_t seed, std::size_t pool)
        : population_(population), seed_(2 * seed + (population == Population::hard ? 1 : 0)) {
        for (const Field& field : field_table()) {
            const auto* access = detail::find_access(field.path);
            if (field.kind != FieldKind::number || access == nullptr || field.path == "ink.rheology.viscosity")
                continue;
            const auto begins = [&](std::string_view start) { return field.path.substr(0, start.size()) == start; };
            auto& rows = begins("roll.engraving.")                            ? engraving_rows_
                         : begins("ink.rheology.") || begins("ink.viscosity") ? ink_rows_
                         : begins("roll.bearing_curve.")                      ? bearing_rows_
                                                                              : rows_;
            rows.push_back({&field, access});
        }
        for (std::size_t i = 0; i < pool; ++i) {
            Random random(seed_ + 1000003, i);
            engravings_.push_back(engraving(random));
            inks_.push_back(ink(random, 1 + i % 3));
        }
    }

    [[nodiscard]] Case at(std::uint64_t index) const {
        Random random(seed_, index);
        Case c;
        choose(c, random);
        for (const Row& row : rows_) draw(c, row, random);
        back(c, random);
        if (population_ == Population::usual && random.uniform() < 0.5) {
            // A named material within its own range; independent numbers make few materials that exist.
            const NamedSolid& named = solids_table()[random.below(solids_table().size())];
            const auto in = [&](SolidRange r) { return random.uniform(r.low, r.high); };
            c.blade.material = {in(named.youngs_modulus), in(named.poissons_ratio), in(named.hardness),
                                in(named.yield_strength), in(named.density)};
        }
        return c;
    }

    /// Makes the tables of the pool, which the first cases would have to wait for.
    void make_tables(FlowTables& tables, int threads) const {
        std::atomic<std::size_t> next{0};
        std::vector<std::thread> workers;
        for (int t = 0; t < threads; ++t)
            workers.emplace_back([&] {
                for (std::size_t i = next++; i < engravings_.size(); i = next++) {
                    (void)tables.ink(inks_[i]);
                    Case c;
                    c.roll.engraving = engravings_[i];
                    if (check(c).empty()) (void)tables.cells(engravings_[i]);
                }
            });
        for (auto& worker : workers) worker.join();
    }

  private:
    struct Row {
        const Field* field;
        const detail::NumberAccess* access;
    };

    [[nodiscard]] double number(const Field& field, Random& random) const {
        const bool usual = population_ == Population::usual;
        double low = usual ? field.usual_min : field.hard_min, high = usual ? field.usual_max : field.hard_max;
        if (low == 0.0 && field.dimension != Dimension::angle) {
            if (random.uniform() < 0.25) return 0.0;
            return random.log_uniform(1e-3 * high, high);
        }
        if (low > 0.0 && high >= 20.0 * low && field.dimension != Dimension::angle)
            return random.log_uniform(low, high);
        return random.uniform(low, high);
    }
    /// A plate behind the strip in one case of four, shorter than the strip in most.
    void back(Case& c, Random& random) const {
        if (random.uniform() < 0.75) c.blade.backing_length = 0.0;
        if (random.uniform() < 0.9)
            c.blade.backing_length = std::min(c.blade.backing_length, 0.9 * free_length(c.blade));
    }
    void draw(Case& c, const Row& row, Random& random) const {
        // The draw comes first: a field more or less in the case does not shift those after it.
        const double value = number(field_in(c, *row.field), random);
        if (!row.access->get(c)) return;
        if (row.field->path == "tip.facet_length" && std::holds_alternative<WornLength>(std::get<Facet>(c.tip).length))
            return;
        row.access->set(c, value);
    }

    [[nodiscard]] Engraving engraving(Random& random) const {
        Case c;
        static constexpr Pattern patterns[] = {Pattern::hexagon, Pattern::diamond, Pattern::channel,
                                               Pattern::elongated};
        Engraving& e = c.roll.engraving;
        // Walls as wide as the pitch are refused: drawn again until the pool holds cells.
        do {
            e = Engraving{};
            e.pattern = patterns[random.below(4)];
            e.profile = random.uniform() < 0.5 ? CellProfile::flat : CellProfile::parabolic;
            const bool depth = random.uniform() < 0.4;
            for (const Row& row : engraving_rows_) {
                const std::string_view name = row.field->path.substr(15);
                const double value = number(*row.field, random);
                if (name == "pressure_flow_factor" || (name == "aspect" && e.pattern != Pattern::elongated)) continue;
                if (name == (depth ? "cell_volume" : "cell_depth")) continue;
                if (name == "land_fraction" && value < 0.1) continue;
                row.access->set(c, value);
            }
        } while (e.wall_width * e.screen >= 1.0);
        return e;
    }
    [[nodiscard]] Rheology ink(Random& random, std::size_t law) const {
        Case c;
        do {
            if (law == 0) c.ink.rheology = Newtonian{};
            if (law == 1) c.ink.rheology = Cross{};
            if (law == 2) c.ink.rheology = PowerLaw{};
            if (law == 3) c.ink.rheology = CarreauYasuda{};
            for (const Row& row : ink_rows_) {
                const double value = number(field_in(c, *row.field), random);
                if (row.access->get(c) && (law == 0 || row.field->path != "ink.viscosity")) row.access->set(c, value);
            }
        } while (get_number(c, "ink.rheology.infinite_shear_viscosity") >
                 get_number(c, "ink.rheology.zero_shear_viscosity"));
        return c.ink.rheology;
    }

    /// What is no number: kinds, laws, patterns, which of the optional fields there are.
    void choose(Case& c, Random& random) const {
        const auto happens = [&](double chance) { return random.uniform() < chance; };
        if (happens(0.15)) {
            c.tip = SquareEdge{};
        } else {
            Facet facet;
            if (happens(0.6)) facet.length = 1e-4;
            const double bedding = random.uniform();
            if (bedding > 0.6) facet.bedding = BeddedElsewhere{0.5, 100.0};
            if (bedding > 0.8) facet.bedding = BeddedAngle{0.5};
            c.tip = facet;
        }
        if (happens(0.15)) c.blade.sections.resize(1 + random.below(population_ == Population::usual ? 3 : 8));
        for (BladeSection& section : c.blade.sections) {
            if (happens(0.3)) section.end_thickness = section.thickness;
            section.flush = static_cast<Flush>(random.below(3));
        }
        const double kind = random.uniform();
        c.roll.engraving = kind < 0.45 ? engravings_[random.below(engravings_.size())] : engraving(random);
        if (kind >= 0.45 && kind < 0.55) c.roll.engraving.pattern = Pattern::smooth, c.roll.engraving.aspect = 1.0;
        if (kind >= 0.55) {
            const Field& factor = *find_field("roll.engraving.pressure_flow_factor");
            c.roll.engraving.pressure_flow_factor = number(factor, random);
        }
        c.ink.rheology = happens(0.5) ? ink(random, 0) : inks_[random.below(inks_.size())];
        if (happens(0.1)) bear(c, random);
        Setting& set = c.setting;
        set.orientation = happens(0.5) ? Orientation::doctoring : Orientation::trailing;
        set.holding = happens(0.5) ? Holding::fixed : Holding::floating;
        set.pressure_side = static_cast<PressureSide>(random.below(3));
        const double load = random.uniform();
        if (load > 0.6) set.load = Interference{};
        if (load > 0.9) set.load = ByActuator{}, set.actuator = PneumaticActuator{};
        if (load > 0.95) set.actuator = ScrewActuator{};
        if (happens(0.2)) set.holder_stiffness = 1e6;
        if (happens(0.2)) set.holder_rotation_stiffness = 1e3;
        if (happens(0.2)) set.film_supply = 1e-6;
    }
    /// A bearing curve of gaps that rise and pressures that fall.
    void bear(Case& c, Random& random) const {
        std::vector<double> gaps(2 + random.below(kMostBearingPoints - 1)), pressures(gaps.size());
        for (std::size_t i = 0; i < gaps.size(); ++i) {
            gaps[i] = number(*bearing_rows_[0].field, random), pressures[i] = number(*bearing_rows_[1].field, random);
        }
        std::sort(gaps.begin(), gaps.end());
        std::sort(pressures.rbegin(), pressures.rend());
        for (std::size_t i = 0; i < gaps.size(); ++i) c.roll.bearing_curve.push_back({gaps[i], pressures[i]});
    }

    Population population_;
    std::uint64_t seed_;
    std::vector<Row> rows_, engraving_rows_, ink_rows_, bearing_rows_;
    std::vector<Engraving> engravings_;
    std::vector<Rheology> inks_;
};

}  // namespace campaign
