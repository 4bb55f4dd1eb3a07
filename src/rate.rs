//! One step of a command that may change only so fast.

use crate::real::Real;

/// The command after `seconds`, on its way from `from` to `target` at no more than `max_rate_per_s`.
///
/// `target` itself once it is within reach, never beyond it. All four finite, `max_rate_per_s` above zero, `seconds` not
/// below: otherwise some number or NaN.
///
/// A step so short that `from + max_rate_per_s * seconds` rounds to `from` does not move.
#[inline]
pub(crate) fn step<T: Real>(from: T, target: T, max_rate_per_s: T, seconds: T) -> T {
    within(from, target, max_rate_per_s * seconds)
}

/// `target`, or what lies `most` from `from` on the way to it, whichever is nearer.
#[inline]
pub(crate) fn within<T: Real>(from: T, target: T, most: T) -> T {
    // Rounding is monotone: where the rounded way is longer than `most` the true one is too, so that `from + most` does
    // not round to beyond the target.
    if target - from > most {
        from + most
    } else if from - target > most {
        from - most
    } else {
        target
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn moves_towards_the_target_and_not_past_it(from in -1e6f32..1e6, target in -1e6f32..1e6, rate in 1e-3f32..1e7,
                                                    seconds in 0f32..2.0) {
            let next = step(from, target, rate, seconds);
            prop_assert!(next >= from.min(target) && next <= from.max(target));
            // Half a unit in the last place for the product, the same for the sum.
            let slack = f32::EPSILON * (from.abs() + rate * seconds);
            prop_assert!((next - from).abs() <= rate * seconds + slack);
        }

        #[test]
        fn arrives(from in -1e3f32..1e3, target in -1e3f32..1e3) {
            let mut at = from;
            for _ in 0..1000 {
                at = step(at, target, 100.0, 0.02);
            }
            prop_assert_eq!(at, target);
        }
    }

    #[test]
    fn no_time_no_way() {
        assert_eq!(step(10.0f32, 20.0, 60.0, 0.0), 10.0);
        assert_eq!(step(10.0f32, 20.0, 60.0, 0.02), 11.2);
        assert_eq!(step(10.0f32, -20.0, 60.0, 0.02), 8.8);
    }
}
