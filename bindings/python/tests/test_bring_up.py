"""The bring-up and its rehearsal: the same as in Rust, resumable at every step, and safe with answers that are wrong."""

from __future__ import annotations

import copy
import dataclasses
import datetime
import json
import math
import pickle
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import data, worked_example

import elbowroom as elb
from elbowroom import bring_up as bu
from elbowroom.rehearsal import FAULTS, Person, Rehearsal, VirtualJoint, rehearse

Meddle = Callable[[int, bu.Session, bu.Action, bu.Report], bu.Report]


def run(rehearsal: Rehearsal, *, wrong_answer_rate: float = 0.0, seed: int = 0, meddle: Meddle | None = None) -> bu.Outcome:
    session, person = bu.Session(rehearsal.plan), Person(wrong_answer_rate=wrong_answer_rate, seed=seed)
    for count in range(20_000):
        action = session.next()
        report = person.carry_out(action, rehearsal.joint)
        if report is None:
            break
        session.report(report if meddle is None else meddle(count, session, action, report))
    assert session.outcome is not None
    return session.outcome


@pytest.mark.parametrize("seed", [0, 1, 2, 9])
def test_driven_step_by_step_it_is_the_run_of_the_core(seed: int) -> None:
    """`rehearse` loops in Rust; the same loop in Python, every record crossing twice, must take the same course."""
    report = rehearse(seed=seed, wrong_answer_rate=0.05)
    steps: list[tuple[bu.Action, bu.Report]] = []

    def meddle(count: int, session: bu.Session, action: bu.Action, report: bu.Report) -> bu.Report:
        steps.append((action, report))
        return report

    outcome = run(Rehearsal.healthy(seed), wrong_answer_rate=0.05, seed=seed, meddle=meddle)
    assert outcome == report.outcome
    assert steps == [(step.action, step.report) for step in report.steps]


def test_the_shared_figures_of_the_core() -> None:
    """Bits that Rust wrote: tests/data/rehearsal.json, held by tests/rehearsal/main.rs too."""
    for line in json.loads(data("rehearsal.json").read_text()):
        report = rehearse(seed=line["seed"], fault=line["fault"])
        outcome = report.outcome
        assert (outcome.verdict, outcome.fault) == (line["verdict"], line["found"])
        assert list(report.contacts) == line["contacts"]
        assert (None if outcome.travel is None else list(outcome.travel)) == line["travel"]
        assert len(report.steps) == line["steps"]


@pytest.mark.parametrize("fault", FAULTS)
def test_every_fault_is_found_and_named(fault: str) -> None:
    for seed in range(5):
        report = rehearse(seed=2_000_000 + seed, fault=fault)
        assert report.outcome.verdict == "faulty" and report.outcome.fault == fault
        assert report.outcome.travel is None and report.outcome.sentence
    assert fault == Rehearsal.faulty(fault, 1).joint.fault


def test_healthy_joints_are_handed_over_inside_their_stops() -> None:
    loads = 0
    for seed in range(20):
        report = rehearse(seed=seed)
        travel, step = report.outcome.travel, report.plan.step
        assert travel is not None and report.outcome.verdict == "ready"
        assert report.contacts[0] < travel[0] < travel[1] < report.contacts[1]
        # Half the play, dead band and friction lie between contact and command at the most.
        late = 1.0 + 0.4 + 0.3
        assert report.commanded[0] >= report.contacts[0] - late - 2 * step
        assert report.commanded[1] <= report.contacts[1] + late + 2 * step
        assert report.outcome.fit is not None and report.outcome.fit.readings == report.outcome.readings
        loads += any(isinstance(one.report, bu.Reading) and one.report.load is not None for one in report.steps)
    assert 0 < loads < 20, "some of them measure the drive's current"


