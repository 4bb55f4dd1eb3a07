//! `fit`: from a table of readings to limits, and into a robot file.

mod assumed;
mod bend;
mod describe;
mod feedback;
mod fit_args;
mod found;
mod many;
mod repair;
mod source;

use crate::args::{ColumnValue, DriveUnit, FitArgs, Sought, TableArgs};
use crate::convert::{Converted, forward_table};
use crate::degrees::{fit_columns, in_deg};
use crate::outcome::{Outcome, is_json_wanted};
use crate::output;
use crate::paint::strong;
use crate::plot::{FitPicture, MARK, PulseWidths};
use crate::problem::Problem;
use crate::show::conversions;
use crate::table::{Columns, Table};
use crate::usual::{DEGREES, USUAL_SERVO, USUAL_TIMER};
use assumed::Assumed;
use bend::{Bend, Drawn};
use describe::{describe, lost_motion_reason, not_degrees, unit, warnings, with_options};
use elbowroom::fit::{End, EndKind, LimitFit, LineFit, NotDegrees, fit_line};
use elbowroom::robot::{FileError, JointEntry, RefitMap, Robot, Saved, shell_word};
use elbowroom::{Code, Servo, ServoRecord, Timer, TimerRecord};
use feedback::Sensed;
pub(crate) use found::TravelSum;
use found::{LeftOut, Next, TravelSums, left_out};
use repair::Decision;
pub(crate) use repair::changes;
use serde::Serialize;
use std::fmt::Write as _;
use std::path::Path;

#[derive(Serialize)]
struct Report<'a> {
    readings_from: String,
    joint: Option<&'a str>,
    /// Drive in deg, measured as in the table.
    fit: &'a LimitFit,
    left_out: Vec<LeftOut>,
    travel_sums: TravelSums,
    next_readings: Option<Next>,
    warnings: Vec<String>,
    lost_motion: Option<String>,
    servo: ServoRecord<f64>,
    /// The servo line in whose degrees the drive column was written, where the joint has another one now.
    #[serde(skip_serializing_if = "Option::is_none")]
    drive_column_servo: Option<ServoRecord<f64>>,
    /// Values that nobody gave.
    assumed: &'a [Assumed],
    /// Which transmission the readings ask for; null where they are too few to say.
    transmission: Option<bend::Report>,
    /// The map of the joint's sensor, where its column was named.
    #[serde(skip_serializing_if = "Option::is_none")]
    feedback: Option<feedback::Report>,
    #[serde(skip_serializing_if = "Option::is_none")]
    line: Option<PlainLine>,
    written_into: Option<String>,
    /// How the readings stand to the joint in the file.
    #[serde(skip_serializing_if = "Option::is_none")]
    repair: Option<repair::Report>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    conversions: Vec<Converted>,
}

/// A plain least-squares line in the units of the table, to hold against a published one.
#[derive(Clone, Serialize)]
struct PlainLine {
    over: String,
    drive_unit: &'static str,
    measured_unit: String,
    #[serde(flatten)]
    line: LineFit,
    /// The slope with the measured value in rad, where it is in deg.
    slope_rad: Option<f64>,
}

/// What is asked, read and fitted.
struct Fitted<'a> {
    args: &'a FitArgs,
    columns: Columns,
    /// SHA-256 of the table.
    sha256: String,
    servo: Servo<f64>,
    /// The servo line in whose degrees the drive column was written, where it is another one: the record of the joint names it.
    written: Option<Servo<f64>>,
    timer: Timer<f64>,
    servo_record: ServoRecord<f64>,
    assumed: Vec<Assumed>,
    fit: LimitFit,
    bend: Option<Bend>,
    sensed: Option<Sensed>,
    line: Option<PlainLine>,
}

