//! What a bring-up writes: the joint, where its readings agree with the file or somebody decided, and the table of its readings.

use super::procedure::Procedure;
use crate::args::BringUpArgs;
use crate::problem::Problem;
use crate::usual::DEGREES;
use elbowroom::bring_up::{Outcome, SenseReason};
use elbowroom::fit::CompareOptions;
use elbowroom::robot::{AdoptError, Date, EntryRecord, Refit, Robot, Source, sha256, write_whole};
use elbowroom::{ServoRecord, TimerRecord};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// What is to be written, and why.
pub(super) struct Decision {
    /// Nothing is written without it.
    pub(super) record: Option<EntryRecord>,
    pub(super) word: Option<&'static str>,
    pub(super) sentences: Vec<String>,
    pub(super) remedy: &'static str,
}

const ADOPT_OR_KEEP: &str = "nothing was written; give the same command once more (no reading is asked for again) with\n  --adopt  to write map, \
                             travel and rest from these readings, or\n  --keep   to leave the map as it is, and write travel and \
                             evidence\n";

impl Decision {
    pub(super) fn of(
        args: &BringUpArgs,
        robot: &Robot,
        outcome: &Outcome,
        servo: ServoRecord<f64>,
        timer: TimerRecord<f64>,
    ) -> Result<Self, Problem> {
        let nothing = |word, sentences, remedy| Self {
            record: None,
            word,
            sentences,
            remedy,
        };
        let Some(fit) = outcome.limits() else {
            return Ok(nothing(None, Vec::new(), ""));
        };
        let fit = &fit;
        let name = args.joint.as_str();
        let date = args.date.or_else(Date::today);
        let refused = |error: AdoptError| {
            let remedy = match error {
                AdoptError::Unrelated => "; --measured-at-commands LOWER,UPPER gives them",
                _ => "",
            };
            let message = format!("joint {name}: {error}{remedy}; the bring-up stays saved");
            Problem {
                joint: Some(name.to_owned()),
                ..Problem::new(error.code(), message)
            }
        };
        let mut refit = Refit::new(fit).with_unit(Some(args.measured_unit())).with_servo(servo);
        // Of a sweep the sensor's own map says it.
        let by_sensor = robot.joint(name).filter(|_| args.sweep).and_then(|entry| {
            let [lower, upper] = entry.record().joint.command;
            let reading = |command| entry.joint().reading_from_command(command).ok();
            Some([reading(lower)?, reading(upper)?])
        });
        if let Some(ends) = args.measured_at_commands.map(|ends| ends.0).or(by_sensor) {
            refit = refit.with_command_ends(ends);
        }
        let (mut record, word, sentences) = match robot.joint(name) {
            None => {
                let record = EntryRecord::from_fit(name, fit, date, servo, timer);
                let mut record = record.ok_or_else(|| refused(AdoptError::NoTravel))?;
                let measured = args.measured_unit();
                let unit = args.fresh.unit.as_deref().unwrap_or(measured);
                record.unit = Some(measured.to_owned());
                if let Some(command) = args.fresh.command {
                    record.unit = Some(unit.to_owned());
                    let own = record.joint.command;
                    record.joint.command = command.0;
                    if !refit.relates(&record) {
                        refit = refit.with_command_ends(own);
                    }
                    record.adopt_fit(&refit, date).map_err(refused)?;
                } else {
                    let converted = record.convert_commands(unit);
                    converted.map_err(|error| {
                        let problem = args.fresh.named(name, measured, &error);
                        Problem {
                            message: format!("{problem}; the bring-up stays saved"),
                            ..problem
                        }
                    })?;
                }
                args.fresh.put_into(&mut record)?;
                (record, "new", Vec::new())
            }
            Some(entry) => {
                let mut record = entry.record();
                let judged = record.judge(&refit, &CompareOptions::default())?;
                let word = match (judged.contradicts(), args.adopt, args.keep) {
                    (_, true, _) => "adopted",
                    (true, _, false) => return Ok(nothing(Some("refused"), judged.sentences(), ADOPT_OR_KEEP)),
                    (true, _, true) => "kept",
                    (false, ..) => "agrees",
                };
                if word == "adopted" {
                    record.adopt_fit(&refit, date).map_err(refused)?;
                } else {
                    record.keep_map(&refit, date).map_err(refused)?;
                }
                (record, word, judged.sentences())
            }
        };
        // A servo that closes its loop by itself was not asked for its sense.
        let tested = outcome
            .sense
            .filter(|sense| sense.reason != Some(SenseReason::DriveNotWatched));
        if let Some(sense) = tested {
            record.evidence.sense = Some(sense.sense);
        }
        Ok(Self {
            record: Some(record),
            word: Some(word),
            sentences,
            remedy: "",
        })
    }
}

/// A table that was written.
pub(super) struct Written {
    pub(super) path: PathBuf,
    pub(super) source: Source,
}

/// Writes all that was typed into a table beside the robot file; one that is there stays.
pub(super) fn write_readings(args: &BringUpArgs, run: &Procedure) -> Result<Written, Problem> {
    let mut text = format!(
        "# bring-up of joint {}, drive in deg, measured in {}; used 0: left out\ndrive,measured,approach,used\n",
        args.joint,
        args.measured_unit()
    );
    for reading in run.readings() {
        let Some(drive) = reading.drive else {
            let _ = writeln!(
                text,
                "# held by hand at the {} end: {}",
                reading.toward.as_str(),
                reading.value
            );
            continue;
        };
        let side = reading.approach().as_str().unwrap_or_default();
        let used = u8::from(reading.is_used);
        let _ = writeln!(text, "{drive},{},{side},{used}", reading.value);
    }
    let folder = args.file.parent().unwrap_or(Path::new("")).join("readings");
    std::fs::create_dir_all(&folder).map_err(|error| Problem::access(&folder, "made", &error))?;
    let plain: String = args
        .joint
        .chars()
        .map(|c| if c.is_alphanumeric() || c == '-' { c } else { '_' })
        .collect();
    let day = args
        .date
        .or_else(Date::today)
        .map_or(String::new(), |day| format!("_{day}"));
    let names = (1..).map(|number| match number {
        1 => format!("{plain}{day}.csv"),
        _ => format!("{plain}{day}_{number}.csv"),
    });
    let is_free = |name: &String| match std::fs::read(folder.join(name)) {
        Ok(there) => there == text.as_bytes(),
        Err(error) => error.kind() == std::io::ErrorKind::NotFound,
    };
    let name = names
        .take(10_000)
        .find(is_free)
        .unwrap_or_else(|| format!("{plain}.csv"));
    let path = folder.join(&name);
    write_whole(&path, text.as_bytes()).map_err(|error| Problem::access(&path, "written", &error))?;
    let source = Source {
        file: format!("readings/{name}"),
        sha256: sha256(text.as_bytes()),
        rows: vec![("used".to_owned(), "1".to_owned())],
        measured_unit: (args.measured_unit() != DEGREES).then(|| args.measured_unit().to_owned()),
        resolution: Some(run.resolution()),
        ..Source::default()
    };
    Ok(Written { path, source })
}
