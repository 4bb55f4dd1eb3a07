"""The bring-up whose readings are typed: driven from Python, saved, taken back, and safe with what was typed wrongly."""

from __future__ import annotations

import copy
import dataclasses
import json
import pickle
from typing import Any

import pytest
from conftest import data

import elbowroom as elb
from elbowroom import bring_up as bu


class Joint:
    """An invented joint: stops at 35 and 124 deg, 2 deg of lost motion, a protractor that rises by 1.3 deg per deg."""

    stops = (35.0, 124.0)
    slope = 1.3

    def __init__(self, start: float) -> None:
        self.place, self.commanded, self.count = start, [start, start], 0
        self.hand: float | None = None

    def move(self, drive: float) -> None:
        self.commanded = [min(self.commanded[0], drive), max(self.commanded[1], drive)]
        self.place = min(max(self.place, drive - 1.0), drive + 1.0)
        self.place = min(max(self.place, self.stops[0]), self.stops[1])

    def read(self) -> float:
        self.count += 1
        at = self.place if self.hand is None else self.hand
        noise = (self.count * 7 % 11 - 5) / 12  # even from -0.4 to 0.4
        return float(round(300 + self.slope * at + noise))

    def do(self, bench: bu.Bench, action: bu.Action) -> bu.Report:
        match action:
            case bu.MoveTo(drive=drive):
                self.move(drive)
                return bu.Moved()
            case bu.Wait():
                return bu.Waited()
            case bu.Read():
                return bu.Reading(self.read())
            case bu.Ask(question="hold-at-stop", toward=toward):
                self.hand = self.stops[toward == "upper"]
                return bu.Answered("done")
            case bu.Ask(question="attach-drive"):
                self.hand = None
                return bu.Answered("done")
            case bu.Ask(question="stays-behind"):
                return bu.Answered("stop")
            case _:
                return bu.Answered("done")


def run(plan: bu.BenchPlan) -> tuple[bu.Bench, Joint]:
    bench, joint = bu.Bench(plan), Joint(plan.start)
    action = bench.next()
    while action != bu.Done():
        action = bench.report(joint.do(bench, action))
    return bench, joint


@pytest.mark.parametrize("feel_stops", [False, True])
def test_few_readings_place_both_stops(feel_stops: bool) -> None:
    plan = bu.BenchPlan(start=79.5, search_limits=(0, 180), feel_stops=feel_stops)
    bench, joint = run(plan)
    outcome = bench.outcome
    assert outcome is not None and outcome.verdict == "ready", outcome
    assert len(bench.readings) <= (30 if feel_stops else 45)
    assert outcome.lower is not None and outcome.upper is not None
    for end, stop in ((outcome.lower, 35.0), (outcome.upper, 124.0)):
        assert end.kind == "contact" and end.interval is not None
        assert abs(end.at - stop) < 1.5 and end.u is not None and end.u <= 0.51
    over = 8.0 if feel_stops else 5.0
    assert joint.commanded[0] >= 34.0 - over and joint.commanded[1] <= 125.0 + over
    assert outcome.fit is not None and outcome.fit.travel == outcome.travel
    assert outcome.fit.slope == pytest.approx(1.3, abs=0.03)
    robot = elb.Robot.load(data("heron.toml"))
    # The scale counts from 300: no map of degrees. Told what the command ends stand for, it is the file's map turned round.
    with pytest.raises(elb.RobotError, match="the readings contradict the map in the file") as refused:
        outcome.put_into(robot, "wing_left")
    assert refused.value.code == "map-contradicted"
    turned = (300 + 1.3 * 122, 300 + 1.3 * 37)
    with pytest.raises(elb.RobotError, match="commands fall with drive as measured"):
        outcome.put_into(robot, "wing_left", measured_at_commands=turned)
    adopted = outcome.put_into(robot, "wing_left", measured_at_commands=turned, adopt=True)
    assert adopted["wing_left"].inverted and not robot["wing_left"].inverted
    with pytest.raises(elb.ArgumentError, match="adopt and keep exclude each other"):
        outcome.put_into(robot, "wing_left", adopt=True, keep=True)
    written = outcome.put_into(robot, "wing_left", keep=True)
    entry = written.entry("wing_left")
    assert entry.joint.travel == pytest.approx(outcome.travel, abs=2e-3)
    assert entry.evidence.upper is not None and entry.evidence.upper.kind == "contact"


