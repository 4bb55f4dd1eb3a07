//! From a limit fit to a joint in a robot file.

use std::vec::Vec;

use super::date::Date;
use super::entry::EntryRecord;
use super::evidence::{EndEvidence, Evidence, LostMotionEvidence};
use crate::error::JointError;
use crate::feedback::{Feedback, FeedbackRecord};
use crate::fit::{CurveFit, End, EndKind, FeedbackFit, FitError, LimitFit, LinkageFit, LostMotion};
use crate::joint::Joint;
use crate::record::{JointRecord, ServoRecord, TimerRecord};
use crate::transmission::TransmissionRecord;

/// Travel is written in thousandths of a degree: finer than any hobby servo moves, and readable.
const TRAVEL_PER_DEG: f64 = 1e3;
/// What proves it is written finer, so that rounding never eats a margin.
const EVIDENCE_PER_DEG: f64 = 1e4;

/// How far a command end may be rounded, as a share of the command range: less than any sensor tells.
const ROUNDED_ENDS: f64 = 1e-5;

pub(super) fn rounded(value: f64) -> f64 {
    (value * EVIDENCE_PER_DEG).round() / EVIDENCE_PER_DEG
}

/// A length may be in any unit: rounded to more digits than a ruler or a fit gives.
fn seven_digits(value: f64) -> f64 {
    let places = 6.0 - value.abs().log10().floor();
    let scale = 10f64.powi(places.clamp(-300.0, 300.0) as i32);
    if value == 0.0 {
        value
    } else {
        (value * scale).round() / scale
    }
}

/// What to multiply by so that whole numbers tell six digits of a range.
pub(super) fn six_digits([lower, upper]: [f64; 2]) -> f64 {
    let places = 5.0 - (upper - lower).log10().floor();
    10f64.powi(places.clamp(-300.0, 300.0) as i32)
}

/// A range with six digits of its width, whatever the unit: finer than any sensor tells, and readable.
fn readable(range: [f64; 2]) -> [f64; 2] {
    let scale = six_digits(range);
    // A zero without a sign.
    range.map(|end| (end * scale).round() / scale + 0.0)
}

/// A map in six digits of its readings and angles; None where that makes none, or moves it by more than a tenth of its scatter
/// and 1/100000 of its angles.
fn short(found: &FeedbackRecord<f64>, residual_sd: f64) -> Option<FeedbackRecord<f64>> {
    let scales = [six_digits(found.reading), six_digits(found.angle)];
    let rounded = |value: f64, scale: f64| (value * scale).round() / scale + 0.0;
    let mut short = found.clone();
    short.reading = readable(found.reading);
    let (readings, angles) = (found.reading.into_iter().zip(short.reading), found.angle);
    let ends: Vec<(f64, f64)> = readings.collect();
    for [reading, angle] in short.knots.iter_mut().flatten() {
        // The ends stay those of the map.
        let end = ends.iter().find(|(exact, _)| exact == reading);
        *reading = end.map_or_else(|| rounded(*reading, scales[0]), |(_, short)| *short);
        if !angles.contains(angle) {
            *angle = rounded(*angle, scales[1]);
        }
    }
    let (map, exact) = (Feedback::new(&short).ok()?, Feedback::new(found).ok()?);
    let [[r0, r1], [a0, a1]] = [found.reading, found.angle];
    let enough = (0.1 * residual_sd).max(1e-5 * (a1 - a0));
    let is_near = |i: u32| {
        let reading = r0 + (r1 - r0) * f64::from(i) / 256.0;
        (map.angle(reading) - exact.angle(reading)).abs() <= enough
    };
    (0..=256).all(is_near).then_some(short)
}

/// An uncertainty is never rounded to less than it is.
pub(super) fn rounded_up(u: f64) -> f64 {
    (u * EVIDENCE_PER_DEG).ceil() / EVIDENCE_PER_DEG
}

/// Both ends rounded inward, so that rounding never widens a travel.
pub(super) fn inward([lower, upper]: [f64; 2]) -> [f64; 2] {
    [
        (lower * TRAVEL_PER_DEG).ceil() / TRAVEL_PER_DEG,
        (upper * TRAVEL_PER_DEG).floor() / TRAVEL_PER_DEG,
    ]
}

