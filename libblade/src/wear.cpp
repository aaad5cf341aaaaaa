#include "libblade/wear.hpp"

#include <algorithm>
#include <array>
#include <boost/numeric/odeint/stepper/rosenbrock4.hpp>
#include <cmath>
#include <limits>
#include <memory>
#include <string>
#include <utility>

#include "libblade/error.hpp"
#include "libblade/parameters.hpp"
#include "libblade/root.hpp"

namespace libblade {

namespace {

using Vector = std::array<double, 2>;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kAngleScale = 0.1;     // [rad]; times the tolerance well above the nip's noise in the tilt, some 1e-9
constexpr double kShortestStep = 1e-6;  // [m]

/// The straight cut that wear has made through a square end.
struct Cut {
    double length;         ///< of the facet [m]
    double length_lost;    ///< along the roll-facing side [m]
    double along, across;  ///< of the facet's centre, from the end and from the roll-facing side [m]
};

double full_area(double angle, double thickness) { return 0.5 * thickness * thickness / std::tan(angle); }

Cut cut_at(double area, double angle, bool worn, double thickness) {
    if (worn) {
        const double middle = area / thickness;
        return {thickness / std::sin(angle), middle + 0.5 * thickness / std::tan(angle), middle, 0.5 * thickness};
    }
    const double b = std::sqrt(2.0 * area / (std::sin(angle) * std::cos(angle)));
    return {b, b * std::cos(angle), 0.5 * b * std::cos(angle), 0.5 * b * std::sin(angle)};
}

/// Moment of the asperity pressure about the facet's centre [N]. Between nodes the pressure is close to an exponential:
/// Simpson's rule with the geometric mean in the middle, as the nip integrates its load.
double asperity_moment(const Section& section) {
    double moment = 0.0;
    for (std::size_t i = 1; i < section.x.size(); ++i) {
        const double x1 = section.x[i - 1], x2 = section.x[i];
        const double p1 = section.asperity_pressure[i - 1], p2 = section.asperity_pressure[i];
        moment += (x2 - x1) / 6.0 * (p1 * x1 + 2.0 * std::sqrt(p1 * p2) * (x1 + x2) + p2 * x2);
    }
    return moment;
}

/// Blade and holder as they stand after some wear, and what the nip says to them. State: area over that of a full
/// facet, and (angle - angle at the start) / kAngleScale.
class Wearing {
  public:
    Wearing(const Case& nip_case, const WearOptions& options) : case_(nip_case), options_(options) {
        thickness_ = tip_thickness(nip_case.blade);
        nip_.start = options.start, nip_.mesh = options.mesh;
        nip_.step_response = nip_.other_branch = nip_.run_out = false;
        nip_.section = true;
        if (options.tables == nullptr) own_tables_ = std::make_unique<FlowTables>();
        nip_.tables = options.tables != nullptr ? options.tables : own_tables_.get();
    }

    /// Where the case stands: its facet, load and holder. False when its nip does not solve.
    bool begin(Vector& state, double& distance) {
        OperatingPoint first = libblade::solve(case_, nip_);
        ++solves_;
        why_ = first.convergence;
        if (!why_.ok()) return false;
        const bool sharp = std::holds_alternative<SquareEdge>(case_.tip);
        first_angle_ = sharp ? first.effective_angle : first.bedded_angle;
        full_ = full_area(first_angle_, thickness_);
        load_ = first.line_load, interference_ = first.interference;
        const double b = sharp ? options_.first_facet : first.facet_length;
        const double share = b * std::sin(first_angle_) / thickness_;
        if (share > 1.0 + 1e-9)
            throw InvalidInput({{"tip.facet_length", std::to_string(b) + " m",
                                 "must not exceed thickness / sin(bedded angle): the blade's end gives no more"}});
        worn_ = share > 1.0 - 1e-9;
        state[0] = worn_ ? 1.0 : share * share;
        state[1] = 0.0;
        distance = sharp ? full_ * state[0] / (case_.blade.specific_wear * load_) : 0.0;
        const Cut cut = here(state);
        first_along_ = cut.along, first_recess_ = recess(cut);
        return true;
    }

