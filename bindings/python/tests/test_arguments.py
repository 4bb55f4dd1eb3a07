"""What is accepted, what is refused and by which name; nothing escapes `except Exception`."""

from __future__ import annotations

import array
import datetime
import decimal
import fractions
import threading
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pytest
from conftest import worked_example

import elbowroom as elb
from elbowroom import bring_up as bu

JOINT = worked_example()
ARROWS = ["drive", "pulse_us", "counts", "convert", "command_from_drive", "command_from_pulse_us", "command_from_counts"]


def nested(depth: int) -> Any:
    value: Any = 1.0
    for _ in range(depth):
        value = [value]
    return value


def itself() -> list[Any]:
    value: list[Any] = []
    value.append(value)
    return value


NOT_NUMBERS = [
    (None, "None"),
    (True, "a bool"),
    (np.True_, "bools"),
    ("90", "a string"),
    (b"90", "bytes"),
    (bytearray(b"90"), "bytes"),
    (1j, "a complex number"),
    (np.complex128(1), "a complex number"),
    (object(), "object"),
    (float, "type"),
    (lambda: 1.0, "function"),
    ((x for x in [1.0]), "generator"),
    ({1: 2}, "dict"),
    ({1, 2}, "set"),
    (frozenset({1.0}), "frozenset"),
    (decimal.Decimal(1), "Decimal"),
    (fractions.Fraction(1, 2), "Fraction"),
    (datetime.timedelta(1), "timedelta"),
    ([1.0, None], "[1] is None"),
    ([1.0, True], "[1] is a bool"),
    ([1.0, np.True_], "[1] holds bools"),
    ([[1.0], ["2"]], "[1][0] is a string"),
    ((1.0, 2j), "[1] is a complex number"),
    ([1.0, object()], "[1] is an object of type object"),
    (np.array([True]), "bools"),
    (np.array([1j]), "complex numbers"),
    (np.array(["1"]), "strings"),
    (np.array([b"1"]), "strings"),
    (np.array([None]), "objects"),
    (np.array([1, "a"], object), "objects"),
    (np.array([np.datetime64(1, "s")]), "dates or times"),
    (np.array([np.timedelta64(1, "s")]), "dates or times"),
    (np.zeros(2, [("a", "f8")]), "records"),
    (np.ma.array([1.0, 2.0], mask=[0, 1]), "masked array"),
    (pd.Series([True, False]), "bools"),
    (pd.Series(["1"]), "object"),
    (pd.Series([1, None], dtype="object"), "objects"),
    (pl.Series(["1"]), "strings"),
    (pl.Series([True]), "bools"),
]


@pytest.mark.parametrize("arrow", ARROWS)
@pytest.mark.parametrize(("bad", "name"), NOT_NUMBERS, ids=lambda x: x if isinstance(x, str) else "")
def test_what_is_no_real_number_is_refused_by_name(arrow: str, bad: Any, name: str) -> None:
    with pytest.raises(elb.ArgumentTypeError) as caught:
        getattr(JOINT, arrow)(bad)
    assert name in str(caught.value)
    assert caught.value.code == "wrong-type"
    assert isinstance(caught.value, TypeError) and isinstance(caught.value, ValueError)


@pytest.mark.parametrize("arrow", ARROWS)
@pytest.mark.parametrize("bad", [[[1.0], [2.0, 3.0]], nested(70), itself()])
def test_ragged_and_bottomless_lists_are_refused(arrow: str, bad: Any) -> None:
    with pytest.raises(elb.ArgumentError) as caught:
        getattr(JOINT, arrow)(bad)
    assert caught.value.code == "length-mismatch"


@pytest.mark.parametrize("arrow", ARROWS)
def test_ints_beyond_floats_are_refused(arrow: str) -> None:
    for bad in (10**400, [1, 10**400], -(10**400)):
        with pytest.raises(elb.ArgumentError, match="largest float"):
            getattr(JOINT, arrow)(bad)


def test_scalars_give_scalars() -> None:
    for x in (10, 10.0, np.float64(10)):
        assert type(JOINT.drive(x)) is float and JOINT.drive(x) == 79.5
        assert type(JOINT.counts(x)) is int and JOINT.counts(x) == 283
    assert isinstance(JOINT.drive(np.int16(10)), float)
    assert type(JOINT.drive(np.float32(10))) is np.float32
    assert JOINT.drive(2**70) == 122.0


