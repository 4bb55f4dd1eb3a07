"""Many threads, one joint, one robot, one fit: each call gives what it gives alone. Run it on a free-threaded interpreter too."""

from __future__ import annotations

import sys
import sysconfig
import threading
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest
from conftest import data, worked_example

import elbowroom as elb

THREADS = 16
ROUNDS = 30


@pytest.fixture(autouse=True)
def hasty() -> Iterator[None]:
    """The interpreter is handed over as often as it can be."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-6)
    yield
    sys.setswitchinterval(before)


def together(work: Callable[[int], None], threads: int = THREADS) -> None:
    """Runs `work` in threads that begin at once, and raises what any of them raised."""
    barrier, raised = threading.Barrier(threads), []

    def one(number: int) -> None:
        barrier.wait()
        try:
            work(number)
        except BaseException as error:
            raised.append(error)

    crew = [threading.Thread(target=one, args=(number,)) for number in range(threads)]
    for thread in crew:
        thread.start()
    for thread in crew:
        thread.join()
    if raised:
        raise raised[0]


def feedback_joint() -> elb.Joint:
    return worked_example(feedback={"reading": [212, 871], "angle": [-40, 60], "adc_bits": 10}, max_rate_per_s=60)


def test_one_joint_converts_for_all() -> None:
    alone = feedback_joint()
    commands = np.linspace(-50, 70, 3000)
    single = commands.astype("f4")
    counts = np.arange(187, 381)
    wanted: dict[str, Any] = {
        "drive": alone.drive(commands), "pulse_us": alone.pulse_us(commands), "counts": alone.counts(commands),
        "single": alone.drive(single), "back": [alone.command_from_counts(int(c)) for c in counts],
        "readings": alone.angle_from_reading(counts), "states": alone.reading_state(counts), "way": alone.convert(commands),
    }  # fmt: skip
    for _ in range(ROUNDS):
        # New each time: what is made at the first call, all threads ask for at once.
        joint = feedback_joint()

        def work(number: int, joint: elb.Joint = joint) -> None:
            steps: list[Callable[[], None]] = [
                lambda: np.testing.assert_array_equal(joint.drive(commands), wanted["drive"]),
                lambda: np.testing.assert_array_equal(joint.pulse_us(commands), wanted["pulse_us"]),
                lambda: np.testing.assert_array_equal(joint.counts(commands), wanted["counts"]),
                lambda: np.testing.assert_array_equal(joint.drive(single), wanted["single"]),
                lambda: np.testing.assert_array_equal([joint.command_from_counts(int(c)) for c in counts], wanted["back"]),
                lambda: np.testing.assert_array_equal(joint.angle_from_reading(counts), wanted["readings"]),
                lambda: np.testing.assert_array_equal(joint.reading_state(counts), wanted["states"]),
                lambda: np.testing.assert_array_equal(joint.convert(commands).counts, wanted["way"].counts),
            ]  # fmt: skip
            for step in range(len(steps)):
                steps[(step + number) % len(steps)]()
            assert joint == alone and hash(joint) == hash(alone) and repr(joint) == repr(alone)
            with pytest.raises(elb.ConvertError) as caught:
                joint.drive([0.0] * number + [float("nan")])
            assert caught.value.index == number and caught.value.joint == "wing_left"

        together(work)


def test_one_robot_serves_all() -> None:
    text = data("heron.toml").read_text()
    alone = elb.Robot.parse(text)
    names = list(alone)
    findings = list(alone.check())
    rests = {name: alone[name].counts(alone[name].rest) for name in names}

    for _ in range(3):
        robot = elb.Robot.parse(text)

        def work(number: int, robot: elb.Robot = robot) -> None:
            for step in range(len(names)):
                name = names[(step + number) % len(names)]
                assert robot[name].counts(robot[name].rest) == rests[name]
                assert robot.entry(name).joint == alone[name]
            assert list(robot.check()) == findings and robot == alone and robot.text == alone.text
            changed = robot.put(robot[names[0]].replace(name=f"extra_{number}"))
            assert f"extra_{number}" in changed and f"extra_{number}" not in robot
            with pytest.raises(elb.UnknownJointError):
                robot[f"none_{number}"]

        together(work, 8)


def test_one_array_written_by_all_is_never_torn() -> None:
    """Who comes second is refused, or finds it done; the numbers are right either way."""
    joint = worked_example()
    commands = np.linspace(-10, 190, 50_000)
    wanted, out = joint.counts(commands), np.zeros(commands.shape, np.int32)
    busy = []

    def work(_: int) -> None:
        for _ in range(20):
            try:
                assert joint.counts(commands, out=out) is out
            except elb.ArgumentError as error:
                assert error.code == "overlap"
                busy.append(error)

    together(work, 8)
    np.testing.assert_array_equal(out, wanted)
    assert len(busy) < 8 * 20


def test_fits_share_their_readings() -> None:
    drive = np.arange(0.0, 91.0, 3.0)
    measured = 5 + 1.1 * np.clip(drive, 12, 78) + 0.05 * np.cos(5 * drive)
    alone, bent = elb.fit_limits(drive, measured), elb.fit_curve(drive, measured)
    at = np.linspace(0, 90, 2000)

    def work(_: int) -> None:
        fit = elb.fit_limits(drive, measured)
        assert fit == alone and elb.fit_curve(drive, measured) == bent
        np.testing.assert_array_equal(alone.expected(at), fit.expected(at))
        assert alone.apply_to(worked_example()) == fit.apply_to(worked_example())

    for _ in range(5):
        together(work)


def test_it_says_that_it_needs_no_lock() -> None:
    """Where an interpreter can do without its lock, importing the package has not brought it back."""
    if sysconfig.get_config_var("Py_GIL_DISABLED"):
        assert not sys._is_gil_enabled()  # type: ignore[attr-defined]


@pytest.mark.parametrize("arrow", ["drive", "pulse_us", "counts", "command_from_drive"])
@pytest.mark.parametrize("dtype", ["f4", "f8"])
@pytest.mark.parametrize("many", [1, 2, 3, 4])
def test_a_long_array_has_the_same_bits_on_any_number_of_threads(
    arrow: str, dtype: str, many: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    joint = feedback_joint()
    # More processors than there are count for nothing: the parts of two threads are cut where those of one are not.
    x = np.random.default_rng(1).uniform(-60, 80, (1 << 18) + 77).astype(dtype)
    call = getattr(joint, arrow)
    monkeypatch.setenv("ELBOWROOM_THREADS", "1")
    alone = call(x)
    monkeypatch.setenv("ELBOWROOM_THREADS", str(many))
    np.testing.assert_array_equal(call(x), alone)
    np.testing.assert_array_equal(alone[::50_000], [call(one) for one in x[::50_000]])


@pytest.mark.parametrize("bad", [0, 100, 131_136, (1 << 18) + 76])
def test_a_long_array_names_the_first_refused_element(bad: int) -> None:
    joint = feedback_joint()
    x = np.full((1 << 18) + 77, 10.0)
    x[bad:] = np.nan
    for call in (joint.drive, joint.counts):
        with pytest.raises(elb.ConvertError, match=f"at index {bad} "):
            call(x)
    out = np.full(x.shape, 7.0)
    with pytest.raises(elb.ConvertError) as refused:
        joint.drive(x, out=out)
    assert refused.value.written == bad and (out[:bad] == 79.5).all() and (out[bad:] == 7).all()


@pytest.mark.parametrize("given", ["", "none", "0", "-3", " 2 ", "1000000"])
def test_a_number_of_threads_that_is_none_counts_for_nothing(given: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ELBOWROOM_THREADS", given)
    assert (feedback_joint().counts(np.full(1 << 18, 10.0)) == 283).all()