pub(crate) fn run(args: &FitArgs) -> Result<Outcome, Problem> {
    output::apart(&[("--into", args.into.as_deref()), ("--plot", args.plot.as_deref())])?;
    let [readings] = &args.tables[..] else {
        return many::run(args);
    };
    if args.each.is_some() {
        return many::run(args);
    }
    if args.into.is_some() && args.joint.is_none() {
        let message = "--into needs the name of the joint: give --joint NAME, or --each COLUMN for a table of several";
        return Err(Problem::new(Code::OptionOutside, message));
    }
    let args = FitArgs {
        readings: readings.clone(),
        ..args.clone()
    };
    let mut target = open(&args)?;
    let table = Table::read(&args.readings, &args.table)?;
    let args = args.resolved(&table, target.as_ref())?;
    let mut done = one(&args, table, target.as_mut())?;
    if let (Some(target), Some(path), true) = (&target, &args.into, done.is_written) {
        let saved = store(&target.robot, path)?;
        done.outcome.text.push_str(&output::kept(&saved));
        if done.assumed.is_empty() {
            done.outcome.text.push_str(&crate::check::assumed_note(&target.robot));
        }
        let _ = writeln!(done.outcome.text, "next: elbowroom check {}", path.display());
    }
    Ok(done.outcome)
}

impl FitArgs {
    /// The same with what the table itself says.
    fn resolved(self, table: &Table, target: Option<&Target>) -> Result<Self, Problem> {
        let of_commands = self.fresh.unit_of_measured().filter(|_| self.is_new(target));
        let usual_unit = of_commands.unwrap_or(DEGREES);
        let joints = target.map_or(&[][..], |target| target.robot.joints());
        let sought = Sought {
            joint: self.joint.clone(),
            joints: joints.iter().map(|entry| entry.name().to_owned()).collect(),
            each: Some("fit"),
        };
        let resolved = table.resolve(&self.table, usual_unit)?;
        Ok(Self {
            table: TableArgs { sought, ..resolved },
            ..self
        })
    }

    /// Whether the joint is to be made.
    fn is_new(&self, target: Option<&Target>) -> bool {
        let name = self.joint.as_deref().unwrap_or_default();
        self.new && target.is_some_and(|target| target.robot.joint(name).is_none())
    }
}

/// What became of one table.
struct Done {
    outcome: Outcome,
    /// The robot in memory has the joint as fitted.
    is_written: bool,
    /// The same in short, for many joints at once.
    brief: String,
    assumed: Vec<Assumed>,
}

/// What is said of a new joint whose name may be a slip of the pen.
fn resembling(robot: &Robot, name: &str, path: &Path) -> Option<String> {
    let near = robot.resembling(name)?;
    Some(format!(
        "joint {name} is new; its name is nearly that of {near}: if that was meant, correct the name in the readings, and remove the new \
         joint with elbowroom edit {} remove {}",
        shell_word(&path.display().to_string()),
        shell_word(name)
    ))
}

