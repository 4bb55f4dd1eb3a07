"""Actions of a procedure and reports of them, as frozen records for ``match``."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any, TypeAlias

from elbowroom._errors import ArgumentTypeError

__all__ = ["Action", "Answered", "Ask", "Done", "Doubt", "MoveTo", "Moved", "Read", "Reading", "Report", "Wait", "Waited"]


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveTo:
    """Bring the drive to an angle; report `Moved` when the command has arrived.

    Attributes
    ----------
    drive : float
        The drive angle, deg.
    rate_per_s : float
        The fastest that the command may change, deg/s.

    Examples
    --------
    >>> from elbowroom.rehearsal import rehearse
    >>> from elbowroom.bring_up import MoveTo
    >>> move = next(step.action for step in rehearse(seed=1).steps if isinstance(step.action, MoveTo))
    >>> move.drive > 0
    True
    """

    drive: float
    rate_per_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """Let this many seconds pass; report `Waited`.

    Examples
    --------
    >>> from elbowroom.rehearsal import rehearse
    >>> from elbowroom.bring_up import Wait
    >>> next(step.action for step in rehearse(seed=1).steps if isinstance(step.action, Wait)).seconds
    0.4
    """

    seconds: float


@dataclass(frozen=True, slots=True)
class Read:
    """Take one reading; report `Reading`.

    Examples
    --------
    >>> from elbowroom.rehearsal import rehearse
    >>> from elbowroom.bring_up import Read
    >>> next(step.report for step in rehearse(seed=1).steps if isinstance(step.action, Read)).load is None
    True
    """


@dataclass(frozen=True, slots=True)
class Done:
    """Nothing more to do.

    Examples
    --------
    >>> from elbowroom.bring_up import Session, SessionPlan
    >>> session = Session(SessionPlan(start=79.5, search_limits=(0, 180)))
    >>> session.stop()
    >>> session.next()
    Done()
    """


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """What contradicts the answer given before: `kind` in kebab-case, `sentence` to show, `value` its number if it has one.

    Examples
    --------
    >>> from elbowroom.rehearsal import rehearse
    >>> from elbowroom.bring_up import Ask
    >>> asked = [step.action for step in rehearse(seed=1, wrong_answer_rate=0.5).steps if isinstance(step.action, Ask)]
    >>> [ask.question for ask in asked if ask.doubt is not None][:1]
    ['turn-sensor']
    """

    kind: str
    sentence: str
    value: float | None = None

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Ask:
    """Ask the person at the joint; show the cautions first. Report `Answered`.

    Attributes
    ----------
    question : str
        ``"ready"``, ``"detach-drive"``, ``"turn-sensor"``, ``"drive-response"``, ``"attach-drive"``, ``"what-moved"``,
        ``"what-is-met"``, ``"joint-angle"``, ``"set-sensor"``, ``"turn-from-mark"``, ``"hold-at-stop"`` or ``"stays-behind"``.
    sentence : str
        The question written out.
    cautions : tuple of str
        What must be said before it is done.
    caution_codes : tuple of str
        The code of each of `cautions`, e.g. ``"power-off-to-touch"``.
    answers : tuple of str
        The answers it has; ``"angle"`` stands for any angle.
    doubt : Doubt or None
        What contradicts the answer given before; there when the same question is asked again.
    toward : {"lower", "upper"} or None
        The end that the question is about.
    degrees : float or None
        How far the sensor is to be turned, deg.
    start, drive : float or None
        Where the drive came from and where it is, drive angles in deg.
    reading, tolerance : float or None
        What the sensor is to be set to, and how near is near enough.
    by : float or None
        How far the joint stays behind its drive, deg.

    Examples
    --------
    >>> from elbowroom.bring_up import Session, SessionPlan
    >>> ask = Session(SessionPlan(start=79.5, search_limits=(0, 180))).next()
    >>> ask.question, ask.sentence
    ('ready', 'is the joint free to move, and is nobody within its reach?')
    """

    question: str
    sentence: str
    cautions: tuple[str, ...] = ()
    caution_codes: tuple[str, ...] = ()
    answers: tuple[str, ...] = ()
    doubt: Doubt | None = None
    toward: str | None = None
    degrees: float | None = None
    start: float | None = None
    drive: float | None = None
    reading: float | None = None
    tolerance: float | None = None
    by: float | None = None

    def __repr__(self) -> str:
        given = ((one.name, getattr(self, one.name)) for one in fields(self))
        return f"Ask({', '.join(f'{name}={value!r}' for name, value in given if value not in (None, ()))})"


Action: TypeAlias = MoveTo | Wait | Read | Ask | Done
"""The next thing to do."""


@dataclass(frozen=True, slots=True)
class Moved:
    """The command has arrived.

    Attributes
    ----------
    drive : float or None
        The drive angle really commanded, deg, where the timer rounds to whole counts: the second number of
        `Joint.counts_from_drive`. The evidence rests on it then. It lies within 1 deg of the one asked.

    Examples
    --------
    >>> from elbowroom.bring_up import Moved
    >>> Moved()
    Moved(drive=None)
    """

    drive: float | None = field(default=None, kw_only=True)


@dataclass(frozen=True, slots=True)
class Waited:
    """The time has passed.

    Examples
    --------
    >>> from elbowroom.bring_up import Waited
    >>> Waited()
    Waited()
    """


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading was taken.

    Attributes
    ----------
    value : float
        The reading, in the sensor's own unit, e.g. ADC counts.
    load : float or None
        The drive's current as a part of its stall current, where something measures it.

    Examples
    --------
    >>> from elbowroom.bring_up import Reading
    >>> Reading(512.0)
    Reading(value=512.0, load=None)
    """

    value: float
    load: float | None = field(default=None, kw_only=True)


