//! `help`: the manual of a command, the reference of the robot file, and how to take readings.

use crate::args::Cli;
use crate::outcome::Outcome;
use crate::problem::Problem;
use crate::voice::wrapped;
use clap::CommandFactory as _;
use elbowroom::Code;
use elbowroom::robot::FileTable;
use std::fmt::Write as _;

const MEASURE: &str = include_str!("guide/measure.txt");

pub(crate) fn run(topic: &[String]) -> Result<Outcome, Problem> {
    let words: Vec<&str> = topic.iter().map(String::as_str).collect();
    let text = match words.as_slice() {
        ["file"] => file(),
        ["measure"] => wrapped(MEASURE, crate::voice::width().map_or(WIDEST, |width| width.min(WIDEST))),
        words => manual(words)?,
    };
    Ok(Outcome {
        json: serde_json::json!({ "topic": topic, "text": text }),
        text,
        found: false,
    })
}

/// The widest line of a text that is printed anywhere.
const WIDEST: usize = 80;

/// Every key of the robot file, as its reader knows them.
fn file() -> String {
    let mut text = String::from(
        "The robot file is TOML, for people to write and read. Comments and order stay when a command changes a value; an unknown key is \
         an error. elbowroom edit changes values, elbowroom check --rules lists the rules of the check.\n",
    );
    for table in FileTable::ALL {
        let _ = writeln!(text, "\n{}", table.place);
        let _ = writeln!(text, "  {}", table.purpose);
        for key in table.keys {
            let needed = if key.needed { " (needed)" } else { "" };
            let _ = writeln!(text, "  {}{needed}: {}", key.name, key.meaning);
            let _ = writeln!(text, "      {}", key.example);
        }
    }
    wrapped(&text, crate::voice::width().map_or(WIDEST, |width| width.min(WIDEST)))
}

/// The manual of a command, or of all.
fn manual(words: &[&str]) -> Result<String, Problem> {
    let mut all = crate::fitted(Cli::command());
    all.build();
    let mut command = &mut all;
    for word in words {
        let names: Vec<String> = command
            .get_subcommands()
            .map(|known| known.get_name().to_owned())
            .collect();
        command = command.find_subcommand_mut(word).ok_or_else(|| {
            let message = format!(
                "no command or topic is named {word}; there are file, measure, {}",
                names.join(", ")
            );
            Problem::new(Code::OptionOutside, message)
        })?;
    }
    Ok(command.render_long_help().to_string())
}
