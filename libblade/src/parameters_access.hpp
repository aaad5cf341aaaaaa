// The fields of a case as numbers, each with what reads and what sets it. Not installed.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "libblade/parameters.hpp"

namespace libblade::detail {

using Number = std::optional<double>;  // empty: this case has no such field

struct NumberAccess {
    std::string_view path;
    Number (*get)(const Case&);
    void (*set)(Case&, double);
};
/// Null: no such field, or a choice.
[[nodiscard]] const NumberAccess* find_access(std::string_view path) noexcept;

[[noreturn]] void refuse(std::string_view path, std::string_view value, std::string message);
[[nodiscard]] Facet& facet_of(Case& target, std::string_view path);
[[nodiscard]] BladeSection& section_of(Case& target, std::size_t index);
[[nodiscard]] Number edge_radius(const Case& c);

/// What another law makes of an ink: the same flow curve where it can hold it, else the same viscosity at high shear.
Newtonian as_law(const Rheology& from, Newtonian law);
PowerLaw as_law(const Rheology& from, PowerLaw law);
Cross as_law(const Rheology& from, Cross law);
CarreauYasuda as_law(const Rheology& from, CarreauYasuda law);

template <class Law>
Law& law_of(Case& target) {
    if (!std::holds_alternative<Law>(target.ink.rheology)) target.ink.rheology = as_law(target.ink.rheology, Law{});
    return std::get<Law>(target.ink.rheology);
}

template <class Kind>
Kind& bedding_of(Case& target, std::string_view path) {
    Facet& facet = facet_of(target, path);
    if (!std::holds_alternative<Kind>(facet.bedding)) facet.bedding = Kind{};
    return std::get<Kind>(facet.bedding);
}

}  // namespace libblade::detail
