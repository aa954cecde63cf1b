"""Routes: how well they are walked, the sheet of a walk, the mapping that reads it back."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.refusals import plain_refusals
from warehouse.services import routes
from warehouse.store import open_store

route_app = typer.Typer(help="Walked routes: sheets and compliance.", no_args_is_help=True)

Route = Annotated[str, typer.Argument(help="Route code.")]
_SHOWN = (
    "Stop", "Machine", "Position", "Axis", "Expected", "Last on", "Last value", "Alert above",
    "Meter shows",
)  # fmt: skip


@route_app.command("list")
def list_routes(
    home: Home = DEFAULT_HOME,
    site: Annotated[str | None, typer.Option("--site", help="Only this site.")] = None,
    json: Json = False,
) -> None:
    """List the routes and how well they were walked within the last year."""
    found = routes.list_routes(open_store(home), site)
    if json:
        show.as_json(found)
        return
    rows = [
        [
            row["route"], row["site"], row["stops"], row["state"], row["last_walk_at"],
            row["due_at"], f"{row['walks']} of {row['walks_expected'] or 0}", row["walks_late"],
            _share(row["share"]), row["not_running"], row["missed"], row["unexplained"],
            row["stops_overdue"],
        ]
        for row in found
    ]  # fmt: skip
    columns = (
        "route", "site", "stops", "next walk", "last (UTC)", "due (UTC)", "walks", "late",
        "measured", "not running", "missed", "unexplained", "stops overdue",
    )  # fmt: skip
    show.table(show.counted(len(rows), "route"), columns, rows)


def _share(share: float | None) -> str | None:
    return None if share is None else f"{100 * share:.0f} %"


@route_app.command("walks")
def list_walks(route: Route, home: Home = DEFAULT_HOME, json: Json = False) -> None:
    """List the walks of a route: what was measured, and why the rest was not."""
    found = routes.walks(open_store(home), route)
    if json:
        show.as_json(found)
        return
    names = (
        "started_at", "stops", "measured", "not_running", "no_access", "unsafe", "no_time",
        "meter_fault", "unexplained", "observed",
    )  # fmt: skip
    rows = [[*(row[name] for name in names), _share(row["share"]), _late(row)] for row in found]
    columns = [*(name.replace("_", " ") for name in names), "share", "in time"]
    columns[0] = "started (UTC)"
    show.table(show.counted(len(rows), "walk"), columns, rows)


def _late(row: routes.Row) -> str:
    if row["in_time"] is None:
        return "first"
    return "yes" if row["in_time"] else f"{row['days_late']:.1f} d late"


@route_app.command("sheet")
def sheet(
    route: Route,
    home: Home = DEFAULT_HOME,
    out: Annotated[
        Path | None, typer.Option("--out", help="Workbook (.xlsx) to write.", readable=False)
    ] = None,
    day: Annotated[
        dt.datetime | None,
        typer.Option("--date", formats=["%Y-%m-%d"], help="Day of the walk, filled in."),
    ] = None,
    json: Json = False,
) -> None:
    """Show the sheet of a walk, or write it as a workbook to be filled in."""
    store, date = open_store(home), day.date() if day else None
    if out is not None and out.suffix.lower() != ".xlsx":
        raise typer.BadParameter(f"{out} is no workbook: its name must end with .xlsx")
    if out is not None:
        stops = routes.write_sheet(store, route, out, date)
        show.notes.print(f"{out}: {show.counted(stops, 'stop')}.", highlight=False)
        return
    found = routes.sheet(store, route, date)
    if json:
        show.as_json(found)
        return
    rows = [[_cell(row.get(name)) for name in _SHOWN] for row in found]
    show.table(f"Route {route}", [name.lower() for name in _SHOWN], rows)


def _cell(cell: object) -> object:
    """Values of any unit by their figures: 0.2 in/s and 5 mm/s are the same."""
    return f"{cell:.3g}" if isinstance(cell, float) else cell


@route_app.command("mapping")
def mapping(
    route: Route,
    home: Home = DEFAULT_HOME,
    out: Annotated[
        Path | None, typer.Option("--out", help="File (.toml) to write.", readable=False)
    ] = None,
) -> None:
    """Print, or write, the mapping that reads the filled sheet of a route."""
    text = routes.mapping_text(open_store(home), route)
    if out is None:
        show.out.print(text, end="", markup=False, highlight=False, soft_wrap=True)
        return
    with plain_refusals(out):
        out.write_text(text, encoding="utf-8")
    show.notes.print(f"{out}: for sheets of route {route} and others of its time zone.")