def test_saved_copied_and_pickled_at_any_step_it_goes_on() -> None:
    plan = bu.BenchPlan(start=79.5, search_limits=(0, 180))
    bench, joint = bu.Bench(plan), Joint(79.5)
    action, steps = bench.next(), 0
    while action != bu.Done():
        if steps % 9 == 0:
            read = bu.Bench.parse(bench.json(), resume=False)
            assert read == bench == copy.deepcopy(bench) == pickle.loads(pickle.dumps(bench))
            # What was left out of the plan is chosen by the core.
            assert read.plan == dataclasses.replace(plan, overtravel=5.0, u_reading=read.plan.u_reading)
            bench = read
        steps += 1
        action = bench.report(joint.do(bench, action))
    assert bench.outcome is not None and bench.outcome.verdict == "ready"


def test_what_could_not_have_been_written_is_refused() -> None:
    bench, _ = run(bu.BenchPlan(start=79.5, search_limits=(0, 180)))
    state = json.loads(bench.json())
    moved = next(entry for entry in state["log"] if isinstance(entry, dict) and "moved" in entry)
    moved["moved"]["drive"] += 30
    with pytest.raises(elb.BringUpError, match="drive of log"):
        bu.Bench.parse(json.dumps(state))
    with pytest.raises(elb.BringUpError, match="not a saved bring-up"):
        bu.Bench.parse("{}")


def test_a_slip_is_asked_for_again_and_an_answer_taken_back() -> None:
    plan = bu.BenchPlan(start=79.5, search_limits=(0, 180))
    bench, joint = bu.Bench(plan), Joint(79.5)
    action = bench.next()
    while not (bench.stage == "search" and action == bu.Read()):
        action = bench.report(joint.do(bench, action))
    place, before = bench.prompt().drive, bench.readings
    assert place is not None
    action = bench.report(bench.typed("12,5"))
    prompt = bench.prompt()
    assert action == bu.Read() and prompt.notice is not None and "without looking" in prompt.notice
    assert bench.undo() and bench.readings == before
    # Inward first, and then to the place again.
    action = bench.next()
    assert isinstance(action, bu.MoveTo) and action.drive < place
    action = bench.report(joint.do(bench, action))
    assert isinstance(action, bu.MoveTo) and action.drive == place
    action = bench.report(joint.do(bench, action))
    assert action == bu.Read()
    # Read again: inward and out once more.
    action = bench.report(bu.Answered("again"))
    assert isinstance(action, bu.MoveTo) and action.drive < place
    while action != bu.Done():
        action = bench.report(joint.do(bench, action))
    assert bench.outcome is not None and bench.outcome.verdict == "ready"
    while bench.undo():
        pass
    assert isinstance(bench.next(), bu.Ask) and not bench.undo() and bench.readings == ()


def test_a_wrong_answer_lists_the_answers_of_its_question_only() -> None:
    bench = bu.Bench(bu.BenchPlan(start=79.5, search_limits=(0, 180)))
    with pytest.raises(elb.BringUpError, match=r"^that is not one of the answers; type one of: done or no$"):
        bench.typed("maybe")
    with pytest.raises(elb.BringUpError, match=r"^stop is not an answer to ready; answer done or no$"):
        bench.report(bu.Answered("stop"))
    prompt = bench.prompt()
    assert [word for word, _ in prompt.answers] == ["done", "no"]
    assert "not-a-safety-function" in [code for code, _ in prompt.cautions]
    bench.stop()
    assert bench.outcome is not None and bench.outcome.verdict == "stopped" and bench.stage == "done"
    bench.undo()
    assert bench.outcome is None
    bench.resume()
    assert isinstance(bench.next(), bu.Ask)


@pytest.mark.parametrize(
    ("field", "value"),
    [("overtravel", 0.0), ("u_reading", 0.01), ("resolution", float("nan")), ("most_readings", 2), ("start", 3.0)],
)
def test_a_plan_that_cannot_be_meant_is_refused(field: str, value: Any) -> None:
    plan = dataclasses.replace(bu.BenchPlan(start=79.5, search_limits=(0, 180)), **{field: value})
    with pytest.raises(elb.BringUpError, match=field):
        bu.Bench(plan)


def test_nothing_is_asked_beyond_where_a_joint_meets_something_that_was_not_there_when_the_hand_felt() -> None:
    plan = bu.BenchPlan(start=79.5, search_limits=(0, 180), feel_stops=True)
    bench, joint = bu.Bench(plan), Joint(79.5)
    action = bench.next()
    while action != bu.Done():
        report = joint.do(bench, action)
        match action:
            case bu.Ask(question="attach-drive"):
                joint.stops = (35.0, 104.0)
            case bu.Ask(question="stays-behind"):
                report = bu.Answered("obstacle")
        action = bench.report(report)
    assert joint.commanded[1] <= 105.0 + 8.0
    assert bench.outcome is not None and bench.outcome.fault == "range-blocked"
    assert not any(bench.is_not_the_stop_felt)
