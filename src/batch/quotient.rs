//! Quotients by a number that stays the same, in products: the bits of a division in a part of its time, where products and sums
//! are fused.
//!
//! # The steps
//! Of a divisor w let z be 1/w rounded, and z' what was lost, (1 - z w)/w rounded. Then for a number n
//!
//! 1. q = n z + round(n z'), fused;
//! 2. r = n - q w, fused;
//! 3. t = q + r z, fused.
//!
//! # Why t is n / w, rounded
//! z + z' lies within some u^2 of 1/w (u half the epsilon), so q is the rounding of a number that near to the quotient: one of the two
//! floats around it. Then r is exact, and with z rounded correctly so is t: P. W. Markstein, IBM Journal of Research and Development 34
//! (1990) 111-119; for divisors known beforehand N. Brisebarre, J.-M. Muller and S. K. Raina, IEEE Transactions on Computers 53 (2004)
//! 1069-1072. Both assume that nothing is subnormal, which is why a line must pass [`Quotient::of`]:
//!
//! * The width lies between 2^-10 and 2^20, and no end is beyond 2^20.
//! * If |a0| is 2^-10 or more, x - a0 is 0 or, as a multiple of the last place of the lesser of both, at least 2^-34 in `f32`. Then t is
//!   2^-54 or more, and all that r holds a multiple of 2^-112: a normal number's last place.
//! * If not, |b0| must be 2^-10 or more. Numbers n down to 2^-70 still have an exact r, a multiple of 2^-148. Below that t is off, but
//!   less than 2^-60 with or without it, and what it adds to b0 is less than 2^-38: a quarter of the last place at most, and b0 is
//!   what comes out.
//!
//! At n = 0 all terms are 0, at n = w q is 1 and r is 0. Only the sign of a t of 0 may be another than that of the quotient -0, and only
//! where a0 is 0; b0 is not, so it does not show. In `f64` all this holds with far more room.

use crate::map::Line;
use crate::real::Real;

/// A line whose quotients may be taken so.
#[derive(Clone, Copy)]
pub(super) struct Quotient<T> {
    line: Line<T>,
    width: T,
    near: T,
    rest: T,
}

impl<T: Real> Quotient<T> {
    /// None where the argument above does not hold.
    pub(super) fn of(line: Line<T>) -> Option<Self> {
        let [origin, width, first, last] = line.parts();
        let (least, most) = (T::from_wide(1.0 / 1024.0), T::from_wide(1024.0 * 1024.0));
        let bounded = [origin, first, last].iter().all(|end| end.abs() <= most);
        let shown = origin.abs() >= least || first.abs() >= least;
        (bounded && shown && width >= least && width <= most).then(|| {
            let near = width.recip();
            Self {
                line,
                width,
                near,
                rest: (-near).fused(width, T::one()) * near,
            }
        })
    }

    /// [`Line::apply_within`], bit for bit; `EXACT` where [`Line::meets_last`].
    #[inline(always)]
    pub(super) fn apply_within<const ZERO_BETWEEN: bool, const EXACT: bool>(&self, x: T) -> T {
        self.line.apply_dividing::<ZERO_BETWEEN, EXACT>(x, |n| {
            let q = n.fused(self.near, n * self.rest);
            let r = (-q).fused(self.width, n);
            r.fused(self.near, q)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::map::Direction;
    use proptest::prelude::*;

    macro_rules! same_bits {
        ($name:ident, $t:ty, $digits:expr) => {
            proptest! {
                #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(20_000) })]

                /// Ends of all sizes that are let through, with few or many digits, and numbers at and near both ends and far below
                /// the last place of the other terms.
                #[test]
                fn $name(exponents in [-12i32..21, -12i32..21, -12i32..21, -12i32..21], digits in [0u64..1 << 52, 0u64..1 << 52],
                         coarse: bool, signs in [any::<bool>(), any::<bool>(), any::<bool>()], inverted: bool, zero: bool, parts in [0.0..1.0f64, 0.0..1.0f64],
                         tiny in 0i32..150) {
                    let number = |exponent: i32, digits: u64, minus: bool| {
                        let digits = if coarse { digits >> 47 << 47 } else { digits };
                        let value = (1.0 + digits as f64 / (1u64 << 52) as f64) * 2f64.powi(exponent);
                        if minus { -value as $t } else { value as $t }
                    };
                    let a0 = if zero { 0.0 } else { number(exponents[0], digits[0], signs[0]) };
                    let a1 = a0 + number(exponents[1], digits[1] ^ digits[0], false);
                    let b0 = number(exponents[2], digits[1], signs[1]);
                    let b1 = b0 + number(exponents[3], digits[0].rotate_left(7) >> 12, false);
                    if !(a0 < a1 && b0 < b1) { return Ok(()) }
                    let direction = if inverted { Direction::Inverted } else { Direction::Direct };
                    let line = Line::new([a0, a1], [b0, b1], direction);
                    let Some(quotient) = Quotient::of(line) else { return Ok(()) };
                    let mut places = std::vec![a0, a0.next_up(), a1, a1.next_down(), a0 + 2f64.powi(-tiny) as $t];
                    for part in parts {
                        let x = a0 + part as $t * (a1 - a0);
                        places.extend([x, x.next_up(), x.next_down()]);
                        // A quotient with few digits, and its neighbours: near the middle between two.
                        let x = a0 + ((part * $digits) as $t / $digits) * (a1 - a0);
                        places.extend([x, x.next_up(), x.next_down()]);
                    }
                    if zero {
                        places.extend([-0.0, <$t>::from_bits(1), <$t>::MIN_POSITIVE]);
                    }
                    for x in places.into_iter().filter(|x| (a0..=a1).contains(x)) {
                        let (ours, divided) = if line.is_zero_between() {
                            (quotient.apply_within::<true, false>(x), line.apply_within::<true>(x))
                        } else if line.meets_last() {
                            (quotient.apply_within::<false, true>(x), line.apply_within::<false>(x))
                        } else {
                            (quotient.apply_within::<false, false>(x), line.apply_within::<false>(x))
                        };
                        prop_assert_eq!(ours.to_bits(), divided.to_bits(), "{} {:?}", x, line);
                    }
                }
            }
        };
    }
    same_bits!(
        a_line_in_products_has_the_bits_of_the_divided_one_in_f64,
        f64,
        134_217_728.0
    );
    same_bits!(a_line_in_products_has_the_bits_of_the_divided_one_in_f32, f32, 4096.0);
}
