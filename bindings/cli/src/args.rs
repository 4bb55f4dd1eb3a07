//! The command line: what can be asked, and its manual.

use crate::linkage_guess::LinkageGuess;
use clap::{Args, Parser, Subcommand, ValueEnum};
use elbowroom::fit::CompareOptions;
use elbowroom::robot::Date;
use std::path::PathBuf;

const ABOUT: &str = "The checked calibration model for robot joints driven by hobby servos.

It never touches hardware: it is told what was commanded and what was measured, and says how far a joint may go, how \
sure that is, and what number to send to the motor.";

const AFTER: &str = "\
Start here:
  elbowroom demo
      fit the measured recordings that come with the program
  elbowroom fit readings.csv --into heron.toml --joint wing_left --new
  elbowroom check heron.toml
  elbowroom report heron.toml -o heron.html
      from readings in a CSV to a checked robot file and a report

Exit status: 0 fine, 1 something was found, 2 misuse or unreadable input (nothing was written).
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
    /// Say what is wrong with a robot file
    #[command(after_help = CHECK_EXAMPLES)]
    Check(CheckArgs),
    /// List the joints of a robot file
    #[command(after_help = SHOW_EXAMPLES)]
    Show(ShowArgs),
    /// Turn commands into pulses and counts, or back
    #[command(after_help = CONVERT_EXAMPLES)]
    Convert(ConvertArgs),
    /// Bring a real joint up: from loose parts to a checked joint, reading by reading
    #[command(name = "bring-up", after_help = BRING_UP_EXAMPLES)]
    BringUp(Box<BringUpArgs>),
    /// Rehearse a bring-up on a virtual joint, healthy or broken
    #[command(after_help = REHEARSE_EXAMPLES)]
    Rehearse(RehearseArgs),
    /// Say what changed between two tables of readings, or two robot files
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
                      may be used again; other files are never written over."
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

const FIT_EXAMPLES: &str = "\
The columns may be separated by commas, semicolons, tabs or blanks, with decimal points or commas; blank rows, rows that begin \
with # and a title are skipped, and a header may hold units (drive_us, measured [deg]). Columns drive and measured are needed, \
or the first two where there is no header; approach (below, above), contact (here, lower, upper) and time (s, or h:mm:ss) are \
used if they are there. One row is one reading at rest:
  drive,measured,approach
  10,20.1,below
  20,39.9,below
  20,40.3,above

Examples:
  elbowroom fit readings.csv
      say what the readings show, and write nothing
  elbowroom fit readings.csv --into heron.toml --joint wing_left
      and write travel and evidence of that joint, keeping the file's comments
  elbowroom fit repaired.csv --into heron.toml --joint wing_left --adopt
      after a repair: if the readings contradict the file, nothing is written; --adopt or --keep decides
  elbowroom fit readings.csv --into heron.toml --joint wing_left --new --board breast --channel 3 --max-rate-per-s 60
      a joint, or the file, that is not there yet
  elbowroom fit log.csv --drive command_us --drive-unit us --measured angle --where branch=left
      other column names, pulse widths instead of drive angles, some rows only
  elbowroom fit log.csv --drive-unit counts --frame-hz 50 --counts-per-frame 4096 --wrap
      timer counts instead of drive angles, and a dial that wraps around after 360 deg
  elbowroom fit beetle.csv --each joint --into beetle.toml --new
      all joints of one table, whose column joint names them; or one table each: elbowroom fit leg_*.csv --into beetle.toml --new
  elbowroom fit readings.csv --plot wing_left.svg
      and draw it: readings, model, stops, travel, and below the residuals
  elbowroom fit readings.csv --into heron.toml --joint wing_left --feedback adc --adc-bits 10
      a column adc holds what the joint's sensor read: write its map to joint angles too
  elbowroom fit readings.csv --into heron.toml --joint wing_left --transmission curve
      the joint's rod bends its line: take a curve through few knots
  elbowroom fit readings.csv --into heron.toml --joint neck --new --linkage triangle:base=40,arm~90,angle_at_zero~30
      a screw pulls at 40 mm from the hinge; arm and angle_at_zero are to be found near these values

A new joint gets the transmission that fits its readings, a line, a curve or a linkage; the reasons are printed. An existing \
joint keeps its own; if another fits better, the output names it, and --transmission writes it. \
Linkages tried are those of --linkage, and the one that the joint has in the file, with its dimensions as they are there:
  triangle:base=40,arm~90,angle_at_zero~30
  slider-crank:crank=20,rod~45,offset=2,slide_at_zero~40,branch=right
  four-bar:crank~20,coupler=60,rocker=18,ground=62,rocker_at_zero~50,branch=left
  spool:drum=8,per_turn~1,pulley=20";

