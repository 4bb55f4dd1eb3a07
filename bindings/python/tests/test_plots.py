"""Pictures, compared with pictures that somebody looked at. WRITE_IMAGES=1 writes them anew."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
import pytest
from conftest import HERE
from matplotlib.figure import Figure
from matplotlib.testing.compare import compare_images

import elbowroom as elb

matplotlib.use("Agg")
# Largest root mean square difference of the grey values: a legend moved by a pixel gives several.
TOLERANCE = 1.0


def limit_fit(both: bool) -> elb.LimitFit:
    """Invented readings without chance: a fixed wobble, lost motion, two misreadings; one stop or both."""
    drive = np.concatenate([np.arange(0, 91, 3.0), np.arange(90, -1, -3.0)])
    wobble = 0.1 * np.cos(7.0 * np.arange(len(drive)))
    side = np.where(np.arange(len(drive)) < 31, 1, -1)
    measured = 5 + 1.1 * np.clip(drive, 12, 78 if both else 200) + (1.2 * side if both else 0) + wobble
    measured[[7, 40]] += [9, -7]
    return elb.fit_limits(drive, measured, approach=["below" if s > 0 else "above" for s in side])


def found() -> elb.Positioning:
    targets = np.arange(10, 90, 10.0)
    runs = []
    for i in range(10):
        side = 1 if i % 2 == 0 else -1
        runs.append(("below" if side > 0 else "above", targets + 0.3 * side + 0.02 * np.arange(8) + 0.08 * np.cos(5 * i + np.arange(8))))
    return elb.positioning(targets, runs)


def robot() -> elb.Robot:
    servo, timer = {"angle": [0, 180], "pulse_us": [500, 2500]}, {"frame_hz": 50, "counts": 4096}
    joints = {
        "wing_left": {"command": [0, 180], "drive": [5, 80], "travel": [7.3, 78], "rest": 90, "evidence": {"lower": {"kind": "contact", "at": 5.1, "u": 0.2}, "upper": {"kind": "reached", "at": 78}}},
        "wing_right": {"command": [0, 180], "drive": [100, 175], "travel": [102, 172.6], "rest": 90, "inverted": True},
        "crest": {"command": [0, 1], "drive": [60, 120], "rest": 0, "evidence": {"upper": {"kind": "declared", "at": 121}}},
    }  # fmt: skip
    return elb.robot_from_dict({"name": "heron", "servo": servo, "timer": timer, "joint": joints})


PICTURES = {
    "fit_both_stops": lambda path: limit_fit(True).plot(path, title="wing_left (invented)"),
    "fit_one_stop": lambda path: limit_fit(False).plot(path),
    "positioning": lambda path: found().plot(path),
    "robot": lambda path: robot().plot(path),
}


@pytest.mark.parametrize("name", PICTURES)
def test_the_picture_is_the_one_looked_at(name: str, tmp_path: Path) -> None:
    wanted, drawn = HERE / "images" / f"{name}.png", tmp_path / f"{name}.png"
    PICTURES[name](wanted if os.environ.get("WRITE_IMAGES") else drawn)
    if not os.environ.get("WRITE_IMAGES"):
        copy = tmp_path / "wanted.png"
        copy.write_bytes(wanted.read_bytes())
        assert compare_images(str(copy), str(drawn), TOLERANCE) is None


@pytest.mark.parametrize("ending", ["svg", "pdf"])
def test_other_endings(ending: str, tmp_path: Path) -> None:
    path = tmp_path / f"fit.{ending}"
    ax = limit_fit(True).plot(path)
    assert path.stat().st_size > 5000 and ax.get_xlabel() == "drive angle / deg"


def test_given_axes_are_drawn_on() -> None:
    figure = Figure()
    axes: Any = figure.subplots(1, 3)
    for ax, thing in zip(axes, (limit_fit(True), found(), robot()), strict=True):
        assert thing.plot(ax=ax) is ax and ax.has_data()


def test_a_fit_without_its_readings_can_be_drawn() -> None:
    fit = eval(repr(limit_fit(True)), vars(elb))
    assert fit.plot().has_data()
    from matplotlib import pyplot

    pyplot.close("all")


def test_without_matplotlib_the_package_works_and_says_what_is_missing() -> None:
    code = (
        "import sys; sys.modules['matplotlib'] = None\n"
        "import elbowroom as elb\n"
        "fit = elb.fit_limits([1, 2, 3, 4, 5, 6], [1, 2, 3, 4, 5.1, 6])\n"
        "for call in (fit.plot, lambda: fit.plot('x.png')):\n"
        "    try: call()\n"
        "    except ImportError as error: assert isinstance(error, elb.ElbowroomError); print(error)\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert run.returncode == 0 and run.stdout.count("pip install elbowroom[plot]") == 2, run.stderr
