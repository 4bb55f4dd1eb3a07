//! What a fit writes into a joint: a new one, one that agrees, or one that the readings contradict.

use super::{Fitted, source, timer_record};
use crate::paint::{number, strong};
use crate::problem::Problem;
use elbowroom::JointError;
use elbowroom::fit::{CompareOptions, SplineTeeth};
use elbowroom::robot::{
    AdoptError, Date, EntryRecord, Evidence, EvidenceKind, Judgement, MistakenUnit, Refit, RefitMap, Robot, StopMoved,
};
use serde::Serialize;
use std::fmt::Write as _;
use std::path::Path;

/// What is to be written, and why.
pub(super) struct Decision {
    /// Nothing is written without it.
    pub(super) record: Option<EntryRecord>,
    word: &'static str,
    judged: Option<Judgement>,
    /// The day of evidence in the file that is later than the readings.
    later: Option<Date>,
    /// The day of evidence in the file that rests on the same readings, where no other was given.
    kept_day: Option<Date>,
    /// The day that was given, and today before it.
    ahead: Option<[Date; 2]>,
    /// The sensor's map in the file stays, although it was fitted.
    keeps_sensor: bool,
}

/// How the readings stand to the joint in the file.
#[derive(Serialize)]
pub(super) struct Report {
    /// `new`, `agrees`, `refused`, `adopted` or `kept`.
    decision: &'static str,
    /// Whether the map was compared; null of a new joint.
    compared: Option<bool>,
    offset_deg: Option<f64>,
    u_offset_deg: Option<f64>,
    teeth: Vec<SplineTeeth>,
    /// Drive deg per command.
    slope_in_file: Option<f64>,
    slope_measured: Option<f64>,
    furthest_deg: Option<f64>,
    /// By how much the measured values are higher than in the file where the stops did not move.
    measured_higher: Option<f64>,
    /// What then stands for the lower and the upper command.
    measured_at_commands: Option<[f64; 2]>,
    reversed: bool,
    stops: Vec<Stop>,
    sensor_deg: Option<f64>,
    sentences: Vec<String>,
}

#[derive(Serialize)]
struct Stop {
    side: &'static str,
    in_file: f64,
    measured: f64,
    was: &'static str,
    is: &'static str,
}

impl From<&StopMoved> for Stop {
    fn from(stop: &StopMoved) -> Self {
        let word = |kind: EvidenceKind| kind.as_str();
        Self {
            side: stop.side.as_str(),
            in_file: stop.in_file,
            measured: stop.measured,
            was: word(stop.was),
            is: word(stop.is),
        }
    }
}

impl Decision {
    /// Judges the readings and decides by what was asked for.
    pub(super) fn of(fitted: &Fitted<'_>, robot: &Robot, path: &Path, name: &str) -> Result<Self, Problem> {
        let args = fitted.args;
        let mut evidence = source::evidence(fitted, path, args.date);
        let known = robot.joint(name).filter(|_| args.date.is_none());
        let kept_day = known.and_then(|entry| entry.record().day_of_readings(&evidence));
        let date = args.date.or(kept_day).or_else(Date::today);
        evidence.date = date;
        let ahead = args.date.zip(Date::today()).filter(|(given, today)| given > today);
        let ahead = ahead.map(|(given, today)| [given, today]);
        let adopting = |error: AdoptError| named(fitted, name, &error);
        let Some(entry) = robot.joint(name) else {
            let record = new_joint(fitted, robot, name, date, evidence)?;
            return Ok(Self {
                record: Some(record),
                word: "new",
                judged: None,
                later: None,
                kept_day: None,
                ahead,
                keeps_sensor: false,
            });
        };
        let mut record = entry.record();
        let later = record.later_than(&evidence);
        let asks_for_map = args.transmission.is_some();
        let judge = |map| record.judge(&refit(fitted, map), &CompareOptions::default());
        let mut judged = judge(fitted.best_map())?;
        // Who names a kind has seen what another would leave: a file that agrees with it agrees.
        if asks_for_map && judged.contradicts() {
            let with_it = judge(fitted.taken_map())?;
            if !with_it.contradicts() {
                judged = with_it;
            }
        }
        // A kind that is asked for bends the map between the pulses of its command ends, whatever is measured.
        let is_undecided = judged.contradicts() || (judged.unrelated && !asks_for_map);
        let word = match (is_undecided, args.adopt, args.keep) {
            (_, true, _) => "adopted",
            (true, _, false) => "refused",
            (true, _, true) => "kept",
            (false, ..) => "agrees",
        };
        let mut taken = refit(fitted, fitted.taken_map()).with_evidence(&evidence);
        if judged.unrelated && asks_for_map && taken.at_command_ends.is_none() {
            // Nothing says what commands stand for, so their ends keep their pulses and what lies between is bent.
            let transmission = entry.joint().transmission();
            let measured = record.joint.command.map(|command| {
                let drive = transmission.drive(command);
                fitted.expected_freely(drive)
            });
            taken = taken.with_command_ends(measured);
        }
        match word {
            "refused" => {
                return Ok(Self {
                    record: None,
                    word,
                    judged: Some(judged),
                    later: None,
                    kept_day: None,
                    ahead: None,
                    keeps_sensor: false,
                });
            }
            "adopted" => record.adopt_fit(&taken, date).map_err(adopting)?,
            "agrees" if asks_for_map => record.adopt_fit(&taken, date).map_err(adopting)?,
            _ => record.keep_map(&taken, date).map_err(adopting)?,
        }
        // Where there is no map of a sensor yet, none can be kept.
        let keeps_sensor = args.keep && fitted.sensed.is_some() && record.joint.feedback.is_some();
        if let Some(sensed) = fitted.sensed.as_ref().filter(|_| !keeps_sensor) {
            sensed.apply(&mut record, fitted)?;
        }
        Ok(Self {
            record: Some(record),
            word,
            judged: Some(judged),
            later,
            kept_day,
            ahead,
            keeps_sensor,
        })
    }

