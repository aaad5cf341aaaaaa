// Steps along the sliding distance with an error and dense output. Not installed.
#pragma once

#include <functional>
#include <memory>
#include <vector>

namespace libblade::detail {

/// dy/ds at a state and a distance; false: there is no answer.
using WearRates = std::function<bool(const std::vector<double>& y, double s, std::vector<double>& out)>;

class WearStepper {
  public:
    virtual ~WearStepper() = default;
    /// False: some stage had no answer.
    [[nodiscard]] virtual bool take(const WearRates& rates, const std::vector<double>& y, double s, double step) = 0;
    /// Within the step, at a share of it.
    [[nodiscard]] virtual std::vector<double> within(double share) const = 0;
    [[nodiscard]] const std::vector<double>& end() const noexcept { return end_; }
    /// In units of the tolerance, absolute and relative; root mean square.
    [[nodiscard]] double error(double tolerance) const;
    /// The size of the next step over this one's at an error.
    [[nodiscard]] virtual double growth(double error) const = 0;

  protected:
    std::vector<double> start_, end_, error_;
};

/// Two numbers that may be stiff: bedding relaxes a straight facet's tilt within some ten to a hundred metres of a life of
/// hundreds of kilometres. Rosenbrock's method of order 4 with an embedded one of order 3, L-stable: it passes over a tilt
/// that follows and resolves one that moves (RODAS: Hairer & Wanner 1996, Solving Ordinary Differential Equations II, from
/// memory; coefficients and form of Boost.Odeint's rosenbrock4, which itself does not compile as C++20 with Boost 1.74).
/// `moving`: the rates depend on the distance itself.
[[nodiscard]] std::unique_ptr<WearStepper> stiff_stepper(bool moving);
/// Many numbers: Dormand & Prince's method of order 5 (Boost.Odeint). A profile relaxes within the distance that wears off
/// the height over which its pressure falls, some 50 m: thousands of steps in a life, each of six rates.
[[nodiscard]] std::unique_ptr<WearStepper> explicit_stepper();

}  // namespace libblade::detail
