"""The shared faults: the same name, place and sentence as in Rust, C and the shell."""

from __future__ import annotations

from typing import NamedTuple

import elbowroom as elb
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
            elb.fit_limits(drive, measured)
        else:
            elb.Robot.parse(fault.text)
    error = caught.value
    assert (error.code, str(error)) == (fault.name, fault.sentence)
    if isinstance(error, elb.RobotError):
        assert (error.line or 0, error.column or 0) == fault.place


def test_there_are_faults_of_every_kind() -> None:
    assert len(faults()) >= 30
    assert len({fault.name for fault in faults()}) >= 12