    pub(super) const fn word(&self) -> &'static str {
        self.word
    }

    pub(super) fn sentences(&self) -> Vec<String> {
        let mut all = self.judged.as_ref().map_or(Vec::new(), Judgement::sentences);
        if self.judged.as_ref().is_some_and(|judged| judged.unrelated) {
            all.push(format!("its map was not compared: {}", AdoptError::Unrelated));
        }
        all.extend(self.notes().map(|(head, note)| format!("{head}: {note}")));
        all
    }

    pub(super) const fn is_refused(&self) -> bool {
        self.record.is_none()
    }

    pub(super) fn report(&self) -> Report {
        let judged = self.judged.as_ref();
        let moved = judged.and_then(|judged| judged.zero_moved);
        let slope = judged.and_then(|judged| judged.slope);
        Report {
            decision: self.word,
            compared: judged.map(|judged| !judged.unrelated),
            offset_deg: judged.and_then(|judged| Some(judged.offset?.value)),
            u_offset_deg: judged.and_then(|judged| Some(judged.offset?.u)),
            teeth: judged.map_or(Vec::new(), |judged| judged.teeth.clone()),
            slope_in_file: slope.map(|[file, _]| file),
            slope_measured: slope.map(|[_, measured]| measured),
            furthest_deg: judged
                .and_then(|judged| judged.apart)
                .map(|apart| apart.measured - apart.in_file),
            measured_higher: moved.map(|moved| moved.by),
            measured_at_commands: moved.map(|moved| moved.at_commands),
            reversed: judged.is_some_and(|judged| judged.reversed),
            stops: judged.map_or(Vec::new(), |judged| judged.stops.iter().map(Stop::from).collect()),
            sensor_deg: judged.and_then(|judged| judged.sensor),
            sentences: self.sentences(),
        }
    }

    /// What else is to be known of what was written, each under its head.
    fn notes(&self) -> impl Iterator<Item = (&'static str, String)> {
        let kept = self.kept_day.map(|day| {
            let note = format!("{day} stays: the evidence of this day rests on the same readings; give --date if they were taken on another");
            ("date", note)
        });
        let ahead = self
            .ahead
            .map(|[given, today]| format!("--date {given} is after today, {today}; correct it, or the clock"));
        let later = self.later.map(|day| {
            format!(
                "the evidence that was there is of {day}, later than these readings; it moved to the history below them: fit its readings \
                 again if they are still right, or correct --date"
            )
        });
        let sensor = self.keeps_sensor.then(|| {
            "--keep leaves the feedback map in the file as it is; to write the one fitted here, leave --keep out"
                .to_owned()
        });
        let warnings = ahead.into_iter().chain(later).chain(sensor);
        kept.into_iter().chain(warnings.map(|note| ("warning", note)))
    }

    /// Says what contradicts the file, and what to do or what was done.
    pub(super) fn describe(&self, text: &mut String, fitted: &Fitted<'_>, name: &str, unit: Option<&str>, path: &Path) {
        for (head, note) in self.notes() {
            let _ = writeln!(text, "  {head:<12} {note}");
        }
        let Some(judged) = &self.judged else { return };
        let path = path.display();
        if judged.unrelated {
            let commands = unit.map_or_else(|| "no known unit".to_owned(), ToOwned::to_owned);
            let _ = writeln!(
                text,
                "\n{} its map in {path} was not compared: its commands are in {commands}, the measured values in {}, and the relation \
                 between them is not known; give --measured-unit, or --measured-at-commands LOWER,UPPER",
                strong(&format!("joint {name}:")),
                fitted.args.table.measured_unit
            );
            if self.is_refused() && !judged.contradicts() {
                let _ = writeln!(
                    text,
                    "nothing was written; give\n  --measured-unit or --measured-at-commands  to compare, or\n  \
                     --keep                                     to leave the map as it is, and write travel and evidence"
                );
            }
        }
        let sentences = judged.sentences();
        if sentences.is_empty() {
            return;
        }
        let _ = writeln!(
            text,
            "\n{} the readings contradict {path}",
            strong(&format!("joint {name}:"))
        );
        for sentence in sentences {
            let _ = writeln!(text, "  {sentence}");
        }
        if let (true, Some(mistaken)) = (self.is_refused(), &judged.mistaken_unit) {
            let _ = writeln!(text, "nothing was written{}", unit_option(mistaken));
        } else if self.is_refused() {
            text.push_str("nothing was written; give\n");
            if judged.reversed {
                text.push_str("  --flip-measured  if the protractor was read in the other direction, or\n");
            }
            if let Some(moved) = &judged.zero_moved {
                let [lower, upper] = moved.at_commands.map(|at| number(at, 3));
                let _ = writeln!(
                    text,
                    "  --measured-at-commands={lower},{upper}  if protractor or sensor were set elsewhere: the commands keep their places, or"
                );
            }
            text.push_str(
                "  --adopt  to replace map, travel, rest and feedback by these readings, or\n  \
                 --keep   to leave the map as it is, and write travel and evidence\n",
            );
        }
    }
}

