"""Pictures, compared with pictures that somebody looked at. WRITE_IMAGES=1 writes them anew."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
import pytest
from conftest import HERE, worked_example
from matplotlib.figure import Figure
from matplotlib.testing.compare import compare_images

import elbowroom as elb
from elbowroom._core import LABELS
from elbowroom.rehearsal import Person, Rehearsal, rehearse

matplotlib.use("Agg")
# Largest root mean square difference of the grey values: a legend moved by a pixel gives several.
TOLERANCE = 1.0


CLEAR: dict[str, Any] = {
    "kind": "clear", "at": 90.0, "short_at": None, "u": None, "interval": None, "guard": 0.0, "travel": 90.0, "level": None,
    "readings_beyond": 0, "marked": False,
}  # fmt: skip


def limit_fit(both: bool, **changes: Any) -> elb.LimitFit:
    """A fit written down, so that a picture changes only when the drawing does. Invented: a wobble, lost motion, misreadings."""
    drive = np.concatenate([np.arange(0, 91, 3.0), np.arange(90, -1, -3.0)])
    wobble = 0.1 * np.cos(7.0 * np.arange(len(drive)))
    side = np.where(np.arange(len(drive)) < 31, 1, -1)
    measured = 5 + 1.1 * np.clip(drive, 12, 78 if both else 200) + 1.2 * side + wobble
    measured[[7, 40]] += [9, -7]

    def contact(at: float, travel: float) -> dict[str, Any]:
        return CLEAR | {"kind": "contact", "at": at, "u": 0.2, "interval": [at - 0.4, at + 0.4], "guard": 2.0, "travel": travel, "readings_beyond": 8}

    line = {
        "intercept": 5.0, "slope": 1.1, "u_intercept": 0.05, "u_slope": 0.001, "covariance": 0.0, "residual_sd": 0.1, "dof": 42, "n": 44,
        "r_squared": 0.999, "sum_of_squares": 1.0, "stated_u": False,
    }  # fmt: skip
    record = {
        "slope": 1.1, "u_slope": 0.001, "intercept": 5.0, "u_intercept": 0.05, "covariance": 0.0, "residual_sd": 0.1, "dof": 55,
        "sense": {"trend": "rising", "certainty": 1.0}, "lower": contact(12.0, 15.5), "upper": contact(78.0, 74.5) if both else CLEAR,
        "travel": [15.5, 74.5] if both else [15.5, 90.0],
        "lost_motion": {"status": "measured", "value": 2.4, "u": 0.03, "reversal": 2.4, "drive": 2.2, "u_drive": 0.03}, "repeatability": None,
        "line": line, "goodness": {"r_squared": 0.999, "sum_of_squares": 1.0, "p_curvature": 1.0, "p_lack_of_fit": 1.0},
        "rejected": [
            {"index": i, "drive": float(drive[i]), "measured": float(measured[i]), "residual": 9.0, "reason": "off-the-line", "cause": None}
            for i in (7, 40)
        ],
        "warnings": [], "advice": None, "approach_inferred": False, "readings": 62, "resolution": None, "resolution_inferred": False,
        "confidence": 0.95, "curve": [5.0, 1.1], "curve_origin": 0.0,
    }  # fmt: skip
    sides = ["below" if s > 0 else "above" for s in side]
    return elb.LimitFit.from_json(json.dumps(record | changes), drive=drive, measured=measured, approach=sides)


def test_a_stalled_end_is_a_band_between_both_its_angles() -> None:
    stalled = CLEAR | {"kind": "stalled", "at": 78.0, "short_at": 84.0, "travel": 78.0, "readings_beyond": 1}
    fit = limit_fit(False, upper=stalled, travel=[15.5, 78.0])
    assert fit.upper.kind == "stalled" and fit.upper.short_at == 84.0 and "upper stalled between 78 and 84" in repr(fit)
    # The compiled half takes the words and gives them back.
    assert fit.evidence().upper == elb.EndEvidence(kind="stalled", at=78.0, short_at=84.0, guard=0.0)
    drawn = fit.plot()
    assert LABELS["stalled"] in drawn.get_legend_handles_labels()[1]
    assert "stalled 78 to 84" in {text.get_text() for text in drawn.texts}
    assert "78.00 to 84.00" in fit._repr_html_()
    robot = elb.Robot("r").put(worked_example(travel=(15.5, 78.0)), evidence=fit.evidence())
    assert LABELS["stalled"] in robot.plot().get_legend_handles_labels()[1]


def found() -> elb.Positioning:
    targets = np.arange(10, 90, 10.0)
    runs = []
    for i in range(10):
        side = 1 if i % 2 == 0 else -1
        runs.append(("below" if side > 0 else "above", targets + 0.3 * side + 0.02 * np.arange(8) + 0.08 * np.cos(5 * i + np.arange(8))))
    return elb.positioning(targets, runs)


def robot() -> elb.Robot:
    servo, timer = {"angle": [0, 180], "pulse_us": [500, 2500]}, {"frame_hz": 50, "counts_per_frame": 4096}
    joints = {
        "wing_left": {"command": [-40, 60], "drive": [37, 122], "travel": [39.3, 119.7], "rest": 10, "evidence": {"lower": {"kind": "contact", "at": 37.2, "u": 0.2}, "upper": {"kind": "clear", "at": 119.7}}},
        "wing_right": {"command": [-40, 60], "drive": [58, 143], "travel": [60, 140.6], "rest": 10, "inverted": True},
        "crest": {"command": [0, 1], "drive": [60, 120], "rest": 0, "evidence": {"upper": {"kind": "declared", "at": 121}}},
    }  # fmt: skip
    return elb.robot_from_dict({"name": "heron", "servo": servo, "timer": timer, "joint": joints})


def wobble(n: int) -> Any:
    """Invented scatter without a pattern."""
    i = np.arange(n)
    return 0.7 * (np.cos(5 * i) + np.sin(3.3 * i * i))


# Of fits whose readings were reached from unknown sides.
NO_SIDES: dict[str, Any] = {
    "lost_motion": {"status": "not-determinable", "reason": "approach-unknown"},
    "by_side": {"drive": 0.0, "measured": 0.0},
}


def curve_fit() -> elb.CurveFit:
    drive = np.arange(10.0, 151.0, 5.0)
    knots, u = ((10.0, 2.0), (80.0, 46.0), (150.0, 131.0)), (1.1, 0.9, 1.2)
    record = {"knots": knots, "u": u, "residual_sd": 1.4, "dof": 26, "sum_of_squares": 51.0, "criterion": (9.0, 1.0), **NO_SIDES}
    measured = elb.CurveFit.from_json(json.dumps(record)).expected(drive) + 2 * wobble(len(drive))
    return elb.CurveFit.from_json(json.dumps(record), drive=drive, measured=measured)


LINKAGES: dict[str, tuple[dict[str, float], str | None, tuple[float, float], float]] = {
    "triangle": ({"base": 40.0, "arm": 92.0, "angle_at_zero": 31.0}, None, (0.0, 95.0), 2.4),
    "slider-crank": ({"crank": 20.0, "rod": 45.0, "offset": 2.0, "slide_at_zero": 40.0}, "right", (-8.0, 20.0), 1.6),
    "four-bar": ({"crank": 20.0, "coupler": 60.0, "rocker": 18.0, "ground": 62.0, "rocker_at_zero": 50.0}, "left", (0.0, 80.0), 1.9),
    "spool": ({"drum": 8.0, "per_turn": 1.5, "pulley": 20.0}, None, (0.0, 180.0), 0.3),
}


def linkage_fit(kind: str) -> elb.LinkageFit:
    size, side, ends, gain = LINKAGES[kind]
    measured = np.linspace(*ends, 24)
    found = list(size)[-1]
    branch = {} if side is None else {"branch": side}
    record = {
        "mechanism": {"kind": kind, **size, **branch}, "found": [{"name": found, "value": size[found], "u": 0.4}],
        "offset": {"value": 20.0, "u": 0.3}, "gain": {"value": gain, "u": 0.01}, "drive": (0.0, 180.0), "measured": ends,
        "residual_sd": 0.01 * (ends[1] - ends[0]), "dof": 21, "sum_of_squares": 1.0, "other_branch": None, **NO_SIDES,
    }  # fmt: skip
    drive = elb.LinkageFit.from_json(json.dumps(record)).drive_at(measured)
    read = measured + 0.01 * (ends[1] - ends[0]) * wobble(len(drive))
    return elb.LinkageFit.from_json(json.dumps(record), drive=drive, measured=read)


def choice() -> elb.Choice:
    """A triangle's readings; a spool explains them less well, a four-bar so short cannot be there at all."""
    link = linkage_fit("triangle")
    short = {"kind": "four-bar", "crank": 1.0, "coupler": 1.0, "rocker": 1.0, "ground": 62.0, "rocker_at_zero": 50.0, "branch": "left"}
    guesses = [(link.transmission, ["angle_at_zero"]), (linkage_fit("spool").transmission, ["per_turn"]), (short, ["crank"])]
    found = elb.choose_transmission(link.drive, link.measured, guesses=guesses)
    assert [one.kind for one in found.candidates if one.fit] == ["linear", "curve", "triangle", "spool"] and found.chosen.kind == "triangle"
    return found


