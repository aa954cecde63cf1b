"""Asking: judging anew, the worst machines, SQL over the views."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.cli.saving import write_csv
from warehouse.cli.stopped import tell_if_stopped
from warehouse.cli.worst import show_worst
from warehouse.query import check_limits_for, open_published, run, work_out
from warehouse.services.displaying import displays_of
from warehouse.services.fleet import worst_assets
from warehouse.services.ingest import judge_now
from warehouse.services.judging import published
from warehouse.store import open_store


def judge(
    home: Home = DEFAULT_HOME,
    anew: Annotated[
        bool,
        typer.Option("--anew", help="Work everything out, and use nothing that was kept."),
    ] = False,
    json: Json = False,
) -> None:
    """Judge every machine from what is committed now."""
    judged = judge_now(open_store(home), anew)
    if json:
        show.as_json({"as_of": judged.snapshot.as_of, "changes": judged.changes})
    else:
        show.notes.print(
            f"Judged as of {judged.snapshot.as_of:%Y-%m-%d %H:%M} UTC: {judged.words}.",
            highlight=False,
        )


def worst(
    home: Home = DEFAULT_HOME,
    number: Annotated[int, typer.Option("--number", "-n", help="Machines shown.")] = 10,
    json: Json = False,
) -> None:
    """List the machines to look at first, with zone, evidence and trend."""
    store = open_store(home)
    fleet = worst_assets(store, number)
    tell_if_stopped(store)
    displays = displays_of(store)
    if json:
        show.as_json(displays.beside(fleet.rows, ("measured_at",)))
    else:
        show_worst(fleet, displays)


def query(
    statement: Annotated[
        str, typer.Argument(help="SQL over the views, or - to read it from stdin.")
    ],
    home: Home = DEFAULT_HOME,
    json: Json = False,
    csv: Annotated[
        Path | None, typer.Option("--csv", help="Write the result to a CSV file.", readable=False)
    ] = None,
) -> None:
    """Ask the dataset in SQL: readings_current, condition_current, worst_machines, ..."""
    store = open_store(home)
    text = sys.stdin.read() if statement == "-" else statement
    snapshot = published(store)
    check_limits_for(store, text)
    with open_published(store, snapshot) as session:
        work_out(session, text)
        result = run(session, text, seconds=store.settings.query_seconds)
    if csv:
        write_csv(result, csv)
    elif json:
        show.as_json(result.to_pylist())
    else:
        rows = [
            [show.exactly(cell) for cell in row.values()]
            for row in result.slice(0, 200).to_pylist()
        ]
        show.table(show.counted(result.num_rows, "row"), result.column_names, rows)
