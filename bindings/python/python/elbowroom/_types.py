"""Plain results: named tuples, for what is only looked at."""

from __future__ import annotations

from typing import Any, Literal, NamedTuple

__all__ = ["Conversion"]

# The words of the core, for type checkers.
Approach = Literal["below", "above"]
EndKind = Literal["contact", "stalled", "clear"]
NoLostMotion = Literal["approach-unknown", "one-side", "no-common-stretch", "too-few-readings"]
RejectReason = Literal["off-the-line", "off-the-stop"]
Side = Literal["lower", "upper"]
Slip = Literal["sign", "decimal-place", "digits-swapped", "tens", "neighbouring-row"]
Trend = Literal["rising", "falling"]


class Conversion(NamedTuple):
    """A command's whole way to the motor: numbers and bools for one command, arrays for many."""

    drive: Any
    """Drive angle, deg."""
    pulse_us: Any
    """Pulse width, microseconds."""
    counts: Any
    """Timer counts."""
    clamped_to_command: Any
    """Whether the command was outside the command range."""
    clamped_to_travel: Any
    """Whether the drive angle was outside the travel."""


Conversion.__module__ = "elbowroom"
