//! Bring-up: the procedures as one compiled class behind the classes of the Python half, which makes its frozen records of
//! what the core says here; JSON is for saving and pickling alone.

use std::sync::{Mutex, MutexGuard, PoisonError};

use elbowroom::bring_up::{
    self as core, Action, Alignment, Bench, BringUpError, Outcome, SenseResult, SenseTest, Session, SessionPlan,
    StopSearch, Sweep, SweepReading, Verdict, teeth,
};
use elbowroom::fit::Approach;
use elbowroom::robot::{MapChoice, Refit};
use elbowroom::{Code, Side};
use pyo3::prelude::*;
use serde::{Deserialize, Serialize};

use crate::bring_up_plans::{
    alignment_plan, bench_plan, bracket_plan, found_of, report_of, search_plan, sense_plan, session_plan, sweep_plan,
};
use crate::evidence::date_of;
use crate::fitted::Columns;
use crate::limit_fit::LimitFit;
use crate::numbers::{flag, number, pair, part, text};
use crate::records::{from_plain, json, plain, read_json};
use crate::refuse::{self, Place};
use crate::robot::Robot;

/// A refused plan or report.
pub(crate) fn bring_up_error(py: Python<'_>, error: &BringUpError) -> PyErr {
    let (code, sentence) = (error.code(), error.to_string());
    let refused = |value: Option<f64>| refuse::exception(py, "BringUpError", code, &sentence, value, Place::default());
    match *error {
        BringUpError::NotFinite { value, .. }
        | BringUpError::NotPositive { value, .. }
        | BringUpError::Below { value, .. }
        | BringUpError::Above { value, .. } => refused(Some(value)),
        BringUpError::StartNotClear { start, .. } => refused(Some(start)),
        BringUpError::NotRising { lower, upper, .. } => {
            refuse::exception(py, "BringUpError", code, &sentence, (lower, upper), Place::default())
        }
        BringUpError::WrongReport { given, .. } | BringUpError::WrongAnswer { given, .. } => {
            refuse::exception(py, "BringUpError", code, &sentence, given, Place::default())
        }
        _ => refused(None),
    }
}

/// A sweep and what it has read.
#[derive(Clone, PartialEq, Serialize, Deserialize)]
struct SweepSoFar {
    sweep: Sweep,
    readings: Vec<SweepReading>,
}

#[derive(Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum State {
    Session(Box<Session>),
    Bench(Box<Bench>),
    SenseTest(Box<SenseTest>),
    Alignment(Alignment),
    StopSearch(Box<StopSearch>),
    Sweep(SweepSoFar),
}

/// An action, and what a person is to read of it.
#[derive(Serialize)]
pub(crate) struct ActionRecord {
    action: Action,
    sentence: Option<String>,
    answers: Vec<&'static str>,
    cautions: Vec<String>,
    caution_codes: Vec<&'static str>,
    doubt: Option<String>,
}

impl ActionRecord {
    pub(crate) fn of(action: Action) -> Self {
        let mut told = Self {
            action,
            sentence: None,
            answers: Vec::new(),
            cautions: action.cautions().iter().map(ToString::to_string).collect(),
            caution_codes: action.cautions().iter().map(|caution| caution.as_str()).collect(),
            doubt: None,
        };
        if let Action::Ask { question, doubt } = action {
            told.sentence = Some(question.to_string());
            told.answers = question
                .answers()
                .iter()
                .map(elbowroom::bring_up::Answer::as_str)
                .collect();
            told.doubt = doubt.map(|doubt| doubt.to_string());
        }
        told
    }
}

/// An outcome with its sentences.
#[derive(Serialize)]
pub(crate) struct Ended {
    outcome: Outcome,
    /// Crosses as what it is.
    #[serde(skip)]
    fit: Option<LimitFit>,
    travel: Option<[f64; 2]>,
    sentence: String,
    teeth: Option<(i32, u32)>,
    sense: Option<SenseRecord>,
}

#[derive(Serialize)]
struct SenseRecord {
    reason: Option<String>,
    advice: Option<String>,
}

impl Ended {
    pub(crate) fn of(outcome: &Outcome, plan: &SessionPlan, readings: &[SweepReading]) -> Self {
        let (fit, outcome) = apart(outcome, readings);
        Self {
            fit,
            travel: outcome.travel(),
            sentence: outcome.verdict.to_string(),
            teeth: match outcome.verdict {
                Verdict::Faulty {
                    fault: elbowroom::bring_up::Fault::HornSlipped,
                    by: Some(by),
                    ..
                } => teeth(by),
                _ => None,
            },
            sense: outcome.sense.map(|sense| SenseRecord::of(&sense, plan.rising)),
            outcome,
        }
    }

