//! A saved bring-up that was damaged or tampered with: refused, or still inside its own bounds.

use elbowroom::Code;
use elbowroom::bring_up::{
    Action, Alignment, AlignmentPlan, Bracket, BracketPlan, BringUpError, Fault, Found, Ramp, Report, SensePlan,
    SenseTest, Session, Side, StopSearch, StopSearchPlan, Sweep, SweepPlan,
};
use elbowroom::rehearsal::{Person, Rehearsal, VirtualJoint};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// A state of a bring-up, and the joint and the person as they were then.
struct Moment {
    saved: Value,
    joint: VirtualJoint,
    person: Person,
}

/// Some moments of one bring-up, several of each stage.
fn moments(rehearsal: Rehearsal, seed: u64) -> Vec<Moment> {
    let Rehearsal { mut joint, plan } = rehearsal;
    let mut person = Person::new(0.0, seed);
    let mut session = Session::new(plan).unwrap();
    let (mut taken, mut found): (BTreeMap<&str, u32>, _) = (BTreeMap::new(), Vec::new());
    loop {
        let action = session.next();
        let seen = taken.entry(session.stage()).or_default();
        *seen += 1;
        // The first few of a stage, then ever fewer.
        if *seen < 8 || seen.is_power_of_two() {
            found.push(Moment {
                saved: serde_json::to_value(&session).unwrap(),
                joint: joint.clone(),
                person: person.clone(),
            });
        }
        let Some(report) = person.carry_out(&action, &mut joint) else {
            return found;
        };
        session.report(report).unwrap();
    }
}

fn rehearsals() -> Vec<(Rehearsal, u64)> {
    let aligned = |r: Rehearsal| r.with_alignment().unwrap();
    vec![
        (Rehearsal::healthy(9).unwrap(), 9),
        (aligned(Rehearsal::healthy(4).unwrap()), 4),
        (aligned(Rehearsal::faulty(Fault::SensorRunsOut, 5).unwrap()), 5),
        (Rehearsal::faulty(Fault::ChannelSwapped, 3).unwrap(), 3),
    ]
}

/// Every place of a value, as pointers (RFC 6901).
fn pointers(value: &Value, at: &str, found: &mut Vec<String>) {
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                let at = format!("{at}/{key}");
                found.push(at.clone());
                pointers(inner, &at, found);
            }
        }
        Value::Array(list) => {
            for (index, inner) in list.iter().enumerate() {
                let at = format!("{at}/{index}");
                found.push(at.clone());
                pointers(inner, &at, found);
            }
        }
        _ => {}
    }
}

/// What is put in place of a value; nothing where the value itself is left out.
fn replacements(old: &Value) -> Vec<Option<Value>> {
    let mut all = vec![None, Some(Value::Null)];
    match old {
        Value::Number(number) => {
            let x = number.as_f64().unwrap();
            for new in [
                -x,
                x + 1.0,
                x * 1.7,
                2.0 * x,
                0.0,
                -1.0,
                1e9,
                -1e9,
                1e308,
                -1e308,
                5e-324,
            ] {
                all.push(Some(json!(new)));
            }
            all.extend([json!(0), json!(1), json!(-1), json!(9), json!(255), json!("NaN")].map(Some));
        }
        Value::Bool(yes) => all.push(Some(json!(!yes))),
        Value::String(_) => {
            let words = [
                "upper", "lower", "move", "settle", "read", "probe", "back-off", "learn", "ready", "done",
            ];
            all.extend(words.map(|word| Some(json!(word))));
        }
        _ => all.push(Some(json!(3.5))),
    }
    all
}

fn changed(saved: &Value, pointer: &str, new: Option<Value>) -> Value {
    let mut changed = saved.clone();
    match new {
        Some(new) => *changed.pointer_mut(pointer).unwrap() = new,
        None => {
            let (parent, key) = pointer.rsplit_once('/').unwrap();
            match changed.pointer_mut(parent).unwrap() {
                Value::Object(map) => drop(map.remove(key)),
                Value::Array(list) => drop(list.remove(key.parse().unwrap())),
                _ => unreachable!("a pointer leads into a map or a list"),
            }
        }
    }
    changed
}

