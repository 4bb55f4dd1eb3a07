"""Pictures of what changes: of a joint's calibrations over time, and of one compared with another."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING, Any

from elbowroom import _plot
from elbowroom._core import LABELS, rounded
from elbowroom._plot import Once, area, line, mark, words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from elbowroom import Comparison, Entry, Evidence

# How an end is drawn, by what proves it: its words and its mark, or the line whose short dash it is.
_PROOFS: dict[str | None, tuple[str, str]] = {
    "contact": ("stop-here", "stop"), "stalled": ("stalled-here", "held-from"), "clear": ("clear-here", "ring"),
    "declared": ("declared", "clear"), None: ("lost-motion", "dot"),
}  # fmt: skip


def history(entry: Entry, path: Any, ax: Axes | None, title: str | None) -> Axes:
    own, once = ax is None, Once()
    rows = ["upper", "lower", "lost"]
    parts = _plot.mosaic(ax, path, [["main"], *([name] for name in rows[1:])], (7.2, 5.8))
    dated: list[tuple[datetime.date, Evidence]] = [(one.date, one) for one in (*entry.history, entry.evidence) if one.date is not None]
    dated.sort(key=lambda one: one[0])
    main = parts["main"]
    for name, panel in zip(rows, parts.values(), strict=False):
        points: list[tuple[datetime.date, float, float | None, str | None]] = []
        for date, evidence in dated:
            if name == "lost":
                if evidence.lost_motion is not None:
                    points.append((date, evidence.lost_motion.value, evidence.lost_motion.u, None))
            else:
                end = evidence.upper if name == "upper" else evidence.lower
                if end is not None:
                    points.append((date, end.at, end.u, end.kind))
        _panel(main, panel, points, once)
        panel.set_ylabel(words("in-unit", LABELS["lost-motion" if name == "lost" else f"{name}-end"], LABELS["deg"]))
        panel.grid(color=line("grid")["color"], lw=line("grid")["lw"])
        if panel is not main:
            panel.sharex(main)
    below = list(parts.values())
    for panel in below[:-1]:
        panel.tick_params(labelbottom=False)
    below[-1].set_xlabel(LABELS["calibration-day"])
    # A day is a long word: few of them, and those as the calendar has them.
    if dated:
        from matplotlib.dates import AutoDateLocator, ConciseDateFormatter

        locator = AutoDateLocator(minticks=2, maxticks=7)  # type: ignore[no-untyped-call]
        below[-1].xaxis.set_major_locator(locator)
        below[-1].xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]
    main.set_title(title or words("calibrations", entry.joint.name))
    _plot.legend(main, own)
    return _plot.saved(main, path)


def _panel(main: Axes, panel: Axes, points: list[tuple[datetime.date, float, float | None, str | None]], once: Once) -> None:
    if not points:
        panel.annotate(LABELS["not-known"], (0.5, 0.5), xycoords="axes fraction", ha="center", va="center")
        panel.set_yticks([])
        return
    days: list[Any] = [point[0] for point in points]
    panel.plot(days, [point[1] for point in points], **line("trend"))
    sure = [(day, value, 2 * u) for day, (_, value, u, _) in zip(days, points, strict=True) if u is not None]
    if sure:
        axis = line("axis")
        panel.errorbar(
            [one[0] for one in sure], [one[1] for one in sure], [one[2] for one in sure], fmt="none", ecolor=axis["color"],
            elinewidth=axis["lw"],
        )  # fmt: skip
    for kind, (label, drawn) in _PROOFS.items():
        chosen = [(day, point[1]) for day, point in zip(days, points, strict=True) if point[3] == kind]
        if chosen:
            if drawn in ("stop", "clear"):
                stroke = line(drawn)
                style = {"marker": "_", "ls": "none", "ms": 10 * _plot.POINTS, "mew": stroke["lw"], "mec": stroke["color"]}
            else:
                style = mark(drawn, 3.5)
            panel.plot([one[0] for one in chosen], [one[1] for one in chosen], **style)
            main.plot([], [], label=once(LABELS[label]), **style)
    if sure:
        main.plot([], [], label=once(LABELS["two-u"]), **line("axis"))
    panel.margins(y=0.15)


def comparison(found: Comparison, path: Any, ax: Axes | None, title: str | None) -> Axes:
    own, once = ax is None, Once()
    ax = _plot.axes(ax, path, (7.2, 1.7 + 0.5 * len(found.changes)))
    ax.axvspan(-1, 1, label=LABELS["verdict-negligible"], **area("band"))
    ax.axvline(0, **line("axis"))
    said = []
    for row, change in enumerate(found.changes):
        verdict = LABELS[f"verdict-{change.verdict}"]
        if change.difference is None:
            said.append(verdict)
            continue
        at, u = change.difference.value / change.smallest, 2 * change.difference.u / change.smallest
        ax.plot([at - u, at + u], [row, row], label=once(LABELS["two-u"]), **line("axis"))
        name, label = ("dot", "verdict-changed") if change.verdict == "changed" else ("ring", "verdict-other")
        ax.plot(at, row, label=once(LABELS[label]), **mark(name, 5))
        sign = "+" if change.difference.value > 0 else ""
        by = f"{sign}{rounded(change.difference.value, change.difference.u)}"
        said.append(f"{words('at-least', by) if change.at_least else by}\n{verdict}")
    ax.set_yticks(range(len(said)), [LABELS[f"quantity-{change.quantity}"] for change in found.changes])
    ax.set_ylim(len(said) - 0.5, -0.5)
    right = ax.secondary_yaxis("right")
    right.set_yticks(range(len(said)), said)
    right.tick_params(length=0)
    low, high = ax.get_xlim()
    ax.set_xlim(min(low, -1.5), max(high, 1.5))
    ax.set_xlabel(LABELS["change"])
    if title:
        ax.set_title(title)
    _plot.legend(ax, own)
    return _plot.saved(ax, path)
