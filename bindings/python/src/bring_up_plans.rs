//! Plans and reports of the bring-up, from the frozen records of the Python half. Every number is taken strictly; whether it
//! can be meant is for the core to say.

use std::ops::RangeInclusive;

use elbowroom::Code;
use elbowroom::bring_up::{
    AlignmentPlan, Answer, Baseline, BenchPlan, BracketPlan, Fault, Found, Pace, Report, SensePlan, SessionPlan, Side,
    StopSearchPlan, SweepPlan,
};
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::numbers::{flag, kind_of, maybe_number, number, outside, pair, text, whole, word_among, word_of};
use crate::refuse;

/// The fields of a record, each named in its refusal.
struct Fields<'a, 'py> {
    record: &'a Bound<'py, PyAny>,
    /// What stands before a field's name.
    of: &'a str,
}

impl<'py> Fields<'_, 'py> {
    fn named(&self, name: &str) -> String {
        format!("{}{name}", self.of)
    }

    fn get(&self, name: &str) -> PyResult<Bound<'py, PyAny>> {
        self.record.getattr(name)
    }

    fn given(&self, name: &str) -> PyResult<Option<Bound<'py, PyAny>>> {
        Ok(Some(self.get(name)?).filter(|value| !value.is_none()))
    }

    fn number(&self, name: &str) -> PyResult<f64> {
        number(&self.get(name)?, &self.named(name))
    }

    fn pair(&self, name: &str) -> PyResult<[f64; 2]> {
        pair(&self.get(name)?, &self.named(name))
    }

    fn flag(&self, name: &str) -> PyResult<bool> {
        flag(&self.get(name)?, &self.named(name))
    }

    /// A whole number that fits; whether it is within what it must be, the plan says.
    fn whole<T: TryFrom<u32> + Into<u32> + Copy>(&self, name: &str, within: &RangeInclusive<T>) -> PyResult<T> {
        let given = self.get(name)?;
        let within = (*within.start()).into()..=(*within.end()).into();
        let found = whole(&given, &self.named(name), within.clone())?;
        T::try_from(found).map_err(|_| {
            let sentence = outside(&self.named(name), found, &within);
            refuse::argument_at(given.py(), Code::OptionOutside, &sentence, &given)
        })
    }

    fn word<T: serde::de::DeserializeOwned>(&self, name: &str) -> PyResult<T> {
        word_of(&self.get(name)?, &self.named(name))
    }
}

/// The fields of a record of this class of `elbowroom.bring_up`.
fn fields<'a, 'py>(record: &'a Bound<'py, PyAny>, class: &str, of: &'a str) -> PyResult<Fields<'a, 'py>> {
    let py = record.py();
    if !record.is_instance(&py.import("elbowroom.bring_up")?.getattr(class)?)? {
        let what = if of.is_empty() {
            "plan"
        } else {
            of.trim_end_matches('.')
        };
        let sentence = format!("{what} is {}; give {class}(...)", kind_of(record));
        return Err(refuse::argument_at(py, Code::WrongType, &sentence, record));
    }
    Ok(Fields { record, of })
}

pub(crate) fn pace(record: &Bound<'_, PyAny>) -> PyResult<Pace> {
    let from = fields(record, "Pace", "pace.")?;
    Ok(Pace {
        rate_per_s: from.number("rate_per_s")?,
        settle_s: from.number("settle_s")?,
        reads: from.whole("reads", &Pace::READS)?,
    })
}

pub(crate) fn sense_plan(record: &Bound<'_, PyAny>) -> PyResult<SensePlan> {
    sense_within(record, "")
}

/// The same as a part of another plan: `of` stands before the names of its fields.
fn sense_within(record: &Bound<'_, PyAny>, of: &str) -> PyResult<SensePlan> {
    let from = fields(record, "SensePlan", of)?;
    Ok(SensePlan::default()
        .with_watch(from.word("watch")?)
        .with_turn(from.number("turn")?)
        .with_turns(from.whole("turns", &SensePlan::TURNS)?)
        .with_reads(from.whole("reads", &SensePlan::READS)?)
        .with_reading_range(from.pair("reading_range")?))
}

