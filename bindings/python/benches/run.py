"""What conversions cost, each beside what it is measured against, in one run on one thread.

    env -u OPENBLAS_CORETYPE -u OPENBLAS_L2_SIZE python benches/run.py

Those two variables pin numpy's BLAS to an old kernel on some machines; they are unset so that numpy runs as it does for
others. Each side is timed by turns, and of its rounds the fastest counts: what else the machine does only ever adds time.
A turn over a million values is several calls, as in a program that converts again and again: memory that one call's result
leaves is there for the next. A first result costs whole pages from the system besides, on either side.
"""

from __future__ import annotations

import timeit
from collections.abc import Callable

import numpy as np

import elbowroom as elb

ROUNDS = 201
CALLS = 2_000
BATCH_CALLS = 5


def fastest(sides: dict[str, timeit.Timer], calls: int, rounds: int) -> dict[str, float]:
    """Seconds a call for each side, measured by turns."""
    times = dict.fromkeys(sides, float("inf"))
    for _ in range(rounds):
        for name, timer in sides.items():
            times[name] = min(times[name], timer.timeit(calls) / calls)
    return times


def scalar(joint: elb.Joint) -> None:
    """A call with one float against a method of the same class, same arguments, that does nothing."""
    print("one call, ns (ratio to the empty method)")
    names = ["_nothing", "drive", "pulse_us", "counts", "command_from_drive", "command_from_pulse_us", "command_from_counts"]
    timers = {}
    for name in names:
        x = 199 if name == "command_from_counts" else 42.5
        timers[name] = timeit.Timer("call(x)", globals={"call": getattr(joint, name), "x": x})
    found = fastest(timers, CALLS, ROUNDS)
    for name in names:
        print(f"  {name:24} {found[name] * 1e9:7.1f}  {found[name] / found['_nothing']:5.2f}")


def batch(joint: elb.Joint) -> None:
    """A million commands to counts against numpy doing clip, scale, rint and cast."""
    x = np.random.default_rng(1).uniform(-10, 190, 1_000_000)
    scale = 75 / 180 * 2000 / 180 * 50 * 4096 / 1e6
    offset = (500 + 5 * 2000 / 180) * 50 * 4096 / 1e6

    def numpy_counts() -> object:
        return np.rint(np.clip(x, 0, 180) * scale + offset).astype(np.int32)

    between = np.empty_like(x)
    out32, out16 = np.empty(x.shape, np.int32), np.empty(x.shape, np.uint16)

    def numpy_in_place() -> object:
        """The same without a new array: as fast as numpy is written by hand."""
        np.clip(x, 0, 180, out=between)
        np.multiply(between, scale, out=between)
        np.add(between, offset, out=between)
        np.rint(between, out=between)
        out32[...] = between
        return out32

    assert np.abs(numpy_counts() - joint.counts(x)).max() <= 1  # type: ignore[operator]
    sides: dict[str, Callable[[], object]] = {
        "numpy": numpy_counts,
        "numpy, no new arrays": numpy_in_place,
        "counts": lambda: joint.counts(x),
        "counts, out int32": lambda: joint.counts(x, out=out32),
        "counts, out uint16": lambda: joint.counts(x, out=out16),
        "numpy, drive": lambda: np.clip(x, 0, 180) * (75 / 180) + 5,
        "drive": lambda: joint.drive(x),
        "drive, out": lambda: joint.drive(x, out=between),
        "pulse_us, out": lambda: joint.pulse_us(x, out=between),
    }
    found = fastest({name: timeit.Timer(call) for name, call in sides.items()}, BATCH_CALLS, ROUNDS // 4)
    print("a million values, ms (numpy takes so many times as long; numpy without new arrays)")
    for name, seconds in found.items():
        print(f"  {name:24} {seconds * 1e3:7.2f}  {found['numpy'] / seconds:5.1f}  {found['numpy, no new arrays'] / seconds:5.1f}")


def main() -> None:
    joint = elb.Joint(
        "wing_left", command=(0, 180), drive=(5, 80), rest=90,
        servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)), timer=elb.Timer(frame_hz=50, counts=4096),
    )  # fmt: skip
    print(f"elbowroom {elb.__version__}, numpy {np.__version__}")
    scalar(joint)
    batch(joint)


if __name__ == "__main__":
    main()
