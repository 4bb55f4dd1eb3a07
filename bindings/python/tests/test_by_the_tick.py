"""The parts of a bring-up that a control loop uses by themselves: the search for a stop, ramps, and whether a joint follows."""

from __future__ import annotations

import copy
import dataclasses
import math
from typing import Any, get_args

import numpy as np
import pytest
from conftest import data, worked_example

import elbowroom as elb
from elbowroom import _types
from elbowroom import bring_up as bu


class Bench:
    """A joint without noise or play: 4 readings for each degree, between two stops."""

    def __init__(self, stops: tuple[float, float]) -> None:
        self.stops, self.at = stops, 45.0

    def carry_out(self, action: bu.Action) -> bu.Report | None:
        match action:
            case bu.MoveTo(drive=drive):
                self.at = drive
                return bu.Moved()
            case bu.Wait():
                return bu.Waited()
            case bu.Read():
                lower, upper = self.stops
                pressed = not lower <= self.at <= upper
                return bu.Reading(500 + 4 * (min(max(self.at, lower), upper) - 45), load=0.4 if pressed else 0.05)
            case _:
                return None


def searched(toward: str, clear: float, bench: Bench) -> bu.SearchEnd:
    inner = 50.0 if toward == "lower" else 40.0
    bracket = bu.BracketPlan(toward=toward, clear=clear, search_limit=0 if toward == "lower" else 120, step=2.0)
    search = bu.StopSearch(bu.StopSearchPlan(bracket=bracket, inner=inner, run_in=4.0))
    sign = -1 if toward == "lower" else 1
    while (report := bench.carry_out(action := search.next())) is not None:
        if isinstance(action, bu.MoveTo):
            assert sign * (action.drive - search.clear) <= 2.0 + 1e-9
        search.report(report)
    assert search.end is not None and search.probes <= search.most_probes
    return search.end


def test_the_walk_of_common_practice() -> None:
    """Common practice, no source: start 5…70 with rest 90 of 0…180; 16 is short at the lower end, 5 is not; up to 80."""
    start = worked_example(command=(0, 180), drive=(5, 70), rest=90)
    assert start.drive(90) == 37.5
    bench = Bench((5.0, 80.0))
    lower, upper = searched("lower", 16.0, bench), searched("upper", 70.0, bench)
    assert lower.kind == upper.kind == "contact" and lower.load == upper.load == 0.4
    assert lower.clear is not None and upper.clear is not None
    assert 5.0 <= lower.clear <= 5.5 and 79.5 <= upper.clear <= 80.0
    # With 16 the joint stands 11 deg short of its stop at command 0; with what was found it stands there.
    assert start.replace(drive=(16, 70)).drive(0) - 5.0 == 11.0
    found = start.replace(drive=(round(lower.clear), round(upper.clear)))
    assert found.drive_range == (5.0, 80.0) and found.drive(0) == 5.0 and found.drive(90) == 42.5


