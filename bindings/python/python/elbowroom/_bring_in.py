"""Bring existing numbers in: readings from CSV, robots from plain dicts, tables and URDF joint limits."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from os import PathLike
from typing import TYPE_CHECKING, Any, Required, TextIO, TypedDict

from elbowroom import _core
from elbowroom._core import Robot, Servo, Timer
from elbowroom._errors import ArgumentError, ArgumentTypeError, RobotError

if TYPE_CHECKING:
    from elbowroom._types import Approach

__all__ = ["ReadingTable", "UrdfLimit", "read_readings", "robot_from_csv", "robot_from_dict", "robot_from_urdf", "urdf_limits"]


# Significant digits of a number in a file: finer than anything that is measured, and a decimal fraction stays one.
_DIGITS = 12
# What TOML takes for a key without quotes.
_BARE = re.compile(r"[A-Za-z0-9_-]+")


def _key(key: Any) -> str:
    """A key as TOML, in quotes only where it needs them."""
    return str(key) if _BARE.fullmatch(str(key)) else _toml(str(key), "a key")


def exact(value: Any, where: str) -> str:
    """A dict of one part of a joint as TOML, its numbers to the last digit; None counts as left out."""
    return _toml({key: part for key, part in value.items() if part is not None}, where, digits=17)


def _toml(value: Any, where: str, *, digits: int = _DIGITS) -> str:
    """A value as TOML; the reader of robot files judges it, so nothing is checked here but what TOML cannot write."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return f"{value:.{digits}g}" if isinstance(value, float) else repr(int(value))
    if isinstance(value, str):
        escaped = "".join(f"\\u{ord(c):04x}" if ord(c) < 32 or c in '"\\\x7f' else c for c in value)
        return f'"{escaped}"'
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{_key(k)} = {_toml(v, f'{where}.{k}', digits=digits)}" for k, v in value.items()) + " }"
    if isinstance(value, Servo):
        return _toml({"angle": value.angle_range, "pulse_us": value.pulse_range_us}, where)
    if isinstance(value, Timer):
        return _toml({"frame_hz": value.frame_hz, "counts_per_frame": value.counts_per_frame}, where)
    if hasattr(value, "tolist"):
        return _toml(value.tolist(), where, digits=digits)
    if isinstance(value, Sequence) and not isinstance(value, (bytes, bytearray)):
        return "[" + ", ".join(_toml(v, f"{where}[{i}]", digits=digits) for i, v in enumerate(value)) + "]"
    raise ArgumentTypeError(
        f"{where} is of type {type(value).__name__}; give numbers, strings, bools, dates, lists or dicts",
        code="wrong-type",
        value=value,
    )


def robot_from_dict(robot: Mapping[str, Any]) -> Robot:
    """A robot from plain dicts, with the keys of a robot file.

    Parameters
    ----------
    robot : mapping
        As a robot file, its numbers written with 12 significant digits: `name`, defaults `servo` and `timer` (dicts or `Servo` and `Timer`), and `joint`, a dict of
        dicts. `format` may be left out; None counts as left out.

    Returns
    -------
    Robot

    Raises
    ------
    RobotError
        What a robot file with these values is refused for, with the nearest key.

    Examples
    --------
    >>> import elbowroom as elb
    >>> robot = elb.robot_from_dict({
    ...     "name": "heron",
    ...     "servo": {"angle": [0, 180], "pulse_us": [500, 2500]},
    ...     "timer": {"frame_hz": 50, "counts_per_frame": 4096},
    ...     "joint": {"wing_left": {"command": [-40, 60], "drive": [37, 122], "rest": 10}},
    ... })
    >>> robot["wing_left"].counts(10)
    283
    """
    if not isinstance(robot, Mapping):
        raise ArgumentTypeError(f"robot is of type {type(robot).__name__}; give a dict", code="wrong-type", value=robot)
    lines = [f"format = {_toml(robot.get('format', 1), 'format')}"]
    tables = []

    def table(path: list[str], values: Any) -> None:
        if not isinstance(values, Mapping):
            where = ".".join(path)
            raise ArgumentTypeError(f"{where} is of type {type(values).__name__}; give a dict", code="wrong-type", value=values)
        tables.append("[" + ".".join(map(_key, path)) + "]")
        nested = []
        for key, value in values.items():
            if key == "evidence" and isinstance(value, Mapping):
                nested.append((key, value))
            elif value is not None:
                tables.append(f"{_key(key)} = {_toml(value, '.'.join([*path, str(key)]))}")
        for key, value in nested:
            table([*path, key], value)

    for key, value in robot.items():
        if key in ("joint", "board"):
            if not isinstance(value, Mapping):
                sentence = f"{key} is of type {type(value).__name__}; give a dict from each {key}'s name to its values"
                raise ArgumentTypeError(sentence, code="wrong-type", value=value)
            for name, values in value.items():
                table([key, str(name)], values)
        elif key != "format" and value is not None:
            lines.append(f"{_key(key)} = {_toml(value, str(key))}")
    return _core.robot_from_text("\n".join([*lines, *tables, ""]))


