"""Fitted transmissions from Python: published tables, measured joints, the core's own numbers, and joints made from them."""

from __future__ import annotations

import copy
import csv
import json
import pickle
from typing import Any

import numpy as np
import pandas as pd
import polars as pl
import pytest
from conftest import data, worked_example

import elbowroom as elb

SERVO = elb.Servo(angle=(600, 2400), pulse_us=(600, 2400))
TIMER = elb.Timer(frame_hz=50, counts_per_frame=20_000)


def elevon(aircraft: str, side: str, clear: bool = True) -> tuple[Any, Any]:
    """Elevons of small aircraft, A. J. Barry (tests/data/measured/README.md): drive in us, deflection in deg."""
    with data("measured/elevon_deflection.csv").open() as file:
        rows = [r for r in csv.DictReader(file) if (r["aircraft"], r["side"]) == (aircraft, side)]
    rows = [r for r in rows if not clear or r["in_source_fit"] == "1"]
    return np.array([float(r["command_us"]) for r in rows]), np.array([float(r["deflection_deg"]) for r in rows])


def table(name: str) -> list[dict[str, float]]:
    """Mechanisms computed to 50 digits; sources in the JSON file of the same name."""
    with data(f"kinematics/{name}.csv").open() as file:
        return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]


@pytest.mark.parametrize(
    ("aircraft", "side", "quadratic"), [("1", "left", 0.821), ("1", "right", 1.405), ("2", "left", 1.456), ("2", "right", 1.216)]
)
def test_the_curved_elevons_come_down_to_the_quadratic(aircraft: str, side: str, quadratic: float) -> None:
    """Residuals of a quadratic as the README of the data tells them, and as numpy finds them."""
    x, y = elevon(aircraft, side)
    left = y - np.polyval(np.polyfit(x - 1500, y, 2), x - 1500)
    reference = float(np.sqrt((left**2).sum() / (len(x) - 3)))
    assert reference == pytest.approx(quadratic, abs=6e-4)
    # The fit of limits tells of the bend before anybody asks for a curve, where it is plain beside the scatter.
    assert ("curved" in [warning.kind for warning in elb.fit_limits(x, y).warnings]) == (aircraft == "1")
    fit = elb.fit_curve(x, y)
    assert len(fit.knots) < 8 and fit.residual_sd <= 1.02 * reference
    assert fit.dof == len(x) - len(fit.knots) and len(fit.u) == len(fit.knots)
    assert float(((y - fit.expected(x)) ** 2).sum()) == pytest.approx(fit.sum_of_squares, rel=1e-9)


def test_the_numbers_are_those_of_the_core() -> None:
    """Printed by the core's own calls for the same readings."""
    fit = elb.fit_curve(*elevon("1", "left"))
    assert fit.knots == (
        (1159.0, -27.37472415331321), (1409.0, -3.517150200944849), (1659.0, 25.482276251365015), (1909.0, 64.95609670233281)
    )  # fmt: skip
    assert fit.u == (0.4987926755416699, 0.31347747238353296, 0.31347747238353296, 0.4987926755416698)
    assert (fit.residual_sd, fit.sum_of_squares, fit.criterion[1]) == (0.6498938573195585, 5.068344309380337, 2.4505985504906107)
    start = {"kind": "four-bar", "crank": 12, "coupler": 60, "rocker": 15, "ground": 62, "rocker_at_zero": 90, "branch": "left"}
    link = elb.fit_linkage(*elevon("2", "right"), start, free=["crank", "rocker_at_zero"])
    assert [(d.name, d.value, d.u) for d in link.dimensions] == [
        ("crank", 14.726657524009383, 32.35067385810268), ("coupler", 60.0, None), ("rocker", 15.0, None), ("ground", 62.0, None),
        ("rocker_at_zero", 71.93220156309975, 333.63314799924956),
    ]  # fmt: skip
    assert (link.branch, link.offset, link.gain) == (
        "left",
        elb.Estimate(value=2003.276277082762, u=1701.5776650497126),
        elb.Estimate(value=-8.416373568411563, u=12.631104902002411),
    )
    assert (link.drive_range, link.measured_range, link.dof) == ((1169.0, 1718.0), (-24.6, 36.3), 8)
    choice = elb.choose_transmission(*elevon("1", "left"), guesses=[(start, ["rocker_at_zero"])], most_knots=7)
    assert [c.kind for c in choice.candidates] == ["linear", "curve", "four-bar"] and choice.best == 1
    assert choice.candidates[0].criterion == 42.99312606364451 and choice.candidates[2].criterion is None
    assert [(r.kind, str(r)) for r in choice.reasons] == [
        ("bent", "linear: residual SD 3.25, 5.0 times the chosen model's: the joint is nonlinear"),
        ("refused", "four-bar was not fitted: the readings do not determine rocker_at_zero; measure it with a ruler and keep it, or take readings over a wider range"),
    ]  # fmt: skip
    assert choice.reasons[0].values == (("simpler", "linear"), ("simpler_sd", 3.2519402740853787), ("residual_sd", 0.6498938573195585))


