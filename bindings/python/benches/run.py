"""What conversions cost, each beside what it is measured against, in one run.

Numpy and scipy work on one thread. Ours take a second one for arrays of 262,144 numbers and more, up to four, so tables of a million
values come twice: on one thread, and as users get them. The limits hold for the second.

    env -u OPENBLAS_CORETYPE -u OPENBLAS_L2_SIZE python benches/run.py

Those two variables pin numpy's BLAS to an old kernel on some machines; they are unset so that numpy runs as it does for
others. Each side is timed by turns, and the fastest counts: what else the machine does only ever adds time. A turn over a
million values is several calls after one that is not timed, as in a program that converts again and again: memory that one
result leaves is there for the next, as far as the side's own temporaries let it.

The last table is the other end: one call each, with no memory left over from before (given back by glibc's malloc_trim).
Then the system makes each new page as it is first written, and a page costs more than converting the values on it. What a
side pays is counted: page faults a call, from getrusage.

With `--limits` the run fails where a ratio is below LEAST. Curves are measured where scipy is installed; with `--limits` it
must be.
"""

from __future__ import annotations

import ctypes
import os
import resource
import sys
import timeit
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

import elbowroom as elb

try:
    from scipy.interpolate import PchipInterpolator
except ImportError:
    PchipInterpolator = None

ROUNDS = 201
CALLS = 2_000
BATCH_CALLS = 5
# What `--limits` asks for: how many times as long the other side takes.
LEAST = {"drive": 2.0, "pulse_us": 2.0, "counts": 12.0, "curve": 8.0}


def fastest(sides: dict[str, timeit.Timer], calls: int, rounds: int) -> dict[str, float]:
    """Seconds a call for each side, measured by turns."""
    times = dict.fromkeys(sides, float("inf"))
    for _ in range(rounds):
        for name, timer in sides.items():
            times[name] = min(times[name], timer.timeit(calls) / calls)
    return times


def faults() -> int:
    """Pages that the system had to provide to this process so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt


def warm(sides: dict[str, Callable[[], object]], calls: int, rounds: int) -> dict[str, tuple[float, float]]:
    """Seconds and page faults a call, by turns, each after a call that is not counted."""
    times, pages = dict.fromkeys(sides, float("inf")), dict.fromkeys(sides, 0)
    for _ in range(rounds):
        for name, call in sides.items():
            call()
            before = faults()
            times[name] = min(times[name], *timeit.Timer(call).repeat(calls, 1))
            pages[name] += faults() - before
    return {name: (times[name], pages[name] / rounds / calls) for name in sides}


def cold(sides: dict[str, Callable[[], object]], give_back: Callable[[int], object], rounds: int) -> dict[str, tuple[float, float]]:
    """The same for single calls, each after all free memory was given back."""
    times, pages = dict.fromkeys(sides, float("inf")), dict.fromkeys(sides, 0)
    for _ in range(rounds):
        for name, call in sides.items():
            give_back(0)
            before = faults()
            times[name] = min(times[name], timeit.Timer(call).timeit(1))
            pages[name] += faults() - before
    return {name: (times[name], pages[name] / rounds) for name in sides}


def below(name: str, theirs: tuple[float, float], ours: tuple[float, float]) -> list[str]:
    """What a limit says against a pair of times: nothing, or one sentence."""
    ratio = theirs[0] / ours[0]
    return [] if ratio >= LEAST[name] else [f"{name} is {ratio:.1f} times as fast; {LEAST[name]:g} is the least allowed"]


def shown(title: str, found: dict[str, tuple[float, float]], *bases: str) -> None:
    print(title)
    for name, (seconds, pages) in found.items():
        ratios = "".join(f"  {found[base][0] / seconds:5.1f}" for base in bases)
        print(f"  {name:24} {seconds * 1e3:7.2f}{ratios}  {pages:7.0f}")


def scalar(joint: elb.Joint) -> None:
    """A call with one float against a method of the same class, same arguments, that does nothing."""
    print("one call, ns (ratio to the empty method)")
    names = ["_nothing", "drive", "pulse_us", "counts", "command_from_drive", "command_from_pulse_us", "command_from_counts"]
    timers = {}
    for name in names:
        x = 283 if name == "command_from_counts" else 42.5
        timers[name] = timeit.Timer("call(x)", globals={"call": getattr(joint, name), "x": x})
    found = fastest(timers, CALLS, ROUNDS)
    for name in names:
        print(f"  {name:24} {found[name] * 1e9:7.1f}  {found[name] / found['_nothing']:5.2f}")


def drives(joint: elb.Joint, x: NDArray[np.float64], out: NDArray[np.float64]) -> dict[str, Callable[[], object]]:
    """Numpy's line misses the far end and steps over it now and then; ours divides instead, and does neither."""
    return {
        "numpy, drive": lambda: np.clip(x, -40, 60) * (85 / 100) + 71,
        "drive": lambda: joint.drive(x),
        "drive, out": lambda: joint.drive(x, out=out),
        "pulse_us": lambda: joint.pulse_us(x),
        "pulse_us, out": lambda: joint.pulse_us(x, out=out),
    }


def on_threads(threads: str) -> str:
    """Sets how many threads ours take, "" for their own choice; says it for a title."""
    os.environ["ELBOWROOM_THREADS"] = threads
    return f"{threads or min(len(os.sched_getaffinity(0)), 4)} thread{'' if threads == '1' else 's'}"


