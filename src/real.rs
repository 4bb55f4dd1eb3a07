//! The two number types of the model, behind one small sealed trait.

use num_traits::float::FloatCore;

/// `f32` or `f64`. Sealed: the promises of this crate are tested for these two only.
///
/// Built on `num_traits`' `FloatCore`, whose operations are exact or correctly rounded; its `Float` is never used, as
/// its results depend on the features other crates switch on.
pub trait Real: FloatCore + core::fmt::Debug + core::fmt::Display + sealed::Sealed + Send + Sync + 'static {
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
}

mod sealed {
    pub trait Sealed {}
    impl Sealed for f32 {}
    impl Sealed for f64 {}
}

impl Real for f32 {
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
}

impl Real for f64 {
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
