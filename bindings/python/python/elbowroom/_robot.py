"""What a robot file holds besides its joints, and what a check finds, as frozen records."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from os import PathLike
from typing import TYPE_CHECKING

from elbowroom import _core
from elbowroom._core import Joint, Robot, Servo
from elbowroom._drawing import drawing
from elbowroom._html import table
from elbowroom._types import SplineTeeth

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = [
    "RULES",
    "CheckReport",
    "EndEvidence",
    "Entry",
    "Evidence",
    "Finding",
    "Judgement",
    "LimitsOut",
    "LostMotionEvidence",
    "Rule",
    "Source",
    "StopMoved",
    "Waived",
]

Mapping.register(Robot)


@dataclass(frozen=True, slots=True, kw_only=True)
class EndEvidence:
    """The evidence for one end of the travel; drive angles in deg.

    Attributes
    ----------
    kind : {"contact", "stalled", "clear", "declared"}
        The stop was met, and placed; something holds between `at` and `short_at`; no stop was found, clear to here; stated by somebody, not measured.
    at : float
        The drive angle of contact, or the furthest that was clear, or that was declared; when stalled, of the last reading
        that follows the line.
    short_at : float or None
        When stalled, and only then, the drive angle of the first reading that fell short of the line.
    u : float or None
        Standard uncertainty of `at`.
    guard : float or None
        The margin that was to be kept between `at` and the travel.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> robot = elb.Robot.load(examples.path("heron.toml"))
    >>> robot.entry("wing_left").evidence.lower
    EndEvidence(kind='contact', at=37.9, short_at=None, u=0.2, guard=2.0)
    """

    kind: str
    at: float
    short_at: float | None = None
    u: float | None = None
    guard: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LostMotionEvidence:
    """Lost motion in drive angle, deg, with its standard uncertainty.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> robot = elb.Robot.load(examples.path("heron.toml"))
    >>> robot.entry("wing_left").evidence.lost_motion
    LostMotionEvidence(value=1.8, u=0.15)
    """

    value: float
    u: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """The table of readings that evidence was fitted from, and how it was read: enough to fit it again.

    Attributes
    ----------
    file : str
        Its path from the robot file's folder, with ``/`` between its parts.
    sha256 : str
        SHA-256 of its bytes, 64 hexadecimal digits in lower case.
    rows : tuple of (str, str)
        Only rows that hold these values count: column and value. Empty: every row.
    columns : tuple of (str, str)
        What a column holds (``drive``, ``measured``, ``approach``, ``contact``, ``time``, ``feedback``) and its name in the header,
        where the names differ.
    drive_unit : {"deg", "us", "ms", "counts"}
    servo : Servo or None
        The servo line in whose degrees the drive column was written, where the joint has another one now: `written_under` of
        `read_readings`.
    measured_unit : str or None
        ``"deg"`` if absent.
    wrap, arc_radius : float or None
        One turn, after which measured values start again; the radius of the arc along which lengths were measured.
    flipped : bool
        Whether values were read with the opposite sign.
    time_unit : {"s", "ms"} or None
        Where the column's name does not tell.
    separator, decimal : str or None
        The character between columns, where it is not a comma; that before decimals, where it is not a point.
    resolution : float or None
        That given to the fit, in the measured unit.
    confidence : float or None
        The coverage of the intervals, where it is not 0.95.

    Examples
    --------
    >>> import elbowroom as elb
    >>> elb.Source(file="readings/wing_left.csv", sha256="0" * 64).file
    'readings/wing_left.csv'
    """

    file: str
    sha256: str
    rows: tuple[tuple[str, str], ...] = ()
    columns: tuple[tuple[str, str], ...] = ()
    drive_unit: str = "deg"
    servo: Servo | None = None
    measured_unit: str | None = None
    wrap: float | None = None
    arc_radius: float | None = None
    flipped: bool = False
    time_unit: str | None = None
    separator: str | None = None
    decimal: str | None = None
    resolution: float | None = None
    confidence: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What proves the values of one joint. Everything in it may be missing; a check reports what is needed.

    Attributes
    ----------
    date : datetime.date or None
        The day it was taken.
    sense : {"opposing", "aiding", "undetermined"} or None
        Whether the feedback wire makes the loop correct an error.
    sense_date : datetime.date or None
        The day of the sense test, where it was another than `date`.
    lower, upper : EndEvidence or None
    lost_motion : LostMotionEvidence or None
    readings : int or None
        How many readings were taken.
    map_off : float or None
        Where the map was kept against these readings: drive deg by which they put a command elsewhere, at the most, with sign.
    by, instrument : str or None
        Who took it, and what the joint was measured with.
    supply_v, temperature_c : float or None
        Supply voltage of the servo during the readings, V; temperature of the room, degrees Celsius.
    source : Source or None
        Where the readings stand.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> robot = elb.Robot.load(examples.path("heron.toml"))
    >>> evidence = robot.entry("wing_left").evidence
    >>> evidence.sense, evidence.lower.kind, evidence.upper.kind
    ('opposing', 'contact', 'clear')
    """

    date: datetime.date | None = None
    sense: str | None = None
    sense_date: datetime.date | None = None
    lower: EndEvidence | None = None
    upper: EndEvidence | None = None
    lost_motion: LostMotionEvidence | None = None
    readings: int | None = None
    map_off: float | None = None
    by: str | None = None
    instrument: str | None = None
    supply_v: float | None = None
    temperature_c: float | None = None
    source: Source | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StopMoved:
    """A stop that is not where the file's evidence has it; drive angles in deg.

    Attributes
    ----------
    side : {"lower", "upper"}
    in_file, measured : float
    was, found : {"contact", "stalled", "clear", "declared"}
        What the file has there, and what was found.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> robot = elb.Robot.load(examples.path("heron.toml"))
    >>> joint, drive = robot["wing_left"], [30 + 4 * i for i in range(23)]
    >>> fit = elb.fit_limits(drive, [joint.command_from_drive(max(d, 45)) for d in drive])
    >>> stop = robot.judge_fit("wing_left", fit).stops[0]
    >>> stop.side, stop.in_file, round(stop.measured, 1)
    ('lower', 37.9, 45.0)
    """

    side: str
    in_file: float
    measured: float
    was: str
    found: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """How readings compare with the joint in a robot file; drive angles in deg.

    Attributes
    ----------
    contradicts : bool
        Writing travel and evidence alone would make the joint invalid.
    unrelated : bool
        Nothing relates commands to measured values, so that only stops were compared.
    offset, u_offset : float or None
        By how much further the joint stands at one drive angle than the file has it, deg of drive, in the middle of the readings, with
        its standard uncertainty: the sign of `compare`. A command needs so much less drive.
    teeth : tuple of SplineTeeth
        Whole numbers of horn teeth that agree with the offset, the closest first.
    slope : (float, float) or None
        Drive deg per command, of the file and as measured.
    furthest : float or None
        The difference where the two maps are furthest apart.
    measured_higher : float or None
        By how much the measured values are higher than in the file where the stops did not move: protractor or sensor were set elsewhere.
    measured_at_commands : (float, float) or None
        The measured values that then stand for the lower and the upper command; give them as `measured_at_commands`.
    reversed : bool
        Measured values run with drive the other way than the file's commands.
    stops : tuple of StopMoved
    sensor : float or None
        The furthest that the joint's sensor is off its map, joint deg.
    sentences : tuple of str
        What differs.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> robot = elb.Robot.load(examples.path("heron.toml"))
    >>> joint, drive = robot["wing_left"], [45 + 4 * i for i in range(19)]
    >>> fit = elb.fit_limits(drive, [joint.command_from_drive(d) for d in drive])
    >>> robot.judge_fit("wing_left", fit).contradicts
    False
    """

    contradicts: bool
    unrelated: bool
    offset: float | None
    u_offset: float | None
    teeth: tuple[SplineTeeth, ...]
    slope: tuple[float, float] | None
    furthest: float | None
    measured_higher: float | None
    measured_at_commands: tuple[float, float] | None
    reversed: bool
    stops: tuple[StopMoved, ...]
    sensor: float | None
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """All that a robot file holds about one joint.

    Attributes
    ----------
    joint : Joint
    board : str or None
        The board that makes its pulses.
    channel : int or None
        The board's output it is wired to.
    unit : str or None
        The unit of its commands.
    mirror_of : str or None
        The joint on the other side that it mirrors.
    evidence : Evidence
    line : int
        The line of the file where it begins, counted from 1.
    history : tuple of Evidence
        What proved its values at earlier calibrations, as the file lists them.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> robot = elb.Robot.load(examples.path("heron.toml"))
    >>> entry = robot.entry("wing_left")
    >>> entry.board, entry.channel, entry.unit
    ('breast', 3, 'deg')
    """

    joint: Joint
    board: str | None = None
    channel: int | None = None
    unit: str | None = None
    mirror_of: str | None = None
    evidence: Evidence = Evidence()
    line: int = 1
    history: tuple[Evidence, ...] = ()

    @property
    def to_si(self) -> float | None:
        """float or None: what one of `unit` is in radians, metres or plain numbers.

        Commands times this are SI. None where the file names no unit, or one that has no factor.
        """
        return None if self.unit is None else _core.unit_to_si(self.unit)

    @drawing(
        "Where to draw the drive angle alone",
        panels=" with all panels",
        title="The joint's name if left out.",
        returns="Those of the drive angle.",
        example="""
        >>> import elbowroom as elb
        >>> from elbowroom import examples
        >>> entry = elb.Robot.load(examples.path("heron.toml")).entry("wing_left")
        >>> entry.plot().get_title()
        'wing_left'
        """,
    )
    def plot(self, path: str | PathLike[str] | None = None, *, ax: Axes | None = None, title: str | None = None) -> Axes:
        """Draw the joint as `Joint.plot` does, with its unit and the stops that were met."""
        from elbowroom import _plot_joint

        return _plot_joint.joint(self.joint, path, ax, title, self.unit, self.evidence)

    @drawing(
        "Where to draw the upper end alone",
        panels=" with all panels",
        title="The joint's name if left out.",
        returns="Those of the upper end.",
        example="""
        >>> import elbowroom as elb
        >>> from elbowroom import examples
        >>> entry = elb.Robot.load(examples.path("heron.toml")).entry("wing_left")
        >>> entry.plot_history().get_title()
        'wing_left: calibrations'
        """,
    )
    def plot_history(self, path: str | PathLike[str] | None = None, *, ax: Axes | None = None, title: str | None = None) -> Axes:
        """Draw every dated calibration: where its ends were found and how much motion was lost, so that wear shows."""
        from elbowroom import _plot_history

        return _plot_history.history(self, path, ax, title)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule of the check, named by its fault.

    `severity` is ``"note"``, ``"warning"`` or ``"error"``, `protects` says what it protects, `broken_by` shows what
    breaks it.

    Examples
    --------
    >>> import elbowroom as elb
    >>> elb.RULES[0].name
    'rest-outside-travel'
    """

    name: str
    severity: str
    protects: str
    broken_by: str


RULES: tuple[Rule, ...] = tuple(
    Rule(name=name, severity=severity, protects=protects, broken_by=broken_by)
    for name, severity, protects, broken_by in _core.rules()
)
"""Every rule, in the order in which they are checked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Something wrong with a robot.

    Attributes
    ----------
    severity : {"note", "warning", "error"}
    rule : str
        The rule that found it, in kebab-case.
    joint : str or None
        The joint concerned; None for the robot as a whole.
    line : int or None
        The line of the file where that joint begins.
    message, hint : str
        What is wrong, with its values; what to do about it.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> robot = elb.Robot.load(examples.path("heron.toml"))
    >>> finding = robot.put(robot["wing_left"], channel=4).check().findings[0]
    >>> finding.severity, finding.rule, finding.joint
    ('error', 'channel-clash', 'wing_right')
    """

    severity: str
    rule: str
    joint: str | None
    line: int | None
    message: str
    hint: str

    def __str__(self) -> str:
        joint = "" if self.joint is None else f"joint {self.joint}: "
        return f"{self.severity} {self.rule}: {joint}{self.message}; {self.hint}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Waived:
    """A finding that the robot file waives, with the reason it gives.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> robot = elb.Robot.load(examples.path("heron.toml"))
    >>> waived = robot.check().waived
    >>> [one.finding.rule for one in waived]
    ['limit-only-declared', 'limit-only-declared']
    """

    finding: Finding
    reason: str

    def __str__(self) -> str:
        return f"{self.finding} (waived: {self.reason})"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckReport:
    """Everything that a check found; iterates over its open findings, and is false when there are none.

    Attributes
    ----------
    findings : tuple of Finding
        What is open: the robot as a whole first, then joint by joint in file order.
    waived : tuple of Waived
        What the file waives.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> robot = elb.Robot.load(examples.path("heron.toml"))
    >>> report = robot.check()
    >>> len(report.findings), len(report.waived)
    (0, 2)
    """

    findings: tuple[Finding, ...] = ()
    waived: tuple[Waived, ...] = ()

    def __iter__(self) -> Iterator[Finding]:
        return iter(self.findings)

    def __len__(self) -> int:
        return len(self.findings)

    def __str__(self) -> str:
        return "\n".join(map(str, (*self.findings, *self.waived))) or "no findings"

    def _repr_html_(self) -> str:
        rows = [(f.severity, f.rule, f.joint or "", f.message, f.hint) for f in self.findings]
        rows += [("waived", w.finding.rule, w.finding.joint or "", w.finding.message, w.reason) for w in self.waived]
        return table(("severity", "rule", "joint", "message", "what to do"), rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitsOut:
    """A robot description with measured limits in it, from `Robot.limits_into`.

    Attributes
    ----------
    text : str
        The description's new text.
    written : dict of str to (float, float, str)
        Lower and upper limit of each joint as they were written, and their unit: "rad", "deg" or "m".
    left_out : dict of str to str
        Joints of which nothing was written, each with the reason.

    Examples
    --------
    >>> import elbowroom as elb
    >>> robot = elb.robot_from_dict({"servo": {"angle": [0, 180], "pulse_us": [500, 2500]},
    ...                               "timer": {"frame_hz": 50, "counts_per_frame": 4096},
    ...                               "joint": {"neck": {"command": [-90, 45], "drive": [0, 135], "rest": 0, "unit": "deg"}}})
    >>> out = robot.limits_into('<mujoco><worldbody><body><joint name="neck"/></body></worldbody></mujoco>')
    >>> out.written, out.left_out
    ({'neck': (-90.0, 45.0, 'deg')}, {})
    """

    text: str
    written: dict[str, tuple[float, float, str]]
    left_out: dict[str, str]


def robot_table(robot: Robot) -> str:
    """A robot's joints as an HTML table, for notebooks."""
    rows: list[tuple[object, ...]] = []
    for name, joint in robot.items():
        entry = robot.entry(name)
        where = "" if entry.board is None else f"{entry.board} {'' if entry.channel is None else entry.channel}"
        rows.append((name, where, *_cells(joint)))
    return table(("joint", "board, channel", "command", "rest", "drive / deg", "travel / deg"), rows)


def joint_table(joint: Joint) -> str:
    """One joint as an HTML table, for notebooks."""
    lowest, highest = joint.count_range
    rate = "" if joint.max_rate_per_s is None else f"{joint.max_rate_per_s:g}"
    row = (joint.name, *_cells(joint), rate, joint.transmission["kind"], f"{lowest} to {highest}")
    return table(("joint", "command", "rest", "drive / deg", "travel / deg", "rate / s", "transmission", "counts"), [row])


def _cells(joint: Joint) -> tuple[str, str, str, str]:
    command, drive, travel = (
        f"{lower:g} to {upper:g}" for lower, upper in (joint.command_range, joint.drive_range, joint.travel)
    )
    return command, f"{joint.rest:g}", drive + (" inverted" if joint.inverted else ""), travel


for _name in __all__:
    if _name != "RULES":
        globals()[_name].__module__ = "elbowroom"
