"""Published states: which versions of the tables belong together.

Readers take the newest published state only, so that no answer mixes readings
of one moment with conditions of another.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from schemas.columns import Table
from schemas.tables import PUBLISHED_WITH_SNAPSHOT
from schemas.tables.snapshots import SNAPSHOTS
from warehouse import clock
from warehouse.store.delta import Commit, DeltaLog
from warehouse.store.layout import Store

_PUBLISHER = "publisher"


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A published state: its number, when and as of when it was judged, and the table versions."""

    seq: int
    published_at: dt.datetime
    as_of: dt.datetime
    versions: Mapping[str, int]


def publish(
    store: Store, as_of: dt.datetime, only: Collection[Table] = PUBLISHED_WITH_SNAPSHOT
) -> Snapshot:
    """Publish the newest version of every table as one state.

    With `only`, of these tables; the others stay as they were published last, so that what
    has come in since is not taken for judged.
    """
    previous = newest(store)
    kept = previous.versions if previous else {}
    snapshot = Snapshot(
        seq=previous.seq + 1 if previous else 1,
        published_at=clock.now(),
        as_of=as_of,
        versions={
            table.name: kept[table.name]
            if table not in only and table.name in kept
            else store.table(table).version()
            for table in PUBLISHED_WITH_SNAPSHOT
        },
    )
    row = {
        "seq": snapshot.seq,
        "published_at": snapshot.published_at,
        "as_of": snapshot.as_of,
        "versions": json.dumps(snapshot.versions, sort_keys=True),
    }
    log = store.table(SNAPSHOTS)
    rows = pa.Table.from_pylist([row], SNAPSHOTS.arrow)
    log.append(lambda: [log.write(rows)], Commit(_PUBLISHER, snapshot.seq))
    return snapshot


def newest(store: Store) -> Snapshot | None:
    """The newest published state; None before the first."""
    return _read_newest(store.table(SNAPSHOTS))


def _read_newest(log: DeltaLog) -> Snapshot | None:
    file = max(log.files(), key=lambda f: f.last_seq or 0, default=None)
    if file is None:
        return None
    return _snapshot(pq.read_table(file.path, partitioning=None).to_pylist()[-1])


def numbered(store: Store, seq: int) -> Snapshot | None:
    """The published state of that number; None where there is none, or it is not told any more."""
    files = [file for file in store.table(SNAPSHOTS).files() if (file.last_seq or 0) >= seq]
    file = min(files, key=lambda f: f.last_seq or 0, default=None)
    if file is None:
        return None
    rows = pq.read_table(file.path, partitioning=None, filters=[("seq", "=", seq)]).to_pylist()
    return _snapshot(rows[0]) if rows else None


def _snapshot(row: dict[str, Any]) -> Snapshot:
    return Snapshot(
        seq=row["seq"],
        published_at=row["published_at"],
        as_of=row["as_of"],
        versions=json.loads(row["versions"]),
    )


class SnapshotWatch:
    """Looks again and again for a newly published state, at the cost of one look at one file name.

    Every commit writes the next number into the table's log: as long as that
    file is not there, nothing was published.
    """

    def __init__(self, store: Store) -> None:
        self._log = store.table(SNAPSHOTS)
        self._next: Path | None = None

    def newer(self) -> Snapshot | None:
        """The newest state if it may be new since the last call, else None."""
        if self._next is not None and not self._next.exists():
            return None
        version = self._log.version()
        found = _read_newest(self._log)  # may be newer than `version`: then it is read once more
        self._next = self._log.root / "_delta_log" / f"{version + 1:020d}.json"
        return found

    def again(self) -> None:
        """Forget the last look: what it found could not be used."""
        self._next = None
