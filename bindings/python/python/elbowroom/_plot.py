"""Pictures of fits and robots. Needs matplotlib: ``pip install elbowroom[plot]``.

Colours, marks, lines, areas and words are those of the core, which the shell's pictures and its report have too.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from elbowroom import _core
from elbowroom._core import COLOURS, LABELS, LOOK, rounded, statistic
from elbowroom._errors import ArgumentError, ArgumentTypeError, ElbowroomError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from elbowroom import LimitFit, Positioning, Robot

INK, QUIET, GRID = COLOURS["ink"], COLOURS["quiet"], COLOURS["grid"]
TRAVEL, GUARD, STOP = COLOURS["travel"], COLOURS["guard"], COLOURS["stop"]
BELOW, ABOVE = COLOURS["below"], COLOURS["above"]
DRIVE_ANGLE = LABELS["drive-angle"]
# The class of a reading's mark and its words, by the side from which it was reached.
SIDES = {"below": LABELS["reading-below"], "above": LABELS["reading-above"], "": LABELS["reading"]}
# Size of the smallest letters, points.
SMALL = 8.4
# Pictures are drawn smaller by this and printed finer, so that their texts are legible at half size.
SMALLER = 5 / 6
DPI = 144
# Points of a length that is 1 in a picture 720 wide, where ours are 7.2 inches wide before that.
POINTS = 0.72 * SMALLER
_SHAPES = {"circle": "o", "square": "s", "plus": "P", "cross": "x", "right": ">", "left": "<", "up": "^"}
# Height of the strip of travel and guard at the foot of a picture, in parts of it.
STRIP = 0.03


class PlotUnavailableError(ElbowroomError, ImportError):
    """matplotlib is not installed; an ImportError too."""


PlotUnavailableError.__module__ = "elbowroom"


def words(name: str, *values: object) -> str:
    """Words of the core's look, with values in their places."""
    return str(LABELS[name].format(*values))


def number(value: float, decimals: int = 2) -> str:
    """A number without zeros that say nothing."""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def mark(name: str, size: float) -> dict[str, Any]:
    """How matplotlib draws a mark of the core's look that reaches so far from its place."""
    shape, colour, inside, width = LOOK["marks"][name]
    face = {"nothing": "none", "paper": COLOURS["card"], "full": colour}[inside]
    return {
        "marker": _SHAPES[shape], "ls": "none", "ms": 2 * size * POINTS, "mfc": face, "mec": colour, "mew": width * POINTS,
    }  # fmt: skip


def line(name: str) -> dict[str, Any]:
    """How matplotlib draws a line of the core's look."""
    colour, width, dashes = LOOK["lines"][name]
    style: Any = (0, tuple(part / width for part in dashes)) if dashes else "-"
    return {"color": colour, "lw": width * POINTS, "ls": style}


def area(name: str) -> dict[str, Any]:
    """How matplotlib fills an area of the core's look."""
    colour, opacity, strokes, edge = LOOK["areas"][name]
    drawn = {"ec": colour if edge or strokes else "none", "lw": edge * POINTS}
    return drawn | ({"fc": COLOURS["card"], "hatch": 4 * strokes} if strokes else {"fc": (colour, opacity)})


class Once:
    """Words that stand in the legend once."""

    def __init__(self) -> None:
        self._said: set[str] = set()

    def __call__(self, text: str) -> str:
        if text in self._said:
            return "_" + text
        self._said.add(text)
        return text


def axes(ax: Axes | None, path: str | PathLike[str] | None, size: tuple[float, float]) -> Axes:
    """The axes given; else new ones, known to pyplot only where no file is asked for."""
    return mosaic(ax, path, [["main"]], size)["main"]


def _ending(path: str | PathLike[str]) -> str:
    return Path(path).suffix.removeprefix(".").lower()