def _opened(source: str | PathLike[str] | TextIO) -> tuple[bytes, str]:
    if not isinstance(source, (str, PathLike)) and not callable(getattr(source, "read", None)):
        raise ArgumentTypeError(f"source is of type {type(source).__name__}; give a path or an open text file", code="wrong-type", value=source)
    if not isinstance(source, (str, PathLike)):
        text: str | bytes = source.read()
        return text if isinstance(text, bytes) else text.encode(), getattr(source, "name", "the table")
    return _core.file_bytes(source), str(source)


def _rows(source: str | PathLike[str] | TextIO, numbers: list[str]) -> tuple[str, list[str], list[tuple[int, dict[str, Any]]]]:
    """Name of the file, its columns, and its rows with their lines, by the grammar of tables that the core has; an empty cell is
    None in a column of numbers, else an empty text.
    """
    content, name = _opened(source)
    head, rows = _core.table_rows(content, name, numbers)
    return name, head, [(line or 1, dict(zip(head, cells, strict=True))) for line, cells in rows]


def _csv_error(name: str, line: int, sentence: str, value: Any = None) -> RobotError:
    error = RobotError(f"{name}:{line}: {sentence}", code="file-syntax", value=value)
    error.file, error.line = name, line
    return error


class ReadingTable(TypedDict, total=False):
    """Readings from a table, as the arguments of `fit_limits`: a list for each column that the table has.

    `drive` and `measured` are always there.

    Examples
    --------
    >>> import io, elbowroom as elb
    >>> readings = elb.read_readings(io.StringIO("drive,measured\\n10,11.8\\n20,21.9\\n"))
    >>> sorted(readings), readings["drive"]
    (['drive', 'measured'], [10.0, 20.0])
    """

    drive: Required[list[float]]
    measured: Required[list[float]]
    approach: list[Approach | None]
    contact: list[str | None]
    u: list[float]
    time: list[float]


READING_COLUMNS = ("drive", "measured", "approach", "contact", "u", "time")


