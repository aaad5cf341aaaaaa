// A plane facet over the engraved roll, cell by cell: the reference for the homogenised film.
//
// Seen from the blade the pattern passes, h(x, y, t) = g(x) + depth(x - U t, y). The full film has no memory, so every
// phase is a steady problem in which the squeeze of the passing cells joins the shear flow:
//   div Q = 0,  Q = U (g - depth) / 2 e_x - h^3 / (12 eta) grad p,  flow = <Q_x> + U <depth>.
// The means over the phase stand beside those of the homogenised equation (room cell_flow) on the same facet:
//   Q = U g b(g) / 2 - phi(g) g^3 / (12 eta) dp/dx.
// Newtonian, no cavitation, no end correction of the walls in either.
#pragma once

#include <vector>

#include "libblade/engraving.hpp"
#include "libblade/status.hpp"

namespace libblade {

struct CellFacet {
    Engraving engraving;       ///< closed cells at screen angle 0
    double length = 200e-6;    ///< of the facet along x [m]
    double gap_in = 0.5e-6;    ///< land gap at x = 0 [m]
    double gap_out = 0.5e-6;   ///< land gap at x = length [m]; linear between
    double speed = 5.0;        ///< of the roll [m/s]
    double viscosity = 0.03;   ///< [Pa s]
    double pressure_in = 0.0;  ///< at x = 0, over that at x = length [Pa]
};

struct CellFacetOptions {
    int resolution = 48;  ///< mesh cells per pitch
    int phases = 48;      ///< steps of the pattern over one period along x; a step not much longer than a wall
};

struct CellFacetFlow {
    double load = 0.0;                ///< mean over the phase [N/m]
    double flow = 0.0;                ///< Q_x, mean over the phase, without U times the cell volume [m2/s]
    std::vector<double> phase_load;   ///< per phase [N/m]
    std::vector<double> phase_flow;   ///< per phase [m2/s]
    double homogenised_load = 0.0;    ///< [N/m]
    double homogenised_flow = 0.0;    ///< [m2/s]
    double section_difference = 0.0;  ///< worst difference of Q_x between two sections of one phase over its mean [-]
    Convergence convergence;
};

/// Both solutions. Throws InvalidInput for open or no cells, a turned pattern, or lengths without sense.
[[nodiscard]] CellFacetFlow cell_facet_flow(const CellFacet& facet, const CellFacetOptions& options = {});

}  // namespace libblade
