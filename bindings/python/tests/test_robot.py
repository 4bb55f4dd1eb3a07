"""Robot files from Python: a frozen mapping, edited by making another, checked by every rule."""

from __future__ import annotations

import copy
import dataclasses
import datetime
import math
import pickle
import re
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import data, worked_example

import elbowroom as elb

TEXT = """\
format = 1
name = "heron"
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }

# the one that squeaks
[joint.wing_left]
board = "breast"
channel = 3
command = [-40, 60]
drive = [37, 122]
rest = 10

[joint.wing_left.evidence]
date = 2026-11-20
sense = "opposing"
lower = { kind = "contact", at = 34.9, u = 0.2, guard = 2.0 }
lost_motion = { value = 1.8, u = 0.15 }
readings = 42

[joint.neck]
command = [-30, 30]
drive = [40, 140]
rest = 0
max_rate_per_s = 20
unit = "deg"

[check]
waive = [{ rule = "rate-missing", joint = "wing_left", reason = "slow by itself" }]
"""
ROBOT = elb.Robot.parse(TEXT)


def test_a_robot_is_a_mapping() -> None:
    assert isinstance(ROBOT, Mapping)
    assert list(ROBOT) == ROBOT.keys() == ["wing_left", "neck"] and len(ROBOT) == 2
    assert "neck" in ROBOT and "nek" not in ROBOT and 3 not in ROBOT
    assert ROBOT["wing_left"] == worked_example()
    assert dict(ROBOT) == dict(ROBOT.items()) == dict(zip(ROBOT.keys(), ROBOT.values(), strict=True))
    assert ROBOT.get("neck") == ROBOT["neck"] and ROBOT.get("nek") is None and ROBOT.get("nek", 3) == 3
    assert ROBOT.name == "heron" and ROBOT.text == str(ROBOT) == TEXT and ROBOT.boards == {}


def test_an_unknown_joint_names_the_nearest() -> None:
    for call in (ROBOT.__getitem__, ROBOT.entry, ROBOT.remove):
        with pytest.raises(KeyError, match="wing_left") as caught:
            call("wing_lft")
        assert isinstance(caught.value, elb.UnknownJointError) and caught.value.code == "unknown-joint"
        with pytest.raises(elb.ArgumentTypeError):
            call(3)


def test_copies_and_equality() -> None:
    for other in (copy.copy(ROBOT), copy.deepcopy(ROBOT), pickle.loads(pickle.dumps(ROBOT))):
        assert other == ROBOT and hash(other) == hash(ROBOT)
    assert ROBOT.remove("neck") != ROBOT
    with pytest.raises(AttributeError):
        ROBOT.name = "x"  # type: ignore[misc]


@pytest.mark.parametrize("copied", [lambda r: r, copy.copy, copy.deepcopy, lambda r: pickle.loads(pickle.dumps(r))])
def test_a_copy_saves_like_the_robot_itself(copied: Any, tmp_path: Path) -> None:
    path = tmp_path / "heron.toml"
    path.write_text(TEXT)
    mine, theirs = copied(elb.Robot.load(path)), elb.Robot.load(path)
    changed = copied(mine.put(mine["wing_left"].replace(rest=12)))
    theirs.put(theirs["neck"].replace(rest=5)).save(path)
    assert changed.save(path) == ["neck"]
    now = elb.Robot.load(path)
    assert (now["wing_left"].rest, now["neck"].rest) == (12, 5)
    # The same joint twice is refused, and the file is as the other left it.
    with pytest.raises(elb.FileChangedError, match="neck"):
        copied(mine.put(mine["neck"].replace(rest=6))).save(path)
    assert elb.Robot.load(path) == now


def test_a_joint_turned_round_loses_its_sense() -> None:
    turned = ROBOT.put(ROBOT["wing_left"].replace(inverted=True))
    assert turned.entry("wing_left").evidence.sense is None
    assert turned.entry("wing_left").evidence.readings == 42
    assert ROBOT.put(ROBOT["wing_left"].replace(rest=12)).entry("wing_left").evidence.sense == "opposing"


def test_what_an_entry_holds() -> None:
    entry = ROBOT.entry("wing_left")
    assert (entry.board, entry.channel, entry.unit, entry.mirror_of, entry.line) == ("breast", 3, None, None, 7)
    assert entry.evidence == elb.Evidence(
        date=datetime.date(2026, 11, 20),
        sense="opposing",
        lower=elb.EndEvidence(kind="contact", at=34.9, u=0.2, guard=2.0),
        lost_motion=elb.LostMotionEvidence(value=1.8, u=0.15),
        readings=42,
    )
    for record in (entry, entry.evidence):
        assert eval(repr(record), vars(elb) | {"datetime": datetime}) == record
        assert pickle.loads(pickle.dumps(record)) == record and hash(record) == hash(copy.deepcopy(record))