/// Goes on with a session; what it proves clear, and what it asks for, must be covered by what it asked before.
fn keeps_its_bounds(mut session: Session, moment: &Moment, most: u32, what: &str) {
    let (mut joint, mut person) = (moment.joint.clone(), moment.person.clone());
    let plan = *session.plan();
    let mut clear = session.clear();
    let starts = [plan.start - plan.clearance, plan.start + plan.clearance];
    assert!(
        plan.search_limits[0] <= clear[0] && clear[0] <= starts[0],
        "{what}: {clear:?}"
    );
    assert!(
        starts[1] <= clear[1] && clear[1] <= plan.search_limits[1],
        "{what}: {clear:?}"
    );
    let rounded = 1e-9 * (1.0 + plan.search_limits[1].abs() + plan.search_limits[0].abs() + plan.step);
    let mut last = f64::NAN;
    for _ in 0..most {
        let action = session.next();
        if let Action::MoveTo { drive, rate_per_s } = action {
            let inside = plan.search_limits[0] <= drive && drive <= plan.search_limits[1];
            let near = clear[0] - plan.step - rounded <= drive && drive <= clear[1] + plan.step + rounded;
            assert!(
                inside && near,
                "{what}: {drive} asked with {clear:?} clear and {plan:?}"
            );
            assert!(rate_per_s > 0.0 && rate_per_s.is_finite(), "{what}: {rate_per_s} deg/s");
            last = drive;
        }
        let Some(report) = person.carry_out(&action, &mut joint) else {
            assert!(session.outcome().is_some(), "{what}: done without an outcome");
            return;
        };
        session
            .report(report)
            .unwrap_or_else(|error| panic!("{what}: {error} for {action:?}"));
        let now = session.clear();
        let outward = [clear[0] - now[0], now[1] - clear[1]];
        for (grown, after) in outward.into_iter().zip(now) {
            // The way back after a power cut brings `last` to where the last move before it went.
            let probed = after == last || last.is_nan();
            assert!(grown <= 0.0 || probed, "{what}: {after} is clear without a probe");
            assert!(grown >= 0.0 || session.outcome().is_some(), "{what}: {after} was clear");
        }
        clear = now;
    }
}

/// Every value of many states in turn: left out, null, of another sign, larger, huge, tiny, of another type.
#[test]
fn a_damaged_state_is_refused_or_keeps_its_bounds() {
    let (mut refused, mut kept) = (0_u32, 0_u32);
    let mut count = 0_u32;
    for (rehearsal, seed) in rehearsals() {
        for moment in moments(rehearsal, seed) {
            let mut places = Vec::new();
            pointers(&moment.saved, "", &mut places);
            for place in places {
                for new in replacements(moment.saved.pointer(&place).unwrap()) {
                    // One in so many, another one in each state and at each place.
                    count += 1;
                    if !count.is_multiple_of(41) {
                        continue;
                    }
                    let what = format!("{place} as {new:?}");
                    let text = changed(&moment.saved, &place, new).to_string();
                    match serde_json::from_str::<Session>(&text) {
                        Ok(mut session) => {
                            kept += 1;
                            if kept.is_multiple_of(2) {
                                session.resume();
                            }
                            // A few to their end.
                            let most = if kept.is_multiple_of(50) { 20_000 } else { 120 };
                            keeps_its_bounds(session, &moment, most, &what);
                        }
                        Err(error) => {
                            refused += 1;
                            assert!(!error.to_string().is_empty());
                        }
                    }
                }
            }
        }
    }
    assert!(refused > 5000 && kept > 1000, "{refused} refused, {kept} kept");
}

