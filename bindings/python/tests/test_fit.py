"""Fits from Python: real recordings, refusals, frozen results, and many at once."""

from __future__ import annotations

import copy
import io
import json
import pickle
import subprocess
import sys
import timeit
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pandas as pd
import polars as pl
import pytest
from conftest import data, worked_example

import elbowroom as elb


def sweep(lower: float = 12, upper: float = 78, noise: float = 0.1, seed: int = 1) -> dict[str, Any]:
    """Invented: a sweep up and down over both stops, with 1 deg of lost motion and two misreadings."""
    rng = np.random.default_rng(seed)
    drive = np.concatenate([np.arange(0, 91, 3.0), np.arange(90, -1, -3.0)])
    side = np.where(np.arange(len(drive)) < 31, 1, -1)
    measured = 5 + 1.1 * np.clip(drive, lower, upper) - 0.55 * side + rng.normal(0, noise, len(drive))
    measured[[10, 40]] += [9, -7]
    return {"drive": drive, "measured": measured, "approach": ["below" if s > 0 else "above" for s in side]}


FIT = elb.fit_limits(**sweep(), resolution=0.1)


def test_what_a_fit_says() -> None:
    assert (FIT.lower.kind, FIT.upper.kind) == ("contact", "contact")
    assert FIT.lower.at == pytest.approx(12, abs=0.3) and FIT.upper.at == pytest.approx(78, abs=0.3)
    assert FIT.lower.interval is not None and FIT.lower.interval[0] < FIT.lower.at < FIT.lower.interval[1]
    assert FIT.travel is not None and 14 < FIT.travel[0] < 15 and 75 < FIT.travel[1] < 76.1
    assert {one.index for one in FIT.rejected} >= {10, 40}
    assert FIT.lost_motion.value == pytest.approx(1.1, abs=0.15) and FIT.lost_motion.reason is None
    assert (FIT.sense.trend, FIT.readings, FIT.confidence) == ("rising", 62, 0.95)
    assert FIT.slope == pytest.approx(1.1, abs=5 * FIT.u_slope)
    assert FIT.apply_to(worked_example()).travel == pytest.approx(FIT.travel, abs=1e-3)
    x = np.array([[0.0, 45.0], [90.0, np.nan]])
    found = FIT.expected(x)
    assert found.shape == (2, 2) and np.isnan(found[1, 1]) and FIT.expected(45) == found[0, 1]


def test_fits_are_frozen_records() -> None:
    for other in (elb.LimitFit.from_json(FIT.to_json()), copy.copy(FIT), copy.deepcopy(FIT), pickle.loads(pickle.dumps(FIT))):
        assert other == FIT and hash(other) == hash(FIT) and repr(other) == repr(FIT)
        assert other.expected(45) == FIT.expected(45)
    again = pickle.loads(pickle.dumps(FIT))
    assert (again.drive, again.measured, again.approach) == (FIT.drive, FIT.measured, FIT.approach)
    assert len(repr(FIT)) < 130 and repr(FIT).startswith("<LimitFit: lower contact at 1")
    for text, says in (("{}", "missing field"), (FIT.to_json().replace('"contact"', '"touched"'), "unknown variant"), (3, "text is of type int")):
        with pytest.raises(elb.ArgumentTypeError, match=says):
            elb.LimitFit.from_json(text)  # type: ignore[arg-type]
    with pytest.raises(AttributeError):
        FIT.slope = 3  # type: ignore[misc]
    assert elb.fit_limits(**sweep(seed=2)) != FIT


def test_results_that_say_what_was_not_asked() -> None:
    """The grid of the values, the sides from the order of the rows, the slip behind a misreading, what to read next."""
    drive = np.arange(0.0, 91.0, 3.0)
    measured = np.round(5 + 1.1 * np.clip(drive, 12, 78), 1)
    measured[20] = -measured[20]
    fit = elb.fit_limits(drive, measured)
    assert fit.resolution == pytest.approx(0.1) and fit.resolution_inferred
    (left_out,) = fit.rejected
    assert (left_out.index, left_out.cause, left_out.reason) == (20, "sign", "off-the-line")
    advice = fit.advice
    assert advice is not None and advice.side in ("lower", "upper") and advice.readings
    assert all(0 <= one.drive <= 90 and one.approach in ("below", "above", None) for one in advice.readings)
    assert advice.u_before is None or (advice.u_after is not None and advice.u_after < advice.u_before)
    assert "sign" in fit._repr_html_() and fit._repr_html_().count("<table>") == 2 + bool(fit.warnings)
    given = elb.fit_limits(**sweep(), resolution=0.1)
    assert given.resolution == 0.1 and not given.resolution_inferred and not given.approach_inferred
    s = sweep(noise=0.02)
    inferred = elb.fit_limits(s["drive"], s["measured"])
    assert given.one_way is None
    rising = elb.fit_limits(drive, measured[::-1])
    assert (fit.one_way, rising.one_way) == ("below", "below")
    assert elb.fit_limits(drive[::-1], measured).one_way == "above"
    assert elb.fit_limits(drive, measured, approach=["above"] * len(drive)).one_way == "above"
    assert inferred.approach_inferred == (inferred.lost_motion.value is not None)


