"""Limits of a joint from measured points, as frozen records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypedDict, TypeVar

from elbowroom import _core
from elbowroom._core import LimitFit
from elbowroom._html import table
from elbowroom._line import Estimate

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from elbowroom._types import Approach, EndKind, NoLostMotion, RejectReason, Side, Slip, Trend

__all__ = [
    "Advice",
    "BetweenStops",
    "End",
    "FitWarning",
    "Goodness",
    "LimitFit",
    "LostMotion",
    "NextReading",
    "Rejected",
    "Repeatability",
    "Sense",
    "fit_limits",
]


# What is pickled as JSON and its readings.
_Fit = TypeVar("_Fit", _core.LimitFit, _core.CurveFit, _core.LinkageFit, _core.FeedbackFit, _core.LineFit)


class BetweenStops(TypedDict):
    """Readings that show the transmission alone, for `fit_curve`, `fit_linkage` and `choose_transmission` by ``**``.

    `drive` and `measured` are arrays, `approach` holds ``"below"``, ``"above"`` or None for each reading, or is None.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    >>> between = elb.fit_limits(drive, measured).between_stops()
    >>> len(between["drive"]), between["approach"]
    (8, None)
    """

    drive: NDArray[np.float64]
    measured: NDArray[np.float64]
    approach: list[Approach | None] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """One end of the drive angles, with its evidence.

    Attributes
    ----------
    kind : {"contact", "stalled", "clear"}
        ``"contact"``: the stop was met, and placed; ``"stalled"``: the last readings fell short of the line, something
        holds between `at` and `short_at`; ``"clear"``: no stop was found, clear to here.
    at : float
        The drive angle of contact, or of the furthest clear reading; when stalled, of the last reading that follows the line.
    short_at : float or None
        When stalled, the drive angle of the first reading that fell short of the line; else None.
    u : float or None
        Standard uncertainty of a contact's `at`; else None.
    interval : (float, float) or None
        Coverage interval of the contact; else None.
    guard : float
        The guard that went into `travel`; zero when only clear.
    travel : float
        The end of the recommended travel.
    level : Estimate or None
        The measured value on the stop.
    readings_beyond : int
        Retained readings at or beyond the contact; when stalled, those that fell short.
    marked : bool
        Whether the contact was noted by hand.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    >>> end = elb.fit_limits(drive, measured).lower
    >>> end.kind, round(end.at, 1), end.guard, round(end.travel, 1)
    ('contact', 12.1, 2.0, 14.4)
    """

    kind: EndKind
    at: float
    short_at: float | None = None
    u: float | None
    interval: tuple[float, float] | None
    guard: float
    travel: float
    level: Estimate | None
    readings_beyond: int
    marked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Sense:
    """Which way the measured value goes when the drive angle rises.

    `trend` is ``"rising"`` or ``"falling"``, `certainty` the probability that this sign is right.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    >>> elb.fit_limits(drive, measured).sense.trend
    'rising'
    """

    trend: Trend
    certainty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LostMotion:
    """The difference between positions reached from below and from above.

    Attributes
    ----------
    value, u : float or None
        Its size and standard uncertainty, in measured units; None when it cannot be determined.
    reversal : float or None
        With its sign: mean reached from below less mean from above (the reversal value of ISO 230-2).
    drive, u_drive : float or None
        Size and standard uncertainty in drive angle.
    reason : {"approach-unknown", "one-side", "no-common-stretch", "too-few-readings"} or None
        Why it cannot be determined.
    sentence : str or None
        The same in words, with what to do.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    >>> lost = elb.fit_limits(drive, measured).lost_motion
    >>> lost.value, lost.reason
    (None, 'approach-unknown')
    """

    value: float | None = None
    u: float | None = None
    reversal: float | None = None
    drive: float | None = None
    u_drive: float | None = None
    reason: NoLostMotion | None = None
    sentence: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeatability:
    """How far repeats of one position scatter: pooled standard deviation in measured units, degrees of freedom.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [10, 20, 30, 40, 50, 50, 40, 30, 20, 10]
    >>> measured = [10.1, 20.0, 30.1, 39.9, 50.0, 50.1, 40.0, 30.0, 20.1, 10.0]
    >>> repeats = elb.fit_limits(drive, measured).repeatability
    >>> round(repeats.sd, 3), repeats.dof
    (0.071, 5)
    """

    sd: float
    dof: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejected:
    """A reading that was left out.

    Attributes
    ----------
    index : int
        Where it stands among the readings, counted from 0.
    drive, measured : float
        Its numbers.
    residual : float
        Measured less expected.
    reason : {"off-the-line", "off-the-stop", "not-taken-up", "drive-far-off"}
        Where it lies further off than scatter explains.
    cause : {"sign", "decimal-place", "digits-swapped", "tens", "neighbouring-row"} or None
        The slip in writing that explains the value, if one does: a wrong sign, the decimal point one place off, two digits
        exchanged, ten too high or too low, the value of the neighbouring drive angle.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [0, 10, 20, 30, 40, 50, 60, 70, 80, 90]
    >>> measured = [0.1, 10.0, 20.1, 30.0, 4.0, 50.1, 60.0, 69.9, 80.0, 90.1]
    >>> left_out = elb.fit_limits(drive, measured).rejected[0]
    >>> left_out.index, left_out.measured, left_out.cause
    (4, 4.0, 'decimal-place')
    """

    index: int
    drive: float
    measured: float
    residual: float
    reason: RejectReason
    cause: Slip | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NextReading:
    """A reading to take: its drive angle, and the side from which to reach it; None where either will do.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    >>> elb.fit_limits(drive, measured).advice.readings[0]
    NextReading(drive=13.088320696886598, approach='above')
    """

    drive: float
    approach: Approach | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """The few readings that sharpen most what is weakest.

    Attributes
    ----------
    side : {"lower", "upper"}
        The end that they are for.
    readings : tuple of NextReading
        From the inside outwards, in the order in which to take them; none further out than a reading already was.
    u_before : float or None
        Standard uncertainty of the stop's place now, in drive angle; None where no stop was found.
    u_after : float or None
        The same to be expected with these readings.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    >>> advice = elb.fit_limits(drive, measured).advice
    >>> advice.side, len(advice.readings), advice.u_after < advice.u_before
    ('lower', 3, True)
    """

    side: Side
    readings: tuple[NextReading, ...]
    u_before: float | None
    u_after: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Goodness:
    """How well the model describes the readings.

    Attributes
    ----------
    r_squared : float
        Share of the retained readings' variance that the model explains.
    sum_of_squares : float
        Weighted sum of squared residuals of the retained readings.
    p_curvature : float
        Probability of a bend at least as strong by chance; 1 when untested.
    p_lack_of_fit : float
        Probability of so much misfit by chance, judged by repeats; 1 when there are too few.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    >>> round(elb.fit_limits(drive, measured).goodness.r_squared, 4)
    1.0
    """

    r_squared: float
    sum_of_squares: float
    p_curvature: float
    p_lack_of_fit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FitWarning:
    """What one should know about an otherwise valid fit.

    `kind` names it in kebab-case, `sentence` says it, `values` holds its numbers by name.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    >>> fit = elb.fit_limits(drive, measured, guard=90)
    >>> [warning.kind for warning in fit.warnings]
    ['no-travel']
    """

    kind: str
    sentence: str
    values: tuple[tuple[str, float], ...]

    def __str__(self) -> str:
        return self.sentence


def restored(kind: type[_Fit], text: str, columns: dict[str, Any]) -> _Fit:
    """A pickled fit."""
    return kind.from_json(text, **columns)


def table_of(fit: LimitFit) -> str:
    """A fit as HTML tables, for notebooks."""
    rows: list[tuple[object, ...]] = []
    for name, end in (("lower", fit.lower), ("upper", fit.upper)):
        at = f"{end.at:.2f}" if end.short_at is None else f"{end.at:.2f} to {end.short_at:.2f}"
        interval = "" if end.interval is None else f"{end.interval[0]:.2f} to {end.interval[1]:.2f}"
        rows.append((name, end.kind, at, "" if end.u is None else f"{end.u:.2g}", interval, f"{end.guard:g}", f"{end.travel:.2f}"))
    said = [table(("end", "evidence", "at / drive", "u", f"{fit.confidence:.4g} interval", "guard", "travel"), rows)]
    if fit.rejected:
        left_out = [(r.index, f"{r.drive:g}", f"{r.measured:g}", f"{r.residual:+.3g}", r.cause or "") for r in fit.rejected]
        said.append(table(("left out", "drive", "measured", "residual", "likely slip"), left_out))
    if fit.warnings:
        said.append(table(("warning", ""), [(w.kind, w.sentence) for w in fit.warnings]))
    return "".join(said)


def fit_limits(
    drive: Any,
    measured: Any,
    *,
    approach: Any = None,
    contact: Any = None,
    u: Any = None,
    time: Any = None,
    resolution: float | None = None,
    guard: float | None = None,
    confidence: float | None = None,
) -> LimitFit:
    """Find how far a joint can go, with the evidence.

    Which stops were found is decided by the readings, never assumed, and nothing is extrapolated: without contact the
    recommended travel ends at the furthest clear reading.

    Parameters
    ----------
    drive : array_like, shape (n,)
        The drive angle commanded at each reading, deg; in any order, repeats welcome. Pulse widths fit as well, but as if
        they were degrees: turn them into drive angles first, by `Servo.angle`.
    measured : array_like, shape (n,)
        What was measured there, at rest, in any unit.
    approach : sequence of {"below", "above", None}, optional
        From which side each position was reached; without it lost motion cannot be determined.
    contact : sequence of {"lower", "upper", "here", None} or of bool, optional
        Contact noted by hand.
    u : array_like, shape (n,), optional
        Standard uncertainty of each measured value. Left out: all alike, found from the scatter.
    time : array_like, shape (n,), optional
        When each reading was taken, s, counted from any moment. It shows which readings were taken while the drive moved,
        and from which side each position was reached where `approach` is left out.
    resolution : float, optional
        Smallest step that `measured` can show (ADC step, graduation); enters as a rectangular distribution
        (JCGM 100, F.2.2.1). Left out: the grid on which the values lie, if they lie on one.
    guard : float, optional
        Margin kept between contact and travel, in the unit of `drive`; 2 if left out, which is meant for degrees: give one
        of your own for pulse widths or radians. Pulse widths with next to none are told in `warnings`.
    confidence : float, optional
        Coverage probability of every interval, 0.5 to 0.9999; 0.95 if left out.

    Returns
    -------
    LimitFit

    Raises
    ------
    FitError
        NaN (with its `index`), arrays of different length, too few readings or commands, no motion, readings taken while
        the drive moved: each with what is missing and where.

    Notes
    -----
    Before measuring: take the load off, keep a hand on the power switch, make the first move slow, and never search a
    stop under a person's hand.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    >>> fit = elb.fit_limits(drive, measured, guard=2.0)
    >>> fit.upper.kind
    'clear'
    >>> fit.travel[1]
    80.0
    """
    return _core.fit_limits(
        drive,
        measured,
        approach=approach,
        contact=contact,
        u=u,
        time=time,
        resolution=resolution,
        guard=guard,
        confidence=confidence,
    )


for _name in __all__:
    if _name != "LimitFit":
        globals()[_name].__module__ = "elbowroom"
