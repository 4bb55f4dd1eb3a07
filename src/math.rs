//! Roots and trigonometry, always from the `libm` crate: the same bits on every machine.
//!
//! `std`'s functions come from the platform's C library and differ between platforms in the last bit. No other module
//! of this crate calls a root or a trigonometric function that is not from here.

/// The square root; NaN below zero.
pub(crate) fn sqrt(x: f64) -> f64 {
    libm::sqrt(x)
}
