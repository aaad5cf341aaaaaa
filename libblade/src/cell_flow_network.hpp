// Finite volumes as a network of conductances: unknown pressures at nodes, links that carry
//   flux = conductance (p_to - p_from + drop).
#pragma once

#include <vector>

#include "libblade/status.hpp"

namespace libblade::detail {

inline constexpr int wall_node = -1;  ///< pressure 0; a boundary value goes into the link's drop

struct Link {
    int from = wall_node, to = wall_node;
    double conductance = 0.0;
};

struct Network {
    int nodes = 0;
    std::vector<Link> links;
};

/// One right-hand side: the drop of each link and what is fed into each node. Liquid runs from high to low pressure.
struct NetworkLoad {
    std::vector<double> drop;    ///< per link
    std::vector<double> source;  ///< per node; empty: none
};

struct NetworkSolution {
    std::vector<double> pressure;  ///< per node
    Convergence convergence;       ///< residual: worst imbalance of a node over the largest flux
};

/// Solves all loads with one factorisation (sparse LDL^T). Without a link to the wall node 0 is held at 0.
[[nodiscard]] std::vector<NetworkSolution> solve_network(const Network& network, const std::vector<NetworkLoad>& loads);

/// Flux of link k.
[[nodiscard]] inline double link_flux(const Network& network, const NetworkLoad& load, const NetworkSolution& solution,
                                      std::size_t k) noexcept {
    const Link& l = network.links[k];
    const double from = l.from == wall_node ? 0.0 : solution.pressure[static_cast<std::size_t>(l.from)];
    const double to = l.to == wall_node ? 0.0 : solution.pressure[static_cast<std::size_t>(l.to)];
    return l.conductance * (to - from + load.drop[k]);
}

}  // namespace libblade::detail
