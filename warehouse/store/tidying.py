"""Tidying logs: entries and checkpoints nobody reads any longer go, and nothing is forgotten.

A log that only grows makes every look at it slower. An entry goes once a later
checkpoint stands for it and it is older than `log_days`. A version that a
published state names stays readable. The checkpoint remembers replaced files
until vacuum has removed them; an entry that tells of one it does not remember
stays.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path

from warehouse.store.delta import DeltaLog
from warehouse.store.history import checkpoints, log_files, remembered_by, removed_by, version_of
from warehouse.store.layout import Store
from warehouse.store.vacuum import oldest_needed


def old_entries(log: DeltaLog, since: dt.datetime, needed: int | None) -> list[Path]:
    """Entries and checkpoints of a log that may go, oldest first.

    Those made since that moment stay, and what the version `needed` is read by.
    """
    entries = log_files(log.root)
    old = [path for path in entries if path.stat().st_mtime < since.timestamp()]
    newest_old = version_of(old[-1]) if old else -1
    upto = newest_old if needed is None else min(newest_old, needed)
    usable = [path for path in checkpoints(log.root) if version_of(path) <= upto]
    while usable:
        kept = version_of(usable[-1])
        going = [path for path in entries if version_of(path) < kept]
        remembered = remembered_by(usable[-1])
        if not any(
            name not in remembered and (log.root / name).exists()
            for path in going
            for name in removed_by(path)
        ):
            return [*going, *(p for p in checkpoints(log.root) if version_of(p) < kept)]
        usable.pop()
    return []


def tidy_logs(
    store: Store, now: dt.datetime, pinned: Mapping[str, int] | None = None
) -> list[Path]:
    """Remove from every table's log what `old_entries` finds; the files removed."""
    since = now - dt.timedelta(days=store.settings.log_days)
    needed = oldest_needed(store, since, pinned).versions
    gone: list[Path] = []
    for table in store.known_tables:
        log = store.table(table)
        log.remember_removed(store.settings.remember_days)
        gone += old_entries(log, since, needed.get(table.name))
    for path in gone:  # of each log the oldest first: stopped half-way, the rest is still a log
        path.unlink(missing_ok=True)
    return gone