impl From<&End> for EndEvidence {
    fn from(end: &End) -> Self {
        Self {
            kind: end.kind.into(),
            at: rounded(end.at),
            short_at: end.short_at.map(rounded),
            u: end.u.map(rounded_up),
            guard: (end.kind != EndKind::Clear).then_some(end.guard),
        }
    }
}

impl Evidence {
    /// What a fit proves, with the drive in deg. The sense of the feedback is not shown by a fit and stays as it is.
    pub fn from_fit(fit: &LimitFit, date: Option<Date>) -> Self {
        Self {
            date,
            sense: None,
            sense_date: None,
            lower: Some((&fit.lower).into()),
            upper: Some((&fit.upper).into()),
            lost_motion: match fit.lost_motion {
                LostMotion::Measured { drive, u_drive, .. } => Some(LostMotionEvidence {
                    value: rounded(drive),
                    u: Some(rounded_up(u_drive)),
                }),
                LostMotion::NotDeterminable { .. } => None,
            },
            readings: u32::try_from(fit.readings).ok(),
            ..Self::default()
        }
    }
}

impl EntryRecord {
    /// A joint that nothing is known of but a fit: it takes joint angles in the measured unit as commands, and rests at 0,
    /// or midway where 0 is out of reach. `None` if the fit left no travel.
    pub fn from_fit(
        name: &str,
        fit: &LimitFit,
        date: Option<Date>,
        servo: ServoRecord<f64>,
        timer: TimerRecord<f64>,
    ) -> Option<Self> {
        let travel = inward(fit.travel?);
        let [at_lower, at_upper] = travel.map(|drive| rounded(fit.intercept + fit.slope * drive));
        let inverted = at_lower > at_upper;
        let command = if inverted {
            [at_upper, at_lower]
        } else {
            [at_lower, at_upper]
        };
        let rest = if command.first() <= Some(&0.0) && command.last() >= Some(&0.0) {
            0.0
        } else {
            rounded(0.5 * (at_lower + at_upper))
        };
        let mut record = Self::new(name, JointRecord::new(command, travel, rest, servo, timer));
        record.joint.inverted = inverted;
        record.evidence = Evidence::from_fit(fit, date);
        Some(record)
    }

    /// Takes over travel and evidence from a fit and leaves the rest, the sense of the feedback included. Whether the
    /// fit left a travel: without one the record stays as it is. Earlier evidence moves to the history, see [`EntryRecord::renew`].
    #[must_use]
    pub fn apply_fit(&mut self, fit: &LimitFit, date: Option<Date>) -> bool {
        self.apply_fit_with(fit, Evidence::from_fit(fit, date))
    }

    /// As [`EntryRecord::apply_fit`], with evidence that holds more than the fit: made by [`Evidence::from_fit`], with a
    /// source, a name, an instrument added. A sense that it does not give stays as it was, with the day of its own test
    /// ([`Evidence::sense_date`]).
    #[must_use]
    pub fn apply_fit_with(&mut self, fit: &LimitFit, evidence: Evidence) -> bool {
        let Some(travel) = fit.travel else {
            return false;
        };
        self.joint.travel = Some(inward(travel));
        let mut evidence = evidence;
        if evidence.sense.is_none() {
            let old = &self.evidence;
            evidence.sense = old.sense;
            evidence.sense_date = old
                .sense
                .and(old.sense_date.or(old.date))
                .filter(|day| evidence.date != Some(*day));
        }
        self.renew(evidence);
        true
    }

    /// Takes over a fitted curve as transmission: `command`, lower then upper, stands for the measured values between its
    /// first and last knot, and the drive range becomes theirs. Without one, commands are those measured values
    /// ([`CurveFit::command`]). The travel is cut to the drive range: a curve does not extend beyond its readings.
    ///
    /// Numbers are written in readable digits: commands in six of their range, drive angles to 1e-4 deg. What `command` gives
    /// stays as it is. A feedback map is cut to the measured values, which the command ends stand for from now on.
    ///
    /// # Errors
    /// [`FitError::OptionOutside`] if `command` is not a range, or the joint's travel or the angles of its feedback lie wholly outside.
    pub fn apply_curve(&mut self, fit: &CurveFit, command: Option<[f64; 2]>) -> Result<(), FitError> {
        let command = command.unwrap_or_else(|| readable(fit.command()));
        self.take_curve(fit, command, fit.command(), readable(fit.command()))
    }