#[test]
fn a_state_says_its_format_first_and_another_one_is_refused() {
    for (rehearsal, seed) in rehearsals() {
        for moment in moments(rehearsal, seed) {
            let session: Session = serde_json::from_value(moment.saved.clone()).unwrap();
            let text = serde_json::to_string(&session).unwrap();
            assert!(text.starts_with("{\"format\":2,"), "{text}");
            let message = |saved: Value| serde_json::from_value::<Session>(saved).unwrap_err().to_string();
            let mut other = moment.saved.clone();
            other["format"] = json!(1);
            assert_eq!(message(other.clone()), "format is 1; this version reads format 2");
            // Whatever else the other format holds.
            let text = other.to_string().replacen('{', "{\"format\":7,\"colour\":3,", 1);
            let error = serde_json::from_str::<Session>(&text).unwrap_err().to_string();
            assert!(error.starts_with("format is 7"), "{error}");
            other.as_object_mut().unwrap().remove("format");
            assert!(message(other).contains("missing field `format`"));
        }
    }
    let format = BringUpError::Format { found: 1, known: 2 };
    assert_eq!(format.code(), Code::FormatTooNew);
    assert_eq!(BringUpError::OutOfPlace { what: "end" }.code(), Code::ValueOutside);
    assert_eq!(BringUpError::OutcomeIncomplete { what: "fit" }.code(), Code::MissingKey);
}

/// What is wrong, the value, and what would be right.
#[test]
fn a_refusal_says_what_is_wrong() {
    let found = moments(Rehearsal::healthy(9).unwrap(), 9);
    let moment = |stage: &str, with: &str| {
        // A search past its learning, and nothing on a long way.
        let is = |m: &&Moment| {
            m.saved["hop"].is_null()
                && m.saved["stage"]
                    .get(stage)
                    .is_some_and(|s| s.pointer(with).is_some() && s.get("learned").is_none_or(|learned| *learned == 3))
        };
        found.iter().rfind(is).unwrap()
    };
    for (stage, place, new, says) in [
        (
            "search",
            "/plan/step",
            json!(-2.5),
            "step is -2.5; it must be above zero",
        ),
        (
            "search",
            "/plan/start",
            json!(1e9),
            "start is 1000000000: it is not set, or lies less than the clearance of",
        ),
        (
            "search",
            "/last_drive",
            json!(-500.0),
            "last_drive is -500; it must be at least",
        ),
        (
            "search",
            "/stage/search/bracket/clear",
            json!(1e9),
            "way from the first clear to clear is",
        ),
        (
            "search",
            "/stage/search/visit/drive",
            json!(170.0),
            "saved drive of visit is 170 where the rest of the state makes it",
        ),
        (
            "search",
            "/stage/search/plan/bracket/step",
            json!(2.25),
            "saved plan of bracket contradicts",
        ),
        (
            "search",
            "/stage/search/trail/places/0/0",
            json!(-3.0),
            "way between places of the trail is",
        ),
        (
            "sweep",
            "/ends/0",
            json!(null),
            "saved end of the lower search contradicts",
        ),
        (
            "sweep",
            "/stage/sweep/sweep/plan/ends/1",
            json!(179.0),
            "saved drive of visit is",
        ),
        ("sweep", "/ends/1/contact/clear", json!(179.0), "is 179"),
        ("sweep", "/readings/0/reading", json!("NaN"), "expected f64"),
        (
            "sweep",
            "/stage/sweep/number",
            json!(7),
            "number of sweep is 7; it must be at most 3",
        ),
        (
            "done",
            "/stage/done/lower",
            json!(null),
            "the outcome is ready, but its lower end is missing",
        ),
        (
            "done",
            "/stage/done/fit",
            json!(null),
            "the outcome is ready, but its fit is missing",
        ),
    ] {
        let saved = changed(&moment(stage, "").saved, place, Some(new));
        let error = serde_json::from_value::<Session>(saved).unwrap_err().to_string();
        assert!(
            error.contains(says) || place.ends_with("/contact/clear"),
            "{place}: {error}"
        );
        assert!(
            !error.contains('\n') && error.to_lowercase() == error.replace("NaN", "nan"),
            "{error}"
        );
    }
}

