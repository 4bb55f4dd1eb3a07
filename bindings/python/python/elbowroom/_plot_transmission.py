"""Pictures of fitted transmissions: readings, curve and residuals; and the mechanism itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from elbowroom import _core
from elbowroom._feedback import FeedbackFit
from elbowroom._core import LABELS, statistic
from elbowroom._plot import (
    ABOVE,
    BELOW,
    DRIVE_ANGLE,
    GUARD,
    INK,
    QUIET,
    SMALL,
    STOP,
    TRAVEL,
    area,
    legend,
    line,
    mark,
    mosaic,
    readings,
    saved,
    words,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from elbowroom import BySide, Candidate, Choice, CurveFit, LinkageFit

# One colour and one dash a candidate, in the order tried.
STYLES = ((QUIET, (0, (1, 1.2))), (BELOW, "-"), (GUARD, "-"), (TRAVEL, "--"), (ABOVE, "-."), (STOP, "--"), (INK, "-."))


def _left_over(ax: Axes, drive: Any, left: Any, sd: float | None, colour: str) -> None:
    """Residuals about zero, with a band of their standard deviation."""
    if sd is not None:
        ax.axhspan(-sd, sd, **area("band"))
    ax.axhline(0, **line("axis"))
    ax.vlines(drive, 0, left, color=colour, lw=1, alpha=0.6)
    ax.plot(drive, left, "o", color=colour, ms=4, mew=0, alpha=0.85)


def _residuals(of: Any, by_side: BySide, drive: Any, measured: Any, approach: tuple[str | None, ...] | None) -> Any:
    """Measured less expected, each from its own side."""
    signs = np.array([{"below": 1.0, "above": -1.0}.get(side or "", 0.0) for side in approach or (None,) * len(drive)])
    return measured - of(drive + signs * by_side.drive) - signs * by_side.measured


def _sides(fit: Any, at: Any) -> list[str]:
    """The side from which each reading was reached, where that was noted."""
    approach = getattr(fit, "approach", None) or (None,) * len(at)
    return [side or "" for side in approach]


def _grid(drive: tuple[float, ...], low: float, high: float) -> Any:
    return np.linspace(min([low, *drive]), max([high, *drive]), 400)


def curve_fit(fit: CurveFit, path: Any, ax: Axes | None, title: str | None) -> Axes:
    shape = words("curve-through", len(fit.knots))
    return _knotted(fit, (fit.drive, fit.measured), (DRIVE_ANGLE, LABELS["measured"]), shape, path, ax, title)


def feedback_fit(fit: FeedbackFit, path: Any, ax: Axes | None, title: str | None) -> Axes:
    shape = LABELS["straight"] if len(fit.knots) == 2 else words("curve-through", len(fit.knots))
    return _knotted(fit, (fit.reading, fit.angle), (LABELS["reading-axis"], LABELS["joint-angle"]), shape, path, ax, title)


def _knotted(
    fit: CurveFit | FeedbackFit, points: tuple[Any, Any], labels: tuple[str, str], shape: str, path: Any, ax: Axes | None, title: str | None
) -> Axes:
    own = ax is None
    parts = mosaic(ax, path, [["main"], ["left"]], (7.2, 5.4), height_ratios=[3, 1])
    main = parts["main"]
    at, value = (np.array(column) for column in points)
    knots = np.array(fit.knots)
    sides = _sides(fit, at)
    if at.size:
        readings(main, at, value, sides, np.zeros(at.size, bool))
    x = _grid(points[0], knots[0, 0], knots[-1, 0])
    sd = fit.residual_sd
    main.plot(x, fit.expected(x), label=words("model-sd", shape, statistic(sd)), **line("model"))
    main.errorbar(
        knots[:, 0], knots[:, 1], 2 * np.array(fit.u), ecolor=INK, elinewidth=1.2, capsize=3, label=LABELS["knot-u"], zorder=3,
        **mark("knot", 5),
    )  # fmt: skip
    main.set_ylabel(labels[1])
    if "left" in parts:
        if at.size:
            left = value - fit.expected(at) if isinstance(fit, FeedbackFit) else _residuals(fit.expected, fit.by_side, at, value, fit.approach)
            _left_over(parts["left"], at, left, sd, BELOW)
        _below(main, [parts["left"]], labels[0])
    else:
        main.set_xlabel(labels[0])
    return _finished(main, own, title, path)


def linkage_fit(fit: LinkageFit, path: Any, ax: Axes | None, title: str | None) -> Axes:
    own = ax is None
    parts = mosaic(
        ax, path, [["main", "links"], ["left", "links"]], (10.4, 5.4), height_ratios=[3, 1], width_ratios=[1.45, 1]
    )
    main = parts["main"]
    drive, measured = np.array(fit.drive), np.array(fit.measured)
    if drive.size:
        readings(main, drive, measured, _sides(fit, drive), np.zeros(drive.size, bool))
    # Along the joint's angle: there the mechanism has one drive angle, while the other way it may have none.
    joint = np.linspace(*fit.measured_range, 400)
    sd = fit.residual_sd
    main.plot(fit.drive_at(joint), joint, label=words("model-sd", fit.kind, statistic(sd)), **line("model"))
    main.set_ylabel(LABELS["measured"])
    if "left" in parts:
        if drive.size:
            _left_over(parts["left"], drive, _residuals(fit.expected, fit.by_side, drive, measured, fit.approach), sd, BELOW)
        _below(main, [parts["left"]])
        _links(parts["links"], fit)
    else:
        main.set_xlabel(DRIVE_ANGLE)
    return _finished(main, own, title, path)


def choice(found: Choice, path: Any, ax: Axes | None, title: str | None) -> Axes:
    own = ax is None
    fitted = [(i, one) for i, one in enumerate(found.candidates) if one.fit is not None]
    names = [f"left{i}" for i, _ in fitted]
    parts = mosaic(ax, path, [["main"] * len(names), names], (7.2, 5.8), height_ratios=[2.4, 1])
    main = parts["main"]
    drive, measured = np.array(found.drive), np.array(found.measured)
    if drive.size:
        readings(main, drive, measured, _sides(found, drive), np.zeros(drive.size, bool), 3.0)
        x = _grid(found.drive, drive[0], drive[0])
        for i, one in fitted:
            colour, dash = STYLES[i % len(STYLES)]
            chosen = i == found.best
            main.plot(
                x, one.expected(x), color=colour, ls=dash, lw=2.4 if chosen else 1.4, zorder=3 if chosen else 2,
                label=words("chosen", _candidate(one)) if chosen else _candidate(one),
            )  # fmt: skip
    main.plot([], [], " ", label=LABELS["least-criterion"])
    main.set_ylabel(LABELS["measured"])
    below = [parts[name] for name in names if name in parts]
    if below:
        for (i, one), part in zip(fitted, below, strict=True):
            if drive.size:
                left = _residuals(one.expected, one.by_side, drive, measured, found.approach)
                _left_over(part, drive, left, one.residual_sd, STYLES[i % len(STYLES)][0])
            part.set_title(one.kind, fontsize=SMALL, fontweight="bold" if i == found.best else "normal")
        _below(main, below)
    else:
        main.set_xlabel(DRIVE_ANGLE)
    return _finished(main, own, title, path)


def _candidate(one: Candidate) -> str:
    """A candidate with what chose among them."""
    criterion = LABELS["not-known"] if one.criterion is None else f"{one.criterion:.1f}"
    sd = LABELS["not-known"] if one.residual_sd is None else statistic(one.residual_sd)
    return words("candidate", one.kind, one.parameters, sd, criterion)


def _below(main: Axes, parts: list[Axes], label: str = DRIVE_ANGLE) -> None:
    """Panels of residuals, all on one scale."""
    for part in parts:
        part.set_xlim(main.get_xlim())
        if part is not parts[0]:
            part.sharey(parts[0])
            part.tick_params(labelleft=False)
    parts[0].set_ylabel(LABELS["residual"])
    ends = [abs(end) for part in parts for end in part.dataLim.intervaly if np.isfinite(end)]
    most = 1.15 * max(ends, default=1.0) or 1.0
    parts[0].set_ylim(-most, most)
    if len(parts) == 1:
        main.tick_params(labelbottom=False)
        parts[0].set_xlabel(label)
    else:
        main.set_xlabel(label)


def _finished(main: Axes, own: bool, title: str | None, path: Any) -> Axes:
    if title:
        main.set_title(title)
    legend(main, own)
    return saved(main, path)


def _links(ax: Axes, fit: LinkageFit) -> None:
    """The mechanism at the lowest, the middle and the highest measured value."""
    low, high = fit.measured_range
    size = {one.name: one.value for one in fit.dimensions}
    unit = "" if fit.kind == "slider-crank" else f" {LABELS['deg']}"
    for at, colour, over in ((low, BELOW, 2.0), (0.5 * (low + high), INK, 3.0), (high, ABOVE, 2.0)):
        moved = float(_core.linkage_moved(fit.transmission, at))
        _DRAWN[fit.kind](ax, size, at, moved, {"color": colour, "zorder": over}, f"{at:.3g}{unit}")
    for x, below, name in _PIVOTS[fit.kind](size):
        ax.plot(x, 0, "^", color=QUIET, ms=10, zorder=1)
        # Under the pivot, where no link of ours goes; left of a crank, which may.
        offset, ha, va = ((-9, 0), "right", "center") if below is None else ((0, -12), "center", "top")
        ax.annotate(
            name, (x, -(below or 0)), offset, textcoords="offset points", ha=ha, va=va, fontsize=SMALL, color=INK
        )
    ax.set_aspect("equal", adjustable="datalim")
    ax.margins(0.1)
    ax.tick_params(labelsize=SMALL)
    ax.set_title(LABELS["mechanism"], fontsize=SMALL)
    ax.legend(loc="best", fontsize=SMALL, framealpha=0.8, title=LABELS["measured"], title_fontsize=SMALL)


def _turned(length: float, deg: float, x: float = 0.0) -> tuple[float, float]:
    return x + length * float(np.cos(np.radians(deg))), length * float(np.sin(np.radians(deg)))


def _chain(ax: Axes, points: list[tuple[float, float]], style: dict[str, Any], label: str) -> None:
    xs, ys = zip(*points, strict=True)
    ax.plot(xs, ys, "-", lw=2.2, solid_capstyle="round", label=label, **style)
    ax.plot(xs[1:-1], ys[1:-1], "o", ms=5, mfc="white", mew=1.4, **style)


def _triangle(ax: Axes, size: dict[str, float], at: float, moved: float, style: dict[str, Any], label: str) -> None:
    base, arm = (size["base"], 0.0), _turned(size["arm"], size["angle_at_zero"] + at)
    ax.plot([0, arm[0]], [0, arm[1]], "-", lw=2.2, solid_capstyle="round", label=label, **style)
    ax.plot([base[0], arm[0]], [base[1], arm[1]], "--", lw=1.6, **style)
    ax.plot(*arm, "o", ms=5, mfc="white", mew=1.4, **style)
    ax.plot([0, base[0]], [0, 0], "-", color=QUIET, lw=3, zorder=1)


def _slider_crank(ax: Axes, size: dict[str, float], at: float, moved: float, style: dict[str, Any], label: str) -> None:
    slide = (size["slide_at_zero"] + at, size["offset"])
    _chain(ax, [(0, 0), _turned(size["crank"], moved), slide], style, label)
    ax.plot(*slide, "s", ms=8, **style)
    ax.axhline(size["offset"], color=QUIET, lw=0.8, ls=":", zorder=1)


def _four_bar(ax: Axes, size: dict[str, float], at: float, moved: float, style: dict[str, Any], label: str) -> None:
    ground = size["ground"]
    rocker = _turned(size["rocker"], size["rocker_at_zero"] + at, ground)
    _chain(ax, [(0, 0), _turned(size["crank"], moved), rocker, (ground, 0)], style, label)


def _spool(ax: Axes, size: dict[str, float], at: float, moved: float, style: dict[str, Any], label: str) -> None:
    drum, pulley, apart = size["drum"], size["pulley"], _two_radii(size)
    round_ = np.linspace(0, 2 * np.pi, 181)
    radius = drum + size["per_turn"] * moved / 360
    ax.plot(radius * np.cos(round_), radius * np.sin(round_), "-", lw=1.4, **style)
    ax.plot(apart + pulley * np.cos(round_), pulley * np.sin(round_), "-", color=QUIET, lw=1.4, zorder=1)
    # The tendon touches both on top.
    lean = np.degrees(np.arcsin((radius - pulley) / apart))
    (x0, y0), (x1, y1) = _turned(radius, 90 - lean), _turned(pulley, 90 - lean, apart)
    ax.plot([x0, x1], [y0, y1], "--", lw=1.4, **style)
    for length, deg, x in ((radius, moved, 0.0), (pulley, at, apart)):
        end = _turned(length, 90 - deg, x)
        ax.plot([x, end[0]], [0, end[1]], "-", lw=2.2, solid_capstyle="round", label=label if x else None, **style)


def _two_radii(size: dict[str, float]) -> float:
    """How far apart drum and pulley stand plays no part; twice their radii looks well."""
    return 2 * (size["drum"] + size["pulley"])


# Where pivots stand along the x axis, how far below their names stand (None: beside), and the names.
_PIVOTS: dict[str, Callable[[dict[str, float]], list[tuple[float, float | None, str]]]] = {
    "triangle": lambda size: [(0.0, 0.0, LABELS["pivot-hinge"]), (size["base"], 0.0, LABELS["pivot-actuator"])],
    "slider-crank": lambda _: [(0.0, None, LABELS["pivot-servo"])],
    "four-bar": lambda size: [(0.0, 0.0, LABELS["pivot-servo"]), (size["ground"], 0.0, LABELS["pivot-joint"])],
    "spool": lambda size: [(0.0, size["drum"], LABELS["pivot-drum"]), (_two_radii(size), size["pulley"], LABELS["pivot-pulley"])],
}
_DRAWN = {"triangle": _triangle, "slider-crank": _slider_crank, "four-bar": _four_bar, "spool": _spool}
