//! Polynomials by their coefficients, lowest power first.

/// Value of a polynomial.
pub(super) fn polynomial(c: &[f64], z: f64) -> f64 {
    c.iter().rev().fold(0.0, |sum, c| sum * z + c)
}

/// Where a polynomial meets a level between two places that enclose it.
pub(super) fn crossing(c: &[f64], level: f64, mut left: f64, mut right: f64) -> f64 {
    let f = |x: f64| polynomial(c, x) - level;
    if let &[a, b] = c
        && b != 0.0
    {
        let x = (level - a) / b;
        return if x < left {
            left
        } else if x > right {
            right
        } else {
            x
        };
    }
    let rising = f(right) > f(left);
    // Bisection to the last bit: 60 halvings of a gap.
    for _ in 0..60 {
        let middle = 0.5 * (left + right);
        if (f(middle) < 0.0) == rising {
            left = middle;
        } else {
            right = middle;
        }
    }
    0.5 * (left + right)
}
