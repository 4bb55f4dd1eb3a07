"""Pictures of fits and robots. Needs matplotlib: ``pip install elbowroom[plot]``."""

from __future__ import annotations

from os import PathLike
from typing import TYPE_CHECKING, Any

import numpy as np

from elbowroom._errors import ElbowroomError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from elbowroom import LimitFit, Positioning, Robot

# Told apart by readers of every colour vision. Source: M. Okabe and K. Ito, "Color Universal Design" (2008).
BLUE, ORANGE, GREEN, RED, SKY, PURPLE = "#0072B2", "#E69F00", "#009E73", "#D55E00", "#56B4E9", "#CC79A7"
GREY = "#888888"
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
    for word, marker, colour, label in (
        ("below", "^", BLUE, "reading, from below"),
        ("above", "v", PURPLE, "reading, from above"),
        ("", "o", BLUE, "reading"),
    ):
        chosen = kept & (approach == word)
        if chosen.any():
            ax.plot(drive[chosen], measured[chosen], marker, color=colour, ms=5, alpha=0.75, mew=0, label=label)
    if (~kept).any():
        ax.plot(drive[~kept], measured[~kept], "x", color=RED, ms=7, mew=1.8, label="misreading, left out")

    ends = [fit.lower.at, fit.upper.at, *drive]
    low, high = min(ends), max(ends)
    x = np.unique(np.concatenate([np.linspace(low, high, 400), [fit.lower.at, fit.upper.at]]))
    ax.plot(x, fit.expected(x), "-", color="black", lw=1.2, label="model")
    for end, name in ((fit.lower, "lower"), (fit.upper, "upper")):
        if end.kind == "contact":
            ax.axvline(end.at, color=ORANGE, lw=1.5, label=f"{name} stop at {end.at:.1f}")
            if end.interval is not None:
                ax.axvspan(*end.interval, color=ORANGE, alpha=0.25, lw=0, label=f"its {fit.confidence:.0%} interval")
        elif end.short_at is not None:
            ax.axvspan(
                *sorted((end.at, end.short_at)), color=ORANGE, alpha=0.15, lw=0, hatch="///",
                label=f"{name}: stalled between {end.at:.1f} and {end.short_at:.1f}",
            )  # fmt: skip
        else:
            ax.axvline(end.at, color=GREY, lw=1.2, ls=":", label=f"{name}: clear to {end.at:.1f}, no stop found")
    if fit.travel is not None:
        ax.axvspan(*fit.travel, ymax=0.025, color=GREEN, lw=0, label=f"travel {fit.travel[0]:.1f} to {fit.travel[1]:.1f}")
    ax.set_xlabel("drive angle / deg")
    ax.set_ylabel("measured")
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
        marker, colour = ("^", BLUE) if approach == "below" else ("v", RED)
        label = f"run from {approach}"
        ax.plot(
            targets, np.array(positions) - targets, marker, color=colour, ms=4, alpha=0.6, mew=0,
            label="_" + label if label in shown else label,
        )  # fmt: skip
        shown.add(label)
    for name, colour, side in (("below", BLUE, "up"), ("above", RED, "down")):
        sides = [getattr(one, side) for one in found.targets]
        if any(one is None for one in sides):
            continue
        mean = np.array([one.mean for one in sides])[order]
        spread = 2 * np.array([one.s for one in sides])[order]
        ax.plot(targets[order], mean, "-", color=colour, lw=1.4, label=f"mean from {name}")
        ax.fill_between(targets[order], mean - spread, mean + spread, color=colour, alpha=0.15, lw=0, label="mean ± 2 s")
    ax.axhline(0, color="black", lw=0.8)
    ax.set_xlabel("target / deg")
    ax.set_ylabel("deviation / deg")
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
        for span, height, colour, label in (
            (joint.servo.angle_range, 0.72, "#E4E4E4", "servo angle"),
            (joint.drive_range, 0.44, SKY, "drive range"),
            (joint.travel, 0.22, GREEN, "travel"),
        ):
            ax.barh(row, span[1] - span[0], height, span[0], color=colour, label=once(label))
        rest = joint.drive(joint.rest)
        ax.plot(rest, row, "o", color="white", mec="black", ms=6, label=once("rest"))
        for end in (entry.evidence.lower, entry.evidence.upper):
            if end is not None:
                colour = {"contact": RED, "stalled": ORANGE, "clear": BLUE, "declared": GREY}[end.kind]
                ax.plot(end.at, row, "|", color=colour, ms=17, mew=2.2, label=once(f"{end.kind}"))
                if end.short_at is not None:
                    ax.plot([end.at, end.short_at], [row, row], "-", color=colour, lw=6, alpha=0.4)
    ax.set_yticks(range(len(names)), names)
    ax.invert_yaxis()
    ax.set_xlabel("drive angle / deg")
    ax.set_title(title or robot.name or "")
    legend(ax, own, 7)
    return saved(ax, path)
