"""Keeping on record what is told, before it is told (rule J12).

The rows are committed between the changes and the conditions of a judging
step. Whoever was stopped in between has left rows that no published state
holds: they count as told, so that the next step does not repeat them, and
what it tells otherwise stands behind them with the same state's number.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pyarrow as pa
import pyarrow.compute as pc

from schemas.tables.conditions import CONDITION_CURRENT
from schemas.tables.issued import ISSUED
from warehouse.judging.issued import Telling, issue, told_last
from warehouse.store import Store
from warehouse.store.delta import Commit, DataFile
from warehouse.store.files import read_rows
from warehouse.store.snapshot import newest
from warehouse.workspace import workspace


def record_issued(
    store: Store,
    conditions: pa.Table,
    changes: pa.Table,
    commit: Commit,
    versions: Mapping[str, int],
) -> int:
    """Append what differs from what was told last; how many rows.

    `conditions` are about to be published, `changes` are those in `condition_log`
    that no published state holds yet. Durable on return; a step taken again
    appends nothing. To be called before the conditions are replaced.
    """
    log = store.table(ISSUED)
    published = newest(store)
    if log.committed(commit.application) >= commit.number:
        return 0
    telling = Telling(
        next_seq=_last_seq(log.files()) + 1,
        snapshot=published.seq + 1 if published else 1,
        versions=versions,
    )
    with workspace(store.inbox, store.settings) as session:
        told = told_last(session, *_told(store))
        rows = issue(session, conditions, told, changes, telling)
    log.append(lambda: [log.write(rows)] if rows.num_rows else [], commit)
    return int(rows.num_rows)


def _told(store: Store) -> tuple[pa.Table, pa.Table]:
    """The published conditions, and what was told that no published state holds yet."""
    log = store.table(ISSUED)
    files = log.files()
    if not files:  # a store of before, or a new one: everything is told for the first time
        return CONDITION_CURRENT.arrow.empty_table(), ISSUED.arrow.empty_table()
    published = newest(store)
    version = published.versions.get(ISSUED.name) if published else None
    last = _last_seq(log.files(version)) if version is not None else 0
    current = store.table(CONDITION_CURRENT).files()
    unseen = read_rows(ISSUED, (file.path for file in files if (file.last_seq or 0) > last))
    return (
        read_rows(CONDITION_CURRENT, (file.path for file in current)),
        unseen.filter(pc.greater(unseen["seq"], last)),
    )


def _last_seq(files: Sequence[DataFile]) -> int:
    return max((file.last_seq or 0 for file in files), default=0)
