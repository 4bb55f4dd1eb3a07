"""What the procedures of the bring-up start from and what they find, as frozen records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from elbowroom import _core
from elbowroom._actions import tagged

__all__ = [
    "BracketPlan",
    "AlignmentEnd",
    "AlignmentFigures",
    "AlignmentPlan",
    "Baseline",
    "Pace",
    "SearchEnd",
    "SensePlan",
    "SenseResult",
    "SenseSample",
    "StopSearchPlan",
    "SweepPlace",
    "SweepPlan",
    "SweepReading",
]


_PACE = _core.usual("Pace")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """How every place is visited; the defaults are slow enough to watch (default; verify against the data sheet).

    Attributes
    ----------
    rate_per_s : float
        The fastest that the command may change, deg/s of drive angle.
    settle_s : float
        How long to wait until the joint is at rest, s. Readings in motion are worthless.
    reads : int
        How many readings are taken at rest, 1 to 9; their median counts.

    Examples
    --------
    >>> from elbowroom.bring_up import Pace, SessionPlan
    >>> SessionPlan(start=79.5, search_limits=(0, 180), pace=Pace(reads=5)).pace.reads
    5
    """

    rate_per_s: float = _PACE["rate_per_s"]
    settle_s: float = _PACE["settle_s"]
    reads: int = _PACE["reads"]


_SENSE = _core.usual("SensePlan")


@dataclass(frozen=True, slots=True, kw_only=True)
class SensePlan:
    """How a sense test is made.

    Attributes
    ----------
    watch : {"sensor-and-drive", "sensor-only"}
        The sensor is the servo's own potentiometer moved out onto the joint; or the servo keeps its own, and a second
        sensor sits on the joint.
    turn : float
        How far each turn of the hand goes, deg.
    turns : int
        Turns to each side of the start, 2 to 5.
    reads : int
        Readings at each place, 1 to 9.
    reading_range : (float, float)
        The lowest and the highest reading there is.

    Examples
    --------
    >>> from elbowroom.bring_up import SensePlan
    >>> SensePlan(turns=2).turns
    2
    """

    watch: str = _SENSE["watch"]
    turn: float = _SENSE["turn"]
    turns: int = _SENSE["turns"]
    reads: int = _SENSE["reads"]
    reading_range: tuple[float, float] = _SENSE["reading_range"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AlignmentFigures:
    """What follows from sensor, gear and joint.

    Attributes
    ----------
    fits : bool
        Whether the sensor can reach both stops with the margin.
    spare : float
        Spare beyond each stop when set to the middle, deg of the joint; negative where it is short.
    deg_per_step : float
        Degrees of the joint for each step of the reading.
    per_deg : float
        Readings per degree of the joint.
    readings : (float, float)
        Readings at the lower and at the upper stop when set to the middle.

    Examples
    --------
    >>> from elbowroom.bring_up import AlignmentPlan
    >>> plan = AlignmentPlan(joint=(0, 95), sensor_travel=270, ratio=2, reading_range=(0, 1023), margin=5)
    >>> plan.figures().fits, plan.figures().readings
    (True, (151.55555555555554, 871.4444444444445))
    """

    fits: bool
    spare: float
    deg_per_step: float
    per_deg: float
    readings: tuple[float, float]


_ALIGNMENT = _core.usual("AlignmentPlan")


@dataclass(frozen=True, slots=True, kw_only=True)
class AlignmentPlan:
    """Sensor, gear and joint.

    Attributes
    ----------
    joint : (float, float)
        Joint angle at the lower and at the upper stop, deg, as measured or drawn.
    sensor_travel : float
        Electrical travel of the sensor, deg of its own shaft.
    ratio : float
        Degrees of the sensor's shaft for each degree of the joint; negative where a gear reverses it.
    reading_range : (float, float)
        The readings at the two ends of the sensor's travel.
    resolution : float
        Readings per step, e.g. 1 ADC count.
    margin : float
        How much must be spare beyond each stop, deg of the joint.

    Examples
    --------
    >>> from elbowroom.bring_up import AlignmentPlan
    >>> plan = AlignmentPlan(joint=(0, 95), sensor_travel=270, ratio=2, reading_range=(0, 1023), margin=5)
    >>> plan.figures().fits, plan.figures().spare
    (True, 20.0)
    """

    joint: tuple[float, float]
    sensor_travel: float
    ratio: float
    reading_range: tuple[float, float] = _ALIGNMENT["reading_range"]
    resolution: float = _ALIGNMENT["resolution"]
    margin: float = _ALIGNMENT["margin"]

    def figures(self) -> AlignmentFigures:
        """The figures of this plan.

        Returns
        -------
        AlignmentFigures

        Raises
        ------
        BringUpError
            NaN, ends that do not rise, a travel, ratio or resolution that cannot be.

        Examples
        --------
        >>> from elbowroom.bring_up import AlignmentPlan
        >>> plan = AlignmentPlan(joint=(0, 95), sensor_travel=270, ratio=2, margin=5)
        >>> plan.figures().fits
        True
        """
        found = _core.alignment_figures(self)
        found["readings"] = tuple(found["readings"])
        return AlignmentFigures(**found)

    def reading_to_set(self, joint_angle: float) -> float:
        """The reading to set the sensor to while the joint stands at a known angle: the spare is then the same at both stops.

        Parameters
        ----------
        joint_angle : float
            deg.

        Returns
        -------
        float

        Examples
        --------
        >>> from elbowroom.bring_up import AlignmentPlan
        >>> plan = AlignmentPlan(joint=(0, 95), sensor_travel=270, ratio=2, margin=5)
        >>> round(plan.reading_to_set(0.0))
        152
        """
        return _core.alignment_reading(self, joint_angle)

    def spare(self, joint_angle: float, reading: float) -> tuple[float, float]:
        """What is spare beyond the lower and the upper stop, deg of the joint.

        Parameters
        ----------
        joint_angle : float
            A known angle, deg.
        reading : float
            The reading there.

        Returns
        -------
        (float, float)

        Examples
        --------
        >>> from elbowroom.bring_up import AlignmentPlan
        >>> plan = AlignmentPlan(joint=(0, 95), sensor_travel=270, ratio=2, margin=5)
        >>> [round(spare, 1) for spare in plan.spare(0.0, 160)]
        [21.1, 18.9]
        """
        return _core.alignment_spare(self, joint_angle, reading)


_BRACKET = _core.usual("BracketPlan")


@dataclass(frozen=True, slots=True, kw_only=True)
class BracketPlan:
    """What is to be searched; drive angles in deg.

    Attributes
    ----------
    toward : {"lower", "upper"}
        Which stop.
    clear : float
        The outermost angle known to be clear.
    search_limit : float
        The angle that is never passed, whatever is found.
    step : float
        The longest way a probe may go beyond what is clear.
    tolerance : float
        The search is over when no more than this lies between clear and contact.

    Examples
    --------
    >>> from elbowroom.bring_up import Bracket, BracketPlan
    >>> plan = BracketPlan(toward="upper", clear=100, search_limit=160)
    >>> Bracket(plan).plan.search_limit
    160
    """

    toward: str
    clear: float
    search_limit: float
    step: float = _BRACKET["step"]
    tolerance: float = _BRACKET["tolerance"]


_STOP_SEARCH = _core.usual("StopSearchPlan")


@dataclass(frozen=True, slots=True, kw_only=True)
class StopSearchPlan:
    """What a stop search needs to know; drive angles in deg.

    Attributes
    ----------
    bracket : BracketPlan
        Which stop, from where, how far and how fine.
    inner : float
        The innermost angle known to be clear: from here to `bracket.clear` the search learns how readings follow.
    run_in : float
        How far it backs off before it comes outward again; more than the lost motion.
    readable : (float, float)
        The readings that the sensor can give with a margin.
    resolution : float
        One step of the reading, e.g. 1 ADC count.
    pace : Pace

    Examples
    --------
    >>> from elbowroom.bring_up import BracketPlan, StopSearchPlan
    >>> StopSearchPlan(bracket=BracketPlan(toward="upper", clear=100, search_limit=160), inner=90).inner
    90
    """

    bracket: BracketPlan
    inner: float
    run_in: float = _STOP_SEARCH["run_in"]
    readable: tuple[float, float] = _STOP_SEARCH["readable"]
    resolution: float = _STOP_SEARCH["resolution"]
    pace: Pace = Pace()


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepPlace:
    """One place of a sweep: drive angle in deg, the end it was moving to, which target (from 0 at the lower end), which run.

    Examples
    --------
    >>> from elbowroom.bring_up import SweepPlan
    >>> place = SweepPlan(ends=(45, 115), targets=8, legs="up").places()[0]
    >>> place.drive, place.toward
    (45.0, 'upper')
    """

    drive: float
    toward: str
    target: int
    run: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepReading:
    """A place and what was read there: the median of its readings, and highest less lowest."""

    place: SweepPlace
    reading: float
    range: float


_SWEEP = _core.usual("SweepPlan")


@dataclass(frozen=True, slots=True, kw_only=True)
class SweepPlan:
    """What a sweep visits: the same drive angles, up and down, as often as the figures ask.

    Each leg starts a run-in before its first target, so that every target is reached from one side: the run-in must be
    longer than the lost motion. For positioning figures take at least 5 targets and 5 runs (ISO 230-2:2014, 5.3.2 of the
    axes up to 2 m; section numbers from memory).

    Attributes
    ----------
    ends : (float, float)
        Lowest and highest target, drive angles in deg.
    targets : int
        Number of targets, evenly spaced, ends included; 2 to 10,000.
    runs : int
        How often each leg is run; 1 to 1000.
    legs : {"up-and-down", "up", "down"}
    run_in : (float, float)
        How far outside the lower end a rising leg starts, and outside the upper end a falling one; 0 where a stop
        forbids it.
    pace : Pace

    Examples
    --------
    >>> from elbowroom.bring_up import SweepPlan
    >>> SweepPlan(ends=(45, 115), targets=8, legs="up").targets
    8
    """

    ends: tuple[float, float]
    targets: int
    runs: int = _SWEEP["runs"]
    legs: str = _SWEEP["legs"]
    run_in: tuple[float, float] = _SWEEP["run_in"]
    pace: Pace = Pace()

    def places(self) -> tuple[SweepPlace, ...]:
        """Every place in the order of the visits.

        Returns
        -------
        tuple of SweepPlace

        Raises
        ------
        BringUpError
            Ends that do not rise, counts or times outside their ranges.

        Examples
        --------
        >>> from elbowroom.bring_up import SweepPlan
        >>> plan = SweepPlan(ends=(10, 70), targets=5, runs=1, run_in=(4, 4))
        >>> [place.drive for place in plan.places()]
        [10.0, 25.0, 40.0, 55.0, 70.0, 70.0, 55.0, 40.0, 25.0, 10.0]
        """
        return tuple(SweepPlace(**place) for place in _core.sweep_places(self)[0])

    def reach(self) -> tuple[float, float]:
        """The lowest and the highest drive angle that is asked for, run-in included.

        Returns
        -------
        (float, float)

        Examples
        --------
        >>> from elbowroom.bring_up import SweepPlan
        >>> plan = SweepPlan(ends=(10, 70), targets=5, runs=1, run_in=(4, 4))
        >>> plan.reach()
        (6.0, 74.0)
        """
        lower, upper = _core.sweep_places(self)[1]
        return lower, upper

    def least_seconds(self) -> float:
        """Seconds that it takes at the least: the settling, without the moves.

        Returns
        -------
        float

        Examples
        --------
        >>> from elbowroom.bring_up import SweepPlan
        >>> plan = SweepPlan(ends=(10, 70), targets=5, runs=1, run_in=(4, 4))
        >>> plan.least_seconds()
        4.0
        """
        return float(_core.sweep_places(self)[2])


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """What an earlier bring-up found, to determine what has changed since.

    Attributes
    ----------
    lower, upper : float or None
        Where the joint met its stops, drive angles in deg.
    at : float
        Some drive angle between them.
    reading : float
        The reading there.
    per_deg : float
        Readings per degree of drive angle there, with sign.

    Examples
    --------
    >>> from elbowroom.rehearsal import rehearse
    >>> baseline = rehearse(seed=1).outcome.baseline()
    >>> baseline.lower < baseline.at < baseline.upper
    True
    """

    lower: float | None = None
    upper: float | None = None
    at: float
    reading: float
    per_deg: float


def baseline_of(record: dict[str, Any]) -> Baseline:
    """A baseline from the core's own record."""
    lower, upper = record.pop("contacts")
    return Baseline(lower=lower, upper=upper, **record)


