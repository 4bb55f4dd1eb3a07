//! The virtual joint: servo, play, stops, potentiometer and converter, without a clock of its own.
//!
//! Everything mechanical is kept in drive angles. `motor` is where the servo's output stands, `joint` where the mechanism
//! stands, in the drive angle that would hold it there without play; the joint angle follows through the joint's
//! transmission. Time passes only in [`VirtualJoint::move_to`] and [`VirtualJoint::wait`]; each is worked out in one step
//! and not by small ones: the command rises evenly, the servo follows no faster than its speed, and comes to rest where
//! its torque, the friction and the stops are in balance.
//!
//! * *Dead band and friction*: the servo stops short of its command by a varying part of the two.
//! * *Lost motion*: the joint lags within a play of this width (hysteresis by a play operator).
//! * *Stops*: springs. An error of `stall_error` between command and place is full torque and stall current; the stop gives
//!   `give` deg for each degree of error, up to there.
//! * *Sensor*: a straight potentiometer on the joint's shaft, with its ends, noise, and a converter that rounds.

use super::chance::Chance;
use crate::bring_up::{Answer, BringUpError, Fault, Side, Watch};
use crate::joint::Joint;
use std::vec::Vec;

/// The numbers of a virtual joint. *Unit*: deg of drive angle unless said otherwise.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct VirtualRecord {
    /// The joint that it pretends to be: servo and transmission.
    pub joint: Joint<f64>,
    /// Where the mechanism meets its stops, play aside.
    pub stops: [f64; 2],
    /// Where the loop's potentiometer sits.
    pub watch: Watch,
    /// Play between drive and joint.
    pub lost_motion: f64,
    /// Width of the servo's dead band.
    pub dead_band: f64,
    /// What friction adds to half the dead band, at most.
    pub friction: f64,
    /// The servo's speed, deg/s.
    pub speed: f64,
    /// The error that makes full torque.
    pub stall_error: f64,
    /// How far a stop gives for each degree of error.
    pub give: f64,
    /// Readings at the two ends of the joint's command range.
    pub readings: [f64; 2],
    /// The readings between which the sensor works.
    pub rails: [f64; 2],
    /// Standard deviation of a reading.
    pub noise: f64,
    /// Whether something measures the drive's current.
    pub senses_load: bool,
}

impl VirtualRecord {
    /// A joint with these stops, all else in the middle of what [`Rehearsal::healthy`](super::Rehearsal::healthy) draws: a
    /// 10-bit reading that rises by 5 counts for each degree and is 512 midway between the stops, a sensor beside the
    /// servo's own, no measured current (an assumption of this library).
    pub fn usual(joint: Joint<f64>, stops: [f64; 2]) -> Self {
        let [lower, upper] = stops;
        let readings = joint
            .command_range()
            .ends()
            .map(|command| 512.0 + 5.0 * (joint.transmission().drive(command) - (lower + upper) / 2.0));
        Self {
            joint,
            stops,
            watch: Watch::SensorOnly,
            lost_motion: 1.0,
            dead_band: 0.5,
            friction: 0.15,
            speed: 315.0,
            stall_error: 7.0,
            give: 0.03,
            readings,
            rails: [0.0, 1023.0],
            noise: 0.5,
            senses_load: false,
        }
    }

    /// Whether these numbers make a joint.
    ///
    /// # Errors
    /// Numbers that are not finite or below zero, a speed or stall error that is not above zero, ends that do not rise,
    /// readings that are the same at both ends.
    pub fn check(&self) -> Result<(), BringUpError> {
        BringUpError::rising("stops", self.stops)?;
        BringUpError::rising("rails", self.rails)?;
        for (what, value) in [
            ("lost_motion", self.lost_motion),
            ("dead_band", self.dead_band),
            ("friction", self.friction),
            ("give", self.give),
            ("noise", self.noise),
        ] {
            BringUpError::within(what, value, 0.0, crate::bring_up::MOST)?;
        }
        BringUpError::positive("speed", self.speed)?;
        BringUpError::positive("stall_error", self.stall_error)?;
        let [low, high] = self.readings;
        BringUpError::finite("readings", low)?;
        BringUpError::finite("readings", high)?;
        BringUpError::positive("way between readings", (high - low).abs())?;
        Ok(())
    }
}

