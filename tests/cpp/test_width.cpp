#include "libblade/width.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <vector>

#include "expect.hpp"
#include "libblade/error.hpp"

using namespace libblade;

namespace {
constexpr double kPi = std::numbers::pi;
constexpr double kStiffness =
    3.6e5;  // line load per interference [N/m2], about that of a 0.2 mm steel strip 12 mm long
double linear(double interference) { return kStiffness * interference; }
double stiffening(double z) { return kStiffness * z * (1.0 + 900.0 * z); }
}  // namespace

TEST_CASE("sag of a beam on two ends", "[width]") {
    // Handbook case: 1 kN/m on 2 m of steel, 210 GPa and 1e-6 m4, sags 5 x 1000 x 16 / (384 x 2.1e5) = 0.992063 mm.
    expect_close(uniform_load_sag(1000.0, 2.0, 2.1e5), 0.992063492e-3, 1e-8, "5 w L^4 / (384 E I)");
    expect_close(tube_second_moment(0.1, 0.08), kPi / 64.0 * (1e-4 - 0.4096e-4), 1e-13, "tube");
    // The line against the beam equation E I v'''' = w by four-point differences, and its ends.
    expect_close(uniform_load_line(0.5), 1.0, 1e-15, "middle");
    CHECK(uniform_load_line(0.0) == 0.0);
    CHECK(uniform_load_line(1.0) == 0.0);
    const double h = 0.05, s = 0.3;
    const auto v = [](double at) { return uniform_load_line(at); };
    const double fourth = (v(s - 2 * h) - 4 * v(s - h) + 6 * v(s) - 4 * v(s + h) + v(s + 2 * h)) / (h * h * h * h);
    expect_close(fourth, 384.0 / 5.0, 1e-9, "v'''' = w / (E I) at v(L / 2) = 5 / 384");
    const double bending =
        (v(2 * h) - 2 * v(h) + v(0.0)) / (h * h);  // v'' = -w s (1 - s) / 2, at s = h for a quartic nearly
    expect_close(bending, -384.0 / 5.0 * (0.5 * h * (1.0 - h) - h * h / 12.0), 1e-9, "no moment at the ends");
}

TEST_CASE("parts of the profile keep their signs", "[width]") {
    const auto at = [](const WidthShape& shape, std::size_t i) { return width_profile(shape, 9).interference[i]; };
    WidthShape shape;
    shape.width = 1.6;
    WidthShape turned = shape;
    turned.misalignment = 40e-6;
    expect_close(at(turned, 8), 20e-6, 1e-13, "right end further in");
    expect_close(at(turned, 0), -20e-6, 1e-13, "left end further out");
    CHECK(at(turned, 4) == 0.0);
    WidthShape bowed = shape;
    bowed.holder_bow = 30e-6;
    expect_close(at(bowed, 4), -30e-6, 1e-13, "the middle lies back");
    expect_close(at(bowed, 2), -30e-6 * 0.75, 1e-13, "parabola");
    CHECK(at(bowed, 0) == 0.0);
    WidthShape sagged = shape;
    sagged.holder_sag = 10e-6, sagged.roll_sag = 5e-6;
    expect_close(at(sagged, 4), -15e-6, 1e-13, "both lie apart in the middle");
    expect_close(at(sagged, 2), -15e-6 * 57.0 / 80.0, 1e-13, "16 / 5 (1/4 - 2/64 + 1/256)");
    WidthShape wavy = shape;
    wavy.waviness_amplitude = 8e-6, wavy.waviness_length = 1.6;
    expect_close(at(wavy, 2), 8e-6, 1e-13, "a quarter wave");
    expect_close(at(wavy, 6), -8e-6, 1e-13, "three quarters");
    const WidthProfile profile = width_profile(shape, 9);
    CHECK(profile.y.front() == 0.0);
    expect_close(profile.y.back(), 1.6, 1e-15, "both edges");
}

