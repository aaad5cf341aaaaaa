// Floating-point work of an operating point, as a share of what this machine can do: the kernels' operations are counted by a
// scalar that counts, how often a solve calls them by a counter at its call of the blade (link option --wrap), and the machine's
// own rate of additions and multiplications is measured in the same run with the same flags. Reported, never judged.
//
// Counted: contact and blade in the balance, one of each a round. Not counted, so that the work is a lower bound: the guess that
// the rounds begin with, the slopes of the blade at the end, the question whether the state is stable, what is read off the state.
#include <array>
#include <cmath>
#include <cstdio>
#include <numbers>
#include <vector>

#include "../../libblade/src/nip_prepare.hpp"
#include "bench_cases.hpp"
#include "bench_parts.hpp"
#include "libblade/bending_kernel.hpp"
#include "libblade/film.hpp"
#include "libblade/random.hpp"

using namespace libblade;

namespace {
int blade_calls = 0;
}
extern "C" {
StripMismatch __real__ZN8libblade14strip_mismatchERKNS_5StripEdRKNS_12ContactForceEi(const Strip&, double,
                                                                                     const ContactForce&, int) noexcept;
StripMismatch __wrap__ZN8libblade14strip_mismatchERKNS_5StripEdRKNS_12ContactForceEi(const Strip& strip, double angle,
                                                                                     const ContactForce& force,
                                                                                     int steps) noexcept;
}
StripMismatch __wrap__ZN8libblade14strip_mismatchERKNS_5StripEdRKNS_12ContactForceEi(const Strip& strip, double angle,
                                                                                     const ContactForce& force,
                                                                                     int steps) noexcept {
    ++blade_calls;
    return __real__ZN8libblade14strip_mismatchERKNS_5StripEdRKNS_12ContactForceEi(strip, angle, force, steps);
}

namespace counting {

struct Work {
    double sums = 0.0, divisions = 0.0, functions = 0.0;  ///< + - *; / sqrt; exp log pow sin cos atan2
};
inline Work work;

struct Counted {
    double v = 0.0;
    Counted() = default;
    Counted(double value) : v(value) {}
};
inline Counted summed(double v) { return ++work.sums, Counted(v); }
inline Counted divided(double v) { return ++work.divisions, Counted(v); }
inline Counted called(double v) { return ++work.functions, Counted(v); }
inline Counted operator+(const Counted& a, const Counted& b) { return summed(a.v + b.v); }
inline Counted operator-(const Counted& a, const Counted& b) { return summed(a.v - b.v); }
inline Counted operator*(const Counted& a, const Counted& b) { return summed(a.v * b.v); }
inline Counted operator/(const Counted& a, const Counted& b) { return divided(a.v / b.v); }
inline Counted operator-(const Counted& a) { return Counted(-a.v); }
inline Counted& operator+=(Counted& a, const Counted& b) { return a = a + b; }
inline Counted& operator-=(Counted& a, const Counted& b) { return a = a - b; }
inline bool operator<(const Counted& a, const Counted& b) { return a.v < b.v; }
inline bool operator>(const Counted& a, const Counted& b) { return a.v > b.v; }
inline bool operator<=(const Counted& a, const Counted& b) { return a.v <= b.v; }
inline bool operator>=(const Counted& a, const Counted& b) { return a.v >= b.v; }
inline bool operator!=(const Counted& a, const Counted& b) { return a.v != b.v; }
inline Counted sqrt(const Counted& a) { return divided(std::sqrt(a.v)); }
inline Counted exp(const Counted& a) { return called(std::exp(a.v)); }
inline Counted log(const Counted& a) { return called(std::log(a.v)); }
inline Counted sin(const Counted& a) { return called(std::sin(a.v)); }
inline Counted cos(const Counted& a) { return called(std::cos(a.v)); }
inline Counted pow(const Counted& a, double b) { return called(std::pow(a.v, b)); }
inline Counted atan2(const Counted& y, const Counted& x) { return called(std::atan2(y.v, x.v)); }
inline double value_of(const Counted& a) noexcept { return a.v; }

}  // namespace counting

