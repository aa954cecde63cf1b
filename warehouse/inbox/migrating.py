"""Lifting a ledger from one format version to the next, in one transaction each."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from warehouse.errors import LedgerError
from warehouse.inbox.database import FILE_NAME, connect, format_version
from warehouse.sql import load_sql


def lift_ledger(folder: Path, version: int) -> bool:
    """Lift the ledger in `folder` from the version before to `version`; whether it had to be.

    Raises LedgerError where it cannot be opened or written; it is then as it was.
    """
    try:
        with closing(connect(folder / FILE_NAME)) as connection:
            if format_version(connection) != version - 1:
                return False
            step = load_sql("warehouse.inbox.sql", f"to_version_{version}")
            connection.executescript(f"BEGIN IMMEDIATE;\n{step}\nCOMMIT;")
            return True
    except sqlite3.Error as error:
        raise LedgerError(
            folder, f"the ledger cannot be lifted: {error}", "check rights and free space"
        ) from error
