"""Backup of a store that others go on writing to, and restoring it elsewhere.

A backup holds the newest published state: of each table the files and the log
up to the version that state names, then the ledger, the payloads, the settings
the plant's own limits and work rules. The ledger is copied last, so it knows everything
the tables hold; what it knows beyond that is offered again after restoring.
"""

from __future__ import annotations

import datetime as dt
import json
import shutil
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from schemas import FORMAT_VERSION
from schemas.tables import PUBLISHED_WITH_SNAPSHOT
from schemas.tables.snapshots import SNAPSHOTS
from warehouse import clock
from warehouse.durable import sync_all, sync_folder
from warehouse.errors import OldLedgerError, StoreError, StoreVersionError
from warehouse.inbox.database import FILE_NAME as LEDGER
from warehouse.inbox.payloads import payload_files
from warehouse.inbox.seal import renew_seal
from warehouse.inbox.upkeep import Upkeep, check_ledger, older_than_dataset
from warehouse.refusals import plain_refusals
from warehouse.services.adopting import go_on, plan_going_on
from warehouse.services.housekeeping import (
    lost_packages,
    offer_again,
    only_housekeeper,
)
from warehouse.settings import load_settings
from warehouse.store import Snapshot, Store
from warehouse.store.delta import DeltaLog
from warehouse.store.history import checkpoints, log_files, version_of
from warehouse.store.snapshot import newest
from warehouse.wording import counted

_MANIFEST = "backup.toml"
_IDENTITY = "store.toml"
_UNFINISHED = "unfinished.toml"


@dataclass(frozen=True, slots=True)
class BackedUp:
    """A finished backup: the published state it holds, and its size."""

    seq: int
    published_at: dt.datetime
    files: int
    bytes: int


@dataclass(frozen=True, slots=True)
class Restored:
    """A restored store: the published state and format version, and packages offered again."""

    seq: int
    format_version: int
    inbox_id: str
    offered_again: list[int]


def back_up(store: Store, target: Path) -> BackedUp:
    """Copy the newest published state of a live store to the empty folder `target`.

    Raises StoreError where nothing is published yet, `target` holds something,
    or a file is missing; LedgerError where the ledger is not the newest one.
    """
    check_ledger(store)
    with only_housekeeper(store), _filling(target):
        pinned, snapshot = _pinned(store)
        copied: list[Path] = []
        for log, version in pinned:
            copied += _copy_table(log, version, target / "tables" / log.table.name)
        copied += _copy_inbox(store, target / "inbox")
        folders = (store.home, store.limits, store.work, store.mappings)
        own = sorted(path for folder in folders for path in folder.glob("*.toml"))
        copied += [_copy(p, target / p.relative_to(store.home)) for p in own]
        sync_all(copied)
        size = sum(path.stat().st_size for path in copied)
        (target / _UNFINISHED).unlink()
        _write_manifest(target, store.format_version, snapshot, len(copied), size)
    return BackedUp(snapshot.seq, snapshot.published_at, len(copied), size)


@contextmanager
def _filling(folder: Path) -> Iterator[None]:
    """A new or empty folder to fill; what fails leaves nothing in it.

    Whoever is killed meanwhile leaves a mark, by which the next one knows that
    what lies there is only half of something, and may go.
    """
    with plain_refusals(folder):
        mark = folder / _UNFINISHED
        empty = not folder.exists() or (folder.is_dir() and not any(folder.iterdir()))
        if not empty and not mark.exists():
            raise StoreError(folder, "it is there and not empty", "choose a new or empty folder")
        folder.mkdir(parents=True, exist_ok=True)
        _empty(folder)
        try:
            mark.write_text("# Half of something: it may be removed.\n", encoding="utf-8")
            yield
        except BaseException:
            _empty(folder)
            raise


def _empty(folder: Path) -> None:
    for path in sorted(folder.iterdir(), key=lambda each: each.name == _UNFINISHED):
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)


def _pinned(store: Store) -> tuple[list[tuple[DeltaLog, int]], Snapshot]:
    """The versions of all tables that belong together, and the state that says so."""
    snapshots = store.table(SNAPSHOTS)
    version = snapshots.version()
    snapshot = newest(store)
    while version != snapshots.version():  # published meanwhile: look again
        version = snapshots.version()
        snapshot = newest(store)
    if snapshot is None:
        raise StoreError(store.home, "nothing is published yet", "run `mcw judge` first")
    known = [table for table in PUBLISHED_WITH_SNAPSHOT if table in store.known_tables]
    tables = [(store.table(table), snapshot.versions.get(table.name, 0)) for table in known]
    return [*tables, (snapshots, version)], snapshot


def _copy_table(log: DeltaLog, version: int, target: Path) -> Iterator[Path]:
    for entry in log.entries(version):
        source = log.root / entry.name
        if not source.is_file():
            raise StoreError(source, "the log names this file and it is not there", "`mcw check`")
        copy = _copy(source, target / entry.name)
        if copy.stat().st_size != entry.size:
            raise StoreError(source, "it is not as long as the log states", "`mcw check`")
        yield copy
    for path in (*log_files(log.root), *checkpoints(log.root)):
        if version_of(path) <= version:
            yield _copy(path, target / "_delta_log" / path.name)


