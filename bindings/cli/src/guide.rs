//! `help`: the manual of a command, the reference of the robot file, and how to take readings.

use crate::args::Cli;
use crate::outcome::Outcome;
use crate::problem::Problem;
use clap::CommandFactory as _;
use elbowroom::Code;

const FILE: &str = include_str!("guide/file.txt");
const MEASURE: &str = include_str!("guide/measure.txt");

pub(crate) fn run(topic: &[String]) -> Result<Outcome, Problem> {
    let words: Vec<&str> = topic.iter().map(String::as_str).collect();
    let text = match words.as_slice() {
        ["file"] => FILE.to_owned(),
        ["measure"] => MEASURE.to_owned(),
        words => manual(words)?,
    };
    Ok(Outcome {
        json: serde_json::json!({ "topic": topic, "text": text }),
        text,
        found: false,
    })
}

/// The manual of a command, or of all.
fn manual(words: &[&str]) -> Result<String, Problem> {
    let mut all = Cli::command();
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
