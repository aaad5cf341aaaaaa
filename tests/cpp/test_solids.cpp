#include "libblade/solids.hpp"

#include <string>

#include "expect.hpp"
#include "film_problem.hpp"
#include "libblade/error.hpp"

using namespace libblade;

namespace {
bool inside(double value, SolidRange range) { return range.low <= value && value <= range.high; }

std::string complaint(std::string_view name) {
    try {
        (void)solid_named(name);
    } catch (const InvalidInput& e) {
        return e.what();
    }
    return {};
}
}  // namespace

TEST_CASE("materials lie in the ranges of the handbooks", "[solids]") {
    const Reference ref("handbook_solids/ranges.csv");
    std::size_t seen = 0;
    for (const NamedSolid& s : solids_table()) {
        const std::string name(s.name);
        INFO(name);
        const SolidRange modulus{ref(name, "modulus_low"), ref(name, "modulus_high")};
        CHECK(inside(s.solid.youngs_modulus, modulus));
        CHECK(s.youngs_modulus.low == modulus.low);
        CHECK(s.youngs_modulus.high == modulus.high);
        if (name != "fibre composite") {  // orthotropic: no one ratio
            CHECK(inside(s.solid.poissons_ratio, {ref(name, "ratio_low"), ref(name, "ratio_high")}));
        }
        if (name.ends_with("steel")) {
            CHECK(inside(s.solid.hardness, {ref(name, "hardness_low"), ref(name, "hardness_high")}));
        }
        ++seen;
    }
    CHECK(seen == 5);
}

TEST_CASE("nominal values lie in their own ranges and hang together", "[solids]") {
    for (const NamedSolid& s : solids_table()) {
        INFO(s.name);
        CHECK(inside(s.solid.youngs_modulus, s.youngs_modulus));
        CHECK(inside(s.solid.poissons_ratio, s.poissons_ratio));
        CHECK(inside(s.solid.hardness, s.hardness));
        CHECK(inside(s.solid.yield_strength, s.yield_strength));
        CHECK(inside(s.solid.density, s.density));
        CHECK_FALSE(s.note.empty());
        // Hardness is about three times the yield strength (Tabor 1951, The Hardness of Metals); a composite breaks
        // before it yields.
        const double ratio = s.solid.hardness / s.solid.yield_strength;
        if (s.name != "fibre composite") {
            CHECK(ratio > 2.0);
            CHECK(ratio < 4.5);
        }
    }
}

TEST_CASE("steel is stiffer than composite, composite than polymer; tool steel is the hardest", "[solids]") {
    const Solid carbon = solid_named("carbon steel").solid, stainless = solid_named("stainless steel").solid,
                tool = solid_named("tool steel").solid, polymer = solid_named("polymer").solid,
                composite = solid_named("fibre composite").solid;
    for (const Solid& steel : {carbon, stainless, tool}) {
        CHECK(steel.youngs_modulus > 4.0 * composite.youngs_modulus);
        CHECK(steel.hardness > 5.0 * composite.hardness);
        CHECK(steel.density > 2.0 * composite.density);
    }
    CHECK(composite.youngs_modulus > 2.0 * polymer.youngs_modulus);
    CHECK(composite.hardness > polymer.hardness);
    CHECK(tool.hardness > carbon.hardness);
    CHECK(polymer.poissons_ratio > carbon.poissons_ratio);
    CHECK(carbon == Solid{});  // the blade's default
}

TEST_CASE("an unknown material names the nearest", "[solids]") {
    CHECK(complaint("carbon stel").find("the nearest is \"carbon steel\"") != std::string::npos);
    CHECK(complaint("stainles steel").find("\"stainless steel\"") != std::string::npos);
    CHECK(complaint("polymers").find("the nearest is \"polymer\"") != std::string::npos);
    const std::string all = complaint("wood");
    CHECK(all.find("nearest") == std::string::npos);
    for (const NamedSolid& s : solids_table()) CHECK(all.find(std::string(s.name)) != std::string::npos);
    CHECK_FALSE(complaint("").empty());
    CHECK_FALSE(complaint(std::string(100000, 'x')).empty());
}