/// Options of `fit`.
#[derive(Debug, Clone, Args)]
pub(crate) struct FitArgs {
    /// Readings: tables; - is standard input. Several, as many joints, each named as its file
    #[arg(required = true, value_name = "READINGS")]
    pub(crate) tables: Vec<PathBuf>,
    /// The one that is fitted.
    #[arg(skip)]
    pub(crate) readings: PathBuf,
    #[command(flatten)]
    pub(crate) table: TableArgs,
    /// Draw the fit into this file
    #[arg(long, value_name = "FILE.svg", help_heading = "What to write")]
    pub(crate) plot: Option<PathBuf>,
    /// Column of what the joint's sensor read: its feedback map, from reading to joint angle, is fitted and written too
    #[arg(long, value_name = "COLUMN", help_heading = "Feedback")]
    pub(crate) feedback: Option<String>,
    /// Bits of the converter that reads the sensor, so that a broken wire can be told from a position
    #[arg(long, value_name = "N", requires = "feedback", help_heading = "Feedback")]
    pub(crate) adc_bits: Option<u8>,
    /// Also fit a plain line over rows with this value, to compare with a result published elsewhere
    #[arg(long, value_name = "COLUMN=VALUE", help_heading = "Fit")]
    pub(crate) reference_rows: Vec<ColumnValue>,
    /// Robot file to write the joint into
    #[arg(long, value_name = "FILE", help_heading = "What to write")]
    pub(crate) into: Option<PathBuf>,
    /// Name of the joint
    #[arg(long, value_name = "NAME", help_heading = "What to write")]
    pub(crate) joint: Option<String>,
    /// Column that says to which joint each row belongs: all of them are fitted, and written with --into
    #[arg(
        long,
        value_name = "COLUMN",
        conflicts_with = "joint",
        help_heading = "What to write"
    )]
    pub(crate) each: Option<String>,
    /// Let --into make the file or the joint if there is none
    #[arg(long, requires = "into", help_heading = "What to write")]
    pub(crate) new: bool,
    /// Where readings contradict the joint in the file: replace map, travel, rest and feedback by these readings
    #[arg(long, requires = "into", conflicts_with_all = ["keep", "new"], help_heading = "What to write")]
    pub(crate) adopt: bool,
    /// Where readings contradict the joint in the file: leave its map as it is, and write travel and evidence
    #[arg(long, requires = "into", conflicts_with_all = ["transmission", "new"], help_heading = "What to write")]
    pub(crate) keep: bool,
    /// Measured values that the joint's lower and upper command stand for, where its unit does not say it
    #[arg(
        long,
        value_name = "LOWER,UPPER",
        requires = "into",
        allow_hyphen_values = true,
        help_heading = "What to write"
    )]
    pub(crate) measured_at_commands: Option<Pair>,
    /// Transmission to write [default: a new joint's by its readings; else as it is]
    #[arg(long, value_name = "KIND", requires = "into", help_heading = "What to write")]
    pub(crate) transmission: Option<Kind>,
    /// Most knots of a curve, 2 to 12
    #[arg(long, value_name = "N", default_value_t = 7, value_parser = clap::value_parser!(u8).range(2..=12), help_heading = "Fit")]
    pub(crate) knots: u8,
    /// A linkage to try, as a ruler says: = keeps a dimension, ~ lets the readings find it; may be given again
    #[arg(long, value_name = "KIND:DIMENSIONS", help_heading = "Fit")]
    pub(crate) linkage: Vec<LinkageGuess>,
    /// Day of the readings, YYYY-MM-DD [default: today, UTC]
    #[arg(long, value_name = "DAY", help_heading = "What to write")]
    pub(crate) date: Option<Date>,
    /// Frames per second of a new joint's timer, and of counts in the table [default: the robot file's, else 50]
    #[arg(long, value_name = "HZ", allow_negative_numbers = true, help_heading = "A new joint")]
    pub(crate) frame_hz: Option<f64>,
    /// Counts per frame of that timer [default: the robot file's, else 4096]
    #[arg(long, value_name = "N", allow_negative_numbers = true, help_heading = "A new joint")]
    pub(crate) counts_per_frame: Option<u32>,
    #[command(flatten)]
    pub(crate) taken: TakenArgs,
    #[command(flatten)]
    pub(crate) fresh: NewJointArgs,
}