def test_the_words_are_those_of_the_core() -> None:
    """Every word of a type is read back by the core, and no other is."""
    from elbowroom import _types

    record = json.loads(FIT.to_json())
    for alias, put in (
        (_types.EndKind, lambda word: record | {"lower": record["lower"] | {"kind": word}}),
        (_types.Trend, lambda word: record | {"sense": record["sense"] | {"trend": word}}),
        (_types.NoLostMotion, lambda word: record | {"lost_motion": {"status": "not-determinable", "reason": word}}),
        (_types.RejectReason, lambda word: record | {"rejected": [record["rejected"][0] | {"reason": word}]}),
        (_types.Slip, lambda word: record | {"rejected": [record["rejected"][0] | {"cause": word}]}),
    ):
        words = [word for one in get_args(alias) for word in get_args(one)]
        assert len(words) > 1
        for word in words:
            fit = elb.LimitFit.from_json(json.dumps(put(word)))
            assert json.loads(fit.to_json()) == put(word)
            assert repr(word) in repr((fit.lower, fit.sense, fit.lost_motion, fit.rejected))
        with pytest.raises(elb.ArgumentTypeError, match=" *(or|,) *".join(f"`{word}`" for word in words)):
            elb.LimitFit.from_json(json.dumps(put("other")))


def test_a_method_costs_the_same_at_any_number_of_readings() -> None:
    """No method writes the readings out and reads them in again."""
    drive = np.linspace(0, 90, 1000)
    many = elb.fit_limits(drive, 5 + 1.1 * np.clip(drive, 12, 78) + 0.1 * np.cos(7.0 * np.arange(1000)))
    took = min(timeit.repeat(lambda: many.expected(45.0), number=1000, repeat=7)) / 1000
    assert took < 2e-6


def test_the_same_readings_in_any_form() -> None:
    s = sweep()
    lists = elb.fit_limits(s["drive"].tolist(), s["measured"].tolist(), approach=s["approach"], resolution=0.1)
    frame = pd.DataFrame(s)
    series = elb.fit_limits(frame.drive, frame.measured, approach=frame.approach, resolution=0.1)
    polar = pl.DataFrame(s)
    columns = elb.fit_limits(polar["drive"], polar["measured"], approach=polar["approach"], resolution=0.1)
    strided = elb.fit_limits(np.repeat(s["drive"], 2)[::2], s["measured"], approach=tuple(s["approach"]), resolution=0.1)
    assert lists == series == columns == strided == FIT


def test_gaps_in_approach_and_contact() -> None:
    s = sweep()
    gaps = list(s["approach"])
    gaps[3] = None
    elb.fit_limits(s["drive"], s["measured"], approach=gaps)
    elb.fit_limits(s["drive"], s["measured"], approach=pd.Series(gaps))
    unknown = elb.fit_limits(s["drive"], s["measured"], approach=[None] * 62)
    assert unknown.lost_motion.value is None and unknown.lost_motion.reason == "approach-unknown"
    assert "not determinable" in (unknown.lost_motion.sentence or "")
    marks: list[Any] = [None] * 62
    marks[0] = "lower"
    assert elb.fit_limits(s["drive"], s["measured"], contact=marks).lower.marked
    elb.fit_limits(s["drive"], s["measured"], contact=np.arange(62) == 0)


