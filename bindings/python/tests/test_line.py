"""Straight lines from Python against published values: the data and tolerances are those of the core's own tests."""

from __future__ import annotations

import json
import pickle
from typing import Any

import numpy as np
import pytest
from conftest import data

import elbowroom as elb


def case(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(data(f"line/{name}.json").read_text())
    return found


def test_thermometer_of_the_gum() -> None:
    """JCGM 100:2008 (GUM), H.3."""
    d = case("gum_h3_thermometer")
    line = elb.fit_line(d["data"]["x"], d["data"]["y"])
    wanted = d["expected"]
    found = {**json.loads(line.to_json()), "cov": line.covariance}
    for name in ("intercept", "slope", "u_intercept", "u_slope", "cov", "residual_sd"):
        assert found[name] == pytest.approx(wanted[name], rel=1e-9), name
    assert (line.dof, line.n, line.stated_u) == (9, 11, False)
    at = line.predict(wanted["prediction"]["t"] - d["data"]["t0"])
    assert at.value == pytest.approx(wanted["prediction"]["value"], rel=1e-9)
    assert at.u == pytest.approx(wanted["prediction"]["u"], rel=1e-9)
    assert line.coverage_factor(0.95) == pytest.approx(2.26, abs=0.005)  # GUM, table G.2


def test_norris_of_nist() -> None:
    """NIST StRD, linear regression, certified values."""
    d = case("strd_norris")
    line = elb.fit_line(np.array(d["data"]["x"]), np.array(d["data"]["y"]))
    assert [line.intercept, line.slope] == pytest.approx(d["expected"]["coefficients"], rel=1e-10)
    assert [line.u_intercept, line.u_slope] == pytest.approx(d["expected"]["standard_deviations"], rel=1e-10)
    assert line.residual_sd == pytest.approx(d["expected"]["residual_sd"], rel=1e-10)


def test_stated_uncertainties() -> None:
    """ISO/TS 28037:2010, 6.3: weights, forward and inverse."""
    d = case("iso28037_wls_equal")
    line = elb.fit_line(d["data"]["x"], d["data"]["y"], u_y=d["data"]["u_y"])
    wanted = d["expected"]
    assert (line.slope, line.intercept) == pytest.approx((wanted["slope"], wanted["intercept"]), rel=1e-9)
    assert (line.u_slope, line.u_intercept) == pytest.approx((wanted["u_slope"], wanted["u_intercept"]), rel=1e-9)
    assert line.sum_of_squares == pytest.approx(wanted["chi_squared"], rel=1e-9)
    assert line.stated_u and line.covariance == pytest.approx(wanted["cov"], rel=1e-9)
    back, on = wanted["inverse"], wanted["forward"]
    found = line.inverse([back["y"]], u_y=back["u_y"])
    assert (found.value, found.u) == pytest.approx((back["x"], back["u_x"]), rel=1e-9)
    found = line.predict(on["x"], u_x=on["u_x"])
    assert (found.value, found.u) == pytest.approx((on["y"], on["u_y"]), rel=1e-9)


def test_both_uncertain() -> None:
    """ISO/TS 28037:2010, 7.4."""
    d = case("iso28037_wtls")
    line = elb.fit_line(**d["data"])
    wanted = d["expected"]
    assert (line.slope, line.intercept) == pytest.approx((wanted["slope"], wanted["intercept"]), rel=1e-6)
    assert line.sum_of_squares == pytest.approx(wanted["chi_squared"], rel=1e-6)
    assert line.u_slope == pytest.approx(d["published"]["u_slope"], rel=0.02)


def test_predict_reads_arrays() -> None:
    """Each element as a single x gives it, in any shape; that one is held by the GUM above."""
    d = case("gum_h3_thermometer")
    line = elb.fit_line(d["data"]["x"], d["data"]["y"])
    at, u_x = np.arange(-6.0, 6.0).reshape(3, 4), 0.25
    for x in (at, at.T, at[:, ::-2], at.tolist(), at.astype("f4"), at[:0], at[1, 2, ...], at.astype("i2")):
        found = line.predict(x, u_x=u_x)
        single = [line.predict(float(one), u_x=u_x) for one in np.asarray(x).flat]
        assert isinstance(found, elb.Estimates) and found.value.shape == found.u.shape == np.shape(x)
        assert found.value.ravel().tolist() == [one.value for one in single]
        assert found.u.ravel().tolist() == [one.u for one in single]
    for x in (3, np.float32(3), np.int16(3), np.float64(3)):
        assert line.predict(x) == line.predict(3.0) and type(line.predict(x).value) is float
    gap = line.predict([1.0, float("nan")])
    assert np.isnan(gap.value).tolist() == [False, True]
    for wrong in (None, True, "1", 1j, object(), [1.0, None], np.array([True]), np.array(["1"])):
        with pytest.raises(elb.ArgumentTypeError):
            line.predict(wrong)  # type: ignore[arg-type]
    with pytest.raises(elb.ArgumentTypeError, match="u_x"):
        line.predict([1.0], u_x=[0.1])  # type: ignore[arg-type]


def test_refusals_and_copies() -> None:
    x, y = [1.0, 2.0, 3.0, 4.0], [2.1, 3.9, 6.2, 7.8]
    line = elb.fit_line(x, y)
    for other in (pickle.loads(pickle.dumps(line)), elb.LineFit.from_json(line.to_json())):
        assert other == line and hash(other) == hash(line) and other.predict(2.5) == line.predict(2.5)
    assert repr(line).startswith("<LineFit: slope 1.9") and repr(line).endswith(", 4 points>")
    with pytest.raises(AttributeError):
        line.slope = 1.0  # type: ignore[misc]
    with pytest.raises(elb.FitError, match="2 readings are too few"):
        elb.fit_line(x[:2], y[:2])
    with pytest.raises(elb.FitError) as caught:
        elb.fit_line(x, [1.0, float("nan"), 3.0, 4.0])
    assert (caught.value.code, caught.value.index) == ("not-finite", 1)
    with pytest.raises(elb.FitError, match="above zero"):
        elb.fit_line(x, y, u_y=[0.1, 0.1, 0.0, 0.1])
    with pytest.raises(elb.ArgumentError, match="u_x is given without u_y"):
        elb.fit_line(x, y, u_x=[0.1] * 4)
    with pytest.raises(elb.ArgumentTypeError):
        elb.fit_line(x, ["a"] * 4)
    with pytest.raises(elb.ArgumentError, match="do not determine x"):
        line.inverse([])
    level = elb.fit_line([1, 2, 3], [5, 5, 5])
    with pytest.raises(elb.ArgumentError, match="a line whose slope is not 0"):
        level.inverse([5.0])