RECORDED = """format = 1
servo = { angle = [0, 180], pulse_us = [500, 2500] }
timer = { frame_hz = 50, counts_per_frame = 4096 }

[joint.neck]
command = [-40, 30]
drive = [50, 120]
rest = 0

[joint.neck.evidence]
date = 2026-11-20
by = "A. Heron"
instrument = "inclinometer, 0.1 deg"
supply_v = 6.0
temperature_c = 21.5
lower = { kind = "contact", at = 44.6, u = 0.06, guard = 2.0 }
source = { file = "readings/neck;2026.csv", sha256 = "HASH", rows = { joint = "neck" }, columns = { drive = "us", feedback = "adc" }, drive_unit = "us", measured_unit = "rad", wrap = 6.28, flipped = true, time_unit = "ms", separator = ";", decimal = ",", resolution = 0.01, confidence = 0.9 }

[joint.neck.history]
2025-11-20 = { lower = { kind = "contact", at = 44.3, u = 0.05, guard = 2.0 } }
""".replace("HASH", "0123456789abcdef" * 4)


def test_the_record_of_a_calibration_comes_and_goes_whole() -> None:
    robot = elb.Robot.parse(RECORDED)
    entry = robot.entry("neck")
    evidence = entry.evidence
    assert (evidence.by, evidence.instrument, evidence.supply_v, evidence.temperature_c) == ("A. Heron", "inclinometer, 0.1 deg", 6.0, 21.5)
    source = evidence.source
    assert source is not None and source.rows == (("joint", "neck"),) and dict(source.columns)["feedback"] == "adc"
    assert (source.drive_unit, source.measured_unit, source.wrap, source.flipped, source.time_unit) == ("us", "rad", 6.28, True, "ms")
    assert (source.separator, source.decimal, source.resolution, source.confidence) == (";", ",", 0.01, 0.9)
    assert [one.date for one in entry.history] == [datetime.date(2025, 11, 20)]
    assert entry.history[0].lower == elb.EndEvidence(kind="contact", at=44.3, u=0.05, guard=2.0)
    # Nothing of it is lost on the way through Python.
    assert robot.put(robot["neck"], evidence=evidence).text == RECORDED
    assert eval(repr(entry), vars(elb) | {"datetime": datetime}) == entry
    for wrong in ({"separator": ";;"}, {"rows": "neck"}, {"drive_unit": "grad"}, {"flipped": 1}):
        with pytest.raises(elb.ElbowroomError):
            robot.put(robot["neck"], evidence=dataclasses.replace(evidence, source=dataclasses.replace(source, **wrong)))  # type: ignore[arg-type]
    with pytest.raises(elb.ArgumentTypeError):
        robot.put(robot["neck"], evidence=dataclasses.replace(evidence, source="neck.csv"))  # type: ignore[arg-type]


def test_put_keeps_the_text_and_the_old_robot() -> None:
    evidence = elb.Evidence(sense="aiding", upper=elb.EndEvidence(kind="clear", at=119))
    later = ROBOT.put(ROBOT["wing_left"].replace(travel=(40.2, 119)), channel=4, evidence=evidence)
    assert ROBOT.text == TEXT
    assert "# the one that squeaks" in later.text
    entry = later.entry("wing_left")
    assert entry.joint.travel == (40.2, 119.0) and entry.board == "breast" and entry.channel == 4
    assert entry.evidence == evidence
    new = later.put(worked_example(name="crest"), board="head", unit="deg", mirror_of="neck")
    assert list(new) == ["wing_left", "neck", "crest"]
    assert new.entry("crest").mirror_of == "neck"
    assert list(elb.Robot("new").put(worked_example())) == ["wing_left"]


def test_a_stalled_end_is_put_read_and_checked() -> None:
    stalled = elb.EndEvidence(kind="stalled", at=119, short_at=124.5, guard=0)
    later = ROBOT.put(ROBOT["wing_left"].replace(travel=(40.2, 119)), evidence=elb.Evidence(upper=stalled))
    assert 'upper = { kind = "stalled", at = 119, short_at = 124.5, guard = 0 }' in later.text
    assert later.entry("wing_left").evidence.upper == stalled
    found = [finding for finding in later.check() if finding.rule == "stop-not-placed"]
    assert len(found) == 1 and found[0].severity == "warning" and "between 119 and 124.5 deg" in found[0].hint


@pytest.mark.parametrize(
    ("fields", "code"),
    [
        ({"evidence": elb.Evidence(upper=elb.EndEvidence(kind="stalled", at=119))}, "missing-key"),
        ({"evidence": elb.Evidence(upper=elb.EndEvidence(kind="stalled", at=119, short_at=70))}, "value-outside"),
        ({"evidence": elb.Evidence(upper=elb.EndEvidence(kind="clear", at=119, short_at=124))}, "value-outside"),
        ({"channel": -1}, "option-outside"),
        ({"channel": 70000}, "option-outside"),
        ({"channel": 1.5}, "wrong-type"),
        ({"board": 3}, "wrong-type"),
        ({"evidence": {"sense": "opposing"}}, "wrong-type"),
        ({"evidence": elb.Evidence(sense="oposing")}, "unknown-word"),
        ({"evidence": elb.Evidence(date="2026-11-20")}, "wrong-type"),  # type: ignore[arg-type]
        ({"evidence": elb.Evidence(lower=elb.EndEvidence(kind="contact", at=None))}, "wrong-type"),  # type: ignore[arg-type]
        ({"evidence": elb.Evidence(readings=-1)}, "option-outside"),
    ],
)
def test_put_refuses(fields: dict[str, Any], code: str) -> None:
    with pytest.raises(elb.ElbowroomError) as caught:
        ROBOT.put(ROBOT["neck"], **fields)
    assert caught.value.code == code


