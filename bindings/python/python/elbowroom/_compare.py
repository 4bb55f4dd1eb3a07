"""What changed between two calibrations, and how exactly an axis is positioned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from elbowroom import _core
from elbowroom._drawing import drawing
from elbowroom._fit import FitWarning, LimitFit
from elbowroom._line import Estimate
from elbowroom._types import SplineTeeth

if TYPE_CHECKING:
    from os import PathLike

    from matplotlib.axes import Axes

    from elbowroom._core import Robot

__all__ = [
    "AxisOneSided",
    "AxisTwoSided",
    "Change",
    "Comparison",
    "Diagnosis",
    "JointDifferences",
    "OneSided",
    "Positioning",
    "RobotComparison",
    "SplineTeeth",
    "Target",
    "TwoSided",
    "ValueDifference",
    "compare",
    "compare_robots",
    "positioning",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One quantity, then and now.

    Units: offset and ends in drive angle, the scale a share, bend and lost motion in measured units.

    Attributes
    ----------
    quantity : {"offset", "scale", "bend", "lower", "upper", "lost-motion"}
    difference : Estimate or None
        New less old (for the scale: the ratio less one).
    at_least : bool
        The true difference may be larger: one table has no stop there, and is counted with how far it was clear.
    dof : float or None
        Effective degrees of freedom of its uncertainty (Welch-Satterthwaite, GUM G.4.1); None also where they have no bound.
    e_n : float or None
        Normalised error with the difference's sign (ISO 13528:2022, 9.7); it decides nothing.
    p : float or None
        Probability of a difference at least as large by chance, of this quantity alone.
    p_adjusted : float or None
        The same for the comparison as a whole, by Holm's procedure: significant below 0.05.
    detectable : float or None
        The change that these two tables find with a probability of about 90 %.
    smallest : float
        The smallest change that matters.
    verdict : {"same", "changed", "negligible", "untested", "not-comparable"}
        ``"negligible"`` is significant but smaller than matters; ``"untested"`` is what the earlier table has and the
        later did not test; ``"not-comparable"`` is what the earlier table does not have, or what may be all lost motion between
        tables from opposite sides.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [4.0 * i for i in range(20)]
    >>> wobble = [0.05 if i % 2 else -0.05 for i in range(20)]
    >>> old = elb.fit_limits(drive, [d + w for d, w in zip(drive, wobble)])
    >>> new = elb.fit_limits(drive, [d + 15 - w for d, w in zip(drive, wobble)])
    >>> change = elb.compare(old, new).changes[0]
    >>> change.quantity, round(change.difference.value, 1), change.verdict
    ('offset', 15.0, 'changed')
    """

    quantity: str
    difference: Estimate | None
    at_least: bool
    dof: float | None
    e_n: float | None
    p: float | None
    p_adjusted: float | None
    detectable: float | None
    smallest: float
    verdict: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Diagnosis:
    """A plain reading of the differences: `kind` in kebab-case, its sentence, and its numbers by name.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [4.0 * i for i in range(20)]
    >>> wobble = [0.05 if i % 2 else -0.05 for i in range(20)]
    >>> old = elb.fit_limits(drive, [d + w for d, w in zip(drive, wobble)])
    >>> new = elb.fit_limits(drive, [d + 15 - w for d, w in zip(drive, wobble)])
    >>> elb.compare(old, new).diagnoses[0].kind
    'offset-shifted'
    """

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
    tests : int
        Tests made, which Holm's procedure holds together.
    sense_changed : bool
        The slope has another sign; each fit is sure of its own to 99 % or more.
    changed : bool
        Something changed that matters. Changes smaller than that and quantities that were not tested do not count.
    teeth : tuple of SplineTeeth
        All whole numbers of teeth that agree with the offset, of all horns, the closest first.
    diagnoses : tuple of Diagnosis
        What it comes to, the gravest first; never empty.
    old_warnings, new_warnings : tuple of FitWarning
        Warnings of the earlier and of the later fit.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [4.0 * i for i in range(20)]
    >>> wobble = [0.05 if i % 2 else -0.05 for i in range(20)]
    >>> old = elb.fit_limits(drive, [d + w for d, w in zip(drive, wobble)])
    >>> new = elb.fit_limits(drive, [d + 15 - w for d, w in zip(drive, wobble)])
    >>> comparison = elb.compare(old, new)
    >>> comparison.changed, [change.quantity for change in comparison.changes]
    (True, ['offset', 'scale', 'bend', 'lower', 'upper', 'lost-motion'])
    """

    changes: tuple[Change, ...]
    tests: int
    sense_changed: bool
    changed: bool
    teeth: tuple[SplineTeeth, ...]
    diagnoses: tuple[Diagnosis, ...]
    old_warnings: tuple[FitWarning, ...] = ()
    new_warnings: tuple[FitWarning, ...] = ()

    def __str__(self) -> str:
        return "; ".join(map(str, self.diagnoses))

    @drawing(
        example="""
        >>> import elbowroom as elb
        >>> drive = [4.0 * i for i in range(20)]
        >>> wobble = [0.05 if i % 2 else -0.05 for i in range(20)]
        >>> old = elb.fit_limits(drive, [d + w for d, w in zip(drive, wobble)])
        >>> new = elb.fit_limits(drive, [d + 15 - w for d, w in zip(drive, wobble)])
        >>> axes = elb.compare(old, new).plot(title="after the repair")
        >>> axes.get_title()
        'after the repair'
        """
    )
    def plot(self, path: str | PathLike[str] | None = None, *, ax: Axes | None = None, title: str | None = None) -> Axes:
        """Draw each change with its interval, in units of the smallest that matters."""
        from elbowroom import _plot_history

        return _plot_history.comparison(self, path, ax, title)


def compare(
    old: LimitFit,
    new: LimitFit,
    *,
    smallest_drive: float | None = None,
    smallest_share: float | None = None,
) -> Comparison:
    """Compare an earlier with a later fit of one joint, measured in the same units.

    All quantities are judged together: Student's t with effective degrees of freedom (Welch-Satterthwaite, GUM G.4.1) for
    each, adjusted by Holm's procedure (Scand. J. Statist. 6 (1979) 65). Of unchanged joints at most one in twenty is reported as
    changed in anything at all. What the later table did not test is never called unchanged.

    Parameters
    ----------
    old, new : LimitFit
    smallest_drive : float, optional
        Smallest change of a position that matters, in drive angle, 0.5 if left out; bend and lost motion are judged by as much at the
        joint. What is significant and smaller is ``"negligible"``.
    smallest_share : float, optional
        The same of the scale, as a share, 0.01 if left out.

    Returns
    -------
    Comparison

    Raises
    ------
    FitError
        An option below 0, or not finite.
    ArgumentTypeError
        One of the two is not a LimitFit.

    Examples
    --------
    >>> import numpy as np, elbowroom as elb
    >>> drive = np.arange(20) * 4.0
    >>> wobble = np.where(np.arange(20) % 2 == 0, 0.05, -0.05)
    >>> old = elb.fit_limits(drive, drive + wobble)
    >>> new = elb.fit_limits(drive, drive + 15 - wobble)  # one tooth of 24 further
    >>> found = elb.compare(old, new)
    >>> found.diagnoses[0].kind, [(one.teeth, one.horn) for one in found.teeth]
    ('offset-shifted', [(1, 24)])
    """
    found = _core.fit_compare(old, new, smallest_drive=smallest_drive, smallest_share=smallest_share)
    record, changed, sentences, old_said, new_said = found

    def warnings(records: list[dict[str, Any]], sentences: list[str]) -> tuple[FitWarning, ...]:
        both = zip(records, sentences, strict=True)
        return tuple(FitWarning(kind=one.pop("kind"), sentence=sentence, values=tuple(one.items())) for one, sentence in both)

    changes = []
    for change in record["changes"]:
        difference = change.pop("difference")
        changes.append(Change(difference=None if difference is None else Estimate(**difference), **change))
    diagnoses = []
    teeth: tuple[SplineTeeth, ...] = ()
    for diagnosis, sentence in zip(record["diagnoses"], sentences, strict=True):
        kind = diagnosis.pop("kind")
        if "teeth" in diagnosis:
            teeth = tuple(SplineTeeth(**one) for one in diagnosis["teeth"])
            diagnosis["teeth"] = teeth
        diagnoses.append(Diagnosis(kind=kind, sentence=sentence, values=tuple(diagnosis.items())))
    return Comparison(
        changes=tuple(changes),
        tests=record["tests"],
        sense_changed=record["sense_changed"],
        changed=changed,
        teeth=teeth,
        diagnoses=tuple(diagnoses),
        old_warnings=warnings(record["old_warnings"], old_said),
        new_warnings=warnings(record["new_warnings"], new_said),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueDifference:
    """One value that differs between two robots.

    Attributes
    ----------
    what : str
        Which value, by the words of robot files: ``"travel upper"``, ``"evidence lower at"``.
    old, new : float, str or None
        What either robot states; None if nothing.
    change : float or None
        New less old, where both are numbers.
    u : float or None
        Standard uncertainty of that, where both values have one.
    e_n : float or None
        Normalised error of ISO 13528, with the coverage factor 2, where there is a `u`; it decides nothing.
    p : float or None
        Probability of a change at least as large by chance, of this value alone (normal distribution).
    p_adjusted : float or None
        The same for both robots as a whole, by Holm's procedure: significant below 0.05.
    detectable : float or None
        The change that these two robots show with a probability of about 90 %.
    agreement : {"changed", "negligible", "within-uncertainty", "noted"}
        ``"negligible"`` is significant but smaller than matters; ``"noted"`` says nothing of the joint: a later day, another
        number of readings.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> old = elb.Robot.load(examples.path("heron.toml"))
    >>> new = old.put(old["wing_left"].replace(rest=5))
    >>> elb.compare_robots(old, new).joints[0].differences[0].agreement
    'changed'
    """

    what: str
    old: float | str | None
    new: float | str | None
    change: float | None
    u: float | None
    e_n: float | None
    p: float | None
    p_adjusted: float | None
    detectable: float | None
    agreement: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JointDifferences:
    """All that differs in one joint.

    Attributes
    ----------
    joint : str
        Its name.
    servo_differs : bool
        Whether servo line and drive range both differ. The drive angles of the old robot are then in degrees of the new servo line
        at the same pulses.
    differences : tuple of ValueDifference
        In the order of a robot file; never empty.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> old = elb.Robot.load(examples.path("heron.toml"))
    >>> new = old.put(old["wing_left"].replace(rest=5))
    >>> elb.compare_robots(old, new).joints[0].joint
    'wing_left'
    """

    joint: str
    servo_differs: bool
    differences: tuple[ValueDifference, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RobotComparison:
    """All that differs between two robots.

    Attributes
    ----------
    added, removed : tuple of str
        Joints that only the new robot has, and only the old one.
    renamed : tuple of (str, str)
        Old and new name of each joint that went and each that came, where they agree in all values but `mirror_of`, so that it
        may be one with another name.
    joints : tuple of JointDifferences
        Joints of both that differ.
    robot : tuple of ValueDifference
        What differs of the robot as a whole: name, boards, how it is checked.
    same : int
        The number of joints of both that differ in nothing.
    changed : bool
        Whether something counts: a joint came or went, a stated value is another, or a measured one changed significantly and by
        no less than matters.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> old = elb.Robot.load(examples.path("heron.toml"))
    >>> found = elb.compare_robots(old, old.rename("tail", "tail_tip"))
    >>> found.changed, found.renamed
    (True, (('tail', 'tail_tip'),))
    """

    added: tuple[str, ...]
    removed: tuple[str, ...]
    renamed: tuple[tuple[str, str], ...]
    joints: tuple[JointDifferences, ...]
    robot: tuple[ValueDifference, ...]
    same: int
    changed: bool


def compare_robots(
    old: Robot,
    new: Robot,
    *,
    smallest_drive: float | None = None,
    smallest_share: float | None = None,
) -> RobotComparison:
    """Compare an earlier with a later robot, joint by joint by name.

    Compared is what the files mean, not how they are written: defaults count as if they stood in each joint, comments and order
    do not count. Contacts and lost motion with an uncertainty in both are judged together by Holm's procedure (Scand. J. Statist.
    6 (1979) 65): of unchanged robots that were measured again at most one in twenty is reported as changed in one of its joints.

    Parameters
    ----------
    old, new : Robot
    smallest_drive, smallest_share : float, optional
        As for `compare`.

    Returns
    -------
    RobotComparison

    Raises
    ------
    FitError
        An option below 0, or not finite.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> old = elb.Robot.load(examples.path("heron.toml"))
    >>> new = old.put(old["wing_left"].replace(rest=5))
    >>> found = elb.compare_robots(old, new)
    >>> [(one.what, one.old, one.new) for one in found.joints[0].differences]
    [('rest', 10.0, 5.0)]
    """
    record, changed = _core.robot_compare(old, new, smallest_drive=smallest_drive, smallest_share=smallest_share)

    def differences(records: list[dict[str, Any]]) -> tuple[ValueDifference, ...]:
        return tuple(ValueDifference(**one) for one in records)

    return RobotComparison(
        added=tuple(record["added"]),
        removed=tuple(record["removed"]),
        renamed=tuple((before, after) for before, after in record["renamed"]),
        joints=tuple(
            JointDifferences(
                joint=one["joint"], servo_differs=one["servo_differs"], differences=differences(one["differences"])
            )
            for one in record["joints"]
        ),
        robot=differences(record["robot"]),
        same=record["same"],
        changed=changed,
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

    Examples
    --------
    >>> import elbowroom as elb
    >>> found = elb.positioning([0, 10], [("below", [0.1, 10.2]), ("below", [0.2, 10.1]), ("above", [-0.1, 9.9]), ("above", [0.0, 10.0])])
    >>> up = found.targets[0].up
    >>> up.n, round(up.mean, 3), round(up.repeatability, 3)
    (2, 0.15, 0.283)
    """

    n: int
    mean: float
    s: float
    repeatability: float
    pose_repeatability: float
    pose_half_width: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TwoSided:
    """One target from both sides: mean of both means, reversal value, bidirectional repeatability (ISO 230-2).

    Examples
    --------
    >>> import elbowroom as elb
    >>> found = elb.positioning([0, 10], [("below", [0.1, 10.2]), ("below", [0.2, 10.1]), ("above", [-0.1, 9.9]), ("above", [0.0, 10.0])])
    >>> round(found.targets[0].both.reversal, 3)
    0.2
    """

    mean: float
    reversal: float
    repeatability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """What one target shows: from below (`up`), from above (`down`), and both together.

    Examples
    --------
    >>> import elbowroom as elb
    >>> found = elb.positioning([0, 10], [("below", [0.1, 10.2]), ("below", [0.2, 10.1]), ("above", [-0.1, 9.9]), ("above", [0.0, 10.0])])
    >>> found.targets[1].target, round(found.targets[1].up.mean, 3)
    (10.0, 0.15)
    """

    target: float
    up: OneSided | None
    down: OneSided | None
    both: TwoSided | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisOneSided:
    """The axis from one side: repeatability R, systematic deviation E, accuracy A (ISO 230-2, unidirectional).

    Examples
    --------
    >>> import elbowroom as elb
    >>> found = elb.positioning([0, 10], [("below", [0.1, 10.2]), ("below", [0.2, 10.1]), ("above", [-0.1, 9.9]), ("above", [0.0, 10.0])])
    >>> round(found.up.accuracy, 3)
    0.283
    """

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

    Examples
    --------
    >>> import elbowroom as elb
    >>> found = elb.positioning([0, 10], [("below", [0.1, 10.2]), ("below", [0.2, 10.1]), ("above", [-0.1, 9.9]), ("above", [0.0, 10.0])])
    >>> round(found.both.reversal, 3), round(found.both.accuracy, 3)
    (0.2, 0.483)
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

    Examples
    --------
    >>> import elbowroom as elb
    >>> found = elb.positioning([0, 10], [("below", [0.1, 10.2]), ("below", [0.2, 10.1]), ("above", [-0.1, 9.9]), ("above", [0.0, 10.0])])
    >>> len(found.targets), round(found.both.repeatability, 3)
    (2, 0.483)
    """

    targets: tuple[Target, ...]
    up: AxisOneSided | None
    down: AxisOneSided | None
    both: AxisTwoSided | None
    runs: tuple[tuple[str, tuple[float, ...]], ...] = field(default=(), compare=False, repr=False)

    @drawing(
        example="""
        >>> import elbowroom as elb
        >>> found = elb.positioning([0, 10], [("below", [0.1, 10.2]), ("below", [0.2, 10.1])])
        >>> found.plot().get_xlabel()
        'target, deg'
        """
    )
    def plot(self, path: str | PathLike[str] | None = None, *, ax: Axes | None = None, title: str | None = None) -> Axes:
        """Draw the deviations of all runs, the means of both sides, and mean ± 2 s around them."""
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
    record, read = _core.positioning(targets, runs)

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
