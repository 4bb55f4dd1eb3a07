"""What can be wrong, as exceptions: one tree, its codes and sentences those of the core."""

from __future__ import annotations

from typing import Any

__all__ = [
    "ArgumentError",
    "ArgumentTypeError",
    "BlockError",
    "BringUpError",
    "ConvertError",
    "ElbowroomError",
    "FileAccessError",
    "FileChangedError",
    "FitError",
    "JointError",
    "RobotError",
    "UnknownJointError",
]


class ElbowroomError(Exception):
    """The root of everything that elbowroom raises.

    Attributes
    ----------
    code : str
        The frozen name of what is wrong, e.g. ``"not-finite"``: the same in Rust, C, Python and the shell.
    joint : str or None
        The joint concerned.
    index : int or None
        Where in an array or column, counted from 0 in the order of the rows.
    value : object
        The offending value, or None.
    written : int
        How many elements of ``out`` were written before the refused one; 0 without ``out``.

    Examples
    --------
    >>> import elbowroom as elb
    >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    >>> try:
    ...     joint.counts([10, float("nan")])
    ... except elb.ElbowroomError as error:
    ...     print(error.code, error.joint, error.index)
    not-finite wing_left 1
    """

    code: str
    joint: str | None
    index: int | None
    value: Any
    written: int

    def __init__(
        self,
        sentence: str,
        *,
        code: str = "other",
        joint: str | None = None,
        index: int | None = None,
        value: Any = None,
        written: int = 0,
    ) -> None:
        super().__init__(sentence)
        self.code = code
        self.joint = joint
        self.index = index
        self.value = value
        self.written = written

    def __str__(self) -> str:
        sentence = str(self.args[0])
        return sentence if self.joint is None else f"joint {self.joint}: {sentence}"

    def __reduce__(self) -> tuple[Any, ...]:
        # BaseException would call the class without its keywords.
        return (_rebuilt, (type(self), self.args[0], dict(self.__dict__)))


def _rebuilt(kind: type[ElbowroomError], sentence: str, fields: dict[str, Any]) -> ElbowroomError:
    error = kind(sentence)
    error.__dict__.update(fields)
    return error


class ArgumentError(ElbowroomError, ValueError):
    """An argument of the wrong shape, outside its range, or an ``out`` that cannot be written.

    Examples
    --------
    >>> import elbowroom as elb
    >>> try:
    ...     elb.Servo(angle=(0, 180), pulse_us=(500,))
    ... except elb.ArgumentError as error:
    ...     print(error)
    servo.pulse_us is one number only; give two numbers, (lower, upper)
    """


class ArgumentTypeError(ArgumentError, TypeError):
    """An argument that is not a real number, or not an array of them: None, a bool, a string, an object.

    Examples
    --------
    >>> import elbowroom as elb
    >>> try:
    ...     elb.Timer(frame_hz="50", counts_per_frame=4096)
    ... except elb.ArgumentTypeError as error:
    ...     print(error)
    timer.frame_hz is a string, '50'; give a real number
    """


class JointError(ElbowroomError, ValueError):
    """A joint, or a part of one, that is not valid.

    Examples
    --------
    >>> import elbowroom as elb
    >>> try:
    ...     elb.Servo(angle=(180, 0), pulse_us=(500, 2500))
    ... except elb.JointError as error:
    ...     print(error)
    servo.angle [180, 0] has its ends swapped; write [0, 180] and, if the direction was meant, set inverted
    """


class ConvertError(ElbowroomError, ValueError):
    """A number that a valid joint refuses.

    Examples
    --------
    >>> import elbowroom as elb
    >>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    >>> try:
    ...     joint.drive(float("nan"))
    ... except elb.ConvertError as error:
    ...     print(error)
    joint wing_left: the command is not a number and was not converted; give a finite number
    """


class BlockError(ElbowroomError, ValueError):
    """Joints that make no block for firmware.

    Examples
    --------
    >>> import elbowroom as elb
    >>> try:
    ...     elb.Joint.from_block(b"no block")
    ... except elb.BlockError as error:
    ...     print(error.code)
    block-length
    """


class BringUpError(ElbowroomError, ValueError):
    """A plan, a report or a saved state that a procedure of the bring-up refuses; nothing changes then.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom.bring_up import Session, SessionPlan
    >>> try:
    ...     Session(SessionPlan(start=200, search_limits=(0, 180)))
    ... except elb.BringUpError as error:
    ...     print(error)
    start is 200: it is not set, or lies less than the clearance of 6 deg inside search_limits 0 to 180; it must be 6 to 174
    """


class FitError(ElbowroomError, ValueError):
    """Readings from which no limits can be determined, with what is missing and where.

    Examples
    --------
    >>> import elbowroom as elb
    >>> try:
    ...     elb.fit_limits([10, 20], [11.8, 21.9])
    ... except elb.FitError as error:
    ...     print(error)
    2 readings are too few; take at least 2 more, spread over drive 10 to 20 and beyond
    """


class RobotError(ElbowroomError, ValueError):
    """A robot file that is not valid.

    Attributes
    ----------
    file : str or None
        The file, if it was read from one.
    line, column : int or None
        The place in the file, counted from 1.

    Examples
    --------
    >>> import elbowroom as elb
    >>> try:
    ...     elb.Robot.parse("format = 1\\nnme = 3")
    ... except elb.RobotError as error:
    ...     print(error.line, error)
    2 line 2, column 1: unknown key "nme"; write name
    """

    file: str | None = None
    line: int | None = None
    column: int | None = None

    def __str__(self) -> str:
        # The place and the joint stand in the sentence already.
        return str(self.args[0])


class UnknownJointError(RobotError, KeyError):
    """A joint that the robot does not have; a KeyError too.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom import examples
    >>> robot = elb.Robot.load(examples.path("heron.toml"))
    >>> try:
    ...     robot["wing_lef"]
    ... except elb.UnknownJointError as error:
    ...     print(error)
    no joint is named "wing_lef"; the nearest name is "wing_left"
    """


class FileChangedError(RobotError):
    """A file that others changed since it was read, where a save would change it too.

    Examples
    --------
    >>> import elbowroom as elb
    >>> issubclass(elb.FileChangedError, elb.RobotError)
    True
    """


class FileAccessError(RobotError, OSError):
    """A file that cannot be read or written; an OSError too.

    Examples
    --------
    >>> import elbowroom as elb
    >>> try:
    ...     elb.Robot.load("nowhere/heron.toml")
    ... except elb.FileAccessError as error:
    ...     print(error)
    nowhere/heron.toml: the file cannot be read: the folder nowhere does not exist; make it, or name another one
    """


for _kind in list(globals().values()):
    if isinstance(_kind, type) and issubclass(_kind, ElbowroomError):
        _kind.__module__ = "elbowroom"