def _check(ax: Any, path: Any) -> None:
    """Refuses what is not axes and not a file that a picture can be saved as, before anything is drawn."""
    if path is not None:
        if callable(getattr(path, "write", None)):
            path = None
        elif not isinstance(path, (str, PathLike)):
            sentence = f"path is of type {type(path).__name__}; give a file name such as 'fit.svg'"
            raise ArgumentTypeError(sentence, code="wrong-type", value=path)
    if path is not None:
        try:
            from matplotlib.backend_bases import FigureCanvasBase
        except ImportError as error:
            raise PlotUnavailableError("plots need matplotlib: pip install elbowroom[plot]") from error
        ending = _ending(path)
        known = FigureCanvasBase.get_supported_filetypes()
        if ending not in known or Path(path).is_dir():
            sentence = f"path is {str(path)!r}; give a file name that ends in .svg, .png or .pdf"
            raise ArgumentError(sentence, code="option-outside", value=path)
    if ax is not None and not callable(getattr(ax, "get_figure", None)):
        sentence = f"ax is of type {type(ax).__name__}; give matplotlib axes, or leave it out for a new figure"
        raise ArgumentTypeError(sentence, code="wrong-type", value=ax)


def mosaic(ax: Axes | None, path: Any, rows: Any, size: tuple[float, float], **ratios: Any) -> dict[str, Axes]:
    """The axes given as "main"; else a new figure's, known to pyplot only where no file is asked for."""
    _check(ax, path)
    if ax is not None:
        return {"main": ax}
    size = (size[0] * SMALLER, size[1] * SMALLER)
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
        if isinstance(path, (str, PathLike)):
            picture = io.BytesIO()
            figure.savefig(picture, format=_ending(path), dpi=DPI, metadata=metadata)
            _core.file_write(path, picture.getvalue())
        else:
            figure.savefig(path, dpi=DPI, metadata=metadata)
    return ax


# Of a legend, in parts of its letters' size: a letter's mean width, a mark with its gaps, the gap between columns.
_LETTER, _HANDLE, _GAP = 0.58, 2.8, 1.4


def _columns(labels: Sequence[str], room: float) -> int:
    """How many columns of a legend, filled one after the other, have room; in parts of the letters' size."""
    for columns in range(min(4, len(labels)), 1, -1):
        lengths = np.array_split([len(label) for label in labels], columns)
        if sum(_HANDLE + _LETTER * max(column) + _GAP for column in lengths) <= room:
            return columns
    return 1


def legend(ax: Axes, own: bool) -> None:
    """Below the axes where the figure is ours, else inside the axes that were given."""
    handles, labels = ax.get_legend_handles_labels()
    if handles and own:
        figure = ax.get_figure(root=True)
        assert figure is not None
        size = SMALL
        figure.legend(
            handles, labels, loc="outside lower center", ncols=_columns(labels, 72 * figure.get_figwidth() / size), frameon=False,
            fontsize=size, columnspacing=_GAP, handlelength=_HANDLE - 1, handletextpad=0.7,
        )  # fmt: skip
    elif handles:
        ax.legend(handles, labels, fontsize=SMALL)


def readings(ax: Axes, at: Any, value: Any, sides: Sequence[str], left_out: Any, size: float = 4.5, legend: bool = True) -> None:
    """Readings, each with the mark of its side; a cross over those that were left out."""
    at, value, of = np.asarray(at), np.asarray(value), np.array(sides, dtype=str)
    for side, label in SIDES.items():
        chosen = of == side
        if chosen.any():
            ax.plot(at[chosen], value[chosen], label=label if legend else "_", zorder=2.5, **mark(side or "reading", size))
    if np.any(left_out):
        ax.plot(at[left_out], value[left_out], label=LABELS["left-out"] if legend else "_", zorder=2.6, **mark("rejected", 1.5 * size))


def top_words(ax: Axes, at: float, text: str, is_lower: bool) -> None:
    """Words above the axes, at a drive angle."""
    ax.annotate(
        text, (at, 1.0), (0, 4), xycoords=("data", "axes fraction"), textcoords="offset points", ha="left" if is_lower else "right",
        va="bottom", fontsize=SMALL, color=INK, annotation_clip=False,
    )  # fmt: skip


