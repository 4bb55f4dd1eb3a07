"""Paths checked row by row: of one joint, and of all joints of a robot."""

from __future__ import annotations

import copy
import math
import pickle

import numpy as np
import pytest
from conftest import data

import elbowroom as elb
from elbowroom.bring_up import JointRamp


@pytest.fixture(scope="module")
def robot() -> elb.Robot:
    return elb.Robot.load(data("heron.toml"))


def test_a_ramp_keeps_what_a_jump_breaks(robot: elb.Robot) -> None:
    wing = robot["wing_left"]
    ramp = JointRamp(wing, 10.0, cycles_hz=50)
    path = [ramp.follow(500.0) for _ in range(100)] + [ramp.follow(-500.0) for _ in range(200)]
    check = wing.check_path(path, rows_hz=50)
    assert check and check.ok and check.rows == 300
    assert check.largest_rate_per_s == pytest.approx(60.0)
    assert wing.check_path(np.array(path, dtype=np.float32), rows_hz=50).ok
    path[40] += 3
    path[50] = math.nan
    path[60] = 1e3
    broken = wing.check_path(path, rows_hz=50)
    assert not broken
    assert broken.not_finite == elb.PathRows(1, 50)
    assert broken.beyond_command == elb.PathRows(1, 60) and broken.beyond_travel == elb.PathRows(2, 40)
    assert broken.too_fast is not None and broken.too_fast.first == 40
    assert str(broken).startswith("wing_left: 300 rows; 1 is not finite, the first at index 50; ")
    assert wing.check_path(path[:40]).too_fast is None
    assert pickle.loads(pickle.dumps(broken)) == broken == copy.deepcopy(broken)
    assert hash(broken) == hash(wing.check_path(path, rows_hz=50))


def test_flags_are_those_of_the_conversion(robot: elb.Robot) -> None:
    rng = np.random.default_rng(7)
    for joint in robot.values():
        lower, upper = joint.command_range
        commands = rng.uniform(lower - 0.3 * (upper - lower), upper + 0.3 * (upper - lower), 500)
        check, found = joint.check_path(commands), joint.convert(commands)
        for rows, flags in ((check.beyond_command, found.clamped_to_command), (check.beyond_travel, found.clamped_to_travel)):
            assert rows.count == flags.sum(), joint.name
            assert rows.first == (int(np.argmax(flags)) if flags.any() else None)


def test_what_is_no_path_is_refused(robot: elb.Robot) -> None:
    wing = robot["wing_left"]
    for odd in (0, -50, math.nan, math.inf):
        with pytest.raises(elb.ConvertError, match="rows_hz is .*; give the rows of the path") as refused:
            wing.check_path([10.0], rows_hz=odd)
        assert refused.value.code == "option-outside"
    with pytest.raises(elb.ArgumentError, match="commands has 2 dimensions; give one column of numbers"):
        wing.check_path([[10.0]])
    with pytest.raises(elb.ArgumentTypeError, match="commands"):
        wing.check_path(["10"])
    assert wing.check_path([]).rows == 0


def test_all_joints_of_a_robot(robot: elb.Robot) -> None:
    path = np.tile([joint.rest for joint in robot.values()], (200, 1))
    checks = robot.check_path(path, rows_hz=50)
    assert checks.ok and bool(checks) and len(checks) == len(robot)
    assert [check.joint for check in checks] == list(robot)
    place = list(robot).index("neck_base")
    path[120:, place] = 30.0
    path[7, 0] = math.nan
    for given in (path, path.astype(np.float32), path.tolist(), np.asfortranarray(path)):
        checks = robot.check_path(given, rows_hz=50)
        assert not checks
        assert checks["neck_base"].too_fast == elb.PathRows(1, 120)
        assert checks["wing_left"].not_finite == elb.PathRows(1, 7)
        assert [check.joint for check in checks if not check] == ["wing_left", "neck_base"]
    columns = {"neck_base": path[:, place], "wing_left": path[:, 0].tolist()}
    assert robot.check_path(columns, rows_hz=50).joints == (checks["neck_base"], checks["wing_left"])
    with pytest.raises(KeyError):
        checks["no_such_joint"]
    assert "<td>neck_base</td>" in checks._repr_html_() and "neck_base: 200 rows; " in str(checks)
    with pytest.raises(elb.UnknownJointError):
        robot.check_path({"neck": [1.0]})
    with pytest.raises(elb.ConvertError, match=rf"commands has the shape \(200, 2\); give a row for each instant and {len(robot)} columns"):
        robot.check_path(path[:, :2])
    with pytest.raises(elb.ArgumentError, match="commands of neck_base has 2 dimensions"):
        robot.check_path({"neck_base": [[1.0]]})


def test_columns_of_a_path_are_equally_long(robot: elb.Robot) -> None:
    says = "commands of wing_left have 2 rows, those of wing_right 3; give a row of each for each instant"
    with pytest.raises(elb.ConvertError, match=says) as refused:
        robot.check_path({"wing_left": [1, 2], "wing_right": [1, 2, 3]}, rows_hz=50)
    assert refused.value.code == "length-mismatch"
    with pytest.raises(elb.ConvertError, match="commands name no joint; give a column of commands for each joint"):
        robot.check_path({})
    with pytest.raises(elb.ConvertError, match=r"commands has the shape \(0,\); give a row for each instant"):
        robot.check_path([])


def test_a_frame_is_columns_by_name(robot: elb.Robot) -> None:
    pandas = pytest.importorskip("pandas")
    frame = pandas.DataFrame({"wing_left": [10.0, 11.0], "wing_right": [10.0, 90.0]})
    checks = robot.check_path(frame, rows_hz=50)
    assert checks["wing_left"].ok and checks["wing_right"].beyond_command.first == 1


def test_counts_of_rows(robot: elb.Robot) -> None:
    rests = [joint.rest for joint in robot.values()]
    one = robot.counts(rests)
    assert one.shape == (len(robot),) and one.dtype == np.int32
    many = robot.counts([rests] * 3)
    assert many.shape == (3, len(robot)) and (many == one).all()
    assert robot.counts(np.empty((0, len(robot)))).shape == (0, len(robot))
    rows = np.tile(rests, (3, 1))
    rows[2, 1] = math.nan
    with pytest.raises(elb.ConvertError) as refused:
        robot.counts(rows)
    assert (refused.value.joint, refused.value.index) == (list(robot)[1], 2 * len(robot) + 1)
    with pytest.raises(elb.ConvertError, match=f"{len(robot)} joints need {len(robot)} commands, 2 commands were given"):
        robot.counts(rows[:, :2])
    with pytest.raises(elb.ArgumentError, match="commands has 3 dimensions"):
        robot.counts(rows[None])