    [[nodiscard]] double angle(const Vector& state) const { return first_angle_ + kAngleScale * state[1]; }
    [[nodiscard]] double area(const Vector& state) const { return full_ * state[0]; }
    [[nodiscard]] Cut here(const Vector& state) const { return cut_at(area(state), angle(state), worn_, thickness_); }
    /// Above 0: the facet has eaten the cut face.
    [[nodiscard]] double beyond_full(const Vector& state) const {
        return area(state) / full_area(angle(state), thickness_) - 1.0;
    }
    [[nodiscard]] bool worn() const noexcept { return worn_; }
    void wear_through() noexcept { worn_ = true, cached_ = false; }

    /// The operating point of a state; the last one is kept. False: no solution, why() says so.
    bool solve(const Vector& state) {
        if (cached_ && state[0] == at_[0] && state[1] == at_[1]) return true;
        cached_ = false;
        const double B = angle(state);
        if (!(state[0] > 0.0) || !(B > 0.0 && B < 1.57))
            return fail(Status::out_of_range, "wear turned the facet away");
        const Cut cut = here(state);
        Case now = case_;
        auto& length = now.blade.sections.empty() ? now.blade.free_length : now.blade.sections.back().length;
        length -= cut.along - first_along_;
        const double radius = std::visit([](const auto& tip) { return tip.edge_radius; }, case_.tip);
        now.tip = Facet{worn_ ? FacetLength{WornLength{}} : FacetLength{cut.length}, BeddedAngle{B}, radius};
        if (case_.setting.holding == Holding::fixed) {
            const double left = interference_ - (recess(cut) - first_recess_);
            if (!(left > 0.0)) return fail(Status::lifted_off, "wear has used up the holder's advance");
            now.setting.load = Interference{left};
        } else {
            now.setting.load = LineLoad{load_};
        }
        if (const auto problems = check(now); !problems.empty())
            return fail(Status::out_of_range, "the worn blade leaves the range of " + problems.front().path);
        point_ = libblade::solve(now, nip_);
        ++solves_;
        why_ = point_.convergence;
        if (!why_.ok()) return false;
        moment_ = asperity_moment(point_.section);
        at_ = {state[0], state[1]};
        return cached_ = true;
    }
    bool rates(const Vector& state, Vector& out) {
        out[0] = out[1] = 0.0;
        if (!solve(state)) return false;
        const double k = case_.blade.specific_wear, b = here(state).length, N = point_.asperity_load;
        out[0] = k * N / full_;
        const double most = N * b / 6.0;
        const double turn = -12.0 * k * std::clamp(moment_, -most, most) / (b * b * b);
        out[1] = (case_.setting.orientation == Orientation::doctoring ? turn : -turn) / kAngleScale;
        return true;
    }
    [[nodiscard]] const OperatingPoint& point() const noexcept { return point_; }
    [[nodiscard]] const Convergence& why() const noexcept { return why_; }
    [[nodiscard]] int solves() const noexcept { return solves_; }

  private:
    bool fail(Status status, std::string message) {
        why_ = {};
        why_.status = status;
        why_.message = std::move(message);
        return false;
    }
    [[nodiscard]] double recess(const Cut& cut) const {
        const double a0 = case_.setting.set_angle;
        return cut.along * std::sin(a0) + cut.across * std::cos(a0);
    }

