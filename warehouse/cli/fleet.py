"""The fleet views of a reliability team: bad actors, rates, coverage, reliability, precision."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from pathlib import Path
from typing import Annotated

import typer

from schemas.codes import CRITICALITY, EQUIPMENT_CLASS
from warehouse.cli import show
from warehouse.cli.fleet_words import NOTES, SHOWN
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.cli.saving import check_workbook, write_csv, write_workbook
from warehouse.cli.stopped import tell_if_stopped
from warehouse.judging.advice import CAUTION
from warehouse.services.exporting import plain_rows
from warehouse.services.fleet_views import (
    FLEET,
    FleetRows,
    Selection,
    fleet_rows,
    kinds_selected,
    purposes,
)
from warehouse.store import open_store


def fleet(
    view: Annotated[
        str | None, typer.Argument(help="Which view; without one, the views are listed.")
    ] = None,
    home: Home = DEFAULT_HOME,
    since: Annotated[
        str | None,
        typer.Option("--from", metavar="TIME", help="Window begins: a day (UTC), or RFC 3339."),
    ] = None,
    until: Annotated[
        str | None, typer.Option("--to", metavar="TIME", help="Window ends before: as --from.")
    ] = None,
    site: Annotated[
        list[str] | None, typer.Option("--site", help="Only this site; may be repeated.")
    ] = None,
    class_: Annotated[
        list[str] | None,
        typer.Option("--class", help="Only trains with such a machine; may be repeated."),
    ] = None,
    criticality: Annotated[
        list[str] | None, typer.Option("--criticality", help="Only A, B or C; may be repeated.")
    ] = None,
    json: Json = False,
    csv: Annotated[
        Path | None, typer.Option("--csv", help="Write all columns to a CSV file.", readable=False)
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", help="Workbook (.xlsx) to write, all columns.", readable=False),
    ] = None,
) -> None:
    """Show what the fleet of machines did over a window; without VIEW, list what there is to see.

    Shares, rates and ranks are of the machines chosen. Where no window is given it is
    the last year.
    """
    if view is None:
        _list(json)
        return
    if view not in FLEET:
        raise typer.BadParameter(f"{view!r} is no fleet view; there are: {', '.join(FLEET)}")
    if (since or until) and "window" not in kinds_selected(view):
        raise typer.BadParameter(f"{view} is of now: it has no window for --from and --to")
    if out is not None:
        check_workbook(out)
    selection = Selection(
        tuple(site or ()),
        _known("--class", class_, EQUIPMENT_CLASS),
        _known("--criticality", criticality, CRITICALITY),
        *_window(since, until),
    )
    store = open_store(home)
    found = fleet_rows(store, view, selection)
    tell_if_stopped(store)
    if csv is not None:
        write_csv(found.rows, csv)
    if out is not None:
        write_workbook(found.rows, out, view, _notes(found))
    if json:
        _as_json(found)
    elif csv is None and out is None:
        _show(found)


def _list(json: bool) -> None:
    if json:
        show.as_json([{"view": name, "purpose": words} for name, words in purposes().items()])
    else:
        show.table(f"{len(FLEET)} fleet views", ("view", "purpose"), purposes().items())


def _known(option: str, given: list[str] | None, codes: Iterable[str]) -> tuple[str, ...]:
    allowed = list(codes)
    for one in given or ():
        if one not in allowed:
            raise typer.BadParameter(f"{option} {one!r} is not one of {', '.join(allowed)}")
    return tuple(given or ())


def _window(since: str | None, until: str | None) -> tuple[dt.datetime | None, dt.datetime | None]:
    begins, ends = _moment("--from", since), _moment("--to", until)
    if begins and ends and begins >= ends:
        raise typer.BadParameter(f"--from {since} is not before --to {until}")
    return begins, ends


def _moment(option: str, text: str | None) -> dt.datetime | None:
    if text is None:
        return None
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        moment = None
    is_day = moment is not None and len(text) <= len("2025-11-13")
    if moment is None or (moment.tzinfo is None and not is_day):
        raise typer.BadParameter(
            f"{option} {text!r} is no day, such as 2025-11-13, and no time with its zone, "
            "such as 2025-11-13T23:00:00Z"
        )
    return moment.replace(tzinfo=dt.UTC) if moment.tzinfo is None else moment


def _as_json(found: FleetRows) -> None:
    show.as_json(
        {
            "view": found.view,
            "as_of": found.as_of,
            "window_from": found.since,
            "window_to": found.until,
            "rows": plain_rows(found.rows),
            "notes": NOTES[found.view],
            "caution": CAUTION,
        }
    )


def _show(found: FleetRows) -> None:
    cells = SHOWN[found.view]
    rows = [[cell(row) for cell in cells.values()] for row in found.rows.to_pylist()]
    title = f"{found.view}: {show.counted(len(rows), 'row')}{_ranked(found)}, {_when(found)}"
    show.table(title, list(cells), rows)
    for note in _notes(found)[1:]:
        show.out.print(note, highlight=False, soft_wrap=True)


def _notes(found: FleetRows) -> list[str]:
    return [f"{found.view}, {_when(found)}", *NOTES[found.view], CAUTION]


def _ranked(found: FleetRows) -> str:
    """How many a ranking ranks: its row says it."""
    if "n" not in found.rows.column_names or not found.rows.num_rows:
        return ""
    return f", {found.rows.column('n')[0].as_py()} ranked"


def _when(found: FleetRows) -> str:
    if found.since is None or found.until is None:
        return f"as of {found.as_of:%Y-%m-%d %H:%M} UTC"
    return f"{found.since:%Y-%m-%d %H:%M} to {found.until:%Y-%m-%d %H:%M} UTC"