/// How the readings were taken, for the record.
#[derive(Debug, Clone, Args)]
#[command(next_help_heading = "For the record")]
pub(crate) struct TakenArgs {
    /// Who took the readings
    #[arg(long, value_name = "NAME", requires = "into")]
    pub(crate) by: Option<String>,
    /// What the joint was measured with
    #[arg(long, value_name = "TEXT", requires = "into")]
    pub(crate) instrument: Option<String>,
    /// Supply voltage of the servo meanwhile, V
    #[arg(long, value_name = "V", requires = "into", allow_negative_numbers = true)]
    pub(crate) supply_v: Option<f64>,
    /// Temperature of the room meanwhile, degrees Celsius
    #[arg(long, value_name = "DEG_C", requires = "into", allow_negative_numbers = true)]
    pub(crate) temperature_c: Option<f64>,
}

/// What a new joint is to be, of what readings do not say.
#[derive(Debug, Clone, Args)]
#[group(requires = "new", multiple = true)]
#[command(next_help_heading = "A new joint")]
pub(crate) struct NewJointArgs {
    /// A new joint's commands, in its unit [default: the measured values at the ends of the travel, or of the curve or linkage]
    #[arg(long, value_name = "LOWER,UPPER", allow_hyphen_values = true)]
    pub(crate) command: Option<Pair>,
    /// Unit of a new joint's commands [default: that of the measured values]
    #[arg(long, value_name = "UNIT")]
    pub(crate) unit: Option<String>,
    /// A new joint's rest [default: command 0, or the middle if 0 is out of reach]
    #[arg(long, value_name = "COMMAND", allow_hyphen_values = true)]
    pub(crate) rest: Option<f64>,
    /// A new joint's rate, command units per second
    #[arg(long, value_name = "RATE", allow_negative_numbers = true)]
    pub(crate) max_rate_per_s: Option<f64>,
    /// A new joint's board
    #[arg(long, value_name = "NAME")]
    pub(crate) board: Option<String>,
    /// A new joint's channel
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pub(crate) channel: Option<u16>,
}

/// How a table of readings is read and fitted.
#[derive(Debug, Clone, Args, PartialEq)]
pub(crate) struct TableArgs {
    /// Column of the drive commanded
    #[arg(
        long,
        value_name = "COLUMN",
        default_value = "drive",
        help_heading = "Table of readings"
    )]
    pub(crate) drive: String,
    /// Column of the value measured
    #[arg(
        long,
        value_name = "COLUMN",
        default_value = "measured",
        help_heading = "Table of readings"
    )]
    pub(crate) measured: String,
    /// Column that says from which side a position was reached [default: approach, if there is one]
    #[arg(long, value_name = "COLUMN", help_heading = "Table of readings")]
    pub(crate) approach: Option<String>,
    /// Column that says where a stop was touched [default: contact, if there is one]
    #[arg(long, value_name = "COLUMN", help_heading = "Table of readings")]
    pub(crate) contact: Option<String>,
    /// Column that says when each reading was taken: in s, in ms where its name ends in _ms, or h:mm:ss [default: time, time_s or time_ms, if there is one]
    #[arg(long, value_name = "COLUMN", help_heading = "Table of readings")]
    pub(crate) time: Option<String>,
    /// Unit of the time column [default: ms where its name ends in _ms, else s]
    #[arg(long, value_name = "UNIT", help_heading = "Table of readings")]
    pub(crate) time_unit: Option<TimeUnit>,
    /// Use only rows with this value; may be given again
    #[arg(long = "where", value_name = "COLUMN=VALUE", help_heading = "Table of readings")]
    pub(crate) only: Vec<ColumnValue>,
    /// Character between columns, or the word tab or space [default: found out from the rows]
    #[arg(long, value_name = "CHAR", value_parser = separator, help_heading = "Table of readings")]
    pub(crate) separator: Option<char>,
    /// Character before the decimals: a point or a comma [default: found out from the rows]
    #[arg(long, value_name = "CHAR", value_parser = decimal, help_heading = "Table of readings")]
    pub(crate) decimal: Option<char>,
    /// Unit of the drive column: pulse widths and timer counts become drive angles by the servo's line
    #[arg(
        long,
        value_name = "UNIT",
        default_value = "auto",
        help_heading = "Table of readings"
    )]
    pub(crate) drive_unit: DriveUnit,
    /// Unit of the measured column, for texts and as the unit of a new joint's commands [default: that of the header; counts for a
    /// column of a converter's numbers; else deg]
    #[arg(
        long,
        value_name = "UNIT",
        default_value = "",
        hide_default_value = true,
        help_heading = "Table of readings"
    )]
    pub(crate) measured_unit: String,
    /// Turn the sign of the measured values
    #[arg(long, help_heading = "Table of readings")]
    pub(crate) flip_measured: bool,
    /// Measured values are lengths along an arc of this radius, in the same unit; they become deg
    #[arg(long, value_name = "LENGTH", help_heading = "Table of readings")]
    pub(crate) arc_radius: Option<f64>,
    /// Measured values wrap around after a turn of this much
    #[arg(
        long,
        value_name = "TURN",
        num_args = 0..=1,
        require_equals = true,
        default_missing_value = "360",
        help_heading = "Table of readings"
    )]
    pub(crate) wrap: Option<f64>,
    /// Smallest step of the measured value (ADC step, graduation)
    #[arg(long, value_name = "STEP", allow_negative_numbers = true, help_heading = "Fit")]
    pub(crate) resolution: Option<f64>,
    /// Margin kept between a stop and the travel, drive deg
    #[arg(
        long,
        value_name = "DEG",
        allow_negative_numbers = true,
        default_value_t = 2.0,
        help_heading = "Fit"
    )]
    pub(crate) guard: f64,
    /// Coverage probability of the intervals
    #[arg(
        long,
        value_name = "P",
        allow_negative_numbers = true,
        default_value_t = 0.95,
        help_heading = "Fit"
    )]
    pub(crate) confidence: f64,
    /// Angles of the servo, deg [default: the robot file's, else 0,180]
    #[arg(long, value_name = "LOWER,UPPER", allow_hyphen_values = true, help_heading = "Fit")]
    pub(crate) servo_angle: Option<Pair>,
    /// Pulse widths at those angles, us [default: the robot file's, else 500,2500]
    #[arg(long, value_name = "LOWER,UPPER", help_heading = "Fit")]
    pub(crate) servo_pulse_us: Option<Pair>,
}

