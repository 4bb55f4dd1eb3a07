"""The bring-up whose readings are typed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

from elbowroom import _core
from elbowroom._actions import Report, report_of
from elbowroom._bring_up import BringUp

__all__ = ["Bench", "BenchPlan", "Prompt", "TypedReading"]


_BENCH = _core.usual("BenchPlan")


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchPlan:
    """What a bring-up with typed readings starts from; drive angles in deg. Verify the defaults against your data sheets.

    Attributes
    ----------
    start : float
        The drive angle at which the joint stands, clear on both sides.
    search_limits : (float, float)
        Angles that are never passed: the servo's own range or less.
    clearance : float
        How far it is clear on both sides of the start.
    overtravel : float or None
        How far a command may lie beyond a stop as met in the direction driven. None: 5 deg, and 8 deg where the stops are felt
        first, as nothing is pressed then unless something came in the way since.
    run_in : float
        How far before a place it is approached from; more than the lost motion.
    guard : float
        Margin between contact and travel.
    confidence : float
        Coverage probability of the intervals.
    watch : {"sensor-only", "sensor-and-drive"}
        Whether the servo's own potentiometer sits on the joint: then the sense of its feedback is tested.
    turn : float
        How far a turn of the hand goes in the sense test, deg.
    feel_stops : bool
        Whether both stops are felt by hand first, with the drive detached.
    resolution : float
        One graduation of the scale that is read, in readings.
    u_reading : float or None
        Standard uncertainty of one typed reading, its graduation included. None: about half a graduation.
    tolerance : float
        The standard uncertainty wanted of both stops and of the lost motion.
    most_readings : int
        How many readings are typed at the most while the result is refined; the search of the stops may need more.
    bend : float
        By how much the slope may change over 100 deg, as a part of itself (one standard deviation).
    rate_per_s : float
        The fastest that the command may change, deg/s.
    settle_s : float
        How long to wait until the joint is at rest, s.

    Examples
    --------
    >>> from elbowroom.bring_up import BenchPlan
    >>> BenchPlan(start=79.5, search_limits=(0, 180), guard=3).guard
    3
    """

    start: float
    search_limits: tuple[float, float]
    clearance: float = _BENCH["clearance"]
    overtravel: float | None = None
    run_in: float = _BENCH["run_in"]
    guard: float = _BENCH["guard"]
    confidence: float = _BENCH["confidence"]
    watch: str = _BENCH["watch"]
    turn: float = _BENCH["turn"]
    feel_stops: bool = _BENCH["feel_stops"]
    resolution: float = _BENCH["resolution"]
    u_reading: float | None = None
    tolerance: float = _BENCH["tolerance"]
    most_readings: int = _BENCH["most_readings"]
    bend: float = _BENCH["bend"]
    rate_per_s: float = _BENCH["rate_per_s"]
    settle_s: float = _BENCH["settle_s"]

    def first_moves(self) -> tuple[float, float]:
        """The drive angles between which the first moves go, before anything is known: clearance and
        overtravel to both sides of the start.

        Returns
        -------
        (float, float)

        Examples
        --------
        >>> from elbowroom.bring_up import BenchPlan
        >>> BenchPlan(start=80, search_limits=(0, 180)).first_moves()
        (69.0, 91.0)
        """
        lower, upper = _core.bench_first_moves(self)
        return lower, upper


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedReading:
    """A typed reading.

    Attributes
    ----------
    drive : float or None
        The drive angle, deg; None where the joint was held or turned by hand.
    toward : {"lower", "upper"}
        The end towards which it was reached, or at whose stop it was held.
    value : float
        What was typed.
    is_used : bool
        Whether it counts; false where another reading of the same place was kept.
    """

    drive: float | None
    toward: str
    value: float
    is_used: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Prompt:
    """The next step in words. Cautions come first, then the notice, then the sentence with its answers.

    Attributes
    ----------
    kind : {"move-to", "wait", "read", "ask", "done"}
    stage : str
        The part of the procedure.
    question : str or None
        The question's own word, where one is asked.
    sentence : str
        One plain sentence.
    notice : str or None
        What contradicts the answer or the reading before.
    cautions : tuple of (str, str)
        What must be said first: code and sentence of each.
    answers : tuple of (str, str)
        The answers of this step, and no others: word and meaning of each.
    takes_number : bool
        Whether a number is typed.
    start : float
        Where the drive stands, deg.
    drive : float or None
        Where it is brought, or where it is read, deg.
    rate_per_s, seconds : float or None
        The fastest that the command may change, deg/s; how long to wait, s.
    typed : int
        Readings typed so far.

    Examples
    --------
    >>> from elbowroom.bring_up import Bench, BenchPlan
    >>> prompt = Bench(BenchPlan(start=79.5, search_limits=(0, 180))).prompt()
    >>> prompt.sentence
    'is the joint free to move, and is nobody within its reach?'
    """

    kind: str
    stage: str
    question: str | None
    sentence: str
    notice: str | None
    cautions: tuple[tuple[str, str], ...]
    answers: tuple[tuple[str, str], ...]
    takes_number: bool
    start: float
    drive: float | None
    rate_per_s: float | None
    seconds: float | None
    typed: int


class Bench(BringUp[BenchPlan]):
    """A bring-up for a person who types each reading, with as few of them as the bound on overtravel allows.

    It gives the next action and takes a report of it, as a `Session` does; `prompt` has each step in words, and `parse` makes
    what was typed a report. A reading that does not fit those before is asked for again and left out; ``Answered("again")`` takes the one
    that is asked for again. What was typed can be taken back with `undo`, saved and restored at any step.

    No command lies further than `overtravel` beyond a stop as met in the direction driven, also where something came into the way
    after the stops were felt by hand; with one writing error that hides a contact, no further than twice that.

    This computes; it cannot stop a motor. Show the cautions that each step carries. It is not a safety function in the sense of
    ISO 13849 or IEC 61508; local codes and licensed practice come first.

    Parameters
    ----------
    plan : BenchPlan

    Raises
    ------
    BringUpError
        An invalid plan, with the field and its value.

    Examples
    --------
    >>> from elbowroom.bring_up import Bench, BenchPlan
    >>> bench = Bench(BenchPlan(start=79.5, search_limits=(0, 180)))
    >>> bench.prompt().sentence
    'is the joint free to move, and is nobody within its reach?'
    >>> action = bench.report(bench.typed("done"))
    >>> bench.prompt().sentence
    'move the drive to 90.5 deg'
    >>> bench.typed("stop")
    Traceback (most recent call last):
    ...
    elbowroom.BringUpError: that is not one of the answers; press Enter or type done when it is there
    """

    __slots__ = ()
    _kind = "bench"

    @property
    def stage(self) -> str:
        """str: where it stands: ready, sense test, stops by hand, first move, search, refine, done."""
        return self._core.stage()

    def prompt(self) -> Prompt:
        """The next step in words, with its cautions and answers.

        Returns
        -------
        Prompt

        Examples
        --------
        >>> from elbowroom.bring_up import Bench, BenchPlan
        >>> bench = Bench(BenchPlan(start=79.5, search_limits=(0, 180)))
        >>> prompt = bench.prompt()
        >>> prompt.kind, prompt.question, [word for word, meaning in prompt.answers]
        ('ask', 'ready', ['done', 'no'])
        """
        told = self._core.prompt()
        told["start"] = told.pop("from")
        told["cautions"] = tuple((one["code"], one["sentence"]) for one in told["cautions"])
        told["answers"] = tuple((one["word"], one["meaning"]) for one in told["answers"])
        return Prompt(**told)

    def typed(self, text: str) -> Report:
        """What a person typed, as a report on the next step.

        Parameters
        ----------
        text : str
            A number where a reading is asked, else one of the answers; nothing stands for done after a move or a wait.

        Returns
        -------
        Moved, Waited, Reading or Answered

        Raises
        ------
        BringUpError
            No number, or none of the answers of this step, which the message lists.

        Examples
        --------
        >>> from elbowroom.bring_up import Bench, BenchPlan
        >>> bench = Bench(BenchPlan(start=79.5, search_limits=(0, 180)))
        >>> bench.typed("done")
        Answered(answer='done', degrees=None)
        """
        report = report_of(self._core.parse(text))
        assert report is not None
        return report

    def undo(self) -> bool:
        """Take the last reading or answer back, with the moves after it.

        The drive first goes inward and comes again; no move outward is made twice. What was done with the drive detached is taken back
        as a whole once it was fixed again.

        Returns
        -------
        bool
            Whether there was one.

        Examples
        --------
        >>> from elbowroom.bring_up import Bench, BenchPlan
        >>> bench = Bench(BenchPlan(start=79.5, search_limits=(0, 180)))
        >>> action = bench.report(bench.typed("done"))
        >>> bench.undo(), bench.undo()
        (True, False)
        """
        return self._core.undo()

    @property
    def readings(self) -> tuple[TypedReading, ...]:
        """tuple of TypedReading: all readings typed so far, in their order."""
        readings, _ = self._core.so_far()
        return tuple(TypedReading(**one) for one in readings)

    @property
    def is_not_the_stop_felt(self) -> tuple[bool, bool]:
        """(bool, bool): whether what the drive met is not the stop that was felt by hand, lower then upper."""
        _, (lower, upper) = self._core.so_far()
        return lower, upper

    def _typed(self) -> list[tuple[float, float, str, bool]]:
        # Which readings count is told at the end.
        is_open = self.outcome is None
        return [(one.drive, one.value, _core.reached_from(one.toward), is_open or one.is_used) for one in self.readings if one.drive is not None]

    @classmethod
    def _loaded(cls, text: str, resume: bool) -> Self:
        core = _core.Procedure.loaded_bench(text, resume)
        record = core.plan()
        record["search_limits"] = tuple(record["search_limits"])
        return cls._of(BenchPlan(**record), core)


for _name in __all__:
    globals()[_name].__module__ = "elbowroom.bring_up"