REFUSED: list[tuple[Any, Any, dict[str, Any], str, int | None]] = [
    ([1, 2, 3], [1, 2], {}, "length-mismatch", None),
    ([], [], {}, "too-few-readings", None),
    ([1], [1], {}, "too-few-readings", None),
    ([5.0] * 9, np.arange(9.0), {}, "drive-angles-equal", None),
    (np.arange(9.0), [3.0] * 9, {}, "no-motion", None),
    ([1, 2, np.nan, 4], [1, 2, 3, 4], {}, "not-finite", 2),
    ([1, 2, 3, 4], [1, 2, 3, np.inf], {}, "not-finite", 3),
    (np.arange(9.0), np.arange(9.0), {"guard": -1}, "option-outside", None),
    (np.arange(9.0), np.arange(9.0), {"confidence": 1}, "option-outside", None),
    (np.arange(9.0), np.arange(9.0), {"resolution": np.nan}, "option-outside", None),
    (np.arange(9.0), np.arange(9.0), {"u": np.zeros(9)}, "not-positive", 0),
    (np.arange(9.0), np.arange(9.0), {"approach": ["below"]}, "length-mismatch", None),
]


@pytest.mark.parametrize(("drive", "measured", "options", "code", "index"), REFUSED)
def test_readings_that_cannot_be_fitted(drive: Any, measured: Any, options: dict[str, Any], code: str, index: int | None) -> None:
    with pytest.raises(elb.FitError) as caught:
        elb.fit_limits(drive, measured, **options)
    assert (caught.value.code, caught.value.index) == (code, index)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"drive": None}, "drive is None"),
        ({"measured": ["a"] * 62}, "measured[0] is a string"),
        ({"measured": np.zeros((62, 1))}, "measured has 2 dimensions"),
        ({"approach": "below"}, "one string"),
        ({"approach": ["left"] * 62}, "approach[0] is 'left'"),
        ({"approach": [1] * 62}, "approach[0] is 1"),
        ({"contact": ["left"] * 62}, "contact[0] is 'left'"),
        ({"guard": "2"}, "guard is a string"),
        ({"confidence": None}, "confidence"),
        ({"resolution": True}, "resolution is a bool"),
    ],
)
def test_arguments_that_are_no_readings(change: dict[str, Any], says: str) -> None:
    if change == {"confidence": None}:
        assert elb.fit_limits(**sweep(), confidence=None) == elb.fit_limits(**sweep())  # type: ignore[arg-type]
        return
    with pytest.raises(elb.ArgumentError) as caught:
        elb.fit_limits(**(sweep() | change))
    assert says in str(caught.value)


# Where tests/data/measured/README.md finds the ends by hand. What counts as placed is the core's to hold, in tests/fit_joints.rs:
# a stop that two readings show may be called stalled. Pulse widths.
STOP, OPEN = ("contact", "stalled"), ("clear", "stalled")
DEFLECTIONS: list[tuple[int, str, str, list[tuple[tuple[str, ...], float, float]]]] = [
    (1, "left", "rising", [(STOP, 1109, 1209), (OPEN, 1859, 1909)]),
    (1, "right", "falling", [(OPEN, 1209, 1209), (STOP, 1809, 1859)]),
    (2, "left", "rising", [(OPEN, 1176, 1176), (OPEN, 1724, 1724)]),  # one reading hints at a stop and places none
    (2, "right", "falling", [(OPEN, 1169, 1169), (OPEN, 1718, 1718)]),
]


@pytest.mark.parametrize(("aircraft", "side", "trend", "ends"), DEFLECTIONS)
def test_measured_deflections(aircraft: int, side: str, trend: str, ends: list[tuple[tuple[str, ...], float, float]]) -> None:
    """Andrew Barry, simflight (MIT): pulse width against angle at rest. A stop where the rows stand on one, none elsewhere."""
    table = pd.read_csv(data("measured", "elevon_deflection.csv"))
    part = table[(table.aircraft == aircraft) & (table.side == side)]
    text = io.StringIO(part.to_csv(index=False))
    columns = {"drive": "command_us", "measured": "deflection_deg"}
    with pytest.raises(elb.ArgumentError, match="the unit in the heading of the drive column is us; give servo="):
        elb.read_readings(text, columns=columns)
    text.seek(0)
    # A servo line whose angles are the pulse widths: the figures published are in us.
    readings = elb.read_readings(text, columns=columns, servo=elb.Servo(angle=(500, 2500), pulse_us=(500, 2500)))
    assert readings == {"drive": part.command_us.tolist(), "measured": part.deflection_deg.tolist()} and len(part) > 10
    fit = elb.fit_limits(**readings)
    assert fit == elb.fit_limits(part.command_us, part.deflection_deg)
    assert fit.sense.trend == trend and fit.lost_motion.value is None
    for end, (kinds, lower, upper) in zip((fit.lower, fit.upper), ends, strict=True):
        assert end.kind in kinds and lower <= end.at <= upper
        assert (end.level is None) == (end.kind != "contact") and (end.short_at is None) == (end.kind != "stalled")
    assert fit.travel is not None and min(readings["drive"]) <= fit.travel[0] < fit.travel[1] <= max(readings["drive"])


