#include "cell_flow_network.hpp"

#include <Eigen/SparseCholesky>
#include <algorithm>
#include <cmath>
#include <cstddef>

namespace libblade::detail {

namespace {

using Vector = Eigen::VectorXd;

/// What flows into each node, plus its source; the largest flux of a link on the way.
Vector imbalance(const Network& network, const NetworkLoad& load, const NetworkSolution& solution, double& largest) {
    Vector sum = Vector::Zero(network.nodes);
    for (std::size_t i = 0; i < load.source.size(); ++i) sum[static_cast<Eigen::Index>(i)] = load.source[i];
    largest = 0.0;
    for (std::size_t k = 0; k < network.links.size(); ++k) {
        const Link& l = network.links[k];
        const double flux = link_flux(network, load, solution, k);
        largest = std::max(largest, std::abs(flux));
        // A pressure that rises along the link drives liquid back to `from`.
        if (l.from != wall_node) sum[l.from] += flux;
        if (l.to != wall_node) sum[l.to] -= flux;
    }
    return sum;
}

}  // namespace

std::vector<NetworkSolution> solve_network(const Network& network, const std::vector<NetworkLoad>& loads) {
    const bool grounded = std::any_of(network.links.begin(), network.links.end(),
                                      [](const Link& l) { return l.from == wall_node || l.to == wall_node; });
    std::vector<Eigen::Triplet<double>> entries;
    entries.reserve(3 * network.links.size() + 1);
    for (const Link& l : network.links) {
        if (l.from == l.to) continue;  // around a period of one node
        if (l.from != wall_node) entries.emplace_back(l.from, l.from, l.conductance);
        if (l.to != wall_node) entries.emplace_back(l.to, l.to, l.conductance);
        // Node 0 held at 0 keeps its own row, without couplings.
        if (l.from == wall_node || l.to == wall_node || (!grounded && (l.from == 0 || l.to == 0))) continue;
        entries.emplace_back(std::max(l.from, l.to), std::min(l.from, l.to), -l.conductance);
    }
    if (!grounded) entries.emplace_back(0, 0, 1.0);
    Eigen::SparseMatrix<double> matrix(network.nodes, network.nodes);
    matrix.setFromTriplets(entries.begin(), entries.end());
    const Eigen::SimplicialLDLT<Eigen::SparseMatrix<double>, Eigen::Lower> factor(matrix);

    std::vector<NetworkSolution> out(loads.size());
    for (std::size_t i = 0; i < loads.size(); ++i) {
        NetworkSolution& s = out[i];
        s.pressure.assign(static_cast<std::size_t>(network.nodes), 0.0);
        s.convergence.tolerance = 1e-4;  // rounding alone leaves 1e-5 at contrasts of 10^9
        if (factor.info() != Eigen::Success) {
            s.convergence.status = Status::singular_jacobian;
            s.convergence.message = "the pressure equations of the cells could not be factorised";
            continue;
        }
        // The second pass removes what rounding leaves of the first.
        double largest = 0.0;
        for (int pass = 0; pass < 2; ++pass) {
            Vector right = imbalance(network, loads[i], s, largest);
            if (!grounded) right[0] = 0.0;
            const Vector step = factor.solve(right);
            for (int n = 0; n < network.nodes; ++n) s.pressure[static_cast<std::size_t>(n)] += step[n];
        }
        Vector left = imbalance(network, loads[i], s, largest);
        s.convergence.iterations = 2;
        s.convergence.residual = largest > 0.0 ? left.cwiseAbs().maxCoeff() / largest : 0.0;
        if (!std::isfinite(s.convergence.residual) || !std::isfinite(largest)) {
            s.convergence.status = Status::non_finite;
            s.convergence.message = "the pressure in the cells is not finite";
        } else if (s.convergence.residual <= s.convergence.tolerance) {
            s.convergence.status = Status::converged;
        } else {
            s.convergence.status = Status::stagnated;
            s.convergence.message = "rounding left an imbalance in the pressure equations of the cells";
        }
    }
    return out;
}

}  // namespace libblade::detail
