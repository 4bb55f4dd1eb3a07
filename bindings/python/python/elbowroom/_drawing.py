"""What the docstrings of all pictures say alike, told once."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable
from typing import Any, TypeVar, cast

from elbowroom._errors import ArgumentTypeError

_Plot = TypeVar("_Plot", bound=Callable[..., Any])

_DOC = """{first}

Parameters
----------
path : str or os.PathLike, optional
    Where to save the picture; the ending says how (.svg, .png, .pdf).
ax : matplotlib.axes.Axes, optional
    {ax}; a new figure{panels} if left out.
title : str, optional{title}

Returns
-------
matplotlib.axes.Axes{returns}

Raises
------
ImportError
    matplotlib is not installed: ``pip install elbowroom[plot]``.
{example}"""


def drawing(ax: str = "Where to draw", *, panels: str = "", title: str = "", returns: str = "", example: str = "") -> Callable[[_Plot], _Plot]:
    """Completes the docstring of a plot, whose own says what is drawn: where it goes, how it is saved and what is raised.

    `example`: what runs, with its prompts.
    """

    def described(plot: _Plot) -> _Plot:
        indented = {name: f"\n    {text}" if text else "" for name, text in (("title", title), ("returns", returns))}
        shown = f"\nExamples\n--------\n{inspect.cleandoc(example)}\n" if example else ""
        plot.__doc__ = _DOC.format(first=inspect.getdoc(plot), ax=ax, panels=panels, example=shown, **indented)

        @functools.wraps(plot)
        def checked(*args: Any, **options: Any) -> Any:
            given = options.get("title")
            if given is not None and not isinstance(given, str):
                raise ArgumentTypeError(f"title is of type {type(given).__name__}; give a string", code="wrong-type", value=given)
            return plot(*args, **options)

        return cast("_Plot", checked)

    return described
