//! Small dense systems on the stack.
#![expect(
    clippy::indexing_slicing,
    clippy::needless_range_loop,
    reason = "every index runs below the array's own length P, which is part of its type; factors read best by row and column"
)]

/// A symmetric matrix; only the lower triangle is read.
pub(crate) type Matrix<const P: usize> = [[f64; P]; P];

/// Relative size of a pivot that rounding alone can produce.
pub(crate) const PIVOT_ROUNDING: f64 = 1e-13;

/// Cholesky factor of a symmetric positive definite matrix; `None` where a pivot vanishes in rounding.
///
/// The first `used` rows and columns count; the rest is ignored, so that one type serves models of different size.
pub(crate) fn factor<const P: usize>(a: &Matrix<P>, used: usize) -> Option<Matrix<P>> {
    let used = used.min(P);
    let mut l = [[0.0; P]; P];
    for i in 0..used {
        for j in 0..=i {
            let mut sum = a[i][j];
            for k in 0..j {
                sum -= l[i][k] * l[j][k];
            }
            if i == j {
                // Written so that NaN has no pivot.
                if sum > PIVOT_ROUNDING * a[i][i] && sum.is_finite() {
                    l[i][i] = sum.sqrt();
                } else {
                    return None;
                }
            } else {
                l[i][j] = sum / l[j][j];
            }
        }
    }
    Some(l)
}

/// Solves `L Lᵀ x = b`.
pub(crate) fn solve<const P: usize>(l: &Matrix<P>, b: &[f64; P], used: usize) -> [f64; P] {
    backward(l, &forward(l, b, used), used)
}

/// Solves `L x = b`. The square of x is `b · A⁻¹ b`.
pub(crate) fn forward<const P: usize>(l: &Matrix<P>, b: &[f64; P], used: usize) -> [f64; P] {
    let used = used.min(P);
    let mut x = *b;
    for i in 0..used {
        for k in 0..i {
            x[i] -= l[i][k] * x[k];
        }
        x[i] /= l[i][i];
    }
    for value in x.iter_mut().skip(used) {
        *value = 0.0;
    }
    x
}

/// Solves `Lᵀ x = b`.
pub(crate) fn backward<const P: usize>(l: &Matrix<P>, b: &[f64; P], used: usize) -> [f64; P] {
    let used = used.min(P);
    let mut x = *b;
    for i in (0..used).rev() {
        for k in i + 1..used {
            x[i] -= l[k][i] * x[k];
        }
        x[i] /= l[i][i];
    }
    for value in x.iter_mut().skip(used) {
        *value = 0.0;
    }
    x
}

/// The inverse of `L Lᵀ`.
pub(crate) fn inverse<const P: usize>(l: &Matrix<P>, used: usize) -> Matrix<P> {
    let mut inverse = [[0.0; P]; P];
    for (i, row) in inverse.iter_mut().enumerate().take(used.min(P)) {
        let mut unit = [0.0; P];
        unit[i] = 1.0;
        *row = solve(l, &unit, used);
    }
    inverse
}

/// Adds `w · row rowᵀ` to the lower triangle.
pub(crate) fn add_outer<const P: usize>(a: &mut Matrix<P>, row: &[f64; P], w: f64, used: usize) {
    for i in 0..used.min(P) {
        let scaled = w * row[i];
        for j in 0..=i {
            a[i][j] += scaled * row[j];
        }
    }
}

/// The numbers that leave the least squares of a linear model, and these squares; `None` where the points do not determine them.
///
/// A point is its row of the model, its value and its weight; the first `used` numbers of a row count.
pub(crate) fn least_squares<const P: usize>(
    points: impl Iterator<Item = ([f64; P], f64, f64)> + Clone,
    used: usize,
) -> Option<([f64; P], f64)> {
    // About the mean of the values: sums of squares keep their digits.
    let (sum, count) = points
        .clone()
        .fold((0.0, 0.0), |(sum, n), (_, y, _)| (sum + y, n + 1.0));
    let mean = sum / count;
    let (mut normal, mut right) = ([[0.0; P]; P], [0.0; P]);
    for (row, y, w) in points.clone() {
        add_outer(&mut normal, &row, w, used);
        for (sum, part) in right.iter_mut().zip(&row) {
            *sum += w * part * (y - mean);
        }
    }
    let numbers = solve(&factor(&normal, used)?, &right, used);
    let left = points.map(|(row, y, w)| {
        let rest = y - mean - dot(&row, &numbers);
        w * rest * rest
    });
    Some((numbers, left.sum()))
}

/// `u · v`.
pub(crate) fn dot<const P: usize>(u: &[f64; P], v: &[f64; P]) -> f64 {
    u.iter().zip(v).fold(0.0, |sum, (a, b)| sum + a * b)
}

/// `v · A v`.
pub(crate) fn quadratic<const P: usize>(a: &Matrix<P>, v: &[f64; P]) -> f64 {
    a.iter().zip(v).fold(0.0, |sum, (row, value)| sum + value * dot(row, v))
}
