#include "libblade/film.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include "libblade/error.hpp"
#include "libblade/film_kernel.hpp"

namespace libblade {
namespace {

// ---- input ----------------------------------------------------------------------------------------------------------

class Checker {
  public:
    void size(const char* path, std::size_t got, std::size_t wanted) {
        if (got != wanted)
            add(path, std::to_string(got) + " values", "must have " + std::to_string(wanted) + " values");
    }
    void positive(const char* path, std::span<const double> values) {
        for (std::size_t i = 0; i < values.size(); ++i) {
            if (std::isfinite(values[i]) && values[i] > 0.0) continue;
            add(path + ("[" + std::to_string(i) + "]"), std::to_string(values[i]), "must be finite and above 0");
            return;  // the first of an array is enough
        }
    }
    void at_least_zero(const char* path, double value) {
        if (!std::isfinite(value) || value < 0.0) add(path, std::to_string(value), "must be finite and not below 0");
    }
    void increasing(const char* path, std::span<const double> x) {
        for (std::size_t i = 0; i < x.size(); ++i) {
            if (std::isfinite(x[i]) && (i == 0 || x[i] > x[i - 1])) continue;
            add(path + ("[" + std::to_string(i) + "]"), std::to_string(x[i]),
                "must be finite and above the one before");
            return;
        }
    }
    void add(std::string path, std::string value, std::string message) {
        problems_.push_back({std::move(path), std::move(value), std::move(message)});
    }
    void raise() {
        if (!problems_.empty()) throw InvalidInput(std::move(problems_));
    }

  private:
    std::vector<Problem> problems_;
};

void check(const FilmInput& in) {
    Checker c;
    const std::size_t n = in.x.size();
    if (n < 2) c.add("x", std::to_string(n) + " values", "must have at least 2 nodes");
    const std::size_t cells = n < 2 ? 1 : n - 1;
    c.size("gap", in.gap.size(), std::max<std::size_t>(n, 2));
    c.size("pressure_viscosity", in.pressure_viscosity.size(), cells);
    c.size("shear_viscosity", in.shear_viscosity.size(), cells);
    c.size("flow_factor", in.flow_factor.size(), cells);
    c.increasing("x", in.x);
    c.positive("gap", in.gap);
    c.positive("pressure_viscosity", in.pressure_viscosity);
    c.positive("shear_viscosity", in.shear_viscosity);
    c.positive("flow_factor", in.flow_factor);
    c.positive("speed", std::span<const double>(&in.speed, 1));
    c.at_least_zero("pressure_in", in.pressure_in);
    c.at_least_zero("pressure_out", in.pressure_out);
    if (in.film_supply) c.at_least_zero("film_supply", *in.film_supply);
    c.raise();
}

// ---- general solver -------------------------------------------------------------------------------------------------

// For a given flow q the complementarity is explicit when swept upstream from the outlet: dp/dx = k (U h / 2 - q) / h^3
// wherever p > 0, and p stops at zero. Void can begin (going upstream: end) only where the gap is that of the flow,
// h_r = 2 q / U, on a rising flank. So the pressure at the inlet is a convex, increasing function of q, and Newton from the
// flow of the never-ruptured film, which is not below the root, falls to it without overshooting. With the gap linear in
// each cell all integrals are exact.
class Sweep {
  public:
    explicit Sweep(const FilmInput& in) : in_(in), n_(in.x.size()), k_(n_ - 1), r_(n_) {
        for (std::size_t i = 0; i < n_; ++i) r_[i] = 1.0 / in.gap[i];
        for (std::size_t i = 0; i + 1 < n_; ++i) {
            k_[i] = 12.0 * in.pressure_viscosity[i] / in.flow_factor[i];
            const Integrals s = integrals(k_[i] * dx(i), r_[i], r_[i + 1]);
            total_.P2 += s.P2;
            total_.P3 += s.P3;
        }
    }

    [[nodiscard]] double flow_without_rupture() const noexcept {
        return (in_.pressure_in - in_.pressure_out + 0.5 * in_.speed * total_.P2) / total_.P3;
    }

    struct Inlet {
        double pressure = 0.0;  // below zero: the film starts downstream of the inlet
        double by_flow = 0.0;   // its derivative
    };

