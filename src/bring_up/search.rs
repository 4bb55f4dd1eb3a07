//! The stop search: walk outward from what is clear, see the joint stay behind, back off, halve.
//!
//! # How contact is judged
//! The readings of the last clear places, all reached in the outward direction (so that lost motion cancels), give a
//! straight line. A probe whose reading falls short of that line by more than
//!
//! `max(0.4 * way, 3 * u)`, in deg of drive angle,
//!
//! and does so again when it is tried once more, is a contact, where `way` is how far the probe lies beyond what is clear and `u` the standard uncertainty of one
//! median of readings. When `3 u` comes to 0.8 `way` the readings cannot tell any more and the search ends there.
//!
//! # The bound on overtravel
//! A search whose `3 u` comes to more than 0.4 `step` is refused after learning, before it probes. So with true readings
//! a probe that lies further than 0.4 `step` beyond the contact is judged a contact, and with the proof of [`Bracket`] no
//! commanded angle lies further than 1.4 steps beyond the true contact. A median that is wrong by `e`, the scatter of the
//! servo included, adds up to `3 e`: at the probe, and along the line with its weights -1/2, 0, 1/2, 1. While no `e` is more
//! than a fifth of a step, that makes [`StopSearch::MOST_OVERTRAVEL`] = 2 steps. Whatever the readings, no probe lies further
//! than one step beyond what was judged clear, and none beyond the search limit.
//!
//! The contact is that of the direction driven: with play a joint driven outward meets its stop half the play further out than where
//! the joint itself stands there, and all places of the line are reached outward, so that the play is the same in all of them and
//! drops out of what a probe falls short by.
//!
//! A bent transmission whose slope changes by the part `p` over one step adds `2.5 p` steps (a straight line through four
//! places of a parabola, one step on).

#[cfg(test)]
mod tests;

use super::action::{Action, Report};
use super::bracket::{Bracket, BracketPlan, Found};
use super::error::BringUpError;
use super::reads;
use super::visit::{Pace, Seen, Visit};
use super::with::with;
use crate::span::Side;

/// Part of the reading range over which repeats of one reading must not range: a sound 10-bit reading ranges over 5 counts, a
/// wiper that loses contact over a hundred.
pub(super) const ERRATIC_PART: f64 = 0.04;

/// What a stop search needs to know. *Unit*: deg of drive angle, readings in the sensor's unit.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[non_exhaustive]
pub struct StopSearchPlan {
    /// Which stop, from where, how far and how fine.
    pub bracket: BracketPlan,
    /// The innermost angle known to be clear: from here to `bracket.clear` the search learns how readings follow.
    pub inner: f64,
    /// How far it backs off before it comes outward again; more than the lost motion.
    pub run_in: f64,
    /// The readings that the sensor can give with a margin, lower then upper.
    pub readable: [f64; 2],
    /// One step of the reading, e.g. 1 ADC count.
    pub resolution: f64,
    /// How each place is visited.
    pub pace: Pace,
}

with! {
    StopSearchPlan {
        with_run_in run_in: f64,
        with_readable readable: [f64; 2],
        with_resolution resolution: f64,
        with_pace pace: Pace,
    }
}

impl StopSearchPlan {
    /// The usual plan (default; verify against the data sheet): a run-in of 5 deg, a 10-bit reading that ends 10 counts early.
    pub fn new(bracket: BracketPlan, inner: f64) -> Self {
        Self {
            bracket,
            inner,
            run_in: 5.0,
            readable: [10.0, 1013.0],
            resolution: 1.0,
            pace: Pace::default(),
        }
    }
}

/// How a search ended.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
#[non_exhaustive]
pub enum SearchEnd {
    /// A stop was found.
    Contact {
        /// The outermost angle found clear, deg.
        clear: f64,
        /// The innermost angle at which the joint stayed behind, deg.
        contact: f64,
        /// The highest load on contact, part of the stall current.
        load: Option<f64>,
    },
    /// The search limit was reached, all clear.
    SearchLimit {
        /// The search limit, deg.
        clear: f64,
    },
    /// The sensor runs out of its range.
    SensorRunsOut {
        /// Where, deg of drive angle.
        drive: f64,
        /// The reading there, taken or expected.
        reading: f64,
    },
    /// Repeated readings of one place lie far apart.
    Erratic {
        /// Where, deg of drive angle.
        drive: f64,
        /// Highest less lowest of the readings.
        range: f64,
    },
    /// Within what was said to be clear the reading did not follow the drive.
    NotFollowed {
        /// The outermost drive angle of the attempt, deg.
        drive: f64,
        /// By how much the reading changed.
        by: f64,
    },
    /// The readings scatter too far for the step.
    TooNoisy {
        /// Standard uncertainty of one median of readings, deg of drive angle.
        u: f64,
        /// The least step at which a stop could be detected, deg.
        step: f64,
    },
    /// It was stopped from outside.
    Stopped {
        /// The outermost angle found clear, deg.
        clear: f64,
    },
}

