"""One checked calibration model for servo joints.

Which travel a joint has, with evidence and uncertainty, and which command becomes which drive angle, pulse width and
timer count: exact at both ends, monotone between neighbouring floats, never outside the travel.

This package computes; it cannot stop a motor. It is not a safety function.

Examples
--------
>>> import elbowroom as elb
>>> joint = elb.Joint("wing_left", command=(-40, 60), drive=(37, 122), rest=10,
...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
>>> joint.drive(10), joint.counts(10)
(79.5, 283)
"""

from elbowroom import bring_up, examples, rehearsal
from elbowroom._choice import Candidate, Choice, Reason, choose_transmission
from elbowroom._bring_in import (
    ReadingTable,
    UrdfLimit,
    read_readings,
    robot_from_csv,
    robot_from_dict,
    robot_from_urdf,
    urdf_limits,
)
from elbowroom._compare import (
    AxisOneSided,
    AxisTwoSided,
    Change,
    Comparison,
    Diagnosis,
    JointDifferences,
    OneSided,
    Positioning,
    RobotComparison,
    SplineTeeth,
    Target,
    TwoSided,
    ValueDifference,
    compare,
    compare_robots,
    positioning,
)
from elbowroom._core import Joint, Robot, Servo, Timer, __version__
from elbowroom._errors import (
    ArgumentError,
    ArgumentTypeError,
    BlockError,
    BringUpError,
    ConvertError,
    ElbowroomError,
    FileAccessError,
    FileChangedError,
    FitError,
    JointError,
    RobotError,
    UnknownJointError,
)
from elbowroom._feedback import FeedbackFit, fit_feedback
from elbowroom._fit import (
    Advice,
    BetweenStops,
    End,
    FitWarning,
    Goodness,
    LimitFit,
    LostMotion,
    NextReading,
    Rejected,
    Repeatability,
    Sense,
    fit_limits,
)
from elbowroom._fleet import FleetFit, fit_many
from elbowroom._line import Estimate, Estimates, LineFit, fit_line
from elbowroom._path import PathCheck, PathRows, RobotPathCheck
from elbowroom._robot import (
    RULES,
    CheckReport,
    EndEvidence,
    Entry,
    Evidence,
    Finding,
    Judgement,
    LimitsOut,
    LostMotionEvidence,
    Rule,
    Source,
    StopMoved,
    Waived,
)
from elbowroom._transmission import BySide, CurveFit, Dimension, LinkageFit, OtherBranch, fit_curve, fit_linkage
from elbowroom._types import Conversion

__all__ = [
    "Advice",
    "ArgumentError",
    "ArgumentTypeError",
    "AxisOneSided",
    "AxisTwoSided",
    "BetweenStops",
    "BlockError",
    "bring_up",
    "BringUpError",
    "BySide",
    "Candidate",
    "Change",
    "CheckReport",
    "Choice",
    "choose_transmission",
    "compare",
    "compare_robots",
    "Comparison",
    "Conversion",
    "ConvertError",
    "CurveFit",
    "Diagnosis",
    "Dimension",
    "ElbowroomError",
    "End",
    "EndEvidence",
    "Entry",
    "Estimate",
    "Estimates",
    "Evidence",
    "FeedbackFit",
    "FileAccessError",
    "FileChangedError",
    "Finding",
    "fit_curve",
    "fit_feedback",
    "fit_limits",
    "fit_line",
    "fit_linkage",
    "fit_many",
    "FitError",
    "FitWarning",
    "FleetFit",
    "Goodness",
    "Joint",
    "JointDifferences",
    "JointError",
    "Judgement",
    "LimitFit",
    "LimitsOut",
    "LineFit",
    "LinkageFit",
    "LostMotion",
    "LostMotionEvidence",
    "OneSided",
    "OtherBranch",
    "PathCheck",
    "PathRows",
    "Positioning",
    "positioning",
    "read_readings",
    "ReadingTable",
    "Reason",
    "examples",
    "rehearsal",
    "Rejected",
    "Repeatability",
    "Robot",
    "robot_from_csv",
    "robot_from_dict",
    "robot_from_urdf",
    "RobotComparison",
    "RobotError",
    "RobotPathCheck",
    "Rule",
    "RULES",
    "Sense",
    "Servo",
    "Source",
    "SplineTeeth",
    "StopMoved",
    "Target",
    "Timer",
    "TwoSided",
    "UnknownJointError",
    "urdf_limits",
    "UrdfLimit",
    "ValueDifference",
    "Waived",
    "__version__",
]