impl TableArgs {
    /// Whether no option was given.
    pub(crate) fn is_untouched(&self) -> bool {
        /// The options alone, to have their defaults from where they stand.
        #[derive(Parser)]
        struct Alone {
            #[command(flatten)]
            table: TableArgs,
        }
        Alone::try_parse_from([""]).is_ok_and(|untouched| untouched.table == *self)
    }
}

impl TableArgs {
    /// What holds where nothing is said.
    pub(crate) fn usual() -> Self {
        /// Nothing but a table's options.
        #[derive(Parser)]
        struct Bare {
            #[command(flatten)]
            table: TableArgs,
        }
        // Every option has a default or may be left out, so nothing can be missing.
        Bare::parse_from(["table"]).table
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum DriveUnit {
    /// As the header says, e.g. drive_us, else deg
    Auto,
    /// Drive angle
    Deg,
    /// Pulse width, microseconds
    Us,
    /// Pulse width, milliseconds
    Ms,
    /// Timer counts of one pulse
    Counts,
}

impl DriveUnit {
    /// The unit of this word of a header.
    pub(crate) fn named(word: &str) -> Option<Self> {
        elbowroom::robot::DriveUnit::named(word).map(Self::of)
    }

    /// That of the core.
    pub(crate) const fn of(unit: elbowroom::robot::DriveUnit) -> Self {
        match unit {
            elbowroom::robot::DriveUnit::Deg => Self::Deg,
            elbowroom::robot::DriveUnit::Us => Self::Us,
            elbowroom::robot::DriveUnit::Ms => Self::Ms,
            elbowroom::robot::DriveUnit::Counts => Self::Counts,
        }
    }

    /// The core's.
    pub(crate) const fn core(self) -> elbowroom::robot::DriveUnit {
        match self {
            Self::Auto | Self::Deg => elbowroom::robot::DriveUnit::Deg,
            Self::Us => elbowroom::robot::DriveUnit::Us,
            Self::Ms => elbowroom::robot::DriveUnit::Ms,
            Self::Counts => elbowroom::robot::DriveUnit::Counts,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum TimeUnit {
    /// Seconds
    S,
    /// Milliseconds
    Ms,
}

/// A transmission that a fit can write.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Kind {
    /// A straight line
    Linear,
    /// A monotone curve through few knots
    Curve,
    /// The best of the linkages tried
    Linkage,
}

/// `COLUMN=VALUE`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct ColumnValue {
    pub(crate) column: String,
    pub(crate) value: String,
}

impl std::str::FromStr for ColumnValue {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text.split_once('=') {
            Some((column, value)) if !column.trim().is_empty() => Ok(Self {
                column: column.trim().to_owned(),
                value: value.trim().to_owned(),
            }),
            _ => Err("write COLUMN=VALUE, e.g. branch=left".to_owned()),
        }
    }
}

/// Two numbers, lower then upper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pair(pub(crate) [f64; 2]);

impl std::str::FromStr for Pair {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let number = |part: &str| part.trim().parse::<f64>().ok();
        match text
            .split_once(',')
            .map(|(lower, upper)| (number(lower), number(upper)))
        {
            Some((Some(lower), Some(upper))) => Ok(Self([lower, upper])),
            _ => Err("write LOWER,UPPER, e.g. 0,180".to_owned()),
        }
    }
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
    /// Hold the robot against this URDF file as well
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
    #[arg(long, value_name = "FILE.svg", requires = "file")]
    pub(crate) plot: Option<PathBuf>,
    /// Draw the readings behind its evidence, fitted again, into this file
    #[arg(long, value_name = "FILE.svg", requires = "joint")]
    pub(crate) plot_readings: Option<PathBuf>,
    /// Draw its stops and lost motion over its calibrations into this file
    #[arg(long, value_name = "FILE.svg", requires = "joint")]
    pub(crate) plot_history: Option<PathBuf>,
}

const LIMITS_EXAMPLES: &str = "\
A joint's limits are its travel in commands, held to its command range: in rad or m in URDF, in MJCF in deg or rad as its compiler \
element says, or m. Only these attributes change; order and comments stay. Exit status 1 says that joints were left out.

Examples:
  elbowroom limits heron.toml --into heron.urdf
      planners then use the travel that was measured
  elbowroom limits heron.toml --into heron.xml -o measured.xml
      leave the simulator's own file as it is
  elbowroom check heron.toml --urdf heron.urdf
      what else the two contradict each other in";

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
letters. Comments and order stay, the changed lines are printed, and a change that makes no valid file is refused. What the check \
finds after the change and not before is printed; the exit status is 1 if there is an error among it.

Examples:
  elbowroom edit heron.toml set wing_left.rest=12 'leg_*.max_rate_per_s=120'
  elbowroom edit heron.toml set wing_left.command=-40,50 check.guard=1.5 --dry-run
      show the changed lines, and write nothing
  elbowroom edit heron.toml set servo.assumed=false
      the servo's numbers, taken for granted so far, were looked up and are right
  elbowroom edit heron.toml set 'servo={ angle = [0, 120], pulse_us = [900, 2100] }'
      correct the servo's line: each command keeps its pulse, and the drive angles of all its joints are recalculated
  elbowroom edit heron.toml mirror wing_left wing_right --channel 9
      the other side: drive range, travel and direction turned round, its ends declared until they are measured
  elbowroom edit heron.toml waive rate-missing --joint crest --reason 'moved by hand'
  elbowroom edit heron.toml sense wing_left opposing";

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
}

