#include "libblade/solids.hpp"

#include <algorithm>
#include <array>
#include <numeric>
#include <string>
#include <vector>

#include "libblade/error.hpp"

namespace libblade {

namespace {

// Solid: modulus, Poisson's ratio, hardness, yield strength, density.
constexpr std::array<NamedSolid, 5> kSolids{{
    {"carbon steel",
     {205e9, 0.29, 5.5e9, 1.6e9, 7850.0},
     {205e9, 210e9},
     {0.28, 0.30},
     {5e9, 6e9},
     {1.3e9, 2.0e9},
     {7800.0, 7900.0},
     "hardened and tempered strip, 500 to 600 HV: Western Michigan University lecture notes (read); rest handbooks, "
     "from memory"},
    {"stainless steel",
     {200e9, 0.29, 5.2e9, 1.4e9, 7700.0},
     {195e9, 205e9},
     {0.27, 0.30},
     {5e9, 6e9},
     {1.0e9, 1.8e9},
     {7650.0, 8000.0},
     "hardened martensitic strip; handbooks, from memory"},
    {"tool steel",
     {215e9, 0.29, 7e9, 2.2e9, 7900.0},
     {205e9, 225e9},
     {0.28, 0.30},
     {6e9, 8e9},
     {1.6e9, 3.0e9},
     {7700.0, 8200.0},
     "alloyed steel hardened by carbides; handbooks, from memory"},
    {"polymer",
     {2.5e9, 0.38, 0.15e9, 65e6, 1400.0},
     {0.8e9, 4e9},
     {0.35, 0.42},
     {0.04e9, 0.3e9},
     {20e6, 100e6},
     {930.0, 1450.0},
     "unfilled, from polyethylene of very high molar mass to acetal and polyester; rate, temperature and ink change "
     "it; "
     "handbooks, from memory"},
    {"fibre composite",
     {25e9, 0.3, 0.5e9, 400e6, 1800.0},
     {10e9, 45e9},
     {0.1, 0.4},
     {0.2e9, 1e9},
     {150e6, 1000e6},
     {1500.0, 2100.0},
     "glass or carbon fibre in epoxy; modulus: handbooks, rest: order of magnitude; all from memory"},
}};

/// Levenshtein's distance.
std::size_t edit_distance(std::string_view a, std::string_view b) {
    std::vector<std::size_t> row(b.size() + 1);
    std::iota(row.begin(), row.end(), std::size_t{0});
    for (std::size_t i = 1; i <= a.size(); ++i) {
        std::size_t diagonal = i - 1;
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const std::size_t above = row[j];
            row[j] = std::min({above + 1, row[j - 1] + 1, diagonal + (a[i - 1] == b[j - 1] ? 0u : 1u)});
            diagonal = above;
        }
    }
    return row.back();
}

}  // namespace

std::span<const NamedSolid> solids_table() noexcept { return kSolids; }

const NamedSolid& solid_named(std::string_view name) {
    const NamedSolid* nearest = nullptr;
    std::size_t smallest = std::max<std::size_t>(name.size() / 3, 1) + 1;  // more than a third wrong is no likeness
    for (const NamedSolid& solid : kSolids) {
        if (solid.name == name) return solid;
        const std::size_t distance = name.size() > 200 ? smallest : edit_distance(name, solid.name);
        if (distance < smallest) smallest = distance, nearest = &solid;
    }
    std::string message = "is no known material; ";
    if (nearest != nullptr) {
        message += "the nearest is \"" + std::string(nearest->name) + '"';
    } else {
        message += "known are";
        for (const NamedSolid& solid : kSolids)
            message += (&solid == kSolids.data() ? " \"" : ", \"") + std::string(solid.name) + '"';
    }
    throw InvalidInput({{"material", '"' + std::string(name.substr(0, 200)) + '"', std::move(message)}});
}

}  // namespace libblade