    /// The same, with commands that stand for the measured values `measured`, lower then upper, to which the curve is cut.
    ///
    /// # Errors
    /// As [`apply_curve`](Self::apply_curve), and [`FitError::OptionOutside`] if `measured` is not a range within the curve's values.
    pub fn apply_curve_between(
        &mut self,
        fit: &CurveFit,
        command: [f64; 2],
        measured: [f64; 2],
    ) -> Result<(), FitError> {
        self.take_curve(fit, command, measured, readable(measured))
    }

    fn take_curve(
        &mut self,
        fit: &CurveFit,
        command: [f64; 2],
        measured: [f64; 2],
        angle: [f64; 2],
    ) -> Result<(), FitError> {
        let mut found = fit.joint_between(command, measured)?;
        if let TransmissionRecord::Curve { knots, .. } = &mut found.transmission {
            let scale = six_digits(command);
            // The ends stay those of the command range.
            let short = |c: f64| {
                if command.contains(&c) {
                    c
                } else {
                    (c * scale).round() / scale
                }
            };
            let readable: Vec<[f64; 2]> = knots.iter().map(|&[c, d]| [short(c), rounded(d)]).collect();
            let apart = |pair: &[[f64; 2]]| match pair {
                [[c0, d0], [c1, d1]] => c0 < c1 && d0 != d1,
                _ => true,
            };
            // Unless they would run together.
            if readable.windows(2).all(apart) {
                *knots = readable;
                found.drive = found.drive.map(rounded);
            }
        }
        self.take_over(command, found.drive, found.inverted, found.transmission, angle)
    }

    /// Takes over a fitted mechanism as transmission: commands are its joint angles from now on, and the drive range becomes theirs.
    /// Without a `command`, they are those of the readings ([`LinkageFit::command`]), in six digits of their range. The travel is
    /// cut to the drive range.
    ///
    /// Ends of [`LinkageFit::command`] may be rounded to 1e-5 of their distance: they keep the drive angle that was read there. A
    /// feedback map is cut to the commands.
    ///
    /// # Errors
    /// As [`LinkageFit::joint`], and [`FitError::OptionOutside`] if the joint's travel lies wholly outside.
    pub fn apply_linkage(&mut self, fit: &LinkageFit, command: Option<[f64; 2]>) -> Result<(), FitError> {
        let command = command.unwrap_or_else(|| readable(fit.command()));
        let found = fit.joint(command)?;
        let ([own_lower, own_upper], [lower, upper]) = (fit.command(), command);
        let is_own = |own: f64, end: f64| (own - end).abs() <= ROUNDED_ENDS * (own_upper - own_lower);
        let (at_lower, at_upper) = if found.inverted {
            (is_own(own_upper, upper), is_own(own_lower, lower))
        } else {
            (is_own(own_lower, lower), is_own(own_upper, upper))
        };
        let ([d0, d1], [r0, r1]) = (found.drive, fit.drive);
        let drive = [if at_lower { r0 } else { d0 }, if at_upper { r1 } else { d1 }].map(rounded);
        let mut mechanism = fit.mechanism;
        for dimension in &fit.found {
            mechanism.set_dimension(dimension.name, seven_digits(dimension.value));
        }
        self.take_over(command, drive, found.inverted, (&mechanism).into(), command)
    }

    /// Rests at command 0 if the travel reaches it, else in the middle of the travel, in readable digits.
    ///
    /// # Errors
    /// A [`JointError`] if the joint is not valid with any rest.
    pub fn rest_in_travel(&mut self) -> Result<(), JointError> {
        let [lower, upper] = self.joint.command;
        let mut middle = self.joint.clone();
        middle.rest = 0.5 * (lower + upper);
        let joint = Joint::new(middle)?;
        let [a, b] = joint.travel().ends().map(|drive| joint.command_from_drive(drive));
        let used = [a.min(b).max(lower), a.max(b).min(upper)];
        self.joint.rest = if used[0] <= 0.0 && used[1] >= 0.0 {
            0.0
        } else {
            let scale = six_digits(used);
            (0.5 * (used[0] + used[1]) * scale).round() / scale
        };
        Ok(())
    }