def feedback_fit() -> elb.FeedbackFit:
    angle = np.arange(-10.0, 101.0, 3.0)
    part = (angle + 30) / 200
    return elb.fit_feedback(np.round(1024 * part / (1 + 10 / 15 * part * (1 - part))), angle + 0.3 * wobble(len(angle)))


HIP = """format = 1
[joint.hip]
command = [-40, 70]
drive = [20, 160]
travel = [22, 158]
inverted = true
rest = 0
unit = "deg"
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }
transmission = { kind = "curve", knots = [[-40, 160], [-10, 120], [20, 95], [50, 60], [70, 20]] }
feedback = { reading = [90, 930], angle = [-45, 72], adc_bits = 10, knots = [[90, -45], [300, -20], [600, 15], [930, 72]] }
evidence = { upper = { kind = "contact", at = 164, u = 0.2, guard = 2.0 } }
"""


def hip() -> elb.Entry:
    return elb.Robot.parse(HIP).entry("hip")


def jaw() -> elb.Joint:
    return elb.Joint("jaw", command=(0, 110), drive=(20, 160), rest=5, servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)), timer=elb.Timer(frame_hz=50, counts_per_frame=4096), transmission={"kind": "triangle", "base": 40.0, "arm": 92.0, "angle_at_zero": 50.0})