/// What is accepted, and why.
#[derive(Debug, Args)]
pub(crate) struct WaiveArgs {
    /// The rule, as the check names it
    pub(crate) rule: String,
    /// The joint [default: all]
    #[arg(long, value_name = "NAME")]
    pub(crate) joint: Option<String>,
    /// Why the finding is accepted
    #[arg(long, value_name = "TEXT")]
    pub(crate) reason: String,
}

const FIRMWARE_EXAMPLES: &str = "\
Two files hold the same block: a binary image, and a C header with the array and a comment that says what is in it. \
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
    /// Write them although the check finds errors, for this reason, which stands in the header
    #[arg(long, value_name = "REASON")]
    pub(crate) despite: Option<String>,
}

const CONVERT_EXAMPLES: &str = "\
Toward the motor a command outside its range is clamped, and said to be; NaN and infinities are refused. Back from the \
motor nothing is clamped.

Examples:
  elbowroom convert heron.toml wing_left -- -40 10 60
  seq -40 10 60 | elbowroom convert heron.toml wing_left --to counts
      one number a line, for other programs
  elbowroom convert heron.toml wing_left --from counts 283 290
  elbowroom convert heron.toml wing_left --from reading 541 1
      angle, command, and whether the sensor is sound: inside or outside of its measured range, at a rail as with a
      broken or shorted wire, or impossible";

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
    /// Print only this, one a line
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

