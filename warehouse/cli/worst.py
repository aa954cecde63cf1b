"""The table of the machines to look at first."""

from __future__ import annotations

from typing import Any

from rich.table import Table
from rich.text import Text

from warehouse.cli import show
from warehouse.services.fleet import Fleet

_STYLE = {
    "danger": "bold white on red",
    "alert": "bold black on yellow",
    "watch": "bold cyan",
    "unknown": "dim",
    "normal": "green",
}


def show_worst(fleet: Fleet) -> None:
    """Print the ranking: level and zone, evidence, trend; and the levels of the whole fleet."""
    shown = Table(
        title=f"Machines to look at first, as of {fleet.as_of:%Y-%m-%d %H:%M} UTC",
        title_justify="left",
        title_style="bold",
        header_style="bold",
        show_lines=True,
    )
    for name in ("#", "machine", "level", "zone", "evidence", "per 30 days", "since"):
        shown.add_column(name, overflow="fold")
    for row in fleet.rows:
        shown.add_row(*_cells(row))
    show.out.print(shown)
    total = sum(fleet.levels.values())
    counts = ", ".join(f"{fleet.levels.get(level, 0)} {level}" for level in _STYLE)
    show.out.print(f"{show.counted(total, 'machine')}: {counts}. Unknown is not healthy.")


def _cells(row: dict[str, Any]) -> tuple[str | Text, ...]:
    machine = f"{row['site']}/{row['asset']}\n{row['name']}"
    trend = row["trend_per_30_days"]
    return (
        str(row["rank"]),
        Text(machine),
        Text(row["level"], style=_STYLE[row["level"]]),
        row["zone"] or "-",
        Text(row["reason"]),
        "" if trend is None else f"{trend:+.2f} {row['unit']}",
        show.text(row["since"]),
    )
