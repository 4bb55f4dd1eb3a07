//! The command line: what can be asked, and its manual.

mod bring_up;
mod fit;
pub(crate) mod unit;

use crate::output;
use bring_up::{BRING_UP_EXAMPLES, REHEARSE_EXAMPLES};
pub(crate) use bring_up::{BringUpArgs, RehearseArgs};
use clap::builder::{PathBufValueParser, TypedValueParser};
use clap::{Args, Parser, Subcommand, ValueEnum};
use elbowroom::fit::CompareOptions;
use elbowroom::robot::Date;
use fit::FIT_EXAMPLES;
pub(crate) use fit::*;
use std::path::PathBuf;

/// A path that must have the ending of a picture.
fn picture_path() -> impl TypedValueParser<Value = PathBuf> {
    PathBufValueParser::new().try_map(output::picture_path)
}

const ABOUT: &str = "The checked calibration model for robot joints driven by hobby servos.

It never touches hardware: from what was commanded and what was measured it computes how far a joint may go, how certain that \
is, and what number to send to the motor.";

const AFTER: &str = "\
Start here:
  elbowroom demo
      fit the measured recordings that come with the program
  elbowroom fit readings.csv --into heron.toml --joint wing_left --new
  elbowroom check heron.toml
  elbowroom report heron.toml -o heron.html
      from readings in a CSV to a checked robot file and a report

Exit status: 0 success, 1 there are findings, 2 wrong usage or unreadable input (nothing was written).
With --json, standard output holds one JSON object; `elbowroom schema` prints its schema.

Safety: this program computes; it cannot stop a motor. Take the load off before a polarity test, keep a hand on the \
power switch, make the first move slow, and never search a stop under a person's hand. It is not a safety function in the \
sense of ISO 13849 or IEC 61508. Local codes and licensed practice come first.";

/// What can be asked.
#[derive(Debug, Parser)]
#[command(name = "elbowroom", version, about = "Checked calibration for servo joints", long_about = ABOUT, after_help = AFTER, disable_help_subcommand = true)]
pub(crate) struct Cli {
    #[command(subcommand)]
    pub(crate) command: Command,
    /// Print one JSON object instead of text
    #[arg(long, global = true)]
    pub(crate) json: bool,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Find how far a joint may go from measured readings
    #[command(after_help = FIT_EXAMPLES)]
    Fit(Box<FitArgs>),
    /// Find the mistakes in a robot file
    #[command(after_help = CHECK_EXAMPLES)]
    Check(CheckArgs),
    /// List the joints of a robot file
    #[command(after_help = SHOW_EXAMPLES)]
    Show(ShowArgs),
    /// Convert commands to pulses and counts, or back
    #[command(after_help = CONVERT_EXAMPLES)]
    Convert(ConvertArgs),
    /// Bring a real joint up: from loose parts to a checked joint, reading by reading
    #[command(name = "bring-up", after_help = BRING_UP_EXAMPLES)]
    BringUp(Box<BringUpArgs>),
    /// Rehearse a bring-up on a virtual joint, healthy or broken
    #[command(after_help = REHEARSE_EXAMPLES)]
    Rehearse(RehearseArgs),
    /// Compare two tables of readings, or two robot files
    #[command(after_help = COMPARE_EXAMPLES)]
    Compare(Box<CompareArgs>),
    /// Write a page about a robot, for the screen and for paper
    #[command(after_help = REPORT_EXAMPLES)]
    Report(ReportArgs),
    /// Write the measured limits into a robot description (URDF or MJCF)
    #[command(after_help = LIMITS_EXAMPLES)]
    Limits(LimitsArgs),
    /// Change a robot file by name: set, copy, mirror, rename, remove, waive
    #[command(after_help = EDIT_EXAMPLES)]
    Edit(EditArgs),
    /// Make the block of a board's joints for its microcontroller
    #[command(after_help = FIRMWARE_EXAMPLES)]
    Firmware(FirmwareArgs),
    /// Fit the measured recordings that come with the program
    #[command(
        after_help = "It runs fit and report as you would type them, and shows the commands. A folder made by an earlier demo \
                      may be used again; other files are never overwritten."
    )]
    Demo(DemoArgs),
    /// Explain a command, the robot file (help file) or how to take readings (help measure)
    Help {
        /// A command, or file, or measure
        topic: Vec<String>,
    },
    /// Print the schema of what --json prints
    Schema,
    /// Print the completion script of a shell
    #[command(
        after_help = "Example:\n  elbowroom completions bash > ~/.local/share/bash-completion/completions/elbowroom"
    )]
    Completions {
        /// The shell
        shell: clap_complete::Shell,
    },
}

