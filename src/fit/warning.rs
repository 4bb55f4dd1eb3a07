//! What a user should know about an otherwise valid fit.

use super::error::Counted;
use super::not_degrees::NotDegrees;
use super::outcome::Side;
use crate::look::{Rounded, Statistic, Trimmed};

/// Something about the readings that a user should act on. `Display` writes the sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case", tag = "kind")
)]
#[non_exhaustive]
pub enum Warning {
    /// Between the stops the joint is not a line: [`choose_transmission`](super::choose_transmission) weighs what it may be
    /// instead, and [`fit_curve`](super::fit_curve) makes the curve.
    Curved {
        /// Probability of such a bend by chance.
        p: f64,
        /// Largest departure of the line from the bend, in measured units.
        departure: f64,
    },
    /// Readings went past a plateau: friction or stall, no stop.
    PlateauRefuted {
        /// The plateau's drive angle.
        at: f64,
        /// Readings that went past it.
        readings: usize,
    },
    /// The joint still gives behind the stop.
    Soft {
        /// Where it starts, in drive angle.
        at: f64,
        /// Standard uncertainty of `at`, if it is known.
        u: Option<f64>,
        /// Slope behind the stop over slope before it.
        ratio: f64,
    },
    /// A flattening that too few readings support.
    TooFewBeyond {
        /// Where it seems to start, in drive angle.
        at: f64,
        /// Readings beyond that.
        readings: usize,
    },
    /// The last readings at an end fall short of the line: something holds the joint between two known drive angles, and
    /// too few readings lie beyond to place it.
    FellShort {
        /// The last drive angle whose reading follows the line.
        at: f64,
        /// The first whose reading falls short.
        short_at: f64,
        /// Readings there and beyond.
        readings: usize,
    },
    /// The measured values jump between two drive angles: a skipped tooth, or a horn that slipped. Where the readings determine how far, it
    /// is [`Slipped`](Self::Slipped) instead.
    Jump {
        /// The last drive angle before it.
        from: f64,
        /// The first behind it.
        to: f64,
        /// How far they jump, in measured units.
        size: f64,
        /// Probability that they jump.
        p: f64,
    },
    /// From one reading on all values are displaced together: a pointer, sensor or horn slipped in between, or a tooth was skipped. The fit
    /// is that of the readings brought to those behind it, and its travel holds whichever of them slipped.
    Slipped {
        /// The first reading behind it, counted from 0.
        index: usize,
        /// Its drive angle.
        drive: f64,
        /// By how much it and those that follow are displaced, in measured units.
        by: f64,
    },
    /// Passes over the same sweep do not agree: the zero, the scale or a stop moved in between, or the sensor drifts. Either end is that of
    /// the pass which shows it furthest inwards.
    PassesDisagree {
        /// From turn to turn.
        passes: usize,
        /// Root mean square of the residuals of all together, in measured units.
        together: f64,
        /// The same of each pass by itself.
        apart: f64,
    },
    /// Neighbouring readings lie off the line together: an eccentric gear or pulley, a bent horn, a sensor that is not linear. The intervals
    /// of the stops are wider by the amplitude of it, 1.4 times `systematic`.
    Uneven {
        /// Standard deviation of what changes along the drive, in measured units.
        systematic: f64,
        /// Standard deviation of the rest, from place to place.
        scatter: f64,
    },
    /// The readings scatter far more than their resolution explains.
    ScatterAboveResolution {
        /// Standard deviation of the readings about the model.
        residual_sd: f64,
        /// The resolution.
        resolution: f64,
    },
    /// The readings scatter widely beside the whole measured range, and neither a bend nor a jump explains it: rows that were exchanged, a
    /// pointer or sensor that slipped half-way, or a stop that moved.
    ScatterWide {
        /// Standard deviation of the readings about the model.
        residual_sd: f64,
        /// The measured range, from the lowest to the highest value.
        range: f64,
    },
    /// The resolution given is far coarser than the steps on which the values lie: readings then count as less exact than they are,
    /// and stops are missed.
    ResolutionAboveSteps {
        /// The resolution given.
        resolution: f64,
        /// The coarsest step on which all values lie.
        step: f64,
    },
    /// No stop was found at an end, but the last reading may fall short of the line.
    MayFallShort {
        /// Its drive angle.
        at: f64,
        /// Probability that it lies past a stop.
        p: f64,
    },
    /// Readings left out at an end, all short of where the joint would have gone: it may meet a stop there, and the
    /// travel keeps the guard.
    LeftOutBeyond {
        /// The furthest clear reading, in drive angle.
        at: f64,
        /// Readings left out beyond that.
        readings: usize,
    },
    /// Of the readings at the last clear drive angle some fell short of the line and were left out, while another follows it: one of the
    /// two is wrong, and the joint may meet a stop there.
    LastDisagree {
        /// The drive angle.
        at: f64,
        /// Readings left out there.
        readings: usize,
    },
    /// No stop was found at an end, but the joint hardly moves there: the travel ends before, and keeps the guard.
    LevelBeyond {
        /// Where it last moved, in drive angle.
        at: f64,
        /// Readings beyond that.
        readings: usize,
        /// Slope beyond over slope before.
        ratio: f64,
    },
    /// A contact noted by hand lies where the joint was still moving, or far behind the stop.
    MarkDisagrees {
        /// The drive angle of the mark.
        mark: f64,
        /// The contact that the readings show.
        at: f64,
        /// Standard uncertainty of `at`.
        u: f64,
    },
    /// A contact was noted by hand where readings beyond it follow the line: the mark is wrong, or the joint pushed something aside. The
    /// travel ends before it.
    MarkPassed {
        /// The drive angle of the mark.
        mark: f64,
        /// Readings that went past it.
        readings: usize,
    },
    /// Many readings were left out, or three in a row.
    ManyRejected {
        /// How many.
        rejected: usize,
        /// Of how many.
        readings: usize,
    },
    /// Guard margin and uncertainty leave no travel.
    NoTravel {
        /// What would be its lower end.
        lower: f64,
        /// What would be its upper end.
        upper: f64,
        /// How far the drive went, from its lowest to its highest value.
        swept: f64,
    },
    /// The drive values are hardly degrees, and the guard margin, 2 if none was given, is one for degrees.
    GuardOfDegrees {
        /// The guard margin.
        guard: f64,
        /// The lowest drive value.
        lower: f64,
        /// The highest.
        upper: f64,
    },
    /// Reached from below the joint stands further than from above, where lost motion makes it stand less far. Where the order of the rows
    /// confirms the sides and something moved at the turn, [`Slipped`](Self::Slipped) or [`PassesDisagree`](Self::PassesDisagree) says so
    /// instead.
    SidesExchanged {
        /// How much further, in drive angle.
        lead: f64,
        /// Its standard uncertainty.
        u: f64,
    },
    /// Lost motion could not be determined, and some readings do not say from which side they were reached.
    SidesMissing {
        /// How many.
        readings: usize,
        /// Of how many.
        of: usize,
    },
    /// Neighbours in the order given lie off the model together, as in readings taken in motion; but lost motion or a
    /// misfit of the model would look the same.
    MaybeInMotion {
        /// Mean square successive difference of the residuals over their variance.
        ratio: f64,
    },
    /// The drive moved, and readings from below and from above lie apart: lag, lost motion, or both.
    LagOrLostMotion {
        /// How far apart, along the drive.
        gap: f64,
        /// The latency that would do it, s.
        latency: f64,
        /// Median speed of the drive, per second.
        speed: f64,
    },
    /// The drive moved slowly, one way: a latency would displace all readings alike and does not show.
    MayTrail {
        /// Median speed of the drive, per second.
        speed: f64,
        /// How far a latency of 0.1 s would displace them, along the drive.
        shift: f64,
    },
    /// Many readings in fine steps one way, without times: had they been taken in motion, a lag would displace all alike and not show.
    MayTrailUnseen {
        /// How many.
        readings: usize,
        /// The mean step of the drive.
        step: f64,
    },
    /// All readings beyond a contact stand at the first or the last count of a converter: the sensor may be at the end of its range, and
    /// the joint at no stop.
    AtRail {
        /// The end.
        side: Side,
        /// The count.
        level: f64,
    },
    /// The scatter is larger than the stated uncertainties.
    ScatterAboveStated {
        /// Residual standard deviation over the stated.
        ratio: f64,
    },
}

