//! Readings of a joint that stands in a robot file: whether they contradict it, and the joint replaced from them.

use elbowroom::ServoRecord;
use elbowroom::fit::CompareOptions;
use elbowroom::robot::{AdoptError, Date, Judgement, Refit, RefitMap, StopMoved};
use pyo3::prelude::*;
use pyo3::types::PyTuple;

use crate::curve_fit::CurveFit;
use crate::evidence::{date_of, record_of};
use crate::feedback::FeedbackFit;
use crate::limit_fit::LimitFit;
use crate::linkage_fit::LinkageFit;
use crate::numbers::{flag, pair, part, text};
use crate::pulse::Servo;
use crate::refuse;
use crate::robot::Robot;

/// What was measured, read from Python's objects.
struct Given<'a> {
    limits: &'a LimitFit,
    map: RefitMap<'a>,
    feedback: Option<&'a FeedbackFit>,
    unit: Option<String>,
    ends: Option<[f64; 2]>,
    servo: Option<ServoRecord<f64>>,
}

/// Python's keywords beside the fit.
struct Keywords<'py> {
    transmission: Option<Bound<'py, PyAny>>,
    feedback: Option<Bound<'py, PyAny>>,
    unit: Option<Bound<'py, PyAny>>,
    measured_at_commands: Option<Bound<'py, PyAny>>,
    servo: Option<Bound<'py, PyAny>>,
}

impl<'a> Given<'a> {
    fn of(fit: &'a Bound<'_, PyAny>, keywords: &'a Keywords<'_>) -> PyResult<Self> {
        Ok(Self {
            limits: LimitFit::given(fit, "fit")?,
            map: match &keywords.transmission {
                None => RefitMap::Line,
                Some(given) => match given.cast::<CurveFit>() {
                    Ok(curve) => RefitMap::Curve(&curve.get().fit),
                    Err(_) => {
                        let wanted = "a CurveFit or a LinkageFit";
                        RefitMap::Linkage(&part::<LinkageFit>(given, "transmission", wanted)?.get().fit)
                    }
                },
            },
            feedback: match &keywords.feedback {
                Some(given) => Some(part::<FeedbackFit>(given, "feedback", "a FeedbackFit")?.get()),
                None => None,
            },
            unit: keywords.unit.as_ref().map(|unit| text(unit, "unit")).transpose()?,
            ends: keywords
                .measured_at_commands
                .as_ref()
                .map(|ends| pair(ends, "measured_at_commands"))
                .transpose()?,
            servo: match &keywords.servo {
                Some(servo) => Some(part::<Servo>(servo, "servo", "Servo(...)")?.get().record()),
                None => None,
            },
        })
    }

    fn refit(&self) -> Refit<'_> {
        let mut refit = Refit::new(&self.limits.fit)
            .with_map(self.map)
            .with_unit(self.unit.as_deref());
        if let Some(ends) = self.ends {
            refit = refit.with_command_ends(ends);
        }
        if let Some(servo) = self.servo {
            refit = refit.with_servo(servo);
        }
        match &self.feedback {
            Some(feedback) => refit.with_feedback(&feedback.fit),
            None => refit,
        }
    }
}

/// A refusal of the core.
pub(crate) fn refused(py: Python<'_>, name: &str, error: &AdoptError) -> PyErr {
    match error {
        AdoptError::Fit(error) => refuse::fit(py, error),
        AdoptError::Joint(error) => refuse::joint(py, Some(name), error),
        _ => {
            let place = refuse::Place::of(Some(name));
            let class = match error {
                AdoptError::Contradicted(_) => "RobotError",
                _ => "FitError",
            };
            refuse::exception(py, class, error.code(), &error.to_string(), py.None(), place)
        }
    }
}

fn stop<'py>(py: Python<'py>, moved: &StopMoved) -> PyResult<Bound<'py, PyAny>> {
    record_of!(py, "StopMoved", {
        side: moved.side.as_str(), in_file: moved.in_file, measured: moved.measured, was: moved.was.as_str(),
        found: moved.is.as_str(),
    })
}

