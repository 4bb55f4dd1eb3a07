//! The rules that need one joint only.

use std::borrow::ToOwned;
use std::format;
use std::string::String;

use super::narrower::narrower;
use super::rule::Rule;
use super::sink::{Sink, short};
use crate::bring_up::LoopSense;
use crate::feedback::Feedback;
use crate::fit::ManyTurns;
use crate::look::Trimmed;
use crate::robot::bring_in::unit_named;
use crate::robot::date::Date;
use crate::robot::entry::{JointEntry, travel_in_commands};
use crate::robot::evidence::{EndEvidence, EvidenceKind};
use crate::robot::near::nearest;
use crate::robot::set::shell_word;
use crate::unit::{SiUnit, Unit};

/// One end of the travel with its evidence, seen so that both ends obey the same rules.
struct End {
    word: &'static str,
    /// +1 where larger drive angles lie outside.
    outward: f64,
    travel: f64,
    evidence: Option<EndEvidence>,
}

impl End {
    /// How far the travel stays inside the evidence; negative if it goes past.
    fn margin(&self, evidence: &EndEvidence) -> f64 {
        (evidence.at - self.travel) * self.outward
    }
}

fn ends(entry: &JointEntry) -> [End; 2] {
    let (travel, evidence) = (entry.joint().travel(), entry.evidence());
    [
        End {
            word: "lower",
            outward: -1.0,
            travel: travel.lower(),
            evidence: evidence.lower,
        },
        End {
            word: "upper",
            outward: 1.0,
            travel: travel.upper(),
            evidence: evidence.upper,
        },
    ]
}

pub(super) fn rules(entry: &JointEntry, today: Option<Date>, sink: &mut Sink<'_>) {
    rest(entry, sink);
    for end in ends(entry) {
        limit(entry, &end, sink);
    }
    evidence(entry, sink);
    if let Some(today) = today {
        age(entry, today, sink);
    }
    unit(entry, sink);
    commands_as_angles(entry, sink);
    feedback(entry, sink);
    motion(entry, sink);
    pulses(entry, sink);
}

fn unit(entry: &JointEntry, sink: &mut Sink<'_>) {
    let Some(word) = entry.unit().filter(|word| Unit::of(word).is_none()) else {
        return;
    };
    let known = || Unit::ALL.iter().map(|unit| unit.word());
    let all = known().collect::<std::vec::Vec<_>>().join(", ");
    let hint = match unit_named(word) {
        Err(ambiguous) => format!("{ambiguous}"),
        Ok(named) => {
            let meant = Unit::of(&named).map(Unit::word);
            let near = meant.or_else(|| nearest(word, known()).and_then(|(near, is_near)| is_near.then_some(near)));
            near.map_or_else(
                || format!("write one of {all}; or waive this, if it is a unit of your own"),
                |near| format!("write unit = \"{near}\" (known: {all})"),
            )
        }
    };
    sink.joint(
        Rule::UnitUnknown,
        entry,
        format!("unit \"{word}\" is not a known word: its commands have no factor to SI"),
        hint,
    );
}

/// How far the span of the feedback's angles may be from that of the commands, in parts of it: a protractor and a worn pivot together
/// err by less.
const SPAN_TOLERANCE: f64 = 0.05;