@dataclass(frozen=True, slots=True, kw_only=True)
class SenseSample:
    """One place of the hand (deg from the start), the reading there, and how the drive answered: 1 to the upper end, -1 to the lower, 0 still.

    Examples
    --------
    >>> from elbowroom.bring_up import SenseSample
    >>> SenseSample(hand=4.0, reading=528.0, response=-1).response
    -1
    """

    hand: float
    reading: float
    response: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SenseResult:
    """What a sense test found.

    Attributes
    ----------
    sense : {"opposing", "aiding", "undetermined"}
        The loop corrects an error; it runs away; it cannot be determined.
    reason : str or None
        Why it is undetermined, in kebab-case.
    sentence : str or None
        The reason written out.
    slope : float
        Readings per degree of the hand, about.
    null : float or None
        The reading at which the drive stands still.
    dead_band : (float, float) or None
        The least and the most that the dead band can be, in readings.
    widest_range : float
        The widest range of repeated readings at one place.

    Examples
    --------
    >>> from elbowroom.rehearsal import rehearse
    >>> result = rehearse(seed=7, fault="wires-swapped").outcome.sense
    >>> result.sense
    'aiding'
    """

    sense: str
    reason: str | None
    sentence: str | None
    slope: float
    null: float | None
    dead_band: tuple[float, float] | None
    widest_range: float

    def advice(self, *, rising: bool = True) -> str | None:
        """What to do, if anything.

        Parameters
        ----------
        rising : bool, default True
            Whether the joint's reading should rise with the drive angle.

        Returns
        -------
        str or None
        """
        return _core.sense_advice(sense_record(self), rising)