TEST_CASE("a fixed holder: loads follow the profile, strips lift off one-sidedly", "[width]") {
    WidthShape shape;
    shape.misalignment = 200e-6;
    const WidthLoads even = fixed_holder_loads(shape, 101, 12e-3, 300e-6, linear);
    REQUIRE(even.convergence.ok());
    expect_close(even.mean_load, kStiffness * 300e-6, 1e-12, "an odd profile on a linear blade keeps the mean");
    CHECK(even.lightest == 0);
    CHECK(even.heaviest == 100);
    expect_close(even.load[100], kStiffness * 400e-6, 1e-12, "right end");
    CHECK(even.lifted_share == 0.0);
    // Less advance than half the misalignment: lifted off left of y0 = 0.5 - 25 / 200; mean load k m y^2 / 2 with y the
    // rest.
    const WidthLoads lifted = fixed_holder_loads(shape, 801, 12e-3, 25e-6, linear);
    expect_close(lifted.lifted_share, 0.375, 1e-12, "geometry");
    expect_close(lifted.mean_load, kStiffness * 200e-6 * 0.625 * 0.625 / 2.0, 1e-6, "triangle, 800 trapezoids");
    CHECK(lifted.load.front() == 0.0);
    CHECK(lifted.interference.front() < 0.0);
    // Off altogether.
    const WidthLoads off = fixed_holder_loads(shape, 11, 12e-3, -1e-3, linear);
    CHECK(off.mean_load == 0.0);
    CHECK(off.lifted_share == 1.0);
    CHECK(off.convergence.ok());
}

TEST_CASE("a floating holder finds the mean load", "[width]") {
    WidthShape shape;
    shape.misalignment = 60e-6;
    SECTION("an odd profile on a linear blade needs the advance of an even nip, a bow 2 / 3 of itself more") {
        const WidthLoads odd = floating_holder_loads(shape, 401, 12e-3, 100.0, 1e-5, linear);
        REQUIRE(odd.convergence.ok());
        expect_close(odd.advance, 100.0 / kStiffness, 1e-11, "by symmetry");
        expect_close(odd.mean_load, 100.0, 1e-11, "the set load");
        WidthShape bowed;
        bowed.holder_bow = 90e-6;
        const WidthLoads bow = floating_holder_loads(bowed, 401, 12e-3, 100.0, 1e-3, linear);
        REQUIRE(bow.convergence.ok());
        expect_close(bow.advance, 100.0 / kStiffness + 60e-6, 1e-5, "mean of a parabola is 2 / 3; 400 trapezoids");
        CHECK(bow.lightest == 200);
        CHECK((bow.heaviest == 0 || bow.heaviest == 400));
    }
    SECTION("lift-off: half the web carries it") {
        // Misalignment m with only the right part y on: load k m y^2 / 2 = mean; the edge is at y.
        shape.misalignment = 2e-3;
        const double mean = kStiffness * 2e-3 * 0.25 / 2.0;  // y = 0.5
        const WidthLoads half = floating_holder_loads(shape, 2001, 12e-3, mean, 1e-6, linear);
        REQUIRE(half.convergence.ok());
        expect_close(half.lifted_share, 0.5, 1e-5, "2000 trapezoids");
        expect_close(half.load.back(), 4.0 * mean, 1e-5, "twice the mean over half the width, four times at the end");
    }
    SECTION("a stiffening blade under waviness carries the set load with less advance") {
        shape.misalignment = 0.0, shape.waviness_amplitude = 50e-6, shape.waviness_length = 0.25;
        const WidthLoads wavy = floating_holder_loads(shape, 401, 12e-3, 100.0, 1e-4, stiffening);
        REQUIRE(wavy.convergence.ok());
        // Mean of z + c z^2 over whole waves: z0 + c (z0^2 + A^2 / 2).
        const double c = 900.0, n = 100.0 / kStiffness - c * 0.5 * 50e-6 * 50e-6;
        expect_close(wavy.advance, (std::sqrt(1.0 + 4.0 * c * n) - 1.0) / (2.0 * c), 1e-10, "whole waves: exact");
        CHECK_FALSE(wavy.strips_coupled);
        CHECK(wavy.wave_stiffening > 1.0);
        CHECK(floating_holder_loads(shape, 401, 130e-3, 100.0, 1e-4, stiffening).strips_coupled);
    }
}