def test_without_travel_the_whole_drive_span_is_used() -> None:
    """The travel left out is the drive span, in either direction and after a save, and the ends are hit to the bit."""
    assert "travel" not in TEXT
    joint = ROBOT["wing_left"]
    assert joint.travel == joint.drive_range == (37.0, 122.0)
    assert [joint.drive(x) for x in (-40, 10, 60)] == [37.0, 79.5, 122.0]
    assert joint.drive(np.array([-41.0, -40, 60, 61])).tolist() == [37.0, 37.0, 122.0, 122.0]
    assert ROBOT["neck"].travel == (40.0, 140.0) and ROBOT["neck"].drive(30) == 140.0
    turned = elb.Robot.parse(TEXT.replace("rest = 10", "rest = 10\ninverted = true"))["wing_left"]
    assert turned.travel == (37.0, 122.0) and (turned.drive(-40), turned.drive(60)) == (122.0, 37.0)
    made = elb.Robot("made").put(joint)
    assert made["wing_left"].travel == elb.Robot.parse(made.text)["wing_left"].travel == (37.0, 122.0)


def test_save_and_load(tmp_path: Path) -> None:
    path = tmp_path / "heron.toml"
    ROBOT.save(path)
    assert path.read_text() == TEXT
    assert elb.Robot.load(path) == elb.Robot.load(str(path)) == ROBOT
    with pytest.raises(elb.FileAccessError):
        ROBOT.save(path, new=True)
    ROBOT.remove("neck").save(path)
    assert list(elb.Robot.load(path)) == ["wing_left"]
    for bad in (tmp_path / "none.toml", tmp_path):
        with pytest.raises(OSError) as caught:
            elb.Robot.load(bad)
        assert isinstance(caught.value, elb.FileAccessError) and caught.value.code == "file-access"
        assert caught.value.file == str(bad)
    with pytest.raises(elb.ArgumentTypeError):
        elb.Robot.load(3)


def test_a_save_keeps_what_others_wrote_meanwhile(tmp_path: Path) -> None:
    path = tmp_path / "heron.toml"
    path.write_text(TEXT)
    mine, theirs = elb.Robot.load(path), elb.Robot.load(path)
    assert theirs.put(theirs["neck"].replace(rest=5)).save(path) == []
    mine = mine.put(mine["wing_left"].replace(rest=12))
    assert mine.save(path) == ["neck"]
    there = elb.Robot.load(path)
    assert (there["neck"].rest, there["wing_left"].rest) == (5, 12)
    mine = mine.put(mine["neck"].replace(rest=6))
    with pytest.raises(elb.FileChangedError, match="joint neck was changed both in the file and by this save") as caught:
        mine.save(path)
    assert caught.value.code == "file-changed" and caught.value.file == str(path)
    assert elb.Robot.load(path) == there


@pytest.mark.parametrize(
    ("old", "new", "code", "line", "joint", "says"),
    [
        ("drive = [37, 122]", "driv = [37, 122]", "unknown-key", 11, "wing_left", "write drive"),
        ("rest = 10", "rest = 900", "rest-outside", 12, "wing_left", "900"),
        ("[37, 122]", "[122, 37]", "ends-swapped", 11, "wing_left", "set inverted"),
        ('"opposing"', '"oposing"', "unknown-word", 16, "wing_left", "opposing"),
        ("format = 1", "format = 2", "format-too-new", 1, None, "newer"),
        ("rest = 10", "rest = ", "file-syntax", 12, None, "TOML"),
    ],
)
def test_a_wrong_file_is_refused_with_its_place(
    old: str, new: str, code: str, line: int, joint: str | None, says: str, tmp_path: Path
) -> None:
    path = tmp_path / "heron.toml"
    path.write_text(TEXT.replace(old, new, 1))
    with pytest.raises(elb.RobotError) as caught:
        elb.Robot.load(path)
    error = caught.value
    assert (error.code, error.line, error.joint) == (code, line, joint)
    assert error.file == str(path) and error.column is not None
    assert says in str(error) and str(error).startswith(f"{path}:{line}:")
    again = pickle.loads(pickle.dumps(error))
    assert (again.line, again.column, again.file, str(again)) == (error.line, error.column, error.file, str(error))