    /// The same of a bring-up with typed readings, which are not those of a sweep.
    pub(crate) fn of_bench(outcome: &Outcome) -> Self {
        let (fit, outcome) = apart(outcome, &[]);
        Self {
            fit,
            travel: outcome.travel(),
            sentence: outcome.verdict.to_string(),
            teeth: None,
            sense: outcome.sense.map(|sense| SenseRecord {
                reason: sense.reason.map(|reason| reason.to_string()),
                advice: None,
            }),
            outcome,
        }
    }

    /// As the Python half takes it.
    pub(crate) fn into_plain(mut self, py: Python<'_>) -> PyResult<Bound<'_, PyAny>> {
        let fit = self.fit.take();
        let told = plain(py, &self)?;
        told.set_item("fit", fit)?;
        Ok(told)
    }
}

/// The fit of an outcome with its readings, and the outcome without it.
fn apart(outcome: &Outcome, readings: &[SweepReading]) -> (Option<LimitFit>, Outcome) {
    let mut outcome = outcome.clone();
    let fit = outcome.fit.take().map(|fit| {
        let columns = Columns::new(
            readings.iter().map(|one| one.place.drive).collect(),
            readings.iter().map(|one| one.reading).collect(),
            Some(
                readings
                    .iter()
                    .map(|one| Approach::moving_to(one.place.toward))
                    .collect(),
            ),
        );
        LimitFit::with(fit, columns)
    });
    (fit, outcome)
}

impl SenseRecord {
    fn of(sense: &SenseResult, rising: bool) -> Self {
        Self {
            reason: sense.reason.map(|reason| reason.to_string()),
            advice: sense.advice(rising).map(|advice| advice.to_string()),
        }
    }
}

/// One procedure of the bring-up, for the classes of `elbowroom.bring_up`.
#[pyclass(frozen, module = "elbowroom._core")]
pub(crate) struct Procedure {
    state: Mutex<State>,
}

impl Procedure {
    fn state(&self) -> MutexGuard<'_, State> {
        // A state is only ever replaced whole.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn of(state: State) -> Self {
        Self {
            state: Mutex::new(state),
        }
    }
}

#[pymethods]
impl Procedure {
    /// Checks a plan of this kind and begins.
    #[new]
    fn new(kind: &Bound<'_, PyAny>, plan: &Bound<'_, PyAny>) -> PyResult<Self> {
        let py = plan.py();
        let made = match text(kind, "kind")?.as_str() {
            "session" => Session::new(session_plan(plan)?).map(|session| State::Session(Box::new(session))),
            "bench" => Bench::new(bench_plan(plan)?).map(|bench| State::Bench(Box::new(bench))),
            "sense-test" => SenseTest::new(sense_plan(plan)?).map(|test| State::SenseTest(Box::new(test))),
            "alignment" => Alignment::new(alignment_plan(plan)?).map(State::Alignment),
            "stop-search" => StopSearch::new(search_plan(plan)?).map(|search| State::StopSearch(Box::new(search))),
            _ => Sweep::new(sweep_plan(plan)?).map(|sweep| {
                State::Sweep(SweepSoFar {
                    sweep,
                    readings: Vec::new(),
                })
            }),
        };
        made.map(Self::of).map_err(|error| bring_up_error(py, &error))
    }

    /// A procedure from its state.
    #[staticmethod]
    fn restored(py: Python<'_>, saved: &str) -> PyResult<Self> {
        read_json(py, "state of a procedure", saved).map(Self::of)
    }

    /// A bring-up with typed readings from what `saved` wrote.
    #[staticmethod]
    fn loaded_bench(py: Python<'_>, saved: &Bound<'_, PyAny>, resume: bool) -> PyResult<Self> {
        let mut bench: Bench = read_json(py, "saved bring-up", &text(saved, "text")?)?;
        if resume {
            bench.resume();
        }
        Ok(Self::of(State::Bench(Box::new(bench))))
    }

    /// A whole bring-up from what `saved` wrote.
    #[staticmethod]
    fn loaded(py: Python<'_>, saved: &Bound<'_, PyAny>, resume: bool) -> PyResult<Self> {
        let mut session: Session = read_json(py, "saved bring-up", &text(saved, "text")?)?;
        if resume {
            session.resume();
        }
        Ok(Self::of(State::Session(Box::new(session))))
    }

