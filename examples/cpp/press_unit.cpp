// A flexographic press unit over a shift of eight hours: two blades on one chamber, and ink that warms. Every number of the
// unit is invented. The same model in Python, with a picture: examples/python/press_unit.py.
//
//     press_unit [series.csv]     prints the series; with one printed before, says where they differ by more than 1e-6
//
// BLADES. The chamber is rigid and moves along one line through the roll's axis. Its blades touch the roll to both sides of
// that line, at an angle b from it, with their tips towards each other: where the roll leaves the chamber a doctoring blade meters
// the ink, where it comes back a trailing blade contains it, each in the mirror image of the other. The ink in the chamber
// presses on the faces away from the roll. Stops hold the chamber at an advance c, counted from first touch of the metering
// blade; a blade whose first touch comes later by g has
//
//   advance past its first touch   p = c - g                        positive presses
//   set angle                      a = a0 + p sin b / R             the contact moves round the roll, away from the line
//   interference                   I = p cos b - L sin a            along the roll's inward normal, less what wear took
//   free length                    l = l0 - L                       L: blade length lost, of a facet worn all through
//   wear                           dL/ds = k_b N_a / t              Archard (wear_rate); s: roll surface past the blade
//
// and the load N that its own bending and its own nip give at I. Left out of I: (p sin b)^2 / 2R, 0.4 um here. The stops keep
// c, so that a blade's wear unloads that blade alone; but the advance that gives one its load back presses the other too.
// Facets are taken as bedded at the present setting: after the largest change of speed they follow within 30 m
// (rebedding_distance). By hand: mirror images of one orientation, b and g equal, carry the same load. What bends a blade is
// N cos a - T sin a (doctoring) or N cos a + T sin a (trailing), and I fixes that: at one I and without friction T both
// orientations carry the same, with it the doctoring blade more and the trailing one less.
//
// HEAT. Chamber, roll and tank are one temperature each. Ink circulates from the tank at Q; the roll takes q = (ink carried) U W
// along in cells and on lands at the chamber's temperature and brings back what is not printed, q - q_p, at its own. The tank
// is topped up with fresh ink at the room's temperature. P: friction of both blades, T U W; a share e of it warms the ink.
//
//   C_c dT_c/dt = e P       + rho c (Q T_s - (Q - q_p) T_c - q T_c + (q - q_p) T_r) - K_c (T_c - T_room)
//   C_r dT_r/dt = (1 - e) P + rho c q (T_c - T_r)                                   - K_r (T_r - T_room)
//   C_s dT_s/dt =             rho c ((Q - q_p) T_c + q_p T_room - Q T_s)            - K_s (T_s - T_room) - K_w (T_s - T_water)
//
// In sum: what came by friction is stored, or went to room, water and with the print, rho c q_p (T_r - T_room). Evaporation is
// left out. Both nips are solved once a step; during it their power, flow and wear stay (first order in the step), and the
// heat follows by Runge and Kutta's fourth order.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <limits>
#include <optional>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include <libblade/error.hpp>
#include <libblade/ink.hpp>
#include <libblade/nip.hpp>
#include <libblade/print.hpp>
#include <libblade/solver.hpp>
#include <libblade/status.hpp>

