"""Frozen classes: eq, hash, pickle, copy, repr; and what their constructors refuse."""

from __future__ import annotations

import copy
import inspect
import os
import pickle
import subprocess
import sys
from pathlib import Path
from typing import Any
from unittest.mock import ANY

import numpy as np
import pytest
from conftest import data, worked_example

import elbowroom as elb
from elbowroom import _core
from elbowroom.bring_up import Session
from elbowroom.rehearsal import Person, Rehearsal

THINGS = [
    worked_example(),
    worked_example(inverted=True, travel=(40.2, 119), max_rate_per_s=60, rest=0.1),
    worked_example(name="it's \"ü\""),
    elb.Servo(angle=(-90, 90.5), pulse_us=(1e-3, 1 / 3)),
    elb.Timer(frame_hz=333.3, counts_per_frame=2**24),
]


@pytest.mark.parametrize("thing", THINGS, ids=lambda thing: type(thing).__name__)
def test_equal_copies(thing: Any) -> None:
    copies = [eval(repr(thing), vars(elb)), copy.copy(thing), copy.deepcopy(thing)]
    copies += [pickle.loads(pickle.dumps(thing, protocol)) for protocol in range(2, pickle.HIGHEST_PROTOCOL + 1)]
    for other in copies:
        assert type(other) is type(thing)
        assert other == thing and hash(other) == hash(thing) and repr(other) == repr(thing)
    assert len({thing, *copies}) == 1
    assert thing != object() and thing != None and not thing == 3  # noqa: E711


def test_different_things_differ() -> None:
    base = {"angle": (0, 180), "pulse_us": (500, 2500)}
    assert elb.Servo(**base) != elb.Servo(**(base | {"angle": (0, 181)}))
    assert elb.Timer(frame_hz=50, counts_per_frame=4096) != elb.Timer(frame_hz=50, counts_per_frame=4095)
    one = worked_example()
    for change in (
        {"name": "wing_right"}, {"command": (-40, 61)}, {"drive": (37, 123)}, {"travel": (38, 122)}, {"rest": 11},
        {"max_rate_per_s": 3}, {"inverted": True}, {"servo": elb.Servo(angle=(0, 180), pulse_us=(500, 2501))},
        {"timer": elb.Timer(frame_hz=50, counts_per_frame=4095)},
    ):  # fmt: skip
        assert one.replace(**change) != one
        assert worked_example(**change) == one.replace(**change)


def compared() -> list[Any]:
    """One of each class that compares by itself."""
    robot = elb.Robot.load(data("heron.toml"))
    drive = [10.0, 17.2, 25.1, 33.5, 42.1, 50.8, 59.4, 67.7, 75.7, 83.3]
    measured = [0.0, 7.8, 15.6, 23.3, 31.1, 38.9, 46.7, 54.4, 62.2, 70.0]
    triangle = {"kind": "triangle", "base": 40, "arm": 92, "angle_at_zero": 25}
    choice = elb.choose_transmission(drive, measured)
    rehearsal = Rehearsal.healthy(3)
    session = Session(rehearsal.plan)
    return [
        *THINGS[-3:], robot, robot.entry("wing_left"), robot.check(), elb.fit_limits(drive, measured), elb.fit_line(drive, measured),
        elb.fit_curve(drive, measured), elb.fit_linkage(drive, measured, triangle, free=["angle_at_zero"]), choice, choice.candidates[0],
        elb.fit_feedback([10 * angle for angle in measured], measured), session, session._core, rehearsal.joint, Person(seed=3),
    ]  # fmt: skip


def test_nothing_else_is_equal() -> None:
    things = compared()
    assert {kind for kind in vars(_core).values() if isinstance(kind, type) and "__eq__" in vars(kind)} <= set(map(type, things))
    for thing in things:
        for other in (3, 1.5, "a", None, [], object(), *(other for other in things if type(other) is not type(thing))):
            assert (thing == other) is False and (other == thing) is False, (thing, other)
            assert (thing != other) is True, (thing, other)
        # What the other has to say counts.
        assert thing == ANY and (thing == thing) is True


@pytest.mark.parametrize("thing", THINGS, ids=lambda thing: type(thing).__name__)
def test_frozen(thing: Any) -> None:
    for name in [n for n in dir(thing) if not n.startswith("_")] + ["new"]:
        with pytest.raises(AttributeError):
            setattr(thing, name, 1)
    with pytest.raises(TypeError):
        type("Sub", (type(thing),), {})