def sense_record(sense: SenseResult) -> dict[str, Any]:
    return {name: getattr(sense, name) for name in ("sense", "reason", "slope", "null", "dead_band", "widest_range")}


def sense_of(record: dict[str, Any], sentence: str | None) -> SenseResult:
    band = record.pop("dead_band")
    return SenseResult(dead_band=None if band is None else tuple(band), sentence=sentence, **record)


@dataclass(frozen=True, slots=True, kw_only=True)
class AlignmentEnd:
    """How setting the alignment ended.

    Attributes
    ----------
    kind : {"set", "too-short", "not-set", "not-at-stop"}
        The sensor reaches both stops with the margin; no setting would; it was asked for three times and is not set; the
        angle at a stop was twice said to be far from that of either stop.
    joint_angle : float or None
        The joint angle that was said, deg.
    reading : float or None
        The reading there.
    spare : (float, float), float or None
        Spare beyond each stop, deg of the joint; one number where the sensor is too short.
    settings : int or None
        How often the sensor was turned on its shaft; 0 where it stood right.
    by : float or None
        How far the angle is from the nearer stop's, deg.
    """

    kind: str
    joint_angle: float | None = None
    reading: float | None = None
    spare: tuple[float, float] | float | None = None
    settings: int | None = None
    by: float | None = None


