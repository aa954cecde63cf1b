"""What housekeeping does with a ledger: whether it belongs to the tables, and putting it right.

It has a connection of its own, so that it can look at a ledger that others use.
"""

from __future__ import annotations

import datetime as dt
import random
import sqlite3
import uuid
from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from schemas.tables.readings import READINGS, REJECTS, SUPERSEDED
from warehouse.errors import LedgerError, MissingLedgerError, OldLedgerError
from warehouse.inbox.database import (
    FILE_NAME,
    FIRST_INBOX_NUMBERS,
    LAST_INBOX_NUMBER,
    NUMBERS_AN_INBOX,
    SQL,
    connect,
    whole,
)
from warehouse.inbox.ledger import Ledger
from warehouse.inbox.package import RE_PLACED
from warehouse.inbox.payloads import payload_files
from warehouse.inbox.seal import check_seal, foreign
from warehouse.refusals import GO_ON_WITHOUT, refusal
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


@contextmanager
def newest_ledger(store: Store) -> Iterator[Ledger]:
    """The ledger of a store, open. Raises LedgerError as `check_ledger` does."""
    with Ledger.open(store.inbox) as ledger:
        check_ledger(store)
        yield ledger


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
    """Packages in commits with readings that the ledger holds for made and the table never saw.

    The table is asked once more after the ledger: a commit may be made meanwhile.
    """
    log = store.table(READINGS)
    above = upkeep.members_above(log.committed(upkeep.inbox_id))
    made = log.committed(upkeep.inbox_id)
    return [one for one in above if one.committed and one.stored and one.number > made]


def ledger_fault(store: Store, upkeep: Upkeep) -> LedgerError | None:
    """Why a ledger is not the newest one of these tables; None where it is."""
    if _committed(store, upkeep.inbox_id) < 0 and lost_members(store, upkeep):
        return foreign(store.inbox)
    if fault := older_than_dataset(store, upkeep):
        return fault
    try:
        check_seal(store.inbox, upkeep.inbox_id, lambda: upkeep.highest_numbers()[1])
    except LedgerError as told:
        return told
    return None


def older_than_dataset(store: Store, upkeep: Upkeep) -> OldLedgerError | None:
    """The error for a ledger of which the dataset holds later commits; None where there are none.

    The dataset is asked first: others may commit meanwhile.
    """
    commit = _committed(store, upkeep.inbox_id)
    package = _committed(store, f"{upkeep.inbox_id}/{RE_PLACED}")
    groups, packages = upkeep.highest_numbers()
    if commit <= groups and package <= packages:
        return None
    return OldLedgerError(
        store.inbox,
        f"the ledger is older than the dataset (its last commit is {groups}, its last package "
        f"{upkeep.number_of(packages)}; the dataset holds "
        + (f"commit {commit})" if commit > groups else f"package {upkeep.number_of(package)})"),
        GO_ON_WITHOUT,
    )


def _committed(store: Store, application: str) -> int:
    return max(store.table(table).committed(application) for table in _COMMITTED_INTO)


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
            raise MissingLedgerError(folder, "the ledger is not there", GO_ON_WITHOUT)
        try:
            with closing(connect(path)) as connection:
                yield cls(folder, connection)
        except sqlite3.Error as error:
            raise refusal(error, folder) or error from error

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

    def inbox_numbers(self) -> list[int]:
        """The inbox numbers of its packages, and of those to come."""
        rows = self._all("inboxes", (NUMBERS_AN_INBOX,))
        first = self._base // NUMBERS_AN_INBOX
        return [first + int(row["inbox"]) for row in rows]

    def skip_numbers_in(self, ledger: sqlite3.Connection, highest: int) -> None:
        """Give no package a sequence up to that one any more."""
        if ledger.execute(_SQL["any_numbers"]).fetchone() is None:
            ledger.execute(_SQL["begin_numbers"])
        ledger.execute(_SQL["skip_numbers"], (highest,))

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
        """Give the inbox a new identity, and packages to come another inbox number.

        The inbox it is a copy of goes on giving numbers of its own.
        """
        with self.transaction() as ledger:
            self.skip_numbers_in(ledger, self._of_another_inbox())
            return self.renew_inbox_in(ledger)

    def _of_another_inbox(self) -> int:
        """The sequence before the first one under an inbox number above every one had so far.

        Never one that a new inbox gives itself.
        """
        before = max(*self.inbox_numbers(), FIRST_INBOX_NUMBERS[-1])
        room = LAST_INBOX_NUMBER - before
        number = before + random.SystemRandom().randint(1, max(1, room // 50))
        return number * NUMBERS_AN_INBOX - self._base

    def renew_inbox_in(self, ledger: sqlite3.Connection) -> str:
        """Give the inbox a new identity: no commit of it can be taken for one made before.

        Commits recorded under the old identity are forgotten; packages that
        still need one must have been offered again before.
        """
        identity = str(uuid.uuid4())
        for statement in (_SQL["forget_members"], _SQL["forget_commits"], SQL["forget_placed_by"]):
            ledger.execute(statement)
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
            ledger.execute(SQL["forget_placed_by"])

    def counts(self) -> dict[int, tuple[str, int, int]]:
        """State, attempts and readings stored (accepted and revised) of each package sequence."""
        return {
            row["seq"]: (row["state"], row["attempts"], row["stored"])
            for row in self._all("counts")
        }

    def in_doubt(self) -> list[int]:
        """Packages that failed and of which readings are stored, by their numbers."""
        return [self.number_of(row["seq"]) for row in self._all("in_doubt")]

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