/// Plans of joints so narrow that the run-ins from both sides meet: nothing leaves what is clear by more than a step.
#[test]
fn narrow_joints_keep_their_bounds() {
    let mut fit = 0;
    for (width, clear, run_in) in [
        (9.0, 4.0, 2.0),
        (9.0, 4.0, 5.4),
        (9.0, 4.0, 4.3),
        (8.4, 3.9, 4.3),
        (12.0, 4.0, 5.0),
        (16.0, 6.0, 5.0),
        (20.0, 6.0, 9.0),
    ] {
        let Rehearsal { joint, mut plan } = Rehearsal::healthy(2).unwrap();
        let mut record = joint.record().clone();
        let middle = (record.stops[0] + record.stops[1]) / 2.0;
        record.stops = [middle - width / 2.0, middle + width / 2.0];
        (plan.start, plan.clearance, plan.run_in, plan.baseline) = (middle, clear, run_in, None);
        let joint = VirtualJoint::new(record, middle, 2);
        let moment = Moment {
            saved: Value::Null,
            joint: joint.clone(),
            person: Person::new(0.0, 2),
        };
        keeps_its_bounds(
            Session::new(plan).unwrap(),
            &moment,
            20_000,
            &format!("{width} deg wide"),
        );
        let (mut joint, mut person, mut session) = (joint, Person::new(0.0, 2), Session::new(plan).unwrap());
        while let Some(report) = person.carry_out(&session.next(), &mut joint) {
            session.report(report).unwrap();
        }
        fit += u32::from(session.outcome().unwrap().travel().is_some());
    }
    assert!(fit >= 2, "{fit}");
}

/// Stopped before its slow way back, a bring-up asks for nothing more.
#[test]
fn stopped_on_its_way_back_it_asks_for_nothing() {
    let found = moments(Rehearsal::healthy(9).unwrap(), 9);
    let mut session: Session = serde_json::from_value(found[found.len() / 2].saved.clone()).unwrap();
    session.resume();
    assert!(matches!(session.next(), Action::MoveTo { .. }));
    session.stop();
    assert_eq!(session.next(), Action::Done);
}