/// A fault as it acts. Angles in deg of drive angle.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub(crate) enum Active {
    Swapped,
    OpenWiper { wanders: bool, at: f64 },
    NoisySpot { from: f64, to: f64 },
    Slipped { by: f64 },
    Stripped { arc: Option<[f64; 2]> },
    Sagging { part: f64 },
    Neighbour,
}

/// The virtual joint.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct VirtualJoint {
    record: VirtualRecord,
    chance: Chance,
    /// What stands in the way, beside the stops.
    block: Option<(Side, f64)>,
    faults: Vec<Active>,
    fault: Option<Fault>,
    command: f64,
    motor: f64,
    joint: f64,
    load: f64,
    /// Furthest command so far, lower and upper.
    commanded: [f64; 2],
    /// Where the hand holds the sensor, while the drive is detached.
    hand: f64,
    /// How far the mechanism has come to lie at other drive angles by turning the sensor.
    turned: f64,
    detached: bool,
}

impl VirtualJoint {
    /// A joint that stands at rest at a drive angle.
    pub fn new(record: VirtualRecord, start: f64, seed: u64) -> Self {
        Self {
            record,
            chance: Chance::new(seed),
            block: None,
            faults: Vec::new(),
            fault: None,
            command: start,
            motor: start,
            joint: start,
            load: 0.0,
            commanded: [start, start],
            hand: 0.0,
            turned: 0.0,
            detached: false,
        }
    }

    /// The same from numbers that come from outside.
    ///
    /// # Errors
    /// What [`VirtualRecord::check`] refuses, and a start outside of the stops.
    pub fn checked(record: VirtualRecord, start: f64, seed: u64) -> Result<Self, BringUpError> {
        record.check()?;
        let [lower, upper] = record.stops;
        BringUpError::within("start", start, lower, upper)?;
        Ok(Self::new(record, start, seed))
    }

    pub(crate) fn name_fault(&mut self, fault: Fault) {
        self.fault = Some(fault);
    }

    pub(crate) fn break_with(&mut self, active: Active) {
        self.faults.push(active);
    }

    pub(crate) fn put_in_the_way(&mut self, toward: Side, at: f64) {
        self.block = Some((toward, at));
    }

    pub(crate) fn record_mut(&mut self) -> &mut VirtualRecord {
        &mut self.record
    }

    /// Its numbers.
    pub fn record(&self) -> &VirtualRecord {
        &self.record
    }

    /// The lowest and the highest drive angle that was commanded so far.
    pub fn commanded(&self) -> [f64; 2] {
        self.commanded
    }

    /// Where the joint stands, as the drive angle that would hold it there.
    pub fn place(&self) -> f64 {
        self.joint
    }

    /// The true contacts, play aside: midway between where the joint meets a stop and where it leaves it.
    pub fn contacts(&self) -> [f64; 2] {
        self.ends().map(|end| end - self.slip())
    }

    /// The outermost commands that need not press on a stop when it is approached from inside: half the play, and what the
    /// servo stays short at the most, lie between the contact and the command that brings the joint there.
    pub fn latest_contacts(&self) -> [f64; 2] {
        let play = match self.record.watch {
            Watch::SensorOnly => self.record.lost_motion / 2.0,
            // The loop is closed behind the play.
            Watch::SensorAndDrive => 0.0,
        };
        let late = play + self.record.dead_band / 2.0 + self.record.friction;
        let [lower, upper] = self.contacts();
        [lower - late, upper + late]
    }

    /// The end at which something stands before the stop: its contact is with that, and no stop.
    pub fn obstacle(&self) -> Option<Side> {
        let [lower, upper] = self.record.stops;
        let (side, at) = self.block?;
        let stands_before = match side {
            Side::Lower => at > lower,
            Side::Upper => at < upper,
        };
        stands_before.then_some(side)
    }