pub(crate) fn alignment_plan(record: &Bound<'_, PyAny>) -> PyResult<AlignmentPlan> {
    alignment_within(record, "")
}

/// The same as a part of another plan: `of` stands before the names of its fields.
fn alignment_within(record: &Bound<'_, PyAny>, of: &str) -> PyResult<AlignmentPlan> {
    let from = fields(record, "AlignmentPlan", of)?;
    let (joint, travel, ratio) = (
        from.pair("joint")?,
        from.number("sensor_travel")?,
        from.number("ratio")?,
    );
    Ok(AlignmentPlan::new(joint, travel, ratio)
        .with_reading_range(from.pair("reading_range")?)
        .with_resolution(from.number("resolution")?)
        .with_margin(from.number("margin")?))
}

pub(crate) fn bracket_plan(record: &Bound<'_, PyAny>) -> PyResult<BracketPlan> {
    bracket_within(record, "")
}

/// The same as a part of another plan: `of` stands before the names of its fields.
fn bracket_within(record: &Bound<'_, PyAny>, of: &str) -> PyResult<BracketPlan> {
    let from = fields(record, "BracketPlan", of)?;
    let toward = from.word("toward")?;
    Ok(
        BracketPlan::new(toward, from.number("clear")?, from.number("search_limit")?)
            .with_step(from.number("step")?)
            .with_tolerance(from.number("tolerance")?),
    )
}

pub(crate) fn search_plan(record: &Bound<'_, PyAny>) -> PyResult<StopSearchPlan> {
    let from = fields(record, "StopSearchPlan", "")?;
    let bracket = bracket_within(&from.get("bracket")?, "bracket.")?;
    Ok(StopSearchPlan::new(bracket, from.number("inner")?)
        .with_run_in(from.number("run_in")?)
        .with_readable(from.pair("readable")?)
        .with_resolution(from.number("resolution")?)
        .with_pace(pace(&from.get("pace")?)?))
}

pub(crate) fn sweep_plan(record: &Bound<'_, PyAny>) -> PyResult<SweepPlan> {
    let from = fields(record, "SweepPlan", "")?;
    Ok(
        SweepPlan::new(from.pair("ends")?, from.whole("targets", &SweepPlan::TARGETS)?)
            .with_runs(from.whole("runs", &SweepPlan::RUNS)?)
            .with_legs(from.word("legs")?)
            .with_run_in(from.pair("run_in")?)
            .with_pace(pace(&from.get("pace")?)?),
    )
}

fn baseline(record: &Bound<'_, PyAny>) -> PyResult<Baseline> {
    let from = fields(record, "Baseline", "baseline.")?;
    Ok(Baseline {
        contacts: [
            maybe_number(from.given("lower")?.as_ref(), "baseline.lower")?,
            maybe_number(from.given("upper")?.as_ref(), "baseline.upper")?,
        ],
        at: from.number("at")?,
        reading: from.number("reading")?,
        per_deg: from.number("per_deg")?,
    })
}

pub(crate) fn session_plan(record: &Bound<'_, PyAny>) -> PyResult<SessionPlan> {
    let from = fields(record, "SessionPlan", "")?;
    let alignment = from
        .given("alignment")?
        .map(|record| alignment_within(&record, "alignment."));
    let baseline = from.given("baseline")?.map(|record| baseline(&record));
    Ok(SessionPlan::new(from.number("start")?, from.pair("search_limits")?)
        .with_clearance(from.number("clearance")?)
        .with_step(from.number("step")?)
        .with_tolerance(from.number("tolerance")?)
        .with_run_in(from.number("run_in")?)
        .with_sweep_step(from.number("sweep_step")?)
        .with_guard(from.number("guard")?)
        .with_confidence(from.number("confidence")?)
        .with_sense(sense_within(&from.get("sense")?, "sense.")?)
        .with_alignment(alignment.transpose()?)
        .with_rising(from.flag("rising")?)
        .with_resolution(from.number("resolution")?)
        .with_rated_speed(from.number("rated_speed")?)
        .with_pace(pace(&from.get("pace")?)?)
        .with_baseline(baseline.transpose()?))
}

