//! What has changed while the bring-up was going on: a stop that moved, something that got into the way, a drive that was
//! lost, a sensor that slipped.
//!
//! A sweep whose reading is astray stops there and backs off. What the person sees decides where to look: a stop is searched
//! again, and whatever differs from the first search is a fault; where nothing holds the joint, both places of the first move
//! are read once more. What turns out to have been a false alarm costs the sweeps, which are made again, and at most two are allowed.

use super::follow::Astray;
use super::{Session, Stage};
use crate::bring_up::action::Doubt;
use crate::bring_up::answer::Answer;
use crate::bring_up::diagnosis::{BLOCKED, Fault};
use crate::bring_up::error::BringUpError;
use crate::bring_up::outcome::{Disagreement, Outcome, Verdict};
use crate::bring_up::search::{SearchEnd, StopSearch};
use crate::bring_up::sweep::{Legs, Sweep, SweepPlan};
use crate::bring_up::visit::{Seen, Visit};
use crate::span::Side;

impl Session {
    /// False alarms after which the readings make no joint.
    pub(super) const MOST_ALARMS: u8 = 2;
    /// Readings astray after which they make no joint, whatever the person says.
    pub(super) const MOST_ASTRAYS: u8 = 6;
    /// Part of what the reading changed in the first move that it must change when that is made again.
    const FOLLOWED_PART: f64 = 0.4;

    /// Takes a reading of a sweep that does not belong where it was read.
    pub(super) fn astray(&mut self, found: Astray) -> Result<(), BringUpError> {
        if self.astrays >= Self::MOST_ASTRAYS {
            self.refuse(Fault::Unclear, Some(found.drive), Some(found.by));
            return Ok(());
        }
        self.astrays += 1;
        // What was to be searched again is asked for anew.
        self.again = None;
        if !found.ahead {
            let visit = self.relief(found);
            self.stage = Stage::Relief { astray: found, visit };
            return Ok(());
        }
        let [lower, upper] = self.cleared();
        if found.drive < lower || found.drive > upper {
            // Further out than there was a stop.
            return self.search_again(found.toward);
        }
        self.recheck();
        Ok(())
    }

    /// Back by a run-in from where something holds the joint.
    pub(super) fn relief(&self, found: Astray) -> Visit {
        let [lower, upper] = self.cleared();
        let back = found.drive - found.toward.sign() * self.plan.run_in;
        Visit::passing(back.max(lower).min(upper), self.plan.pace)
    }

    pub(super) fn relieved(&mut self, astray: Astray) {
        self.votes = super::Votes::default();
        self.stage = Stage::Held { astray, doubt: None };
    }

    /// Whether a place lies where its stop was met.
    fn near_contact(&self, astray: Astray) -> Option<f64> {
        let contact = self.contact(astray.toward)?;
        Some((contact - astray.drive) * astray.toward.sign())
    }

    pub(super) fn weigh_held(&mut self, astray: Astray, answer: Answer) -> Result<(), BringUpError> {
        let before = self.near_contact(astray);
        let doubt = match (answer, before) {
            (Answer::Stop, Some(by)) if by > BLOCKED => Some(Doubt::BeforeTheStop { by }),
            (Answer::Stop, _) => None,
            (Answer::Nothing, _) => Some(Doubt::StaysBehind { by: astray.by }),
            _ => Some(Doubt::Grave),
        };
        let decided = match (doubt, self.votes.take(answer)) {
            (None, _) => answer,
            (Some(_), Some(decided)) => decided,
            (Some(doubt), None) => {
                let doubt = Some(doubt);
                self.stage = Stage::Held { astray, doubt };
                return Ok(());
            }
        };
        match (decided, before) {
            (Answer::Stop, Some(by)) if by > BLOCKED => {
                self.refuse(Fault::RangeBlocked, Some(astray.drive), Some(by));
                Ok(())
            }
            (Answer::Stop, _) => self.search_again(astray.toward),
            (Answer::Obstacle, _) => {
                self.refuse(Fault::RangeBlocked, Some(astray.drive), before);
                Ok(())
            }
            (Answer::DriveOnly, _) => {
                self.refuse(Fault::GearStripped, Some(astray.drive), Some(astray.by));
                Ok(())
            }
            _ => {
                self.recheck();
                Ok(())
            }
        }
    }

