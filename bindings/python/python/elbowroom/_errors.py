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
    """An argument of the wrong shape, outside its range, or an ``out`` that cannot be written."""


class ArgumentTypeError(ArgumentError, TypeError):
    """An argument that is not a real number, or not an array of them: None, a bool, a string, an object."""


class JointError(ElbowroomError, ValueError):
    """A joint, or a part of one, that is not valid."""


class ConvertError(ElbowroomError, ValueError):
    """A number that a valid joint refuses."""


class BlockError(ElbowroomError, ValueError):
    """Joints that make no block for firmware."""


class BringUpError(ElbowroomError, ValueError):
    """A plan, a report or a saved state that a procedure of the bring-up refuses; nothing changes then."""


class FitError(ElbowroomError, ValueError):
    """Readings from which no limits can be determined, with what is missing and where."""


class RobotError(ElbowroomError, ValueError):
    """A robot file that is not valid.

    Attributes
    ----------
    file : str or None
        The file, if it was read from one.
    line, column : int or None
        The place in the file, counted from 1.
    """

    file: str | None = None
    line: int | None = None
    column: int | None = None

    def __str__(self) -> str:
        # The place and the joint stand in the sentence already.
        return str(self.args[0])


class UnknownJointError(RobotError, KeyError):
    """A joint that the robot does not have; a KeyError too."""


class FileChangedError(RobotError):
    """A file that others changed since it was read, where a save would change it too."""


class FileAccessError(RobotError, OSError):
    """A file that cannot be read or written; an OSError too."""


for _kind in list(globals().values()):
    if isinstance(_kind, type) and issubclass(_kind, ElbowroomError):
        _kind.__module__ = "elbowroom"
