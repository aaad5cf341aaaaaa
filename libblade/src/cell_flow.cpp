#include "libblade/cell_flow.hpp"

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

#include "cell_flow_geometry.hpp"
#include "cell_flow_network.hpp"
#include "libblade/dual.hpp"
#include "libblade/error.hpp"

namespace libblade {

namespace {

using detail::Link;
using detail::Network;
using detail::NetworkLoad;
using detail::NetworkSolution;
using detail::wall_node;

void keep_worst(Convergence& kept, const Convergence& other) {
    if (kept.status == Status::not_run || (kept.ok() && (!other.ok() || other.residual > kept.residual))) kept = other;
}

/// Factors along one axis of the pattern; `carried` is c - 1, summed without cancellation.
struct AxisFactors {
    double pressure = 1.0, carried = 0.0, dissipation = 1.0;
    std::size_t unknowns = 0;
    Convergence convergence;
};

/// The quarter of the lattice between its mirror lines. A gradient along one axis is odd about the mirrors across that
/// axis, which are then lines of constant pressure, and even about the others, which no flow crosses. Links run between
/// the midpoints of mesh cells, their resistance integrated along the line: second order where a deep cell makes
/// pressure uniform (Gibou et al. 2002, J. Comput. Phys. 176:205), and right on average for walls thinner than the
/// mesh.
AxisFactors axis_factors(const detail::CellGeometry& geometry, int axis, double land_gap, double step) {
    const detail::Lattice& l = geometry.lattice();
    // Along a channel nothing changes: one mesh cell.
    const std::vector<double> x =
        l.closed ? detail::mesh_lines(l.quarter_x, l.mesh_x, step) : std::vector<double>{0.0, l.quarter_x};
    const std::vector<double> y = detail::mesh_lines(l.quarter_y, l.mesh_y, step);
    const std::size_t nx = x.size() - 1, ny = y.size() - 1;
    const std::vector<double>&s = axis == 0 ? x : y, &t = axis == 0 ? y : x;  // along and across the gradient
    const auto node = [&](std::size_t is, std::size_t it) {
        return static_cast<int>(axis == 0 ? it * nx + is : is * nx + it);
    };
    const auto middle = [](const std::vector<double>& v, std::size_t i) { return 0.5 * (v[i] + v[i + 1]); };

    Network network;
    NetworkLoad load;
    std::vector<double> length, carried;  // of the links along the gradient, which come first
    network.nodes = static_cast<int>(nx * ny);
    const std::size_t ns = s.size() - 1, nt = t.size() - 1;
    for (std::size_t it = 0; it < nt; ++it)
        for (std::size_t is = 0; is <= ns; ++is) {
            const double a = is == 0 ? 0.0 : middle(s, is - 1), b = is == ns ? s[ns] : middle(s, is), c = middle(t, it);
            const auto sums = axis == 0 ? geometry.along(a, c, b, c, land_gap) : geometry.along(c, a, c, b, land_gap);
            network.links.push_back({is == 0 ? wall_node : node(is - 1, it), is == ns ? wall_node : node(is, it),
                                     (t[it + 1] - t[it]) / sums.resistance});
            load.drop.push_back(is == ns ? s[ns] : 0.0);
            length.push_back(b - a);
            carried.push_back(sums.carried);
        }
    for (std::size_t it = 1; it < nt; ++it)
        for (std::size_t is = 0; is < ns; ++is) {
            const double a = middle(t, it - 1), b = middle(t, it), c = middle(s, is);
            const auto sums = axis == 0 ? geometry.along(c, a, c, b, land_gap) : geometry.along(a, c, b, c, land_gap);
            network.links.push_back({node(is, it - 1), node(is, it), (s[is + 1] - s[is]) / sums.resistance});
            load.drop.push_back(0.0);
        }

    const NetworkSolution solution = std::move(detail::solve_network(network, {load}).front());
    AxisFactors out{0.0, 0.0, 0.0, nx * ny, solution.convergence};
    for (std::size_t k = 0; k < network.links.size(); ++k) {
        const double flux = detail::link_flux(network, load, solution, k);
        out.dissipation += flux * flux / network.links[k].conductance;
        if (k >= length.size()) continue;
        out.pressure += flux * length[k];
        out.carried += flux * carried[k];
    }
    const double area = l.quarter_x * l.quarter_y;
    out.pressure /= area;
    out.carried /= area;
    out.dissipation /= area;
    return out;
}

void require_sense(const Engraving& e, const CellFlowOptions& options) {
    std::vector<Problem> problems;
    const auto need = [&](bool good, const char* path, double value, const char* message) {
        if (!good) problems.push_back({path, std::to_string(value), message});
    };
    need(options.resolution >= 4 && options.resolution <= 2000, "resolution", options.resolution,
         "must lie between 4 and 2000 mesh cells per pitch");
    need(options.end_length >= 0.0 && std::isfinite(options.end_length), "end_length", options.end_length,
         "must be 0 or a positive number of land gaps");
    if (e.pattern != Pattern::smooth) {
        need(e.screen > 0.0 && std::isfinite(e.screen), "screen", e.screen, "must be a positive number of cells per m");
        need(e.wall_width > 0.0 && std::isfinite(e.wall_width), "wall_width", e.wall_width,
             "must be a positive length");
        need(e.pattern != Pattern::elongated || (e.aspect >= 0.1 && e.aspect <= 10.0), "aspect", e.aspect,
             "must lie between 0.1 and 10");
        const double depth = cell_depth(e);
        need(depth >= 0.0 && std::isfinite(depth), "cell_depth", depth, "must be 0 or a positive length");
    }
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

void require_gap(double gap) {
    if (!(gap > 0.0) || !std::isfinite(gap))
        throw InvalidInput({{"land_gap", std::to_string(gap), "must be a positive length"}});
}

/// Both axes of the pattern at one gap; `once`: the second as the first, for patterns of four- or six-fold symmetry.
std::array<AxisFactors, 2> both_axes(const Engraving& e, double land_gap, const CellFlowOptions& options, bool once) {
    const double step = pitch(e) / options.resolution, opening = pitch(e) - e.wall_width;
    const detail::CellGeometry real(e, e.wall_width, e.wall_width);
    double wall = e.wall_width, shear_wall = e.wall_width;
    if (options.end_length > 0.0 && e.profile == CellProfile::flat) {
        // Walls longer by the end lengths c and s of both edges, and by what of the opening's own resistance they
        // replace (H the gap in the cell over the land gap): across grooves of width g between walls w in land gaps
        //   resistance w + 2 c + g / H^3, shear flow over it w + 2 s + g / H^2.
        const double depth = cell_depth(e) / land_gap, cell = 1.0 + depth;
        const double rest = 1.0 - 1.0 / (cell * cell * cell);
        const double c = wall_end_length(depth, options.end_length), s = shear_end_length(depth);
        // Less where the ends meet in narrow cells (exponent fitted to the Stokes solutions of the header for openings
        // of 12, 6 and 3 gaps), down to no opening in gaps wide against it.
        const auto lengthened = [&](double ends) {
            return e.wall_width + ends * std::pow(1.0 + std::pow(ends / opening, 2.5), -0.4);
        };
        wall = lengthened(2.0 * land_gap * c / rest);
        shear_wall = lengthened(2.0 * land_gap * (s + c / (cell * cell * rest)));
    }
    const detail::CellGeometry longer(e, wall, shear_wall);
    const AxisFactors first = axis_factors(e.pattern == Pattern::channel ? real : longer, 0, land_gap, step);
    return {first, once ? first : axis_factors(longer, 1, land_gap, step)};
}

bool has_cells(const Engraving& e) { return open_fraction(e) > 0.0 && cell_depth(e) > 0.0; }

Tensor2 turned(double along, double across, double angle) noexcept {
    const double c = std::cos(angle), s = std::sin(angle), xy = c * s * (along - across);
    return {{{c * c * along + s * s * across, xy}, {xy, s * s * along + c * c * across}}};
}

}  // namespace

CellFlow cell_flow(const Engraving& e, double land_gap, const CellFlowOptions& options) {
    require_gap(land_gap);
    require_sense(e, options);
    CellFlow out;
    out.land_gap = land_gap;
    if (!has_cells(e)) {
        out.mean_gap = land_gap;
        out.pressure_factor = out.dissipation_factor = turned(1.0, 1.0, 0.0);
        out.convergence = {Status::converged, 0.0, 0.0, 0, {}};
        return out;
    }
    const auto axes = both_axes(e, land_gap, options, false);
    const double volume = cell_volume(e) / land_gap;
    out.mean_gap = land_gap * (1.0 + volume);
    out.unknowns = axes[0].unknowns + axes[1].unknowns;
    for (const AxisFactors& a : axes) keep_worst(out.convergence, a.convergence);
    out.pressure_factor = turned(axes[0].pressure, axes[1].pressure, e.screen_angle);
    out.dissipation_factor = turned(axes[0].dissipation, axes[1].dissipation, e.screen_angle);
    out.shear_factor = turned(volume - axes[0].carried, volume - axes[1].carried, e.screen_angle);
    return out;
}

CellFlow cell_flow(const GapMap& map) {
    require_gap(map.land_gap);
    const std::size_t n = map.nx * map.ny;
    if (n == 0 || map.gap.size() != n || !(map.length_x > 0.0) || !(map.length_y > 0.0) ||
        !std::all_of(map.gap.begin(), map.gap.end(), [](double h) { return h > 0.0 && std::isfinite(h); }))
        throw InvalidInput({{"gap", std::to_string(map.gap.size()) + " values",
                             "must hold nx times ny positive gaps over a positive period"}});
    const double dx = map.length_x / static_cast<double>(map.nx), dy = map.length_y / static_cast<double>(map.ny);
    Network network;
    network.nodes = static_cast<int>(n);
    std::array<NetworkLoad, 2> loads;
    std::vector<double> relative_resistance;  // int H^-2 over int H^-3 along the link
    for (std::size_t j = 0; j < map.ny; ++j)
        for (std::size_t i = 0; i < map.nx; ++i)
            for (std::size_t axis = 0; axis < 2; ++axis) {
                const std::size_t here = j * map.nx + i;
                const std::size_t next = axis == 0 ? j * map.nx + (i + 1) % map.nx : (j + 1) % map.ny * map.nx + i;
                const double a = map.gap[here] / map.land_gap, b = map.gap[next] / map.land_gap;
                const double cube = 0.5 * (1.0 / (a * a * a) + 1.0 / (b * b * b));
                network.links.push_back(
                    {static_cast<int>(here), static_cast<int>(next), (axis == 0 ? dy / dx : dx / dy) / cube});
                relative_resistance.push_back(0.5 * (1.0 / (a * a) + 1.0 / (b * b)) / cube);
                // A unit mean gradient, spread over the links: what is left to solve for is periodic.
                loads[0].drop.push_back(axis == 0 ? dx : 0.0);
                loads[1].drop.push_back(axis == 1 ? dy : 0.0);
            }
    const auto solutions = detail::solve_network(network, {loads[0], loads[1]});

    CellFlow out;
    out.land_gap = map.land_gap;
    out.unknowns = n;
    for (double h : map.gap) out.mean_gap += h / static_cast<double>(n);
    for (const NetworkSolution& s : solutions) keep_worst(out.convergence, s.convergence);
    const double area = map.length_x * map.length_y;
    Tensor2 couette{};
    for (std::size_t k = 0; k < network.links.size(); ++k) {
        const std::size_t axis = k % 2;
        const double length = axis == 0 ? dx : dy;
        const std::array<double, 2> flux{detail::link_flux(network, loads[0], solutions[0], k),
                                         detail::link_flux(network, loads[1], solutions[1], k)};
        for (std::size_t j = 0; j < 2; ++j) {
            out.pressure_factor[axis][j] += flux[j] * length / area;
            couette[j][axis] +=
                flux[j] / network.links[k].conductance * relative_resistance[k] * (axis == 0 ? dy : dx) / area;
            for (std::size_t i = 0; i < 2; ++i)
                out.dissipation_factor[i][j] += flux[i] * flux[j] / network.links[k].conductance / area;
        }
    }
    for (std::size_t i = 0; i < 2; ++i)
        for (std::size_t j = 0; j < 2; ++j)
            out.shear_factor[i][j] = (i == j ? out.mean_gap / map.land_gap : 0.0) - couette[i][j];
    return out;
}

Tensor2 couette_factor(const CellFlow& flow, TextureMotion motion) noexcept {
    const double sign = motion == TextureMotion::moving ? 1.0 : -1.0, mean = flow.mean_gap / flow.land_gap;
    Tensor2 out{};
    for (std::size_t i = 0; i < 2; ++i)
        for (std::size_t j = 0; j < 2; ++j) out[i][j] = (i == j ? mean : 0.0) + sign * flow.shear_factor[i][j];
    return out;
}

namespace {

/// Slopes that keep a Hermite table monotone wherever its values are (Fritsch & Butland 1984, SIAM J. Sci. Stat.
/// Comput. 5:300, as a harmonic mean); at the ends the slope of the last piece, which the look-up then continues.
HermiteTable monotone_table(double start, double step, std::vector<double> value) {
    HermiteTable t{start, step, std::move(value), {}};
    const std::size_t n = t.value.size();
    const auto piece = [&](std::size_t i) { return (t.value[i + 1] - t.value[i]) / step; };
    t.slope.assign(n, 0.0);
    t.slope.front() = piece(0);
    t.slope.back() = piece(n - 2);
    for (std::size_t i = 1; i + 1 < n; ++i) {
        const double a = piece(i - 1), b = piece(i);
        if (a * b > 0.0) t.slope[i] = 2.0 * a * b / (a + b);
    }
    return t;
}

}  // namespace

CellFlowTable make_cell_flow_table(const Engraving& e, double smallest_gap, double largest_gap, std::size_t points,
                                   const CellFlowOptions& options) {
    require_gap(smallest_gap);
    require_gap(largest_gap);
    require_sense(e, options);
    if (!(largest_gap > smallest_gap) || points < 4 || points > 100000)
        throw InvalidInput({{"points", std::to_string(points), "must be at least 4 over a range of gaps"}});
    CellFlowTable out;
    out.smallest_gap = smallest_gap;
    out.largest_gap = largest_gap;
    out.convergence = {Status::converged, 0.0, 0.0, 0, {}};
    if (!has_cells(e)) return out;
    out.volume = cell_volume(e);
    const double start = std::log(smallest_gap);
    const double step = (std::log(largest_gap) - start) / static_cast<double>(points - 1);
    const bool isotropic = e.pattern == Pattern::hexagon || e.pattern == Pattern::diamond;
    out.along = isotropic ? 1.0 : std::cos(e.screen_angle) * std::cos(e.screen_angle);
    out.across = 1.0 - out.along;
    if (e.pattern == Pattern::channel) out.deep_share = out.across;
    std::array<std::vector<double>, 2> excess, carried;
    for (std::size_t i = 0; i < points; ++i) {
        const double h = std::exp(start + step * static_cast<double>(i));
        const auto axes = both_axes(e, h, options, isotropic);
        for (std::size_t k = 0; k < 2; ++k) {
            keep_worst(out.convergence, axes[k].convergence);
            excess[k].push_back(std::log(std::max(axes[k].pressure - 1.0, 1e-12)));
            // Along a channel nothing of the content is carried beyond the mean: odds of 0, kept finite.
            const double left = std::clamp(axes[k].carried * h / out.volume, 1e-12, 1.0 - 1e-12);
            carried[k].push_back(std::log((1.0 - left) / left));
        }
    }
    for (std::size_t k = 0; k < 2; ++k) {
        out.excess[k] = monotone_table(start, step, std::move(excess[k]));
        out.carried[k] = monotone_table(start, step, std::move(carried[k]));
    }
    // Nodes come in order: what has been reached of h b is kept.
    double reached = 0.0, at = 0.0;
    out.fast = OctavePair(smallest_gap, largest_gap, [&](double h) -> std::array<double, 4> {
        const Dual<1> gap = variable<1>(h, 0);
        const Dual<1> resistance = 1.0 / out.pressure_factor(gap);
        Dual<1> couette = out.land_couette_factor(gap);
        // Walls far thinner than the gap: more than the roll carries goes back, which is no film either.
        constexpr double least = 1e-3;
        if (couette.v < least) {
            out.drawn_back_from = std::min(out.drawn_back_from, h);
            couette = Dual<1>(least);
        }
        constexpr double rise = 1e-2;  // per e-fold of the gap, so that it still rises
        const double held = reached * (1.0 + rise * std::log(std::max(h / std::max(at, 1e-300), 1.0)));
        if (at > 0.0 && h * couette.v < held) {
            out.drawn_back_from = std::min(out.drawn_back_from, at);
            couette = {held / h, {(reached * rise - held) / (h * h)}};
        } else {
            reached = h * couette.v, at = h;
        }
        return {resistance.v, resistance.d[0], couette.v, couette.d[0]};
    });
    return out;
}

}  // namespace libblade