@pytest.mark.parametrize("dtype", ["f2", "f4", "f8", "g", "i1", "i2", "i4", "i8", "u1", "u2", "u4", "u8", ">f8", ">f4", ">i4"])
def test_all_real_number_types_are_read(dtype: str) -> None:
    found = JOINT.drive(np.array([0, 10, 60], dtype))
    assert found.dtype == (np.float32 if dtype.endswith("f4") else np.float64)
    np.testing.assert_allclose(found, [71, 79.5, 122], rtol=1e-6)


@pytest.mark.parametrize(
    "given",
    [
        [-40, 10, 60],
        (-40.0, 10, np.float32(60)),
        [np.array(-40), np.array(10.0), 60],
        range(-40, 61, 50),
        array.array("d", [-40, 10, 60]),
        memoryview(array.array("d", [-40, 10, 60])),
        pd.Series([-40, 10, 60], index=[5, 3, 1]),
        pd.Series([-40, 10, 60], dtype="Int64"),
        pd.Index([-40.0, 10, 60]),
        pl.Series([-40, 10, 60]),
        np.array([-40.0, 10, 60]),
    ],
    ids=lambda x: type(x).__module__ + "." + type(x).__name__,
)
def test_array_likes_are_read(given: Any) -> None:
    found = JOINT.drive(given)
    assert type(found) is np.ndarray
    np.testing.assert_array_equal(found, [37, 79.5, 122])


def test_a_gap_in_a_table_is_nan_backwards_and_refused_forwards() -> None:
    for gap in (pl.Series([79.5, None]), pd.Series([79.5, None]), pd.Series([79.5, None], dtype="Float64")):
        np.testing.assert_array_equal(JOINT.command_from_drive(gap), [10, np.nan])
        with pytest.raises(elb.ConvertError) as caught:
            JOINT.drive(gap)
        assert caught.value.index == 1


@pytest.mark.parametrize("shape", [(), (0,), (1,), (3, 0), (2, 3), (1, 1, 1, 2), (2,) * 10, (1,) * 60])
@pytest.mark.parametrize("dtype", ["f4", "f8"])
def test_arrays_keep_their_shape(shape: tuple[int, ...], dtype: str) -> None:
    x = np.full(shape, 10, dtype)
    for arrow in ("drive", "pulse_us", "counts", "command_from_drive"):
        found = getattr(JOINT, arrow)(x)
        assert type(found) is np.ndarray and found.shape == shape
    assert JOINT.drive(x).dtype == dtype
    assert JOINT.counts(x).dtype == np.int32


def test_strided_reversed_transposed_readonly_and_misaligned_inputs() -> None:
    base = np.arange(24.0).reshape(4, 6)
    wanted = np.vectorize(JOINT.drive)
    raw = np.zeros(25 * 8 + 1, np.uint8)
    crooked = raw[1 : 1 + 24 * 8].view("f8")
    crooked[:] = np.arange(24.0)
    readonly = base.copy()
    readonly.flags.writeable = False
    for x in (base[::2], base[:, ::-2], base.T, base[1:, 2:], np.asfortranarray(base), np.broadcast_to(base[0], (3, 6)), crooked, readonly):
        before = x.copy()
        result = JOINT.drive(x)
        np.testing.assert_array_equal(result, wanted(x))
        np.testing.assert_array_equal(x, before)
        assert not np.shares_memory(result, x) and result.flags.writeable


def test_a_result_is_nobody_elses() -> None:
    """What had to be copied to be read becomes the result: never where it is still somebody's."""
    for given in ([1, 2], (1.0, 2.0), [[1], [2]], np.arange(2), np.arange(2, dtype=">f8"), np.arange(4.0)[::2], np.float32([1, 2])):
        first, second = JOINT.drive(given), JOINT.drive(given)
        assert not np.shares_memory(first, second)
        first[...] = 0
        np.testing.assert_array_equal(JOINT.drive(given), second)
    series = pytest.importorskip("pandas").Series([1.0, 2.0])
    JOINT.drive(series)
    assert list(series) == [1.0, 2.0]


def places(shape: tuple[int, ...], dtype: str) -> list[np.ndarray]:
    """Places to write to: plain, strided, reversed, column-major, misaligned."""
    n = int(np.prod(shape))
    size = np.dtype(dtype).itemsize
    crooked = np.zeros(n * size + 1, np.uint8)[1:].view(dtype).reshape(shape)
    return [
        np.full(shape, 7, dtype),
        np.full((*shape[:-1], 2 * shape[-1]), 7, dtype)[..., ::2],
        np.full(shape, 7, dtype)[::-1],
        np.full(shape, 7, dtype, order="F"),
        crooked,
    ]


