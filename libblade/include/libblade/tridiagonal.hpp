// Block-tridiagonal linear systems with 2 x 2 blocks: two unknowns a node, neighbours only.
#pragma once

#include <cmath>
#include <cstddef>
#include <span>

namespace libblade {

struct Vector2 {
    double a = 0.0, b = 0.0;
};

/// [[aa, ab], [ba, bb]]
struct Matrix2 {
    double aa = 0.0, ab = 0.0, ba = 0.0, bb = 0.0;
    [[nodiscard]] double determinant() const noexcept { return aa * bb - ab * ba; }
};

[[nodiscard]] inline Vector2 operator*(const Matrix2& m, const Vector2& v) noexcept {
    return {m.aa * v.a + m.ab * v.b, m.ba * v.a + m.bb * v.b};
}
[[nodiscard]] inline Matrix2 operator*(const Matrix2& m, const Matrix2& k) noexcept {
    return {m.aa * k.aa + m.ab * k.ba, m.aa * k.ab + m.ab * k.bb, m.ba * k.aa + m.bb * k.ba, m.ba * k.ab + m.bb * k.bb};
}

/// Solves lower[i] x[i-1] + diagonal[i] x[i] + upper[i] x[i+1] = rhs[i] by block elimination without exchange of rows.
/// All spans have n elements (lower[0], upper[n-1] unused). `upper` is overwritten, `rhs` holds the solution.
/// False when a pivot block is singular or not finite.
[[nodiscard]] inline bool solve_block_tridiagonal(std::span<const Matrix2> lower, std::span<const Matrix2> diagonal,
                                                  std::span<Matrix2> upper, std::span<Vector2> rhs) noexcept {
    const std::size_t n = diagonal.size();
    for (std::size_t i = 0; i < n; ++i) {
        Matrix2 d = diagonal[i];
        Vector2 r = rhs[i];
        if (i > 0) {
            const Matrix2 lu = lower[i] * upper[i - 1];
            const Vector2 lr = lower[i] * rhs[i - 1];
            d = {d.aa - lu.aa, d.ab - lu.ab, d.ba - lu.ba, d.bb - lu.bb};
            r = {r.a - lr.a, r.b - lr.b};
        }
        const double det = d.determinant();
        if (det == 0.0 || !std::isfinite(det)) return false;
        const double s = 1.0 / det;
        if (!std::isfinite(s)) return false;
        const Matrix2 inverse{d.bb * s, -d.ab * s, -d.ba * s, d.aa * s};
        upper[i] = inverse * upper[i];
        rhs[i] = inverse * r;
    }
    for (std::size_t i = n - 1; i-- > 0;) {
        const Vector2 back = upper[i] * rhs[i + 1];
        rhs[i].a -= back.a;
        rhs[i].b -= back.b;
    }
    return true;
}

}  // namespace libblade
