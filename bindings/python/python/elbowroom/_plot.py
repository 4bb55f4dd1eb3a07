"""Pictures of fits and robots. Needs matplotlib: ``pip install elbowroom[plot]``."""

from __future__ import annotations

from os import PathLike
from typing import TYPE_CHECKING, Any

import numpy as np

from elbowroom._core import COLOURS, LABELS
from elbowroom._errors import ElbowroomError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from elbowroom import LimitFit, Positioning, Robot

# The look that the shell's pictures and its report have too.
INK, QUIET, GRID = COLOURS["ink"], COLOURS["quiet"], COLOURS["grid"]
TRAVEL, GUARD, STOP = COLOURS["travel"], COLOURS["guard"], COLOURS["stop"]
BELOW, ABOVE = COLOURS["below"], COLOURS["above"]
# How readings are drawn that were reached with the drive rising, falling, and from no noted side: the mark points the way.
SIDES: tuple[tuple[str, str, dict[str, Any], str], ...] = (
    ("below", ">", {"mfc": "none", "mec": BELOW, "mew": 1.2}, LABELS["reading-below"]),
    ("above", "<", {"mfc": ABOVE, "mec": ABOVE, "mew": 1.2}, LABELS["reading-above"]),
    ("", "o", {"mfc": "none", "mec": BELOW, "mew": 1.2}, LABELS["reading"]),
)
DRIVE_ANGLE = LABELS["drive-angle"]
DPI = 120


class PlotUnavailableError(ElbowroomError, ImportError):
    """matplotlib is not installed; an ImportError too."""


PlotUnavailableError.__module__ = "elbowroom"


def axes(ax: Axes | None, path: str | PathLike[str] | None, size: tuple[float, float]) -> Axes:
    """The axes given; else new ones, known to pyplot only where no file is asked for."""
    if ax is not None:
        return ax
    try:
        if path is None:
            from matplotlib import pyplot

            return pyplot.subplots(figsize=size, dpi=DPI, layout="constrained")[1]
        from matplotlib.figure import Figure
    except ImportError as error:
        raise PlotUnavailableError("plots need matplotlib: pip install elbowroom[plot]") from error
    return Figure(figsize=size, dpi=DPI, layout="constrained").add_subplot()


def mosaic(ax: Axes | None, path: Any, rows: Any, size: tuple[float, float], **ratios: Any) -> dict[str, Axes]:
    """The axes given as "main"; else a new figure's, known to pyplot only where no file is asked for."""
    if ax is not None:
        return {"main": ax}
    try:
        if path is None:
            from matplotlib import pyplot

            figure = pyplot.figure(figsize=size, dpi=DPI, layout="constrained")
        else:
            from matplotlib.figure import Figure

            figure = Figure(figsize=size, dpi=DPI, layout="constrained")
    except ImportError as error:
        raise PlotUnavailableError("plots need matplotlib: pip install elbowroom[plot]") from error
    made: dict[str, Axes] = figure.subplot_mosaic(rows, **ratios)
    return made


def saved(ax: Axes, path: str | PathLike[str] | None) -> Axes:
    if path is not None:
        figure = ax.get_figure(root=True)
        assert figure is not None
        # The same numbers give the same file.
        metadata: dict[str, Any] = {"Date": None} if str(path).endswith(".svg") else {}
        figure.savefig(path, dpi=DPI, metadata=metadata)
    return ax


def legend(ax: Axes, own: bool, columns: int) -> None:
    """Below the axes where the figure is ours, else inside the axes that were given."""
    handles, labels = ax.get_legend_handles_labels()
    if handles and own:
        figure = ax.get_figure()
        assert figure is not None
        figure.legend(
            handles, labels, loc="outside lower center", ncols=columns, frameon=False, fontsize="small",
            columnspacing=1.4, handlelength=1.6,
        )  # fmt: skip
    elif handles:
        ax.legend(handles, labels, fontsize="small")


def limit_fit(fit: LimitFit, path: Any, ax: Axes | None, title: str | None) -> Axes:
    own = ax is None
    ax = axes(ax, path, (7.2, 5.0))
    drive, measured = np.array(fit.drive), np.array(fit.measured)
    rejected = {one.index for one in fit.rejected}
    kept = np.array([i not in rejected for i in range(len(drive))], bool)
    approach = np.array([word or "" for word in (fit.approach or [None] * len(drive))], dtype=str)
    for word, marker, style, label in SIDES:
        chosen = kept & (approach == word)
        if chosen.any():
            ax.plot(drive[chosen], measured[chosen], marker, ms=5, ls="none", label=label, **style)
    if (~kept).any():
        ax.plot(drive[~kept], measured[~kept], "x", color=STOP, ms=7, mew=1.8, label=LABELS["left-out"])

    ends = [fit.lower.at, fit.upper.at, *drive]
    low, high = min(ends), max(ends)
    x = np.unique(np.concatenate([np.linspace(low, high, 400), [fit.lower.at, fit.upper.at]]))
    ax.plot(x, fit.expected(x), "-", color=INK, lw=1.2, label=LABELS["model"])
    for end, name in ((fit.lower, "lower"), (fit.upper, "upper")):
        if end.kind == "contact":
            ax.axvline(end.at, color=STOP, lw=1.8, label=f"{name} stop found at {end.at:.1f}")
            if end.interval is not None:
                ax.axvspan(*end.interval, color=STOP, alpha=0.25, lw=0, label=f"its {fit.confidence:.0%} interval")
        elif end.short_at is not None:
            ax.axvspan(
                *sorted((end.at, end.short_at)), fc="none", ec=STOP, lw=0, hatch="///",
                label=f"{name}: stalled between {end.at:.1f} and {end.short_at:.1f}",
            )  # fmt: skip
        else:
            ax.axvline(end.at, color=QUIET, lw=1.2, ls=":", label=f"{name}: no stop found, clear to {end.at:.1f}")
    if fit.travel is not None:
        ax.axvspan(*fit.travel, ymax=0.025, color=TRAVEL, lw=0, label=f"travel {fit.travel[0]:.1f} to {fit.travel[1]:.1f}")
    ax.set_xlabel(DRIVE_ANGLE)
    ax.set_ylabel(LABELS["measured"])
    if title:
        ax.set_title(title)
    ax.margins(x=0.03, y=0.08)
    legend(ax, own, 3)
    return saved(ax, path)


