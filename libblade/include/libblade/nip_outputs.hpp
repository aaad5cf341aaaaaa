// The numbers of an operating point, once: name, units, meaning. Attributes, dataset variables, answers and docs
// come from it.
#pragma once

#include <array>
#include <string_view>

#include "libblade/nip.hpp"

namespace libblade {

struct Output {
    std::string_view name;
    std::string_view unit;  // SI
    std::string_view display_unit;
    double display_scale;  // display value = SI value * scale
    std::string_view long_name;
    double OperatingPoint::*member;
};

namespace outputs {

using P = OperatingPoint;
inline constexpr double to_deg = 57.29577951308232;  // 180 / pi

inline constexpr auto table = std::to_array<Output>({
    {"film_on_lands", "m", "um", 1e6, "ink that passes between blade and lands, per roll area", &P::film_on_lands},
    {"excess_ink", "m", "um", 1e6, "film on the lands beyond that of a clean wipe", &P::excess_ink},
    {"film_after_step", "m", "um", 1e6, "largest film on the lands after the load step", &P::film_after_step},
    {"excess_after_step", "m", "um", 1e6, "largest excess ink after the load step", &P::excess_after_step},
    {"ink_carried", "m", "cm3/m2", 1e6, "film on the lands plus ink in the cells", &P::ink_carried},
    {"min_film", "m", "um", 1e6, "smallest gap between mean surfaces", &P::min_film},
    {"leading_gap", "m", "um", 1e6, "gap at the ink-side end of the facet, where its rounding begins", &P::leading_gap},
    {"ink_wedge_angle", "rad", "deg", to_deg, "between the roll and the face of the tip that meets the ink",
     &P::ink_wedge_angle},
    {"clean_wipe_film", "m", "um", 1e6, "film of a parallel facet whose asperities alone carry the load",
     &P::clean_wipe_film},
    {"tip_deflection", "m", "mm", 1e3, "tip deflection normal to the undeformed blade", &P::tip_deflection},
    {"interference", "m", "mm", 1e3, "holder advance past first touch", &P::interference},
    {"effective_angle", "rad", "deg", to_deg, "blade to roll tangent at the contact", &P::effective_angle},
    {"tip_rotation", "rad", "deg", to_deg, "set angle minus tip slope", &P::tip_rotation},
    {"facet_tilt", "rad", "deg", to_deg, "facet to roll, positive where it opens towards the incoming ink",
     &P::facet_tilt},
    {"bedded_angle", "rad", "deg", to_deg, "effective angle at which the facet is parallel to the roll",
     &P::bedded_angle},
    {"line_load", "N/m", "N/m", 1.0, "normal load per width", &P::line_load},
    {"tangential_load", "N/m", "N/m", 1.0, "friction load per width along the roll motion", &P::tangential_load},
    {"hydrodynamic_lift", "N/m", "N/m", 1.0, "load carried by film and wedge", &P::hydrodynamic_lift},
    {"asperity_load", "N/m", "N/m", 1.0, "load carried by asperities", &P::asperity_load},
    {"friction_coefficient", "1", "1", 1.0, "tangential over normal load", &P::friction_coefficient},
    {"facet_length", "m", "um", 1e6, "length of the worn facet along the roll", &P::facet_length},
    {"contact_width", "m", "um", 1e6, "shortest stretch that carries 95 % of the load", &P::contact_width},
    {"elastic_width", "m", "um", 1e6, "contact width of the unworn edge (Hertz, capped by hardness)",
     &P::elastic_width},
    {"mean_pressure", "Pa", "MPa", 1e-6, "load over the facet length", &P::mean_pressure},
    {"bearing_pressure", "Pa", "MPa", 1e-6, "mean pressure over the contact width", &P::bearing_pressure},
    {"elastic_pressure", "Pa", "MPa", 1e-6, "load over the elastic width of the unworn edge", &P::elastic_pressure},
    {"peak_pressure", "Pa", "MPa", 1e-6, "largest pressure of film plus asperities", &P::peak_pressure},
    {"film_load_share", "1", "%", 100.0, "share of the load on the film under the facet", &P::film_load_share},
    {"asperity_load_share", "1", "%", 100.0, "share of the load on asperities", &P::asperity_load_share},
    {"wedge_load_share", "1", "%", 100.0, "share of the load on the wedge of ink in front", &P::wedge_load_share},
    {"lambda_ratio", "1", "1", 1.0, "smallest gap over rms roughness", &P::lambda_ratio},
    {"power_per_width", "W/m", "W/m", 1.0, "friction power per width", &P::power_per_width},
    {"film_temperature", "K", "K", 1.0, "temperature of the film", &P::film_temperature},
    {"max_bending_stress", "Pa", "MPa", 1e-6, "largest bending stress of the blade", &P::max_bending_stress},
    {"stress_ratio", "1", "%", 100.0, "largest bending stress over the yield strength", &P::stress_ratio},
    {"wear_rate", "m/m", "mm/1000 km", 1e9, "blade length worn per length of web", &P::wear_rate},
    {"tangent_stiffness", "N/m2", "N/m/mm", 1e-3, "stiffness of the blade against holder advance",
     &P::tangent_stiffness},
    {"run_out_load", "N/m", "N/m", 1.0, "amplitude of the line load over a turn of the roll", &P::run_out_load},
    {"run_out_angle", "rad", "deg", to_deg, "amplitude of the effective angle over a turn", &P::run_out_angle},
    {"run_out_tilt", "rad", "deg", to_deg, "amplitude of the facet tilt over a turn", &P::run_out_tilt},
    {"film_over_turn", "m", "um", 1e6, "largest film on the lands over a turn of the roll", &P::film_over_turn},
});

}  // namespace outputs

/// The member of an operating point by its name; null: no such output.
[[nodiscard]] constexpr double OperatingPoint::*find_output(std::string_view name) noexcept {
    for (const Output& o : outputs::table)
        if (o.name == name) return o.member;
    return nullptr;
}
}  // namespace libblade