const CHECK_EXAMPLES: &str = "\
Examples:
  elbowroom check heron.toml
  elbowroom check heron.toml --as-of 2026-11-20
      judge the age of evidence as of that day
  elbowroom check heron.toml --waived
      also list what the file waives, with the reasons
  elbowroom check heron.toml --urdf heron.urdf
      compare names, limits and speeds with an open robot description
  elbowroom check --rules
      list every rule, what it protects, and a line that breaks it";

/// Options of `check`.
#[derive(Debug, Args)]
pub(crate) struct CheckArgs {
    /// Robot file [default: the only one in this folder]
    pub(crate) file: Option<PathBuf>,
    /// Judge the age of evidence as of this day [default: today, UTC]
    #[arg(long, value_name = "DAY")]
    pub(crate) as_of: Option<Date>,
    /// Also compare the robot with this URDF file
    #[arg(long, value_name = "FILE")]
    pub(crate) urdf: Option<PathBuf>,
    /// Also list waived findings
    #[arg(long)]
    pub(crate) waived: bool,
    /// List every rule instead
    #[arg(long, conflicts_with = "file")]
    pub(crate) rules: bool,
}

const SHOW_EXAMPLES: &str = "\
Examples:
  elbowroom show heron.toml
  elbowroom show heron.toml wing_left
  elbowroom show heron.toml beak --plot beak.svg
      and draw what becomes of its commands: drive angle, pulse width, how steeply, and what the sensor reads";

/// Options of `show`.
#[derive(Debug, Args)]
pub(crate) struct ShowArgs {
    /// Robot file [default: the only one in this folder]
    pub(crate) file: Option<PathBuf>,
    /// Show all that is known of this joint
    pub(crate) joint: Option<String>,
    /// Draw the joint's way from command to drive angle and reading into this file
    #[arg(long, value_name = "FILE.svg", value_parser = picture_path(), requires = "file")]
    pub(crate) plot: Option<PathBuf>,
    /// Draw the readings behind its evidence, fitted again, into this file
    #[arg(long, value_name = "FILE.svg", value_parser = picture_path(), requires = "joint")]
    pub(crate) plot_readings: Option<PathBuf>,
    /// Draw its stops and lost motion over its calibrations into this file
    #[arg(long, value_name = "FILE.svg", value_parser = picture_path(), requires = "joint")]
    pub(crate) plot_history: Option<PathBuf>,
}

const LIMITS_EXAMPLES: &str = "\
A joint's limits are its travel in commands, limited to its command range: in rad or m in URDF, in MJCF in deg or rad as its compiler element \
states, or m. Only these attributes change; order and comments stay. Exit status 1 means that joints were left out.

Examples:
  elbowroom limits heron.toml --into heron.urdf
      planners then use the travel that was measured
  elbowroom limits heron.toml --into heron.xml -o measured.xml
      leave the simulator's own file as it is
  elbowroom check heron.toml --urdf heron.urdf
      list the other contradictions between the two";

/// Options of `limits`.
#[derive(Debug, Args)]
pub(crate) struct LimitsArgs {
    /// Robot file
    pub(crate) file: PathBuf,
    /// The description whose limits are replaced
    #[arg(long, value_name = "FILE")]
    pub(crate) into: PathBuf,
    /// Write here instead; the description stays as it is
    #[arg(short, long, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
}

const EDIT_EXAMPLES: &str = "\
A place is a joint's name and a key, as in the robot file (elbowroom help file lists the keys); * in the name stands for any \
letters, in joints of remove, sense and waive too; waive takes only those of them that have the finding now. A * in the value that is \
set becomes what * stands for in the name. A name with other \
characters than letters, digits, _ and - stands in quotes, and the whole in others, as in the examples. Comments and order stay, the changed lines are printed, and a change that would make the file invalid is refused. What the check \
finds after the change and not before is printed, and errors that a waiver accepts; the exit status is 1 if an open error is among it.

Every command that changes a robot file keeps the text before as FILE~ beside it, the last one only; undo puts it back, and a second \
undo takes that back. Rules whose findings are errors are waived of one joint at a time.

Examples:
  elbowroom edit heron.toml set wing_left.rest=12 'leg_*.max_rate_per_s=120'
  elbowroom edit heron.toml set 'right_*.mirror_of=left_*'
      right_hip mirrors left_hip, right_knee left_knee
  elbowroom edit heron.toml set '\"Jaw left\".max_rate_per_s=60'
      a joint whose name has a blank in it
  elbowroom edit heron.toml set wing_left.command=-40,50 check.guard=1.5 --dry-run
      show the changed lines, and write nothing
  elbowroom edit heron.toml set servo.assumed=false
      the servo's numbers, assumed so far, agree with its data sheet
  elbowroom edit heron.toml set 'servo={ angle = [0, 120], pulse_us = [900, 2100] }'
      correct the servo's line: each command keeps its pulse, and the drive angles of all its joints are recalculated
  elbowroom edit heron.toml mirror wing_left wing_right --channel 9
      the other side: drive range, travel and direction reversed, its ends declared until they are measured
  elbowroom edit heron.toml waive rate-missing --joint crest --reason 'moved by hand'
  elbowroom edit heron.toml sense wing_left opposing
  elbowroom edit heron.toml undo --dry-run
      show what taking back the last change would change";