/// Fits one joint and puts it into the robot in memory.
fn one(args: &FitArgs, table: Table, target: Option<&mut Target>) -> Result<Done, Problem> {
    let fitted = fit(args, target.as_deref(), table)?;
    let mut text = String::new();
    describe(&mut text, &fitted);

    if let Some(path) = &args.plot {
        let picture = FitPicture {
            name: args.joint.as_deref().unwrap_or("fit"),
            drive: &fitted.columns.drive,
            measured: &fitted.columns.measured,
            approach: fitted.columns.approach.as_deref(),
            residuals: fitted.residuals(),
            measured_unit: &args.table.measured_unit,
            fit: &fitted.fit,
            model: Box::new(|drive| fitted.expected(drive)),
            knots: fitted.bend.as_ref().map_or(&[], Bend::drawn_knots),
            words: fitted.bend.as_ref().and_then(Bend::drawn).map(Drawn::words),
            choice: fitted.bend.as_ref().map_or(Vec::new(), Bend::tried),
            pulse_us: matches!(args.table.drive_unit, DriveUnit::Us | DriveUnit::Ms)
                .then(|| -> PulseWidths<'_> { Box::new(|drive| fitted.servo.pulse_us(drive)) }),
        };
        output::write(path, picture.draw("fit").as_bytes(), MARK.as_bytes())?;
        let _ = writeln!(text, "  {:<12} {}", "picture", path.display());
    }
    let mut written = Vec::new();
    let (mut decided, mut resembles) = (None, None);
    if let (Some(target), Some(path), Some(name)) = (target, &args.into, &args.joint) {
        let robot = &mut target.robot;
        let outside = not_degrees(&fitted).filter(|doubt| matches!(doubt, NotDegrees::Outside { .. }));
        let refused = |problem: Problem| match &outside {
            Some(outside) => Problem {
                message: format!("{}: {}", args.readings.display(), with_options(outside)),
                ..problem
            },
            None => problem,
        };
        let decision = Decision::of(&fitted, robot, path, name).map_err(refused)?;
        let unit = robot.joint(name).and_then(|entry| entry.unit().map(ToOwned::to_owned));
        decision.describe(&mut text, &fitted, name, unit.as_deref(), path);
        if let Some(record) = &decision.record {
            let old = robot.joint(name).map(JointEntry::record);
            // The text that it would have become was never written.
            let put = robot.put(record);
            put.map_err(|error| refused(error.without_place().into()))?;
            let entry = robot.expect_joint(name)?;
            written = conversions(entry)?;
            let what = if old.is_none() { "added to" } else { "updated in" };
            let _ = writeln!(text, "\n{} {what} {}", strong(&format!("joint {name}")), path.display());
            resembles = old.is_none().then(|| resembling(robot, name, path)).flatten();
            if let Some(note) = &resembles {
                let _ = writeln!(text, "  {note}");
            }
            for change in old.map_or(Vec::new(), |old| repair::changes(&old, record)) {
                let _ = writeln!(text, "  {change}");
            }
            let rows: Vec<(&str, &Converted)> = ["lower", "rest", "upper"].into_iter().zip(&written).collect();
            if let Some(more) = fitted.bend.as_ref().and_then(|bend| bend.more_knots(record)) {
                let _ = writeln!(text, "{more}");
            }
            forward_table(&mut text, entry.unit().unwrap_or(""), &rows);
        }
        decided = Some(decision);
    }
    let is_refused = decided.as_ref().is_some_and(Decision::is_refused);
    let report = Report {
        readings_from: args.readings.display().to_string(),
        joint: args.joint.as_deref(),
        fit: &fitted.fit,
        left_out: if is_json_wanted() {
            left_out(&fitted).collect()
        } else {
            Vec::new()
        },
        travel_sums: TravelSums::of(&fitted),
        next_readings: Next::of(&fitted),
        warnings: warnings(&fitted),
        lost_motion: lost_motion_reason(&fitted.fit),
        servo: fitted.servo_record,
        drive_column_servo: fitted.written.map(ServoRecord::from),
        assumed: &fitted.assumed,
        transmission: fitted.bend.as_ref().map(Bend::report),
        feedback: fitted.sensed.as_ref().map(Sensed::report),
        line: fitted.line.clone(),
        written_into: args
            .into
            .as_ref()
            .filter(|_| !is_refused)
            .map(|path| path.display().to_string()),
        repair: decided.as_ref().map(Decision::report),
        conversions: written,
    };
    let outcome = Outcome::new(text, &report, fitted.fit.travel.is_none() || is_refused)?;
    Ok(Done {
        outcome,
        is_written: decided.is_some() && !is_refused,
        brief: many::brief(&fitted, decided.as_ref(), resembles.as_deref()),
        assumed: fitted.assumed,
    })
}

impl Fitted<'_> {
    /// Whether nobody gave the numbers of the servo or the timer.
    fn is_assumed(&self, what: &str) -> bool {
        self.assumed.iter().any(|assumed| assumed.what == what)
    }

    /// What the model leaves of each reading, reached from its side; between the stops the curve or linkage is the model, where one is
    /// taken.
    fn residuals(&self) -> Vec<f64> {
        let readings = self.columns.readings();
        let mut residuals = self.fit.residuals(&readings);
        let Some(bent) = self.bend.as_ref().and_then(Bend::drawn) else {
            return residuals;
        };
        let held = |end: &End, x: f64| end.kind == EndKind::Contact && (x - end.at) * (end.travel - end.at) < 0.0;
        for (index, residual) in residuals.iter_mut().enumerate() {
            let pair = self.columns.drive.get(index).zip(self.columns.measured.get(index));
            let Some((&x, &y)) = pair.filter(|(x, _)| !held(&self.fit.lower, **x) && !held(&self.fit.upper, **x))
            else {
                continue;
            };
            let sides = self.columns.approach.as_ref();
            let side = sides.and_then(|sides| sides.get(index)).copied().unwrap_or_default();
            *residual = y - bent.reached_from(x, side);
        }
        residuals
    }

    /// The measured value that is expected at a drive angle: that of the curve or linkage where one is taken, else the limit fit's.
    fn expected(&self, drive: f64) -> f64 {
        let bent = self.bend.as_ref().and_then(Bend::drawn);
        bent.map_or_else(|| self.fit.expected(drive), |bent| bent.at(&self.fit, drive))
    }

    /// The same without the stops.
    fn expected_freely(&self, drive: f64) -> f64 {
        let bent = self.bend.as_ref().and_then(Bend::drawn);
        bent.map_or(self.fit.intercept + self.fit.slope * drive, |bent| {
            bent.straight_on(drive)
        })
    }

    /// What the readings follow best.
    fn best_map(&self) -> RefitMap<'_> {
        self.bend.as_ref().map_or(RefitMap::Line, Bend::best_map)
    }

    /// What is drawn, and written where the map is.
    fn taken_map(&self) -> RefitMap<'_> {
        self.bend.as_ref().map_or(RefitMap::Line, Bend::taken_map)
    }
}

