// What the programs share: a check that stays in every build, and what a refusal must be.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string_view>

#include "libblade/error.hpp"

#define FUZZ_REQUIRE(condition)                                                  \
    do {                                                                         \
        if (!(condition)) {                                                      \
            std::fprintf(stderr, "%s:%d: " #condition "\n", __FILE__, __LINE__); \
            std::abort();                                                        \
        }                                                                        \
    } while (false)

namespace fuzz {

/// Well-formed UTF-8 without control characters: what a terminal and Python can show.
inline bool is_showable(std::string_view text) noexcept {
    const auto byte = [&](std::size_t k) { return k < text.size() ? static_cast<unsigned char>(text[k]) : 0u; };
    for (std::size_t i = 0; i < text.size();) {
        const unsigned first = byte(i);
        if (first < 0x20 || first == 0x7f) return false;
        const std::size_t length = first < 0x80   ? 1
                                   : first < 0xC2 ? 0
                                   : first < 0xE0 ? 2
                                   : first < 0xF0 ? 3
                                   : first < 0xF5 ? 4
                                                  : 0;
        if (length == 0 || i + length > text.size()) return false;
        for (std::size_t k = 1; k < length; ++k)
            if ((byte(i + k) & 0xC0u) != 0x80u) return false;
        if (first == 0xE0 && byte(i + 1) < 0xA0) return false;  // too long a form
        if (first == 0xED && byte(i + 1) > 0x9F) return false;  // a surrogate
        if (first == 0xF0 && byte(i + 1) < 0x90) return false;
        if (first == 0xF4 && byte(i + 1) > 0x8F) return false;
        i += length;
    }
    return true;
}

/// A refusal says something, shortly, and nothing that harms whoever prints it.
inline void check_refusal(const libblade::InvalidInput& refusal) {
    FUZZ_REQUIRE(!refusal.problems().empty());
    for (const libblade::Problem& problem : refusal.problems()) {
        FUZZ_REQUIRE(!problem.message.empty());
        for (const std::string_view part : {problem.path, problem.value, problem.message}) {
            FUZZ_REQUIRE(is_showable(part));
            FUZZ_REQUIRE(part.size() < 2000);
        }
    }
}

}  // namespace fuzz
