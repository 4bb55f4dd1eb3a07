//! What `bring-up` and `rehearse` can be asked.

use super::unit;
use super::{NewJointArgs, Pair, picture_path};
use crate::usual::DEGREES;
use clap::Args;
use elbowroom::bring_up::Outcome;
use elbowroom::robot::Date;
use std::path::PathBuf;

pub(super) const BRING_UP_EXAMPLES: &str = "\
It prints each move with its drive angle, pulse width and timer counts; you send it, read the scale at the joint and type what it shows. \
Both stops are found from some 25 to 50 readings, and no command goes further than --overtravel past what is proven clear. Every \
answer is saved at once beside the robot file: after Ctrl-C or quit the same command continues. undo takes the last answer back. abort \
ends the bring-up without a result; what was typed stays saved, and the same command continues from there.

The contacts of a bring-up lie midway between both directions of travel. fit may not find the lost motion from the same few readings; then its \
contacts lie half the lost motion further out: use those of the bring-up.

Where the readings contradict the joint in the file, you are told by how much and nothing is written until --adopt or --keep.

--through COMMAND is started by the shell and answers in your place. It receives each step as one JSON object in a line on its standard \
input, and answers with one JSON object in a line:
  {\"step\": 7, \"kind\": \"move-to\", \"drive\": 90.5, \"counts\": 308, \"pulse_us\": 1503.9, \"commanded\": 90.35, \"rate_per_s\": 20, ...}
      send the counts or their pulse width, no faster than that, then answer {\"answer\": \"done\"}; readings belong to the drive angle
      commanded by them
  {\"step\": 8, \"kind\": \"wait\", \"seconds\": 1, ...}
      let it come to rest, then answer {\"answer\": \"done\"}
  {\"step\": 9, \"kind\": \"read\", \"drive\": 90.5, ...}
      answer {\"reading\": 101.5}, or {\"answer\": \"again\"} to approach the place once more (not in a sweep); {\"reading\": 512, \"load\": 0.03}
      also reports the drive's current as a share of its stall current, where it is measured
  {\"step\": 1, \"kind\": \"ask\", \"question\": \"ready\", \"sentence\": \"...\", \"cautions\": [...], \"answers\": [{\"word\": \"done\", ...}]}
      answer with one of the words, or {\"person\": true} to have the person at the terminal asked; \"action\" has what is asked as data
  {\"kind\": \"done\", ...}
      the end; no answer
{\"undo\": true}, {\"stop\": true} and {\"error\": \"what happened\"} are answers to any step. A step that is repeated because its answer was wrong gives the \
reason in \"refused\". bindings/cli/examples has a command in Python and one in sh.

--sweep has COMMAND read the joint's own sensor, about a thousand times: the sense test, both stops, the servo's speed, sweeps over the \
whole range and back, and a last walk over the travel. With the joint's feedback in the file it also finds what has changed since: a \
slipped horn, a moved stop. Questions are answered as above.

Examples:
  elbowroom bring-up heron.toml --joint wing_left
  elbowroom bring-up heron.toml --joint wing_left --new --board breast --channel 3 --command -40,60 --max-rate-per-s 60 \
--servo-angle 0,180 --servo-pulse-us 500,2500 --frame-hz 50 --counts-per-frame 4096
      a joint, or a file, that does not exist yet
  elbowroom bring-up heron.toml --joint wing_left --start 85 --clearance 10 --overtravel 3
      the joint stands at drive angle 85 deg, 10 deg clear on both sides; never more than 3 deg past a stop
  elbowroom bring-up heron.toml --joint wing_left --through 'python3 port.py /dev/ttyUSB0'
  elbowroom bring-up heron.toml --joint wing_left --through 'python3 port.py /dev/ttyUSB0' --sweep --reading-range 0,4095";

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
    /// Sweep the whole range and read the joint's own sensor many times, instead of a few typed readings; COMMAND reads it
    #[arg(long, requires = "through", conflicts_with = "new")]
    pub(crate) sweep: bool,
    /// Test the sense of the feedback first: the servo's own potentiometer sits on the joint
    #[arg(long, help_heading = "Plan")]
    pub(crate) sense: bool,
    /// Feel both stops by hand first, with the drive detached
    #[arg(long, conflicts_with = "sweep", help_heading = "Plan")]
    pub(crate) feel_stops: bool,
    /// Drive angle at which the joint stands, deg [default: the middle of its travel, else of the servo]
    #[arg(long, value_name = unit::DEG, allow_negative_numbers = true, help_heading = "Plan")]
    pub(crate) start: Option<f64>,
    /// How far the joint is clear on both sides of it, drive deg [default: 6]
    #[arg(long, value_name = unit::DEG, help_heading = "Plan")]
    pub(crate) clearance: Option<f64>,
    /// Drive angles that are never passed, deg [default: those of the servo]
    #[arg(long, value_name = "LOWER,UPPER", allow_hyphen_values = true, help_heading = "Plan")]
    pub(crate) search_limits: Option<Pair>,
    /// How far a command may lie beyond a stop, drive deg [default: 5; 8 with --feel-stops]
    #[arg(long, value_name = unit::DEG, conflicts_with = "sweep", help_heading = "Plan")]
    pub(crate) overtravel: Option<f64>,
    /// Margin kept between a stop and the travel, drive deg [default: 2]
    #[arg(long, value_name = unit::DEG, help_heading = "Plan")]
    pub(crate) guard: Option<f64>,
    /// Standard uncertainty wanted of both stops, drive deg [default: 0.5]
    #[arg(long, value_name = unit::DEG, help_heading = "Plan")]
    pub(crate) tolerance: Option<f64>,
    /// The fastest that the drive may turn, deg/s [default: 20]
    #[arg(long, value_name = unit::DEG_PER_S, conflicts_with = "sweep", help_heading = "Plan")]
    pub(crate) rate: Option<f64>,
    /// One graduation of the scale that is read [default: 1]
    #[arg(long, value_name = unit::STEP, help_heading = "Plan")]
    pub(crate) resolution: Option<f64>,
    /// Of a sweep: lowest and highest reading of the sensor [default: those of the file's adc_bits, else 0,1023]
    #[arg(
        long,
        value_name = "LOWER,UPPER",
        allow_hyphen_values = true,
        requires = "sweep",
        help_heading = "Plan"
    )]
    pub(crate) reading_range: Option<Pair>,
    /// Of a sweep: the reading falls while the drive angle rises, where the file does not give it
    #[arg(long, requires = "sweep", help_heading = "Plan")]
    pub(crate) falling: bool,
    /// Of a sweep: speed of the servo by its data sheet, deg/s [default: 300]
    #[arg(long, value_name = unit::DEG_PER_S, requires = "sweep", help_heading = "Plan")]
    pub(crate) rated_speed: Option<f64>,
    /// Unit of the scale that is read [default: deg; of a sweep counts]
    #[arg(long, value_name = "UNIT", value_parser = super::fit::unit_named)]
    pub(crate) measured_unit: Option<String>,
    /// Readings that the joint's lower and upper command stand for, where its unit does not determine them
    #[arg(long, value_name = "LOWER,UPPER", allow_hyphen_values = true)]
    pub(crate) measured_at_commands: Option<Pair>,
    /// Where readings contradict the joint in the file: replace map, travel and rest by these readings
    #[arg(long, conflicts_with_all = ["keep", "new"])]
    pub(crate) adopt: bool,
    /// Where readings contradict the joint in the file: leave its map as it is, and write travel and evidence
    #[arg(long, conflicts_with = "new")]
    pub(crate) keep: bool,
    /// Begin from the start, whatever was saved
    #[arg(long)]
    pub(crate) restart: bool,
    /// Where the bring-up is saved after every answer [default: FILE.JOINT.bring-up.json beside the robot file]
    #[arg(long, value_name = "FILE.json")]
    pub(crate) state: Option<PathBuf>,
    /// Draw the readings into this file
    #[arg(long, value_name = "FILE.svg", value_parser = picture_path())]
    pub(crate) plot: Option<PathBuf>,
    /// Day of the readings, YYYY-MM-DD [default: today, UTC]
    #[arg(long, value_name = "DAY")]
    pub(crate) date: Option<Date>,
    /// Create the joint, or the file, if it does not exist yet
    #[arg(long, help_heading = "A new joint")]
    pub(crate) new: bool,
    #[command(flatten)]
    pub(crate) fresh: NewJointArgs,
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
    #[arg(long, value_name = unit::HZ, requires = "new", help_heading = "A new joint")]
    pub(crate) frame_hz: Option<f64>,
    /// Counts per frame of that timer [default: the robot file's]
    #[arg(long, value_name = "N", requires = "new", help_heading = "A new joint")]
    pub(crate) counts_per_frame: Option<u32>,
}

impl BringUpArgs {
    /// Unit of what is read.
    pub(crate) fn measured_unit(&self) -> &str {
        let usual = if self.sweep { Outcome::SENSOR_UNIT } else { DEGREES };
        self.measured_unit.as_deref().unwrap_or(usual)
    }

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
            || self.reading_range.is_some()
            || self.falling
            || self.rated_speed.is_some()
    }
}

pub(super) const REHEARSE_EXAMPLES: &str = "\
It is bring-up, step by step, on a virtual joint: nothing moves. The same seed gives the same run on every machine. A virtual person \
answers; with --by-hand you do. Nothing is written into a robot file unless --write is given, and what that writes is marked: the \
check finds it as an error until the joint itself is measured.

Faults: wires-swapped, wiper-open, wiper-noisy, horn-slipped, stop-moved, range-blocked, gear-stripped, supply-sag, \
channel-swapped, sensor-runs-out.

Examples:
  elbowroom rehearse
      a healthy joint, drawn from seed 0
  elbowroom rehearse --by-hand
      the same, and you type what you would see
  elbowroom rehearse --fault range-blocked --seed 7
      a joint with something in its way
  elbowroom rehearse --sweep --fault horn-slipped --seed 7
      many readings of the joint's own sensor; its horn slipped by a tooth since it was known
  elbowroom rehearse heron.toml --joint wing_left --wrong-answer-rate 0.1
      a joint of a robot file, with a person who gets a tenth of the answers wrong
  elbowroom rehearse --sweep --fault sensor-runs-out --seed 6 --alignment
      a sensor whose range ends before the joint's, found and adjusted before anything moves";

/// Options of `rehearse`.
#[derive(Debug, Args)]
pub(crate) struct RehearseArgs {
    /// Robot file whose joint is rehearsed; left out, a joint is drawn from the seed
    #[arg(requires = "joint")]
    pub(crate) robot: Option<PathBuf>,
    /// Which joint of the file
    #[arg(long, value_name = "NAME", requires = "robot")]
    pub(crate) joint: Option<String>,
    /// Seed of the random numbers
    #[arg(long, value_name = "NUMBER", default_value_t = 0)]
    pub(crate) seed: u64,
    /// What is wrong with the joint
    #[arg(long, value_name = "FAULT")]
    pub(crate) fault: Option<FaultWord>,
    /// Share of the answers that are wrong, 0 to 1
    #[arg(long, value_name = "PART", default_value_t = 0.0)]
    pub(crate) wrong_answer_rate: f64,
    /// Sweep the whole range and read the joint's own sensor many times, as bring-up --sweep does
    #[arg(long)]
    pub(crate) sweep: bool,
    /// Answer yourself: you are told what is to be seen at the virtual joint
    #[arg(long, conflicts_with = "wrong_answer_rate")]
    pub(crate) by_hand: bool,
    /// Also set the alignment: hold the joint at a stop, type its angle, and set the sensor so that it reaches both stops
    #[arg(long, requires = "sweep")]
    pub(crate) alignment: bool,
    /// How much of the sensor must be spare beyond each stop, degrees of the joint
    #[arg(
        long,
        value_name = unit::DEG,
        requires = "alignment",
        default_value_if("alignment", "true", "2")
    )]
    pub(crate) margin: Option<f64>,
    /// Write travel and evidence of the rehearsal into the file, marked as a rehearsal's: the check finds them as an error
    #[arg(long, requires = "robot")]
    pub(crate) write: bool,
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

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::panic, reason = "a test may panic")]

    use super::*;
    use clap::Command;
    use elbowroom::bring_up::BenchPlan;

    /// The help states the numbers of the core's plan.
    #[test]
    fn defaults_in_the_help_are_those_of_the_plan() {
        let command = BringUpArgs::augment_args(Command::new("bring-up"));
        let usual = BenchPlan::new(90.0, [0.0, 180.0]);
        let felt = usual.with_stops_felt();
        for (option, default) in [
            ("clearance", usual.clearance.to_string()),
            (
                "overtravel",
                format!("{}; {} with --feel-stops", usual.overtravel, felt.overtravel),
            ),
            ("guard", usual.guard.to_string()),
            ("tolerance", usual.tolerance.to_string()),
            ("rate", usual.rate_per_s.to_string()),
            ("resolution", usual.resolution.to_string()),
        ] {
            let mut all = command.get_arguments();
            let argument = all.find(|argument| argument.get_id() == option).unwrap();
            let help = argument.get_help().unwrap().to_string();
            assert!(help.ends_with(&format!("[default: {default}]")), "{option}: {help}");
        }
    }
}
