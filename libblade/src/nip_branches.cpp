#include "libblade/nip_branches.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "libblade/continuation.hpp"
#include "libblade/error.hpp"
#include "libblade/parameters.hpp"
#include "nip_prepare.hpp"

namespace libblade {

namespace {

using namespace detail;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
using Point = CurvePoint<3>;  // scaled tilt, u, scaled field

/// The nip of a case while one field moves.
class MovingNip {
  public:
    MovingNip(const Case& base, const std::string& field, double from, double to, Prepared& start,
              const NipOptions& options)
        : base_(base),
          field_(field),
          options_(options),
          bedded_angle_(start.bedded_angle),
          facet_length_(start.facet_length),
          fully_worn_(start.solver.fully_worn()),
          target_(start.target),
          tilt_scale_(2.0 * start.solver.tilt_scale()),
          logarithmic_(from > 0.0 && to > 2.0 * from),
          low_(logarithmic_ ? std::log(from) : from),
          high_(logarithmic_ ? std::log(to) : to),
          from_(from),
          to_(to) {}

    [[nodiscard]] double tilt(double x) const { return tilt_scale_ * std::sinh(x); }
    [[nodiscard]] double value(double x) const {
        const double y = low_ + 0.5 * (high_ - low_) * x;
        return logarithmic_ ? std::exp(y) : y;
    }
    [[nodiscard]] double place(double v) const {
        return ((logarithmic_ ? std::log(v) : v) - low_) / (0.5 * (high_ - low_));
    }
    [[nodiscard]] std::array<double, 3> point(const State& s, double v) const {
        return {std::asinh(s.tilt / tilt_scale_), s.u, place(v)};
    }

    /// A solver with the field at a value, and what its holder keeps. False: no such setting.
    struct At {
        NipSolver solver;
        Target target;
    };
    [[nodiscard]] std::optional<At> at(double v) {
        Case c = base_;
        try {
            set_number(c, field_, std::clamp(v, field_range_.hard_min, field_range_.hard_max));
            if (v < field_range_.hard_min || v > field_range_.hard_max || !check(c).empty()) return std::nullopt;
        } catch (const InvalidInput&) {
            return std::nullopt;
        }
        At out{NipSolver(c, options_.mesh, options_.tables), target_};
        if (sets_holder(field_)) {
            const bool facet = std::holds_alternative<Facet>(base_.tip);
            const Bedded bed = out.solver.bed(facet ? &facet_length_ : nullptr);
            if (!bed.ok()) return std::nullopt;
            out.target.load = bed.load, out.target.interference = bed.state.interference;
        }
        out.solver.take_tip(bedded_angle_, facet_length_, fully_worn_);
        return out;
    }

    [[nodiscard]] std::array<double, 2> mismatch(const At& n, const NipResidual& r) const {
        return {r.angle / tilt_scale_,
                n.target.fixed ? r.interference / n.target.interference - 1.0 : r.load - std::log(n.target.load)};
    }

    bool equations(const std::array<double, 3>& x, CurveEquations<3>& out) {
        auto here = at(value(x[2]));
        if (!here) return false;
        const double d = tilt(x[0]), stretch = tilt_scale_ * std::cosh(x[0]);
        const State s = here->solver.look(d, x[1]);
        if (!s.ok()) return false;
        const NipResidual r = here->solver.residual(s, -here->solver.sign(), 1.0);
        if (!r.ok) return false;
        out.f = mismatch(*here, r);
        const auto& kept = here->target.fixed ? r.interference_by : r.load_by;
        const double scale = here->target.fixed ? 1.0 / here->target.interference : 1.0;
        out.jacobian[0] = {r.angle_by[0] * stretch / tilt_scale_, r.angle_by[1] / tilt_scale_, 0.0};
        out.jacobian[1] = {kept[0] * scale * stretch, kept[1] * scale, 0.0};
        constexpr double step = 1e-5;
        std::array<std::array<double, 2>, 2> side{};
        for (const int k : {0, 1}) {
            auto beside = at(value(x[2] + (k == 0 ? -step : step)));
            if (!beside) return false;
            const State t = beside->solver.look(d, x[1]);
            if (!t.ok()) return false;
            NipResidual q;
            q.angle = t.angle_residual, q.interference = t.interference;
            q.load = std::log(t.force.normal);
            side[static_cast<std::size_t>(k)] = mismatch(*beside, q);
        }
        for (std::size_t i = 0; i < 2; ++i) out.jacobian[i][2] = (side[1][i] - side[0][i]) / (2.0 * step);
        last_x_ = x;
        last_ = describe(*here, s, r, value(x[2]));
        return true;
    }

