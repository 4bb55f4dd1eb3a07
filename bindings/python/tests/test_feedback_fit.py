"""Feedback maps from measured points: against numpy, and in a joint."""

from __future__ import annotations

import json
import pickle
from typing import Any

import numpy as np
import pytest
from conftest import data

import elbowroom as elb

SERVO = elb.Servo(angle=(0, 180), pulse_us=(500, 2500))
TIMER = elb.Timer(frame_hz=50, counts_per_frame=4096)


def neck(**more: Any) -> elb.Joint:
    return elb.Joint("neck", command=(0, 90), drive=(20, 130), rest=0, servo=SERVO, timer=TIMER, **more)


def loaded(angle: Any) -> Any:
    """What 10 bits read of a potentiometer of 10 kilohm over 200 deg through 15 kilohm: the textbook's divider."""
    part = (np.asarray(angle) + 30) / 200
    return np.round(1024 * part / (1 + 10 / 15 * part * (1 - part)))


def test_a_published_calibration_is_straight_with_numpys_line() -> None:
    """NIST's Norris set: an ozone monitor held against a customer's."""
    columns = json.loads(data("line", "strd_norris.json").read_text())["data"]
    x, y = np.array(columns["x"]), np.array(columns["y"])
    fit = elb.fit_feedback(x, y)
    slope, intercept = np.polyfit(x, y, 1)
    assert len(fit.knots) == 2 and fit.dof == len(x) - 2 and fit.residual_sd == fit.straight_sd
    assert fit.expected(x) == pytest.approx(intercept + slope * x, rel=1e-9)
    assert fit.residual_sd == pytest.approx(0.884796396144373, rel=1e-9)  # certified
    feedback = fit.feedback(angle=(100, 900))
    assert feedback == {"reading": pytest.approx([(a - intercept) / slope for a in (100, 900)], rel=1e-9), "angle": [100, 900], "inverted": False}


@pytest.mark.parametrize("falling", [False, True])
def test_a_loaded_potentiometer_becomes_the_joints_feedback(falling: bool) -> None:
    angle = np.arange(-10.0, 101.0, 2.0)
    reading = loaded(90 - angle if falling else angle)
    fit = elb.fit_feedback(reading, angle)
    assert 2 < len(fit.knots) < 8 and fit.straight_sd > 3 * fit.residual_sd
    joint = fit.apply_to(neck(), adc_bits=10)
    assert joint == neck(feedback=joint.feedback) and joint.feedback is not None
    assert joint.feedback["inverted"] is falling and joint.feedback["angle"] == [0, 90] and joint.feedback["adc_bits"] == 10
    inside = angle[(angle >= 0) & (angle <= 90)]
    read = loaded(90 - inside if falling else inside)
    assert joint.angle_from_reading(read) == pytest.approx(inside, abs=0.4)
    assert joint.angle_from_reading(read) == pytest.approx(fit.expected(read), abs=0.5 * fit.residual_sd + 0.02)
    # What the joint knew of its sensor stays, but for the load, which the map holds now.
    known = neck(feedback={"reading": [0, 1000], "angle": [0, 90], "adc_bits": 10, "pot_ohm": 1e4, "load_ohm": 1e5, "supply_v": 5.0})
    told = fit.apply_to(known, angle=(10, 70)).feedback
    assert told is not None and told["supply_v"] == 5.0 and told["adc_bits"] == 10 and "pot_ohm" not in told and told["angle"] == [10, 70]


