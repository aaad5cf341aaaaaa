#include "libblade/nip_gradient.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "libblade/bending_case.hpp"
#include "libblade/contact.hpp"
#include "libblade/error.hpp"
#include "libblade/parameters.hpp"
#include "nip_prepare.hpp"

namespace libblade {

namespace {

using namespace detail;
using Vector = Eigen::VectorXd;
using Matrix = Eigen::MatrixXd;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
// A way along the solution: of this share of a field's value, of no more than this change of the film. A point is settled to
// this change of the film, or as far as rounding lets it.
constexpr double kStep = 3e-4, kReach = 1e-2, kSettled = 1e-11;
// The widest step of a slope with the unknowns held or on a straight way, and what its doubt may be, of a number or of what it
// changes by over the field's usual range; what a straight way may leave of the balance.
constexpr double kWide = 1.6e-2, kEnough = 1e-9, kNear = 0.1, kStraight = 1e-4;
constexpr double kTurn = 3e-4;  // of a bedded angle [rad]
constexpr int kRounds = 6, kRungs = 16;

/// Central slope of a function of an offset, twice as far taken in as well: Richardson's extrapolation.
template <class F>
Vector extrapolated(const F& at, double step) {
    const Vector near = (at(step) - at(-step)) / (2.0 * step), far = (at(2.0 * step) - at(-2.0 * step)) / (4.0 * step);
    return (4.0 * near - far) / 3.0;
}

/// Over the widest of three steps that says what the narrower ones do, as far as rounding lets them: where the end of the film
/// passes from one cell to the next, or a table from one piece to the next, slopes change a little (Lepski's choice).
template <class F>
Vector steady_slope(const F& at, double widest, const Vector& rounding) {
    std::array<Vector, 3> slope;
    double step = widest;
    for (Vector& s : slope) s = extrapolated(at, step), step *= 0.25;
    // All rows alike: what one of them leaves another makes good.
    const auto agree = [&](std::size_t a, std::size_t b) {
        const double width = widest * std::pow(0.25, static_cast<double>(b));
        return ((slope[a] - slope[b]).cwiseAbs() - 4.0 / width * rounding).maxCoeff() <= 0.0;
    };
    if (!agree(1, 2)) return slope[2];
    return agree(0, 1) && agree(0, 2) ? slope[0] : slope[1];
}

/// Central slopes of a function of an offset over steps that halve, two of Richardson's extrapolations. Rounding stands in a
/// slope over the step, the step's sixth power and what the function changes its course by on the way beside it: `enough` is shown
/// each slope with what it has moved by from the one before and by the last extrapolation, and keeps the best.
template <class F, class Enough>
void slopes_by_halving(const F& at, double widest, Enough&& enough) {
    Vector before, once_before, twice_before;
    double step = widest;
    for (int rung = 0; rung < kRungs; ++rung, step *= 0.5) {
        const Vector slope = (at(step) - at(-step)) / (2.0 * step);
        Vector once, twice;
        if (rung > 0) once = (4.0 * slope - before) / 3.0;
        if (rung > 1) twice = (16.0 * once - once_before) / 15.0;
        if (rung > 2 && enough(twice, Vector(twice - twice_before), Vector(twice - once), step)) return;
        before = slope, once_before = once, twice_before = twice;
    }
}

/// The unknowns of a point: of a bedding elsewhere and of this setting's bedding (angle and u each), of the state (tilt and
/// u). What coincides is left out.
class Frozen {
  public:
    Frozen(const Case& c, const NipOptions& options)
        : options_(options), unit_(tip_thickness(c.blade)), solved_(prepare(c, options)) {
        const auto* facet = std::get_if<Facet>(&c.tip);
        elsewhere_ = facet != nullptr ? std::get_if<BeddedElsewhere>(&facet->bedding) : nullptr;
        given_angle_ = facet != nullptr ? std::get_if<BeddedAngle>(&facet->bedding) : nullptr;
        if (solved_.status != Status::converged) return;
        own_state_ = solved_.branch != Branch::bedded;
        fixed_ = c.setting.holding == Holding::fixed;
        fully_worn_ = solved_.solver.fully_worn();
        if (elsewhere_ != nullptr) push(solved_.run_in.angle, solved_.run_in.state.u);
        push(solved_.reference.angle, solved_.reference.state.u);
        if (own_state_) push(solved_.state.tilt, solved_.state.u);
        listen(c);
    }
    [[nodiscard]] Status status() const noexcept { return solved_.status; }
    [[nodiscard]] const Vector& unknowns() const noexcept { return y_; }
    /// Largest of what is heard in the residuals.
    [[nodiscard]] const Vector& rounding() const noexcept { return rounding_; }
    /// Rounding in residuals and contact forces, each column from the same places for both.
    [[nodiscard]] const Matrix& heard() const noexcept { return heard_; }
    [[nodiscard]] const Matrix& heard_in_forces() const noexcept { return heard_in_forces_; }
    /// This unknown is a bedded angle.
    [[nodiscard]] bool turns(Eigen::Index k) const noexcept {
        return k % 2 == 0 && !(own_state_ && k + 2 == y_.size());
    }
    /// The tip's surface gives: its film is found by sweeps and knows no slopes.
    [[nodiscard]] bool soft() const noexcept { return solved_.solver.compliance() > 0.0; }
    /// How far from balance a change of the unknowns is: tilts count by gap / facet length.
    [[nodiscard]] double size_of(const Vector& change) const noexcept {
        double most = 0.0;
        for (Eigen::Index k = 0; k < change.size(); ++k)
            most = std::max(most, std::abs(change[k]) / (k % 2 == 0 ? solved_.solver.tilt_scale() : 1.0));
        return most;
    }
    /// By how much the film changes: with u, with the state's tilt over gap / facet length or over the tilt once that is larger,
    /// and with a bedded angle over itself, since the facet turns with it.
    [[nodiscard]] double film_change(const Vector& change) const noexcept {
        double most = 0.0;
        for (Eigen::Index k = 0; k < change.size(); ++k) {
            const bool tilt = own_state_ && k + 2 == change.size();
            const double size = tilt ? std::max(solved_.solver.tilt_scale(), std::abs(y_[k])) : std::abs(y_[k]);
            most = std::max(most, std::abs(change[k]) / (k % 2 == 0 ? size : 1.0));
        }
        return most;
    }

