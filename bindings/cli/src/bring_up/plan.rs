//! What a bring-up starts from: the robot file, the joint's servo and timer, and the plan that was asked for.

use super::{Line, Procedure};
use crate::args::BringUpArgs;
use crate::paint::number;
use crate::problem::Problem;
use elbowroom::bring_up::{Bench, BenchPlan, Session, SessionPlan, Watch};
use elbowroom::robot::Robot;
use elbowroom::{Code, ServoRecord, TimerRecord};

/// The procedure that was asked for, before its first step, and what is taken for granted of where the servo stands.
pub(super) fn procedure(
    args: &BringUpArgs,
    robot: &Robot,
    line: &Line,
) -> Result<(Procedure, Option<String>), Problem> {
    if args.sweep {
        let plan = sweep(args, robot, line)?;
        let assumed = assumed_place(args, plan.start, plan.clearance, plan.first_moves(), line);
        return Ok((Procedure::sweep(Session::new(plan)?), assumed));
    }
    let plan = bench(args, robot, line);
    let assumed = assumed_place(args, plan.start, plan.clearance, plan.first_moves(), line);
    Ok((Procedure::Bench(Box::new(Bench::new(plan)?)), assumed))
}

/// Where the joint stands: in the middle of its travel, or of the servo.
fn start(args: &BringUpArgs, robot: &Robot, line: &Line) -> f64 {
    let range = line.servo.angle_range();
    args.start.unwrap_or_else(|| match robot.joint(&args.joint) {
        Some(entry) => {
            let travel = entry.joint().travel();
            travel.lower() + travel.width() / 2.0
        }
        None => range.lower() + range.width() / 2.0,
    })
}

/// A sweep of the joint's own sensor, as the file knows it.
fn sweep(args: &BringUpArgs, robot: &Robot, line: &Line) -> Result<SessionPlan, Problem> {
    let range = line.servo.angle_range();
    let limits = args.search_limits.map_or(range.ends(), |pair| pair.0);
    let mut plan = SessionPlan::new(start(args, robot, line), limits);
    let entry = robot.expect_joint(&args.joint)?;
    if let Some(range) = entry.joint().feedback().and_then(|feedback| feedback.converter_range()) {
        plan.sense.reading_range = range;
    }
    plan.baseline = entry.baseline();
    plan.rising = plan.baseline.map_or(!args.falling, |known| known.per_deg > 0.0);
    plan.sense.reading_range = args.reading_range.map_or(plan.sense.reading_range, |pair| pair.0);
    if !args.sense {
        plan.sense.watch = Watch::SensorOnly;
    }
    plan.resolution = args.resolution.unwrap_or(plan.resolution);
    plan.clearance = args.clearance.unwrap_or(plan.clearance);
    plan.guard = args.guard.unwrap_or(plan.guard);
    plan.tolerance = args.tolerance.unwrap_or(plan.tolerance);
    plan.rated_speed = args.rated_speed.unwrap_or(plan.rated_speed);
    Ok(plan)
}

/// Few typed readings.
fn bench(args: &BringUpArgs, robot: &Robot, line: &Line) -> BenchPlan {
    let range = line.servo.angle_range();
    let limits = args.search_limits.map_or(range.ends(), |pair| pair.0);
    let mut plan = BenchPlan::new(start(args, robot, line), limits);
    if args.feel_stops {
        plan = plan.with_stops_felt();
    }
    plan = plan.with_resolution(args.resolution.unwrap_or(plan.resolution));
    if args.sense {
        plan.watch = Watch::SensorAndDrive;
    }
    plan.clearance = args.clearance.unwrap_or(plan.clearance);
    plan.overtravel = args.overtravel.unwrap_or(plan.overtravel);
    plan.guard = args.guard.unwrap_or(plan.guard);
    plan.tolerance = args.tolerance.unwrap_or(plan.tolerance);
    plan.rate_per_s = args.rate.unwrap_or(plan.rate_per_s);
    plan
}

/// The robot that the joint goes into.
pub(super) fn open(args: &BringUpArgs) -> Result<Robot, Problem> {
    let (path, name) = (&args.file, &args.joint);
    let robot = match Robot::load(path) {
        Ok(robot) => robot,
        Err(_) if args.new && !path.exists() => {
            let stem = path.file_stem().unwrap_or_default().to_string_lossy();
            Robot::new(&stem)?
        }
        Err(error) if !path.exists() => {
            return Err(Problem {
                message: format!("{error}; --new makes it"),
                ..error.into()
            });
        }
        Err(error) => return Err(error.into()),
    };
    if let (Err(error), false) = (robot.expect_joint(name), args.new) {
        let problem = Problem::from(error);
        return Err(Problem {
            message: format!("{}: {}; --new adds it", path.display(), problem.message),
            file: Some(path.display().to_string()),
            ..problem
        });
    }
    if robot.joint(name).is_some() && args.new {
        let message = format!("{}: joint {name} exists already; leave out --new", path.display());
        return Err(Problem::new(Code::OptionOutside, message));
    }
    Ok(robot)
}

/// Servo and timer of the joint: its own, else those given or of the file.
pub(super) fn numbers(args: &BringUpArgs, robot: &Robot) -> Result<(ServoRecord<f64>, TimerRecord<f64>), Problem> {
    if let Some(entry) = robot.joint(&args.joint) {
        let record = entry.joint().record();
        return Ok((record.servo, record.timer));
    }
    let servo = match (args.servo_angle, args.servo_pulse_us, robot.servo()) {
        (Some(angle), Some(pulse_us), _) => ServoRecord {
            angle: angle.0,
            pulse_us: pulse_us.0,
        },
        (None, None, Some(servo)) => servo,
        _ => {
            // A motor is about to run by these numbers.
            let message = format!(
                "the pulse widths of the servo of {} are not known; give --servo-angle 0,180 --servo-pulse-us 500,2500 with the numbers of its \
                 data sheet",
                args.joint
            );
            return Err(Problem::new(Code::MissingKey, message));
        }
    };
    let timer = match (
        args.frame_hz,
        args.counts_per_frame,
        robot.timer(args.fresh.board.as_deref()),
    ) {
        (Some(frame_hz), Some(counts_per_frame), _) => TimerRecord {
            frame_hz,
            counts_per_frame,
        },
        (None, None, Some(timer)) => timer,
        _ => {
            let message = format!(
                "the timer for the pulses of {} is not known; give --frame-hz 50 --counts-per-frame 4096 with the numbers of its board",
                args.joint
            );
            return Err(Problem::new(Code::MissingKey, message));
        }
    };
    Ok((servo, timer))
}

/// What is taken for granted of where the servo stands, unless it was given.
fn assumed_place(
    args: &BringUpArgs,
    start: f64,
    clearance: f64,
    [lowest, highest]: [f64; 2],
    line: &Line,
) -> Option<String> {
    if args.start.is_some() && args.clearance.is_some() {
        return None;
    }
    let pulse = line.servo.pulse_us(start);
    Some(format!(
        "It is assumed that the servo stands at {} deg ({} us) and is free to move {} deg to both sides; the first moves go from {} \
         to {} deg. If not: answer no, then give --start and --clearance.",
        number(start, 2),
        number(pulse, 0),
        number(clearance, 2),
        number(lowest, 2),
        number(highest, 2)
    ))
}