def brought_up() -> elb.bring_up.Session:
    """A bring-up as a script drives one; its joint is a virtual one."""
    rehearsal, person = Rehearsal.healthy(4), Person(seed=4)
    session = elb.bring_up.Session(rehearsal.plan)
    while (report := person.carry_out(session.next(), rehearsal.joint)) is not None:
        session.report(report)
    return session


def typed() -> elb.bring_up.Bench:
    """A bring-up whose readings are typed, as far as it has come. Invented: a joint that answers exactly, and meets a stop at 120 deg."""
    bench, at = elb.bring_up.Bench(elb.bring_up.BenchPlan(start=79.5, search_limits=(0, 180))), 79.5
    while len(bench.readings) < 7:
        match bench.next():
            case elb.bring_up.MoveTo(drive=drive):
                at = drive
                bench.report(elb.bring_up.Moved())
            case elb.bring_up.Read():
                bench.report(elb.bring_up.Reading(min(max(at, 40.0), 120.0)))
            case elb.bring_up.Wait():
                bench.report(elb.bring_up.Waited())
            case elb.bring_up.Ask(answers=answers):
                bench.report(elb.bring_up.Answered(answers[0]))
    return bench


WORN = """format = 1
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }
[joint.neck]
command = [-40, 30]
drive = [50, 120]
rest = 0
[joint.neck.evidence]
date = 2026-11-20
lower = { kind = "contact", at = 44.6, u = 0.06, guard = 2.0 }
upper = { kind = "clear", at = 124.0 }
lost_motion = { value = 1.25, u = 0.03 }
[joint.neck.history]
2023-11-21 = { lower = { kind = "contact", at = 44.0, u = 0.05, guard = 2.0 }, upper = { kind = "contact", at = 125.1, u = 0.05 }, lost_motion = { value = 0.78, u = 0.02 } }
2024-11-19 = { lower = { kind = "contact", at = 44.1, u = 0.05, guard = 2.0 }, upper = { kind = "stalled", at = 124.8, short_at = 125.6 }, lost_motion = { value = 0.9, u = 0.02 } }
2025-11-20 = { lower = { kind = "contact", at = 44.3, u = 0.05, guard = 2.0 }, upper = { kind = "declared", at = 125.0 }, lost_motion = { value = 1.02, u = 0.03 } }
"""


def worn() -> elb.Entry:
    """A joint with four calibrations. Invented."""
    return elb.Robot.parse(WORN).entry("neck")


def compared() -> elb.Comparison:
    """A horn one tooth of 24 on, a stop worn by a degree, more play. Invented."""
    drive = np.concatenate([np.arange(20, 141, 3.0), np.arange(140, 19, -3.0)])
    side = np.where(np.arange(len(drive)) < 41, 1, -1)
    fits = [
        elb.fit_limits(
            drive, np.clip(drive + shift + play * side, 40, upper) + 0.05 * wobble(len(drive)),
            approach=["below" if s > 0 else "above" for s in side],
        )
        for shift, play, upper in ((0.0, 0.4, 120.0), (15.0, 0.9, 121.0))
    ]  # fmt: skip
    return elb.compare(*fits)


