"""Pictures of bring-ups, real and rehearsed, drawn as those of fits and robots."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from elbowroom import _plot
from elbowroom._core import LABELS
from elbowroom._plot import Once, line, mark, words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from elbowroom._outcome import Outcome

# The mark of each stage's readings, and how far it reaches; the drive is not yet searching in the first two.
_STAGES = {"first move": ("first-move", 4.0), "speed": ("first-move", 4.0), "search": ("search", 3.2), "sweep": ("sweep", 1.8)}
# A reading that was typed: drive angle, value, the side from which it was reached, and whether it counts.
Typed = tuple[float, float, str, bool]
# A reading of a rehearsal: drive angle, value and stage.
Read = tuple[float, float, str]


def rehearsal(
    read: Sequence[Read], contacts: tuple[float, float], obstacle: str | None, outcome: Outcome, path: Any, ax: Axes | None, title: str
) -> Axes:
    own = ax is None
    ax = _plot.axes(ax, path, (7.2, 5.0))
    points: dict[str, list[tuple[float, float]]] = {"first-move": [], "search": [], "sweep": []}
    stages: dict[str, str] = {}
    for drive, value, stage in read:
        if stage in _STAGES:
            name = _STAGES[stage][0]
            points[name].append((drive, value))
            stages.setdefault(name, stage)
    sizes = dict(_STAGES.values())
    for name, places in points.items():
        if places:
            ax.plot(*np.array(places).T, alpha=0.7, label=words("reading-stage", stages[name]), **mark(name, sizes[name]))
    once = Once()
    for contact, side in zip(contacts, ("lower", "upper"), strict=True):
        name = "obstacle" if obstacle == side else "contact"
        ax.axvline(contact, label=once(LABELS[name]), zorder=2.4, **line(name))
    _plot.ends(ax, outcome.lower, outcome.upper, outcome.travel)
    ax.set_xlabel(_plot.DRIVE_ANGLE)
    ax.set_ylabel(LABELS["reading-axis"])
    _plot.titled(ax, title, True)
    ax.margins(x=0.03, y=0.08)
    _plot.legend(ax, own)
    return _plot.saved(ax, path)


def bring_up(typed: Sequence[Typed], outcome: Outcome | None, stage: str, path: Any, ax: Axes | None, title: str | None) -> Axes:
    """Readings so far; once there is a fit, with it and what it comes to."""
    ended = None if outcome is None else outcome.fault or outcome.verdict
    title = title or words("brought-up", ended or stage)
    if outcome is not None and outcome.fit is not None:
        return _plot.fitted(outcome.fit, outcome.lower, outcome.upper, outcome.travel, path, ax, title, True)
    own = ax is None
    ax = _plot.axes(ax, path, (7.2, 5.0))
    if typed:
        drive, value, sides, used = zip(*typed, strict=True)
        _plot.readings(ax, drive, value, sides, ~np.array(used, bool))
    ax.set_xlabel(_plot.DRIVE_ANGLE)
    ax.set_ylabel(LABELS["reading-axis"])
    _plot.titled(ax, title, True)
    ax.margins(x=0.03, y=0.08)
    _plot.legend(ax, own)
    return _plot.saved(ax, path)