    /// The plan of a whole bring-up; None for the others, whose plan the Python half keeps.
    fn plan<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        match &*self.state() {
            State::Session(session) => plain(py, session.plan()),
            State::Bench(bench) => plain(py, bench.plan()),
            _ => plain(py, &()),
        }
    }

    /// Its whole state as JSON.
    fn state_json(&self, py: Python<'_>) -> PyResult<String> {
        json(py, &*self.state())
    }

    /// A whole bring-up as JSON.
    fn saved(&self, py: Python<'_>) -> PyResult<String> {
        match &*self.state() {
            State::Session(session) => json(py, session),
            State::Bench(bench) => json(py, bench),
            other => json(py, other),
        }
    }

    /// The next action and its sentences.
    fn next<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let action = match &*self.state() {
            State::Session(session) => session.next(),
            State::Bench(bench) => bench.next(),
            State::SenseTest(test) => test.next(),
            State::Alignment(alignment) => alignment.next(),
            State::StopSearch(search) => search.next(),
            State::Sweep(so_far) => so_far.sweep.next(),
        };
        plain(py, &ActionRecord::of(action))
    }

    /// Takes a report; one that is refused changes nothing.
    fn report(&self, report: &Bound<'_, PyAny>) -> PyResult<()> {
        let py = report.py();
        let report = report_of(report)?;
        let mut state = self.state();
        let done = match &mut *state {
            State::Session(session) => session.report(report),
            State::Bench(bench) => bench.report(report),
            State::SenseTest(test) => test.report(report),
            State::Alignment(alignment) => alignment.report(report),
            State::StopSearch(search) => search.report(report),
            State::Sweep(so_far) => so_far
                .sweep
                .report(report)
                .map(|reading| so_far.readings.extend(reading)),
        };
        done.map_err(|error| bring_up_error(py, &error))
    }

    /// Ends it; a test, an alignment or a sweep is simply left.
    fn stop(&self) {
        match &mut *self.state() {
            State::Session(session) => session.stop(),
            State::Bench(bench) => bench.stop(),
            State::StopSearch(search) => search.stop(),
            _ => {}
        }
    }

    fn resume(&self) {
        match &mut *self.state() {
            State::Session(session) => session.resume(),
            State::Bench(bench) => bench.resume(),
            _ => {}
        }
    }

    /// Takes the last answer of a bring-up with typed readings back; says whether there was one.
    fn undo(&self) -> bool {
        match &mut *self.state() {
            State::Bench(bench) => bench.undo(),
            _ => false,
        }
    }

    /// The next step of a bring-up with typed readings in words.
    fn prompt<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        match &*self.state() {
            State::Bench(bench) => plain(py, &bench.prompt()),
            _ => plain(py, &()),
        }
    }

    /// What a person typed, as a report.
    fn parse<'py>(&self, typed: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
        let py = typed.py();
        let typed = text(typed, "typed")?;
        match &*self.state() {
            State::Bench(bench) => plain(py, &bench.parse(&typed).map_err(|error| bring_up_error(py, &error))?),
            _ => plain(py, &()),
        }
    }

    /// Where a bring-up stands.
    fn stage(&self) -> &'static str {
        match &*self.state() {
            State::Session(session) => session.stage(),
            State::Bench(bench) => bench.stage(),
            _ => "",
        }
    }

    /// The outermost drive angles proven clear in a bring-up so far.
    fn clear(&self) -> Option<(f64, f64)> {
        match &*self.state() {
            State::Session(session) => {
                let [lower, upper] = session.clear();
                Some((lower, upper))
            }
            _ => None,
        }
    }

    /// What has come of it so far: None where there is nothing yet.
    fn found<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        match &*self.state() {
            State::Session(session) => {
                let ended = session
                    .outcome()
                    .map(|outcome| Ended::of(outcome, session.plan(), session.readings()));
                ended.map_or_else(|| plain(py, &()), |ended| ended.into_plain(py))
            }
            State::Bench(bench) => {
                let ended = bench.outcome().map(Ended::of_bench);
                ended.map_or_else(|| plain(py, &()), |ended| ended.into_plain(py))
            }
            State::SenseTest(test) => {
                let told = test.result().map(|result| SenseRecord::of(&result, true));
                plain(py, &(test.result(), told.and_then(|told| told.reason)))
            }
            State::Alignment(alignment) => plain(py, &alignment.end()),
            State::StopSearch(search) => plain(py, &search.end()),
            State::Sweep(so_far) => plain(py, &so_far.readings),
        }
    }

    /// Numbers on the way.
    fn so_far<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        match &*self.state() {
            State::Session(session) => plain(py, &session.readings()),
            State::Bench(bench) => plain(py, &(bench.readings(), bench.is_not_the_stop_felt())),
            State::SenseTest(test) => plain(py, &test.samples().collect::<Vec<_>>()),
            State::Alignment(_) => plain(py, &()),
            State::StopSearch(search) => {
                let bracket = search.bracket();
                plain(
                    py,
                    &(
                        bracket.clear(),
                        bracket.contact(),
                        bracket.probes(),
                        bracket.most_probes(),
                        search.drive(),
                    ),
                )
            }
            State::Sweep(so_far) => plain(py, &so_far.sweep.done()),
        }
    }

    fn __eq__(&self, other: &Self) -> bool {
        // One lock after the other: never two at once.
        let ours = self.state().clone();
        ours == *other.state()
    }
}