@pytest.mark.parametrize("resume", [False, True])
def test_killed_at_every_step_it_ends_the_same(resume: bool) -> None:
    """Saved, thrown away and loaded before each report; with `resume` the slow way back comes first."""
    whole = run(Rehearsal.healthy(9), wrong_answer_rate=0.05, seed=9)
    rehearsal, person = Rehearsal.healthy(9), Person(wrong_answer_rate=0.05, seed=9)
    session = bu.Session(rehearsal.plan)
    assert session.clear == (session.plan.start - 6, session.plan.start + 6)
    returned = 0
    last: float | None = None
    while True:
        action = session.next()
        session = bu.Session.parse(session.json(), resume=resume)
        if resume and last is not None and action != bu.Done():
            back = session.next()
            assert isinstance(back, bu.MoveTo) and back.drive == last and back.rate_per_s == 10.0
            assert session.report(bu.Moved()) == action
            returned += 1
        assert session.next() == action and session.plan == rehearsal.plan
        if isinstance(action, bu.MoveTo):
            step = session.plan.step + 1e-9
            assert session.clear[0] - step <= action.drive <= session.clear[1] + step
        report = person.carry_out(action, rehearsal.joint)
        if report is None:
            break
        session.report(report)
        if isinstance(action, bu.MoveTo):
            last = action.drive
    assert session.outcome == whole and returned > (400 if resume else -1)
    assert session.readings and session.stage == "done"


def test_answers_that_contradict_the_data_are_questioned() -> None:
    doubts: list[bu.Doubt] = []

    def stubborn(count: int, session: bu.Session, action: bu.Action, report: bu.Report) -> bu.Report:
        match action:
            case bu.Ask(question="what-is-met", doubt=doubt, toward=toward):
                assert toward in ("lower", "upper")
                if doubt is not None:
                    doubts.append(doubt)
                return bu.Answered("obstacle")
            case _:
                return report

    # Load and earlier evidence say that it was the stop: the data decide.
    outcome = run(Rehearsal.healthy(11), seed=11, meddle=stubborn)
    assert outcome.verdict == "ready"
    assert [doubt.kind for doubt in doubts] == ["at-the-stop", "at-the-stop"]
    assert all(str(doubt).endswith("look again") for doubt in doubts)

    asked: list[bool] = []

    def insists(count: int, session: bu.Session, action: bu.Action, report: bu.Report) -> bu.Report:
        match action:
            case bu.Ask(question="what-moved", doubt=doubt, start=start, drive=drive):
                assert start is not None and drive is not None and drive > start
                asked.append(doubt is not None)
                return bu.Answered("joint")
            case _:
                return report

    # The channel goes to another joint; the person insists that this one moved.
    assert run(Rehearsal.faulty("channel-swapped", 5), seed=5, meddle=insists).verdict == "faulty"
    assert asked == [False, True]


def test_nothing_moves_before_the_cautions_and_a_no_ends_it() -> None:
    session = bu.Session(Rehearsal.healthy(1).plan)
    first = session.next()
    assert isinstance(first, bu.Ask) and first.question == "ready" and len(first.cautions) >= 3
    assert any("cannot stop a motor" in caution for caution in first.cautions)
    assert session.report(bu.Answered("no")) == bu.Done()
    assert session.outcome is not None and session.outcome.verdict == "declined" and session.outcome.travel is None
    with pytest.raises(elb.BringUpError) as caught:
        session.report(bu.Moved())
    assert caught.value.code == "procedure-done"
    for step in rehearse(seed=1).questions:
        assert isinstance(step.action, bu.Ask) and step.action.cautions, step.action.question


def test_it_can_be_stopped_at_any_time() -> None:
    for after in (0, 10, 500):
        def meddle(count: int, session: bu.Session, action: bu.Action, report: bu.Report, after: int = after) -> bu.Report:
            if count == after:
                stopped = copy.copy(session)
                stopped.stop()
                assert stopped.next() == bu.Done() and stopped != session
                assert stopped.outcome is not None and stopped.outcome.verdict == "stopped"
            return report

        assert run(Rehearsal.healthy(4), seed=4, meddle=meddle).verdict == "ready"