def test_records_and_refusals() -> None:
    angle = np.arange(-10.0, 101.0, 2.0)
    fit = elb.fit_feedback(loaded(angle), angle)
    again = pickle.loads(pickle.dumps(fit))
    assert again == fit == elb.FeedbackFit.from_json(fit.to_json()) and (again.reading, again.angle) == (fit.reading, fit.angle)
    assert elb.FeedbackFit.from_json(json.dumps(json.loads(fit.to_json()) | {"dof": 1})) != fit
    with pytest.raises(elb.ElbowroomError, match="not a record of a fit"):
        elb.FeedbackFit.from_json(json.dumps(json.loads(fit.to_json()) | {"knots": [[1.0, 2.0]]}))
    assert fit.expected(float("nan")) != fit.expected(float("nan"))
    assert fit.expected([[300, 400]]).shape == (1, 2)

    def refused(code: str, says: str, call: Any, *args: Any, **more: Any) -> elb.ElbowroomError:
        with pytest.raises(elb.ElbowroomError) as caught:
            call(*args, **more)
        assert caught.value.code == code and says in str(caught.value), str(caught.value)
        return caught.value

    x = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
    assert refused("not-finite", "reading at index 1", elb.fit_feedback, [1.0, np.nan, *x[2:]], x).index == 1
    refused("not-finite", "angle at index 1", elb.fit_feedback, x, [1.0, np.nan, *x[2:]])
    refused("length-mismatch", "angle", elb.fit_feedback, x, x[:4])
    refused("no-motion", "the sensor reads 500 to 500 while the joint goes from 1 to 6 deg", elb.fit_feedback, [500] * 6, x)
    refused("wrong-type", "reading is a string", elb.fit_feedback, "abc", x)
    refused("option-outside", "most_knots", elb.fit_feedback, x, x, most_knots=1)
    refused("option-outside", "angle upper", fit.feedback, angle=(5, 5))
    refused("wrong-type", "angle is one number only", fit.feedback, angle=(5,))
    refused("wrong-type", "adc_bits", fit.feedback, adc_bits=10.5)
    refused("feedback-invalid", "the range of 9 bits", fit.apply_to, neck(), adc_bits=9)
    for wrong in (0, 25, 300):
        assert refused("option-outside", f"adc_bits is {wrong}; it must be 1 to 24", fit.apply_to, neck(), adc_bits=wrong).value == wrong
        refused("option-outside", f"adc_bits is {wrong}", fit.feedback, adc_bits=wrong)


def test_a_reading_far_off_the_map_is_left_out_and_told() -> None:
    """A reading typed 90 too high; invented."""
    angle = np.arange(-10.0, 101.0, 2.0)
    reading = np.asarray(loaded(angle), float).copy()
    assert elb.fit_feedback(reading, angle).warnings == ()
    reading[20] += 90
    fit = elb.fit_feedback(reading, angle)
    assert len(fit.warnings) == 1 and fit.warnings[0].startswith("index 20: sensor reading ")
    assert fit.left_out == (20,) and "is left out; repeat it" in fit.warnings[0] and ", 1 warning>" in repr(fit)
    without = elb.fit_feedback(np.delete(reading, 20), np.delete(angle, 20))
    assert (fit.knots, fit.dof, without.left_out) == (without.knots, without.dof, ())
    again = pickle.loads(pickle.dumps(fit))
    assert (again.warnings, again.left_out) == (fit.warnings, fit.left_out)


def test_tables_that_are_wrong_as_a_whole_are_told() -> None:
    """A sensor that ends at 690, one that was set again half-way, and one wrong row of five; invented."""
    angle = np.arange(0.0, 100.0, 10.0)
    clipped = elb.fit_feedback(np.minimum(200 + 7 * angle, 690), angle)
    assert clipped.left_out == (7, 8, 9) and clipped.warnings[0].startswith("3 readings from 70 to 90 deg stay near 690")
    assert elb.FeedbackFit.from_json(clipped.to_json()).warnings == clipped.warnings
    anew = elb.fit_feedback(np.r_[200 + 7 * angle, 235 + 7 * angle], np.r_[angle, angle])
    assert anew.warnings[0].startswith("from reading 11 on the sensor shows angles ")
    few = elb.fit_feedback([200, 270, 380, 410, 480], [0, 10, 20, 30, 40])
    assert few.warnings[0].startswith("residual SD ") and ", 1 warning>" in repr(few)