impl SearchEnd {
    /// The outermost angle found clear, deg, where the search found any.
    #[cfg(feature = "std")]
    pub(super) fn clear(self) -> Option<f64> {
        match self {
            Self::Contact { clear, .. } | Self::SearchLimit { clear } | Self::Stopped { clear } => Some(clear),
            _ => None,
        }
    }

    /// Whether a search that stands so can have ended so.
    #[cfg(feature = "serde")]
    pub(super) fn check(self, bracket: &Bracket) -> Result<(), BringUpError> {
        let numbers = match self {
            Self::Contact { clear, contact, load } => {
                BringUpError::same("clear of end", clear, bracket.clear())?;
                BringUpError::there("contact of search", bracket.contact().is_some(), true)?;
                BringUpError::same("contact of end", contact, bracket.contact().unwrap_or(contact))?;
                [load.unwrap_or(0.0), 0.0]
            }
            Self::SearchLimit { clear } | Self::Stopped { clear } => {
                BringUpError::same("clear of end", clear, bracket.clear())?;
                [0.0; 2]
            }
            Self::SensorRunsOut { drive, reading } => [drive, reading],
            Self::Erratic { drive, range } => [drive, range],
            Self::NotFollowed { drive, by } => [drive, by],
            Self::TooNoisy { u, step } => [u, step],
        };
        for number in numbers {
            BringUpError::finite("number of search", number)?;
        }
        Ok(())
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(rename_all = "kebab-case")
)]
enum Purpose {
    RunIn,
    Learn,
    BackOff,
    Probe,
}

/// The last places found clear: drive angle and reading.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(deny_unknown_fields)
)]
struct Trail {
    places: [[f64; 2]; Self::LONGEST],
    count: usize,
}

impl Trail {
    /// Long enough for a slope, short enough to follow a bent transmission.
    const LONGEST: usize = 4;

    fn push(&mut self, drive: f64, reading: f64) {
        // Two places whose commands are rounded to one count are one place.
        if self.iter().last().is_some_and(|[last, _]| *last == drive) {
            return;
        }
        if self.count == Self::LONGEST {
            self.places.rotate_left(1);
            self.count -= 1;
        }
        if let Some(place) = self.places.get_mut(self.count) {
            *place = [drive, reading];
            self.count += 1;
        }
    }

    fn iter(&self) -> impl Iterator<Item = &[f64; 2]> {
        self.places.iter().take(self.count)
    }

    /// Reading expected at a drive angle and readings per degree, by least squares.
    fn line_at(&self, drive: f64) -> (f64, f64) {
        let n = self.count.max(1) as f64;
        let (sx, sy) = self.iter().fold((0.0, 0.0), |(sx, sy), &[x, y]| (sx + x, sy + y));
        let (mx, my) = (sx / n, sy / n);
        let (sxx, sxy) = self.iter().fold((0.0, 0.0), |(sxx, sxy), &[x, y]| {
            (sxx + (x - mx) * (x - mx), sxy + (x - mx) * (y - my))
        });
        let slope = if sxx > 0.0 { sxy / sxx } else { 0.0 };
        (my + slope * (drive - mx), slope)
    }
}

