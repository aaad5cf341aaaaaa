#include "libblade/asperity.hpp"

#include <cmath>
#include <fstream>
#include <sstream>

#include "expect.hpp"

using namespace libblade;

// Greenwood & Williamson 1966 (Proc. R. Soc. A 295:300), Greenwood & Tripp 1970-71 (Proc. IMechE 185:625): F_n recomputed by
// the closed form with parabolic cylinder functions; table in tests/reference/greenwood_tripp_1971.
TEST_CASE("asperity integrals equal the recomputed table", "[asperity]") {
    std::ifstream table(std::string(LIBBLADE_TEST_REFERENCE) + "/greenwood_tripp_1971/gw_integrals.csv");
    REQUIRE(table.good());
    std::string line;
    std::getline(table, line);
    const double orders[] = {0.0, 1.0, 1.5, 2.0, 2.5};
    int rows = 0;
    for (; std::getline(table, line); ++rows) {
        std::istringstream cells(line);
        std::string cell;
        std::getline(cells, cell, ',');
        const double H = std::stod(cell);
        for (const double order : orders) {
            std::getline(cells, cell, ',');
            // the table carries 12 digits
            expect_close(greenwood_tripp_integral(order, H), std::stod(cell), 1e-9, "12-digit table");
        }
    }
    CHECK(rows >= 15);
}

TEST_CASE("asperity pressure equals the worked value", "[asperity]") {
    // Check value F3-GT: h/sigma = 1, eta beta sigma = 0.05, sigma/beta = 0.001, E' = 1e11 Pa gives 3018322.569 Pa (recomputed).
    Roll roll;
    roll.asperity_product = 0.05, roll.asperity_ratio = 0.001;
    roll.engraving.pattern = Pattern::smooth;
    Solid soft{2e11, 0.0, 1e12, 1e9, 7850.0};
    roll.material = soft;  // 1/E* = 2/2e11: E* = 1e11
    const AsperityLaw law = asperity_law(roll, soft);
    expect_close(asperity_pressure(law, law.sigma), 3018322.569, 1e-6,
                 "printed to 10 digits; cubic table error below 1e-6");
    roll.engraving.pattern = Pattern::hexagon;
    roll.engraving.land_fraction = 0.25;
    expect_close(asperity_pressure(asperity_law(roll, soft), law.sigma), 0.25 * 3018322.569, 1e-6, "only walls carry");
}

TEST_CASE("asperity pressure table follows the quadrature", "[asperity]") {
    for (double H = -5.9; H < 4.99; H += 0.137)
        expect_close(std::exp(log_f52_table()(H)), greenwood_tripp_integral(2.5, H), 1e-6, "cubic Hermite, step 1/16");
}

TEST_CASE("asperity pressure is capped by the softer hardness and fades out", "[asperity]") {
    Roll roll;
    const AsperityLaw law = asperity_law(roll, Solid{});
    const AsperityLaw soft{law.sigma, law.coefficient, 1e6};
    CHECK(asperity_pressure(soft, -3.0 * law.sigma) <= 1e6);
    CHECK(asperity_pressure(soft, -3.0 * law.sigma) > 0.99e6);
    CHECK(asperity_pressure(law, 6.5 * law.sigma) == 0.0);
    double last = asperity_pressure(law, -4.0 * law.sigma);
    for (double H = -3.9; H < 6.0; H += 0.1) {
        const double now = asperity_pressure(law, H * law.sigma);
        CHECK(now < last);
        last = now;
    }
}

TEST_CASE("filled gap is the mean of the open valleys", "[asperity]") {
    // E[max(h - s, 0)] for Gaussian s: by direct summation.
    const double sigma = 0.3e-6;
    for (const double H : {-1.0, 0.0, 0.7, 1.5, 3.0}) {
        double sum = 0.0;
        const double ds = 1e-3;
        for (double s = -9.0; s < H; s += ds)
            sum += (H - s - 0.5 * ds) * std::exp(-0.5 * (s + 0.5 * ds) * (s + 0.5 * ds)) * ds;
        expect_close(filled_gap(sigma, H * sigma), sigma * sum / std::sqrt(2.0 * std::acos(-1.0)), 1e-4,
                     "midpoint sum, step 1e-3");
    }
    CHECK(filled_gap(sigma, 10.0 * sigma) == 10.0 * sigma);
}

TEST_CASE("gap at a pressure undoes the pressure", "[asperity]") {
    const AsperityLaw law = asperity_law(Roll{}, Solid{});
    for (const double p : {1e4, 5e5, 5e6, 5e7})
        expect_close(asperity_pressure(law, gap_at_pressure(law, p)), p, 1e-9, "root tolerance");
}
