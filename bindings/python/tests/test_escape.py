"""Nothing escapes `except Exception`: every public call is given what it was not made for, in every place."""

from __future__ import annotations

import copy
import csv
import inspect
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from conftest import data, worked_example

import elbowroom as elb


class Hostile:
    """Raises whatever it is asked."""

    def __getattr__(self, name: str) -> Any:
        raise RuntimeError(name)

    def refuse(self, *_: Any) -> Any:
        raise RuntimeError("hostile")

    __float__ = __index__ = __int__ = __len__ = __iter__ = __getitem__ = __array__ = __eq__ = __hash__ = __str__ = __repr__ = __bool__ = refuse
    __fspath__ = __contains__ = __call__ = refuse


class Lying:
    """Says that it is longer than it is."""

    def __len__(self) -> int:
        return 2**62

    def __getitem__(self, at: int) -> float:
        raise IndexError


def itself() -> list[Any]:
    value: list[Any] = []
    value.append(value)
    return value


STRANGE: list[Any] = [
    None, True, "x", "", "\0", "\ud800", b"x", 1j, object(), int, len, Hostile(), Lying(), itself(), [], [[]], (), {}, {1: 2}, {"x": None},
    float("nan"), float("inf"), -1, 0, 1e308, 5e-324, 2**31, 2**63, 2**64, 10**400, -(10**400), [1, None], [1.0, "2"], [[1], [2, 3]],
    np.nan, np.empty(0), np.zeros((2, 0)), np.zeros(()), np.array(np.nan), np.array([None]), np.array(["x"]), np.array([True]), np.array([1j]),
    np.zeros(3, "M8[s]"), np.zeros(2, [("a", "f8")]), np.ma.array([1.0], mask=[1]), np.zeros((1,) * 60), np.zeros(3, ">f4"), np.full(3, -np.inf),
    np.float32("nan"), np.broadcast_to(0.0, 5), pd.DataFrame({"robot": [1]}), pd.Series([], dtype=float), pd.NaT, pd.NA,
]  # fmt: skip

X = np.linspace(0, 90, 31)
JOINT = worked_example(feedback={"reading": [212, 871], "angle": [-40, 60], "adc_bits": 10})
FIT = elb.fit_limits(X, np.clip(X, 12, 78))
LINE = elb.fit_line(X, 2 * X)
ROBOT = elb.Robot.load(data("heron.toml"))
FOUND = elb.positioning([0, 9], [("below", [0.1, 9.2]), ("below", [0.2, 9.1])])
THINGS = [JOINT, JOINT.servo, JOINT.timer, FIT, LINE, ROBOT, FOUND, ROBOT.check(), ROBOT.entry(next(iter(ROBOT)))]
# Arguments that are good, so that the one strange one among them is reached.
GOOD: dict[str, Any] = {
    "drive": X, "measured": X, "x": X, "y": X, "old": FIT, "new": FIT, "fit": FIT, "joint": JOINT, "targets": [0, 9], "command": 90.0,
    "name": next(iter(ROBOT)), "text": ROBOT.text, "image": JOINT.to_block(), "frame": pd.DataFrame({"robot": "a", "joint": "b", "drive": X, "measured": X}),
    "reading": 541, "count": 283, "pulse_us": 1500, "servo": JOINT.servo, "timer": JOINT.timer, "rest": 10, "observed": [3.0], "u_y": None,
    "runs": [("below", [0.1, 9.2]), ("below", [0.2, 9.1])], "angle": (0, 180), "frame_hz": 50, "counts_per_frame": 4096,
}  # fmt: skip

# The same words where they mean something else.
ELSEWHERE: dict[str, Any] = {
    "fit_many drive": "drive", "fit_many measured": "measured", "fit_line u_y": np.ones(31), "LineFit.inverse u_y": 1.0, "LineFit.predict x": 3.0,
    "Joint command": (-40, 60), "Joint drive": (37, 122), "Servo pulse_us": (500, 2500), "Joint.pulse_us drive": 79.5,
}  # fmt: skip


def calls() -> Iterator[tuple[str, Callable[..., Any]]]:
    for name in elb.__all__:
        if callable(getattr(elb, name)):
            yield name, getattr(elb, name)
    for thing in THINGS:
        for name in dir(thing):
            if name != "plot" and callable(getattr(thing, name)) and (not name.startswith("_") or name in ("__getitem__", "__contains__", "__eq__", "__setstate__")):
                # A state that is set must not be that of the thing which the other calls are made on.
                on = copy.copy(thing) if name == "__setstate__" else thing
                yield f"{type(thing).__name__}.{name}", getattr(on, name)


CALLS = dict(calls())


# What a mistake in the package itself raises: no answer to a wrong argument.
OURS = (AttributeError, csv.Error, IndexError, NameError, OverflowError, AssertionError, ZeroDivisionError)


def escapes(call: Callable[..., Any], *arguments: Any, **named: Any) -> BaseException | None:
    try:
        call(*arguments, **named)
    except Exception as error:  # noqa: BLE001
        return error if isinstance(error, OURS) and not isinstance(error, elb.ElbowroomError) else None
    except BaseException as error:  # noqa: BLE001
        return error
    return None


@pytest.mark.parametrize("name", CALLS)
@pytest.mark.filterwarnings("ignore")
def test_nothing_escapes(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    call = CALLS[name]
    try:
        parameters = inspect.signature(call).parameters.values()
    except ValueError:  # a class of exceptions, or a method that Python makes
        parameters = ()  # type: ignore[assignment]
    good = {p.name: ELSEWHERE.get(f"{name} {p.name}", GOOD.get(p.name)) for p in parameters if p.name in GOOD}
    for strange in STRANGE:
        assert escapes(call, strange) is None
        assert escapes(call, strange, strange) is None
        for parameter in parameters:
            assert escapes(call, **(good | {parameter.name: strange})) is None, (parameter.name, type(strange))


def test_an_escape_is_seen() -> None:
    """What panics in the compiled half comes as a BaseException: the check must see one."""
    assert isinstance(escapes(lambda _: (_ for _ in ()).throw(GeneratorExit()).__next__(), 1), GeneratorExit)
    assert len(CALLS) > 90, len(CALLS)


@pytest.mark.parametrize("name", ["drive", "measured", "u", "time"])
def test_complex_numbers_are_refused(name: str) -> None:
    good = {"drive": X, "measured": np.clip(X, 12, 78), "u": np.ones(31), "time": X}
    for strange in (good[name] + 0j, list(good[name] + 0j), pd.Series(good[name] + 0j)):
        with pytest.raises(elb.ElbowroomError) as caught:
            elb.fit_limits(**(good | {name: strange}))
        assert caught.value.code == "wrong-type"
    table = pd.DataFrame({"robot": "a", "joint": "b", "drive": good["drive"], "measured": good["measured"] + 0j})
    with pytest.raises(elb.ElbowroomError):
        elb.fit_many(table)
    for call in (JOINT.drive, JOINT.counts, JOINT.command_from_drive, JOINT.angle_from_reading):
        with pytest.raises(elb.ElbowroomError):
            call(np.array([1 + 0j, 2]))