    /// Searches an end once more, or for the first time if it was not reached.
    pub(super) fn search_again(&mut self, toward: Side) -> Result<(), BringUpError> {
        if self.end_of(toward).is_some() {
            self.again = Some(toward);
        } else {
            self.map.side_mut(toward).clear();
        }
        self.stage = Stage::Search(StopSearch::new(self.plan.search(toward))?);
        Ok(())
    }

    /// How far the end that was just searched again lies from where it was found first, deg, outward positive, and by how much
    /// the sensor reads otherwise there, deg; nothing where the first search found no end.
    fn moved(&self, toward: Side, end: SearchEnd, last: Option<[f64; 2]>) -> Option<(f64, f64)> {
        let place = |end: SearchEnd| match end {
            SearchEnd::Contact { clear, contact, .. } => Some((clear + contact) / 2.0),
            SearchEnd::SearchLimit { clear } => Some(clear),
            _ => None,
        };
        let by = (place(end)? - place(self.end_of(toward)?)?) * toward.sign();
        let shift = last.and_then(|[drive, reading]| {
            let (expected, per_deg) = self.map.expected(drive, self.plan.start)?;
            Some((reading - expected) / per_deg)
        });
        Some((by, shift.unwrap_or(0.0)))
    }

    /// Weighs an end that was searched again; its search goes on to be weighed as a first one where it ended otherwise.
    pub(super) fn weigh_again(
        &mut self,
        toward: Side,
        search: &StopSearch,
        end: SearchEnd,
    ) -> Result<(), BringUpError> {
        let moved = self.moved(toward, end, search.last_clear());
        self.again = None;
        let Some((by, shift)) = moved else {
            return self.weigh_search(toward, end);
        };
        let slack = self.slack_at(self.plan.start);
        if by.abs() <= slack + self.plan.tolerance {
            if shift.abs() > slack {
                self.refuse(Fault::SensorShifted, None, Some(shift));
                return Ok(());
            }
            // The same stop: what either search proved clear stays so.
            let known = self.end_mut(toward);
            let outward = |end: &SearchEnd| end.clear().map(|clear| clear * toward.sign());
            if outward(&end) > known.as_ref().and_then(outward) {
                *known = Some(end);
            }
            return self.alarm();
        }
        *self.end_mut(toward) = Some(end);
        if matches!(end, SearchEnd::SearchLimit { .. }) {
            self.refuse(Fault::StopMoved, None, Some(by));
            return Ok(());
        }
        self.votes = super::Votes::default();
        self.changed_by = Some(by);
        self.stage = Stage::WhatIsMet { toward, doubt: None };
        Ok(())
    }

    /// What an end is that was met elsewhere than before in the same bring-up.
    pub(super) fn weigh_changed(&mut self, toward: Side, answer: Answer, by: f64) {
        let at = self.contact(toward);
        let doubt = match answer {
            Answer::Stop => None,
            Answer::Nothing => Some(Doubt::StaysBehind {
                by: self.plan.tolerance,
            }),
            _ => Some(Doubt::Grave),
        };
        let decided = match (doubt, self.votes.take(answer)) {
            (None, _) => answer,
            (Some(_), Some(decided)) => decided,
            (doubt, None) => {
                self.stage = Stage::WhatIsMet { toward, doubt };
                return;
            }
        };
        let fault = match decided {
            Answer::Obstacle => Fault::RangeBlocked,
            Answer::DriveOnly => Fault::GearStripped,
            _ if by < -BLOCKED => Fault::RangeBlocked,
            _ => Fault::StopMoved,
        };
        self.refuse(fault, at, Some(by));
    }

