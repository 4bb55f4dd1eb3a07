"""Which transmission fits the readings best."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from elbowroom import _core
from elbowroom._core import MOST_KNOTS, Candidate, Choice

__all__ = [
    "Candidate",
    "Choice",
    "Reason",
    "choose_transmission",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why a transmission was chosen.

    `kind` names it (``"enough"``, ``"bent"``, ``"explained"``, ``"unexplained"``, ``"refused"``, ``"other-branch"``), `sentence` says it,
    `values` holds by name what it is about.

    Examples
    --------
    >>> import elbowroom as elb
    >>> choice = elb.choose_transmission([10, 30, 50, 70, 90, 110], [0.0, 9.1, 20.8, 35.2, 52.0, 71.3])
    >>> choice.reasons[0].kind
    'bent'
    """

    kind: str
    sentence: str
    values: tuple[tuple[str, float | str | bool], ...]

    def __str__(self) -> str:
        return self.sentence


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
    return _core.transmission_choose(drive, measured, guesses=guesses, most_knots=most_knots, approach=approach)


def chosen_again(drive: Any, measured: Any, approach: Any, guesses: Any, most_knots: int) -> Choice:
    """A pickled choice."""
    return choose_transmission(drive, measured, approach=approach, guesses=guesses, most_knots=most_knots)


def candidate(choice: Choice, index: int) -> Candidate:
    """A pickled candidate."""
    return choice.candidates[index]


for _name in ("Reason", "choose_transmission"):
    globals()[_name].__module__ = "elbowroom"
