//! Whether readings contradict the joint in the file, and by how much.

use std::format;
use std::string::String;
use std::vec::Vec;

use super::super::entry::EntryRecord;
use super::super::evidence::{EndEvidence, EvidenceKind};
use super::refit::{Refit, Relation};
use super::servo::in_degrees_of;
use super::units::MistakenUnit;
use crate::error::JointError;
use crate::feedback::Feedback;
use crate::fit::{CompareOptions, End, Estimate, Horn, LostMotion, Offset, Side, SplineTeeth, splines};
use crate::joint::Joint;
use crate::look::{Rounded, Statistic, Trimmed};

/// Coverage factor of expanded uncertainties (about 95 %, JCGM 100:2008, 6.3.3).
const COVERAGE: f64 = 2.0;
/// Places at which two maps are compared: far more than a curve has knots.
const PLACES: u32 = 32;

/// The place at which file and readings are furthest apart.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Apart {
    /// A command of the joint.
    pub command: f64,
    /// The drive angle that the file gives it, deg.
    pub in_file: f64,
    /// The drive angle at which it was measured, deg.
    pub measured: f64,
    /// Expanded uncertainty of the difference (k = 2), deg.
    pub expanded: f64,
}

impl Apart {
    /// One of the two drive angles, with the digits that their difference supports.
    fn rounded(&self, drive: f64) -> Rounded {
        Rounded {
            value: drive,
            u: Some(0.5 * self.expanded),
        }
    }
}

/// A stop that is not where the file's evidence has it.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct StopMoved {
    /// Which end.
    pub side: Side,
    /// The drive angle in the file, deg: of the contact, or how far it was clear, before it stalled too.
    pub in_file: f64,
    /// Its standard uncertainty, deg, if the file has it.
    pub u_in_file: Option<f64>,
    /// The same measured.
    pub measured: f64,
    /// Its standard uncertainty, deg: of a contact.
    pub u: Option<f64>,
    /// What the file has there.
    pub was: EvidenceKind,
    /// What was found there.
    pub is: EvidenceKind,
}

/// The stops are where the file has them, and all measured values are higher or lower alike: protractor or sensor were set elsewhere, or
/// the joint was moved on a servo that meets stops of its own.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct ZeroMoved {
    /// By how much the measured values are higher at one drive angle, in their unit.
    pub by: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// The measured values that stand for the lower and the upper command of the file now.
    pub at_commands: [f64; 2],
}

/// How readings compare with the joint in the file.
///
/// *Unit*: drive angles in deg of the servo of the readings. *NaN*: none of the numbers is ever NaN.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Judgement {
    /// Nothing relates commands to measured values, so that only stops were compared.
    pub unrelated: bool,
    /// The readings look like values in another unit; the rest of this judgement then says nothing of the joint.
    pub mistaken_unit: Option<MistakenUnit>,
    /// By how much further the joint stands at one drive angle than the file has it, deg of drive, in the middle of the readings: the
    /// sign of [`compare`](crate::fit::compare). A command needs so much less drive.
    pub offset: Option<Estimate>,
    /// Whole numbers of horn teeth that agree with the offset, the closest first.
    pub teeth: Vec<SplineTeeth>,
    /// Drive deg per command, of the file and as measured, with sign; over the readings.
    pub slope: Option<[f64; 2]>,
    /// The offset is one of the measured values rather than of the joint, as the stops show.
    pub zero_moved: Option<ZeroMoved>,
    /// Where the two maps are furthest apart.
    pub apart: Option<Apart>,
    /// Measured values run with drive the other way than the file's commands.
    pub reversed: bool,
    /// Stops that are elsewhere.
    pub stops: Vec<StopMoved>,
    /// The furthest that the joint's sensor is off its map in the file, joint deg; where it was read.
    pub sensor: Option<f64>,
    /// The offset alone is more than matters and uncertainty allows.
    pub is_shifted: bool,
    /// The maps differ by more than matters and uncertainty allows.
    pub map_differs: bool,
    /// The sensor's maps do.
    pub sensor_differs: bool,
}

