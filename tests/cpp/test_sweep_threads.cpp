// The promise of nip.hpp: functions may be called at once, on shared values and shared tables, and give the bits of one
// thread. Under the thread sanitizer (make test-threads) every race is a failure.
#include <algorithm>
#include <array>
#include <atomic>
#include <cstring>
#include <fstream>
#include <functional>
#include <sstream>
#include <thread>

#include "expect.hpp"
#include "libblade/case_file.hpp"
#include "libblade/parameters.hpp"
#include "libblade/scoring.hpp"
#include "libblade/solver.hpp"
#include "libblade/sweep.hpp"
#include "libblade/wear.hpp"

using namespace libblade;

namespace {

constexpr int kThreads = 4;

/// Calls `work` with 0 ... kThreads - 1, all let go at the same moment.
void at_once(const std::function<void(int)>& work) {
    std::atomic<int> waiting{kThreads};
    std::vector<std::thread> threads;
    for (int k = 0; k < kThreads; ++k)
        threads.emplace_back([&, k] {
            for (--waiting; waiting > 0;) std::this_thread::yield();
            work(k);
        });
    for (std::thread& thread : threads) thread.join();
}

bool same_bits(const std::vector<double>& a, const std::vector<double>& b) {
    return a.size() == b.size() && std::memcmp(a.data(), b.data(), a.size() * sizeof(double)) == 0;
}

std::vector<double> numbers(const OperatingPoint& point) {
    std::vector<double> out;
    for (const auto number : OperatingPoint::numbers()) out.push_back(point.*number);
    out.insert(out.end(), point.section.film_pressure.begin(), point.section.film_pressure.end());
    out.push_back(point.convergence.residual);
    return out;
}

std::string file(const std::string& name) {
    std::ifstream in(std::string(LIBBLADE_TEST_REFERENCE) + "/" + name);
    std::ostringstream text;
    text << in.rdbuf();
    REQUIRE_FALSE(text.str().empty());
    return text.str();
}

/// An ink and a roll that need a table each.
Case with_tables(double relaxation = 1e-4) {
    Case c;
    c.ink.rheology = Cross{0.4, 0.05, relaxation, 0.7};
    c.roll.engraving.pattern = Pattern::hexagon;
    REQUIRE(check(c).empty());
    return c;
}

}  // namespace

// First: what the functions keep for good (the field table, places of names) is made here, by all of them at once.
TEST_CASE("cases are read, checked and written at once", "[threads]") {
    const std::string text = file("base_case/case.json"),
                      bad = R"({"blade": {"thicknes_mm": 0.15, "free_length": "1 s"}})";
    std::vector<std::string> written(kThreads), refused(kThreads);
    at_once([&](int k) {
        const auto i = static_cast<std::size_t>(k);
        for (int repeat = 0; repeat < 3; ++repeat) {
            written[i] = write_case(read_case(text));
            try {
                (void)read_case(bad);
            } catch (const InvalidInput& problem) {
                refused[i] = problem.what();
            }
        }
    });
    for (int k = 1; k < kThreads; ++k) {
        CHECK(written[static_cast<std::size_t>(k)] == written[0]);
        CHECK(refused[static_cast<std::size_t>(k)] == refused[0]);
    }
    CHECK(written[0] == write_case(read_case(text)));
    CHECK(refused[0].find("blade.thickness") != std::string::npos);
}

TEST_CASE("one case and its tables are solved at once, tables made on the way", "[threads]") {
    const Case shared = with_tables();
    FlowTables tables;
    NipOptions options;
    options.tables = &tables;
    options.section = true;
    std::vector<std::vector<double>> found(kThreads);
    at_once([&](int k) {
        const OperatingPoint point = solve(shared, options);
        found[static_cast<std::size_t>(k)] = numbers(point);
    });
    NipOptions alone = options;
    alone.tables = nullptr;
    const OperatingPoint point = solve(shared, alone);
    REQUIRE(point.convergence.ok());
    for (const auto& one : found) CHECK(same_bits(one, numbers(point)));
}