    /// Residuals at unknowns y of a case; the outputs there, too, if asked for.
    Vector residuals(const Case& c, const Vector& y, OperatingPoint* out = nullptr) const {
        return under(c, y, forces(c, y, out));
    }
    /// Residuals of a case's strip and setting under these forces, as residuals() has them with its own; their slopes by the forces,
    /// too, if asked for.
    Vector under(const Case& c, const Vector& y, const Vector& force, Matrix* by = nullptr) const {
        Vector f(y.size());
        if (by != nullptr) by->setZero(y.size(), force.size());
        const Tip tip = tip_of(c, y);
        Eigen::Index k = 0;
        // Strip of a state; the row of its angle. Its load and advance go into the next row.
        const auto strip = [&](const Case& of, double facet_angle, double angle, int steps) {
            const Eigen::Index n = 3 * k / 2;
            const Strip bent = strip_of(of, tip.length * std::sin(facet_angle));
            const ContactForce pressed{force[n], force[n + 1], force[n + 2]};
            StripResponse r;
            if (by == nullptr)
                r.at = strip_mismatch(bent, angle, pressed, steps);
            else
                r = strip_response(bent, angle, pressed, steps);
            f[k] = r.at.angle_residual;
            if (by != nullptr)
                for (const Eigen::Index j : {0, 1, 2}) (*by)(k, n + j) = r.residual_by[static_cast<std::size_t>(j) + 1];
            return r;
        };
        const auto load_row = [&](double over) {
            const Eigen::Index n = 3 * k / 2;
            f[k + 1] = std::log(force[n] / over);
            if (by != nullptr) (*by)(k + 1, n) = 1.0 / force[n];
        };
        const auto advance_row = [&](const StripResponse& r, double sign, Eigen::Index n) {
            if (by != nullptr)
                for (const Eigen::Index j : {0, 1, 2})
                    (*by)(k + 1, n + j) = sign * r.interference_by[static_cast<std::size_t>(j) + 1] / unit_;
        };
        if (elsewhere_ != nullptr) {
            const auto& there = std::get<BeddedElsewhere>(std::get<Facet>(c.tip).bedding);
            (void)strip(bedding_case(c, there), y[k], y[k], solved_.there->strip_steps());
            load_row(there.line_load);
            k += 2;
        }
        const int steps = solved_.solver.strip_steps();
        const StripResponse set = strip(c, y[k], y[k], steps);
        const auto load = load_of(c.setting);
        if (const auto* given = std::get_if<LineLoad>(&load)) {
            load_row(given->value);
        } else {
            f[k + 1] = (set.at.interference - std::get<Interference>(load).value) / unit_;
            advance_row(set, 1.0, 3 * k / 2);
        }
        k += 2;
        if (!own_state_) return f;
        const StripResponse own = strip(c, tip.bedded_angle, tip.bedded_angle - solved_.solver.sign() * y[k], steps);
        const Eigen::Index n = 3 * k / 2;
        if (fixed_) {
            f[k + 1] = (own.at.interference - set.at.interference) / unit_;
            advance_row(own, 1.0, n), advance_row(set, -1.0, n - 3);
        } else {
            load_row(force[n - 3]);
            if (by != nullptr) (*by)(k + 1, n - 3) = -1.0 / force[n - 3];
        }
        return f;
    }
    /// Slopes of the residuals by the unknowns.
    Matrix slopes(const Case& c, const Vector& y) const {
        Matrix J(y.size(), y.size());
        const bool known = !soft();
        for (Eigen::Index k = 0; k < y.size(); ++k) {
            if (known && !turns(k)) continue;
            const auto at = [&](double by) {
                Vector moved = y;
                moved[k] += by;
                return residuals(c, moved);
            };
            J.col(k) = turns(k) ? steady_slope(at, kTurn, rounding_)
                                : extrapolated(at, k % 2 == 0 ? 3e-4 * solved_.solver.tilt_scale() : 1e-5);
        }
        if (known) (void)forces(c, y, nullptr, &J);
        return J;
    }
    /// Contact forces of a case at unknowns y: N [N/m], T [N/m] and centre of pressure [m] of each state. Into `by` the slopes of the
    /// residuals that the contact's own derivatives give: all but those by a bedded angle, which moves facet and strip.
    Vector forces(const Case& c, const Vector& y, OperatingPoint* out = nullptr, Matrix* by = nullptr) const {
        Eigen::Index k = 0;
        const auto [bedded_angle, length] = tip_of(c, y);
        Vector force(3 * y.size() / 2);
        const auto note = [&](const State& s) {
            force.segment<3>(3 * k / 2) << s.force.normal, s.force.tangential, s.force.centre;
        };
        if (elsewhere_ != nullptr) {
            const auto& there = std::get<BeddedElsewhere>(std::get<Facet>(c.tip).bedding);
            NipSolver solver(bedding_case(c, there), options_.mesh, options_.tables);
            solver.take_strip_steps(solved_.there->strip_steps());
            solver.take_tip(bedded_angle, length, solved_.worn_there);
            const State s = solver.look(0.0, y[k + 1]);
            note(s);
            if (by != nullptr) {
                const NipResidual r = exact(solver, s);
                by->col(k + 1).setZero();
                (*by)(k, k + 1) = r.angle_by[1], (*by)(k + 1, k + 1) = r.load_by[1];
            }
            k += 2;
        }
        Prepared p(NipSolver(c, options_.mesh, options_.tables));
        p.solver.take_strip_steps(solved_.solver.strip_steps());
        p.slack = std::numeric_limits<double>::infinity();  // a straight way leaves the balance
        p.branch = solved_.branch, p.bedded_stable = solved_.bedded_stable;
        const double here = y[k];
        p.solver.take_tip(here, length, fully_worn_);
        p.reference.state = p.solver.look(0.0, y[k + 1]);
        const State& set = p.reference.state;
        note(set);
        NipResidual bed;
        if (by != nullptr) {
            bed = exact(p.solver, set);
            by->col(k + 1).setZero();
            (*by)(k, k + 1) = bed.angle_by[1];
            const bool loaded = std::holds_alternative<LineLoad>(load_of(c.setting));
            (*by)(k + 1, k + 1) = loaded ? bed.load_by[1] : bed.interference_by[1] / unit_;
        }
        p.reference.angle = here;
        p.bedded_angle = bedded_angle, p.facet_length = length;
        p.state = set;
        k += 2;
        if (own_state_) {
            p.solver.take_tip(p.bedded_angle, length, fully_worn_);
            p.state = p.solver.look(y[k], y[k + 1]);
            note(p.state);
            if (by != nullptr) {
                const NipResidual r = exact(p.solver, p.state);
                by->rightCols(2).setZero();
                for (const Eigen::Index j : {0, 1}) {
                    const auto at = static_cast<std::size_t>(j);
                    (*by)(k, k + j) = r.angle_by[at];
                    (*by)(k + 1, k + j) = fixed_ ? r.interference_by[at] / unit_ : r.load_by[at];
                }
                (*by)(k + 1, k - 1) = fixed_ ? -bed.interference_by[1] / unit_ : -bed.load_by[1];
            }
        }
        if (out != nullptr) fill(c, p, *out, options_);
        return force;
    }

