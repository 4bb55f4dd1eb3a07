"""Transmissions from measured points, curves and mechanisms."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from elbowroom import _core
from elbowroom._core import MOST_KNOTS, CurveFit, LinkageFit

if TYPE_CHECKING:
    from elbowroom._types import Branch

__all__ = [
    "BySide",
    "CurveFit",
    "Dimension",
    "LinkageFit",
    "OtherBranch",
    "fit_curve",
    "fit_linkage",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class BySide:
    """What the side of approach adds to a transmission: it expects ``f(x + s * drive) + s * measured`` at drive angle x.

    ``s`` is +1 for a position reached from below, -1 from above, 0 where that is unknown; `f` is the line, curve or mechanism.
    At most one of the two is other than 0: `drive` for play before the bent part, as in the servo's gears, `measured` for play
    behind it.

    Examples
    --------
    >>> import elbowroom as elb
    >>> elb.fit_curve([10, 30, 50, 70, 90, 110], [0.0, 9.1, 20.8, 35.2, 52.0, 71.3]).by_side
    BySide(drive=0.0, measured=0.0)
    """

    drive: float
    measured: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A dimension of a mechanism by its key in a robot file; `u` is its standard uncertainty, None where it was given.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive, measured = [10.0, 25.1, 42.1, 59.4, 75.7, 90.1], [0.0, 15.6, 31.1, 46.7, 62.2, 77.8]
    >>> fit = elb.fit_linkage(drive, measured, {"kind": "triangle", "base": 40, "arm": 92, "angle_at_zero": 31})
    >>> [one.name for one in fit.dimensions]
    ['base', 'arm', 'angle_at_zero']
    """

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

    branch: Branch
    residual_sd: float
    fitted_sd: float
    apart: float
    is_better: bool
    sentence: str

    def __str__(self) -> str:
        return self.sentence


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
    return _core.curve_fit(drive, measured, most_knots=most_knots, approach=approach)


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
    return _core.linkage_fit(drive, measured, start, free, approach)


for _name in ("BySide", "Dimension", "OtherBranch", "fit_curve", "fit_linkage"):
    globals()[_name].__module__ = "elbowroom"