/// Commands that are angles, against the sensor's angles and against what joints do: one fault, one finding.
fn commands_as_angles(entry: &JointEntry, sink: &mut Sink<'_>) {
    let joint = entry.joint();
    let unit = entry.unit().and_then(Unit::of);
    let Some(unit) = unit.filter(|unit| unit.si() == SiUnit::Radian) else {
        return;
    };
    let command = joint.command_range();
    let span = command.upper() - command.lower();
    let in_deg = |unit: Unit, value: f64| value * (unit.to_si() / Unit::Deg.to_si());
    let is_alike = |angles: f64, commands: f64| (angles - commands).abs() <= SPAN_TOLERANCE * commands;
    let turned = in_deg(unit, span);
    let other = |is_meant: &dyn Fn(Unit) -> bool| {
        let angles = Unit::ALL.iter().copied().filter(|other| other.si() == SiUnit::Radian);
        angles.filter(|other| *other != unit).find(|other| is_meant(*other))
    };
    let shown = if unit == Unit::Deg {
        format!("{} deg", short(turned))
    } else {
        format!("{} {}, which is {} deg", short(span), unit.word(), short(turned))
    };
    // The commands of a slide are lengths, whatever word the file has for them.
    let is_slide = joint.transmission().kind() == "slider-crank";
    if let Some(feedback) = joint.feedback().filter(|_| !is_slide) {
        let [lower, upper] = feedback.record().angle;
        let angles = upper - lower;
        if !is_alike(angles, turned) {
            let meant = other(&|other| is_alike(angles, in_deg(other, span)));
            let ends = [command.lower(), command.upper()].map(|end| in_deg(unit, end));
            sink.joint(
                Rule::FeedbackSpanMismatch,
                entry,
                format!(
                    "feedback.angle spans {} deg and command {shown}, more than {} % apart: the ends of feedback.angle are taken for the \
                     ends of command, so readings give wrong commands",
                    short(angles),
                    short(100.0 * SPAN_TOLERANCE)
                ),
                match meant {
                    Some(meant) => format!("write unit = \"{}\"", meant.word()),
                    None => format!(
                        "write into feedback the joint angles at the ends of command and the readings there; if commands are joint angles, \
                         angle = [{}, {}] and the readings at these angles",
                        short(ends[0]),
                        short(ends[1])
                    ),
                },
            );
            return;
        }
    }
    if let Some(many) = ManyTurns::of_span(span, unit.word()) {
        let meant = many.looks_like;
        sink.joint(
            Rule::UnitUnlikely,
            entry,
            format!("command spans {shown}: more than two turns"),
            match meant {
                Some(meant) => format!(
                    "write unit = \"{}\" if the commands are in it; or waive this, if the joint makes so many turns",
                    meant.word()
                ),
                None => "correct command or unit; or waive this, if the joint makes so many turns".to_owned(),
            },
        );
    }
}

fn rest(entry: &JointEntry, sink: &mut Sink<'_>) {
    let joint = entry.joint();
    let Ok(rest) = joint.drive(joint.rest()) else {
        return;
    };
    if rest.clamped.travel {
        let wanted = joint.transmission().drive(joint.rest());
        let travel = joint.travel();
        let (low, high) = travel_in_commands(joint);
        sink.joint(
            Rule::RestOutsideTravel,
            entry,
            format!(
                "rest {} is drive {} deg, outside travel {} to {} deg",
                joint.rest(),
                short(wanted),
                travel.lower(),
                travel.upper()
            ),
            format!("choose a rest between {} and {}", short(low), short(high)),
        );
    }
}

fn limit(entry: &JointEntry, end: &End, sink: &mut Sink<'_>) {
    let word = end.word;
    let Some(evidence) = end.evidence else {
        sink.joint(
            Rule::LimitUnproven,
            entry,
            format!("nothing proves travel {word} {} deg", end.travel),
            sink.shell.measure(entry),
        );
        return;
    };
    let margin = end.margin(&evidence);
    match evidence.kind {
        EvidenceKind::Contact => contact(entry, end, &evidence, margin, sink),
        EvidenceKind::Stalled | EvidenceKind::Clear | EvidenceKind::Declared if margin < 0.0 => {
            let known = match evidence.kind {
                EvidenceKind::Declared => "declared",
                _ => "clear",
            };
            sink.joint(
                Rule::TravelBeyondClear,
                entry,
                format!(
                    "travel {word} {} deg goes {} deg past the {} deg that were {known}",
                    end.travel,
                    short(-margin),
                    evidence.at
                ),
                format!("set travel {word} to {} or take readings further out", evidence.at),
            );
        }
        // Only where the evidence asks for a guard: the last reading that follows is itself clear.
        EvidenceKind::Stalled => guard_kept(entry, end, &evidence, evidence.guard.unwrap_or(0.0), margin, sink),
        _ => {}
    }
    if let Some(short_at) = evidence.short_at {
        let side = if end.outward > 0.0 { "below" } else { "above" };
        let (low, high) = (evidence.at.min(short_at), evidence.at.max(short_at));
        sink.joint(
            Rule::StopNotPlaced,
            entry,
            format!("the joint stalled between {low} and {high} deg at its {word} end: something holds it there"),
            format!("take readings between {low} and {high} deg from {side} to place the stop, and fit again"),
        );
    }
    if evidence.kind == EvidenceKind::Declared {
        sink.joint(
            Rule::LimitOnlyDeclared,
            entry,
            format!("travel {word} {} deg rests on a declaration", end.travel),
            sink.shell.measure(entry),
        );
    }
}

/// A margin is a difference of decimals: an exact guard may come out one rounding short.
fn rounding(at: f64) -> f64 {
    1e-9 * (1.0 + at.abs())
}