/// The bare search for a stop, for `elbowroom.bring_up.Bracket`.
#[pyclass(frozen, module = "elbowroom._core")]
pub(crate) struct Bracket {
    bracket: Mutex<core::Bracket>,
}

impl Bracket {
    fn bracket(&self) -> MutexGuard<'_, core::Bracket> {
        self.bracket.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[pymethods]
impl Bracket {
    #[new]
    fn new(plan: &Bound<'_, PyAny>) -> PyResult<Self> {
        match core::Bracket::new(bracket_plan(plan)?) {
            Ok(bracket) => Ok(Self {
                bracket: Mutex::new(bracket),
            }),
            Err(error) => Err(bring_up_error(plan.py(), &error)),
        }
    }

    #[staticmethod]
    fn restored(py: Python<'_>, saved: &str) -> PyResult<Self> {
        Ok(Self {
            bracket: Mutex::new(read_json(py, "state of a search", saved)?),
        })
    }

    fn state_json(&self, py: Python<'_>) -> PyResult<String> {
        json(py, &*self.bracket())
    }

    fn probe(&self) -> Option<f64> {
        self.bracket().probe()
    }

    fn report(&self, found: &Bound<'_, PyAny>) -> PyResult<()> {
        let judged = found_of(found)?;
        self.bracket()
            .report(judged)
            .map_err(|error| bring_up_error(found.py(), &error))
    }

    fn stop(&self) {
        self.bracket().stop();
    }

    /// Outermost clear, innermost contact, probes, most probes.
    fn so_far(&self) -> (f64, Option<f64>, u32, u32) {
        let bracket = self.bracket();
        (
            bracket.clear(),
            bracket.contact(),
            bracket.probes(),
            bracket.most_probes(),
        )
    }
}

/// The figures of an alignment.
#[pyfunction]
pub(crate) fn alignment_figures<'py>(plan: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let py = plan.py();
    let figures = alignment_plan(plan)?
        .figures()
        .map_err(|error| bring_up_error(py, &error))?;
    plain(py, &figures)
}

/// The reading to set a sensor to at a joint angle.
#[pyfunction]
pub(crate) fn alignment_reading(plan: &Bound<'_, PyAny>, joint_angle: &Bound<'_, PyAny>) -> PyResult<f64> {
    let angle = number(joint_angle, "joint_angle")?;
    alignment_plan(plan)?
        .reading_to_set(angle)
        .map_err(|error| bring_up_error(plan.py(), &error))
}

/// What is spare beyond both stops.
#[pyfunction]
pub(crate) fn alignment_spare(
    plan: &Bound<'_, PyAny>,
    joint_angle: &Bound<'_, PyAny>,
    reading: &Bound<'_, PyAny>,
) -> PyResult<(f64, f64)> {
    let (angle, reading) = (number(joint_angle, "joint_angle")?, number(reading, "reading")?);
    let [lower, upper] = alignment_plan(plan)?
        .spare(angle, reading)
        .map_err(|error| bring_up_error(plan.py(), &error))?;
    Ok((lower, upper))
}

/// What to do about a sense, as a sentence.
#[pyfunction]
pub(crate) fn sense_advice(sense: &Bound<'_, PyAny>, rising: bool) -> PyResult<Option<String>> {
    let sense: SenseResult = from_plain(sense, "result of a sense test")?;
    Ok(SenseRecord::of(&sense, rising).advice)
}