/// The procedures alone come back as they were, and a damaged one is refused.
#[test]
fn procedures_alone_are_checked_when_read() {
    fn holds<T: serde::Serialize + serde::de::DeserializeOwned + PartialEq + std::fmt::Debug>(
        made: &T,
        damage: &[(&str, Value)],
    ) {
        let saved = serde_json::to_value(made).unwrap();
        assert_eq!(serde_json::from_value::<T>(saved.clone()).unwrap(), *made);
        for (place, new) in damage {
            let read = serde_json::from_value::<T>(changed(&saved, place, Some(new.clone())));
            assert!(read.is_err(), "{place} as {new}: {read:?}");
        }
        let more = changed(&saved, "", Some(saved.clone()));
        let text = more.to_string().replacen('{', "{\"more\":1,", 1);
        assert!(serde_json::from_str::<T>(&text).is_err());
        for key in saved.as_object().unwrap().keys() {
            assert!(
                serde_json::from_value::<T>(changed(&saved, &format!("/{key}"), None)).is_err(),
                "without {key}"
            );
        }
    }
    let bracket = BracketPlan::new(Side::Lower, 40.0, 0.0);
    let mut search = Bracket::new(bracket).unwrap();
    search.report(Found::Clear).unwrap();
    // One probe comes one step further, and two come no further than the search limit.
    holds(&search, &[("/clear", json!(30.0)), ("/probes", json!(0))]);
    let mut wide = Bracket::new(BracketPlan::new(Side::Lower, 40.0, 36.0).with_step(2.5)).unwrap();
    wide.report(Found::Clear).unwrap();
    wide.report(Found::Clear).unwrap();
    holds(&wide, &[("/clear", json!(35.5))]);
    search.report(Found::Contact).unwrap();
    holds(
        &search,
        &[
            ("/clear", json!(30.0)),
            ("/clear", json!(41.0)),
            ("/contact", json!(38.0)),
            ("/contact", json!(20.0)),
            ("/contact", json!(-1.0)),
            ("/probes", json!(0)),
            ("/probes", json!(1_000_000)),
            ("/plan/step", json!(0.0)),
        ],
    );
    let plan = StopSearchPlan::new(bracket, 52.0);
    let mut search = StopSearch::new(plan).unwrap();
    assert_eq!(*search.plan(), plan);
    holds(
        &search,
        &[
            ("/visit/drive", json!(51.0)),
            ("/learned", json!(2)),
            ("/visit/pace/rate_per_s", json!(900.0)),
        ],
    );
    let mut at = 0.0;
    for _ in 0..60 {
        let report = match search.next() {
            Action::MoveTo { drive, .. } => {
                at = drive;
                Report::Moved
            }
            Action::Wait { .. } => Report::Waited,
            _ => Report::Reading {
                value: 200.0 + 4.0 * at,
                load: Some(0.1),
            },
        };
        search.report(report).unwrap();
        holds(
            &search,
            &[
                ("/ranges", json!(-1.0)),
                ("/bracket/clear", json!(100.0)),
                ("/trail/count", json!(9)),
            ],
        );
    }
    // A place fewer in the trail, learning would not be over, and yet it probes.
    let fewer = changed(&serde_json::to_value(search).unwrap(), "/learned", Some(json!(2)));
    let fewer = changed(&fewer, "/trail/count", Some(json!(2)));
    assert!(serde_json::from_value::<StopSearch>(fewer).is_err());
    search.stop();
    holds(&search, &[("/end/stopped/clear", json!(3.0))]);
    let sweep = Sweep::new(SweepPlan::new([10.0, 70.0], 5).with_run_in([4.0, 4.0]));
    holds(
        &sweep.unwrap(),
        &[
            ("/visit", json!(null)),
            ("/index", json!(3)),
            ("/running_in", json!(false)),
            ("/visit/drive", json!(5.0)),
            ("/plan/targets", json!(1)),
            ("/visit/reads/count", json!(3)),
        ],
    );
    let test = SenseTest::new(SensePlan::default()).unwrap();
    assert_eq!(*test.plan(), SensePlan::default());
    holds(
        &test,
        &[
            ("/count", json!(3)),
            ("/turn", json!(200)),
            ("/stage", json!("done")),
            ("/widest_range", json!(-1.0)),
        ],
    );
    let plan = AlignmentPlan::new([0.0, 95.0], 270.0, 2.0).with_margin(5.0);
    let alignment = Alignment::new(plan).unwrap();
    assert_eq!(*alignment.plan(), plan);
    holds(
        &alignment,
        &[
            ("/settings", json!(9)),
            ("/plan/ratio", json!(3.0)),
            ("/reads/count", json!(5)),
        ],
    );
    let mut ramp = Ramp::per_cycle(40.0, 2.0, Some(0.5)).unwrap();
    ramp.follow(45.0).unwrap();
    holds(
        &ramp,
        &[
            ("/pace", json!(9.0)),
            ("/most_step", json!(-2.0)),
            ("/most_change", json!(0.0)),
        ],
    );
}

/// A stop that is bracketed no finer than by the step itself: contact and what is clear lie a whole step apart.
#[test]
fn a_contact_a_whole_step_from_what_is_clear_comes_back() {
    let Rehearsal { joint, mut plan } = Rehearsal::healthy(9).unwrap();
    plan.tolerance = plan.step;
    let found = moments(Rehearsal { joint, plan }, 9);
    let mut whole = 0;
    for moment in &found {
        let session: Session = serde_json::from_value(moment.saved.clone()).unwrap();
        assert_eq!(serde_json::to_value(&session).unwrap(), moment.saved);
        let end = |key: &str| {
            moment
                .saved
                .pointer(&format!("/ends/0/contact/{key}"))
                .and_then(Value::as_f64)
        };
        if let (Some(clear), Some(contact)) = (end("clear"), end("contact")) {
            whole += i32::from((clear - contact - plan.step).abs() < 1e-9);
        }
    }
    assert!(whole > 3, "{whole}");
}
