#include "libblade/error.hpp"

#include <algorithm>
#include <string_view>
#include <utility>

namespace libblade {
namespace {

/// Length of the UTF-8 letter at the start of text; 0 where there is none, or one that steers a terminal.
std::size_t letter_length(std::string_view text) noexcept {
    const auto byte = [&](std::size_t k) -> unsigned { return static_cast<unsigned char>(text[k]); };
    const unsigned first = byte(0);
    if (first < 0x80) return first >= 0x20 && first != 0x7F ? 1 : 0;
    const std::size_t length = first < 0xC2 ? 0 : first < 0xE0 ? 2 : first < 0xF0 ? 3 : first < 0xF5 ? 4 : 0;
    if (length == 0 || length > text.size()) return 0;
    for (std::size_t k = 1; k < length; ++k)
        if ((byte(k) & 0xC0u) != 0x80u) return 0;
    // More control characters, forms that are too long, surrogates, what lies behind U+10FFFF.
    const unsigned second = byte(1);
    const bool bad = (first == 0xC2 && second < 0xA0) || (first == 0xE0 && second < 0xA0) ||
                     (first == 0xED && second > 0x9F) || (first == 0xF0 && second < 0x90) ||
                     (first == 0xF4 && second > 0x8F);
    return bad ? 0 : length;
}

/// Messages quote what they refuse: well-formed UTF-8 without control characters, whatever that was.
std::string showable(std::string_view text) {
    std::string shown;
    while (!text.empty()) {
        const std::size_t length = letter_length(text);
        shown += length > 0 ? text.substr(0, length) : "?";
        text.remove_prefix(std::max<std::size_t>(length, 1));
    }
    return shown;
}

std::vector<Problem> showable(std::vector<Problem> problems) {
    for (Problem& problem : problems)
        for (std::string* part : {&problem.path, &problem.value, &problem.message}) *part = showable(*part);
    return problems;
}

std::string summary(const std::vector<Problem>& problems) {
    if (problems.empty()) return "invalid input";
    std::string text;
    for (const Problem& problem : problems) {
        if (!text.empty()) text += '\n';
        if (!problem.path.empty()) text += problem.path + ": ";
        text += problem.message;
        if (!problem.value.empty()) text += " (got " + problem.value + ")";
    }
    return text;
}

}  // namespace

InvalidInput::InvalidInput(std::vector<Problem> problems)
    : std::invalid_argument(summary(problems = showable(std::move(problems)))), problems_(std::move(problems)) {}

}  // namespace libblade
