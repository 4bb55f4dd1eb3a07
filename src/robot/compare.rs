//! What differs between two robot files: before and after a repair, the one that runs and the one in hand.

use std::borrow::ToOwned;
use std::format;
use std::string::{String, ToString};
use std::vec::Vec;

use super::check::Severity;
use super::entry::{EntryRecord, JointEntry};
use super::evidence::{EndEvidence, Evidence};
use super::{Robot, Rule};
use crate::feedback::FeedbackRecord;
use crate::fit::{CompareOptions, ERROR_RATE, FitError, detectable, holm, normal_two_sided};
use crate::linkage::Branch;
use crate::record::JointRecord;
use crate::transmission::TransmissionRecord;

/// Coverage factor of the expanded uncertainties in E_n: about 95 % (ISO 13528:2022, 9.7; robot files keep no degrees of
/// freedom that would ask for more).
const COVERAGE_FACTOR: f64 = 2.0;

/// A value as a robot file states it, defaults included.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(untagged))]
#[non_exhaustive]
pub enum Stated {
    /// A number.
    Number(f64),
    /// A word, a name, a day.
    Word(String),
}

impl core::fmt::Display for Stated {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Number(number) => write!(f, "{number}"),
            Self::Word(word) => f.write_str(word),
        }
    }
}

/// How two differing values stand to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "serde", derive(serde::Serialize), serde(rename_all = "kebab-case"))]
pub enum Agreement {
    /// They differ, and where their uncertainties are known significantly and by no less than matters.
    Changed,
    /// Both were measured, and they differ significantly, but by less than matters.
    Negligible,
    /// Both were measured, and their difference is not significant.
    WithinUncertainty,
    /// The difference says nothing of the joint: a later day, another number of readings.
    Noted,
}

impl Agreement {
    /// `changed`, `negligible`, `within-uncertainty` or `noted`.
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Changed => "changed",
            Self::Negligible => "negligible",
            Self::WithinUncertainty => "within-uncertainty",
            Self::Noted => "noted",
        }
    }
}

/// One value that differs.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct Difference {
    /// Which value, by the words of robot files: `travel upper`, `evidence lower at`.
    pub what: String,
    /// What the old file states; absent if nothing.
    pub old: Option<Stated>,
    /// What the new file states.
    pub new: Option<Stated>,
    /// New less old, where both are numbers.
    pub change: Option<f64>,
    /// Standard uncertainty of that, where both values have one.
    pub u: Option<f64>,
    /// Normalised error of ISO 13528, `change / √(U_old² + U_new²)` with `U = 2 u`, where there is a `u`.
    pub e_n: Option<f64>,
    /// Probability of a change at least as large by chance, of this value alone (normal distribution).
    pub p: Option<f64>,
    /// The same for both files as a whole, by Holm's procedure: below 0.05 the change is significant.
    pub p_adjusted: Option<f64>,
    /// The change that these two files show with a probability of about 90 %.
    pub detectable: Option<f64>,
    /// What to make of it.
    pub agreement: Agreement,
}

/// All that differs in one joint.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct JointDifferences {
    /// Its name.
    pub joint: String,
    /// Whether servo line and drive range both differ. The drive angles of the old file (drive range, travel, contacts, lost motion, knots) are then in
    /// degrees of the new line at the same pulses, as [`EntryRecord::change_servo`] writes them.
    pub servo_differs: bool,
    /// The values, in the order of a robot file; never empty.
    pub differences: Vec<Difference>,
}

/// All that differs between two robots.
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[non_exhaustive]
pub struct RobotComparison {
    /// Joints that only the new file has, in its order.
    pub added: Vec<String>,
    /// Joints that only the old file has, in its order.
    pub removed: Vec<String>,
    /// Old and new name of each joint that went and each that came, where they agree in all values but `mirror_of`, so that it may be one
    /// with another name.
    pub renamed: Vec<(String, String)>,
    /// Joints of both files that differ, in the order of the new one.
    pub joints: Vec<JointDifferences>,
    /// What differs of the robot as a whole: name, boards, how it is checked.
    pub robot: Vec<Difference>,
    /// Joints of both files that differ in nothing.
    pub same: usize,
}