# Least height of letters in a picture of half its size, pixels: 6 pt, about the smallest print (common practice, no source).
LEAST_AT_HALF_SIZE = 8.0


PICTURES = {
    "fit_both_stops": lambda path: limit_fit(True).plot(path, title="wing_left (invented)"),
    "fit_one_stop": lambda path: limit_fit(False).plot(path),
    "positioning": lambda path: found().plot(path),
    "robot": lambda path: robot().plot(path),
    "rehearsal": lambda path: rehearse(seed=1).plot(path),
    "rehearsal_blocked": lambda path: rehearse(seed=7, fault="range-blocked").plot(path),
    "curve_fit": lambda path: curve_fit().plot(path, title="crest (invented)"),
    "triangle": lambda path: linkage_fit("triangle").plot(path, title="neck (invented)"),
    "slider_crank": lambda path: linkage_fit("slider-crank").plot(path),
    "four_bar": lambda path: linkage_fit("four-bar").plot(path),
    "spool": lambda path: linkage_fit("spool").plot(path),
    "feedback_fit": lambda path: feedback_fit().plot(path, title="neck (invented)"),
    "joint_curve": lambda path: hip().plot(path, title="hip (invented)"),
    "joint_triangle": lambda path: jaw().plot(path),
    "bring_up": lambda path: brought_up().plot(path),
    "bring_up_typed": lambda path: typed().plot(path),
    "comparison": lambda path: compared().plot(path, title="neck (invented)"),
    "history": lambda path: worn().plot_history(path),
    "choice": lambda path: choice().plot(path, title="neck (invented)"),
}


@pytest.mark.parametrize("name", PICTURES)
def test_the_picture_is_the_one_looked_at(name: str, tmp_path: Path) -> None:
    wanted, drawn = HERE / "images" / f"{name}.png", tmp_path / f"{name}.png"
    PICTURES[name](wanted if os.environ.get("WRITE_IMAGES") else drawn)
    if not os.environ.get("WRITE_IMAGES"):
        copy = tmp_path / "wanted.png"
        copy.write_bytes(wanted.read_bytes())
        assert compare_images(str(copy), str(drawn), TOLERANCE) is None


@pytest.mark.parametrize("name", PICTURES)
def test_texts_are_legible_at_half_size_and_stay_inside(name: str) -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.axis import Axis
    from matplotlib.text import Text

    figure = PICTURES[name](io.BytesIO()).get_figure(root=True)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    width, height = canvas.get_width_height()
    ticks = {label for axis in figure.findobj(Axis) for tick in axis.get_major_ticks() for label in (tick.label1, tick.label2)}
    for text in figure.findobj(Text):
        if not text.get_visible() or not text.get_text().strip():
            continue
        assert text.get_fontsize() * figure.dpi / 72 / 2 >= LEAST_AT_HALF_SIZE, (text.get_text(), text.get_fontsize())
        # Of ticks there are more than are drawn.
        if text not in ticks:
            box = text.get_window_extent(canvas.get_renderer())
            assert box.x0 >= -1 and box.y0 >= -1 and box.x1 <= width + 1 and box.y1 <= height + 1, (text.get_text(), box)


def test_an_obstacle_is_no_contact() -> None:
    labels = rehearse(seed=7, fault="range-blocked").plot(io.BytesIO()).get_legend_handles_labels()[1]
    assert LABELS["obstacle"] in labels and LABELS["contact"] in labels
    report = rehearse(seed=7, fault="range-blocked")
    drawn = {line.get_label().lstrip("_"): line.get_xdata()[0] for line in report.plot(io.BytesIO()).lines if len(line.get_xdata()) == 2}  # type: ignore[arg-type, index]
    assert drawn[LABELS["obstacle"]] == report.contacts[["lower", "upper"].index(report.obstacle or "")]
    healthy = rehearse(seed=1)
    assert healthy.obstacle is None and LABELS["obstacle"] not in healthy.plot(io.BytesIO()).get_legend_handles_labels()[1]


def test_the_picture_of_a_choice_shows_the_criterion_that_chose() -> None:
    found = choice()
    labels = found.plot(io.BytesIO()).get_legend_handles_labels()[1]
    for index, one in enumerate(found.candidates):
        if one.fit is None:
            assert not any(label.startswith(one.kind) for label in labels)
            continue
        assert one.criterion is not None
        words = LABELS["candidate"].format(one.kind, one.parameters, f"{one.residual_sd:.3g}", f"{one.criterion:.1f}")
        assert (LABELS["chosen"].format(words) if index == found.best else words) in labels
    assert LABELS["least-criterion"] in labels