    /// Takes over a fitted feedback map. `angle` are the joint angles, deg, that the joint's lower and upper command stand for; without
    /// them commands are joint angles. What the fit does not know (bits of the converter, the sensor's turn) stays as it
    /// was, and a `supply_v` is taken for that of the new readings too; the resistances of a loaded potentiometer go, since what was
    /// measured holds the load already. Where readings fall with angles that they rose with before, or the other way, the proven sense of
    /// the feedback is dropped: it has to be tested again.
    ///
    /// Numbers are written in six digits of their range, or as they are where that would bend the map.
    ///
    /// # Errors
    /// As [`FeedbackFit::record`]; [`FitError::AnglesUnknown`] without angles for a joint whose unit is another than `deg`.
    pub fn apply_feedback(&mut self, fit: &FeedbackFit, angle: Option<[f64; 2]>) -> Result<(), FitError> {
        if angle.is_none() && self.unit.as_deref().is_some_and(|unit| unit != "deg") {
            return Err(FitError::AnglesUnknown);
        }
        let found = fit.record(angle.map_or(self.joint.command, readable))?;
        let mut found = short(&found, fit.residual_sd).unwrap_or(found);
        if let Some(before) = &self.joint.feedback {
            (found.adc_bits, found.wrap_deg, found.supply_v) = (before.adc_bits, before.wrap_deg, before.supply_v);
            // A sensor that reads the other way round turns an opposing loop into an aiding one.
            if before.inverted != found.inverted {
                (self.evidence.sense, self.evidence.sense_date) = (None, None);
            }
        }
        self.joint.feedback = Some(found);
        Ok(())
    }

    /// Cuts the feedback that is there to the joint angles that the command ends stand for from now on.
    pub(super) fn cut_feedback(&mut self, angle: [f64; 2]) -> Result<(), FitError> {
        let Some(before) = self.joint.feedback.as_ref().filter(|before| before.angle != angle) else {
            return Ok(());
        };
        let mut cut = before.clone();
        if before.knots.is_some() {
            let found = FeedbackFit::of_record(before).record(angle)?;
            let found = short(&found, 0.0).unwrap_or(found);
            (cut.reading, cut.angle, cut.knots) = (found.reading, found.angle, found.knots);
        } else if let Ok(map) = Feedback::new(before) {
            // Straight, or loaded by known resistances: the same map between other ends.
            FeedbackFit::of_record(before).record(angle)?;
            let [a, b] = angle.map(|angle| map.reading(angle));
            cut.reading = readable(if before.inverted { [b, a] } else { [a, b] });
            cut.angle = angle;
        }
        self.joint.feedback = Some(cut);
        Ok(())
    }