fn guard_kept(entry: &JointEntry, end: &End, evidence: &EndEvidence, guard: f64, margin: f64, sink: &mut Sink<'_>) {
    let (word, travel, at) = (end.word, end.travel, evidence.at);
    if margin + rounding(at) >= guard {
        return;
    }
    let what = match evidence.kind {
        EvidenceKind::Contact => "contact",
        _ => "last clear reading",
    };
    sink.joint(
        Rule::GuardTooThin,
        entry,
        format!(
            "travel {word} {travel} deg keeps {} deg from the {what} at {at} deg, not {guard}",
            short(margin)
        ),
        format!("set travel {word} to {}", short(at - end.outward * guard)),
    );
}

fn contact(entry: &JointEntry, end: &End, evidence: &EndEvidence, margin: f64, sink: &mut Sink<'_>) {
    let (word, travel, at) = (end.word, end.travel, evidence.at);
    let guard = evidence.guard.unwrap_or(sink.settings.guard);
    let safe = short(at - end.outward * guard);
    if margin < 0.0 {
        sink.joint(
            Rule::TravelBeyondContact,
            entry,
            format!(
                "travel {word} {travel} deg lies {} deg beyond the contact at {at} deg",
                short(-margin)
            ),
            format!("set travel {word} to {safe}"),
        );
        return;
    }
    guard_kept(entry, end, evidence, guard, margin, sink);
    let rounding = rounding(at);
    match evidence.u {
        None => sink.joint(
            Rule::ContactWithoutUncertainty,
            entry,
            format!("the contact at {at} deg ({word}) has no standard uncertainty"),
            format!("fit readings again, or give evidence.{word}.u"),
        ),
        Some(u) if margin + rounding < 2.0 * u => sink.joint(
            Rule::GuardWithinUncertainty,
            entry,
            format!(
                "travel {word} keeps {} deg from a contact known to ±{} deg (twice its standard uncertainty)",
                short(margin),
                short(2.0 * u)
            ),
            "take more readings near the stop, or increase the guard margin",
        ),
        Some(_) => {}
    }
    if let Some(lost) = entry.evidence().lost_motion
        && margin + rounding < lost.value / 2.0
    {
        sink.joint(
            Rule::LostMotionBeyondGuard,
            entry,
            format!(
                "half of {} deg lost motion is more than the {} deg kept at the {word} contact",
                lost.value,
                short(margin)
            ),
            "remove the play from joint and linkage, or increase the guard margin",
        );
    }
}

fn evidence(entry: &JointEntry, sink: &mut Sink<'_>) {
    if entry.evidence().is_rehearsed() {
        sink.joint(
            Rule::EvidenceRehearsed,
            entry,
            "its evidence was written by a rehearsal".to_owned(),
            "bring the joint itself up, or take readings of it",
        );
    }
    let evidence = entry.evidence();
    if let Some(off) = evidence.map_off.filter(|off| *off != 0.0) {
        let date = evidence.date.map_or(String::new(), |date| format!(" of {date}"));
        sink.joint(
            Rule::MapContradicted,
            entry,
            format!(
                "its map was kept against the readings{date}, which put a command up to {} deg of drive elsewhere",
                Trimmed(off.abs(), 2)
            ),
            "fit these readings once more with --adopt, or repair the joint and take new readings that agree",
        );
    }
    if let (Some(lower), Some(upper)) = (evidence.lower, evidence.upper)
        && lower.at >= upper.at
    {
        sink.joint(
            Rule::ContactsCrossed,
            entry,
            format!(
                "evidence lower at {} deg is not below upper at {} deg",
                lower.at, upper.at
            ),
            "lower is the end at small drive angles; exchange them or measure again",
        );
    }
    match evidence.sense {
        Some(LoopSense::Aiding) => sink.joint(
            Rule::SenseAiding,
            entry,
            "the feedback aids an error: a closed loop runs away".into(),
            "take the load off, swap the sensor's outer wires, and test the sense again",
        ),
        Some(LoopSense::Undetermined) => sink.joint(
            Rule::SenseUnproven,
            entry,
            "the sense test ended undetermined".into(),
            "repeat it with the drive unloaded and a larger move",
        ),
        Some(LoopSense::Opposing) | None => {}
    }
    if let Some(lost) = evidence.lost_motion
        && lost.value > sink.settings.lost_motion
    {
        let most = sink.settings.lost_motion;
        sink.joint(
            Rule::LostMotionLarge,
            entry,
            format!("lost motion is {} deg of drive, more than {most}", lost.value),
            "look for a loose horn, worn gear or slack tendon",
        );
    }
    if let Some(readings) = evidence.readings
        && readings < sink.settings.fewest_readings
    {
        let fewest = sink.settings.fewest_readings;
        sink.joint(
            Rule::ReadingsFew,
            entry,
            format!("the evidence rests on {readings} readings, fewer than {fewest}"),
            format!("take at least {} more", fewest.saturating_sub(readings)),
        );
    }
    if !evidence.is_empty() && evidence.date.is_none() {
        sink.joint(
            Rule::EvidenceUndated,
            entry,
            "the evidence has no date".into(),
            "write date = YYYY-MM-DD, the day the readings were taken",
        );
    }
}