def test_a_wrong_report_changes_nothing() -> None:
    session = bu.Session(Rehearsal.healthy(6).plan)
    before = session.json()
    for wrong, code in (
        (bu.Moved(), "wrong-report"),
        (bu.Waited(), "wrong-report"),
        (bu.Reading(3.0), "wrong-report"),
        (bu.Answered("stop"), "wrong-report"),
        (bu.Answered("maybe"), "unknown-word"),
        (bu.Answered("angle"), "missing-key"),
        (bu.Answered("angle", degrees=math.nan), "not-finite"),
    ):
        with pytest.raises(elb.ElbowroomError) as caught:
            session.report(wrong)
        assert caught.value.code == code and isinstance(caught.value, ValueError)
    for no_report in (None, "moved", 3, bu.Read()):
        with pytest.raises(elb.ArgumentTypeError, match="give Moved"):
            session.report(no_report)  # type: ignore[arg-type]
    for value in (None, True, "3", 3j, [1.0]):
        with pytest.raises(elb.ArgumentTypeError, match="value is"):
            session.report(bu.Reading(value))  # type: ignore[arg-type]
    assert session.json() == before
    session.report(bu.Answered("done"))
    session.report(bu.Answered("done"))
    assert isinstance(session.next(), bu.Read)
    with pytest.raises(elb.BringUpError) as caught:
        session.report(bu.Reading(math.inf))
    assert caught.value.code == "not-finite" and caught.value.value == math.inf
    import numpy as np

    session.report(bu.Reading(np.float32(500)))


# A session's plan, a value that it refuses, the code, and words of the sentence.
WRONG: list[tuple[dict[str, Any], str, str]] = [
    ({"start": math.nan}, "not-finite", "start is not a number"),
    ({"search_limits": (180, 0)}, "ends-swapped", "search_limits"),
    ({"clearance": 0}, "not-positive", "clearance is 0"),
    ({"start": 3}, "option-outside", "start is 3"),
    ({"step": -1}, "not-positive", "step is -1"),
    ({"tolerance": 9}, "option-outside", "tolerance"),
    ({"confidence": 1}, "option-outside", "confidence"),
    ({"pace": bu.Pace(reads=0)}, "option-outside", "reads is 0"),
    ({"pace": bu.Pace(reads=256)}, "option-outside", "pace.reads is 256"),
    ({"pace": 3}, "wrong-type", "give Pace"),
    ({"sense": bu.SensePlan(watch="nothing")}, "unknown-word", "sensor-only"),
    ({"start": "42"}, "wrong-type", "start is a string"),
    ({"rising": 1.0}, "wrong-type", "rising"),
    ({"search_limits": 3}, "wrong-type", "search_limits"),
    ({"alignment": bu.AlignmentPlan(joint=(0, 95), sensor_travel=270, ratio=0)}, "not-positive", "ratio"),
    ({"baseline": bu.Baseline(at=42, reading=500, per_deg=0)}, "not-positive", "per_deg"),
]


@pytest.mark.parametrize(("change", "code", "says"), WRONG)
def test_a_wrong_plan_is_refused(change: dict[str, Any], code: str, says: str) -> None:
    plan = bu.SessionPlan(start=79.5, search_limits=(0, 180))
    bu.Session(plan)
    with pytest.raises(elb.ElbowroomError) as caught:
        bu.Session(dataclasses.replace(plan, **change))
    assert caught.value.code == code and says in str(caught.value)
    assert isinstance(caught.value, ValueError)


def test_the_defaults_are_those_of_the_core() -> None:
    """A plan of the core, drawn for a rehearsal, differs from the default only where the rehearsal says something."""
    drawn = Rehearsal.healthy(0).plan
    ours = bu.SessionPlan(start=drawn.start, search_limits=drawn.search_limits)
    same = dataclasses.replace(
        ours, rising=drawn.rising, baseline=drawn.baseline, sense=dataclasses.replace(ours.sense, watch=drawn.sense.watch)
    )
    assert same == drawn