/// What became of a joint that was written anew.
pub(crate) fn changes(old: &EntryRecord, new: &EntryRecord) -> Vec<String> {
    let pair = |[a, b]: [f64; 2]| format!("{} to {}", number(a, 3), number(b, 3));
    let turned = |inverted: bool| if inverted { ", inverted" } else { "" };
    let (o, n) = (&old.joint, &new.joint);
    let mut all = Vec::new();
    let mut line = |what: &str, was: String, is: String| {
        if was != is {
            all.push(format!("{what:<12} {is} (was {was})"));
        }
    };
    line("command", pair(o.command), pair(n.command));
    let drive = |joint: &elbowroom::JointRecord<f64>| format!("{} deg{}", pair(joint.drive), turned(joint.inverted));
    line("drive", drive(o), drive(n));
    line(
        "transmission",
        o.transmission.kind().to_owned(),
        n.transmission.kind().to_owned(),
    );
    let travel = |joint: &elbowroom::JointRecord<f64>| format!("{} deg", pair(joint.travel.unwrap_or(joint.drive)));
    line("travel", travel(o), travel(n));
    line("rest", number(o.rest, 4), number(n.rest, 4));
    let servo = |joint: &elbowroom::JointRecord<f64>| {
        format!("{} deg on {} us", pair(joint.servo.angle), pair(joint.servo.pulse_us))
    };
    line("servo", servo(o), servo(n));
    let reads = |joint: &elbowroom::JointRecord<f64>| match &joint.feedback {
        Some(map) => format!("{} reads {} deg", pair(map.reading), pair(map.angle)),
        None => "none".to_owned(),
    };
    line("feedback", reads(o), reads(n));
    let sense = |record: &EntryRecord| record.evidence.sense.map_or("not tested", |sense| sense.as_str());
    line("sense", sense(old).to_owned(), sense(new).to_owned());
    all
}

