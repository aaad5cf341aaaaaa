// How wear takes metal from a tip: two tiers of one law. Not installed.
#pragma once

#include <memory>
#include <vector>

#include "libblade/wear.hpp"
#include "libblade/wear_edge.hpp"
#include "nip_held.hpp"

namespace libblade::detail {

using Vector = std::vector<double>;

/// What the contact does to the tip, mean over a turn of the roll.
struct Rub {
    double asperity_load = 0.0;    ///< N_a [N/m]
    double asperity_moment = 0.0;  ///< about the facet's centre, x downstream [N]
    Vector pressure;               ///< of the asperities at evenly spaced places, upstream to downstream [Pa]
};

/// The blade's end where its history began.
struct TipFrame {
    double angle = 0.0;         ///< B [rad]
    double first_length = 0.0;  ///< facet [m]
    double thickness = 0.0;     ///< [m]
    bool fully_worn = false;    ///< the facet has eaten the cut face, by now
    Orientation orientation = Orientation::doctoring;
};

/// One tier. The meaning of its numbers is its own; they are scaled so that an error of the tolerance is alike in each.
class WornTip {
  public:
    explicit WornTip(const TipFrame& frame) : frame_(frame) {}
    virtual ~WornTip() = default;
    WornTip(const WornTip&) = delete;
    WornTip& operator=(const WornTip&) = delete;

    [[nodiscard]] virtual Vector at_start() const = 0;
    [[nodiscard]] virtual bool sound(const Vector& y) const = 0;
    [[nodiscard]] virtual Cut cut(const Vector& y) const = 0;
    [[nodiscard]] virtual HeldTip held(const Vector& y) const = 0;
    /// Worn away from the square end, by the geometry [m2].
    [[nodiscard]] virtual double area(const Vector& y) const = 0;
    /// The same as the integral of the wear [m2].
    [[nodiscard]] virtual double worn(const Vector& y) const = 0;
    [[nodiscard]] virtual double bedded_angle(const Vector& y) const = 0;
    /// Above 0: the facet has eaten the cut face.
    [[nodiscard]] virtual double beyond_full(const Vector& y) const = 0;
    /// Of the numbers, per sliding distance.
    virtual void rates(const Vector& y, const Rub& rub, double specific_wear, Vector& out) const = 0;
    /// Places at which Rub::pressure is wanted.
    [[nodiscard]] virtual std::size_t places() const { return 0; }
    void wear_through() noexcept { frame_.fully_worn = true; }
    [[nodiscard]] const TipFrame& frame() const noexcept { return frame_; }

  protected:
    TipFrame frame_;
};

/// mesh: cells of the profile, 32 each.
[[nodiscard]] std::unique_ptr<WornTip> worn_tip(WearTier tier, const TipFrame& frame, int mesh);

}  // namespace libblade::detail