namespace {

using counting::Counted;
using counting::Work;

/// Of the contact at a state of a doctoring blade; its lift must come out as the solver has it.
Work contact_work(const detail::Prepared& p, double& lift) {
    kernel::ContactSetup setup = p.solver.setup();
    setup.mesh.facet = 1;  // a parallel facet is one cell
    std::vector<Counted> memory(kernel::kArraySize * setup.mesh.nodes());
    const auto arrays = kernel::contact_arrays(std::span<Counted>(memory), setup.mesh.nodes());
    counting::work = {};
    const auto forces = kernel::contact_forces<Counted>(setup, 0.0, p.state.low_gap,
                                                        p.solver.ink_side_angle(p.state.angle), p.state.angle, arrays);
    lift = forces.normal().v;
    return counting::work;
}
Work blade_work(const detail::Prepared& p, double& residual) {
    const Strip strip = p.solver.strip(p.facet_length, p.bedded_angle);
    const ContactForce& f = p.state.force;
    counting::work = {};
    kernel::StripLayout<Counted> layout;
    kernel::lay_out(layout, strip, Counted(strip.length), 0.0, p.solver.strip_steps(),
                    [](const Counted& x) { return x.v; });
    auto [at, load] = kernel::start_at_tip<Counted>(strip, p.state.angle, {f.normal, f.tangential, f.centre});
    kernel::integrate_layout(at, load, layout);
    const auto pose = kernel::pose_at_clamp<Counted>(strip, at, load, nullptr);
    residual = pose.angle_residual.v;
    return counting::work;
}

/// Operations a second of independent chains a = a b + c, `Number` one number or as many as a register of this build holds.
template <class Number, int Lanes>
double operation_rate() {
    constexpr int kChains = 12, kRounds = 100000;
    std::array<Number, kChains> a{};
    const double b = 0.999 + 1e-18 * bench_parts::kept, c = 1e-3;
    const auto times = bench_parts::times_of([&] {
        auto chains = a;
        for (int i = 0; i < kRounds; ++i)
            for (int k = 0; k < kChains; ++k) {
                auto& x = chains[static_cast<std::size_t>(k)];
                x = x * b + c;
#if defined(__x86_64__)
                asm volatile("" : "+x"(x));  // stays in its register: no chain is merged, none left out
#elif defined(__aarch64__)
                asm volatile("" : "+w"(x));
#endif
            }
        a = chains;
        if constexpr (Lanes == 1)
            return chains[0];
        else
            return chains[0][0];
    });
    return 2.0 * kChains * kRounds * Lanes / times.best;
}

}  // namespace

int main() {
    bench_parts::print_build();
    FlowTables tables;
    NipOptions options;
    options.tables = &tables;
    options.step_response = options.other_branch = options.run_out = false;
    constexpr int kCases = 200;
    constexpr double deg = std::numbers::pi / 180.0;
    Random random(1);
    std::vector<Case> cases(kCases, bench_cases::base());
    for (Case& c : cases) {
        c.setting.set_angle = random.uniform(26.0, 40.0) * deg;
        c.setting.load = LineLoad{random.uniform(50.0, 200.0)};
    }
    Work contact, blade;
    double calls = 0.0, apart = 0.0;
    int bedded = 0;
    for (const Case& c : cases) {
        blade_calls = 0;
        const OperatingPoint point = solve(c, options);
        if (!point.convergence.ok() || point.branch != Branch::bedded) continue;
        const int here = blade_calls;
        const detail::Prepared p = detail::prepare(c, options);
        double lift = 0.0, residual = 0.0;
        const Work film = contact_work(p, lift), strip = blade_work(p, residual);
        apart = std::max({apart, std::abs(lift / point.line_load - 1.0), std::abs(residual)});
        const auto add = [&](Work& to, const Work& one, double times) {
            to.sums += times * one.sums, to.divisions += times * one.divisions, to.functions += times * one.functions;
        };
        add(contact, film, here - 1), add(blade, strip, here);
        calls += here, ++bedded;
    }
    std::size_t next = 0;
    const auto time = bench_parts::times_of([&] { return solve(cases[next++ % kCases], options).film_on_lands; }, 1.0);

    using Pair = double __attribute__((vector_size(16)));
    const double scalar = operation_rate<double, 1>(), vector = operation_rate<Pair, 2>();
    constexpr double kFunction =
        20.0;  // operations that a function stands for: a polynomial of ten terms (own estimate)
    const auto operations = [&](const Work& w) { return (w.sums + w.divisions + kFunction * w.functions) / bedded; };
    const auto print = [&](const char* name, const Work& w) {
        std::printf("    %s: %.0f sums and products, %.0f divisions and roots, %.0f functions of %.0f operations\n",
                    name, w.sums / bedded, w.divisions / bedded, w.functions / bedded, kFunction);
    };
    std::printf("work of an operating point, %d bedded of %d solved, counted states agree to %.0e:\n", bedded, kCases,
                apart);
    std::printf("    %.1f calls of the blade a solve\n", calls / bedded);
    print("contact", contact), print("blade", blade);
    const double rate = (operations(contact) + operations(blade)) / time.median;
    std::printf("    %.0f operations in %.1f us: %.2f G/s\n", operations(contact) + operations(blade),
                1e6 * time.median, 1e-9 * rate);
    std::printf("    this machine, one number at a time: %.2f G/s, so %.0f %%; two at a time: %.2f G/s, so %.0f %%\n",
                1e-9 * scalar, 100.0 * rate / scalar, 1e-9 * vector, 100.0 * rate / vector);
    return 0;
}
