//! What holds of a bring-up after every report: a saved one that says otherwise is refused.

use super::{Session, Stage};
use crate::bring_up::action::{Doubt, Report};
use crate::bring_up::error::BringUpError;
use crate::bring_up::outcome::Outcome;
use crate::bring_up::search::SearchEnd;
use crate::bring_up::sense::SenseResult;
use crate::span::Side;
use serde::{Deserialize, Deserializer};

impl serde::Serialize for Session {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        Self::serialize(self, to)
    }
}

/// With as much room for readings as a new one has.
impl<'de> Deserialize<'de> for Session {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let mut read = Self::deserialize(from)?;
        read.check().map_err(serde::de::Error::custom)?;
        read.make_room();
        Ok(read)
    }
}

/// Refuses a saved part that is not the one that the plan makes.
fn as_planned<T: PartialEq>(what: &'static str, found: &T, meant: &T) -> Result<(), BringUpError> {
    BringUpError::there(what, found == meant, true)
}

fn numbers(what: &'static str, given: impl IntoIterator<Item = f64>) -> Result<(), BringUpError> {
    given
        .into_iter()
        .try_for_each(|number| BringUpError::finite(what, number).map(drop))
}

fn sense(result: SenseResult) -> Result<(), BringUpError> {
    numbers("number of sense", [result.slope, result.widest_range])?;
    numbers("null of sense", result.null)?;
    numbers("dead_band of sense", result.dead_band.into_iter().flatten())
}

fn outcome(found: &Outcome) -> Result<(), BringUpError> {
    numbers("guard of outcome", [found.guard])?;
    for end in [found.lower, found.upper].into_iter().flatten() {
        numbers("number of outcome", [end.at, end.travel])?;
        numbers("standard uncertainty of outcome", end.u)?;
        numbers("interval of outcome", end.interval.into_iter().flatten())?;
    }
    found.complete()
}

impl Session {
    /// The outermost angle that may have been asked for so far, plus one step, within the search limits.
    fn reach(&self) -> [f64; 2] {
        let ([lower, upper], [least, most]) = (self.clear(), self.plan.search_limits);
        // Roundings of the sums of steps.
        let step = self.plan.step * (1.0 + 1e-9) + 1e-9;
        [(lower - step).max(least), (upper + step).min(most)]
    }

    pub(in crate::bring_up) fn check(&self) -> Result<(), BringUpError> {
        self.plan.check()?;
        self.sense.map_or(Ok(()), sense)?;
        BringUpError::within(
            "sense_tests",
            self.sense_tests.into(),
            0.0,
            Self::MOST_SENSE_TESTS.into(),
        )?;
        numbers("sense_began", self.sense_began)?;
        self.alignment.map_or(Ok(()), |end| end.check())?;
        numbers("first", self.first)?;
        numbers("ahead", self.ahead)?;
        self.check_map()?;
        numbers("least_behind", [self.leg.least_behind])?;
        numbers("play", self.leg.play)?;
        numbers("speed", self.speed)?;
        numbers("changed_by", self.changed_by)?;
        BringUpError::within("astrays", self.astrays.into(), 0.0, Self::MOST_ASTRAYS.into())?;
        BringUpError::within("alarms", self.alarms.into(), 0.0, Self::MOST_ALARMS.into())?;
        for toward in [Side::Lower, Side::Upper] {
            self.check_end(toward)?;
        }
        self.check_stage()?;
        let [lower, upper] = self.reach();
        // Before a stop moved inward, readings were taken where it had been.
        let [least, most] = match self.changed_by {
            Some(_) => self.plan.search_limits,
            None => [lower, upper],
        };
        for reading in &self.readings {
            let [low, high] = [least - Report::MOST_ROUNDING, most + Report::MOST_ROUNDING];
            BringUpError::within("drive of reading", reading.place.drive, low, high)?;
            numbers("reading", [reading.reading])?;
            BringUpError::within("range of reading", reading.range, 0.0, crate::bring_up::MOST)?;
        }
        self.hop.map_or(Ok(()), |hop| hop.check([lower, upper]))?;
        self.check_last_drive([lower, upper])
    }