def test_times_tell_rest_from_motion(tmp_path: Path) -> None:
    """Half a second after each step is rest, and the sides follow from the times; a tenth of it is not."""
    s = sweep()
    at = np.arange(len(s["drive"]))
    rest = elb.fit_limits(s["drive"], s["measured"], time=0.5 * at, resolution=0.1)
    assert rest.lost_motion.drive == pytest.approx(FIT.lost_motion.drive, abs=0.05)
    with pytest.raises(elb.FitError, match="time at index 3 is not a number") as caught:
        elb.fit_limits(s["drive"], s["measured"], time=np.where(at == 3, np.nan, at))
    assert caught.value.index == 3
    half = slice(0, 31)
    with pytest.raises(elb.FitError, match="the drive moved at 60 drive units per second") as caught:
        elb.fit_limits(s["drive"][half], s["measured"][half], time=0.05 * at[half])
    assert caught.value.code == "in-motion" and caught.value.value == pytest.approx(60)
    frame = pd.DataFrame(s).assign(time=0.5 * at, robot="heron", joint="neck")
    assert elb.fit_many(frame, resolution=0.1)["heron", "neck"] == elb.fit_limits(**s, time=0.5 * at, resolution=0.1)
    frame[["drive", "measured", "time"]].to_csv(tmp_path / "log.csv", index=False)
    assert elb.fit_limits(**elb.read_readings(tmp_path / "log.csv"), resolution=0.1) == rest


@pytest.mark.parametrize("name", ["sin_sin", "sin_time_square", "up_and_down"])
def test_recordings_in_motion_are_refused(name: str) -> None:
    """Duclusaud et al. (ICRA 2025): a servo on its way, more than a thousand rows. Its lag is no lost motion, its stall no stop."""
    columns = {"drive": "goal_deg", "measured": "position_deg"}
    readings = elb.read_readings(data("measured", f"servo_in_motion_{name}.csv"), columns=columns)
    assert len(readings["drive"]) > 1000
    with pytest.raises(elb.FitError, match="measure at rest") as caught:
        elb.fit_limits(**readings)
    assert caught.value.code == "in-motion"


def test_every_measured_table_is_tested() -> None:
    """A table that comes in later must not lie there untested."""
    tables = {path.name for path in data("measured").rglob("*.csv")}
    assert tables == {"elevon_deflection.csv", *(f"servo_in_motion_{name}.csv" for name in ("sin_sin", "sin_time_square", "up_and_down"))}


def fleet() -> pd.DataFrame:
    parts = []
    for robot in ("heron-1", "heron-2", "heron-3"):
        for seed, joint in enumerate(("wing_left", "wing_right", "neck")):
            part = pd.DataFrame(sweep(lower=10 + seed, seed=seed))
            parts.append(part.assign(robot=robot, joint=joint, note="invented"))
    parts.append(pd.DataFrame({"robot": ["heron-3"] * 2, "joint": "crest", "drive": [1.0, 2.0], "measured": [1.0, 2.0], "approach": None}))
    return pd.concat(parts, ignore_index=True).sample(frac=1, random_state=3).reset_index(drop=True)


def test_many_fits() -> None:
    frame = fleet()
    calls: list[tuple[int, int, Any]] = []
    fits = elb.fit_many(frame, guard=1.0, progress=lambda *call: calls.append(call))
    assert len(fits) == 9 and list(fits.failed) == [("heron-3", "crest")]
    assert [done for done, _, _ in calls] == list(range(1, 11)) and {total for _, total, _ in calls} == {10}
    chosen = frame[(frame.robot == "heron-2") & (frame.joint == "neck")]
    assert fits["heron-2", "neck"] == elb.fit_limits(chosen.drive, chosen.measured, approach=chosen.approach, guard=1.0)
    table = fits.table()
    assert type(table) is pd.DataFrame and len(table) == 10
    assert table.set_index(["robot", "joint"]).loc[("heron-3", "crest"), "error"].startswith("2 readings are too few")
    lists = {name: [None if x != x else x for x in frame[name].tolist()] for name in frame}
    polar = elb.fit_many(pl.DataFrame(lists), guard=1.0, workers=4)
    assert dict(polar) == dict(fits) and type(polar.table()) is pl.DataFrame and polar.table().height == 10
    plain = elb.fit_many(lists, guard=1.0)
    assert dict(plain) == dict(fits) and type(plain.table()) is dict
    assert "9 fitted, 1 failed" in repr(fits)
    assert len(elb.fit_many(frame, by="joint")) == 3


