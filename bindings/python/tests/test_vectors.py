"""The shared vectors: the same bits as Rust, C and firmware, for every conversion."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest
from conftest import data

import elbowroom as elb


@dataclass
class Case:
    joint: elb.Joint
    count_range: tuple[int, int]
    commands: list[list[str]] = field(default_factory=list)
    backwards: list[list[str]] = field(default_factory=list)
    readings: list[list[str]] = field(default_factory=list)
    derivatives: list[list[str]] = field(default_factory=list)


def floats(words: list[str], dtype: str) -> np.ndarray:
    size = 4 if dtype == "f4" else 8
    nan = "7fc00000" if dtype == "f4" else "7ff8000000000000"
    return np.array([int(nan if w == "nan" else w, 16) for w in words], f"u{size}").view(dtype)


def transmission_of(words: list[str], dtype: str) -> dict[str, object]:
    """A `T` line."""
    kind, word, *numbers = words
    n = [float(x) for x in floats(numbers, dtype)]
    keys = {
        "triangle": ["base", "arm", "angle_at_zero"],
        "slider-crank": ["crank", "rod", "offset", "slide_at_zero"],
        "four-bar": ["crank", "coupler", "rocker", "ground", "rocker_at_zero"],
        "spool": ["drum", "per_turn", "pulley"],
    }
    if kind == "curve":
        return {"kind": kind, "rule": word, "knots": [list(knot) for knot in zip(n[::2], n[1::2], strict=True)]}
    branch = {} if word == "-" else {"branch": word}
    return {"kind": kind, **branch, **dict(zip(keys[kind], n, strict=True))}


def feedback_of(words: list[str], dtype: str) -> dict[str, object]:
    """An `F` line."""
    n = [float(x) for x in floats(words[2:], dtype)]
    feedback: dict[str, object] = {"reading": n[0:2], "angle": n[2:4], "inverted": words[0] == "1"}
    if words[1] != "0":
        feedback["adc_bits"] = int(words[1])
    if n[4] > 0:
        feedback |= {"pot_ohm": n[4], "load_ohm": n[5]}
    if len(n) > 6:
        feedback["knots"] = [list(knot) for knot in zip(n[6::2], n[7::2], strict=True)]
    return feedback


def read(dtype: str, stem: str = "conversion") -> list[Case]:
    cases: list[Case] = []
    name = f"{stem}_{'f32' if dtype == 'f4' else 'f64'}.txt"
    transmission: dict[str, object] | None = None
    feedback: dict[str, object] | None = None
    for line in data("vectors", name).read_text().splitlines():
        kind, *words = line.split(" ")
        if kind == "J":
            n = floats(words[:12], dtype).astype("f8")
            joint = elb.Joint(
                "shared",
                command=n[0:2],
                drive=n[2:4],
                travel=n[4:6],
                servo=elb.Servo(angle=n[6:8], pulse_us=n[8:10]),
                rest=n[10],
                timer=elb.Timer(frame_hz=n[11], counts_per_frame=int(words[13])),
                inverted=words[12] == "1",
                transmission=transmission,
                feedback=feedback,
            )
            cases.append(Case(joint, (int(words[14]), int(words[15]))))
        elif kind == "C":
            cases[-1].commands.append(words)
        elif kind == "B":
            cases[-1].backwards.append(words)
        elif kind == "D":
            cases[-1].derivatives.append(words)
        elif kind == "R":
            cases[-1].readings.append(words)
        elif kind == "T":
            transmission = transmission_of(words, dtype)
        elif kind == "F":
            feedback = feedback_of(words, dtype)
        else:
            assert kind.startswith("#"), line
    return cases


def same_bits(found: np.ndarray, wanted: np.ndarray) -> None:
    assert found.dtype == wanted.dtype
    bits = f"u{found.dtype.itemsize}"
    both_nan = np.isnan(found) & np.isnan(wanted)
    wrong = (found.view(bits) != wanted.view(bits)) & ~both_nan
    assert not wrong.any(), (np.flatnonzero(wrong)[:5], found[wrong][:5], wanted[wrong][:5])


BOTH = [("conversion", 10_000), ("transmission", 4_000)]


@pytest.mark.parametrize(("stem", "least"), BOTH)
@pytest.mark.parametrize("dtype", ["f8", "f4"])
def test_arrays_give_the_shared_bits(dtype: str, stem: str, least: int) -> None:
    cases = read(dtype, stem)
    checked = 0
    for case in cases:
        joint = case.joint
        if dtype == "f8":
            assert joint.count_range == case.count_range
        good = [words for words in case.commands if words[1] == "0"]
        commands = floats([w[0] for w in good], dtype)
        way = joint.convert(commands)
        same_bits(way.drive, floats([w[3] for w in good], dtype))
        same_bits(way.pulse_us, floats([w[4] for w in good], dtype))
        counts = np.array([int(w[5]) for w in good], "i4")
        np.testing.assert_array_equal(way.counts, counts)
        flags = np.array([int(w[2]) for w in good])
        np.testing.assert_array_equal(way.clamped_to_command, (flags & 1) != 0)
        np.testing.assert_array_equal(way.clamped_to_travel, (flags & 2) != 0)
        same_bits(joint.drive(commands), way.drive)
        for wide in ("u2", "u4", "i8", "u8"):
            if wide == "u2" and case.count_range[1] > 65535:
                continue
            np.testing.assert_array_equal(joint.counts(commands, out=np.zeros(len(good), wide)), counts)
        back = joint.command_from_counts(counts.astype(dtype))
        same_bits(back, floats([w[6] for w in good], dtype))
        values = floats([w[0] for w in case.backwards], dtype)
        same_bits(joint.command_from_drive(values), floats([w[1] for w in case.backwards], dtype))
        same_bits(joint.command_from_pulse_us(values), floats([w[2] for w in case.backwards], dtype))
        assert len(case.derivatives) >= 4
        at, slopes = (floats(list(w), dtype) for w in zip(*case.derivatives, strict=True))
        same_bits(joint.drive_per_command(at), slopes)
        if case.readings:
            readings, angles, at, again = (floats(list(w), dtype) for w in zip(*case.readings, strict=True))
            same_bits(joint.angle_from_reading(readings), angles)
            same_bits(joint.command_from_reading(readings), at)
            same_bits(joint.reading_from_command(at), again)
        checked += len(case.commands) + len(case.backwards) + len(case.readings)
    assert checked >= least


@pytest.mark.parametrize("stem", ["conversion", "transmission"])
@pytest.mark.parametrize("dtype", ["f8", "f4"])
def test_single_calls_give_the_shared_bits(dtype: str, stem: str) -> None:
    def number(word: str) -> object:
        # A Python float, or a numpy scalar of 32 bits.
        return floats([word], dtype)[0] if dtype == "f4" else float(floats([word], dtype)[0])

    def same(found: object, word: str) -> None:
        assert type(found) is (np.float32 if dtype == "f4" else float)
        same_bits(np.array([found], dtype), floats([word], dtype))

    for case in read(dtype, stem):
        joint = case.joint
        for words in case.readings:
            same(joint.angle_from_reading(number(words[0])), words[1])
            same(joint.command_from_reading(number(words[0])), words[2])
            same(joint.reading_from_command(number(words[2])), words[3])
        for words in case.commands:
            command = number(words[0])
            if words[1] != "0":
                for call in (joint.drive, joint.pulse_us, joint.counts, joint.convert):
                    with pytest.raises(elb.ConvertError) as caught:
                        call(command)
                    assert caught.value.code == "not-finite"
                    assert words[1] == "10"  # the number of that name
                continue
            same(joint.drive(command), words[3])
            same(joint.pulse_us(command), words[4])
            assert joint.counts(command) == int(words[5])
            same(joint.command_from_counts(np.float32(words[5]) if dtype == "f4" else int(words[5])), words[6])
        for words in case.derivatives:
            same(joint.drive_per_command(number(words[0])), words[1])
        for words in case.backwards:
            same(joint.command_from_drive(number(words[0])), words[1])
            same(joint.command_from_pulse_us(number(words[0])), words[2])
