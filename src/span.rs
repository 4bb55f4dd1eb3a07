//! A checked pair of ends, lower then upper.

use crate::error::{JointError, Refusal};
use crate::real::Real;

/// Two finite ends, the lower strictly below the upper.
///
/// ```
/// use elbowroom::Span;
/// let travel = Span::new("travel", [40.2, 119.0])?;
/// assert_eq!((travel.lower(), travel.upper()), (40.2, 119.0));
/// assert!(Span::new("travel", [119.0, 40.2]).is_err());
/// # Ok::<(), elbowroom::JointError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span<T> {
    lower: T,
    upper: T,
}

/// One end of a range: of a joint, of its drive angles.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
pub enum Side {
    /// The end at small values.
    Lower,
    /// The end at large values.
    Upper,
}

impl Side {
    /// Both, lower then upper.
    pub const ALL: [Self; 2] = [Self::Lower, Self::Upper];

    /// +1 towards the upper end, −1 towards the lower.
    pub const fn sign(self) -> f64 {
        match self {
            Self::Lower => -1.0,
            Self::Upper => 1.0,
        }
    }

    /// The other end.
    pub const fn opposite(self) -> Self {
        match self {
            Self::Lower => Self::Upper,
            Self::Upper => Self::Lower,
        }
    }

    /// The word of every file and language: `lower` or `upper`.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Lower => "lower",
            Self::Upper => "upper",
        }
    }
}

/// Where a value was held back to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Held {
    Below,
    Inside,
    Above,
}

impl<T: Real> Span<T> {
    /// Checks `[lower, upper]`; `what` names the field in errors.
    ///
    /// # Errors
    /// [`JointError::NotFinite`], [`JointError::EndsSwapped`] or [`JointError::ZeroWidth`].
    pub fn new(what: &'static str, ends: [T; 2]) -> Result<Self, JointError> {
        Self::check(what, ends)
    }

    #[inline]
    pub(crate) fn check<E: Refusal>(what: &'static str, [lower, upper]: [T; 2]) -> Result<Self, E> {
        for end in [lower, upper] {
            if !end.is_finite() {
                return Err(E::of(JointError::NotFinite {
                    what,
                    value: end.to_wide(),
                }));
            }
        }
        if lower > upper {
            return Err(E::of(JointError::EndsSwapped {
                what,
                lower: lower.to_wide(),
                upper: upper.to_wide(),
            }));
        }
        if lower == upper {
            return Err(E::of(JointError::ZeroWidth {
                what,
                at: lower.to_wide(),
            }));
        }
        // -0 and 0 are one place: keep the one that has a single bit pattern.
        Ok(Self {
            lower: lower + T::zero(),
            upper: upper + T::zero(),
        })
    }

    /// Ends that were checked when they were written down. With others every call still gives some number.
    pub(crate) fn of_checked([lower, upper]: [T; 2]) -> Self {
        Self { lower, upper }
    }

    /// The lower end.
    pub fn lower(&self) -> T {
        self.lower
    }

    /// The upper end.
    pub fn upper(&self) -> T {
        self.upper
    }

    /// `[lower, upper]`.
    pub fn ends(&self) -> [T; 2] {
        [self.lower, self.upper]
    }

    /// Upper less lower; infinite where that is beyond the largest number of the type.
    pub fn width(&self) -> T {
        self.upper - self.lower
    }

    /// The larger of the two ends' absolute values.
    pub(crate) fn magnitude(&self) -> T {
        if self.lower.abs() > self.upper.abs() {
            self.lower.abs()
        } else {
            self.upper.abs()
        }
    }

    /// Whether `x` lies between the ends, ends included. NaN does not.
    pub fn contains(&self, x: T) -> bool {
        self.lower <= x && x <= self.upper
    }

    /// The value of the span nearest to `x`. NaN stays NaN, infinities go to the ends.
    ///
    /// The only clamp of this crate: `f64::clamp` may panic, and `max` then `min` turns NaN into a limit.
    #[inline]
    pub fn clamp(&self, x: T) -> T {
        // One after the other: a maximum and a minimum, and no branch.
        let x = if x < self.lower { self.lower } else { x };
        if x > self.upper { self.upper } else { x }
    }

    #[inline]
    pub(crate) fn hold(&self, x: T) -> (T, Held) {
        if x < self.lower {
            (self.lower, Held::Below)
        } else if x > self.upper {
            (self.upper, Held::Above)
        } else {
            (x, Held::Inside)
        }
    }

    /// The part common to both, unless that is empty or a single point.
    pub fn intersection(&self, other: &Self) -> Option<Self> {
        let lower = if self.lower > other.lower {
            self.lower
        } else {
            other.lower
        };
        let upper = if self.upper < other.upper {
            self.upper
        } else {
            other.upper
        };
        (lower < upper).then_some(Self { lower, upper })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn refuses_what_is_no_span() {
        let of = |ends| Span::new("travel", ends).map(|_| ()).map_err(|e| e.code());
        use crate::Code;
        assert_eq!(of([0.0, 1.0]), Ok(()));
        assert_eq!(of([1.0, 0.0]), Err(Code::EndsSwapped));
        assert_eq!(of([1.0, 1.0]), Err(Code::ZeroWidth));
        assert_eq!(of([-0.0, 0.0]), Err(Code::ZeroWidth));
        assert_eq!(of([f64::NAN, 1.0]), Err(Code::NotFinite));
        assert_eq!(of([0.0, f64::INFINITY]), Err(Code::NotFinite));
    }

    #[test]
    fn intersection_is_what_both_hold() {
        let of = |ends| Span::new("x", ends).unwrap();
        assert_eq!(of([0.0, 5.0]).intersection(&of([3.0, 9.0])), Some(of([3.0, 5.0])));
        assert_eq!(of([3.0, 9.0]).intersection(&of([0.0, 5.0])), Some(of([3.0, 5.0])));
        assert_eq!(of([0.0, 3.0]).intersection(&of([3.0, 9.0])), None);
    }

    #[test]
    fn clamp_keeps_nan_and_ends() {
        let s = Span::new("x", [-1.0f32, 2.0]).unwrap();
        assert!(s.clamp(f32::NAN).is_nan());
        assert_eq!(s.clamp(f32::NEG_INFINITY), -1.0);
        assert_eq!(s.clamp(f32::INFINITY), 2.0);
        assert_eq!(s.clamp(0.5), 0.5);
    }
}
