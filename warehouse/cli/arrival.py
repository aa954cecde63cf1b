"""Arrival: trying a mapping, taking files in, what became of them, what was refused."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

from schemas.reasons import REJECT_REASON
from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.inbox import Counts, Ledger, Package
from warehouse.services.committing import Outcome
from warehouse.services.ingest import (
    Arrival,
    Trial,
    commit_all,
    judge_now,
    receive,
    replay,
    try_mapping,
)
from warehouse.services.rejected import open_rejects
from warehouse.store import Store, open_store

_NOTHING_USABLE = 4

connect_app = typer.Typer(help="Connect a source.", no_args_is_help=True)

MappingFile = Annotated[Path, typer.Option("--mapping", "-m", help="Mapping file (TOML).")]


@connect_app.command("check")
def check(
    file: Annotated[Path, typer.Argument(help="File as the source sends it.")],
    mapping: MappingFile,
    home: Home = DEFAULT_HOME,
    json: Json = False,
) -> None:
    """Show what a mapping makes of a file; store nothing."""
    trial = try_mapping(open_store(home), Arrival(file, mapping))
    if json:
        show.as_json(
            {"counts": _counts(trial.counts), "readings": trial.sample, "rejects": trial.rejects}
        )
    else:
        _show_trial(trial)
    _exit_if_nothing(trial.counts)


def _show_trial(trial: Trial) -> None:
    counts = trial.counts
    show.out.print(
        f"{counts.items:,} items: {counts.accepted:,} would be readings, "
        f"{counts.rejected:,} refused; {show.counted(counts.blank, 'declared blank')}. "
        "Nothing was stored."
    )
    if trial.sample:
        names = (
            "line",
            "ts",
            "site",
            "asset",
            "position",
            "axis",
            "quantity",
            "detector",
            "value",
            "unit",
        )
        rows = [[show.exactly(r[n]) for n in names] for r in trial.sample]
        show.table("First readings", names, rows, right=["value"])
    if trial.rejects:
        said = ("line", "column_name", "reason", "detail")
        rows = [[show.exactly(row[name]) for name in said] for row in trial.rejects]
        reasons = counts.rejected_by_reason.items()
        show.table("Refused", ["reason", "items"], reasons, right=["items"])
        show.table("The first of each", ["line", "column", "reason", "detail"], rows)


def _counts(counts: Counts) -> dict[str, object]:
    names = ("items", "accepted", "duplicate", "revised", "rejected", "blank", "rejected_by_reason")
    return {name: getattr(counts, name) for name in names}


def _exit_if_nothing(counts: Counts) -> None:
    if not counts.accepted + counts.duplicate + counts.revised:
        raise typer.Exit(_NOTHING_USABLE)


def ingest(
    files: Annotated[list[Path], typer.Argument(help="Files as the source sends them.")],
    mapping: MappingFile,
    home: Home = DEFAULT_HOME,
    json: Json = False,
) -> None:
    """Take files into the dataset and judge the machines anew."""
    store = open_store(home)
    with Ledger.open(store.inbox) as ledger:
        receipts = receive(store, ledger, [Arrival(file, mapping) for file in files])
        take_in(store, ledger)
        packages = [ledger.package(receipt.package) for receipt in receipts]
    repeated = {r.package for r in receipts if r.repeated}
    if json:
        show.as_json([_package_row(p) | {"arrived_before": p.number in repeated} for p in packages])
    else:
        _show_packages(packages, repeated)
    _complain(packages)


def take_in(store: Store, ledger: Ledger) -> list[Outcome]:
    """Commit whatever waits in the inbox, with progress, and judge where anything changed."""
    waiting = len(ledger.pending())
    if not waiting:
        return []
    columns = (SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn())
    with Progress(*columns, console=show.notes, transient=True) as progress:
        task = progress.add_task(f"taking in {show.counted(waiting, 'package')}", total=waiting)
        done: list[Outcome] = []

        def seen(outcome: Outcome) -> None:
            done.append(outcome)
            progress.update(
                task, advance=1, description=f"taken in {len(done)} of {waiting} packages"
            )

        outcomes = commit_all(store, ledger, seen)
        progress.update(task, description="judging every machine")
        judge_now(store)
    return outcomes


def _package_row(package: Package) -> dict[str, object]:
    row = {
        "package": package.number,
        "file": package.file,
        "source": package.source,
        "mapping": package.mapping,
        "state": package.state,
        "received_at": package.received_at,
        "error": package.error,
    }
    return row | _counts(package.counts)


def _show_packages(packages: list[Package], repeated: set[int] | None = None) -> None:
    columns = (
        "package",
        "file",
        "state",
        "items",
        "accepted",
        "duplicate",
        "revised",
        "rejected",
        "blank",
    )
    rows = []
    for package in packages:
        again = package.number in (repeated or set())
        state = f"{package.state} (arrived before)" if again else package.state
        counts = [getattr(package.counts, name) for name in columns[3:]]
        rows.append([str(package.number), package.file, state, *counts])
    show.table("Packages", columns, rows, right=columns[3:])


def _complain(packages: list[Package]) -> None:
    for package in packages:
        if package.error:
            show.notes.print(package.error, style="red", markup=False, highlight=False)
    if not any(p.counts.accepted + p.counts.duplicate + p.counts.revised for p in packages):
        if any(p.counts.rejected for p in packages):
            show.notes.print("Nothing was usable; `mcw rejects` says why.", style="red")
        raise typer.Exit(_NOTHING_USABLE)


def inbox(home: Home = DEFAULT_HOME, json: Json = False) -> None:
    """List every package received and what became of it."""
    store = open_store(home)
    with Ledger.open(store.inbox) as ledger:
        packages = ledger.packages()
    if json:
        show.as_json([_package_row(package) for package in packages])
    else:
        _show_packages(packages)
        for package in packages:
            if package.error:
                show.out.print(f"{package.number}: {package.error}", markup=False, highlight=False)


def list_rejects(
    home: Home = DEFAULT_HOME,
    json: Json = False,
    show_rows: Annotated[int, typer.Option("--rows", help="Rows shown with their raw text.")] = 10,
) -> None:
    """Show what is refused and still open: by source and reason, with remedy and raw text."""
    found = open_rejects(open_store(home), show_rows)
    if json:
        show.as_json({"groups": found.groups, "rows": found.rows})
        return
    if not found.groups:
        show.out.print("Nothing is refused.")
        return
    groups = [
        [g["source"], g["reason"], g["items"], REJECT_REASON[g["reason"]].remedy]
        for g in found.groups
    ]
    show.table("Refused", ["source", "reason", "items", "remedy"], groups, right=["items"])
    names = ("file", "line", "column_name", "reason", "detail", "raw")
    rows = [[str(row[name] or "") for name in names] for row in found.rows]
    show.table("The first of each", names, rows)


def replay_packages(
    packages: Annotated[
        list[int] | None, typer.Argument(help="Package numbers; all if none.")
    ] = None,
    home: Home = DEFAULT_HOME,
    json: Json = False,
) -> None:
    """Put packages with refused items through again, after registry or code lists were mended."""
    store = open_store(home)
    with Ledger.open(store.inbox) as ledger:
        numbers = replay(ledger, packages or [])
        take_in(store, ledger)
        done = [ledger.package(number) for number in numbers]
    if json:
        show.as_json([_package_row(package) for package in done])
    else:
        _show_packages(done)
