"""Limits of a joint from measured points, as frozen records."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any, TypedDict

import numpy as np

from elbowroom import _core
from elbowroom._errors import ArgumentTypeError, FitError
from elbowroom._line import Estimate, LineFit

if TYPE_CHECKING:
    import datetime
    from os import PathLike

    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from elbowroom import Evidence, Joint, Robot

__all__ = [
    "BetweenStops",
    "End",
    "FitWarning",
    "Goodness",
    "LimitFit",
    "LostMotion",
    "Rejected",
    "Repeatability",
    "Sense",
    "fit_limits",
]


class BetweenStops(TypedDict):
    """Readings that show the transmission alone, for `fit_curve`, `fit_linkage` and `choose_transmission` by ``**``.

    `drive` and `measured` are arrays, `approach` holds ``"below"``, ``"above"`` or None for each reading, or is None.
    """

    drive: NDArray[np.float64]
    measured: NDArray[np.float64]
    approach: list[str | None] | None


@dataclass(frozen=True, slots=True, kw_only=True)
class End:
    """One end of the drive angles, with its evidence.

    Attributes
    ----------
    kind : str
        ``"contact"``: the stop was met, and placed; ``"stalled"``: the last readings fell short of the line, something
        holds between `at` and `short_at`; ``"clear"``: this far was clear, no stop was met.
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
    """

    kind: str
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
    """

    trend: str
    certainty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LostMotion:
    """The difference between positions reached from below and from above.

    Attributes
    ----------
    value, u : float or None
        Its size and standard uncertainty, in measured units; None when it cannot be said.
    reversal : float or None
        With its sign: mean reached from below less mean from above (the reversal value of ISO 230-2).
    drive, u_drive : float or None
        Size and standard uncertainty in drive angle.
    reason : str or None
        Why it cannot be said.
    """

    value: float | None = None
    u: float | None = None
    reversal: float | None = None
    drive: float | None = None
    u_drive: float | None = None
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeatability:
    """How far repeats of one position scatter: pooled standard deviation in measured units, degrees of freedom."""

    sd: float
    dof: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejected:
    """A reading that was left out: where it stands, its numbers, measured less expected, and why."""

    index: int
    drive: float
    measured: float
    residual: float
    reason: str


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
    """

    r_squared: float
    sum_of_squares: float
    p_curvature: float
    p_lack_of_fit: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FitWarning:
    """What one should know about an otherwise valid fit.

    `kind` names it in kebab-case, `sentence` says it, `values` holds its numbers by name.
    """

    kind: str
    sentence: str
    values: tuple[tuple[str, float], ...]

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitFit:
    """Limits of a joint with their evidence: what `fit_limits` found.

    Units: `slope` in measured per drive; positions along the drive in drive angle (or whatever `drive` was given in);
    levels, residuals and lost motion in measured units. No number is NaN or infinite.

    Attributes
    ----------
    slope, u_slope : float
        Measured per drive between the stops, and its standard uncertainty.
    intercept, u_intercept, covariance : float
        Measured value of the line at drive 0, its standard uncertainty, and the covariance with the slope.
    residual_sd, dof : float, int
        Standard deviation of the retained readings about the model; its degrees of freedom.
    sense : Sense
    lower, upper : End
    travel : (float, float) or None
        Recommended travel; None when guard and uncertainty leave nothing. Never beyond the readings.
    lost_motion : LostMotion
    repeatability : Repeatability or None
        None without repeats.
    line : LineFit
        The plain line through the retained readings between the stops.
    goodness : Goodness
    rejected : tuple of Rejected
    warnings : tuple of FitWarning
    readings : int
        Readings given.
    confidence : float
        Coverage probability of the intervals.
    curve, curve_origin : tuple of float, float
        Coefficients of the model between the stops, powers of (drive - curve_origin).
    drive, measured, approach : tuple
        The readings themselves, for plots; they count neither for equality nor in `repr`.
    """

    slope: float
    u_slope: float
    intercept: float
    u_intercept: float
    covariance: float
    residual_sd: float
    dof: int
    sense: Sense
    lower: End
    upper: End
    travel: tuple[float, float] | None
    lost_motion: LostMotion
    repeatability: Repeatability | None
    line: LineFit
    goodness: Goodness
    rejected: tuple[Rejected, ...]
    warnings: tuple[FitWarning, ...]
    readings: int
    confidence: float
    curve: tuple[float, ...]
    curve_origin: float
    drive: tuple[float, ...] = field(default=(), compare=False, repr=False)
    measured: tuple[float, ...] = field(default=(), compare=False, repr=False)
    approach: tuple[str | None, ...] | None = field(default=None, compare=False, repr=False)

    def expected(self, drive: Any) -> Any:
        """The measured value that the model expects at a drive angle, midway between both approaches.

        Parameters
        ----------
        drive : float or array_like
            Drive angles of any shape; NaN gives NaN. Beyond a contact the value stays at the stop.

        Returns
        -------
        float or ndarray
        """
        return _core.fit_expected(_record(self), drive)

    def between_stops(self) -> BetweenStops:
        """The readings that show the transmission alone: between the stops, without those left out.

        Those beyond an end at which the joint hardly moves (``"level-beyond"``) are left out as well.

        Returns
        -------
        BetweenStops
            A dict of `drive`, `measured` and `approach`, as they were given, for `fit_curve`, `fit_linkage` and
            `choose_transmission` by ``**``; empty for a fit without its readings, as from its `repr`.

        Examples
        --------
        >>> import elbowroom as elb
        >>> drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
        >>> measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
        >>> between = elb.fit_limits(drive, measured).between_stops()
        >>> between["drive"]
        array([15., 20., 30., 40., 50., 60., 70., 80.])
        >>> elb.choose_transmission(**between).chosen.kind
        'linear'
        """
        drive, measured, approach = _core.fit_between(_record(self), self.drive, self.measured, self.approach)
        return BetweenStops(drive=np.array(drive), measured=np.array(measured), approach=approach)

    def apply_to(self, joint: Joint) -> Joint:
        """The joint with this fit's travel, rounded inward to thousandths of a degree.

        Parameters
        ----------
        joint : Joint
            Unchanged itself; the fit's `drive` must have been drive angles of this joint.

        Returns
        -------
        Joint

        Raises
        ------
        FitError
            Guard and uncertainty leave no travel.
        JointError
            The joint with that travel is not valid.
        """
        applied = _core.fit_apply(_record(self), joint)
        if applied is None:
            raise self._no_travel(joint.name)
        return applied

    def _no_travel(self, joint: str) -> FitError:
        why = next((str(w) for w in self.warnings if w.kind == "no-travel"), "this fit leaves no travel")
        return FitError(why, code="travel-disjoint", joint=joint)

    def evidence(self, date: datetime.date | None = None) -> Evidence:
        """What this fit proves, as a robot file writes it.

        Parameters
        ----------
        date : datetime.date, optional
            The day on which the readings were taken.

        Returns
        -------
        Evidence
            Without the sense of the feedback, which is no matter of a fit.
        """
        return _core.fit_evidence(_record(self), date)

    def plot(self, path: str | PathLike[str] | None = None, *, ax: Axes | None = None, title: str | None = None) -> Axes:
        """Draw the readings, the model, both ends with their evidence, and the travel.

        Parameters
        ----------
        path : str or os.PathLike, optional
            Where to save the picture; the ending says how (.svg, .png, .pdf).
        ax : matplotlib.axes.Axes, optional
            Where to draw; a new figure if left out.
        title : str, optional

        Returns
        -------
        matplotlib.axes.Axes

        Raises
        ------
        ImportError
            matplotlib is not installed: ``pip install elbowroom[plot]``.
        """
        from elbowroom import _plot

        return _plot.limit_fit(self, path, ax, title)


def _end(record: dict[str, Any]) -> End:
    interval, level = record.pop("interval"), record.pop("level")
    return End(
        interval=None if interval is None else tuple(interval),
        level=None if level is None else Estimate(**level),
        **record,
    )


def lost_motion_of(record: dict[str, Any], reason: str | None) -> LostMotion:
    if record.pop("status") == "not-determinable":
        return LostMotion(reason=reason)
    return LostMotion(**record)


def _warnings(records: list[dict[str, Any]], sentences: list[str]) -> tuple[FitWarning, ...]:
    return tuple(
        FitWarning(kind=record.pop("kind"), sentence=sentence, values=tuple(record.items()))
        for record, sentence in zip(records, sentences, strict=True)
    )


def _limit_fit(text: str, **readings: Any) -> LimitFit:
    record, sentences, no_lost_motion = json.loads(text)
    warnings = _warnings(record.pop("warnings"), sentences)
    travel, repeatability = record.pop("travel"), record.pop("repeatability")
    return LimitFit(
        sense=Sense(**record.pop("sense")),
        lower=_end(record.pop("lower")),
        upper=_end(record.pop("upper")),
        travel=None if travel is None else (travel[0], travel[1]),
        lost_motion=lost_motion_of(record.pop("lost_motion"), no_lost_motion),
        repeatability=None if repeatability is None else Repeatability(**repeatability),
        line=LineFit(**record.pop("line")),
        goodness=Goodness(**record.pop("goodness")),
        rejected=tuple(Rejected(**one) for one in record.pop("rejected")),
        warnings=warnings,
        curve=tuple(record.pop("curve")),
        **record,
        **readings,
    )


# The sentences of the core, back to the words of its records.
_REASONS = {
    "do not say from which side": "approach-unknown",
    "from the same side": "one-side",
    "no stretch between": "no-common-stretch",
    "too few readings": "too-few-readings",
}


def lost_motion_record(lost: dict[str, Any]) -> dict[str, Any]:
    """The core's own record of lost motion."""
    reason = lost.pop("reason")
    if reason is None:
        return {"status": "measured", **lost}
    return {"status": "not-determinable", "reason": next(word for part, word in _REASONS.items() if part in reason)}