impl EntryRecord {
    /// Compares readings with what is written down of the joint.
    ///
    /// The maps are compared at drive angles between the stops: the drive angle that the file gives for a command, and the one at
    /// which the readings have it. They differ where that is more than [`CompareOptions::smallest_drive`] and the expanded
    /// uncertainty of the readings together; where the readings do not say their side, half of the lost motion in the file
    /// is allowed as well. Stops are compared with the evidence in the same way.
    ///
    /// *Edges*: where nothing relates commands to measured values (fractions measured in deg, no feedback in the file) only stops
    /// are compared, and [`Judgement::unrelated`] says so.
    ///
    /// # Errors
    /// [`JointError`] if the record describes no joint.
    ///
    /// ```
    /// use elbowroom::fit::{CompareOptions, FitOptions, Readings, fit_limits};
    /// use elbowroom::robot::{EntryRecord, Refit};
    /// use elbowroom::{JointRecord, ServoRecord, TimerRecord};
    /// let servo = ServoRecord { angle: [0.0, 180.0], pulse_us: [500.0, 2500.0] };
    /// let timer = TimerRecord { frame_hz: 50.0, counts_per_frame: 4096 };
    /// let wing = EntryRecord::new("wing_left", JointRecord::new([-40.0, 60.0], [37.0, 122.0], 10.0, servo, timer));
    /// // Invented: the horn sits one tooth of 25 further.
    /// let drive: Vec<f64> = (0..9).map(|i| 50.0 + 8.0 * f64::from(i)).collect();
    /// let measured: Vec<f64> = drive.iter().map(|d| (d - 14.4 - 37.0) / 0.85 - 40.0).collect();
    /// let fit = fit_limits(&Readings::new(&drive, &measured), &FitOptions::default())?;
    /// let judged = wing.judge(&Refit::new(&fit), &CompareOptions::default())?;
    /// assert!(judged.contradicts() && judged.contradicts_map());
    /// assert!((judged.offset.unwrap().value + 14.4).abs() < 0.01);
    /// assert_eq!((judged.teeth[0].horn, judged.teeth[0].teeth), (25, -1));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn judge(&self, refit: &Refit<'_>, options: &CompareOptions) -> Result<Judgement, JointError> {
        // In degrees of the readings' servo: the same pulses.
        let known = match refit.servo {
            Some(servo) if servo != self.joint.servo => in_degrees_of(self, servo)?,
            _ => self.clone(),
        };
        let joint = Joint::new(known.joint.clone())?;
        let smallest = options.smallest_drive;
        let relation = refit.relation(&known);
        let half = match (refit.limits.lost_motion, known.evidence.lost_motion) {
            (LostMotion::NotDeterminable { .. }, Some(lost)) => 0.5 * lost.value,
            _ => 0.0,
        };
        let mut judged = Judgement {
            unrelated: relation.is_none(),
            mistaken_unit: MistakenUnit::of(&known, refit, relation.as_ref()),
            offset: None,
            teeth: Vec::new(),
            slope: None,
            zero_moved: None,
            apart: None,
            reversed: false,
            stops: moved(&known, refit, smallest + half),
            sensor: None,
            is_shifted: false,
            map_differs: false,
            sensor_differs: false,
        };
        if let Some(relation) = relation {
            let is_even = judged.maps(&joint, refit, &relation, smallest + half);
            if is_even && judged.map_differs && !judged.reversed && judged.stops.is_empty() {
                judged.zero_moved = judged.zero(&known, refit, &relation, smallest + half);
            }
        }
        judged.feedback(&known, refit, smallest);
        Ok(judged)
    }
}

impl Judgement {
    /// Whether the readings contradict the file: writing only part of them would make the joint invalid.
    pub fn contradicts(&self) -> bool {
        self.map_differs || self.reversed || self.sensor_differs || !self.stops.is_empty()
    }

    /// Whether the joint's map is not that of the readings, wherever the stops are: then writing travel and evidence alone keeps a
    /// map that is wrong.
    pub fn contradicts_map(&self) -> bool {
        self.map_differs || self.reversed
    }