fn feedback(entry: &JointEntry, sink: &mut Sink<'_>) {
    let joint = entry.joint();
    let Some(feedback) = joint.feedback() else {
        return;
    };
    if entry.evidence().sense.is_none() {
        let opposing = format!("sense {} opposing", shell_word(entry.name()));
        let hint = format!(
            "take the load off and test it; where it opposes an error, write that: {}",
            sink.shell.edit(&opposing)
        );
        sink.joint(
            Rule::SenseUnproven,
            entry,
            "the sense of the feedback is not tested".into(),
            hint,
        );
    }
    converter(entry, feedback, sink);
}

/// What the sensor's converter cannot tell: positions past its numbers, and broken wires that read as positions.
fn converter(entry: &JointEntry, feedback: &Feedback<f64>, sink: &mut Sink<'_>) {
    let (Some(bits), Some([least, most]), Some([low, high])) =
        (feedback.adc_bits(), feedback.converter_range(), feedback.rails())
    else {
        return;
    };
    let joint = entry.joint();
    let (travel, map) = (joint.travel(), feedback.reading_range());
    let [sees_lower, sees_upper] = feedback.detects_wire_faults();
    let mut lower = Rail::new("lower", [least, low], (!sees_lower).then_some(map.lower()));
    let mut upper = Rail::new("upper", [high, most], (!sees_upper).then_some(map.upper()));
    for (word, drive) in [("lower", travel.lower()), ("upper", travel.upper())] {
        let Ok(reading) = joint.reading_from_command(joint.command_from_drive(drive)) else {
            continue;
        };
        if (least..=most).contains(&reading) {
            for rail in [&mut lower, &mut upper] {
                rail.at_travel(word, drive, reading);
            }
            continue;
        }
        // One fault, one finding: of a rail that the joint goes past is told once the joint can be read there.
        let passed = if reading < least { &mut lower } else { &mut upper };
        passed.run_out = true;
        let at = format!(
            "at travel {word} {drive} deg the sensor would read {}, outside {least} to {most}",
            short(reading)
        );
        if feedback.record().wrap_deg.is_some() {
            let hint = "turn the sensor on its axis until both ends lie on one side of its jump";
            sink.joint(Rule::WrapInsideTravel, entry, format!("{at}: it wraps around"), hint);
        } else {
            let hint = "move the sensor on its axis, or narrow the travel to what it covers";
            sink.joint(Rule::FeedbackRunsOut, entry, at, hint);
        }
    }
    for (rail, other) in [(&lower, &upper), (&upper, &lower)] {
        let Some(hidden) = rail.hidden.as_ref().filter(|_| !rail.run_out) else {
            continue;
        };
        let [from, to] = rail.readings.map(short);
        let hint = if !rail.is_reached {
            "narrow command to what the travel needs, and cut feedback to its ends: the travel itself stays clear of this rail".into()
        } else if other.hidden.is_none() && !other.run_out {
            format!(
                "move the sensor on its axis until both rails stay free; or pull its input to the {} rail by a resistor, so that at least the wiper's broken wire shows there, and waive this",
                other.word
            )
        } else {
            "let the joint turn the sensor less, and move it on its axis until both rails stay free".into()
        };
        sink.joint(
            Rule::WireBreakUnseen,
            entry,
            format!(
                "{hidden} is at the {} rail, {from} to {to} of {bits} bits: a broken or shorted wire reads the same",
                rail.word
            ),
            hint,
        );
    }
}

/// One end of a converter's numbers, where a broken or shorted wire reads.
struct Rail {
    word: &'static str,
    readings: [f64; 2],
    /// The joint's own reading that hides it.
    hidden: Option<String>,
    /// Whether the joint goes past it.
    run_out: bool,
    /// Whether the travel, not only the map, comes to it.
    is_reached: bool,
}

impl Rail {
    /// A rail, and the map's end that reaches it: readings of the map are positions, whatever the travel.
    fn new(word: &'static str, readings: [f64; 2], hidden_by: Option<f64>) -> Self {
        Self {
            word,
            readings,
            hidden: hidden_by.map(|end| format!("feedback.reading {word} {end}")),
            run_out: false,
            is_reached: false,
        }
    }

