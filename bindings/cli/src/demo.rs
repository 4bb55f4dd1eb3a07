//! `demo`: the main job on measured data that come with the program, by the commands a user would type.

use crate::args::{Cli, Command, DemoArgs};
use crate::outcome::Outcome;
use crate::paint::strong;
use crate::problem::Problem;
use clap::Parser as _;
use elbowroom::Code;
use elbowroom::robot::write_whole;
use std::fmt::Write as _;
use std::path::Path;

/// Measured by A. J. Barry; source and licence stand in `tests/data/measured/README.md`.
const RECORDINGS: &str = include_str!("../../../tests/data/measured/elevon_deflection.csv");
/// The licence of those, which goes wherever they go.
const LICENCE: &str = include_str!("../../../tests/data/measured/LICENSE-BSD-3-Clause.txt");

/// One series of the recordings, with the slope and R² that its source published.
struct Series {
    side: &'static str,
    joint: &'static str,
    channel: &'static str,
    slope_rad_per_us: &'static str,
    r_squared: &'static str,
}

const SERIES: [Series; 2] = [
    Series {
        side: "left",
        joint: "elevon_left",
        channel: "0",
        slope_rad_per_us: "0.002114",
        r_squared: "0.9883",
    },
    Series {
        side: "right",
        joint: "elevon_right",
        channel: "1",
        slope_rad_per_us: "-0.002300",
        r_squared: "0.9930",
    },
];

pub(crate) fn run(args: &DemoArgs) -> Result<Outcome, Problem> {
    let folder = &args.folder;
    std::fs::create_dir_all(folder).map_err(|error| Problem::access(folder, "made", &error))?;
    let readings = folder.join("elevon_deflection.csv");
    let robot = folder.join("elevons.toml");
    place(&readings, RECORDINGS)?;
    place(&folder.join("elevon_deflection.LICENSE.txt"), LICENCE)?;

    let mut text = String::from(
        "Recordings of two elevons of a small aircraft (A. J. Barry, simflight, BSD 3-Clause): the pulse width\n\
         commanded and the angle measured. Each series was taken in one go, outward from the middle.\n",
    );
    let mut commands = Vec::new();
    for series in &SERIES {
        let words = fit_command(series, folder, &readings, &robot);
        let outcome = typed(&words, &mut text)?;
        let _ = writeln!(
            text,
            "the source published: slope {} rad per us, R\u{b2} {}",
            series.slope_rad_per_us, series.r_squared
        );
        commands.push(serde_json::json!({ "command": words, "result": outcome.json }));
    }
    let page = folder.join("elevons.html");
    let words = ["elbowroom", "report"].map(str::to_owned).into_iter();
    let words: Vec<String> = words
        .chain([robot.display().to_string(), "-o".to_owned(), page.display().to_string()])
        .collect();
    let outcome = typed(&words, &mut text)?;
    commands.push(serde_json::json!({ "command": words, "result": outcome.json }));
    Ok(Outcome {
        text,
        json: serde_json::json!({ "commands": commands }),
        found: false,
    })
}

/// Runs a command as if it had been typed, and writes down what was typed and what it said.
fn typed(words: &[String], text: &mut String) -> Result<Outcome, Problem> {
    let cli = Cli::try_parse_from(words).map_err(|error| Problem::new(Code::Other, error.to_string()))?;
    let outcome = match &cli.command {
        Command::Fit(args) => crate::fit::run(args)?,
        Command::Report(args) => crate::report::run(args)?,
        _ => return Err(Problem::new(Code::Other, "the demo knows fit and report only")),
    };
    let line = strong(&format!("$ {}", shown(words)));
    let _ = writeln!(text, "\n{line}\n{}", outcome.text.trim_end());
    Ok(outcome)
}

/// The command line of a series, as a user would type it.
fn fit_command(series: &Series, folder: &Path, readings: &Path, robot: &Path) -> Vec<String> {
    let side = format!("side={}", series.side);
    let picture = folder.join(format!("{}.svg", series.joint)).display().to_string();
    let (readings, robot) = (readings.display().to_string(), robot.display().to_string());
    let words = [
        "elbowroom",
        "fit",
        &readings,
        "--where",
        "aircraft=1",
        "--where",
        &side,
        "--drive",
        "command_us",
        "--drive-unit",
        "us",
        "--measured",
        "deflection_deg",
        "--measured-unit",
        "deg",
        "--reference-rows",
        "in_source_fit=1",
        "--date",
        "2014-11-22",
        "--into",
        &robot,
        "--joint",
        series.joint,
        "--new",
        "--plot",
        &picture,
    ];
    let mut words: Vec<String> = words.into_iter().map(str::to_owned).collect();
    // The wiring belongs to a joint's first appearance; what is written down stays as it is.
    if !joint_is_there(robot.as_ref(), series.joint) {
        words.extend(["--board", "wing", "--channel", series.channel].map(str::to_owned));
    }
    words
}

fn joint_is_there(robot: &Path, joint: &str) -> bool {
    elbowroom::robot::Robot::load(robot).is_ok_and(|robot| robot.joint(joint).is_some())
}

/// The command line in lines of a readable length, still fit to be pasted.
fn shown(words: &[String]) -> String {
    let mut text = String::new();
    let mut width = 0;
    for (index, word) in words.iter().enumerate() {
        let breaks = word.starts_with("--") && width > 60;
        text.push_str(match (index, breaks) {
            (0, _) => "",
            (_, true) => " \\\n    ",
            _ => " ",
        });
        width = if breaks { 4 } else { width + 1 } + word.len();
        let plain = word.chars().all(|c| c.is_ascii_alphanumeric() || "-_./=".contains(c));
        if plain {
            text.push_str(word)
        } else {
            text.push_str(&format!("'{word}'"))
        }
    }
    text
}

/// Lays the recordings down, never over another file.
fn place(path: &Path, text: &str) -> Result<(), Problem> {
    match std::fs::read_to_string(path) {
        Ok(there) if there == text => Ok(()),
        Ok(_) => {
            let message = "holds other files; name another folder, e.g. elbowroom demo elsewhere";
            Err(Problem::at(Code::FileAccess, path, None, message))
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            write_whole(path, text.as_bytes()).map_err(|error| Problem::access(path, "written", &error))
        }
        Err(error) => Err(Problem::access(path, "read", &error)),
    }
}
