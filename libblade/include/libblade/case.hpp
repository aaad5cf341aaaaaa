// One complete nip: blade, tip, roll, ink and setting.
#pragma once

#include <string>

#include "libblade/blade.hpp"
#include "libblade/ink.hpp"
#include "libblade/roll.hpp"
#include "libblade/setting.hpp"
#include "libblade/tip.hpp"

namespace libblade {

struct Case {
    std::string name;
    std::string note;
    Blade blade;
    Tip tip = Facet{};
    Roll roll;
    Ink ink;
    Setting setting;
    bool operator==(const Case&) const = default;
};

}  // namespace libblade
