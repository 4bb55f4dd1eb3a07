"""What a whole bring-up ends with, as frozen records."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from elbowroom import _core
from elbowroom._actions import tagged, untagged
from elbowroom._errors import BringUpError
from elbowroom._fit import LimitFit
from elbowroom._plans import (
    AlignmentEnd,
    Baseline,
    SenseResult,
    alignment_end_of,
    baseline_of,
    readings_of,
    sense_of,
    sense_record,
)

if TYPE_CHECKING:
    import datetime
    from collections.abc import Sequence

    from elbowroom._core import Robot

__all__ = ["EndFound", "Outcome"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EndFound:
    """One end of the travel with its evidence; drive angles in deg.

    Attributes
    ----------
    kind : {"contact", "stalled", "clear"}
        The stop was met, and placed; something holds between `at` and `short_at`; this far was clear.
    at : float
        The drive angle of contact, midway between both directions of travel, or the furthest that was clear; when stalled,
        of the last sweep reading that follows the line.
    short_at : float or None
        When stalled, the drive angle of the first sweep reading that fell short of the line; else None.
    u : float or None
        Standard uncertainty of a contact.
    interval : (float, float) or None
        Coverage interval of a contact.
    travel : float
        The end of the travel.

    Examples
    --------
    >>> from elbowroom.rehearsal import rehearse
    >>> end = rehearse(seed=1).outcome.lower
    >>> end.kind, end.at < end.travel
    ('contact', True)
    """

    kind: str
    at: float
    short_at: float | None = None
    u: float | None
    interval: tuple[float, float] | None
    travel: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What a bring-up ends with.

    Attributes
    ----------
    verdict : {"ready", "faulty", "declined", "stopped"}
    sentence : str
        The verdict written out, with what to do.
    fault : str or None
        What is wrong, in kebab-case, e.g. ``"wires-swapped"``.
    at : float or None
        Near which drive angle, deg.
    by : float or None
        By how much, in the unit of what was measured.
    teeth : (int, int) or None
        Of a slipped horn: by how many of its teeth, and the teeth all round.
    travel : (float, float) or None
        The travel, if the joint is ready.
    sense : SenseResult or None
    advice : str or None
        What to do about the sense.
    alignment : AlignmentEnd or None
        How the alignment stands, where it was planned.
    speed : float or None
        The drive's speed, deg/s, where a long move could be timed.
    lower, upper : EndFound or None
    guard : float
        The margin kept.
    fit : LimitFit or None
        The fit of all sweep readings, with the readings for its plot.
    readings : int
        How many readings the fit was given.
    by_sensor : bool
        They are those of the joint's own sensor, not of a scale that a person read.

    Examples
    --------
    >>> from elbowroom.rehearsal import rehearse
    >>> outcome = rehearse(seed=1).outcome
    >>> outcome.verdict, outcome.lower.kind, outcome.readings == len(outcome.fit.drive)
    ('ready', 'contact', True)
    """

    verdict: str
    sentence: str
    fault: str | None = None
    at: float | None = None
    by: float | None = None
    teeth: tuple[int, int] | None = None
    travel: tuple[float, float] | None = None
    sense: SenseResult | None = None
    advice: str | None = None
    alignment: AlignmentEnd | None = None
    speed: float | None = None
    lower: EndFound | None = None
    upper: EndFound | None = None
    guard: float = 0.0
    fit: LimitFit | None = None
    readings: int = 0
    by_sensor: bool = False

    def baseline(self) -> Baseline | None:
        """What this bring-up provides for the next one of the joint, to determine what has changed since.

        Returns
        -------
        Baseline or None
            None where it ended without a fit.

        Examples
        --------
        >>> from elbowroom.rehearsal import rehearse
        >>> baseline = rehearse(seed=1).outcome.baseline()
        >>> baseline.lower < baseline.at < baseline.upper
        True
        """
        told = _core.outcome_baseline(_outcome_record(self), self.fit)
        return None if told is None else baseline_of(told)

    def put_into(
        self,
        robot: Robot,
        name: str,
        *,
        date: datetime.date | None = None,
        unit: str | None = None,
        measured_at_commands: Sequence[float] | None = None,
        adopt: bool = False,
        keep: bool = False,
    ) -> Robot:
        """A robot with this travel and its evidence written into a joint; the rest of the file stays as it is.

        Readings that contradict the joint in the file are refused: a reversed mounting, a horn on another tooth, a stop that is
        elsewhere. Then correct the joint and bring it up again, or choose `adopt` or `keep`. Readings of the joint's own sensor are
        compared by its feedback in the file, and not where it has none.

        Parameters
        ----------
        robot : Robot
            Unchanged itself.
        name : str
            The joint, whose drive angles these must be.
        date : datetime.date, optional
            The day of the bring-up.
        unit : str, optional
            Unit of typed readings; that of the joint's commands if left out.
        measured_at_commands : (float, float), optional
            The readings that the joint's lower and upper command stand for, where the units do not determine them.
        adopt : bool, optional
            Replace map, travel and rest by these readings.
        keep : bool, optional
            Leave the map as it is although the readings contradict it; the evidence then records by how much (`map_off`), and the
            check reports it.

        Returns
        -------
        Robot

        Raises
        ------
        BringUpError
            The joint is not ready for software.
        RobotError
            The readings contradict the joint, the file would not be valid, or it has no such joint.
        FitError
            Nothing relates the joint's commands to the readings.

        Examples
        --------
        >>> import elbowroom as elb
        >>> from elbowroom import examples
        >>> from elbowroom.rehearsal import rehearse
        >>> robot = elb.Robot.load(examples.path("heron.toml"))
        >>> run = rehearse(seed=1, joint=robot["neck_middle"])
        >>> run.outcome.put_into(robot, "neck_middle").entry("neck_middle").evidence.lower.kind
        'contact'
        """
        put = _core.outcome_put(
            _outcome_record(self),
            self.fit,
            robot,
            name,
            date=date,
            unit=unit,
            measured_at_commands=measured_at_commands,
            adopt=adopt,
            keep=keep,
        )
        if put is None:
            raise BringUpError(
                f"the bring-up ended {self.verdict}: {self.sentence}; bring the joint up again",
                code="travel-disjoint",
                joint=name,
                value=self.verdict,
            )
        return put