  private:
    /// Where the facet is bedded [rad], and its length [m].
    struct Tip {
        double bedded_angle, length;
    };
    Tip tip_of(const Case& c, const Vector& y) const {
        const auto* facet = std::get_if<Facet>(&c.tip);
        if (facet == nullptr) return {y[0], 0.0};
        const double angle = given_angle_ != nullptr ? std::get<BeddedAngle>(facet->bedding).angle : y[0];
        const auto* length = std::get_if<double>(&facet->length);
        return {angle, length != nullptr ? *length : worn_facet_length(tip_thickness(c.blade), angle)};
    }
    static NipResidual exact(NipSolver& solver, const State& at) {
        solver.settle_slopes();
        return solver.residual(at, -solver.sign(), 1.0);
    }
    /// What is left of residuals at places so near that they lie on a straight line.
    void listen(const Case& c) {
        constexpr double apart = 1e-9;
        constexpr Eigen::Index places = 5;
        Matrix f(y_.size(), places), force(3 * y_.size() / 2, places);
        for (Eigen::Index n = 0; n < places; ++n) {
            Vector at = y_;
            for (Eigen::Index k = 0; k < at.size(); ++k)
                at[k] += apart * static_cast<double>(n - places / 2) * (k % 2 == 0 ? solved_.solver.tilt_scale() : 1.0);
            force.col(n) = forces(c, at);
            f.col(n) = under(c, at, force.col(n));
        }
        const auto left = [](const Matrix& m) {
            return Matrix(m.leftCols(places - 2) - 2.0 * m.middleCols(1, places - 2) + m.rightCols(places - 2));
        };
        heard_ = left(f), heard_in_forces_ = left(force);
        rounding_ = heard_.cwiseAbs().rowwise().maxCoeff();
    }
    void push(double angle, double u) {
        y_.conservativeResize(y_.size() + 2);
        y_.tail(2) << angle, u;
    }
    const NipOptions options_;
    // Advances are compared by their difference over a length that stays: their ratio is no line where one of them all but vanishes.
    const double unit_;  ///< [m]
    Prepared solved_;
    const BeddedElsewhere* elsewhere_ = nullptr;
    const BeddedAngle* given_angle_ = nullptr;
    bool own_state_ = false, fixed_ = false, fully_worn_ = false;
    Vector y_;
    Vector rounding_;
    Matrix heard_, heard_in_forces_;
};

std::uint64_t bit_of(double OperatingPoint::*output) noexcept {
    const auto all = OperatingPoint::numbers();
    return std::uint64_t{1} << (std::find(all.begin(), all.end(), output) - all.begin());
}

Vector numbers_of(const OperatingPoint& point) {
    const auto all = OperatingPoint::numbers();
    Vector out(static_cast<Eigen::Index>(all.size()));
    for (Eigen::Index k = 0; k < out.size(); ++k) out[k] = point.*all[static_cast<std::size_t>(k)];
    return out;
}

/// To both sides of a point, and of each; NaN where the hard range ends.
struct Slopes {
    OperatingPoint central, forward, backward;
};

Case with(const Case& c, const std::string& field, double value) {
    Case moved = c;
    set_number(moved, field, value);
    return moved;
}

}  // namespace

bool NipGradient::has_corner(std::size_t field, double OperatingPoint::*output) const noexcept {
    return (corners[field] & bit_of(output)) != 0;
}

NipGradient gradient(const Case& nip_case, std::span<const std::string> fields, const NipOptions& options) {
    require_sound(nip_case);
    for (const std::string& field : fields) require_number(nip_case, field);
    FlowTables own;  // steps of all slopes come back to the same values of a field
    NipOptions o = options;
    if (o.tables == nullptr) o.tables = &own;
    o.section = false;
    NipGradient out;
    out.fields.assign(fields.begin(), fields.end());
    const Frozen nip(nip_case, o);
    out.convergence = outcome(nip.status());
    out.by.resize(fields.size());
    out.corners.resize(fields.size());
    if (!out.convergence.ok()) return out;
    Vector y = nip.unknowns();
    (void)nip.residuals(nip_case, y, &out.point);
    out.point.convergence = out.convergence;
    Eigen::PartialPivLU<Matrix> solver(nip.slopes(nip_case, y));
    // To where the residuals of a case vanish, with these slopes: errors shrink by what the slopes change over so short a way.
    const auto settle = [&](const Case& c, Vector& at) {
        for (int round = 0; round < kRounds; ++round) {
            const Vector back = solver.solve(nip.residuals(c, at));
            at -= back;
            if (!(nip.size_of(back) > kSettled)) break;
        }
    };
    // Both sides are compared with the settled point: its own solve leaves up to 1e-10 rad.
    settle(nip_case, y);
    // Slopes there as well: what of them the balance leaves is small.
    Matrix slopes_by_unknowns = nip.slopes(nip_case, y);
    solver.compute(slopes_by_unknowns);
    OperatingPoint middle;
    (void)nip.residuals(nip_case, y, &middle);
    Matrix by_force;
    const Vector force = nip.forces(nip_case, y);
    (void)nip.under(nip_case, y, force, &by_force);
    // What residuals, and forces, that are off make of the film. Forces that are move all rows together, which is magnified much
    // less than what moves one of them.
    const auto by_rows = [&](const Vector& off) { return nip.film_change(solver.solve(off)); };
    const auto by_forces = [&](const Vector& off) { return by_rows(by_force * off); };
    const auto most = [](const Matrix& heard, const auto& film) {
        double largest = 0.0;
        for (Eigen::Index n = 0; n < heard.cols(); ++n) largest = std::max(largest, film(Vector(heard.col(n))));
        return largest;
    };
    const double in_forces = most(nip.heard_in_forces(), by_forces),
                 in_strip = most(nip.heard() - by_force * nip.heard_in_forces(), by_rows);
    // The slope that steps and rounding leave least in doubt, all rows alike: what one of them leaves another makes good.
    const auto best_slope = [&](const auto& at, const auto& film, double rounding, double widest, double range) {
        double least = std::numeric_limits<double>::infinity();
        Vector best;
        slopes_by_halving(at, widest, [&](const Vector& slope, const Vector& shift, const Vector& last, double width) {
            const double left = 0.5 * rounding / width, doubt = film(shift) + film(last) + left;
            if (best.size() == 0) best = slope;
            if (doubt < least) least = doubt, best = slope;
            // Narrower steps would leave more to rounding than these leave in all.
            return least * range <= kEnough || least <= 2.0 * left;
        });
        return best;
    };
    // Strip and setting turn no corners and round much, the contact the other way round: each by steps of its own.
    const auto best_of_both = [&](const auto& strip, const auto& contact, double widest, double range) {
        const Vector through_forces = best_slope(contact, by_forces, in_forces, widest, range);
        return Vector(best_slope(strip, by_rows, in_strip, widest, range) + by_force * through_forces);
    };
    // By the bedded angles once more: what errors of the first slopes mean is known now.
    for (Eigen::Index k = 0; k < y.size(); ++k) {
        if (!nip.turns(k)) continue;
        const auto turned = [&](double by) { return Vector(y + by * Vector::Unit(y.size(), k)); };
        slopes_by_unknowns.col(k) =
            best_of_both([&](double by) { return nip.under(nip_case, turned(by), force); },
                         [&](double by) { return nip.forces(nip_case, turned(by)); }, kWide * y[k], 1.0);
    }
    solver.compute(slopes_by_unknowns);
    for (std::size_t i = 0; i < fields.size(); ++i) {
        const Field row = field_in(nip_case, *find_field(fields[i]));
        const double value = get_number(nip_case, fields[i]);
        const double scale = std::abs(value) > 0.0 ? std::abs(value) : 0.1 * (row.usual_max - row.usual_min);
        const double step = kStep * scale;
        // At an end of the hard range the point is no longer in the middle: first order in the step.
        const double low = std::max(value - step, row.hard_min), high = std::min(value + step, row.hard_max);
        double widest = kWide * scale;
        while (widest > step && (value - widest < row.hard_min || value + widest > row.hard_max)) widest *= 0.5;
        const bool inside = value - widest >= row.hard_min && value + widest <= row.hard_max;
        const double range = row.usual_max - row.usual_min;
        const auto case_at = [&](double change) { return with(nip_case, fields[i], value + change); };
        Vector by_field;
        if (inside) {
            by_field = best_of_both([&](double change) { return nip.under(case_at(change), y, force); },
                                    [&](double change) { return nip.forces(case_at(change), y); }, widest, range);
        } else {
            by_field =
                (nip.residuals(case_at(high - value), y) - nip.residuals(case_at(low - value), y)) / (high - low);
        }
        const Vector dy = -solver.solve(by_field);
        // Both ends of a straight way leave the balance to the same side; what is left beside that is of third order, unless the
        // way turns a corner.
        const auto apart = [&](double change) -> std::array<Vector, 2> {
            const Vector up = solver.solve(nip.residuals(case_at(change), y + change * dy)),
                         down = solver.solve(nip.residuals(case_at(-change), y - change * dy));
            return {0.5 * (up + down), 0.5 * (up - down)};
        };
        // Along the solution, and half as far: Richardson's extrapolation.
        const auto part_of = [&](double share) {
            return share * std::min(1.0, kReach / (nip.film_change(dy) * step + 1e-300));
        };
        const double magnified = nip.film_change(solver.inverse().cwiseAbs() * nip.rounding()),
                     near = 0.5 * part_of(kNear) * step;
        const bool straight =
            inside && !nip.soft() &&
            nip.film_change(apart(near)[1]) <= kStraight * nip.film_change(dy) * near + 4.0 * magnified;
        const double part = part_of(straight ? kNear : 1.0);
        const auto at = [&](double change, const Vector& bend) {
            OperatingPoint point;
            const Case moved = case_at(change);
            Vector here = y + change * dy - bend;
            if (!straight) settle(moved, here);
            (void)nip.residuals(moved, here, &point);
            return point;
        };
        const auto slopes = [&](double share) {
            const double above = share * (high - value), below = share * (low - value);
            Slopes slope;
            // Rounding that the balance magnifies is then the same on both sides.
            const Vector bend = straight ? apart(above)[0] : Vector(0.0 * y);
            const OperatingPoint up = at(above, bend), down = at(below, bend);
            for (double OperatingPoint::*output : OperatingPoint::numbers()) {
                slope.central.*output = (up.*output - down.*output) / (above - below);
                if (above > 0.0) slope.forward.*output = (up.*output - middle.*output) / above;
                if (below < 0.0) slope.backward.*output = (down.*output - middle.*output) / below;
            }
            return slope;
        };
        const Slopes whole = slopes(part), half = slopes(0.5 * part);
        // A slope along the straight way is that along the solution, and rounding is not magnified on it: the steps that are best.
        const auto numbers = OperatingPoint::numbers();
        const auto count = static_cast<Eigen::Index>(numbers.size());
        const Vector here = numbers_of(middle);
        Vector along = Vector::Constant(count, kNan);
        if (straight) {
            while (nip.film_change(dy) * widest > kReach) widest *= 0.5;
            const auto on_way = [&](double change) {
                OperatingPoint point;
                (void)nip.residuals(case_at(change), y + change * dy, &point);
                return numbers_of(point);
            };
            Vector least = Vector::Constant(count, std::numeric_limits<double>::infinity());
            slopes_by_halving(on_way, widest,
                              [&](const Vector& slope, const Vector& shift, const Vector& last, double) {
                                  bool all = true;
                                  for (Eigen::Index k = 0; k < count; ++k) {
                                      const auto enough = [&] {
                                          const double size = std::max(std::abs(here[k]), std::abs(along[k]) * range);
                                          return !(least[k] * range > kEnough * size);
                                      };
                                      // What is good enough stays, whatever else is asked for.
                                      if (least[k] < std::numeric_limits<double>::infinity() && enough()) continue;
                                      const double doubt = std::abs(shift[k]) + std::abs(last[k]);
                                      if (doubt < least[k]) least[k] = doubt, along[k] = slope[k];
                                      all = all && enough();
                                  }
                                  return all;
                              });
        }
        for (Eigen::Index k = 0; k < count; ++k) {
            double OperatingPoint::*const output = numbers[static_cast<std::size_t>(k)];
            out.by[i].*output = straight ? along[k] : (4.0 * (half.central.*output) - whole.central.*output) / 3.0;
            // Of a smooth function the two sides' slopes differ by half as much at half the step; at a corner by as much.
            const double sides = half.forward.*output - half.backward.*output;
            const double wider = whole.forward.*output - whole.backward.*output;
            const double size = std::max(std::abs(half.forward.*output), std::abs(half.backward.*output));
            const double seen = 0.5 * part * std::max(high - value, value - low) * std::abs(sides);
            const bool noise = seen <= 1e-9 * std::abs(out.point.*output);
            if (noise || std::isnan(sides) || std::abs(sides) <= 1e-3 * size || std::abs(wider) > 1.5 * std::abs(sides))
                continue;
            out.corners[i] |= bit_of(output);
            out.by[i].*output = 2.0 * (half.forward.*output) - whole.forward.*output;
        }
        if (!dy.allFinite()) out.convergence = outcome(Status::singular_jacobian);
    }
    return out;
}

}  // namespace libblade