pub(crate) fn bench_plan(record: &Bound<'_, PyAny>) -> PyResult<BenchPlan> {
    let from = fields(record, "BenchPlan", "")?;
    let mut plan = BenchPlan::new(from.number("start")?, from.pair("search_limits")?);
    if from.flag("feel_stops")? {
        plan = plan.with_stops_felt();
    }
    plan = plan.with_resolution(from.number("resolution")?);
    // What is left out is for the core to choose.
    for (name, field) in [("overtravel", &mut plan.overtravel), ("u_reading", &mut plan.u_reading)] {
        if let Some(given) = maybe_number(from.given(name)?.as_ref(), name)? {
            *field = given;
        }
    }
    plan.clearance = from.number("clearance")?;
    plan.run_in = from.number("run_in")?;
    plan.guard = from.number("guard")?;
    plan.confidence = from.number("confidence")?;
    plan.watch = from.word("watch")?;
    plan.turn = from.number("turn")?;
    plan.tolerance = from.number("tolerance")?;
    plan.most_readings = from.whole("most_readings", &BenchPlan::MOST_READINGS)?;
    plan.bend = from.number("bend")?;
    plan.rate_per_s = from.number("rate_per_s")?;
    plan.settle_s = from.number("settle_s")?;
    Ok(plan)
}

/// What every plan of this class begins with, by name: those of its fields that have a usual value.
#[pyfunction]
pub(crate) fn usual<'py>(py: Python<'py>, plan: &str) -> PyResult<Bound<'py, PyDict>> {
    let (ends, bracket) = ([0.0, 1.0], BracketPlan::new(Side::Upper, 0.0, 0.0));
    match plan {
        "Pace" => crate::fitted::fields(py, &Pace::default()),
        "SensePlan" => crate::fitted::fields(py, &SensePlan::default()),
        "AlignmentPlan" => crate::fitted::fields(py, &AlignmentPlan::new(ends, 0.0, 0.0)),
        "BracketPlan" => crate::fitted::fields(py, &bracket),
        "StopSearchPlan" => crate::fitted::fields(py, &StopSearchPlan::new(bracket, 0.0)),
        "SweepPlan" => crate::fitted::fields(py, &SweepPlan::new(ends, 0)),
        "SessionPlan" => crate::fitted::fields(py, &SessionPlan::new(0.0, ends)),
        "BenchPlan" => crate::fitted::fields(py, &BenchPlan::new(0.0, ends)),
        _ => Err(refuse::argument(
            py,
            Code::OptionOutside,
            &format!("no plan is called {plan}"),
        )),
    }
}

/// What a probe found.
pub(crate) fn found_of(given: &Bound<'_, PyAny>) -> PyResult<Found> {
    word_of(given, "found")
}

/// A fault that a rehearsal can break a joint with.
pub(crate) fn fault_of(given: &Bound<'_, PyAny>) -> PyResult<Fault> {
    word_among(given, "fault", Fault::REHEARSED, Fault::as_str)
}

/// A report; the Python half has seen to its class.
pub(crate) fn report_of(record: &Bound<'_, PyAny>) -> PyResult<Report> {
    let from = Fields { record, of: "" };
    let class = record.get_type().name()?;
    Ok(match class.to_str()? {
        "Moved" => match maybe_number(from.given("drive")?.as_ref(), "drive")? {
            Some(drive) => Report::MovedTo { drive },
            None => Report::Moved,
        },
        "Waited" => Report::Waited,
        "Reading" => Report::Reading {
            value: from.number("value")?,
            load: maybe_number(from.given("load")?.as_ref(), "load")?,
        },
        _ => {
            let word = from.get("answer")?;
            let degrees = from.given("degrees")?;
            let answer = if text(&word, "answer")? == "angle" {
                let missing = || {
                    let sentence = "answer is angle without degrees; give Answered(\"angle\", degrees=...)";
                    refuse::argument(record.py(), Code::MissingKey, sentence)
                };
                Answer::Angle {
                    degrees: number(&degrees.ok_or_else(missing)?, "degrees")?,
                }
            } else {
                word_of(&word, "answer")?
            };
            Report::Answered { answer }
        }
    })
}
