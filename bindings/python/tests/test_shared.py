"""The shared faults and defaults: the same names, places, sentences and numbers as in Rust, C and the shell."""

from __future__ import annotations

import inspect
from typing import Any, NamedTuple

import elbowroom as elb
import elbowroom.bring_up as bu
import pytest

from conftest import data


class Fault(NamedTuple):
    """A robot file or readings, and what is wrong with them."""

    title: str
    text: str
    rows: list[list[float]]
    name: str
    place: tuple[int, int]
    sentence: str


def faults() -> list[Fault]:
    found: list[Fault] = []
    title, text, rows, name, place = "", "", [], "", (0, 0)
    for line in data("vectors", "faults.txt").read_text().splitlines():
        kind, rest = line[:1], line[2:]
        if kind == "F":
            title, text, rows = rest, "", []
        elif kind == "L":
            text += rest + "\n"
        elif kind == "R":
            rows.append([float(word) for word in rest.split()])
        elif kind == "E":
            _, name, at_line, at_column = rest.split()
            place = (int(at_line), int(at_column))
        elif kind == "M":
            found.append(Fault(title, text, rows, name, place, rest))
        else:
            assert kind == "#", line
    return found


@pytest.mark.parametrize("fault", faults(), ids=lambda fault: fault.title)
def test_a_fault_is_named_as_everywhere(fault: Fault) -> None:
    with pytest.raises(elb.ElbowroomError) as caught:
        if fault.rows:
            drive, measured = zip(*fault.rows, strict=True)
            fit = elb.fit_limits(drive, measured)
            elb.Robot.parse(fault.text).put_fit("wing_left", fit)
        else:
            elb.Robot.parse(fault.text)
    error = caught.value
    assert (error.code, str(error)) == (fault.name, fault.sentence)
    if isinstance(error, elb.RobotError):
        assert (error.line or 0, error.column or 0) == fault.place


def test_there_are_faults_of_every_kind() -> None:
    assert len(faults()) >= 30
    assert len({fault.name for fault in faults()}) >= 12


def defaults() -> dict[str, float]:
    lines = data("vectors", "defaults.txt").read_text().splitlines()
    return {name: float(value) for name, value in (line.split() for line in lines if not line.startswith("#"))}


@pytest.mark.parametrize(("name", "wanted"), defaults().items())
def test_a_plan_begins_with_the_numbers_that_it_has_everywhere(name: str, wanted: float) -> None:
    kind, *path = name.split(".")
    if kind in ("fit", "compare"):
        call = elb.fit_limits if kind == "fit" else elb.compare
        assert inspect.signature(call).parameters[path[0]].default is None
        return
    plan: Any = {
        "session": bu.SessionPlan(start=90, search_limits=(0, 180)),
        "bench": bu.BenchPlan(start=90, search_limits=(0, 180)),
        "alignment": bu.AlignmentPlan(joint=(0, 95), sensor_travel=270, ratio=2),
    }[kind]
    for part in path:
        plan = plan[int(part)] if part.isdigit() else getattr(plan, part)
    # What is None is left to the core.
    assert plan is None or float(plan) == wanted


def test_a_fit_begins_with_the_numbers_that_it_has_everywhere() -> None:
    drive = [0.0, 8.0, 16.0, 24.0, 32.0, 40.0, 48.0, 56.0, 64.0, 72.0, 80.0]
    measured = [1.1, 9.0, 16.8, 25.1, 33.0, 41.2, 48.9, 56.8, 65.1, 66.1, 65.9]
    numbers = defaults()
    given = elb.fit_limits(drive, measured, guard=numbers["fit.guard"], confidence=numbers["fit.confidence"])
    assert elb.fit_limits(drive, measured) == given
    other = elb.fit_limits(drive, measured, guard=numbers["fit.guard"] + 1)
    assert other != given
    options = {key: numbers[f"compare.{key}"] for key in ("smallest_drive", "smallest_share")}
    assert str(elb.compare(given, other)) == str(elb.compare(given, other, **options))
