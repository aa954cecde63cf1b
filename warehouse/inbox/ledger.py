"""The ledger: every package received, durably, before anyone is told it arrived."""

from __future__ import annotations

import datetime as dt
import json
import sqlite3
import uuid
from collections.abc import Collection, Iterable, Sequence
from pathlib import Path
from typing import Any

from warehouse import clock
from warehouse.errors import NotFoundError, SourceMissingError
from warehouse.inbox.clocks import Clocks, moment_of_receipt, note_clock
from warehouse.inbox.counts import COUNTED, Counts
from warehouse.inbox.database import SQL, Database
from warehouse.inbox.groups import Groups
from warehouse.inbox.package import Delivery, Finished, Moment, Package, Receipt
from warehouse.inbox.payloads import Payload, Payloads
from warehouse.inbox.sites import note_sites, touches_more
from warehouse.mapping import AnyMapping


class Ledger:
    """One inbox. Open it with `Ledger.open`; close it, or use it in a `with`."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self.folder = database.folder
        self.inbox_id = database.inbox_id
        self.payloads = Payloads(database)
        self.groups = Groups(database)
        self.clocks = Clocks(database)

    @classmethod
    def open(cls, folder: Path) -> Ledger:
        """The inbox in `folder`, created where there is none.

        Raises LedgerError where the ledger cannot be opened or has another
        format version.
        """
        return cls(Database.open(folder))

    def close(self) -> None:
        """Close the ledger."""
        self._database.close()

    def __enter__(self) -> Ledger:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def receive(self, path: Path, mapping: AnyMapping, mapping_text: str) -> Receipt:
        """Take a file in, durably; the same package again gets its old number.

        Raises SourceMissingError where the file is not there or may not be read.
        """
        return self.receive_all([Delivery(path, mapping, mapping_text)])[0]

    def receive_all(self, deliveries: Sequence[Delivery]) -> list[Receipt]:
        """Take several files in, durably, all of them or none."""
        read = [self._read(delivery) for delivery in deliveries]
        with self._database.transaction() as ledger:
            return [self._record(ledger, d, p) for d, p in zip(deliveries, read, strict=True)]

    def _read(self, delivery: Delivery) -> Payload:
        if delivery.content is not None:
            return self.payloads.digest(delivery.content)
        try:
            payload = self.payloads.read(delivery.path)
        except OSError as error:
            raise SourceMissingError(
                str(delivery.path), error.strerror or str(error), "a readable file is needed"
            ) from error
        if self._database.one("find_package", _key(delivery, payload)):
            return payload
        return self.payloads.copy_large(delivery.path, payload)

    def _record(self, ledger: sqlite3.Connection, delivery: Delivery, payload: Payload) -> Receipt:
        now = clock.now()
        before = self._told_before(ledger, delivery, payload)
        if before is not None:
            return before
        receipt = self._receive(ledger, delivery, payload, now)
        if delivery.request is not None:
            seq = self._database.seq_of(receipt.package)
            told = (*delivery.request, seq, receipt.repeated, now.isoformat())
            ledger.execute(SQL["insert_request"], told)
        return receipt

    def _told_before(
        self, ledger: sqlite3.Connection, delivery: Delivery, payload: Payload
    ) -> Receipt | None:
        """The receipt that the same request got before, by whatever mapping it is read now.

        Which mapping that is the sender did not ask for, and may not know.
        """
        if delivery.request is None:
            return None
        row = ledger.execute(SQL["find_request"], delivery.request).fetchone()
        if row is None:
            return None
        same = (row["source"], row["sha256"]) == _key(delivery, payload)[:2]
        wider = touches_more(ledger, row["seq"], delivery.sites)
        return Receipt(
            self._database.number_of(row["seq"]), bool(row["repeated"]), not same, wider=wider
        )

    def forget_requests(self, before: dt.datetime) -> None:
        """Forget requests that were answered before; the packages stay."""
        with self._database.transaction() as ledger:
            ledger.execute(SQL["forget_requests"], (before.isoformat(),))

    def newest_packages(
        self, before: int | None, most: int, sources: Collection[str] | None, state: str | None
    ) -> list[Package]:
        """Packages, newest first, at most so many; those of some sources, before a number."""
        seq = None if before is None else self._database.seq_of(before)
        listed = None if sources is None else json.dumps(sorted(sources))
        values = {"before": seq, "most": most, "sources": listed, "state": state}
        rows = self._database.all("newest_packages", values)
        return [self.package(self._database.number_of(row["seq"])) for row in rows]

    def _receive(
        self, ledger: sqlite3.Connection, delivery: Delivery, payload: Payload, now: dt.datetime
    ) -> Receipt:
        found = ledger.execute(SQL["find_package"], _key(delivery, payload)).fetchone()
        if found:
            ledger.execute(SQL["count_repeat"], (found["seq"],))
            again = (now.isoformat(), delivery.file, found["seq"])
            ledger.execute(SQL["note_repeat"], again)
            note_sites(ledger, found["seq"], delivery.sites, repeated=True)
            wider = touches_more(ledger, found["seq"], delivery.sites)
            return Receipt(self._database.number_of(found["seq"]), repeated=True, wider=wider)
        ledger.execute(SQL["remember_mapping"], (delivery.mapping.version, delivery.mapping_text))
        received_at = moment_of_receipt(ledger, now)
        values = {
            "source": delivery.mapping.source.id,
            "sha256": payload.sha256,
            "mapping": delivery.mapping.version,
            "file": delivery.file,
            "bytes": payload.size,
            "received_at": received_at.isoformat(),
        }
        seq = int(ledger.execute(SQL["insert_package"], values).lastrowid or 0)
        if received_at != now:
            note_clock(ledger, seq, delivery.mapping.source.id, now)
        note_sites(ledger, seq, delivery.sites, repeated=False)
        self.payloads.keep(ledger, seq, payload)
        return Receipt(self._database.number_of(seq), repeated=False)

    def mapping_text(self, version: str) -> str:
        """The exact text of a mapping that was in force."""
        row = self._database.one("mapping_text", (version,))
        if row is None:
            raise NotFoundError("mapping", version)
        return str(row["text"])

    def pending(self) -> list[Package]:
        """Packages received and not yet taken into the dataset, in order of receipt."""
        return self._packages("pending_packages", "reject_counts_of_pending")

    def packages(self) -> list[Package]:
        """Every package, in order of receipt."""
        return self._packages("all_packages", "all_reject_counts")

    def package(self, number: int) -> Package:
        """The package of that number. Raises NotFoundError."""
        key = (self._database.seq_of(number),)
        found = self._packages("one_package", "reject_counts_of", key)
        if not found:
            raise NotFoundError("package", str(number))
        return found[0]

    def _packages(self, statement: str, reasons: str, key: tuple[int, ...] = ()) -> list[Package]:
        refused: dict[int, dict[str, int]] = {}
        for row in self._database.all(reasons, key):
            refused.setdefault(row["seq"], {})[row["reason"]] = row["items"]
        return [
            _package(row, self._database.number_of(row["seq"]), refused.get(row["seq"], {}))
            for row in self._database.all(statement, key)
        ]

    def life(self, package: Package) -> list[Moment]:
        """Everything that happened to a package, in order."""
        rows = self._database.all("life_of", (package.seq,))
        return [
            Moment(
                at=dt.datetime.fromisoformat(row["at"]) if row["at"] else None,
                state=row["state"],
                attempt=row["attempt"],
                file=row["file"],
                error=row["error"],
                counts=None if row["items"] is None else Counts(**{n: row[n] for n in COUNTED}),
            )
            for row in rows
        ]

    def change_state(
        self, package: Package, state: str, reopened: Sequence[Package], *, placed: bool
    ) -> None:
        """Record another state of a package and put others back in line, both or neither.

        Without `placed` every stored reading is to be placed by the registry once more:
        what counts again may have missed a correction.
        """
        with self._database.transaction() as ledger:
            ledger.execute(SQL["set_state"], (state, package.seq))
            if not placed:
                ledger.execute(SQL["forget_placed_by"])
            for other in reopened:
                _reopen(ledger, other)

    def reopen(self, packages: Iterable[Package]) -> list[int]:
        """Put packages back to `received`, to be taken in again by new commits.

        One that waits already, or was withdrawn, stays as it is; returns the
        numbers of the others. All at once: later packages are compared with what
        earlier ones said.
        """
        with self._database.transaction() as ledger:
            return [package.number for package in packages if _reopen(ledger, package)]

    def finish(self, finished: Sequence[Finished]) -> None:
        """Record that packages are in the dataset, with their counts; one with an error failed."""
        with self._database.transaction() as ledger:
            for one in finished:
                state = "committed-with-rejects" if one.counts.rejected else "committed"
                if one.error:
                    state = "failed"
                _finish(ledger, one.package, state, one.error, one.counts, one.not_measured)

    def fail(self, package: Package, error: str) -> None:
        """Record that nothing of the package could be used, and why.

        What an earlier attempt stored of it stays counted.
        """
        before = package.counts
        stored = before.accepted + before.revised
        counts = Counts(items=stored, accepted=before.accepted, revised=before.revised)
        with self._database.transaction() as ledger:
            _finish(ledger, package, "failed", error, counts, 0)

    def begin_replacing(self, source: str) -> Package:
        """A package of the registry's own making: readings of a source, written again elsewhere.

        It has no payload and is never pending.
        """
        with self._database.transaction() as ledger:
            ledger.execute(SQL["remember_replacing"])
            now = clock.now().isoformat()
            ledger.execute(SQL["begin_replacing"], (source, str(uuid.uuid4()), now))
            row = ledger.execute(SQL["replacing_package"]).fetchone()
        return _package(row, self._database.number_of(row["seq"]), {})

    def replacing(self) -> Package | None:
        """The re-placing that was begun and not ended."""
        row = self._database.one("replacing_package")
        return None if row is None else _package(row, self._database.number_of(row["seq"]), {})

    def end_replacing(self, package: Package, counted: Iterable[tuple[int, int, int]]) -> None:
        """Record that a re-placing is done, and what all of them came to by now.

        `counted` has of each re-placing package its number, the readings it ended, and how
        many of them are on no machine.
        """
        with self._database.transaction() as ledger:
            ledger.execute(SQL["forget_unplaced"])
            for number, items, unplaced in counted:
                seq = self._database.seq_of(number)
                placed = {"seq": seq, "items": items, "unplaced": unplaced}
                ledger.execute(SQL["count_replaced"], placed)
                if unplaced:
                    ledger.execute(SQL["insert_reject_count"], (seq, "not-mounted", unplaced))
            values = {"seq": package.seq, "finished_at": clock.now().isoformat()}
            ledger.execute(SQL["end_replacing"], values)

    def placed_by(self) -> int | None:
        """Version of the registry that every stored reading is placed by; None before the first."""
        row = self._database.one("placed_by")
        return None if row is None else int(row["version"])

    def record_placed_by(self, version: int) -> None:
        """Record that every stored reading is placed by that version of the registry."""
        with self._database.transaction() as ledger:
            ledger.execute(SQL["record_placed_by"], (version,))

    def any_pending(self) -> bool:
        """Whether anything waits to be taken in; asked often, so it costs next to nothing."""
        return self._database.one("any_pending") is not None

    def highest_package(self) -> int:
        """The highest sequence ever given to a package."""
        row = self._database.one("highest_package")
        return int(row["packages"]) if row else 0

    def asked(self, question: str) -> list[dict[str, Any]]:
        """Rows of one of the ledger's named statements that only reads."""
        return [dict(row) for row in self._database.all(question)]

    def received_names(self, source: str) -> dict[str, dict[int, set[str]]]:
        """Names that a source's packages came under, with their sizes and SHA-256 digests."""
        found: dict[str, dict[int, set[str]]] = {}
        for row in self._database.all("received_names", (source,)):
            sizes = found.setdefault(row["file"], {})
            sizes.setdefault(row["bytes"], set()).add(row["sha256"])
        return found

    def open_counts(self) -> list[dict[str, Any]]:
        """Open refused items of each package and reason: package, source, reason, items.

        A package that was withdrawn, or taken in again by a mended mapping, has none.
        """
        return [
            {"package": self._database.number_of(row.pop("seq")), **row}
            for row in self.asked("open_counts")
        ]

    def reject_counts(self) -> list[dict[str, Any]]:
        """Open refused items by source and reason: source, reason, items, packages."""
        groups: dict[tuple[str, str], dict[str, Any]] = {}
        for row in self.open_counts():
            key = {name: row[name] for name in ("source", "reason")}
            group = groups.setdefault(tuple(key.values()), key | {"items": 0, "packages": 0})
            group["items"] += row["items"]
            group["packages"] += 1
        return list(groups.values())