@pytest.mark.parametrize("name", ["slider_crank_inline", "slider_crank_offset"])
@pytest.mark.parametrize(("side", "key"), [("left", "theta_ccw_deg"), ("right", "theta_cw_deg")])
def test_a_slider_crank_of_the_tables_is_found_again(name: str, side: str, key: str) -> None:
    """The rod's length from crank angles and places of the slide; the drive angle is the crank's own, offset 0 and gain 1."""
    size = json.loads(data(f"kinematics/{name}.json").read_text())["dimensions"]
    rows = [r for r in table(f"{name}_inverse") if r["sin_beta"] > 0.3]
    angle = np.unwrap([r[key] for r in rows], period=360)
    start = {"kind": "slider-crank", "crank": size["r"], "rod": 1.08 * size["l"], "offset": size["e"], "slide_at_zero": 0.0, "branch": side}
    places = np.array([r["x"] for r in rows])
    keep = places > size["l"] - 0.5 * size["r"]
    fit = elb.fit_linkage(angle[keep], places[keep], start, free=["rod"])
    found = {d.name: d for d in fit.dimensions}
    assert found["rod"].value == pytest.approx(size["l"], rel=1e-8) and found["crank"].u is None
    assert fit.gain.value == pytest.approx(1.0, rel=1e-8) and fit.residual_sd < 1e-8 * size["l"]
    np.testing.assert_allclose(fit.drive_at(places[keep]), angle[keep], atol=1e-6)
    np.testing.assert_allclose(fit.expected(angle[keep]), places[keep], atol=1e-8 * size["l"])


def test_a_four_bar_of_the_tables_is_found_again() -> None:
    """Crank 12, coupler 60, rocker 15 on pivots 62 apart: the crank from angles computed to 50 digits."""
    rows = [r for r in table("fourbar_pushrod") if r["branch"] == -1 and 30 <= r["theta2_deg"] <= 120]
    crank, rocker = np.array([r["theta2_deg"] for r in rows]), np.array([r["theta4_deg"] for r in rows])
    assert len(rows) > 15
    start = {"kind": "four-bar", "crank": 13.5, "coupler": 60.0, "rocker": 15.0, "ground": 62.0, "rocker_at_zero": 0.0, "branch": "left"}
    fit = elb.fit_linkage(crank, rocker, start, free=["crank"])
    assert fit.dimensions[0].value == pytest.approx(12.0, rel=1e-7)
    assert fit.gain.value == pytest.approx(1.0, rel=1e-7) and abs(fit.offset.value) < 1e-5
    np.testing.assert_allclose(fit.expected(crank), rocker, atol=1e-6)


@pytest.mark.parametrize("name", ["fc_rpn", "nag_e01bec", "servo_table_7"])
@pytest.mark.parametrize(("rule", "method"), [("harmonic-chord", "pchip"), ("mean-chord", "fritsch_carlson_1980")])
def test_curves_of_joints_meet_the_published_tables(name: str, rule: str, method: str) -> None:
    """Fritsch and Carlson (1980), NAG's example, and scipy's PCHIP: tests/data/interp."""
    case = json.loads(data(f"interp/{name}.json").read_text())
    x, y = case["data"]["x"], case["data"]["y"]
    falling = y[0] > y[-1]
    joint = elb.Joint(
        "table", command=(x[0], x[-1]), drive=(min(y), max(y)), inverted=falling, rest=x[0],
        servo=elb.Servo(angle=(min(y) - 1, max(y) + 1), pulse_us=(600, 2400)), timer=TIMER,
        transmission={"kind": "curve", "rule": rule, "knots": [list(knot) for knot in zip(x, y, strict=True)]},
    )  # fmt: skip
    span = max(y) - min(y)
    np.testing.assert_allclose(joint.drive(case["data"]["x_query"]), case["expected"][method], atol=1e-12 * span, rtol=0)
    np.testing.assert_array_equal(joint.drive(x), y)