namespace {

constexpr double pi = 3.14159265358979323846, hour = 3600.0, kelvin = 273.15;
constexpr double step = 150.0;  // s
constexpr int parts = 30;       // of a step, for the heat
constexpr double shear = 1e6;   // 1/s, at which the viscosity is told

/// A blade on the chamber.
struct Mount {
    std::string name;
    libblade::Case nip;
    double place = 35.0 * pi / 180.0;  ///< of the contact from the line of advance, b [rad]
    double later = 0.0;                ///< advance at which it first touches, g [m]
};

/// The shipped case folding_carton_water.
libblade::Case carton() {
    libblade::Case nip;
    nip.roll.run_out = 8e-6;
    libblade::Engraving& cells = nip.roll.engraving;
    cells.screen = 16e3, cells.wall_width = 5e-6, cells.cell_volume = 4.5e-6;
    nip.ink.rheology = libblade::Cross{.zero_shear_viscosity = 0.12, .time_constant = 1e-3};
    nip.ink.andrade_constant = 2000.0, nip.ink.thermal_conductivity = 0.45, nip.ink.heat_capacity = 3400.0;
    nip.setting.chamber_pressure = 500.0;
    nip.setting.pressure_side = libblade::PressureSide::away_from_roll;
    return nip;
}

/// Softer, and it touches later.
Mount second() {
    Mount mount{.name = "containment", .nip = carton(), .later = 0.05e-3};
    mount.nip.setting.orientation = libblade::Orientation::trailing;
    mount.nip.blade.free_length = 14e-3;
    return mount;
}

/// The unit and its shift, invented. Pairs: before and after the change.
struct Unit {
    Mount metering{.name = "metering", .nip = carton()}, contain = second();
    double width = 1.3;          ///< W [m]
    double standing = 0.5;       ///< below it the web stands, and the roll turns on lest ink dries in its cells [m/s]
    double change = 4.5 * hour;  ///< the crew moves the chamber in and opens the cooler [s]
    std::array<double, 2> advance{0.39e-3, 0.44e-3};  ///< c [m]
    std::array<double, 2> cooler{0.0, 40.0};          ///< K_w [W/K]
    double ink_share = 0.1;               ///< e; the rest goes into the roll, the far better conductor (heat.hpp)
    double circulation = 10e-3 / 60.0;    ///< Q [m3/s]
    double chamber = 3e-3, tank = 20e-3;  ///< ink in them [m3]
    double roll_capacity = 29e3;          ///< C_r [J/K]
    std::array<double, 3> losses{3.0, 8.0, 5.0};  ///< of chamber, roll and tank: K_c, K_r, K_s [W/K]
    double room = 24.0 + kelvin, water = 16.0 + kelvin;
    double transfer = 0.3;  ///< share of the roll's ink that reaches the print
    double density = 1.4;   ///< of the solid when the first sheet is passed

    [[nodiscard]] double ink_heat() const { return metering.nip.ink.density * metering.nip.ink.heat_capacity; }
    [[nodiscard]] std::array<double, 3> capacities() const {
        return {ink_heat() * chamber, roll_capacity, ink_heat() * tank};
    }
    /// Speed of the roll surface, straight between its corners [m/s].
    [[nodiscard]] double speed(double time) const {
        constexpr std::array at{0.0, 0.5, 0.75, 1.25, 1.5, 4.0, 4.25, 4.75, 5.0, 8.0};  // h
        constexpr std::array speeds{0.2, 0.2, 3.0, 3.0, 5.0, 5.0, 0.2, 0.2, 6.5, 6.5};
        std::size_t k = 1;
        while (k + 1 < at.size() && at[k] < time / hour) ++k;
        const double share = std::min(1.0, (time / hour - at[k - 1]) / (at[k] - at[k - 1]));
        return speeds[k - 1] + (speeds[k] - speeds[k - 1]) * share;
    }
};

/// A nip without a solution; what() is a sentence.
struct NotSolved : std::runtime_error {
    using std::runtime_error::runtime_error;
};

/// What both nips of a step have in common.
struct Running {
    double time, speed, temperature, advance;
};

/// A blade at work: its nip is set up once and solved in the same memory at every step, from scratch: a
/// bedded blade does not remember the step before.
class Blade {
  public:
    double lost = 0.0;  ///< of its length, L [m]

    /// `supplied`: a film of ink arrives, and only what warms and wears is read; else ink floods it.
    Blade(const Mount& mount, bool supplied)
        : mount_(mount), solver_(mount.nip, fields(supplied), outputs(supplied)), memory_(solver_.workspace()) {
        in_.resize(solver_.inputs()), out_.resize(solver_.outputs());
    }

    /// The operating point, valid until the next one. Throws NotSolved.
    const libblade::OperatingPoint& at(const Running& now, double supply = 0.0) {
        const double past = now.advance - mount_.later;
        const double angle = mount_.nip.setting.set_angle + past * std::sin(mount_.place) / mount_.nip.roll.radius;
        const std::array in{now.speed,
                            now.temperature,
                            past * std::cos(mount_.place) - lost * std::sin(angle),
                            angle,
                            mount_.nip.blade.free_length - lost,
                            supply};
        std::copy_n(in.begin(), in_.size(), in_.begin());
        const libblade::Status status = solver_.solve(in_, out_, memory_);
        if (status == libblade::Status::converged) return memory_.point();
        char where[120];
        std::snprintf(where, sizeof where, " blade at %.2f h, %.2f m/s, interference %.3f mm: ", now.time / hour,
                      now.speed, in[2] * 1e3);
        throw NotSolved("the " + mount_.name + where + std::string(libblade::describe(status)));
    }