def positioning(found: Positioning, path: Any, ax: Axes | None, title: str | None) -> Axes:
    own = ax is None
    ax = axes(ax, path, (7.2, 4.6))
    targets = np.array([one.target for one in found.targets])
    order = np.argsort(targets)
    shown: set[str] = set()
    for approach, positions in found.runs:
        marker, colour = (">", BELOW) if approach == "below" else ("<", ABOVE)
        label = f"run from {approach}"
        ax.plot(
            targets, np.array(positions) - targets, marker, color=colour, ms=4, alpha=0.6, mew=0,
            label="_" + label if label in shown else label,
        )  # fmt: skip
        shown.add(label)
    for name, colour, side in (("below", BELOW, "up"), ("above", ABOVE, "down")):
        sides = [getattr(one, side) for one in found.targets]
        if any(one is None for one in sides):
            continue
        mean = np.array([one.mean for one in sides])[order]
        spread = 2 * np.array([one.s for one in sides])[order]
        ax.plot(targets[order], mean, "-", color=colour, lw=1.4, label=f"mean from {name}")
        ax.fill_between(targets[order], mean - spread, mean + spread, color=colour, alpha=0.15, lw=0, label="mean ± 2 s")
    ax.axhline(0, color=INK, lw=0.8)
    ax.set_xlabel("target, deg")
    ax.set_ylabel("deviation, deg")
    if found.both is not None:
        both = found.both
        told = f"A {both.accuracy:.3g}   E {both.systematic:.3g}   R {both.repeatability:.3g}   B {both.reversal:.3g}"
        title = f"{title}\n{told}" if title else told
    if title:
        ax.set_title(title, fontsize="medium")
    legend(ax, own, 3)
    return saved(ax, path)


def robot(robot: Robot, path: Any, ax: Axes | None, title: str | None) -> Axes:
    names = list(robot)
    own = ax is None
    ax = axes(ax, path, (7.2, 1.6 + 0.36 * max(len(names), 1)))
    shown: set[str] = set()

    def once(label: str) -> str:
        """One legend entry for all joints."""
        if label in shown:
            return "_" + label
        shown.add(label)
        return label

    for row, name in enumerate(names):
        entry = robot.entry(name)
        joint = entry.joint
        bars: tuple[tuple[tuple[float, float], float, dict[str, Any], str], ...] = (
            (joint.servo.angle_range, 0.2, {"color": GRID}, LABELS["servo-angle"]),
            (joint.drive_range, 0.72, {"fc": "none", "ec": QUIET, "ls": "--"}, LABELS["drive-range"]),
            (joint.travel, 0.5, {"fc": (TRAVEL, 0.3), "ec": TRAVEL}, LABELS["travel-bar"]),
        )
        for span, height, colour, label in bars:
            ax.barh(row, span[1] - span[0], height, span[0], label=once(label), **colour)
        rest = joint.drive(joint.rest)
        ax.plot(rest, row, "^", color=INK, ms=7, label=once(LABELS["rest"]))
        for end in (entry.evidence.lower, entry.evidence.upper):
            if end is not None:
                marks: dict[str, tuple[str, dict[str, Any], str]] = {
                    "contact": ("|", {"color": STOP, "ms": 17, "mew": 2.4}, "stop-found"),
                    "stalled": ("|", {"color": STOP, "ms": 17, "mew": 1.0}, "stalled"),
                    "clear": ("o", {"mfc": "white", "mec": INK, "ms": 6}, "no-stop"),
                    "declared": ("|", {"color": INK, "ms": 17, "mew": 1.4}, "declared"),
                }
                marker, style, label = marks[end.kind]
                ax.plot(end.at, row, marker, ls="none", label=once(LABELS[label]), **style)
                if end.short_at is not None:
                    low, high = sorted((end.at, end.short_at))
                    ax.barh(row, high - low, 0.6, low, fc="none", ec=STOP, hatch="////", lw=0.8)
    ax.set_yticks(range(len(names)), names)
    ax.invert_yaxis()
    ax.set_xlabel(DRIVE_ANGLE)
    ax.set_title(title or robot.name or "")
    legend(ax, own, 4)
    return saved(ax, path)