    const Case case_;
    const WearOptions options_;
    NipOptions nip_;
    std::unique_ptr<FlowTables> own_tables_;
    double thickness_ = 0.0, first_angle_ = 0.0, full_ = 0.0, load_ = 0.0, interference_ = 0.0;
    double first_along_ = 0.0, first_recess_ = 0.0;
    bool worn_ = false, cached_ = false;
    std::array<double, 2> at_{};
    double moment_ = 0.0;
    OperatingPoint point_;
    Convergence why_;
    int solves_ = 0;
};

/// One step of Rosenbrock's method of order 4 with an embedded one of order 3, L-stable (RODAS: Hairer & Wanner 1996,
/// Solving Ordinary Differential Equations II, from memory; coefficients and form of Boost.Odeint's rosenbrock4, which
/// itself does not compile as C++20 with Boost 1.74), for two autonomous unknowns. Ten rates a step.
class RosenbrockStep {
  public:
    /// `rates(state, out)` says whether it has an answer. False: some stage had none.
    template <class Rates>
    bool take(Rates&& rates, const Vector& y, double step) {
        static const boost::numeric::odeint::default_rosenbrock_coefficients<double> c;
        start_ = y;
        Vector f{}, below{}, above{};
        if (!rates(y, f)) return false;
        // Along a bedding that follows, both columns nearly cancel: central differences, of 3e-7 rad between the nip's
        // noise and its curvature (N_a changes by a tenth over 3e-5 rad).
        std::array<Vector, 2> m{};  // 1 / (gamma step) - Jacobian, by columns
        for (std::size_t k = 0; k < 2; ++k) {
            const double by = k == 0 ? 2e-5 * y[0] : 3e-7 / kAngleScale;
            Vector less = y, more = y;
            less[k] -= by, more[k] += by;
            if (!rates(less, below) || !rates(more, above)) return false;
            for (std::size_t i = 0; i < 2; ++i)
                m[k][i] = (i == k ? 1.0 / (c.gamma * step) : 0.0) - (above[i] - below[i]) / (2.0 * by);
        }
        const double det = m[0][0] * m[1][1] - m[1][0] * m[0][1];
        if (det == 0.0 || !std::isfinite(det)) return false;
        const auto solved = [&](const Vector& r) {
            return Vector{(m[1][1] * r[0] - m[1][0] * r[1]) / det, (m[0][0] * r[1] - m[0][1] * r[0]) / det};
        };
        const std::array<std::array<double, 4>, 4> a{
            {{c.a21}, {c.a31, c.a32}, {c.a41, c.a42, c.a43}, {c.a51, c.a52, c.a53, c.a54}}};
        const std::array<std::array<double, 5>, 5> b{{{c.c21},
                                                      {c.c31, c.c32},
                                                      {c.c41, c.c42, c.c43},
                                                      {c.c51, c.c52, c.c53, c.c54},
                                                      {c.c61, c.c62, c.c63, c.c64, c.c65}}};
        std::array<Vector, 5> g{};
        g[0] = solved(f);
        Vector at{}, r{};
        for (std::size_t stage = 0; stage < 5; ++stage) {
            if (stage < 4) at = y;
            for (std::size_t i = 0; i < 2; ++i) {
                if (stage < 4)
                    for (std::size_t j = 0; j <= stage; ++j) at[i] += a[stage][j] * g[j][i];
                else
                    at[i] += g[4][i];
            }
            if (!rates(at, f)) return false;
            for (std::size_t i = 0; i < 2; ++i) {
                r[i] = f[i];
                for (std::size_t j = 0; j <= stage; ++j) r[i] += b[stage][j] * g[j][i] / step;
            }
            (stage < 4 ? g[stage + 1] : error_) = solved(r);
        }
        for (std::size_t i = 0; i < 2; ++i) {
            end_[i] = at[i] + error_[i];
            third_[i] = c.d21 * g[0][i] + c.d22 * g[1][i] + c.d23 * g[2][i] + c.d24 * g[3][i] + c.d25 * g[4][i];
            fourth_[i] = c.d31 * g[0][i] + c.d32 * g[1][i] + c.d33 * g[2][i] + c.d34 * g[3][i] + c.d35 * g[4][i];
        }
        return std::isfinite(end_[0] + end_[1]);
    }
    [[nodiscard]] const Vector& end() const noexcept { return end_; }
    /// In units of the tolerance, absolute and relative.
    [[nodiscard]] double error(double tolerance) const {
        double sum = 0.0;
        for (std::size_t i = 0; i < 2; ++i) {
            const double e = error_[i] / (tolerance * (1.0 + std::max(std::abs(start_[i]), std::abs(end_[i]))));
            sum += 0.5 * e * e;
        }
        return std::sqrt(sum);
    }
    /// Dense output at a share of the step, third order.
    [[nodiscard]] Vector within(double share) const {
        Vector y{};
        const double rest = 1.0 - share;
        for (std::size_t i = 0; i < 2; ++i)
            y[i] = start_[i] * rest + share * (end_[i] + rest * (third_[i] + share * fourth_[i]));
        return y;
    }