def _end_of(record: dict[str, Any] | None) -> EndFound | None:
    if record is None:
        return None
    interval = record.pop("interval")
    return EndFound(interval=None if interval is None else tuple(interval), **record)


def outcome_of(told: dict[str, Any]) -> Outcome:
    """An outcome from the core's record and sentences."""
    record = told["outcome"]
    verdict, wrong = tagged(record["verdict"])
    words = told["sense"] or {"reason": None, "advice": None}
    return Outcome(
        verdict=verdict,
        sentence=told["sentence"],
        teeth=None if told["teeth"] is None else tuple(told["teeth"]),
        travel=None if told["travel"] is None else tuple(told["travel"]),
        sense=None if record["sense"] is None else sense_of(record["sense"], words["reason"]),
        advice=words["advice"],
        alignment=alignment_end_of(record["alignment"]),
        speed=record["speed"],
        lower=_end_of(record["lower"]),
        upper=_end_of(record["upper"]),
        guard=record["guard"],
        fit=told["fit"],
        readings=record["readings"],
        by_sensor=record["by_sensor"],
        **wrong,
    )


def _outcome_record(outcome: Outcome) -> dict[str, Any]:
    """The core's own record of an outcome, whose fit crosses as it is."""
    alignment: Any = None
    if outcome.alignment is not None:
        values = asdict(outcome.alignment)
        alignment = untagged(values.pop("kind"), {name: value for name, value in values.items() if value is not None})
    wrong = {"fault": outcome.fault, "at": outcome.at, "by": outcome.by} if outcome.verdict == "faulty" else {}
    return {
        "verdict": untagged(outcome.verdict, wrong),
        "sense": None if outcome.sense is None else sense_record(outcome.sense),
        "alignment": alignment,
        "speed": outcome.speed,
        "lower": None if outcome.lower is None else asdict(outcome.lower),
        "upper": None if outcome.upper is None else asdict(outcome.upper),
        "guard": outcome.guard,
        "fit": None,
        "readings": outcome.readings,
        "by_sensor": outcome.by_sensor,
    }


for _name in __all__:
    globals()[_name].__module__ = "elbowroom.bring_up"
