// The nip: film, asperities and bending in one operating point.
//
// Unknowns: facet tilt d and gap h. Film and asperities carry the load the bent blade gives; their force and moment
// turn the tip to that same tilt. For a given tilt the gap balances the load; the tilt then moves towards the elastic
// one until the two agree (quasi-static branches).
//
// Threads. Here and in every other room: a function keeps nothing from one call to the next that another call could see.
// Any number of threads may call any functions at once, also on the same values as long as nobody changes these, and get
// the bits that one thread gets. FlowTables may be shared: each table is made once, by whoever asks first. A Solver may be
// shared; its Workspace, a WarmStart and whatever else is given by non-const pointer or reference belong to one call at a time.
#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "libblade/bending.hpp"
#include "libblade/case.hpp"
#include "libblade/nip_tables.hpp"
#include "libblade/status.hpp"

namespace libblade {

enum class Regime { none, wiping, mixed, riding, heel_contact, starved };
enum class Branch { none, bedded, wiping, riding };
enum class Start { resting, riding };
[[nodiscard]] std::string_view to_string(Regime regime) noexcept;
[[nodiscard]] std::string_view to_string(Branch branch) noexcept;

/// A law left its range: the name, the number, its limit, a sentence. Texts are the library's own and stay.
struct ValidityFlag {
    std::string_view name;
    double value = 0.0;
    double limit = 0.0;
    std::string_view message;
    Status why = Status::converged;  ///< of a further solve that has no solution: its status
    bool operator==(const ValidityFlag&) const = default;
    /// The message, and why if there is more to say.
    [[nodiscard]] std::string text() const;
};

/// Pressure and gap along the nip.
struct Section {
    std::vector<double> x;                  ///< downstream from the facet centre [m], (n,)
    std::vector<double> gap;                ///< between mean surfaces [m], (n,)
    std::vector<double> film_pressure;      ///< gauge [Pa], (n,)
    std::vector<double> asperity_pressure;  ///< mean over land and cells [Pa], (n,)
    std::vector<double> void_fraction;      ///< [-], (n,)
};

/// Where a blade stands: the solve of a near setting begins there. Plain numbers, to be kept, copied and put back.
struct WarmStart {
    /// A blade bedded parallel: effective angle [rad], ln((gap + 3 sigma) / m), load [N/m], and how both answered.
    struct Bed {
        double angle = 0.0, u = 0.0, load = 0.0;
        std::array<double, 4> response{};
        bool known = false;
    };
    Bed here, there;              ///< at this setting; where the facet ran in elsewhere
    double angle = 0.0, u = 0.0;  ///< the state itself
    bool stands = false;          ///< the state is known
    void forget() { *this = {}; }
};

/// Which solves to make. Off means the matching outputs are NaN.
struct NipOptions {
    Start start = Start::resting;
    bool step_response = true;
    bool other_branch = true;
    bool run_out = true;
    bool strength = true;  ///< widths and pressures of the contact, and of the blade deflection, stress and stiffness
    bool section = false;
    int mesh = 1;                  ///< nodes: 1 the usual, 2 double, 0 half
    FlowTables* tables = nullptr;  ///< kept by the caller; none: made anew
    /// Kept by the caller from one solve of the same blade to the next, near one; none: from scratch. A bedded blade comes out
    /// the same to 1e-8. One bedded elsewhere or at a given angle goes on from where it stood (quasi-static): it stays on
    /// its branch while there is one. A solve that fails forgets.
    WarmStart* near = nullptr;
    /// T = friction x N whatever carries N: no nip is so; shows where two states come from.
    bool constant_friction = false;
};

struct OperatingPoint {
    double film_on_lands;         ///< ink that passes between blade and lands, per area of roll [m]
    double excess_ink;            ///< film_on_lands beyond that of a clean wipe [m]
    double film_after_step;       ///< largest film_on_lands after the load step, up or down, without re-bedding [m]
    double excess_after_step;     ///< largest excess_ink after the load step [m]
    double ink_carried;           ///< film_on_lands plus cell volume times fill [m] (m3/m2)
    double min_film;              ///< smallest gap between mean surfaces [m]
    double leading_gap;           ///< the same at the ink-side end of what is flat, where its rounding begins [m]
    double ink_wedge_angle;       ///< between the roll and the face of the tip that meets the ink [rad]
    double clean_wipe_film;       ///< film of a parallel facet whose asperities alone carry the load [m]
    double tip_deflection;        ///< normal to the undeformed blade, away from the roll [m]
    double interference;          ///< holder advance past first touch [m]
    double effective_angle;       ///< [rad]
    double tip_rotation;          ///< set angle minus tip slope [rad]
    double facet_tilt;            ///< positive: opens towards the incoming ink [rad]
    double bedded_angle;          ///< [rad]
    double line_load;             ///< N [N/m]
    double tangential_load;       ///< T, along the roll motion [N/m]
    double hydrodynamic_lift;     ///< film and wedge [N/m]
    double asperity_load;         ///< [N/m]
    double friction_coefficient;  ///< T / N [-]
    double facet_length;          ///< [m]
    double contact_width;         ///< shortest stretch that carries 95 % of the load [m]; 0: all of it is on the wedge
    double elastic_width;         ///< of the unworn edge: Hertz line contact, capped by hardness [m]
    double mean_pressure;         ///< N over the facet length (unworn edge: over the contact width) [Pa]
    double bearing_pressure;      ///< mean over the contact width: 95 % of N over it [Pa]
    double elastic_pressure;      ///< N over the elastic width [Pa]
    double peak_pressure;         ///< film plus asperities [Pa]
    double film_load_share;       ///< film under the facet / N [-]
    double asperity_load_share;   ///< [-]
    double wedge_load_share;      ///< ink-side flank / N [-]
    double lambda_ratio;          ///< min_film / sigma [-]
    double power_per_width;       ///< T U [W/m]
    double film_temperature;      ///< [K]
    double max_bending_stress;    ///< [Pa]
    double stress_ratio;          ///< to the yield strength [-]
    double wear_rate;             ///< blade length per web length k_b N_a / t [-]
    double tangent_stiffness;     ///< dN/d(interference) of the blade [N/m2]
    double run_out_load;          ///< amplitude of the line load over a turn of the roll, from its run-out [N/m]
    double run_out_angle;         ///< amplitude of the effective angle [rad]
    double run_out_tilt;          ///< amplitude of the facet tilt [rad]
    double film_over_turn;        ///< largest film_on_lands over a turn [m]
    Regime regime = Regime::none;
    Branch branch = Branch::none;
    bool bedded_stable = false;        ///< would a blade bedded parallel at this setting stay parallel
    bool other_branch_exists = false;  ///< another stable state exists whose film differs by more than 10 %
    std::vector<ValidityFlag> validity;
    Section section;
    Shape blade;  ///< deflected mid-plane; filled with the section
    Convergence convergence;
    OperatingPoint();  ///< every number NaN
    /// As new, in the memory it has.
    void clear() noexcept;
    /// The members that are numbers, in their order above.
    [[nodiscard]] static std::span<double OperatingPoint::*const> numbers() noexcept;
};

/// Forces on the tip at a given place, no balance with the blade.
struct TipFilm {
    double film_load = 0.0;      ///< of the Reynolds film [N/m]
    double outer_load = 0.0;     ///< of the wedge ahead of it, where inertia rules [N/m]
    double asperity_load = 0.0;  ///< [N/m]
    double moment = 0.0;         ///< of all normal pressure about the facet's centre, positive: pressure downstream [N]
    double tangential_load = 0.0;   ///< T [N/m]
    double flow = 0.0;              ///< between blade and lands [m2/s]
    double temperature_rise = 0.0;  ///< [K]
    Section section;
    Convergence convergence;
};
struct TipPlace {
    double effective_angle = 0.5;  ///< at no tilt [rad]
    double facet_length = 0.0;     ///< 0: unworn edge [m]
    double tilt = 0.0;             ///< positive: opens towards the incoming ink [rad]
    double low_gap = 1e-6;         ///< between mean planes at the lower facet end, or at the unworn edge [m]
};
/// The contact of a case's ink, roll and tip at a place. A facet that has eaten the whole end face is taken so. Under a soft tip
/// low_gap is that of the loaded tip by and large; the section tells the gap.
/// Throws InvalidInput on values outside their hard ranges.
[[nodiscard]] TipFilm tip_film(const Case& nip_case, const TipPlace& place, const NipOptions& options = {});

/// One operating point of a case. A search that is lost goes on from 1 % more or less of load or interference. Throws
/// InvalidInput on values outside their hard ranges; a solve that fails is a status.
[[nodiscard]] OperatingPoint solve(const Case& nip_case, const NipOptions& options = {});
/// The same blade right after a step, -0.9 to 1 of what the holder keeps: of its advance where it is fixed, of the load where that
/// floats. The facet stays, and the blade stays on the branch it ran on for as long as there is one (quasi-static). The step
/// response is one from here; branch is none, bedded_stable that of the unstepped setting. Throws InvalidInput.
[[nodiscard]] OperatingPoint solve_after_step(const Case& nip_case, double step, const NipOptions& options = {});

}  // namespace libblade
