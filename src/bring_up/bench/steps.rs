//! What comes before the search: ready, sense test, stops felt by hand, first line.

use super::run::{Flow, Halt, Run};
use crate::bring_up::{Answer, Doubt, Fault, LoopSense, Question, SenseReason, SenseResult, Side, Verdict, Watch};
use std::vec::Vec;

/// Two readings are apart for certain from so many standard deviations on.
const APART: f64 = 4.0;
/// The same for a rise over two places, whose scatter is that of a difference.
const RISE: f64 = 6.0;

impl Run<'_> {
    pub(super) fn ready(&mut self) -> Flow<()> {
        self.stage = "ready";
        match self.ask(Question::Ready, None)? {
            Answer::Done => Ok(()),
            _ => Err(Halt::End(Verdict::Declined)),
        }
    }

    /// All that is done with the drive detached.
    pub(super) fn detached(&mut self) -> Flow<()> {
        let tests = self.plan.watch == Watch::SensorAndDrive;
        if !tests {
            self.sense = Some(unwatched());
        }
        if !tests && !self.plan.feel_stops {
            return Ok(());
        }
        self.stage = "sense test";
        self.ask(Question::DetachDrive, None)?;
        if tests {
            self.test_sense()?;
        }
        if self.plan.feel_stops {
            self.stage = "stops by hand";
            self.feel()?;
        }
        self.stage = "first move";
        self.ask(Question::AttachDrive, None)?;
        Ok(())
    }

    /// Two turns of the hand; two more unless both show that the loop opposes.
    ///
    /// Readings are taken only where the stops are not felt by hand afterwards, which shows the same: whether the sensor follows. Where
    /// they are taken, they tell which way the hand went.
    fn test_sense(&mut self) -> Flow<()> {
        let reads = !self.plan.feel_stops;
        let degrees = self.plan.turn;
        let rest = if reads { self.read_by_hand(Side::Upper)? } else { 0.0 };
        let mut turns: Vec<Turn> = Vec::new();
        for (number, toward) in [Side::Upper, Side::Lower, Side::Upper, Side::Lower]
            .into_iter()
            .enumerate()
        {
            if number == 2 && votes(&turns, rest) == 2.0 {
                break;
            }
            let at_stop = self.ask(Question::TurnFromMark { toward, degrees }, None)? == Answer::AtStop;
            let reading = if reads {
                self.read_by_hand(toward)?
            } else {
                toward.sign()
            };
            let drive = match self.ask(Question::DriveResponse, None)? {
                Answer::Upper => Some(Side::Upper),
                Answer::Lower => Some(Side::Lower),
                _ => None,
            };
            turns.push(Turn {
                toward,
                reading,
                drive,
                at_stop,
            });
        }
        let opposing = votes(&turns, rest);
        let met_stop = turns.iter().any(|turn| turn.at_stop);
        // How far the hand came is not known where it met a stop.
        let slope = if reads && !met_stop {
            rise(&turns) / (2.0 * degrees)
        } else {
            0.0
        };
        let turned = |side| turns.iter().any(|turn| turn.drive == Some(side));
        let reason = match (turned(Side::Lower), turned(Side::Upper)) {
            (false, false) if met_stop => SenseReason::HandAtStop,
            (false, false) => SenseReason::DriveStill,
            (true, true) => SenseReason::DriveMixed,
            _ => SenseReason::DriveOneWay,
        };
        let (sense, reason) = match opposing {
            2.0.. => (LoopSense::Opposing, None),
            // It would end the bring-up: no more than one turn may leave it open.
            ..=-3.0 => (LoopSense::Aiding, None),
            _ => (LoopSense::Undetermined, Some(reason)),
        };
        self.sense = Some(SenseResult {
            sense,
            reason,
            slope,
            null: None,
            dead_band: None,
            widest_range: 0.0,
        });
        let most = turns.iter().map(|turn| (turn.reading - rest).abs()).fold(0.0, f64::max);
        if reads && !met_stop && most < APART * self.plan.u_reading {
            return self.refuse(Fault::WiperOpen, None, Some(most));
        }
        match (sense, reason) {
            (LoopSense::Opposing, _) => Ok(()),
            (LoopSense::Aiding, _) => self.refuse(Fault::WiresSwapped, None, None),
            (_, Some(SenseReason::DriveStill)) => self.refuse(Fault::DriveSilent, None, None),
            _ => self.refuse(Fault::Unclear, None, None),
        }
    }

    fn read_by_hand(&mut self, toward: Side) -> Flow<f64> {
        let value = self.read(None, None, false)?;
        self.write(None, toward, value);
        Ok(value)
    }

    /// Both stops by hand, twice in turn; where two readings differ, until two agree.
    fn feel(&mut self) -> Flow<()> {
        const MOST_HELD: usize = 5;
        let mut found: [Vec<f64>; 2] = [Vec::new(), Vec::new()];
        let mut open = [true; 2];
        for _ in 0..2 {
            for ((side, values), open) in [Side::Upper, Side::Lower].into_iter().zip(&mut found).zip(&mut open) {
                if *open {
                    *open = self.hold(side, values)?;
                }
            }
        }
        for (side, values) in [Side::Upper, Side::Lower].into_iter().zip(&mut found) {
            while let [.., _, _] = values.as_slice()
                && nearest(values).is_none_or(|[a, b]| !self.agree(a, b))
            {
                if values.len() >= MOST_HELD {
                    return self.refuse(Fault::WiperNoisy, None, None);
                }
                self.hold(side, values)?;
            }
            if let Some(pair) = nearest(values).filter(|_| values.len() > 2) {
                *values = pair.to_vec();
            }
            self.keep(f64::INFINITY * side.sign(), side, values);
        }
        let [upper, lower] = &found;
        if let (Some(a), Some(b)) = (upper.first(), lower.first())
            && (a - b).abs() < APART * self.plan.u_reading
        {
            return self.refuse(Fault::WiperOpen, None, Some((a - b).abs()));
        }
        Ok(())
    }

    /// One stop held by hand and read; says whether there is one to feel.
    fn hold(&mut self, toward: Side, values: &mut Vec<f64>) -> Flow<bool> {
        if self.ask(Question::HoldAtStop { toward }, None)? != Answer::Done {
            return Ok(false);
        }
        values.push(self.read_by_hand(toward)?);
        Ok(true)
    }

    /// Two places down and two up, as far out as the bound allows: the first slope decides the steps that follow.
    ///
    /// Both directions must rise alike; else all four are read again. Where they do so again, one of the outermost may lie on a stop,
    /// and it is kept off the other side's line until its stop is known.
    pub(super) fn learn(&mut self) -> Flow<()> {
        self.stage = "first move";
        let (run_in, sd) = (self.plan.run_in, self.plan.u_reading);
        let [low, high] = self.plan.first_moves();
        let mut places = [
            ((high - run_in).max(low + 1.0), Side::Lower),
            (low, Side::Lower),
            ((low + run_in).min(high - 1.0), Side::Upper),
            (high, Side::Upper),
        ];
        let asked = places;
        let differ = |[a, b, c, d]: [f64; 4]| (a - b, d - c);
        let mut rounds: Vec<[f64; 4]> = Vec::new();
        let mut odd = false;
        for _ in 0..3 {
            self.move_to(high)?;
            let mut values = [0.0; 4];
            for (((x, toward), place), value) in asked.into_iter().zip(&mut places).zip(&mut values) {
                self.move_to(x)?;
                *value = self.read(Some((x, toward)), None, true)?;
                place.0 = self.stands;
                self.write(Some(self.stands), toward, *value);
            }
            rounds.push(values);
            let (d, u) = differ(self.mean_of_last(&rounds));
            odd = (d - u).abs() > RISE * sd || d * u <= 0.0;
            let settled = match rounds.as_slice() {
                [_] => {
                    let (d, u) = differ(values);
                    (d - u).abs() <= RISE * sd && d * u > 0.0
                }
                [a, b] => a.iter().zip(b).all(|(a, b)| self.agree(*a, *b)),
                _ => true,
            };
            if settled {
                break;
            }
        }
        self.suspect = odd;
        for (index, (x, toward)) in places.into_iter().enumerate() {
            let column: Vec<f64> = rounds.iter().filter_map(|round| round.get(index)).copied().collect();
            let middle = median(&column);
            let near: Vec<f64> = column.iter().copied().filter(|y| self.agree(*y, middle)).collect();
            // Of two that differ neither is believed.
            if column.len() != 2 || near.len() == 2 {
                self.keep(x, toward, &near);
            }
            let level = self.rows.iter().find(|row| row.is_held() && row.toward == toward);
            if [1, 3].contains(&index) && level.is_some_and(|row| (row.y - middle).abs() < APART * sd) {
                self.suspect = true;
            }
        }
        let both = Side::ALL.iter().all(|&side| self.last(side).is_some());
        let (d, u) = differ(self.mean_of_last(&rounds));
        if d.abs().max(u.abs()) < APART * sd {
            return self.what_moved([low, high], d.abs().max(u.abs()));
        }
        if both {
            Ok(())
        } else {
            self.refuse(Fault::Unclear, None, None)
        }
    }

    /// The mean of the last two rounds, or the only one.
    fn mean_of_last(&self, rounds: &[[f64; 4]]) -> [f64; 4] {
        let last = rounds.get(rounds.len().saturating_sub(2)..).unwrap_or(rounds);
        let mut mean = [0.0; 4];
        for round in last {
            for (sum, value) in mean.iter_mut().zip(round) {
                *sum += value / last.len() as f64;
            }
        }
        mean
    }

    /// The reading stayed: what did move? An answer that the readings contradict is asked once more.
    fn what_moved(&mut self, [from, to]: [f64; 2], by: f64) -> Flow<()> {
        let question = Question::WhatMoved { from, to };
        let mut answer = self.ask(question, None)?;
        if answer == Answer::Joint {
            answer = self.ask(question, Some(Doubt::ReadingStayed { by }))?;
        }
        let fault = match answer {
            Answer::Neighbour => Fault::ChannelSwapped,
            Answer::DriveOnly => Fault::GearStripped,
            Answer::Nothing => Fault::DriveSilent,
            _ => Fault::WiperOpen,
        };
        self.refuse(fault, None, Some(by))
    }
}

