"""Plain results: named tuples, for what is only looked at."""

from __future__ import annotations

from typing import Any, NamedTuple

__all__ = ["Conversion"]


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
