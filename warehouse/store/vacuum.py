"""Vacuum: remove data files that were replaced long ago and that no kept published state needs.

Only files the log says were removed are touched, never one the log does not
know: it may belong to a commit that is just being made.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pyarrow.parquet as pq

from schemas.tables import TABLES
from schemas.tables.snapshots import SNAPSHOTS
from warehouse.errors import StoreError
from warehouse.store.delta import DeltaLog
from warehouse.store.history import read_history
from warehouse.store.layout import Store


@dataclass(frozen=True, slots=True)
class OldFile:
    """A data file that no version anyone may still read needs."""

    table: str
    path: Path
    bytes: int


def old_files(
    store: Store, now: dt.datetime, pinned: Mapping[str, int] | None = None
) -> list[OldFile]:
    """Files removed before the retention began, and not needed by a state published since.

    The newest published state is always kept, and the one that was in force
    when the retention began; `pinned` names versions that others hold on to.
    """
    since = now - dt.timedelta(days=store.settings.retention_days)
    needed = dict(oldest_needed(store, since))
    for name, version in (pinned or {}).items():
        needed[name] = min(version, needed.get(name, version))
    found = []
    for table in TABLES.values():
        found += _old_files_of(store.table(table), since, needed.get(table.name))
    return found


def _old_files_of(log: DeltaLog, since: dt.datetime, needed: int | None) -> list[OldFile]:
    """Files removed at or before version `needed` (any version if None) and before `since`."""
    active = {entry.name for entry in log.entries()}
    before = int(since.timestamp() * 1000)
    found = []
    for name, removal in read_history(log.root).removed.items():
        path = log.root / name
        late = removal.at >= before or (needed is not None and removal.version > needed)
        if not late and name not in active and path.is_file():
            found.append(OldFile(log.table.name, path, path.stat().st_size))
    return found


def oldest_needed(store: Store, since: dt.datetime) -> Mapping[str, int]:
    """For each table the oldest version that a kept published state names."""
    log = store.table(SNAPSHOTS)
    rows = [
        row
        for file in log.files()
        for row in pq.read_table(file.path, partitioning=None).to_pylist()
    ]
    rows.sort(key=lambda row: row["seq"])
    kept = [row for row in rows if row["published_at"] >= since] or rows[-1:]
    kept += [row for row in rows if row["published_at"] < since][-1:]
    oldest: dict[str, int] = {}
    for row in kept:
        for name, version in json.loads(row["versions"]).items():
            oldest[name] = min(version, oldest.get(name, version))
    return oldest


def remove(files: list[OldFile]) -> None:
    """Remove the files. Raises StoreError where the right to do so is missing."""
    for file in files:
        try:
            file.path.unlink(missing_ok=True)
        except OSError as error:
            raise StoreError(
                file.path, error.strerror or str(error), "the right to remove files is needed"
            ) from error