/// A servo that closes its loop by itself.
fn unwatched() -> SenseResult {
    SenseResult {
        sense: LoopSense::Undetermined,
        reason: Some(SenseReason::DriveNotWatched),
        slope: 0.0,
        null: None,
        dead_band: None,
        widest_range: 0.0,
    }
}

/// One turn of the hand.
struct Turn {
    /// Where it was asked to go.
    toward: Side,
    /// What was read there; without a scale, the sign of where it was asked to go.
    reading: f64,
    /// Where the drive turned.
    drive: Option<Side>,
    /// Whether a stop ended it early.
    at_stop: bool,
}

/// How much more is read on the upper side than on the lower: the middle of all pairs, so that one slip does not decide.
fn rise(turns: &[Turn]) -> f64 {
    let on = |side| turns.iter().filter(move |turn| turn.toward == side);
    let pairs: Vec<f64> = on(Side::Upper)
        .flat_map(|up| on(Side::Lower).map(move |down| up.reading - down.reading))
        .collect();
    median(&pairs)
}

/// Turns that show an opposing loop less those that show an aiding one. Where the hand went is seen from the reading: it lies on one side
/// of that at rest or on the other.
fn votes(turns: &[Turn], rest: f64) -> f64 {
    let read = |from: f64, of: fn(f64, f64) -> f64| turns.iter().map(|turn| turn.reading).fold(from, of);
    let (low, high) = (read(f64::INFINITY, f64::min), read(f64::NEG_INFINITY, f64::max));
    // At rest the joint stands between; what lies far outside is a slip of the pen.
    let far = (low - rest).max(rest - high) > high - low;
    let middle = if far { (low + high) / 2.0 } else { rest };
    let rising = rise(turns);
    let sign = |x: f64| if x == 0.0 { 0.0 } else { x.signum() };
    turns
        .iter()
        .map(|turn| sign(turn.reading - middle) * sign(rising) * turn.drive.map_or(0.0, |drive| -drive.sign()))
        .sum()
}

/// The two values that lie nearest to each other.
fn nearest(values: &[f64]) -> Option<[f64; 2]> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let mut best: Option<[f64; 2]> = None;
    for pair in sorted.windows(2) {
        if let [a, b] = pair
            && best.is_none_or(|[c, d]| b - a < d - c)
        {
            best = Some([*a, *b]);
        }
    }
    best
}

/// The middle value, or the mean of the two middle ones.
fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    let at = |i: usize| sorted.get(i).copied().unwrap_or(0.0);
    if n == 0 {
        0.0
    } else {
        (at((n - 1) / 2) + at(n / 2)) / 2.0
    }
}