def state_of_work() -> list[Any]:
    """One of every class that is no exception and no alias, some on their way."""
    report = rehearse(seed=3, fault="horn-slipped", alignment=True, wrong_answer_rate=0.05)
    fit = rehearse(seed=2, alignment=True).outcome
    rehearsal = Rehearsal.healthy(3)
    session = bu.Session(rehearsal.plan)
    person = Person(wrong_answer_rate=0.2, seed=5)
    for _ in range(100):
        done = person.carry_out(session.next(), rehearsal.joint)
        assert done is not None
        session.report(done)
    bracket = bu.Bracket(bu.BracketPlan(toward="lower", clear=20, search_limit=0))
    bracket.report("clear")
    ramp = bu.Ramp(40.0, most_step=2.0, most_change=0.5)
    ramp.follow(50)
    wing = elb.Robot.load(data("heron.toml"))["wing_left"]
    joint_ramp = bu.JointRamp(wing, 70.0, cycles_hz=50)
    follows = bu.FollowCheck(10.0, tolerance=2.0, lag_cycles=4, most_cycles=5)
    following = follows.tick(20.0, 9.0)
    search = bu.StopSearch(bu.StopSearchPlan(bracket=bu.BracketPlan(toward="upper", clear=50, search_limit=90), inner=38))
    search.report(bu.Moved())
    sweep = bu.Sweep(bu.SweepPlan(ends=(10, 70), targets=5))
    alignment = bu.Alignment(bu.AlignmentPlan(joint=(0, 95), sensor_travel=270, ratio=2))
    alignment.report(bu.Answered("angle", degrees=1.0))
    figures = alignment.plan.figures()
    ended = fit.alignment
    assert ended is not None and fit.sense is not None and fit.lower is not None
    doubt = bu.Doubt(kind="grave", sentence="look again")
    bench = bu.Bench(bu.BenchPlan(start=79.5, search_limits=(0, 180)))
    bench.report(bu.Answered("done"))
    return [
        *(step.action for step in report.questions), bu.MoveTo(drive=3, rate_per_s=30), bu.Wait(seconds=1), bu.Read(), bu.Done(),
        bu.Moved(), bu.Waited(), bu.Reading(3.0, load=0.1), bu.Answered("angle", degrees=3.0), doubt, session.plan, session,
        bracket, bracket.plan, ramp, joint_ramp, joint_ramp.step(90.0), follows, following, search, search.plan, sweep, sweep.plan, sweep.plan.places()[0], alignment, alignment.plan, figures,
        bu.SenseTest(), bu.SensePlan(), bu.Pace(), fit, ended, fit.sense, fit.lower, report.outcome, report, report.steps[0],
        rehearsal, rehearsal.joint, person, bu.SenseSample(hand=0, reading=1, response=1), session.plan.baseline,
        bench, bench.plan, bench.prompt(), bu.TypedReading(drive=None, toward="upper", value=3.0, is_used=True),
        bu.SearchEnd(kind="search-limit", clear=90.0), bu.SweepReading(place=sweep.plan.places()[1], reading=3.0, range=1.0),
    ]  # fmt: skip


def test_equal_copies() -> None:
    changing = (bu.Session, bu.Bench, bu.Bracket, bu.Ramp, bu.JointRamp, bu.FollowCheck, bu.StopSearch, bu.Sweep, bu.Alignment, bu.SenseTest, VirtualJoint, Person, Rehearsal)
    seen: set[str] = set()
    for thing in state_of_work():
        seen.add(type(thing).__name__)
        for other in (copy.copy(thing), copy.deepcopy(thing), pickle.loads(pickle.dumps(thing))):
            assert type(other) is type(thing) and other == thing and repr(other) == repr(thing), thing
            if not isinstance(thing, changing):
                assert hash(other) == hash(thing)
        assert thing != object() and thing != None  # noqa: E711
        if dataclasses.is_dataclass(thing) and not isinstance(thing, Rehearsal):
            for field in dataclasses.fields(thing):
                with pytest.raises(dataclasses.FrozenInstanceError):
                    setattr(thing, field.name, 1)
            # A fit within is written short.
            if not type(thing).__name__.startswith("Rehearsal") and not (isinstance(thing, bu.Outcome) and thing.fit):
                assert eval(repr(thing), {**vars(elb), **vars(bu), **vars(elb.rehearsal), "nan": math.nan}) == thing
        elif isinstance(thing, changing) and not isinstance(thing, Rehearsal):
            with pytest.raises(TypeError):
                hash(thing)
    wanted = {name for name in [*bu.__all__, *elb.rehearsal.__all__] if name[0].isupper()} - {"Action", "Report", "FAULTS"}
    assert wanted <= seen, wanted - seen