/// Options of `edit`.
#[derive(Debug, Args)]
pub(crate) struct EditArgs {
    /// Robot file
    pub(crate) file: PathBuf,
    /// Show the changed lines and write nothing
    #[arg(long, global = true)]
    pub(crate) dry_run: bool,
    #[command(subcommand)]
    pub(crate) change: Change,
}

/// A change of a robot file.
#[derive(Debug, Subcommand)]
pub(crate) enum Change {
    /// Set values
    Set {
        /// Place and value, e.g. wing_left.rest=12
        #[arg(required = true, value_name = "PLACE=VALUE")]
        values: Vec<String>,
    },
    /// Take values out
    Unset {
        /// Places, e.g. wing_left.max_rate_per_s
        #[arg(required = true, value_name = "PLACE")]
        places: Vec<String>,
    },
    /// Write a joint like another one, its ends declared
    Copy(Target),
    /// Write a joint for the other side, its ends declared
    Mirror(Target),
    /// Give a joint another name
    Rename {
        /// The joint
        joint: String,
        /// Its new name
        name: String,
    },
    /// Take joints out
    Remove {
        /// The joints
        #[arg(required = true, value_name = "JOINT")]
        joints: Vec<String>,
    },
    /// Accept findings of the check, with a reason
    Waive(WaiveArgs),
    /// Put back the text before the last change, which is kept as FILE~; once more takes that back
    Undo,
    /// Record the sense of a joint's feedback as a test has shown it
    Sense {
        /// The joint
        joint: String,
        /// What the test has shown: opposing, aiding or undetermined
        sense: String,
    },
}

/// From which joint to which.
#[derive(Debug, Args)]
pub(crate) struct Target {
    /// The joint that is there
    pub(crate) from: String,
    /// The joint to write
    pub(crate) to: String,
    /// Its board [default: its own, else that of the first]
    #[arg(long, value_name = "NAME")]
    pub(crate) board: Option<String>,
    /// Its channel
    #[arg(long, value_name = "N")]
    pub(crate) channel: Option<u16>,
    /// Replace the numbers of a joint that exists
    #[arg(long)]
    pub(crate) replace: bool,
}

/// What is accepted, and why.
#[derive(Debug, Args)]
pub(crate) struct WaiveArgs {
    /// The rule, as the check names it
    pub(crate) rule: String,
    /// The joint, needed for a rule whose findings are errors [default: all]
    #[arg(long, value_name = "NAME")]
    pub(crate) joint: Option<String>,
    /// Why the finding is accepted
    #[arg(long, value_name = "TEXT")]
    pub(crate) reason: String,
}

const FIRMWARE_EXAMPLES: &str = "\
Two files hold the same block: a binary image, and a C header with the array and a comment that lists its contents. \
bindings/firmware has the library that reads it, and an example. While the check finds errors nothing is written, unless --despite \
gives a reason.

Examples:
  elbowroom firmware heron.toml --board breast
      write heron_breast.bin and heron_breast.h
  elbowroom firmware heron.toml --board breast -o src/breast
      write src/breast.bin and src/breast.h";

/// Options of `firmware`.
#[derive(Debug, Args)]
pub(crate) struct FirmwareArgs {
    /// Robot file
    pub(crate) file: PathBuf,
    /// The board whose joints are meant; needed if there are several
    #[arg(long)]
    pub(crate) board: Option<String>,
    /// Path of the two files without their endings [default: ROBOT_BOARD in this folder, ROBOT_block where no joint names a board]
    #[arg(short, long, value_name = "BASE")]
    pub(crate) output: Option<PathBuf>,
    /// Write them although the check finds errors, for this reason, which is written into the header
    #[arg(long, value_name = "REASON")]
    pub(crate) despite: Option<String>,
}

const CONVERT_EXAMPLES: &str = "\
Towards the motor a command outside its range is clamped, and marked so; NaN and infinities are refused. Back from the \
motor nothing is clamped.

Examples:
  elbowroom convert heron.toml wing_left -- -40 10 60
  seq -40 10 60 | elbowroom convert heron.toml wing_left --to counts
      one number a line, for other programs
  elbowroom convert heron.toml wing_left --from counts 283 290
  elbowroom convert heron.toml wing_left --from reading 541 1
      angle, command, and whether the sensor is sound: inside or outside its measured range, at a rail as with a broken or
      shorted wire, or impossible";

