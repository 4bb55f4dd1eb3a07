"""An independent reference in exact rational arithmetic, written from the published formulas alone."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import elbowroom as elb

# Numbers as people write them, and spans between them that are no sliver of their own size.
number = st.floats(-1e6, 1e6, allow_nan=False).map(lambda x: round(x, 3))


@st.composite
def spans(draw: st.DrawFn, lower: float = -1e4, upper: float = 1e4) -> tuple[float, float]:
    a = draw(st.floats(lower, upper, allow_nan=False))
    b = draw(st.floats(lower, upper, allow_nan=False))
    assume(abs(a - b) > 1e-3 * max(1.0, abs(a), abs(b)))
    return (min(a, b), max(a, b))


@st.composite
def joints(draw: st.DrawFn) -> tuple[elb.Joint, dict[str, object]]:
    angle = draw(spans(-360, 360))
    drive = sorted(angle[0] + (angle[1] - angle[0]) * t for t in draw(st.tuples(st.floats(0, 0.4), st.floats(0.6, 1))))
    cut = draw(st.tuples(st.floats(0, 0.3), st.floats(0.7, 1)))
    command = draw(spans())
    fields: dict[str, object] = {
        "command": command,
        "drive": (max(drive[0], angle[0]), min(drive[1], angle[1])),
        "travel": tuple(drive[0] + (drive[1] - drive[0]) * t for t in cut),
        "inverted": draw(st.booleans()),
        "rest": command[0],
        "servo": elb.Servo(angle=angle, pulse_us=draw(spans(100, 3000))),
        "timer": elb.Timer(frame_hz=draw(st.floats(20, 330)), counts_per_frame=draw(st.sampled_from([4096, 20000, 65536, 2**20]))),
    }
    try:
        return elb.Joint("drawn", **fields), fields
    except elb.JointError as error:
        assume(error.code not in {"no-count-in-travel", "outside-servo"})
        raise


def line(x: Fraction, a: tuple[float, float], b: tuple[float, float]) -> Fraction:
    """y = b0 + (x - a0) (b1 - b0) / (a1 - a0), exactly."""
    a0, a1, b0, b1 = (Fraction(v) for v in (*a, *b))
    return b0 + (x - a0) * (b1 - b0) / (a1 - a0)


def clip(x: Fraction, ends: tuple[float, float]) -> Fraction:
    return min(max(x, Fraction(ends[0])), Fraction(ends[1]))


def near(found: float, exact: Fraction, *sizes: float) -> None:
    """Within a few roundings of the largest number that took part."""
    size = max(abs(float(exact)), *(abs(s) for s in sizes))
    assert abs(Fraction(found) - exact) <= Fraction(16 * math.ulp(size)), (found, float(exact))


@settings(max_examples=300, deadline=None)
@given(joints(), st.floats(-2e4, 2e4, allow_nan=False), st.floats(-0.2, 1.2))
def test_conversions_agree_with_rational_arithmetic(made: tuple[elb.Joint, dict[str, object]], anywhere: float, t: float) -> None:
    joint, f = made
    command, drive, angle = f["command"], f["drive"], f["servo"].angle_range
    pulses, timer = f["servo"].pulse_range_us, f["timer"]
    images = drive[::-1] if f["inverted"] else drive
    for x in (anywhere, command[0] + t * (command[1] - command[0]), *command):
        way = joint.convert(x)
        clamped = clip(Fraction(x), command)
        exact_drive = clip(line(clamped, command, images), f["travel"])
        slope = (images[1] - images[0]) / (command[1] - command[0])
        near(way.drive, exact_drive, *drive, slope * max(map(abs, command)))
        # From here on from what was found: the steps are checked one by one.
        near(way.pulse_us, line(Fraction(way.drive), angle, pulses), *pulses)
        exact_count = Fraction(way.pulse_us) * Fraction(timer.frame_hz) * timer.counts_per_frame / 10**6
        nearest = math.floor(exact_count + Fraction(1, 2))
        inside = [min(max(nearest, joint.count_range[0]), joint.count_range[1])]
        if abs(exact_count - math.floor(exact_count) - Fraction(1, 2)) < Fraction(1, 10**9):
            inside += [min(max(nearest - 1, joint.count_range[0]), joint.count_range[1])]
        assert way.counts in inside
        assert way.clamped_to_command == (not command[0] <= x <= command[1])
        back = joint.command_from_drive(way.drive)
        near(back, line(Fraction(way.drive), images, command), *command, *(v / slope for v in drive))


@settings(max_examples=200, deadline=None)
@given(joints())
def test_no_count_of_a_joint_leaves_the_travel_and_none_inside_is_missed(made: tuple[elb.Joint, dict[str, object]]) -> None:
    joint, f = made
    timer, servo = f["timer"], f["servo"]
    lowest, highest = joint.count_range

    def angle(count: int) -> Fraction:
        pulse = Fraction(count) * 10**6 / (Fraction(timer.frame_hz) * timer.counts_per_frame)
        return line(pulse, servo.pulse_range_us, servo.angle_range)

    slack = Fraction(1, 10**9)
    assert angle(lowest) >= Fraction(joint.travel[0]) - slack and angle(highest) <= Fraction(joint.travel[1]) + slack
    assert angle(lowest - 1) < Fraction(joint.travel[0]) + slack and angle(highest + 1) > Fraction(joint.travel[1]) - slack


@settings(max_examples=300, deadline=None)
@given(joints(), st.lists(st.floats(width=64), min_size=1, max_size=40))
def test_arrays_are_single_calls(made: tuple[elb.Joint, dict[str, object]], xs: list[float]) -> None:
    joint, _ = made
    finite = [x for x in xs if math.isfinite(x)]
    for arrow in ("drive", "pulse_us", "counts"):
        call = getattr(joint, arrow)
        assert call(finite).tolist() == [call(x) for x in finite]
        assert call(np.array(finite)[::-1]).tolist() == [call(x) for x in finite[::-1]]
    for arrow in ("command_from_drive", "command_from_pulse_us"):
        call = getattr(joint, arrow)
        np.testing.assert_array_equal(call(xs), [call(x) for x in xs])


@settings(max_examples=300, deadline=None)
@given(joints(), st.floats(-2e4, 2e4, allow_nan=False))
def test_neighbours_never_change_order(made: tuple[elb.Joint, dict[str, object]], x: float) -> None:
    joint, f = made
    steps = [x]
    for _ in range(8):
        steps.append(math.nextafter(steps[-1], math.inf))
    found = joint.drive(steps)
    ordered = np.diff(found) <= 0 if f["inverted"] else np.diff(found) >= 0
    assert ordered.all()
    assert (found >= joint.travel[0]).all() and (found <= joint.travel[1]).all()


def test_pulses_of_the_worked_example() -> None:
    """42.5 of 180 deg on 500 to 2500 us is 972 2/9 us, 199.1 counts of 4096 at 50 Hz (common practice, no source)."""
    exact = Fraction(500) + Fraction(85, 2) * 2000 / 180
    assert exact == Fraction(8750, 9) and round(exact * 50 * 4096 / 10**6) == 199