def ends(ax: Axes, lower: Any, upper: Any, travel: tuple[float, float] | None) -> None:
    """Both ends of a travel with what was found there, their guards, and the travel."""
    once = Once()
    for end, is_lower in ((lower, True), (upper, False)):
        if end is None:
            continue
        if end.kind == "contact":
            if end.interval is not None:
                ax.axvspan(*end.interval, **area("known"))
            ax.axvline(end.at, label=once(LABELS["stop-found"]), **line("stop"))
            top_words(ax, end.at, words("stop-at", rounded(end.at, end.u)), is_lower)
        elif end.short_at is not None:
            low, high = sorted((end.at, end.short_at))
            ax.axvspan(low, high, label=once(LABELS["stalled"]), zorder=0.9, **area("held"))
            top_words(ax, low if is_lower else high, words("stalled-between", number(low), number(high)), is_lower)
        else:
            ax.axvline(end.at, ymin=0.97, label=once(LABELS["clear-here"]), **line("clear"))
            top_words(ax, end.at, words("clear-to", number(end.at)), is_lower)
        if end.kind != "clear" and end.travel != end.at:
            low, high = sorted((end.at, end.travel))
            ax.axvspan(low, high, ymax=STRIP, label=once(LABELS["kept-clear"]), **area("guard"))
    if travel is not None:
        ax.axvspan(*travel, ymax=STRIP, label=words("travel-of", *map(number, travel)), **area("travel"))


def titled(ax: Axes, title: str | None, small: bool = False) -> None:
    """A title above the words of both ends."""
    if title:
        ax.set_title(title, pad=20, fontsize="medium" if small else "large")


def limit_fit(fit: LimitFit, path: Any, ax: Axes | None, title: str | None) -> Axes:
    return fitted(fit, fit.lower, fit.upper, fit.travel, path, ax, title, False)


def fitted(
    fit: LimitFit, lower: Any, upper: Any, travel: tuple[float, float] | None, path: Any, ax: Axes | None, title: str | None, small: bool
) -> Axes:
    """Readings, model and ends, and below them the residuals of the readings."""
    own = ax is None
    parts = mosaic(ax, path, [["main"], ["left"]], (7.2, 5.8), height_ratios=[3, 1])
    ax = parts["main"]
    drive, measured = np.array(fit.drive), np.array(fit.measured)
    rejected = {one.index for one in fit.rejected}
    left_out = np.array([i in rejected for i in range(len(drive))], bool)
    sides = [side or "" for side in fit.approach or (None,) * len(drive)]
    if drive.size:
        readings(ax, drive, measured, sides, left_out)
    known = [fit.lower.at, fit.upper.at, *drive]
    contacts = [end.at for end in (fit.lower, fit.upper) if end.kind == "contact"]
    x = np.unique(np.concatenate([np.linspace(min(known), max(known), 400), contacts]))
    ax.plot(x, fit.expected(x), label=LABELS["model"], **line("model"))
    lost = fit.lost_motion
    if lost.value is not None and fit.approach is not None:
        inside = (x >= fit.lower.at) & (x <= fit.upper.at)
        for half, label in ((-0.5, LABELS["model-by-side"]), (0.5, "_")):
            ax.plot(x[inside], fit.expected(x[inside]) + half * lost.value, label=label, **line("by-side"))
    ends(ax, lower, upper, travel)
    ax.set_ylabel(LABELS["measured"])
    titled(ax, title, small)
    ax.margins(x=0.03, y=0.08)
    if "left" in parts and drive.size:
        strip = parts["left"]
        residuals = np.array(fit.residuals)
        most = 1.15 * max(np.abs(residuals[~left_out]), default=1.0) or 1.0
        strip.axhspan(-fit.residual_sd, fit.residual_sd, **area("band"))
        ax.fill_between([], [], label=LABELS["residual-sd"], **area("band"))
        strip.axhline(0, **line("axis"))
        outside = np.abs(residuals) > most
        seen = ~outside
        readings(strip, drive[seen], residuals[seen], np.array(sides)[seen].tolist(), left_out[seen], 3.0, False)
        strip.set_ylim(-most, most)
        beyond(ax, strip, drive[outside], residuals[outside], most)
        strip.set_ylabel(LABELS["residual"])
        strip.set_xlabel(DRIVE_ANGLE)
        strip.sharex(ax)
        ax.tick_params(labelbottom=False)
    else:
        if "left" in parts:
            parts["left"].remove()
        ax.set_xlabel(DRIVE_ANGLE)
    legend(ax, own)
    return saved(ax, path)


def beyond(main: Axes, strip: Axes, at: Any, value: Any, most: float) -> None:
    """Arrows at the edge of a strip, towards what lies outside."""
    for up in (True, False):
        chosen = (value > 0) == up
        if chosen.any():
            style = mark("outside", 6) | ({} if up else {"marker": "v"})
            strip.plot(at[chosen], np.full(chosen.sum(), (0.9 if up else -0.9) * most), **style)
    if len(at):
        main.plot([], [], label=LABELS["outside"], **mark("outside", 5))