@pytest.mark.parametrize("blank", [None, "", " ", float("nan"), pd.NA])
def test_a_joint_without_sides_among_others_is_fitted_as_alone(blank: Any) -> None:
    drive = [10.0, 20, 30, 40, 50, 60, 60, 50, 40, 30, 20, 10]
    measured = [9.1, 19.0, 29.1, 38.9, 49.0, 59.1, 61.0, 51.1, 40.9, 31.0, 21.1, 10.9]
    sides = ["up"] * 6 + ["down"] * 6 + [blank] * 12
    fits = elb.fit_many({"joint": ["neck"] * 12 + ["tail"] * 12, "drive": drive * 2, "measured": measured * 2, "approach": sides}, by="joint")
    assert fits["tail",] == elb.fit_limits(drive, measured) and fits["tail",].approach_inferred
    assert not fits["neck",].approach_inferred


def test_words_of_sides_are_those_of_tables() -> None:
    drive = [10.0, 20, 30, 40, 50, 60, 60, 50, 40, 30, 20, 10]
    measured = [9.1, 19.0, 29.1, 38.9, 49.0, 59.1, 61.0, 51.1, 40.9, 31.0, 21.1, 10.9]
    plain = elb.fit_limits(drive, measured, approach=["below"] * 6 + ["above"] * 6)
    for up, down in (("up", "down"), ("UP", "Down"), ("Below", " above ")):
        assert elb.fit_limits(drive, measured, approach=[up] * 6 + [down] * 6) == plain
    marked = elb.fit_limits(drive, measured, contact=["Lower", *[None] * 10, "none"])
    assert marked == elb.fit_limits(drive, measured, contact=["lower", *[None] * 11])
    with pytest.raises(elb.ArgumentTypeError, match=r"approach\[1\] is 'left'; give one of 'below', 'above', 'up', 'down', None") as caught:
        elb.fit_limits(drive, measured, approach=["up", "left"] + [None] * 10)
    assert caught.value.index == 1 and caught.value.value == "left"
    joints = {"joint": ["neck"] * 12 + ["tail"] * 12, "drive": drive * 2, "measured": measured * 2}
    fits = elb.fit_many({**joints, "approach": (["up"] * 6 + ["down"] * 6) + ["up"] * 11 + ["left"]}, by="joint")
    assert fits["neck",] == plain and list(fits.failed) == [("tail",)]
    assert "approach[11] is 'left'" in str(fits.failed["tail",])
    assert fits.table()["error"][1] == str(fits.failed["tail",])
    with pytest.raises(elb.ArgumentTypeError, match="guard"):
        elb.fit_many(joints, by="joint", guard="wide")


def test_many_fits_refuse() -> None:
    frame = fleet()
    for call, says in (
        (lambda: elb.fit_many(frame, drive=np.arange(5.0)), "drive is of type ndarray; give the name of a column"),
        (lambda: elb.fit_many(frame, measured=[1.0, 2.0]), "measured is of type list; give the name of a column"),
        (lambda: elb.fit_many(frame, by=("robot", np.arange(3))), "by is of type ndarray"),
        (lambda: elb.fit_many(drive=np.arange(5.0)), "frame is None; give a pandas or polars DataFrame"),
    ):
        with pytest.raises(elb.ArgumentTypeError, match=says):
            call()
    with pytest.raises(elb.ArgumentError, match="no column measurd; the nearest is measured"):
        elb.fit_many(frame, measured="measurd")
    with pytest.raises(elb.ArgumentTypeError, match="of type list"):
        elb.fit_many([1, 2])
    frame.loc[5, "robot"] = None
    with pytest.raises(elb.ArgumentError, match="column robot holds nothing in row 5, where a reading stands; write the joint's name") as gap:
        elb.fit_many(frame)
    assert (gap.value.code, gap.value.index) == ("missing-key", 5)
    # An empty text is a gap too, and a name in small letters none of its own.
    for name, says in (("", "holds nothing in row 5"), (" Heron-1", "beside \"heron-1\", .* did you mean heron-1?")):
        frame.loc[5, "robot"] = name
        with pytest.raises(elb.ArgumentError, match=says) as refused:
            elb.fit_many(frame)
        assert refused.value.index == 5
    with pytest.raises(elb.ArgumentError, match="workers is 0; give at least 1"):
        elb.fit_many(fleet(), workers=0)