def test_what_stands_in_a_joint() -> None:
    joint = worked_example(inverted=True, travel=(40.2, 119))
    assert joint.name == "wing_left"
    assert joint.command_range == (-40.0, 60.0) and joint.drive_range == (37.0, 122.0)
    assert joint.travel == (40.2, 119.0) and joint.rest == 10.0 and joint.inverted is True
    assert joint.max_rate_per_s is None and joint.count_range == (194, 373)
    assert joint.servo.angle_range == (0.0, 180.0) and joint.servo.pulse_range_us == (500.0, 2500.0)
    assert (joint.timer.frame_hz, joint.timer.counts_per_frame, joint.timer.frame_us) == (50.0, 4096, 20000.0)


WRONG: list[tuple[dict[str, Any], type[elb.ElbowroomError], str, str]] = [
    ({"command": (180, 0)}, elb.JointError, "ends-swapped", "set inverted"),
    ({"command": (1, 1)}, elb.JointError, "zero-width", "[1, 1]"),
    ({"drive": (np.nan, 80)}, elb.JointError, "not-finite", "drive"),
    ({"drive": (5, 181)}, elb.JointError, "outside-servo", "181"),
    ({"rest": 181}, elb.JointError, "rest-outside", "181"),
    ({"rest": np.inf}, elb.JointError, "not-finite", "rest"),
    ({"travel": (130, 140)}, elb.JointError, "travel-disjoint", "130"),
    ({"travel": (79.5, 79.6)}, elb.JointError, "no-count-in-travel", "79.5"),
    ({"max_rate_per_s": 0}, elb.JointError, "not-positive", "max_rate_per_s"),
    ({"timer": elb.Timer(frame_hz=500, counts_per_frame=4096)}, elb.JointError, "timer-invalid", "2500"),
    ({"command": None}, elb.ArgumentTypeError, "wrong-type", "command is None"),
    ({"command": 3}, elb.ArgumentTypeError, "wrong-type", "(lower, upper)"),
    ({"command": "ab"}, elb.ArgumentTypeError, "wrong-type", "a string"),
    ({"command": {0, 180}}, elb.ArgumentTypeError, "wrong-type", "set"),
    ({"command": (0,)}, elb.ArgumentTypeError, "wrong-type", "one number only"),
    ({"command": (0, 1, 2)}, elb.ArgumentTypeError, "wrong-type", "more than two"),
    ({"command": (False, 180)}, elb.ArgumentTypeError, "wrong-type", "command lower is a bool"),
    ({"drive": (5, "80")}, elb.ArgumentTypeError, "wrong-type", "drive upper is a string"),
    ({"rest": None}, elb.ArgumentTypeError, "wrong-type", "rest is None"),
    ({"rest": [90]}, elb.ArgumentTypeError, "wrong-type", "rest is of type list"),
    ({"rest": 10**400}, elb.ArgumentError, "option-outside", "rest"),
    ({"inverted": 1}, elb.ArgumentTypeError, "wrong-type", "inverted is of type int"),
    ({"inverted": "yes"}, elb.ArgumentTypeError, "wrong-type", "True or False"),
    ({"name": 3}, elb.ArgumentTypeError, "wrong-type", "name is of type int"),
    ({"servo": (0, 180)}, elb.ArgumentTypeError, "wrong-type", "Servo(angle=..., pulse_us=...)"),
    ({"timer": None}, elb.ArgumentTypeError, "wrong-type", "timer is None"),
]


@pytest.mark.parametrize(("change", "kind", "code", "says"), WRONG)
def test_a_wrong_joint_is_refused(change: dict[str, Any], kind: type, code: str, says: str) -> None:
    with pytest.raises(kind) as caught:
        worked_example(**change)
    assert caught.value.code == code
    assert says in str(caught.value)
    assert isinstance(caught.value, ValueError) and isinstance(caught.value, elb.ElbowroomError)
    if kind is elb.JointError:
        assert caught.value.joint == "wing_left"


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"frame_hz": 0, "counts_per_frame": 4096}, "not-positive"),
        ({"frame_hz": np.nan, "counts_per_frame": 4096}, "not-finite"),
        ({"frame_hz": 50, "counts_per_frame": 0}, "timer-invalid"),
        ({"frame_hz": 50, "counts_per_frame": 2**24 + 1}, "timer-invalid"),
        ({"frame_hz": 50, "counts_per_frame": -1}, "option-outside"),
        ({"frame_hz": 50, "counts_per_frame": 2**32}, "option-outside"),
        ({"frame_hz": 50, "counts_per_frame": 4096.0}, "wrong-type"),
        ({"frame_hz": 50, "counts_per_frame": True}, "wrong-type"),
    ],
)
def test_a_wrong_timer_is_refused(fields: dict[str, Any], code: str) -> None:
    with pytest.raises(elb.ElbowroomError) as caught:
        elb.Timer(**fields)
    assert caught.value.code == code


