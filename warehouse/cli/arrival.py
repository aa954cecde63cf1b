"""Arrival: trying a mapping on a file, and taking files in."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer
from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.errors import SourceMissingError
from warehouse.inbox import Counts, Ledger, Package
from warehouse.inbox.counts import COUNTED
from warehouse.inbox.upkeep import newest_ledger
from warehouse.services.committing import Outcome
from warehouse.services.ingest import (
    Arrival,
    Trial,
    commit_all,
    judge_now,
    receive,
    try_mapping,
)
from warehouse.services.judging import is_behind
from warehouse.services.repeats import told_of_repeat
from warehouse.services.stopping import leave_if_asked, stopping_on_signals
from warehouse.store import Store, open_store

_NOTHING_USABLE = 4

connect_app = typer.Typer(help="Connect a source.", no_args_is_help=True)

MappingFile = Annotated[
    Path, typer.Option("--mapping", "-m", help="Mapping file (TOML).", readable=False)
]


@connect_app.command("check")
def check(
    file: Annotated[Path, typer.Argument(help="File as the source sends it.", readable=False)],
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


_OF_A_READING = (
    "line", "ts", "site", "asset", "position", "axis", "quantity", "detector", "value", "unit",
)  # fmt: skip


def _show_trial(trial: Trial) -> None:
    counts = trial.counts
    of_events = bool(trial.sample) and "event" in trial.sample[0]
    kind = "event" if of_events else "reading"
    taken = counts.accepted + counts.revised
    found = show.counted(taken, f"would be a {kind}", f"would be {kind}s").replace("a e", "an e")
    blank = f"; {show.counted(counts.blank, 'declared blank')}" if counts.blank else ""
    show.out.print(
        f"{show.counted(counts.items, 'item')}: {found}, {counts.rejected:,} refused{blank}. "
        "Nothing was stored."
    )
    if trial.sample:
        names = tuple(trial.sample[0]) if of_events else _OF_A_READING
        rows = [[show.exactly(r[n]) for n in names] for r in trial.sample]
        show.table(f"First {kind}s", names, rows, right=["value"])
    if trial.rejects:
        said = ("line", "column_name", "reason", "detail")
        rows = [[show.exactly(row[name]) for name in said] for row in trial.rejects]
        reasons = counts.rejected_by_reason.items()
        show.table("Refused", ["reason", "items"], reasons, right=["items"])
        show.table("The first of each", ["line", "column", "reason", "detail"], rows)


def _counts(counts: Counts) -> dict[str, object]:
    return {name: getattr(counts, name) for name in (*COUNTED, "rejected_by_reason")}


def _exit_if_nothing(counts: Counts) -> None:
    if not counts.items:
        _say("There is no reading in it.")
    elif not counts.accepted + counts.duplicate + counts.revised:
        raise typer.Exit(_NOTHING_USABLE)


def ingest(
    files: Annotated[
        list[Path], typer.Argument(help="Files as the source sends them.", readable=False)
    ],
    mapping: MappingFile,
    home: Home = DEFAULT_HOME,
    json: Json = False,
) -> None:
    """Take files into the dataset and judge the machines anew."""
    store = open_store(home)
    missing = [file for file in files if not (file.is_file() and os.access(file, os.R_OK))]
    there = [file for file in files if file not in missing]
    with newest_ledger(store) as ledger:
        receipts = receive(store, ledger, [Arrival(file, mapping) for file in there])
        waiting = {package.number for package in ledger.pending()}
        take_in(store, ledger)
        packages = [ledger.package(receipt.package) for receipt in receipts]
    new = {receipt.package for receipt in receipts if not receipt.repeated}
    given = [
        _Given(file, package, receipt.repeated, package.number in waiting - new)
        for file, receipt, package in zip(there, receipts, packages, strict=True)
    ]
    if json:
        show.as_json([_given_row(one) for one in given])
    else:
        _show_given(given)
    for file in missing:
        _say(f"{file}: not there, or not to be read; a readable file is needed")
    _complain(packages, SourceMissingError.exit_code if missing else None)


@dataclass(frozen=True, slots=True)
class _Given:
    """A file as it was given, its package, whether that had arrived before, and waited still."""

    file: Path
    package: Package
    repeated: bool
    waited: bool


def _given_row(one: _Given) -> dict[str, object]:
    return package_row(one.package) | {
        "arrived_before": one.repeated,
        "arrived_as": one.file.name,
    }


def _show_given(given: list[_Given]) -> None:
    """What was taken in now as a table; of a duplicate that it is one, not its old counts."""
    now = {one.package.number: one.package for one in given if one.waited or not one.repeated}
    if now:
        show_packages(list(now.values()))
    for one in given:
        if one.repeated:
            words = f"{one.file.name}: {told_of_repeat(one.package, one.waited)}."
            show.out.print(words, markup=False, highlight=False, soft_wrap=True)


def take_in(store: Store, ledger: Ledger) -> list[Outcome]:
    """Commit whatever waits in the inbox, with progress, and judge what is not judged yet.

    Raises StopAskedError where a signal asked to stop before that was done.
    """
    waiting = len(ledger.pending())
    if not waiting and not is_behind(store):
        return []
    columns = (SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn())
    with (
        stopping_on_signals(),
        Progress(*columns, console=show.notes, transient=True) as progress,
    ):
        packages = show.counted(waiting, "package")
        task = progress.add_task(f"taking in {packages}", total=waiting)
        done: list[Outcome] = []

        def seen(outcome: Outcome) -> None:
            done.append(outcome)
            progress.update(task, advance=1, description=f"taken in {len(done)} of {packages}")

        outcomes = commit_all(store, ledger, seen)
        leave_if_asked()
        progress.update(task, description="judging every machine")
        judge_now(store)
    return outcomes


def package_row(package: Package) -> dict[str, object]:
    """A package as JSON shows it."""
    row = {
        "package": package.number,
        "file": package.file,
        "source": package.source,
        "mapping": package.mapping,
        "state": package.state,
        "received_at": package.received_at,
        "finished_at": package.finished_at,
        "attempts": package.attempts,
        "arrived_again": package.repeats,
        "error": package.error,
    }
    return row | _counts(package.counts)


def show_packages(packages: list[Package]) -> None:
    """A table of packages with their counts."""
    columns = ("package", "file", "received (UTC)", "state", *COUNTED)
    rows = []
    for package in packages:
        counts = [getattr(package.counts, name) for name in COUNTED]
        rows.append(
            [str(package.number), package.file, package.received_at, package.state, *counts]
        )
    show.table("Packages", columns, rows, right=COUNTED)


def _complain(packages: list[Package], exit_code: int | None) -> None:
    """Say what failed, and end with that exit code, or with the one that says so."""
    failed = {package.number: package for package in packages if package.state == "failed"}
    for package in failed.values():
        _say(str(package.error))
    usable = any(
        p.counts.accepted + p.counts.duplicate + p.counts.revised + p.not_measured for p in packages
    )
    refused = not usable and any(p.counts.rejected for p in packages)
    if refused:
        _say("Nothing was usable; `mcw rejects` says why.")
    for package in packages:
        if package.state == "committed" and not package.counts.items:
            visited = f"; {package.not_measured} stops say why" if package.not_measured else ""
            _say(f"{package.file}: there is no reading in it{visited}")
    if exit_code or failed or refused:
        raise typer.Exit(exit_code or _NOTHING_USABLE)


def _say(text: str) -> None:
    show.notes.print(text, style="red", markup=False, highlight=False)