    pub(super) fn slack_at(&self, drive: f64) -> f64 {
        let per_deg = self
            .map
            .expected(drive, self.plan.start)
            .map_or(f64::MAX, |(_, per_deg)| per_deg);
        self.slack(per_deg)
    }

    /// Reads both places of the first move once more.
    pub(super) fn recheck(&mut self) {
        self.stage = Stage::Recheck {
            leg: 0,
            low: 0.0,
            visit: self.recheck_visit(0),
        };
    }

    /// Over the start to its lower side, then to its upper side, as in the first move.
    pub(super) fn recheck_visit(&self, leg: u8) -> Visit {
        let plan = &self.plan;
        match leg {
            0 => Visit::passing(plan.start, plan.pace),
            1 => Visit::new(plan.start - plan.clearance, plan.pace),
            _ => Visit::new(plan.start + plan.clearance, plan.pace),
        }
    }

    pub(super) fn rechecked(&mut self, leg: u8, low: f64, seen: Seen) -> Result<(), BringUpError> {
        if leg < 2 {
            let (leg, low) = (leg + 1, seen.reading);
            let visit = self.recheck_visit(leg);
            self.stage = Stage::Recheck { leg, low, visit };
            return Ok(());
        }
        let [first_low, first_high] = self.first;
        let (by, before) = (seen.reading - low, first_high - first_low);
        if by.abs() < Self::FOLLOWED_PART * before.abs() {
            self.votes = super::Votes::default();
            self.stage = Stage::WhatMoved { by, doubt: None };
            return Ok(());
        }
        let per_deg = before / (2.0 * self.plan.clearance);
        let shift = ((low - first_low) + (seen.reading - first_high)) / 2.0 / per_deg;
        if shift.abs() > self.slack(per_deg) {
            self.refuse(Fault::SensorShifted, None, Some(shift));
            return Ok(());
        }
        self.alarm()
    }

    /// Nothing was found to have changed: all sweeps once more, or the upper search, unless that was done before.
    fn alarm(&mut self) -> Result<(), BringUpError> {
        if self.alarms >= Self::MOST_ALARMS {
            self.refuse(Fault::Unclear, None, None);
            return Ok(());
        }
        self.alarms += 1;
        self.again = None;
        if self.end_of(Side::Upper).is_none() {
            return self.search_again(Side::Upper);
        }
        self.readings.clear();
        self.leg = super::Leg::default();
        self.sweep_next(0)
    }

    /// After the sweeps: what they and the searches agree upon, walked once more before it is handed over.
    pub(super) fn weigh_sweeps(&mut self) -> Result<(), BringUpError> {
        let (outcome, disagreement) = self.concluded();
        match disagreement {
            Some(Disagreement::End(toward)) => self.search_again(toward),
            Some(Disagreement::Readings) => {
                self.recheck();
                Ok(())
            }
            Some(Disagreement::GivesWay { at }) => {
                self.refuse(Fault::GivesWay, Some(at), None);
                Ok(())
            }
            None => {
                self.stage = match self.walk_plan(&outcome).map(Sweep::new) {
                    Some(walk) => Stage::Walk { outcome, sweep: walk? },
                    None => Stage::Done(outcome),
                };
                Ok(())
            }
        }
    }

    /// Down over all that was found clear, a guard further than what is to be handed over, in places a step apart at the
    /// most; none where the joint is not ready.
    pub(super) fn walk_plan(&self, outcome: &Outcome) -> Option<SweepPlan> {
        outcome.travel()?;
        let [lower, upper] = self.cleared();
        Some(SweepPlan {
            ends: [lower, upper],
            targets: ((upper - lower) / self.plan.step).min(9_998.0) as u16 + 2,
            runs: 1,
            legs: Legs::Down,
            run_in: [0.0, 0.0],
            pace: self.plan.pace,
        })
    }

    fn concluded(&self) -> (Outcome, Option<Disagreement>) {
        let (mut outcome, disagreement) = self.conclusion(Verdict::Ready);
        self.compare_with_baseline(&mut outcome);
        (outcome, disagreement)
    }
}