def read_readings(
    source: str | PathLike[str] | TextIO,
    *,
    columns: Mapping[str, str] | None = None,
    servo: Servo | None = None,
    timer: Timer | None = None,
    separator: str | None = None,
    decimal: str | None = None,
    written_under: Servo | None = None,
    where: Mapping[str, str] | None = None,
) -> ReadingTable:
    """Readings from a table, as the arguments of `fit_limits`.

    The table may be separated by commas, semicolons, tabs or blanks, with decimal points or commas, a title, comments that begin
    with ``#``, blank rows, and units in its header; the same mark separates decimals in the whole table. Where the heading of the
    drive column has another unit than deg (``drive_us``, ``drive [ms]``, ``counts``), `servo` turns its values into drive angles;
    without it they are refused.

    Parameters
    ----------
    source : str, os.PathLike or stream
        Columns `drive` (or one called by what a servo is sent, as ``pulse_us`` or ``counts``) and `measured`, or the first two where
        there is no header, and, when they are there, `approach`, `contact`, `u` and `time` (s, or ms where the header has that
        unit). Other columns are left; but where one shows that the rows belong to several joints, the table is refused, until
        `where` takes those of one.
    columns : mapping, optional
        What these columns are called in this file, e.g. ``{"drive": "command_deg"}``.
    servo : Servo, optional
        The servo line by which pulse widths (us, ms) and counts in the drive column become drive angles, deg; with
        `written_under`, that of the joint now.
    timer : Timer, optional
        The timer of counts in the drive column.
    separator : str, optional
        The character between columns, ``" "`` for any blanks; found from the rows if left out.
    decimal : str, optional
        The character before the decimals, ``"."`` or ``","``; found from the rows if left out.
    written_under : Servo, optional
        The servo line in whose degrees the drive column was written, as `Source.servo` names it: drive angles become those of the
        same pulses by `servo`. A column in another unit than deg needs none.
    where : mapping, optional
        Only the rows that hold these values, e.g. ``{"joint": "wing_left"}``.

    Returns
    -------
    ReadingTable
        A dict of lists, for ``fit_limits(**readings)``.

    Raises
    ------
    RobotError
        A missing column, a cell that is not a number, a drive column in a unit that is none of a servo's, rows of several joints, or
        a table without rows, with `line`.
    ArgumentError
        A drive column in another unit than deg, or `written_under`, and no servo, or for counts no timer, to convert it; a name in `columns` that is
        none of those above; a `decimal` other than a point or a comma, or the same as the `separator`.
    FileAccessError
        The file cannot be read.

    Examples
    --------
    >>> import io, elbowroom as elb
    >>> table = io.StringIO("drive,measured,approach\\n10,11.8,below\\n20,21.9,below\\n30,32.0,below\\n40,42.2,below\\n")
    >>> elb.fit_limits(**elb.read_readings(table)).travel
    (10.0, 40.0)
    """
    if columns is not None and not isinstance(columns, Mapping):
        sentence = f"columns is of type {type(columns).__name__}; give a dict such as {{'drive': 'command_deg'}}"
        raise ArgumentTypeError(sentence, code="wrong-type", value=columns)
    for key, column in (columns or {}).items():
        if key not in READING_COLUMNS:
            raise ArgumentError(f"columns has {key!r}; its keys are {', '.join(READING_COLUMNS)}", code="unknown-word", value=key)
        if not isinstance(column, str):
            sentence = f"columns[{key!r}] is of type {type(column).__name__}; give the name of a column"
            raise ArgumentTypeError(sentence, code="wrong-type", value=column)
    if where is not None and not isinstance(where, Mapping):
        sentence = f"where is of type {type(where).__name__}; give a dict such as {{'joint': 'wing_left'}}"
        raise ArgumentTypeError(sentence, code="wrong-type", value=where)
    for column, cell in (where or {}).items():
        if not isinstance(column, str) or not isinstance(cell, str):
            sentence = f"where has {column!r}: {cell!r}; give the name of a column and a cell of it, both as str"
            raise ArgumentTypeError(sentence, code="wrong-type", value=cell)
    content, name = _opened(source)
    only = list((where or {}).items())
    return _core.table_readings(content, name, dict(columns or {}), servo, timer, separator, decimal, written_under, only)


PAIRS = ("command", "drive", "travel")
NUMBERS = ("rest", "max_rate_per_s")
WORDS = ("board", "unit", "mirror_of")


