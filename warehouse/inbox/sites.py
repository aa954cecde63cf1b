"""What a package may touch: the sites of whoever handed it over, written down with its receipt.

A package without a limit has no row. Handed over again, the wider of the limits holds: at once
while it waits, else from its next attempt, for what is begun ends as it was begun.
"""

from __future__ import annotations

import json
import sqlite3

from warehouse.inbox.database import SQL, Database

Sites = frozenset[str] | None
"""Codes of sites; None for all."""

_ALL = "*"
_NONE = ""
"""Stands for a limit that leaves no site at all."""


def note_sites(ledger: sqlite3.Connection, seq: int, sites: Sites, *, repeated: bool) -> None:
    """Record the limit of a delivery: that of the package, or a wider one where it is repeated."""
    if repeated and not _noted(ledger, seq):
        return
    noted = [_ALL] if sites is None else sorted(sites) or [_NONE]
    if repeated or sites is not None:
        ledger.executemany(SQL["note_site"], [{"seq": seq, "site": site} for site in noted])


def touches_more(ledger: sqlite3.Connection, seq: int, sites: Sites) -> bool:
    """Whether a package may touch, now or from its next attempt, what is not of these sites."""
    if sites is None:
        return False
    noted = _noted(ledger, seq)
    return not noted or bool(noted - sites - {_NONE})


def _noted(ledger: sqlite3.Connection, seq: int) -> set[str]:
    return {str(row["site"]) for row in ledger.execute(SQL["sites_of"], (seq,))}


def limits_of_pending(database: Database) -> dict[int, frozenset[str]]:
    """Sites that packages which wait may touch in this attempt; those of no limit are not in it."""
    found: dict[int, set[str]] = {}
    for row in database.all("sites_of_pending"):
        found.setdefault(database.number_of(row["seq"]), set()).add(str(row["site"]))
    return {number: frozenset(sites) for number, sites in found.items() if _ALL not in sites}


def keep_sites(ledger: sqlite3.Connection, seq: int, sites: Sites) -> None:
    """Leave what was noted since these were read to the next attempt: this one is being planned."""
    if sites is not None:
        ledger.execute(SQL["postpone_sites"], {"seq": seq, "sites": json.dumps(sorted(sites))})