def test_the_machines_alone() -> None:
    test = bu.SenseTest(bu.SensePlan(turns=2, reads=1))
    hand = 0.0
    while test.result is None:
        match test.next():
            case bu.Read():
                test.report(bu.Reading(500 + 4 * hand))
            case bu.Ask(question="turn-sensor", toward=toward, degrees=degrees):
                assert degrees is not None
                hand += degrees if toward == "upper" else -degrees
                test.report(bu.Answered("done"))
            case bu.Ask():
                # With the hand: it would run away.
                test.report(bu.Answered("upper" if hand > 0 else "lower" if hand < 0 else "still"))
    assert test.result.sense == "aiding" and "swap the potentiometer" in (test.result.advice() or "")
    assert len(test.samples) == 9 and test.samples[2].hand == 30.0

    plan = bu.AlignmentPlan(joint=(0, 95), sensor_travel=270, ratio=2, margin=5)
    reading = plan.reading_to_set(0.0)
    assert plan.spare(0.0, reading) == pytest.approx((20.0, 20.0))
    assert bu.Alignment(dataclasses.replace(plan, ratio=3)).end == bu.AlignmentEnd(kind="too-short", spare=-2.5)

    places = bu.SweepPlan(ends=(37, 112), targets=4, runs=2, run_in=(3, 3))
    assert [place.drive for place in places.places()[:5]] == [37.0, 62.0, 87.0, 112.0, 112.0]
    assert places.reach() == (34.0, 115.0) and places.least_seconds() == pytest.approx(16 * 0.4)

    ramp = bu.Ramp.per_second(10.0, max_rate_per_s=50.0, acceleration_per_s2=100.0, cycles_hz=50.0)
    values = [ramp.follow(20.0) for _ in range(60)]
    assert values[-1] == 20.0 and ramp.rests_at(20.0) and all(a <= b for a, b in zip(values, values[1:], strict=False))
    with pytest.raises(elb.ConvertError):
        ramp.follow(math.nan)
    assert ramp.value == 20.0
    with pytest.raises(elb.BringUpError, match="most_step"):
        bu.Ramp(0.0, most_step=0.0)


def test_limits_of_ramps_change_while_they_move() -> None:
    ramp = bu.Ramp(10.0, most_step=1.0, most_change=0.5)
    ramp.follow(40.0), ramp.follow(40.0)
    ramp.limit(most_step=0.25, most_change=0.5)
    assert [ramp.follow(40.0), ramp.follow(40.0)] == [12.0, 12.25]
    before = copy.copy(ramp)
    with pytest.raises(elb.BringUpError, match="most_step"):
        ramp.limit(most_step=-1.0)
    with pytest.raises(elb.BringUpError, match="cycles_hz"):
        ramp.limit_per_second(max_rate_per_s=10, cycles_hz=0)
    with pytest.raises(elb.ConvertError):
        ramp.reset(math.inf)
    assert ramp == before
    ramp.limit_per_second(max_rate_per_s=10, cycles_hz=50)
    assert ramp.follow(40.0) == pytest.approx(12.45)
    ramp.reset(20.0)
    assert ramp.value == 20.0 and ramp.rests_at(20.0)


def test_a_joints_ramp_reverses_at_once_and_keeps_to_the_travel() -> None:
    wing = elb.Robot.load(data("heron.toml"))["wing_left"]
    ramp = bu.JointRamp(wing, 10.0, acceleration_per_s2=300, cycles_hz=50)
    for _ in range(1500):
        step = ramp.step(2000.0)
    assert step == bu.RampStep(ramp.value, True, True) and ramp.rests_at(2000.0)
    assert wing.drive(ramp.value) == pytest.approx(wing.travel[1], abs=1e-9)
    assert ramp.follow(0.0) < step.value
    narrow = wing.replace(travel=(54.0, 105.0), max_rate_per_s=10)
    before = copy.copy(ramp)
    with pytest.raises(elb.BringUpError, match="max_rate_per_s"):
        ramp.change(narrow, max_rate_per_s=0, cycles_hz=50)
    with pytest.raises(elb.ConvertError):
        ramp.follow(math.nan)
    assert ramp == before and ramp != bu.Ramp(10.0, most_step=1)
    ramp.change(narrow, cycles_hz=50)
    values = [ramp.follow(60.0) for _ in range(400)]
    assert values[0] - values[1] == pytest.approx(0.2) and values[-1] == pytest.approx(40.0)
    ramp.reset(5.0)
    assert ramp.value == 5.0
    above = "max_rate_per_s is 60.5; it must be at most 60, the joint's own; lower it, or raise the joint's max_rate_per_s"
    for call in (lambda: bu.JointRamp(wing, 10.0, max_rate_per_s=60.5, cycles_hz=50), lambda: ramp.change(wing, max_rate_per_s=60.5, cycles_hz=50)):
        with pytest.raises(elb.BringUpError, match=above):
            call()
    with pytest.raises(elb.BringUpError, match="max_rate_per_s is given neither"):
        bu.JointRamp(wing.replace(max_rate_per_s=None), 10.0, cycles_hz=50)
    with pytest.raises(TypeError):
        bu.JointRamp("wing_left", 10.0, cycles_hz=50)  # type: ignore[arg-type]