    /// Nodal pressures for the flow q, from the outlet to the inlet; p[0] is not below zero.
    Inlet upstream(double q, std::span<double> p) const noexcept {
        const double U = in_.speed, gap = 2.0 * q / U;
        Inlet at{in_.pressure_out, 0.0};
        p[n_ - 1] = at.pressure;
        for (std::size_t i = n_ - 1; i-- > 0;) {
            if (at.pressure < 0.0) at = {0.0, 0.0};  // needed when a node has the rupture gap exactly
            double r2 = r_[i + 1], kdx = k_[i] * dx(i);
            if (splits(i, gap)) {
                const double t = (gap - in_.gap[i]) / (in_.gap[i + 1] - in_.gap[i]);
                const Integrals s = integrals((1.0 - t) * kdx, 1.0 / gap, r2);
                at.pressure -= 0.5 * U * s.P2 - q * s.P3;
                at.by_flow += s.P3;
                if (at.pressure < 0.0) at = {0.0, 0.0};
                kdx *= t;
                r2 = 1.0 / gap;
            }
            const Integrals s = integrals(kdx, r_[i], r2);
            at.pressure -= 0.5 * U * s.P2 - q * s.P3;
            at.by_flow += s.P3;
            p[i] = std::max(at.pressure, 0.0);
        }
        return at;
    }

    /// Load, moment and drag for the flow and the pressures of `upstream`.
    [[nodiscard]] kernel::FilmPass<double> add_up(double q, std::span<const double> p) const noexcept {
        kernel::FilmPass<double> pass;
        pass.flow = q;
        const double gap = 2.0 * q / in_.speed;
        for (std::size_t i = 0; i + 1 < n_; ++i) {
            const double h1 = in_.gap[i], h2 = in_.gap[i + 1];
            if (!splits(i, gap)) {
                add_piece(pass, i, in_.x[i], dx(i), h1, h2, p[i], p[i + 1]);
                continue;
            }
            const double t = (gap - h1) / (h2 - h1);
            // as `upstream` has it: from p[i], rounding would leave a trace of pressure in front of the void
            const Integrals s = integrals((1.0 - t) * dx(i) * k_[i], 1.0 / gap, r_[i + 1]);
            const double p_r = std::max(p[i + 1] - (0.5 * in_.speed * s.P2 - q * s.P3), 0.0);
            add_piece(pass, i, in_.x[i], t * dx(i), h1, gap, p[i], p_r);
            add_piece(pass, i, in_.x[i] + t * dx(i), (1.0 - t) * dx(i), gap, h2, p_r, p[i + 1]);
        }
        return pass;
    }

  private:
    struct Integrals {
        double P2 = 0.0, P3 = 0.0;
    };
    [[nodiscard]] static Integrals integrals(double kdx, double r1, double r2) noexcept {
        const double P2 = kdx * r1 * r2;
        return {P2, 0.5 * P2 * (r1 + r2)};
    }
    [[nodiscard]] double dx(std::size_t i) const noexcept { return in_.x[i + 1] - in_.x[i]; }
    /// The rupture gap lies inside a rising cell.
    [[nodiscard]] bool splits(std::size_t i, double gap) const noexcept {
        return in_.gap[i] < gap && gap < in_.gap[i + 1];
    }
    /// A piece that is full, void, or void and then full.
    void add_piece(kernel::FilmPass<double>& pass, std::size_t cell, double x1, double length, double h1, double h2,
                   double p1, double p2) const noexcept {
        const double U = in_.speed, q = pass.flow, r1 = 1.0 / h1, r2 = 1.0 / h2;
        const kernel::detail::FilmData<double> data{
            in_.x, in_.gap, in_.pressure_viscosity, in_.shear_viscosity, in_.flow_factor, U, {}, {}, {}};
        const Integrals s = integrals(k_[cell] * length, r1, r2);
        const double missing = 0.5 * U * s.P2 - q * s.P3 - p2;  // by how much the full film would fall below zero
        if (p1 > 0.0 || missing <= 0.0) {
            kernel::detail::add_full(pass, data, cell, x1, length, h1, r1, h2, r2, p1, p2, k_[cell], k_[cell]);
        } else if (p2 > 0.0 || U * h2 < 2.0 * q) {
            const double t = kernel::detail::start_share(U, k_[cell], length, h1, r1, h2, missing, missing + p2, q);
            const double h = h1 + t * (h2 - h1);
            kernel::detail::add_void(pass, data, cell, t * length, r1, 1.0 / h);
            kernel::detail::add_full(pass, data, cell, x1 + t * length, (1.0 - t) * length, h, 1.0 / h, h2, r2, 0.0, p2,
                                     k_[cell], k_[cell]);
        } else {
            kernel::detail::add_void(pass, data, cell, length, r1, r2);
        }
    }

