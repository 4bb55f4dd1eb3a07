"""Transmissions from measured points, as frozen records: curves and mechanisms."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from elbowroom import _core
from elbowroom._drawing import drawing
from elbowroom._fit import LostMotion, lost_motion_of, lost_motion_record, sides
from elbowroom._line import Estimate

if TYPE_CHECKING:
    from os import PathLike

    from matplotlib.axes import Axes

    from elbowroom import Joint, LimitFit

__all__ = [
    "BySide",
    "CurveFit",
    "Dimension",
    "LinkageFit",
    "OtherBranch",
    "fit_curve",
    "fit_linkage",
]

MOST_KNOTS = _core.MOST_KNOTS


@dataclass(frozen=True, slots=True, kw_only=True)
class BySide:
    """What the side of approach adds to a transmission: it expects ``f(x + s * drive) + s * measured`` at drive angle x.

    ``s`` is +1 for a position reached from below, -1 from above, 0 where that is unknown; `f` is the line, curve or mechanism.
    At most one of the two is other than 0: `drive` for play before the bent part, as in the servo's gears, `measured` for play
    behind it.
    """

    drive: float
    measured: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveFit:
    """A strictly monotone curve through as few knots as the noise allows: what `fit_curve` found.

    Attributes
    ----------
    knots : tuple of (float, float)
        Drive angle and measured value of each knot, drive angles rising.
    u : tuple of float
        Standard uncertainty of each knot's measured value.
    residual_sd : float
        Standard deviation of the readings about the curve, free of lost motion, in measured units.
    dof : int
        Readings less knots, and less one where lost motion was measured.
    sum_of_squares : float
        Sum of squared residuals.
    criterion : tuple of float
        What the number of knots was chosen by, for each number tried from 2 on; lower is better.
    lost_motion : LostMotion
        Found with the curve, which lies midway; its `drive` at the curve's mean slope.
    by_side : BySide
        What the side of approach adds to the curve.
    drive, measured, approach : tuple
        The readings themselves, for plots; they count neither for equality nor in `repr`.
    """

    knots: tuple[tuple[float, float], ...]
    u: tuple[float, ...]
    residual_sd: float
    dof: int
    sum_of_squares: float
    criterion: tuple[float, ...]
    lost_motion: LostMotion
    by_side: BySide
    drive: tuple[float, ...] = field(default=(), compare=False, repr=False)
    measured: tuple[float, ...] = field(default=(), compare=False, repr=False)
    approach: tuple[str | None, ...] | None = field(default=None, compare=False, repr=False)

    @property
    def command_range(self) -> tuple[float, float]:
        """(float, float): the measured values at the curve's ends, lower first: the commands of a joint angle."""
        first, last = self.knots[0][1], self.knots[-1][1]
        return min(first, last), max(first, last)

    def expected(self, drive: Any) -> Any:
        """The measured value that the curve expects at a drive angle.

        Parameters
        ----------
        drive : float or array_like
            Drive angles of any shape; NaN gives NaN. Beyond the first and the last knot the curve continues as a straight line.

        Returns
        -------
        float or ndarray
            In measured units.

        Examples
        --------
        >>> import elbowroom as elb
        >>> drive = [10, 20, 30, 40, 50, 60, 70, 80, 90, 100]
        >>> measured = [0.1, 5.9, 12.6, 19.9, 28.1, 37.0, 46.4, 56.7, 67.4, 78.9]
        >>> round(float(elb.fit_curve(drive, measured).expected(55)), 1)
        32.4
        """
        return _core.curve_expected(_record(self), drive)

    def joint_fields(self, *, command: Sequence[float] | None = None) -> dict[str, Any]:
        """What a joint needs of this fit, as keywords of `Joint`: `command`, `drive`, `inverted` and `transmission`.

        The inverse of a cubic is not the cubic through the inverted knots, so the joint's curve has more knots
        where that shows: until the two differ nowhere by more than half of `residual_sd` or 1/5000 of the measured range,
        whichever is more, or 23 knots are reached.

        Parameters
        ----------
        command : (float, float), optional
            The commands that stand for the measured values at the curve's ends, lower then upper. Left out: those
            measured values, so that a command is a joint angle.

        Returns
        -------
        dict

        Raises
        ------
        FitError
            `command` is not a range.

        Examples
        --------
        >>> import elbowroom as elb
        >>> fit = elb.fit_curve([10, 30, 50, 70, 90, 110], [0.0, 9.1, 20.8, 35.2, 52.0, 71.3])
        >>> joint = elb.Joint("crest", rest=30, servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
        ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096), **fit.joint_fields())
        >>> round(joint.drive(35.2), 1)
        70.1
        """
        fields: dict[str, Any] = json.loads(_core.curve_fields(_record(self), _or(command, self.command_range)))
        return _fields(fields)

    def apply_to(self, joint: Joint, *, command: Sequence[float] | None = None, rest: float | None = None) -> Joint:
        """The joint with this curve as its transmission, rounded to what a file shows; its travel is cut to the curve's ends.

        Parameters
        ----------
        joint : Joint
            Unchanged itself; the fit's `drive` must have been drive angles of this joint.
        command : (float, float), optional
            As for `joint_fields`; left out: six digits of those of the fit.
        rest : float, optional
            The rest in these commands; the joint's own if left out.

        Returns
        -------
        Joint

        Raises
        ------
        FitError
            `command` is not a range, or the joint's travel lies wholly outside the curve.
        JointError
            The joint with this curve is not valid, e.g. its rest lies outside the new commands.

        Examples
        --------
        >>> import elbowroom as elb
        >>> drive = [10, 20, 30, 40, 50, 60, 70, 80, 90, 100]
        >>> measured = [0.1, 5.9, 12.6, 19.9, 28.1, 37.0, 46.4, 56.7, 67.4, 78.9]
        >>> crest = elb.Joint("crest", command=(0, 79), drive=(10, 100), rest=30,
        ...                  servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
        ...                  timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
        >>> round(elb.fit_curve(drive, measured).apply_to(crest).drive(40), 1)
        63.3
        """
        return _core.curve_apply(_record(self), joint, command, rest)

    @drawing("Where to draw readings and curve alone", returns="Those of the readings.")
    def plot(self, path: str | PathLike[str] | None = None, *, ax: Axes | None = None, title: str | None = None) -> Axes:
        """Draw the readings, the curve with its knots, and below them the residuals."""
        from elbowroom import _plot_transmission

        return _plot_transmission.curve_fit(self, path, ax, title)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A dimension of a mechanism by its key in a robot file; `u` is its standard uncertainty, None where it was given."""

    name: str
    value: float
    u: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherBranch:
    """The other way to put a slider-crank or four-bar together, where the readings do not tell it from the one fitted.

    Attributes
    ----------
    branch : {"left", "right"}
        Its branch.
    residual_sd, fitted_sd : float
        Standard deviation of the readings about it, and about the mechanism fitted, in measured units.
    apart : float
        The most by which the joint angles of the two differ over the drive angles read and a tenth of their range to either side.
    is_better : bool
        Whether the readings fit it better: it makes them 20 times as likely.
    sentence : str
        What to do about it.
    """

    branch: Literal["left", "right"]
    residual_sd: float
    fitted_sd: float
    apart: float
    is_better: bool
    sentence: str

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkageFit:
    """A mechanism whose dimensions were improved by readings: what `fit_linkage` found.

    Attributes
    ----------
    kind : str
        ``"triangle"``, ``"slider-crank"``, ``"four-bar"`` or ``"spool"``.
    dimensions : tuple of Dimension
        All of them in the order of a robot file: found, with their standard uncertainties, or kept as given.
    branch : str or None
        ``"left"`` or ``"right"``: the assembly branch, for a slider-crank or four-bar.
    offset : Estimate
        Drive angle, deg, at which the servo's side has moved by 0: how the horn sits on its spline.
    gain : Estimate
        Drive angle per movement of the servo's side: deg per deg, or per unit of length for a triangle.
    drive_range, measured_range : (float, float)
        Lowest and highest drive angle and measured value of the readings.
    residual_sd : float
        Standard deviation of the readings about the mechanism, free of lost motion, in measured units.
    dof : int
        Readings less the dimensions found, offset and gain, and less one where lost motion was measured.
    sum_of_squares : float
        Sum of squared residuals.
    lost_motion : LostMotion
        Found with the dimensions; its `drive` at the mechanism's mean slope over the readings.
    by_side : BySide
        What the side of approach adds to the mechanism, which lies midway.
    other_branch : OtherBranch or None
        The other way to put the same links together, where the readings do not tell it from this one, or fit it better.
    drive, measured, approach : tuple
        The readings themselves, for plots; they count neither for equality nor in `repr`.
    """

    kind: str
    dimensions: tuple[Dimension, ...]
    branch: str | None
    offset: Estimate
    gain: Estimate
    drive_range: tuple[float, float]
    measured_range: tuple[float, float]
    residual_sd: float
    dof: int
    sum_of_squares: float
    lost_motion: LostMotion
    by_side: BySide
    other_branch: OtherBranch | None
    drive: tuple[float, ...] = field(default=(), compare=False, repr=False)
    measured: tuple[float, ...] = field(default=(), compare=False, repr=False)
    approach: tuple[str | None, ...] | None = field(default=None, compare=False, repr=False)

    @property
    def transmission(self) -> dict[str, Any]:
        """dict: the mechanism with the keys of a robot file."""
        branch = {} if self.branch is None else {"branch": self.branch}
        return {"kind": self.kind, **{one.name: one.value for one in self.dimensions}, **branch}

    @property
    def command_range(self) -> tuple[float, float]:
        """(float, float): the joint angles of the lowest and the highest drive angle read, lower first."""
        return _core.linkage_command(_linkage_record(self))

    def expected(self, drive: Any) -> Any:
        """The measured value that the mechanism expects at a drive angle.

        Parameters
        ----------
        drive : float or array_like
            Drive angles, deg, of any shape; NaN gives NaN.

        Returns
        -------
        float or ndarray
            In measured units: deg, for a slider-crank the unit of its lengths. NaN where the mechanism cannot reach.

        Examples
        --------
        >>> import elbowroom as elb
        >>> drive, measured = [10.0, 25.1, 42.1, 59.4, 75.7, 90.1], [0.0, 15.6, 31.1, 46.7, 62.2, 77.8]
        >>> fit = elb.fit_linkage(drive, measured, {"kind": "triangle", "base": 40, "arm": 92, "angle_at_zero": 31})
        >>> round(float(fit.expected(50.0)), 1)
        38.2
        """
        return _core.linkage_at(_linkage_record(self), drive, "drive")

    def drive_at(self, measured: Any) -> Any:
        """The drive angle of a joint angle: `offset` and `gain` times the movement of the servo's side.

        Parameters
        ----------
        measured : float or array_like
            Joint angles, deg (places of a slider-crank), of any shape; NaN gives NaN.

        Returns
        -------
        float or ndarray
            Deg. NaN where the mechanism cannot reach.

        Examples
        --------
        >>> import elbowroom as elb
        >>> drive, measured = [10.0, 25.1, 42.1, 59.4, 75.7, 90.1], [0.0, 15.6, 31.1, 46.7, 62.2, 77.8]
        >>> fit = elb.fit_linkage(drive, measured, {"kind": "triangle", "base": 40, "arm": 92, "angle_at_zero": 31})
        >>> round(float(fit.drive_at(38.0)), 1)
        49.8
        """
        return _core.linkage_at(_linkage_record(self), measured, "measured")

    def explains_stops(self, limits: LimitFit) -> tuple[bool, bool]:
        """Which of the stops that a limit fit found, lower then upper, may not be stops.

        Near a dead centre a joint levels off as it does on a stop. There the mechanism, fitted again with the readings beyond,
        has a residual SD of at most 1.5 times that without them (an assumption of this library). The travel is not changed by
        this: look at the joint.

        Parameters
        ----------
        limits : LimitFit
            With its readings; this must be a fit of what its `between_stops` gave.

        Returns
        -------
        (bool, bool)
            False for an end where no stop was found, and for a fit without its readings.

        Examples
        --------
        >>> import elbowroom as elb
        >>> drive, measured = [10.0, 25.1, 42.1, 59.4, 75.7, 90.1], [0.0, 15.6, 31.1, 46.7, 62.2, 77.8]
        >>> fit = elb.fit_linkage(drive, measured, {"kind": "triangle", "base": 40, "arm": 92, "angle_at_zero": 31})
        >>> fit.explains_stops(elb.fit_limits(drive, measured))
        (False, False)
        """
        return _core.linkage_explains(_linkage_record(self), limits)

    def joint_fields(self, *, command: Sequence[float] | None = None) -> dict[str, Any]:
        """What a joint needs of this fit, as keywords of `Joint`: `command`, `drive`, `inverted` and `transmission`.

        Parameters
        ----------
        command : (float, float), optional
            Joint angles, lower then upper, which are the commands of a mechanism. Left out: those of the readings
            (`command_range`). Beyond them the mechanism extrapolates.

        Returns
        -------
        dict

        Raises
        ------
        FitError
            `command` is not a range, is out of reach, or holds a dead centre or comes too close to one.

        Examples
        --------
        >>> import elbowroom as elb
        >>> drive, measured = [10.0, 25.1, 42.1, 59.4, 75.7, 90.1], [0.0, 15.6, 31.1, 46.7, 62.2, 77.8]
        >>> fit = elb.fit_linkage(drive, measured, {"kind": "triangle", "base": 40, "arm": 92, "angle_at_zero": 31})
        >>> joint = elb.Joint("neck", rest=30, servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
        ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096), **fit.joint_fields(command=(0, 60)))
        >>> joint.transmission["kind"], round(joint.drive(30.0))
        ('triangle', 41)
        """
        fields: dict[str, Any] = json.loads(_core.linkage_fields(_linkage_record(self), _or(command, self.command_range)))
        return _fields(fields)

    def apply_to(self, joint: Joint, *, command: Sequence[float] | None = None, rest: float | None = None) -> Joint:
        """The joint with this mechanism as its transmission, rounded to what a file shows; its travel is cut to its drive range.

        Parameters
        ----------
        joint : Joint
            Unchanged itself; the fit's `drive` must have been drive angles of this joint.
        command : (float, float), optional
            As for `joint_fields`; left out: six digits of those of the fit.
        rest : float, optional
            The rest in these commands; the joint's own if left out.

        Returns
        -------
        Joint

        Raises
        ------
        FitError
            As for `joint_fields`.
        JointError
            The joint with this mechanism is not valid, e.g. its rest lies outside the new commands.

        Examples
        --------
        >>> import elbowroom as elb
        >>> drive, measured = [10.0, 25.1, 42.1, 59.4, 75.7, 90.1], [0.0, 15.6, 31.1, 46.7, 62.2, 77.8]
        >>> fit = elb.fit_linkage(drive, measured, {"kind": "triangle", "base": 40, "arm": 92, "angle_at_zero": 31})
        >>> neck = elb.Joint("neck", command=(0, 78), drive=(10, 90), rest=30,
        ...                  servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
        ...                  timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
        >>> fit.apply_to(neck).transmission["kind"]
        'triangle'
        """
        return _core.linkage_apply(_linkage_record(self), joint, command, rest)

    @drawing("Where to draw readings and curve alone", returns="Those of the readings.")
    def plot(self, path: str | PathLike[str] | None = None, *, ax: Axes | None = None, title: str | None = None) -> Axes:
        """Draw the readings and the mechanism's curve, below them the residuals, beside them the mechanism itself."""
        from elbowroom import _plot_transmission

        return _plot_transmission.linkage_fit(self, path, ax, title)


def kept(drive: Any, measured: Any, approach: Any = None) -> dict[str, Any]:
    """What was accepted, kept for plots."""
    columns = {"drive": tuple(float(x) for x in drive), "measured": tuple(float(x) for x in measured)}
    return {**columns, "approach": sides(approach)}


def _or(command: Sequence[float] | None, own: tuple[float, float]) -> Sequence[float]:
    return own if command is None else command


def _fields(fields: dict[str, Any]) -> dict[str, Any]:
    return fields | {"command": tuple(fields["command"]), "drive": tuple(fields["drive"])}


def curve_of(record: dict[str, Any], why_not: str | None, readings: dict[str, Any]) -> CurveFit:
    return CurveFit(
        knots=tuple((x, y) for x, y in record.pop("knots")),
        u=tuple(record.pop("u")),
        criterion=tuple(record.pop("criterion")),
        lost_motion=lost_motion_of(record.pop("lost_motion"), why_not),
        by_side=BySide(**record.pop("by_side")),
        **record,
        **readings,
    )


def linkage_of(record: dict[str, Any], why_not: str | None, sentence: str | None, readings: dict[str, Any]) -> LinkageFit:
    mechanism, found = record.pop("mechanism"), {one["name"]: one["u"] for one in record.pop("found")}
    other = record.pop("other_branch")
    return LinkageFit(
        kind=mechanism.pop("kind"),
        branch=mechanism.pop("branch", None),
        dimensions=tuple(Dimension(name=name, value=value, u=found.get(name)) for name, value in mechanism.items()),
        offset=Estimate(**record.pop("offset")),
        gain=Estimate(**record.pop("gain")),
        drive_range=tuple(record.pop("drive")),
        measured_range=tuple(record.pop("measured")),
        lost_motion=lost_motion_of(record.pop("lost_motion"), why_not),
        by_side=BySide(**record.pop("by_side")),
        other_branch=None if other is None else OtherBranch(**other, sentence=sentence or ""),
        **record,
        **readings,
    )


def _record(fit: CurveFit) -> str:
    """The core's own record of a curve."""
    record = asdict(fit)
    del record["drive"], record["measured"], record["approach"]
    record["lost_motion"] = lost_motion_record(fit.lost_motion)
    return json.dumps(record)


def _linkage_record(fit: LinkageFit) -> str:
    """The core's own record of a mechanism."""
    other = None if fit.other_branch is None else asdict(fit.other_branch)
    if other is not None:
        del other["sentence"]
    return json.dumps({
        "mechanism": fit.transmission,
        "found": [asdict(one) for one in fit.dimensions if one.u is not None],
        "offset": asdict(fit.offset),
        "gain": asdict(fit.gain),
        "drive": fit.drive_range,
        "measured": fit.measured_range,
        "residual_sd": fit.residual_sd,
        "dof": fit.dof,
        "sum_of_squares": fit.sum_of_squares,
        "lost_motion": lost_motion_record(fit.lost_motion),
        "by_side": asdict(fit.by_side),
        "other_branch": other,
    })


def fit_curve(drive: Any, measured: Any, *, approach: Any = None, most_knots: int = MOST_KNOTS) -> CurveFit:
    """Fit a strictly monotone curve to what was measured at each drive angle.

    Knots stand where equal numbers of different drive angles lie between them; their values are those of least squares,
    moved to the nearest monotone ones where needed. Their number is the one of the least
    ``n * (log(S / n) + k * log(n) / (n - k - 2))``, S being the sum of squares and k the knots, and one more where lost motion
    is found: another knot must reduce the scatter by more than chance would. Between the knots the curve is a cubic with Fritsch and Carlson's limiter.

    Parameters
    ----------
    drive : array_like, shape (n,)
        The drive angle commanded at each reading, deg, at least 5; in any order, repeats welcome.
    measured : array_like, shape (n,)
        What was measured there, at rest, in any unit. Leave out readings on a stop and misreadings first:
        `LimitFit.between_stops` does so: ``fit_curve(**limits.between_stops())``.
    approach : sequence of {"below", "above", None}, optional
        From which side each position was reached. Where some stretch was reached from both sides, lost motion is found as well
        and does not count as scatter; otherwise it changes nothing.
    most_knots : int, default 12
        The most knots to use, 2 to 12.

    Returns
    -------
    CurveFit

    Raises
    ------
    FitError
        Too few readings, NaN (with its `index`), arrays of different length, readings that neither rise nor fall,
        `most_knots` outside its range.

    Notes
    -----
    Sources: G. Schwarz, Annals of Statistics 6 (1978) 461, the Bayesian information criterion, corrected for few readings as
    by A. McQuarrie, Statistics & Probability Letters 44 (1999) 79 (from memory); F. N. Fritsch and R. E. Carlson, SIAM
    Journal on Numerical Analysis 17 (1980) 238.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [10, 20, 30, 40, 50, 60, 70, 80, 90, 100]
    >>> measured = [0.1, 5.9, 12.6, 19.9, 28.1, 37.0, 46.4, 56.7, 67.4, 78.9]
    >>> fit = elb.fit_curve(drive, measured)
    >>> len(fit.knots), round(fit.residual_sd, 2)
    (4, 0.06)
    >>> fit.expected([15, 55]).round(1).tolist()
    [2.9, 32.4]
    """
    record, why_not = json.loads(_core.curve_fit(drive, measured, most_knots=most_knots, approach=approach))
    return curve_of(record, why_not, kept(drive, measured, approach))


def fit_linkage(
    drive: Any, measured: Any, start: dict[str, Any], *, free: Iterable[str] = (), approach: Any = None
) -> LinkageFit:
    """Improve dimensions of a mechanism by readings of the joint.

    How the horn sits on its spline, gear ratio or screw pitch need not be known: drive angle is an offset plus a gain times the
    mechanism's own movement, and both are found as well. So lengths show in their ratios only: keep at least one of them.

    Parameters
    ----------
    drive : array_like, shape (n,)
        The drive angle commanded at each reading, deg; in any order, repeats welcome. At least three more readings than
        dimensions in `free`.
    measured : array_like, shape (n,)
        The joint angle there, deg (for a slider-crank the slide's place, in the unit of its lengths), as the mechanism counts
        its command.
    start : dict
        The mechanism as measured with a ruler, with the keys of a robot file: `kind` (``"triangle"``, ``"slider-crank"``,
        ``"four-bar"``, ``"spool"``) and its dimensions.
    free : iterable of str, default ()
        The dimensions to improve, by their keys; the others are kept. None: only offset and gain are found.
    approach : sequence of {"below", "above", None}, optional
        From which side each position was reached. Where some stretch was reached from both sides, lost motion is found as well
        and does not count as scatter; otherwise it changes nothing.

    Returns
    -------
    LinkageFit

    Raises
    ------
    FitError
        A dimension that these readings do not determine, a start that cannot reach a reading, too few readings, NaN (with
        its `index`).
    ArgumentError
        A `start` of a kind without dimensions; a name that is none of them.

    Notes
    -----
    A slider-crank and a four-bar can be put together in two ways; `LinkageFit.other_branch` says so where the readings do not
    tell them apart.

    Least squares of the measured values, to first order through the mechanism's slope, by Levenberg and Marquardt's steps;
    uncertainties from the curvature of the sum of squares at its least (JCGM 100:2008, 4.2).

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [10.0, 17.2, 25.1, 33.5, 42.1, 50.8, 59.4, 67.7, 75.7, 83.3]
    >>> measured = [0.0, 7.8, 15.6, 23.3, 31.1, 38.9, 46.7, 54.4, 62.2, 70.0]
    >>> start = {"kind": "triangle", "base": 40, "arm": 92, "angle_at_zero": 25}
    >>> fit = elb.fit_linkage(drive, measured, start, free=["angle_at_zero"])
    >>> found = fit.dimensions[2]
    >>> found.name, round(found.value, 1), round(found.u, 1)
    ('angle_at_zero', 30.9, 0.1)
    """
    record, why_not, branch = json.loads(_core.linkage_fit(drive, measured, start, free, approach))
    return linkage_of(record, why_not, branch, kept(drive, measured, approach))


for _name in __all__:
    globals()[_name].__module__ = "elbowroom"
