"""Whether a joint follows its commands, at each tick of a control loop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from elbowroom import _core
from elbowroom._stateful import Stateful

if TYPE_CHECKING:
    from elbowroom._core import Joint
    from elbowroom._types import Follow, SensorFault

__all__ = [
    "FollowCheck",
    "Following",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Following:
    """What a `FollowCheck` finds at one tick.

    Attributes
    ----------
    state : str
        ``"follows"``: within the tolerance of the command; ``"lags"``: further from it, but on its way; ``"does-not-follow"``: it has been
        where no joint with the stated lag can be, for longer than the stated cycles: held, overloaded, slipped or without power;
        ``"sensor-fault"``: the reading shows a fault of the sensor, not where the joint is.
    measured : float
        Where the joint was measured, in the unit of its commands; NaN at a fault of the sensor.
    beyond : float
        How far that is beyond what was expected, tolerance included: above 0 beyond the upper bound, below 0 beyond the lower one, 0
        between them and at a fault of the sensor.
    fault : str or None
        At a fault of the sensor what the reading shows: ``"lower-rail"``, ``"upper-rail"`` or ``"impossible"``.

    Examples
    --------
    >>> from elbowroom.bring_up import FollowCheck
    >>> FollowCheck(0.0, tolerance=1.0, lag_cycles=0, most_cycles=2).tick(10.0, 12.0)
    Following(state='lags', measured=12.0, beyond=1.0, fault=None)
    """

    state: Follow
    measured: float
    beyond: float
    fault: SensorFault | None = None


class FollowCheck(Stateful):
    """Whether a joint follows its commands: the command sent and the reading taken, one call for each control cycle.

    Expected is a joint that closes in each cycle at least ``1 / (1 + lag_cycles)`` of its distance to the command. One that is further
    than `tolerance` from where such a joint can be, for longer than `most_cycles` in a row, does not follow.

    The limits depend on servo, load and sensor: record some sound motions, and choose the least values that find nothing in them. What
    to do about a joint that does not follow is the caller's matter; this cannot stop a motor.

    Parameters
    ----------
    start : float
        The command at which the joint stands still.
    tolerance : float
        How far the joint may be measured from where it should be, in the unit of its commands: at least the lost motion and the scatter
        of the sensor. Above 0.
    lag_cycles : float
        The longest time constant of a joint that follows, in cycles: after a step of the command, 63 % of the way are done within it.
        0 for a joint that is where it should be in the cycle of its command.
    most_cycles : int
        For how many cycles in a row the joint may be where it is not expected, e.g. for the dead time of servo and sensor, before it
        counts as not following.

    Raises
    ------
    BringUpError
        Numbers that are not finite, a tolerance that is not above zero, a lag below zero.

    Examples
    --------
    >>> import elbowroom as elb
    >>> from elbowroom.bring_up import FollowCheck, JointRamp
    >>> wing = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10, max_rate_per_s=60,
    ...                  servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    ...                  timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
    ...                  feedback={"reading": [212, 871], "angle": [-40, 60], "adc_bits": 10})
    >>> ramp = JointRamp(wing, 10.0, cycles_hz=50)
    >>> follows = FollowCheck(10.0, tolerance=2.0, lag_cycles=4, most_cycles=5)

    The wing follows with a time constant of three cycles until something holds it at 30 deg, in cycle 18:

    >>> position, states = 10.0, []
    >>> for cycle in range(100):
    ...     command = ramp.follow(50.0)
    ...     position = min(position + (command - position) / 3, 30.0)
    ...     reading = round(wing.reading_from_command(position))
    ...     states.append(follows.tick_reading(wing, command, reading).state)
    >>> states.index("does-not-follow")
    27

    A reading at the rail, as of a broken wire, is not a position:

    >>> follows.tick_reading(wing, 50.0, 0).fault
    'lower-rail'
    """

    __slots__ = ()
    _core: _core.FollowCheck

    def __init__(self, start: float, *, tolerance: float, lag_cycles: float, most_cycles: int) -> None:
        self._core = _core.FollowCheck(start, tolerance, lag_cycles, most_cycles)

    def tick(self, command: float, measured: float) -> Following:
        """Compare the command sent with where the joint was measured, once in each cycle.

        Parameters
        ----------
        command : float
            The one that the joint can reach, as a `JointRamp` gives it. In a cycle in which none is sent, the last one again.
        measured : float
            In the unit of the commands, e.g. what `Joint.command_from_reading` gives. NaN and infinities are a fault of the sensor,
            ``"impossible"``: the position is unknown then, and the cycles outside are counted on after it.

        Returns
        -------
        Following

        Raises
        ------
        ConvertError
            A command that is NaN or infinite; all stays as it was.

        Examples
        --------
        >>> from elbowroom.bring_up import FollowCheck
        >>> check = FollowCheck(0.0, tolerance=1.0, lag_cycles=0, most_cycles=0)
        >>> check.tick(10.0, 9.5).state, check.tick(10.0, 7.0).state
        ('follows', 'does-not-follow')
        """
        return _following(self._core.tick(command, measured))

    def tick_reading(self, joint: Joint, command: float, reading: float) -> Following:
        """The same with a reading of the joint's sensor, whose faults are seen where `Joint.detects_wire_faults` says so.

        Parameters
        ----------
        joint : Joint
            The joint, with a feedback map.
        command : float
            The one that was sent; it is held to what the joint can reach. In a cycle in which none is sent, the last one again.
        reading : float
            E.g. ADC counts.

        Returns
        -------
        Following

        Raises
        ------
        ConvertError
            A command that is NaN or infinite, a joint without feedback; all stays as it was.

        Examples
        --------
        >>> import elbowroom as elb
        >>> from elbowroom.bring_up import FollowCheck
        >>> wing = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
        ...                  servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
        ...                  timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
        ...                  feedback={"reading": [212, 871], "angle": [-40, 60], "adc_bits": 10})
        >>> check = FollowCheck(10.0, tolerance=2.0, lag_cycles=4, most_cycles=5)
        >>> check.tick_reading(wing, 10.0, 541.5)
        Following(state='follows', measured=10.0, beyond=0.0, fault=None)
        """
        return _following(self._core.tick_reading(joint, command, reading))

    def reset(self, start: float) -> None:
        """Begin again with a joint that stands still, with the same limits: after a stop, or when it was moved by something else.

        Parameters
        ----------
        start : float
            The command at which it stands now.

        Raises
        ------
        ConvertError
            NaN or infinity; all stays as it was.

        Examples
        --------
        >>> from elbowroom.bring_up import FollowCheck
        >>> check = FollowCheck(0.0, tolerance=1.0, lag_cycles=0, most_cycles=0)
        >>> check.reset(30.0)
        >>> check.expected
        (30.0, 30.0)
        """
        self._core.reset(start)

    @property
    def expected(self) -> tuple[float, float]:
        """tuple of float: between which commands the joint is expected after the last tick, without the tolerance."""
        return self._core.expected()

    def __repr__(self) -> str:
        low, high = self.expected
        return f"<FollowCheck, expected {low:g} to {high:g}>"


def _following(found: tuple[Follow, float, float, SensorFault | None]) -> Following:
    state, measured, beyond, fault = found
    return Following(state=state, measured=measured, beyond=beyond, fault=fault)


for _name in __all__:
    globals()[_name].__module__ = "elbowroom.bring_up"