    /// The stops, and what stands before them.
    fn ends(&self) -> [f64; 2] {
        let [lower, upper] = self.record.stops;
        match self.block {
            Some((Side::Lower, at)) => [lower.max(at), upper],
            Some((Side::Upper, at)) => [lower, upper.min(at)],
            None => [lower, upper],
        }
    }

    fn slip(&self) -> f64 {
        self.faults
            .iter()
            .map(|f| if let Active::Slipped { by } = f { *by } else { 0.0 })
            .sum()
    }

    fn has(&self, wanted: impl Fn(&Active) -> bool) -> bool {
        self.faults.iter().any(wanted)
    }

    fn speed(&self) -> f64 {
        let part: f64 = self
            .faults
            .iter()
            .map(|f| if let Active::Sagging { part } = f { *part } else { 1.0 })
            .product();
        self.record.speed * part
    }

    /// Commands a drive angle, the command changing at this rate, and lets that time pass.
    pub fn move_to(&mut self, drive: f64, rate_per_s: f64) {
        let seconds = (drive - self.command).abs() / rate_per_s;
        self.command = drive;
        let [low, high] = self.commanded;
        self.commanded = [low.min(drive), high.max(drive)];
        self.pass(seconds, rate_per_s.min(self.speed()));
    }

    /// Lets time pass.
    pub fn wait(&mut self, seconds: f64) {
        self.pass(seconds, self.speed());
    }

    /// [`VirtualJoint::move_to`] for numbers that come from outside.
    ///
    /// # Errors
    /// Numbers that are not finite, a rate that is not above zero; nothing moves then.
    pub fn try_move_to(&mut self, drive: f64, rate_per_s: f64) -> Result<(), BringUpError> {
        BringUpError::finite("drive", drive)?;
        BringUpError::positive("rate_per_s", rate_per_s)?;
        self.move_to(drive, rate_per_s);
        Ok(())
    }

    /// [`VirtualJoint::wait`] for a number that comes from outside.
    ///
    /// # Errors
    /// NaN, infinity, less than zero; no time passes then.
    pub fn try_wait(&mut self, seconds: f64) -> Result<(), BringUpError> {
        BringUpError::within("seconds", seconds, 0.0, crate::bring_up::MOST)?;
        self.wait(seconds);
        Ok(())
    }

    fn pass(&mut self, seconds: f64, speed: f64) {
        if self.detached || self.has(|f| matches!(f, Active::Neighbour)) {
            return;
        }
        let (target, load) = self.balance();
        let way = target - self.motor;
        let most = speed * seconds;
        self.motor += way.max(-most).min(most);
        self.load = if way.abs() > most { 0.3 } else { load };
        self.carry();
    }

    /// Where the motor comes to rest, and its load there.
    fn balance(&mut self) -> (f64, f64) {
        let aim = self.aim();
        let half_play = self.record.lost_motion / 2.0;
        let stripped = self.has(|f| matches!(f, Active::Stripped { .. }));
        let closed = self.record.watch == Watch::SensorAndDrive;
        let here = if closed { self.joint } else { self.motor };
        let short = self.chance.between(0.5, 1.0) * (self.record.dead_band / 2.0 + self.record.friction);
        if (aim - here).abs() <= short {
            return (self.motor, 0.05);
        }
        let way = if aim > here { 1.0 } else { -1.0 };
        let rest = aim - way * short;
        // A loop closed over the joint takes its play up by itself.
        let free = if closed { rest + way * half_play } else { rest };
        if stripped && self.arc().is_none() {
            return (free, 0.05);
        }
        let [lower, upper] = self.ends().map(|end| end - self.slip());
        let end = if way > 0.0 {
            upper + half_play
        } else {
            lower - half_play
        };
        // Behind an arc without teeth, which lies towards the upper end, the joint stays behind by the arc's width.
        let missing = self.arc().map_or(0.0, |[from, to]| (to - from).max(0.0));
        let end = if way > 0.0 { end + missing } else { end };
        let over = (free - end) * way;
        if over <= 0.0 {
            return (free, 0.05);
        }
        let pressed = over.min(self.record.stall_error);
        (
            end + way * pressed * self.record.give,
            (pressed / self.record.stall_error).max(0.05),
        )
    }

