// Case files: JSON in and out.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "libblade/case.hpp"
#include "libblade/error.hpp"

namespace libblade {

/// What write_case states in "schema"; a file without "schema" is read as this one.
inline constexpr std::string_view current_case_format = "libblade-case-1";

/// Reads a case from JSON text. Keys are the field paths nested by their dots; a value is an SI number, a text with
/// unit ("0.15 mm"), or the key carries the unit ("thickness_mm": 0.15). Throws InvalidInput with every problem at
/// once: syntax (line and column), unknown keys (with the nearest known one), wrong types, ranges, contradictions.
/// Reads the version before the current one too, "libblade-case-0".
[[nodiscard]] Case read_case(std::string_view json_text);
/// Reads a file. Throws InvalidInput when it cannot be read.
[[nodiscard]] Case load_case(const std::string& file_name);
/// SI numbers, all fields, stable key order; read_case(write_case(c)) == c.
[[nodiscard]] std::string write_case(const Case& source);

/// The text of a file of an earlier version with the names of the current one. Values, units, blanks and order stay as
/// they are spelled; a current file stays as it is. Throws InvalidInput on what read_case refuses.
[[nodiscard]] std::string migrate_case(std::string_view json_text);

}  // namespace libblade
