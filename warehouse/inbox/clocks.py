"""When a package counts as received, and what the clock said: not the same where that went wrong.

The time of a receipt decides which of two values of one reading counts, so it
never lies before the time of the receipt before it. What the clock said is in
the package's life; the times of its readings are judged by that.
"""

from __future__ import annotations

import datetime as dt
import sqlite3

from warehouse.inbox.database import SQL, Database
from warehouse.inbox.package import Package

_STEP = dt.timedelta(microseconds=1)
_AHEAD = dt.timedelta(hours=1)
_BEHIND = dt.timedelta(days=1)
"""A clock that was put right by less than that made no reading of the time look impossible."""


class Clocks:
    """The times of receipt of one inbox."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def of(self, package: Package) -> dt.datetime:
        """The moment by which the times of a package's readings are judged.

        What the clock said at its receipt; where that is known to have been
        wrong, what it said when the package was last put in line again.
        """
        row = self._database.one("clocks_of", (package.seq,))
        if row is None:
            return package.received_at
        first, last = (dt.datetime.fromisoformat(row[name]) for name in ("first", "last"))
        ahead = first > last + _AHEAD
        behind = first < package.received_at - _BEHIND and package.received_at <= last + _AHEAD
        return last if ahead or behind else first


def moment_of_receipt(ledger: sqlite3.Connection, clock: dt.datetime) -> dt.datetime:
    """`clock`, or just after the newest receipt where the clock stands before that."""
    row = ledger.execute(SQL["newest_receipt"]).fetchone()
    newest = dt.datetime.fromisoformat(row["received_at"]) if row else None
    return clock if newest is None or clock > newest else newest + _STEP


def note_clock(ledger: sqlite3.Connection, seq: int, source: str, clock: dt.datetime) -> None:
    """Record what the clock said, where a receipt counts as of another moment."""
    said = clock.isoformat()
    ledger.execute(SQL["note_clock_in_life"], (said, seq))
    ledger.execute(SQL["note_clock_of_source"], (said, source))