A measured change counts where it is significant and no smaller than matters (--smallest-drive, --smallest-share); any other \
wherever it stands; a later day or another number of readings is shown and does not count. All quantities are judged \
together: of unchanged joints at most one in twenty is said to have changed. p is the probability of such a change by \
chance, adjusted for that (Holm); finds is the change that these tables find nine times in ten; E_n is that of ISO 13528. \
Exit status 1 says that something changed. An end that the later table did not test is named and never called unchanged.

Examples:
  elbowroom compare before.csv after.csv
  elbowroom compare 2025.csv 2026.csv --drive-unit us --resolution 0.1
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
    /// Smallest change of a position that matters, drive deg
    #[arg(
        long,
        value_name = "DEG",
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
The page loads nothing from outside and runs no scripts. A file that is there is replaced only if it is an earlier report.

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

const BRING_UP_EXAMPLES: &str = "\
It says each move with its drive angle, pulse width and timer counts; you send it, read the scale at the joint and type what it shows. \
Both stops are found from some 20 to 40 readings, and no command goes further than --overtravel past what is proven clear. Every \
answer is saved at once beside the robot file: after Ctrl-C or quit the same command goes on. undo takes the last answer back.

Where the readings contradict the joint in the file, you are told by how much and nothing is written until --adopt or --keep.

