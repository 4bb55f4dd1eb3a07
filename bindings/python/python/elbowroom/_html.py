"""Tables for notebooks."""

from __future__ import annotations

import html
from collections.abc import Sequence


def table(head: tuple[str, ...], rows: Sequence[tuple[object, ...]]) -> str:
    """A plain HTML table for notebooks; every cell is escaped."""
    top = "".join(f"<th>{html.escape(cell)}</th>" for cell in head)
    body = "".join("<tr>" + "".join(f"<td>{html.escape(str(cell))}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"
