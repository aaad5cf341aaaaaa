#include "libblade/print.hpp"

#include <cmath>
#include <limits>
#include <numbers>

#include "expect.hpp"
#include "libblade/error.hpp"

using namespace libblade;

namespace {
constexpr double um = 1e-6, kNan = std::numeric_limits<double>::quiet_NaN();
}

TEST_CASE("ink transfer: Walker & Fetsko's law and its limits", "[print]") {
    // 1955, from memory; by hand at x = 2 um, k = 1 / um, b = 1.5 um, f = 0.4:
    // (1 - e^-2) (1.5 (1 - e^(-4/3)) 0.6 + 0.8) = 0.8646647 x (0.9 x 0.7364029 + 0.8) = 1.2647992
    const WalkerFetsko law{1.0 / um, 1.5 * um, 0.4};
    expect_close(ink_transfer(law, 2.0 * um), 1.2647992 * um, 1e-7, "by hand");
    // A thick film on a closed print splits: y = b (1 - f) + f x.
    expect_close(ink_transfer(law, 100.0 * um), (1.5 * 0.6 + 0.4 * 100.0) * um, 1e-12, "free ink splits");
    // A thin one: k x^2, and a smooth print immobilises all of it.
    expect_close(ink_transfer(law, 1e-4 * um), 1e-8 * um, 1e-3, "k x^2");
    expect_close(ink_transfer(WalkerFetsko{1e12, 1.5 * um, 0.4}, 1e-3 * um), 1e-3 * um, 1e-3, "all of it");
    CHECK(ink_transfer(law, 0.0) == 0.0);
    expect_close(ink_transfer(ProportionalTransfer{}, 4.0 * um), 1.2 * um, 1e-14, "0.3 x 4");
    // Nothing is made: from 0.01 to 100 um no more arrives than is offered.
    for (double x = 0.01 * um; x < 100.0 * um; x *= 1.3)
        for (const double f : {0.0, 0.4, 1.0}) {
            const double y = ink_transfer(WalkerFetsko{10.0 / um, 1.0 * um, f}, x);
            CHECK(y <= x);
            CHECK(y > 0.0);
        }
}

TEST_CASE("density of a solid against its film", "[print]") {
    // Tollenaar & Ernst 1961, from memory; D_inf 2, m 0.9 / um at 1.2 um by hand: 2 (1 - e^-1.08) = 1.320808949,
    // slope 1.8 e^-1.08 = 0.6112719462 / um; half of the limit at ln 2 / m.
    const SolidDensity law{2.0, 0.9 / um};
    expect_close(print_density(law, 1.2 * um), 1.320808949, 1e-9, "by hand");
    expect_close(density_slope(law, 1.2 * um), 0.6112719462 / um, 1e-9, "by hand");
    expect_close(print_density(law, std::numbers::ln2 / 0.9 * um), 1.0, 1e-14, "half");
    expect_close(film_of_density(law, 1.3), 1.166469027 * um, 1e-9, "- ln(1 - 1.3 / 2) / 0.9");
    expect_close(print_density(density_through(1.2 * um, 1.4), 1.2 * um), 1.4, 1e-14, "through the point");
    expect_close(print_density(SolidDensity{}, 1.2 * um), 1.4, 1e-3, "the default");
    // 10 % more ink near 1.4 under a limit of 1.8: 0.4 ln 4.5 x 0.1 = 0.0602 by the slope.
    const double gain = density_slope(density_through(1.2 * um, 1.4), 1.2 * um) * 0.12 * um;
    expect_close(gain, 0.0602, 2e-3, "about 0.06 per 10 % ink");
    // The default law of the print speaks of the same numbers.
    CHECK(PrintLaw{}.nominal_density == 1.4);
    CHECK(PrintLaw{}.density_limit == SolidDensity{}.limit);
}

TEST_CASE("the density law from two readings", "[print]") {
    // y2 = 2 y1, by hand: e^(-m y1) = 1.5 / 1.05 - 1 = 3/7, m = ln(7/3) / 0.8 = 1.059122325 / um, D_inf = 1.05 / (4/7) = 1.8375.
    const SolidDensity twice = density_from_readings(0.8 * um, 1.05, 1.6 * um, 1.5);
    expect_close(twice.absorption, 1.059122325 / um, 1e-9, "closed form");
    expect_close(twice.limit, 1.8375, 1e-13, "closed form");
    // Any other pair: the law that made them comes back.
    const SolidDensity law{2.1, 0.7 / um};
    for (const double ratio : {1.05, 1.5, 1.999, 2.001, 3.0, 12.0}) {
        INFO(ratio);
        const double y1 = 0.6 * um, y2 = ratio * y1;
        const SolidDensity found = density_from_readings(y1, print_density(law, y1), y2, print_density(law, y2));
        expect_close(found.absorption, law.absorption, 1e-9, "made by it");
        expect_close(found.limit, law.limit, 1e-9, "made by it");
    }
    CHECK_THROWS_AS(density_from_readings(1 * um, 0.5, 2 * um, 1.0), InvalidInput);  // a straight line
    CHECK_THROWS_AS(density_from_readings(1 * um, 0.5, 2 * um, 0.4), InvalidInput);
    CHECK_THROWS_AS(density_from_readings(2 * um, 0.5, 1 * um, 0.6), InvalidInput);
}

