// What a bent strip looks like and what it stores; the cantilever of the tables.
#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "bending_model.hpp"

namespace libblade {

using namespace bending_model;

namespace {

/// Gauss points in [0, 1] (Abramowitz & Stegun 1964, table 25.4): exact to degree 9.
constexpr std::array<double, 5> kGauss{0.046910077030668, 0.230765344947158, 0.5, 0.769234655052842, 0.953089922969332};
constexpr std::array<double, 5> kWeight{0.118463442528095, 0.239314335249683, 0.284444444444444, 0.239314335249683,
                                        0.118463442528095};

/// Adds half the integral of m theta' over a step.
struct Energy {
    double sum = 0.0;
    void operator()(const kernel::StripSeries<double>& u) {
        for (std::size_t i = 0; i < kGauss.size(); ++i)
            sum += kWeight[i] * polynomial(u.moment, kGauss[i]) * polynomial(u.turn, kGauss[i]) * u.stiffness /
                   std::abs(u.step);
    }
};

}  // namespace

Shape strip_shape(const Strip& strip, const Bent& bent, const ContactForce& force, int points) {
    const int n = std::max(points, 2);
    const double spacing = strip.length / (n - 1);
    // Even places are read off the series of whatever steps the integration takes.
    std::vector<kernel::StripState<double>> nodes(static_cast<std::size_t>(n));
    const auto read = [&](double from, int first) {
        return [&, at = from, next = first](const kernel::StripSeries<double>& u) mutable {
            const double end = at + u.step;
            for (; next >= 0 && next * spacing >= end - 1e-9 * spacing; --next) {
                const double x = std::clamp((next * spacing - at) / u.step, 0.0, 1.0);
                nodes[static_cast<std::size_t>(next)] = {polynomial(u.theta, x), 0.0, polynomial(u.o, x),
                                                         polynomial(u.z, x)};
            }
            at = end;
        };
    };
    const double u = place_of(strip, bent), contact = u < 0.0 ? bent.contact_arc_length : strip.length;
    const int first = std::min(n - 1, static_cast<int>(std::floor(contact / spacing + 1e-9)));
    const Pose found = pose(strip, u, force, std::max(n - 1, 16), read(contact, first));
    nodes[0] = found.at.clamp;
    if (u < 0.0) {
        // Beyond the contact: the arc on the roll, then the free end in the frame of its root.
        const Overhang& beyond = found.beyond;
        const double root = contact + beyond.arc, radius = strip.roll_radius + local(strip, contact).offset;
        const double turn = std::isinf(radius) ? 0.0 : beyond.arc / radius;
        const double e = local(strip, contact).offset;
        const double s = std::sin(turn), c = std::cos(turn);
        const double ro = std::isinf(radius) ? beyond.arc : radius * s;
        const double rz = std::isinf(radius) ? e : e - radius * (1.0 - c);
        std::vector<kernel::StripState<double>> free(nodes.size());
        if (beyond.length > 0.0) {
            kernel::StripLayout<double> layout;
            kernel::lay_out(layout, strip, strip.length, root, std::max(n - 1, 16), [](double x) { return x; });
            kernel::StripState<double> at{beyond.tip_angle, 0.0, beyond.o, beyond.z};
            kernel::StripLoad<double> load{1.0, 0.0, 0.0, strip.pressure, at.o, at.z};
            kernel::integrate_layout(at, load, layout, read(strip.length, n - 1));
        }
        for (int i = first + 1; i < n; ++i) {
            auto& node = nodes[static_cast<std::size_t>(i)];
            const double along = i * spacing - contact;
            if (along < beyond.arc) {
                const double t = along / radius;
                node = {t, 0.0, std::isinf(radius) ? along : radius * std::sin(t), e - radius * (1.0 - std::cos(t))};
                if (std::isinf(radius)) node.z = e;
            } else {
                node = {node.theta + turn, 0.0, ro + node.o * c + node.z * s, rz - node.o * s + node.z * c};
            }
        }
    }
    const double s = std::sin(found.at.roll_turn), c = std::cos(found.at.roll_turn);
    const double drop = found.at.travel_o * s / (1.0 + c);
    Shape shape;
    for (const auto& node : nodes) {
        shape.o.push_back(found.at.travel_o + node.o * c + node.z * s);
        shape.z.push_back(-drop - node.o * s + node.z * c);
        shape.slope.push_back(node.theta + found.at.roll_turn);
    }
    return shape;
}

double strain_energy(const Strip& strip, double effective_angle, const ContactForce& force, int steps) {
    Energy energy;
    (void)pose(strip, effective_angle, force, steps, energy);
    return 0.5 * energy.sum;
}

double strain_energy(const Strip& strip, const Bent& bent, const ContactForce& force, int steps) {
    Energy energy;
    const Pose found = pose(strip, place_of(strip, bent), force, steps, energy);
    if (found.beyond.ok && bent.contact_mode == ContactMode::flat && strip.pressure != 0.0) {
        const double root = bent.contact_arc_length + found.beyond.arc;
        kernel::StripLayout<double> layout;
        kernel::lay_out(layout, strip, strip.length, root, steps, [](double x) { return x; });
        kernel::StripState<double> at{found.beyond.tip_angle, 0.0, 0.0, 0.0};
        kernel::StripLoad<double> load{1.0, 0.0, 0.0, strip.pressure, 0.0, 0.0};
        kernel::integrate_layout(at, load, layout, energy);
        if (found.beyond.arc > 0.0) {
            // On the arc m theta' = D / (R + e)^2, D over the arc by Gauss.
            for (std::size_t i = 0; i < kGauss.size(); ++i) {
                const Local here = local(strip, bent.contact_arc_length + kGauss[i] * found.beyond.arc);
                const double radius = strip.roll_radius + here.offset;
                energy.sum += kWeight[i] * found.beyond.arc * here.stiffness / (radius * radius);
            }
        }
    }
    const double springs = strip.plate.compliance * found.plate_force * found.plate_force +
                           strip.holder_compliance * found.at.push_z * found.at.push_z +
                           strip.holder_rotation * found.at.holder_moment * found.at.holder_moment;
    return 0.5 * (energy.sum + springs);
}

CantileverEnd solve_cantilever(const Cantilever& beam, double start_rotation, int steps) {
    CantileverEnd out;
    out.x = out.y = out.rotation = out.root_curvature = kNan;
    const auto stop = [&](Status status, const char* message) {
        out.convergence.status = status, out.convergence.message = message;
        return out;
    };
    out.convergence.tolerance = kTolerance;
    const double D = beam.stiffness, L = beam.length;
    for (const double value : {D, L, beam.force_x, beam.force_y, beam.moment, start_rotation})
        if (!std::isfinite(value)) return stop(Status::non_finite, "a number given to the cantilever is not finite");
    if (!(D > 0.0) || !(L > 0.0) || steps < 1)
        return stop(Status::out_of_range, "stiffness, length and steps must be positive");
    // In the strip's words: theta = -rotation, o = x, z = y; theta at the clamp must vanish.
    using Dual = Dual<1>;
    const auto shoot = [&](double rotation, double share) {
        const Dual zero(0.0);
        const kernel::StripState<Dual> tip{Dual(-rotation, {1.0}), Dual(-share * beam.moment), zero, zero};
        const kernel::StripLoad<Dual> load{Dual(D), Dual(share * beam.force_x), Dual(share * beam.force_y), zero, zero,
                                           zero};
        return kernel::integrate_strip(tip, load, Dual(L), steps);
    };
    const double severity = (std::hypot(beam.force_x, beam.force_y) * L + std::abs(beam.moment)) * L / D;
    const int levels = start_rotation != 0.0 ? 1 : 1 + static_cast<int>(std::min(4.0 * severity, 400.0));
    double rotation = start_rotation, previous = start_rotation;
    for (int level = 1; level <= levels; ++level) {
        const double share = static_cast<double>(level) / levels;
        const double guess = level > 2 ? 2.0 * rotation - previous : rotation;
        previous = std::exchange(rotation, guess);
        kernel::StripState<Dual> clamp = shoot(rotation, share);
        for (int i = 0; std::abs(clamp.theta.v) > kTolerance; ++i) {
            if (i == 30) return stop(Status::max_iterations, "the end rotation was not found in time");
            rotation += std::clamp(clamp.theta.v / clamp.theta.d[0], -0.5, 0.5);
            clamp = shoot(rotation, share);
            ++out.convergence.iterations;
            if (!std::isfinite(clamp.theta.v) || !std::isfinite(clamp.theta.d[0]))
                return stop(Status::non_finite, "the integrated cantilever is not finite");
        }
        out.x = -clamp.o.v, out.y = -clamp.z.v, out.rotation = rotation, out.root_curvature = -clamp.moment.v / D;
        out.convergence.residual = std::abs(clamp.theta.v);
    }
    out.convergence.status = Status::converged;
    return out;
}

}  // namespace libblade