def test_check() -> None:
    report = ROBOT.check()
    rules = {(finding.joint, finding.rule) for finding in report}
    assert ("neck", "limit-unproven") in rules and ("wing_left", "limit-unproven") in rules
    assert len(report) == len(report.findings) and report
    assert [(w.finding.rule, w.reason) for w in report.waived] == [("rate-missing", "slow by itself")]
    assert "slow by itself" in str(report) and "<td>waived</td>" in report._repr_html_()
    assert all(finding.severity in ("note", "warning", "error") and finding.message and finding.hint for finding in report)
    stale = ROBOT.check(today=datetime.date(2030, 1, 1))
    assert "evidence-stale" in {finding.rule for finding in stale} - {finding.rule for finding in report}
    assert eval(repr(report), vars(elb)) == report
    with pytest.raises(elb.ArgumentTypeError):
        ROBOT.check(today="2030-01-01")  # type: ignore[arg-type]


def test_every_rule_is_named() -> None:
    names = [rule.name for rule in elb.RULES]
    assert len(set(names)) == len(names) > 20 and "rest-outside-travel" in names
    assert all(rule.protects and rule.broken_by for rule in elb.RULES)


def test_html_is_escaped() -> None:
    robot = elb.Robot.parse(TEXT.replace("joint.wing_left", 'joint."<b>"').replace('"wing_left"', '"<b>"'))
    assert "&lt;b&gt;" in robot._repr_html_() and "<b>" not in robot._repr_html_()


def test_a_fit_goes_into_a_robot() -> None:
    drive = np.linspace(10, 150, 40)
    fit = elb.fit_limits(drive, np.clip(drive, 20, 140) + 0.01 * (np.arange(40) % 3), guard=1.5)
    day = datetime.date(2026, 11, 20)
    with pytest.raises(elb.RobotError, match="the readings contradict the map in the file; .*keep the map as it is: ") as caught:
        ROBOT.put_fit("neck", fit, date=day)
    assert (caught.value.code, caught.value.joint) == ("map-contradicted", "neck")
    later = ROBOT.put_fit("neck", fit, date=day, keep=True)
    entry = later.entry("neck")
    assert entry.joint == fit.apply_to(ROBOT["neck"])
    # How far the map is off stays with the joint, and the check reports it.
    assert entry.evidence.map_off is not None and abs(entry.evidence.map_off) > 20
    assert dataclasses.replace(entry.evidence, map_off=None) == fit.evidence(day)
    assert "map-contradicted" in {finding.rule for finding in later.check()}
    # The transmission that the readings follow makes the difference.
    curved = elb.fit_curve(drive, 0.001 * (drive - 20) ** 2)
    bent = elb.fit_limits(drive, 0.001 * (drive - 20) ** 2)
    robot = ROBOT.adopt_fit("neck", bent, transmission=curved, date=day)
    with pytest.raises(elb.RobotError, match="contradict the map"):
        robot.put_fit("neck", bent, date=day)
    assert robot.put_fit("neck", bent, transmission=curved, date=day).entry("neck").evidence.map_off is None
    assert entry.evidence.lower is not None and entry.evidence.lower.kind == "contact"
    assert 20 < entry.joint.travel[0] < 23 and 137 < entry.joint.travel[1] < 140
    with pytest.raises(elb.ArgumentTypeError):
        ROBOT.put_fit("neck", None)  # type: ignore[arg-type]


def test_a_fit_that_contradicts_a_joint_is_judged_and_adopted() -> None:
    drive = np.linspace(40, 140, 30)
    # Invented: the neck's horn sits one tooth of 25 further than the file has it.
    joint = ROBOT["neck"]
    measured = [joint.command_from_drive(x - 14.4) for x in drive]
    fit = elb.fit_limits(drive, np.round(measured, 1))
    judged = ROBOT.judge_fit("neck", fit)
    assert judged.contradicts and judged.offset is not None and abs(judged.offset + 14.4) < 0.1
    assert (judged.teeth[0].horn, judged.teeth[0].teeth) == (25, -1)
    assert judged.sentences and "the horn sits 1 tooth of 25 (14.4 deg)" in judged.sentences[0]
    adopted = ROBOT.adopt_fit("neck", fit)
    for command in np.linspace(*joint.command_range, 5):
        assert abs(adopted["neck"].transmission["kind"] == "linear")
        assert abs(adopted["neck"].drive(command) - min(max(joint.drive(command) + 14.4, 40), 140)) < 0.5
    assert not adopted.judge_fit("neck", fit).contradicts
    with pytest.raises(elb.ArgumentTypeError):
        ROBOT.judge_fit("neck", fit, transmission=3)  # type: ignore[arg-type]
    curve = elb.fit_curve(drive, measured)
    assert ROBOT.judge_fit("neck", fit, transmission=curve).contradicts
    with pytest.raises(elb.FitError, match="the relation between"):
        ROBOT.put(joint, unit="fraction").adopt_fit("neck", fit, unit="deg")