impl RobotComparison {
    /// Whether something counts: a joint came or went, a stated value is another, or a measured one changed significantly and
    /// by no less than matters.
    pub fn is_changed(&self) -> bool {
        let changed = |difference: &Difference| difference.agreement == Agreement::Changed;
        !self.added.is_empty()
            || !self.removed.is_empty()
            || self.robot.iter().any(changed)
            || self.joints.iter().any(|joint| joint.differences.iter().any(changed))
    }
}

/// Compares an earlier with a later robot, joint by joint by name.
///
/// Compared is what the files mean, not how they are written: defaults count as if they stood in each joint, comments and
/// order do not count.
///
/// Contacts and lost motion with an uncertainty in both files are judged by their differences' probabilities, adjusted by
/// Holm's procedure (Scandinavian Journal of Statistics 6 (1979) 65) over all of both files: of unchanged robots that were measured
/// again at most one in twenty is reported as changed in one of its joints, however many it has. What was not measured again is
/// stated alike and does not count. What is significant and smaller than matters is
/// [`Agreement::Negligible`]. Robot files keep no degrees of freedom, so the distribution is the normal one. E_n
/// (ISO 13528:2022, 9.7) is given beside it and decides nothing.
///
/// *Unit*: differences of contacts and lost motion in drive angle, as [`CompareOptions::smallest_drive`].
///
/// *Errors*: [`FitError::OptionOutside`] for an option below 0, above 1e100 or NaN.
///
/// ```
/// use elbowroom::fit::CompareOptions;
/// use elbowroom::robot::{Agreement, Robot, compare};
/// let text = r#"
/// format = 1
/// timer = { frame_hz = 50, counts_per_frame = 4096 }
/// servo = { angle = [0, 180], pulse_us = [500, 2500] }
/// [joint.wing_left]
/// command = [-40, 60]
/// drive = [37, 122]
/// rest = 10
/// [joint.wing_left.evidence]
/// upper = { kind = "contact", at = 121.4, u = 0.3 }
/// "#;
/// let old = Robot::parse(text)?;
/// let new = Robot::parse(&text.replace("121.4", "121.7").replace("rest = 10", "rest = 0"))?;
/// let found = compare(&old, &new, &CompareOptions::default())?;
/// let [rest, upper] = &found.joints[0].differences[..] else { unreachable!() };
/// assert_eq!((rest.what.as_str(), rest.change, rest.agreement), ("rest", Some(-10.0), Agreement::Changed));
/// assert!(found.is_changed() && rest.agreement.as_str() == "changed");
/// assert_eq!(upper.agreement, Agreement::WithinUncertainty); // 0.3 deg with u 0.42: p is 0.48
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compare(old: &Robot, new: &Robot, options: &CompareOptions) -> Result<RobotComparison, FitError> {
    options.check()?;
    let missing_in = |other: &Robot, robot: &Robot| {
        let names = robot.joints().iter().map(JointEntry::name);
        names
            .filter(|name| other.joint(name).is_none())
            .map(ToOwned::to_owned)
            .collect()
    };
    let (added, removed): (Vec<String>, Vec<String>) = (missing_in(old, new), missing_in(new, old));
    let mut found = RobotComparison {
        renamed: renamed([old, new], [&removed, &added]),
        added,
        removed,
        robot: differences(whole(old), whole(new)),
        ..RobotComparison::default()
    };
    for entry in new.joints() {
        let Some(before) = old.joint(entry.name()) else {
            continue;
        };
        let (before, after) = (before.record(), entry.record());
        // Where the degrees stayed as they are written, the line alone was corrected, and that is the difference.
        let servo_differs = before.joint.servo != after.joint.servo && before.joint.drive != after.joint.drive;
        let before = if servo_differs {
            at_pulses_of(before, &after)
        } else {
            before
        };
        let differences = differences(of_joint(&before), of_joint(&after));
        if differences.is_empty() {
            found.same += 1;
        } else {
            found.joints.push(JointDifferences {
                joint: entry.name().to_owned(),
                servo_differs,
                differences,
            });
        }
    }
    judge(&mut found, options.smallest_drive);
    Ok(found)
}

