#include "wear_tip.hpp"

#include <algorithm>
#include <cmath>

namespace libblade::detail {

namespace {

constexpr double kAngleScale = 0.1;  // [rad]; times the tolerance well above the nip's noise in the tilt, some 1e-10
constexpr double kEndScale = 1e-4, kHeightScale = 1e-6;  // [m]

/// A straight facet. Numbers: area over that of a full facet, turn over kAngleScale.
class StraightTip final : public WornTip {
  public:
    explicit StraightTip(const TipFrame& frame)
        : WornTip(frame), full_(full_corner_area(frame.angle, frame.thickness)) {}

    [[nodiscard]] Vector at_start() const override {
        return {frame_.fully_worn ? 1.0 : corner_area(frame_.first_length, frame_.angle) / full_, 0.0};
    }
    [[nodiscard]] bool sound(const Vector& y) const override {
        const double B = bedded_angle(y);
        return y[0] > 0.0 && B > 0.0 && B < 1.57;
    }
    [[nodiscard]] Cut cut(const Vector& y) const override {
        return cut_at(area(y), bedded_angle(y), frame_.fully_worn, frame_.thickness);
    }
    [[nodiscard]] HeldTip held(const Vector& y) const override {
        return {bedded_angle(y), cut(y).length, frame_.fully_worn, {}};
    }
    [[nodiscard]] double area(const Vector& y) const override { return full_ * y[0]; }
    [[nodiscard]] double worn(const Vector& y) const override { return area(y); }
    [[nodiscard]] double bedded_angle(const Vector& y) const override { return frame_.angle + kAngleScale * y[1]; }
    [[nodiscard]] double beyond_full(const Vector& y) const override {
        return area(y) / full_corner_area(bedded_angle(y), frame_.thickness) - 1.0;
    }
    void rates(const Vector& y, const Rub& rub, double specific_wear, Vector& out) const override {
        const double b = cut(y).length, most = rub.asperity_load * b / 6.0;
        const double turn = -12.0 * specific_wear * std::clamp(rub.asperity_moment, -most, most) / (b * b * b);
        out[0] = specific_wear * rub.asperity_load / full_;
        out[1] = (frame_.orientation == Orientation::doctoring ? turn : -turn) / kAngleScale;
    }

  private:
    double full_;
};

/// The worn surface. In the frame of the facet at the start, c runs along it from the body's side to the cut face and z into
/// the metal. Numbers: c of both ends over kEndScale, z at the places between over kHeightScale, worn area over that of a
/// full facet. The ends lie on the two faces, z = z(c).
///
/// Places keep their shares xi of the way between the ends: dz/ds = k_b p_a + v dz/dc with their own velocity v. With v dz/dc
/// by central differences over the width that a place stands for, the trapezoidal area grows by exactly the sum of k_b p_a
/// times those widths; pressures are scaled so that this sum is k_b N_a of the nip (own).
class ProfileTip final : public WornTip {
  public:
    ProfileTip(const TipFrame& frame, std::size_t cells)
        : WornTip(frame),
          cells_(cells),
          tan_(std::tan(frame.angle)),
          full_(full_corner_area(frame.angle, frame.thickness)),
          corner_height_(std::max(0.0, frame.thickness - frame.first_length * std::sin(frame.angle)) *
                         std::cos(frame.angle)),
          corner_(frame.first_length + corner_height_ * tan_) {}