/// Sweeps narrower than this are hardly in degrees.
const LEAST_DEGREES: f64 = 10.0;

impl core::fmt::Display for Warning {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match *self {
            Self::Curved { p, departure } => write!(
                f,
                "nonlinear between the stops (p = {p:.1e}, largest deviation {}): use a curve or a linkage",
                Statistic(departure)
            ),
            Self::PlateauRefuted { at, readings } => write!(
                f,
                "the plateau from drive {} on is not a stop: {} passed it; look for stall or friction",
                near(at),
                Counted(readings, "reading")
            ),
            Self::Soft { at, u, ratio } => write!(
                f,
                "beyond drive {} the joint still moves at {} % of its slope: a soft stop; keep the travel clear of it",
                Rounded { value: at, u },
                Trimmed(ratio * 100.0, 1)
            ),
            Self::TooFewBeyond { at, readings } => write!(
                f,
                "the motion seems to end near drive {}, but only {} {} beyond; take 3 more there if it is safe",
                near(at),
                Counted(readings, "reading"),
                if readings == 1 { "lies" } else { "lie" }
            ),
            Self::FellShort { at, short_at, readings } => write!(
                f,
                "{} at drive {} and beyond {} short of the line, and the last one that follows it is at {}: something holds the joint between; take 3 readings there, from the inside outwards",
                Counted(readings, "reading"),
                given(short_at),
                if readings == 1 { "falls" } else { "fall" },
                given(at)
            ),
            Self::Jump { from, to, size, p } => write!(
                f,
                "jump of {} in the measured values between drive {} and {} (probability {p:.2}): look for a skipped tooth or a loose horn, then measure again; until then keep the travel on one side of it",
                Statistic(size),
                given(from),
                given(to)
            ),
            Self::Slipped { index, drive, by } => write!(
                f,
                "from reading {} on, at drive {}, all values lie {} {} than before: a pointer, sensor or horn slipped, or a tooth was skipped; look for what is loose or worn, then measure again; until then the travel is narrower by as much",
                index + 1,
                given(drive),
                Statistic(by.abs()),
                if by > 0.0 { "higher" } else { "lower" }
            ),
            Self::Uneven { systematic, scatter } => write!(
                f,
                "neighbouring readings lie off the line together: SD {} along the drive, beside a scatter of {}: look for an eccentric gear, a bent horn or a sensor that is not linear; the intervals of the stops are wider by 1.4 times that SD",
                Statistic(systematic),
                Statistic(scatter)
            ),
            Self::PassesDisagree {
                passes,
                together,
                apart,
            } => write!(
                f,
                "the {passes} passes over the sweep disagree: RMS residual {} with one line for all, {} with one for each: the zero, the scale or a stop moved in between, or the sensor drifts; fasten what is loose, let the sensor warm up and measure again; until then the travel lies within that of each pass",
                Statistic(together),
                Statistic(apart)
            ),
            Self::ScatterAboveResolution {
                residual_sd,
                resolution,
            } => write!(
                f,
                "residual SD {} is {:.1} times the resolution {resolution}: check the sensor's seat and the joint for friction, and repeat the readings that lie furthest off",
                Statistic(residual_sd),
                residual_sd / resolution
            ),
            Self::ScatterWide { residual_sd, range } => write!(
                f,
                "residual SD {} is {:.1} % of the measured range: look in the plot of the residuals for exchanged rows, a pointer or sensor that slipped half-way, or a stop that moved, and measure again",
                Statistic(residual_sd),
                100.0 * residual_sd / range
            ),
            Self::ResolutionAboveSteps { resolution, step } => write!(
                f,
                "the resolution given is {resolution}, but all measured values lie on steps of {step}: a resolution that is too coarse can hide stops; give the smallest step that one reading can show, or leave it out"
            ),
            Self::MayFallShort { at, p } => write!(
                f,
                "the last reading, at drive {}, may fall short of the line (probability {p:.2}); repeat it and take one half a step before it",
                given(at)
            ),
            Self::LeftOutBeyond { at, readings } => write!(
                f,
                "{} beyond drive {} fell short of the line and {} left out: the joint may meet a stop there; take 3 more there if it is safe",
                Counted(readings, "reading"),
                given(at),
                was(readings)
            ),
            Self::LastDisagree { at, readings } => write!(
                f,
                "at drive {}, the last one that is clear, {} fell short of the line and {} left out, while another there follows it: the joint may meet a stop there; take 3 more there if it is safe",
                given(at),
                Counted(readings, "reading"),
                was(readings)
            ),
            Self::LevelBeyond { at, readings, ratio } => write!(
                f,
                "beyond drive {} the joint hardly moves ({} with {:.0} % of the motion before): a stop hidden by a bend, or a dead centre; look there, and note contact if it is a stop",
                given(at),
                Counted(readings, "reading"),
                ratio.abs() * 100.0
            ),
            Self::MarkDisagrees { mark, at, u } => write!(
                f,
                "contact was noted at drive {}, but the fit places it at {}; inspect the joint there",
                given(mark),
                Rounded { value: at, u: Some(u) }.with_u("")
            ),
            Self::MarkPassed { mark, readings } => write!(
                f,
                "contact was noted at drive {}, but {} beyond it {} the line: correct the mark, or inspect the joint there; until then the travel ends before it",
                given(mark),
                Counted(readings, "reading"),
                if readings == 1 { "follows" } else { "follow" }
            ),
            Self::ManyRejected { rejected, readings } => write!(
                f,
                "{rejected} of {} {} left out as misreadings; check the sensor",
                Counted(readings, "reading"),
                was(rejected)
            ),
            Self::NoTravel { lower, upper, swept } => {
                write!(
                    f,
                    "guard margin and uncertainty leave no travel ({} to {}); ",
                    Trimmed(lower, 2),
                    Trimmed(upper, 2)
                )?;
                if swept < LEAST_DEGREES {
                    NotDegrees::Narrow { swept }.fmt(f)
                } else {
                    f.write_str("reduce the guard margin or take more readings near the stops")
                }
            }
            Self::GuardOfDegrees { guard, lower, upper } => write!(
                f,
                "the drive values are {} to {}, so they are hardly degrees (pulse widths in us, timer counts?), and a guard margin of {} of them is next to none: convert them to degrees, or give a guard margin in their unit",
                near(lower),
                near(upper),
                Trimmed(guard, 2)
            ),
            Self::SidesExchanged { lead, u } => write!(
                f,
                "reached from below the joint stands {} further, in drive angle, than from above, and lost motion makes it stand less far: check that below and above are not exchanged",
                Rounded {
                    value: lead,
                    u: Some(u)
                }
                .with_u("")
            ),
            Self::SidesMissing { readings, of } => write!(
                f,
                "{readings} of {of} cells of the approach are blank, and merged cells of a spreadsheet leave all but the first blank: write below or above into every row"
            ),
            Self::MaybeInMotion { ratio } => write!(
                f,
                "neighbouring residuals are correlated (von Neumann ratio {ratio:.2}; about 2 if independent): lost motion, or readings in motion; add the column approach, and measure a second after each move"
            ),
            Self::LagOrLostMotion { gap, latency, speed } => write!(
                f,
                "readings from below and from above lie {} drive units apart, and the drive moved at {} drive units per second: lost motion, a latency of {} s, or both; to distinguish them, repeat some readings half a second after each move",
                Statistic(gap),
                Statistic(speed),
                Statistic(latency)
            ),
            Self::MayTrail { speed, shift } => write!(
                f,
                "the drive moved at {} drive units per second in one direction: a latency of 0.1 s would put every stop {} drive units too far out; wait half a second after each move, or measure in both directions",
                Statistic(speed),
                Statistic(shift)
            ),
            Self::MayTrailUnseen { readings, step } => write!(
                f,
                "{readings} readings go one way in steps of {} on average, without times: if the drive did not stop for each of them, a lag puts every stop too far out and does not show; wait half a second after each move, add the column time, or measure in both directions",
                Statistic(step)
            ),
            Self::AtRail { side, level } => write!(
                f,
                "all readings beyond the {} contact stand at {level}, where the range of a converter ends: the sensor may be at its limit and the joint at no stop; turn the sensor until its range covers the joint's, then measure again",
                side.as_str()
            ),
            Self::ScatterAboveStated { ratio } => write!(
                f,
                "residual SD is {ratio:.1} times the stated uncertainty; the residual SD is used"
            ),
        }
    }
}

/// The drive angle of a reading, as it was given.
const fn given(at: f64) -> Rounded {
    Rounded { value: at, u: None }
}

/// A drive angle that is known only roughly.
const fn near(at: f64) -> Trimmed {
    Trimmed(at, 1)
}

fn was(count: usize) -> &'static str {
    if count == 1 { "was" } else { "were" }
}