    /// The state at a point of the curve.
    [[nodiscard]] BranchState state(const std::array<double, 3>& x) {
        if (x != last_x_) {
            CurveEquations<3> unused;
            if (!equations(x, unused)) return {};
        }
        return last_;
    }
    [[nodiscard]] double from() const { return from_; }
    [[nodiscard]] double to() const { return to_; }

  private:
    [[nodiscard]] BranchState describe(At& n, const State& s, const NipResidual& r, double v) const {
        BranchState out;
        const double U = n.solver.setup().speed, N = s.force.normal;
        out.value = v, out.facet_tilt = s.tilt, out.effective_angle = s.angle, out.line_load = N;
        out.film_on_lands = s.film_on_lands(U);
        out.excess_ink = std::max(0.0, out.film_on_lands - n.solver.clean_wipe_film(N));
        out.friction_coefficient = s.contact.tangential / N;
        out.asperity_load_share = s.contact.asperity_load / N;
        out.stable = n.solver.stable(r, n.solver.blade_at(s), n.target.fixed);
        return out;
    }

    const Case base_;
    const std::string field_;
    const Field field_range_ = field_in(base_, *find_field(field_));
    const NipOptions options_;
    const double bedded_angle_, facet_length_;
    const bool fully_worn_;
    const Target target_;
    const double tilt_scale_;
    const bool logarithmic_;
    const double low_, high_, from_, to_;
    std::array<double, 3> last_x_{kNan, kNan, kNan};
    BranchState last_;
};

enum Event { fold = 0, onset = 1, lower_end = 2, upper_end = 3 };

/// One way along the curve. `until_first`: ends at the first fold or onset.
BranchCurve walk(MovingNip& nip, const std::array<double, 3>& start, double direction, const BranchOptions& options,
                 bool until_first) {
    BranchCurve out;
    Point begin{start, {0.0, 0.0, direction}};
    ContinuationOptions o;
    o.first_step = 0.02;
    o.largest_step = 0.1;
    o.smallest_step = 1e-7;
    o.tolerance = 1e-9;
    o.event_tolerance = 1e-9;
    o.max_points = options.max_points;
    const double a = nip.place(nip.from()), b = nip.place(nip.to());
    const auto watch = [&](const Point& p) {
        const double film = options.excess_limit > 0.0 ? nip.state(p.x).excess_ink / options.excess_limit - 1.0 : 1.0;
        return std::array<double, 4>{p.tangent[2], film, p.x[2] - a, b - p.x[2]};
    };
    const auto visit = [&](const Point& p, int event) {
        if (event == -1 && (p.x[2] < a - 1e-9 || p.x[2] > b + 1e-9)) return false;
        out.states.push_back(nip.state(p.x));
        const std::size_t here = out.states.size() - 1;
        if (event == fold) out.folds.push_back(here);
        if (event == onset) out.onsets.push_back(here);
        if (event >= lower_end) return false;
        return !(until_first && (event == fold || event == onset));
    };
    const CurveEnd end =
        follow_curve<3>([&](const std::array<double, 3>& x, CurveEquations<3>& e) { return nip.equations(x, e); },
                        begin, watch, visit, o);
    out.convergence.status = end.status;
    out.convergence.iterations = end.evaluations;
    out.convergence.tolerance = o.tolerance;
    if (end.status != Status::converged)
        out.convergence.message = "the branch ends early: " + std::string(libblade::describe(end.status));
    return out;
}

BranchCurve both_ways(MovingNip& nip, const std::array<double, 3>& start, const BranchOptions& options) {
    const BranchCurve down = walk(nip, start, -1.0, options, false), up = walk(nip, start, 1.0, options, false);
    BranchCurve out;
    const std::size_t n = down.states.size();
    out.states.assign(down.states.rbegin(), down.states.rend());
    for (const std::size_t k : down.folds) out.folds.insert(out.folds.begin(), n - 1 - k);
    for (const std::size_t k : down.onsets) out.onsets.insert(out.onsets.begin(), n - 1 - k);
    const std::size_t shift = n > 0 ? n - 1 : 0;
    if (!up.states.empty()) out.states.insert(out.states.end(), up.states.begin() + (n > 0 ? 1 : 0), up.states.end());
    for (const std::size_t k : up.folds) out.folds.push_back(shift + k);
    for (const std::size_t k : up.onsets) out.onsets.push_back(shift + k);
    out.convergence = down.convergence.ok() ? up.convergence : down.convergence;
    return out;
}

void refuse_bad_range(const Case& c, const std::string& field, double from, double to) {
    require_number(c, field);
    const double now = get_number(c, field);
    if (!(from < to) || !(now >= from && now <= to))
        throw InvalidInput({{field, std::to_string(from) + " to " + std::to_string(to),
                             "must be a range that holds the case's own value, " + std::to_string(now)}});
    for (const double end : {from, to}) {
        Case trial = c;
        set_number(trial, field, end);
    }
}

/// Whether the curve passes the state.
bool holds(const BranchCurve& curve, const State& s, double value, double speed) {
    const double film = s.film_on_lands(speed);
    for (std::size_t i = 0; i + 1 < curve.states.size(); ++i) {
        const BranchState &a = curve.states[i], &b = curve.states[i + 1];
        if ((a.value - value) * (b.value - value) > 0.0) continue;
        const auto [low, high] = std::minmax(a.film_on_lands, b.film_on_lands);
        if (film > 0.98 * low && film < 1.02 * high) return true;
    }
    return false;
}

NipOptions nip_options(const BranchOptions& options, FlowTables& own) {
    NipOptions nip;
    nip.mesh = options.mesh;
    nip.tables = options.tables != nullptr ? options.tables : &own;
    return nip;
}

}  // namespace

BranchDiagram trace_branches(const Case& nip_case, const std::string& field, double from, double to,
                             const BranchOptions& options) {
    require_sound(nip_case);
    refuse_bad_range(nip_case, field, from, to);
    FlowTables own(4);
    const NipOptions nip = nip_options(options, own);
    BranchDiagram out;
    out.field = field;
    Prepared p = prepare(nip_case, nip);
    out.convergence = outcome(p.status);
    if (!out.convergence.ok()) return out;
    const double now = get_number(nip_case, field);
    MovingNip moving(nip_case, field, from, to, p, nip);
    out.curves.push_back(both_ways(moving, moving.point(p.state, now), options));
    const State riding = p.solver.relax(p.solver.thickest(p.target, p.state), p.target);
    if (riding.ok() && !holds(out.curves.front(), riding, now, nip_case.setting.surface_speed))
        out.curves.push_back(both_ways(moving, moving.point(riding, now), options));
    return out;
}

RidingOnset riding_onset(const Case& nip_case, const std::string& field, double excess_limit, double from, double to,
                         const BranchOptions& options) {
    require_sound(nip_case);
    refuse_bad_range(nip_case, field, from, to);
    if (!(excess_limit > 0.0))
        throw InvalidInput({{"excess_limit", std::to_string(excess_limit), "must be above 0 m"}});
    FlowTables own(4);
    const NipOptions nip = nip_options(options, own);
    BranchOptions branch = options;
    branch.excess_limit = excess_limit;
    RidingOnset out{kNan, kNan, false, false, from, to, {}};
    Prepared p = prepare(nip_case, nip);
    out.convergence = outcome(p.status);
    if (!out.convergence.ok()) return out;
    const double now = get_number(nip_case, field);
    if (excess(p, p.state, nip_case.setting.surface_speed) > excess_limit) {
        out.lower = out.upper = now;
        return out;
    }
    MovingNip moving(nip_case, field, from, to, p, nip);
    for (const bool up : {false, true}) {
        const BranchCurve curve = walk(moving, moving.point(p.state, now), up ? 1.0 : -1.0, branch, true);
        if (!curve.convergence.ok()) out.convergence = curve.convergence;
        const bool jumps = !curve.folds.empty();
        if (jumps || !curve.onsets.empty()) (up ? out.upper : out.lower) = curve.states.back().value;
        (up ? out.upper_jumps : out.lower_jumps) = jumps;
    }
    return out;
}

SpeedLimit speed_limit(const Case& nip_case, double excess_limit, double factor) {
    if (!(factor > 1.0 && factor <= 20.0))
        throw InvalidInput({{"factor", std::to_string(factor), "must be between 1 and 20"}});
    const double U = nip_case.setting.surface_speed;
    const Field& speed = *find_field("setting.surface_speed");
    const RidingOnset found = riding_onset(nip_case, "setting.surface_speed", excess_limit,
                                           std::max(U / factor, speed.hard_min), std::min(U * factor, speed.hard_max));
    return {found.upper, found.lower, found.searched_from, found.searched_to, found.convergence};
}

}  // namespace libblade
