#include "libblade/nip_tables.hpp"

#include <thread>
#include <vector>

#include "expect.hpp"

using namespace libblade;

TEST_CASE("a table is made once and shared", "[nip][tables]") {
    FlowTables tables(2);
    Engraving a, b;
    b.wall_width = 4e-6;
    const auto first = tables.cells(a);
    REQUIRE(first);
    CHECK(first->convergence.ok());
    CHECK(tables.cells(a) == first);
    Engraving same = a;
    same.fill = 0.5, same.land_fraction = 0.3;  // neither shapes the cells
    CHECK(tables.cells(same) == first);
    const auto second = tables.cells(b);
    CHECK(second != first);
    CHECK(tables.cells(a) == first);
    // The oldest goes when a third one comes; who holds it keeps it.
    Engraving c;
    c.wall_width = 3e-6;
    (void)tables.cells(c);
    CHECK(tables.cells(a) == first);
    CHECK(tables.cells(b) != second);
    CHECK(second->pressure_factor(1e-7) > 1.0);
}

TEST_CASE("no table where none is needed", "[nip][tables]") {
    FlowTables tables;
    Engraving smooth, stated;
    smooth.pattern = Pattern::smooth;
    stated.pressure_flow_factor = 4.0;
    CHECK(!tables.cells(smooth));
    CHECK(!tables.cells(stated));
    CHECK(!tables.ink(Newtonian{0.1}));
    const auto ink = tables.ink(PowerLaw{0.5, 0.7});
    REQUIRE(ink);
    CHECK(ink->convergence().ok());
}

TEST_CASE("threads that ask for one table wait for one making", "[nip][tables]") {
    FlowTables tables;
    std::vector<std::shared_ptr<const CellFlowTable>> got(6);
    std::vector<std::thread> threads;
    for (auto& table : got) threads.emplace_back([&] { table = tables.cells(Engraving{}); });
    for (std::thread& thread : threads) thread.join();
    for (const auto& table : got) CHECK((table && table == got.front()));
}
