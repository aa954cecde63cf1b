"""The ledger's SQLite file: opened once, checked for its version, written in whole transactions."""

from __future__ import annotations

import os
import random
import sqlite3
import uuid
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import Any

from schemas import FORMAT_VERSION
from warehouse.errors import LedgerError, LedgerVersionError, MissingLedgerError
from warehouse.inbox.seal import read_seal
from warehouse.refusals import GO_ON_WITHOUT, refusal
from warehouse.sql import load_sql, load_statements

SQL = load_statements("warehouse.inbox.sql", "statements")
FILE_NAME = "ledger.sqlite"
NUMBERS_AN_INBOX = 1_000_000_000
"""Package numbers are inbox number x this + sequence: unique over many inboxes, below 2^53.

A restored inbox goes on under another inbox number: its sequence jumps by a multiple of this.
"""
FIRST_INBOX_NUMBERS = range(100_000, 1_000_000)
"""What a new inbox chooses from; a restored one chooses above."""
LAST_INBOX_NUMBER = 2**53 // NUMBERS_AN_INBOX - 1


class Database:
    """An open ledger file; every statement is one of `sql/statements.sql`, by its name."""

    def __init__(self, folder: Path, connection: sqlite3.Connection) -> None:
        self.folder = folder
        self._connection = connection
        self._file = _inode(folder)
        row = connection.execute(SQL["read_inbox"]).fetchone()
        self.inbox_id = str(row["inbox_id"])
        self._base = int(row["inbox_number"]) * NUMBERS_AN_INBOX

    @classmethod
    def open(cls, folder: Path) -> Database:
        """The ledger in `folder`, created where there is none.

        Raises LedgerError where it cannot be opened or has another format version.
        """
        if not (folder / FILE_NAME).exists() and read_seal(folder):
            raise MissingLedgerError(folder, "the ledger is not there", GO_ON_WITHOUT)
        with ExitStack() as stack:
            try:
                connection = stack.enter_context(closing(connect(folder / FILE_NAME)))
                _check_version(folder, connection)
                if not _is_for_reading_only(folder / FILE_NAME):
                    connection.execute("PRAGMA journal_mode = WAL")
                    connection.executescript(load_sql("warehouse.inbox.sql", "tables"))
                    _identify(connection)
                database = cls(folder, connection)
            except sqlite3.Error as error:
                raise refusal(error, folder) or error from error
            stack.pop_all()
        return database

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    @contextmanager
    def transaction(self) -> Iterator[sqlite3.Connection]:
        """All of it or nothing, on disk when the `with` ends.

        Raises LedgerError where another file was put in its place meanwhile: what
        is written into the old one would be gone with this program.
        """
        if _inode(self.folder) != self._file:
            raise LedgerError(
                self.folder,
                "the ledger was replaced while it was in use",
                "end every program that uses this store, then start them again",
            )
        with whole(self._connection) as connection:
            yield connection

    def all(self, statement: str, values: Any = ()) -> list[sqlite3.Row]:
        """Every row of a named statement that only reads."""
        return self._connection.execute(SQL[statement], values).fetchall()

    def one(self, statement: str, values: Any = ()) -> sqlite3.Row | None:
        """The first row of a named statement that only reads; None where there is none."""
        row: sqlite3.Row | None = self._connection.execute(SQL[statement], values).fetchone()
        return row

    def number_of(self, seq: int) -> int:
        """The package number of a sequence."""
        return self._base + seq

    def seq_of(self, number: int) -> int:
        """The sequence of a package number."""
        return number - self._base


def _inode(folder: Path) -> int | None:
    try:
        return (folder / FILE_NAME).stat().st_ino
    except FileNotFoundError:
        return None


@contextmanager
def whole(connection: sqlite3.Connection) -> Iterator[sqlite3.Connection]:
    """A transaction: all of it or nothing, on disk when the `with` ends."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield connection
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:  # a full disk may have ended it already
            connection.execute("ROLLBACK")
        raise


def connect(path: Path) -> sqlite3.Connection:
    """A connection that waits for others, returns rows by name, and syncs what it commits.

    In a folder that may only be read, it reads.
    """
    if _is_for_reading_only(path):
        # Without changes beside it nobody writes the file, and SQLite need not make any either.
        mode = "ro" if path.with_name(f"{path.name}-wal").exists() else "ro&immutable=1"
        address = f"{path.resolve().as_uri()}?mode={mode}"
        connection = sqlite3.connect(address, timeout=60, isolation_level=None, uri=True)
    else:
        connection = sqlite3.connect(path, timeout=60, isolation_level=None)
    connection.row_factory = sqlite3.Row
    connection.execute("PRAGMA synchronous = FULL")
    return connection


def _is_for_reading_only(path: Path) -> bool:
    return path.exists() and not os.access(path.parent, os.W_OK)


def format_version(connection: sqlite3.Connection) -> int | None:
    """The version a ledger was written in; None for one that is new."""
    if connection.execute(SQL["has_inbox"]).fetchone() is None:
        return None
    row = connection.execute(SQL["read_inbox"]).fetchone()
    return int(row["format_version"]) if row else None


def _check_version(folder: Path, connection: sqlite3.Connection) -> None:
    version = format_version(connection)
    if version in (None, FORMAT_VERSION):
        return
    known = f"this program reads version {FORMAT_VERSION}"
    older = version is not None and version < FORMAT_VERSION
    raise LedgerVersionError(
        folder,
        f"the ledger's format version is {version}",
        f"{known}; `mcw migrate` lifts it" if older else known,
    )


def _identify(connection: sqlite3.Connection) -> None:
    if connection.execute(SQL["read_inbox"]).fetchone() is not None:
        return
    with whole(connection):
        if connection.execute(SQL["read_inbox"]).fetchone() is None:
            number = random.SystemRandom().choice(FIRST_INBOX_NUMBERS)
            connection.execute(SQL["create_inbox"], (FORMAT_VERSION, str(uuid.uuid4()), number))
