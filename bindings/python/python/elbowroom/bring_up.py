"""Bring-up: from loose parts to a joint ready for software.

Each procedure here gives the next action (`MoveTo`, `Wait`, `Read`, `Ask`, `Done`) and takes a report of it (`Moved`,
`Waited`, `Reading`, `Answered`); your program does the rest. `Session` is the whole of it, with questions, to a
verdict and the evidence for the robot file; `Bench` is the same for a person who types each reading, with few of them. `SenseTest`, `Alignment`, `StopSearch` (on the bare `Bracket`), `Sweep`, `Ramp`, `JointRamp`
and `FollowCheck` are usable alone.

A procedure never asks for a drive angle outside what is proven clear plus one step.

This computes; it cannot stop a motor, and it is not a safety function in the sense of ISO 13849 or IEC 61508. Take the load
off before a polarity test, keep a hand on the power switch, make the first move slow, and never search a stop under a
person's hand.
"""

from elbowroom._actions import (
    Action,
    Answered,
    Ask,
    Done,
    Doubt,
    Moved,
    MoveTo,
    Read,
    Reading,
    Report,
    Wait,
    Waited,
)
from elbowroom._bench import Bench, BenchPlan, Prompt, TypedReading
from elbowroom._bring_up import Bracket, Alignment, SenseTest, StopSearch, Sweep
from elbowroom._follow import FollowCheck, Following
from elbowroom._outcome import EndFound, Outcome
from elbowroom._plans import (
    BracketPlan,
    AlignmentEnd,
    AlignmentFigures,
    AlignmentPlan,
    Baseline,
    Pace,
    SearchEnd,
    SensePlan,
    SenseResult,
    SenseSample,
    StopSearchPlan,
    SweepPlace,
    SweepPlan,
    SweepReading,
)
from elbowroom._ramp import JointRamp, Ramp, RampStep
from elbowroom._session import Session, SessionPlan

__all__ = [
    "Action",
    "Answered",
    "Ask",
    "Bench",
    "BenchPlan",
    "Bracket",
    "BracketPlan",
    "Done",
    "Doubt",
    "EndFound",
    "FollowCheck",
    "Following",
    "JointRamp",
    "Alignment",
    "AlignmentEnd",
    "AlignmentFigures",
    "AlignmentPlan",
    "Baseline",
    "MoveTo",
    "Moved",
    "Outcome",
    "Pace",
    "Prompt",
    "Ramp",
    "RampStep",
    "Read",
    "Reading",
    "Report",
    "SearchEnd",
    "SensePlan",
    "SenseResult",
    "SenseSample",
    "SenseTest",
    "Session",
    "SessionPlan",
    "StopSearch",
    "StopSearchPlan",
    "Sweep",
    "SweepPlace",
    "SweepPlan",
    "SweepReading",
    "TypedReading",
    "Wait",
    "Waited",
]