@pytest.mark.parametrize("arrow", ["drive", "pulse_us", "command_from_drive", "command_from_pulse_us", "command_from_counts"])
@pytest.mark.parametrize("dtype", ["f4", "f8"])
def test_out_is_written_and_returned(arrow: str, dtype: str) -> None:
    x = np.arange(30, dtype=dtype).reshape(5, 6)
    call = getattr(JOINT, arrow)
    wanted = call(x)
    for out in places((5, 6), dtype):
        assert call(x, out=out) is out
        np.testing.assert_array_equal(out, wanted)
    for same in places((5, 6), dtype):
        same[...] = x
        assert call(same, out=same) is same
        np.testing.assert_array_equal(same, wanted)
        # The same elements through another view object.
        same[...] = x
        call(same[...], out=same[...])
        np.testing.assert_array_equal(same, wanted)


@pytest.mark.parametrize("dtype", ["i4", "u4", "u2", "i8", "u8"])
def test_counts_into_integers(dtype: str) -> None:
    x = np.arange(30.0).reshape(5, 6) * 6
    for out in places((5, 6), dtype):
        assert JOINT.counts(x, out=out) is out
        np.testing.assert_array_equal(out, JOINT.counts(x))
    whole = x.astype(dtype)
    JOINT.counts(whole, out=whole)
    np.testing.assert_array_equal(whole, JOINT.counts(x))


@pytest.mark.parametrize(
    ("bad", "code", "says"),
    [
        ([0.0] * 10, "wrong-type", "of type list"),
        (None.__class__, "wrong-type", "of type type"),
        (np.zeros(10, "f4"), "wrong-type", "float32"),
        (np.zeros(10, ">f8"), "wrong-type", ">f8"),
        (np.zeros(10, object), "wrong-type", "object"),
        (np.zeros(9), "length-mismatch", "(9,)"),
        (np.zeros((10, 1)), "length-mismatch", "(10, 1)"),
        (np.zeros(()), "length-mismatch", "()"),
        (np.broadcast_to(0.0, 10), "option-outside", "read-only"),
    ],
)
def test_an_invalid_out_is_refused_and_untouched(bad: Any, code: str, says: str) -> None:
    with pytest.raises(elb.ArgumentError) as caught:
        JOINT.drive(np.zeros(10), out=bad)
    assert caught.value.code == code
    assert says in str(caught.value)


def test_overlap_is_refused_and_nothing_written() -> None:
    base = np.arange(20.0)
    before = base.copy()
    for x, out in [
        (base[:10], base[1:11]),
        (base[1:11], base[:10]),
        (base, base[::-1]),
        (base[::2], base[:10]),
        (base[:10], base.view("i8")[:10].view("f8")[::-1]),
        (base[:5].view("f4"), base[2:7].view("f4")),
    ]:
        with pytest.raises(elb.ArgumentError) as caught:
            JOINT.drive(x, out=out)
        assert caught.value.code == "overlap"
        np.testing.assert_array_equal(base, before)
    with pytest.raises(elb.ArgumentError) as caught:
        JOINT.counts(base, out=base.view("i8"))
    assert caught.value.code == "overlap"
    # Interleaved, but no element shared.
    JOINT.drive(base[::2], out=base[1::2])
    np.testing.assert_array_equal(base[1::2], JOINT.drive(before[::2]))


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
@pytest.mark.parametrize("n", [3, 5000])
def test_a_refused_element_keeps_what_came_before(bad: float, n: int) -> None:
    x = np.linspace(-40, 60, n)
    at = n - 2
    x[at] = bad
    for arrow, dtype in (("drive", "f8"), ("pulse_us", "f8"), ("counts", "i4"), ("counts", "u2"), ("counts", "i8")):
        call = getattr(JOINT, arrow)
        wanted = call(x[:at])
        for spare in (np.full(n, 7, dtype), np.full(2 * n, 7, dtype)[::2], np.full(n, 7, dtype)[::-1]):
            with pytest.raises(elb.ConvertError) as caught:
                call(x, out=spare)
            assert (caught.value.index, caught.value.written) == (at, at)
            assert str(caught.value.value) == str(bad)
            assert caught.value.joint == "wing_left"
            np.testing.assert_array_equal(spare[:at], wanted)
            assert (spare[at:] == 7).all()
        with pytest.raises(elb.ConvertError) as caught:
            call(x)
        assert (caught.value.index, caught.value.written) == (at, 0)
    same = x.copy()
    with pytest.raises(elb.ConvertError) as caught:
        JOINT.drive(same, out=same)
    np.testing.assert_array_equal(same[:at], JOINT.drive(x[:at]))
    np.testing.assert_array_equal(same[at:], x[at:])


