// The one place of the version number: CMake and the Python package read it from here.
#pragma once

#include <string_view>

namespace libblade {

inline constexpr std::string_view version = "0.1.0";

}  // namespace libblade
