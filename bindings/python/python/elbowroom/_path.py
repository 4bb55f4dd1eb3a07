"""What a check of a path finds, as frozen records."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from elbowroom._html import table

__all__ = ["PathCheck", "PathRows", "RobotPathCheck"]


@dataclass(frozen=True, slots=True)
class PathRows:
    """How many rows of a path have a fault, and which of them is the first.

    Attributes
    ----------
    count : int
        How many.
    first : int or None
        The index of the first, counted from 0; None if `count` is 0.

    Examples
    --------
    >>> from elbowroom import Robot, examples
    >>> wing = Robot.load(examples.path("heron.toml"))["wing_left"]
    >>> wing.check_path([0.0, 70.0, 80.0]).beyond_command
    PathRows(count=2, first=1)
    """

    count: int
    first: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PathCheck:
    """What is wrong with the rows of a path of one joint, from `Joint.check_path`; true if every row can be sent as it is.

    Attributes
    ----------
    joint : str
        The joint's name.
    rows : int
        How many rows were checked.
    not_finite : PathRows
        NaN or infinite; a conversion refuses them.
    beyond_command : PathRows
        Outside the command range; a conversion clamps them.
    beyond_travel : PathRows
        Outside the commands that the travel allows; a conversion clamps their drive angles. A row may be beyond both.
    too_fast : PathRows or None
        Reached from the row before faster than the joint's `max_rate_per_s`. None if the rate was not checked, because the call names
        no `rows_hz` or the joint no rate.
    largest_rate_per_s : float or None
        The fastest change between two neighbouring finite rows, command units per second. None without `rows_hz`, and without such
        rows.
    ok : bool
        Whether every row can be sent as it is. A rate that was not checked counts as kept.
    text : str
        The same in a sentence.

    Examples
    --------
    >>> from elbowroom import Robot, examples
    >>> wing = Robot.load(examples.path("heron.toml"))["wing_left"]
    >>> check = wing.check_path([10.0, 11.0, 40.0], rows_hz=50)
    >>> bool(check), check.too_fast, check.largest_rate_per_s
    (False, PathRows(count=1, first=2), 1450.0)
    """

    joint: str
    rows: int
    not_finite: PathRows
    beyond_command: PathRows
    beyond_travel: PathRows
    too_fast: PathRows | None
    largest_rate_per_s: float | None
    ok: bool
    text: str

    def __bool__(self) -> bool:
        return self.ok

    def __str__(self) -> str:
        return f"{self.joint}: {self.text}"


@dataclass(frozen=True, slots=True)
class RobotPathCheck:
    """What is wrong with a path of several joints, from `Robot.check_path`; true if every row of every joint can be sent as it is.

    It iterates over the checks of the joints, and gives that of one joint by its name.

    Attributes
    ----------
    joints : tuple of PathCheck
        One for each joint of the path, in the path's order.

    Examples
    --------
    >>> from elbowroom import Robot, examples
    >>> robot = Robot.load(examples.path("heron.toml"))
    >>> checks = robot.check_path({"wing_left": [10.0, 11.0], "neck_base": [0.0, 50.0]})
    >>> checks.ok, checks["neck_base"].beyond_command.first
    (False, 1)
    """

    joints: tuple[PathCheck, ...]

    @property
    def ok(self) -> bool:
        """Whether every row of every joint can be sent as it is."""
        return all(check.ok for check in self.joints)

    def __bool__(self) -> bool:
        return self.ok

    def __iter__(self) -> Iterator[PathCheck]:
        return iter(self.joints)

    def __len__(self) -> int:
        return len(self.joints)

    def __getitem__(self, name: str) -> PathCheck:
        for check in self.joints:
            if check.joint == name:
                return check
        raise KeyError(name)

    def __str__(self) -> str:
        return "\n".join(map(str, self.joints))

    def _repr_html_(self) -> str:
        return table(("joint", "path"), [(check.joint, check.text) for check in self.joints])


for _name in __all__:
    globals()[_name].__module__ = "elbowroom"
