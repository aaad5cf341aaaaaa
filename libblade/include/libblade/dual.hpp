// Value and first derivatives by N variables (forward mode), for the kernels' scalar type.
#pragma once

#include <array>
#include <cmath>
#include <cstddef>

#include "libblade/interpolation.hpp"

namespace libblade {

template <std::size_t N>
struct Dual {
    double v = 0.0;
    std::array<double, N> d{};
    Dual() = default;
    Dual(double value) : v(value) {}  // numbers mix with duals as they do with doubles
    Dual(double value, const std::array<double, N>& by) : v(value), d(by) {}
};
template <std::size_t N>
Dual<N> variable(double value, std::size_t index) {
    Dual<N> x(value);
    x.d[index] = 1.0;
    return x;
}
/// f(a) from the value f and the slope f'(a).
template <std::size_t N>
Dual<N> chain(double value, double slope, const Dual<N>& a) {
    Dual<N> r(value);
    for (std::size_t i = 0; i < N; ++i) r.d[i] = slope * a.d[i];
    return r;
}
template <std::size_t N>
Dual<N> operator+(Dual<N> a, const Dual<N>& b) {
    a.v += b.v;
    for (std::size_t i = 0; i < N; ++i) a.d[i] += b.d[i];
    return a;
}
template <std::size_t N>
Dual<N> operator-(Dual<N> a, const Dual<N>& b) {
    a.v -= b.v;
    for (std::size_t i = 0; i < N; ++i) a.d[i] -= b.d[i];
    return a;
}
template <std::size_t N>
Dual<N> operator*(const Dual<N>& a, const Dual<N>& b) {
    Dual<N> r(a.v * b.v);
    for (std::size_t i = 0; i < N; ++i) r.d[i] = a.d[i] * b.v + a.v * b.d[i];
    return r;
}
template <std::size_t N>
Dual<N> operator/(const Dual<N>& a, const Dual<N>& b) {
    const double per = 1.0 / b.v;
    Dual<N> r(a.v * per);
    for (std::size_t i = 0; i < N; ++i) r.d[i] = (a.d[i] - r.v * b.d[i]) * per;
    return r;
}
template <std::size_t N>
Dual<N> operator+(double a, Dual<N> b) {
    b.v += a;
    return b;
}
template <std::size_t N>
Dual<N> operator+(Dual<N> a, double b) {
    return b + a;
}
template <std::size_t N>
Dual<N> operator-(Dual<N> a, double b) {
    a.v -= b;
    return a;
}
template <std::size_t N>
Dual<N> operator-(double a, const Dual<N>& b) {
    return chain(a - b.v, -1.0, b);
}
template <std::size_t N>
Dual<N> operator*(double a, const Dual<N>& b) {
    return chain(a * b.v, a, b);
}
template <std::size_t N>
Dual<N> operator*(const Dual<N>& a, double b) {
    return b * a;
}
template <std::size_t N>
Dual<N> operator/(double a, const Dual<N>& b) {
    return chain(a / b.v, -a / (b.v * b.v), b);
}
template <std::size_t N>
Dual<N> operator/(const Dual<N>& a, double b) {
    return (1.0 / b) * a;
}
template <std::size_t N>
Dual<N>& operator+=(Dual<N>& a, const Dual<N>& b) {
    return a = a + b;
}
template <std::size_t N>
Dual<N>& operator-=(Dual<N>& a, const Dual<N>& b) {
    return a = a - b;
}
template <std::size_t N>
Dual<N>& operator*=(Dual<N>& a, const Dual<N>& b) {
    return a = a * b;
}
template <std::size_t N>
Dual<N> operator-(const Dual<N>& a) {
    return chain(-a.v, -1.0, a);
}
template <std::size_t N>
bool operator<(const Dual<N>& a, const Dual<N>& b) {
    return a.v < b.v;
}
template <std::size_t N>
bool operator>(const Dual<N>& a, const Dual<N>& b) {
    return a.v > b.v;
}
template <std::size_t N>
bool operator<=(const Dual<N>& a, const Dual<N>& b) {
    return a.v <= b.v;
}
template <std::size_t N>
bool operator>=(const Dual<N>& a, const Dual<N>& b) {
    return a.v >= b.v;
}
template <std::size_t N>
bool operator!=(const Dual<N>& a, const Dual<N>& b) {
    return a.v != b.v;
}
template <std::size_t N>
Dual<N> sin(const Dual<N>& a) {
    return chain(std::sin(a.v), std::cos(a.v), a);
}
template <std::size_t N>
Dual<N> cos(const Dual<N>& a) {
    return chain(std::cos(a.v), -std::sin(a.v), a);
}
template <std::size_t N>
Dual<N> sqrt(const Dual<N>& a) {
    const double root = std::sqrt(a.v);
    return chain(root, 0.5 / root, a);
}
template <std::size_t N>
Dual<N> atan2(const Dual<N>& y, const Dual<N>& x) {
    const double n = 1.0 / (x.v * x.v + y.v * y.v);
    Dual<N> r(std::atan2(y.v, x.v));
    for (std::size_t i = 0; i < N; ++i) r.d[i] = (x.v * y.d[i] - y.v * x.d[i]) * n;
    return r;
}

template <std::size_t N>
Dual<N> exp(const Dual<N>& a) {
    const double e = std::exp(a.v);
    return chain(e, e, a);
}
template <std::size_t N>
Dual<N> log(const Dual<N>& a) {
    return chain(std::log(a.v), 1.0 / a.v, a);
}
template <std::size_t N>
Dual<N> pow(const Dual<N>& a, double b) {
    const double p = std::pow(a.v, b);
    return chain(p, b * p / a.v, a);
}

template <std::size_t N>
[[nodiscard]] double value_of(const Dual<N>& a) noexcept {
    return a.v;
}

}  // namespace libblade