    /// Compares the maps; returns whether the offset is the same all over the readings, but for what is allowed and its uncertainty.
    fn maps(&mut self, joint: &Joint<f64>, refit: &Refit<'_>, relation: &Relation, allowed: f64) -> bool {
        let [own_lower, own_upper] = joint.drive_range().ends();
        let [lower, upper] = refit.stretch();
        // Where the file's drive range and the readings have nothing in common, the file's map goes on.
        let (lower, upper) = match (lower.max(own_lower), upper.min(own_upper)) {
            (from, to) if from < to => (from, to),
            _ => (lower, upper),
        };
        let at = |place: u32| lower + (upper - lower) * f64::from(place) / f64::from(PLACES);
        let in_file = |drive: f64| joint.command_from_drive(drive);
        let found = |drive: f64| relation.command(refit.measured(drive));
        let per_drive = (found(upper) - found(lower)) / (upper - lower);
        let file_per_drive = (in_file(upper) - in_file(lower)) / (upper - lower);
        if !per_drive.is_finite() || per_drive == 0.0 || file_per_drive == 0.0 {
            return false;
        }
        self.slope = Some([1.0 / file_per_drive, 1.0 / per_drive]);
        self.reversed = (per_drive > 0.0) != (file_per_drive > 0.0);
        let to_command = (relation.command(1.0) - relation.command(0.0)).abs();
        // Drive angle at which a command was measured, by a step of the readings' own slope: the maps are near there or differ anyway.
        let offset = |drive: f64| {
            let step = 0.5 * (upper - lower) / f64::from(PLACES);
            let slope = (found(drive + step) - found(drive - step)) / (2.0 * step);
            let slope = if slope.is_finite() && slope.signum() == per_drive.signum() && slope != 0.0 {
                slope
            } else {
                per_drive
            };
            let u = refit.u_measured(drive) * to_command / slope.abs();
            ((in_file(drive) - found(drive)) / slope, u)
        };
        let (value, u) = offset(0.5 * (lower + upper));
        self.offset = Some(Estimate { value: -value, u });
        self.is_shifted = value.abs() - COVERAGE * u > allowed;
        let (mut furthest, mut uneven): (f64, f64) = (-1.0, 0.0);
        let middle = value;
        for place in 0..=PLACES {
            let drive = at(place);
            let (value, u) = offset(drive);
            let beyond = value.abs() - COVERAGE * u;
            uneven = uneven.max((value - middle).abs() - COVERAGE * u);
            if value.is_finite() && beyond > furthest {
                furthest = beyond;
                self.apart = Some(Apart {
                    command: in_file(drive),
                    in_file: drive,
                    measured: drive + value,
                    expanded: COVERAGE * u,
                });
            }
        }
        self.map_differs = furthest > allowed;
        // A horn moves all commands alike.
        let is_even = uneven <= allowed;
        if self.map_differs && !self.reversed && is_even {
            self.teeth = splines(-value, allowed + COVERAGE * u);
        }
        is_even
    }

    /// The shift of the measured values, where the stops did not move with the line.
    fn zero(&self, known: &EntryRecord, refit: &Refit<'_>, relation: &Relation, allowed: f64) -> Option<ZeroMoved> {
        let offset = self.offset?;
        let ends = [
            (known.evidence.lower, &refit.limits.lower),
            (known.evidence.upper, &refit.limits.upper),
        ];
        let stayed = ends.into_iter().any(|(old, new)| {
            old.is_some_and(|old| {
                let contacts =
                    old.kind == EvidenceKind::Contact && EvidenceKind::from(new.kind) == EvidenceKind::Contact;
                let (moved, expanded) = (new.at - old.at, expanded_of(&old, new));
                // A joint that stands further meets its stop that much earlier.
                contacts && moved.abs() <= allowed + expanded && (moved + offset.value).abs() > allowed + expanded
            })
        });
        let [lower, upper] = refit.stretch();
        let per_drive = (refit.measured(upper) - refit.measured(lower)) / (upper - lower);
        let by = offset.value * per_drive;
        (stayed && by.is_finite()).then(|| ZeroMoved {
            by,
            u: offset.u * per_drive.abs(),
            at_commands: relation.measured.map(|measured| measured + by),
        })
    }

    fn feedback(&mut self, known: &EntryRecord, refit: &Refit<'_>, smallest: f64) {
        let (Some(fit), Some(record)) = (refit.feedback, &known.joint.feedback) else {
            return;
        };
        let (Ok(map), Ok(curve)) = (Feedback::new(record), fit.curve()) else {
            return;
        };
        let (Some([first, _]), Some([last, _])) = (fit.knots.first(), fit.knots.last()) else {
            return;
        };
        let off = |place: u32| {
            let reading = first + (last - first) * f64::from(place) / f64::from(PLACES);
            (map.angle(reading) - curve.at(reading)).abs()
        };
        let most = (0..=PLACES).map(off).fold(0.0, f64::max);
        self.sensor = Some(most);
        let u = fit.u.iter().copied().fold(0.0, f64::max);
        self.sensor_differs = most > smallest + COVERAGE * u;
    }

