"""Limits written into URDF and MJCF, read back by the parsers of others. All data invented."""

import math
from pathlib import Path

import mujoco
import pytest
from urdf_parser_py import urdf as reference

import elbowroom as elb

ROBOT = """format = 1
name = "heron"
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }

[joint.neck]
unit = "deg"
command = [-40, 60]
drive = [20, 120]
travel = [25, 110]
inverted = true
rest = 10

[joint.lid]
unit = "mm"
command = [0, 40]
drive = [10, 60]
rest = 0
"""
# What the two joints may do: drive 25 to 110 deg, inverted, is command 55 down to -30 deg.
NECK = (math.radians(-30), math.radians(55))
LID = (0.0, 0.04)

LINK = '<link name="{}"><inertial><mass value="1"/><inertia ixx="1" iyy="1" izz="1" ixy="0" ixz="0" iyz="0"/></inertial></link>'
URDF = f"""<?xml version="1.0"?>
<robot name="heron">
  {LINK.format("body")}{LINK.format("head")}{LINK.format("beak")}
  <!-- guessed at the drawing board -->
  <joint name="neck" type="revolute"><parent link="body"/><child link="head"/><axis xyz="0 0 1"/>
    <limit lower="-3" upper="3" effort="2" velocity="1.5"/></joint>
  <joint name="lid" type="prismatic"><parent link="head"/><child link="beak"/><axis xyz="1 0 0"/><limit effort="3" velocity="0.5"/></joint>
</robot>
"""

MJCF = """<mujoco model="heron">
  <compiler {compiler}/>
  <default><default class="sliding"><joint type="slide" axis="1 0 0"/></default></default>
  <worldbody>
    <body><joint name="neck" type="hinge" range="-1 1" limited="false"/><geom size="0.1"/>
      <body><joint name="lid" class="sliding"/><geom size="0.1"/></body></body> <!-- kept -->
  </worldbody>
</mujoco>
"""


@pytest.fixture
def robot() -> elb.Robot:
    return elb.Robot.parse(ROBOT)


def ranges(text: str) -> dict[str, tuple[tuple[float, float], bool]]:
    """What the simulator makes of a description: range in rad or m, and whether it holds to it."""
    model = mujoco.MjModel.from_xml_string(text)
    joints = {name: model.joint(name) for name in ("neck", "lid")}
    return {name: (tuple(map(float, joint.range)), bool(joint.limited[0])) for name, joint in joints.items()}


def test_urdf_reads_back_as_written(robot: elb.Robot) -> None:
    out = robot.limits_into(URDF)
    assert out.written == {"neck": (*NECK, "rad"), "lid": (*LID, "m")} and out.left_out == {}
    assert "guessed at the drawing board" in out.text
    theirs = {joint.name: joint.limit for joint in reference.URDF.from_xml_string(out.text.encode()).joints}
    assert (theirs["neck"].lower, theirs["neck"].upper) == NECK
    assert (theirs["lid"].lower, theirs["lid"].upper) == LID
    assert (theirs["neck"].effort, theirs["neck"].velocity, theirs["lid"].velocity) == (2.0, 1.5, 0.5)
    # The simulator reads URDF too; before, the lid had no limits there.
    assert ranges(out.text) == {"neck": (NECK, True), "lid": (LID, True)}
    assert not ranges(URDF)["lid"][1]


@pytest.mark.parametrize("compiler", ["", 'angle="radian"', 'angle="degree"', 'autolimits="false"'])
def test_mjcf_reads_back_as_written(robot: elb.Robot, compiler: str) -> None:
    out = robot.limits_into(MJCF.format(compiler=compiler))
    assert "<!-- kept -->" in out.text
    found = ranges(out.text)
    assert found["lid"] == (LID, True)
    assert found["neck"][1] and found["neck"][0] == pytest.approx(NECK, rel=1e-15)
    assert out.written["neck"][2] == ("rad" if "radian" in compiler else "deg")


def test_what_cannot_be_written_is_named(robot: elb.Robot, tmp_path: Path) -> None:
    endless = URDF.replace("revolute", "continuous")
    out = robot.limits_into(endless)
    assert list(out.left_out) == ["neck"] and "without end" in out.left_out["neck"]
    path = tmp_path / "heron.urdf"
    path.write_text(endless)
    assert "urdf-joint-endless" in {finding.rule for finding in robot.check(urdf=path)}
    with pytest.raises(elb.RobotError, match="lower is 4; it must be no more than the upper limit") as swapped:
        robot.limits_into(URDF.replace('lower="-3"', 'lower="4"'))
    assert swapped.value.line == 6
    with pytest.raises(elb.RobotError, match="neither robot"):
        robot.limits_into("<sdf/>")
