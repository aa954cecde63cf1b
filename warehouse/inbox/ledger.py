"""The ledger: every package received, durably, before anyone is told it arrived."""

from __future__ import annotations

import datetime as dt
import hashlib
import random
import shutil
import sqlite3
import tempfile
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from schemas import FORMAT_VERSION
from warehouse.durable import sync_file, sync_folder
from warehouse.errors import LedgerError, NotFoundError, SourceMissingError
from warehouse.inbox.counts import Counts
from warehouse.inbox.package import Group, Held, Job, Package, Receipt
from warehouse.mapping import Mapping
from warehouse.sql import load_sql, load_statements

_SQL = load_statements("warehouse.inbox.sql", "statements")
_SMALL_BYTES = 256 * 1024
_NUMBERS_AN_INBOX = 1_000_000_000
"""Package numbers are inbox number x this + sequence: unique over many inboxes, below 2^53."""


class Ledger:
    """One inbox. Open it with `Ledger.open`; close it, or use it in a `with`."""

    def __init__(self, folder: Path, connection: sqlite3.Connection) -> None:
        self.folder = folder
        self._connection = connection
        row = connection.execute(_SQL["read_inbox"]).fetchone()
        if row["format_version"] != FORMAT_VERSION:
            raise LedgerError(
                folder,
                f"the ledger's format version is {row['format_version']}",
                f"this program reads version {FORMAT_VERSION}",
            )
        self.inbox_id = str(row["inbox_id"])
        self._base = int(row["inbox_number"]) * _NUMBERS_AN_INBOX

    @classmethod
    def open(cls, folder: Path) -> Ledger:
        """The inbox in `folder`, created where there is none.

        Raises LedgerError where the ledger cannot be opened or has another
        format version.
        """
        try:
            connection = sqlite3.connect(folder / "ledger.sqlite", timeout=60, isolation_level=None)
            connection.row_factory = sqlite3.Row
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.executescript(load_sql("warehouse.inbox.sql", "tables"))
            cls._identify(connection)
            return cls(folder, connection)
        except sqlite3.Error as error:
            raise LedgerError(
                folder, f"the ledger cannot be opened: {error}", "check rights and free space"
            ) from error

    @staticmethod
    def _identify(connection: sqlite3.Connection) -> None:
        connection.execute("BEGIN IMMEDIATE")
        if connection.execute(_SQL["read_inbox"]).fetchone() is None:
            number = random.SystemRandom().randrange(100_000, 1_000_000)
            connection.execute(_SQL["create_inbox"], (FORMAT_VERSION, str(uuid.uuid4()), number))
        connection.execute("COMMIT")

    def close(self) -> None:
        """Close the ledger."""
        self._connection.close()

    def __enter__(self) -> Ledger:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextmanager
    def _transaction(self) -> Iterator[sqlite3.Connection]:
        self._connection.execute("BEGIN IMMEDIATE")
        try:
            yield self._connection
        except BaseException:
            self._connection.execute("ROLLBACK")
            raise
        self._connection.execute("COMMIT")

    def receive(self, path: Path, mapping: Mapping, mapping_text: str) -> Receipt:
        """Take a file in, durably; the same package again gets its old number.

        Raises SourceMissingError where the file is not there or may not be read.
        """
        try:
            digest, size = _digest(path)
        except OSError as error:
            raise SourceMissingError(
                str(path), error.strerror or str(error), "a readable file is needed"
            ) from error
        with self._transaction() as ledger:
            key = (mapping.source.id, digest, mapping.version)
            found = ledger.execute(_SQL["find_package"], key).fetchone()
            if found:
                ledger.execute(_SQL["count_repeat"], (found["seq"],))
                return Receipt(self._base + int(found["seq"]), repeated=True)
            ledger.execute(_SQL["remember_mapping"], (mapping.version, mapping_text))
            seq = ledger.execute(
                _SQL["insert_package"],
                {
                    "source": mapping.source.id,
                    "sha256": digest,
                    "mapping": mapping.version,
                    "file": path.name,
                    "bytes": size,
                    "received_at": dt.datetime.now(dt.UTC).isoformat(),
                },
            ).lastrowid
            self._keep(ledger, seq, path, digest, size)
        return Receipt(self._base + int(seq or 0), repeated=False)

    def _keep(
        self, ledger: sqlite3.Connection, seq: int | None, path: Path, digest: str, size: int
    ) -> None:
        if size <= _SMALL_BYTES:
            ledger.execute(_SQL["insert_payload"], (seq, path.read_bytes()))
            return
        target = self._large(digest)
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, target)
        sync_file(target)
        sync_folder(target.parent)

    def has_payload(self, package: Package) -> bool:
        """Whether the package's bytes are still here; old ones are removed by `mcw vacuum`."""
        kept = self._connection.execute(_SQL["keeps_payload"], (package.seq,)).fetchone()
        return bool(kept[0]) or self._large(package.sha256).exists()

    def _large(self, digest: str) -> Path:
        return self.folder / "payloads" / digest[:2] / digest

    @contextmanager
    def payload(self, package: Package) -> Iterator[Path]:
        """The package's bytes as a file, for the time of the `with`."""
        row = self._connection.execute(_SQL["read_payload"], (package.seq,)).fetchone()
        if row is None:
            yield self._large(package.sha256)
            return
        with tempfile.TemporaryDirectory(dir=self.folder) as folder:
            path = Path(folder) / "payload"
            path.write_bytes(row["content"])
            yield path

    def mapping_text(self, version: str) -> str:
        """The exact text of a mapping that was in force."""
        row = self._connection.execute(_SQL["mapping_text"], (version,)).fetchone()
        if row is None:
            raise NotFoundError("mapping", version)
        return str(row["text"])

    def pending(self) -> list[Package]:
        """Packages received and not yet taken into the dataset, in order of receipt."""
        return [self._package(row) for row in self._connection.execute(_SQL["pending_packages"])]

    def packages(self) -> list[Package]:
        """Every package, in order of receipt."""
        return [self._package(row) for row in self._connection.execute(_SQL["all_packages"])]

    def package(self, number: int) -> Package:
        """The package of that number. Raises NotFoundError."""
        row = self._connection.execute(_SQL["one_package"], (number - self._base,)).fetchone()
        if row is None:
            raise NotFoundError("package", str(number))
        return self._package(row)

    def _package(self, row: sqlite3.Row) -> Package:
        reasons = self._connection.execute(_SQL["reject_counts_of"], (row["seq"],)).fetchall()
        counts = Counts(
            **{name: row[name] for name in _COUNTED},
            rejected_by_reason={reason["reason"]: reason["items"] for reason in reasons},
        )
        same = (
            "seq",
            "source",
            "sha256",
            "mapping",
            "file",
            "bytes",
            "state",
            "repeats",
            "attempts",
            "error",
        )
        return Package(
            number=self._base + int(row["seq"]),
            received_at=dt.datetime.fromisoformat(row["received_at"]),
            counts=counts,
            not_measured=row["not_measured"],
            **{name: row[name] for name in same},
        )

    def jobs(self, most_packages: int, most_bytes: int) -> list[Job]:
        """Everything that waits: commits once recorded first, exactly as they were recorded.

        The others go together by mapping, in order of receipt, up to a number
        of packages and bytes.
        """
        recorded, waiting = [], []
        placed: set[int] = set()
        pending = self.pending()
        for package in pending:
            groups = self.groups_of(package)
            if not groups:
                waiting.append(package)
            elif package.number not in placed:
                together = {number for group in groups for number in group.held}
                placed |= together
                recorded.append(Job([p for p in pending if p.number in together], groups))
        return [*recorded, *_batches(waiting, most_packages, most_bytes)]

    def plan(
        self, packages: Sequence[Package], spans: Sequence[tuple[dt.date | None, dt.date | None]]
    ) -> list[Group]:
        """Record the commits of some packages, durably, before the first is made."""
        with self._transaction() as ledger:
            for span in spans:
                first, last = (day.isoformat() if day else None for day in span)
                number = ledger.execute(_SQL["plan_group"], (first, last)).lastrowid
                for package in packages:
                    ledger.execute(_SQL["plan_member"], (number, package.seq))
        return self.groups_of(packages[0])

    def groups_of(self, package: Package) -> list[Group]:
        """The package's recorded commits, in order."""
        rows = self._connection.execute(_SQL["groups_of"], (package.seq,)).fetchall()
        return [
            Group(
                number=row["number"],
                first_day=_day(row["first_day"]),
                last_day=_day(row["last_day"]),
                committed=bool(row["committed"]),
                held=self._held(row["number"]),
            )
            for row in rows
        ]

    def _held(self, number: int) -> dict[int, Held]:
        rows = self._connection.execute(_SQL["members_of"], (number,)).fetchall()
        return {
            self._base + row["seq"]: Held(row["accepted"], row["duplicate"], row["revised"])
            for row in rows
        }

    def record_group(self, group: Group, held: dict[int, Held]) -> None:
        """Record what a commit will hold, before it is made: recovery never counts again."""
        with self._transaction() as ledger:
            for package, counts in held.items():
                values = {"number": group.number, "seq": package - self._base}
                values |= {name: getattr(counts, name) for name in Held.__slots__}
                ledger.execute(_SQL["record_member"], values)

    def group_committed(self, group: Group) -> None:
        """Record that the commit was made."""
        with self._transaction() as ledger:
            ledger.execute(_SQL["group_committed"], (group.number,))

    def change_state(self, package: Package, state: str, reopened: Sequence[Package]) -> None:
        """Record another state of a package and put others back in line, both or neither."""
        with self._transaction() as ledger:
            ledger.execute(_SQL["set_state"], (state, package.seq))
            for other in reopened:
                _reopen(ledger, other)

    def reopen(self, package: Package) -> None:
        """Put a package back to `received`, to be taken in again by new commits."""
        with self._transaction() as ledger:
            _reopen(ledger, package)

    def finish(self, package: Package, counts: Counts, not_measured: int) -> None:
        """Record that the package is in the dataset, with its counts."""
        state = "committed-with-rejects" if counts.rejected else "committed"
        self._finish(package, state, None, counts, not_measured)

    def fail(self, package: Package, error: str, counts: Counts | None = None) -> None:
        """Record that nothing of the package could be used, and why."""
        self._finish(package, "failed", error, counts or Counts(), 0)

    def _finish(
        self, package: Package, state: str, error: str | None, counts: Counts, not_measured: int
    ) -> None:
        values: dict[str, Any] = {name: getattr(counts, name) for name in _COUNTED}
        values |= {
            "seq": package.seq,
            "state": state,
            "error": error,
            "not_measured": not_measured,
            "finished_at": dt.datetime.now(dt.UTC).isoformat(),
        }
        with self._transaction() as ledger:
            ledger.execute(_SQL["finish_package"], values)
            ledger.execute(_SQL["forget_reject_counts"], (package.seq,))
            for reason, items in counts.rejected_by_reason.items():
                ledger.execute(_SQL["insert_reject_count"], (package.seq, reason, items))

    def begin_replacing(self) -> Package:
        """A package of the registry's own making: readings written again with their new place.

        It has no payload and is never pending. One that was begun and not
        ended is offered again.
        """
        with self._transaction() as ledger:
            row = ledger.execute(_SQL["replacing_package"]).fetchone()
            if row is None:
                ledger.execute(_SQL["remember_replacing"])
                now = dt.datetime.now(dt.UTC).isoformat()
                ledger.execute(_SQL["begin_replacing"], (str(uuid.uuid4()), now))
                row = ledger.execute(_SQL["replacing_package"]).fetchone()
        return self._package(row)

    def is_replacing(self) -> bool:
        """Whether a re-placing was begun and not ended."""
        return self._connection.execute(_SQL["replacing_package"]).fetchone() is not None

    def end_replacing(self, package: Package, accepted: int, open_items: dict[int, int]) -> None:
        """Record what was written again, and what is on no machine now, by package number."""
        with self._transaction() as ledger:
            now = dt.datetime.now(dt.UTC).isoformat()
            ledger.execute(_SQL["end_replacing"], (now, accepted, package.seq))
            ledger.execute(_SQL["forget_unplaced"])
            for number, items in open_items.items():
                row = (number - self._base, "not-mounted", items)
                ledger.execute(_SQL["insert_reject_count"], row)

    def placed_by(self) -> int | None:
        """Version of the registry that every stored reading is placed by; None before the first."""
        row = self._connection.execute(_SQL["placed_by"]).fetchone()
        return None if row is None else int(row["version"])

    def record_placed_by(self, version: int) -> None:
        """Record that every stored reading is placed by that version of the registry."""
        with self._transaction() as ledger:
            ledger.execute(_SQL["record_placed_by"], (version,))

    def any_pending(self) -> bool:
        """Whether anything waits to be taken in; asked often, so it costs next to nothing."""
        return self._connection.execute(_SQL["any_pending"]).fetchone() is not None

    def asked(self, question: str) -> list[dict[str, Any]]:
        """Rows of one of the ledger's named statements that only reads."""
        return [dict(row) for row in self._connection.execute(_SQL[question])]

    def closed_packages(self) -> list[int]:
        """Packages whose rejects are settled: withdrawn, or taken in again by a mended mapping."""
        rows = self._connection.execute(_SQL["closed_packages"]).fetchall()
        return [self._base + int(row["seq"]) for row in rows]

    def reject_counts(self) -> list[dict[str, Any]]:
        """Open refused items by source and reason: source, reason, items, packages."""
        return [dict(row) for row in self._connection.execute(_SQL["reject_counts"])]


_COUNTED = ("items", "accepted", "duplicate", "revised", "rejected", "blank")


def _reopen(ledger: sqlite3.Connection, package: Package) -> None:
    ledger.execute(_SQL["forget_groups"], (package.seq,))
    ledger.execute(_SQL["reopen_package"], (package.seq,))


def _batches(waiting: list[Package], most_packages: int, most_bytes: int) -> list[Job]:
    """Waiting packages in jobs: one mapping a job, small ones together, a large one alone."""
    jobs: list[Job] = []
    open_jobs: dict[str, tuple[Job, int]] = {}
    for package in waiting:
        job, size = open_jobs.get(package.mapping, (None, 0))
        if job is None or len(job.packages) >= most_packages or size + package.bytes > most_bytes:
            job, size = Job([], []), 0
            jobs.append(job)
        job.packages.append(package)
        open_jobs[package.mapping] = (job, size + package.bytes)
    return jobs


def _day(text: str | None) -> dt.date | None:
    return dt.date.fromisoformat(text) if text else None


def _digest(path: Path) -> tuple[str, int]:
    with path.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
        return digest, stream.tell()