def test_from_limits_to_a_joint_with_a_curve() -> None:
    """Aircraft 1, left, all 17 readings, two of them on the stop: the curve ends there, and the joint follows it."""
    x, y = elevon("1", "left", clear=False)
    limits = elb.fit_limits(x, y, guard=20)
    between = limits.between_stops()
    drive, measured = between["drive"], between["measured"]
    assert between["approach"] is None
    assert limits.lower.kind != "clear" and drive.min() > 1109 and len(drive) == len(measured) in (14, 15, 16)
    fit = elb.fit_curve(drive, measured)
    joint = elb.Joint("elevon", rest=0, servo=SERVO, timer=TIMER, **fit.joint_fields())
    assert joint.command_range == fit.command_range == (fit.knots[0][1], fit.knots[-1][1])
    assert joint.transmission["kind"] == "curve" and not joint.inverted
    left = joint.command_from_drive(drive) - measured
    assert np.sqrt((left**2).sum() / fit.dof) < 1.05 * fit.residual_sd
    # Taken over by a joint that is there, its commands a share of the way.
    plain = elb.Joint("elevon", command=(0, 1), drive=(1150, 1900), rest=0.5, servo=SERVO, timer=TIMER)
    bent = fit.apply_to(plain, command=(0, 1))
    low, high = fit.command_range
    np.testing.assert_allclose(bent.command_from_drive(drive) * (high - low) + low, fit.expected(drive), atol=0.5 * fit.residual_sd)
    assert bent.travel == (1209.0, min(1900.0, fit.knots[-1][0])) and bent.rest == 0.5
    assert limits.apply_to(bent).travel[0] >= bent.travel[0]
    with pytest.raises(elb.JointError) as caught:
        fit.apply_to(plain, command=(2, 3))
    assert caught.value.code == "rest-outside"
    assert fit.apply_to(plain, command=(2, 3), rest=2.5).rest == 2.5
    with pytest.raises(elb.FitError):
        fit.joint_fields(command=(3, 2))
    with pytest.raises(elb.ArgumentTypeError, match="joint is of type int"):
        fit.apply_to(3)  # type: ignore[arg-type]


def test_falling_readings_make_an_inverted_joint() -> None:
    x, y = elevon("1", "right")
    fields = elb.fit_curve(x, y).joint_fields(command=np.array([-30.0, 30.0]))
    assert fields["inverted"] and fields["command"] == (-30.0, 30.0)
    joint = elb.Joint("elevon", rest=0, servo=SERVO, timer=TIMER, **fields)
    assert joint.drive(-30) > joint.drive(30)


def invented(kind: str) -> tuple[Any, Any, dict[str, Any], list[str]]:
    """A mechanism's readings with a wobble, and what a ruler might say of it."""
    true, guess, ends, wobble = {
        "triangle": ({"base": 40.0, "arm": 92.0, "angle_at_zero": 31.0}, {"angle_at_zero": 24.0}, (0, 95), 0.2),
        "spool": ({"drum": 8.0, "per_turn": 1.5, "pulley": 20.0}, {"per_turn": 0.2}, (0, 180), 0.3),
    }[kind]
    true = {"kind": kind, **true}
    joint = elb.Joint(
        "true", command=ends, drive=(10, 150), rest=ends[0], transmission=true, timer=TIMER,
        servo=elb.Servo(angle=(0, 180), pulse_us=(600, 2400)),
    )  # fmt: skip
    command = np.linspace(*ends, 30)
    i = np.arange(30)
    return joint.drive(command), command + wobble * (np.cos(5 * i) + np.sin(3.3 * i * i)) / 1.5, true | guess, list(guess)


