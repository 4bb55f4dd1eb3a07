"""The whole bring-up against a virtual joint, healthy or broken, from a seed.

`rehearse` runs one and tells it step by step. `Rehearsal` makes the joint and the plan for it, `Person` answers the
questions, and `VirtualJoint` stands where the real one would.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from elbowroom import _core
from elbowroom._actions import Action, Ask, MoveTo, Reading, Report, action_of, action_record, report_of
from elbowroom._core import VirtualJoint
from elbowroom._drawing import drawing
from elbowroom._outcome import Outcome, outcome_of
from elbowroom._session import SessionPlan, plan_of

if TYPE_CHECKING:
    from os import PathLike

    from matplotlib.axes import Axes

    from elbowroom import Joint

__all__ = ["FAULTS", "Person", "Rehearsal", "RehearsalReport", "Step", "VirtualJoint", "rehearse"]

FAULTS: tuple[str, ...] = tuple(_core.rehearsed_faults())
"""The faults that a rehearsal can break a joint with."""


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What a rehearsal starts from: a virtual joint, and the plan that fits it.

    Attributes
    ----------
    joint : VirtualJoint
        It changes as it is driven.
    plan : SessionPlan
        The plan that somebody would make for it, with what an earlier bring-up found.

    Examples
    --------
    >>> from elbowroom.bring_up import Session
    >>> from elbowroom.rehearsal import Person, Rehearsal
    >>> rehearsal, person = Rehearsal.faulty("range-blocked", 7), Person(seed=7)
    >>> session = Session(rehearsal.plan)
    >>> while (report := person.carry_out(session.next(), rehearsal.joint)) is not None:
    ...     action = session.report(report)
    >>> session.outcome.fault
    'range-blocked'
    """

    joint: VirtualJoint
    plan: SessionPlan

    @staticmethod
    def healthy(seed: int, *, alignment: bool = False) -> Rehearsal:
        """A healthy joint drawn from a seed.

        Parameters
        ----------
        seed : int
            0 or more.
        alignment : bool, default False
            Whether the plan has the alignment.

        Returns
        -------
        Rehearsal

        Examples
        --------
        >>> from elbowroom.rehearsal import Rehearsal
        >>> Rehearsal.healthy(3).joint.fault is None
        True
        """
        return _drawn(seed, None, None, alignment)

    @staticmethod
    def faulty(fault: str, seed: int, *, alignment: bool = False) -> Rehearsal:
        """A joint with a fault, drawn from a seed; the plan is that of the joint before it broke.

        Parameters
        ----------
        fault : str
            One of `FAULTS`.
        seed : int
            0 or more.
        alignment : bool, default False
            Whether the plan has the alignment.

        Returns
        -------
        Rehearsal

        Examples
        --------
        >>> from elbowroom.rehearsal import Rehearsal
        >>> Rehearsal.faulty("wires-swapped", 3).joint.fault
        'wires-swapped'
        """
        return _drawn(seed, fault, None, alignment)

    @staticmethod
    def of_joint(joint: Joint, *, fault: str | None = None, seed: int = 0, alignment: bool = False) -> Rehearsal:
        """A given joint, its mechanism drawn from a seed: the stops 2 to 4 deg outside of its travel.

        Parameters
        ----------
        joint : Joint
            With a travel of at least 40 deg.
        fault : str, optional
            One of `FAULTS`.
        seed : int, default 0
        alignment : bool, default False
            Whether the plan has the alignment.

        Returns
        -------
        Rehearsal

        Raises
        ------
        BringUpError
            A travel of less than 40 deg.

        Examples
        --------
        >>> import elbowroom as elb
        >>> from elbowroom import examples
        >>> from elbowroom.rehearsal import Rehearsal
        >>> wing = elb.Robot.load(examples.path("heron.toml"))["wing_left"]
        >>> lower, upper = Rehearsal.of_joint(wing, seed=3).joint.contacts
        >>> lower < wing.travel[0] and wing.travel[1] < upper
        True
        """
        return _drawn(seed, fault, joint, alignment)


def _drawn(seed: int, fault: str | None, joint: Joint | None, alignment: bool) -> Rehearsal:
    made, plan = _core.rehearsal(seed, fault, joint, alignment)
    return Rehearsal(made, plan_of(plan))


class Person:
    """Somebody at a virtual joint who does what is asked and says what happens.

    Parameters
    ----------
    wrong_answer_rate : float, default 0.0
        The part of the answers that is wrong, 0 to 1.
    seed : int, default 0

    Examples
    --------
    >>> from elbowroom.rehearsal import Person
    >>> Person(seed=1)
    <Person at a virtual joint>
    """

    __slots__ = ("_core",)
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, *, wrong_answer_rate: float = 0.0, seed: int = 0) -> None:
        self._core = _core.Person(wrong_answer_rate, seed)

    def carry_out(self, action: Action, joint: VirtualJoint) -> Report | None:
        """Do an action on a virtual joint and report it.

        Parameters
        ----------
        action : MoveTo, Wait, Read, Ask or Done
        joint : VirtualJoint

        Returns
        -------
        Moved, Waited, Reading, Answered or None
            None when there is nothing more to do.

        Examples
        --------
        >>> from elbowroom.bring_up import Session
        >>> from elbowroom.rehearsal import Person, Rehearsal
        >>> rehearsal = Rehearsal.healthy(3)
        >>> Person(seed=3).carry_out(Session(rehearsal.plan).next(), rehearsal.joint)
        Answered(answer='done', degrees=None)
        """
        return report_of(self._core.carry_out(action_record(action), joint))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Person):
            return NotImplemented
        return self._core.state_json() == other._core.state_json()

    def __repr__(self) -> str:
        return "<Person at a virtual joint>"

    def __reduce__(self) -> tuple[Any, ...]:
        return (_person, (self._core.state_json(),))


