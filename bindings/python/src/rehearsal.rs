//! The virtual joint and the person at it.

use std::sync::{Mutex, MutexGuard, PoisonError};

use elbowroom::bring_up::{Action, Fault, Report, Session, SessionPlan, Side};
use elbowroom::look::Rounded;
use elbowroom::rehearsal::{self as core, Rehearsal, VirtualRecord};
use pyo3::prelude::*;
use serde::Serialize;

use crate::bring_up::{ActionRecord, Ended, bring_up_error};
use crate::bring_up_plans::fault_of;
use crate::joint::Joint;
use crate::numbers::{flag, flag_or_false, kind_of, maybe_number, number, pair, part, word_of};
use crate::records::{from_plain, json, plain, read_json};
use crate::refuse;

/// A seed: any whole number of 64 bits.
fn seed_of(given: &Bound<'_, PyAny>) -> PyResult<u64> {
    let wrong = |kind: &str| {
        let sentence = format!("seed is {kind}; give a whole number from 0 to {}", u64::MAX);
        refuse::argument_at(given.py(), elbowroom::Code::WrongType, &sentence, given)
    };
    if given.is_instance_of::<pyo3::types::PyBool>() {
        return Err(wrong("a bool"));
    }
    given.extract::<u64>().map_err(|_| wrong(&kind_of(given)))
}

/// A joint that exists only as numbers: servo, play, two stops that give, potentiometer and converter, from a seed.
///
/// Time passes only in `move_to` and `wait`. The same seed gives the same readings on every machine.
///
/// Parameters
/// ----------
/// joint : Joint
///     The joint that it pretends to be: servo and transmission.
/// start : float
///     The drive angle at which it stands, deg.
/// stops : (float, float)
///     Where the mechanism meets its stops, drive angle in deg, play aside.
/// seed : int, default 0
/// watch : {"sensor-only", "sensor-and-drive"}, default "sensor-only"
///     A sensor beside the servo's own, or the servo's own moved out onto the joint.
/// lost_motion, dead_band, friction : float, optional
///     Play between drive and joint; width of the servo's dead band; what friction adds to half of it; deg.
/// speed : float, optional
///     The servo's speed, deg/s.
/// stall_error, give : float, optional
///     The error that makes full torque, deg; how far a stop gives for each degree of error.
/// readings : (float, float), optional
///     The readings at the two ends of the joint's command range.
/// rails : (float, float), optional
///     The readings between which the sensor works.
/// noise : float, optional
///     Standard deviation of a reading.
/// senses_load : bool, optional
///     Whether something measures the drive's current.
///
/// What is left out is usual (an assumption of this library): the middle of what `Rehearsal.healthy` draws.
///
/// Raises
/// ------
/// BringUpError
///     Numbers that make no joint.
///
/// Examples
/// --------
/// >>> import elbowroom as elb
/// >>> wing = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
/// ...                  servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
/// ...                  timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
/// >>> joint = elb.rehearsal.VirtualJoint(wing, start=79.5, stops=(34.0, 125.0), seed=7)
/// >>> joint.move_to(60.0, rate_per_s=30.0)
/// >>> joint.wait(0.5)
/// >>> 410 < joint.read() < 426
/// True
#[pyclass(frozen, module = "elbowroom.rehearsal")]
pub(crate) struct VirtualJoint {
    joint: Mutex<elbowroom::rehearsal::VirtualJoint>,
}

impl VirtualJoint {
    fn joint(&self) -> MutexGuard<'_, elbowroom::rehearsal::VirtualJoint> {
        self.joint.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn of(joint: elbowroom::rehearsal::VirtualJoint) -> Self {
        Self {
            joint: Mutex::new(joint),
        }
    }
}

fn both([lower, upper]: [f64; 2]) -> (f64, f64) {
    (lower, upper)
}