/// What the readings come to, with the map that is meant.
fn refit<'a>(fitted: &'a Fitted<'_>, map: RefitMap<'a>) -> Refit<'a> {
    let mut refit = Refit::new(&fitted.fit)
        .with_map(map)
        .with_unit(Some(&fitted.args.table.measured_unit))
        .with_servo(fitted.servo_record);
    if let Some(ends) = fitted.args.measured_at_commands {
        refit = refit.with_command_ends(ends.0);
    }
    match &fitted.sensed {
        Some(sensed) => refit.with_feedback(sensed.fit()),
        None => refit,
    }
}

/// The option that gives the unit which readings look like.
fn unit_option(mistaken: &MistakenUnit) -> String {
    match mistaken {
        MistakenUnit::Measured { looks_like, .. } => format!("; give --measured-unit {}", looks_like.word()),
        MistakenUnit::Drive { .. } => "; give --drive-unit us".to_owned(),
        _ => String::new(),
    }
}

fn named(fitted: &Fitted<'_>, name: &str, error: &AdoptError) -> Problem {
    let remedy = match error {
        AdoptError::Unrelated => {
            "; --measured-unit gives the unit, --measured-at-commands LOWER,UPPER the values".to_owned()
        }
        AdoptError::MistakenUnit(mistaken) => unit_option(mistaken),
        _ => String::new(),
    };
    let file = fitted.args.into.as_ref().map(|path| path.display().to_string());
    Problem {
        joint: Some(name.to_owned()),
        file,
        ..Problem::new(error.code(), format!("joint {name}: {error}{remedy}"))
    }
}

fn new_joint(
    fitted: &Fitted<'_>,
    robot: &Robot,
    name: &str,
    date: Option<Date>,
    evidence: Evidence,
) -> Result<EntryRecord, Problem> {
    let args = fitted.args;
    let timer = timer_record(args, Some(robot));
    let mut record = EntryRecord::from_fit(name, &fitted.fit, date, fitted.servo_record, timer)
        .ok_or_else(|| named(fitted, name, &AdoptError::NoTravel))?;
    record.evidence = evidence.clone();
    record.assumed.servo = fitted.is_assumed("servo");
    record.assumed.timer = fitted.is_assumed("timer");
    let measured = &args.table.measured_unit;
    let unit = args.fresh.unit.as_ref().unwrap_or(measured);
    let own = record.joint.command;
    match args.fresh.command {
        Some(command) => {
            record.unit = Some(unit.clone());
            record.joint.command = command.0;
            record.joint.rest = 0.5 * (command.0[0] + command.0[1]);
            let mut refit = refit(fitted, fitted.taken_map()).with_evidence(&evidence);
            if !refit.relates(&record) {
                // A unit of its own: its ends are those of the travel.
                refit = refit.with_command_ends(own);
            }
            let adopted = record.adopt_fit(&refit, date);
            adopted
                .map_err(|error| beside(fitted, command.0, &error).unwrap_or_else(|| named(fitted, name, &error)))?;
        }
        None => {
            record.unit = Some(measured.clone());
            if let Some(bend) = &fitted.bend {
                bend.apply(&mut record)?;
            }
            let converted = record.convert_commands(unit);
            converted.map_err(|error| args.fresh.named(name, measured, &error))?;
        }
    }
    args.fresh.put_into(&mut record)?;
    if let Some(sensed) = &fitted.sensed {
        sensed.apply(&mut record, fitted)?;
    }
    Ok(record)
}

/// Commands that lie beside the travel altogether are most often in another unit.
fn beside(fitted: &Fitted<'_>, [lower, upper]: [f64; 2], error: &AdoptError) -> Option<Problem> {
    let AdoptError::Joint(JointError::TravelDisjoint {
        travel_lower,
        travel_upper,
        drive_lower,
        drive_upper,
    }) = error
    else {
        return None;
    };
    let unit = &fitted.args.table.measured_unit;
    Some(Problem::new(
        error.code(),
        format!(
            "--command {},{} {unit} needs {} to {} deg of drive by these readings, beside the travel {} to {} deg; give commands \
             within the travel, or their --unit if that is not {unit}",
            number(lower, 3),
            number(upper, 3),
            number(*drive_lower, 2),
            number(*drive_upper, 2),
            number(*travel_lower, 2),
            number(*travel_upper, 2)
        ),
    ))
}
