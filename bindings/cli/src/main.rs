//! The shell tool of elbowroom: text for people, `--json` for programs.

mod args;
mod bring_up;
mod chain;
mod check;
mod columns;
mod compare;
mod convert;
mod degrees;
mod demo;
mod edit;
mod firmware;
mod fit;
mod guide;
mod letters;
mod limits;
mod linkage_guess;
mod misuse;
mod only_file;
mod outcome;
mod output;
mod paint;
mod plot;
mod problem;
mod progress;
mod readings;
mod rehearse;
mod report;
mod show;
mod svg;
mod table;
mod trend;
mod usual;
mod voice;

use args::{Cli, Command};
use clap::{CommandFactory as _, FromArgMatches as _};
use outcome::Outcome;
use problem::Problem;
use std::io::Write as _;
use std::process::ExitCode;

/// Exit status where something was found.
const FOUND: u8 = 1;
/// Exit status of misuse and unreadable input; clap's own too.
const MISUSE: u8 = 2;

fn main() -> ExitCode {
    let cli = match parsed() {
        Ok(cli) => cli,
        // Help and version too are printed here.
        Err(error) => {
            let args: Vec<_> = std::env::args_os()
                .skip(1)
                .map(|arg| arg.to_string_lossy().into_owned())
                .collect();
            if let Some(sentence) = misuse::sentence(&error, &args) {
                let problem = Problem::new(elbowroom::Code::OptionOutside, sentence);
                if args.iter().any(|arg| arg == "--json") {
                    told(&problem);
                }
                return refused(problem);
            }
            let printed = match error.kind() {
                clap::error::ErrorKind::DisplayHelp => print(&error.render().ansi().to_string()),
                _ => output::printed(error.print().and_then(|()| std::io::stdout().flush())),
            };
            let status = u8::try_from(error.exit_code()).unwrap_or(MISUSE);
            if status != 0 && args.iter().any(|arg| arg == "--json") {
                let message = error.render().to_string();
                told(&Problem::new(elbowroom::Code::OptionOutside, message.trim()));
            }
            return printed.map_or_else(refused, |()| ExitCode::from(status));
        }
    };
    if let Command::Convert(args) = &cli.command
        && args.values.is_empty()
    {
        return convert::stream(args, cli.json).map_or_else(refused, |()| ExitCode::SUCCESS);
    }
    if cli.json {
        outcome::want_json();
    }
    match run(&cli.command, cli.json) {
        Ok(outcome) => {
            // What programs read is never folded.
            let is_plain = matches!(cli.command, Command::Schema | Command::Completions { .. });
            let printed = if cli.json {
                print_whole(&format!("{:#}\n", outcome.json))
            } else if is_plain {
                print_whole(&outcome.text)
            } else {
                print(&outcome.text)
            };
            match printed {
                Err(problem) => refused(problem),
                Ok(()) if outcome.found => ExitCode::from(FOUND),
                Ok(()) => ExitCode::SUCCESS,
            }
        }
        Err(problem) => {
            if cli.json {
                told(&problem);
            }
            refused(problem)
        }
    }
}

/// The command line; its help is folded as all else.
fn parsed() -> Result<Cli, clap::Error> {
    let matches = fitted(Cli::command()).try_get_matches()?;
    Cli::from_arg_matches(&matches)
}

/// Below this width options and what they mean do not stand side by side.
const NARROW_HELP: usize = 70;

/// A command whose help fits the lines of standard output.
pub(crate) fn fitted(command: clap::Command) -> clap::Command {
    match voice::width() {
        Some(width) => command.term_width(width).next_line_help(width < NARROW_HELP),
        None => command,
    }
}

/// The object of a refusal.
fn told(problem: &Problem) {
    // Whether or not it can be printed, the words on standard error are what is told.
    let _ = print_whole(&format!("{:#}\n", serde_json::json!({ "error": problem })));
}

/// Tells of a refusal.
fn refused(problem: Problem) -> ExitCode {
    // Nobody is left to tell where this cannot be written.
    let text = format!("elbowroom: {problem}");
    let text = voice::width_beside().map_or_else(|| text.clone(), |width| voice::wrapped(&text, width));
    let _ = writeln!(anstream::stderr(), "{text}");
    ExitCode::from(MISUSE)
}

fn run(command: &Command, is_json: bool) -> Result<Outcome, Problem> {
    match command {
        Command::Fit(args) => fit::run(args),
        Command::Check(args) => check::run(args),
        Command::Show(args) => show::run(args),
        Command::Convert(args) => convert::run(args),
        Command::BringUp(args) => bring_up::run(args, is_json),
        Command::Rehearse(args) => rehearse::run(args, is_json),
        Command::Compare(args) => compare::run(args),
        Command::Report(args) => report::run(args),
        Command::Help { topic } => guide::run(topic),
        Command::Schema => schema(),
        Command::Limits(args) => limits::run(args),
        Command::Edit(args) => edit::run(args),
        Command::Firmware(args) => firmware::run(args),
        Command::Demo(args) => demo::run(args),
        Command::Completions { shell } => Ok(completions(*shell)),
    }
}

/// The schema of every object that `--json` prints.
const SCHEMA: &str = include_str!("../schema.json");

fn schema() -> Result<Outcome, Problem> {
    let json = serde_json::from_str(SCHEMA).map_err(|error| Problem::new(elbowroom::Code::Other, error.to_string()))?;
    Ok(Outcome {
        text: SCHEMA.to_owned(),
        json,
        found: false,
    })
}

fn completions(shell: clap_complete::Shell) -> Outcome {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "elbowroom", &mut script);
    let text = String::from_utf8_lossy(&script).into_owned();
    Outcome {
        json: serde_json::json!({ "shell": shell.to_string(), "script": text }),
        text,
        found: false,
    }
}

/// Prints an object, which is for programs.
fn print_whole(text: &str) -> Result<(), Problem> {
    let mut out = anstream::stdout();
    output::printed(out.write_all(text.as_bytes()).and_then(|()| out.flush()))
}

/// Prints in lines that fit the terminal, if it is one.
fn print(text: &str) -> Result<(), Problem> {
    let mut out = anstream::stdout();
    let text = voice::width().map_or_else(|| text.to_owned(), |width| voice::wrapped(text, width));
    output::printed(out.write_all(text.as_bytes()).and_then(|()| out.flush()))
}
