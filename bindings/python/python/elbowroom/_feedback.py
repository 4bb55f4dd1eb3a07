"""Feedback maps from measured points."""

from __future__ import annotations

from typing import Any

from elbowroom import _core
from elbowroom._core import MOST_KNOTS, FeedbackFit

__all__ = ["FeedbackFit", "fit_feedback"]


def fit_feedback(reading: Any, angle: Any, *, most_knots: int = MOST_KNOTS) -> FeedbackFit:
    """Fit a map to the joint angles at the readings of a sensor: straight if they ask for no more, else a monotone curve.

    Parameters
    ----------
    reading : array_like, shape (n,)
        What the sensor read, e.g. ADC counts, at least 5; in any order, repeats welcome. Take medians where it is noisy.
    angle : array_like, shape (n,)
        The joint angle there, deg, as a protractor or inclinometer reads it. Readings on a stop are as good as any other.
    most_knots : int, default 12
        The most knots to use, 2 to 12.

    Returns
    -------
    FeedbackFit

    Raises
    ------
    FitError
        Too few readings, NaN (with its `index`), arrays of different length, a sensor that does not follow, `most_knots`
        outside its range.

    Notes
    -----
    From 8 readings on, those that lie far off the map through the others are left out, at most one in eight, two neighbours with
    exchanged angles counted as one; so are readings at an end that stay level while the angles go on: see `warnings` and `left_out` of what is returned. `warnings` also tells
    readings that are displaced together from one on, and a residual SD above 4 % of the angles' range. Whether a curve is worth its numbers is judged as by `choose_transmission`, the curve found as by `fit_curve`; sources there.

    Examples
    --------
    >>> import elbowroom as elb
    >>> reading = [212, 280, 351, 420, 489, 561, 630, 699, 771, 840]
    >>> angle = [0.0, 9.9, 20.1, 29.8, 40.2, 50.1, 60.0, 70.2, 79.9, 90.1]
    >>> fit = elb.fit_feedback(reading, angle)
    >>> len(fit.knots), round(fit.residual_sd, 3)
    (2, 0.216)
    >>> joint = elb.Joint("neck", command=(0, 90), drive=(20, 130), rest=0,
    ...                   servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
    ...                   timer=elb.Timer(frame_hz=50, counts_per_frame=4096),
    ...                   feedback=fit.feedback(angle=(0, 90), adc_bits=10))
    >>> round(joint.command_from_reading(489), 1), joint.reading_state(2)
    (39.8, 'lower-rail')
    """
    return _core.feedback_fit(reading, angle, most_knots=most_knots)


fit_feedback.__module__ = "elbowroom"