    /// Takes a position of the joint, which may lie beyond the ends of the map.
    fn at_travel(&mut self, word: &str, drive: f64, reading: f64) {
        let [from, to] = self.readings;
        if !(from..=to).contains(&reading) {
            return;
        }
        self.is_reached = true;
        if self.hidden.is_none() {
            self.hidden = Some(format!("the reading {} at travel {word} {drive} deg", short(reading)));
        }
    }
}

fn age(entry: &JointEntry, today: Date, sink: &mut Sink<'_>) {
    let evidence = entry.evidence();
    let most = sink.settings.stale_after_days;
    let mut of = |what: &str, key: &str, date: Option<Date>, repeat: &str| {
        let Some(date) = date else { return };
        let days = today.days_since(date);
        if days < 0 {
            sink.joint(
                Rule::EvidenceAhead,
                entry,
                format!("the {what} is dated {date}, after today, {today}"),
                format!("correct evidence.{key} or the clock"),
            );
        } else if days > i64::from(most) {
            sink.joint(
                Rule::EvidenceStale,
                entry,
                format!("the {what} of {date} is {days} days old, more than {most}"),
                repeat,
            );
        }
    };
    of("evidence", "date", evidence.date, "repeat the sweep and compare");
    of("sense test", "sense_date", evidence.sense_date, "repeat the sense test");
}

fn motion(entry: &JointEntry, sink: &mut Sink<'_>) {
    let joint = entry.joint();
    let command = joint.command_range();
    match joint.max_rate_per_s() {
        None => sink.joint(
            Rule::RateMissing,
            entry,
            "no max_rate_per_s: a new command moves the joint at the servo's full speed".into(),
            "give max_rate_per_s in command units per second",
        ),
        Some(rate) => {
            let steepest = [command.lower(), joint.rest(), command.upper()]
                .map(|at| joint.transmission().drive_per_command(at).abs())
                .into_iter()
                .fold(0.0, f64::max);
            let (asked, most) = (rate * steepest, sink.settings.drive_per_s);
            if asked > most {
                sink.joint(
                    Rule::RateBeyondServo,
                    entry,
                    format!(
                        "max_rate_per_s {rate} needs {} deg of drive per second, more than {most}",
                        short(asked)
                    ),
                    format!("lower max_rate_per_s to {}", short(most / steepest)),
                );
            }
        }
    }
    let (low, high) = travel_in_commands(joint);
    let width = command.upper() - command.lower();
    let used = high.min(command.upper()) - low.max(command.lower());
    let (cut, most) = (1.0 - used / width, sink.settings.clamped_share);
    if cut > most {
        sink.joint(
            Rule::CommandMostlyClamped,
            entry,
            format!(
                "the travel cuts off {} % of the commands, more than {} %",
                short(cut * 100.0),
                short(most * 100.0)
            ),
            narrower(entry, sink.shell),
        );
    }
}

fn pulses(entry: &JointEntry, sink: &mut Sink<'_>) {
    let joint = entry.joint();
    let (servo, drive) = (joint.servo(), joint.drive_range());
    let angle = servo.angle_range();
    if drive.lower() < angle.lower() || drive.upper() > angle.upper() {
        sink.joint(
            Rule::PulseOutsideServo,
            entry,
            format!(
                "drive {} to {} deg goes beyond the servo's {} to {} deg; only the travel keeps commands within it",
                drive.lower(),
                drive.upper(),
                angle.lower(),
                angle.upper()
            ),
            "bring drive inside servo.angle",
        );
    }
    let (pulse, usual) = (servo.pulse_range_us(), sink.settings.pulse_us);
    if pulse.lower() < usual[0] || pulse.upper() > usual[1] {
        sink.joint(
            Rule::PulseUnusual,
            entry,
            format!(
                "servo.pulse_us {} to {} us is outside {} to {} us",
                pulse.lower(),
                pulse.upper(),
                usual[0],
                usual[1]
            ),
            match servo.is_in_milliseconds() {
                true => format!(
                    "the values look like milliseconds; write servo.pulse_us = [{}, {}]",
                    1000.0 * pulse.lower(),
                    1000.0 * pulse.upper()
                ),
                false => {
                    "look into the servo's data sheet; if the values are right, set [check] pulse_us to include them"
                        .to_owned()
                }
            },
        );
    }
    let step = (joint.timer().pulse_us(1) / servo.us_per_deg()).abs();
    let most = sink.settings.coarse_step;
    if step > most {
        sink.joint(
            Rule::CoarseStep,
            entry,
            format!("one timer count moves the drive {} deg, more than {most}", short(step)),
            "use a timer with more counts per frame",
        );
    }
}
