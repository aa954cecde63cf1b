"""What housekeeping does with a ledger: whether it belongs to the tables, and putting it right.

It has a connection of its own, so that it can look at a ledger that others use.
"""

from __future__ import annotations

import datetime as dt
import sqlite3
import uuid
from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from schemas.tables.readings import READINGS, REJECTS, SUPERSEDED
from warehouse.errors import LedgerError, MissingLedgerError, OldLedgerError
from warehouse.inbox.database import FILE_NAME, NUMBERS_AN_INBOX, SQL, connect, whole
from warehouse.inbox.payloads import payload_files
from warehouse.inbox.seal import GO_ON_WITHOUT, check_seal, foreign
from warehouse.refusals import refusal
from warehouse.sql import load_statements
from warehouse.store import Store
from warehouse.wording import counted

_SQL = load_statements("warehouse.inbox.sql", "upkeep")
_COMMITTED_INTO = (READINGS, SUPERSEDED, REJECTS)


@dataclass(frozen=True, slots=True)
class Member:
    """A package in a recorded commit: whether the ledger holds it for made, and its readings."""

    number: int
    committed: bool
    seq: int
    stored: int


@dataclass(frozen=True, slots=True)
class OldPayload:
    """Bytes of a package that need not be kept any longer."""

    seq: int
    file: str
    bytes: int
    path: Path | None
    """The file they lie in; None where the ledger itself holds them."""


def check_ledger(store: Store) -> None:
    """Refuse a ledger that does not belong to the tables it commits into.

    One that is older would give numbers again that the tables have seen, and
    those commits would be taken for made. One that knows of commits the tables
    do not have would take what was never stored for stored. Raises LedgerError.
    """
    with Upkeep.open(store.inbox) as upkeep:
        fault = ledger_fault(store, upkeep) or _ahead(store, lost_members(store, upkeep))
    if fault is not None:
        raise fault


def lost_members(store: Store, upkeep: Upkeep) -> list[Member]:
    """Packages in commits with readings that the ledger holds for made and the table never saw."""
    made = store.table(READINGS).committed(upkeep.inbox_id)
    return [one for one in upkeep.members_above(made) if one.committed and one.stored]


def ledger_fault(store: Store, upkeep: Upkeep) -> LedgerError | None:
    """Why a ledger is not the newest one of these tables; None where it is."""
    made = max(store.table(table).committed(upkeep.inbox_id) for table in _COMMITTED_INTO)
    if made < 0 and lost_members(store, upkeep):
        return foreign(store.inbox)
    groups, packages = upkeep.highest_numbers()
    placed = f"{upkeep.inbox_id}/re-placed"
    replaced = max(store.table(table).committed(placed) for table in _COMMITTED_INTO)
    if made > groups or replaced > packages:
        return OldLedgerError(
            store.inbox,
            f"the ledger is older than the dataset (it has recorded commit {groups} and package "
            f"{packages}, the dataset holds commit {max(made, 0)} and package {max(replaced, 0)})",
            GO_ON_WITHOUT,
        )
    try:
        check_seal(store.inbox, upkeep.inbox_id, packages)
    except LedgerError as fault:
        return fault
    return None


def _ahead(store: Store, unknown: Sequence[Member]) -> LedgerError | None:
    if not unknown:
        return None
    lacking = counted(len({member.number for member in unknown}), "commit")
    return LedgerError(
        store.inbox,
        f"the dataset lacks {lacking} that the ledger holds for made",
        "`mcw check --mend` offers their packages again",
    )