    fn arc(&self) -> Option<[f64; 2]> {
        self.faults.iter().find_map(|f| match f {
            Active::Stripped { arc } => *arc,
            _ => None,
        })
    }

    /// The place that the servo's electronics steer for.
    fn aim(&mut self) -> f64 {
        if self.record.watch == Watch::SensorOnly {
            return self.command;
        }
        // A loop closed over the sensor goes where the sensor reads what the command asks, or runs on to a stop.
        let away = 1e3;
        if self.has(|f| matches!(f, Active::OpenWiper { .. })) {
            return self.joint + away;
        }
        if self.has(|f| matches!(f, Active::Swapped)) {
            let error = self.command - self.mirrored(self.joint);
            return self.joint - away * if error > 0.0 { -1.0 } else { 1.0 };
        }
        let [low, high] = self.record.rails;
        let wanted = self.straight(self.command);
        if wanted <= low || wanted >= high {
            let rising = self.record.readings[1] > self.record.readings[0];
            return self.joint + if (wanted >= high) == rising { away } else { -away };
        }
        self.command
    }

    /// The joint follows its drive within the play, and the stops hold it.
    fn carry(&mut self) {
        let stripped = self.has(|f| matches!(f, Active::Stripped { .. }));
        if stripped && self.arc().is_none() {
            return;
        }
        let half = self.record.lost_motion / 2.0;
        let pull = match self.arc() {
            Some([from, to]) if self.motor > from => from.max(self.motor - (to - from)),
            _ => self.motor,
        };
        self.joint = self.joint.max(pull - half).min(pull + half);
        let slip = self.slip();
        let [lower, upper] = self.ends();
        let give = self.record.stall_error * self.record.give;
        self.joint = self.joint.max(lower - slip - give).min(upper - slip + give);
    }

    /// What the sensor would read without ends and noise, for a joint held at this drive angle.
    pub(crate) fn straight(&self, place: f64) -> f64 {
        let command = self.record.joint.command_from_drive(place + self.slip());
        let range = self.record.joint.command_range();
        let [r0, r1] = self.record.readings;
        r0 + (r1 - r0) * (command - range.lower()) / range.width()
    }

    /// The place that the sensor would seem to be at with its outer wires swapped.
    fn mirrored(&self, place: f64) -> f64 {
        let [low, high] = self.record.rails;
        let (at, next) = (self.straight(place), self.straight(place + 1.0));
        place + (low + high - 2.0 * at) / (next - at)
    }

    /// Takes one reading.
    pub fn read(&mut self) -> f64 {
        let place = if self.detached {
            self.joint + self.hand
        } else {
            self.joint
        };
        let [low, high] = self.record.rails;
        let mut value = self.straight(place).max(low).min(high);
        let noise = self.record.noise * self.chance.normal();
        for index in 0..self.faults.len() {
            match self.faults.get(index).copied() {
                Some(Active::Swapped) => value = low + high - value,
                Some(Active::OpenWiper { wanders, at }) => {
                    value = if wanders {
                        self.chance.between(low, high)
                    } else {
                        at + 3.0 * self.chance.normal()
                    };
                }
                Some(Active::NoisySpot { from, to }) if place >= from && place <= to && self.chance.happens(0.7) => {
                    value += self.chance.sign() * self.chance.between(0.08, 0.4) * (high - low);
                }
                _ => {}
            }
        }
        let value = (value + noise).max(low).min(high);
        // Halves away from zero; readings are not negative.
        let whole = (value + 0.5) as i64;
        whole as f64
    }

    /// The drive's current as a part of its stall current, if something measures it.
    pub fn load(&mut self) -> Option<f64> {
        let hum = self.chance.between(0.9, 1.1);
        self.record.senses_load.then_some(self.load * hum)
    }

