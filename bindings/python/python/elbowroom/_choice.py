"""Which transmission fits the readings best, as frozen records."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from elbowroom import _core
from elbowroom._drawing import drawing
from elbowroom._fit import LostMotion, lost_motion_of
from elbowroom._line import LineFit
from elbowroom._transmission import MOST_KNOTS, BySide, CurveFit, LinkageFit, curve_of, kept, linkage_of

if TYPE_CHECKING:
    from os import PathLike

    from matplotlib.axes import Axes

    from elbowroom import Joint

__all__ = [
    "Candidate",
    "Choice",
    "Reason",
    "choose_transmission",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One transmission that `choose_transmission` tried.

    Attributes
    ----------
    kind : str
        The word for it in a robot file: ``"linear"``, ``"curve"``, ``"triangle"`` ….
    fit : LineFit, CurveFit, LinkageFit or None
        What was fitted; None where the mechanism could not be.
    residual_sd : float or None
        Standard deviation of the readings about it, free of lost motion, in measured units.
    parameters : int
        Numbers found from the readings, lost motion among them.
    criterion : float or None
        What candidates are compared by, lower is better.
    refused : str or None
        Why it could not be fitted.
    lost_motion : LostMotion
        Found with it, or why it cannot be determined.
    by_side : BySide
        What the side of approach adds to it.
    """

    kind: str
    fit: LineFit | CurveFit | LinkageFit | None
    residual_sd: float | None
    parameters: int
    criterion: float | None
    refused: str | None
    lost_motion: LostMotion
    by_side: BySide

    def expected(self, drive: Any) -> Any:
        """The measured value that it expects at a drive angle, as `CurveFit.expected`; NaN for one that was refused.

        Parameters
        ----------
        drive : float or array_like
            Drive angles, deg, of any shape.

        Returns
        -------
        float or ndarray

        Examples
        --------
        >>> import elbowroom as elb
        >>> drive = [10, 20, 30, 40, 50, 60, 70, 80, 90, 100]
        >>> measured = [0.1, 5.9, 12.6, 19.9, 28.1, 37.0, 46.4, 56.7, 67.4, 78.9]
        >>> choice = elb.choose_transmission(drive, measured)
        >>> round(float(choice.chosen.expected(55)), 1)
        32.4
        """
        if isinstance(self.fit, LineFit):
            return self.fit.predict(drive).value
        if self.fit is None:
            return np.full(np.shape(drive), np.nan)[()]
        return self.fit.expected(drive)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why a transmission was chosen.

    `kind` names it (``"enough"``, ``"bent"``, ``"explained"``, ``"unexplained"``, ``"refused"``, ``"other-branch"``), `sentence` says it,
    `values` holds by name what it is about.
    """

    kind: str
    sentence: str
    values: tuple[tuple[str, float | str | None], ...]

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Which transmission fits the readings best, and why: what `choose_transmission` found.

    Attributes
    ----------
    candidates : tuple of Candidate
        All that was tried: the line, the curve, the mechanisms in the order given.
    best : int
        Which of them to take.
    reasons : tuple of Reason
        Why, the most important first.
    drive, measured, approach : tuple
        The readings themselves, for plots; they count neither for equality nor in `repr`.
    """

    candidates: tuple[Candidate, ...]
    best: int
    reasons: tuple[Reason, ...]
    drive: tuple[float, ...] = field(default=(), compare=False, repr=False)
    measured: tuple[float, ...] = field(default=(), compare=False, repr=False)
    approach: tuple[str | None, ...] | None = field(default=None, compare=False, repr=False)

    @property
    def chosen(self) -> Candidate:
        """Candidate: the one to take."""
        return self.candidates[self.best]

    def apply_to(self, joint: Joint, *, command: Sequence[float] | None = None, rest: float | None = None) -> Joint:
        """The joint with the transmission chosen.

        Parameters
        ----------
        joint : Joint
            Unchanged itself; the fit's `drive` must have been drive angles of this joint.
        command : (float, float), optional
            As for `CurveFit.apply_to` and `LinkageFit.apply_to`. Where a line was chosen the joint keeps its drive range,
            and its commands unless they are given here.
        rest : float, optional
            The rest in these commands; the joint's own if left out.

        Returns
        -------
        Joint

        Examples
        --------
        >>> import elbowroom as elb
        >>> drive = [10, 20, 30, 40, 50, 60, 70, 80, 90, 100]
        >>> measured = [0.1, 5.9, 12.6, 19.9, 28.1, 37.0, 46.4, 56.7, 67.4, 78.9]
        >>> crest = elb.Joint("crest", command=(0, 79), drive=(10, 100), rest=30,
        ...                  servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
        ...                  timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
        >>> round(elb.choose_transmission(drive, measured).apply_to(crest).drive(40), 1)
        63.3
        """
        fit = self.chosen.fit
        if isinstance(fit, (CurveFit, LinkageFit)):
            return fit.apply_to(joint, command=command, rest=rest)
        changes: dict[str, Any] = {"transmission": {"kind": "linear"}}
        changes |= {} if command is None else {"command": command}
        changes |= {} if rest is None else {"rest": rest}
        return joint.replace(**changes)

    @drawing("Where to draw readings and candidates alone", returns="Those of the readings.")
    def plot(self, path: str | PathLike[str] | None = None, *, ax: Axes | None = None, title: str | None = None) -> Axes:
        """Draw the readings with every candidate, and below them the residuals of each."""
        from elbowroom import _plot_transmission

        return _plot_transmission.choice(self, path, ax, title)