def curves() -> list[str]:
    """A million drive angles through invented curves against scipy's monotone cubic through the same points; what is below its limit."""
    if PchipInterpolator is None:
        print("curves: not measured, scipy is not installed")
        return ["scipy is not installed: install it to measure curves"]
    broken = []
    for knots in (16, 256):
        random = np.random.default_rng(knots)
        x, y = np.cumsum(0.2 + random.random(knots)), np.cumsum(0.05 + random.random(knots) * 100 / knots)
        joint = elb.Joint(
            "curve", command=(float(x[0]), float(x[-1])), drive=(float(y[0]), float(y[-1])), rest=float(x[0]),
            servo=elb.Servo(angle=(0, 360), pulse_us=(500, 2500)), timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
            transmission={"kind": "curve", "rule": "harmonic-chord", "knots": [list(knot) for knot in zip(x.tolist(), y.tolist(), strict=True)]},
        )  # fmt: skip
        scipy = PchipInterpolator(x, y)
        for order in ("random", "sorted"):
            places = random.uniform(x[0], x[-1], 1_000_000)
            if order == "sorted":
                places.sort()
            sides: dict[str, Callable[[], object]] = {"scipy": lambda: scipy(places), "curve": lambda: joint.drive(places)}
            for threads in ("1", ""):
                title = f"a million values through {knots} knots, {order}, {on_threads(threads)}"
                found = warm(sides, 1, ROUNDS // 16)
                shown(f"{title}, ms (scipy takes so many times as long), page faults", found, "scipy")
            broken += [f"{knots} knots, {order}: {line}" for line in below("curve", found["scipy"], found["curve"])]
    return broken


def batch(joint: elb.Joint) -> list[str]:
    """A million commands to counts against numpy doing clip, scale, rint and cast; what is below its limit."""
    x = np.random.default_rng(1).uniform(-50, 70, 1_000_000)
    scale = 85 / 100 * 2000 / 180 * 50 * 4096 / 1e6
    offset = (500 + 71 * 2000 / 180) * 50 * 4096 / 1e6

    def numpy_counts() -> object:
        return np.rint(np.clip(x, -40, 60) * scale + offset).astype(np.int32)

    between = np.empty_like(x)
    out32, out16 = np.empty(x.shape, np.int32), np.empty(x.shape, np.uint16)

    def numpy_in_place() -> object:
        """The same without a new array: as fast as numpy is written by hand."""
        np.clip(x, -40, 60, out=between)
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
    }
    broken = []
    for threads in ("1", ""):
        title = f"a million values again and again, {on_threads(threads)}"
        found = warm(sides, BATCH_CALLS, ROUNDS // 6)
        shown(
            f"{title}, ms (numpy takes so many times as long; numpy without new arrays), page faults",
            found, "numpy", "numpy, no new arrays",
        )  # fmt: skip
        broken = below("counts", found["numpy"], found["counts"])
        found = warm(drives(joint, x, between), BATCH_CALLS, ROUNDS // 6)
        shown("the same for drive angles and pulse widths, ms (numpy takes so many times as long), page faults", found, "numpy, drive")
        for name in ("drive", "pulse_us"):
            broken += below(name, found["numpy, drive"], found[name])
    give_back = getattr(ctypes.CDLL(None), "malloc_trim", None) if sys.platform == "linux" else None
    if give_back is not None:
        first = {name: sides[name] for name in ("numpy", "counts", "counts, out int32")}
        shown("a million values once, in new memory, ms (numpy takes so many times as long), page faults", cold(first, give_back, ROUNDS // 4), "numpy")
    return broken


def as_people_pass_them(joint: elb.Joint) -> None:
    """Arrays of other types and shapes, and lists, beside numpy's line for the same."""
    scale, offset = 85 / 100 * 2000 / 180 * 50 * 4096 / 1e6, (500 + 71 * 2000 / 180) * 50 * 4096 / 1e6

    calls: dict[str, Callable[[Any], object]] = {
        "numpy, drive": lambda x: np.clip(x, -40, 60) * (85 / 100) + 71,
        "drive": joint.drive,
        "numpy, counts": lambda x: np.rint(np.clip(x, -40, 60) * scale + offset).astype(np.int32),
        "counts": joint.counts,
    }
    print("as people pass them, us, drive and counts (numpy takes so many times as long)")
    for n in (10, 1_000, 100_000):
        x = np.random.default_rng(n).uniform(-50, 70, n)
        kinds: dict[str, Any] = {
            "float64": x, "float32": x.astype(np.float32), "int64": x.astype(np.int64),
            "every second": np.repeat(x, 2)[::2], "backwards": x[::-1], "list": x.tolist(),
        }  # fmt: skip
        for kind, given in kinds.items():
            sides = {name: timeit.Timer("call(given)", globals={"call": call, "given": given}) for name, call in calls.items()}
            found = fastest(sides, max(1, 20_000 // n), 15)
            times = "".join(f"  {found[name] * 1e6:9.2f} {found[f'numpy, {name}'] / found[name]:5.2f}" for name in ("drive", "counts"))
            print(f"  {n:7} {kind:14}{times}")


def main() -> None:
    joint = elb.Joint(
        "wing_left", command=(-40, 60), drive=(37, 122), rest=10,
        servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)), timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
    )  # fmt: skip
    print(f"elbowroom {elb.__version__}, numpy {np.__version__}")
    scalar(joint)
    as_people_pass_them(joint)
    broken = batch(joint) + curves()
    if "--limits" in sys.argv[1:] and broken:
        sys.exit("\n".join(broken))


if __name__ == "__main__":
    main()