/// The search as a procedure: see [`Action`] and [`Report`].
///
/// ```
/// use elbowroom::bring_up::{Action, BracketPlan, Report, SearchEnd, StopSearch, StopSearchPlan, Side};
/// let bracket = BracketPlan::new(Side::Upper, 50.0, 90.0).with_step(2.0);
/// let mut search = StopSearch::new(StopSearchPlan::new(bracket, 38.0).with_run_in(4.0))?;
/// let mut at = 0.0;
/// let end = loop {
///     match search.next() {
///         Action::MoveTo { drive, .. } => { at = drive; search.report(Report::Moved)? }
///         Action::Wait { .. } => search.report(Report::Waited)?,
///         // A joint that meets its stop at 80 deg.
///         Action::Read => search.report(Report::Reading { value: 212.0 + 8.0 * at.min(80.0), load: None })?,
///         _ => break search.end().unwrap(),
///     }
/// };
/// assert_eq!(end, SearchEnd::Contact { clear: 80.0, contact: 80.5, load: None });
/// # Ok::<(), elbowroom::bring_up::BringUpError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(
    feature = "serde",
    derive(serde::Serialize, serde::Deserialize),
    serde(remote = "Self", deny_unknown_fields)
)]
pub struct StopSearch {
    plan: StopSearchPlan,
    bracket: Bracket,
    trail: Trail,
    visit: Visit,
    purpose: Purpose,
    learned: u8,
    /// Sum of the ranges of readings while learning.
    ranges: f64,
    #[cfg_attr(feature = "serde", serde(deserialize_with = "super::saved::given"))]
    load: Option<f64>,
    /// The probe seemed to meet something and is tried once more.
    again: bool,
    #[cfg_attr(feature = "serde", serde(deserialize_with = "super::saved::given"))]
    end: Option<SearchEnd>,
}

impl StopSearch {
    /// The most that a commanded angle can lie beyond the true contact as it is met in the direction driven, in steps; see the module's proof.
    pub const MOST_OVERTRAVEL: f64 = 1.0 + Self::SHORT_PART + 3.0 * 0.2;
    /// Part of a probe's way that may be missing before it counts as a contact.
    pub(super) const SHORT_PART: f64 = 0.4;
    /// Standard uncertainties that may be missing. One in 700 healthy probes falls so short by chance; twice in a row one
    /// in half a million, and then the search only ends early.
    pub(super) const SHORT_U: f64 = 3.0;
    /// Places read within what is known to be clear.
    const LEARN: u8 = 3;
    /// Readings at each of them at the least: what one reading scatters is learned there, however few are taken later.
    const LEARN_READS: u8 = 5;

    /// Checks a plan.
    ///
    /// # Errors
    /// As for [`Bracket::new`]; an `inner` that is not at least `run_in` plus a step inside of `clear`; a pace or a
    /// readable range that cannot be.
    pub fn new(plan: StopSearchPlan) -> Result<Self, BringUpError> {
        let bracket = Bracket::new(plan.bracket)?;
        BringUpError::finite("inner", plan.inner)?;
        BringUpError::positive("run_in", plan.run_in)?;
        BringUpError::positive("resolution", plan.resolution)?;
        BringUpError::rising("readable", plan.readable)?;
        plan.pace.check()?;
        let room = (plan.bracket.clear - plan.inner) * plan.bracket.toward.sign();
        BringUpError::within(
            "way from inner to clear",
            room,
            plan.run_in + plan.bracket.step,
            crate::bring_up::MOST,
        )?;
        Ok(Self {
            plan,
            bracket,
            trail: Trail::default(),
            visit: Visit::passing(plan.inner, plan.pace),
            purpose: Purpose::RunIn,
            learned: 0,
            ranges: 0.0,
            load: None,
            again: false,
            end: None,
        })
    }

    /// What holds after every report.
    #[cfg(feature = "serde")]
    pub(super) fn check(&self) -> Result<(), BringUpError> {
        Self::new(self.plan)?;
        self.bracket.check()?;
        if *self.bracket.plan() != self.plan.bracket {
            return Err(BringUpError::OutOfPlace {
                what: "plan of bracket",
            });
        }
        BringUpError::within("learned", self.learned.into(), 0.0, Self::LEARN.into())?;
        // Between its lowest and its highest reading each place learned from ranges over this at the most.
        let widest = 2.0 * crate::bring_up::MOST;
        BringUpError::within("ranges", self.ranges, 0.0, widest * f64::from(self.learned))?;
        self.load.map_or(Ok(0.0), |load| BringUpError::finite("load", load))?;
        self.check_trail()?;
        if let Some(end) = self.end {
            return end.check(&self.bracket);
        }
        let sign = self.plan.bracket.toward.sign();
        let learning = matches!(self.purpose, Purpose::RunIn | Purpose::Learn);
        BringUpError::there("end of learning", self.learned == Self::LEARN, !learning)?;
        let meant = match self.purpose {
            Purpose::RunIn => Visit::passing(self.plan.inner, self.plan.pace),
            Purpose::Learn => self.learning_visit(),
            Purpose::BackOff => Visit::passing(self.bracket.clear() - sign * self.plan.run_in, self.plan.pace),
            Purpose::Probe => match self.bracket.probe() {
                Some(probe) => Visit::new(probe, self.plan.pace),
                None => return BringUpError::there("probe after the last one", true, false),
            },
        };
        self.visit.check(&meant)
    }