/// Every place of a sweep, and the angles between which it moves.
#[pyfunction]
pub(crate) fn sweep_places<'py>(plan: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let py = plan.py();
    let plan = sweep_plan(plan)?;
    let sweep = Sweep::new(plan).map_err(|error| bring_up_error(py, &error))?;
    let plan = sweep.plan();
    let places: Vec<_> = (0..plan.places()).filter_map(|index| plan.place(index)).collect();
    plain(py, &(places, plan.reach(), plan.least_seconds()))
}

/// Between which drive angles the first moves of a bring-up with typed readings go.
#[pyfunction]
pub(crate) fn bench_first_moves(plan: &Bound<'_, PyAny>) -> PyResult<[f64; 2]> {
    Ok(bench_plan(plan)?.first_moves())
}

/// Between which drive angles those of a whole bring-up go.
#[pyfunction]
pub(crate) fn session_first_moves(plan: &Bound<'_, PyAny>) -> PyResult<[f64; 2]> {
    Ok(session_plan(plan)?.first_moves())
}

/// The compiled half of `Outcome.put_into`: the robot with the outcome's travel and evidence; None if there is none.
#[pyfunction]
#[pyo3(signature = (outcome, fit, robot, name, *, date, unit, measured_at_commands, adopt, keep))]
#[expect(clippy::too_many_arguments, reason = "they are the keywords of the Python half")]
pub(crate) fn outcome_put(
    outcome: &Bound<'_, PyAny>,
    fit: Option<&Bound<'_, PyAny>>,
    robot: &Bound<'_, PyAny>,
    name: &Bound<'_, PyAny>,
    date: Option<&Bound<'_, PyAny>>,
    unit: Option<&Bound<'_, PyAny>>,
    measured_at_commands: Option<&Bound<'_, PyAny>>,
    adopt: &Bound<'_, PyAny>,
    keep: &Bound<'_, PyAny>,
) -> PyResult<Option<Robot>> {
    let py = robot.py();
    let outcome = outcome_of(outcome, fit)?;
    let date = date.map(|date| date_of(date, "date")).transpose()?;
    let name = text(name, "name")?;
    let unit = unit.map(|unit| text(unit, "unit")).transpose()?;
    let ends = measured_at_commands
        .map(|ends| pair(ends, "measured_at_commands"))
        .transpose()?;
    let map = match (flag(adopt, "adopt")?, flag(keep, "keep")?) {
        (true, true) => {
            let says = "adopt and keep exclude each other; give one of them";
            return Err(refuse::argument(py, Code::OptionOutside, says));
        }
        (true, _) => MapChoice::Adopted,
        (_, true) => MapChoice::Kept,
        _ => MapChoice::Judged,
    };
    let robot = part::<Robot>(robot, "robot", "Robot(...)")?.get();
    let mut record = robot.record(py, &name)?;
    let Some(limits) = outcome.limits() else {
        return Ok(None);
    };
    let mut refit = Refit::new(&limits).with_unit(unit.as_deref());
    if let Some(ends) = ends {
        refit = refit.with_command_ends(ends);
    }
    let put = record.put_bring_up(&outcome, &refit, map, date);
    put.map_err(|error| crate::repair::refused(py, &name, &error))?;
    robot.with(py, &record).map(Some)
}

/// The compiled half of `Outcome.baseline`; None where it leaves nothing.
#[pyfunction]
pub(crate) fn outcome_baseline<'py>(
    outcome: &Bound<'py, PyAny>,
    fit: Option<&Bound<'py, PyAny>>,
) -> PyResult<Option<Bound<'py, PyAny>>> {
    elbowroom::bring_up::Baseline::from_outcome(&outcome_of(outcome, fit)?)
        .map(|known| plain(outcome.py(), &known))
        .transpose()
}

/// An outcome of the core from the fields of one of the Python half and its fit.
fn outcome_of(fields: &Bound<'_, PyAny>, fit: Option<&Bound<'_, PyAny>>) -> PyResult<Outcome> {
    let mut outcome: Outcome = from_plain(fields, "outcome of a bring-up")?;
    if let Some(fit) = fit {
        outcome.fit = Some(LimitFit::given(fit, "fit")?.fit.as_ref().clone());
    }
    outcome
        .complete()
        .map_err(|error| bring_up_error(fields.py(), &error))?;
    Ok(outcome)
}

/// The side from which a place is reached while the drive moves towards this end.
#[pyfunction]
pub(crate) fn reached_from(toward: &Bound<'_, PyAny>) -> PyResult<Option<&'static str>> {
    Ok(Approach::moving_to(from_plain::<Side>(toward, "end")?).as_str())
}
