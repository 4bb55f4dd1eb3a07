//! What `fit` can be asked: its tables, what it writes, and a new joint.

use super::{picture_path, unit};
use crate::linkage_guess::LinkageGuess;
use crate::problem::Problem;
use clap::{Args, Parser, ValueEnum};
use elbowroom::JointError;
use elbowroom::fit::{FitOptions, MOST_KNOTS};
use elbowroom::robot::{AdoptError, Date, EntryRecord};
use std::path::PathBuf;

pub(super) const FIT_EXAMPLES: &str = "\
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
      print what the readings show, and write nothing
  elbowroom fit readings.csv --into heron.toml --joint wing_left
      and write travel and evidence of that joint, keeping the file's comments
  elbowroom fit repaired.csv --into heron.toml --joint wing_left --adopt
      after a repair: if the readings contradict the file, nothing is written; --adopt or --keep decides
  elbowroom fit readings.csv --into heron.toml --joint wing_left --new --board breast --channel 3 --max-rate-per-s 60
      a joint, or a file, that does not exist yet
  elbowroom fit log.csv --drive command_us --drive-unit us --measured angle --where branch=left
      other column names, pulse widths instead of drive angles, some rows only
  elbowroom fit log.csv --drive-unit counts --frame-hz 50 --counts-per-frame 4096 --wrap
      timer counts instead of drive angles, and a dial that wraps around after 360 deg
  elbowroom fit beetle.csv --each joint --into beetle.toml --new
      all joints of one table, whose column joint names them; or one table each: elbowroom fit leg_*.csv --into beetle.toml --new;
      a joint that cannot be fitted is named, the others are written, and the exit status is 1; columns board, channel, unit, rest,
      max_rate_per_s, command_lower and command_upper hold the same of each new joint as the options do
  elbowroom fit readings.csv --plot wing_left.svg
      and draw it: readings, model, stops, travel, and below the residuals
  elbowroom fit readings.csv --into heron.toml --joint wing_left --feedback adc --adc-bits 10
      a column adc holds what the joint's sensor read: write its map to joint angles too
  elbowroom fit readings.csv --into heron.toml --joint wing_left --transmission curve
      the joint's rod makes it nonlinear: use a curve through few knots
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
    #[arg(long, value_name = "FILE.svg", value_parser = picture_path(), help_heading = "What to write")]
    pub(crate) plot: Option<PathBuf>,
    /// Column of what the joint's sensor read: its feedback map, from reading to joint angle, is fitted and written too
    #[arg(long, value_name = "COLUMN", help_heading = "Feedback")]
    pub(crate) feedback: Option<String>,
    /// Bits of the converter that reads the sensor, so that a broken wire is not mistaken for a position
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
    /// Column with the name of the joint of each row: all of them are fitted, and written with --into
    #[arg(
        long,
        value_name = "COLUMN",
        conflicts_with = "joint",
        help_heading = "What to write"
    )]
    pub(crate) each: Option<String>,
    /// Create the file or the joint of --into if it does not exist yet
    #[arg(long, requires = "into", help_heading = "What to write")]
    pub(crate) new: bool,
    /// Where readings contradict the joint in the file: replace map, travel, rest and feedback by these readings
    #[arg(long, requires = "into", conflicts_with_all = ["keep", "new"], help_heading = "What to write")]
    pub(crate) adopt: bool,
    /// Where readings contradict the joint in the file: leave its map as it is, and write travel and evidence
    #[arg(long, requires = "into", conflicts_with_all = ["transmission", "new"], help_heading = "What to write")]
    pub(crate) keep: bool,
    /// Measured values that the joint's lower and upper command stand for, where its unit does not determine them
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
    /// Most knots of a curve, from 2 on
    #[arg(long, value_name = "N", default_value_t = MOST_KNOTS as u8, value_parser = clap::value_parser!(u8).range(2..=MOST_KNOTS as i64), help_heading = "Fit")]
    pub(crate) knots: u8,
    /// A linkage to try, with dimensions measured by ruler: = keeps a dimension, ~ improves it by the readings; may be given again
    #[arg(long, value_name = "KIND:DIMENSIONS", help_heading = "Fit")]
    pub(crate) linkage: Vec<LinkageGuess>,
    /// Day of the readings, YYYY-MM-DD [default: today, UTC]
    #[arg(long, value_name = "DAY", help_heading = "What to write")]
    pub(crate) date: Option<Date>,
    /// Frames per second of a new joint's timer, and of counts in the table [default: the robot file's, else 50]
    #[arg(long, value_name = unit::HZ, allow_negative_numbers = true, help_heading = "A new joint")]
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
    /// Supply voltage of the servo during the readings, V
    #[arg(long, value_name = unit::V, requires = "into", allow_negative_numbers = true)]
    pub(crate) supply_v: Option<f64>,
    /// Temperature of the room during the readings, degrees Celsius
    #[arg(long, value_name = unit::DEG_C, requires = "into", allow_negative_numbers = true)]
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
    /// Unit of a new joint's commands: measured values in another unit of the same quantity are converted [default: that of the
    /// measured values]
    #[arg(long, value_name = "UNIT", value_parser = unit_named)]
    pub(crate) unit: Option<String>,
    /// A new joint's rest [default: command 0, or the middle if 0 is out of reach]
    #[arg(long, value_name = "COMMAND", allow_hyphen_values = true)]
    pub(crate) rest: Option<f64>,
    /// A new joint's rate, command units per second
    #[arg(long, value_name = unit::RATE, allow_negative_numbers = true)]
    pub(crate) max_rate_per_s: Option<f64>,
    /// A new joint's board
    #[arg(long, value_name = "NAME")]
    pub(crate) board: Option<String>,
    /// A new joint's channel
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pub(crate) channel: Option<u16>,
}

