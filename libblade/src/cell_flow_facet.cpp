#include "libblade/cell_flow_facet.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <string>

#include "cell_flow_geometry.hpp"
#include "cell_flow_network.hpp"
#include "libblade/cell_flow.hpp"
#include "libblade/error.hpp"

namespace libblade {

namespace {

using detail::wall_node;

void require_sense(const CellFacet& f, const CellFacetOptions& options) {
    std::vector<Problem> problems;
    const auto need = [&](bool good, const char* path, double value, const char* message) {
        if (!good) problems.push_back({path, std::to_string(value), message});
    };
    const Engraving& e = f.engraving;
    need(e.pattern != Pattern::smooth && e.pattern != Pattern::channel && cell_depth(e) > 0.0, "engraving.pattern",
         static_cast<double>(e.pattern), "must be of closed cells");
    need(e.screen_angle == 0.0, "engraving.screen_angle", e.screen_angle, "must be 0 for a facet solved cell by cell");
    need(f.length > 0.0 && f.length * e.screen <= 100.0, "length", f.length, "must be positive, at most 100 pitches");
    need(f.gap_in > 0.0, "gap_in", f.gap_in, "must be positive");
    need(f.gap_out > 0.0, "gap_out", f.gap_out, "must be positive");
    need(f.viscosity > 0.0, "viscosity", f.viscosity, "must be positive");
    need(options.resolution >= 4 && options.resolution <= 400, "resolution", options.resolution,
         "must lie between 4 and 400 mesh cells per pitch");
    need(options.phases >= 1 && options.phases <= 1000, "phases", options.phases, "must lie between 1 and 1000");
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

double gap_at(const CellFacet& f, double x) noexcept { return f.gap_in + (f.gap_out - f.gap_in) * x / f.length; }

struct Phase {
    double load = 0.0, flow = 0.0, section_difference = 0.0;
    Convergence convergence;
};

/// The half period of the pattern across x between its mirror lines, moved on by `shift`.
Phase solve_phase(const CellFacet& f, const detail::CellGeometry& geometry, double shift, double step) {
    const detail::Lattice& l = geometry.lattice();
    const std::vector<double> x = detail::mesh_lines(f.length, {}, step);
    const std::vector<double> y = detail::mesh_lines(l.quarter_y, l.mesh_y, step);
    const std::size_t nx = x.size() - 1, ny = y.size() - 1;
    const auto middle = [](const std::vector<double>& v, std::size_t i) { return 0.5 * (v[i] + v[i + 1]); };
    const auto node = [&](std::size_t i, std::size_t j) { return static_cast<int>(i * ny + j); };
    detail::Network network;
    detail::NetworkLoad load;
    network.nodes = static_cast<int>(nx * ny);
    const auto add = [&](int from, int to, double conductance, double drop) {
        network.links.push_back({from, to, conductance});
        load.drop.push_back(drop);
    };
    // A link's flux is -Q times its width: Q = U g / 2 (1 - carried / resistance) - (p_to - p_from) g^3 / (12 eta
    // resistance).
    for (std::size_t i = 0; i <= nx; ++i)
        for (std::size_t j = 0; j < ny; ++j) {
            const double a = i == 0 ? 0.0 : middle(x, i - 1), b = i == nx ? f.length : middle(x, i), c = middle(y, j);
            const double g = gap_at(f, 0.5 * (a + b));
            const auto sums = geometry.along(a - shift, c, b - shift, c, g, true);
            const double per_width = g * g * g / (12.0 * f.viscosity * sums.resistance);
            const double shear = 0.5 * f.speed * g * (1.0 - sums.carried / sums.resistance);
            add(i == 0 ? wall_node : node(i - 1, j), i == nx ? wall_node : node(i, j), per_width * (y[j + 1] - y[j]),
                -shear / per_width - (i == 0 ? f.pressure_in : 0.0));
        }
    for (std::size_t i = 0; i < nx; ++i)
        for (std::size_t j = 1; j < ny; ++j) {
            const double c = middle(x, i), g = gap_at(f, c);
            const auto sums = geometry.along(c - shift, middle(y, j - 1), c - shift, middle(y, j), g, true);
            add(node(i, j - 1), node(i, j), (x[i + 1] - x[i]) * g * g * g / (12.0 * f.viscosity * sums.resistance),
                0.0);
        }
    const auto solution = detail::solve_network(network, {load}).front();

    Phase out;
    out.convergence = solution.convergence;
    double least = std::numeric_limits<double>::infinity(), most = -least;
    for (std::size_t i = 0; i <= nx; ++i) {
        double section = 0.0;
        for (std::size_t j = 0; j < ny; ++j) section -= detail::link_flux(network, load, solution, i * ny + j);
        section /= l.quarter_y;
        least = std::min(least, section);
        most = std::max(most, section);
        out.flow += section / static_cast<double>(nx + 1);
    }
    out.section_difference = (most - least) / std::abs(out.flow);
    for (std::size_t i = 0; i < nx; ++i)
        for (std::size_t j = 0; j < ny; ++j)
            out.load += solution.pressure[static_cast<std::size_t>(node(i, j))] * (x[i + 1] - x[i]) *
                        (y[j + 1] - y[j]) / l.quarter_y;
    return out;
}

/// p(x) = p_in + int (U g b / 2 - Q) 12 eta / (phi g^3) dx, Q from p(length) = 0; midpoint rule.
void homogenise(const CellFacet& f, CellFacetFlow& out) {
    const double low = std::min(f.gap_in, f.gap_out), high = std::max(f.gap_in, f.gap_out);
    const CellFlowTable table = make_cell_flow_table(f.engraving, 0.9 * low, 1.1 * high, 9, {96, 0.0});
    if (!table.convergence.ok()) out.convergence = table.convergence;
    constexpr int n = 1000;
    const double dx = f.length / n;
    double push = 0.0, resistance = 0.0, push_moment = 0.0, resistance_moment = 0.0;
    for (int i = 0; i < n; ++i) {
        const double x = dx * (i + 0.5), g = gap_at(f, x);
        const double r = 12.0 * f.viscosity * dx / (table.pressure_factor(g) * g * g * g);
        const double u = 0.5 * f.speed * g * table.land_couette_factor(g) * r;
        push += u;
        resistance += r;
        // int p dx = p_in b + sum of each rise times what lies behind it
        push_moment += u * (f.length - x);
        resistance_moment += r * (f.length - x);
    }
    out.homogenised_flow = (f.pressure_in + push) / resistance;
    out.homogenised_load = f.pressure_in * f.length + push_moment - out.homogenised_flow * resistance_moment;
}

}  // namespace

CellFacetFlow cell_facet_flow(const CellFacet& f, const CellFacetOptions& options) {
    require_sense(f, options);
    CellFacetFlow out;
    out.convergence = {Status::converged, 0.0, 0.0, 0, {}};
    const detail::CellGeometry geometry(f.engraving, f.engraving.wall_width, f.engraving.wall_width);
    const double period = 2.0 * geometry.lattice().quarter_x, step = pitch(f.engraving) / options.resolution;
    for (int k = 0; k < options.phases; ++k) {
        const Phase phase = solve_phase(f, geometry, period * (k + 0.5) / options.phases, step);
        out.phase_load.push_back(phase.load);
        out.phase_flow.push_back(phase.flow);
        out.load += phase.load / options.phases;
        out.flow += phase.flow / options.phases;
        out.section_difference = std::max(out.section_difference, phase.section_difference);
        if (out.convergence.ok() && (!phase.convergence.ok() || phase.convergence.residual > out.convergence.residual))
            out.convergence = phase.convergence;
    }
    homogenise(f, out);
    return out;
}

}  // namespace libblade
