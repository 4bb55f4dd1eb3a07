//! Roots and trigonometry, always from the `libm` crate: the same bits on every machine.
//!
//! `std`'s functions come from the platform's C library and differ between platforms in the last bit. No other module
//! of this crate calls a root or a trigonometric function that is not from here; `fit`, which always has `std`, takes its
//! square roots from there, as IEEE 754 rounds them correctly everywhere.

/// Degrees of one radian.
pub(crate) const DEG_PER_RAD: f64 = 180.0 / core::f64::consts::PI;
/// Radians of one degree.
pub(crate) const RAD_PER_DEG: f64 = core::f64::consts::PI / 180.0;

/// The square root; NaN below zero.
pub(crate) fn sqrt(x: f64) -> f64 {
    libm::sqrt(x)
}

/// The sine of an angle in radians.
pub(crate) fn sin(x: f64) -> f64 {
    libm::sin(x)
}

/// The cosine of an angle in radians.
pub(crate) fn cos(x: f64) -> f64 {
    libm::cos(x)
}

/// The angle in (-pi, pi] of the direction (x, y).
pub(crate) fn atan2(y: f64, x: f64) -> f64 {
    libm::atan2(y, x)
}

/// The angle in [-pi/2, pi/2] whose sine is `x`; NaN outside [-1, 1].
pub(crate) fn asin(x: f64) -> f64 {
    libm::asin(x)
}

/// The largest integer at or below `x`.
pub(crate) fn floor(x: f64) -> f64 {
    libm::floor(x)
}

/// The length of the vector (x, y).
pub(crate) fn round(x: f64) -> f64 {
    libm::round(x)
}

/// See [`sqrt`].
pub(crate) fn hypot(x: f64, y: f64) -> f64 {
    libm::hypot(x, y)
}

/// The natural logarithm; NaN below zero.
#[cfg(feature = "std")]
pub(crate) fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// `e` to the power `x`.
#[cfg(feature = "std")]
pub(crate) fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// The logarithm of `1 + x`, exact where `x` is small; NaN below −1.
#[cfg(feature = "std")]
pub(crate) fn ln_1p(x: f64) -> f64 {
    libm::log1p(x)
}

/// The complementary error function.
#[cfg(feature = "std")]
pub(crate) fn erfc(x: f64) -> f64 {
    libm::erfc(x)
}