/// Judges all values that were measured twice together.
fn judge(found: &mut RobotComparison, smallest: f64) {
    let of_joints = found.joints.iter_mut().flat_map(|joint| joint.differences.iter_mut());
    let mut measured: Vec<(&mut Difference, f64, f64)> = of_joints
        .filter_map(|difference| match (difference.change, difference.u) {
            // Two values without any uncertainty that differ: no number says how much, but they differ.
            (Some(change), Some(u)) if u > 0.0 => Some((difference, change, u)),
            _ => None,
        })
        .collect();
    let each: Vec<Option<f64>> = measured
        .iter()
        .map(|(_, change, u)| Some(normal_two_sided(change / u)))
        .collect();
    let (count, adjusted) = (each.len(), holm(&each));
    for ((difference, change, u), (p, p_adjusted)) in measured.iter_mut().zip(each.into_iter().zip(adjusted)) {
        difference.e_n = Some(*change / (COVERAGE_FACTOR * *u));
        (difference.p, difference.p_adjusted) = (p, p_adjusted);
        difference.detectable = Some(detectable(*u, f64::INFINITY, count, smallest));
        difference.agreement = match p_adjusted.is_some_and(|p| p < ERROR_RATE) {
            false => Agreement::WithinUncertainty,
            true if change.abs() < smallest => Agreement::Negligible,
            true => Agreement::Changed,
        };
    }
}

/// One value of a file.
struct Statement {
    what: String,
    value: Stated,
    u: Option<f64>,
    /// A difference says nothing of the joint.
    aside: bool,
}

/// The values of a joint or robot, in the order of a file.
#[derive(Default)]
struct Statements(Vec<Statement>);

impl Statements {
    fn push(&mut self, what: impl Into<String>, value: Stated) {
        self.0.push(Statement {
            what: what.into(),
            value,
            u: None,
            aside: false,
        });
    }

    fn number(&mut self, what: impl Into<String>, number: Option<f64>) {
        if let Some(number) = number {
            self.push(what, Stated::Number(number));
        }
    }

    fn pair(&mut self, what: &str, [lower, upper]: [f64; 2]) {
        self.push(format!("{what} lower"), Stated::Number(lower));
        self.push(format!("{what} upper"), Stated::Number(upper));
    }

    fn word(&mut self, what: impl Into<String>, word: Option<&str>) {
        if let Some(word) = word {
            self.push(what, Stated::Word(word.to_owned()));
        }
    }

    fn flag(&mut self, what: &str, flag: bool) {
        self.word(what, Some(if flag { "true" } else { "false" }));
    }

    fn measured(&mut self, what: impl Into<String>, value: f64, u: Option<f64>) {
        self.0.push(Statement {
            what: what.into(),
            value: Stated::Number(value),
            u,
            aside: false,
        });
    }

    fn aside(&mut self, what: &str, value: Option<Stated>) {
        self.0.extend(value.map(|value| Statement {
            what: what.to_owned(),
            value,
            u: None,
            aside: true,
        }));
    }

    fn knots(&mut self, what: &str, knots: &[[f64; 2]]) {
        for (index, [from, to]) in knots.iter().enumerate() {
            self.word(format!("{what} knot {}", index + 1), Some(&format!("{from}, {to}")));
        }
    }
}

fn of_joint(record: &EntryRecord) -> Statements {
    let mut all = Statements::default();
    all.word("board", record.board.as_deref());
    all.number("channel", record.channel.map(f64::from));
    all.word("unit", record.unit.as_deref());
    all.word("mirror_of", record.mirror_of.as_deref());
    numbers(&mut all, &record.joint);
    evidence(&mut all, &record.evidence);
    all
}