#[pymethods]
impl VirtualJoint {
    #[new]
    #[pyo3(signature = (joint, *, start, stops, seed=None, watch=None, lost_motion=None, dead_band=None, friction=None,
                        speed=None, stall_error=None, give=None, readings=None, rails=None, noise=None, senses_load=None))]
    #[expect(clippy::too_many_arguments, reason = "the numbers of a virtual joint, one each")]
    fn new(
        py: Python<'_>,
        joint: &Bound<'_, PyAny>,
        start: &Bound<'_, PyAny>,
        stops: &Bound<'_, PyAny>,
        seed: Option<&Bound<'_, PyAny>>,
        watch: Option<&Bound<'_, PyAny>>,
        lost_motion: Option<&Bound<'_, PyAny>>,
        dead_band: Option<&Bound<'_, PyAny>>,
        friction: Option<&Bound<'_, PyAny>>,
        speed: Option<&Bound<'_, PyAny>>,
        stall_error: Option<&Bound<'_, PyAny>>,
        give: Option<&Bound<'_, PyAny>>,
        readings: Option<&Bound<'_, PyAny>>,
        rails: Option<&Bound<'_, PyAny>>,
        noise: Option<&Bound<'_, PyAny>>,
        senses_load: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Self> {
        let joint = part::<Joint>(joint, "joint", "Joint(...)")?.get();
        let mut record = VirtualRecord::usual(joint.both.wide.clone(), pair(stops, "stops")?);
        if let Some(watch) = watch {
            record.watch = word_of(watch, "watch")?;
        }
        for (given, what, field) in [
            (lost_motion, "lost_motion", &mut record.lost_motion),
            (dead_band, "dead_band", &mut record.dead_band),
            (friction, "friction", &mut record.friction),
            (speed, "speed", &mut record.speed),
            (stall_error, "stall_error", &mut record.stall_error),
            (give, "give", &mut record.give),
            (noise, "noise", &mut record.noise),
        ] {
            if let Some(found) = maybe_number(given, what)? {
                *field = found;
            }
        }
        if let Some(readings) = readings {
            record.readings = pair(readings, "readings")?;
        }
        if let Some(rails) = rails {
            record.rails = pair(rails, "rails")?;
        }
        if let Some(senses_load) = senses_load {
            record.senses_load = flag(senses_load, "senses_load")?;
        }
        let seed = seed.map(seed_of).transpose()?.unwrap_or_default();
        let start = number(start, "start")?;
        match elbowroom::rehearsal::VirtualJoint::checked(record, start, seed) {
            Ok(joint) => Ok(Self::of(joint)),
            Err(error) => Err(bring_up_error(py, &error)),
        }
    }

    #[staticmethod]
    fn _restored(py: Python<'_>, state: &str) -> PyResult<Self> {
        read_json(py, "state of a virtual joint", state).map(Self::of)
    }

    /// Command a drive angle, the command changing at this rate, and let that time pass.
    ///
    /// Parameters
    /// ----------
    /// drive : float
    ///     Drive angle, deg.
    /// rate_per_s : float
    ///     deg/s, above zero.
    ///
    /// Raises
    /// ------
    /// BringUpError
    ///     NaN, infinity, or a rate that is not above zero.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> wing = elb.Robot.load(examples.path("heron.toml"))["wing_left"]
    /// >>> joint = elb.rehearsal.VirtualJoint(wing, start=79.5, stops=(34.0, 125.0), seed=7)
    /// >>> joint.move_to(60.0, rate_per_s=30.0)
    /// >>> joint.commanded
    /// (60.0, 79.5)
    #[pyo3(signature = (drive, *, rate_per_s))]
    fn move_to(&self, drive: &Bound<'_, PyAny>, rate_per_s: &Bound<'_, PyAny>) -> PyResult<()> {
        let py = drive.py();
        let (drive, rate) = (number(drive, "drive")?, number(rate_per_s, "rate_per_s")?);
        self.joint()
            .try_move_to(drive, rate)
            .map_err(|error| bring_up_error(py, &error))
    }

    /// Let time pass.
    ///
    /// Parameters
    /// ----------
    /// seconds : float
    ///     Zero or more.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> wing = elb.Robot.load(examples.path("heron.toml"))["wing_left"]
    /// >>> joint = elb.rehearsal.VirtualJoint(wing, start=79.5, stops=(34.0, 125.0), seed=7)
    /// >>> joint.wait(0.5)
    fn wait(&self, seconds: &Bound<'_, PyAny>) -> PyResult<()> {
        let py = seconds.py();
        let seconds = number(seconds, "seconds")?;
        self.joint()
            .try_wait(seconds)
            .map_err(|error| bring_up_error(py, &error))
    }

    /// Take one reading.
    ///
    /// Returns
    /// -------
    /// float
    ///     Counts of the converter.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> wing = elb.Robot.load(examples.path("heron.toml"))["wing_left"]
    /// >>> joint = elb.rehearsal.VirtualJoint(wing, start=79.5, stops=(34.0, 125.0), seed=7)
    /// >>> 0 <= joint.read() <= 1023
    /// True
    fn read(&self) -> f64 {
        self.joint().read()
    }

    /// The drive's current as a part of its stall current.
    ///
    /// Returns
    /// -------
    /// float or None
    ///     None where nothing measures it.
    ///
    /// Examples
    /// --------
    /// >>> import elbowroom as elb
    /// >>> from elbowroom import examples
    /// >>> wing = elb.Robot.load(examples.path("heron.toml"))["wing_left"]
    /// >>> joint = elb.rehearsal.VirtualJoint(wing, start=79.5, stops=(34.0, 125.0), seed=7)
    /// >>> joint.load() is None
    /// True
    fn load(&self) -> Option<f64> {
        self.joint().load()
    }

    /// (float, float): the lowest and the highest drive angle that was commanded so far, deg.
    #[getter]
    fn commanded(&self) -> (f64, f64) {
        both(self.joint().commanded())
    }

    /// (float, float): the true contacts, play aside, drive angles in deg.
    #[getter]
    fn contacts(&self) -> (f64, f64) {
        both(self.joint().contacts())
    }

    /// {"lower", "upper"} or None: the end whose contact is with an obstacle before the stop.
    #[getter]
    fn obstacle(&self) -> Option<&'static str> {
        self.joint().obstacle().map(Side::as_str)
    }

    /// float: where the joint stands, as the drive angle that would hold it there.
    #[getter]
    fn place(&self) -> f64 {
        self.joint().place()
    }

    /// str or None: the fault that it was broken with.
    #[getter]
    fn fault(&self) -> Option<&'static str> {
        self.joint().fault().map(Fault::as_str)
    }

    fn __eq__(&self, other: &Self) -> bool {
        // One lock after the other: never two at once.
        let ours = self.joint().clone();
        ours == *other.joint()
    }

    fn __repr__(&self) -> String {
        let joint = self.joint();
        let [lower, upper] = joint.contacts();
        let digits = |value| Rounded { value, u: None };
        format!(
            "<VirtualJoint at {} deg, contacts {} and {} deg, fault {}>",
            digits(joint.place()),
            digits(lower),
            digits(upper),
            joint.fault().map_or("none", Fault::as_str)
        )
    }

    fn __reduce__<'py>(slf: &Bound<'py, Self>) -> PyResult<(Bound<'py, PyAny>, (String,))> {
        let state = json(slf.py(), &*slf.get().joint())?;
        Ok((slf.get_type().getattr("_restored")?, (state,)))
    }
}