impl NewJointArgs {
    /// The unit of measured values with which none stands: where no commands are given they are the measured values.
    pub(crate) fn unit_of_measured(&self) -> Option<&str> {
        self.unit.as_deref().filter(|_| self.command.is_none())
    }

    /// Why measured values cannot become commands in the unit asked for.
    pub(crate) fn named(&self, joint: &str, measured: &str, error: &AdoptError) -> Problem {
        let unit = self.unit.as_deref().unwrap_or(measured);
        let reason = match error {
            AdoptError::Unconvertible => format!(
                "the measured values are in {measured} and --unit is {unit}: give --command LOWER,UPPER, the commands in {unit} at the \
                 ends of the travel, or leave --unit out"
            ),
            _ => format!("--unit {unit}: {error}"),
        };
        Problem {
            joint: Some(joint.to_owned()),
            ..Problem::new(error.code(), format!("joint {joint}: {reason}"))
        }
    }

    /// Writes what was given into a joint that has its range: rest, rate, board, channel.
    ///
    /// # Errors
    /// A joint without a rest in its travel.
    pub(crate) fn put_into(&self, record: &mut EntryRecord) -> Result<(), JointError> {
        match self.rest {
            Some(rest) => record.joint.rest = rest,
            None => record.rest_in_travel()?,
        }
        record.joint.max_rate_per_s = self.max_rate_per_s;
        record.board.clone_from(&self.board);
        record.channel = self.channel;
        Ok(())
    }
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
    /// Column with the side from which a position was reached [default: approach, if there is one]
    #[arg(long, value_name = "COLUMN", help_heading = "Table of readings")]
    pub(crate) approach: Option<String>,
    /// Column that marks where a stop was touched [default: contact, if there is one]
    #[arg(long, value_name = "COLUMN", help_heading = "Table of readings")]
    pub(crate) contact: Option<String>,
    /// Column with the time of each reading: in s, in ms where its name ends in _ms, or h:mm:ss, also behind a day [default: time, time_s or time_ms, if there is one]
    #[arg(long, value_name = "COLUMN", help_heading = "Table of readings")]
    pub(crate) time: Option<String>,
    /// Unit of the time column [default: ms where its name ends in _ms, else s]
    #[arg(long, value_name = "UNIT", help_heading = "Table of readings")]
    pub(crate) time_unit: Option<TimeUnit>,
    /// Use only rows with this value; may be given again
    #[arg(long = "where", value_name = "COLUMN=VALUE", help_heading = "Table of readings")]
    pub(crate) only: Vec<ColumnValue>,
    /// Character between columns, or the word tab or space [default: detected from the rows]
    #[arg(long, value_name = "CHAR", value_parser = separator, help_heading = "Table of readings")]
    pub(crate) separator: Option<char>,
    /// Character before the decimals: a point or a comma [default: detected from the rows]
    #[arg(long, value_name = "CHAR", help_heading = "Table of readings")]
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
    /// column of a converter's numbers; else that of --unit without --command, else deg]
    #[arg(
        long,
        value_name = "UNIT",
        value_parser = unit_named,
        default_value = "",
        hide_default_value = true,
        help_heading = "Table of readings"
    )]
    pub(crate) measured_unit: String,
    /// Reverse the sign of the measured values
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
    #[arg(long, value_name = unit::STEP, allow_negative_numbers = true, help_heading = "Fit")]
    pub(crate) resolution: Option<f64>,
    /// Margin kept between a stop and the travel, drive deg
    #[arg(
        long,
        value_name = unit::DEG,
        allow_negative_numbers = true,
        default_value_t = FitOptions::default().guard,
        help_heading = "Fit"
    )]
    pub(crate) guard: f64,
    /// Coverage probability of the intervals
    #[arg(
        long,
        value_name = "P",
        allow_negative_numbers = true,
        default_value_t = FitOptions::default().confidence,
        help_heading = "Fit"
    )]
    pub(crate) confidence: f64,
    /// Angles of the servo, deg [default: the robot file's, else 0,180]
    #[arg(long, value_name = "LOWER,UPPER", allow_hyphen_values = true, help_heading = "Fit")]
    pub(crate) servo_angle: Option<Pair>,
    /// Pulse widths at those angles, us [default: the robot file's, else 500,2500]
    #[arg(long, value_name = "LOWER,UPPER", help_heading = "Fit")]
    pub(crate) servo_pulse_us: Option<Pair>,
    /// Whose readings they are, as far as the command says it.
    #[arg(skip)]
    pub(crate) sought: Sought,
}

/// Whose readings are sought in a table.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Sought {
    pub(crate) joint: Option<String>,
    /// The joints of the robot file.
    pub(crate) joints: Vec<String>,
    /// What the command does to all joints by --each; none where it does not take it.
    pub(crate) each: Option<&'static str>,
}

impl TableArgs {
    /// Whether no option was given.
    pub(crate) fn is_untouched(&self) -> bool {
        *self == Self::usual()
    }

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
    /// As in the header, e.g. drive_us, else deg
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

/// A tab is hard to type in most shells, so it has a word.
/// A unit as people write it, by the word of robot files.
pub(super) fn unit_named(text: &str) -> Result<String, String> {
    elbowroom::robot::unit_named(text).map_err(|error| error.to_string())
}

fn separator(text: &str) -> Result<char, String> {
    let mut chars = text.chars();
    match (text, chars.next(), chars.next()) {
        ("tab", _, _) => Ok('\t'),
        ("space", _, _) => Ok(' '),
        (_, Some(only), None) => Ok(only),
        _ => Err("give one character, or the word tab or space".to_owned()),
    }
}