@dataclass(frozen=True, slots=True)
class Answered:
    """The person answered.

    Attributes
    ----------
    answer : str
        One of the question's `answers`.
    degrees : float or None
        With ``"angle"``: the angle, deg.

    Examples
    --------
    >>> from elbowroom.bring_up import Answered
    >>> Answered("angle", degrees=12.5)
    Answered(answer='angle', degrees=12.5)
    """

    answer: str
    degrees: float | None = field(default=None, kw_only=True)


Report: TypeAlias = Moved | Waited | Reading | Answered
"""What was done."""

# The fields of the core's questions that are called otherwise here.
_NAMES = {("what-moved", "from"): "start", ("what-moved", "to"): "drive"}


def tagged(given: str | dict[str, Any]) -> tuple[str, dict[str, Any]]:
    """Name and fields of one of the core's variants."""
    if isinstance(given, str):
        return given, {}
    ((name, values),) = given.items()
    return name, values


def untagged(name: str, values: dict[str, Any]) -> str | dict[str, Any]:
    return {name: values} if values else name


def action_of(told: dict[str, Any]) -> Action:
    kind, values = tagged(told["action"])
    match kind:
        case "move-to":
            return MoveTo(**values)
        case "wait":
            return Wait(**values)
        case "read":
            return Read()
        case "ask":
            question, amounts = tagged(values["question"])
            doubt = None
            if values["doubt"] is not None:
                word, numbers = tagged(values["doubt"])
                doubt = Doubt(kind=word, sentence=told["doubt"], value=next(iter(numbers.values()), None))
            return Ask(
                question=question,
                sentence=told["sentence"],
                cautions=tuple(told["cautions"]),
                caution_codes=tuple(told["caution_codes"]),
                answers=tuple(told["answers"]),
                doubt=doubt,
                **{_NAMES.get((question, name), name): value for name, value in amounts.items()},
            )
        case _:
            return Done()


# The number that each doubt carries, as the core calls it.
_DOUBTS = {"responded-other-way": "at", "no-load": "load", "loaded": "load", "grave": "", "unexpected": ""}


def action_record(action: Action) -> Any:
    """The core's own record of an action."""
    record: Any
    match action:
        case MoveTo(drive=drive, rate_per_s=rate_per_s):
            record = {"move-to": {"drive": drive, "rate_per_s": rate_per_s}}
        case Wait(seconds=seconds):
            record = {"wait": {"seconds": seconds}}
        case Read():
            record = "read"
        case Done():
            record = "done"
        case Ask(question=question, doubt=doubt):
            names = {ours: core for (of, core), ours in _NAMES.items() if of == question}
            amounts = {
                names.get(name, name): getattr(action, name)
                for name in ("toward", "degrees", "start", "drive", "reading", "tolerance", "by")
                if getattr(action, name) is not None
            }
            said = None
            if doubt is not None:
                number = _DOUBTS.get(doubt.kind, "by")
                said = untagged(doubt.kind, {number: doubt.value} if number else {})
            record = {"ask": {"question": untagged(question, amounts), "doubt": said}}
        case _:
            raise ArgumentTypeError(
                f"action is of type {type(action).__name__}; give MoveTo, Wait, Read, Ask or Done",
                code="wrong-type",
                value=action,
            )
    return record


def report_of(record: Any) -> Report | None:
    if record is None:
        return None
    kind, values = tagged(record)
    match kind:
        case "moved":
            return Moved()
        case "moved-to":
            return Moved(drive=values["drive"])
        case "waited":
            return Waited()
        case "reading":
            return Reading(values["value"], load=values["load"])
        case _:
            answer, numbers = tagged(values["answer"])
            return Answered(answer, degrees=numbers.get("degrees"))


def checked_report(report: object) -> Report:
    """A report of one of the four classes, or a refusal."""
    if isinstance(report, (Moved, Waited, Reading, Answered)):
        return report
    raise ArgumentTypeError(
        f"report is of type {type(report).__name__}; give Moved(), Waited(), Reading(value) or Answered(answer)",
        code="wrong-type",
        value=report,
    )


for _name in __all__:
    if _name not in ("Action", "Report"):
        globals()[_name].__module__ = "elbowroom.bring_up"