/// The person at a virtual joint, for `elbowroom.rehearsal.Person`.
#[pyclass(frozen, module = "elbowroom._core")]
pub(crate) struct Person {
    person: Mutex<core::Person>,
}

impl Person {
    fn person(&self) -> MutexGuard<'_, core::Person> {
        self.person.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn person_of(wrong_answer_rate: &Bound<'_, PyAny>, seed: &Bound<'_, PyAny>) -> PyResult<core::Person> {
    core::Person::checked(number(wrong_answer_rate, "wrong_answer_rate")?, seed_of(seed)?)
        .map_err(|error| bring_up_error(wrong_answer_rate.py(), &error))
}

#[pymethods]
impl Person {
    #[new]
    fn new(wrong_answer_rate: &Bound<'_, PyAny>, seed: &Bound<'_, PyAny>) -> PyResult<Self> {
        Ok(Self {
            person: Mutex::new(person_of(wrong_answer_rate, seed)?),
        })
    }

    #[staticmethod]
    fn restored(py: Python<'_>, state: &str) -> PyResult<Self> {
        Ok(Self {
            person: Mutex::new(read_json(py, "state of a person", state)?),
        })
    }

    fn state_json(&self, py: Python<'_>) -> PyResult<String> {
        json(py, &*self.person())
    }

