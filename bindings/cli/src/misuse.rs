//! An argument that a command does not take: what was unexpected, and the command line that is likely meant.

use crate::args::Cli;
use clap::CommandFactory as _;
use clap::error::{ContextKind, ContextValue, ErrorKind};

/// Letters that no shell takes for anything but themselves.
const PLAIN: &str = "-_./=,:+@%";

/// What is wrong with `args`, the words behind the program's name, and what to type instead; nothing where clap's own words are better.
pub(crate) fn sentence(error: &clap::Error, args: &[String]) -> Option<String> {
    if error.kind() != ErrorKind::UnknownArgument {
        return None;
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