    [[nodiscard]] Vector at_start() const override {
        Vector y(cells_ + 2, 0.0);
        y[1] = frame_.first_length / kEndScale;
        y.back() = first_area() / full_;
        return y;
    }
    [[nodiscard]] bool sound(const Vector& y) const override {
        return y[1] - y[0] > 1e-3 && std::abs(height(y, cells_) - height(y, 0)) < 0.3 * (y[1] - y[0]) * kEndScale;
    }
    [[nodiscard]] Cut cut(const Vector& y) const override {
        const double s = std::sin(frame_.angle), c = std::cos(frame_.angle), lost = length_lost(y);
        const double run = kEndScale * (y[1] - y[0]), rise = height(y, cells_) - height(y, 0);
        return {std::hypot(run, rise), lost, lost + 0.5 * (rise * s - run * c), 0.5 * (run * s + rise * c)};
    }
    [[nodiscard]] HeldTip held(const Vector& y) const override {
        const double run = kEndScale * (y[1] - y[0]), low = height(y, 0), rise = height(y, cells_) - low;
        HeldTip tip{frame_.angle + std::atan(rise / run), std::hypot(run, rise), frame_.fully_worn, Vector(cells_ + 1)};
        const double slant = run / tip.facet_length;
        for (std::size_t i = 0; i <= cells_; ++i)
            tip.profile[upstream(i)] = slant * (height(y, i) - low - rise * share(i));
        const double least = *std::min_element(tip.profile.begin(), tip.profile.end());
        for (double& z : tip.profile) z -= least;
        return tip;
    }
    [[nodiscard]] double area(const Vector& y) const override {
        const double h = spacing(y), out = -kEndScale * y[0], in = kEndScale * y[1];
        double sum = 0.0;
        for (std::size_t i = 0; i <= cells_; ++i) sum += width(i) * h * height(y, i);
        sum += first_area() - 0.5 * out * out * tan_;
        const double cut_run = std::min(in, corner_) - frame_.first_length;
        if (!frame_.fully_worn) return sum - 0.5 * cut_run * cut_run / tan_;
        const double back = corner_ - in, all = corner_ - frame_.first_length;
        return sum + back * (corner_height_ + 0.5 * back * tan_) - 0.5 * all * all / tan_;
    }
    [[nodiscard]] double worn(const Vector& y) const override { return full_ * y.back(); }
    [[nodiscard]] double bedded_angle(const Vector& y) const override {
        // Least-squares line over evenly spaced places.
        double moment = 0.0, second = 0.0;
        for (std::size_t i = 0; i <= cells_; ++i) {
            moment += width(i) * (share(i) - 0.5) * height(y, i);
            second += width(i) * (share(i) - 0.5) * (share(i) - 0.5);
        }
        return frame_.angle + std::atan(moment / second / (kEndScale * (y[1] - y[0])));
    }
    [[nodiscard]] double beyond_full(const Vector& y) const override {
        const double left = corner_ - frame_.first_length;
        return left > 0.0 ? (kEndScale * y[1] - corner_) / left : 1.0;
    }
    void rates(const Vector& y, const Rub& rub, double specific_wear, Vector& out) const override {
        const double h = spacing(y);
        const auto pressure = [&](std::size_t i) { return rub.pressure[upstream(i)]; };
        double sum = 0.0;
        for (std::size_t i = 0; i <= cells_; ++i) sum += width(i) * h * pressure(i);
        const double by = sum > 0.0 ? specific_wear * rub.asperity_load / sum : 0.0;
        const double first = by * pressure(0), last = by * pressure(cells_);
        const double slope_first = (height(y, 1) - height(y, 0)) / h;
        const double slope_last = (height(y, cells_) - height(y, cells_ - 1)) / h;
        const double body = -first / (tan_ + slope_first);
        const double cut = last / ((frame_.fully_worn ? -tan_ : 1.0 / tan_) - slope_last);
        out[0] = body / kEndScale, out[1] = cut / kEndScale;
        for (std::size_t i = 1; i < cells_; ++i) {
            const double v = body + share(i) * (cut - body);
            out[i + 1] = (by * pressure(i) + v * (height(y, i + 1) - height(y, i - 1)) / (2.0 * h)) / kHeightScale;
        }
        out.back() = specific_wear * rub.asperity_load / full_;
    }
    [[nodiscard]] std::size_t places() const override { return cells_ + 1; }

  private:
    [[nodiscard]] double share(std::size_t i) const { return static_cast<double>(i) / static_cast<double>(cells_); }
    [[nodiscard]] double width(std::size_t i) const { return i == 0 || i == cells_ ? 0.5 : 1.0; }
    [[nodiscard]] double spacing(const Vector& y) const {
        return kEndScale * (y[1] - y[0]) / static_cast<double>(cells_);
    }
    /// The body lies downstream of a doctoring blade.
    [[nodiscard]] std::size_t upstream(std::size_t i) const {
        return frame_.orientation == Orientation::doctoring ? cells_ - i : i;
    }
    [[nodiscard]] double height(const Vector& y, std::size_t i) const {
        if (i == 0) return -kEndScale * y[0] * tan_;
        if (i < cells_) return kHeightScale * y[i + 1];
        const double c = kEndScale * y[1];
        return frame_.fully_worn ? corner_height_ + (corner_ - c) * tan_ : (c - frame_.first_length) / tan_;
    }
    [[nodiscard]] double length_lost(const Vector& y) const {
        return frame_.first_length * std::cos(frame_.angle) + height(y, 0) / std::sin(frame_.angle);
    }
    [[nodiscard]] double first_area() const { return corner_area(frame_.first_length, frame_.angle); }

    std::size_t cells_;
    double tan_, full_;
    double corner_height_, corner_;  ///< z and c at which the cut face ends [m]
};

}  // namespace

std::unique_ptr<WornTip> worn_tip(WearTier tier, const TipFrame& frame, int mesh) {
    if (tier == WearTier::profile)
        return std::make_unique<ProfileTip>(frame, static_cast<std::size_t>(mesh > 0 ? 32 * mesh : 16));
    return std::make_unique<StraightTip>(frame);
}

}  // namespace libblade::detail
