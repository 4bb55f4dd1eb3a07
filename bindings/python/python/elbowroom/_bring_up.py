"""The procedures of the bring-up, each usable alone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Generic, NamedTuple, Self, TypeVar

from elbowroom import _core
from elbowroom._actions import Action, Report, action_of, checked_report, tagged
from elbowroom._drawing import drawing
from elbowroom._outcome import Outcome, outcome_of
from elbowroom._plans import (
    BracketPlan,
    AlignmentEnd,
    AlignmentPlan,
    SearchEnd,
    SensePlan,
    SenseResult,
    SenseSample,
    StopSearchPlan,
    SweepPlan,
    SweepReading,
    alignment_end_of,
    readings_of,
    sense_of,
)

if TYPE_CHECKING:
    from os import PathLike

    from matplotlib.axes import Axes

    from elbowroom._core import Joint

__all__ = [
    "Bracket",
    "Alignment",
    "JointRamp",
    "Ramp",
    "RampStep",
    "SenseTest",
    "StopSearch",
    "Sweep",
]


Plan = TypeVar("Plan")


class Procedure(Generic[Plan]):
    """What all procedures have in common: ask `next`, do it, `report` it, until `Done`.

    Asking changes nothing; a report that is refused changes nothing either. Procedures are equal when they stand at the
    same place with the same plan, and can be copied and pickled at any point.
    """

    __slots__ = ("_core", "_plan")
    _kind = ""
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, plan: Plan) -> None:
        self._core = _core.Procedure(self._kind, plan)
        self._plan = plan

    @property
    def plan(self) -> Plan:
        """The plan."""
        return self._plan

    def next(self) -> Action:
        """What to do next. Asking changes nothing.

        Returns
        -------
        MoveTo, Wait, Read, Ask or Done

        Examples
        --------
        >>> from elbowroom.bring_up import Session, SessionPlan
        >>> session = Session(SessionPlan(start=79.5, search_limits=(0, 180)))
        >>> session.next().question
        'ready'
        """
        return action_of(self._core.next())

    def report(self, report: Report) -> Action:
        """Take the report of what `next` asked, and give what to do then.

        Parameters
        ----------
        report : Moved, Waited, Reading or Answered

        Returns
        -------
        MoveTo, Wait, Read, Ask or Done

        Raises
        ------
        BringUpError
            A report or an answer that does not belong to the action, a number that is not finite, a procedure that is
            done. Nothing changes then.

        Examples
        --------
        >>> from elbowroom.bring_up import Session, SessionPlan
        >>> session = Session(SessionPlan(start=79.5, search_limits=(0, 180)))
        >>> from elbowroom.bring_up import Answered
        >>> session.report(Answered("no"))
        Done()
        """
        self._core.report(checked_report(report))
        return self.next()

    def __eq__(self, other: object) -> bool:
        if type(other) is not type(self):
            return NotImplemented
        return bool(self._core == other._core)

    def __repr__(self) -> str:
        return f"<{type(self).__name__} of {self._plan!r}, next {type(self.next()).__name__}>"

    def __reduce__(self) -> tuple[Any, ...]:
        return (_restored, (type(self), self._plan, self._core.state_json()))

    @classmethod
    def _of(cls, plan: Plan, core: _core.Procedure) -> Self:
        made = cls.__new__(cls)
        made._core, made._plan = core, plan
        return made


def _restored(kind: type[Procedure[Any]], plan: Any, state: str) -> Procedure[Any]:
    return kind._of(plan, _core.Procedure.restored(state))


class BringUp(Procedure[Plan]):
    """What both kinds of a whole bring-up have in common: stages, an outcome, and a form in which they are saved."""

    __slots__ = ()

    @classmethod
    def _loaded(cls, text: str, resume: bool) -> Self:
        raise NotImplementedError

    def _typed(self) -> list[tuple[float, float, str, bool]]:
        """Drive angle, reading, side of approach, and whether it counts."""
        raise NotImplementedError

    @property
    def outcome(self) -> Outcome | None:
        """Outcome or None: how it ended, when it has."""
        told: dict[str, Any] | None = self._core.found()
        return None if told is None else outcome_of(told)

    @drawing(
        "Where to draw, without the residuals", title="The verdict or the stage if left out.",
        example="""
        >>> from elbowroom.bring_up import Session, SessionPlan
        >>> Session(SessionPlan(start=79.5, search_limits=(0, 180))).plot().get_title()
        'bring-up: ready'
        """,
    )
    def plot(self, path: str | PathLike[str] | None = None, *, ax: Axes | None = None, title: str | None = None) -> Axes:
        """Draw the bring-up as it stands: its readings; at its end also model, residuals, both ends and the travel."""
        from elbowroom import _plot_run

        return _plot_run.bring_up(self._typed(), self.outcome, self._core.stage(), path, ax, title)

    def stop(self) -> None:
        """End it here; the joint is not ready for software. One that is done stays as it is; an undo takes a stop back.

        Examples
        --------
        >>> from elbowroom.bring_up import Session, SessionPlan
        >>> session = Session(SessionPlan(start=79.5, search_limits=(0, 180)))
        >>> session.stop()
        >>> session.outcome.verdict
        'stopped'
        """
        self._core.stop()

    def resume(self) -> None:
        """Declare that the power may have been off: the next action brings the drive slowly back to where it last was.

        With typed readings it first goes inward and comes again.

        Examples
        --------
        >>> from elbowroom.bring_up import Bench, BenchPlan
        >>> bench = Bench(BenchPlan(start=79.5, search_limits=(0, 180)))
        >>> bench.resume()
        >>> bench.stage
        'ready'
        """
        self._core.resume()

    def json(self) -> str:
        """Save it, to continue at this point with the same result.

        Returns
        -------
        str
            JSON with a format version.

        Examples
        --------
        >>> from elbowroom.bring_up import Session, SessionPlan
        >>> session = Session(SessionPlan(start=79.5, search_limits=(0, 180)))
        >>> Session.parse(session.json(), resume=False) == session
        True
        """
        return self._core.saved()

    @classmethod
    def parse(cls, text: str, *, resume: bool = True) -> Self:
        """Restore a saved bring-up.

        Parameters
        ----------
        text : str
            What `json` wrote. It is checked whole: nothing in it can make a `Session` ask for an angle beyond what it says is
            proven clear plus one step; the log of a `Bench` is replayed, and one that could not have been written is refused.
        resume : bool, default True
            The power may have been off since, as `resume` says. False where the drive stands as it stood.

        Returns
        -------
        Session or Bench

        Raises
        ------
        BringUpError
            No saved bring-up, one of another format, or one that contradicts itself.

        Examples
        --------
        >>> from elbowroom.bring_up import Answered, Bench, BenchPlan
        >>> bench = Bench(BenchPlan(start=79.5, search_limits=(0, 180)))
        >>> action = bench.report(Answered("done"))
        >>> Bench.parse(bench.json()) == bench
        True
        """
        return cls._loaded(text, resume)


class SenseTest(Procedure[SensePlan]):
    """Does the feedback oppose an error, or would it run away?

    The servo is held at one command, its drive unloaded and detached; the sensor is turned by hand, some steps up, twice
    as many down, and back. Where the loop opposes, the drive turns against the hand.

    Unload the drive and take it off the joint first, and keep a hand on the power switch: a loop that aids runs away.

    Parameters
    ----------
    plan : SensePlan, optional

    Examples
    --------
    >>> from elbowroom.bring_up import Answered, Ask, Read, Reading, SensePlan, SenseTest
    >>> test, hand = SenseTest(SensePlan(turns=2, reads=1)), 0.0
    >>> while test.result is None:
    ...     match test.next():
    ...         case Read():
    ...             report = Reading(500 + 4 * hand)
    ...         case Ask(question="turn-sensor", toward=toward, degrees=degrees):
    ...             hand += degrees if toward == "upper" else -degrees
    ...             report = Answered("done")
    ...         case Ask(question="drive-response"):
    ...             report = Answered("lower" if hand > 0 else "upper" if hand < 0 else "still")
    ...     action = test.report(report)
    >>> test.result.sense, test.result.null, test.result.advice()
    ('opposing', 500.0, None)
    """

    __slots__ = ()
    _kind = "sense-test"

    def __init__(self, plan: SensePlan | None = None) -> None:
        super().__init__(SensePlan() if plan is None else plan)

    @property
    def samples(self) -> tuple[SenseSample, ...]:
        """tuple of SenseSample: the samples so far, in their order."""
        return tuple(SenseSample(**sample) for sample in self._core.so_far())

    @property
    def result(self) -> SenseResult | None:
        """SenseResult or None: the result, when the test is done."""
        result, sentence = self._core.found()
        return None if result is None else sense_of(result, sentence)


class Alignment(Procedure[AlignmentPlan]):
    """The alignment: does the sensor reach both ends of the joint with margin, and where is it to be set?

    Hold the joint at a stop, say its angle, set the sensor if need be, up to three times. Switch the power off before
    hands go in.

    Parameters
    ----------
    plan : AlignmentPlan

    Examples
    --------
    >>> from elbowroom.bring_up import Answered, Alignment, AlignmentPlan, Reading
    >>> alignment = Alignment(AlignmentPlan(joint=(0, 95), sensor_travel=270, ratio=2, margin=5))
    >>> action = alignment.report(Answered("angle", degrees=0.0))
    >>> for _ in range(5):
    ...     action = alignment.report(Reading(160))
    >>> alignment.end.kind, alignment.end.settings
    ('set', 0)
    """

    __slots__ = ()
    _kind = "alignment"

    @property
    def end(self) -> AlignmentEnd | None:
        """AlignmentEnd or None: how it ended, when it has."""
        return alignment_end_of(self._core.found())


class StopSearch(Procedure[StopSearchPlan]):
    """The stop search: walk outward from what is clear, see the joint stay behind, back off, halve.

    Whatever the readings, no probe lies further than one step beyond what was judged clear, and none beyond the bound;
    with sound readings no commanded angle lies further than two steps beyond the true contact.

    Never search a stop under a person's hand; keep a hand on the power switch.

    Parameters
    ----------
    plan : StopSearchPlan

    Examples
    --------
    >>> from elbowroom.bring_up import BracketPlan, Done, MoveTo, Moved, Read, Reading, StopSearch, StopSearchPlan, Wait, Waited
    >>> bracket = BracketPlan(toward="upper", clear=50, search_limit=90, step=2)
    >>> search, at = StopSearch(StopSearchPlan(bracket=bracket, inner=38, run_in=4)), 0.0
    >>> while search.end is None:
    ...     match search.next():
    ...         case MoveTo(drive=drive):
    ...             at = drive
    ...             action = search.report(Moved())
    ...         case Wait():
    ...             action = search.report(Waited())
    ...         case Read():  # a joint that meets its stop at 80 deg
    ...             action = search.report(Reading(212 + 8 * min(at, 80)))
    >>> search.end.clear, search.end.contact
    (80.0, 80.5)
    """

    __slots__ = ()
    _kind = "stop-search"

    @property
    def end(self) -> SearchEnd | None:
        """SearchEnd or None: how it ended, when it has."""
        found = self._core.found()
        if found is None:
            return None
        kind, values = tagged(found)
        return SearchEnd(kind=kind, **values)

    @property
    def clear(self) -> float:
        """float: the outermost drive angle found clear so far, deg."""
        return float(self._core.so_far()[0])

    @property
    def contact(self) -> float | None:
        """float or None: the innermost drive angle at which contact was found, deg."""
        found: float | None = self._core.so_far()[1]
        return found

    @property
    def probes(self) -> int:
        """int: probes judged so far."""
        return int(self._core.so_far()[2])

    @property
    def most_probes(self) -> int:
        """int: the most probes that this search can take, whatever is found."""
        return int(self._core.so_far()[3])

    def stop(self) -> None:
        """End the search here and now; what is known stays known.

        Examples
        --------
        >>> from elbowroom.bring_up import BracketPlan, StopSearch, StopSearchPlan
        >>> bracket = BracketPlan(toward="upper", clear=50, search_limit=90, step=2)
        >>> search = StopSearch(StopSearchPlan(bracket=bracket, inner=38, run_in=4))
        >>> search.stop()
        >>> search.end.kind
        'stopped'
        """
        self._core.stop()


class Sweep(Procedure[SweepPlan]):
    """The sweep as a procedure.

    Parameters
    ----------
    plan : SweepPlan

    Examples
    --------
    >>> from elbowroom.bring_up import Done, MoveTo, Moved, Read, Reading, Sweep, SweepPlan, Wait, Waited
    >>> sweep, at, action = Sweep(SweepPlan(ends=(10, 70), targets=5, runs=5, run_in=(4, 4))), 0.0, None
    >>> while action != Done():
    ...     match sweep.next():
    ...         case MoveTo(drive=drive):
    ...             at = drive
    ...             action = sweep.report(Moved())
    ...         case Wait():
    ...             action = sweep.report(Waited())
    ...         case Read():
    ...             action = sweep.report(Reading(3.8 * at))
    >>> len(sweep.readings), sweep.readings[0].place.drive
    (50, 10.0)
    """

    __slots__ = ()
    _kind = "sweep"

    @property
    def readings(self) -> tuple[SweepReading, ...]:
        """tuple of SweepReading: what was read so far, in the order of the visits."""
        return readings_of(self._core.found())


class Bracket:
    """The bare search for a stop: where to probe next, from what was clear and what met the stop.

    If every probe is judged right, none lies more than one step beyond the true contact, none beyond the bound, and there
    are at most `most_probes`.

    Parameters
    ----------
    plan : BracketPlan

    Examples
    --------
    >>> from elbowroom.bring_up import Bracket, BracketPlan
    >>> search = Bracket(BracketPlan(toward="upper", clear=70, search_limit=90, step=4))
    >>> while (angle := search.probe()) is not None:
    ...     search.report("contact" if angle > 80.3 else "clear")
    >>> search.clear, search.contact
    (80.0, 80.5)
    """

    __slots__ = ("_core", "_plan")
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, plan: BracketPlan) -> None:
        self._core, self._plan = _core.Bracket(plan), plan

    @property
    def plan(self) -> BracketPlan:
        """BracketPlan: the plan."""
        return self._plan

    def probe(self) -> float | None:
        """The next drive angle to probe, deg; None when the search is over.

        Returns
        -------
        float or None

        Examples
        --------
        >>> from elbowroom.bring_up import Bracket, BracketPlan
        >>> search = Bracket(BracketPlan(toward="upper", clear=70, search_limit=90, step=4))
        >>> search.probe()
        74.0
        """
        return self._core.probe()

    def report(self, found: str) -> None:
        """Take what the probe found.

        Parameters
        ----------
        found : {"clear", "contact"}

        Raises
        ------
        BringUpError
            Nothing was to be probed.

        Examples
        --------
        >>> from elbowroom.bring_up import Bracket, BracketPlan
        >>> search = Bracket(BracketPlan(toward="upper", clear=70, search_limit=90, step=4))
        >>> search.report("clear")
        >>> search.clear, search.probe()
        (74.0, 78.0)
        """
        self._core.report(found)

    def stop(self) -> None:
        """End the search here; what is known stays known.

        Examples
        --------
        >>> from elbowroom.bring_up import Bracket, BracketPlan
        >>> search = Bracket(BracketPlan(toward="upper", clear=70, search_limit=90, step=4))
        >>> search.stop()
        >>> search.probe() is None, search.clear
        (True, 70.0)
        """
        self._core.stop()

    @property
    def clear(self) -> float:
        """float: the outermost angle found clear, or given as clear, deg."""
        return self._core.so_far()[0]

    @property
    def contact(self) -> float | None:
        """float or None: the innermost angle at which contact was found, deg."""
        return self._core.so_far()[1]

    @property
    def probes(self) -> int:
        """int: probes so far."""
        return self._core.so_far()[2]

    @property
    def most_probes(self) -> int:
        """int: the most probes that this search can take, whatever is found."""
        return self._core.so_far()[3]

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Bracket):
            return NotImplemented
        return self._core.state_json() == other._core.state_json()

    def __repr__(self) -> str:
        return f"<Bracket of {self._plan!r}, clear to {self.clear:g}, contact {self.contact}>"

    def __reduce__(self) -> tuple[Any, ...]:
        return (_bracket, (self._plan, self._core.state_json()))


def _bracket(plan: BracketPlan, state: str) -> Bracket:
    made = Bracket.__new__(Bracket)
    made._core, made._plan = _core.Bracket.restored(state), plan
    return made


class Ramp:
    """Soft start and rate limit: a value that follows its target by bounded steps, one call for each control cycle.

    No step is longer than `most_step`, none differs from the one before by more than `most_change`; a target that holds
    still is reached exactly and without overshoot, and the value never leaves the span of the start and all targets.

    Hand over the angle where the drive stands, not the one where it should be: a servo without a reading jumps to its first
    pulse at full speed, and no ramp can help that.

    Parameters
    ----------
    start : float
        Where the drive stands, deg.
    most_step : float
        The longest step of one cycle, deg.
    most_change : float, optional
        The most that one step differs from the one before, deg.

    Raises
    ------
    BringUpError
        Numbers that are not finite, limits that are not above zero or too small.

    Examples
    --------
    >>> from elbowroom.bring_up import Ramp
    >>> ramp = Ramp(40.0, most_step=2.0, most_change=0.5)
    >>> [ramp.follow(45.0) for _ in range(3)]
    [40.5, 41.5, 43.0]
    """

    __slots__ = ("_core",)
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, start: float, *, most_step: float, most_change: float | None = None) -> None:
        self._core = _core.Ramp(start, most_step, most_change)

    @classmethod
    def per_second(
        cls, start: float, *, max_rate_per_s: float, acceleration_per_s2: float | None = None, cycles_hz: float
    ) -> Ramp:
        """The same from a rate and an acceleration for each second.

        Parameters
        ----------
        start : float
            Where the drive stands, deg.
        max_rate_per_s : float
            deg/s.
        acceleration_per_s2 : float, optional
            deg/s².
        cycles_hz : float
            The cycles in a second.

        Returns
        -------
        Ramp

        Examples
        --------
        >>> from elbowroom.bring_up import Ramp
        >>> ramp = Ramp.per_second(10.0, max_rate_per_s=60, cycles_hz=50)
        >>> ramp.follow(20.0)
        11.2
        """
        made = cls.__new__(cls)
        made._core = _core.Ramp(start, max_rate_per_s, acceleration_per_s2, cycles_hz)
        return made

    def follow(self, target: float) -> float:
        """Take one step towards a target.

        Parameters
        ----------
        target : float
            deg. One that comes nearer than the way to brake is passed and come back to.

        Returns
        -------
        float
            The new value, deg.

        Raises
        ------
        ConvertError
            NaN or infinity; the value stays where it was.

        Examples
        --------
        >>> from elbowroom.bring_up import Ramp
        >>> ramp = Ramp(40.0, most_step=2.0)
        >>> ramp.follow(45.0), ramp.follow(45.0)
        (42.0, 44.0)
        """
        return self._core.follow(target)

    def rests_at(self, target: float) -> bool:
        """Whether the value stands still at a target.

        Parameters
        ----------
        target : float
            deg.

        Returns
        -------
        bool

        Examples
        --------
        >>> from elbowroom.bring_up import Ramp
        >>> ramp = Ramp(40.0, most_step=2.0)
        >>> values = [ramp.follow(41.0) for _ in range(2)]
        >>> ramp.rests_at(41.0), ramp.rests_at(45.0)
        (True, False)
        """
        return self._core.rests_at(target)

    def limit(self, *, most_step: float, most_change: float | None = None) -> None:
        """Take other limits from the next step on; the value and its pace stay.

        A ramp that is faster than the new `most_step` slows down by `most_change` in each cycle, or at once where that is not
        given. A `most_change` lowered so late that the way to brake leads past all targets is exceeded: the value stops at the
        furthest of them.

        Parameters
        ----------
        most_step : float
            The longest step of one cycle, deg.
        most_change : float, optional
            The most that one step differs from the one before, deg.

        Raises
        ------
        BringUpError
            As for a new ramp; the limits stay as they were.

        Examples
        --------
        >>> from elbowroom.bring_up import Ramp
        >>> ramp = Ramp(10.0, most_step=1.0, most_change=0.5)
        >>> ramp.follow(20.0), ramp.follow(20.0)
        (10.5, 11.5)
        >>> ramp.limit(most_step=0.25, most_change=0.5)
        >>> ramp.follow(20.0), ramp.follow(20.0)
        (12.0, 12.25)
        """
        self._core.limit(most_step, most_change)

    def limit_per_second(
        self, *, max_rate_per_s: float, acceleration_per_s2: float | None = None, cycles_hz: float
    ) -> None:
        """The same from a rate and an acceleration for each second.

        Parameters
        ----------
        max_rate_per_s : float
            deg/s.
        acceleration_per_s2 : float, optional
            deg/s².
        cycles_hz : float
            The cycles in a second.

        Raises
        ------
        BringUpError
            As for a new ramp; the limits stay as they were.

        Examples
        --------
        >>> from elbowroom.bring_up import Ramp
        >>> ramp = Ramp.per_second(10.0, max_rate_per_s=60, cycles_hz=50)
        >>> ramp.limit_per_second(max_rate_per_s=30, cycles_hz=50)
        >>> ramp.follow(20.0)
        10.6
        """
        self._core.limit(max_rate_per_s, acceleration_per_s2, cycles_hz)

    def reset(self, start: float) -> None:
        """Stand still at a value again, with the same limits: after a stop, or when the drive was moved by something else.

        Parameters
        ----------
        start : float
            Where the drive stands now, deg.

        Raises
        ------
        ConvertError
            NaN or infinity; the value stays where it was.

        Examples
        --------
        >>> from elbowroom.bring_up import Ramp
        >>> ramp = Ramp(40.0, most_step=2.0)
        >>> ramp.reset(60.0)
        >>> ramp.follow(45.0)
        58.0
        """
        self._core.reset(start)

    @property
    def value(self) -> float:
        """float: the value after the last step, deg."""
        return self._core.value()

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Ramp):
            return NotImplemented
        return self._core.state_json() == other._core.state_json()

    def __repr__(self) -> str:
        return f"<Ramp at {self.value:g} deg>"

    def __reduce__(self) -> tuple[Any, ...]:
        return (_ramp, (self._core.state_json(),))


def _ramp(state: str) -> Ramp:
    made = Ramp.__new__(Ramp)
    made._core = _core.Ramp.restored(state)
    return made


class RampStep(NamedTuple):
    """One step of a joint's ramp.

    Examples
    --------
    >>> from elbowroom.bring_up import RampStep
    >>> RampStep(59.2, True, False).value
    59.2
    """

    value: float
    """The command after the step, in the joint's unit."""
    clamped_to_command: bool
    """Whether the target was outside the command range."""
    clamped_to_travel: bool
    """Whether the target was outside the commands of the travel."""


