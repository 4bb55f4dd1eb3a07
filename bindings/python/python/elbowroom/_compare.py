"""What changed between two calibrations, and how exactly an axis is positioned."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from elbowroom import _core
from elbowroom._errors import ArgumentTypeError
from elbowroom._fit import LimitFit, _record
from elbowroom._line import Estimate

if TYPE_CHECKING:
    from os import PathLike

    from matplotlib.axes import Axes

__all__ = [
    "AxisOneSided",
    "AxisTwoSided",
    "Change",
    "Comparison",
    "Diagnosis",
    "OneSided",
    "Positioning",
    "SplineTeeth",
    "Target",
    "TwoSided",
    "compare",
    "positioning",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One quantity, then and now.

    Attributes
    ----------
    quantity : {"offset", "scale", "lower", "upper", "lost-motion"}
    difference : Estimate or None
        New less old (for the scale: the ratio less one).
    e_n : float or None
        Normalised error with the difference's sign; up to 1 the two agree (ISO 13528:2022, 9.7).
    verdict : {"same", "changed", "not-comparable"}
    """

    quantity: str
    difference: Estimate | None
    e_n: float | None
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SplineTeeth:
    """A whole number of spline teeth that explains a shift: teeth of the horn, teeth moved, what is left in drive."""

    horn: int
    teeth: int
    left: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """A plain reading of the differences: `kind` in kebab-case, its sentence, and its numbers by name."""

    kind: str
    sentence: str
    values: tuple[tuple[str, Any], ...] = ()

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """The comparison of two fits.

    Attributes
    ----------
    changes : tuple of Change
    sense_changed : bool
        The slope has another sign.
    teeth : tuple of SplineTeeth
        All whole numbers of teeth that explain an offset shift within its uncertainty.
    diagnoses : tuple of Diagnosis
        What it comes to, the gravest first.
    """

    changes: tuple[Change, ...]
    sense_changed: bool
    teeth: tuple[SplineTeeth, ...]
    diagnoses: tuple[Diagnosis, ...]

    def __str__(self) -> str:
        return "; ".join(map(str, self.diagnoses))