def test_whether_a_joint_follows_is_told_at_each_tick() -> None:
    check = bu.FollowCheck(0, tolerance=1, lag_cycles=0, most_cycles=2)
    ticks = [check.tick(10.0, measured) for measured in (9.5, 12, math.nan, 7.0)]
    assert [tick.state for tick in ticks] == ["follows", "lags", "sensor-fault", "lags"]
    assert [tick.beyond for tick in ticks] == [0.0, 1.0, 0.0, -2.0]
    assert [tick.fault for tick in ticks] == [None, None, "impossible", None]
    assert math.isnan(ticks[2].measured) and ticks[3].measured == 7.0
    # What is refused changes nothing: the third cycle outside comes next.
    before = copy.copy(check)
    wing = worked_example(feedback={"reading": [212, 871], "angle": [-40, 60], "adc_bits": 10})
    with pytest.raises(elb.ConvertError) as caught:
        check.tick(math.nan, 10.0)
    assert caught.value.code == "not-finite"
    with pytest.raises(elb.ConvertError) as caught:
        check.tick_reading(wing.replace(feedback=None), 10.0, 500)
    assert caught.value.code == "no-feedback" and caught.value.joint == "wing_left"
    with pytest.raises(elb.ConvertError):
        check.reset(math.inf)
    for wrong in (None, "3", True, [1.0]):
        for call in (check.reset, lambda x: check.tick(x, 1), lambda x: check.tick(1, x), lambda x: check.tick_reading(wing, 1, x)):
            with pytest.raises(elb.ArgumentTypeError):
                call(wrong)  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        check.tick_reading("wing_left", 10.0, 500)  # type: ignore[arg-type]
    assert check == before and check != bu.Ramp(0, most_step=1)
    ticks.append(check.tick(10.0, 7.0))
    assert ticks[-1].state == "does-not-follow" and check != before
    # The sensor's faults, and a command held to what the joint can reach.
    check.reset(60)
    assert check.expected == (60.0, 60.0) and repr(check) == "<FollowCheck, expected 60 to 60>"
    assert check.tick_reading(wing, 500, np.float32(871)) == bu.Following(state="follows", measured=60.0, beyond=0.0)
    ticks += [check.tick_reading(wing, 60.0, reading) for reading in (0, 1023)]
    assert check.expected == (60.0, 60.0)
    # The words of the types are those of the core.
    for words, seen in ((_types.Follow, {tick.state for tick in ticks}), (_types.SensorFault, {tick.fault for tick in ticks} - {None})):
        assert {word for one in get_args(words) for word in get_args(one)} == seen


@pytest.mark.parametrize(
    ("change", "kind", "says"),
    [
        ({"start": math.nan}, elb.BringUpError, "start is not a number"),
        ({"tolerance": 0}, elb.BringUpError, "tolerance is 0; it must be above zero"),
        ({"lag_cycles": -1}, elb.BringUpError, "lag_cycles is -1"),
        ({"lag_cycles": math.inf}, elb.BringUpError, "lag_cycles"),
        ({"most_cycles": -1}, elb.ArgumentError, "most_cycles is -1; it must be 0 to 4294967295"),
        ({"most_cycles": 2.0}, elb.ArgumentTypeError, "most_cycles is of type float; give a whole number"),
        ({"tolerance": "2"}, elb.ArgumentTypeError, "tolerance is a string"),
    ],
)
def test_limits_of_a_follow_check_are_refused(change: dict[str, Any], kind: type, says: str) -> None:
    with pytest.raises(kind, match=says):
        bu.FollowCheck(**({"start": 0.0, "tolerance": 2.0, "lag_cycles": 4.0, "most_cycles": 5} | change))
