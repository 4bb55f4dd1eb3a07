//! With how many digits a value is written.

use core::fmt::{self, Display};

/// Finer than anything that is measured at a joint, in whatever unit.
const MOST: usize = 6;
/// Where nothing tells how many: a thousandth of a degree is finer than any hobby servo moves.
const USUAL: usize = 3;

/// Decimals that give a size so many significant digits, once it is rounded to them.
fn places(size: f64, digits: i32) -> Option<usize> {
    // Below this a value of one digit less has as many, once rounded.
    let mut enough = 1.0;
    for _ in 1..digits {
        enough *= 10.0;
    }
    enough -= 0.05;
    let mut scaled = if size < 0.0 { -size } else { size };
    for decimals in 0..=MOST {
        if scaled >= enough {
            return scaled.is_finite().then_some(decimals);
        }
        scaled *= 10.0;
    }
    None
}

/// A value as it is written for people: with the digits that its standard uncertainty supports, and beside it that uncertainty with the
/// same. These are the decimals that leave the uncertainty two significant digits (JCGM 100, 7.2.6), six at most; one less where both
/// were written down shorter. Where the uncertainty is not known, zero, below 1e-5 or not finite: up to three decimals.
///
/// ```
/// use elbowroom::look::Rounded;
/// let stop = Rounded { value: 118.9284, u: Some(1.288) };
/// assert_eq!(stop.to_string(), "118.9");
/// assert_eq!(stop.with_u("deg").to_string(), "118.9 deg, standard uncertainty 1.3");
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rounded {
    /// The value.
    pub value: f64,
    /// Its standard uncertainty, in the same unit, if it is known.
    pub u: Option<f64>,
}

impl Rounded {
    fn decimals(self) -> Option<usize> {
        let u = self.u?;
        let decimals = places(u, 2)?;
        let is_idle = decimals > 0 && is_shorter(u, decimals) && is_shorter(self.value, decimals);
        Some(if is_idle { decimals - 1 } else { decimals })
    }

    /// The value in its unit, and its standard uncertainty if it is known.
    pub const fn with_u(self, unit: &str) -> RoundedWithU<'_> {
        RoundedWithU { rounded: self, unit }
    }
}

impl Display for Rounded {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.decimals() {
            Some(decimals) => fixed(f, self.value, decimals),
            None => Trimmed(self.value, USUAL).fmt(f),
        }
    }
}

/// A [`Rounded`] with its unit and its standard uncertainty, to be written by its [`Display`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoundedWithU<'a> {
    rounded: Rounded,
    unit: &'a str,
}

impl Display for RoundedWithU<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.rounded.fmt(f)?;
        if !self.unit.is_empty() {
            write!(f, " {}", self.unit)?;
        }
        if let Some(u) = self.rounded.u {
            f.write_str(", standard uncertainty ")?;
            match self.rounded.decimals() {
                // Without the sign that the value may be asked to have.
                Some(decimals) => write!(f, "{u:.decimals$}")?,
                None => write!(f, "{}", Trimmed(u, USUAL))?,
            }
        }
        Ok(())
    }
}

/// A statistic such as a residual SD, with up to three significant digits: without zeros at the end.
///
/// ```
/// use elbowroom::look::Statistic;
/// assert_eq!(Statistic(2.9652).to_string(), "2.97");
/// assert_eq!(Statistic(0.000_406_21).to_string(), "0.000406");
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Statistic(pub f64);

impl Display for Statistic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        Trimmed(self.0, places(self.0, 3).unwrap_or(USUAL)).fmt(f)
    }
}

/// A value as somebody gave it, with up to six significant digits: a conversion of units leaves more of them, which nobody wrote.
#[cfg(feature = "std")]
pub(crate) struct Given(pub(crate) f64);

#[cfg(feature = "std")]
impl Display for Given {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match places(self.0, 6) {
            Some(decimals) if decimals > 0 => Trimmed(self.0, decimals).fmt(f),
            _ => crate::error::Shown(self.0).fmt(f),
        }
    }
}

/// Whether a value has no digit from the last of so many decimals on, as one that was written down shorter.
fn is_shorter(value: f64, decimals: usize) -> bool {
    let scaled = (1..decimals).fold(value, |scaled, _| scaled * 10.0);
    let rest = scaled - crate::math::round(scaled);
    rest < 1e-6 && rest > -1e-6
}