def test_blocks() -> None:
    one = ROBOT["wing_left"].to_block(channel=3)
    assert ROBOT.to_block(board="breast") == ROBOT.remove("neck").to_block() == one
    assert ROBOT["wing_left"].to_block() != one and len(one) > 50
    for call in (ROBOT.to_block, lambda: ROBOT.to_block(board="none"), lambda: elb.Robot("x").to_block()):
        with pytest.raises(elb.BlockError):
            call()


def test_blocks_and_back() -> None:
    joint = ROBOT["wing_left"]
    image = joint.to_block(channel=3)
    back = elb.Joint.from_block(image)
    assert back.name == "channel_3" and back.to_block(channel=3) == image
    assert elb.Joint.from_block(bytearray(image), channel=3, name="wing_left").name == "wing_left"
    x = np.linspace(-10, 190, 2001, dtype=np.float32)
    np.testing.assert_array_equal(back.counts(x), joint.counts(x))
    np.testing.assert_array_equal(back.pulse_us(x).view(np.uint32), joint.pulse_us(x).view(np.uint32))
    robot = elb.Robot.from_block(image, name="heron")
    assert list(robot) == ["channel_3"] and robot.entry("channel_3").channel == 3 and robot.to_block() == image
    with pytest.raises(elb.BlockError, match="channel 9"):
        elb.Joint.from_block(image, channel=9)
    for broken in (b"", image[:-1], image[:-1] + bytes([image[-1] ^ 1]), b"x" * 100):
        for call in (lambda: elb.Joint.from_block(broken), lambda: elb.Robot.from_block(broken, name="x")):  # noqa: B023
            with pytest.raises(elb.BlockError):
                call()
    for wrong in (None, "x", 3, [1, 2], np.zeros(3)):
        with pytest.raises(elb.ArgumentTypeError, match="image is .*; give the bytes of a block"):
            elb.Joint.from_block(wrong)  # type: ignore[arg-type]


def test_a_block_of_several_joints_asks_for_the_channel() -> None:
    one = elb.Robot("x").put(ROBOT["wing_left"], board="a", channel=8)
    two = one.put(ROBOT["wing_left"].replace(name="wing_right", inverted=True), board="a", channel=9).to_block()
    assert elb.Joint.from_block(two, channel=9).inverted
    with pytest.raises(elb.ArgumentError, match=r"the block holds 2 joints; give channel, one of \[8, 9\]"):
        elb.Joint.from_block(two)


def test_what_a_reading_says_of_its_sensor() -> None:
    joint = ROBOT["wing_left"].replace(feedback={"reading": [212, 871], "angle": [-40, 60], "adc_bits": 10})
    assert [joint.reading_state(x) for x in (541, 900.0, 1, 1022)] == ["inside", "outside", "lower-rail", "upper-rail"]
    assert [joint.reading_state(x) for x in (float("nan"), -1, 1024)] == ["impossible"] * 3
    many = joint.reading_state(np.array([[541, 900], [1, 1022]]))
    assert many.tolist() == [["inside", "outside"], ["lower-rail", "upper-rail"]]
    assert joint.reading_state(np.float32(541)) == "inside" and joint.reading_state([]).shape == (0,)
    for wrong in ("x", None, [True]):
        with pytest.raises(elb.ArgumentTypeError):
            joint.reading_state(wrong)  # type: ignore[call-overload]
    with pytest.raises(elb.ConvertError, match="feedback"):
        ROBOT["wing_left"].replace(feedback=None).reading_state(3)


TRANSMISSIONS: list[dict[str, Any]] = [
    {"kind": "spool", "drum": 9.0, "per_turn": 0.5, "pulley": 30.0},
    {"kind": "triangle", "base": 40.0, "arm": 92.0, "angle_at_zero": 31.0},
    {"kind": "curve", "knots": [[0, 5], [60, 20], [120, 60]], "rule": "parabola"},
]

VALID = {"spool": (pytest.approx(-972.0), np.inf), "triangle": (-31.0, 149.0), "curve": (0.0, 120.0)}


@pytest.mark.parametrize("transmission", TRANSMISSIONS, ids=lambda t: t["kind"])
def test_transmissions(transmission: dict[str, Any]) -> None:
    joint = elb.Joint(
        "lid", command=(0, 120), drive=(5, 60), rest=30, transmission=transmission,
        servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)), timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
    )  # fmt: skip
    assert joint.transmission["kind"] == transmission["kind"]
    assert joint.drive(0) == 5.0 and joint.drive(120) == 60.0
    # The drum runs empty half a turn's growth before 0; a triangle's sides lie in one line; a curve ends with its knots.
    assert joint.valid_range == VALID[transmission["kind"]]
    assert joint.replace(transmission={"kind": "linear"}).valid_range == (-np.inf, np.inf)
    assert eval(repr(joint), vars(elb)) == pickle.loads(pickle.dumps(joint)) == joint != joint.replace(transmission={"kind": "linear"})
    x = np.linspace(0, 120, 50)
    assert (np.diff(joint.drive(x)) > 0).all()
    np.testing.assert_allclose(joint.command_from_drive(joint.drive(x)), x, atol=1e-9)
    step = 1e-4
    slope = (joint.drive(x[1:-1] + step) - joint.drive(x[1:-1] - step)) / (2 * step)
    np.testing.assert_allclose(joint.drive_per_command(x[1:-1]), slope, rtol=1e-3)
    np.testing.assert_allclose(joint.drive(x.astype("f4")), joint.drive(x), rtol=1e-5)


