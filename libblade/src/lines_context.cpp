#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <memory>
#include <numbers>

#include "libblade/lines.hpp"
#include "nip_prepare.hpp"

namespace libblade {

namespace {

using namespace detail;

constexpr double kNan = std::numeric_limits<double>::quiet_NaN();
constexpr double kFurthestLift = 60e-6, kFirstLift = 0.02e-6;  // [m]
constexpr int kLifts = 28;
constexpr double kFurthestAdvance = 60e-6;  // [m]; half an indicator reading
constexpr int kAdvances = 10;               // each way

bool fail(LineContext& out, const Convergence& why) {
    out.convergence = why;
    return false;
}

bool lift_tip(const Case& c, const OperatingPoint& point, const NipOptions& options, LineContext& out) {
    const bool facet = point.facet_length > 0.0;
    TipPlace place{facet ? point.bedded_angle : point.effective_angle, facet ? point.facet_length : 0.0,
                   facet ? point.facet_tilt : 0.0, 0.0};
    double off = 0.0;  // a per cent: the solver of the tip alone sees all cells of the facet
    for (int k = 0; k < kLifts; ++k) {
        const double u = k == 0 ? 0.0 : kFirstLift * std::pow(kFurthestLift / kFirstLift, (k - 1.0) / (kLifts - 2.0));
        place.low_gap = out.gap + u;
        const TipFilm tip = tip_film(c, place, options);
        if (!tip.convergence.ok()) return fail(out, tip.convergence);
        const double film = tip.flow / c.setting.surface_speed;
        if (k == 0) off = out.film - film;
        out.lift.push_back(u), out.lifted_film.push_back(film + off);
    }
    return true;
}

/// Facet and holder stay while the roll's surface comes and goes. A floating holder follows it. Where the blade lifts off or
/// the nip has no state the walk ends.
void go_round(const Case& c, const NipOptions& options, LineContext& out) {
    Prepared p = prepare(c, options);
    out.advance = {0.0}, out.advanced_film = {out.film};
    if (p.status != Status::converged || !p.target.fixed) return;
    // Dense about the mean, where a bedded blade answers most.
    const double furthest = std::min(kFurthestAdvance, 0.5 * p.target.interference);
    const auto place = [&](int k) { return furthest * k * k / (kAdvances * kAdvances); };
    for (const double side : {-1.0, 1.0}) {
        State state = p.state;
        Target here = p.target;
        for (int k = 1; k <= kAdvances; ++k) {
            Target next = here;
            next.interference = p.target.interference + side * place(k);
            state = p.solver.follow(state, here, next);
            if (!state.ok()) break;
            here = next;
            const auto at = side < 0.0 ? 0 : static_cast<std::ptrdiff_t>(out.advance.size());
            out.advance.insert(out.advance.begin() + at, side * place(k));
            out.advanced_film.insert(out.advanced_film.begin() + at, state.film_on_lands(c.setting.surface_speed));
        }
    }
}

double riding_film(const Case& c, const OperatingPoint& point, NipOptions options) {
    if (point.regime == Regime::riding || point.branch == Branch::riding) return point.film_on_lands;
    if (!point.other_branch_exists) return kNan;
    options.start = Start::riding;
    options.step_response = options.other_branch = options.run_out = options.section = false;
    const OperatingPoint other = solve(c, options);
    return other.convergence.ok() && other.film_on_lands > point.film_on_lands ? other.film_on_lands : kNan;
}

}  // namespace

LineContext line_context(const Case& c, const OperatingPoint& point, const NipOptions& asked) {
    LineContext out;
    out.convergence = point.convergence;
    if (!point.convergence.ok()) return out;
    NipOptions options = asked;
    const std::unique_ptr<FlowTables> own = asked.tables == nullptr ? std::make_unique<FlowTables>() : nullptr;
    if (own) options.tables = own.get();

    out.film = point.film_on_lands, out.cell_ink = point.ink_carried - point.film_on_lands;
    out.film_after_step = std::isfinite(point.film_after_step) ? point.film_after_step : point.film_on_lands;
    out.gap = point.min_film, out.line_load = point.line_load;
    out.groove_length = point.facet_length > 0.0 ? point.facet_length : point.contact_width;
    out.film_pressure = std::max(0.0, point.film_load_share * point.line_load / out.groove_length);
    out.stiffness = bending_stiffness(c.blade), out.surface_speed = c.setting.surface_speed;
    out.roll_turn = 2.0 * std::numbers::pi * c.roll.radius;
    out.ink = c.ink, out.ink.temperature = point.film_temperature;
    out.engraving = c.roll.engraving;
    if (!lift_tip(c, point, options, out)) return out;
    go_round(c, options, out);
    out.film_riding = riding_film(c, point, options);
    return out;
}

double lifted_film(const LineContext& context, double lift) {
    const auto& x = context.lift;
    const auto next = std::upper_bound(x.begin() + 1, x.end() - 1, lift);
    const auto i = static_cast<std::size_t>(next - x.begin());
    const double t = (lift - x[i - 1]) / (x[i] - x[i - 1]);
    return std::lerp(context.lifted_film[i - 1], context.lifted_film[i], t);
}

double pressed_film(const LineContext& k, double depth) noexcept {
    const double gap = k.gap + depth, viscosity = shear_viscosity(k.ink, k.surface_speed / gap, k.ink.temperature);
    const double cubes = depth * (gap * gap + gap * k.gap + k.gap * k.gap);
    return cubes * k.film_pressure / (12.0 * viscosity * k.groove_length * k.surface_speed);
}

double side_drag(double s) noexcept {
    constexpr double pi = std::numbers::pi;
    constexpr double end =
        14.0 * 1.2020569031595943 / (pi * pi * pi);  // 14 zeta(3) / pi^3, the series' ends on both sides
    if (s <= 0.2) return 1.0 - end * s;              // F(s) + F(1 / s) = 1; good to 1e-7 here
    double sum = 0.0;
    for (int i = 1; i < 400; i += 2) sum += std::tanh(0.5 * i * pi * s) / (static_cast<double>(i) * i * i);
    return 16.0 * sum / (pi * pi * pi * s);
}

}  // namespace libblade