def robot_from_csv(
    source: str | PathLike[str] | TextIO, *, name: str, servo: Servo, timer: Timer
) -> Robot:
    """A robot from a table with one joint a row.

    Parameters
    ----------
    source : str, os.PathLike or text stream
        Columns `joint`, `command_lower`, `command_upper`, `drive_lower`, `drive_upper`, `rest`, and as wanted
        `travel_lower`, `travel_upper`, `inverted` (true or false), `max_rate_per_s`, `board`, `channel`, `unit`, `mirror_of`.
        An empty cell counts as left out. Separators, quotes and decimal commas as in a table of readings; the columns are named
        exactly so, without units, and others are refused by name.
    name : str
        The robot's name.
    servo : Servo
    timer : Timer
        Those of all joints.

    Returns
    -------
    Robot

    Raises
    ------
    RobotError
        A column or cell that is not understood, with `line`; or what a robot file is refused for.

    Examples
    --------
    >>> import io, elbowroom as elb
    >>> table = io.StringIO("joint,command_lower,command_upper,drive_lower,drive_upper,rest\\nneck,-30,30,40,140,0\\n")
    >>> robot = elb.robot_from_csv(table, name="heron", servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    ...                            timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    >>> robot["neck"].drive(0)
    90.0
    """
    ends = [f"{pair}_{end}" for pair in PAIRS for end in ("lower", "upper")]
    numbers = [*ends, *NUMBERS, "channel"]
    file, head, rows = _rows(source, numbers)
    known = ["joint", *ends, *NUMBERS, *WORDS, "inverted", "channel"]
    for column in head:
        if column not in known:
            raise _csv_error(file, 1, f"unknown column {column} (known: {', '.join(known)})", column)
    joints: dict[str, dict[str, Any]] = {}
    for line, row in rows:
        joint: dict[str, Any] = {column: row[column] for column in (*NUMBERS, *WORDS) if row.get(column) not in (None, "")}
        for pair in PAIRS:
            lower, upper = (row.get(f"{pair}_{end}") for end in ("lower", "upper"))
            if (lower is None) != (upper is None):
                empty = f"{pair}_{'lower' if lower is None else 'upper'}"
                raise _csv_error(file, line, f"{empty} is empty; write both ends, or leave both out")
            if lower is not None:
                joint[pair] = [lower, upper]
        channel = row.get("channel")
        if channel is not None:
            joint["channel"] = int(channel) if channel.is_integer() else channel
        if row.get("inverted"):
            word = row["inverted"].lower()
            if word not in ("true", "false"):
                raise _csv_error(file, line, f"inverted is {row['inverted']!r}; write true or false", row["inverted"])
            joint["inverted"] = word == "true"
        key = row.get("joint", "")
        if not key or key in joints:
            raise _csv_error(file, line, f"joint {key} stands in the table twice" if key else "no joint named; fill the column joint", key)
        joints[key] = joint
    return robot_from_dict({"name": name, "servo": servo, "timer": timer, "joint": joints})


@dataclass(frozen=True, slots=True, kw_only=True)
class UrdfLimit:
    """The limits of one joint in a URDF file.

    Attributes
    ----------
    kind : str
        ``"revolute"`` for a joint that turns, ``"prismatic"`` for one that slides.
    lower, upper : float
        Rad, or m for a prismatic joint; the file's default of 0 where it says nothing.
    velocity : float or None
        Rad/s or m/s.

    Examples
    --------
    >>> import elbowroom as elb
    >>> elb.UrdfLimit(kind="revolute", lower=-0.5, upper=0.5, velocity=None).upper
    0.5
    """

    kind: str
    lower: float
    upper: float
    velocity: float | None


def urdf_limits(source: str | PathLike[str]) -> dict[str, UrdfLimit]:
    """The joint limits of a URDF file: of all that turn or slide and have a ``<limit>``.

    Source of the form: the URDF joint element as documented by ROS (``limit`` with ``lower``, ``upper``, ``velocity``).

    Parameters
    ----------
    source : str or os.PathLike
        The file.

    Returns
    -------
    dict of str to UrdfLimit

    Raises
    ------
    RobotError
        The file is not a URDF, or a limit is not a number; with `file`, `line` and `column`.
    FileAccessError
        The file cannot be read.

    Examples
    --------
    >>> import pathlib, tempfile, elbowroom as elb
    >>> file = pathlib.Path(tempfile.mkdtemp(), "heron.urdf")
    >>> length = file.write_text('''<robot name="heron"><joint name="neck" type="revolute">
    ... <limit lower="-0.5" upper="0.5" velocity="1" effort="2"/></joint></robot>''')
    >>> elb.urdf_limits(file)["neck"].upper
    0.5
    """
    return _limits(source)[1]