def test_feedback() -> None:
    joint = worked_example(feedback={"reading": [212, 871], "angle": [-40, 60], "adc_bits": 10})
    assert eval(repr(joint), vars(elb)) == joint != worked_example()
    assert joint.angle_from_reading(871) == 60.0 and joint.command_from_reading(212) == -40.0
    np.testing.assert_array_equal(joint.command_from_reading([212, np.nan, 871]), [-40, np.nan, 60])
    np.testing.assert_allclose(joint.reading_from_command(joint.command_from_reading(np.arange(212, 872))), np.arange(212, 872))
    assert worked_example().feedback is None
    assert joint.reading_at_supply(400, 4) == 400.0  # ratiometric
    sagging = worked_example(feedback={"reading": [212, 871], "angle": [-40, 60], "supply_v": 5.0})
    assert sagging.reading_at_supply(400, 4) == 500.0
    np.testing.assert_array_equal(sagging.reading_at_supply(np.array([[400, np.nan]]), 4), [[500, np.nan]])
    assert sagging.reading_at_supply(480, 0) == np.inf
    with pytest.raises(elb.ConvertError, match="feedback"):
        worked_example().reading_at_supply(300.0, 5)
    with pytest.raises(elb.ConvertError, match="feedback"):
        worked_example().reading_at_supply([300.0], 5)
    with pytest.raises(elb.ArgumentTypeError, match="supply_v"):
        sagging.reading_at_supply(300.0, "x")  # type: ignore[call-overload]
    with pytest.raises(elb.ConvertError) as caught:
        worked_example().angle_from_reading(300.0)
    assert caught.value.code == "no-feedback"


def test_what_a_count_is_worth() -> None:
    falling = {"reading": [200, 800], "angle": [0, 75], "inverted": True, "adc_bits": 10}
    joint = worked_example(feedback=falling)
    one = joint.angle_per_reading(500)
    assert type(one) is float and one == -0.125 and np.isnan(joint.angle_per_reading(float("nan")))
    many = joint.angle_per_reading(np.array([[200, np.nan], [800, 900]]))
    assert many.dtype == np.float64
    np.testing.assert_array_equal(many, [[-0.125, np.nan], [-0.125, -0.125]])
    curved = worked_example(feedback={"reading": [212, 871], "angle": [-40, 60], "knots": [[212, -40], [500, 5], [871, 60]]})
    x = np.linspace(213, 870, 50)
    slope = (curved.angle_from_reading(x + 1e-4) - curved.angle_from_reading(x - 1e-4)) / 2e-4
    wide = curved.angle_per_reading(x)
    np.testing.assert_allclose(wide, slope, rtol=1e-6)
    single = curved.angle_per_reading(x.astype("f4"))
    assert single.dtype == np.float32
    np.testing.assert_allclose(single, wide, rtol=1e-5)
    assert curved.angle_per_reading(x, out=x) is x and (x == wide).all()
    for wrong in ("x", None, [True]):
        with pytest.raises(elb.ArgumentTypeError, match="reading"):
            joint.angle_per_reading(wrong)  # type: ignore[arg-type]
    for given in (300.0, [300.0]):
        with pytest.raises(elb.ConvertError) as caught:
            worked_example().angle_per_reading(given)
        assert caught.value.code == "no-feedback"


def test_which_rails_are_seen() -> None:
    def sees(lower: float, upper: float, **more: Any) -> tuple[bool, bool] | None:
        return worked_example(feedback={"reading": [lower, upper], "angle": [-40, 60], **more}).detects_wire_faults

    assert sees(212, 871, adc_bits=10) == (True, True)
    # One count short of the last is not enough: a rail is the outermost 1/256.
    assert sees(3, 871, adc_bits=10) == (False, True)
    assert sees(4, 1020, adc_bits=10, inverted=True) == (True, False)
    assert sees(212, 871) == (False, False)
    assert worked_example().detects_wire_faults is None
    heron = elb.Robot.load(data("heron.toml"))
    assert all(entry.detects_wire_faults in (None, (True, True)) for entry in heron.values())