TEST_CASE("a plate is stiffer against a wavy edge than its strips", "[width]") {
    // Functions of the other kind, e^(+-k x) and x e^(+-k x), and all four conditions solved as they stand; L = 1, D =
    // 1.
    const auto solved = [](double k, double nu) {
        Eigen::Matrix4d A;
        int column = 0;
        for (const double r : {k, -k})
            for (const bool times_x : {false, true}) {
                const auto d = [&](int order, double x) {  // derivative of e^(r (x - 1)) or x e^(r (x - 1))
                    const double e = std::exp(r * (x - 1.0)) * std::pow(r, order);
                    return times_x ? e * x + order * e / r : e;
                };
                A.col(column++) << d(0, 0.0), d(1, 0.0), d(2, 1.0) - nu * k * k * d(0, 1.0),
                    -d(3, 1.0) + (2.0 - nu) * k * k * d(1, 1.0);
            }
        const Eigen::Vector4d c = A.fullPivLu().solve(Eigen::Vector4d(0.0, 0.0, 0.0, 1.0));
        return 1.0 / (3.0 * c.sum());  // every function is 1 at x = 1
    };
    for (const double nu : {0.29, 0.4})
        for (const double length : {1.0, 2.0, 4.0, 8.0, 20.0})
            expect_close(wave_stiffening(length, 1.0, nu), solved(2.0 * kPi / length, nu), 1e-9,
                         "four conditions, solved");
    expect_close(wave_stiffening(20.0, 1.0, 0.3), 1.05, 0.01, "stated");
    expect_close(wave_stiffening(8.0, 1.0, 0.3), 1.34, 0.01, "stated");
    expect_close(wave_stiffening(4.0, 1.0, 0.3), 2.7, 0.01, "stated");
    expect_close(wave_stiffening(2.0, 1.0, 0.3), 12.5, 0.01, "stated");
    expect_close(wave_stiffening(1e3, 1.0, 0.3), 1.0, 1e-4, "long waves: strips");
    expect_close(wave_stiffening(1e6, 1.0, 0.3), 1.0, 1e-9, "long waves: strips");
    // Short waves do not feel the clamp: edge of a half-infinite plate, D k^3 (3 + nu) (1 - nu) / 2.
    const double k = 2.0 * kPi / 0.2;
    expect_close(wave_stiffening(0.2, 1.0, 0.3), k * k * k * 3.3 * 0.7 / 6.0, 1e-9, "half-infinite plate");
}

TEST_CASE("loads that cannot be found say so", "[width]") {
    const WidthShape shape;
    const auto nothing = [](double) { return std::numeric_limits<double>::quiet_NaN(); };
    CHECK(fixed_holder_loads(shape, 5, 12e-3, 1e-4, nothing).convergence.status == Status::non_finite);
    CHECK_FALSE(floating_holder_loads(shape, 5, 12e-3, 100.0, 1e-4, nothing).convergence.ok());
    const auto negative = [](double) { return -1.0; };
    CHECK(fixed_holder_loads(shape, 5, 12e-3, 1e-4, negative).convergence.status == Status::non_finite);
    const auto bounded = [](double z) { return 50.0 * z / (z + 1e-4); };  // never reaches 100 N/m
    const WidthLoads never = floating_holder_loads(shape, 5, 12e-3, 100.0, 1e-4, bounded);
    CHECK(never.convergence.status == Status::out_of_range);
    CHECK_FALSE(never.convergence.message.empty());
    const auto jump = [](double z) { return z > 1e-4 ? 150.0 : 50.0; };
    CHECK(floating_holder_loads(shape, 5, 12e-3, 100.0, 1e-5, jump).convergence.status == Status::stagnated);
    WidthShape wavy;
    wavy.waviness_amplitude = 1e-6, wavy.waviness_length = 0.05;
    CHECK_THROWS_AS(width_profile(wavy, 101), InvalidInput);
    CHECK_NOTHROW(width_profile(wavy, 161));
    CHECK_THROWS_AS(width_profile(shape, 1), InvalidInput);
    WidthShape none;
    none.width = 0.0;
    CHECK_THROWS_AS(width_profile(none, 5), InvalidInput);
    none.width = 1.0, none.holder_bow = std::numeric_limits<double>::quiet_NaN();
    CHECK_THROWS_AS(width_profile(none, 5), InvalidInput);
    CHECK_THROWS_AS(floating_holder_loads(shape, 5, 12e-3, 0.0, 1e-4, linear), InvalidInput);
}

