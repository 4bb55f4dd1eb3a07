"""Words for type checkers, and plain results that several files share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, Literal, NamedTuple

if TYPE_CHECKING:
    from typing_extensions import TypeVar

    # Defaults, so that `Conversion` alone stays a type.
    _Numbers = TypeVar("_Numbers", default=Any)
    _Counts = TypeVar("_Counts", default=Any)
    _Flags = TypeVar("_Flags", default=Any)
else:
    from typing import TypeVar

    _Numbers, _Counts, _Flags = TypeVar("_Numbers"), TypeVar("_Counts"), TypeVar("_Flags")

__all__ = ["Conversion", "SplineTeeth"]

# The words of the core, for type checkers. Unions of one word each: stubtest takes an alias of several words for a union.
Approach = Literal["below"] | Literal["above"]
Branch = Literal["left"] | Literal["right"]
EndKind = Literal["contact"] | Literal["stalled"] | Literal["clear"]
Follow = Literal["follows"] | Literal["lags"] | Literal["does-not-follow"] | Literal["sensor-fault"]
NoLostMotion = Literal["approach-unknown"] | Literal["one-side"] | Literal["no-common-stretch"] | Literal["too-few-readings"]
RejectReason = Literal["off-the-line"] | Literal["off-the-stop"] | Literal["not-taken-up"] | Literal["drive-far-off"]
SensorFault = Literal["lower-rail"] | Literal["upper-rail"] | Literal["impossible"]
Side = Literal["lower"] | Literal["upper"]
Slip = Literal["sign"] | Literal["decimal-place"] | Literal["digits-swapped"] | Literal["tens"] | Literal["neighbouring-row"]
Trend = Literal["rising"] | Literal["falling"]


class Conversion(NamedTuple, Generic[_Numbers, _Counts, _Flags]):
    """A command's whole way to the motor: numbers and bools for one command, arrays for many.

    For type checkers one command gives a ``Conversion[float, int, bool]``, and an array the same of arrays.

    Examples
    --------
    >>> import elbowroom as elb
    >>> wing = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
    ...                  servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    ...                  timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    >>> wing.convert(10).counts
    283
    """

    drive: _Numbers
    """Drive angle, deg."""
    pulse_us: _Numbers
    """Pulse width, microseconds."""
    counts: _Counts
    """Timer counts."""
    clamped_to_command: _Flags
    """Whether the command was outside the command range."""
    clamped_to_travel: _Flags
    """Whether the drive angle was outside the travel."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SplineTeeth:
    """A whole number of spline teeth that explains a shift: teeth of the horn, teeth moved, what is left in drive.

    Examples
    --------
    >>> import elbowroom as elb
    >>> drive = [4.0 * i for i in range(20)]
    >>> wobble = [0.05 if i % 2 else -0.05 for i in range(20)]
    >>> old = elb.fit_limits(drive, [d + w for d, w in zip(drive, wobble)])
    >>> new = elb.fit_limits(drive, [d + 15 - w for d, w in zip(drive, wobble)])
    >>> tooth = elb.compare(old, new).teeth[0]
    >>> tooth.horn, tooth.teeth
    (24, 1)
    """

    horn: int
    teeth: int
    left: float


for _name in __all__:
    globals()[_name].__module__ = "elbowroom"
