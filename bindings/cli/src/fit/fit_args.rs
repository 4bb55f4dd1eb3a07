//! What a table of many joints says of each beside its readings.

use super::Target;
use crate::args::{FitArgs, Pair};
use crate::problem::Problem;
use crate::table::Table;
use elbowroom::Code;
use elbowroom::robot::{FileFault, Robot};

/// Checks that the joint may be written into a file that is open already.
pub(super) fn checked(args: FitArgs, target: &Target) -> Result<FitArgs, Problem> {
    let Some(name) = &args.joint else { return Ok(args) };
    if target.robot.joint(name).is_none() && !args.new {
        return Err(not_there(&target.robot, name));
    }
    Ok(args)
}

/// A joint that is not in the file, and what to do: correct its name first, where another one is near.
pub(super) fn not_there(robot: &Robot, name: &str) -> Problem {
    let Some(error) = robot.expect_joint(name).err() else {
        return Problem::new(Code::UnknownJoint, "");
    };
    let is_near = matches!(error.fault(), FileFault::UnknownJoint { nearest: Some(_), .. });
    let problem: Problem = error.into();
    let remedy = if is_near {
        "; correct the name, or give --new for another joint"
    } else {
        "; --new adds it"
    };
    Problem {
        message: format!("{}{remedy}", problem.message),
        ..problem
    }
}

/// Takes wiring, commands and rate of a new joint from columns of these names.
pub(super) fn with_columns(mut args: FitArgs, table: &Table, target: Option<&Target>) -> Result<FitArgs, Problem> {
    let name = args.joint.as_deref().unwrap_or_default();
    if !args.is_new(target) {
        return Ok(args);
    }
    let only = args.table.only.clone();
    let cell = |column: &str| table.one(column, &only);
    let number = |column: &str| match cell(column).map(|cell| cell.parse::<f64>().map_err(|_| cell)) {
        None => Ok(None),
        Some(Ok(value)) => Ok(Some(value)),
        Some(Err(cell)) => {
            let message = format!("joint {name}: column {column} holds \"{cell}\"; write a number");
            Err(Problem::new(Code::WrongType, message))
        }
    };
    let channel = number("channel")?.map(|channel| {
        let whole = channel as u16;
        (f64::from(whole) == channel).then_some(whole).ok_or_else(|| {
            let message = format!(
                "joint {name}: column channel holds {channel}; write a whole number from 0 to {}",
                u16::MAX
            );
            Problem::new(Code::WrongType, message)
        })
    });
    let channel = channel.transpose()?;
    let fresh = &mut args.fresh;
    let command = pair(cell("command_lower"), cell("command_upper"));
    fresh.board = fresh.board.take().or_else(|| cell("board"));
    fresh.channel = fresh.channel.or(channel);
    fresh.command = fresh.command.or(command);
    fresh.rest = fresh.rest.or(number("rest")?);
    fresh.max_rate_per_s = fresh.max_rate_per_s.or(number("max_rate_per_s")?);
    fresh.unit = fresh.unit.take().or_else(|| cell("unit"));
    Ok(args)
}

/// A pair of columns as a pair of numbers.
fn pair(lower: Option<String>, upper: Option<String>) -> Option<Pair> {
    format!("{},{}", lower?, upper?).parse().ok()
}
