// Units: the first byte is a dimension, the rest a text. What is accepted goes to every unit and back, and is written and
// read back to the same bits; names of fields and suffixes are looked up in the same text.
#include <cmath>
#include <cstring>
#include <string>

#include "fuzz.hpp"
#include "libblade/parameters.hpp"
#include "libblade/units.hpp"

using namespace libblade;

namespace {
bool same_bits(double a, double b) { return std::memcmp(&a, &b, sizeof a) == 0; }
}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    if (size == 0) return 0;
    const auto dimension = static_cast<Dimension>(data[0] % (static_cast<int>(Dimension::effusivity) + 1));
    const std::string_view text(reinterpret_cast<const char*>(data + 1), size - 1);

    const std::string_view unit = unit_of_suffix(text, dimension);
    if (!unit.empty()) FUZZ_REQUIRE(std::isfinite(to_si(1.0, unit, dimension, "")));
    const NamedField named = resolve_field(text);
    if (named.field != nullptr) FUZZ_REQUIRE(text.substr(0, named.field->path.size()) == named.field->path);
    if (data[0] >= 0xF0 && text.size() < 40) {  // a thousand times as slow as the rest
        const std::string near = nearest_field(text);
        FUZZ_REQUIRE(near.empty() || find_field(near) != nullptr);
    }

    double value = 0.0;
    try {
        value = parse_quantity(text, dimension, "field");
    } catch (const InvalidInput& refusal) {
        fuzz::check_refusal(refusal);
        return 0;
    }
    FUZZ_REQUIRE(std::isfinite(value));
    const std::string si = dimension == Dimension::none ? "" : std::string(si_unit(dimension));
    const std::string written = number_text(value, 17) + (si.empty() ? "" : " " + si);
    FUZZ_REQUIRE(same_bits(parse_quantity(written, dimension, "field"), value));
    for (const std::string_view other : units_of(dimension)) {
        const double there = from_si(value, other, dimension);
        if (!std::isfinite(there) || std::abs(there) < 1e-290) continue;
        const double back = to_si(there, other, dimension, "field");
        // Three roundings; of a temperature beside the shift of its scale.
        FUZZ_REQUIRE(std::abs(back - value) <=
                     1e-14 * (std::abs(value) + 600.0 * (dimension == Dimension::temperature)));
        FUZZ_REQUIRE(!quantity_text(value, other, dimension).empty());
    }
    return 0;
}
