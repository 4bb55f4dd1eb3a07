"""Feedback maps from measured points, as frozen records."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

from elbowroom import _core
from elbowroom._drawing import drawing

if TYPE_CHECKING:
    from os import PathLike

    from matplotlib.axes import Axes

    from elbowroom import Joint

__all__ = ["FeedbackFit", "fit_feedback"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedbackFit:
    """A map from readings to joint angles, straight or curved: what `fit_feedback` found.

    Attributes
    ----------
    knots : tuple of (float, float)
        Reading and joint angle, deg, of each knot, readings rising; two if the map is straight.
    u : tuple of float
        Standard uncertainty of each knot's angle, deg.
    residual_sd : float
        Standard deviation of the angles about the map, deg.
    straight_sd : float
        That about the best straight line: how much worse a straight map would be.
    dof : int
        Readings less the numbers found.
    reading, angle : tuple of float
        The readings and angles themselves, for plots; they count neither for equality nor in `repr`.
    warnings : tuple of str
        A sentence for each reading that lies far off the map, with its index: none is left out of the fit, so check them before the
        map is used. Empty in a map that was made by hand.
    """

    knots: tuple[tuple[float, float], ...]
    u: tuple[float, ...]
    residual_sd: float
    straight_sd: float
    dof: int
    reading: tuple[float, ...] = field(default=(), compare=False, repr=False)
    angle: tuple[float, ...] = field(default=(), compare=False, repr=False)
    warnings: tuple[str, ...] = field(default=(), compare=False)

    @property
    def angle_range(self) -> tuple[float, float]:
        """(float, float): the joint angles at the map's ends, lower first, deg."""
        first, last = self.knots[0][1], self.knots[-1][1]
        return min(first, last), max(first, last)

    def expected(self, reading: Any) -> Any:
        """The joint angle that the map expects at a reading.

        Parameters
        ----------
        reading : float or array_like
            Readings of any shape; NaN gives NaN. Beyond the first and the last knot the map continues as a straight line.

        Returns
        -------
        float or ndarray
            Deg.

        Examples
        --------
        >>> import elbowroom as elb
        >>> reading = [212, 280, 351, 420, 489, 561, 630, 699, 771, 840]
        >>> angle = [0.0, 9.9, 20.1, 29.8, 40.2, 50.1, 60.0, 70.2, 79.9, 90.1]
        >>> fit = elb.fit_feedback(reading, angle)
        >>> round(float(fit.expected(489)), 1)
        39.8
        """
        return _core.feedback_expected(_record(self), reading)

    def feedback(self, *, angle: Sequence[float] | None = None, adc_bits: int | None = None) -> dict[str, Any]:
        """The `feedback` of a `Joint`, with the keys of a robot file.

        A curve that is cut short gets more knots where it would depart: until it does so nowhere by more than half of
        `residual_sd` or 1/5000 of the angles, whichever is more, or 23 knots are reached.

        Parameters
        ----------
        angle : (float, float), optional
            The joint angles, deg, that the joint's lower and upper command stand for. Left out: those of the readings
            (`angle_range`). Beyond the readings the map continues as a straight line.
        adc_bits : int, optional
            Bits of the converter that reads the sensor.

        Returns
        -------
        dict

        Raises
        ------
        FitError
            `angle` is not a range.

        Examples
        --------
        >>> import elbowroom as elb
        >>> reading = [212, 280, 351, 420, 489, 561, 630, 699, 771, 840]
        >>> angle = [0.0, 9.9, 20.1, 29.8, 40.2, 50.1, 60.0, 70.2, 79.9, 90.1]
        >>> fit = elb.fit_feedback(reading, angle)
        >>> fit.feedback(angle=(0, 90), adc_bits=10)["angle"]
        [0.0, 90.0]
        """
        wanted = self.angle_range if angle is None else angle
        record: dict[str, Any] = json.loads(_core.feedback_record(_record(self), wanted, adc_bits))
        return record

    def apply_to(self, joint: Joint, *, angle: Sequence[float] | None = None, adc_bits: int | None = None) -> Joint:
        """The joint with this map as its feedback, rounded to what a file shows.

        What the fit does not know (bits of the converter, the sensor's turn, its supply) stays as it was. The resistances of
        a loaded potentiometer go: what was measured holds the load already.

        Parameters
        ----------
        joint : Joint
            Unchanged itself.
        angle : (float, float), optional
            The joint angles, deg, that the joint's lower and upper command stand for. Left out: its commands are joint
            angles.
        adc_bits : int, optional
            Bits of the converter; the joint's own if left out.

        Returns
        -------
        Joint

        Raises
        ------
        FitError
            `angle` is not a range.
        JointError
            The joint with this map is not valid, e.g. the converter cannot give its readings.

        Examples
        --------
        >>> import elbowroom as elb
        >>> reading = [212, 280, 351, 420, 489, 561, 630, 699, 771, 840]
        >>> angle = [0.0, 9.9, 20.1, 29.8, 40.2, 50.1, 60.0, 70.2, 79.9, 90.1]
        >>> fit = elb.fit_feedback(reading, angle)
        >>> neck = elb.Joint("neck", command=(0, 90), drive=(20, 130), rest=0,
        ...                  servo=elb.Servo(angle=(0, 180), pulse_us=(500, 2500)),
        ...                  timer=elb.Timer(frame_hz=50, counts_per_frame=4096))
        >>> fit.apply_to(neck, adc_bits=10).reading_state(2)
        'lower-rail'
        """
        return _core.feedback_apply(_record(self), joint, angle, adc_bits)

    @drawing("Where to draw the map alone", panels=" with both panels", returns="Those of the map.")
    def plot(self, path: str | PathLike[str] | None = None, *, ax: Axes | None = None, title: str | None = None) -> Axes:
        """Draw the readings and the map, and below them the residuals."""
        from elbowroom import _plot_transmission

        return _plot_transmission.feedback_fit(self, path, ax, title)


def _record(fit: FeedbackFit) -> str:
    """The core's own record of a map."""
    record = asdict(fit)
    del record["reading"], record["angle"], record["warnings"]
    return json.dumps(record)


def fit_feedback(reading: Any, angle: Any, *, most_knots: int = _core.MOST_KNOTS) -> FeedbackFit:
    """Fit a map to the joint angles at the readings of a sensor: a straight line unless they show a significant bend, else a monotone curve.

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
    No reading is left out: see `warnings` of what is returned for those that lie far off. Whether a curve is worth its numbers is judged as by `choose_transmission`, the curve found as by `fit_curve`; sources there.

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
    found = _core.feedback_fit(reading, angle, most_knots=most_knots)
    record = json.loads(found)
    return FeedbackFit(
        knots=tuple((x, y) for x, y in record.pop("knots")),
        u=tuple(record.pop("u")),
        reading=tuple(float(x) for x in reading),
        angle=tuple(float(x) for x in angle),
        warnings=tuple(_core.feedback_far_off(found, reading, angle)),
        **record,
    )