fn judgement<'py>(py: Python<'py>, judged: &Judgement) -> PyResult<Bound<'py, PyAny>> {
    let tooth = |found: &elbowroom::fit::SplineTeeth| record_of!(py, "SplineTeeth", { horn: found.horn, teeth: found.teeth, left: found.left });
    let teeth = judged.teeth.iter().map(tooth).collect::<PyResult<Vec<_>>>()?;
    let stops = judged
        .stops
        .iter()
        .map(|moved| stop(py, moved))
        .collect::<PyResult<Vec<_>>>()?;
    record_of!(py, "Judgement", {
        contradicts: judged.contradicts(), unrelated: judged.unrelated,
        offset: judged.offset.map(|offset| offset.value), u_offset: judged.offset.map(|offset| offset.u),
        teeth: PyTuple::new(py, teeth)?, slope: judged.slope.map(<(f64, f64)>::from),
        furthest: judged.apart.map(|apart| apart.measured - apart.in_file),
        measured_higher: judged.zero_moved.map(|moved| moved.by),
        measured_at_commands: judged.zero_moved.map(|moved| <(f64, f64)>::from(moved.at_commands)), reversed: judged.reversed,
        stops: PyTuple::new(py, stops)?, sensor: judged.sensor, sentences: PyTuple::new(py, judged.sentences())?,
    })
}

