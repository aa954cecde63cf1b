"""Housekeeping: compact, vacuum, check, backup, restore, migrate."""

from __future__ import annotations

from collections.abc import Sized
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer
from rich.text import Text

from schemas import FORMAT_VERSION
from schemas.tables import TABLES
from warehouse.cli import show
from warehouse.cli.options import DEFAULT_HOME, Home, Json
from warehouse.inbox.upkeep import newest_ledger
from warehouse.services import housekeeping
from warehouse.services.adopting import GoingOn, go_on, plan_going_on
from warehouse.services.backup import back_up
from warehouse.services.backup import restore as restore_backup
from warehouse.services.checking import Report, check_store
from warehouse.services.housekeeping import Vacuumed
from warehouse.services.migrating import migrate as migrate_store
from warehouse.services.migrating import plan_migration
from warehouse.store import Store, open_store
from warehouse.store.compaction import Compacted
from warehouse.store.history import torn_entries
from warehouse.wording import listed

_UNSOUND = 6


def compact(home: Home = DEFAULT_HOME, json: Json = False) -> None:
    """Make few sorted files of many small ones, and compress payloads that were taken in."""
    store = open_store(home)
    done: list[Compacted] = []
    with show.notes.status("compacting"), newest_ledger(store) as ledger:
        for one in housekeeping.compact(store):
            done.append(one)
        housekeeping.compress_payloads(store, ledger)
    if json:
        show.as_json([asdict(one) for one in done])
    elif not done:
        most = store.settings.compact_files
        show.out.print(f"Nothing to do: no partition has more than {most} small files.")
    else:
        rows = [
            [c.table, c.partition, c.files_before, c.files_after, c.rows, _size(c.bytes_after)]
            for c in done
        ]
        columns = ["table", "partition", "files before", "files after", "rows", "size"]
        show.table("Compacted", columns, rows, right=columns[2:])


def vacuum(
    home: Home = DEFAULT_HOME,
    yes: Annotated[
        bool, typer.Option("--yes", help="Remove them; without it they are listed.")
    ] = False,
    json: Json = False,
) -> None:
    """Remove replaced files and payloads that are past their retention."""
    store = open_store(home)
    found = housekeeping.vacuum(store, really=yes)
    if json:
        show.as_json(
            {
                "removed": found.removed,
                "bytes": found.bytes,
                "files": [str(one.path.relative_to(store.home)) for one in found.files],
                "payloads": [one.file for one in found.payloads],
                "log_entries": found.log_entries,
            }
        )
        return
    kept = f"Kept for readers: {store.settings.retention_days} days."
    show.out.print(f"{_removed(found)} {kept}", highlight=False, soft_wrap=True)


def _removed(found: Vacuumed) -> str:
    words = listed(
        (len(found.files), show.counted(len(found.files), "data file")),
        (len(found.payloads), show.counted(len(found.payloads), "payload")),
        (found.bytes, _size(found.bytes)),
        (found.log_entries, show.counted(found.log_entries, "log entry", "log entries")),
    )
    if not words:
        return "Nothing to remove."
    return f"Removed: {words}." if found.removed else f"Would be removed (with --yes): {words}."


def check(
    home: Home = DEFAULT_HOME,
    mend: Annotated[
        bool,
        typer.Option(
            "--mend",
            help="Move a torn commit at the tip of a log aside; go on without a lost ledger.",
        ),
    ] = False,
    json: Json = False,
) -> None:
    """Check files, log, identities, counts and ledger; ends with 6 if anything is wrong."""
    store = open_store(home)
    if mend:
        _mend(store)
        store = open_store(home)
    with show.notes.status("checking"):
        report = check_store(store)
    if json:
        show.as_json({"sound": not report.faults, **asdict(report)})
    else:
        _show_report(report)
    if report.faults:
        raise typer.Exit(_UNSOUND)


def _go_on(store: Store, plan: GoingOn) -> None:
    _note(f"{store.inbox}: {plan.why}")
    found = plan.adoption
    if found is None:
        _note("A new ledger is begun. Readings stay as they are.")
    else:
        corrected = len(found.corrected) + len(found.states)
        done = listed(
            (len(found.unknown), f"recorded from the dataset {_packages(found.unknown)}"),
            (len(found.again), f"offered again {_packages(found.again)}"),
            (corrected, f"corrected {show.counted(corrected, 'package')}"),
        )
        _note(f"This ledger goes on under a new identity: {done or 'nothing else changes'}.")
    if plan.lost:
        _note(f"{show.counted(plan.lost, 'package')} had been received and left no readings.")
    _note("Send again what was sent lately: what is there already is recognised and not doubled.")
    go_on(store, plan)