@pytest.mark.parametrize("kind", ["triangle", "spool"])
def test_a_mechanism_becomes_a_joint(kind: str) -> None:
    drive, measured, start, free = invented(kind)
    choice = elb.choose_transmission(drive, measured, guesses=[(start, free)])
    assert choice.chosen.kind == kind and [r.kind for r in choice.reasons] == ["bent", "explained"]
    fit = choice.chosen.fit
    assert isinstance(fit, elb.LinkageFit) and fit == elb.fit_linkage(drive, measured, start, free=free)
    assert fit.transmission == {d.name: d.value for d in fit.dimensions} | {"kind": kind}
    low, high = fit.command_range
    joint = elb.Joint("neck", rest=low, servo=elb.Servo(angle=(0, 180), pulse_us=(600, 2400)), timer=TIMER, **fit.joint_fields())
    assert joint.transmission == fit.transmission and joint.command_range == (low, high)
    inside = np.linspace(low, high, 7)
    np.testing.assert_allclose(joint.drive(inside), fit.drive_at(inside), atol=1e-9)
    np.testing.assert_allclose(fit.expected(fit.drive_at(inside)), inside, atol=1e-9)
    given = worked_example(command=(0, 180), drive=(5, 170))
    bent = choice.apply_to(given, command=(10, 80), rest=20)
    assert bent == fit.apply_to(given, command=(10, 80), rest=20)
    assert bent.drive(40.0) == pytest.approx(fit.drive_at(40.0), abs=2e-4)
    assert bent.travel == bent.drive_range and bent.servo == given.servo


def test_a_straight_joint_stays_straight() -> None:
    x = np.arange(5.0, 80.0, 2.5)
    choice = elb.choose_transmission(x, 3 + 0.5 * x + 0.2 * np.cos(9 * x))
    assert choice.chosen.kind == "linear" and choice.reasons[0].kind == "enough"
    np.testing.assert_allclose(choice.chosen.expected(x), 3 + 0.5 * x, atol=0.3)
    joint = worked_example()
    assert choice.apply_to(joint) == joint
    assert choice.apply_to(joint, command=(5, 42), rest=7) == joint.replace(command=(5, 42), rest=7)


def things() -> list[Any]:
    drive, measured, start, free = invented("triangle")
    far = {"kind": "slider-crank", "crank": 1, "rod": 2, "offset": 0, "slide_at_zero": 0, "branch": "right"}
    choice = elb.choose_transmission(drive, measured, guesses=iter([(start, iter(free)), (far, ["rod"])]))
    return [elb.fit_curve(drive, measured, most_knots=4), choice.chosen.fit, choice, *choice.candidates, *choice.reasons]


@pytest.mark.parametrize("thing", things(), ids=lambda thing: type(thing).__name__)
def test_equal_copies(thing: Any) -> None:
    for other in (copy.copy(thing), copy.deepcopy(thing), pickle.loads(pickle.dumps(thing))):
        assert type(other) is type(thing) and other == thing and hash(other) == hash(thing) and repr(other) == repr(thing)
        # A copy works on.
        if hasattr(thing, "expected") and getattr(thing, "fit", thing) is not None:
            assert other.expected(50.0) == thing.expected(50.0)
        assert getattr(other, "drive", ()) == getattr(thing, "drive", ())
    for name in [n for n in dir(thing) if not n.startswith("_")]:
        with pytest.raises(AttributeError):
            setattr(thing, name, 1)
    assert thing != 3 and type(thing).__module__ == "elbowroom" and len(repr(thing)) < 300
    if hasattr(thing, "to_json"):
        assert type(thing).from_json(thing.to_json()) == thing


def test_a_candidate_that_was_refused_expects_nothing() -> None:
    refused = things()[-len(things()) + 6]
    assert refused.fit is None and "reach" in refused.refused and refused.residual_sd is None
    assert np.isnan(refused.expected([1.0, 2.0])).tolist() == [True, True] and np.isnan(refused.expected(1.0))


