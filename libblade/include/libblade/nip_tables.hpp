// Tables that operating points share: flow factors of engravings, viscosities of inks. The caller keeps them; making one
// takes some ten milliseconds, an operating point a small part of one.
#pragma once

#include <memory>

#include "libblade/cell_flow.hpp"
#include "libblade/ink_flow.hpp"

namespace libblade {

/// Makes each table once and keeps the latest ones. Safe to share between threads.
class FlowTables {
  public:
    /// `most`: tables of each kind that are kept.
    explicit FlowTables(std::size_t most = 64);
    ~FlowTables();
    FlowTables(const FlowTables&) = delete;
    FlowTables& operator=(const FlowTables&) = delete;

    /// None for a smooth roll and for a stated constant flow factor.
    [[nodiscard]] std::shared_ptr<const CellFlowTable> cells(const Engraving& engraving);
    /// None for a Newtonian ink.
    [[nodiscard]] std::shared_ptr<const InkFlowTable> ink(const Rheology& law);

  private:
    struct Shelves;
    std::unique_ptr<Shelves> shelves_;
};

}  // namespace libblade