def test_parts_of_a_fleet_add_up() -> None:
    frame = fleet()
    parts = [elb.fit_many(part) for _, part in frame.groupby("robot")]
    whole = parts[0] | parts[1] | parts[2]
    assert dict(whole) == dict(elb.fit_many(frame)) and list(whole.failed) == [("heron-3", "crest")]


def test_compare() -> None:
    same = elb.compare(FIT, elb.fit_limits(**sweep(seed=2), resolution=0.1))
    assert [d.kind for d in same.diagnoses] == ["unchanged"] and str(same) == "unchanged"
    s = sweep(seed=2)
    swapped = elb.compare(FIT, elb.fit_limits(s["drive"], 180 - s["measured"], approach=s["approach"]))
    assert swapped.sense_changed and "wires-swapped" in [d.kind for d in swapped.diagnoses]
    shrunk = elb.compare(FIT, elb.fit_limits(**sweep(lower=20, seed=3)))
    assert "range-shrunk" in [d.kind for d in shrunk.diagnoses]
    assert eval(repr(shrunk), vars(elb)) == shrunk
    assert shrunk.changed and not same.changed and same.tests == len(same.changes) == 6
    for change in same.changes:
        assert change.verdict == "same" and change.p_adjusted is not None and change.p_adjusted >= 0.05
        assert change.detectable is not None and change.detectable > change.smallest
    # The other way the stop went out; and a horn one tooth further, of which all counts that agree are listed.
    widened = elb.compare(elb.fit_limits(**sweep(lower=20, seed=3)), FIT)
    assert widened.changed and "range-widened" in [d.kind for d in widened.diagnoses]
    x = np.arange(0.0, 80.0, 2.0)
    wobble = np.where(np.arange(len(x)) % 2 == 0, 0.05, -0.05)
    shifted = elb.compare(elb.fit_limits(x, x + wobble), elb.fit_limits(x, x + 14.65 - wobble))
    assert [one.horn for one in shifted.teeth] == [25, 24] and dict(shifted.diagnoses[0].values)["teeth"] == shifted.teeth
    assert "1 tooth of 24" in str(shifted) and "1 tooth of 25" in str(shifted)
    assert eval(repr(shifted), vars(elb)) == shifted
    # Small and sure; an end that the later table did not test; warnings of either fit.
    slight = elb.compare(elb.fit_limits(x, x + wobble), elb.fit_limits(x, x + 0.3 - wobble))
    assert [d.kind for d in slight.diagnoses] == ["slight-change"] and not slight.changed
    finer = elb.compare(elb.fit_limits(x, x + wobble), elb.fit_limits(x, x + 0.3 - wobble), smallest_drive=0.1)
    assert finer.changed and finer.changes[0].smallest == 0.1
    shorter = elb.compare(elb.fit_limits(x, x + wobble), elb.fit_limits(x[:30], (x - wobble)[:30]))
    assert [d.kind for d in shorter.diagnoses] == ["untested"] and shorter.changes[4].verdict == "untested"
    bent = elb.compare(elb.fit_limits(x, x + wobble), elb.fit_limits(x, x + 0.01 * x**2 + wobble))
    assert "curved" in [w.kind for w in bent.new_warnings] and bent.old_warnings == ()
    assert "bend-changed" in [d.kind for d in bent.diagnoses]
    with pytest.raises(elb.FitError, match="smallest_share"):
        elb.compare(FIT, FIT, smallest_share=-1)
    with pytest.raises(elb.ArgumentTypeError):
        elb.compare(FIT, None)  # type: ignore[arg-type]


def test_positioning_by_hand() -> None:
    """The formulas of ISO 230-2:2014 written out for two targets and three runs a side; invented positions."""
    targets = np.array([0.0, 90.0])
    up = np.array([[0.10, 90.20], [0.14, 90.26], [0.12, 90.17]])
    down = np.array([[-0.10, 89.90], [-0.16, 89.84], [-0.13, 89.93]])
    runs = [("below", row) for row in up] + [("above", row) for row in down]
    found = elb.positioning(targets, runs)
    mean_up, mean_down = (up - targets).mean(0), (down - targets).mean(0)
    s_up, s_down = (up - targets).std(0, ddof=1), (down - targets).std(0, ddof=1)
    assert found.both is not None and found.up is not None
    assert found.both.reversal == pytest.approx(np.abs(mean_up - mean_down).max())
    both = (mean_up + mean_down) / 2
    assert found.both.mean_deviation == pytest.approx(both.max() - both.min())
    assert found.up.repeatability == pytest.approx((4 * s_up).max())
    high = np.maximum(mean_up + 2 * s_up, mean_down + 2 * s_down)
    low = np.minimum(mean_up - 2 * s_up, mean_down - 2 * s_down)
    assert found.both.accuracy == pytest.approx(high.max() - low.min())
    assert found.targets[0].up is not None and found.targets[0].up.mean == pytest.approx(mean_up[0])
    assert eval(repr(found), vars(elb)) == found and pickle.loads(pickle.dumps(found)).runs == found.runs
    with pytest.raises(elb.FitError):
        elb.positioning(targets, [("below", [1.0])])
    for bad in (None, [1, 2], [("left", [1, 2])], "below"):
        with pytest.raises(elb.ArgumentError):
            elb.positioning(targets, bad)  # type: ignore[arg-type]