def test_arrays_of_any_kind_are_read_alike() -> None:
    drive, measured, start, free = invented("triangle")
    curve, link = elb.fit_curve(drive, measured), elb.fit_linkage(drive, measured, start, free=free)
    for make in (list, tuple, pd.Series, pl.Series, lambda x: np.stack([x, x])[0], lambda x: np.repeat(x, 2)[::2]):
        assert elb.fit_curve(make(drive), make(measured)) == curve
        assert elb.fit_linkage(make(drive), make(measured), start, free=tuple(free)) == link
        assert elb.choose_transmission(make(drive), make(measured)).candidates[1].fit == curve
    for fit in (curve, link):
        at = np.linspace(20, 140, 12).reshape(3, 4)
        for x in (at, at.T, at[:, ::-2], at.tolist(), at[:0], at.astype("f4")):
            found = fit.expected(x)
            assert found.shape == np.shape(x) and found.ravel().tolist() == [fit.expected(float(v)) for v in np.asarray(x).flat]
        assert np.isnan(fit.expected([float("nan"), 50.0])).tolist() == [True, False]
        with pytest.raises(elb.ArgumentTypeError, match="drive"):
            fit.expected(None)


def test_refusals() -> None:
    x, y = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0], [1.0, 2.1, 2.9, 4.2, 5.0, 6.1]
    spool: dict[str, Any] = {"kind": "spool", "drum": 9.0, "per_turn": 0.0, "pulley": 30.0}

    def refused(code: str, says: str, call: Any, *args: Any, **more: Any) -> elb.ElbowroomError:
        with pytest.raises(elb.ElbowroomError) as caught:
            call(*args, **more)
        assert isinstance(caught.value, ValueError)
        assert caught.value.code == code and says in str(caught.value), (caught.value.code, str(caught.value))
        return caught.value

    for call in (elb.fit_curve, elb.choose_transmission, lambda x, y: elb.fit_linkage(x, y, spool)):
        assert refused("not-finite", "index 1", call, x, [1.0, float("nan"), 3.0, 4.0, 5.0, 6.0]).index == 1
        refused("length-mismatch", "measured", call, x, y[:5])
        refused("wrong-type", "drive is a string", call, "abc", y)
        refused("wrong-type", "measured is None", call, x, None)
        refused("length-mismatch", "one column", call, [x], [y])
        refused("too-few-readings", "2 readings", call, x[:2], y[:2])
    refused("no-motion", "does not follow", elb.fit_curve, x, [1.0] * 6)
    for most in (1, 13):
        assert refused("option-outside", "most_knots", elb.fit_curve, x, y, most_knots=most).value == most
    refused("wrong-type", "most_knots is of type float", elb.fit_curve, x, y, most_knots=4.0)
    refused("option-outside", "most_knots", elb.choose_transmission, x, y, most_knots=-1)
    refused("wrong-type", "start is a string, 'spool'; give a dict", elb.fit_linkage, x, y, "spool")
    refused("unknown-key", 'start: unknown key "brass"', elb.fit_linkage, x, y, spool | {"brass": 1})
    refused("not-positive", "drum is -9", elb.fit_linkage, x, y, spool | {"drum": -9.0})
    refused("option-outside", "start is of kind linear, which has no dimensions", elb.fit_linkage, x, y, {"kind": "linear"})
    refused("option-outside", "no dimension of a spool; give some of drum", elb.fit_linkage, x, y, spool, free=["rod"])
    refused("option-outside", "at most once", elb.fit_linkage, x, y, spool, free=["per_turn", "per_turn"])
    refused("wrong-type", "free is one string", elb.fit_linkage, x, y, spool, free="per_turn")
    refused("wrong-type", "free is of type int", elb.fit_linkage, x, y, spool, free=3)
    refused("wrong-type", "free is of type int", elb.fit_linkage, x, y, spool, free=[3])
    refused("no-agreement", "do not determine", elb.fit_linkage, x, y, spool, free=["drum", "per_turn"])
    far = {"kind": "slider-crank", "crank": 1, "rod": 2, "offset": 0, "slide_at_zero": 0, "branch": "right"}
    refused("wrong-type", "guesses holds of type dict", elb.choose_transmission, x, y, guesses=[spool])
    refused("wrong-type", "guesses holds of type int", elb.choose_transmission, x, y, guesses=3)
    refused("option-outside", "guesses[0] names", elb.choose_transmission, x, y, guesses=[(spool, ["rod"])])
    drive, measured, start, free = invented("triangle")
    fit = elb.fit_linkage(drive, measured, start, free=free)
    assert refused("transmission-invalid", "dead centre", fit.joint_fields, command=(0, 170)).value == (0, 170)
    out_of_reach = refused("transmission-invalid", "cannot reach", elb.fit_linkage, x, y, far)
    assert (out_of_reach.index, out_of_reach.value) == (3, y[3])
    near = {"kind": "triangle", "base": 40.0, "arm": 92.0, "angle_at_zero": 31.0}
    servo = elb.Servo(angle=(0, 180), pulse_us=(500, 2500))
    plain = elb.Joint("neck", command=(0, 95), drive=(37, 122), rest=0, servo=servo, timer=TIMER, transmission=near)
    for changes, says, value in (
        ({"command": (0, 148.5)}, "0.5 from the dead centre at 149", 148.5),
        ({"command": (0, 150)}, "through the dead centre", (0, 150)),
        ({"transmission": near | {"arm": -1}}, "arm is -1", -1),
        ({"feedback": {"reading": [5, 5000], "angle": [0, 95], "adc_bits": 10}}, "5000", 5000),
        ({"feedback": {"reading": [300, 3372], "angle": [0, 90], "adc_bits": 12, "wrap_deg": 360}}, "wraps around", (300, 3372)),
    ):
        with pytest.raises(elb.JointError, match=says) as caught:
            plain.replace(**changes)
        assert caught.value.value == value
    refused("option-outside", "command", fit.joint_fields, command=(5, 5))
    refused("wrong-type", "command is one number only", fit.joint_fields, command=(5,))


