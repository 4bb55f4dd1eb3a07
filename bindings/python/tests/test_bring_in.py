"""Robots from plain dicts, tables and URDF joint limits."""

from __future__ import annotations

import datetime
import io
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import worked_example

import elbowroom as elb

PARTS: dict[str, Any] = {
    "servo": elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    "timer": elb.Timer(frame_hz=50, counts_per_frame=4096),
}
ROBOT: dict[str, Any] = PARTS | {
    "name": "heron \"the\" grey \\",
    "board": {"breast": {"channels": 16}},
    "joint": {
        "wing_left": {
            "command": np.array([-40, 60]), "drive": (37, 122.0), "rest": np.float64(10), "board": "breast", "channel": np.int64(3),
            "travel": None, "evidence": {"date": datetime.date(2026, 11, 20), "lower": {"kind": "clear", "at": 37}, "readings": 9},
        },
        "a b.c": {"command": [0, 1], "drive": [40, 140], "rest": 0.1, "inverted": True},
    },
}  # fmt: skip


def test_a_dict() -> None:
    robot = elb.robot_from_dict(ROBOT)
    assert robot.name == ROBOT["name"] and list(robot) == ["wing_left", "a b.c"] and robot.boards == {"breast": 16}
    assert robot["wing_left"] == worked_example()
    entry = robot.entry("wing_left")
    assert (entry.board, entry.channel, entry.evidence.date) == ("breast", 3, datetime.date(2026, 11, 20))
    assert robot["a b.c"].inverted and robot["a b.c"].rest == 0.1
    plain = ROBOT | {"servo": {"angle": [0, 180], "pulse_us": [500, 2500]}, "timer": {"frame_hz": 50, "counts_per_frame": 4096}}
    assert dict(elb.robot_from_dict(plain)) == dict(robot)


@pytest.mark.parametrize(
    ("change", "kind", "says"),
    [
        ({"joint": {"x": {"comand": [0, 1]}}}, elb.RobotError, "write command"),
        ({"joint": {"x": {"command": [0, math.nan], "drive": [1, 2], "rest": 0}}}, elb.RobotError, "not a number"),
        ({"joint": {"x": {"command": [0, True], "drive": [1, 2], "rest": 0}}}, elb.RobotError, "command"),
        ({"joint": {"x": {"command": object()}}}, elb.ArgumentTypeError, "joint.x.command is of type object"),
        ({"joint": {"x": {"command": b"01"}}}, elb.ArgumentTypeError, "of type bytes"),
        ({"joint": {"x": 3}}, elb.ArgumentTypeError, "joint.x is of type int"),
        ({"nmae": "x"}, elb.RobotError, "name"),
        ({"name": "heron\ngrey"}, elb.RobotError, "name is a text with line ends"),
        ({"format": 2}, elb.RobotError, "newer"),
    ],
)
def test_a_wrong_dict(change: dict[str, Any], kind: type[Exception], says: str) -> None:
    with pytest.raises(kind, match=says):
        elb.robot_from_dict(ROBOT | change)


def test_nothing_is_no_robot() -> None:
    for bad in (None, [], "x"):
        with pytest.raises(elb.ArgumentTypeError):
            elb.robot_from_dict(bad)  # type: ignore[arg-type]


TABLE = """\
joint,command_lower,command_upper,drive_lower,drive_upper,rest,travel_lower,travel_upper,inverted,max_rate_per_s,board,channel
wing_left,-40,60,37,122,10,40.2,119,,60,breast,3
# a note
wing_right,-40,60,58,143,10,,,true,,breast,4
"""


def test_a_table(tmp_path: Path) -> None:
    path = tmp_path / "joints.csv"
    path.write_text("\ufeff" + TABLE)
    for source in (path, str(path), io.StringIO(TABLE)):
        robot = elb.robot_from_csv(source, name="heron", **PARTS)
        assert robot["wing_left"] == worked_example(travel=(40.2, 119), max_rate_per_s=60)
        assert robot["wing_right"] == worked_example(name="wing_right", drive=(58, 143), inverted=True)
        assert robot.entry("wing_right").channel == 4
    commas = elb.robot_from_csv(io.StringIO(TABLE.replace(",", ";").replace(".", ",")), name="heron", **PARTS)
    assert commas == robot


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("rest,", "rst,", "unknown column rst"),
        ("40.2", "seven", r':2: column 7 \(travel_lower\): "seven" is not a number'),
        ("40.2", "40 deg", "is a number with a unit; write the number without it: 40"),
        ("40.2", "", ":2: travel_lower is empty; write both ends"),
        ("true", "yes", ":4: inverted is 'yes'"),
        ("wing_right", "wing_left", ":4: joint wing_left stands in the table twice"),
        ("wing_right", "", ":4: no joint named"),
        (",4\n", "\n", ":4: the row has 11 cells, the header 12"),
        (",4\n", ",1.5\n", "channel"),
        ("37,122", "122,37", "ends swapped"),
    ],
)
def test_a_wrong_table(old: str, new: str, says: str) -> None:
    with pytest.raises(elb.RobotError, match=says):
        elb.robot_from_csv(io.StringIO(TABLE.replace(old, new, 1)), name="heron", **PARTS)


URDF = """<?xml version="1.0"?>
<robot name="heron"><!-- invented -->
  <link name="body"/>
  <joint name="neck" type="revolute"><parent link="body"/><child link="n"/><limit lower="-0.5" upper="1.0" effort="1" velocity="2"/></joint>
  <joint name="lid" type="prismatic"><limit lower="0.01" upper="0.04" effort="1" velocity="0"/></joint>
  <joint name="wheel" type="continuous"/>
</robot>
"""


