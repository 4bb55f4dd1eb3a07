"""What every test shares: the data of the repository and the worked example."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

import elbowroom as elb

HERE = Path(__file__).resolve().parent


def data(*parts: str) -> Path:
    """A file of tests/data; ELBOWROOM_TEST_DATA names a copy of that folder."""
    folder = os.environ.get("ELBOWROOM_TEST_DATA")
    return Path(folder or HERE.parents[2] / "tests" / "data", *parts)


def worked_example(**changes: object) -> elb.Joint:
    """The worked example of the design. Invented."""
    fields: dict[str, object] = {
        "name": "wing_left",
        "command": (-40, 60),
        "drive": (37, 122),
        "rest": 10,
        "servo": elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
        "timer": elb.Timer(frame_hz=50, counts_per_frame=4096),
    }
    return elb.Joint(**(fields | changes))


@pytest.fixture
def joint() -> elb.Joint:
    return worked_example()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--physics-seeds", type=int, default=8, help="sound joints brought up in the physics engine; 200 for the full count")
    parser.addoption("--physics-faults", type=int, default=1, help="of them, joints broken in each way; 20 for the full count")