def _copy_inbox(store: Store, target: Path) -> Iterator[Path]:
    target.mkdir()
    with Upkeep.open(store.inbox) as upkeep, plain_refusals(target):
        upkeep.copy_to(target / LEDGER)
    yield target / LEDGER
    for path in sorted(p for p in (store.inbox / "payloads").glob("*/*") if p.is_file()):
        folder = target / "payloads" / path.parent.name
        try:
            yield _copy(path, folder / path.name)
        except FileNotFoundError:  # compressed, or vacuumed, since it was listed
            for packed in payload_files(store.inbox, path.name)[1:]:
                if packed.exists():
                    yield _copy(packed, folder / packed.name)


def _copy(source: Path, target: Path) -> Path:
    target.parent.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(source, target)
    return target


def _write_manifest(target: Path, version: int, snapshot: Snapshot, files: int, size: int) -> None:
    """The last file of a backup: without it a backup is unfinished and is not restored."""
    lines = [
        "# A backup of a store. Written by the program when everything else was there.",
        f"format_version = {version}",
        f"made_at = {clock.now().isoformat(timespec='seconds')}",
        f"seq = {snapshot.seq}",
        f"published_at = {snapshot.published_at.isoformat()}",
        f"files = {files}",
        f"bytes = {size}",
        f"versions = '{json.dumps(dict(snapshot.versions), sort_keys=True)}'",
    ]
    path = target / _MANIFEST
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    sync_all([path])


def restore(backup: Path, home: Path, *, mend: bool = False) -> Restored:
    """Make the store of a backup at `home`, with a new inbox identity.

    Raises StoreError where `backup` is unfinished or `home` holds something,
    OldLedgerError where its ledger is older than its dataset: with `mend` that
    is brought up to what the dataset tells.
    The store is there only when everything is: its identity is copied last.
    """
    with plain_refusals(backup):
        manifest = _read_manifest(backup)
    with _filling(home):
        copied = [
            _copy(path, home / path.relative_to(backup))
            for path in sorted(backup.rglob("*"))
            if path.is_file() and path.relative_to(backup).as_posix() not in (_MANIFEST, _IDENTITY)
        ]
        sync_all(copied)
        identity = _copy(backup / _IDENTITY, home / "restoring.toml")
        store = Store(home, load_settings(home).settings)
        _mend_ledger(backup, store, mend)
        return _take_over(store, identity, manifest)


def _mend_ledger(backup: Path, store: Store, mend: bool) -> None:
    """An old ledger would know nothing of packages of the dataset. Older programs took it along."""
    with Upkeep.open(store.inbox) as upkeep:
        fault = older_than_dataset(store, upkeep)
    if fault is None:
        return
    if not mend:
        raise OldLedgerError(
            backup,
            fault.why,
            "restore another backup, or this one with --mend: then the ledger goes on with what "
            "the dataset tells, as after `mcw check --mend`",
        )
    if plan := plan_going_on(store):
        go_on(store, plan)


def _read_manifest(backup: Path) -> dict[str, Any]:
    path = backup / _MANIFEST
    if not path.is_file():
        raise StoreError(backup, "it is no finished backup", "make one with `mcw backup`")
    manifest = tomllib.loads(path.read_text(encoding="utf-8"))
    version = manifest.get("format_version")
    if version not in range(1, FORMAT_VERSION + 1):
        raise StoreVersionError(
            backup,
            f"its format version is {version}",
            f"this program reads up to version {FORMAT_VERSION}",
        )
    files = [p for p in backup.rglob("*") if p.is_file() and p != path]
    size = sum(p.stat().st_size for p in files)
    if (len(files), size) != (manifest["files"], manifest["bytes"]):
        raise StoreError(
            backup,
            f"it holds {counted(len(files), 'file')} of {size:,} bytes where "
            f"{manifest['files']:,} of {manifest['bytes']:,} were written",
            "take another backup",
        )
    return manifest


def _take_over(store: Store, identity: Path, manifest: dict[str, Any]) -> Restored:
    """Renew the inbox, put back in line what the tables do not hold, then call it a store."""
    home = store.home
    with Upkeep.open(store.inbox) as upkeep:
        # A package half-way in has recorded commits of the old identity: those are void now.
        again = {*lost_packages(store, upkeep), *upkeep.recorded_while_received()}
        offer_again(store, upkeep, sorted(again))
        inbox_id = upkeep.renew_inbox()
        renew_seal(store.inbox, inbox_id, upkeep.highest_numbers()[1])
        numbers = [upkeep.number_of(one) for one in sorted(again)]
    (home / _UNFINISHED).unlink()
    identity.replace(home / _IDENTITY)
    sync_all([home / _IDENTITY])
    sync_folder(home)
    return Restored(int(manifest["seq"]), int(manifest["format_version"]), inbox_id, numbers)