def test_the_interpreter_is_free_while_a_fit_runs() -> None:
    """Fits in threads give what they give alone."""
    from concurrent.futures import ThreadPoolExecutor

    drive, measured, start, free = invented("spool")
    alone = elb.choose_transmission(drive, measured, guesses=[(start, free)])
    with ThreadPoolExecutor(4) as pool:
        for found in pool.map(lambda _: elb.choose_transmission(drive, measured, guesses=[(start, free)]), range(16)):
            assert found == alone


def test_a_dead_centre_is_told_from_a_stop() -> None:
    """A crank near its dead centre levels the slide as a stop does; invented."""
    drive = np.arange(10.0, 170.0, 4.0)
    crank = np.radians(drive - 5)
    slide = 20 * np.cos(crank) + np.sqrt(45**2 - (20 * np.sin(crank) - 2) ** 2)
    wobble = 0.05 * ((np.arange(len(drive)) * 7) % 5 - 2)
    start = {"kind": "slider-crank", "crank": 20.0, "rod": 45.0, "offset": 2.0, "slide_at_zero": 0.5, "branch": "right"}
    for stop, explained in ((np.inf, True), (60.0, False)):
        limits = elb.fit_limits(drive, np.minimum(slide, stop) + wobble)
        assert limits.lower.kind == ("clear" if explained else "contact")
        between = limits.between_stops()
        moving = between["drive"] >= 30
        fit = elb.fit_linkage(between["drive"][moving], between["measured"][moving], start, free=["slide_at_zero"])
        assert fit.explains_stops(limits) == (False, False)
        # A limit fit that takes it for a stop.
        record = json.loads(limits.to_json())
        record["lower"] |= {"kind": "contact", "at": max(30.0, limits.lower.at)}
        taken = elb.LimitFit.from_json(json.dumps(record), drive=limits.drive, measured=limits.measured)
        assert fit.explains_stops(taken) == (explained, False)
        without = elb.LimitFit.from_json(limits.to_json())
        assert fit.explains_stops(without) == (False, False)


def two_sided(lost: float) -> tuple[Any, Any, list[str]]:
    """A bent joint read upward and downward, invented: reached from above it stands higher by `lost`."""
    drive = np.concatenate([np.arange(20.0, 120.0, 5.0), np.arange(115.0, 15.0, -5.0)])
    side = ["below"] * 20 + ["above"] * 20
    wobble = 0.03 * ((np.arange(40) * 7) % 5 - 2)
    return drive, 0.3 * drive + 0.002 * drive**2 - 0.5 * lost * np.repeat([1.0, -1.0], 20) + wobble, side