/// Options of `convert`.
#[derive(Debug, Args)]
pub(crate) struct ConvertArgs {
    /// Robot file
    pub(crate) file: PathBuf,
    /// Joint
    pub(crate) joint: String,
    /// Values; without any they are read from standard input, separated by blanks or lines
    #[arg(allow_negative_numbers = true)]
    pub(crate) values: Vec<String>,
    /// What the values are
    #[arg(long, value_name = "WHAT", default_value = "command")]
    pub(crate) from: Quantity,
    /// Print only this, one a line; with --json beside what was given
    #[arg(long, value_name = "WHAT")]
    pub(crate) to: Option<Quantity>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Quantity {
    /// The joint's own unit
    Command,
    /// Drive angle, deg
    Drive,
    /// Pulse width, us
    PulseUs,
    /// Timer counts
    Counts,
    /// What the joint's sensor reads, e.g. ADC counts; needs feedback in the file
    Reading,
}

const COMPARE_EXAMPLES: &str = "\
Two tables: each is fitted by the same options, and the fits are compared. Two robot files (ending in .toml): what they \
mean is compared joint by joint, not how they are written.

A change of a measured value counts if it is significant and no smaller than the smallest that matters (--smallest-drive, \
--smallest-share). A change of any other value counts. A later date or another number of readings is shown and does not count. All quantities are judged \
together: of unchanged joints at most one in twenty is reported as changed. p is the probability of such a change by \
chance, adjusted for that (Holm); finds is the change that these tables find nine times in ten; E_n is that of ISO 13528. \
offset is how much further the joint stands at the same drive angle, in deg of drive. \
Exit status 1 means that something changed. An end that the later table did not test is named and never called unchanged.

Examples:
  elbowroom compare before.csv after.csv
  elbowroom compare 2025.csv 2026.csv --drive-unit us --resolution 0.1
  elbowroom compare before.csv after.csv --each joint
      all joints of two tables, whose column joint names them; a joint that cannot be compared, or is in one table only, is named, and the
      exit status is 1
  elbowroom compare heron_2025.toml heron.toml
      joints added and removed, ranges, rest, inversion, servo, evidence
  elbowroom compare heron_2025.toml heron.toml --joint wing_left
      one joint of them";

/// Options of `compare`.
#[derive(Debug, Args)]
pub(crate) struct CompareArgs {
    /// Readings taken earlier, or an earlier robot file
    pub(crate) old: PathBuf,
    /// Readings taken later, or a later robot file
    pub(crate) new: PathBuf,
    /// Compare this joint of the robot files only
    #[arg(long, value_name = "NAME")]
    pub(crate) joint: Option<String>,
    /// Column of both tables with the name of the joint of each row: all joints are compared, each with itself
    #[arg(long, value_name = "COLUMN", conflicts_with = "joint")]
    pub(crate) each: Option<String>,
    /// Smallest change of a position that matters, drive deg
    #[arg(
        long,
        value_name = unit::DEG,
        allow_negative_numbers = true,
        default_value_t = CompareOptions::default().smallest_drive
    )]
    pub(crate) smallest_drive: f64,
    /// Smallest change of the scale that matters, as a share
    #[arg(
        long,
        value_name = "SHARE",
        allow_negative_numbers = true,
        default_value_t = CompareOptions::default().smallest_share
    )]
    pub(crate) smallest_share: f64,
    /// Draw the changes as an SVG picture; of robot files those of one joint
    #[arg(long, value_name = "FILE.svg", value_parser = picture_path())]
    pub(crate) plot: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) table: TableArgs,
}

impl CompareArgs {
    /// What matters.
    pub(crate) fn options(&self) -> CompareOptions {
        CompareOptions::default()
            .with_smallest_drive(self.smallest_drive)
            .with_smallest_share(self.smallest_share)
    }
}

const REPORT_EXAMPLES: &str = "\
The page loads nothing from outside and runs no scripts. An existing file is replaced only if it is an earlier report.

Example:
  elbowroom report heron.toml -o heron.html";

/// Options of `report`.
#[derive(Debug, Args)]
pub(crate) struct ReportArgs {
    /// Robot file [default: the only one in this folder]
    pub(crate) file: Option<PathBuf>,
    /// The page to write [default: the robot file's name with .html, in this folder]
    #[arg(short, long, value_name = "FILE.html")]
    pub(crate) output: Option<PathBuf>,
    /// Judge the age of evidence as of this day [default: today, UTC]
    #[arg(long, value_name = "DAY")]
    pub(crate) as_of: Option<Date>,
}

/// Options of `demo`.
#[derive(Debug, Args)]
pub(crate) struct DemoArgs {
    /// Folder for the recordings and the robot file
    #[arg(default_value = "elbowroom-demo")]
    pub(crate) folder: PathBuf,
}