def test_an_error_is_pickled_whole() -> None:
    with pytest.raises(elb.ConvertError) as caught:
        worked_example().drive([1.0, np.inf])
    error = pickle.loads(pickle.dumps(caught.value))
    assert type(error) is elb.ConvertError and str(error) == str(caught.value)
    assert (error.code, error.joint, error.index, error.value, error.written) == ("not-finite", "wing_left", 1, np.inf, 0)


def test_the_error_tree() -> None:
    errors = [x for x in vars(elb).values() if inspect.isclass(x) and issubclass(x, BaseException)]
    assert len(errors) > 5
    for error in errors:
        assert issubclass(error, elb.ElbowroomError) and error.__module__ == "elbowroom"
        assert error is elb.ElbowroomError or issubclass(error, ValueError)


def test_servo_and_timer_convert_arrays() -> None:
    servo, timer = THINGS[3], elb.Timer(frame_hz=50, counts_per_frame=4096)
    x = np.linspace(-90, 90, 7).reshape(1, 7)
    np.testing.assert_allclose(servo.angle(servo.pulse_us(x)), x, atol=1e-12)
    assert servo.pulse_us(x.astype("f4")).dtype == np.float32
    np.testing.assert_array_equal(timer.nearest_count(timer.pulse_us(np.arange(4097))), np.arange(4097))
    assert timer.nearest_count(-3.0) == 0 and type(timer.nearest_count(1500)) is int
    with pytest.raises(elb.ConvertError, match="index 1"):
        timer.nearest_count([1.0, np.nan])


def test_notebooks_show_a_joint_and_complete_names() -> None:
    robot = elb.Robot.load(data("heron.toml"))
    assert robot._ipython_key_completions_() == list(robot)
    shown = robot["wing_right"]._repr_html_()
    cells = ("wing_right", "-40 to 60", "10", "58 to 143 inverted", "61 to 139.8", "60", "linear")
    assert shown.startswith("<table>")
    for cell in cells:
        assert f"<td>{cell}</td>" in shown, cell
    assert "<td>61 to 139.8</td>" in robot._repr_html_()


def test_a_conversion_has_types_for_strict_checkers(tmp_path: Path) -> None:
    pytest.importorskip("mypy")
    program = tmp_path / "program.py"
    program.write_text(
        "import elbowroom as elb\n"
        "import numpy as np\n"
        "from numpy.typing import NDArray\n"
        "def counts(joint: elb.Joint) -> int:\n"
        "    return joint.convert(10.0).counts\n"
        "def held(joint: elb.Joint) -> bool:\n"
        "    return joint.convert(10.0).clamped_to_travel\n"
        "def drives(joint: elb.Joint, commands: NDArray[np.float64]) -> NDArray[np.float64]:\n"
        "    return joint.convert(commands).drive\n"
        "def narrow(joint: elb.Joint, commands: NDArray[np.float32]) -> NDArray[np.float32]:\n"
        "    return joint.convert(commands).pulse_us\n"
        "def any_of_them(conversion: elb.Conversion) -> str:\n"
        "    return str(conversion.drive)\n"
        "def wrong(joint: elb.Joint) -> str:\n"
        "    return joint.convert(10.0).counts  # 15\n"
    )
    command = [sys.executable, "-m", "mypy", "--strict", "--cache-dir", str(tmp_path / "cache"), str(program)]
    there = Path(elb.__file__).parents[1]
    # An installed package is found by itself.
    path = {} if there.name == "site-packages" else {"MYPYPATH": str(there)}
    done = subprocess.run(command, capture_output=True, text=True, env=dict(os.environ, **path))
    lines = [line for line in done.stdout.splitlines() if line.startswith(str(program))]
    assert [line.split(":")[1] for line in lines] == ["15"], done.stdout
    assert "[return-value]" in lines[0]