/// A number with so many decimals, and no sign where it is zero.
fn fixed(f: &mut fmt::Formatter<'_>, value: f64, decimals: usize) -> fmt::Result {
    let half = (0..decimals).fold(0.5, |half, _| half / 10.0);
    let value = if value < 0.0 && value > -half { 0.0 } else { value };
    if f.sign_plus() && value > 0.0 {
        write!(f, "+{value:.decimals$}")
    } else {
        write!(f, "{value:.decimals$}")
    }
}

/// A number with up to so many decimals, without zeros at the end.
pub(crate) struct Trimmed(pub(crate) f64, pub(crate) usize);

impl Display for Trimmed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self(value, most) = *self;
        let mut scale = 1.0;
        for decimals in 0..most {
            // What is left beyond so many decimals rounds to nothing within the most.
            let rest = value * scale - crate::math::round(value * scale);
            let left = (decimals..most).fold(rest, |left, _| left * 10.0);
            if left < 0.5 && left > -0.5 {
                return fixed(f, value, decimals);
            }
            scale *= 10.0;
        }
        fixed(f, value, most)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::format;
    use std::string::ToString;

    #[test]
    fn an_uncertainty_keeps_two_digits_and_its_value_as_many_decimals() {
        // JCGM 100, 7.2.6: 10.057 62 ohm with 27 milliohm is rounded to 10.058 ohm.
        let ohm = Rounded {
            value: 10.057_62,
            u: Some(0.027),
        };
        assert_eq!(ohm.with_u("ohm").to_string(), "10.058 ohm, standard uncertainty 0.027");
        // Rounding up makes a digit more.
        assert_eq!(places(0.0996, 2), Some(2));
        for (u, decimals) in [(12.0, 0), (9.96, 0), (9.94, 1), (0.98, 2), (0.0394, 3), (4e-5, 6)] {
            assert_eq!(places(u, 2), Some(decimals), "{u}");
        }
        assert!([1e-9, 0.0, f64::NAN].iter().all(|u| places(*u, 2).is_none()));
        assert_eq!(places(f64::INFINITY, 2), None);
        let zero = Rounded {
            value: -0.000_2,
            u: Some(0.062),
        };
        assert_eq!(zero.with_u("").to_string(), "0.000, standard uncertainty 0.062");
        assert_eq!(
            format!(
                "{:+}",
                Rounded {
                    value: 1.0,
                    u: Some(0.057)
                }
            ),
            "+1.000"
        );
    }

    #[test]
    fn zeros_that_neither_needs_are_left_out() {
        for (value, u, says) in [
            (37.9, 0.2, "37.9 deg, standard uncertainty 0.2"),
            (37.95, 0.2, "37.95 deg, standard uncertainty 0.20"),
            (1.0, 0.057, "1.000 deg, standard uncertainty 0.057"),
            (120.0, 1.0, "120 deg, standard uncertainty 1"),
            (0.79, 0.010_04, "0.790 deg, standard uncertainty 0.010"),
        ] {
            assert_eq!(Rounded { value, u: Some(u) }.with_u("deg").to_string(), says);
        }
    }

    #[test]
    fn an_uncertainty_of_nothing_asks_for_no_digits() {
        let exact = Rounded {
            value: 14.4,
            u: Some(0.0),
        };
        assert_eq!(exact.with_u("deg").to_string(), "14.4 deg, standard uncertainty 0");
    }

    #[test]
    fn without_an_uncertainty_zeros_at_the_end_go() {
        for (value, says) in [
            (37.9, "37.9"),
            (119.0, "119"),
            (-0.0001, "0"),
            (1.0 / 3.0, "0.333"),
            (0.9996, "1"),
            (-2.25, "-2.25"),
        ] {
            assert_eq!(Rounded { value, u: None }.to_string(), says);
        }
        assert_eq!(
            Rounded {
                value: f64::NAN,
                u: None
            }
            .to_string(),
            "NaN"
        );
    }

    #[test]
    fn a_statistic_has_three_digits() {
        for (value, says) in [
            (2.9652, "2.97"),
            (0.0921, "0.0921"),
            (118.4, "118"),
            (1234.4, "1234"),
            (0.0, "0"),
            (0.999_6, "1"),
        ] {
            assert_eq!(Statistic(value).to_string(), says);
        }
    }

    #[test]
    fn so_many_decimals_at_the_most() {
        for (value, decimals, says) in [
            (30.5, 2, "30.5"),
            (-0.001, 2, "0"),
            (100.0, 1, "100"),
            (100.0, 0, "100"),
            (2.0 / 3.0, 3, "0.667"),
        ] {
            assert_eq!(Trimmed(value, decimals).to_string(), says);
        }
    }
}