def test_a_copy_goes_on_by_itself() -> None:
    for thing, goes in (
        (bu.Bracket(bu.BracketPlan(toward="upper", clear=70, search_limit=90)), lambda b: b.report("clear")),
        (bu.Ramp(1.0, most_step=1.0), lambda r: r.follow(9.0)),
        (bu.FollowCheck(1.0, tolerance=1, lag_cycles=2, most_cycles=3), lambda f: f.tick(9.0, 9.0)),
        (bu.Session(Rehearsal.healthy(1).plan), lambda s: s.report(bu.Answered("done"))),
        (Rehearsal.healthy(1).joint, lambda j: j.move_to(50.0, rate_per_s=30.0)),
    ):
        other = copy.deepcopy(thing)
        goes(other)
        assert other != thing
        goes(thing)
        assert other == thing


def test_the_evidence_goes_into_the_robot_file() -> None:
    robot = elb.Robot.load(data("heron.toml"))
    report = rehearse(joint=robot["wing_left"], seed=1)
    outcome, day = report.outcome, datetime.date(2026, 11, 25)
    assert outcome.travel is not None
    # The virtual joint's sensor is not the one that the file describes.
    with pytest.raises(elb.RobotError, match="contradict"):
        outcome.put_into(robot, "wing_left", date=day)
    written = outcome.put_into(robot, "wing_left", date=day, keep=True)
    entry = written.entry("wing_left")
    assert outcome.travel[0] <= entry.joint.travel[0] and entry.joint.travel[1] <= outcome.travel[1]
    assert entry.evidence.date == day and entry.evidence.lower is not None and entry.evidence.lower.kind == "contact"
    assert entry.evidence.lower.at == pytest.approx(report.contacts[0], abs=0.5)
    assert written["wing_right"] == robot["wing_right"] and "#" in written.text
    # Through pickle and back the outcome says the same.
    assert pickle.loads(pickle.dumps(outcome)).put_into(robot, "wing_left", date=day, keep=True) == written

    broken = rehearse(joint=robot["wing_left"], seed=1, fault="wiper-open").outcome
    with pytest.raises(elb.BringUpError, match="bring the joint up again") as caught:
        broken.put_into(robot, "wing_left")
    assert caught.value.joint == "wing_left"
    with pytest.raises(elb.UnknownJointError):
        outcome.put_into(robot, "wing_lefd")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"guard": "x"}, "must be real number, not str"),
        ({"speed": math.nan}, "speed is not finite"),
        ({"verdict": "nope"}, "nope is none of ready, faulty, declined, stopped"),
        ({"readings": -1}, "can't convert negative int to unsigned"),
    ],
)
def test_an_outcome_changed_by_hand_is_refused_by_its_field(change: dict[str, Any], says: str) -> None:
    robot = elb.Robot.load(data("heron.toml"))
    changed = dataclasses.replace(rehearse(seed=3, joint=robot["wing_left"]).outcome, **change)
    says = f"this outcome of a bring-up cannot be used: {says}; give it as it was made"
    for use in (lambda: changed.put_into(robot, "wing_left"), changed.baseline):
        with pytest.raises(elb.BringUpError) as refused:
            use()
        assert (refused.value.code, str(refused.value)) == ("wrong-type", says)


