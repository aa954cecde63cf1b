"""One Delta table: create, append exactly once, and list the files of a version.

The library neither skips a repeated transaction nor asks the disk to keep what
it wrote; both are done here. A transaction is checked on the very object that
is written with: a stale object then fails instead of writing twice.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import count, takewhile
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pyarrow as pa
from deltalake import CommitProperties, DeltaTable, PostCommitHookProperties, Schema, Transaction
from deltalake.exceptions import CommitFailedError, DeltaError
from deltalake.transaction import AddAction, RemoveAction

from schemas.columns import Table
from warehouse.durable import sync_all
from warehouse.errors import StoreConflictError, StoreVersionError
from warehouse.refusals import errno_of, plain_refusals
from warehouse.store.files import write_file

_CHECKPOINT_EVERY = "50"
_ATTEMPTS = 5
_EXCHANGES = 200


@dataclass(frozen=True, slots=True)
class DataFile:
    """An active file of a version: its path, the time and devices it spans where the log tells."""

    path: Path
    rows: int
    first: Any
    last: Any
    last_seq: int | None = None
    first_device: str | None = None
    last_device: str | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """An active file as the log states it: its name below the table's folder, unescaped."""

    name: str
    size: int
    rows: int
    partition: Mapping[str, str]
    first: Any
    last: Any


@dataclass(frozen=True, slots=True)
class Commit:
    """Who commits, for exactly once: an application and its strictly increasing number."""

    application: str
    number: int


