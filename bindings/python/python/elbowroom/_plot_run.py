"""Pictures of rehearsed bring-ups, drawn as those of fits and robots."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from elbowroom import _plot
from elbowroom._core import LABELS
from elbowroom._actions import MoveTo, Reading

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from elbowroom.rehearsal import RehearsalReport

# How the readings of each stage are drawn; a hand turns the sensor in the first two.
_MARKS = {
    "first move": ("P", _plot.ABOVE, 6),
    "speed": ("P", _plot.ABOVE, 6),
    "search": ("o", _plot.GUARD, 5),
    "sweep": (".", _plot.BELOW, 5),
}


def rehearsal(report: RehearsalReport, path: Any, ax: Axes | None, title: str | None) -> Axes:
    own = ax is None
    ax = _plot.axes(ax, path, (7.2, 5.0))
    at = report.plan.start
    points: dict[str, tuple[list[float], list[float]]] = {stage: ([], []) for stage in _MARKS}
    for step in report.steps:
        match (step.action, step.report):
            case (MoveTo(drive=drive), _):
                at = drive
            case (_, Reading(value=value)) if step.stage in points:
                points[step.stage][0].append(at)
                points[step.stage][1].append(value)
    first = [a + b for a, b in zip(points.pop("first move"), points.pop("speed"), strict=True)]
    for stage, (drives, values) in {"first move": first, **points}.items():
        if drives:
            marker, colour, size = _MARKS[stage]
            ax.plot(drives, values, marker, color=colour, ms=size, alpha=0.6, mew=0, label=f"reading, {stage}")
    for contact in report.contacts:
        ax.axvline(contact, color=_plot.INK, lw=1.2, ls="--", label=LABELS["contact"] if contact == report.contacts[0] else None)
    for end, name in ((report.outcome.lower, "lower"), (report.outcome.upper, "upper")):
        if end is not None and end.interval is not None:
            ax.axvspan(*end.interval, color=_plot.STOP, alpha=0.35, lw=0, label=f"{name} stop found at {end.at:.1f}")
    travel = report.outcome.travel
    if travel is not None:
        ax.axvspan(*travel, ymax=0.025, color=_plot.TRAVEL, lw=0, label=f"travel {travel[0]:.1f} to {travel[1]:.1f}")
    ax.set_xlabel(_plot.DRIVE_ANGLE)
    ax.set_ylabel("reading")
    verdict = report.outcome.fault or report.outcome.verdict
    ax.set_title(title or f"{report.fault or 'healthy'}, seed {report.seed}: found {verdict}", fontsize="medium")
    ax.margins(x=0.03, y=0.08)
    _plot.legend(ax, own, 3)
    return _plot.saved(ax, path)