def test_an_outcome_that_is_ready_without_an_end_says_which() -> None:
    robot = elb.Robot.load(data("heron.toml"))
    outcome = rehearse(seed=3, joint=robot["wing_left"]).outcome
    assert outcome.verdict == "ready" and outcome.lower is not None and outcome.upper is not None
    swapped = {"lower": outcome.upper, "upper": outcome.lower}
    for change, says in [
        ({"lower": None}, "the outcome is ready, but its lower end is missing; give the outcome as it was made"),
        ({"upper": None}, "its upper end is missing"),
        ({"fit": None}, "its fit is missing"),
        (swapped, "travel of the outcome .* must rise"),
    ]:
        changed = dataclasses.replace(outcome, **change)
        for use in (lambda changed=changed: changed.put_into(robot, "wing_left"), changed.baseline):
            with pytest.raises(elb.BringUpError, match=says):
                use()
    # Of a joint that is not ready no end is asked for.
    stopped = dataclasses.replace(outcome, verdict="stopped", lower=None, upper=None, fit=None)
    with pytest.raises(elb.BringUpError, match="bring the joint up again"):
        stopped.put_into(robot, "wing_left")


def test_a_number_that_is_not_finite_is_found_at_any_depth() -> None:
    outcome = rehearse(seed=3).outcome
    assert outcome.lower is not None
    changed = dataclasses.replace(outcome, lower=dataclasses.replace(outcome.lower, interval=(1.0, math.inf)))
    with pytest.raises(elb.BringUpError, match="interval is not finite"):
        changed.baseline()


def test_the_fit_of_an_outcome_knows_its_readings() -> None:
    rehearsal = Rehearsal.healthy(3)
    person, session = Person(seed=3), bu.Session(rehearsal.plan)
    while (report := person.carry_out(session.next(), rehearsal.joint)) is not None:
        session.report(report)
    assert session.outcome is not None and session.outcome.fit is not None
    fit, readings = session.outcome.fit, session.readings
    assert fit.drive == tuple(one.place.drive for one in readings)
    assert fit.measured == tuple(one.reading for one in readings)
    assert fit.approach == tuple("below" if one.place.toward == "upper" else "above" for one in readings)


def test_the_index_is_set_and_moves_the_feedback() -> None:
    assert rehearse(seed=5, fault="sensor-runs-out").outcome.fault == "sensor-runs-out"
    report = rehearse(seed=5, fault="sensor-runs-out", alignment=True)
    assert report.outcome.alignment is not None and report.outcome.alignment.kind == "set" and report.outcome.alignment.settings == 1
    assert any(isinstance(s.action, bu.Ask) and s.action.question == "set-sensor" for s in report.questions)


def test_what_a_virtual_joint_refuses() -> None:
    wing = worked_example()
    joint = VirtualJoint(wing, start=79.5, stops=(34, 125), noise=0, seed=1)
    assert joint.contacts == (34.0, 125.0) and joint.fault is None and joint.load() is None
    for call, code in (
        (lambda: VirtualJoint(wing, start=30, stops=(34, 125)), "option-outside"),
        (lambda: VirtualJoint(wing, start=79, stops=(125, 34)), "ends-swapped"),
        (lambda: VirtualJoint(wing, start=79, stops=(34, 125), noise=-1), "option-outside"),
        (lambda: VirtualJoint(wing, start=79, stops=(34, 125), speed=math.nan), "not-finite"),
        (lambda: VirtualJoint(wing, start=79, stops=(34, 125), watch="both"), "unknown-word"),
        (lambda: VirtualJoint(wing, start=79, stops=(34, 125), seed=-1), "wrong-type"),
        (lambda: joint.move_to(math.inf, rate_per_s=3), "not-finite"),
        (lambda: joint.move_to(50, rate_per_s=0), "not-positive"),
        (lambda: joint.wait(-1), "option-outside"),
        (lambda: rehearse(fault="rust"), "unknown-word"),
        (lambda: rehearse(wrong_answer_rate=2), "option-outside"),
        (lambda: rehearse(joint=worked_example(drive=(70, 90))), "option-outside"),
    ):  # fmt: skip
        with pytest.raises(elb.ElbowroomError) as caught:
            call()
        assert caught.value.code == code
    joint.move_to(130, rate_per_s=60)
    joint.wait(1)
    assert joint.commanded == (79.5, 130.0) and 125 <= joint.place <= 125.5
    with pytest.raises(elb.ArgumentTypeError):
        Person().carry_out("read", joint)  # type: ignore[arg-type]