def test_the_index_counts_rows_first_in_any_layout() -> None:
    x = np.zeros((3, 4), order="F")
    x[1, 2] = np.nan
    with pytest.raises(elb.ConvertError) as caught:
        JOINT.drive(x)
    assert caught.value.index == 6


@pytest.mark.parametrize("bad", [-1, 0.5, np.inf, 2**33, -np.inf])
def test_what_is_no_count_is_refused(bad: float) -> None:
    with pytest.raises(elb.ConvertError):
        JOINT.command_from_counts(bad)
    with pytest.raises(elb.ConvertError) as caught:
        JOINT.command_from_counts([3.0, bad])
    assert caught.value.index == 1
    with pytest.raises(elb.ConvertError):
        JOINT.timer.pulse_us(bad)


def test_nan_backwards_is_nan() -> None:
    for arrow in ("command_from_drive", "command_from_pulse_us", "command_from_counts"):
        call = getattr(JOINT, arrow)
        assert np.isnan(call(np.nan))
        np.testing.assert_array_equal(np.isnan(call([1, np.nan, 3])), [False, True, False])


def test_huge_arrays_and_other_threads_go_on() -> None:
    x = np.linspace(-50, 70, 8_000_000)
    wanted = JOINT.counts(x[::1000])
    found: list[np.ndarray] = []
    threads = [threading.Thread(target=lambda: found.append(JOINT.counts(x))) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 4
    for counts in found:
        np.testing.assert_array_equal(counts[::1000], wanted)


def test_counts_too_wide_for_16_bits() -> None:
    fine = worked_example(timer=elb.Timer(frame_hz=50, counts_per_frame=2**24))
    assert fine.counts(10.0) > 65535
    assert fine.counts(np.array([10.0])).dtype == np.int32
    with pytest.raises(elb.ConvertError) as caught:
        fine.counts([90.0], out=np.zeros(1, "u2"))
    assert caught.value.code == "count-too-wide"


@pytest.mark.parametrize(
    ("what", "least", "most", "call"),
    [
        ("timer.counts_per_frame", 1, 2**24, lambda n: elb.Timer(frame_hz=50, counts_per_frame=n)),
        ("most_knots", 2, 12, lambda n: elb.fit_curve(range(20), range(20), most_knots=n)),
        ("adc_bits", 1, 24, lambda n: elb.fit_feedback(range(20), range(20)).feedback(adc_bits=n)),
        ("channel", 0, 65535, lambda n: worked_example().to_block(channel=n)),
    ],
)
def test_a_whole_number_is_refused_with_the_range_that_it_must_have(what: str, least: int, most: int, call: Any) -> None:
    """Numbers that no such argument can hold are told the same range as those just outside it."""
    for wrong in (least - 1, most + 1, 2**32, -(2**70)):
        with pytest.raises(elb.ElbowroomError) as caught:
            call(wrong)
        assert str(caught.value) == f"{what} is {wrong}; it must be {least} to {most}"
        assert caught.value.value == wrong


@pytest.mark.parametrize(
    ("what", "least", "most", "call"),
    [
        ("reads", 1, 9, lambda n: bu.SenseTest(bu.SensePlan(reads=n))),
        ("turns", 2, 5, lambda n: bu.SenseTest(bu.SensePlan(turns=n))),
        ("targets", 2, 10_000, lambda n: bu.Sweep(bu.SweepPlan(ends=(0, 90), targets=n))),
        ("runs", 1, 1000, lambda n: bu.Sweep(bu.SweepPlan(ends=(0, 90), targets=5, runs=n))),
        ("most_readings", 8, 500, lambda n: bu.Bench(bu.BenchPlan(start=80, search_limits=(0, 180), most_readings=n))),
    ],
)
def test_a_whole_number_of_a_plan_has_the_range_of_the_core(what: str, least: int, most: int, call: Any) -> None:
    for wrong, bound in ((least - 1, f"at least {least}"), (most + 1, f"at most {most}")):
        with pytest.raises(elb.ElbowroomError, match=f"{what} is {wrong}; it must be {bound}"):
            call(wrong)
    with pytest.raises(elb.ElbowroomError, match=f"{what} is {2**32}; it must be {least} to {most}$"):
        call(2**32)


def test_what_is_refused_is_named() -> None:
    from elbowroom.rehearsal import Rehearsal, rehearse

    robot = elb.Robot.parse(ROBOT)
    fields = {name: getattr(JOINT, name) for name in ("rest", "servo", "timer")} | {"command": (-40, 60), "drive": (37, 122)}
    for call, says in (
        (lambda: rehearse(alignment=1), "alignment is of type int; give True or False"),
        (lambda: Rehearsal.healthy(1, alignment="yes"), "alignment is a string, 'yes'; give True or False"),
        (lambda: bu.JointRamp("wing_left", 10, cycles_hz=50), r"joint is a string, 'wing_left'; give Joint\(\.\.\.\)"),
        (lambda: bu.JointRamp(JOINT, JOINT.rest, max_rate_per_s=5, cycles_hz=50).change("wing_left", cycles_hz=50), "joint is a string"),
        (lambda: elb.Joint("wing_left", inverted=None, **fields), "inverted is None; give True or False"),
        (lambda: JOINT.counts("10"), "command is a string, '10'; give real numbers"),
        (lambda: JOINT.counts(10j), "command is a complex number, 10j; give real numbers"),
        (lambda: JOINT.counts(np.array([1, 2j])), r"command holds complex numbers, at index 0 .*; give real numbers"),
        (lambda: JOINT.counts(np.array([1, "a"], object)), "command holds objects, at index 1 'a'; give real numbers"),
        (lambda: JOINT.counts("1" * 100), "command is a string, '1{39} ...; give real numbers"),
        (lambda: JOINT.counts(Unreadable()), "command is of type Unreadable, which numpy cannot read as an array; give real numbers"),
        (lambda: elb.compare_robots(robot, "heron.toml"), "new is a string, 'heron.toml'; give a Robot"),
        (lambda: elb.compare_robots(3, robot), "old is of type int; give a Robot"),
        (lambda: bu.FollowCheck(0, tolerance=1, lag_cycles=0, most_cycles=2).tick_reading("wing", 1, 2), r"joint is a string, 'wing'; give Joint"),
        (lambda: elb.fit_many({"drive": [1], "measured": [1]}, by=3), "by is of type int; give names of columns"),
        (lambda: robot.rename(3, "b"), "old, a joint's name, is of type int; give a string"),
        (lambda: robot.rename("a", None), "new, a joint's name, is None; give a string"),
        (lambda: JOINT.plot(title=3), "title is of type int; give a string"),
        (lambda: robot.plot(title=b"x"), "title is bytes, b'x'; give a string"),
        (lambda: elb.positioning([0.0, 1.0], [("below", [0.0, 1.0]), ("below", [0.1, 1.1])]).plot(title=[1]), "title is of type list; give a string"),
        (lambda: robot.check(urdf=3), "urdf is .*; give a string or a path"),
    ):
        with pytest.raises(elb.ArgumentTypeError, match=says):
            call()
    assert not elb.Joint("wing_left", **fields).inverted
    for call, says in (
        (lambda: elb.read_readings(""), "path is empty; give the name of a file"),
        (lambda: JOINT.counts([[1, 2], [3]]), r"command holds rows of different lengths: \[1\] has 1 element, \[0\] has 2 elements; give rows of one length"),
    ):
        with pytest.raises(elb.ArgumentError, match=says):
            call()


class Unreadable:
    """What numpy is told in its own words."""

    def __array__(self, *args: Any, **options: Any) -> Any:
        raise RuntimeError("the words of another library")


ROBOT = """format = 1
timer = { frame_hz = 50, counts_per_frame = 4096 }
servo = { angle = [0, 180], pulse_us = [500, 2500] }
"""


def test_a_flag_is_true_or_false() -> None:
    joint = {"command": [-40, 60], "drive": [37, 122], "rest": 10, "inverted": "false"}
    robot = {"servo": {"angle": [0, 180], "pulse_us": [500, 2500]}, "timer": {"frame_hz": 50, "counts_per_frame": 4096}}
    with pytest.raises(elb.RobotError, match='inverted is the text "false"; write true or false'):
        elb.robot_from_dict(robot | {"joint": {"wing_left": joint}})
