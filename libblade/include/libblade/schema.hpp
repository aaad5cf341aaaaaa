// The shape of a case file as JSON Schema, and the list of fields. Both are made from the field table.
#pragma once

#include <string>

namespace libblade {

/// JSON Schema (draft 2020-12) of a case file of the current version, with nested groups. It decides what read_case
/// decides, except: ranges of texts with unit, contradictions between numbers, keys given twice, keys with dots in
/// them ("blade.thickness"), files of an older version, and the last digit of a range's end in a converted unit.
[[nodiscard]] std::string case_schema();

/// Every field as a Markdown table: meaning, unit, allowed and usual range, source of the usual range.
[[nodiscard]] std::string fields_markdown();

}  // namespace libblade
