"""Soft start and rate limit: of some value, and of the commands of one joint."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from elbowroom import _core
from elbowroom._stateful import Stateful

if TYPE_CHECKING:
    from elbowroom._core import Joint

__all__ = [
    "JointRamp",
    "Ramp",
    "RampStep",
]


class _Moving(Stateful):
    """A value on its way: what both ramps have in common."""

    __slots__ = ()
    _core: _core.Ramp | _core.JointRamp

    def rests_at(self, target: float) -> bool:
        """Whether the value stands still at a target, of a joint's ramp also at the end that holds it.

        Parameters
        ----------
        target : float
            In the unit of the value.

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

    def reset(self, start: float) -> None:
        """Stand still at a value again, with the same limits: after a stop, or when the drive was moved by something else.

        Parameters
        ----------
        start : float
            Where it stands now, in the unit of the value.

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
        """float: the value after the last step, deg or the unit of the joint's commands."""
        return self._core.value()


class Ramp(_Moving):
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

    __slots__ = ()
    _core: _core.Ramp

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

    def __repr__(self) -> str:
        return f"<Ramp at {self.value:g} deg>"


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


class JointRamp(_Moving):
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
        Command units per second, at most the joint's own where it has one; without it the joint's own.
    acceleration_per_s2 : float, optional
        Command units per second squared; without it not bounded.
    cycles_hz : float
        The cycles in a second.

    Raises
    ------
    BringUpError
        Numbers that are not finite, limits that are not above zero or too small, no rate, a rate above the joint's own.

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

    __slots__ = ()
    _core: _core.JointRamp

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

    def __repr__(self) -> str:
        return f"<JointRamp at {self.value:g}>"


for _name in __all__:
    globals()[_name].__module__ = "elbowroom.bring_up"
