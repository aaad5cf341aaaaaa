// What one random case comes to, checked with evaluations of its own.
#pragma once

#include <array>
#include <cmath>
#include <ctime>
#include <exception>
#include <map>
#include <string>
#include <vector>

#include "../../libblade/src/nip_prepare.hpp"
#include "libblade/bending_case.hpp"
#include "libblade/error.hpp"
#include "libblade/film.hpp"
#include "libblade/ink.hpp"
#include "libblade/nip.hpp"

namespace campaign {

using namespace libblade;
using Counts = std::map<std::string, std::uint64_t>;

/// Seconds of this thread's own work.
inline double worked() {
    timespec now{};
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
    return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

inline bool classified(Status s) {
    return s == Status::lying_flat || s == Status::lifted_off || s == Status::unstable || s == Status::out_of_range;
}

class Judge {
  public:
    static constexpr double kAgrees = 1e-6, kSlow = 2.0, kHangs = 10.0;  ///< relative; [s]; [s]

    explicit Judge(FlowTables& tables) { bare_.tables = &tables; }

    /// Counts one case; returns its outcome with all that is wrong, empty: nothing to look at.
    std::string judge(const Case& c, std::uint64_t index) {
        NipOptions options = bare_;
        options.start = index % 3 == 2 ? Start::riding : Start::resting;
        options.step_response = options.other_branch = options.run_out = index % 32 == 0;  // ten times the price
        wrong_.clear();
        ++counts["drawn"];
        std::string outcome;
        const double start = worked();
        try {
            const OperatingPoint point = solve(c, options);
            const double took = worked() - start;
            if (took > kHangs) wrong("hangs");
            if (took > kSlow) ++counts["slow"], wrong_ += " | slow";
            const Status status = point.convergence.status;
            if (status == Status::converged) {
                outcome = "converged";
                look(c, options, point);
            } else if (classified(status)) {
                outcome = "classified: " + std::string(to_string(status));
            } else {
                outcome = "failed: " + std::string(to_string(status));
                if (status == Status::max_iterations) wrong("iteration bound");
                if (isolated(c, options)) wrong("isolated failure");
            }
        } catch (const InvalidInput& refused) {
            outcome = "refused: " + reason(refused.problems().front().path);
        } catch (const std::exception& error) {
            outcome = "thrown";
            wrong(std::string("exception: ") + error.what());
        }
        ++counts[outcome];
        const bool failed = outcome.compare(0, 6, "failed") == 0;
        return failed || !wrong_.empty() ? outcome + wrong_ : "";
    }

    Counts counts;

  private:
    void wrong(const std::string& what) {
        ++counts["defect: " + what];
        wrong_ += " | " + what;
    }
    static std::string reason(const std::string& path) {
        std::string out;  // list items together
        for (const char letter : path) out += letter >= '0' && letter <= '9' ? '*' : letter;
        return out;
    }
    static bool near(double a, double b, double size) { return std::abs(a - b) <= kAgrees * size; }

    void look(const Case& c, const NipOptions& options, const OperatingPoint& point) {
        look_for_nan(options, point);
        const double N = point.line_load;
        if (!near(point.hydrodynamic_lift + point.asperity_load, N, N) ||
            !near(point.film_load_share + point.asperity_load_share + point.wedge_load_share, 1.0, 1.0))
            wrong("unbalanced: shares of the load");
        const auto load = load_of(c.setting);
        const auto* given = std::get_if<LineLoad>(&load);
        const bool kept = c.setting.holding == Holding::floating || point.branch == Branch::bedded;
        if (given != nullptr && kept && !near(N, given->value, N)) wrong("unbalanced: load is not the one set");
        if (const auto* advance = std::get_if<Interference>(&load))
            if (advance->value > 0.0 && c.setting.holding == Holding::fixed &&
                !near(point.interference, advance->value, advance->value))
                wrong("unbalanced: interference is not the one set");
        evaluate_again(c, options, point);
    }

    void look_for_nan(const NipOptions& options, const OperatingPoint& point) {
        using P = OperatingPoint;
        const auto flagged = [&](const char* name) {
            for (const ValidityFlag& flag : point.validity)
                if (flag.name == name) return true;
            return false;
        };
        const bool no_step = !options.step_response || flagged("load_step");
        const bool no_turn = !options.run_out || flagged("run_out");
        const bool no_clean_wipe = flagged("clean_wipe");
        std::size_t k = 0;
        for (double P::*number : P::numbers()) {
            const bool absent =
                (number == &P::bedded_angle && point.facet_length == 0.0) ||
                ((number == &P::film_after_step || number == &P::excess_after_step) && no_step) ||
                ((number == &P::run_out_load || number == &P::run_out_angle || number == &P::run_out_tilt ||
                  number == &P::film_over_turn) &&
                 no_turn) ||
                ((number == &P::clean_wipe_film || number == &P::excess_ink || number == &P::excess_after_step) &&
                 no_clean_wipe);
            if (!absent && !std::isfinite(point.*number))
                return wrong("silent non-finite: number " + std::to_string(k));
            ++k;
        }
    }

    /// The contact at the reported place, and the blade under its forces, both asked anew.
    void evaluate_again(const Case& c, const NipOptions& options, const OperatingPoint& point) {
        NipOptions bare = options;
        bare.step_response = bare.other_branch = bare.run_out = false;
        const detail::Prepared p = detail::prepare(c, bare);
        if (p.status != Status::converged || p.state.force.normal != point.line_load)
            return wrong("unbalanced: a second solve differs");
        if (p.solver.compliance() > 0.0) return (void)++counts["not re-evaluated: soft tip"];
        const TipPlace place{point.facet_length > 0.0 ? point.bedded_angle : point.effective_angle, point.facet_length,
                             point.facet_tilt, p.state.low_gap};
        if (place.facet_length > 0.0 &&
            p.solver.fully_worn() != eats_whole_end(place.facet_length, place.effective_angle, tip_thickness(c.blade)))
            return (void)++counts["not re-evaluated: end face as worn as where it was bedded"];
        TipFilm film;
        try {
            film = tip_film(c, place, bare);
        } catch (const InvalidInput& refused) {
            return (void)++counts["not re-evaluated: place beyond tip_film's " + refused.problems().front().path];
        }
        ++counts["re-evaluated"];
        const double N = point.line_load, U = c.setting.surface_speed;
        if (!film.convergence.ok() || !near(film.film_load + film.outer_load, point.hydrodynamic_lift, N) ||
            !near(film.asperity_load, point.asperity_load, N) || !near(film.tangential_load, point.tangential_load, N))
            wrong("unbalanced: contact forces");
        if (!near(film.flow, point.film_on_lands * U, film.flow)) wrong("unbalanced: flow");
        if (!flow_is_constant(c, film)) wrong("unbalanced: flow along the film");
        const double sign = c.setting.orientation == Orientation::doctoring ? 1.0 : -1.0;
        const ContactForce force{N, -sign * film.tangential_load, -sign * film.moment / N};
        const Strip strip = strip_of(c, point.facet_length * std::sin(place.effective_angle));
        const int steps = std::max(32, 2 * enough_strip_steps(strip, std::hypot(N, film.tangential_load)));
        const StripMismatch blade = strip_mismatch(strip, point.effective_angle, force, steps);
        if (!(std::abs(blade.angle_residual) <= kAgrees)) wrong("unbalanced: clamp angle");
        if (!near(blade.interference, point.interference, std::abs(point.interference) + 1e-3 * strip.length))
            wrong("unbalanced: interference");
    }

    /// Reynolds' equation in every full cell, where viscosity and flow factor are one number each.
    bool flow_is_constant(const Case& c, const TipFilm& film) {
        const auto* newtonian = std::get_if<Newtonian>(&c.ink.rheology);
        const Engraving& e = c.roll.engraving;
        const bool table = e.pattern != Pattern::smooth && !e.pressure_flow_factor;
        if (newtonian == nullptr || table || c.ink.andrade_constant > 0.0) return true;
        const double eta = newtonian->viscosity, U = c.setting.surface_speed, q = film.flow;
        const Section& s = film.section;
        kernel::ContactMesh mesh;
        if (s.x.size() > mesh.nodes()) mesh = {2 * mesh.flank_in, 2 * mesh.arc, 2 * mesh.facet, 2 * mesh.flank_out};
        double peak = 0.0, worst = 0.0;
        for (std::size_t i = 0; i + 1 < s.x.size(); ++i) {
            peak = std::max(peak, std::abs(s.film_pressure[i]));
            const bool torn = s.void_fraction[i] > 0.0 || s.void_fraction[i + 1] > 0.0;
            const bool end = s.film_pressure[i + 1] == 0.0 || s.film_pressure[i] == 0.0;
            if (torn || end || i + 1 == kernel::facet_start(mesh)) continue;  // the last holds the entry jump
            const double phi = kernel::under_tip(mesh, i) ? e.pressure_flow_factor.value_or(1.0) : 1.0;
            const double dx = s.x[i + 1] - s.x[i], h1 = s.gap[i], h2 = s.gap[i + 1];
            const double by_speed = 6.0 * eta / phi * U * dx / (h1 * h2);
            const double by_flow = 6.0 * eta / phi * q * dx * (h1 + h2) / (h1 * h1 * h2 * h2);
            worst = std::max(
                worst, std::abs(s.film_pressure[i + 1] - s.film_pressure[i] - by_speed + by_flow) - 1e-9 * by_speed);
        }
        ++counts["flow asked for in every cell"];
        return worst <= kAgrees * peak;
    }

    /// Three of four settings beside this one have an answer.
    bool isolated(const Case& c, const NipOptions& options) {
        int solved = 0;
        for (int k = 0; k < 4; ++k) {
            Case beside = c;
            const double factor = k % 2 == 0 ? 0.99 : 1.01;
            try {
                auto load = load_of(c.setting);
                if (k < 2) beside.setting.set_angle *= factor;
                if (k >= 2) std::visit([&](auto& l) { l.value *= factor; }, load);
                std::visit([&](const auto& l) { beside.setting.load = l; }, load);
                NipOptions bare = options;
                bare.step_response = bare.other_branch = bare.run_out = false;
                solved += solve(beside, bare).convergence.ok() ? 1 : 0;
            } catch (const InvalidInput&) {  // the neighbour lies outside the hard range
            }
        }
        return solved >= 3;
    }

    NipOptions bare_{Start::resting, false, false, false};
    std::string wrong_;
};

}  // namespace campaign