def test_words_of_pictures_are_those_of_the_core() -> None:
    """No label is written in Python: every literal that is drawn comes out of the core's table."""
    import ast
    import elbowroom

    drawn = {"set_xlabel", "set_ylabel", "set_title", "annotate", "text"}
    for file in Path(elbowroom.__file__).parent.glob("_plot*.py"):
        for node in ast.walk(ast.parse(file.read_text())):
            if not isinstance(node, ast.Call):
                continue
            name = node.func.attr if isinstance(node.func, ast.Attribute) else ""
            given = [*node.args[:1], *(word.value for word in node.keywords if word.arg == "label")] if name in drawn else [
                word.value for word in node.keywords if word.arg == "label"
            ]  # fmt: skip
            for value in given:
                literal = isinstance(value, (ast.Constant, ast.JoinedStr)) and getattr(value, "value", "") not in ("_", "")
                assert not literal, f"{file.name}:{node.lineno}"


def test_words_asked_for_are_in_the_table() -> None:
    """Names that Python asks for are there."""
    import re

    import elbowroom

    source = "".join(file.read_text() for file in Path(elbowroom.__file__).parent.glob("_plot*.py"))
    for name in re.findall(r'(?:words\(|LABELS\[)"([a-z-]+)"', source):
        assert name in LABELS


@pytest.mark.parametrize("ending", ["svg", "pdf"])
def test_other_endings(ending: str, tmp_path: Path) -> None:
    path = tmp_path / f"fit.{ending}"
    ax = limit_fit(True).plot(path)
    assert path.stat().st_size > 5000 and ax.get_ylabel() == LABELS["measured"]


def test_given_axes_are_drawn_on() -> None:
    figure = Figure()
    axes: Any = figure.subplots(1, 9)
    things: tuple[Any, ...] = (limit_fit(True), found(), robot(), curve_fit(), linkage_fit("spool"), choice(), hip(), jaw(), feedback_fit())
    for ax, thing in zip(axes, things, strict=True):
        assert thing.plot(ax=ax) is ax and ax.has_data() and ax.get_xlabel()


def test_a_fit_without_its_readings_can_be_drawn() -> None:
    assert elb.LimitFit.from_json(limit_fit(True).to_json()).plot().has_data()
    for fit in (curve_fit(), linkage_fit("triangle"), feedback_fit()):
        assert type(fit).from_json(fit.to_json()).plot().has_data()
    from matplotlib import pyplot

    pyplot.close("all")


def test_without_matplotlib_the_package_works_and_says_what_is_missing() -> None:
    code = (
        "import sys; sys.modules['matplotlib'] = None\n"
        "import elbowroom as elb\n"
        "fit = elb.fit_limits([1, 2, 3, 4, 5, 6], [1, 2, 3, 4, 5.1, 6])\n"
        "curve = elb.fit_curve([1, 2, 3, 4, 5, 6], [1, 2, 3, 4, 5.1, 6])\n"
        "for call in (fit.plot, lambda: fit.plot('x.png'), curve.plot, lambda: curve.plot('x.png')):\n"
        "    try: call()\n"
        "    except ImportError as error: assert isinstance(error, elb.ElbowroomError); print(error)\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert run.returncode == 0 and run.stdout.count("pip install elbowroom[plot]") == 4, run.stderr


def test_what_is_no_picture_is_refused(tmp_path: Path) -> None:
    fit = limit_fit(True)
    for path, says in ((3, "path is of type int; give a file name"), (".", "path is '.'; give a file name that ends in .svg"), (tmp_path, "give a file name that ends in"), ("fit.xyz", "give a file name that ends in")):
        with pytest.raises(elb.ArgumentError, match=says):
            fit.plot(path)  # type: ignore[arg-type]
    with pytest.raises(elb.ArgumentTypeError, match="ax is of type str; give matplotlib axes"):
        fit.plot(ax="hello")  # type: ignore[arg-type]
    for thing in (fit, worked_example()):
        with pytest.raises(elb.FileAccessError, match="x.png: the file cannot be written: the folder .*nowhere does not exist; make it") as caught:
            thing.plot(tmp_path / "nowhere" / "x.png")
        assert isinstance(caught.value, OSError) and caught.value.file == str(tmp_path / "nowhere" / "x.png")
    (tmp_path / "file").touch()
    with pytest.raises(elb.FileAccessError, match="is not a folder; name another path"):
        fit.plot(str(tmp_path / "file" / "x.svg"))
