// Dual numbers in one direction: value and derivative. Eigen's own take minutes to compile under the sanitizers.
#pragma once

#include <cmath>

struct Dual {
    double v = 0.0, d = 0.0;
    Dual() = default;
    Dual(double value) : v(value) {}  // NOLINT: numbers mix with duals as they do with doubles
    Dual(double value, double derivative) : v(value), d(derivative) {}
};

inline double value_of(const Dual& a) noexcept { return a.v; }
inline Dual operator-(const Dual& a) { return {-a.v, -a.d}; }
inline Dual operator+(const Dual& a, const Dual& b) { return {a.v + b.v, a.d + b.d}; }
inline Dual operator-(const Dual& a, const Dual& b) { return {a.v - b.v, a.d - b.d}; }
inline Dual operator*(const Dual& a, const Dual& b) { return {a.v * b.v, a.d * b.v + a.v * b.d}; }
inline Dual operator/(const Dual& a, const Dual& b) { return {a.v / b.v, (a.d - a.v / b.v * b.d) / b.v}; }
inline Dual& operator+=(Dual& a, const Dual& b) { return a = a + b; }
inline Dual& operator-=(Dual& a, const Dual& b) { return a = a - b; }
inline Dual& operator*=(Dual& a, const Dual& b) { return a = a * b; }
inline bool operator<(const Dual& a, const Dual& b) { return a.v < b.v; }
inline bool operator>(const Dual& a, const Dual& b) { return a.v > b.v; }
inline bool operator<=(const Dual& a, const Dual& b) { return a.v <= b.v; }
inline bool operator>=(const Dual& a, const Dual& b) { return a.v >= b.v; }
inline bool operator==(const Dual& a, const Dual& b) { return a.v == b.v; }
inline Dual exp(const Dual& a) { return {std::exp(a.v), std::exp(a.v) * a.d}; }
inline Dual log(const Dual& a) { return {std::log(a.v), a.d / a.v}; }
inline Dual sqrt(const Dual& a) { return {std::sqrt(a.v), 0.5 * a.d / std::sqrt(a.v)}; }
inline Dual pow(const Dual& a, double b) { return {std::pow(a.v, b), b * std::pow(a.v, b - 1.0) * a.d}; }