@pytest.mark.parametrize("field", ["transmission", "feedback"])
@pytest.mark.parametrize("bad", [3, "spool", {}, {"kind": "rope"}, {"kind": "spool"}, {"kind": "spool", "drum": True, "per_turn": 0, "pulley": 1}, {"kind": "spool", "drum": float("nan")}, {"reading": [1, None], "angle": [0, 1]}, {1: object()}])
def test_a_wrong_part_is_refused(field: str, bad: Any) -> None:
    with pytest.raises((elb.ArgumentError, elb.ArgumentTypeError), match=f"^{field}") as refused:
        worked_example(**{field: bad})
    # No word of a parser, and no place in a text that nobody wrote.
    assert not re.search(r"line \d|column|`|f64|missing field|invalid type", str(refused.value))


@pytest.mark.parametrize(
    ("bad", "code", "sentence"),
    [
        ({}, "missing-key", "transmission: kind is missing; give e.g. {'kind': 'spool', 'drum': 9.0, 'per_turn': 0.0, 'pulley': 30.0}"),
        ({"kind": "rope"}, "unknown-word", 'transmission: kind is "rope"; write one of linear, curve, triangle, slider-crank, four-bar, spool'),
        ({"kind": "spool", "drum": "big", "per_turn": 0, "pulley": 30}, "wrong-type", 'transmission: drum is the text "big"; give e.g.'),
        ({"kind": "spool", "drumm": 9, "per_turn": 0, "pulley": 30}, "unknown-key", 'transmission: unknown key "drumm"; write drum'),
        (3, "wrong-type", "transmission is of type int; give a dict, e.g."),
    ],
)
def test_a_wrong_part_is_told_by_its_key(bad: Any, code: str, sentence: str) -> None:
    with pytest.raises(elb.ElbowroomError, match=f"^{re.escape(sentence)}") as refused:
        worked_example(transmission=bad)
    assert refused.value.code == code


def test_a_part_keeps_every_digit() -> None:
    drum = 9.000000000000002
    joint = worked_example(transmission={"kind": "spool", "drum": drum, "per_turn": 0.0, "pulley": np.float64(30.1)})
    assert (joint.transmission["drum"], joint.transmission["pulley"]) == (drum, 30.1)


def test_no_line_is_named_of_a_text_that_nobody_wrote() -> None:
    joint = {"command": [-40, 60], "drive": [37, 122], "rest": 10, "transmission": {"drum": 3}}
    robot = {"servo": {"angle": [0, 180], "pulse_us": [500, 2500]}, "timer": {"frame_hz": 50, "counts_per_frame": 4096}, "joint": {"wing": joint}}
    with pytest.raises(elb.RobotError, match="^joint wing: kind is missing; write e.g. transmission = ") as refused:
        elb.robot_from_dict(robot)
    assert (refused.value.line, refused.value.column, refused.value.joint) == (None, None, "wing")


@pytest.mark.parametrize("name", ["", "  ", "a\nb", "x" * 65])
def test_a_name_that_no_file_may_hold_is_refused(name: str) -> None:
    with pytest.raises(elb.ArgumentError, match="give 1 to 64 bytes without control characters, e.g. wing_left") as refused:
        elb.Joint(name, command=(-40, 60), drive=(37, 122), rest=10, servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)), timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    assert refused.value.value == name