def test_a_saved_bring_up_that_was_tampered_with_is_refused() -> None:
    session = bu.Session(Rehearsal.healthy(3).plan)
    session.report(bu.Answered("done"))
    saved = json.loads(session.json())
    for text in ("", "{}", "[]", "not json", json.dumps({**saved, "stage": "ready!"}), json.dumps({**saved, "more": 1})):
        with pytest.raises(elb.BringUpError, match="saved bring-up"):
            bu.Session.parse(text)
    for change, says in (
        ({"format": 1}, "format is 1; this version reads format 2"),
        ({"last_drive": 1e9}, "last_drive is 1000000000"),
        ({"plan": {**saved["plan"], "step": -2.5}}, "step is -2.5; it must be above zero"),
        ({"plan": {**saved["plan"], "clearance": 1e6}}, "leave no room for a start that is 1000000 deg clear"),
    ):
        with pytest.raises(elb.BringUpError, match=says):
            bu.Session.parse(json.dumps({**saved, **change}))
    del saved["format"]
    with pytest.raises(elb.BringUpError, match="format"):
        bu.Session.parse(json.dumps(saved))
    with pytest.raises(elb.ArgumentTypeError):
        bu.Session.parse(None)  # type: ignore[arg-type]


@pytest.mark.parametrize("example", ["bring_up.py", "serial_port.py"])
def test_the_examples_run(example: str, tmp_path: Path) -> None:
    file = tmp_path / "heron.toml"
    command = [sys.executable, str(elb.examples.path(example)), str(file)]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    if example == "serial_port.py":
        assert done.stdout == "contact: clear to 80.0 deg, contact at 80.5 deg\n"
    else:
        assert "the joint is ready for software" in done.stdout
        entry = elb.Robot.load(file).entry("wing_left")
        assert entry.evidence.lower is not None and entry.evidence.lower.at == pytest.approx(40.2, abs=0.3)
        assert 40.2 < entry.joint.travel[0] < entry.joint.travel[1] < 119.9


def _by_counts(rehearsal: Rehearsal, joint: elb.Joint) -> bu.Session:
    """A bring-up whose moves are rounded to the counts of a timer, and told so."""
    session, person = bu.Session(rehearsal.plan), Person(seed=1)
    while not isinstance(action := session.next(), bu.Done):
        if isinstance(action, bu.MoveTo):
            _, commanded = joint.counts_from_drive(action.drive)
            rehearsal.joint.move_to(commanded, rate_per_s=action.rate_per_s)
            session.report(bu.Moved(drive=commanded))
            continue
        report = person.carry_out(action, rehearsal.joint)
        assert report is not None
        session.report(report)
    return session


def test_the_angle_really_commanded_is_what_the_evidence_rests_on(joint: elb.Joint) -> None:
    rehearsal = Rehearsal.healthy(1)
    session = _by_counts(rehearsal, joint)
    outcome = session.outcome
    assert outcome is not None and outcome.verdict == "ready"
    for reading in session.readings:
        assert joint.counts_from_drive(reading.place.drive)[1] == pytest.approx(reading.place.drive, abs=1e-9)
    assert bu.Session.parse(session.json(), resume=False) == session
    # By hand: 30 deg are 833.33 us, 170.67 counts of 4.8828125 us; count 171 is 30.146484375 deg.
    assert joint.counts_from_drive(30) == (171, pytest.approx(30.146484375))
    with pytest.raises(elb.ConvertError):
        joint.counts_from_drive(float("nan"))


