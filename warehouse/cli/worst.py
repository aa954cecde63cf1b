"""The table of the machines to look at first."""

from __future__ import annotations

from typing import Any

from rich.table import Table
from rich.text import Text

from warehouse.cli import show
from warehouse.judging.advice import CAUTION
from warehouse.services.displaying import Display, Displays
from warehouse.services.fleet import Fleet

_STYLE = {
    "danger": "bold white on red",
    "alert": "bold black on yellow",
    "watch": "bold cyan",
    "unknown": "dim",
    "normal": "green",
}


_CANONICAL = Displays({})


def show_worst(fleet: Fleet, displays: Displays = _CANONICAL) -> None:
    """Print the ranking: level and zone, evidence, trend; and the levels of the whole fleet."""
    shown = Table(
        title=f"Machines to look at first, as of {fleet.as_of:%Y-%m-%d %H:%M} UTC",
        title_justify="left",
        title_style="bold",
        header_style="bold",
        show_lines=True,
        expand=True,
    )
    shown.add_column("#", justify="right")
    shown.add_column("machine", min_width=20, max_width=34)
    shown.add_column("level", min_width=7)
    shown.add_column("evidence", ratio=1)
    for row in fleet.rows:
        shown.add_row(*_cells(row, displays.of(row["site"])))
    show.out.print(shown)
    total = sum(fleet.levels.values())
    counts = ", ".join(f"{fleet.levels.get(level, 0)} {level}" for level in _STYLE)
    show.out.print(f"{show.counted(total, 'machine')}: {counts}. Unknown is not healthy.")
    if told := displays.told(row["site"] for row in fleet.rows):
        show.out.print(told, markup=False, highlight=False, soft_wrap=True)
    show.out.print(CAUTION, style="italic")


def _cells(row: dict[str, Any], display: Display) -> tuple[str | Text, ...]:
    zone = _zone(row["zone"]) if row["zone"] else ""
    return (
        str(row["rank"]),
        Text(f"{row['site']}/{row['asset']}\n{row['name']}"),
        Text.assemble((row["level"], _STYLE[row["level"]]), zone),
        Text("\n".join(filter(None, (row["reason"], *_course(row), display.words(row))))),
    )


def _zone(grade: str) -> str:
    """Zones by their letter; the grades of other sets are words already."""
    return f"\nzone {grade}" if grade.isupper() else "\n" + grade.replace("-", " ")


def _course(row: dict[str, Any]) -> list[str]:
    """Since when it has been so, and how it goes: the last line of the evidence."""
    parts = []
    if row["since"]:
        parts.append(f"In this state since {row['since']}")
    if row["trend_reason"] and row["trend_reason"] not in row["reason"]:
        parts.append(row["trend_reason"])
    return ["; ".join(parts) + "."] if parts else []
