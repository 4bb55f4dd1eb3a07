//! What became of one end: stops placed in both tables, in one, or in none; a stop that stalled the joint lies between two readings.

use super::super::outcome::{EndKind, LimitFit, Side};
use super::finding::{Change, Diagnosis, Quantity, Verdict};
use super::judge::{Known, Test, critical, difference};

/// Standard uncertainty of "clear as far as here", in standard deviations of a reading: a stop just before the last reading
/// shows as one that falls short, and shortfalls up to some three standard deviations pass as scatter.
const CLEAR_TO: f64 = 1.5;

/// Standard uncertainties of a stop's difference that a shift must exceed for the stop to tell where it shifted.
const CLOSE: f64 = 2.0;

/// Where an end lies in one table.
#[derive(Debug, Clone, Copy)]
enum Place {
    /// A stop was placed.
    Stop(Known),
    /// The joint stalled: a stop lies between two readings.
    Between(Known),
    /// No stop was found: the joint follows to here.
    ClearTo(Known),
}

impl Place {
    fn of(fit: &LimitFit, side: Side) -> Self {
        let end = match side {
            Side::Lower => &fit.lower,
            Side::Upper => &fit.upper,
        };
        let scatter = CLEAR_TO * fit.residual_sd / fit.slope.abs().max(f64::MIN_POSITIVE);
        // From below the joint itself stands that much before the drive angle.
        let behind = 0.5 * fit.lost_motion.in_drive();
        let seen = scatter * scatter + behind * behind;
        match (end.kind, end.u, end.short_at) {
            (EndKind::Contact, Some(u), _) => Self::Stop(Known::new(end.at, u.max(half_interval(fit, side)), fit.dof)),
            (EndKind::Stalled, _, Some(short_at)) => {
                // Anywhere between the two alike (JCGM 100:2008, 4.3.7); the width of the gap is known without doubt.
                let gap = (short_at - end.at) * (short_at - end.at) / 12.0;
                let share = if gap > 0.0 { seen / (gap + seen) } else { 1.0 };
                Self::Between(Known {
                    value: 0.5 * (end.at + short_at),
                    u: (gap + seen).sqrt(),
                    dof: fit.dof.max(1) as f64 / (share * share),
                })
            }
            _ => Self::ClearTo(Known::new(end.at, seen.sqrt(), fit.dof)),
        }
    }

    const fn known(self) -> Known {
        match self {
            Self::Stop(known) | Self::Between(known) | Self::ClearTo(known) => known,
        }
    }

    const fn is_stop(self) -> bool {
        matches!(self, Self::Stop(_) | Self::Between(_))
    }
}

/// The standard uncertainty that the wider half of a contact's interval stands for.
fn half_interval(fit: &LimitFit, side: Side) -> f64 {
    let end = match side {
        Side::Lower => &fit.lower,
        Side::Upper => &fit.upper,
    };
    let k = crate::fit::statistics::quantile::t_quantile(0.5 + 0.5 * fit.confidence, fit.dof.max(1) as f64);
    end.interval
        .map_or(0.0, |[low, high]| (end.at - low).max(high - end.at) / k)
}

/// One end in both tables.
#[derive(Debug, Clone, Copy)]
pub(super) struct End {
    side: Side,
    old: Place,
    new: Place,
}

impl End {
    pub(super) fn of(old: &LimitFit, new: &LimitFit, side: Side) -> Self {
        Self {
            side,
            old: Place::of(old, side),
            new: Place::of(new, side),
        }
    }

    /// Outwards is down at the lower end and up at the upper.
    fn outwards(&self, difference: f64) -> f64 {
        self.side.sign() * difference
    }

    /// How far the later table's place lies outside the earlier one's.
    fn beyond(&self) -> f64 {
        self.outwards(self.new.known().value - self.old.known().value)
    }

