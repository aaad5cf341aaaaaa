// Median time of one call of every room, one thread, in one table. Reported, never judged.
#include <array>
#include <cstdio>
#include <numbers>
#include <vector>

#include "bench_cases.hpp"
#include "bench_parts.hpp"
#include "libblade/asperity.hpp"
#include "libblade/bending_case.hpp"
#include "libblade/cell_flow.hpp"
#include "libblade/contact.hpp"
#include "libblade/feather.hpp"
#include "libblade/film.hpp"
#include "libblade/heat.hpp"
#include "libblade/ink_flow.hpp"
#include "libblade/lines.hpp"
#include "libblade/nip.hpp"
#include "libblade/scoring.hpp"
#include "libblade/tracing.hpp"
#include "libblade/wear.hpp"

using namespace libblade;

namespace {

template <class F>
void row(const char* room, const char* call, F&& f, double calls = 1.0) {
    const bench_parts::Times t = bench_parts::times_of(f);
    std::printf("    %-10s %12.3f %12.3f   %s\n", room, 1e6 * t.median / calls, 1e6 * t.best / calls, call);
    std::fflush(stdout);
}

/// A wedge that closes to a quarter micrometre and opens again, 65 nodes.
struct Wedge {
    std::vector<double> x, gap, viscosity = std::vector<double>(64, 0.03), factor = std::vector<double>(64, 1.0);
    Wedge() {
        for (int i = 0; i < 65; ++i) {
            const double s = i / 32.0 - 1.0;
            x.push_back(100e-6 * s), gap.push_back(0.25e-6 + 10e-6 * s * s);
        }
    }
    [[nodiscard]] FilmInput input() const {
        FilmInput in;
        in.x = x, in.gap = gap, in.pressure_viscosity = in.shear_viscosity = viscosity, in.flow_factor = factor;
        in.speed = 5.0;
        return in;
    }
};

}  // namespace

int main() {
    const Case c = bench_cases::base();
    FlowTables tables;
    NipOptions options;
    options.tables = &tables;
    NipOptions bare = options;
    bare.step_response = bare.other_branch = bare.run_out = false;
    const OperatingPoint point = solve(c, options);
    const Strip strip = strip_of(c);
    const AsperityLaw law = asperity_law(c.roll, c.blade.material);
    const Wedge wedge;
    const Rheology thinning = CarreauYasuda{0.8, 0.15, 1e-5, 0.5, 2.0};
    const kernel::HeatSetup heat = heat_setup(c.ink, c.roll.thermal_effusivity, 200e-6, 5.0, 0.25);
    const LineContext context = line_context(c, point, options);
    const CauseModels models = cause_models(context);
    Observation seen;
    seen.tone = sure(Tone::darker), seen.direction = sure(LineDirection::along_web);
    seen.width = MeasuredSize{0.5e-3}, seen.moves_with_blade = sure(true);
    ParticleClass grit;
    grit.median_size = 5e-6, grit.fresh_number = 1e8;
    WearOptions wearing;
    wearing.tables = &tables;
    const auto steps = static_cast<double>(wear(c, 300e3, wearing).distance.size() - 1);

    bench_parts::print_build();
    std::printf("    room         median [us]    best [us]   one call\n");
    row("bending", "strip at a given load, dry", [&] { return solve_contact(strip, {100.0, -12.0}).interference; });
    row("contact", "unworn edge on the roll",
        [&] { return edge_contact(100.0, 1e-6, 1e11, 4e9, 12e9, 1.0, std::numbers::pi / 6.0).width; });
    row("film", "one pass, 65 nodes", [&] { return solve_film_one_pass(wedge.input()).load; });
    row("film", "general solver, 65 nodes", [&] { return solve_film(wedge.input()).load; });
    row("cell flow", "cell problem of a hexagon at one gap", [&] { return cell_flow(Engraving{}, 1e-6).mean_gap; });
    row("cell flow", "table of an engraving",
        [&] { return static_cast<double>(make_cell_flow_table(Engraving{}).excess[0].value.size()); });
    row("ink flow", "plane flow of a thinning ink", [&] { return plane_flow(thinning, 1e-6, 5.0, 1e9).flow; });
    row("ink flow", "table of an ink",
        [&] { return static_cast<double>(make_ink_flow_table(thinning).convergence().ok()); });
    row("asperity", "pressure at a gap", [&] { return asperity_pressure(law, 0.6e-6); });
    row("heat", "rise of the film's temperature", [&] { return film_temperature_rise(heat, 0.5e-6, 100.0); });
    row("nip", "operating point", [&] { return solve(c, bare).film_on_lands; });
    row("nip", "operating point, step response, run-out", [&] { return solve(c, options).film_on_lands; });
    row(
        "wear", "step of a history, facet", [&] { return wear(c, 300e3, wearing).facet_length.back(); }, steps);
    row("scoring", "one kind of particle", [&] { return scoring(c, point, std::array{grit}, {}).rate[0]; });
    row("lines", "one nick printed", [&] { return line_print(BladeNick{}, context).visibility; });
    row("tracing", "one observation", [&] { return trace(models, seen).probability[0]; });
    return 0;
}