def test_readings_from_csv(tmp_path: Path) -> None:
    s = sweep()
    path = tmp_path / "sweep.csv"
    pd.DataFrame(s).assign(note="x").to_csv(path, index=False)
    assert elb.fit_limits(**elb.read_readings(path), resolution=0.1) == FIT
    renamed = io.StringIO("# invented\nangle;x\n".replace(";", ",") + "1,2\n3,4\n")
    assert elb.read_readings(renamed, columns={"drive": "angle", "measured": "x"}) == {"drive": [1, 3], "measured": [2, 4]}
    for text, says in (("", "empty"), ("drive\n1\n", 'no column is named "measured"'), ("drive,measured\n1,a\n", r':2: column 2 \(measured\): "a" is not a number'), ("drive,measured\n1\n", "1 cell, the header 2")):
        with pytest.raises(elb.RobotError, match=says):
            elb.read_readings(io.StringIO(text))
    with pytest.raises(elb.FileAccessError):
        elb.read_readings(tmp_path / "none.csv")


@pytest.mark.parametrize("example", ["fleet_dask.py", "transmission.py", "worked_example.py", "calibrate.py"])
def test_examples_run(example: str, tmp_path: Path) -> None:
    run = subprocess.run([sys.executable, str(elb.examples.path(example))], capture_output=True, text=True, cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    assert run.stdout.strip()


SERVO, TIMER = elb.Servo(angle=(0, 180), pulse_us=(500, 2500)), elb.Timer(frame_hz=50, counts_per_frame=4096)


@pytest.mark.parametrize(
    ("heading", "value", "drive", "given"),
    [
        ("drive_us", "1500", 90.0, {"servo": SERVO}),
        ("drive (us)", "500", 0.0, {"servo": SERVO}),
        ("drive [ms]", "2.5", 180.0, {"servo": SERVO}),
        ("drive_counts", "307", 89.9121, {"servo": SERVO, "timer": TIMER}),
        ("pulse_us", "1500", 90.0, {"servo": SERVO}),
        ("Pulse", "1500", 90.0, {"servo": SERVO}),
        ("counts", "307", 89.9121, {"servo": SERVO, "timer": TIMER}),
        ("drive [deg]", "42.5", 42.5, {}),
        ("drive", "42.5", 42.5, {"servo": SERVO}),
    ],
)
def test_the_unit_of_the_drive_column_counts(heading: str, value: str, drive: float, given: dict[str, Any]) -> None:
    text = f"{heading},measured\n{value},2\n"
    assert elb.read_readings(io.StringIO(text), **given)["drive"] == pytest.approx([drive], abs=1e-3)
    for missing in list(given) if heading != "drive" else []:
        less = {name: part for name, part in given.items() if name != missing}
        with pytest.raises(elb.ArgumentError, match=f"the table: the unit in the heading of the drive column is .*; give {missing}=") as caught:
            elb.read_readings(io.StringIO(text), **less)
        assert caught.value.code == "option-outside"


def test_readings_that_cannot_be_meant_are_refused() -> None:
    with pytest.raises(elb.RobotError, match="the table:1: .* column is rad; write drive angles in deg, or one of deg, us, ms, counts") as caught:
        elb.read_readings(io.StringIO("drive_rad,measured\n1,2\n"))
    assert (caught.value.code, caught.value.line, caught.value.column) == ("unknown-word", 1, 1)
    for columns, says in (("drive", "columns is of type str; give a dict"), ({"drve": "drive"}, "columns has 'drve'; its keys are drive, measured"), ({"drive": 3}, "columns.'drive'. is of type int")):
        with pytest.raises(elb.ArgumentError, match=says):
            elb.read_readings(io.StringIO("drive,measured\n1,2\n"), columns=columns)  # type: ignore[arg-type]
    for text, says in (
        ("angle,measured\n1,2\n", r"no column is named \"drive\" \(there are: angle, measured\); name one with columns=\{'drive': ...\}"),
        ("drive,angle\n1,2\n", r"; name one with columns=\{'measured': ...\}"),
        ("drive;measured;u\n45,5;-40,5;0,1\n46;1.192;0,1\n", r':3: column 2 \(measured\): "1.192" may be a decimal number or one in thousands'),
        ("drive;measured\n45,125;1.192\n", ", or give decimal=','"),
    ):
        with pytest.raises(elb.RobotError, match=says):
            elb.read_readings(io.StringIO(text))
    for text, says in (("drive,measured\n", "a header and no rows"), ("drive,measured\n26,-60,5\n27,-60,5\n", "is a comma meant as a decimal point")):
        with pytest.raises(elb.RobotError, match=says):
            elb.read_readings(io.StringIO(text))
    assert elb.read_readings(io.StringIO('drive,measured\n"20,5","-60,5"\n')) == {"drive": [20.5], "measured": [-60.5]}


def test_repr_tells_warnings_and_what_was_left_out() -> None:
    drive = np.arange(0.0, 41.0)
    measured = 3 + 1.1 * drive + 0.05 * np.cos(7 * drive)
    assert "left out" not in repr(elb.fit_limits(drive, measured))
    measured[[11, 27]] += 9
    fit = elb.fit_limits(drive, measured)
    assert len(fit.rejected) == 2 and repr(fit).endswith(", 2 readings left out>")
    bent = 3 + 1.1 * drive + 0.02 * (drive - 20) ** 2 + 0.05 * np.cos(7 * drive)
    warned = elb.fit_limits(drive, bent, u=np.full(41, 0.001))
    assert len(warned.warnings) > 1 and f", {len(warned.warnings)} warnings>" in repr(warned)


def test_a_fit_from_json_needs_columns_of_one_length() -> None:
    drive = [0, 5, 10, 15, 20, 30, 40, 50, 60, 70, 80]
    measured = [12.1, 12.0, 12.1, 14.9, 20.1, 30.0, 39.9, 50.1, 60.0, 69.9, 80.1]
    text = elb.fit_limits(drive, measured).to_json()
    for columns in ({"measured": measured[:5]}, {}, {"measured": measured, "approach": ["below"] * 3}):
        with pytest.raises(elb.FitError) as refused:
            elb.LimitFit.from_json(text, drive=drive, **columns)
        assert refused.value.code == "length-mismatch"
    assert elb.LimitFit.from_json(text, drive=drive, measured=measured).drive == tuple(map(float, drive))


def test_how_a_table_is_written_may_be_said() -> None:
    table = "drive|measured\n1,125|2,5\n"
    assert elb.read_readings(io.StringIO(table), separator="|", decimal=",") == {"drive": [1.125], "measured": [2.5]}
    assert elb.read_readings(io.StringIO("1.5  2\n2.5 3\n"), separator=" ", decimal=".")["drive"] == [1.5, 2.5]
    for given, says in (
        ({"decimal": "x"}, 'the decimal is "x"; give a point or a comma'),
        ({"decimal": ",", "separator": ","}, 'the decimal "," separates columns too'),
        ({"decimal": 3}, "decimal is .*; give one character such as ','"),
        ({"separator": ";;"}, "separator is .*; give one character such as ';'"),
    ):
        with pytest.raises(elb.ArgumentError, match=says):
            elb.read_readings(io.StringIO(table), **given)
    with pytest.raises(elb.RobotError, match="use a decimal point, or give decimal=','"):
        elb.read_readings(io.StringIO(table), separator="|", decimal=".")
    with pytest.raises(elb.RobotError, match="; give separator=';'"):
        elb.read_readings(io.StringIO("drive;measured\n1;2\n"), separator=",")


def test_a_guard_margin_of_degrees_on_pulse_widths_is_told() -> None:
    pulse_us = np.linspace(900, 2100, 25)
    measured = np.clip(pulse_us, 1010, 1990) / 10
    (told,) = [w for w in elb.fit_limits(pulse_us, measured).warnings if w.kind == "guard-of-degrees"]
    assert "the drive values are 900 to 2100, so they are hardly degrees" in str(told) and "give a guard margin in their unit" in str(told)
    kept = elb.fit_limits(pulse_us, measured, guard=20)
    assert all(w.kind != "guard-of-degrees" for w in kept.warnings)