def positioning(found: Positioning, path: Any, ax: Axes | None, title: str | None) -> Axes:
    own, once = ax is None, Once()
    ax = axes(ax, path, (7.2, 4.6))
    targets = np.array([one.target for one in found.targets])
    order = np.argsort(targets)
    for approach, positions in found.runs:
        ax.plot(targets, np.array(positions) - targets, label=once(words("run-from", approach)), alpha=0.6, **mark(approach, 2.6))
    for name, colour, side in (("below", BELOW, "up"), ("above", ABOVE, "down")):
        sides = [getattr(one, side) for one in found.targets]
        if any(one is None for one in sides):
            continue
        mean = np.array([one.mean for one in sides])[order]
        spread = 2 * np.array([one.s for one in sides])[order]
        ax.plot(targets[order], mean, "-", color=colour, lw=1.4, label=words("mean-from", name))
        ax.fill_between(targets[order], mean - spread, mean + spread, color=colour, alpha=0.15, lw=0, label=LABELS["two-s"])
    ax.axhline(0, **line("axis"))
    ax.set_xlabel(LABELS["target"])
    ax.set_ylabel(LABELS["deviation"])
    if found.both is not None:
        both = found.both
        told = words("positioning", *map(statistic, (both.accuracy, both.systematic, both.repeatability, both.reversal)))
        title = f"{title}\n{told}" if title else told
    if title:
        ax.set_title(title, fontsize="medium")
    legend(ax, own)
    return saved(ax, path)


# How an end of a joint is drawn among others: as a mark, or as an upright line.
_UPRIGHT = {"contact": ("stop", "stop-found"), "declared": ("clear", "declared")}


def robot(robot: Robot, path: Any, ax: Axes | None, title: str | None) -> Axes:
    names = list(robot)
    own, once = ax is None, Once()
    ax = axes(ax, path, (7.2, 1.6 + 0.36 * max(len(names), 1)))
    bars: tuple[tuple[str, float, str], ...] = (("servo", 0.2, "servo-angle"), ("range", 0.72, "drive-range"), ("travel", 0.5, "travel-bar"))
    for row, name in enumerate(names):
        entry = robot.entry(name)
        joint = entry.joint
        spans: Iterable[tuple[float, float]] = (joint.servo.angle_range, joint.drive_range, joint.travel)
        for (kind, height, label), span in zip(bars, spans, strict=True):
            if kind == "range":
                edge = line(kind)
                style = {"fc": "none", "ec": edge["color"], "lw": edge["lw"], "ls": edge["ls"]}
            else:
                style = area(kind)
            ax.barh(row, span[1] - span[0], height, span[0], label=once(LABELS[label]), **style)
        for end, limit in ((entry.evidence.lower, joint.travel[0]), (entry.evidence.upper, joint.travel[1])):
            if end is None:
                continue
            if end.kind in ("contact", "stalled") and end.at != limit:
                low, high = sorted((end.at, limit))
                ax.barh(row, high - low, 0.5, low, label=once(LABELS["kept-clear"]), **area("guard"))
            if end.kind in _UPRIGHT:
                upright, label = _UPRIGHT[end.kind]
                if end.u is not None:
                    ax.barh(row, 4 * end.u, 0.7, end.at - 2 * end.u, **area("known"))
                ax.vlines(end.at, row - 0.38, row + 0.38, label=once(LABELS[label]), **_vertical(upright))
            elif end.short_at is not None:
                low, high = sorted((end.at, end.short_at))
                ax.barh(row, high - low, 0.6, low, label=once(LABELS["stalled"]), **area("held"))
            else:
                ax.plot(end.at, row, label=once(LABELS["clear-here"]), **mark("ring", 4.5))
        ax.plot(joint.drive(joint.rest), row, label=once(LABELS["rest"]), **mark("rest", 5))
    ax.set_yticks(range(len(names)), names)
    ax.invert_yaxis()
    ax.set_xlabel(DRIVE_ANGLE)
    ax.set_title(title or robot.name or "")
    legend(ax, own)
    return saved(ax, path)


def _vertical(name: str) -> dict[str, Any]:
    """The same line for matplotlib's vlines, which has other names for it."""
    drawn = line(name)
    return {"colors": drawn["color"], "lw": drawn["lw"], "ls": drawn["ls"]}