/// An earlier joint with its drive angles in degrees of a later servo line, at the pulses that it had; its servo line stays.
fn at_pulses_of(mut before: EntryRecord, after: &EntryRecord) -> EntryRecord {
    let servo = before.joint.servo;
    // Both lines stand in a joint, so both are valid.
    let _ = before.change_servo(after.joint.servo);
    before.joint.servo = servo;
    before
}

/// The joints that went and came with the same values, where that says which is which.
fn renamed([old, new]: [&Robot; 2], [removed, added]: [&[String]; 2]) -> Vec<(String, String)> {
    let without_names = |robot: &Robot, name: &String| {
        let mut record = robot.joint(name)?.record();
        record.mirror_of = None;
        Some(of_joint(&record).0)
    };
    let is_alike = |from: &String, to: &String| match (without_names(old, from), without_names(new, to)) {
        (Some(from), Some(to)) => {
            from.len() == to.len()
                && from
                    .iter()
                    .zip(&to)
                    .all(|(a, b)| a.what == b.what && a.value == b.value)
        }
        _ => false,
    };
    let only = |mut alike: std::vec::IntoIter<String>| alike.next().filter(|_| alike.next().is_none());
    let came = |from: &String| {
        let alike: Vec<String> = added.iter().filter(|to| is_alike(from, to)).cloned().collect();
        only(alike.into_iter())
    };
    let went = |to: &String| {
        let alike: Vec<String> = removed.iter().filter(|from| is_alike(from, to)).cloned().collect();
        only(alike.into_iter())
    };
    let pair = |from: &String| {
        let to = came(from)?;
        went(&to).map(|from| (from, to))
    };
    removed.iter().filter_map(pair).collect()
}

fn numbers(all: &mut Statements, joint: &JointRecord<f64>) {
    all.pair("command", joint.command);
    all.pair("drive", joint.drive);
    all.flag("inverted", joint.inverted);
    all.pair("travel", joint.travel.unwrap_or(joint.drive));
    all.number("rest", Some(joint.rest));
    all.number("max_rate_per_s", joint.max_rate_per_s);
    all.pair("servo angle", joint.servo.angle);
    all.pair("servo pulse_us", joint.servo.pulse_us);
    all.number("timer frame_hz", Some(joint.timer.frame_hz));
    all.number("timer counts_per_frame", Some(f64::from(joint.timer.counts_per_frame)));
    if let Some(map) = &joint.feedback {
        feedback(all, map);
    }
    all.word("transmission", Some(joint.transmission.kind()));
    if let TransmissionRecord::Curve { knots, rule } = &joint.transmission {
        all.knots("transmission", knots);
        all.word("transmission rule", Some(rule.as_str()));
    }
    if let Some(mechanism) = joint.transmission.mechanism() {
        for (key, size) in mechanism.numbers() {
            all.number(format!("transmission {key}"), Some(size));
        }
        all.word("transmission branch", mechanism.branch().map(Branch::as_str));
    }
}

fn feedback(all: &mut Statements, map: &FeedbackRecord<f64>) {
    all.pair("feedback reading", map.reading);
    all.pair("feedback angle", map.angle);
    all.flag("feedback inverted", map.inverted);
    all.number("feedback adc_bits", map.adc_bits.map(f64::from));
    all.number("feedback wrap_deg", map.wrap_deg);
    all.number("feedback pot_ohm", map.pot_ohm);
    all.number("feedback load_ohm", map.load_ohm);
    all.number("feedback supply_v", map.supply_v);
    all.knots("feedback", map.knots.as_deref().unwrap_or_default());
}