def compare(old: LimitFit, new: LimitFit) -> Comparison:
    """Compare an earlier with a later fit of one joint, measured in the same units.

    Each quantity is judged by its normalised error with expanded uncertainties at 95 % (ISO 13528:2022, 9.7).

    Parameters
    ----------
    old, new : LimitFit

    Returns
    -------
    Comparison

    Examples
    --------
    >>> import numpy as np, elbowroom as elb
    >>> drive = np.arange(20) * 4.0
    >>> wobble = np.where(np.arange(20) % 2 == 0, 0.05, -0.05)
    >>> old = elb.fit_limits(drive, drive + wobble)
    >>> new = elb.fit_limits(drive, drive + 15 - wobble)  # one tooth of 24 further
    >>> elb.compare(old, new).diagnoses[0].kind
    'offset-shifted'
    """
    for name, fit in (("old", old), ("new", new)):
        if not isinstance(fit, LimitFit):
            raise ArgumentTypeError(f"{name} is of type {type(fit).__name__}; give a LimitFit", code="wrong-type", value=fit)
    record, sentences = json.loads(_core.fit_compare(_record(old), _record(new)))
    changes = []
    for change in record["changes"]:
        difference = change.pop("difference")
        changes.append(Change(difference=None if difference is None else Estimate(**difference), **change))
    diagnoses = []
    for diagnosis, sentence in zip(record["diagnoses"], sentences, strict=True):
        kind = diagnosis.pop("kind")
        if diagnosis.get("spline") is not None:
            diagnosis["spline"] = SplineTeeth(**diagnosis["spline"])
        diagnoses.append(Diagnosis(kind=kind, sentence=sentence, values=tuple(diagnosis.items())))
    return Comparison(
        changes=tuple(changes),
        sense_changed=record["sense_changed"],
        teeth=tuple(SplineTeeth(**one) for one in record["teeth"]),
        diagnoses=tuple(diagnoses),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class OneSided:
    """One target from one side.

    Attributes
    ----------
    n : int
        Runs.
    mean : float
        Mean deviation from the target; also the pose accuracy AP of ISO 9283, with its sign.
    s : float
        Standard deviation of the deviations.
    repeatability : float
        ISO 230-2 unidirectional repeatability, 4 s.
    pose_repeatability : float
        ISO 9283 pose repeatability RP of a position.
    pose_half_width : float
        ISO 9283 pose repeatability of an angle: half width 3 S.
    """

    n: int
    mean: float
    s: float
    repeatability: float
    pose_repeatability: float
    pose_half_width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoSided:
    """One target from both sides: mean of both means, reversal value, bidirectional repeatability (ISO 230-2)."""

    mean: float
    reversal: float
    repeatability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What one target shows: from below (`up`), from above (`down`), and both together."""

    target: float
    up: OneSided | None
    down: OneSided | None
    both: TwoSided | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisOneSided:
    """The axis from one side: repeatability R, systematic deviation E, accuracy A (ISO 230-2, unidirectional)."""

    repeatability: float
    systematic: float
    accuracy: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisTwoSided:
    """The axis from both sides (ISO 230-2, bidirectional).

    Attributes
    ----------
    reversal, mean_reversal : float
        Reversal value B, the largest size; and the mean, with its sign.
    repeatability, systematic, mean_deviation, accuracy : float
        R, E, M and A.
    """

    reversal: float
    mean_reversal: float
    repeatability: float
    systematic: float
    mean_deviation: float
    accuracy: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Positioning:
    """Positioning of one axis, in the unit of the targets.

    Attributes
    ----------
    targets : tuple of Target
        In the order given.
    up, down : AxisOneSided or None
        The axis from below and from above; None without runs from there.
    both : AxisTwoSided or None
    runs : tuple
        The runs themselves, for plots; they count neither for equality nor in `repr`.
    """

    targets: tuple[Target, ...]
    up: AxisOneSided | None
    down: AxisOneSided | None
    both: AxisTwoSided | None
    runs: tuple[tuple[str, tuple[float, ...]], ...] = field(default=(), compare=False, repr=False)

    def plot(self, path: str | PathLike[str] | None = None, *, ax: Axes | None = None, title: str | None = None) -> Axes:
        """Draw the deviations of all runs, the means of both sides, and mean ± 2 s around them.

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

        return _plot.positioning(self, path, ax, title)


def positioning(targets: Any, runs: Sequence[tuple[str, Any]]) -> Positioning:
    """Evaluate runs over the same targets by ISO 230-2 and ISO 9283.

    Parameters
    ----------
    targets : array_like, shape (m,)
    runs : sequence of (approach, positions)
        Each run reached all targets from one side, ``"below"`` or ``"above"``; `positions` has shape (m,). The
        standard asks for five runs a side, two are the fewest.

    Returns
    -------
    Positioning

    Raises
    ------
    FitError
        No targets, a run of another length, values that are not finite, a single run from a side.

    Examples
    --------
    >>> import elbowroom as elb
    >>> found = elb.positioning([0, 90], [("below", [0.1, 90.1]), ("below", [0.3, 90.3]),
    ...                                   ("above", [-0.1, 89.9]), ("above", [-0.3, 89.7])])
    >>> round(found.both.reversal, 6)
    0.4
    """
    record, read = json.loads(_core.positioning(targets, runs))

    def side(kind: Any, values: dict[str, Any] | None) -> Any:
        return None if values is None else kind(**values)

    return Positioning(
        targets=tuple(
            Target(
                target=one["target"],
                up=side(OneSided, one["up"]),
                down=side(OneSided, one["down"]),
                both=side(TwoSided, one["both"]),
            )
            for one in record["targets"]
        ),
        up=side(AxisOneSided, record["up"]),
        down=side(AxisOneSided, record["down"]),
        both=side(AxisTwoSided, record["both"]),
        runs=tuple((approach, tuple(positions)) for approach, positions in read),
    )


for _name in __all__:
    globals()[_name].__module__ = "elbowroom"
