"""Pictures of joints: what becomes of their commands, drive angle and reading, and how steeply."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from elbowroom._core import LABELS
from elbowroom._plot import DRIVE_ANGLE, SMALL, STOP, Once, area, legend, line, mark, mosaic, number, saved, words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from elbowroom import Evidence, Joint

# A dead centre is drawn if it lies so near, in parts of the command range.
NEAR = 0.3


def joint(
    joint: Joint,
    path: Any,
    ax: Axes | None,
    title: str | None,
    unit: str | None = None,
    evidence: Evidence | None = None,
) -> Axes:
    own = ax is None
    rows, heights = [["main"], ["slope"]], [3.0, 0.8]
    if joint.feedback is not None:
        rows, heights = [*rows, ["reading"]], [*heights, 1.5]
    parts = mosaic(ax, path, rows, (7.2, 1.0 + 1.25 * sum(heights)), height_ratios=heights)
    main = parts["main"]
    # Back from the drive nothing is clamped, so this is the transmission itself.
    drive = np.linspace(*joint.drive_range, 400)
    command = joint.command_from_drive(drive)

    main.axhspan(*joint.travel, label=LABELS["travel-bar"], **area("travel"))
    _stops(main, joint, evidence)
    lower, upper = joint.command_range
    transmission = joint.transmission
    kind = transmission["kind"]
    if kind != "linear":
        ends = joint.drive_range[::-1] if joint.inverted else joint.drive_range
        main.plot([lower, upper], ends, label=LABELS["straight-line"], **line("by-side"))
    # What the motor is sent, solid; what it would be sent were there no travel, dashed.
    sent = np.clip(drive, *joint.travel)
    if np.any(sent != drive):
        main.plot(command, drive, label=LABELS["unclamped"], **line("range"))
        main.plot(command, sent, label=words("clamped", kind), **line("model"))
    else:
        main.plot(command, drive, label=kind, **line("model"))
    if kind == "curve":
        main.plot(*np.array(transmission["knots"]).T, label=LABELS["knot"], **mark("knot", 5))
    elif kind != "linear":
        room = NEAR * (upper - lower)
        near = [at for at in joint.valid_range if lower - room <= at <= upper + room]
        for at in near:
            main.axvline(at, label=words("dead-centre", number(at)), **line("range"))
    # As `drive` would say it, but where the travel ends before the rest.
    at_rest = np.interp(joint.rest, *(np.sort(command), drive[np.argsort(command)]))
    main.plot(joint.rest, at_rest, label=words("rest-at", number(joint.rest, 3)), zorder=3, **mark("ring", 4))
    main.set_ylabel(DRIVE_ANGLE)
    angle, pulse_us = joint.servo.angle_range, joint.servo.pulse_range_us
    pulse = main.secondary_yaxis("right", functions=(_line(angle, pulse_us), _line(pulse_us, angle)))
    pulse.set_ylabel(LABELS["pulse"])

    if "slope" in parts:
        slope = parts["slope"]
        slope.plot(command, np.abs(joint.drive_per_command(command)), **line("model"))
        slope.set_ylim(bottom=0)
        slope.set_ylabel(LABELS["slope"])
        main.plot([], [], " ", label=words("slope-per", unit or LABELS["command"]))
    if "reading" in parts:
        _reading(parts["reading"], joint, command)
    below = [part for name, part in parts.items() if name != "main"]
    for part in below:
        part.sharex(main)
        part.grid(alpha=0.3)
    for part in [main, *below][:-1]:
        part.tick_params(labelbottom=False)
    main.grid(alpha=0.3)
    [main, *below][-1].set_xlabel(words("command-in", unit) if unit else LABELS["command"])
    main.set_title(title or joint.name)
    legend(main, own)
    return saved(main, path)


def _line(from_: tuple[float, float], to: tuple[float, float]) -> Any:
    slope = (to[1] - to[0]) / (from_[1] - from_[0])
    return lambda x: to[0] + (x - from_[0]) * slope


def _stops(ax: Axes, joint: Joint, evidence: Evidence | None) -> None:
    if evidence is None:
        return
    once = Once()
    for end, limit in ((evidence.lower, joint.travel[0]), (evidence.upper, joint.travel[1])):
        if end is not None and end.kind == "contact":
            low, high = sorted((end.at, limit))
            ax.axhspan(low, high, label=once(LABELS["kept-clear"]), **area("guard"))
            ax.axhline(end.at, label=once(LABELS["stop-line"]), **line("stop"))


def _reading(ax: Axes, joint: Joint, command: Any) -> None:
    feedback = joint.feedback
    assert feedback is not None
    ax.plot(command, joint.reading_from_command(command), **line("model"))
    knots = np.array(feedback.get("knots", ())).reshape(-1, 2)
    if len(knots):
        ax.plot(joint.command_from_reading(knots[:, 0]), knots[:, 0], **mark("knot", 5))
    rails = joint._rails
    if rails is not None:
        most = float(2 ** feedback["adc_bits"] - 1)
        low, high = -0.05 * most, 1.05 * most
        first, last = joint.reading_from_command(np.array(joint.command_range))
        for rail, edge, left in zip(rails, (low, high), (first > last, first < last), strict=True):
            ax.axhspan(rail, edge, **area("known"))
            # On the side where the line is not.
            ax.annotate(
                LABELS["wire-fault"], (0.01 if left else 0.99, rail), xycoords=("axes fraction", "data"),
                ha="left" if left else "right", xytext=(0, 3 if edge == low else -3), textcoords="offset points",
                va="bottom" if edge == low else "top", fontsize=SMALL, color=STOP,
            )  # fmt: skip
        ax.set_ylim(low, high)
    ax.set_ylabel(LABELS["reading-axis"])
