"""Examples that run as they are, and Heron, the demo robot (its numbers are invented).

Examples
--------
Where the files are:

>>> from elbowroom import examples
>>> examples.path("heron.toml").name
'heron.toml'
>>> examples.names()[:3]
['bring_up.py', 'calibrate.py', 'fleet_dask.py']

Load the demo robot:

>>> import elbowroom as elb
>>> elb.Robot.load(examples.path("heron.toml"))["wing_left"].counts(10)
283

In the shell, ``python -m elbowroom.examples`` lists them, ``python -m elbowroom.examples.calibrate`` runs one.
"""

from __future__ import annotations

from pathlib import Path

__all__ = ["names", "path"]

_FOLDER = Path(__file__).resolve().parent


def names() -> list[str]:
    """The names of the files, in order.

    Returns
    -------
    list of str
    """
    return sorted(file.name for file in _FOLDER.iterdir() if file.suffix in (".py", ".toml") and not file.name.startswith("_"))


def path(name: str) -> Path:
    """Where one of them is.

    Parameters
    ----------
    name : str
        One of `names`.

    Returns
    -------
    pathlib.Path

    Raises
    ------
    KeyError
        No file has this name.
    """
    if name not in names():
        raise KeyError(f"no example {name!r}; give one of {', '.join(names())}")
    return _FOLDER / name
