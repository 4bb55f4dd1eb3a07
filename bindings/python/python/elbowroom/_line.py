"""Straight lines with their uncertainties, as frozen records."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import Any, NamedTuple, overload

import numpy as np
from numpy.typing import NDArray

from elbowroom import _core
from elbowroom._errors import ArgumentError

__all__ = ["Estimate", "Estimates", "LineFit", "fit_line"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A value and its standard uncertainty (JCGM 100, 2.3.1), both in the value's unit."""

    value: float
    u: float


class Estimates(NamedTuple):
    """Values and the standard uncertainty of each, as arrays of one shape, both in the values' unit."""

    value: NDArray[np.float64]
    u: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFit:
    """A least-squares line with its standard uncertainties (JCGM 100, H.3).

    Attributes
    ----------
    slope, u_slope : float
        Change of y per x, and its standard uncertainty.
    intercept, u_intercept, covariance : float
        Value at x = 0, its standard uncertainty, and the covariance with the slope.
    residual_sd : float
        Standard deviation of the points about the line; with stated uncertainties, of the residuals in units of them.
    dof, n : int
        Points less parameters; points.
    r_squared, sum_of_squares : float
        Share of the variance that the line explains; sum of squared residuals, or the chi-squared observed.
    stated_u : bool
        The uncertainties come from stated ones, not from the scatter.
    """

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    covariance: float
    residual_sd: float
    dof: int
    n: int
    r_squared: float
    sum_of_squares: float
    stated_u: bool

    @overload
    def predict(self, x: float, *, u_x: float = 0.0) -> Estimate: ...
    @overload
    def predict(self, x: Any, *, u_x: float = 0.0) -> Estimates: ...
    def predict(self, x: Any, *, u_x: float = 0.0) -> Estimate | Estimates:
        """Return the line's value at `x` and its standard uncertainty (JCGM 100, H.3.4; ISO/TS 28037, 11.2).

        Parameters
        ----------
        x : float or array_like
            Where, of any shape; NaN gives NaN.
        u_x : float, default 0.0
            Standard uncertainty of `x` itself, of each one.

        Returns
        -------
        Estimate or Estimates
            One for a single `x`; two arrays of the shape of `x` otherwise.

        Raises
        ------
        ArgumentTypeError
            What holds no real numbers.

        Examples
        --------
        >>> import elbowroom as elb
        >>> line = elb.fit_line([1, 2, 3, 4, 5, 6], [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], u_y=[0.5] * 6)
        >>> line.predict([1.0, 3.5, 6.0]).u.round(3).tolist()
        [0.362, 0.204, 0.362]
        """
        value, u = _core.line_predict(json.dumps(asdict(self)), x, u_x)
        if isinstance(value, np.ndarray):
            return Estimates(value=value, u=u)
        return Estimate(value=float(value), u=float(u))

    def inverse(self, observed: Any, *, u_y: float | None = None) -> Estimate:
        """Return the `x` at which these observations of y were made (ISO/TS 28037, 11.1).

        Parameters
        ----------
        observed : array_like, shape (m,)
            Observations, all made at that one `x`.
        u_y : float, optional
            Standard uncertainty of each; left out, `residual_sd` stands for it.

        Raises
        ------
        ArgumentError
            Without observations, with one that is not finite, or for a level line.

        Examples
        --------
        >>> import elbowroom as elb
        >>> line = elb.fit_line([1, 2, 3, 4, 5, 6], [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], u_y=[0.5] * 6)
        >>> x = line.inverse([10.5], u_y=0.5)
        >>> round(x.value, 2), round(x.u, 2)
        (4.91, 0.32)
        """
        found = _core.line_inverse(json.dumps(asdict(self)), observed, u_y)
        if found is None:
            raise ArgumentError(
                "these observations do not determine x; give finite observations, and a line whose slope is not 0", code="option-outside"
            )
        return Estimate(value=found[0], u=found[1])

    def coverage_factor(self, confidence: float = 0.95) -> float:
        """Return the factor that turns a standard uncertainty into a coverage interval's half width.

        Parameters
        ----------
        confidence : float, default 0.95
            Coverage probability, above 0 and below 1.

        Examples
        --------
        >>> import elbowroom as elb
        >>> line = elb.fit_line([1, 2, 3, 4, 5, 6], [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], u_y=[0.5] * 6)
        >>> round(line.coverage_factor(), 2)
        1.96
        """
        return _core.line_coverage_factor(json.dumps(asdict(self)), confidence)


def fit_line(x: Any, y: Any, *, u_x: Any = None, u_y: Any = None) -> LineFit:
    """Fit a straight line.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        The points, in any unit.
    u_y : array_like, shape (n,), optional
        Standard uncertainty of each y: a weighted line (ISO/TS 28037:2010, clause 6). Left out: all alike, found from
        the scatter (JCGM 100:2008, H.3).
    u_x : array_like, shape (n,), optional
        Standard uncertainty of each x, only together with `u_y`: a line with both uncertain (ISO/TS 28037, clause 7).

    Returns
    -------
    LineFit

    Raises
    ------
    FitError
        Too few points (three; two with `u_y`), equal x, NaN (with its `index`), uncertainties not above zero.

    Examples
    --------
    >>> import elbowroom as elb
    >>> line = elb.fit_line([1, 2, 3, 4, 5, 6], [3.3, 5.6, 7.1, 9.3, 10.7, 12.1], u_y=[0.5] * 6)
    >>> round(line.slope, 3), round(line.u_slope, 3)
    (1.757, 0.12)
    >>> x = line.inverse([10.5], u_y=0.5)
    >>> round(x.value, 3), round(x.u, 3)
    (4.913, 0.322)
    """
    return LineFit(**json.loads(_core.line_fit(x, y, u_x=u_x, u_y=u_y)))
