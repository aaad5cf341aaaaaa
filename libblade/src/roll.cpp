#include "libblade/roll.hpp"

namespace libblade {

double rms_roughness(const Roll& roll) noexcept { return 1.25 * roll.land_roughness; }

}  // namespace libblade