def alignment_end_of(record: Any) -> AlignmentEnd | None:
    if record is None:
        return None
    kind, values = tagged(record)
    if isinstance(values.get("spare"), list):
        values["spare"] = tuple(values["spare"])
    return AlignmentEnd(kind=kind, **values)


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchEnd:
    """How a stop search ended.

    Attributes
    ----------
    kind : str
        ``"contact"``: a stop was found; ``"search-limit"``: the search limit was reached, all clear; ``"sensor-runs-out"``, ``"erratic"``
        (repeats lie far apart), ``"not-followed"``, ``"too-noisy"``; ``"stopped"``.
    clear : float or None
        The outermost drive angle found clear, deg.
    contact : float or None
        The innermost drive angle at which the joint stayed behind, deg.
    load : float or None
        The highest load on contact, part of the stall current.
    drive : float or None
        Where it went wrong, drive angle in deg.
    reading, range, by : float or None
        The reading there; highest less lowest of its repeats; by how much it changed.
    u, step : float or None
        Standard uncertainty of one median of readings, and the least step at which a stop could be detected, deg.
    """

    kind: str
    clear: float | None = None
    contact: float | None = None
    load: float | None = None
    drive: float | None = None
    reading: float | None = None
    range: float | None = None
    by: float | None = None
    u: float | None = None
    step: float | None = None


def readings_of(record: list[dict[str, Any]]) -> tuple[SweepReading, ...]:
    return tuple(
        SweepReading(place=SweepPlace(**one["place"]), reading=one["reading"], range=one["range"]) for one in record
    )


for _name in __all__:
    globals()[_name].__module__ = "elbowroom.bring_up"
