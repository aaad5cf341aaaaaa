// A nip whose holder and tip are given and whose blade remembers where it stands: what wear asks of the nip, point after
// point along a history. Not installed.
//
// Quasi-static: from where it stood the blade turns the way its elastic tip drives it until that drive vanishes. It thus
// stays on its branch as long as there is one and jumps where the branch folds.
#pragma once

#include <span>
#include <vector>

#include "nip_prepare.hpp"

namespace libblade::detail {

/// What wear has made of the tip.
struct HeldTip {
    double bedded_angle = 0.0;  ///< at which the straight facet lies parallel to the roll [rad]
    double facet_length = 0.0;  ///< [m]
    bool fully_worn = false;    ///< the facet has eaten the cut face
    std::vector<double>
        profile;  ///< height of the worn surface over the straight facet, upstream to downstream [m]; empty: 0
};

/// Where a blade stands.
struct Place {
    double angle = 0.0;  ///< effective angle [rad]
    double u = 0.0;      ///< ln(low_gap + 3 sigma)
};
[[nodiscard]] inline Place place_of(const State& state) noexcept { return {state.angle, state.u}; }

class HeldNip {
  public:
    HeldNip(const Case& nip_case, const HeldTip& tip, const NipOptions& options);

    /// The state the blade comes to from a place.
    [[nodiscard]] State settle(const Place& from, const Target& target);
    /// The same while what the holder keeps moves.
    [[nodiscard]] State follow(const Place& from, const Target& begin, const Target& end);
    /// The same, the speed raised from rest.
    [[nodiscard]] State from_rest(const Place& from, const Target& target);
    /// What a holder keeps that is set at the case's own load or interference with this facet, bedded parallel there.
    [[nodiscard]] Bedded set_holder() const;

    [[nodiscard]] OperatingPoint report(const State& state, const Target& target);
    /// Pressure of the asperities, mean over land and cells, at evenly spaced places of the facet [Pa].
    void asperity_pressures(const State& state, std::span<double> out);
    [[nodiscard]] double excess(const State& state) const;
    [[nodiscard]] double speed() const noexcept { return case_.setting.surface_speed; }

  private:
    [[nodiscard]] State at(const Place& from);

    const Case case_;
    const HeldTip tip_;
    const NipOptions options_;
    Prepared nip_;
};

}  // namespace libblade::detail