def _record(fit: LimitFit) -> str:
    """The core's own record of a fit."""
    record = asdict(fit)
    for ours in ("drive", "measured", "approach"):
        del record[ours]
    record["warnings"] = [{"kind": w.kind, **dict(w.values)} for w in fit.warnings]
    record["lost_motion"] = lost_motion_record(record["lost_motion"])
    return json.dumps(record)


def fit_limits(
    drive: Any,
    measured: Any,
    *,
    approach: Any = None,
    contact: Any = None,
    u: Any = None,
    time: Any = None,
    resolution: float | None = None,
    guard: float = 2.0,
    confidence: float = 0.95,
) -> LimitFit:
    """Find how far a joint can go, with the evidence.

    Which stops were met is decided by the readings, never assumed, and nothing is extrapolated: without contact the
    recommended travel ends at the furthest clear reading.

    Parameters
    ----------
    drive : array_like, shape (n,)
        The drive angle commanded at each reading, deg; in any order, repeats welcome. Pulse widths fit as well, but as if
        they were degrees: turn them into drive angles first, by `Servo.angle`.
    measured : array_like, shape (n,)
        What was measured there, at rest, in any unit.
    approach : sequence of {"below", "above", None}, optional
        From which side each position was reached; without it lost motion cannot be said.
    contact : sequence of {"lower", "upper", "here", None} or of bool, optional
        Contact noted by hand.
    u : array_like, shape (n,), optional
        Standard uncertainty of each measured value. Left out: all alike, found from the scatter.
    time : array_like, shape (n,), optional
        When each reading was taken, s, counted from any moment. It shows which readings were taken while the drive moved,
        and from which side each position was reached where `approach` is left out.
    resolution : float, optional
        Smallest step that `measured` can show (ADC step, graduation); enters as a rectangular distribution
        (JCGM 100, F.2.2.1).
    guard : float, default 2.0
        Margin kept between contact and travel, in drive angle.
    confidence : float, default 0.95
        Coverage probability of every interval, 0.5 to 0.9999.

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
    text = _core.fit_limits(
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
    return _limit_fit(
        text,
        drive=_column(drive),
        measured=_column(measured),
        approach=sides(approach),
    )


def sides(approach: Any) -> tuple[str | None, ...] | None:
    """The sides as they were accepted, kept for plots and for what is fitted next."""
    return None if approach is None else tuple(a if isinstance(a, str) and a else None for a in approach)


def put_fit(robot: Robot, name: str, fit: LimitFit, date: datetime.date | None) -> Robot:
    """`Robot.put_fit`."""
    if not isinstance(fit, LimitFit):
        raise ArgumentTypeError(f"fit is of type {type(fit).__name__}; give a LimitFit", code="wrong-type", value=fit)
    put = robot._put_fit(name, _record(fit), date)
    if put is None:
        raise fit._no_travel(name)
    return put


def _column(values: Any) -> tuple[float, ...]:
    """What was accepted, kept for plots."""
    return tuple(float(x) for x in values)


for _name in __all__:
    globals()[_name].__module__ = "elbowroom"
