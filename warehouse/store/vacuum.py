"""Vacuum: remove data files that were replaced long ago and that no kept published state needs.

A file the log does not know may belong to a commit that is just being made: it
is touched only once it is as old as the retention, when no commit can be.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pyarrow.compute as pc

from schemas.tables.snapshots import SNAPSHOTS
from warehouse.errors import StoreError
from warehouse.store.delta import DeltaLog
from warehouse.store.files import read_rows
from warehouse.store.history import data_files, read_history
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
    needed = oldest_needed(store, since, pinned)
    found: list[OldFile] = []
    for table in store.known_tables:
        found += _old_files_of(store.table(table), since, needed)
    return found


def _old_files_of(log: DeltaLog, since: dt.datetime, needed: Needed) -> Iterator[OldFile]:
    """Files nobody needs: removed before `since` and before any version that is needed."""
    active = {entry.name for entry in log.entries()}
    history = read_history(log.root)
    version = needed.versions.get(log.table.name)
    for name in data_files(log.root):
        removal = history.removed.get(name)
        path = log.root / name
        if name in active or not path.is_file():
            continue
        if removal is None:
            old = name not in history.added and path.stat().st_mtime < since.timestamp()
        elif removal.version is None:
            moment = min(since, needed.since)
            old = log.table.name not in needed.pinned and removal.at < _milliseconds(moment)
        else:
            late = version is not None and removal.version > version
            old = not late and removal.at < _milliseconds(since)
        if old:
            yield OldFile(log.table.name, path, path.stat().st_size)


def _milliseconds(moment: dt.datetime) -> int:
    return int(moment.timestamp() * 1000)


@dataclass(frozen=True, slots=True)
class Needed:
    """What must stay readable: versions by table, pinned ones among them, and from when on.

    `since` is an hour before the oldest published state that is kept: whatever
    was removed before it is in none of them (no commit takes an hour).
    """

    versions: Mapping[str, int]
    pinned: frozenset[str]
    since: dt.datetime


def oldest_needed(
    store: Store, since: dt.datetime, pinned: Mapping[str, int] | None = None
) -> Needed:
    """What published states from that moment on need, the one in force then among them."""
    log = store.table(SNAPSHOTS)
    rows = read_rows(SNAPSHOTS, (file.path for file in log.files())).sort_by("seq")
    young = pc.greater_equal(rows.column("published_at"), pa.scalar(since))
    kept = rows.filter(young).to_pylist() + rows.filter(pc.invert(young)).to_pylist()[-1:]
    versions = dict(pinned or {})
    for row in kept:
        for name, version in json.loads(row["versions"]).items():
            versions[name] = min(version, versions.get(name, version))
    oldest = min((row["published_at"] for row in kept), default=since)
    return Needed(versions, frozenset(pinned or ()), oldest - dt.timedelta(hours=1))


def remove(files: list[OldFile]) -> None:
    """Remove the files. Raises StoreError where the right to do so is missing."""
    for file in files:
        try:
            file.path.unlink(missing_ok=True)
        except OSError as error:
            raise StoreError(
                file.path, error.strerror or str(error), "the right to remove files is needed"
            ) from error
