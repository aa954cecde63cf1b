"""Judging the store: the one writer of conditions, and of published states."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import duckdb
import pyarrow as pa
import pyarrow.compute as pc

from schemas.columns import Table
from schemas.tables.conditions import CONDITION_CURRENT, CONDITION_LOG
from schemas.tables.issued import ISSUED
from schemas.tables.readings import READINGS
from schemas.tables.rounds import STOP_RESULTS
from warehouse import clock
from warehouse.judging import judge
from warehouse.query import run
from warehouse.services.casework import decide_cases
from warehouse.services.due import JUDGED, judged_versions, open_judging
from warehouse.services.issuing import record_issued
from warehouse.sql import load_sql
from warehouse.store import Snapshot, Store
from warehouse.store.delta import Commit, DataFile
from warehouse.store.files import newest_time, read_rows
from warehouse.store.snapshot import newest, publish
from warehouse.wording import counted

_APPLICATION = "judge"


@dataclass(frozen=True, slots=True)
class Judged:
    """What a judging step came to; `due` machine trains were worked out, None = every one."""

    snapshot: Snapshot
    conditions: int
    changes: int
    due: int | None = None

    @property
    def words(self) -> str:
        """How many were judged, and how many changed."""
        said = f"{counted(self.conditions, 'condition')}, {self.changes or 'none'} changed"
        return said if self.due is None else f"{said} ({counted(self.due, 'train')} judged anew)"


def judge_store(store: Store, anew: bool = False) -> Judged:
    """Judge from what is committed now, record the changes, publish the state.

    Machines that did not change are taken from what was kept; with `anew` none is.
    """
    as_of = judged_now(store)
    current, log = store.table(CONDITION_CURRENT), store.table(CONDITION_LOG)
    written = (log, store.table(ISSUED), current)
    number = max(0, *(table.committed(_APPLICATION) for table in written)) + 1
    unfinished, previous = _unpublished_changes(store), _previous(store)
    versions = judged_versions(store)
    with open_judging(store, versions, as_of, anew) as session:
        judgement = judge(session.connection, previous, as_of, _next_seq(session.connection))
        session.keep()
    conditions = judgement.conditions.cast(CONDITION_CURRENT.arrow)
    changes = judgement.changes.cast(CONDITION_LOG.arrow)
    commit = Commit(_APPLICATION, number)
    log.append(lambda: [log.write(changes)] if changes.num_rows else [], commit)
    record_issued(store, conditions, pa.concat_tables([unfinished, changes]), commit, versions)
    current.replace(lambda: [current.write(conditions)], commit)
    decide_cases(store, as_of)
    snapshot = publish(store, as_of)
    return Judged(snapshot, conditions.num_rows, changes.num_rows, session.due)


def is_behind(store: Store, tables: Iterable[Table] = JUDGED) -> bool:
    """Whether the newest published state lacks a commit, or says it was judged in the future.

    The latter was judged while this machine's clock was ahead.
    """
    published = newest(store)
    if published and published.published_at > clock.now() + clock.TOLERANCE:
        return True
    versions = published.versions if published else {}
    known = [table for table in tables if table in store.known_tables]
    return any(versions.get(table.name, 0) != store.table(table).version() for table in known)


def commits_behind(store: Store) -> int:
    """How many commits of what conditions follow from the newest published state lacks."""
    published = newest(store)
    versions = published.versions if published else {}
    known = [table for table in JUDGED if table in store.known_tables]
    return sum(max(0, store.table(t).version() - versions.get(t.name, 0)) for t in known)


def judged_now(store: Store) -> dt.datetime:
    """What `now` means to the judge: the wall clock, or the newest of the data (setting `clock`).

    A stop that was not measured has no reading, and may be the last of its walk. Neither can lie
    more than a day behind its receipt: what does was refused.
    """
    wall = clock.now()
    if store.settings.clock == "wall":
        return wall
    read = [file.last for file in store.files(READINGS) if isinstance(file.last, dt.datetime)]
    visited = newest_time("visited_at", (file.path for file in store.files(STOP_RESULTS)))
    return max([*read, *visited], default=wall)


def _previous(store: Store) -> pa.Table | None:
    """What was judged last: the conditions, and changes that a stopped judging step recorded."""
    conditions = _read(CONDITION_CURRENT, store.table(CONDITION_CURRENT).files())
    unfinished = _unpublished_changes(store)
    if unfinished.num_rows:
        conditions = _with_changes(conditions, unfinished)
    return conditions if conditions.num_rows else None


def _read(table: Table, files: Sequence[DataFile]) -> pa.Table:
    return read_rows(table, (file.path for file in files))


def _unpublished_changes(store: Store) -> pa.Table:
    """Changes that no published state holds: whoever recorded them was stopped before that."""
    log = store.table(CONDITION_LOG)
    published = newest(store)
    known = log.files(published.versions[CONDITION_LOG.name]) if published else []
    last = max((file.last_seq or 0 for file in known), default=0)
    rows = _read(CONDITION_LOG, [file for file in log.files() if (file.last_seq or 0) > last])
    return rows.filter(pc.greater(rows.column("seq"), last)).sort_by("seq")


def _with_changes(conditions: pa.Table, changes: pa.Table) -> pa.Table:
    """The conditions with changes applied, so that none of these is recorded a second time."""
    rows = {_place(row): row for row in conditions.to_pylist()}
    for change in changes.to_pylist():
        row = rows.setdefault(_place(change), {n: change[n] for n in CONDITION_CURRENT.key})
        if change["level_from"] not in (None, "unknown"):
            row["last_level"] = change["level_from"]
        if change["level_from"] != change["level_to"]:
            row["since"] = None
        row |= {"level": change["level_to"], "zone": change["zone_to"], "basis": change["basis"]}
    return pa.Table.from_pylist(list(rows.values()), CONDITION_CURRENT.arrow)


def _place(row: dict[str, Any]) -> tuple[Any, ...]:
    return tuple(row[name] for name in CONDITION_CURRENT.key)


def _next_seq(session: duckdb.DuckDBPyConnection) -> int:
    (highest,) = run(session, load_sql("warehouse.services", "highest_change"))[0]
    return int(highest.as_py() or 0) + 1


def published(store: Store) -> Snapshot:
    """The newest published state; judges once where there is none yet."""
    return newest(store) or judge_store(store).snapshot
