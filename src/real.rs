//! The two number types of the model, behind one small sealed trait.

use core::fmt::{Debug, Display};
use core::ops::{Add, Div, Mul, Neg, Sub};

/// `f32` or `f64`. Sealed: the promises of this crate are tested for these two only.
///
/// Its operations are exact or correctly rounded, those of `core`: nothing here depends on the features other crates switch on.
pub trait Real:
    Copy
    + PartialEq
    + PartialOrd
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
    + Debug
    + Display
    + sealed::Sealed
    + Send
    + Sync
    + 'static
{
    /// 0.
    fn zero() -> Self;
    /// 1.
    fn one() -> Self;
    /// A NaN.
    fn nan() -> Self;
    /// Above all numbers.
    fn infinity() -> Self;
    /// Below all numbers.
    fn neg_infinity() -> Self;
    /// The least finite number.
    fn min_value() -> Self;
    /// The largest finite number.
    fn max_value() -> Self;
    /// From 1 to the next number above it.
    fn epsilon() -> Self;
    /// Whether it is neither infinite nor NaN.
    fn is_finite(self) -> bool;
    /// Whether it is no number.
    fn is_nan(self) -> bool;
    /// Whether it is neither 0, subnormal, infinite nor NaN.
    fn is_normal(self) -> bool;
    /// Without its sign.
    fn abs(self) -> Self;
    /// 1 through it.
    fn recip(self) -> Self;

    /// One half.
    const HALF: Self;
    /// One million: microseconds in a second.
    const MICROS_PER_S: Self;

    /// 1.5 times the power of two from which on this type holds integers only: adding it to a number far smaller leaves
    /// the nearest integer in the low bits.
    const ROUNDER: Self;

    /// The value in `f64`, exactly.
    fn to_wide(self) -> f64;
    /// The nearest value of this type.
    fn from_wide(value: f64) -> Self;
    /// The nearest value of this type; exact up to [`crate::Timer::MOST_COUNTS`].
    fn from_count(count: u32) -> Self;
    /// The integer part towards zero; NaN and negative numbers give 0, too large ones `u32::MAX`.
    fn whole(self) -> u32;
    /// The integer n of `ROUNDER + n`, for |n| up to [`Real::most_in_low_bits`].
    fn low_bits(self) -> i32;
    /// 2^20 in `f32`, 2^30 in `f64`.
    fn most_in_low_bits() -> Self;
    /// Whether it is neither infinite nor NaN. This and what follows asks the bits alone, as firmware does: without a floating-point
    /// unit a comparison of floats is a call.
    fn is_bounded(self) -> bool;
    /// Whether it is above 0; of a NaN some answer.
    fn is_above_zero(self) -> bool;
    /// Whether it is below 0, which -0 is not; of a NaN some answer.
    fn is_below_zero(self) -> bool;
    /// Whether it is 1.
    fn is_just_one(self) -> bool;
    /// The nearest integer, halves away from zero; 0 for NaN and for all below zero, `u32::MAX` for what is too large.
    fn nearest_by_bits(self) -> u32;
    /// It times `factor`, plus `term`, rounded once. Slow where the caller is not compiled for a processor that has it.
    #[cfg(feature = "std")]
    #[doc(hidden)]
    fn fused(self, factor: Self, term: Self) -> Self;
}

/// What the inherent methods of both types give.
macro_rules! inherent {
    () => {
        #[inline]
        fn zero() -> Self {
            0.0
        }
        #[inline]
        fn one() -> Self {
            1.0
        }
        #[inline]
        fn nan() -> Self {
            Self::NAN
        }
        #[inline]
        fn infinity() -> Self {
            Self::INFINITY
        }
        #[inline]
        fn neg_infinity() -> Self {
            Self::NEG_INFINITY
        }
        #[inline]
        fn min_value() -> Self {
            Self::MIN
        }
        #[inline]
        fn max_value() -> Self {
            Self::MAX
        }
        #[inline]
        fn epsilon() -> Self {
            Self::EPSILON
        }
        #[inline]
        fn is_finite(self) -> bool {
            Self::is_finite(self)
        }
        #[inline]
        fn is_nan(self) -> bool {
            Self::is_nan(self)
        }
        #[inline]
        fn is_normal(self) -> bool {
            Self::is_normal(self)
        }
        #[inline]
        fn abs(self) -> Self {
            Self::abs(self)
        }
        #[inline]
        fn recip(self) -> Self {
            1.0 / self
        }
        #[cfg(feature = "std")]
        #[inline(always)]
        fn fused(self, factor: Self, term: Self) -> Self {
            self.mul_add(factor, term)
        }
    };
}

mod sealed {
    pub trait Sealed {}
    impl Sealed for f32 {}
    impl Sealed for f64 {}
}

impl Real for f32 {
    inherent!();

    const HALF: Self = 0.5;
    const MICROS_PER_S: Self = 1e6;
    const ROUNDER: Self = 12_582_912.0;

