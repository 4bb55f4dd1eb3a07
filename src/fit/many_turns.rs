//! Measured angles that span more turns than a joint makes, most often degrees taken for another unit.

use super::outcome::LimitFit;
use crate::look::{Statistic, Trimmed};
use crate::unit::{SiUnit, Unit};

/// No servo joint turns further than this without being built for it, deg.
const MOST_DEG: f64 = 720.0;

/// Angles that span more than two turns. `Display` writes the sentence of measured values.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct ManyTurns {
    /// From one end to the other, in `unit`.
    pub span: f64,
    /// The unit that they are taken for.
    pub unit: Unit,
    /// The unit in which they would span no more than two turns, if there is one.
    pub looks_like: Option<Unit>,
}

impl ManyTurns {
    /// What is said against angles of this span; None where nothing is, or the unit is not one of angles.
    ///
    /// *Edges*: NaN and a negative span tell nothing.
    ///
    /// ```
    /// use elbowroom::Unit;
    /// use elbowroom::fit::ManyTurns;
    /// let turns = ManyTurns::of_span(85.0, "rad").expect("13.5 turns");
    /// assert_eq!(turns.looks_like, Some(Unit::Deg));
    /// assert_eq!(ManyTurns::of_span(85.0, "deg"), None);
    /// assert_eq!(ManyTurns::of_span(85.0, "mm"), None);
    /// ```
    pub fn of_span(span: f64, unit: &str) -> Option<Self> {
        let unit = Unit::of(unit).filter(|unit| unit.si() == SiUnit::Radian)?;
        let others = || Unit::ALL.iter().copied().filter(|other| other.si() == SiUnit::Radian);
        (in_deg(unit, span) > MOST_DEG).then(|| Self {
            span,
            unit,
            looks_like: others().find(|other| *other != unit && in_deg(*other, span) <= MOST_DEG),
        })
    }

    /// The same of the measured values of a fit, between its ends; readings that it left out do not count.
    pub fn of_fit(fit: &LimitFit, unit: &str) -> Option<Self> {
        Self::of_span((fit.slope * (fit.upper.at - fit.lower.at)).abs(), unit)
    }
}

fn in_deg(unit: Unit, value: f64) -> f64 {
    value * (unit.to_si() / Unit::Deg.to_si())
}

impl core::fmt::Display for ManyTurns {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(
            f,
            "the measured values span {} {}, which is {} turns, more than a servo joint makes",
            Statistic(self.span),
            self.unit.word(),
            Trimmed(in_deg(self.unit, self.span) / 360.0, 1)
        )?;
        match self.looks_like {
            Some(meant) => write!(f, ": they look like {}", meant.word()),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::{FitOptions, Readings, fit_limits};
    use std::string::ToString;
    use std::vec::Vec;

    #[test]
    fn the_span_is_that_of_the_readings_that_count() {
        let drive: Vec<f64> = (0..40).map(|i| 20.0 + 3.0 * f64::from(i)).collect();
        let mut measured: Vec<f64> = drive.iter().map(|x| (x - 80.0) * 0.1).collect();
        let fitted = |measured: &[f64]| fit_limits(&Readings::new(&drive, measured), &FitOptions::default()).unwrap();
        assert_eq!(ManyTurns::of_fit(&fitted(&measured), "rad"), None);
        // One misreading is not a turn.
        measured[20] = 300.0;
        assert_eq!(ManyTurns::of_fit(&fitted(&measured), "rad"), None);
        measured = drive.iter().map(|x| 100.0 - x).collect();
        let many = ManyTurns::of_fit(&fitted(&measured), "rad").unwrap();
        assert_eq!((many.unit, many.looks_like), (Unit::Rad, Some(Unit::Deg)));
        assert_eq!(
            many.to_string(),
            "the measured values span 117 rad, which is 18.6 turns, more than a servo joint makes: they look like deg"
        );
        assert_eq!(ManyTurns::of_span(f64::NAN, "rad"), None);
    }
}