/// Where a joint is to be written down.
struct Target {
    robot: Robot,
    /// There was no file: its servo and timer are those of this call.
    fresh: bool,
}

/// The robot file that the joint goes into, checked to be ready for it before anything is fitted.
fn open(args: &FitArgs) -> Result<Option<Target>, Problem> {
    let (Some(path), Some(name)) = (&args.into, &args.joint) else {
        return Ok(None);
    };
    let (robot, fresh) = match Robot::load(path) {
        Ok(robot) => (robot, false),
        Err(_) if args.new && !path.exists() => (fresh(path, args)?, true),
        Err(error) if !path.exists() => {
            return Err(Problem {
                message: format!("{error}; --new makes it"),
                ..error.into()
            });
        }
        Err(error) => return Err(error.into()),
    };
    if robot.joint(name).is_none() && !args.new {
        let problem = fit_args::not_there(&robot, name);
        return Err(Problem {
            message: format!("{}: {}", path.display(), problem.message),
            file: Some(path.display().to_string()),
            ..problem
        });
    }
    if robot.joint(name).is_some()
        && (args.fresh.command.is_some() || args.fresh.rest.is_some() || args.fresh.board.is_some())
    {
        let message = format!(
            "{}: joint {name} exists already; its command, rest and wiring stay as they are: leave out those options",
            path.display()
        );
        return Err(Problem::new(Code::OptionOutside, message));
    }
    Ok(Some(Target { robot, fresh }))
}

/// A robot file without joints, with the servo and timer that its joints will share.
fn fresh(path: &Path, args: &FitArgs) -> Result<Robot, Problem> {
    let name = path
        .file_stem()
        .map_or("robot".into(), |stem| stem.to_string_lossy().into_owned());
    let (servo, timer) = (servo_record(&args.table, None, None), timer_record(args, None));
    let is_assumed = [
        assumed::servo(&args.table, None).is_some(),
        assumed::timer(args, None).is_some(),
    ];
    let [servo_mark, timer_mark] = is_assumed.map(|assumed| if assumed { ", assumed = true" } else { "" });
    let note = if is_assumed.contains(&true) {
        "# Defaults: verify servo and timer against the data sheets of the servo and the board.\n"
    } else {
        ""
    };
    let text = format!(
        "{}\n{note}servo = {{ angle = {:?}, pulse_us = {:?}{servo_mark} }}\ntimer = {{ frame_hz = {:?}, counts_per_frame = {}{timer_mark} }}\n",
        Robot::new(&name)?.to_toml(),
        servo.angle,
        servo.pulse_us,
        timer.frame_hz,
        timer.counts_per_frame
    );
    Ok(Robot::parse(&text.replace(".0,", ",").replace(".0]", "]"))?)
}

/// The servo: as asked for, else the joint's, else the robot's, else the usual one.
fn servo_record(args: &TableArgs, robot: Option<&Robot>, name: Option<&str>) -> ServoRecord<f64> {
    let base = known_servo(robot, name).unwrap_or(USUAL_SERVO);
    ServoRecord {
        angle: args.servo_angle.map_or(base.angle, |pair| pair.0),
        pulse_us: args.servo_pulse_us.map_or(base.pulse_us, |pair| pair.0),
    }
}

