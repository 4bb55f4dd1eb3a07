//! What a bring-up writes: the joint, where its readings agree with the file or somebody decided, and the table of its readings.

use super::procedure::Procedure;
use crate::args::BringUpArgs;
use crate::problem::Problem;
use crate::usual::DEGREES;
use elbowroom::bring_up::Outcome;
use elbowroom::robot::{
    AdoptError, Date, EntryRecord, MapChoice, Refit, Robot, Source, sha256, shell_word, write_whole,
};
use elbowroom::{ServoRecord, TimerRecord};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// What is to be written, and why.
pub(super) struct Decision {
    /// Nothing is written without it.
    pub(super) record: Option<EntryRecord>,
    pub(super) word: Option<&'static str>,
    pub(super) sentences: Vec<String>,
    pub(super) remedy: String,
}

/// The command that goes on with what is saved: as it was given, without what begins from the start.
fn command_again() -> String {
    let given = std::env::args().skip(1).filter(|word| word != "--restart");
    let words: Vec<String> = given.map(|word| shell_word(&word)).collect();
    format!("elbowroom {}", words.join(" "))
}

/// What is to be given to go on: the same command, unless that would begin from the start.
pub(super) fn same_command(args: &BringUpArgs) -> String {
    if args.restart {
        command_again()
    } else {
        "the same command".to_owned()
    }
}

/// What decides, where readings contradict the joint.
fn adopt_or_keep() -> String {
    let again = command_again();
    format!(
        "nothing was written; decide, no reading is asked for again:\n  {again} --adopt\n      writes map, travel and rest from these \
         readings\n  {again} --keep\n      leaves the map as it is, and writes travel and evidence\n"
    )
}

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
            return Ok(nothing(None, Vec::new(), String::new()));
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
        let unit = args.measured_unit.as_deref().or((!args.sweep).then_some(DEGREES));
        let mut refit = Refit::new(fit).with_unit(unit).with_servo(servo);
        if let Some(ends) = args.measured_at_commands {
            refit = refit.with_command_ends(ends.0);
        }
        let (record, word, sentences) = match robot.joint(name) {
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
                record.put_sense(outcome);
                (record, "new", Vec::new())
            }
            Some(entry) => {
                let mut record = entry.record();
                let judged = record.judge_bring_up(outcome, &refit)?;
                let (word, map) = match (judged.contradicts(), args.adopt, args.keep) {
                    (_, true, _) => ("adopted", MapChoice::Adopted),
                    (true, _, false) => return Ok(nothing(Some("refused"), judged.sentences(), adopt_or_keep())),
                    (true, _, true) => ("kept", MapChoice::Kept),
                    (false, _, keep) => ("agrees", if keep { MapChoice::Kept } else { MapChoice::Judged }),
                };
                record.put_bring_up(outcome, &refit, map, date).map_err(refused)?;
                (record, word, judged.sentences())
            }
        };
        Ok(Self {
            record: Some(record),
            word: Some(word),
            sentences,
            remedy: String::new(),
        })
    }

    /// Whether the readings contradict the joint and nobody chose what becomes of it.
    pub(super) fn is_refused(&self) -> bool {
        self.word == Some("refused")
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
