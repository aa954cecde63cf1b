"""Judging the store: the one writer of conditions, and of published states."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import duckdb
import pyarrow as pa
import pyarrow.parquet as pq

from schemas.tables.conditions import CONDITION_CURRENT, CONDITION_LOG
from warehouse.judging import judge
from warehouse.query import open_session, run
from warehouse.sql import load_sql
from warehouse.store import Snapshot, Store
from warehouse.store.delta import Commit
from warehouse.store.snapshot import newest, publish

_APPLICATION = "judge"


@dataclass(frozen=True, slots=True)
class Judged:
    """What a judging step came to."""

    snapshot: Snapshot
    conditions: int
    changes: int


def judge_store(store: Store) -> Judged:
    """Judge every machine from what is committed now, record the changes, publish the state."""
    as_of = judged_now(store)
    current, log = store.table(CONDITION_CURRENT), store.table(CONDITION_LOG)
    number = max(current.committed(_APPLICATION), log.committed(_APPLICATION), 0) + 1
    previous = _previous(store)
    with open_session(store, {}, as_of) as session:
        judgement = judge(session, previous, as_of, _next_seq(session))
    conditions = judgement.conditions.cast(CONDITION_CURRENT.arrow)
    changes = judgement.changes.cast(CONDITION_LOG.arrow)
    commit = Commit(_APPLICATION, number)
    log.append(lambda: [log.write(changes)] if changes.num_rows else [], commit)
    current.replace(lambda: [current.write(conditions)], commit)
    snapshot = publish(store, as_of)
    return Judged(snapshot, conditions.num_rows, changes.num_rows)


def judged_now(store: Store) -> dt.datetime:
    """What `now` means to the judge: the wall clock, or the newest reading (setting `clock`)."""
    wall = dt.datetime.now(dt.UTC)
    if store.settings.clock == "wall":
        return wall
    with open_session(store, {}, wall) as session:
        (newest_reading,) = run(session, load_sql("warehouse.services", "newest_reading"))[0]
    found = newest_reading.as_py()
    return found if isinstance(found, dt.datetime) else wall


def _previous(store: Store) -> pa.Table | None:
    files = store.table(CONDITION_CURRENT).files()
    if not files:
        return None
    return pa.concat_tables(
        pq.read_table(file.path, schema=CONDITION_CURRENT.arrow, partitioning=None)
        for file in files
    )


def _next_seq(session: duckdb.DuckDBPyConnection) -> int:
    (highest,) = run(session, load_sql("warehouse.services", "highest_change"))[0]
    return int(highest.as_py() or 0) + 1


def published(store: Store) -> Snapshot:
    """The newest published state; judges once where there is none yet."""
    return newest(store) or judge_store(store).snapshot