def _packages(some: Sized) -> str:
    return show.counted(len(some), "package")


def _mend(store: Store) -> None:
    """Torn logs first: a table that is torn cannot tell anything else."""
    torn = any(torn_entries(store.tables / name) for name in TABLES)
    going_on = None if torn else plan_going_on(store)
    if going_on:
        _go_on(store, going_on)
    plan = housekeeping.plan_mending(store)
    for table, entries in plan.torn.items():
        _note(f"{table}: torn at the tip: {', '.join(path.name for path in entries)}")
    for number, file in plan.again.items():
        _note(f"offered again: package {number} ({file})")
    if plan.torn or plan.again:
        for path in housekeeping.mend(store, plan):
            _note(f"moved to {path}")
    elif not going_on:
        _note("Nothing to mend.")


def _note(text: str) -> None:
    show.notes.print(text, markup=False, highlight=False)


def _show_report(report: Report) -> None:
    rows = [
        [name, str(version), report.files[name], report.rows[name]]
        for name, version in report.versions.items()
    ]
    show.table("Checked", ["table", "version", "files", "rows"], rows, right=["files", "rows"])
    for finding in report.findings:
        word = "FAULT" if finding.severity == "fault" else "note"
        head = f"{word}  {finding.table}, {finding.check}: {finding.detail} ({finding.count:,})"
        show.out.print(Text(head, style="red" if word == "FAULT" else ""), soft_wrap=True)
        for one in finding.sample:
            show.out.print(Text(f"    {one}"), soft_wrap=True)
        show.out.print(Text(f"    What to do: {finding.remedy}"), soft_wrap=True)
    if not report.faults:
        show.out.print("The store is sound.")


def backup(
    target: Annotated[Path, typer.Argument(help="New or empty folder.", readable=False)],
    home: Home = DEFAULT_HOME,
    json: Json = False,
) -> None:
    """Copy the newest published state of a store that is in use."""
    done = back_up(open_store(home), target)
    if json:
        show.as_json(asdict(done))
    else:
        show.out.print(
            f"Published state {done.seq} is in {target}: "
            f"{show.counted(done.files, 'file')}, {_size(done.bytes)}."
        )


def restore(
    source: Annotated[
        Path, typer.Argument(metavar="BACKUP", help="Folder of a backup.", readable=False)
    ],
    home: Annotated[Path, typer.Argument(help="New or empty folder of the store.", readable=False)],
    mend: Annotated[
        bool, typer.Option("--mend", help="Go on with a ledger that is older than the dataset.")
    ] = False,
    json: Json = False,
) -> None:
    """Make a store of a backup; what came after it is offered again where it had arrived."""
    done = restore_backup(source, home, mend=mend)
    if json:
        show.as_json(asdict(done))
    else:
        show.out.print(
            f"Published state {done.seq} is restored in {home}{_again(done.offered_again)}."
        )
        if done.format_version < FORMAT_VERSION:
            show.out.print(
                f"It has format version {done.format_version} and is for reading only: "
                f"`mcw migrate --without-backup --home {home}` lifts it to {FORMAT_VERSION}.",
                markup=False, highlight=False, soft_wrap=True,
            )  # fmt: skip


def _again(packages: Sized) -> str:
    return f"; {_packages(packages)} will be taken in again" if packages else ""


def migrate(
    home: Home = DEFAULT_HOME,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="List the steps and take none.")
    ] = False,
    backup: Annotated[
        Path | None,
        typer.Option(
            "--backup", help="Back the store up to this new folder first.", readable=False
        ),
    ] = None,
    without_backup: Annotated[
        bool, typer.Option("--without-backup", help="Take the steps without a backup.")
    ] = False,
    json: Json = False,
) -> None:
    """Lift a store to the format version this program writes; older ones are only read."""
    steps = plan_migration(home)
    if steps and not dry_run:
        if backup is None and not without_backup:
            raise typer.BadParameter("say --backup FOLDER, or --without-backup")
        migrate_store(home, backup)
    if json:
        show.as_json([asdict(step) | {"taken": not dry_run} for step in steps])
    elif not steps:
        show.out.print("Nothing to do: the store has the format version this program writes.")
    else:
        title = "Steps that would be taken" if dry_run else "Steps taken"
        show.table(title, ["to version", "what"], [[str(s.version), s.what] for s in steps])


def _size(count: int) -> str:
    return f"{count / 1e6:,.1f} MB"