TEST_CASE("reflectance and tints", "[print]") {
    expect_close(reflectance(1.301029996), 0.05, 1e-9, "ISO 5-4: D = - log10 R");
    // Murray 1936: (1 - 10^-0.3) / (1 - 10^-1.5) by hand.
    expect_close(dot_area(0.3, 1.5), 0.5151017128, 1e-9, "by hand");
    expect_close(tint_density(0.5, 1.4), 0.2840757064, 1e-9, "- log10(0.5 x 10^-1.4 + 0.5)");
    // Yule & Nielsen 1951: (1 - 10^(-0.5/1.7)) / (1 - 10^(-1.5/1.7)).
    expect_close(dot_area(0.5, 1.5, 1.7), 0.5662168018, 1e-9, "by hand");
    // R = (0.4 sqrt(0.05 / 0.85) + 0.6 )^2 x 0.85 = 0.412954535 on a paper of 0.85.
    expect_close(0.85 * reflectance(tint_density(0.4, std::log10(0.85 / 0.05), 2.0)), 0.412954535, 1e-9, "by hand");
    for (const double n : {1.0, 1.7, 4.0})
        expect_close(dot_area(tint_density(0.37, 1.3, n), 1.3, n), 0.37, 1e-12, "there and back");
    CHECK(tint_density(0.0, 1.4) == 0.0);
    expect_close(tint_density(1.0, 1.4, 2.0), 1.4, 1e-14, "a solid");
}

TEST_CASE("what is seen", "[print]") {
    const Visibility eye;
    // A wide band: Weber's 1 %.
    expect_close(visibility(eye, 0.01, 5e-3), 1.0, 1e-14, "wide");
    expect_close(visibility(eye, -0.05, 5e-3), 5.0, 1e-14, "either sign");
    // A minute of arc at 0.4 m is 0.116 mm: half as wide needs twice the contrast, a spot four times.
    const double minute = std::numbers::pi / 180.0 / 60.0 * 0.4;
    expect_close(visibility(eye, 0.02, 0.5 * minute), 1.0, 1e-3, "contrast x width");
    expect_close(visibility(eye, 0.04, 0.5 * minute, 0.5 * minute), 1.0, 1e-3, "contrast x area");
    // Hecht & Mintz 1939 (from memory): a black line of about 0.5 seconds of arc is just seen. Not put in: 1 % x 60.
    const double seen = 0.5 / 3600.0 * std::numbers::pi / 180.0 * 0.4;
    CHECK(visibility(eye, luminance_contrast(5.0, 0.0), 0.6 * seen) < 1.0);
    CHECK(visibility(eye, luminance_contrast(5.0, 0.0), 1.4 * seen) > 1.0);
    expect_close(luminance_contrast(0.4, 0.1), std::pow(10.0, -0.3) - 1.0, 1e-14, "of densities");
    CHECK(luminance_contrast(0.7, 0.7) == 0.0);
}

TEST_CASE("numbers out of range are refused by name", "[print]") {
    const auto name = [](auto&& call) {
        try {
            call();
        } catch (const InvalidInput& error) {
            return error.problems().front().path;
        }
        return std::string("nothing");
    };
    CHECK(name([] { (void)ink_transfer(ProportionalTransfer{1.1}, 1e-6); }) == "transfer.share");
    CHECK(name([] { (void)ink_transfer(WalkerFetsko{0.0, 1e-6, 0.3}, 1e-6); }) == "transfer.smoothness");
    CHECK(name([] { (void)ink_transfer(WalkerFetsko{1e6, -1.0, 0.3}, 1e-6); }) == "transfer.immobilised");
    CHECK(name([] { (void)ink_transfer(WalkerFetsko{1e6, 1e-6, kNan}, 1e-6); }) == "transfer.split");
    CHECK(name([] { (void)ink_transfer(ProportionalTransfer{}, -1e-6); }) == "offered");
    CHECK(name([] { (void)print_density(SolidDensity{0.0, 1e6}, 1e-6); }) == "density.limit");
    CHECK(name([] { (void)print_density(SolidDensity{1.8, kNan}, 1e-6); }) == "density.absorption");
    CHECK(name([] { (void)print_density(SolidDensity{}, -1e-6); }) == "film");
    CHECK(name([] { (void)film_of_density(SolidDensity{}, 1.8); }) == "density");
    CHECK(name([] { (void)density_through(0.0, 1.4); }) == "film");
    CHECK(name([] { (void)tint_density(1.1, 1.4); }) == "tint");
    CHECK(name([] { (void)dot_area(0.3, 1.4, 0.5); }) == "yule_nielsen");
    CHECK(name([] { (void)dot_area(1.5, 1.4); }) == "density");
    CHECK(name([] { (void)visibility(Visibility{}, 0.1, 0.0); }) == "width");
    CHECK(name([] { check_print_law({ProportionalTransfer{}, 1.8, 1.9}); }) == "nominal_density");
    CHECK(name([] { check_print_law({ProportionalTransfer{}, 1.8, 1.4, 0.0}); }) == "tint");
    CHECK(name([] { check_print_law({ProportionalTransfer{}, 1.8, 1.4, 1.0, 1.0, {0.0}}); }) == "eye.contrast");
    CHECK_NOTHROW(check_print_law({}));
}