def test_pulse_widths_in_milliseconds_are_told() -> None:
    servo = elb.Servo(angle=(0, 180), pulse_us=(0.5, 2.5))
    with pytest.raises(elb.JointError, match="servo.pulse_us is 0.5 to 2.5 us, .* look like milliseconds; write 500 to 2500 us") as refused:
        elb.Joint("wing", command=(-40, 60), drive=(37, 122), rest=10, servo=servo, timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
    assert refused.value.value == (0.5, 2.5)


def test_a_description_must_be_a_text() -> None:
    with pytest.raises(elb.ArgumentTypeError, match="description is None; give a string"):
        ROBOT.limits_into(None)  # type: ignore[arg-type]


def test_counts_of_all_joints_in_one_call() -> None:
    counts = ROBOT.counts([10, -100])
    assert counts.dtype == np.int32
    assert counts.tolist() == [joint.counts(command) for joint, command in zip(ROBOT.values(), (10, -100), strict=True)]
    with pytest.raises(elb.ConvertError) as refused:
        ROBOT.counts([10, np.nan])
    assert refused.value.code == "not-finite" and refused.value.index == 1
    assert refused.value.joint == list(ROBOT)[1] and f"joint {list(ROBOT)[1]}" in str(refused.value)
    with pytest.raises(elb.ConvertError, match="2 joints need 2 commands, 1 command was given"):
        ROBOT.counts([10])


def test_a_unit_has_its_factor_to_si() -> None:
    assert ROBOT.entry("neck").to_si == np.pi / 180 and ROBOT.entry("wing_left").to_si is None
    for word, factor in (("rad", 1.0), ("mm", 1e-3), ("in", 0.0254), ("percent", 0.01), ("furlong", None)):
        assert ROBOT.put(ROBOT["neck"], unit=word).entry("neck").to_si == factor


def test_what_is_no_robot_is_named() -> None:
    with pytest.raises(elb.ArgumentTypeError, match="joint is of type list; give a dict from each joint's name"):
        elb.robot_from_dict({"joint": [{"command": [0, 1]}]})
    with pytest.raises(elb.UnknownJointError, match='no joint is named "tail"; the joints are '):
        ROBOT["tail"]
    folder_text = TEXT.encode() + b"# \xfc\n"
    with pytest.raises(elb.RobotError) as caught:
        path = Path(tempfile.mkdtemp()) / "latin.toml"
        path.write_bytes(folder_text)
        elb.Robot.load(path)
    assert caught.value.code == "not-utf8" and caught.value.line == TEXT.count("\n") + 1 and caught.value.column == 3


def test_counts_need_a_command_for_each_joint() -> None:
    n = len(ROBOT)
    with pytest.raises(elb.ConvertError, match=f"^{n} joints need {n} commands, 1 command was given$"):
        ROBOT.counts([1])
    joint = ROBOT["neck"]
    with pytest.raises(elb.ConvertError, match="the command at index 2 is not a number and was not converted; give a finite number") as caught:
        joint.counts([0, 1, np.nan])
    assert caught.value.index == 2 and "before it" not in str(caught.value)
    with pytest.raises(elb.ConvertError, match="the 2 before it are converted"):
        joint.counts([0, 1, np.nan], out=np.zeros(3, dtype=np.int32))


def test_repr_is_short() -> None:
    """The whole file is what `str` gives."""
    robot = elb.robot_from_dict({
        "name": "heron",
        "servo": {"angle": [0, 180], "pulse_us": [500, 2500]},
        "timer": {"frame_hz": 50, "counts_per_frame": 4096},
        "joint": {f"toe_{n}": {"command": [0.1 + 0.2, 60], "drive": [37, 122.0], "rest": 10} for n in range(8)} | {"left eye": {"command": [0, 1], "drive": [0, 9], "rest": 0}},
    })  # fmt: skip
    assert repr(robot) == "<Robot 'heron', 9 joints: toe_0, toe_1, toe_2, toe_3, toe_4, toe_5, ... 3 more>"
    text = str(robot)
    assert "[joint.toe_0]\ncommand = [0.3, 60]\ndrive = [37, 122]\n" in text and '[joint."left eye"]' in text


def test_a_saved_bring_up_is_refused_without_words_of_a_parser() -> None:
    from elbowroom.bring_up import Bench

    for text in ("", "{", "{}", "[1, 2", '{"format": 1}'):
        with pytest.raises(elb.BringUpError) as caught:
            Bench.parse(text)
        said = str(caught.value)
        assert "give the text as it was written" in said and "EOF" not in said and "expected" not in said, said


def test_robots_are_compared_joint_by_joint() -> None:
    old = elb.Robot.load(data("heron.toml"))
    assert elb.compare_robots(old, old) == elb.RobotComparison(
        added=(), removed=(), renamed=(), joints=(), robot=(), same=len(old), changed=False
    )
    new = old.put(old["wing_left"].replace(rest=5)).rename("tail", "tail_tip").remove("knee_left")
    found = elb.compare_robots(old, new)
    assert found.changed and found.added == ("tail_tip",) and set(found.removed) == {"tail", "knee_left"}
    assert found.renamed == (("tail", "tail_tip"),) and found.same == len(old) - 3
    (wing,) = found.joints
    assert wing.joint == "wing_left" and not wing.servo_differs
    (rest,) = wing.differences
    assert (rest.what, rest.new, rest.agreement) == ("rest", 5.0, "changed")
    # A contact that was measured again: 0.3 deg with u 0.2 each is no change, and no change of a robot.
    text = old.text
    entry = old.entry("wing_left").evidence
    assert entry is not None and entry.lower is not None and "at = 37.9, u = 0.2" in text
    measured = elb.Robot.parse(text.replace("at = 37.9, u = 0.2", "at = 38.2, u = 0.2"))
    found = elb.compare_robots(old, measured)
    ((contact,),) = (joint.differences for joint in found.joints)
    assert (contact.what, contact.agreement, found.changed) == ("evidence lower at", "within-uncertainty", False)
    assert contact.u == pytest.approx(0.2 * math.sqrt(2)) and contact.p is not None and contact.p > 0.2
    with pytest.raises(elb.FitError, match="smallest_drive"):
        elb.compare_robots(old, new, smallest_drive=-1)
    with pytest.raises(TypeError):
        elb.compare_robots(old, "heron.toml")  # type: ignore[arg-type]


def test_a_joint_is_renamed_with_all_that_names_it() -> None:
    old = elb.Robot.load(data("heron.toml"))
    new = old.rename("wing_left", "wing_port")
    assert "wing_left" in old and "wing_left" not in new and new.entry("wing_right").mirror_of == "wing_port"
    assert old.rename("crest", "comb").check().waived[0].finding.joint == "comb"
    with pytest.raises(elb.UnknownJointError):
        old.rename("beak_tip", "x")
    for name in ("wing_right", "wing_left", ""):
        with pytest.raises(elb.RobotError):
            old.rename("wing_left", name)
