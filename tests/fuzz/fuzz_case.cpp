// Case files: any bytes are read or refused; what is read is written, read back and migrated to the same case.
#include "fuzz.hpp"
#include "libblade/case_file.hpp"
#include "libblade/parameters.hpp"

using namespace libblade;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view text(reinterpret_cast<const char*>(data), size);
    Case found;
    try {
        found = read_case(text);
    } catch (const InvalidInput& refusal) {
        fuzz::check_refusal(refusal);
        try {
            (void)migrate_case(text);
            FUZZ_REQUIRE(false && "migrate_case takes what read_case refuses");
        } catch (const InvalidInput&) {
        }
        return 0;
    }
    FUZZ_REQUIRE(check(found).empty());
    const std::string written = write_case(found);
    const Case again = read_case(written);
    FUZZ_REQUIRE(again == found);
    FUZZ_REQUIRE(write_case(again) == written);
    const std::string moved = migrate_case(text);
    if (moved == text) return 0;
    FUZZ_REQUIRE(read_case(moved) == found);
    FUZZ_REQUIRE(migrate_case(moved) == moved);
    return 0;
}
