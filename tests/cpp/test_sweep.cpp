#include "libblade/sweep.hpp"

#include <cstring>
#include <numbers>
#include <stdexcept>
#include <thread>

#include "expect.hpp"
#include "libblade/error.hpp"

using namespace libblade;

namespace {
constexpr double deg = std::numbers::pi / 180.0;
const std::vector<Axis> axes{{"setting.set_angle", {26 * deg, 29 * deg, 32 * deg, 35 * deg}},
                             {"setting.line_load", {60.0, 100.0, 150.0}}};

bool same_bits(double a, double b) { return std::memcmp(&a, &b, sizeof a) == 0; }
}  // namespace

TEST_CASE("any number of threads gives the same bits", "[sweep]") {
    SweepOptions one, many;
    one.threads = 1, many.threads = 5;
    const SweepResult a = sweep(Case{}, axes, one), b = sweep(Case{}, axes, many);
    REQUIRE(a.complete);
    REQUIRE(b.complete);
    REQUIRE(a.points.size() == 12);
    for (std::size_t i = 0; i < 12; ++i) {
        CHECK(a.points[i].convergence.ok());
        CHECK(same_bits(a.points[i].film_on_lands, b.points[i].film_on_lands));
        CHECK(same_bits(a.points[i].excess_after_step, b.points[i].excess_after_step));
        CHECK(same_bits(a.points[i].tip_rotation, b.points[i].tip_rotation));
        CHECK(a.points[i].regime == b.points[i].regime);
    }
}

TEST_CASE("grid points are single solves, last axis fastest", "[sweep]") {
    const SweepResult r = sweep(Case{}, axes);
    Case c;
    c.setting.set_angle = axes[0].values[2];
    c.setting.load = LineLoad{axes[1].values[1]};
    CHECK(same_bits(r.points[2 * 3 + 1].film_on_lands, solve(c).film_on_lands));
}

TEST_CASE("a failed point is marked with its reason and the sweep goes on", "[sweep]") {
    const std::vector<Axis> hard{{"setting.line_load", {100.0, 1900.0}}};
    Case c;
    c.setting.orientation = Orientation::trailing;
    c.setting.set_angle = 15 * deg;
    const SweepResult r = sweep(c, hard);
    CHECK(r.complete);
    CHECK(r.points[0].convergence.ok());
    CHECK_FALSE(r.points[1].convergence.ok());
    CHECK_FALSE(r.points[1].convergence.message.empty());
    CHECK(std::isnan(r.points[1].film_on_lands));
}

TEST_CASE("bad axes are refused before any solve", "[sweep]") {
    const auto refused = [](const std::vector<Axis>& bad, const std::string& field) {
        try {
            (void)sweep(Case{}, bad);
            return false;
        } catch (const InvalidInput& e) {
            return std::string(e.what()).find(field) != std::string::npos;
        }
    };
    CHECK(refused({{"setting.set_angel", {0.5}}}, "setting.set_angel"));
    CHECK(refused({{"setting.line_load", {100.0, -5.0}}}, "setting.line_load"));
    CHECK(refused({{"setting.line_load", {}}}, "setting.line_load"));
    CHECK(refused({{"setting.line_load", {100.0}}, {"setting.line_load", {90.0}}}, "setting.line_load"));
    CHECK(refused({}, "axes"));
}

TEST_CASE("progress runs in the calling thread and can stop the sweep", "[sweep]") {
    std::vector<double> loads(4000);
    for (std::size_t i = 0; i < loads.size(); ++i) loads[i] = 60.0 + 0.02 * static_cast<double>(i);
    const std::vector<Axis> line{{"setting.line_load", loads}};
    SweepOptions o;
    const auto here = std::this_thread::get_id();
    std::size_t calls = 0;
    bool foreign = false;
    o.progress = [&](std::size_t, std::size_t total) {
        foreign |= std::this_thread::get_id() != here || total != loads.size();
        return ++calls < 2;
    };
    const SweepResult r = sweep(Case{}, line, o);
    CHECK_FALSE(foreign);
    CHECK(calls >= 2);
    CHECK_FALSE(r.complete);
    CHECK(r.points.front().convergence.ok());
    CHECK(r.points.back().convergence.status == Status::not_run);
    // An error in the callback reaches the caller after the workers have stopped.
    o.progress = [](std::size_t, std::size_t) -> bool { throw std::runtime_error("from the callback"); };
    CHECK_THROWS_AS(sweep(Case{}, line, o), std::runtime_error);
}

TEST_CASE("stretches of the grid join to the whole", "[sweep]") {
    const SweepResult whole = sweep(Case{}, axes);
    CHECK(whole.done == 12);
    for (const std::size_t first : {0UL, 5UL, 10UL}) {
        SweepOptions o;
        o.first = first, o.count = 5;
        const SweepResult part = sweep(Case{}, axes, o);
        REQUIRE(part.points.size() == std::min<std::size_t>(5, 12 - first));
        CHECK(part.complete);
        for (std::size_t i = 0; i < part.points.size(); ++i)
            CHECK(same_bits(part.points[i].film_on_lands, whole.points[first + i].film_on_lands));
    }
    SweepOptions behind;
    behind.first = 12;
    CHECK_THROWS_AS(sweep(Case{}, axes, behind), InvalidInput);
}

TEST_CASE("a stopped sweep has solved its first points and no others", "[sweep]") {
    std::vector<double> loads(4000);
    for (std::size_t i = 0; i < loads.size(); ++i) loads[i] = 60.0 + 0.02 * static_cast<double>(i);
    SweepOptions o;
    o.threads = 3;
    o.progress = [](std::size_t done, std::size_t) { return done < 3; };
    const SweepResult r = sweep(Case{}, std::vector<Axis>{{"setting.line_load", loads}}, o);
    REQUIRE(r.done >= 3);
    REQUIRE(r.done < loads.size());
    for (std::size_t i = 0; i < loads.size(); ++i)
        REQUIRE((r.points[i].convergence.status == Status::not_run) == (i >= r.done));
}