    /// Where the drive was brought, once it was.
    #[cfg(all(feature = "serde", feature = "std"))]
    pub(super) fn arrived(&self) -> Option<f64> {
        self.visit.arrived()
    }

    /// The trail ends at what is clear, and rises outward to it.
    #[cfg(feature = "serde")]
    fn check_trail(&self) -> Result<(), BringUpError> {
        let least = usize::from(self.learned).min(Trail::LONGEST);
        BringUpError::within(
            "count of trail",
            self.trail.count as f64,
            least as f64,
            Trail::LONGEST as f64,
        )?;
        if self.learned < Self::LEARN {
            BringUpError::same("count of trail", self.trail.count as f64, self.learned.into())?;
        }
        let [low, high] = self.plan.readable;
        let sign = self.plan.bracket.toward.sign();
        let mut before = self.plan.inner;
        for &[drive, reading] in self.trail.iter() {
            BringUpError::finite("drive of trail", drive)?;
            BringUpError::positive("way between places of the trail", (drive - before) * sign)?;
            BringUpError::within("reading of trail", reading, low, high)?;
            before = drive;
        }
        if self.learned == Self::LEARN {
            let off = (before - self.bracket.clear()).abs();
            BringUpError::within(
                "way from the trail to what is clear",
                off,
                0.0,
                2.0 * Report::MOST_ROUNDING,
            )?;
        }
        Ok(())
    }

    /// What to do next; [`Action::Done`] at the end.
    pub fn next(&self) -> Action {
        if self.end.is_some() {
            Action::Done
        } else {
            self.visit.next()
        }
    }

    /// How it ended, when it has.
    pub fn end(&self) -> Option<SearchEnd> {
        self.end
    }

    /// The bare search within.
    pub fn bracket(&self) -> &Bracket {
        &self.bracket
    }

    /// Ends the search here and now.
    pub fn stop(&mut self) {
        if self.end.is_none() {
            self.bracket.stop();
            self.end = Some(SearchEnd::Stopped {
                clear: self.bracket.clear(),
            });
        }
    }

    /// The drive angle whose reading is about to be taken.
    pub fn drive(&self) -> f64 {
        self.visit.drive()
    }

    /// Takes the report of what [`StopSearch::next`] asked.
    ///
    /// # Errors
    /// A report that does not belong to the action, a reading that is not finite; nothing changes then.
    pub fn report(&mut self, report: Report) -> Result<(), BringUpError> {
        if self.end.is_some() {
            return Err(BringUpError::Done);
        }
        let Some(seen) = self.visit.report(report)? else {
            return Ok(());
        };
        match self.purpose {
            Purpose::RunIn => self.learn_next(),
            Purpose::BackOff => self.probe_next(),
            Purpose::Learn | Purpose::Probe => {
                let [low, high] = self.plan.readable;
                if seen.range > ERRATIC_PART * (high - low) {
                    self.end = Some(SearchEnd::Erratic {
                        drive: seen.drive,
                        range: seen.range,
                    });
                } else if !self.readable(seen.reading) {
                    self.end = Some(SearchEnd::SensorRunsOut {
                        drive: seen.drive,
                        reading: seen.reading,
                    });
                } else if self.purpose == Purpose::Learn {
                    self.learn(seen);
                } else {
                    self.judge(seen)?;
                }
            }
        }
        Ok(())
    }

    fn readable(&self, reading: f64) -> bool {
        let [low, high] = self.plan.readable;
        low <= reading && reading <= high
    }

    fn learn_next(&mut self) {
        self.visit = self.learning_visit();
        self.purpose = Purpose::Learn;
    }

    fn learning_visit(&self) -> Visit {
        let sign = self.plan.bracket.toward.sign();
        let first = self.plan.inner + sign * self.plan.run_in;
        let way = (self.plan.bracket.clear - first) * f64::from(self.learned) / f64::from(Self::LEARN - 1);
        let reads = self.plan.pace.reads.max(Self::LEARN_READS);
        Visit::new(
            first + way,
            Pace {
                reads,
                ..self.plan.pace
            },
        )
    }