fn known_servo(robot: Option<&Robot>, name: Option<&str>) -> Option<ServoRecord<f64>> {
    let robot = robot?;
    let joint = name.and_then(|name| robot.joint(name));
    joint
        .map(|entry| entry.joint().record().servo)
        .or_else(|| robot.servo())
}

fn timer_record(args: &FitArgs, robot: Option<&Robot>) -> TimerRecord<f64> {
    let base = robot
        .and_then(|robot| robot.timer(args.fresh.board.as_deref()))
        .unwrap_or(USUAL_TIMER);
    TimerRecord {
        frame_hz: args.frame_hz.unwrap_or(base.frame_hz),
        counts_per_frame: args.counts_per_frame.unwrap_or(base.counts_per_frame),
    }
}

fn fit<'a>(args: &'a FitArgs, target: Option<&Target>, table: Table) -> Result<Fitted<'a>, Problem> {
    let robot = target.map(|target| &target.robot);
    let entry = robot.and_then(|robot| robot.joint(args.joint.as_deref()?));
    let servo_record = servo_record(&args.table, robot, args.joint.as_deref());
    let servo = Servo::new(servo_record.angle, servo_record.pulse_us)?;
    let timer = match entry {
        Some(entry) if args.frame_hz.is_none() && args.counts_per_frame.is_none() => *entry.joint().timer(),
        _ => {
            let record = timer_record(args, robot);
            Timer::new(record.frame_hz, record.counts_per_frame)?
        }
    };
    let line = plain_line(args, &table)?;
    let sensor = match &args.feedback {
        Some(name) => Some(table.feedback(name, &args.table.only)?),
        None => None,
    };
    let sha256 = table.sha256().to_owned();
    // A servo line that is given is that of the table.
    let is_given = args.table.servo_angle.is_some() || args.table.servo_pulse_us.is_some();
    let is_deg = args.table.drive_unit.core() == elbowroom::robot::DriveUnit::Deg;
    let written = entry
        .filter(|_| is_deg && !is_given)
        .and_then(|entry| entry.servo_of_table(&sha256));
    let columns = in_deg(&args.table, &table, &servo, Some(&timer), written)?;
    // Before the fit asks for memory of its own.
    drop(table);
    let fit = fit_columns(&args.table, &columns, &args.readings)?;
    let bend = Bend::of(args, &fit, &columns, entry)?;
    let sensed = Sensed::of(args, &fit, &columns.measured, &columns.lines, sensor, entry)?;
    Ok(Fitted {
        args,
        columns,
        sha256,
        servo,
        written,
        timer,
        servo_record,
        assumed: assumed::all(args, target),
        fit,
        bend,
        sensed,
        line,
    })
}

/// The limits that a table of readings shows, by itself, and the unit of its measured values.
pub(crate) fn limits_of(args: &TableArgs, path: &Path, table: Table) -> Result<(LimitFit, String), Problem> {
    let record = servo_record(args, None, None);
    let servo = Servo::new(record.angle, record.pulse_us)?;
    let args = table.resolve(args, DEGREES)?;
    let columns = in_deg(&args, &table, &servo, None, None)?;
    drop(table);
    Ok((fit_columns(&args, &columns, path)?, args.measured_unit))
}

fn plain_line(args: &FitArgs, table: &Table) -> Result<Option<PlainLine>, Problem> {
    if args.reference_rows.is_empty() {
        return Ok(None);
    }
    let only: Vec<ColumnValue> = args.table.only.iter().chain(&args.reference_rows).cloned().collect();
    let columns = table.columns(&args.table, &only, "--reference-rows")?;
    let line = fit_line(&columns.drive, &columns.measured)?;
    let over: Vec<String> = args
        .reference_rows
        .iter()
        .map(|only| format!("{}={}", only.column, only.value))
        .collect();
    Ok(Some(PlainLine {
        over: over.join(", "),
        drive_unit: unit(args.table.drive_unit),
        measured_unit: args.table.measured_unit.clone(),
        line,
        slope_rad: (args.table.measured_unit == "deg").then(|| line.slope.to_radians()),
    }))
}

fn store(robot: &Robot, path: &Path) -> Result<Saved, FileError> {
    if path.exists() {
        return robot.save_keeping(path);
    }
    // Somebody may have made the file meanwhile; then theirs stays.
    robot.save_new(path).map(|()| Saved::default())
}
