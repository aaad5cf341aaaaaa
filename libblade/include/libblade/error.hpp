// Bad input: thrown once, with every problem found.
#pragma once

#include <stdexcept>
#include <string>
#include <vector>

namespace libblade {

/// One thing wrong with the input.
struct Problem {
    std::string path;     ///< dotted field path, e.g. "blade.thickness"
    std::string value;    ///< the value as given, with its unit
    std::string message;  ///< what is wrong and what is allowed, in words
    bool operator==(const Problem&) const = default;
};

/// The caller's mistake. what() lists every problem, one a line: "path: message (got value)". Both are well-formed UTF-8
/// without control characters, whatever the input was.
class InvalidInput : public std::invalid_argument {
  public:
    explicit InvalidInput(std::vector<Problem> problems);
    [[nodiscard]] const std::vector<Problem>& problems() const noexcept { return problems_; }

  private:
    std::vector<Problem> problems_;
};

}  // namespace libblade