class DeltaLog:
    """One Delta table in a folder. Its log is read once and then followed; one thread uses it."""

    def __init__(self, root: Path, table: Table, writable: bool = True) -> None:
        self.root = root
        self.table = table
        self._writable = writable
        self._open: DeltaTable | None = None
        self._uncommitted: list[Path] = []

    @classmethod
    def create(cls, root: Path, table: Table, remember_days: int = 16) -> DeltaLog:
        """A new, empty table; one that exists is left as it is.

        Checkpoints tell of replaced files for `remember_days`.
        """
        DeltaTable.create(
            root,
            table.arrow_with_partitions,
            mode="ignore",
            partition_by=list(table.partition_by) or None,
            name=table.name,
            description=table.purpose,
            configuration=_properties(remember_days),
        )
        log = cls(root, table)
        log.keep()
        return log

    def version(self) -> int:
        """The newest version."""
        return int(self._newest().version())

    def _newest(self) -> DeltaTable:
        """The table at its tip. Whether anything is new costs two looks at file names.

        The library would list the whole log, which holds an entry for every commit
        of days. Where our own entry is gone, housekeeping has overtaken us.
        """
        if not self.root.exists():
            self._check_writable()  # an older store has not got the table
        with plain_refusals(self.root):
            if self._open is None or not self._entry(self._open.version()).exists():
                self._open = DeltaTable(self.root)
            elif self._entry(self._open.version() + 1).exists():
                self._open.update_incremental()
        return self._open

    def remember_removed(self, days: int) -> None:
        """Have checkpoints tell of replaced files for that many days; recorded in the table."""
        wanted = _properties(days)
        table = self._newest()
        if not wanted.items() <= table.metadata().configuration.items():
            self._check_writable()
            before = int(table.version())
            table.alter.set_table_properties(wanted)
            self._sync_log(before)

    def _entry(self, version: int) -> Path:
        """The log entry of a version."""
        return self.root / "_delta_log" / f"{version:020d}.json"

    def write(self, rows: pa.Table, partition: Mapping[str, str] | None = None) -> AddAction:
        """Write one data file; it counts only once `append` has committed its entry."""
        self._check_writable()
        action = write_file(self.root, self.table, rows, partition or {})
        self._uncommitted.append(self.root / unquote(action.path))
        return action

    def append(
        self,
        actions: Callable[[], Sequence[AddAction]],
        commit: Commit,
        metadata: dict[str, Any] | None = None,
    ) -> bool:
        """Commit the files `actions` writes, unless this commit is there already.

        Returns whether anything was committed. Durable on return. Raises
        StoreConflictError where others keep committing first.
        """
        return self._commit(lambda _: actions(), commit, metadata)

    def replace(
        self,
        actions: Callable[[], Sequence[AddAction]],
        commit: Commit,
        metadata: dict[str, Any] | None = None,
    ) -> bool:
        """Commit the files `actions` writes in place of all that is there."""
        return self._commit(lambda table: [*_removals(table), *actions()], commit, metadata)

    def _commit(
        self,
        actions: Callable[[DeltaTable], Sequence[AddAction | RemoveAction]],
        commit: Commit,
        metadata: dict[str, Any] | None,
    ) -> bool:
        self._uncommitted.clear()
        for attempt in range(_ATTEMPTS):
            table = self._newest()
            if _seen(table, commit.application) >= commit.number:
                self.keep()
                return False
            try:
                with plain_refusals(self.root):
                    listed = list(actions(table))
                    if not listed or self._try(table, listed, commit, metadata):
                        return bool(listed)
            except BaseException:
                self._withdraw(commit)
                raise
            time.sleep(0.05 * 2**attempt)
        raise StoreConflictError(
            self.root, f"{_ATTEMPTS} commits in a row were overtaken", "try again"
        )

    def _try(
        self,
        table: DeltaTable,
        actions: list[AddAction | RemoveAction],
        commit: Commit,
        metadata: dict[str, Any] | None,
    ) -> bool:
        sync_all([self.root / unquote(a.path) for a in actions if isinstance(a, AddAction)])
        try:
            self._record(table, actions, commit, metadata)
        except (CommitFailedError, DeltaError, OSError) as error:
            if _seen(self._newest(), commit.application) < commit.number:
                if errno_of(error):
                    raise  # the machine refused it, nobody overtook it
                self._withdraw(commit)
                return False
            self.keep()  # an error although it was written
        return True

    def _withdraw(self, commit: Commit) -> None:
        """Remove the files of a commit that was not made; where that is not certain, keep them."""
        written, self._uncommitted = self._uncommitted, []
        with suppress(OSError, DeltaError):
            if _seen(DeltaTable(self.root), commit.application) < commit.number:
                for path in written:
                    path.unlink(missing_ok=True)

    def keep(self) -> None:
        """Make the whole log durable: whoever made its newest commits may have been stopped."""
        sync_all(sorted((self.root / "_delta_log").glob("*.json")))

    def _record(
        self,
        table: DeltaTable,
        actions: Sequence[AddAction | RemoveAction],
        commit: Commit,
        metadata: dict[str, Any] | None,
    ) -> None:
        """Write the next log entry, durably. Fails where another commit came first."""
        self._check_writable()
        before = int(table.version())
        table.create_write_transaction(
            list(actions),
            mode="append",
            schema=self.table.arrow_with_partitions,
            partition_by=list(self.table.partition_by) or None,
            commit_properties=CommitProperties(
                custom_metadata=metadata or {},
                max_commit_retries=0,
                app_transactions=[
                    Transaction(commit.application, commit.number, int(time.time() * 1000))
                ],
            ),
            post_commithook_properties=PostCommitHookProperties(
                create_checkpoint=True, cleanup_expired_logs=False
            ),
        )
        self._sync_log(before)

    def _check_writable(self) -> None:
        if not self._writable:
            raise StoreVersionError(
                self.root,
                "its store has an older format version and is for reading only",
                "`mcw migrate` lifts it",
            )

    def add_columns(self) -> list[str]:
        """Add the table's columns that its log does not know yet, durably; their names."""
        table = self._newest()
        known = set(pa.schema(table.schema()).names)
        missing = [column for column in self.table.columns if column.name not in known]
        if missing:
            before = int(table.version())
            fields = Schema.from_arrow(pa.schema([column.arrow for column in missing])).fields
            table.alter.add_columns(fields)
            self._sync_log(before)
        return [column.name for column in missing]

    def _sync_log(self, before: int) -> None:
        """Log entries after that version, asked of the disk; others may have added some."""
        entries = takewhile(Path.exists, map(self._entry, count(before + 1)))
        sync_all(list(entries))

    def exchange(
        self, removed: Sequence[Entry], added: Sequence[AddAction], commit: Commit
    ) -> bool:
        """Put files in the place of others that hold the same rows, durably.

        Returns False, and commits nothing, where `commit` was made already or a
        file of `removed` is no longer active: a compare-and-set. Commits of
        others in between do not matter. Raises StoreConflictError where they
        never leave a gap.
        """
        sync_all([self.root / unquote(action.path) for action in added])
        actions: list[AddAction | RemoveAction] = [*map(_removal, removed), *added]
        for attempt in range(_EXCHANGES):
            table = self._newest()
            active = {entry.name for entry in self.entries()}
            if {unquote(action.path) for action in added} <= active:
                return True  # an error although it was written
            if _seen(table, commit.application) >= commit.number:
                return False
            if not {entry.name for entry in removed} <= active:
                return False
            try:
                self._record(table, actions, commit, {"mcw.compacted": len(removed)})
            except (CommitFailedError, DeltaError):
                time.sleep(random.uniform(0, 0.02 * min(attempt + 1, 25)))
            else:
                return True
        raise StoreConflictError(
            self.root, f"{_EXCHANGES} commits in a row were overtaken", "try again"
        )

    def entries(self, version: int | None = None) -> list[Entry]:
        """Active files of a version (the newest if none is given), as the log states them."""
        listed = pa.table(self._at(version).get_add_actions(flatten=True)).to_pylist()
        return [
            Entry(
                name=unquote(entry["path"]),
                size=int(entry["size_bytes"]),
                rows=int(entry.get("num_records") or 0),
                partition={n: entry[f"partition.{n}"] for n in self.table.partition_by},
                first=entry.get("min.ts"),
                last=entry.get("max.ts"),
            )
            for entry in listed
        ]

    def _at(self, version: int | None) -> DeltaTable:
        if version is None:
            return self._newest()
        if self._open is not None and version == self._newest().version():
            return self._open
        with plain_refusals(self.root):
            return DeltaTable(self.root, version=version)  # even where the tip is torn

    def committed(self, application: str) -> int:
        """The highest number that application has committed; -1 for none."""
        return _seen(self._newest(), application)

    def next_commit(self, application: str) -> Commit:
        """The commit an application makes next: its numbers rise by one, from 1."""
        return Commit(application, max(self.committed(application), 0) + 1)

    def committed_at(self, application: str, version: int) -> int:
        """The same as of a version."""
        return _seen(self._at(version), application)

    def files(self, version: int | None = None) -> list[DataFile]:
        """Active files of a version (the newest if none is given)."""
        entries = pa.table(self._at(version).get_add_actions(flatten=True))
        return [
            DataFile(
                self.root / unquote(entry["path"]),
                int(entry.get("num_records") or 0),
                entry.get("min.ts"),
                entry.get("max.ts"),
                entry.get("max.seq"),
                entry.get("min.device"),
                entry.get("max.device"),
            )
            for entry in entries.to_pylist()
        ]


def _properties(remember_days: int) -> dict[str, str]:
    return {
        "delta.checkpointInterval": _CHECKPOINT_EVERY,
        "delta.deletedFileRetentionDuration": f"interval {remember_days} days",
    }


def _seen(table: DeltaTable, application: str) -> int:
    found = table.transaction_version(application)
    return -1 if found is None else int(found)


def _removal(entry: Entry) -> RemoveAction:
    """The library escapes the path itself: it must come unescaped, or it names no file."""
    return RemoveAction(
        path=entry.name,
        data_change=False,
        deletion_timestamp=int(time.time() * 1000),
        size=entry.size,
        partition_values=dict(entry.partition),
    )


def _removals(table: DeltaTable) -> list[RemoveAction]:
    now = int(time.time() * 1000)
    entries = pa.table(table.get_add_actions(flatten=True)).to_pylist()
    return [
        RemoveAction(path=unquote(entry["path"]), data_change=True, deletion_timestamp=now)
        for entry in entries
    ]
