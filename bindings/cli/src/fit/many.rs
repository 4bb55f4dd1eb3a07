//! Many joints in one call: a table each, or one table with a column that names them.

use super::describe::MOST_LEFT_OUT;
use super::repair::Decision;
use super::{Done, Fitted, Target, fit_args, one, open, store};
use crate::args::{ColumnValue, FitArgs};
use crate::outcome::Outcome;
use crate::paint::{number, strong};
use crate::problem::{Failed, Problem, Stage, none_done, reasons, remedy};
use crate::progress::Progress;
use crate::table::Table;
use elbowroom::Code;
use elbowroom::fit::{EndKind, LimitFit};
use std::fmt::Write as _;

/// One joint to fit.
struct Job {
    args: FitArgs,
    table: Table,
}

pub(super) fn run(args: &FitArgs) -> Result<Outcome, Problem> {
    if args.plot.is_some() || args.joint.is_some() {
        let message = "--plot and --joint are for one joint; leave them out, and draw all with elbowroom report";
        return Err(Problem::new(Code::OptionOutside, message));
    }
    let jobs = jobs(args)?;
    let count = jobs.len();
    one_channel(&jobs, args)?;
    // The file is read once and written once: all joints that could be fitted.
    let mut target = None;
    let (mut text, mut objects, mut found, mut written) = (String::new(), Vec::new(), false, 0);
    let mut assumed = Vec::new();
    let mut failed: Vec<Failed> = Vec::new();
    let told = Progress::of(count, 2, "fitting", "joints");
    for (index, job) in jobs.into_iter().enumerate() {
        let name = job.args.joint.clone().unwrap_or_default();
        told.say(&format!("fitting {name}, {} of {count}", index + 1));
        let done = match of_job(job, &mut target) {
            Ok(done) => done,
            Err((stage, problem)) => {
                failed.push(Failed { name, stage, problem });
                continue;
            }
        };
        text.push_str(&done.brief);
        objects.push(done.outcome.json);
        found |= done.outcome.found;
        written += usize::from(done.is_written);
        if assumed.is_empty() {
            assumed = done.assumed;
        }
    }
    drop(told);
    if failed.len() == count {
        return Err(none_done(failed));
    }
    text.push_str(&reasons(&failed, "fitted"));
    for one in &assumed {
        for (index, part) in one.lines().enumerate() {
            let _ = writeln!(text, "  {:<12} {part}", if index == 0 { "assumed" } else { "" });
        }
    }
    if let (Some(target), Some(path)) = (&target, &args.into) {
        if written > 0 {
            let saved = store(&target.robot, path)?;
            text.push_str(&crate::output::kept(&saved));
        }
        let path = path.display();
        let _ = writeln!(text, "{written} of {count} joints written into {path}");
        if written + failed.len() < count {
            let others = if failed.is_empty() {
                "the others"
            } else {
                "those not written"
            };
            let _ = writeln!(
                text,
                "{others} contradict it: give --adopt to replace map, travel, rest and feedback, or --keep to leave the maps"
            );
        }
        let _ = writeln!(text, "next: elbowroom check {path}");
    }
    text.push_str(&remedy(&failed, count, "fitted"));
    found |= !failed.is_empty();
    let failed: Vec<_> = failed.iter().map(Failed::json).collect();
    let json = serde_json::json!({ "joints": objects, "failed": failed });
    Ok(Outcome { text, json, found })
}

/// One joint, fitted and put into the robot.
fn of_job(job: Job, target: &mut Option<Target>) -> Result<Done, (Stage, Problem)> {
    let options = |problem| (Stage::Options, problem);
    let fresh = match target {
        None => {
            *target = open(&job.args).map_err(options)?;
            job.args
        }
        Some(known) => fit_args::checked(job.args, known).map_err(options)?,
    };
    let fresh = fit_args::with_columns(fresh, &job.table, target.as_ref()).map_err(options)?;
    let fresh = fresh.resolved(&job.table, target.as_ref()).map_err(options)?;
    one(&fresh, job.table, target.as_mut()).map_err(|problem| (Stage::Readings, problem))
}

/// The joints of this call, each with its own options.
fn jobs(args: &FitArgs) -> Result<Vec<Job>, Problem> {
    let mut jobs: Vec<Job> = Vec::new();
    for path in &args.tables {
        let table = Table::read(path, &args.table)?;
        let base = FitArgs {
            readings: path.clone(),
            ..args.clone()
        };
        let Some(column) = &args.each else {
            let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
            let args = FitArgs {
                joint: Some(name),
                ..base
            };
            jobs.push(Job { args, table });
            continue;
        };
        for name in table.names(column, &args.table, "--each")? {
            let mut args = FitArgs {
                joint: Some(name.clone()),
                ..base.clone()
            };
            args.table.only.push(ColumnValue {
                column: column.clone(),
                value: name,
            });
            jobs.push(Job {
                args,
                table: table.clone(),
            });
        }
    }
    for (index, job) in jobs.iter().enumerate() {
        if let Some(twice) = jobs
            .iter()
            .take(index)
            .find(|earlier| earlier.args.joint == job.args.joint)
        {
            let name = twice.args.joint.as_deref().unwrap_or_default();
            let message = format!("joint {name} has two tables; merge them, or rename one");
            return Err(Problem::new(Code::OptionOutside, message));
        }
    }
    Ok(jobs)
}

/// Refuses one channel for several joints.
fn one_channel(jobs: &[Job], args: &FitArgs) -> Result<(), Problem> {
    match (args.fresh.channel, jobs) {
        (Some(channel), [_, _, ..]) => {
            let message = format!(
                "--channel {channel} would put {} joints on one channel; leave it out, and write the channel of each joint into a column \
                 channel of the table",
                jobs.len()
            );
            Err(Problem::new(Code::OptionOutside, message))
        }
        _ => Ok(()),
    }
}

/// A joint in a line, with what has to be looked at below it.
pub(super) fn brief(fitted: &Fitted<'_>, decision: Option<&Decision>, resembles: Option<&str>) -> String {
    let fit = &fitted.fit;
    let mut text = String::new();
    let travel = match fit.travel {
        Some([lower, upper]) => format!("travel {} to {} deg", number(lower, 2), number(upper, 2)),
        None => "no travel is left".to_owned(),
    };
    let word = decision.map_or("fitted", Decision::word);
    let name = fitted.args.joint.as_deref().unwrap_or("fit");
    let _ = writeln!(
        text,
        "{}  {} readings, {travel}, ends {}, {word}",
        strong(name),
        fit.readings,
        ends(fit)
    );
    for sentence in decision.map_or(Vec::new(), Decision::sentences) {
        let _ = writeln!(text, "  {sentence}");
    }
    if let Some(note) = resembles {
        let _ = writeln!(text, "  {note}");
    }
    for one in super::left_out(fitted).take(MOST_LEFT_OUT) {
        let _ = writeln!(text, "  left out: {}", one.message);
    }
    if let Some(more) = fit.rejected.len().checked_sub(MOST_LEFT_OUT).filter(|more| *more > 0) {
        let _ = writeln!(
            text,
            "  left out: {more} more; elbowroom fit of this joint alone lists all with --json"
        );
    }
    for warning in super::warnings(fitted) {
        let _ = writeln!(text, "  warning: {warning}");
    }
    text
}

fn ends(fit: &LimitFit) -> String {
    let word = |kind: EndKind| kind.as_str();
    format!("{} and {}", word(fit.lower.kind), word(fit.upper.kind))
}
