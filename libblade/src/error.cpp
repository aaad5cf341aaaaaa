#include "libblade/error.hpp"

#include <utility>

namespace libblade {
namespace {

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
    : std::invalid_argument(summary(problems)), problems_(std::move(problems)) {}

}  // namespace libblade
