//! What a fit found, with the lines of the table and the pulse widths that its user knows: readings left out, how each end of
//! the travel comes about, and which readings to take next.

use super::Fitted;
use crate::args::DriveUnit;
use crate::paint::number;
use elbowroom::fit::{Advice, Approach, EndKind, LimitFit, NextReading, RejectReason, Rejected};
use elbowroom::look::{Rounded, Statistic};
use serde::Serialize;

/// A reading that was left out.
#[derive(Serialize)]
pub(super) struct LeftOut {
    /// Its line in the table.
    line: u32,
    drive: f64,
    measured: f64,
    expected: f64,
    reason: RejectReason,
    /// The slip that would explain it, by its word.
    cause: Option<&'static str>,
    pub(super) message: String,
}

/// Each reading that was left out, worded as it is asked for: there may be many.
pub(super) fn left_out(fitted: &Fitted<'_>) -> impl Iterator<Item = LeftOut> {
    let of = |rejected: &Rejected| {
        let line = fitted.columns.lines.get(rejected.index)?;
        let unit = &fitted.args.table.measured_unit;
        let expected = rejected.measured - rejected.residual;
        let value = number(rejected.measured, 3);
        let off = |what: &str| {
            let remedy = match rejected.cause {
                Some(slip) => format!(": {slip}"),
                None => "; repeat it".to_owned(),
            };
            format!(
                "line {line}: {value} {unit} was left out, {} {unit} off the {what}, which expects {} {unit}{remedy}",
                Statistic(rejected.residual.abs()),
                number(expected, 3)
            )
        };
        let message = match rejected.reason {
            RejectReason::NotTakenUp => format!(
                "line {line}: {value} {unit} was left out: it was taken within the lost motion after a turn, before the joint \
                 followed; drive further before the first reading after a turn"
            ),
            RejectReason::DriveFarOff => format!(
                "line {line}: drive {} was left out: it lies far from all other drive angles, and {value} {unit} is not on their line; \
                 correct the angle, or remove the row if it holds totals",
                number(rejected.drive, 3)
            ),
            RejectReason::OffTheStop => off("stop"),
            _ => off("line"),
        };
        Some(LeftOut {
            line,
            drive: rejected.drive,
            measured: rejected.measured,
            expected,
            reason: rejected.reason,
            cause: rejected.cause.map(|slip| slip.as_str()),
            message,
        })
    };
    fitted.fit.rejected.iter().filter_map(of)
}

/// How the travel of an end comes about: from a place that is safe, less the guard, half the lost motion, and what is kept since something
/// slipped. In drive deg.
#[derive(Serialize)]
pub(crate) struct TravelSum {
    from: f64,
    guard: f64,
    half_lost_motion: f64,
    slipped: f64,
    travel: f64,
}

/// What the sums of both ends may be; null where an end keeps no margin.
#[derive(Serialize)]
pub(super) struct TravelSums {
    lower: Option<TravelSum>,
    upper: Option<TravelSum>,
}

impl TravelSums {
    pub(super) fn of(fitted: &Fitted<'_>) -> Self {
        Self {
            lower: TravelSum::of(&fitted.fit, false),
            upper: TravelSum::of(&fitted.fit, true),
        }
    }
}

impl TravelSum {
    pub(crate) fn of(fit: &LimitFit, is_upper: bool) -> Option<Self> {
        let [at_lower, at_upper] = fit.slipped_margins();
        let (end, slipped) = if is_upper {
            (&fit.upper, at_upper)
        } else {
            (&fit.lower, at_lower)
        };
        let from = match end.interval {
            Some([low, high]) => {
                if is_upper {
                    low
                } else {
                    high
                }
            }
            None => end.at,
        };
        let margin = (from - end.travel).abs();
        if end.kind != EndKind::Contact && margin <= 0.0 {
            return None;
        }
        let rest = margin - end.guard - slipped;
        Some(Self {
            from,
            guard: end.guard,
            // Below the rounding of a difference there is none.
            half_lost_motion: if rest > 1e-9 * (1.0 + from.abs()) { rest } else { 0.0 },
            slipped,
            travel: end.travel,
        })
    }