def test_what_was_found_is_known_to_the_next_bring_up() -> None:
    rehearsal = Rehearsal.healthy(1)
    session, person = bu.Session(rehearsal.plan), Person(seed=1)
    with pytest.raises(elb.BringUpError):
        session.report(bu.Moved(drive=3.0))
    while (report := person.carry_out(session.next(), rehearsal.joint)) is not None:
        session.report(report)
    outcome = session.outcome
    assert outcome is not None and outcome.lower is not None
    known = outcome.baseline()
    assert known is not None and known.lower == outcome.lower.at
    bu.Session(dataclasses.replace(rehearsal.plan, baseline=known))
    declined = bu.Session(rehearsal.plan)
    declined.report(bu.Answered("no"))
    assert declined.outcome is not None and declined.outcome.baseline() is None
    robot = elb.Robot.parse("""
format = 1
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }
joint.wing = { command = [-40, 60], drive = [37, 137], rest = 10, feedback = { reading = [300, 800], angle = [-40, 60] } }
joint.tail = { command = [-40, 60], drive = [37, 122], rest = 10 }
""")
    assert robot.baseline("wing") == bu.Baseline(at=87.0, reading=pytest.approx(550.0), per_deg=pytest.approx(5.0))
    assert robot.baseline("tail") is None
    with pytest.raises(elb.RobotError):
        robot.baseline("leg")


def test_cautions_have_codes_and_hands_go_in_with_the_power_off() -> None:
    session = bu.Session(Rehearsal.healthy(1).plan)
    action = session.report(bu.Answered("done"))
    assert isinstance(action, bu.Ask) and action.question == "detach-drive"
    assert len(action.caution_codes) == len(action.cautions) and "power-off-to-touch" in action.caution_codes
    assert action.sentence.startswith("switch the power off")


def test_mistakes_of_the_plan_name_the_entry_and_the_value() -> None:
    rehearsal = Rehearsal.healthy(1)
    session, person = bu.Session(rehearsal.plan), Person(seed=1)
    while not isinstance(session.next(), bu.Read):
        report = person.carry_out(session.next(), rehearsal.joint)
        assert report is not None
        session.report(report)
    session.report(bu.Reading(2100.0))
    outcome = session.outcome
    assert outcome is not None and outcome.fault == "plan-reading-range" and outcome.by == 4095
    assert "sense.reading_range on that side to 4095" in outcome.sentence


def test_microseconds_are_no_session() -> None:
    with pytest.raises(elb.BringUpError, match="width of search_limits is 2000; it must be at most 720"):
        bu.Session(bu.SessionPlan(start=1500, search_limits=(500, 2500)))
    with pytest.raises(elb.BringUpError, match="start is 0: it is not set, or lies less than the clearance of 6 deg") as caught:
        bu.Session(bu.SessionPlan(start=0, search_limits=(0, 180)))
    assert caught.value.value == 0
    with pytest.raises(elb.BringUpError, match="acceleration_per_s2 is -1; it must be above zero"):
        bu.Ramp.per_second(0, max_rate_per_s=1, acceleration_per_s2=-1, cycles_hz=50)


@pytest.mark.parametrize(("field", "kind"), [("sense", "SensePlan"), ("alignment", "AlignmentPlan"), ("pace", "Pace"), ("baseline", "Baseline")])
def test_a_part_of_a_plan_is_refused_by_its_name(field: str, kind: str) -> None:
    plan = bu.SessionPlan(start=79.5, search_limits=(0, 180), **{field: {}})
    with pytest.raises(elb.ArgumentTypeError, match=rf"^{field} is of type dict; give {kind}\(\.\.\.\)$"):
        bu.Session(plan)


def test_a_number_of_a_part_is_refused_with_the_name_of_the_part() -> None:
    plan = bu.SessionPlan(start=79.5, search_limits=(0, 180), sense=bu.SensePlan(turn="far"))  # type: ignore[arg-type]
    with pytest.raises(elb.ArgumentTypeError, match=r"^sense\.turn is a string, .*; give a real number"):
        bu.Session(plan)