    /// Both stops, if both tables met one and it is known closely enough to tell whether it moved by `shift`.
    pub(super) fn both(&self, shift: f64) -> Option<[Known; 2]> {
        let (old, new) = (self.old.known(), self.new.known());
        let close = || CLOSE * difference(old, new, 0.0).u < shift.abs();
        match (self.old, self.new) {
            (Place::Stop(_), Place::Stop(_)) => Some([old, new]),
            _ => (self.old.is_stop() && self.new.is_stop() && close()).then_some([old, new]),
        }
    }

    /// How far its stop moved along the drive, where both tables placed one; `also`: see [`difference`].
    pub(super) fn placed(&self, also: f64) -> Option<Known> {
        match (self.old, self.new) {
            (Place::Stop(old), Place::Stop(new)) => Some(difference(old, new, also)),
            _ => None,
        }
    }

    pub(super) fn test(&self, smallest: f64, also: f64) -> Test {
        let quantity = match self.side {
            Side::Lower => Quantity::Lower,
            Side::Upper => Quantity::Upper,
        };
        let (old, new) = (self.old.known(), self.new.known());
        let test = || Test::of(quantity, smallest, old, new, also);
        match (self.old.is_stop(), self.new.is_stop()) {
            (true, true) => test(),
            // The joint now goes past where it met a stop; else the later table did not look there.
            (true, false) => test().bound(self.beyond() > 0.0, Verdict::Untested),
            // A stop where it was clear; a stop beyond that was not looked for earlier.
            (false, true) => test().bound(self.beyond() < 0.0, Verdict::NotComparable),
            (false, false) => {
                let short = -self.beyond() > smallest;
                Test::none(
                    quantity,
                    smallest,
                    if short { Verdict::Untested } else { Verdict::Same },
                )
            }
        }
    }

    /// Whether a stop met twice is rather where it was than moved with a joint that sits elsewhere on the servo, whose
    /// position moved by `shift`.
    pub(super) fn stayed(&self, shift: f64) -> bool {
        self.both(shift).is_some_and(|[old, new]| {
            let difference = new.value - old.value;
            difference.abs() < (difference + shift).abs()
        })
    }

    /// What is to be said of it, `moved` being how far a shift of the joint on the servo carried its stops.
    pub(super) fn diagnosis(&self, change: &Change, moved: Option<Known>, tests: usize) -> Option<Diagnosis> {
        let (old, new) = (self.old.known(), self.new.known());
        let (earlier, beyond, u, differs) = match moved {
            None => {
                let u = change.difference.map_or(old.u, |difference| difference.u);
                (old, self.beyond(), u, change.verdict == Verdict::Changed)
            }
            Some(moved) => {
                let back = moved.scaled(-1.0);
                let expected = difference(back, old, 0.0);
                let left = difference(expected, new, 0.0);
                let least = (critical(tests, left.dof) * left.u).max(change.smallest);
                (expected, self.outwards(left.value), left.u, left.value.abs() > least)
            }
        };
        let untested = Diagnosis::Untested {
            quantity: change.quantity,
            earlier: Some(earlier.value),
            u: Some(earlier.u),
            later: Some(new.value),
        };
        let (side, by) = (self.side, beyond.abs());
        match (self.old.is_stop(), self.new.is_stop()) {
            (true, false) if differs && beyond > 0.0 => Some(Diagnosis::RangeWidened {
                side,
                by,
                u,
                at_least: true,
            }),
            (true, false) => Some(untested),
            (false, false) => (change.verdict == Verdict::Untested).then_some(untested),
            (false, true) => (differs && beyond < 0.0).then_some(Diagnosis::RangeShrunk {
                side,
                by,
                u,
                at_least: true,
            }),
            (true, true) if !differs => None,
            (true, true) => Some(if beyond > 0.0 {
                Diagnosis::RangeWidened {
                    side,
                    by,
                    u,
                    at_least: false,
                }
            } else {
                Diagnosis::RangeShrunk {
                    side,
                    by,
                    u,
                    at_least: false,
                }
            }),
        }
    }
}
