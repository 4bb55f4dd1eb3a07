"""Straight lines with their uncertainties."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from elbowroom import _core
from elbowroom._core import LineFit

__all__ = ["Estimate", "Estimates", "LineFit", "fit_line"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A value and its standard uncertainty (JCGM 100, 2.3.1), both in the value's unit.

    Examples
    --------
    >>> import elbowroom as elb
    >>> at = elb.fit_line([1, 2, 3, 4], [2.1, 3.9, 6.1, 8.0]).predict(2.5)
    >>> round(at.value, 3), round(at.u, 3)
    (5.025, 0.058)
    """

    value: float
    u: float


class Estimates(NamedTuple):
    """Values and the standard uncertainty of each, as arrays of one shape, both in the values' unit.

    Examples
    --------
    >>> import elbowroom as elb
    >>> at = elb.fit_line([1, 2, 3, 4], [2.1, 3.9, 6.1, 8.0]).predict([1, 4])
    >>> at.value.round(2).tolist(), at.u.round(2).tolist()
    ([2.04, 8.01], [0.1, 0.1])
    """

    value: NDArray[np.float64]
    u: NDArray[np.float64]


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
    return _core.line_fit(x, y, u_x=u_x, u_y=u_y)
