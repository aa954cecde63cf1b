"""Checking a store's tables: files against the log, places in paths against content, identities.

Everything is looked at as of one version of each table, so that a check can
run beside appends. Nothing is changed.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq
from deltalake.exceptions import DeltaError

from schemas.columns import Table
from schemas.tables.readings import IDENTITY, READINGS, SUPERSEDED
from schemas.tables.work import MAINTENANCE_EVENTS
from warehouse.errors import NoRightError, StoreError
from warehouse.sql import identifier, load_sql
from warehouse.store.delta import DataFile, DeltaLog, Entry
from warehouse.store.history import data_files, read_history, torn_entries
from warehouse.store.layout import Store
from warehouse.store.scan import create_scan
from warehouse.wording import counted
from warehouse.workspace import workspace

_SAMPLE = 5
_YOUNG_SECONDS = 3600
"""A file no commit names may belong to one that is just being made."""


@dataclass(frozen=True, slots=True)
class Finding:
    """Something found: a fault of the store, or a note that asks for nothing at once."""

    severity: Literal["fault", "note"]
    table: str
    check: str
    count: int
    detail: str
    remedy: str
    sample: list[Any] = field(default_factory=list)


@dataclass(slots=True)
class CheckedTables:
    """What the tables came to: findings, and the version, files and rows looked at."""

    findings: list[Finding] = field(default_factory=list)
    versions: dict[str, int] = field(default_factory=dict)
    sound: dict[str, list[Entry]] = field(default_factory=dict)
    rows: dict[str, int] = field(default_factory=dict)

    def scan(self, session: duckdb.DuckDBPyConnection, store: Store, table: Table) -> None:
        """A view of the table's readable files, named as the table."""
        root = store.table(table).root
        files = [
            DataFile(root / e.name, e.rows, e.first, e.last) for e in self.sound.get(table.name, [])
        ]
        create_scan(session, table.name, table, files)


def check_tables(store: Store) -> CheckedTables:
    """Look at every table of the store; a table that cannot be opened is not looked into."""
    checked = CheckedTables()
    for table in store.known_tables:
        checked.findings += _check_files(store.table(table), checked)
    with workspace(store.inbox, store.settings) as session:
        checked.findings += _check_content(session, store, checked)
    return checked


def _check_files(log: DeltaLog, checked: CheckedTables) -> Iterator[Finding]:
    name = log.table.name
    torn = torn_entries(log.root)
    if torn:
        yield Finding(
            "fault",
            name,
            "torn log",
            len(torn),
            "a power cut left entries of the table's log empty or unreadable",
            "`mcw check --mend` moves them aside if nothing was committed after them",
            [path.name for path in torn[:_SAMPLE]],
        )
        return
    try:
        version = log.version()
        entries = log.entries(version)
    except NoRightError:
        raise  # whoever may not look cannot tell whether it is sound
    except (DeltaError, OSError, StoreError) as error:
        detail = f"the table cannot be opened: {str(error).splitlines()[0]}"
        yield Finding("fault", name, "log", 1, detail, "restore the newest backup")
        return
    faults = {entry.name: fault for entry in entries if (fault := _fault(log, entry))}
    checked.versions[name] = version
    checked.sound[name] = [entry for entry in entries if entry.name not in faults]
    checked.rows[name] = sum(entry.rows for entry in entries)
    if faults:
        yield Finding(
            "fault",
            name,
            "data files",
            len(faults),
            "data files are not as the log states them",
            "restore the newest backup; what came after it is offered again by the ledger",
            [f"{file}: {fault}" for file, fault in sorted(faults.items())[:_SAMPLE]],
        )
    yield from _orphans(log)


def _fault(log: DeltaLog, entry: Entry) -> str | None:
    path = log.root / entry.name
    if not path.is_file():
        return "missing"
    size = path.stat().st_size
    if size != entry.size:
        return f"{counted(size, 'byte')}, the log says {entry.size:,}"
    try:
        rows = pq.ParquetFile(path).metadata.num_rows
    except PermissionError:
        raise
    except (pa.ArrowException, OSError) as error:
        return f"cannot be read: {str(error).splitlines()[0]}"
    return None if rows == entry.rows else f"{counted(rows, 'row')}, the log says {entry.rows:,}"