def _key(delivery: Delivery, payload: Payload) -> tuple[str, str, str]:
    return delivery.mapping.source.id, payload.sha256, delivery.mapping.version


def _package(row: sqlite3.Row, number: int, rejected_by_reason: dict[str, int]) -> Package:
    counts = Counts(**{n: row[n] for n in COUNTED}, rejected_by_reason=rejected_by_reason)
    finished = row["finished_at"]
    return Package(
        number=number,
        seq=row["seq"],
        source=row["source"],
        sha256=row["sha256"],
        mapping=row["mapping"],
        file=row["file"],
        bytes=row["bytes"],
        received_at=dt.datetime.fromisoformat(row["received_at"]),
        finished_at=dt.datetime.fromisoformat(finished) if finished else None,
        state=row["state"],
        repeats=row["repeats"],
        attempts=row["attempts"],
        error=row["error"],
        counts=counts,
        not_measured=row["not_measured"],
    )


def _reopen(ledger: sqlite3.Connection, package: Package) -> bool:
    if not ledger.execute(SQL["reopen_package"], (package.seq,)).rowcount:
        return False
    ledger.execute(SQL["forget_groups"], (package.seq,))
    return True


def _finish(
    ledger: sqlite3.Connection,
    package: Package,
    state: str,
    error: str | None,
    counts: Counts,
    not_measured: int,
) -> None:
    values: dict[str, Any] = {name: getattr(counts, name) for name in COUNTED}
    values |= {
        "seq": package.seq,
        "state": state,
        "error": error,
        "not_measured": not_measured,
        "finished_at": clock.now().isoformat(),
    }
    ledger.execute(SQL["finish_package"], values)
    ledger.execute(SQL["forget_reject_counts"], (package.seq,))
    for reason, items in counts.rejected_by_reason.items():
        ledger.execute(SQL["insert_reject_count"], (package.seq, reason, items))
