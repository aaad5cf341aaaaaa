// Versions of the case format and the names that fields had in earlier ones. Private to the room case_file.
#pragma once

#include <string>
#include <string_view>

namespace libblade::case_versions {

constexpr int current = 1;
constexpr int oldest = 0;
/// "libblade-case-1".
[[nodiscard]] std::string format_name(int version);

struct Format {
    enum class Kind { known, newer, foreign } kind = Kind::foreign;
    int version = current;  ///< of a known format
};
/// What the text of the key "schema" stands for.
[[nodiscard]] Format read_format(std::string_view schema_text) noexcept;

/// The path that a path of an earlier version has today, with the unit it carries: "blade.extension_mm" of version 0 is
/// "blade.free_length_mm". Every other path stays as it is.
[[nodiscard]] std::string current_path(std::string_view path, int version);
/// The name that a field of today had in an earlier version; empty when it had no other.
[[nodiscard]] std::string_view earlier_name(std::string_view current_path, int version) noexcept;

}  // namespace libblade::case_versions