    #[inline]
    fn to_wide(self) -> f64 {
        f64::from(self)
    }
    #[inline]
    fn from_wide(value: f64) -> Self {
        value as Self
    }
    #[inline]
    fn from_count(count: u32) -> Self {
        count as Self
    }
    #[inline]
    fn whole(self) -> u32 {
        self as u32
    }
    #[inline]
    fn low_bits(self) -> i32 {
        // 22 bits, their sign carried up.
        ((self.to_bits() << 10) as i32) >> 10
    }
    #[inline]
    fn most_in_low_bits() -> Self {
        1_048_576.0
    }
    #[inline]
    fn is_bounded(self) -> bool {
        self.to_bits() & 0x7F80_0000 != 0x7F80_0000
    }
    #[inline]
    fn is_above_zero(self) -> bool {
        self.to_bits() as i32 > 0
    }
    #[inline]
    fn is_below_zero(self) -> bool {
        self.to_bits() > 1 << 31
    }
    #[inline]
    fn is_just_one(self) -> bool {
        self.to_bits() == 127 << 23
    }
    #[inline]
    fn nearest_by_bits(self) -> u32 {
        let bits = self.to_bits();
        // Sign and exponent: below one half, NaN and all below zero lie outside.
        let field = (bits >> 16) as u16 >> 7;
        if !(126..159).contains(&field) {
            return if bits as i32 >= 0x4F80_0000 && bits <= 0x7F80_0000 {
                u32::MAX
            } else {
                0
            };
        }
        // The significand in the upper 24 bits, so that 2^31 is its first bit: then down to where halves are the last.
        let significand = (bits | 0x0080_0000) << 8;
        if field == 158 {
            return significand;
        }
        let halves = significand >> (157 - field);
        (halves >> 1) + (halves & 1)
    }
}

impl Real for f64 {
    inherent!();

    const HALF: Self = 0.5;
    const MICROS_PER_S: Self = 1e6;
    const ROUNDER: Self = 6_755_399_441_055_744.0;

    #[inline]
    fn to_wide(self) -> f64 {
        self
    }
    #[inline]
    fn from_wide(value: f64) -> Self {
        value
    }
    #[inline]
    fn from_count(count: u32) -> Self {
        Self::from(count)
    }
    #[inline]
    fn whole(self) -> u32 {
        self as u32
    }
    #[inline]
    fn low_bits(self) -> i32 {
        self.to_bits() as i32
    }
    #[inline]
    fn most_in_low_bits() -> Self {
        1_073_741_824.0
    }
    #[inline]
    fn is_bounded(self) -> bool {
        self.to_bits() & 0x7FF0_0000_0000_0000 != 0x7FF0_0000_0000_0000
    }
    #[inline]
    fn is_above_zero(self) -> bool {
        self.to_bits() as i64 > 0
    }
    #[inline]
    fn is_below_zero(self) -> bool {
        self.to_bits() > 1 << 63
    }
    #[inline]
    fn is_just_one(self) -> bool {
        self.to_bits() == 1023 << 52
    }
    #[inline]
    fn nearest_by_bits(self) -> u32 {
        // No firmware computes in this type.
        nearest_count(self)
    }
}

/// Rounds a number at or above zero to the nearest integer, halves away from zero.
///
/// Not `(x + 0.5) as u32`: just below one half that sum rounds up to 1.
pub(crate) fn nearest_count<T: Real>(x: T) -> u32 {
    let whole = x.whole();
    // Exact: both are multiples of x's own last bit.
    if x - T::from_count(whole) >= T::HALF {
        whole.saturating_add(1)
    } else {
        whole
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What bits tell is what comparisons tell, for each kind of number.
    #[test]
    fn bits_say_what_comparisons_say() {
        fn one<T: Real>(x: T) {
            assert_eq!(x.is_bounded(), x.is_finite(), "{x:?}");
            assert_eq!(x.is_just_one(), x == T::one(), "{x:?}");
            assert_eq!(x.nearest_by_bits(), nearest_count(x), "{x:?}");
            if !x.is_nan() {
                assert_eq!(x.is_above_zero(), x > T::zero(), "{x:?}");
                assert_eq!(x.is_below_zero(), x < T::zero(), "{x:?}");
            }
        }
        // Every exponent with its first, last and some other significands, either sign: halves and their neighbours among them.
        for high in 0..0x1_0000_u32 {
            for low in [0, 1, 0x7FFF, 0x8000, 0x8001, 0xFFFF] {
                one(f32::from_bits(high << 16 | low));
                one(f64::from_bits(u64::from(high) << 48 | u64::from(low) << 16));
            }
        }
        for count in 0..70_000_u32 {
            let half = count as f32 + 0.5;
            for x in [half, half.next_down(), half.next_up(), count as f32] {
                one(x);
            }
        }
    }
}