    fn take_over(
        &mut self,
        command: [f64; 2],
        drive: [f64; 2],
        inverted: bool,
        transmission: TransmissionRecord<f64>,
        angle: [f64; 2],
    ) -> Result<(), FitError> {
        let joint = &self.joint;
        let [lower, upper] = joint.travel.unwrap_or(joint.drive);
        let [d0, d1] = drive;
        // What would be left of the travel were no range.
        for (what, value, is_outside) in [
            ("travel lower", lower, lower >= d1),
            ("travel upper", upper, upper <= d0),
        ] {
            if is_outside {
                let [lower, upper] = drive;
                return Err(FitError::OptionOutside {
                    what,
                    value,
                    lower,
                    upper,
                });
            }
        }
        self.cut_feedback(angle)?;
        let joint = &mut self.joint;
        (joint.command, joint.drive, joint.inverted) = (command, drive, inverted);
        joint.travel = Some([lower.max(d0), upper.min(d1)]);
        joint.transmission = transmission;
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bring_up::LoopSense;
    use crate::fit::{FitOptions, Readings, fit_limits};
    use crate::robot::{EvidenceKind, Robot, Rule, check};

    const SERVO: ServoRecord<f64> = ServoRecord {
        angle: [0.0, 180.0],
        pulse_us: [500.0, 2500.0],
    };
    const TIMER: TimerRecord<f64> = TimerRecord {
        frame_hz: 50.0,
        counts_per_frame: 4096,
    };

    fn fit(slope: f64) -> LimitFit {
        let drive: Vec<f64> = (0..20).map(|i| 20.0 + 5.3333 * f64::from(i)).collect();
        let measured: Vec<f64> = drive
            .iter()
            .enumerate()
            .map(|(i, x)| slope * (x - 70.0) + 0.01 * f64::from(u32::try_from(i * 7 % 5).unwrap()))
            .collect();
        fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap()
    }

    #[test]
    fn a_fit_becomes_a_joint_that_agrees_with_it() {
        for slope in [1.25, -0.8] {
            let fit = fit(slope);
            let record = EntryRecord::from_fit("j", &fit, Date::new(2026, 11, 20), SERVO, TIMER).unwrap();
            assert_eq!(record.joint.inverted, slope < 0.0);
            assert_eq!(record.joint.rest, 0.0);
            let joint = Joint::new(record.joint.clone()).unwrap();
            for drive in [30.0, 70.0, 100.0] {
                let command = joint.command_from_drive(drive);
                assert!((command - fit.expected(drive)).abs() < 0.02, "{command} {drive}");
            }
            // No rule about limits has anything to say of what a fit recommends.
            let mut robot = Robot::new("r").unwrap();
            robot.put(&record).unwrap();
            let limits = [
                Rule::TravelBeyondClear,
                Rule::TravelBeyondContact,
                Rule::GuardTooThin,
                Rule::LimitUnproven,
            ];
            assert!(check(&robot).iter().all(|finding| !limits.contains(&finding.rule)));
        }
    }

    #[test]
    fn a_stalled_end_is_written_with_both_its_angles() {
        let mut fit = fit(1.25);
        let (at, short) = (fit.upper.at, fit.upper.at + 7.5);
        (fit.upper.kind, fit.upper.short_at) = (EndKind::Stalled, Some(short));
        let record = EntryRecord::from_fit("j", &fit, Date::new(2026, 11, 20), SERVO, TIMER).unwrap();
        let end = record.evidence.upper.unwrap();
        assert_eq!(
            (end.kind, end.at, end.guard),
            (EvidenceKind::Stalled, rounded(at), Some(0.0))
        );
        assert_eq!((end.short_at, end.u), (Some(rounded(short)), None));
        let mut robot = Robot::new("r").unwrap();
        robot.put(&record).unwrap();
        let read = Robot::parse(robot.to_toml()).unwrap();
        assert_eq!(read.joint("j").unwrap().evidence().upper, Some(end));
        let found = check(&robot);
        let stalled = found
            .iter()
            .find(|finding| finding.rule == Rule::StopNotPlaced)
            .unwrap();
        let between = std::format!("between {} and {} deg", rounded(at), rounded(short));
        assert!(stalled.message.contains(&between), "{}", stalled.message);
        assert!(stalled.hint.contains("from below"), "{}", stalled.hint);
        assert!(found.iter().all(|finding| finding.rule != Rule::TravelBeyondClear));
    }

    #[test]
    fn a_curve_becomes_a_joint_that_follows_it() {
        let drive: Vec<f64> = (0..30).map(|i| 20.0 + 3.0 * f64::from(i)).collect();
        for sign in [1.0, -1.0] {
            let bent = |x: f64| sign * (0.5 * x + 0.006 * (x - 20.0).powi(2));
            let measured: Vec<f64> = drive.iter().map(|&x| bent(x)).collect();
            let limits = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default()).unwrap();
            let between = limits.between_stops(&Readings::new(&drive, &measured));
            let curve = crate::fit::fit_curve(&between.readings(), 7).unwrap();
            let mut record = EntryRecord::from_fit("j", &limits, None, SERVO, TIMER).unwrap();
            let ends = [bent(20.0), bent(107.0)].map(rounded);
            let command = if sign > 0.0 { ends } else { [ends[1], ends[0]] };
            record.joint.rest = 0.5 * (ends[0] + ends[1]);
            record.apply_curve(&curve, Some(command)).unwrap();
            let joint = Joint::new(record.joint.clone()).unwrap();
            // Nothing but what the turned curve departs by (1/5000 of 88.9 deg) and the file's rounding.
            for x in (0..=870).map(|i| 20.0 + 0.1 * f64::from(i)) {
                let command = joint.command_from_drive(x);
                assert!(
                    (command - bent(x)).abs() < 0.0178 + 0.001,
                    "{x}: {command}, {}",
                    bent(x)
                );
            }
            // A travel wider than the curve is cut, never followed beyond.
            record.joint.travel = Some([0.0, 180.0]);
            record.apply_curve(&curve, Some(command)).unwrap();
            assert_eq!(record.joint.travel, Some([20.0, 107.0]));
            // One that lies beside it altogether is not turned over.
            record.joint.travel = Some([120.0, 150.0]);
            let before = record.clone();
            let beside = FitError::OptionOutside {
                what: "travel lower",
                value: 120.0,
                lower: 20.0,
                upper: 107.0,
            };
            assert_eq!(record.apply_curve(&curve, None), Err(beside));
            assert_eq!(record, before);
            // Its own commands are those measured at its ends, in digits that can be read.
            record.joint.travel = None;
            record.apply_curve(&curve, None).unwrap();
            let [lower, upper] = record.joint.command;
            let own = curve.command();
            assert!((lower - own[0]).abs() < 1e-4 && (upper - own[1]).abs() < 1e-4);
            let TransmissionRecord::Curve { knots, .. } = &record.joint.transmission else {
                panic!("a curve");
            };
            for number in knots.iter().flatten().chain(&record.joint.command) {
                assert_eq!(*number, rounded(*number), "no more than four decimals");
            }
            // Commands of any unit keep their digits, and those given are kept as they are.
            let parts = [0.0, 1.0 / 3.0];
            record.apply_curve(&curve, Some(parts)).unwrap();
            let TransmissionRecord::Curve { knots, .. } = &record.joint.transmission else {
                panic!("a curve");
            };
            assert_eq!([knots.first().unwrap()[0], knots.last().unwrap()[0]], parts);
            let exact = curve.joint(parts).unwrap();
            let TransmissionRecord::Curve { knots: exact, .. } = &exact.transmission else {
                panic!("a curve");
            };
            for (short, exact) in knots.iter().zip(exact) {
                assert!(
                    (short[0] - exact[0]).abs() <= 0.51e-6,
                    "a millionth of a third: {short:?} {exact:?}"
                );
            }
        }
    }