    /// What differs, a sentence each: the observation with its unit. Empty where the readings agree with the file.
    pub fn sentences(&self) -> Vec<String> {
        if let Some(mistaken) = &self.mistaken_unit {
            return std::vec![format!("{mistaken}")];
        }
        let mut all = Vec::new();
        if self.reversed {
            let [file, found] = self.slope.unwrap_or_default();
            let way = |slope: f64| if slope > 0.0 { "rise" } else { "fall" };
            all.push(format!(
                "commands {} with drive as measured, and {} in the file: the wires or the mounting are reversed, or the protractor was read in \
                 the other direction",
                way(found),
                way(file)
            ));
        }
        if let (true, Some(Estimate { value, u }), false) = (self.map_differs, self.offset, self.reversed) {
            let (teeth, than) = (&self.teeth, "in the file");
            let horn = Horn {
                shift: -value,
                u,
                teeth,
            };
            if let Some(moved) = self.zero_moved {
                let more = if moved.by < 0.0 { "lower" } else { "higher" };
                all.push(format!(
                    "the measured values are {} {more} than in the file (standard uncertainty {}), and the stops did not move: protractor or \
                     sensor were set elsewhere, or the joint was moved on a servo that meets stops of its own",
                    Rounded {
                        value: moved.by.abs(),
                        u: Some(moved.u)
                    },
                    Rounded {
                        value: moved.u,
                        u: Some(moved.u)
                    }
                ));
            } else if self.is_shifted {
                all.push(format!("{}, or adopt these readings", Offset { horn, than }));
            }
            if let Some([file, found]) = self.slope {
                let percent = format!("{:+}", Trimmed(100.0 * (found / file - 1.0), 1));
                let [file, found] = [file, found].map(|slope| format!("{}", Statistic(slope)));
                // What agrees to the digits shown contradicts nothing.
                if file != found {
                    all.push(format!(
                        "slope: {found} deg of drive per command measured, {file} in the file ({percent} %): another range of the servo, another \
                         horn or linkage"
                    ));
                }
            }
            if let (Some(apart), None) = (self.apart, self.zero_moved) {
                all.push(format!(
                    "furthest apart: command {} measured at {} deg of drive, in the file {} deg",
                    Statistic(apart.command),
                    apart.rounded(apart.measured),
                    apart.rounded(apart.in_file)
                ));
            }
        }
        for stop in &self.stops {
            let word = |kind| match kind {
                EvidenceKind::Contact => "contact",
                EvidenceKind::Stalled => "stalled beyond",
                EvidenceKind::Clear => "clear to",
                EvidenceKind::Declared => "declared",
            };
            all.push(format!(
                "{} stop: {} {} deg measured, {} {} deg in the file",
                stop.side.as_str(),
                word(stop.is),
                Rounded {
                    value: stop.measured,
                    u: stop.u
                },
                word(stop.was),
                Rounded {
                    value: stop.in_file,
                    u: stop.u_in_file
                }
            ));
        }
        if let (true, Some(sensor)) = (self.sensor_differs, self.sensor) {
            all.push(format!(
                "sensor: up to {} deg of the joint off its map in the file",
                Statistic(sensor)
            ));
        }
        all
    }
}

/// The stops that are elsewhere than the file's evidence has them.
fn moved(known: &EntryRecord, refit: &Refit<'_>, allowed: f64) -> Vec<StopMoved> {
    let ends = [
        (Side::Lower, known.evidence.lower, &refit.limits.lower),
        (Side::Upper, known.evidence.upper, &refit.limits.upper),
    ];
    ends.into_iter()
        .filter_map(|(side, old, new)| stop_moved(side, old?, new, allowed))
        .collect()
}

/// Expanded uncertainty of the difference of two ends.
fn expanded_of(old: &EndEvidence, new: &End) -> f64 {
    COVERAGE * crate::math::hypot(old.u.unwrap_or(0.0), new.u.unwrap_or(0.0))
}

fn stop_moved(side: Side, old: EndEvidence, new: &End, allowed: f64) -> Option<StopMoved> {
    let allowed = allowed + expanded_of(&old, new);
    // Outward, whichever end it is: the joint is held nowhere before the first, and surely behind the second.
    let bounds = |kind, at: f64, short_at: Option<f64>| match (kind, short_at) {
        (EvidenceKind::Contact, _) => [side.sign() * at; 2],
        (EvidenceKind::Stalled, Some(short_at)) => [side.sign() * at, side.sign() * short_at],
        (EvidenceKind::Stalled | EvidenceKind::Clear, _) => [side.sign() * at, f64::INFINITY],
        (EvidenceKind::Declared, _) => [f64::NEG_INFINITY, f64::INFINITY],
    };
    let [free_before, held_before] = bounds(old.kind, old.at, old.short_at);
    let [free, held] = bounds(new.kind.into(), new.at, new.short_at);
    // Past the stop of the file nothing was met, or something stands in what was clear.
    let differs = free > held_before + allowed || held < free_before - allowed;
    differs.then_some(StopMoved {
        side,
        in_file: old.at,
        u_in_file: old.u,
        measured: new.at,
        u: new.u,
        was: old.kind,
        is: new.kind.into(),
    })
}
