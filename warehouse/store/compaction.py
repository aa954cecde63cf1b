"""Compaction: many small files become few sorted ones; which rows exist never changes.

The new files are committed in place of the old in one step that says so
(`dataChange` false), as a compare-and-set: it counts only if every old file is
still active and nobody compacted the partition since it was looked at. Appends
go on beside it. Old files stay for readers of older versions until vacuum.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import unquote

import duckdb
import pyarrow as pa
from deltalake.transaction import AddAction

from schemas.columns import Table
from warehouse.errors import StoreConflictError, StoreError
from warehouse.sql import identifier, load_sql
from warehouse.store.delta import Commit, DataFile, DeltaLog, Entry
from warehouse.store.files import write_file
from warehouse.store.layout import Store
from warehouse.store.scan import create_scan
from warehouse.workspace import workspace

_BATCH_ROWS = 100_000
_ROW_NUMBER = ("package", "row")


@dataclass(frozen=True, slots=True)
class Compacted:
    """A partition that was compacted: its files and bytes before and after, the rows in them."""

    table: str
    partition: str
    files_before: int
    files_after: int
    bytes_before: int
    bytes_after: int
    rows: int


@dataclass(frozen=True, slots=True)
class Plan:
    """What to compact: small files of one partition, and the commit that may do so."""

    partition: str
    groups: tuple[tuple[Entry, ...], ...]
    commit: Commit

    @property
    def files(self) -> list[Entry]:
        """Every file that is to be replaced."""
        return [entry for group in self.groups for entry in group]


def compact_table(store: Store, table: Table) -> Iterator[Compacted]:
    """Compact the partitions of a table that have more small files than the setting allows."""
    log = store.table(table)
    while plans := plan_compaction(
        log, store.settings.compact_files, store.settings.chunk_rows
    ):  # what was merged may be worth merging with larger files now
        for plan in plans:
            yield carry_out(store, log, plan)


def plan_compaction(log: DeltaLog, most_files: int, most_rows: int) -> list[Plan]:
    """A plan for each partition with more than `most_files` small files.

    Small is a file of less than half of `most_rows`; a new file holds at most
    `most_rows`, from files that are neighbours in time.
    """
    plans = []
    for partition, entries in _by_partition(log.entries()).items():
        small = [entry for entry in entries if entry.rows < most_rows / 2]
        groups = tuple(_groups(_worth_merging(small), most_rows))
        if len(small) > most_files and groups:
            name = f"compact/{log.table.name}" + (f"/{partition}" if partition else "")
            plans.append(Plan(partition, groups, Commit(name, log.committed(name) + 1)))
    return plans


def _by_partition(entries: Sequence[Entry]) -> dict[str, list[Entry]]:
    found: dict[str, list[Entry]] = {}
    for entry in entries:
        name = "/".join(f"{key}={value}" for key, value in entry.partition.items())
        found.setdefault(name, []).append(entry)
    return dict(sorted(found.items()))


def _worth_merging(small: Sequence[Entry]) -> list[Entry]:
    """The smallest files, and ever larger ones as long as they are no larger than those together.

    So a row is written again only as often as its file doubles: few times in
    all, however long small files go on coming in.
    """
    ascending = sorted(small, key=lambda entry: entry.rows)
    together = 0
    for number, entry in enumerate(ascending):
        if number > 1 and entry.rows > together:
            return ascending[:number]
        together += entry.rows
    return ascending


def _groups(entries: Sequence[Entry], most_rows: int) -> Iterator[tuple[Entry, ...]]:
    """Runs of two and more files, in order of time, that one new file can hold."""
    group: list[Entry] = []
    rows = 0
    for entry in sorted(entries, key=lambda e: (e.first is not None, e.first, e.name)):
        if group and rows + entry.rows > most_rows:
            if len(group) > 1:
                yield tuple(group)
            group, rows = [], 0
        group.append(entry)
        rows += entry.rows
    if len(group) > 1:
        yield tuple(group)


def carry_out(store: Store, log: DeltaLog, plan: Plan) -> Compacted:
    """Write the new files, compare their rows with the old, put them in their place.

    Raises StoreConflictError where the plan no longer holds, StoreError where
    the rows are not the same; neither changes anything.
    """
    added: list[AddAction] = []
    try:
        with workspace(store.inbox, store.settings) as session:
            for group in plan.groups:
                added.append(_write_group(session, log, group))
                _compare(session, log, added[-1])
        if not log.exchange(plan.files, added, plan.commit):
            raise StoreConflictError(
                log.root / plan.partition,
                "its files were replaced while they were being compacted",
                "nothing was changed; compact again",
            )
    except BaseException:
        _discard(log, added)
        raise
    return Compacted(
        table=log.table.name,
        partition=plan.partition,
        files_before=len(plan.files),
        files_after=len(added),
        bytes_before=sum(entry.size for entry in plan.files),
        bytes_after=sum(action.size for action in added),
        rows=sum(entry.rows for entry in plan.files),
    )


def _discard(log: DeltaLog, added: Sequence[AddAction]) -> None:
    """Remove new files that were not committed."""
    active = {entry.name for entry in log.entries()}
    for action in added:
        if unquote(action.path) not in active:
            (log.root / unquote(action.path)).unlink(missing_ok=True)


def _write_group(
    session: duckdb.DuckDBPyConnection, log: DeltaLog, group: Sequence[Entry]
) -> AddAction:
    table = log.table
    files = [DataFile(log.root / e.name, e.rows, e.first, e.last) for e in group]
    missing = [file.path for file in files if not file.path.exists()]
    if missing:
        raise StoreError(missing[0], "the log names this file and it is not there", "`mcw check`")
    create_scan(session, "before", table, files)
    statement = load_sql(
        "warehouse.store",
        "compaction_sorted",
        columns=_listed(table.column_names),
        order=_order(table),
    )
    reader = session.sql(statement).to_arrow_reader(_BATCH_ROWS)
    rows = pa.Table.from_batches(
        [_encode(batch) for batch in reader], _encode(reader.schema.empty_table()).schema
    ).unify_dictionaries()
    action = write_file(log.root, table, rows, group[0].partition)
    return AddAction(
        path=action.path,
        size=action.size,
        partition_values=action.partition_values,
        modification_time=action.modification_time,
        data_change=False,
        stats=action.stats,
    )


def _encode(rows: Any) -> Any:
    """Strings as dictionaries: a tenth of the memory, and no second hashing when written."""
    for index, field in enumerate(rows.schema):
        if pa.types.is_string(field.type):
            column = rows.column(index).dictionary_encode()
            rows = rows.set_column(index, pa.field(field.name, column.type), column)
    return rows


def _order(table: Table) -> str:
    """Day first where rows have a time, then the table's order; ties by row number or key."""
    ties = [name for name in (*table.key, *_ROW_NUMBER) if name in table.column_names]
    columns = dict.fromkeys((*table.sort_by, *ties))
    day = ["ts::DATE"] if "ts" in table.sort_by else []
    return ", ".join([*day, *map(identifier, columns)])


def _listed(names: Sequence[str]) -> str:
    return ", ".join(map(identifier, names))


def _compare(session: duckdb.DuckDBPyConnection, log: DeltaLog, action: AddAction) -> None:
    """Refuse a new file that does not hold exactly the rows of the old ones."""
    path = log.root / unquote(action.path)
    create_scan(session, "after", log.table, [DataFile(path, 0, None, None)])
    before, after = (_multiset(session, log.table, name) for name in ("before", "after"))
    if before != after:
        raise StoreError(
            log.root,
            f"compacting would have changed the rows ({before[0]} before, {after[0]} after)",
            "nothing was changed; run `mcw check`",
        )


def _multiset(session: duckdb.DuckDBPyConnection, table: Table, name: str) -> tuple[int, str, str]:
    key = _ROW_NUMBER if set(_ROW_NUMBER) <= set(table.column_names) else table.key
    statement = load_sql(
        "warehouse.store",
        "compaction_rows",
        name=name,
        key=_listed(key),
        columns=_listed(table.column_names),
    )
    ((count, keys, rows),) = session.execute(statement).fetchall()
    return count, keys, rows