    #[test]
    fn a_linkage_becomes_a_joint_that_goes_where_it_goes() {
        use crate::linkage::{Mechanism, Triangle};
        // Lengths in metres: rounding must not eat them.
        let truth = Mechanism::Triangle(Triangle {
            base: 0.04,
            arm: 0.092_123_456_7,
            angle_at_zero: 31.0,
        });
        let start = Mechanism::Triangle(Triangle {
            base: 0.04,
            arm: 0.08,
            angle_at_zero: 25.0,
        });
        for gain in [2000.0, -2000.0] {
            let angles: Vec<f64> = (0..30).map(|i| 3.0 * f64::from(i)).collect();
            let offset = if gain > 0.0 { -100.0 } else { 260.0 };
            let told = |angle: f64| offset + gain * truth.moved(angle);
            let drive: Vec<f64> = angles.iter().map(|&angle| told(angle)).collect();
            let limits = fit_limits(&Readings::new(&drive, &angles), &FitOptions::default()).unwrap();
            let fit = crate::fit::fit_linkage(
                &crate::fit::Readings::new(&drive, &angles),
                &start,
                &["arm", "angle_at_zero"],
            )
            .unwrap();
            let mut record = EntryRecord::from_fit("j", &limits, None, SERVO, TIMER).unwrap();
            record.joint.rest = 40.0;
            record.apply_linkage(&fit, Some([0.0, 87.0])).unwrap();
            assert_eq!(record.joint.inverted, gain < 0.0);
            let mut robot = Robot::new("r").unwrap();
            robot.put(&record).unwrap();
            let read = Robot::parse(robot.to_toml()).unwrap();
            let joint = read.joint("j").unwrap().joint();
            for angle in angles {
                let back = joint.command_from_drive(told(angle));
                assert!((back - angle).abs() < 1e-3, "{angle}: {back}");
            }
            assert_eq!(joint.transmission().kind(), "triangle");
            // A travel wider than the commands is cut to them; a mechanism that cannot serve them is not taken.
            record.joint.travel = Some([0.0, 180.0]);
            record.apply_linkage(&fit, Some([0.0, 87.0])).unwrap();
            assert_eq!(record.joint.travel, Some(record.joint.drive));
            assert!(record.apply_linkage(&fit, Some([0.0, 170.0])).is_err());
            assert_eq!(record.joint.command, [0.0, 87.0]);
        }
    }