  private:
    using P = libblade::OperatingPoint;
    static std::vector<std::string> fields(bool supplied) {
        std::vector<std::string> names{"setting.surface_speed", "ink.temperature", "setting.interference",
                                       "setting.set_angle", "blade.free_length"};
        if (supplied) names.push_back("setting.film_supply");
        return names;
    }
    static std::vector<double P::*> outputs(bool supplied) {
        if (supplied) return {&P::line_load, &P::power_per_width, &P::wear_rate};
        return {&P::line_load,      &P::power_per_width, &P::wear_rate,   &P::film_on_lands,
                &P::film_over_turn, &P::ink_carried,     &P::run_out_load};
    }

    Mount mount_;
    libblade::Solver solver_;
    libblade::Workspace memory_;
    std::vector<double> in_, out_;
};

/// Temperatures of chamber, roll and tank [K]; heat that came by friction and that went since the start [J].
using Heat = std::array<double, 5>;
struct Drive {
    double power;       ///< P [W]
    double round_trip;  ///< q [m3/s]
    double printed;     ///< q_p [m3/s]
    double cooler;      ///< K_w [W/K]
};

Heat heat_rates(const Unit& unit, const Drive& drive, const Heat& y) {
    const auto [chamber, roll, tank, came, went] = y;
    const auto [C_c, C_r, C_s] = unit.capacities();
    const double c = unit.ink_heat(), Q = unit.circulation, q = drive.round_trip, q_p = drive.printed;
    std::array<double, 3> lost;
    for (std::size_t k = 0; k < 3; ++k) lost[k] = unit.losses[k] * (y[k] - unit.room);
    const double cooled = drive.cooler * (tank - unit.water);
    const double to_chamber = c * (Q * tank - (Q - q_p) * chamber - q * chamber + (q - q_p) * roll);
    const double to_roll = c * q * (chamber - roll);
    const double to_tank = c * ((Q - q_p) * chamber + q_p * unit.room - Q * tank);
    return {(unit.ink_share * drive.power + to_chamber - lost[0]) / C_c,
            ((1.0 - unit.ink_share) * drive.power + to_roll - lost[1]) / C_r, (to_tank - lost[2] - cooled) / C_s,
            drive.power, lost[0] + lost[1] + lost[2] + cooled + c * q_p * (roll - unit.room)};
}

/// `duration` seconds later.
Heat heated(const Unit& unit, const Drive& drive, Heat y, double duration) {
    const double h = duration / parts;
    const auto moved = [&](const Heat& slope, double by) {
        Heat z = y;
        for (std::size_t k = 0; k < z.size(); ++k) z[k] += by * slope[k];
        return z;
    };
    for (int part = 0; part < parts; ++part) {
        const Heat k1 = heat_rates(unit, drive, y), k2 = heat_rates(unit, drive, moved(k1, 0.5 * h));
        const Heat k3 = heat_rates(unit, drive, moved(k2, 0.5 * h)), k4 = heat_rates(unit, drive, moved(k3, h));
        for (std::size_t k = 0; k < y.size(); ++k) y[k] += h * (k1[k] + 2.0 * k2[k] + 2.0 * k3[k] + k4[k]) / 6.0;
    }
    return y;
}

constexpr std::array columns{"hours",
                             "speed",
                             "advance",
                             "chamber",
                             "roll",
                             "tank",
                             "viscosity",
                             "power",
                             "metering_load",
                             "metering_run_out_load",
                             "metering_lost",
                             "containment_load",
                             "containment_lost",
                             "film",
                             "film_over_turn",
                             "density",
                             "density_over_turn",
                             "came",
                             "went",
                             "stored"};
using Row = std::array<double, columns.size()>;  // SI but for the hours; no density while the web stands: NaN

/// One row at the start of every step and one at the end. Throws NotSolved.
std::vector<Row> run_shift(const Unit& unit, double duration) {
    Blade metering(unit.metering, false), containment(unit.contain, true);
    std::vector<Row> rows;
    Heat heat{unit.room, unit.room, unit.room, 0.0, 0.0};
    std::optional<libblade::SolidDensity> law;
    const auto steps = static_cast<int>(std::lround(duration / step));
    for (int k = 0; k <= steps; ++k) {
        const double time = k * step, speed = unit.speed(time);
        const std::size_t late = time >= unit.change ? 1 : 0;
        const bool printing = speed >= unit.standing;
        const double share = printing ? unit.transfer : 0.0;
        const Running now{time, speed, heat[0], unit.advance[late]};
        const libblade::OperatingPoint& meter = metering.at(now);
        // On the lands comes back to the containment blade what the print has left there.
        const double back = (1.0 - share) * meter.film_on_lands;
        const libblade::OperatingPoint& contain = containment.at(now, back);
        const double power = unit.width * (meter.power_per_width + contain.power_per_width);

        const auto density = [&](double carried) {
            if (!printing) return std::numeric_limits<double>::quiet_NaN();
            const double film = libblade::ink_transfer(libblade::ProportionalTransfer{unit.transfer}, carried);
            if (!law) law = libblade::density_through(film, unit.density);
            return libblade::print_density(*law, film);
        };
        const double mean = density(meter.ink_carried);
        const double most = density(meter.ink_carried + meter.film_over_turn - meter.film_on_lands);
        double stored = 0.0;
        for (std::size_t i = 0; i < 3; ++i) stored += unit.capacities()[i] * (heat[i] - unit.room);
        rows.push_back({time / hour,
                        speed,
                        now.advance,
                        heat[0],
                        heat[1],
                        heat[2],
                        libblade::shear_viscosity(unit.metering.nip.ink, shear, heat[0]),
                        power,
                        meter.line_load,
                        meter.run_out_load,
                        metering.lost,
                        contain.line_load,
                        containment.lost,
                        meter.film_on_lands,
                        meter.film_over_turn,
                        mean,
                        most,
                        heat[3],
                        heat[4],
                        stored});

        const double round_trip = meter.ink_carried * speed * unit.width;
        heat = heated(unit, {power, round_trip, share * round_trip, unit.cooler[late]}, heat, step);
        const double slid = 0.5 * (speed + unit.speed(time + step)) * step;
        metering.lost += meter.wear_rate * slid;
        containment.lost += contain.wear_rate * slid;
    }
    return rows;
}

void print(const std::vector<Row>& rows) {
    for (std::size_t k = 0; k < columns.size(); ++k) std::printf("%s%s", k == 0 ? "" : ",", columns[k]);
    for (const Row& row : rows)
        for (std::size_t k = 0; k < row.size(); ++k) std::printf("%s%.12g", k == 0 ? "\n" : ",", row[k]);
    std::printf("\n");
}

/// Places where a printed series is another one.
int differences(const std::vector<Row>& rows, const std::string& file_name) {
    std::ifstream file(file_name);
    std::string line;
    std::getline(file, line);
    int count = 0;
    for (const Row& row : rows) {
        std::getline(file, line);
        std::istringstream cells(line);
        for (std::size_t k = 0; k < row.size(); ++k) {
            std::string cell;
            std::getline(cells, cell, ',');
            const double before =
                cell.empty() ? std::numeric_limits<double>::infinity() : std::strtod(cell.c_str(), nullptr);
            if (std::isnan(row[k]) && std::isnan(before)) continue;
            if (std::abs(row[k] - before) <= 1e-6 * std::abs(before) && std::isfinite(before)) continue;
            std::fprintf(stderr, "%.3f h: %s is %.9g, was %.9g\n", row[0], columns[k], row[k], before);
            ++count;
        }
    }
    return count;
}

}  // namespace

int main(int argc, char** argv) {
    try {
        const std::vector<Row> rows = run_shift({}, 8.0 * hour);
        print(rows);
        return argc > 1 && differences(rows, argv[1]) > 0 ? 1 : 0;
    } catch (const NotSolved& failed) {
        std::fprintf(stderr, "the shift ends early: %s\n", failed.what());
        return 1;
    } catch (const libblade::InvalidInput& bad) {  // a blade that no longer reaches the roll
        std::fprintf(stderr, "%s\n", bad.what());
        return 2;
    }
}