TEST_CASE("a blade lifted at one place stands off as Levy's plate does", "[width]") {
    // The edge of a clamped plate answers a load of wave length l with 3 D / L^3 times wave_stiffening(l) (Timoshenko &
    // Woinowsky-Krieger 1959, ch. 6; width.hpp). Pressed on a flat roll by N per width and lifted by u at one place: no
    // load where it stands off, no gap where it carries. Active sets on a periodic edge.
    constexpr int n = 512, middle = n / 2;
    constexpr double period = 0.25, L = 12e-3, D = 0.149, dy = period / n, N = 100.0;
    std::vector<double> wave(n), row(n);
    wave[0] = 1.0;
    for (int k = 1; k <= n / 2; ++k) wave[k] = wave[(n - k) % n] = wave_stiffening(period / k, L, 0.3);
    for (int i = 0; i < n; ++i) {
        double sum = 0.0;
        for (int k = 0; k < n; ++k) sum += wave[k] * std::cos(2.0 * kPi * k * i / n);
        row[i] = 3.0 * D / (L * L * L) * sum / n;
    }
    for (const double u : {10e-6, 25e-6}) {
        int from = middle - 3, to = middle + 3;  // stands off in between
        Eigen::VectorXd w = Eigen::VectorXd::Zero(n);
        bool settled = false;
        for (int round = 0; round < 100 && !settled; ++round) {
            std::vector<int> open;
            for (int i = from; i <= to; ++i)
                if (i != middle) open.push_back(i);
            const auto size = static_cast<Eigen::Index>(open.size());
            Eigen::MatrixXd K(size, size);
            Eigen::VectorXd rest(size);
            for (Eigen::Index a = 0; a < size; ++a) {
                for (Eigen::Index b = 0; b < size; ++b) K(a, b) = row[std::abs(open[a] - open[b])];
                rest[a] = -N - row[std::abs(open[a] - middle)] * u;
            }
            const Eigen::VectorXd free = K.ldlt().solve(rest);
            w.setZero();
            w[middle] = u;
            for (Eigen::Index a = 0; a < size; ++a) w[open[a]] = free[a];
            const auto load = [&](int at) {  // on the roll
                double sum = N;
                for (int i = from; i <= to; ++i) sum += row[std::abs(at - i)] * w[i];
                return sum;
            };
            settled = load(from - 1) >= 0.0 && load(to + 1) >= 0.0;
            if (!settled) --from, ++to;
        }
        REQUIRE(settled);
        double force = N;
        for (int i = from; i <= to; ++i) force += row[std::abs(middle - i)] * w[i];
        force *= dy;
        INFO("lift " << u);
        expect_close(stand_off(D, N, u), 0.5 * (to - from + 1) * dy, 0.05, "half a step of 0.5 mm either way");
        double furthest = 0.0;  // from the beam's line
        for (int i = from; i <= to; ++i)
            furthest = std::max(furthest, std::abs(w[i] - stand_off_height(u, stand_off(D, N, u), dy * (i - middle))));
        CHECK(furthest < 0.05 * u);
        expect_close(0.91 * N * std::cbrt(72.0 * D * u / N), force, 0.03, "as width.hpp and scoring.hpp have it");
    }
}