    #[test]
    fn a_rest_is_within_the_travel() {
        for (inverted, travel, rest) in [
            (false, [10.0, 150.0], 0.0),
            (false, [95.0, 150.0], 12.142_9),
            (true, [95.0, 150.0], -12.142_9),
            (true, [70.0, 90.0], 0.0),
        ] {
            let mut record = EntryRecord::new("j", JointRecord::new([-20.0, 20.0], [10.0, 150.0], 99.0, SERVO, TIMER));
            (record.joint.inverted, record.joint.travel) = (inverted, Some(travel));
            record.rest_in_travel().unwrap();
            assert!((record.joint.rest - rest).abs() < 1e-4, "{}", record.joint.rest);
            let joint = Joint::new(record.joint).unwrap();
            assert!(joint.travel().contains(joint.drive(joint.rest()).unwrap().value));
        }
        let mut record = EntryRecord::new("j", JointRecord::new([20.0, -20.0], [10.0, 150.0], 0.0, SERVO, TIMER));
        assert!(record.rest_in_travel().is_err());
    }

    #[test]
    fn rounding_goes_inward_and_upward() {
        assert_eq!(inward([5.0001, 79.9999]), [5.001, 79.999]);
        assert_eq!(inward([-5.0001, 5.0]), [-5.0, 5.0]);
        assert_eq!(rounded_up(0.12341), 0.1235);
        assert_eq!(seven_digits(0.092_123_456_7), 0.092_123_46);
        assert_eq!(seven_digits(-131.021_345_67), -131.0213);
        assert_eq!((seven_digits(0.0), seven_digits(2.5e9)), (0.0, 2.5e9));
    }

    #[test]
    fn an_update_keeps_what_a_fit_does_not_know() {
        let mut record = EntryRecord::new("j", JointRecord::new([0.0, 1.0], [10.0, 150.0], 0.5, SERVO, TIMER));
        record.evidence.sense = Some(LoopSense::Opposing);
        assert!(record.apply_fit(&fit(1.0), None));
        assert_eq!(record.evidence.sense, Some(LoopSense::Opposing));
        assert_eq!(record.joint.drive, [10.0, 150.0]);
        assert_eq!(record.joint.travel, Some([20.0, 121.332]));
    }

    #[test]
    fn a_sense_keeps_the_day_of_its_test() {
        let [tested, refitted, later] =
            ["2026-10-02", "2026-11-20", "2026-12-01"].map(|day| day.parse::<Date>().unwrap());
        let mut record = EntryRecord::new("j", JointRecord::new([0.0, 1.0], [10.0, 150.0], 0.5, SERVO, TIMER));
        record.evidence.sense = Some(LoopSense::Opposing);
        record.evidence.date = Some(tested);
        for day in [refitted, later] {
            assert!(record.apply_fit(&fit(1.0), Some(day)));
            let evidence = &record.evidence;
            assert_eq!((evidence.date, evidence.sense_date), (Some(day), Some(tested)));
        }
        // Fitted again on the day of the test there is one day only; without a sense there is no day of it.
        assert!(record.apply_fit(&fit(1.0), Some(tested)));
        assert_eq!((record.evidence.date, record.evidence.sense_date), (Some(tested), None));
        record.evidence.sense = None;
        assert!(record.apply_fit(&fit(1.0), Some(later)));
        assert_eq!(record.evidence.sense_date, None);
    }

    #[test]
    fn a_map_is_written_in_six_digits_where_that_hardly_moves_it() {
        let found = FeedbackRecord::new([211.987_654_321, 870.123_456_789], [-40.0, 60.0]);
        // A thousandth of a count: far below 1/100000 of the angles, however little the readings scatter.
        for residual_sd in [0.0, 0.3] {
            let written = short(&found, residual_sd).unwrap();
            assert_eq!(written.reading, [211.988, 870.123]);
            assert_eq!(written.angle, found.angle);
        }
    }
}