    /// Takes the drive off the joint, or fixes it again.
    pub fn detach(&mut self, detached: bool) {
        self.detached = detached;
        self.hand = 0.0;
    }

    /// Turns the sensor by hand to so many degrees of drive angle from where the joint stands.
    pub fn hold_sensor(&mut self, hand: f64) {
        self.hand = hand;
    }

    /// Holds the detached joint at one of its stops by hand.
    pub(crate) fn hold_at_stop(&mut self, toward: Side) {
        let [lower, upper] = self.contacts();
        let stop = if toward == Side::Lower { lower } else { upper };
        self.hand = stop - self.joint;
    }

    /// The joint angles at which the mechanism meets its stops, lower angle first.
    pub(crate) fn angles_at_stops(&self) -> [f64; 2] {
        let angle = |stop: f64| self.record.joint.command_from_drive(stop - self.turned);
        let [a, b] = self.record.stops.map(angle);
        [a.min(b), a.max(b)]
    }

    /// The joint angle as a protractor shows it, deg: the command that belongs to the place, for a joint whose command is
    /// its angle.
    pub fn angle(&self) -> f64 {
        let place = self.joint + self.hand + self.slip() - self.turned;
        self.record.joint.command_from_drive(place)
    }

    /// Turns the sensor on its shaft until it reads so, while the joint is held where it is.
    ///
    /// A loop that is closed over this sensor holds a reading and not an angle: turning the sensor moves the mechanism
    /// and its stops to other drive angles.
    pub(crate) fn set_sensor(&mut self, reading: f64) {
        let place = self.joint + self.hand;
        let by = reading - self.straight(place);
        if self.record.watch == Watch::SensorOnly {
            self.record.readings = self.record.readings.map(|r| r + by);
            return;
        }
        let moved = by / (self.straight(place + 0.5) - self.straight(place - 0.5));
        self.record.stops = self.record.stops.map(|stop| stop + moved);
        self.block = self.block.map(|(side, at)| (side, at + moved));
        self.hand += moved;
        self.turned += moved;
    }

    /// Where the hand holds the sensor.
    pub fn hand(&self) -> f64 {
        self.hand
    }

    /// Which way the detached drive turns: `Lower`, `Upper` or `Still`.
    pub fn response(&self) -> Answer {
        if self.record.watch == Watch::SensorOnly {
            return Answer::Still;
        }
        if self.has(|f| matches!(f, Active::OpenWiper { .. })) {
            return Answer::Upper;
        }
        let place = self.joint + self.hand;
        let swapped = self.has(|f| matches!(f, Active::Swapped));
        let seen = if swapped { self.mirrored(place) } else { place };
        let error = self.command - seen;
        if error.abs() <= self.record.dead_band / 2.0 {
            Answer::Still
        } else if error > 0.0 {
            Answer::Upper
        } else {
            Answer::Lower
        }
    }

    /// What moves when this joint's drive is sent somewhere.
    pub fn what_moves(&self) -> Answer {
        if self.has(|f| matches!(f, Active::Neighbour)) {
            Answer::Neighbour
        } else if self.has(|f| matches!(f, Active::Stripped { arc: None })) {
            Answer::DriveOnly
        } else {
            Answer::Joint
        }
    }

    /// What the joint meets that was sent past a drive angle towards an end.
    pub fn what_is_met(&self, toward: Side, drive: f64) -> Answer {
        if self.has(|f| matches!(f, Active::Neighbour)) {
            return Answer::Nothing;
        }
        if self.has(|f| matches!(f, Active::Stripped { arc: None })) {
            return Answer::DriveOnly;
        }
        if let Some([from, to]) = self.arc()
            && drive > from - 3.0
            && drive < to + 3.0
        {
            return Answer::DriveOnly;
        }
        match self.block {
            Some((side, at)) if side == toward && (drive - at).abs() < 6.0 => Answer::Obstacle,
            _ => Answer::Stop,
        }
    }

    /// Which fault it has, if any.
    pub fn fault(&self) -> Option<Fault> {
        self.fault
    }
}