def _orphans(log: DeltaLog) -> Iterator[Finding]:
    """Files that no version names: left by a program that was stopped while it wrote."""
    history = read_history(log.root)
    known = history.added | history.removed.keys() | {entry.name for entry in log.entries()}
    young = time.time() - _YOUNG_SECONDS
    orphans = sorted(
        name
        for name in data_files(log.root)
        if name not in known and (log.root / name).stat().st_mtime < young
    )
    if orphans:
        yield Finding(
            "note",
            log.table.name,
            "orphan files",
            len(orphans),
            "files in the folder belong to no version: a program was stopped while it wrote",
            "no reader sees them; they may be removed by hand",
            orphans[:_SAMPLE],
        )


def _check_content(
    session: duckdb.DuckDBPyConnection, store: Store, checked: CheckedTables
) -> Iterator[Finding]:
    if READINGS.name not in checked.sound:
        return
    checked.scan(session, store, READINGS)
    try:
        yield from _misplaced(session, store, checked.sound[READINGS.name])
        if SUPERSEDED.name in checked.sound:
            checked.scan(session, store, SUPERSEDED)
            yield from _doubled(session, checked.sound[READINGS.name])
            yield from _pointing_nowhere(session)
    except duckdb.Error as error:
        detail = f"the content cannot be read: {str(error).splitlines()[0]}"
        yield Finding("fault", READINGS.name, "content", 1, detail, "restore the newest backup")


def _run(
    session: duckdb.DuckDBPyConnection, name: str, /, **fragments: str
) -> list[tuple[Any, ...]]:
    return session.execute(load_sql("warehouse.store", name, **fragments)).fetchall()


def _misplaced(
    session: duckdb.DuckDBPyConnection, store: Store, entries: Sequence[Entry]
) -> Iterator[Finding]:
    """Files whose rows are not of the site, month or time span the log states for them."""
    if not entries:
        return
    root = store.table(READINGS).root
    stated = {str(root / entry.name): entry for entry in entries}
    wrong = [
        f"{stated[file].name}: {fault}"
        for file, *content in _run(session, "check_places")
        if (fault := _place_fault(stated[file], content))
    ]
    if wrong:
        yield Finding(
            "fault",
            READINGS.name,
            "partitions",
            len(wrong),
            "rows lie in files whose stated site, month, time span or row count is another",
            "readers that prune miss them; restore the newest backup",
            sorted(wrong)[:_SAMPLE],
        )


def _place_fault(entry: Entry, content: Sequence[Any]) -> str | None:
    rows, sites, months, first, last = content
    if sites != [entry.partition["p_site"]]:
        return f"sites {', '.join(map(str, sites[:3]))}"
    if months != [entry.partition["p_month"]]:
        return f"months {', '.join(months[:3])}"
    if rows != entry.rows:
        return f"{counted(rows, 'row')}, the log says {entry.rows:,}"
    stated: tuple[dt.datetime | None, dt.datetime | None] = (entry.first, entry.last)
    if None not in stated and stated != (first, last):
        return f"times {first} to {last}"
    return None


def _doubled(session: duckdb.DuckDBPyConnection, entries: Sequence[Entry]) -> Iterator[Finding]:
    """Readings that count and are the same reading, null-safe; one month at a time."""
    identity = ", ".join(map(identifier, IDENTITY))
    found: list[Any] = []
    for month in sorted({entry.partition["p_month"] for entry in entries}):
        first = dt.datetime.fromisoformat(f"{month}-01").replace(tzinfo=dt.UTC)
        statement = load_sql("warehouse.store", "check_identities", identity=identity)
        found += session.execute(statement, {"first": first}).fetchall()
    if found:
        yield Finding(
            "fault",
            READINGS.name,
            "identities",
            len(found),
            "the same reading counts more than once",
            "keep the store as it is and report this: it is a fault of the program",
            [dict(zip((*IDENTITY, "times"), row, strict=True)) for row in found[:_SAMPLE]],
        )


def _pointing_nowhere(session: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    found = _run(session, "check_superseded")
    if found:
        yield Finding(
            "fault",
            SUPERSEDED.name,
            "superseded rows",
            len(found),
            "entries point at readings that do not exist",
            "restore the newest backup",
            [{"package": package, "row": row} for package, row in found[:_SAMPLE]],
        )


def rows_of_packages(store: Store, checked: CheckedTables) -> Mapping[int, int]:
    """Readings, or maintenance events, of each package, at the versions checked."""
    with workspace(store.inbox, store.settings) as session:
        checked.scan(session, store, READINGS)
        checked.scan(session, store, MAINTENANCE_EVENTS)
        return dict(_run(session, "check_packages"))