fn evidence(all: &mut Statements, evidence: &Evidence) {
    all.aside(
        "evidence date",
        evidence.date.map(|date| Stated::Word(date.to_string())),
    );
    all.word("evidence sense", evidence.sense.map(|sense| sense.as_str()));
    all.aside(
        "evidence sense_date",
        evidence.sense_date.map(|date| Stated::Word(date.to_string())),
    );
    let mut end = |side: &str, end: Option<EndEvidence>| {
        let Some(end) = end else { return };
        all.word(format!("evidence {side} kind"), Some(end.kind.as_str()));
        all.measured(format!("evidence {side} at"), end.at, end.u);
        all.number(format!("evidence {side} short_at"), end.short_at);
        all.number(format!("evidence {side} guard"), end.guard);
    };
    end("lower", evidence.lower);
    end("upper", evidence.upper);
    all.number("evidence map_off", evidence.map_off);
    if let Some(lost) = evidence.lost_motion {
        all.measured("evidence lost_motion", lost.value, lost.u);
    }
    let readings = evidence.readings.map(|n| Stated::Number(f64::from(n)));
    all.aside("evidence readings", readings);
    let source = evidence.source.as_ref().map(|source| Stated::Word(source.file.clone()));
    all.aside("evidence source", source);
}

/// What a file says of the robot as a whole and counts beyond its joints. The default servo and timer count in each joint.
fn whole(robot: &Robot) -> Statements {
    let mut all = Statements::default();
    all.word("name", robot.name());
    for board in robot.boards() {
        all.number(
            format!("board {} channels", board.name()),
            board.channels().map(f64::from),
        );
    }
    let settings = robot.settings();
    all.number("check guard", Some(settings.guard));
    all.number("check coarse_step", Some(settings.coarse_step));
    all.number("check stale_after_days", Some(f64::from(settings.stale_after_days)));
    all.number("check fewest_readings", Some(f64::from(settings.fewest_readings)));
    all.number("check lost_motion", Some(settings.lost_motion));
    all.pair("check pulse_us", settings.pulse_us);
    all.number("check drive_per_s", Some(settings.drive_per_s));
    all.number("check clamped_share", Some(settings.clamped_share));
    all.number("check mirror_tolerance", Some(settings.mirror_tolerance));
    let raised = |&(rule, severity): &(Rule, Severity)| (format!("check raise {}", rule.name()), severity.as_str());
    for (what, word) in settings.raised.iter().map(raised) {
        all.word(what, Some(word));
    }
    for waiver in &settings.waivers {
        let of = waiver.joint.as_deref().unwrap_or("every joint");
        all.word(
            format!("check waive {} of {of}", waiver.rule.name()),
            Some(&waiver.reason),
        );
    }
    all
}

fn differences(old: Statements, new: Statements) -> Vec<Difference> {
    let (mut old, mut found) = (old.0, Vec::new());
    for after in new.0 {
        let place = old.iter().position(|before| before.what == after.what);
        let before = place.map(|place| old.remove(place));
        if before.as_ref().is_none_or(|before| before.value != after.value) {
            found.push(difference(before, Some(after)));
        }
    }
    // What only the old file states comes last.
    found.extend(old.into_iter().map(|before| difference(Some(before), None)));
    found
}

fn difference(old: Option<Statement>, new: Option<Statement>) -> Difference {
    let change = match (&old, &new) {
        (Some(old), Some(new)) => match (&old.value, &new.value) {
            (Stated::Number(old), Stated::Number(new)) => Some(new - old),
            _ => None,
        },
        _ => None,
    };
    let u_of = |statement: &Option<Statement>| statement.as_ref().and_then(|statement| statement.u);
    let u = match (u_of(&old), u_of(&new)) {
        (Some(old), Some(new)) => Some((old * old + new * new).sqrt()),
        _ => None,
    };
    let aside = [&old, &new].into_iter().flatten().any(|statement| statement.aside);
    let what = [&new, &old].into_iter().flatten().next();
    Difference {
        what: what.map_or(String::new(), |statement| statement.what.clone()),
        old: old.map(|statement| statement.value),
        new: new.map(|statement| statement.value),
        change,
        u: change.and(u),
        e_n: None,
        p: None,
        p_adjusted: None,
        detectable: None,
        // What was measured twice is judged later, all of it together.
        agreement: if aside { Agreement::Noted } else { Agreement::Changed },
    }
}