def choose_transmission(
    drive: Any,
    measured: Any,
    *,
    approach: Any = None,
    guesses: Iterable[tuple[dict[str, Any], Iterable[str]]] = (),
    most_knots: int = MOST_KNOTS,
) -> Choice:
    """Choose the transmission that fits the readings best: a line, a curve, or one of the mechanisms that the joint may have.

    Compared is ``n * (log(S / n) + k * log(n) / (n - k - 2))`` with S the sum of squares in measured units and k the numbers
    found. Of two that differ by less than 2 the one with fewer numbers is taken, and of a curve and a mechanism the mechanism.

    Parameters
    ----------
    drive, measured : array_like, shape (n,)
        As for `fit_curve`; ``choose_transmission(**limits.between_stops())`` takes them with their approach.
    approach : sequence of {"below", "above", None}, optional
        As for `fit_curve`: each candidate finds lost motion as well, and none counts it as scatter.
    guesses : iterable of (dict, iterable of str)
        Mechanisms that the joint may have: `start` and `free` of `fit_linkage`. One that cannot be fitted is not an error: it
        becomes a candidate with its `refused`.
    most_knots : int, default 12
        The most knots of the curve, 2 to 12.

    Returns
    -------
    Choice

    Raises
    ------
    FitError, ArgumentError
        As for `fit_curve` and, for `guesses` that are not mechanisms, `fit_linkage`.

    Notes
    -----
    Source of the criterion: as for `fit_curve`.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [10, 20, 30, 40, 50, 60, 70, 80, 90, 100]
    >>> choice = elb.choose_transmission(drive, [0.1, 5.9, 12.6, 19.9, 28.1, 37.0, 46.4, 56.7, 67.4, 78.9])
    >>> choice.chosen.kind
    'curve'
    >>> print(choice.reasons[0])
    linear: residual SD 2.83, 47.8 times the chosen model's: the joint is nonlinear
    """
    text = _core.transmission_choose(drive, measured, guesses=guesses, most_knots=most_knots, approach=approach)
    record, readings = json.loads(text), kept(drive, measured, approach)

    def candidate(one: dict[str, Any]) -> Candidate:
        fit, branch, why_not = one.pop("fit"), one.pop("branch"), one.pop("no_lost_motion")
        made: LineFit | CurveFit | LinkageFit | None = None
        if fit is not None and one["kind"] == "linear":
            made = LineFit(**fit)
        elif fit is not None and one["kind"] == "curve":
            made = curve_of(fit, why_not, readings)
        elif fit is not None:
            made = linkage_of(fit, why_not, branch, readings)
        lost_motion, by_side = lost_motion_of(one.pop("lost_motion"), why_not), BySide(**one.pop("by_side"))
        return Candidate(fit=made, lost_motion=lost_motion, by_side=by_side, **one)

    return Choice(
        candidates=tuple(candidate(one) for one in record["candidates"]),
        best=record["best"],
        reasons=tuple(Reason(**one | {"values": tuple((name, value) for name, value in one["values"])}) for one in record["reasons"]),
        **readings,
    )


for _name in __all__:
    globals()[_name].__module__ = "elbowroom"
