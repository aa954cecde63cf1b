"""For meetings: what is new since the last one, and what an outage must take in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Annotated, Any, TypeVar

import typer
from rich.table import Table
from rich.text import Text

from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.cli.stopped import tell_if_stopped
from warehouse.services.displaying import Display, Displays, displays_of
from warehouse.services.meeting_lists import (
    outage_listing,
    outage_words,
    sheet_listing,
    sheet_words,
    write_listing,
)
from warehouse.services.meetings import (
    OUTAGE_HEADINGS,
    SHEET_HEADINGS,
    MeetingSheet,
    OutageList,
    meeting_sheet,
    outage_list,
)
from warehouse.store import open_store

_DAY = ["%Y-%m-%d"]
_MOMENTS = (
    "level_since", "respond_by", "measured_at", "deadline", "boundary_on", "boundary_from",
)  # fmt: skip
_STYLE = {
    "danger": "bold white on red", "alert": "bold black on yellow", "watch": "bold cyan",
    "unknown": "dim", "normal": "green",
}  # fmt: skip
Row = dict[str, Any]
_List = TypeVar("_List", MeetingSheet, OutageList)
Site = Annotated[str | None, typer.Option("--site", help="Only this site.")]
Out = Annotated[
    Path | None, typer.Option("--out", help="Workbook (.xlsx) to write.", readable=False)
]


def sheet(
    home: Home = DEFAULT_HOME,
    since: Annotated[
        dt.datetime | None,
        typer.Option("--since", formats=_DAY, help="Day of the last meeting; else a week ago."),
    ] = None,
    site: Site = None,
    out: Out = None,
    json: Json = False,
) -> None:
    """Show what a maintenance meeting talks about.

    New, worse, cleared, overdue, no longer put off, and silent since the last one.
    """
    _workbook_only(out)
    store = open_store(home)
    found = meeting_sheet(store, since.date() if since else None, site)
    displays = displays_of(store)
    kept = _to_keep(found, tell_if_stopped(store))
    if out is not None:
        _say(out, write_listing(sheet_listing(kept, displays), out))
    if json:
        show.as_json(asdict(kept) | {"rows": displays.beside(found.rows, _MOMENTS)})
    elif out is None:
        show.out.print(f"Meeting sheet since {found.since}", style="bold", highlight=False)
        _headed(SHEET_HEADINGS, found.rows, displays, _sheet_cells, _SHEET_COLUMNS)
        _below(sheet_words(found), found.rows, found.cautions, displays)


def outage(
    first: Annotated[dt.datetime, typer.Argument(metavar="FROM", formats=_DAY, help="First day.")],
    last: Annotated[dt.datetime, typer.Argument(metavar="TO", formats=_DAY, help="Last day.")],
    home: Home = DEFAULT_HOME,
    following: Annotated[
        tuple[dt.datetime, dt.datetime] | None,
        typer.Option(
            "--next",
            metavar="FROM TO",
            formats=_DAY,
            help="The window after it; else as long, one interval later (28 days).",
        ),
    ] = None,
    site: Site = None,
    out: Out = None,
    json: Json = False,
) -> None:
    """List what must go in to an outage, and what can wait until the next."""
    _workbook_only(out)
    store = open_store(home)
    after = (following[0].date(), following[1].date()) if following else None
    try:
        found = outage_list(store, first.date(), last.date(), after, site)
    except ValueError as error:
        raise typer.BadParameter(str(error)) from error
    displays = displays_of(store)
    kept = _to_keep(found, tell_if_stopped(store))
    if out is not None:
        _say(out, write_listing(outage_listing(kept, displays), out))
    if json:
        show.as_json(asdict(kept) | {"rows": displays.beside(found.rows, _MOMENTS)})
    elif out is None:
        title = f"Outage {found.windows.first} to {found.windows.last}"
        show.out.print(title, style="bold", highlight=False)
        _headed(OUTAGE_HEADINGS, found.rows, displays, _outage_cells, _OUTAGE_COLUMNS)
        _below(outage_words(found), found.rows, found.cautions, displays)


def _to_keep(found: _List, stopped: str | None) -> _List:
    """A list that goes on without what stderr said: it says itself where judging is stopped."""
    return replace(found, cautions=(stopped, *found.cautions)) if stopped else found


def _workbook_only(out: Path | None) -> None:
    if out is not None and out.suffix.lower() != ".xlsx":
        raise typer.BadParameter(f"{out} is no workbook: its name must end with .xlsx")


def _say(out: Path, rows: int) -> None:
    show.notes.print(f"{out}: {show.counted(rows, 'row')}.", highlight=False, soft_wrap=True)


_SHEET_COLUMNS = {"case": 0, "machine": 2, "level": 0, "what": 4, "who": 2, "next": 3}
_OUTAGE_COLUMNS = {
    "case": 0, "machine": 2, "level": 0, "why": 4, "who": 2, "parts and stand-in": 2, "next": 3,
}  # fmt: skip


def _headed(
    headings: Sequence[str],
    rows: list[Row],
    displays: Displays,
    cells: Any,
    columns: dict[str, int],
) -> None:
    """A table a heading; an empty one is named, so that nobody wonders."""
    for heading in headings:
        own = [row for row in rows if row["heading"] == heading]
        if not own:
            show.out.print(f"{heading.capitalize()}: none", style="bold", highlight=False)
            continue
        shown = Table(
            title=f"{heading.capitalize()}: {len(own)}", title_justify="left", title_style="bold",
            header_style="bold", show_lines=True, expand=True,
        )  # fmt: skip
        for name, ratio in columns.items():
            justify: Any = "right" if name == "case" else "left"
            width = 22 if name == "machine" else None
            shown.add_column(
                name, ratio=ratio or None, overflow="fold", justify=justify, min_width=width
            )
        for row in own:
            shown.add_row(*cells(row, displays.of(row["site"])))
        show.out.print(shown)


def _below(words: str, rows: list[Row], cautions: Sequence[str], displays: Displays) -> None:
    told = displays.told(row["site"] for row in rows)
    for line in filter(None, (words, told)):
        show.out.print(line, markup=False, highlight=False, soft_wrap=True)
    for line in cautions:
        show.out.print(line, style="italic", markup=False, highlight=False, soft_wrap=True)


def _sheet_cells(row: Row, display: Display) -> tuple[str | Text, ...]:
    what = _lines(row["change"], row["reason"], display.words(row))
    return (*_machine(row, display), what, _who(row, display), row["next_step"] or "")


def _outage_cells(row: Row, display: Display) -> tuple[str | Text, ...]:
    why = _lines(row["why"], row["reason"], display.words(row))
    parts = _lines(
        f"stand-in {row['standby']}: {row['standby_words']}",
        f"bearing {row['bearing'] or 'not known'}", f"coupling {row['coupling'] or 'not known'}",
        f"area classification {row['area_classification'] or 'none registered'}",
    )  # fmt: skip
    return (*_machine(row, display), why, _who(row, display), parts, row["next_step"] or "")


def _machine(row: Row, display: Display) -> tuple[str | Text, ...]:
    machine = "/".join(row[name] for name in ("site", "asset", "member"))
    power = display.power(row.get("power_kw"))
    ids = ", ".join(filter(None, (row["asset_external_id"], row["member_external_id"])))
    level = Text.assemble((row["level"], _STYLE[row["level"]]), f"\n{row['basis']}")
    return (
        str(row["case_id"] or ""),
        _lines(machine, row["asset_name"], ids, power.words if power else None),
        level,
    )


def _who(row: Row, display: Display) -> Text:
    since, respond = display.stamp(row["level_since"]), display.stamp(row["respond_by"])
    return _lines(
        row["state"] and f"{row['state']}, priority {row['priority']}",
        since and f"since {since}",
        row["condition_since"] and f"condition that bad since {row['condition_since']}",
        respond and f"respond by {respond}",
        row["owner"] and f"owner {row['owner']}",
        row["order_id"] and f"order {row['order_id']}",
    )


def _lines(*parts: str | None) -> Text:
    return Text("\n".join(part for part in parts if part))