class JointRamp:
    """The commands of one joint on their way: a ramp whose targets are held to what the joint can reach.

    A plain `Ramp` runs on towards a target out of reach while the motor stands at the end, and has to come all the way back
    before the motor moves again; this one reverses at once.

    Parameters
    ----------
    joint : Joint
        Its command range and its travel bound the targets.
    start : float
        The command at which the joint stands, in its unit; it may be out of reach, and comes in from there.
    max_rate_per_s : float, optional
        Command units per second; without it the joint's own.
    acceleration_per_s2 : float, optional
        Command units per second squared; without it not bounded.
    cycles_hz : float
        The cycles in a second.

    Raises
    ------
    BringUpError
        Numbers that are not finite, limits that are not above zero or too small, no rate.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom.bring_up import JointRamp
    >>> wing = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10, max_rate_per_s=60,
    ...                  servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    ...                  timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    >>> ramp = JointRamp(wing, 58.0, cycles_hz=50)
    >>> ramp.step(1000.0)
    RampStep(value=59.2, clamped_to_command=True, clamped_to_travel=False)
    >>> ramp.follow(1000.0), ramp.follow(0.0)
    (60.0, 58.8)
    """

    __slots__ = ("_core",)
    __hash__ = None  # type: ignore[assignment]

    def __init__(
        self,
        joint: Joint,
        start: float,
        *,
        max_rate_per_s: float | None = None,
        acceleration_per_s2: float | None = None,
        cycles_hz: float,
    ) -> None:
        self._core = _core.JointRamp(joint, start, max_rate_per_s, acceleration_per_s2, cycles_hz)

    def follow(self, target: float) -> float:
        """Take one step towards a target, once in each cycle.

        Parameters
        ----------
        target : float
            In the unit of the joint's commands.

        Returns
        -------
        float
            The command after the step.

        Raises
        ------
        ConvertError
            NaN or infinity; the command stays where it was.

        Examples
        --------
        >>> from elbowroom import Robot, examples
        >>> from elbowroom.bring_up import JointRamp
        >>> wing = Robot.load(examples.path("heron.toml"))["wing_left"]
        >>> JointRamp(wing, 0.0, cycles_hz=50).follow(30.0)
        1.2
        """
        return self._core.follow(target)[0]

    def step(self, target: float) -> RampStep:
        """`follow` that tells as well what held the target back.

        Parameters
        ----------
        target : float
            In the unit of the joint's commands.

        Returns
        -------
        RampStep

        Raises
        ------
        ConvertError
            NaN or infinity; the command stays where it was.

        Examples
        --------
        >>> from elbowroom import Robot, examples
        >>> from elbowroom.bring_up import JointRamp
        >>> wing = Robot.load(examples.path("heron.toml"))["wing_left"]
        >>> JointRamp(wing, 0.0, cycles_hz=50).step(90.0).clamped_to_command
        True
        """
        return RampStep(*self._core.follow(target))

    def rests_at(self, target: float) -> bool:
        """Whether the command stands still at a target, or at the end that holds it.

        Parameters
        ----------
        target : float
            In the unit of the joint's commands.

        Returns
        -------
        bool

        Examples
        --------
        >>> from elbowroom import Robot, examples
        >>> from elbowroom.bring_up import JointRamp
        >>> wing = Robot.load(examples.path("heron.toml"))["wing_left"]
        >>> JointRamp(wing, 0.0, cycles_hz=50).rests_at(0.0)
        True
        """
        return self._core.rests_at(target)

    def change(
        self,
        joint: Joint,
        *,
        max_rate_per_s: float | None = None,
        acceleration_per_s2: float | None = None,
        cycles_hz: float,
    ) -> None:
        """Take the range and the travel of `joint`, and other limits, from the next step on; the command and its pace stay.

        A command that is out of reach now comes in by bounded steps as any other.

        Parameters
        ----------
        joint : Joint
            The same one for other limits alone, or what became of it: after its travel was narrowed, after a repair.
        max_rate_per_s, acceleration_per_s2, cycles_hz : float
            As for a new ramp.

        Raises
        ------
        BringUpError
            As for a new ramp; all stays as it was.

        Examples
        --------
        >>> from elbowroom import Robot, examples
        >>> from elbowroom.bring_up import JointRamp
        >>> wing = Robot.load(examples.path("heron.toml"))["wing_left"]
        >>> ramp = JointRamp(wing, 0.0, cycles_hz=50)
        >>> ramp.follow(30.0)
        1.2
        >>> ramp.change(wing, max_rate_per_s=15, cycles_hz=50)
        >>> ramp.follow(30.0)
        1.5
        """
        self._core.change(joint, max_rate_per_s, acceleration_per_s2, cycles_hz)

    def reset(self, start: float) -> None:
        """Stand still at a command again, with the same limits: after a stop, or when the drive was moved by something else.

        Parameters
        ----------
        start : float
            The command at which the joint stands now.

        Raises
        ------
        ConvertError
            NaN or infinity; the command stays where it was.

        Examples
        --------
        >>> from elbowroom import Robot, examples
        >>> from elbowroom.bring_up import JointRamp
        >>> wing = Robot.load(examples.path("heron.toml"))["wing_left"]
        >>> ramp = JointRamp(wing, 0.0, cycles_hz=50)
        >>> ramp.reset(20.0)
        >>> ramp.value
        20.0
        """
        self._core.reset(start)

    @property
    def value(self) -> float:
        """float: the command after the last step."""
        return self._core.value()

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, JointRamp):
            return NotImplemented
        return self._core.state_json() == other._core.state_json()

    def __repr__(self) -> str:
        return f"<JointRamp at {self.value:g}>"

    def __reduce__(self) -> tuple[Any, ...]:
        return (_joint_ramp, (self._core.state_json(),))


def _joint_ramp(state: str) -> JointRamp:
    made = JointRamp.__new__(JointRamp)
    made._core = _core.JointRamp.restored(state)
    return made


for _name in __all__:
    globals()[_name].__module__ = "elbowroom.bring_up"
