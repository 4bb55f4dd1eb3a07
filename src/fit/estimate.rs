//! A number and how sure it is.

/// A value and its standard uncertainty (JCGM 100, 2.3.1).
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// Its standard uncertainty, in the value's unit.
    pub u: f64,
}
