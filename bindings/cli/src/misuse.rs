//! An argument that a command does not take: what was unexpected, and the command line that is likely meant.

use crate::args::{Cli, unit};
use clap::CommandFactory as _;
use clap::error::{ContextKind, ContextValue, ErrorKind};
use std::num::{ParseFloatError, ParseIntError};

/// Letters that no shell takes for anything but themselves.
const PLAIN: &str = "-_./=,:+@%";

/// What is wrong with `args`, the words behind the program's name, and what to type instead; nothing where clap's own words are better.
pub(crate) fn sentence(error: &clap::Error, args: &[String]) -> Option<String> {
    match error.kind() {
        ErrorKind::UnknownArgument => {}
        ErrorKind::ValueValidation => return no_number(error),
        ErrorKind::MissingRequiredArgument => return needs_more(error, args),
        _ => return None,
    }
    let Some(ContextValue::String(unexpected)) = error.get(ContextKind::InvalidArg) else {
        return None;
    };
    let mut top = Cli::command();
    top.build();
    let mut command = &top;
    for arg in args {
        command = command.find_subcommand(arg).unwrap_or(command);
    }
    let name = command.get_name();
    let Some(option) = unexpected.strip_prefix("--") else {
        let is_needless = args.iter().any(|arg| arg == "--joint" || arg.starts_with("--joint="));
        let takes_joint = has_option(command, "joint") && !is_needless && !unexpected.starts_with('-');
        return takes_joint.then(|| {
            let at = args.iter().position(|arg| arg == unexpected).unwrap_or(args.len());
            let meant = args.iter().take(at).map(String::as_str);
            let meant = meant.chain(["--joint"]).chain(args.iter().skip(at).map(String::as_str));
            format!(
                "unexpected argument \"{unexpected}\"; {name} takes the joint by --joint: {}",
                line(meant)
            )
        });
    };
    if command.get_positionals().any(|arg| arg.get_id() == option) {
        let glued = format!("--{option}=");
        let meant = args.iter().filter(|arg| *arg != unexpected);
        let mut meant: Vec<_> = meant.map(|arg| arg.strip_prefix(&glued).unwrap_or(arg)).collect();
        // Given first of all, it belongs behind the file.
        let behind = args.iter().position(|arg| arg == name).map_or(0, |at| at + 1);
        let is_first = args
            .get(behind)
            .is_some_and(|arg| arg == unexpected || arg.starts_with(&glued));
        let is_value = |at: usize| meant.get(at).is_some_and(|arg| !arg.starts_with('-'));
        if option != "file" && is_first && is_value(behind) && is_value(behind + 1) {
            meant.swap(behind, behind + 1);
        }
        return Some(format!(
            "unexpected option {unexpected}; {name} takes the {option} without it: {}",
            line(meant.into_iter())
        ));
    }
    let mut others = Vec::new();
    collect(&top, option, "", &mut others);
    let (last, first) = others.split_last()?;
    let others = if first.is_empty() {
        last.clone()
    } else {
        format!("{} and {last}", first.join(", "))
    };
    Some(format!(
        "unexpected option {unexpected}; {name} has no such option, {others} {}: leave it out here, or see elbowroom {name} --help",
        if first.is_empty() { "has" } else { "have" }
    ))
}

/// A value that is not a number, as `1deg`: what is expected, and in which unit.
fn no_number(error: &clap::Error) -> Option<String> {
    let (Some(ContextValue::String(option)), Some(ContextValue::String(value))) =
        (error.get(ContextKind::InvalidArg), error.get(ContextKind::InvalidValue))
    else {
        return None;
    };
    let source = std::error::Error::source(error)?;
    let whole = source.downcast_ref::<ParseIntError>().is_some();
    if !whole && source.downcast_ref::<ParseFloatError>().is_none() {
        return None;
    }
    let (name, of) = option.split_once(' ').unwrap_or((option, ""));
    let of = of.trim_matches(['<', '>']);
    let unit = unit::word_of(of).map_or(String::new(), |unit| format!(" in {unit}"));
    let number = if whole { "whole number" } else { "number" };
    let pointed = value.replacen(',', ".", 1);
    if pointed != *value && !whole && pointed.parse::<f64>().is_ok() {
        return Some(format!("{name} is \"{value}\"; write decimals with a point, {pointed}"));
    }
    let digits = value.trim_end_matches(|c: char| !c.is_ascii_digit());
    let is_number = digits != value && digits.parse::<f64>().is_ok() && (!whole || digits.parse::<i64>().is_ok());
    let meant = match is_number {
        true => format!("; if {digits} is meant, write {name} {digits}"),
        false => String::new(),
    };
    Some(format!(
        "{name} is \"{value}\"; give a plain {number}{unit}, without its unit{meant}"
    ))
}

/// Options that need others which are not there: which, and what to add.
fn needs_more(error: &clap::Error, args: &[String]) -> Option<String> {
    let Some(ContextValue::Strings(missing)) = error.get(ContextKind::InvalidArg) else {
        return None;
    };
    let is_option = |arg: &String| arg.starts_with("--");
    if !missing.iter().all(is_option) {
        return None;
    }
    // What needs them is an option without which nothing is missing.
    let is_whole = |args: &[&String]| {
        let words = std::iter::once("elbowroom").chain(args.iter().map(|arg| arg.as_str()));
        Cli::command().try_get_matches_from(words).is_ok()
    };
    let needing = args.iter().enumerate().filter(|(at, arg)| {
        let value = args
            .get(at + 1)
            .filter(|next| is_option(arg) && !arg.contains('=') && !is_option(next));
        let others = args.iter().enumerate();
        let others = others.filter(|(other, _)| other != at && (value.is_none() || *other != at + 1));
        is_option(arg) && is_whole(&others.map(|(_, arg)| arg).collect::<Vec<_>>())
    });
    let needing = needing.map(|(_, arg)| arg.split('=').next().unwrap_or(arg)).next()?;
    Some(format!(
        "{needing} needs {} as well; add {}, or remove {needing}",
        missing.join(" and "),
        if missing.len() == 1 { "it" } else { "them" }
    ))
}

fn has_option(command: &clap::Command, long: &str) -> bool {
    command.get_arguments().any(|arg| arg.get_long() == Some(long))
}

/// The commands that have an option, each by its words.
fn collect(command: &clap::Command, long: &str, before: &str, found: &mut Vec<String>) {
    for sub in command.get_subcommands() {
        let name = format!("{before}{}", sub.get_name());
        if has_option(sub, long) {
            found.push(name.clone());
        }
        collect(sub, long, &format!("{name} "), found);
    }
}

/// A command line to copy.
fn line<'a>(args: impl Iterator<Item = &'a str>) -> String {
    args.fold("elbowroom".to_owned(), |line, arg| {
        let is_plain = !arg.is_empty() && arg.chars().all(|c| c.is_alphanumeric() || PLAIN.contains(c));
        let shown = if is_plain {
            arg.to_owned()
        } else {
            format!("'{}'", arg.replace('\'', r"'\''"))
        };
        format!("{line} {shown}")
    })
}
