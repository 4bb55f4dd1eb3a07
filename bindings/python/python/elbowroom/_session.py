"""The whole bring-up in its order, to a verdict and the evidence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Self

from elbowroom import _core
from elbowroom._bring_up import BringUp
from elbowroom._plans import AlignmentPlan, Baseline, Pace, SensePlan, SweepReading, baseline_of, readings_of

__all__ = ["Session", "SessionPlan"]


_SESSION = _core.usual("SessionPlan")


@dataclass(frozen=True, slots=True, kw_only=True)
class SessionPlan:
    """What a bring-up starts from; drive angles in deg. Verify the defaults against your data sheets.

    Attributes
    ----------
    start : float
        The drive angle at which the joint stands, clear on both sides.
    search_limits : (float, float)
        Angles that are never passed: the servo's own range or less.
    clearance : float
        How far it is clear on both sides of the start.
    step : float
        The longest way a probe may go beyond what is clear.
    tolerance : float
        How finely a stop is bracketed.
    run_in : float
        How far before a place it is approached from; more than the lost motion.
    sweep_step : float
        Way between two places of the sweep.
    guard : float
        Margin between contact and travel.
    confidence : float
        Coverage probability of the intervals.
    sense : SensePlan
        The sense test.
    alignment : AlignmentPlan or None
        The alignment, for a sensor of known travel on a joint whose angles at its stops are known.
    rising : bool
        Whether the reading should rise with the drive angle.
    resolution : float
        One step of the reading, in readings.
    rated_speed : float
        The servo's speed by its data sheet, deg/s.
    pace : Pace
        How each place is visited.
    baseline : Baseline or None
        What is known from before.

    Examples
    --------
    >>> from elbowroom.bring_up import SessionPlan
    >>> plan = SessionPlan(start=79.5, search_limits=(0, 180), guard=3)
    >>> plan.guard, plan.step
    (3, 2.5)
    """

    start: float
    search_limits: tuple[float, float]
    clearance: float = _SESSION["clearance"]
    step: float = _SESSION["step"]
    tolerance: float = _SESSION["tolerance"]
    run_in: float = _SESSION["run_in"]
    sweep_step: float = _SESSION["sweep_step"]
    guard: float = _SESSION["guard"]
    confidence: float = _SESSION["confidence"]
    sense: SensePlan = SensePlan()
    alignment: AlignmentPlan | None = None
    rising: bool = _SESSION["rising"]
    resolution: float = _SESSION["resolution"]
    rated_speed: float = _SESSION["rated_speed"]
    pace: Pace = Pace()
    baseline: Baseline | None = None

    def first_moves(self) -> tuple[float, float]:
        """The drive angles between which the first moves go, before anything is known: the clearance
        to both sides of the start.

        Returns
        -------
        (float, float)

        Examples
        --------
        >>> from elbowroom.bring_up import SessionPlan
        >>> SessionPlan(start=80, search_limits=(0, 180)).first_moves()
        (74.0, 86.0)
        """
        lower, upper = _core.session_first_moves(self)
        return lower, upper


def plan_of(record: dict[str, Any]) -> SessionPlan:
    """A plan from the core's own record."""
    sense, alignment, pace, baseline = (record.pop(name) for name in ("sense", "alignment", "pace", "baseline"))
    sense["reading_range"] = tuple(sense["reading_range"])
    if alignment is not None:
        alignment["joint"], alignment["reading_range"] = tuple(alignment["joint"]), tuple(alignment["reading_range"])
        alignment = AlignmentPlan(**alignment)
    if baseline is not None:
        baseline = baseline_of(baseline)
    record["search_limits"] = tuple(record["search_limits"])
    return SessionPlan(sense=SensePlan(**sense), alignment=alignment, pace=Pace(**pace), baseline=baseline, **record)


class Session(BringUp[SessionPlan]):
    """The whole bring-up in its order: sense test, alignment where it is planned, first slow move, both stops, speed, sweeps, fit, a last walk over the travel, verdict.

    It gives the next action and takes a report of it; your program (a script, a window, a board) does the
    rest. No commanded angle lies further than two steps beyond a contact as it is met in the direction driven (half the play
    outward of where the joint itself stands then), and none outside `search_limits`. Answers that
    contradict the data are asked again with the doubt, and where load, readings or earlier evidence contradict an answer, the data
    decide.

    This computes; it cannot stop a motor. Take the load off, keep a hand on the power switch, make the first move slow,
    keep everybody's hands out of the joint, and show the cautions that each question carries. It is not a safety function
    in the sense of ISO 13849 or IEC 61508; local codes and licensed practice come first.

    Parameters
    ----------
    plan : SessionPlan

    Raises
    ------
    BringUpError
        An invalid plan, with the field and its value.

    Examples
    --------
    >>> from elbowroom.bring_up import Answered, Ask, Session, SessionPlan
    >>> session = Session(SessionPlan(start=79.5, search_limits=(0, 180)))
    >>> match session.next():
    ...     case Ask(question="ready", sentence=sentence):
    ...         print(sentence)
    is the joint free to move, and is nobody within its reach?
    >>> session.report(Answered("no"))
    Done()
    >>> session.outcome.verdict
    'declined'
    """

    __slots__ = ()
    _kind = "session"

    @property
    def stage(self) -> str:
        """str: where it stands: ready, sense test, alignment, first move, search, speed, sweep, check (where a reading was astray), walk, done."""
        return self._core.stage()

    @property
    def clear(self) -> tuple[float, float]:
        """(float, float): the outermost drive angles proven clear so far, deg.

        No action asks for an angle further outside of them than one step of the plan, nor outside of its search limits.
        """
        found = self._core.clear()
        assert found is not None
        return found

    @property
    def readings(self) -> tuple[SweepReading, ...]:
        """tuple of SweepReading: readings of the sweeps so far."""
        return readings_of(self._core.so_far())

    def _typed(self) -> list[tuple[float, float, str, bool]]:
        return [(one.place.drive, one.reading, _core.reached_from(one.place.toward), True) for one in self.readings]

    @classmethod
    def _loaded(cls, text: str, resume: bool) -> Self:
        core = _core.Procedure.loaded(text, resume)
        return cls._of(plan_of(core.plan()), core)


for _name in __all__:
    globals()[_name].__module__ = "elbowroom.bring_up"
