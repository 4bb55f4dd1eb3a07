"""The procedures of the bring-up, each usable alone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Generic, Self, TypeVar

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

__all__ = [
    "Bracket",
    "Alignment",
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


for _name in __all__:
    globals()[_name].__module__ = "elbowroom.bring_up"