def _limits(source: str | PathLike[str]) -> tuple[str | None, dict[str, UrdfLimit]]:
    name, joints = _core.urdf(source)
    return name, {
        joint: UrdfLimit(kind="prismatic" if slides else "revolute", lower=lower, upper=upper, velocity=velocity)
        for joint, slides, lower, upper, velocity in joints
    }


def robot_from_urdf(
    source: str | PathLike[str],
    *,
    drive: Mapping[str, Sequence[float]],
    servo: Servo,
    timer: Timer,
    name: str | None = None,
    inverted: Sequence[str] = (),
    degrees: bool = False,
) -> Robot:
    """A robot whose command ranges are the joint limits of a URDF file.

    A URDF file states how far a joint may go, not the drive angle of that place: give it by `drive`. Rest is command 0, or the
    nearest end; `velocity` becomes `max_rate_per_s`.

    Parameters
    ----------
    source : str or os.PathLike
    drive : mapping of str to (float, float)
        The drive angles, deg, of the limits of each joint that is wanted; joints not named are left out.
    servo : Servo
    timer : Timer
        Those of all joints.
    name : str, optional
        The robot's name; the file's if left out.
    inverted : sequence of str
        The joints whose lower limit is the upper drive angle.
    degrees : bool, default False
        Whether commands shall be in deg instead of rad.

    Returns
    -------
    Robot

    Raises
    ------
    ArgumentError
        A name that the file has no limits for.
    RobotError
        What a robot file is refused for.

    Examples
    --------
    >>> import pathlib, tempfile, elbowroom as elb
    >>> file = pathlib.Path(tempfile.mkdtemp(), "heron.urdf")
    >>> length = file.write_text('''<robot name="heron"><joint name="neck" type="revolute">
    ... <limit lower="-0.5" upper="0.5" velocity="1" effort="2"/></joint></robot>''')
    >>> robot = elb.robot_from_urdf(file, drive={"neck": (60, 120)}, servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    ...                             timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    >>> robot["neck"].drive(0)
    90.0
    """
    lists = isinstance(inverted, Iterable) and not isinstance(inverted, (str, bytes, bytearray))
    for value, what, right, wanted in (
        (drive, "drive", isinstance(drive, Mapping), "a dict of joint to (lower, upper)"),
        (inverted, "inverted", lists, "a list of names of joints"),
        (degrees, "degrees", isinstance(degrees, bool), "True or False"),
        (name, "name", name is None or isinstance(name, str), "a string"),
    ):
        if not right:
            raise ArgumentTypeError(f"{what} is of type {type(value).__name__}; give {wanted}", code="wrong-type", value=value)
    found, limits = _limits(source)
    per_command = 180 / math.pi if degrees else 1.0
    joints = {}
    for joint, ends in drive.items():
        if joint not in limits:
            raise ArgumentError(f"the file has no limits for a joint {joint} (it has {', '.join(limits) or 'none'})", code="unknown-joint", value=joint)
        if not isinstance(ends, Iterable) or isinstance(ends, (str, bytes, bytearray)):
            sentence = f"drive of joint {joint} is of type {type(ends).__name__}; give two numbers, (lower, upper)"
            raise ArgumentTypeError(sentence, code="wrong-type", value=ends)
        limit = limits[joint]
        scale = per_command if limit.kind != "prismatic" else 1.0
        lower, upper = limit.lower * scale, limit.upper * scale
        joints[joint] = {
            "command": [lower, upper],
            "drive": list(ends),
            "inverted": True if joint in inverted else None,
            "rest": min(max(0.0, lower), upper),
            "max_rate_per_s": None if not limit.velocity else limit.velocity * scale,
            "unit": "m" if limit.kind == "prismatic" else "deg" if degrees else "rad",
        }
    return robot_from_dict({"name": name or found or "robot", "servo": servo, "timer": timer, "joint": joints})


for _name in __all__:
    globals()[_name].__module__ = "elbowroom"