    /// The places of the searches lie outward of each other, within the search limits.
    fn check_map(&self) -> Result<(), BringUpError> {
        BringUpError::within("u_reading", self.map.u_reading, 0.0, f64::MAX)?;
        let [least, most] = self.plan.search_limits;
        for (side, sign) in [(&self.map.lower, -1.0), (&self.map.upper, 1.0)] {
            let mut before = None;
            for &[drive, reading] in side {
                let [low, high] = [least - Report::MOST_ROUNDING, most + Report::MOST_ROUNDING];
                BringUpError::within("drive of map", drive, low, high)?;
                numbers("reading of map", [reading])?;
                let way = before.map_or(1.0, |before| (drive - before) * sign);
                BringUpError::positive("way between places of the map", way)?;
                before = Some(drive);
            }
        }
        Ok(())
    }

    /// The drive was last sent where the visit that is going on says, if it says, and within what may be asked for.
    fn check_last_drive(&self, [lower, upper]: [f64; 2]) -> Result<(), BringUpError> {
        let arrived = match &self.stage {
            _ if self.hop.is_some() => self.hop.and_then(|hop| hop.arrived()),
            Stage::First { visit, .. } | Stage::Relief { visit, .. } | Stage::Recheck { visit, .. } => visit.arrived(),
            Stage::Speed(test) => test.last_move(),
            Stage::Search(search) => search.arrived(),
            Stage::Sweep { sweep, .. } | Stage::Walk { sweep, .. } => sweep.arrived(),
            _ => None,
        };
        let Some(drive) = self.last_drive else {
            BringUpError::there("visit without last_drive", arrived.is_some(), false)?;
            return BringUpError::there("returning without last_drive", self.returning, false);
        };
        if self.outcome().is_some() {
            BringUpError::there("returning after the end", self.returning, false)?;
            return BringUpError::finite("last_drive", drive).map(drop);
        }
        BringUpError::within("last_drive", drive, lower, upper)?;
        BringUpError::same("last_drive", drive, arrived.unwrap_or(drive))
    }

    /// A search that is over ended between the start and its search limit, within a step of its contact.
    fn check_end(&self, toward: Side) -> Result<(), BringUpError> {
        let Some(end) = self.end_of(toward) else {
            return Ok(());
        };
        let plan = self.plan.search(toward).bracket;
        let sign = toward.sign();
        let outward = |from: f64, to: f64| (to - from) * sign;
        let most = outward(plan.clear, plan.search_limit);
        match end {
            SearchEnd::Contact { clear, contact, load } => {
                numbers("end of search", [clear, contact])?;
                BringUpError::within("way to clear of search", outward(plan.clear, clear), 0.0, most)?;
                BringUpError::within("way to contact of search", outward(plan.clear, contact), 0.0, most)?;
                let way = outward(clear, contact);
                BringUpError::positive("way from clear to contact", way)?;
                BringUpError::within("way from clear to contact", way, 0.0, plan.step * (1.0 + 1e-9))?;
                numbers("load of search", load)
            }
            SearchEnd::SearchLimit { clear } => BringUpError::same("clear of search", clear, plan.search_limit),
            SearchEnd::Stopped { clear } => {
                BringUpError::within("way to clear of search", outward(plan.clear, clear), 0.0, most).map(drop)
            }
            SearchEnd::SensorRunsOut { drive: a, reading: b }
            | SearchEnd::Erratic { drive: a, range: b }
            | SearchEnd::NotFollowed { drive: a, by: b }
            | SearchEnd::TooNoisy { u: a, step: b } => numbers("end of search", [a, b]),
        }
    }