def test_lost_motion_does_not_count_as_scatter() -> None:
    drive, measured, side = two_sided(0.5)
    plain, fit = elb.fit_curve(drive, measured), elb.fit_curve(drive, measured, approach=side)
    assert plain.residual_sd > 0.2 and fit.residual_sd < 0.06
    assert fit.dof == 40 - len(fit.knots) - 1 and fit.approach == tuple(side)
    lost = fit.lost_motion
    assert lost.value is not None and lost.u is not None and abs(lost.value - 0.5) < 4 * lost.u
    assert lost.reversal == -lost.value and plain.lost_motion.reason is not None
    assert (plain.by_side.drive, plain.by_side.measured) == (0.0, 0.0)
    assert (fit.by_side.drive == 0) != (fit.by_side.measured == 0)
    # One side alone, or none, changes nothing.
    for column in (["below"] * 40, [None] * 40, [""] * 40):
        same = elb.fit_curve(drive, measured, approach=column)
        assert json.loads(same.to_json()) | {"lost_motion": json.loads(plain.to_json())["lost_motion"]} == json.loads(plain.to_json())
    # From the limits to the choice, with the sides.
    limits = elb.fit_limits(drive, measured, approach=side)
    between = limits.between_stops()
    assert between["approach"] == side
    choice = elb.choose_transmission(**between)
    assert choice.chosen.kind == "curve" and choice.chosen.fit == fit and choice.chosen.lost_motion == lost
    line = choice.candidates[0]
    assert line.parameters == 3 and line.lost_motion.value is not None and line.by_side.drive == 0
    with pytest.raises(elb.FitError, match="approach"):
        elb.fit_curve(drive, measured, approach=side[:3])
    with pytest.raises(elb.ArgumentTypeError, match="approach"):
        elb.fit_curve(drive, measured, approach=["left"] * 40)


def test_a_branch_that_fits_as_well_is_said() -> None:
    """A slider-crank slightly out of line; invented."""
    crank = np.radians(np.arange(20.0, 110.0, 3.0))
    place = 20 * np.cos(crank) + np.sqrt(45**2 - (20 * np.sin(crank) - 2) ** 2)
    wobble = 0.1 * ((np.arange(len(crank)) * 7) % 5 - 2)
    for guess in ("left", "right"):
        start = {"kind": "slider-crank", "crank": 20.0, "rod": 44.0, "offset": 2.0, "slide_at_zero": 0.0, "branch": guess}
        drive = np.degrees(crank)
        fit = elb.fit_linkage(drive, place + wobble, start, free=["rod"])
        other = fit.other_branch
        assert other is not None and {fit.branch, other.branch} == {"left", "right"} and other.apart > 0
        assert "look at the joint" in str(other) and other.fitted_sd == fit.residual_sd
        assert elb.LinkageFit.from_json(fit.to_json()).other_branch == other
        assert fit.joint_fields()["transmission"]["branch"] == guess
        choice = elb.choose_transmission(drive, place + wobble, guesses=[(start, ["rod"])])
        said = [reason for reason in choice.reasons if reason.kind == "other-branch"]
        assert choice.candidates[2].fit == fit and len(said) == (choice.chosen.kind == "slider-crank")


def test_a_chosen_line_gives_a_joint_its_fields() -> None:
    drive = [120.0, 40, 60, 80, 100]
    for sign in (1, -1):
        measured = [sign * value for value in (57.0, -36.1, -13.0, 10.2, 33.9)]
        choice = elb.choose_transmission(drive, measured)
        assert isinstance(choice.chosen.fit, elb.LineFit)
        fields = choice.joint_fields()
        assert fields == choice.chosen.fit.joint_fields(drive=(40, 120)) and fields["inverted"] is (sign < 0)
        joint = elb.Joint("wing", rest=0, servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)), timer=TIMER, **fields)
        line = choice.chosen.fit
        for x in (40.0, 75.0, 120.0):
            assert joint.drive(line.intercept + line.slope * x) == pytest.approx(x, abs=1e-9)
        assert choice.joint_fields(command=(0, 1))["command"] == (0.0, 1.0)
    with pytest.raises(elb.FitError, match="drive upper"):
        choice.chosen.fit.joint_fields(drive=(120, 40))


def test_a_chosen_curve_gives_the_same_fields_by_itself() -> None:
    choice = elb.choose_transmission([10, 30, 50, 70, 90, 110], [0.0, 9.1, 20.8, 35.2, 52.0, 71.3])
    assert isinstance(choice.chosen.fit, elb.CurveFit)
    assert choice.joint_fields() == choice.chosen.fit.joint_fields()