    /// Does an action on a virtual joint; the report, or None.
    fn carry_out<'py>(&self, action: &Bound<'py, PyAny>, joint: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let action: Action = from_plain(action, "action")?;
        let at = part::<VirtualJoint>(joint, "joint", "VirtualJoint(...)")?.get();
        let report = self.person().carry_out(&action, &mut at.joint());
        plain(joint.py(), &report)
    }
}

/// The faults that a rehearsal knows.
#[pyfunction]
pub(crate) fn rehearsed_faults() -> Vec<&'static str> {
    Fault::REHEARSED.map(Fault::as_str).to_vec()
}

/// A joint drawn from a seed, or a given one, healthy or broken, and the plan that fits it.
#[pyfunction]
#[pyo3(signature = (seed, fault=None, joint=None, alignment=None))]
pub(crate) fn rehearsal<'py>(
    seed: &Bound<'py, PyAny>,
    fault: Option<&Bound<'py, PyAny>>,
    joint: Option<&Bound<'py, PyAny>>,
    alignment: Option<&Bound<'_, PyAny>>,
) -> PyResult<(VirtualJoint, Bound<'py, PyAny>)> {
    let py = seed.py();
    let Rehearsal { joint, plan } = drawn(seed, fault, joint, alignment)?;
    Ok((VirtualJoint::of(joint), plain(py, &plan)?))
}

fn drawn(
    seed: &Bound<'_, PyAny>,
    fault: Option<&Bound<'_, PyAny>>,
    joint: Option<&Bound<'_, PyAny>>,
    alignment: Option<&Bound<'_, PyAny>>,
) -> PyResult<Rehearsal> {
    let py = seed.py();
    let seed = seed_of(seed)?;
    let fault = fault.map(fault_of).transpose()?;
    let refused = |error| bring_up_error(py, &error);
    let drawn = match joint {
        Some(joint) => {
            let joint = part::<Joint>(joint, "joint", "Joint(...)")?.get();
            Rehearsal::of_joint(&joint.both.wide, fault, seed).map_err(refused)?
        }
        None => match fault {
            Some(fault) => Rehearsal::faulty(fault, seed),
            None => Rehearsal::healthy(seed),
        }
        .map_err(|error| refuse::joint(py, None, &error))?,
    };
    if flag_or_false(alignment, "alignment")? {
        drawn.with_alignment().map_err(refused)
    } else {
        Ok(drawn)
    }
}

#[derive(Serialize)]
struct Step {
    stage: &'static str,
    told: ActionRecord,
    report: Report,
}

#[derive(Serialize)]
struct Rehearsed<'a> {
    plan: &'a SessionPlan,
    steps: Vec<Step>,
    contacts: [f64; 2],
    obstacle: Option<&'static str>,
    commanded: [f64; 2],
}

/// The compiled half of `elbowroom.rehearsal.rehearse`: the whole run.
#[pyfunction]
pub(crate) fn rehearse<'py>(
    seed: &Bound<'py, PyAny>,
    fault: Option<&Bound<'py, PyAny>>,
    joint: Option<&Bound<'py, PyAny>>,
    alignment: Option<&Bound<'_, PyAny>>,
    wrong_answer_rate: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyAny>> {
    let py = seed.py();
    let mut person = person_of(wrong_answer_rate, seed)?;
    let Rehearsal { mut joint, plan } = drawn(seed, fault, joint, alignment)?;
    let refused = |error| bring_up_error(py, &error);
    let mut session = Session::new(plan).map_err(refused)?;
    let mut steps = Vec::new();
    loop {
        let (stage, action) = (session.stage(), session.next());
        let Some(report) = person.carry_out(&action, &mut joint) else {
            break;
        };
        session.report(report).map_err(refused)?;
        let told = ActionRecord::of(action);
        steps.push(Step { stage, told, report });
    }
    let Some(outcome) = session.outcome() else {
        return Err(refused(elbowroom::bring_up::BringUpError::Done));
    };
    let rehearsed = Rehearsed {
        plan: session.plan(),
        steps,
        contacts: joint.contacts(),
        obstacle: joint.obstacle().map(Side::as_str),
        commanded: joint.commanded(),
    };
    let told = plain(py, &rehearsed)?;
    let ended = Ended::of(outcome, session.plan(), session.readings());
    told.set_item("ended", ended.into_plain(py)?)?;
    Ok(told)
}