    fn learn(&mut self, seen: Seen) {
        self.trail.push(seen.drive, seen.reading);
        self.ranges += seen.range;
        self.learned += 1;
        if self.learned < Self::LEARN {
            return self.learn_next();
        }
        let (_, slope) = self.trail.line_at(seen.drive);
        let way = self.plan.bracket.clear - self.plan.inner - self.plan.run_in * self.plan.bracket.toward.sign();
        // A joint that does not move at least ten uncertainties over the whole stretch does not follow.
        if (slope * way).abs() < 10.0 * self.u_reading() {
            self.end = Some(SearchEnd::NotFollowed {
                drive: seen.drive,
                by: slope * way,
            });
            return;
        }
        let u = self.u_reading() / slope.abs();
        let step = Self::SHORT_U * u / Self::SHORT_PART;
        if step > self.plan.bracket.step {
            self.end = Some(SearchEnd::TooNoisy { u, step });
        } else {
            self.probe_next();
        }
    }

    /// Standard uncertainty of the median of as many readings as each probe takes, in readings.
    pub(super) fn u_reading(&self) -> f64 {
        // What one reading scatters comes from the ranges of the places learned from, and what is left of it in the median from
        // the number of readings of a probe. One step of the reading adds its 1/sqrt(12) (JCGM 100, F.2.2.1).
        let learned = self.plan.pace.reads.max(Self::LEARN_READS);
        let scatter = self.mean_range() / reads::mean_range_of(learned);
        scatter * reads::sd_of_median(self.plan.pace.reads) + 0.289 * self.plan.resolution
    }

    /// Highest less lowest reading at one place, mean of the places learned from.
    pub(super) fn mean_range(&self) -> f64 {
        self.ranges / f64::from(Self::LEARN)
    }

    /// The place last found clear, and its reading.
    #[cfg(feature = "std")]
    pub(super) fn last_clear(&self) -> Option<[f64; 2]> {
        self.trail.iter().last().copied()
    }

    fn judge(&mut self, seen: Seen) -> Result<(), BringUpError> {
        let sign = self.plan.bracket.toward.sign();
        let (expected, slope) = self.trail.line_at(seen.drive);
        let short = sign * (expected - seen.reading) / slope;
        let way = (seen.drive - self.bracket.clear()).abs();
        let unsure = Self::SHORT_U * self.u_reading() / slope.abs();
        if unsure > 0.8 * way && self.bracket.contact().is_some() {
            self.finish();
            return Ok(());
        }
        // Not finite only if the slope is lost; then nothing can be called clear.
        let clear = short <= (Self::SHORT_PART * way).max(unsure);
        if clear {
            self.again = false;
            self.bracket.report(Found::Clear)?;
            self.trail.push(seen.drive, seen.reading);
            self.probe_next();
        } else {
            if self.again {
                self.bracket.report(Found::Contact)?;
            }
            self.again = !self.again;
            if let Some(load) = seen.load {
                self.load = Some(self.load.map_or(load, |l| l.max(load)));
            }
            self.visit = Visit::passing(self.bracket.clear() - sign * self.plan.run_in, self.plan.pace);
            self.purpose = Purpose::BackOff;
        }
        Ok(())
    }

    fn probe_next(&mut self) {
        match self.bracket.probe() {
            Some(probe) => {
                let (expected, _) = self.trail.line_at(probe);
                if self.readable(expected) {
                    self.visit = Visit::new(probe, self.plan.pace);
                    self.purpose = Purpose::Probe;
                } else {
                    // Not even tried: a loop closed over this sensor would run on to the stop.
                    self.end = Some(SearchEnd::SensorRunsOut {
                        drive: probe,
                        reading: expected,
                    });
                }
            }
            None => self.finish(),
        }
    }

    fn finish(&mut self) {
        let clear = self.bracket.clear();
        self.end = Some(match self.bracket.contact() {
            Some(contact) => SearchEnd::Contact {
                clear,
                contact,
                load: self.load,
            },
            None => SearchEnd::SearchLimit { clear },
        });
    }
}

/// The plan and the direction of the search.
impl StopSearch {
    /// The plan.
    pub fn plan(&self) -> &StopSearchPlan {
        &self.plan
    }

    /// Which stop is searched.
    pub fn toward(&self) -> Side {
        self.plan.bracket.toward
    }
}