    const FilmInput& in_;
    std::size_t n_;
    std::vector<double> k_, r_;
    Integrals total_;
};

/// Flow of the flooded film; `p` holds the nodal pressures that belong to it.
Convergence solve_flow(const Sweep& sweep, const FilmInput& in, double least_flow, const FilmOptions& options,
                       double& q, std::span<double> p) {
    Convergence c;
    c.tolerance = options.tolerance;
    q = sweep.flow_without_rupture();
    for (;; ++c.iterations) {
        const Sweep::Inlet inlet = sweep.upstream(q, p);
        const double step = (inlet.pressure - in.pressure_in) / inlet.by_flow;
        c.residual = std::abs(step) / std::max(std::abs(q), least_flow);
        if (!std::isfinite(step)) {
            c.status = Status::non_finite;
            c.message = "The pressure at the inlet is not a finite number.";
            return c;
        }
        if (c.residual <= options.tolerance) {
            // the small last step too: a wide first cell turns 1e-12 of the flow into much of its pressure difference
            q -= step;
            (void)sweep.upstream(q, p);
            c.status = Status::converged;
            return c;
        }
        if (c.iterations >= options.max_iterations) {
            c.status = Status::max_iterations;
            c.message = "The flow did not converge within " + std::to_string(options.max_iterations) + " iterations.";
            return c;
        }
        q -= step;
    }
}

void fill(Film& film, const kernel::FilmPass<double>& pass) {
    film.load = pass.load;
    film.centre_of_pressure = pass.load > 0.0 ? pass.moment / pass.load : 0.0;
    film.drag = pass.couette_drag + pass.pressure_drag;
    film.flow = pass.flow;
}

/// Void where p = 0 and the gap is wider than the flow fills; the inlet of a flooded film is full.
void fill_void(Film& film, const FilmInput& in, bool flooded) {
    const double gap = 2.0 * film.flow / in.speed;
    for (std::size_t i = flooded ? 1 : 0; i < in.gap.size(); ++i) {
        if (film.pressure[i] > 0.0 || in.gap[i] <= gap) continue;
        film.void_fraction[i] = std::clamp(1.0 - gap / in.gap[i], 0.0, 1.0);
    }
}

bool has_one_minimum(std::span<const double> gap) noexcept {
    bool rising = false;
    for (std::size_t i = 1; i < gap.size(); ++i) {
        if (gap[i] > gap[i - 1]) rising = true;
        if (gap[i] < gap[i - 1] && rising) return false;
    }
    return true;
}

}  // namespace

Film solve_film(const FilmInput& input, const FilmOptions& options) {
    check(input);
    const std::size_t n = input.x.size();
    Film film;
    film.min_gap = *std::min_element(input.gap.begin(), input.gap.end());
    film.pressure.assign(n, 0.0);
    film.void_fraction.assign(n, 0.0);

    const Sweep sweep(input);
    double q = 0.0;
    film.convergence = solve_flow(sweep, input, 0.5 * input.speed * film.min_gap, options, q, film.pressure);
    const bool starved = film.convergence.ok() && input.film_supply && input.speed * *input.film_supply < q;
    if (starved) {
        q = input.speed * *input.film_supply;
        (void)sweep.upstream(q, film.pressure);
    } else if (film.convergence.ok()) {
        film.pressure[0] = input.pressure_in;
    }
    fill(film, sweep.add_up(q, film.pressure));
    fill_void(film, input, !starved);
    return film;
}

Film solve_film_one_pass(const FilmInput& input) {
    check(input);
    const std::size_t n = input.x.size();
    Film film;
    film.min_gap = *std::min_element(input.gap.begin(), input.gap.end());
    film.pressure.assign(n, 0.0);
    film.void_fraction.assign(n, 0.0);
    film.convergence.tolerance = 1e-9;
    if (!has_one_minimum(input.gap)) {
        film.convergence.status = Status::out_of_range;
        film.convergence.message = "The gap has more than one minimum; the general solver handles it.";
        return film;
    }
    std::vector<double> work(2 * n);
    const auto pass = kernel::one_pass<double>(input.x, input.gap, input.pressure_viscosity, input.shear_viscosity,
                                               input.flow_factor, input.speed, input.pressure_in, input.pressure_out,
                                               input.film_supply.value_or(-1.0), film.pressure, work);
    if (!pass.handled) {
        film.pressure.assign(n, 0.0);
        film.convergence.status = Status::out_of_range;
        film.convergence.message = "The film ruptures and re-forms ahead of the outlet; the general solver handles it.";
        return film;
    }
    fill(film, pass);
    fill_void(film, input, !pass.starved);
    film.convergence.iterations = 1;
    if (std::isfinite(film.load) && std::isfinite(film.flow) && std::isfinite(film.drag)) {
        film.convergence.status = Status::converged;
        film.convergence.residual = 0.0;
    } else {
        film.convergence.status = Status::non_finite;
        film.convergence.message = "The load, flow or drag is not a finite number.";
    }
    return film;
}

// ---- Stokes corner --------------------------------------------------------------------------------------------------

namespace {

constexpr double pi = 3.141592653589793;
constexpr double series_below = 0.5;  // rad; above, the closed forms lose less than two digits

// The three combinations of the corner, by Taylor series for small b: ten terms leave less than 1e-16 at b = 0.5.
struct Corner {
    double D;      // b^2 - sin^2 b
    double blade;  // sin b - b cos b
    double roll;   // b - sin b cos b
};

Corner small_corner(double b) noexcept {
    static constexpr auto terms = [] {
        std::array<Corner, 11> all{};
        double power = 1.0;  // 1 / (2k - 1)!, with its sign
        double two = 2.0;    // 2^(2k-1)
        for (int k = 1; k <= 11; ++k) {
            const double even = power / (2.0 * k), odd = even / (2.0 * k + 1.0);
            // sin^2 b = sum (-1)^(k+1) 2^(2k-1) b^2k / (2k)!
            all[static_cast<std::size_t>(k - 1)] = {k >= 2 ? -two * even : 0.0, 2.0 * k * odd, 2.0 * two * odd};
            power = -odd;
            two *= 4.0;
        }
        return all;
    }();
    const double b2 = b * b;
    Corner sum{};
    for (std::size_t k = terms.size(); k-- > 0;)
        sum = {sum.D * b2 + terms[k].D, sum.blade * b2 + terms[k].blade, sum.roll * b2 + terms[k].roll};
    return {b2 * sum.D, b * b2 * sum.blade, b * b2 * sum.roll};
}

Corner corner(double b) noexcept {
    if (b < series_below) return small_corner(b);
    const double s = std::sin(b), c = std::cos(b);
    return {b * b - s * s, s - b * c, b - s * c};
}

/// b^2 - sin^2 b alone; s: sin b.
double corner_D(double b, double s) noexcept { return b < series_below ? small_corner(b).D : b * b - s * s; }

}  // namespace

double corner_factor(double angle) noexcept {
    if (!(angle > 0.0) || !(angle <= pi)) return std::numeric_limits<double>::quiet_NaN();
    const double s = std::sin(angle);
    return 2.0 * s * s / corner_D(angle, s);
}

double corner_factor_slope(double angle) noexcept {
    if (!(angle > 0.0) || !(angle <= pi)) return std::numeric_limits<double>::quiet_NaN();
    const double s = std::sin(angle);
    const Corner k = corner(angle);
    return 4.0 * s * (std::cos(angle) * k.D - s * k.roll) / (k.D * k.D);
}

double effective_slope(double angle) noexcept {
    if (!(angle > 0.0) || !(angle <= pi)) return angle == 0.0 ? 0.0 : std::numeric_limits<double>::quiet_NaN();
    const double s = std::sin(angle);
    return std::sqrt(3.0 * corner_D(angle, s)) / s;
}

TaylorWedge taylor_wedge(double angle, double r, double viscosity, double speed) {
    Checker c;
    c.positive("angle", std::span<const double>(&angle, 1));
    if (angle > pi) c.add("angle", std::to_string(angle), "must not be above pi");
    c.positive("r", std::span<const double>(&r, 1));
    c.positive("viscosity", std::span<const double>(&viscosity, 1));
    c.positive("speed", std::span<const double>(&speed, 1));
    c.raise();
    // Taylor 1962. On the roll from equilibrium of the liquid sector: stresses go as 1 / r, so the forces on its two arcs
    // balance and the forces on blade and roll are equal and opposite.
    const Corner k = corner(angle);
    const double s = std::sin(angle);
    const double f = 2.0 * viscosity * speed / (r * k.D);
    return {f * angle * s, f * k.blade, f * s * s, f * k.roll};
}

}  // namespace libblade