class Upkeep:
    """A ledger open for housekeeping."""

    def __init__(self, folder: Path, connection: sqlite3.Connection) -> None:
        self.folder = folder
        self._connection = connection
        row = connection.execute(SQL["read_inbox"]).fetchone()
        self.inbox_id = str(row["inbox_id"])
        self._base = int(row["inbox_number"]) * NUMBERS_AN_INBOX

    @classmethod
    @contextmanager
    def open(cls, folder: Path) -> Iterator[Upkeep]:
        """The ledger in `folder`. Raises LedgerError where there is none, or it is damaged."""
        path = folder / FILE_NAME
        if not path.exists():
            raise MissingLedgerError(path, "the ledger is not there", GO_ON_WITHOUT)
        try:
            with closing(connect(path)) as connection:
                yield cls(folder, connection)
        except sqlite3.Error as error:
            raise refusal(error, path) or error from error

    def _all(self, statement: str, values: Any = ()) -> list[sqlite3.Row]:
        return self._connection.execute(_SQL[statement], values).fetchall()

    def transaction(self) -> AbstractContextManager[sqlite3.Connection]:
        """All of it or nothing."""
        return whole(self._connection)

    def damage(self) -> str | None:
        """What SQLite finds wrong with the file; None where it is sound."""
        try:
            found = str(self._all("damage")[0][0])
        except sqlite3.DatabaseError as error:
            return str(error)
        return None if found == "ok" else found

    def copy_to(self, target: Path) -> None:
        """A consistent copy of the ledger as of now, beside running receipts and commits."""
        with closing(sqlite3.connect(target)) as copy:
            self._connection.backup(copy)

    def highest_numbers(self) -> tuple[int, int]:
        """The highest number ever given to a commit, and to a package."""
        row = self._all("highest_numbers")[0]
        return int(row["groups"]), int(row["packages"])

    def members_above(self, number: int) -> list[Member]:
        """Packages of the commits recorded after that number."""
        rows = self._all("members_above", (number,))
        return [
            Member(row["number"], bool(row["committed"]), row["seq"], row["stored"]) for row in rows
        ]

    def recorded_while_received(self) -> list[int]:
        """Packages (their sequence) that wait and have recorded commits."""
        return [int(row["seq"]) for row in self._all("recorded_while_received")]

    def number_of(self, seq: int) -> int:
        """The package number of a sequence."""
        return self._base + seq

    def renew_inbox(self) -> str:
        """Give the inbox a new identity: no commit of it can be taken for one made before.

        Commits recorded under the old identity are forgotten; packages that
        still need one must have been offered again before.
        """
        with self.transaction() as ledger:
            return self.renew_inbox_in(ledger)

    def renew_inbox_in(self, ledger: sqlite3.Connection) -> str:
        """The same, as a part of a transaction."""
        identity = str(uuid.uuid4())
        for statement in ("forget_members", "forget_commits", "forget_placed_by"):
            ledger.execute(_SQL[statement])
        ledger.execute(_SQL["renew_inbox"], (identity,))
        return identity

    def offer_again(self, packages: Mapping[int, tuple[int, int]]) -> None:
        """Put packages (by sequence) back to `received`, with what the tables hold of each.

        The counts are accepted and revised; what is stored is not stored again.
        """
        with self.transaction() as ledger:
            for seq, (accepted, revised) in packages.items():
                ledger.execute(SQL["forget_groups"], (seq,))
                values = {"seq": seq, "accepted": accepted, "revised": revised}
                ledger.execute(_SQL["offer_again"], values)
            ledger.execute(_SQL["forget_placed_by"])

    def counts(self) -> dict[int, tuple[str, int, int]]:
        """State, attempts and readings stored (accepted and revised) of each package sequence."""
        return {
            row["seq"]: (row["state"], row["attempts"], row["stored"])
            for row in self._all("counts")
        }

    def placed_by(self) -> int | None:
        """Version of the registry that stored readings are placed by: it is read once more."""
        row = self._connection.execute(SQL["placed_by"]).fetchone()
        return None if row is None else int(row["version"])

    def file_names(self) -> dict[int, str]:
        """The file name of each package sequence."""
        return {row["seq"]: row["file"] for row in self._all("file_names")}

    def missing_payloads(self) -> list[str]:
        """Names of files that wait to be taken in and whose bytes are not there."""
        rows = self._all("large_payloads_needed")
        return [row["file"] for row in rows if self._large(row["sha256"]) is None]

    def _large(self, sha256: str) -> Path | None:
        """The file a large payload lies in; None where there is none any longer."""
        found = (file for file in payload_files(self.folder, sha256) if file.is_file())
        return next(found, None)

    def old_payloads(self, before: dt.datetime) -> list[OldPayload]:
        """Bytes of packages taken in whole before that moment: nothing of them was refused."""
        found = []
        for row in self._all("old_payloads", {"before": before.isoformat()}):
            path = None if row["small"] else self._large(row["sha256"])
            if path is not None or row["small"]:
                found.append(OldPayload(row["seq"], row["file"], row["bytes"], path))
        return found

    def remove_payloads(self, payloads: Sequence[OldPayload]) -> None:
        """Remove those bytes for good."""
        for payload in payloads:
            if payload.path is None:
                self._connection.execute(_SQL["remove_payload"], (payload.seq,))
            else:
                payload.path.unlink(missing_ok=True)