/// Methods that take what was measured of a joint in the file by the same keywords: its record and the readings given are at hand
/// in each.
macro_rules! from_readings {
    ($(
        $(#[doc = $doc:literal])+
        fn $method:ident($robot:ident, $py:ident, $record:ident, $given:ident $(, $extra:ident)*) -> $back:ty $body:block
    )+) => {
        #[pymethods]
        impl Robot {
            $(
                $(#[doc = $doc])+
                #[pyo3(signature = (name, fit, *, transmission=None, feedback=None, unit=None, measured_at_commands=None, servo=None $(, $extra=None)*))]
                #[expect(clippy::too_many_arguments, reason = "what readings of one joint come to, one each")]
                fn $method<'py>(
                    &self,
                    py: Python<'py>,
                    name: &Bound<'py, PyAny>,
                    fit: &Bound<'py, PyAny>,
                    transmission: Option<Bound<'py, PyAny>>,
                    feedback: Option<Bound<'py, PyAny>>,
                    unit: Option<Bound<'py, PyAny>>,
                    measured_at_commands: Option<Bound<'py, PyAny>>,
                    servo: Option<Bound<'py, PyAny>>,
                    $($extra: Option<&Bound<'py, PyAny>>,)*
                ) -> PyResult<$back> {
                    let keywords = Keywords { transmission, feedback, unit, measured_at_commands, servo };
                    let ($robot, $py, $given) = (self, py, Given::of(fit, &keywords)?);
                    #[allow(unused_mut, reason = "one method only reads it")]
                    let mut $record = self.found(py, name)?.record();
                    $body
                }
            )+
        }
    };
}

/// The day on which readings were taken, if it was given.
fn day(given: Option<&Bound<'_, PyAny>>) -> PyResult<Option<Date>> {
    given.map(|date| date_of(date, "date")).transpose()
}

from_readings! {
    /// Compare a fit with the joint in the file: whether its readings contradict what is written there, and by how much.
    ///
    /// Parameters
    /// ----------
    /// name : str
    /// fit : LimitFit
    ///     Limits found of that joint along the drive angle.
    /// transmission : CurveFit or LinkageFit, optional
    ///     What the readings between the stops follow; the line of `fit` if left out.
    /// feedback : FeedbackFit, optional
    ///     The map of the joint's sensor, if it was read as well; then measured values are joint angles in deg.
    /// unit : str, optional
    ///     Unit of the measured values; that of the joint's commands if left out.
    /// measured_at_commands : (float, float), optional
    ///     The measured values that the joint's lower and upper command stand for, where the units do not determine them.
    /// servo : Servo, optional
    ///     The servo line by which drive angles were had from pulses; the joint's own if left out.
    ///
    /// Returns
    /// -------
    /// Judgement
    ///
    /// Raises
    /// ------
    /// UnknownJointError
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> robot = elb.Robot.parse('''
    /// ... format = 1
    /// ... servo = { angle = [0, 180], pulse_us = [500, 2500] }
    /// ... timer = { frame_hz = 50, counts_per_frame = 4096 }
    /// ... [joint.wing_left]
    /// ... command = [-40, 60]
    /// ... drive = [37, 122]
    /// ... rest = 10
    /// ... ''')
    /// >>> drive = [50 + 8 * i for i in range(9)]   # invented: the horn sits one tooth of 25 further
    /// >>> fit = elb.fit_limits(drive, [(d - 14.4 - 37) / 0.85 - 40 for d in drive])
    /// >>> judged = robot.judge_fit("wing_left", fit)
    /// >>> judged.contradicts, round(judged.offset, 1), (judged.teeth[0].teeth, judged.teeth[0].horn)
    /// (True, -14.4, (-1, 25))
    /// >>> robot.adopt_fit("wing_left", fit)["wing_left"].drive_range
    /// (51.4, 136.4)
    fn judge_fit(_robot, py, record, given) -> Bound<'py, PyAny> {
        let judged = record.judge(&given.refit(), &CompareOptions::default());
        judgement(py, &judged.map_err(|error| refuse::joint(py, Some(&record.name), &error))?)
    }

    /// A robot with the travel and the evidence of a fit written into a joint; the map and the sense of the feedback stay.
    ///
    /// Readings that contradict that map, as `judge_fit` says, are refused: `adopt_fit` replaces all of it, `keep` leaves the
    /// map as it is. So are readings that cannot be compared with it, as nothing relates their unit to that of the commands.
    ///
    /// Parameters
    /// ----------
    /// name, fit, transmission, feedback, unit, measured_at_commands, servo
    ///     As in `judge_fit`: give the transmission of a joint that is not linear.
    /// date : datetime.date, optional
    ///     The day on which the readings were taken.
    /// keep : bool, optional
    ///     Leave the map as it is although the readings contradict it; the evidence then records by how much (`map_off`), and the check
    ///     reports it.
    ///
    /// Returns
    /// -------
    /// Robot
    ///
    /// Raises
    /// ------
    /// FitError
    ///     Guard margin and uncertainty leave no travel, or nothing relates the joint's commands to the values measured.
    /// RobotError
    ///     The readings contradict the joint's map, or the file would not be valid.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    /// >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    /// >>> fit = elb.fit_limits(drive, measured)
    /// >>> joint = elb.Joint("wing", command=(0, 80), drive=(0, 80), rest=40,
    /// ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    /// ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    /// >>> robot = elb.Robot("heron").put(joint).put_fit("wing", fit)
    /// >>> robot.entry("wing").evidence.lower.kind, robot["wing"].travel
    /// ('contact', (14.381, 80.0))
    fn put_fit(robot, py, record, given, date, keep) -> Self {
        let date = day(date)?;
        let put = match keep.map(|keep| flag(keep, "keep")).transpose()? {
            Some(true) => record.keep_map(&given.refit(), date),
            _ => record.put_fit(&given.refit(), date),
        };
        put.map_err(|error| match error {
            AdoptError::NoTravel => given.limits.no_travel(py, &record.name),
            error => refused(py, &record.name, &error),
        })?;
        robot.with(py, &record)
    }

    /// A robot with a joint replaced from a fit: map, travel, rest, servo line and feedback together.
    ///
    /// Commands stay those that software gives; a curve does not extend beyond its readings, so there they are cut to these, never
    /// stretched. Where measured values or the sensor's readings run the other way than before, the proven sense of the feedback is
    /// dropped.
    ///
    /// Parameters
    /// ----------
    /// name, fit, transmission, feedback, unit, measured_at_commands, servo
    ///     As in `judge_fit`.
    /// date : datetime.date, optional
    ///     The day on which the readings were taken.
    ///
    /// Returns
    /// -------
    /// Robot
    ///
    /// Raises
    /// ------
    /// FitError
    ///     No travel is left, or nothing relates the joint's commands to the values measured.
    /// JointError, RobotError
    ///     The joint or the file would not be valid.
    fn adopt_fit(robot, py, record, given, date) -> Self {
        let adopted = record.adopt_fit(&given.refit(), day(date)?);
        adopted.map_err(|error| refused(py, &record.name, &error))?;
        robot.with(py, &record)
    }
}
