"""Many fits at once: a table of readings of many joints of many robots."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np

from elbowroom import _core
from elbowroom._errors import ArgumentError, ArgumentTypeError, FitError
from elbowroom._fit import LimitFit, fit_limits

__all__ = ["FleetFit", "fit_many"]

Key = tuple[Any, ...]
Failure = FitError | ArgumentTypeError
# Columns that are taken when they are there.
OPTIONAL = ("approach", "contact", "u", "time")


class FleetFit(Mapping[Key, LimitFit]):
    """What `fit_many` found: a mapping from key (e.g. robot and joint) to `LimitFit`.

    Attributes
    ----------
    by : tuple of str
        The names of the key's parts.
    failed : dict
        The keys that could not be fitted, each with its error: a `FitError`, or an `ArgumentTypeError` for a word of `approach` or
        `contact` that is not known.
    """

    def __init__(
        self, by: tuple[str, ...], fits: dict[Key, LimitFit], failed: dict[Key, Failure], frame: type | None = None
    ) -> None:
        self.by = by
        self.failed = failed
        self._fits = fits
        self._frame = frame

    def __getitem__(self, key: Key) -> LimitFit:
        return self._fits[key]

    def __iter__(self) -> Iterator[Key]:
        return iter(self._fits)

    def __len__(self) -> int:
        return len(self._fits)

    def __repr__(self) -> str:
        return f"<FleetFit by {', '.join(self.by)}: {len(self)} fitted, {len(self.failed)} failed>"

    def __or__(self, other: FleetFit) -> FleetFit:
        """Both together, for fits that were made in parts."""
        if self.by != other.by:
            raise ArgumentError(f"fits by {self.by} and by {other.by} do not belong together", code="other")
        return FleetFit(self.by, self._fits | other._fits, self.failed | other.failed, self._frame)

    def table(self) -> Any:
        """One row for each key, as the kind of table that the readings came in (a dict of lists for a dict).

        Returns
        -------
        DataFrame or dict
            The key's columns, then slope, u_slope, both ends (kind, at, u), travel, lost_motion and its u, readings,
            rejected, and error: None where the fit succeeded.

        Examples
        --------
        >>> import elbowroom as elb
        >>> readings = {"robot": ["heron"] * 6, "joint": ["neck"] * 6, "drive": [10, 20, 30, 40, 50, 60],
        ...             "measured": [12.1, 21.9, 32.0, 42.2, 51.9, 62.0]}
        >>> table = elb.fit_many(readings).table()
        >>> table["joint"], table["readings"]
        (['neck'], [6])
        """
        rows = [self._row(key, fit, None) for key, fit in self.items()]
        rows += [self._row(key, None, error) for key, error in self.failed.items()]
        names = [*self.by, *COLUMNS]
        columns = {name: [row[name] for row in rows] for name in names}
        return columns if self._frame is None else self._frame(columns)

    def _row(self, key: Key, fit: LimitFit | None, error: Failure | None) -> dict[str, Any]:
        row: dict[str, Any] = dict.fromkeys(COLUMNS)
        row.update(zip(self.by, key, strict=True))
        if fit is not None:
            travel = fit.travel or (None, None)
            row.update(
                slope=fit.slope,
                u_slope=fit.u_slope,
                lower_kind=fit.lower.kind,
                lower_at=fit.lower.at,
                lower_u=fit.lower.u,
                upper_kind=fit.upper.kind,
                upper_at=fit.upper.at,
                upper_u=fit.upper.u,
                travel_lower=travel[0],
                travel_upper=travel[1],
                lost_motion=fit.lost_motion.value,
                u_lost_motion=fit.lost_motion.u,
                readings=fit.readings,
                rejected=len(fit.rejected),
            )
        row["error"] = None if error is None else str(error)
        return row


COLUMNS = (
    "slope", "u_slope", "lower_kind", "lower_at", "lower_u", "upper_kind", "upper_at", "upper_u", "travel_lower",
    "travel_upper", "lost_motion", "u_lost_motion", "readings", "rejected", "error",
)  # fmt: skip


def _names(frame: Any) -> tuple[list[str], type | None]:
    """The column names of a table, and how to make another like it."""
    if isinstance(frame, Mapping):
        return list(frame), None
    columns = getattr(frame, "columns", None)
    if columns is None or not hasattr(frame, "__getitem__"):
        kind = "None" if frame is None else f"of type {type(frame).__name__}"
        raise ArgumentTypeError(
            f"frame is {kind}; give a pandas or polars DataFrame, or a dict of columns (for the arrays of one joint: fit_limits)",
            code="wrong-type",
            value=frame,
        )
    return list(columns), type(frame)


def _is_blank(side: Any) -> bool:
    """Whether a cell of `approach` tells no side: a gap of a table, an empty word, or `unknown`."""
    if isinstance(side, str):
        return side.strip().lower() in ("", "unknown")
    return side is None or type(side).__name__ == "NAType" or (isinstance(side, (float, np.floating)) and bool(np.isnan(side)))


def _check_names(column: str, cells: list[Any]) -> None:
    """Refuse rows that do not say whose reading they are, and names that are written in two ways."""
    gap = [part is None or type(part).__name__ == "NAType" or bool(part != part) for part in cells]
    names = [None if blank else part if isinstance(part, str) else repr(part) for part, blank in zip(cells, gap, strict=True)]
    fault = _core.names_fault(str(column), names)
    if fault is not None:
        index, sentence, is_missing = fault
        raise ArgumentError(sentence, code="missing-key" if is_missing else "unknown-word", index=index)


def _column_name(value: Any, what: str) -> None:
    """Refuse what can be no column's name: an array given in its place."""
    if not isinstance(value, Hashable):
        raise ArgumentTypeError(
            f"{what} is of type {type(value).__name__}; give the name of a column of frame (for the arrays of one joint: fit_limits)",
            code="wrong-type",
            value=value,
        )