    /// The steps before this one are done, the steps after it are not begun, and what it asks is what the plan makes of it.
    fn check_stage(&self) -> Result<(), BringUpError> {
        let [lower, upper] = self.ends;
        let searched = |low: bool, high: bool| {
            BringUpError::there("end of the lower search", lower.is_some(), low)?;
            BringUpError::there("end of the upper search", upper.is_some(), high)
        };
        let sensed = || BringUpError::there("sense", self.sense.is_some(), true);
        let doubted = |doubt: Option<Doubt>| doubt.map_or(Ok(()), Doubt::check);
        match &self.stage {
            Stage::Ready | Stage::Detach => searched(false, false),
            Stage::Sense(test) => {
                as_planned("plan of the sense test", test.plan(), &self.plan.sense)?;
                BringUpError::there("result of the sense test", test.result().is_some(), false)?;
                searched(false, false)
            }
            Stage::TurnBack { degrees, .. } => {
                BringUpError::positive("degrees to turn back", *degrees)?;
                searched(false, false)
            }
            Stage::Alignment(alignment) => {
                as_planned("plan of the alignment", &Some(*alignment.plan()), &self.plan.alignment)?;
                BringUpError::there("end of the alignment", alignment.end().is_some(), false)?;
                sensed()?;
                searched(false, false)
            }
            Stage::Attach { doubt } => {
                doubted(*doubt)?;
                sensed()?;
                searched(false, false)
            }
            Stage::First { leg, visit } => {
                BringUpError::within("leg of the first move", (*leg).into(), 0.0, 2.0)?;
                visit.check(&self.first_visit(*leg))?;
                sensed()?;
                searched(false, false)
            }
            Stage::WhatMoved { by, doubt } => {
                numbers("by of what moved", [*by])?;
                doubted(*doubt)?;
                sensed()
            }
            Stage::Speed(test) => {
                as_planned("plan of the speed test", &Some(*test.plan()), &self.speed_plan())?;
                test.check()?;
                sensed()?;
                searched(true, true)
            }
            Stage::Search(search) => {
                let toward = search.toward();
                as_planned("plan of the search", search.plan(), &self.plan.search(toward))?;
                BringUpError::there("end of the search that is going on", search.end().is_some(), false)?;
                sensed()?;
                match self.again {
                    Some(again) => {
                        BringUpError::there("end that is searched again", again == toward, true)?;
                        searched(true, true)
                    }
                    None => searched(toward == Side::Upper, false),
                }
            }
            Stage::WhatIsMet { toward, doubt } => {
                doubted(*doubt)?;
                BringUpError::there("contact of the search", self.contact(*toward).is_some(), true)?;
                sensed()?;
                searched(true, *toward == Side::Upper || self.changed_by.is_some())
            }
            Stage::Relief { astray, visit } => {
                astray.check()?;
                visit.check(&self.relief(*astray))?;
                sensed()?;
                searched(true, true)
            }
            Stage::Held { astray, doubt } => {
                astray.check()?;
                doubted(*doubt)?;
                sensed()?;
                searched(true, true)
            }
            Stage::Recheck { leg, low, visit } => {
                BringUpError::within("leg of the first move made again", (*leg).into(), 0.0, 2.0)?;
                numbers("low of the first move made again", [*low])?;
                visit.check(&self.recheck_visit(*leg))?;
                sensed()?;
                searched(true, true)
            }
            Stage::Walk { outcome: found, sweep } => {
                outcome(found)?;
                as_planned("plan of the walk", &Some(*sweep.plan()), &self.walk_plan(found))?;
                BringUpError::there(
                    "end of the walk that is going on",
                    sweep.done() == sweep.plan().places(),
                    false,
                )?;
                sensed()?;
                searched(true, true)
            }
            Stage::Sweep { number, sweep } => {
                BringUpError::within("number of sweep", (*number).into(), 0.0, 3.0)?;
                searched(true, true)?;
                let meant = self.sweep_plan(*number);
                as_planned("plan of the sweep", &Some(*sweep.plan()), &meant)?;
                BringUpError::there(
                    "end of the sweep that is going on",
                    sweep.done() == sweep.plan().places(),
                    false,
                )?;
                sensed()
            }
            Stage::Done(found) => outcome(found),
        }
    }
}