def test_urdf(tmp_path: Path) -> None:
    path = tmp_path / "heron.urdf"
    path.write_text(URDF)
    limits = elb.urdf_limits(path)
    assert limits == {
        "neck": elb.UrdfLimit(kind="revolute", lower=-0.5, upper=1.0, velocity=2.0),
        "lid": elb.UrdfLimit(kind="prismatic", lower=0.01, upper=0.04, velocity=0.0),
    }
    robot = elb.robot_from_urdf(path, drive={"neck": (40, 126), "lid": (10, 60)}, inverted=["lid"], **PARTS)
    assert robot.name == "heron" and robot["neck"].command_range == (-0.5, 1.0) and robot["neck"].max_rate_per_s == 2.0
    assert robot["lid"].rest == 0.01 and robot["lid"].inverted and robot["lid"].max_rate_per_s is None
    assert robot.entry("lid").unit == "m" and robot.entry("neck").unit == "rad"
    turned = elb.robot_from_urdf(path, drive={"neck": (40, 126)}, degrees=True, name="x", **PARTS)
    assert turned["neck"].command_range == pytest.approx((-28.6478897565412, 57.29577951308232)) and turned.name == "x"
    with pytest.raises(elb.ArgumentError, match="no limits for a joint nek"):
        elb.robot_from_urdf(path, drive={"nek": (1, 2)}, **PARTS)
    ends = {"neck": (40, 126)}
    for options, says in (
        ({"drive": "neck"}, "drive is of type str; give a dict of joint to"),
        ({"drive": {"neck": 3}}, "drive of joint neck is of type int; give two numbers"),
        ({"drive": ends, "inverted": "neck"}, "inverted is of type str; give a list of names of joints"),
        ({"drive": ends, "degrees": 1}, "degrees is of type int; give True or False"),
        ({"drive": ends, "name": 3}, "name is of type int; give a string"),
    ):
        with pytest.raises(elb.ArgumentTypeError, match=says):
            elb.robot_from_urdf(path, **options, **PARTS)
    for text, says in ((URDF[:200], "no robot description"), ("<x/>", "the outermost element is x, not robot"), (URDF.replace('"1.0" eff', '"one" eff'), 'upper is the text "one"')):
        path.write_text(text)
        with pytest.raises(elb.RobotError, match=says) as caught:
            elb.urdf_limits(path)
        assert caught.value.file == str(path) and caught.value.line
    with pytest.raises(elb.FileAccessError):
        elb.urdf_limits(tmp_path / "none.urdf")


def test_a_table_is_read_in_degrees_of_the_servo_line_it_was_written_under() -> None:
    then, now = PARTS["servo"], elb.Servo(angle=(0, 200), pulse_us=(500, 2500))
    table = "drive,measured\n45,1\n90,2\n"
    assert elb.read_readings(io.StringIO(table), servo=now)["drive"] == [45.0, 90.0]
    assert elb.read_readings(io.StringIO(table), servo=now, written_under=then)["drive"] == [50.0, 100.0]
    pulses = io.StringIO("drive_us,measured\n1000,1\n1500,2\n")
    assert elb.read_readings(pulses, columns={"drive": "drive_us"}, servo=now, written_under=then)["drive"] == [50.0, 100.0]
    with pytest.raises(elb.ArgumentError, match="written_under is given without servo; give servo=Servo"):
        elb.read_readings(io.StringIO(table), written_under=then)
    with pytest.raises(elb.ArgumentTypeError, match="written_under"):
        elb.read_readings(io.StringIO(table), servo=now, written_under=180)  # type: ignore[arg-type]

    source = elb.Source(file="a.csv", sha256="0" * 64, servo=then)
    robot = elb.robot_from_dict(ROBOT | {"servo": now})
    put = robot.put(robot["wing_left"], evidence=elb.Evidence(lower=elb.EndEvidence(kind="clear", at=37), source=source))
    assert put.entry("wing_left").evidence.source == source
    assert put.entry("wing_left").joint.servo == now
    with pytest.raises(elb.ArgumentTypeError, match="evidence.source.servo"):
        wrong = elb.Source(file="a.csv", sha256="0" * 64, servo=180)  # type: ignore[arg-type]
        robot.put(robot["wing_left"], evidence=elb.Evidence(source=wrong))


def test_rows_of_several_joints_are_read_one_joint_at_a_time() -> None:
    rows = "".join(f"{joint},{drive},{drive - 90 + shift}\n" for joint, shift in (("neck", 0), ("beak", 1)) for drive in range(50, 130, 10))
    table = "joint,drive,measured\n" + rows
    with pytest.raises(elb.RobotError) as refused:
        elb.read_readings(io.StringIO(table))
    assert str(refused.value).endswith(
        "column 1 (joint) holds 2 different values, neck, beak, so its rows belong to different joints; take the rows of one by "
        'where={"joint": "neck"}'
    )
    readings = elb.read_readings(io.StringIO(table), where={"joint": "beak"})
    assert readings["measured"][0] == -39.0 and len(readings["drive"]) == 8
    with pytest.raises(elb.RobotError, match="no row has joint=tail"):
        elb.read_readings(io.StringIO(table), where={"joint": "tail"})
    with pytest.raises(elb.ElbowroomError, match="where is of type str; give a dict"):
        elb.read_readings(io.StringIO(table), where="beak")  # type: ignore[arg-type]
    with pytest.raises(elb.RobotError, match=r"no columns are named .*; name them with columns=\{'drive': \.\.\., 'measured': \.\.\.\}"):
        elb.read_readings(io.StringIO("Antrieb,Gemessen\n10,20\n"))