  private:
    Vector start_{}, end_{}, error_{}, third_{}, fourth_{};
};

/// Above 0 once the event has happened; NaN where it is not watched or the nip does not solve.
double progress(WearEventKind kind, Wearing& wearing, const WearOptions& options, const Vector& state) {
    switch (kind) {
        case WearEventKind::fully_worn:
            return wearing.worn() ? kNan : wearing.beyond_full(state);
        case WearEventKind::facet_limit:
            return options.facet_limit ? wearing.here(state).length / *options.facet_limit - 1.0 : kNan;
        case WearEventKind::length_limit:
            return options.length_limit ? wearing.here(state).length_lost / *options.length_limit - 1.0 : kNan;
        case WearEventKind::excess_limit:
            if (!options.excess_limit || !wearing.solve(state)) return kNan;
            return (wearing.point().excess_ink - *options.excess_limit) / std::max(*options.excess_limit, 1e-9);
    }
    return kNan;
}
constexpr std::array kEvents{WearEventKind::fully_worn, WearEventKind::facet_limit, WearEventKind::length_limit,
                             WearEventKind::excess_limit};

void record(WearHistory& out, Wearing& wearing, double distance, const Vector& state) {
    const Cut cut = wearing.here(state);
    const OperatingPoint& p = wearing.point();
    out.distance.push_back(distance);
    out.facet_length.push_back(cut.length);
    out.bedded_angle.push_back(wearing.angle(state));
    out.effective_angle.push_back(p.effective_angle);
    out.length_lost.push_back(cut.length_lost);
    out.removed_area.push_back(wearing.area(state));
    out.film_on_lands.push_back(p.film_on_lands);
    out.excess_ink.push_back(p.excess_ink);
    out.asperity_load.push_back(p.asperity_load);
    out.line_load.push_back(p.line_load);
    out.interference.push_back(p.interference);
}

void check_wear(const Case& c, double distance, const WearOptions& options) {
    std::vector<Problem> problems = check(c);
    const auto positive = [&](const char* name, double value) {
        if (!(value > 0.0) || !std::isfinite(value))
            problems.push_back({name, std::to_string(value), "must be a positive number"});
    };
    positive("distance", distance);
    positive("first_facet", options.first_facet);
    if (options.facet_limit) positive("facet_limit", *options.facet_limit);
    if (options.length_limit) positive("length_limit", *options.length_limit);
    if (!(options.tolerance >= 1e-8 && options.tolerance <= 0.1))
        problems.push_back({"tolerance", std::to_string(options.tolerance), "must be between 1e-8 and 0.1"});
    if (std::holds_alternative<SquareEdge>(c.tip)) positive("blade.specific_wear", c.blade.specific_wear);
    if (options.max_steps < 1)
        problems.push_back({"max_steps", std::to_string(options.max_steps), "must be at least 1"});
    if (!(options.longest_step >= 0.0))
        problems.push_back({"longest_step", std::to_string(options.longest_step), "must not be negative"});
    if (!c.blade.sections.empty() && c.blade.sections.back().end_thickness)
        problems.push_back({"blade.sections", "taper", "wear needs a tip of constant thickness"});
    if (!problems.empty()) throw InvalidInput(std::move(problems));
}

}  // namespace

EdgeWear square_edge_wear(double specific_wear, double load, double distance, double angle, double thickness) noexcept {
    const double area = specific_wear * load * distance, full = full_area(angle, thickness);
    const Cut cut = cut_at(area, angle, area > full, thickness);
    return {cut.length, cut.length_lost * std::sin(angle), cut.length_lost, full / (specific_wear * load)};
}

double wedge_facet_length(double specific_wear, double load, double distance, double face_angle,
                          double other_face_angle) noexcept {
    return std::sqrt(2.0 * specific_wear * load * distance *
                     (1.0 / std::tan(face_angle) + 1.0 / std::tan(other_face_angle)));
}

double rebedding_distance(double facet_length, double tilt, double specific_wear, double load) noexcept {
    return facet_length * facet_length * std::abs(tilt) / (2.0 * specific_wear * load);
}

std::string_view to_string(WearEventKind kind) noexcept {
    switch (kind) {
        case WearEventKind::fully_worn:
            return "fully_worn";
        case WearEventKind::facet_limit:
            return "facet_limit";
        case WearEventKind::length_limit:
            return "length_limit";
        case WearEventKind::excess_limit:
            return "excess_limit";
    }
    return "none";
}

WearHistory wear(const Case& nip_case, double distance, const WearOptions& options) {
    check_wear(nip_case, distance, options);
    WearHistory out;
    out.convergence.tolerance = 1.0;  // errors are in units of options.tolerance
    Wearing wearing(nip_case, options);
    const auto end = [&](Status status, std::string message) {
        out.convergence.status = status;
        out.convergence.message = std::move(message);
        out.nip_solves = wearing.solves();
        return out;
    };
    const auto nip_failed = [&] {
        const Convergence& why = wearing.why();
        return end(why.status, why.message.empty() ? std::string(describe(why.status)) : why.message);
    };
    Vector y{};
    double s = 0.0;
    if (!wearing.begin(y, s) || !wearing.solve(y)) return nip_failed();
    if (s >= distance) return end(Status::out_of_range, "the distance is shorter than the way to the first facet");
    record(out, wearing, s, y);
    out.convergence.residual = 0.0;
    for (const WearEventKind kind : kEvents)
        if (progress(kind, wearing, options, y) >= 0.0) {
            out.events.push_back({kind, s});
            if (kind != WearEventKind::fully_worn) return end(Status::converged, "");
        }
    (void)wearing.solve(y);

    // Bedding relaxes the tilt within some ten to a hundred metres of a life of hundreds of kilometres: stiff. An
    // L-stable step passes over a tilt that follows and resolves one that moves, without a rule for when to do which.
    RosenbrockStep stepper;
    const auto rates = [&](const Vector& at, Vector& rate) { return wearing.rates(at, rate); };
    const double longest = options.longest_step > 0.0 ? options.longest_step : distance;
    double wanted = std::min(1.0, longest);
    for (int tried = 0; s < distance; ++tried) {
        if (tried == options.max_steps) return end(Status::max_iterations, "the wear history ran out of steps");
        const bool last = wanted >= distance - s;
        const double ds = last ? distance - s : wanted;
        const bool sound = stepper.take(rates, y, ds) && wearing.solve(stepper.end());
        const double error = sound ? stepper.error(options.tolerance) : kNan;
        if (!(error <= 1.0)) {
            ++out.steps_rejected;
            wanted = ds * (sound ? std::clamp(0.9 * std::pow(error, -0.25), 0.2, 0.9) : 0.25);
            if (wanted >= kShortestStep) continue;
            if (!sound && !wearing.why().ok()) return nip_failed();
            return end(Status::step_too_small, "the wear history could not advance");
        }
        out.convergence.residual = std::max(out.convergence.residual, error);
        ++out.convergence.iterations;
        wanted = std::min(longest, ds * std::clamp(0.9 * std::pow(std::max(error, 1e-8), -0.25), 0.5, 5.0));
        // The first event inside the step, on its dense output.
        std::optional<WearHistoryEvent> event;
        double event_share = 1.0;
        for (const WearEventKind kind : kEvents) {
            const auto at = [&](double share) { return progress(kind, wearing, options, stepper.within(share)); };
            const double before = at(0.0), after = at(1.0);
            if (!(before < 0.0 && after >= 0.0)) continue;
            const Root root = bracketed_root(at, {0.0, before, 1.0, after}, 1e-12, 1e-10);
            // A jump of the ink has no zero: it happened where the bracket closed.
            if (root.status != Status::converged && root.status != Status::stagnated)
                return end(root.status, "an event of the wear history was not found");
            if (!event || root.x < event_share) event = WearHistoryEvent{kind, s + root.x * ds}, event_share = root.x;
        }
        y = event ? stepper.within(event_share) : stepper.end();
        s = last && !event ? distance : s + event_share * ds;
        if (event) out.events.push_back(*event);
        if (event && event->kind == WearEventKind::fully_worn) wearing.wear_through();
        if (!wearing.solve(y)) return nip_failed();
        record(out, wearing, s, y);
        if (event && event->kind != WearEventKind::fully_worn) break;
    }
    return end(Status::converged, "");
}

}  // namespace libblade