def fit_many(
    frame: Any = None,
    *,
    by: Sequence[str] = ("robot", "joint"),
    drive: str = "drive",
    measured: str = "measured",
    workers: int = 1,
    progress: Callable[[int, int, Key], None] | None = None,
    **options: Any,
) -> FleetFit:
    """Fit the limits of every joint in a table of readings.

    Parameters
    ----------
    frame : pandas.DataFrame, polars.DataFrame or dict of columns
        One row a reading. Columns `approach`, `contact`, `u` and `time` (s) are used when they are there. A joint whose rows are all
        blank in `approach` has its sides inferred from their order.
    by : sequence of str, default ("robot", "joint")
        The columns that tell whose reading it is; any number of them.
    drive, measured : str
        The names of the columns.
    workers : int, default 1
        Threads; fits run outside the interpreter lock.
    progress : callable, optional
        Called as ``progress(done, total, key)`` after each fit, from the calling thread.
    **options
        `guard`, `confidence` and `resolution` of `fit_limits`.

    Returns
    -------
    FleetFit
        In the order in which the keys first appear; readings that cannot be fitted are in its `failed`.

    Raises
    ------
    ArgumentError
        A column that is not there, a key with a gap, a name that differs from another one in capitals or blanks at its ends alone, or no
        threads.

    Examples
    --------
    >>> import elbowroom as elb
    >>> readings = {"robot": ["heron"] * 6, "joint": ["neck"] * 6, "drive": [10, 20, 30, 40, 50, 60],
    ...             "measured": [12.1, 21.9, 32.0, 42.2, 51.9, 62.0]}
    >>> fits = elb.fit_many(readings)
    >>> fits["heron", "neck"].travel
    (10.0, 60.0)
    """
    names, kind = _names(frame)
    if not isinstance(by, Iterable) or isinstance(by, (bytes, bytearray)):
        raise ArgumentTypeError(f"by is of type {type(by).__name__}; give names of columns", code="wrong-type", value=by)
    by = (by,) if isinstance(by, str) else tuple(by)
    for value, what in ((drive, "drive"), (measured, "measured"), *((part, "by") for part in by)):
        _column_name(value, what)
    for name in (*by, drive, measured):
        if name not in names:
            near = difflib.get_close_matches(str(name), map(str, names), 1)
            hint = f"; the nearest is {near[0]}" if near else ""
            raise ArgumentError(f"frame has no column {name}{hint} (its columns: {', '.join(map(str, names))})", code="missing-key", value=name)
    if isinstance(workers, bool) or not isinstance(workers, (int, np.integer)):
        raise ArgumentTypeError(f"workers is of type {type(workers).__name__}; give a whole number", code="wrong-type", value=workers)
    if workers < 1:
        raise ArgumentError(f"workers is {workers}; give at least 1", code="option-outside", value=workers)
    rows: dict[Key, list[int]] = {}
    parts = [list(frame[name]) for name in by]
    for name, cells in zip(by, parts, strict=True):
        _check_names(name, cells)
    for index, key in enumerate(zip(*parts, strict=True)):
        rows.setdefault(key, []).append(index)
    columns = {name: np.asarray(frame[column]) for name, column in (("drive", drive), ("measured", measured))}
    columns |= {name: np.asarray(frame[name], dtype=None if name in ("u", "time") else object) for name in OPTIONAL if name in names}

    def one(key: Key) -> LimitFit | Failure:
        chosen = rows[key]
        extra: dict[str, Any] = {name: columns[name][chosen] for name in OPTIONAL if name in columns}
        if "approach" in extra:
            sides = list(extra.pop("approach"))
            # Blank in all rows of this joint, the column is for others.
            if not all(map(_is_blank, sides)):
                extra["approach"] = sides
        try:
            return fit_limits(columns["drive"][chosen], columns["measured"][chosen], **extra, **options)
        except FitError as error:
            return error
        except ArgumentTypeError as error:
            # A word of one row, not an option of all.
            if error.index is None:
                raise
            return error

    fits: dict[Key, LimitFit] = {}
    failed: dict[Key, Failure] = {}
    with ThreadPoolExecutor(max_workers=int(workers)) as pool:
        results = map(one, rows) if workers == 1 else pool.map(one, rows)
        for done, (key, result) in enumerate(zip(rows, results, strict=True), start=1):
            if isinstance(result, (FitError, ArgumentTypeError)):
                failed[key] = result
            else:
                fits[key] = result
            if progress is not None:
                progress(done, len(rows), key)
    return FleetFit(by, fits, failed, kind)


for _kind in (FleetFit, fit_many):
    _kind.__module__ = "elbowroom"