--through COMMAND is started by the shell and answers in your place. It is told each step as one JSON object in a line on its \
standard input and answers with one in a line:
  {\"step\": 7, \"kind\": \"move-to\", \"drive\": 90.5, \"pulse_us\": 1505.6, \"counts\": 308, \"rate_per_s\": 20, ...}
      move there no faster than that, then answer {\"answer\": \"done\"}
  {\"step\": 8, \"kind\": \"wait\", \"seconds\": 1, ...}
      let it come to rest, then answer {\"answer\": \"done\"}
  {\"step\": 9, \"kind\": \"read\", \"drive\": 90.5, ...}
      answer {\"reading\": 101.5}, or {\"answer\": \"again\"} to come to the place once more
  {\"step\": 1, \"kind\": \"ask\", \"question\": \"ready\", \"sentence\": \"...\", \"cautions\": [...], \"answers\": [{\"word\": \"done\", ...}]}
      answer with one of the words, or {\"person\": true} to have the person at the terminal asked
  {\"kind\": \"done\", ...}
      the end; no answer
{\"undo\": true}, {\"stop\": true} and {\"error\": \"what happened\"} are answers to any step. A step that comes again because its answer was wrong \
says so in \"refused\". bindings/cli/examples has a command in Python and one in sh.

Examples:
  elbowroom bring-up heron.toml --joint wing_left
  elbowroom bring-up heron.toml --joint wing_left --new --board breast --channel 3 --command -40,60 --max-rate-per-s 60 \
--servo-angle 0,180 --servo-pulse-us 500,2500 --frame-hz 50 --counts-per-frame 4096
      a joint, or the file, that is not there yet
  elbowroom bring-up heron.toml --joint wing_left --start 85 --clearance 10 --overtravel 3
      the joint stands at drive angle 85 deg, 10 deg clear on both sides; never more than 3 deg past a stop
  elbowroom bring-up heron.toml --joint wing_left --through 'python3 port.py /dev/ttyUSB0'";

/// Options of `bring-up`.
#[derive(Debug, Args)]
pub(crate) struct BringUpArgs {
    /// Robot file
    pub(crate) file: PathBuf,
    /// The joint
    #[arg(long, value_name = "NAME")]
    pub(crate) joint: String,
    /// Have a command answer, line by line
    #[arg(long, value_name = "COMMAND")]
    pub(crate) through: Option<String>,
    /// Test the sense of the feedback first: the servo's own potentiometer sits on the joint
    #[arg(long, help_heading = "Plan")]
    pub(crate) sense: bool,
    /// Feel both stops by hand first, with the drive detached
    #[arg(long, help_heading = "Plan")]
    pub(crate) feel_stops: bool,
    /// Drive angle at which the joint stands, deg [default: the middle of its travel, else of the servo]
    #[arg(long, value_name = "DEG", allow_negative_numbers = true, help_heading = "Plan")]
    pub(crate) start: Option<f64>,
    /// How far the joint is clear on both sides of it, drive deg [default: 6]
    #[arg(long, value_name = "DEG", help_heading = "Plan")]
    pub(crate) clearance: Option<f64>,
    /// Drive angles that are never passed, deg [default: those of the servo]
    #[arg(long, value_name = "LOWER,UPPER", allow_hyphen_values = true, help_heading = "Plan")]
    pub(crate) search_limits: Option<Pair>,
    /// How far a command may lie beyond a stop, drive deg [default: 5; 8 with --feel-stops]
    #[arg(long, value_name = "DEG", help_heading = "Plan")]
    pub(crate) overtravel: Option<f64>,
    /// Margin kept between a stop and the travel, drive deg [default: 2]
    #[arg(long, value_name = "DEG", help_heading = "Plan")]
    pub(crate) guard: Option<f64>,
    /// Standard uncertainty wanted of both stops, drive deg [default: 0.5]
    #[arg(long, value_name = "DEG", help_heading = "Plan")]
    pub(crate) tolerance: Option<f64>,
    /// The fastest that the drive may turn, deg/s [default: 20]
    #[arg(long, value_name = "DEG_PER_S", help_heading = "Plan")]
    pub(crate) rate: Option<f64>,
    /// One graduation of the scale that is read [default: 1]
    #[arg(long, value_name = "STEP", help_heading = "Plan")]
    pub(crate) resolution: Option<f64>,
    /// Unit of the scale that is read
    #[arg(long, value_name = "UNIT", default_value = "deg")]
    pub(crate) measured_unit: String,
    /// Readings that the joint's lower and upper command stand for, where its unit does not say it
    #[arg(long, value_name = "LOWER,UPPER", allow_hyphen_values = true)]
    pub(crate) measured_at_commands: Option<Pair>,
    /// Where readings contradict the joint in the file: write map, travel and rest anew from them
    #[arg(long, conflicts_with_all = ["keep", "new"])]
    pub(crate) adopt: bool,
    /// Where readings contradict the joint in the file: leave its map as it is, and write travel and evidence
    #[arg(long, conflicts_with = "new")]
    pub(crate) keep: bool,
    /// Begin anew, whatever was saved
    #[arg(long)]
    pub(crate) restart: bool,
    /// Where the bring-up is saved after every answer [default: FILE.JOINT.bring-up.json beside the robot file]
    #[arg(long, value_name = "FILE.json")]
    pub(crate) state: Option<PathBuf>,
    /// Draw the readings into this file
    #[arg(long, value_name = "FILE.svg")]
    pub(crate) plot: Option<PathBuf>,
    /// Day of the readings, YYYY-MM-DD [default: today, UTC]
    #[arg(long, value_name = "DAY")]
    pub(crate) date: Option<Date>,
    /// Let the joint, or the file, be made if it is not there yet
    #[arg(long, help_heading = "A new joint")]
    pub(crate) new: bool,
    /// Its commands, in its unit [default: the readings at the ends of the travel]
    #[arg(
        long,
        value_name = "LOWER,UPPER",
        allow_hyphen_values = true,
        requires = "new",
        help_heading = "A new joint"
    )]
    pub(crate) command: Option<Pair>,
    /// Unit of its commands [default: that of the readings]
    #[arg(long, value_name = "UNIT", requires = "new", help_heading = "A new joint")]
    pub(crate) unit: Option<String>,
    /// Its rest [default: command 0, or the middle if 0 is out of reach]
    #[arg(
        long,
        value_name = "COMMAND",
        allow_negative_numbers = true,
        requires = "new",
        help_heading = "A new joint"
    )]
    pub(crate) rest: Option<f64>,
    /// Its rate, command units per second
    #[arg(long, value_name = "RATE", requires = "new", help_heading = "A new joint")]
    pub(crate) max_rate_per_s: Option<f64>,
    /// Its board
    #[arg(long, value_name = "NAME", requires = "new", help_heading = "A new joint")]
    pub(crate) board: Option<String>,
    /// Its channel
    #[arg(long, value_name = "N", requires = "new", help_heading = "A new joint")]
    pub(crate) channel: Option<u16>,
    /// Angles of its servo, deg [default: the robot file's]
    #[arg(
        long,
        value_name = "LOWER,UPPER",
        allow_hyphen_values = true,
        requires = "new",
        help_heading = "A new joint"
    )]
    pub(crate) servo_angle: Option<Pair>,
    /// Pulse widths at those angles, us [default: the robot file's]
    #[arg(long, value_name = "LOWER,UPPER", requires = "new", help_heading = "A new joint")]
    pub(crate) servo_pulse_us: Option<Pair>,
    /// Frames per second of its timer [default: the robot file's]
    #[arg(long, value_name = "HZ", requires = "new", help_heading = "A new joint")]
    pub(crate) frame_hz: Option<f64>,
    /// Counts per frame of that timer [default: the robot file's]
    #[arg(long, value_name = "N", requires = "new", help_heading = "A new joint")]
    pub(crate) counts_per_frame: Option<u32>,
}

impl BringUpArgs {
    /// Whether the plan was asked for in any part.
    pub(crate) const fn has_plan(&self) -> bool {
        self.sense
            || self.feel_stops
            || self.start.is_some()
            || self.clearance.is_some()
            || self.search_limits.is_some()
            || self.overtravel.is_some()
            || self.guard.is_some()
            || self.tolerance.is_some()
            || self.rate.is_some()
            || self.resolution.is_some()
    }
}

const REHEARSE_EXAMPLES: &str = "\
The joint is virtual and nothing moves. The same seed gives the same run on every machine.

Faults: wires-swapped, wiper-open, wiper-noisy, horn-slipped, stop-moved, range-blocked, gear-stripped, supply-sag, \
channel-swapped, sensor-runs-out.

Examples:
  elbowroom rehearse
      a healthy joint, drawn from seed 0
  elbowroom rehearse --fault horn-slipped --seed 7
      and one whose horn slipped by a tooth
  elbowroom rehearse heron.toml --joint wing_left --wrong-answer-rate 0.1
      a joint of a robot file, with a person who gets a tenth of the answers wrong
  elbowroom rehearse --fault sensor-runs-out --seed 6 --alignment
      a sensor that ends before its joint does, found out and set while nothing moves yet";

/// Options of `rehearse`.
#[derive(Debug, Args)]
pub(crate) struct RehearseArgs {
    /// Robot file whose joint is rehearsed; left out, a joint is drawn from the seed
    #[arg(requires = "joint")]
    pub(crate) robot: Option<PathBuf>,
    /// Which joint of the file
    #[arg(long, value_name = "NAME", requires = "robot")]
    pub(crate) joint: Option<String>,
    /// Where chance starts
    #[arg(long, value_name = "NUMBER", default_value_t = 0)]
    pub(crate) seed: u64,
    /// What is wrong with the joint
    #[arg(long, value_name = "FAULT")]
    pub(crate) fault: Option<FaultWord>,
    /// Part of the answers that are wrong, 0 to 1
    #[arg(long, value_name = "PART", default_value_t = 0.0)]
    pub(crate) wrong_answer_rate: f64,
    /// Make the alignment too: hold the joint at a stop, say its angle, and set the sensor so that it reaches both stops
    #[arg(long)]
    pub(crate) alignment: bool,
    /// How much of the sensor must be spare beyond each stop, degrees of the joint
    #[arg(
        long,
        value_name = "DEG",
        requires = "alignment",
        default_value_if("alignment", "true", "2")
    )]
    pub(crate) margin: Option<f64>,
    /// Write travel and evidence of the rehearsal into the file, marked as a rehearsal's: the check finds them as an error
    #[arg(long, requires = "robot", conflicts_with = "bench")]
    pub(crate) write: bool,
    /// Rehearse what bring-up does at a real joint, with few typed readings; nothing is written
    #[arg(long, conflicts_with = "alignment")]
    pub(crate) bench: bool,
}

/// A tab is hard to type in most shells, so it has a word.
fn separator(text: &str) -> Result<char, String> {
    let mut chars = text.chars();
    match (text, chars.next(), chars.next()) {
        ("tab", _, _) => Ok('\t'),
        ("space", _, _) => Ok(' '),
        (_, Some(only), None) => Ok(only),
        _ => Err("give one character, or the word tab or space".to_owned()),
    }
}

fn decimal(text: &str) -> Result<char, String> {
    match text {
        "." => Ok('.'),
        "," => Ok(','),
        _ => Err("give a point or a comma".to_owned()),
    }
}

/// A fault that a rehearsal knows.
#[derive(Debug, Clone, Copy)]
pub(crate) struct FaultWord(pub(crate) elbowroom::bring_up::Fault);

impl std::str::FromStr for FaultWord {
    type Err = String;

    fn from_str(word: &str) -> Result<Self, String> {
        let all = elbowroom::bring_up::Fault::REHEARSED;
        all.into_iter().find(|f| f.as_str() == word).map(Self).ok_or_else(|| {
            let known: Vec<_> = all.iter().map(|f| f.as_str()).collect();
            format!("no such fault; give one of {}", known.join(", "))
        })
    }
}
