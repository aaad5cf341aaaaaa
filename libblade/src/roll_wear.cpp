#include "libblade/roll_wear.hpp"

#include <cmath>
#include <limits>
#include <numbers>
#include <string>

#include "engraving_opening.hpp"
#include "libblade/error.hpp"
#include "libblade/root.hpp"

namespace libblade {

namespace {

void require(bool good, const char* name, double value, const char* message) {
    if (!good) throw InvalidInput({{name, std::to_string(value), message}});
}

/// V / V0 = (1 - z / D) to this power.
double volume_exponent(const Engraving& e) noexcept {
    if (e.profile == CellProfile::flat) return 1.0;
    return e.pattern == Pattern::channel ? 1.5 : 2.0;
}

/// Walls of elongated cells that leave this opening.
double wall_of_opening(Engraving e, double open) {
    const auto excess = [&](double wall) {
        e.wall_width = wall;
        return open_fraction(e) - open;
    };
    const double widest = pitch(e), start = e.wall_width;
    return bracketed_root(excess, {start, excess(start), widest, -open}, 1e-15 * widest, 1e-15, 200).x;
}

}  // namespace

double land_loss_per_pass(double specific_wear, double asperity_load, double land_fraction) noexcept {
    return specific_wear * asperity_load / land_fraction;
}

Engraving worn_engraving(const Engraving& engraving, double land_loss) {
    const double depth = cell_depth(engraving);
    const bool smooth = engraving.pattern == Pattern::smooth;
    require(land_loss >= 0.0 && (land_loss < depth || (smooth && std::isfinite(land_loss))), "land_loss", land_loss,
            "must be at least 0 m and below the depth of the cells");
    if (smooth) return engraving;
    Engraving worn = engraving;
    worn.cell_depth = depth - land_loss;
    worn.cell_volume = Engraving{}.cell_volume;  // unused beside a depth, as a case keeps it
    if (engraving.profile == CellProfile::flat || land_loss == 0.0) return worn;
    const double share = 1.0 - land_loss / depth, scale = std::sqrt(share), p = pitch(engraving);
    if (engraving.corner_radius > 0.0)
        worn.corner_radius = scale * detail::lattice(engraving, engraving.wall_width).corner_radius;
    if (engraving.pattern == Pattern::elongated)
        worn.wall_width = wall_of_opening(worn, share * open_fraction(engraving));
    else
        worn.wall_width = p - scale * (p - engraving.wall_width);
    if (engraving.land_fraction)  // the stated opening shrinks as the geometric one
        worn.land_fraction =
            1.0 - (1.0 - *engraving.land_fraction) * (engraving.pattern == Pattern::channel ? scale : share);
    return worn;
}

double land_loss_at(const Engraving& engraving, double volume_share) {
    require(volume_share >= 0.0 && volume_share < 1.0, "volume_share", volume_share, "must be from 0 to below 1");
    const double depth = cell_depth(engraving);
    require(depth > 0.0, "roll.engraving.cell_depth", depth,
            "must be above 0 m: a roll without cells has none to lose");
    return -depth * std::expm1(std::log1p(-volume_share) / volume_exponent(engraving));
}

RollLife roll_life(const Roll& roll, const RollDuty& duty, double volume_share) {
    const auto at_least_0 = [](double value) { return value >= 0.0 && std::isfinite(value); };
    require(at_least_0(roll.specific_wear), "roll.specific_wear", roll.specific_wear, "must be at least 0 m2/N");
    require(at_least_0(roll.dry_specific_wear), "roll.dry_specific_wear", roll.dry_specific_wear,
            "must be at least 0 m2/N");
    require(at_least_0(duty.asperity_load), "asperity_load", duty.asperity_load, "must be at least 0 N/m");
    require(at_least_0(duty.dry_load), "dry_load", duty.dry_load, "must be at least 0 N/m");
    require(duty.dry_share >= 0.0 && duty.dry_share <= 1.0, "dry_share", duty.dry_share, "must be from 0 to 1");
    require(duty.surface_speed > 0.0 && std::isfinite(duty.surface_speed), "surface_speed", duty.surface_speed,
            "must be above 0 m/s");
    const Engraving& fresh = roll.engraving;
    const double loss = land_loss_at(fresh, volume_share);
    const Engraving worn = worn_engraving(fresh, loss);
    const double f = land_fraction(fresh), lost = volume_share * cell_volume(fresh);
    // Of the ceramic, per roll area: in all, and per pass.
    const double removed = loss - lost * (1.0 - f) / open_fraction(fresh);
    const double per_pass = (1.0 - duty.dry_share) * roll.specific_wear * duty.asperity_load +
                            duty.dry_share * roll.dry_specific_wear * duty.dry_load;
    RollLife out;
    out.land_loss = loss;
    out.cell_volume = cell_volume(worn);
    out.land_fraction = land_fraction(worn);
    out.wall_width = worn.wall_width;
    out.loss_per_pass = land_loss_per_pass(1.0, per_pass, f);
    out.revolutions = removed == 0.0   ? 0.0
                      : per_pass > 0.0 ? removed / per_pass
                                       : std::numeric_limits<double>::infinity();
    out.distance = out.revolutions * 2.0 * std::numbers::pi * roll.radius;
    out.hours = out.distance / duty.surface_speed / 3600.0;
    return out;
}

}  // namespace libblade