TEST_CASE("a shelf too short for everybody's tables stays right", "[threads]") {
    FlowTables tables(1);
    const Case cases[] = {with_tables(1e-4), with_tables(2e-4)};
    NipOptions options;
    options.tables = &tables;
    options.other_branch = options.step_response = options.run_out = false;
    std::vector<std::vector<double>> found(kThreads);
    at_once([&](int k) { found[static_cast<std::size_t>(k)] = numbers(solve(cases[k % 2], options)); });
    options.tables = nullptr;
    for (int k = 0; k < kThreads; ++k)
        CHECK(same_bits(found[static_cast<std::size_t>(k)], numbers(solve(cases[k % 2], options))));
    CHECK_FALSE(same_bits(found[0], found[1]));
}

TEST_CASE("sweeps and evaluations share a table", "[threads]") {
    const Case shared = with_tables();
    const std::vector<Axis> axes{{"setting.line_load", {80.0, 120.0}}};
    FlowTables tables;
    SweepOptions options;
    options.threads = 2;
    options.nip.tables = &tables;
    options.nip.other_branch = options.nip.step_response = options.nip.run_out = false;
    std::vector<std::vector<double>> found(kThreads);
    at_once([&](int k) {
        for (const OperatingPoint& point : sweep(shared, axes, options).points)
            found[static_cast<std::size_t>(k)].push_back(point.film_on_lands);
    });
    for (std::size_t i = 0; i < 2; ++i) {
        Case one = shared;
        set_number(one, axes[0].path, axes[0].values[i]);
        const double film = solve(one, options.nip).film_on_lands;
        REQUIRE(std::isfinite(film));
        for (const auto& each : found) CHECK(same_bits({each.at(i)}, {film}));
    }
}

TEST_CASE("one Solver serves every thread's Workspace", "[threads]") {
    const std::vector<std::string> fields{"setting.line_load"};
    const std::vector<double OperatingPoint::*> outputs{&OperatingPoint::film_on_lands,
                                                        &OperatingPoint::effective_angle};
    const Solver solver(with_tables(), fields, outputs);
    const auto run = [&] {  // no CHECK: Catch2 is for one thread
        Workspace workspace = solver.workspace();
        WarmStart near;
        std::vector<double> all;
        for (const double load : {80.0, 100.0, 120.0}) {
            std::array<double, 2> out{};
            all.push_back(static_cast<double>(solver.solve({&load, 1}, out, workspace, &near)));
            all.insert(all.end(), out.begin(), out.end());
        }
        return all;
    };
    std::vector<std::vector<double>> found(kThreads);
    at_once([&](int k) { found[static_cast<std::size_t>(k)] = run(); });
    const auto alone = run();
    CHECK(alone[0] == static_cast<double>(Status::converged));
    CHECK(alone[1] > alone[7]);  // more load, less ink
    for (const auto& one : found) CHECK(same_bits(one, alone));
}

TEST_CASE("a blade wears and particles are judged beside each other", "[threads]") {
    const Case shared;
    FlowTables tables;
    WearOptions options;
    options.tables = &tables;
    options.watch = [](const WearHistory& so_far) { return so_far.distance.size() < 4; };
    ParticleClass grit;
    grit.fresh_number = 1e9;
    const OperatingPoint point = solve(shared);
    std::vector<WearHistory> worn(kThreads);
    std::vector<std::vector<double>> rates(kThreads);
    const auto judge = [&] {
        const auto rate = scoring(shared, point, std::vector{grit}, {}).rate;
        return std::vector<double>(rate.begin(), rate.end());
    };
    at_once([&](int k) {
        const auto i = static_cast<std::size_t>(k);
        if (k % 2 == 0) worn[i] = wear(shared, 100.0, options);
        rates[i] = judge();
    });
    CHECK(worn[0].facet_length.size() == 4);
    CHECK(same_bits(worn[0].facet_length, worn[2].facet_length));
    CHECK(same_bits(worn[0].film_on_lands, wear(shared, 100.0, options).film_on_lands));
    for (const auto& rate : rates) CHECK(same_bits(rate, judge()));
    CHECK(*std::max_element(rates[0].begin(), rates[0].end()) > 0.0);
}