def _person(state: str) -> Person:
    made = Person.__new__(Person)
    made._core = _core.Person.restored(state)
    return made


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that was asked, and what came of it; `stage` is where the bring-up stood.

    Examples
    --------
    >>> from elbowroom.rehearsal import rehearse
    >>> step = rehearse(seed=1).steps[0]
    >>> step.stage, step.report
    ('ready', Answered(answer='done', degrees=None))
    """

    stage: str
    action: Action
    report: Report


@dataclass(frozen=True, slots=True, kw_only=True)
class RehearsalReport:
    """One rehearsed bring-up.

    Attributes
    ----------
    seed : int
    fault : str or None
        What the joint was broken with.
    plan : SessionPlan
    steps : tuple of Step
        Everything that was asked, and what came of it.
    outcome : Outcome
    contacts : (float, float)
        The true contacts of the joint, drive angles in deg.
    obstacle : {"lower", "upper"} or None
        The end whose contact is with an obstacle before the stop.
    commanded : (float, float)
        The lowest and the highest drive angle that was commanded.

    Examples
    --------
    >>> from elbowroom.rehearsal import rehearse
    >>> report = rehearse(seed=1)
    >>> report.outcome.verdict, len(report.questions) < len(report.steps)
    ('ready', True)
    """

    seed: int
    fault: str | None
    plan: SessionPlan
    steps: tuple[Step, ...]
    outcome: Outcome
    contacts: tuple[float, float]
    obstacle: str | None
    commanded: tuple[float, float]

    @property
    def questions(self) -> tuple[Step, ...]:
        """tuple of Step: what the person was asked."""
        return tuple(step for step in self.steps if isinstance(step.action, Ask))

    @drawing(
        title="Fault and verdict if left out.",
        example="""
        >>> from elbowroom.rehearsal import rehearse
        >>> rehearse(seed=1).plot().get_title()
        'healthy, seed 1: found ready'
        """,
    )
    def plot(self, path: str | PathLike[str] | None = None, *, ax: Axes | None = None, title: str | None = None) -> Axes:
        """Draw the run: every reading over its drive angle, the true contacts, what was found, and the travel."""
        from elbowroom import _plot, _plot_run

        verdict = self.outcome.fault or self.outcome.verdict
        title = title or _plot.words("rehearsed", self.fault or _core.LABELS["healthy"], self.seed, verdict)
        return _plot_run.rehearsal(self._read(), self.contacts, self.obstacle, self.outcome, path, ax, title)

    def _read(self) -> list[tuple[float, float, str]]:
        """Drive angle, value and stage of each reading."""
        at, read = self.plan.start, []
        for step in self.steps:
            match (step.action, step.report):
                case (MoveTo(drive=drive), _):
                    at = drive
                case (_, Reading(value=value)):
                    read.append((at, value, step.stage))
        return read


def rehearse(
    *, seed: int = 0, fault: str | None = None, joint: Joint | None = None, alignment: bool = False, wrong_answer_rate: float = 0.0
) -> RehearsalReport:
    """Rehearse one bring-up from beginning to end.

    Parameters
    ----------
    seed : int, default 0
        The same seed gives the same run on every machine.
    fault : str, optional
        One of `FAULTS`; a healthy joint if left out.
    joint : Joint, optional
        The joint to rehearse, with a travel of at least 40 deg; one drawn from the seed if left out.
    alignment : bool, default False
        Whether the plan has the alignment.
    wrong_answer_rate : float, default 0.0
        The part of the answers that is wrong, 0 to 1.

    Returns
    -------
    RehearsalReport

    Raises
    ------
    BringUpError
        A joint that a rehearsal cannot take.

    Examples
    --------
    >>> from elbowroom.rehearsal import rehearse
    >>> report = rehearse(seed=1)
    >>> report.outcome.verdict, report.outcome.lower.kind
    ('ready', 'contact')
    >>> report.contacts[0] < report.outcome.travel[0]
    True
    >>> rehearse(seed=7, fault="wires-swapped").outcome.fault
    'wires-swapped'
    """
    told = _core.rehearse(seed, fault, joint, alignment, wrong_answer_rate)
    steps = []
    for step in told["steps"]:
        report = report_of(step["report"])
        assert report is not None
        steps.append(Step(step["stage"], action_of(step["told"]), report))
    return RehearsalReport(
        seed=seed,
        fault=fault,
        plan=plan_of(told["plan"]),
        steps=tuple(steps),
        outcome=outcome_of(told["ended"]),
        contacts=(told["contacts"][0], told["contacts"][1]),
        obstacle=told["obstacle"],
        commanded=(told["commanded"][0], told["commanded"][1]),
    )