    /// `124.62 - guard 2 - half the lost motion 0.9 = 121.72 deg`. More than half of what was `measured` is one that the readings allow.
    pub(crate) fn words(&self, is_upper: bool, half_measured: f64) -> String {
        let sign = if is_upper { '-' } else { '+' };
        let motion = if self.half_lost_motion > 0.0 {
            let is_measured = self.half_lost_motion <= half_measured + 1e-9 * (1.0 + self.from.abs());
            let possible = if is_measured { "" } else { "possible " };
            format!(
                " {sign} half the {possible}lost motion {}",
                number(self.half_lost_motion, 2)
            )
        } else {
            String::new()
        };
        let slipped = if self.slipped > 0.0 {
            format!(" {sign} the slip {}", number(self.slipped, 2))
        } else {
            String::new()
        };
        format!(
            "{} {sign} guard margin {}{motion}{slipped} = {} deg",
            number(self.from, 2),
            number(self.guard, 3),
            number(self.travel, 2)
        )
    }
}

/// Decimals of a drive angle that is advised: finer nobody sets it at a bench, and where exactly matters little.
const ADVISED_DECIMALS: usize = 1;

/// Which readings to take next.
#[derive(Serialize)]
pub(super) struct Next {
    /// Of each reading of the advice.
    pulse_us: Vec<f64>,
    pub(super) message: String,
}

impl Next {
    pub(super) fn of(fitted: &Fitted<'_>) -> Option<Self> {
        let advice = fitted.fit.advice.as_ref()?;
        Some(Self {
            pulse_us: advice
                .readings
                .iter()
                .map(|reading| fitted.servo.pulse_us(reading.drive))
                .collect(),
            message: format!("{}{}", places(fitted, advice), gain(advice)),
        })
    }
}

/// `at the upper end, in this order, each from below: 108 deg, 112 deg (twice)`.
fn places(fitted: &Fitted<'_>, advice: &Advice) -> String {
    let mut groups: Vec<(NextReading, usize)> = Vec::new();
    for reading in &advice.readings {
        match groups.last_mut() {
            Some((last, count)) if last == reading => *count += 1,
            _ => groups.push((*reading, 1)),
        }
    }
    let first = advice.readings.first().map(|reading| reading.approach);
    let shared = first.filter(|first| advice.readings.iter().all(|reading| reading.approach == *first));
    let place = |&(reading, count): &(NextReading, usize)| {
        let side = if shared.is_none() { from(reading.approach) } else { "" };
        let times = match count {
            1 => String::new(),
            2 => " (twice)".to_owned(),
            n => format!(" ({n} times)"),
        };
        format!("{}{side}{times}", drive_in(fitted, reading.drive, ADVISED_DECIMALS))
    };
    let side = shared.map_or("", from);
    let (order, each) = match (advice.readings.len(), side) {
        (1, _) => ("", ""),
        (_, "") => (", in this order", ""),
        _ => (", in this order", ", each"),
    };
    let places: Vec<String> = groups.iter().map(place).collect();
    format!(
        "at the {} end{order}{each}{side}: {}",
        advice.side.as_str(),
        places.join(", ")
    )
}

const fn from(approach: Approach) -> &'static str {
    match approach {
        Approach::Below => " from below",
        Approach::Above => " from above",
        Approach::Unknown => "",
    }
}

/// What the readings would bring.
fn gain(advice: &Advice) -> String {
    let Some(before) = advice.u_before else {
        return String::new();
    };
    let after = advice.u_after.map_or(String::new(), |after| {
        format!(
            ", about {} deg with them",
            Rounded {
                value: after,
                u: Some(after)
            }
        )
    });
    format!(
        "; standard uncertainty of the stop {} deg now{after}",
        Rounded {
            value: before,
            u: Some(before)
        }
    )
}

/// A drive angle, and what was commanded for it.
pub(super) fn drive_in(fitted: &Fitted<'_>, value: f64, decimals: usize) -> String {
    let unit = fitted.args.table.drive_unit.core();
    let deg = format!("{} deg", number(value, decimals));
    let commanded = unit.from_deg(value, &fitted.servo, &fitted.timer);
    match fitted.args.table.drive_unit {
        DriveUnit::Deg | DriveUnit::Auto => deg,
        DriveUnit::Ms => format!("{deg} ({} ms)", number(commanded, 3)),
        DriveUnit::Us | DriveUnit::Counts => format!("{deg} ({} {})", number(commanded, 0), unit.as_str()),
    }
}
