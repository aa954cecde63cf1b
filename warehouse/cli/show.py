"""How the command line shows things: tables a person likes to read, or JSON on request."""

from __future__ import annotations

import datetime as dt
import json
import os
import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from warehouse.wording import counted as counted

_PIPED_WIDTH = 200
"""Width where no terminal says one: a file or another program has no edge to wrap at."""

out = Console(
    width=None if sys.stdout.isatty() or "COLUMNS" in os.environ else _PIPED_WIDTH,
)
"""Data: stdout."""

notes = Console(stderr=True)
"""Progress and messages: stderr."""


_WHOLE = frozenset({"package", "line", "rank", "train", "which"})
"""Columns that are useless in pieces."""


def table(
    title: str,
    columns: Sequence[str],
    rows: Iterable[Sequence[Any]],
    right: Sequence[str] = (),
    styles: Mapping[str, str] | None = None,
) -> None:
    """Print rows; columns named in `right` are aligned right."""
    shown = Table(title=title, title_justify="left", title_style="bold", header_style="bold")
    for name in columns:
        shown.add_column(
            name,
            justify="right" if name in right else "left",
            style=(styles or {}).get(name, ""),
            overflow="fold",
            no_wrap=name in right or name in _WHOLE,
        )
    for row in rows:
        shown.add_row(*(Text(text(cell)) for cell in row))
    out.print(shown)


def text(cell: Any) -> str:
    """A cell as a person reads it."""
    if cell is None:
        return ""
    if isinstance(cell, float):
        return f"{cell:,.2f}"
    if isinstance(cell, int) and not isinstance(cell, bool):
        return f"{cell:,}"
    if isinstance(cell, dt.datetime):
        return f"{cell:%Y-%m-%d %H:%M}"
    return str(cell)


def exactly(cell: Any) -> str:
    """A cell as it is stored: every digit of a number, whole times."""
    if isinstance(cell, float):
        return f"{cell:.12g}"
    if isinstance(cell, dt.datetime):
        return str(plain(cell))
    return "" if cell is None else str(cell)


def as_json(value: Any) -> None:
    """Print a value as JSON."""
    sys.stdout.write(json.dumps(value, indent=2, default=plain, ensure_ascii=False) + "\n")


def plain(value: Any) -> Any:
    """What JSON has no form for, as text."""
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, dt.date):
        return value.isoformat()
    return str(value)
