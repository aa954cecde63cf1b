"""Withdrawing a package that was read by a wrong mapping, and taking that back.

No reading is deleted: rows of a withdrawn package stop counting by an entry in
`superseded`. Which of the other rows of the same identities count is decided
anew, by data alone, as if the package had never come.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import pyarrow as pa

from schemas.identity import same_reading
from schemas.tables.readings import IDENTITY, READINGS, SUPERSEDED
from warehouse import clock
from warehouse.errors import StoreError
from warehouse.event_mapping import EventMapping, parse_any_mapping
from warehouse.inbox import Ledger, Package
from warehouse.inbox.lives import withdrawn_since
from warehouse.inbox.package import RE_PLACED
from warehouse.services.ingest import finish_begun
from warehouse.sql import load_sql
from warehouse.store import Store
from warehouse.store.scan import create_scan
from warehouse.workspace import workspace

_APPLICATION = "retract"
_RETRACTED = "retracted"
_COUNTING = ("committed", "committed-with-rejects")


@dataclass(frozen=True, slots=True)
class Retraction:
    """What withdrawing a package (or taking that back) changes among the current readings.

    `already` is whether it was withdrawn before, so that nothing changes; `already_since`
    since when, where that was recorded.
    """

    package: int
    rows: int
    stop_counting: int
    count_again: int
    reopened: list[int]
    already: bool = False
    already_since: dt.datetime | None = None


def retract(
    store: Store, ledger: Ledger, number: int, *, undo: bool = False, dry_run: bool = True
) -> Retraction:
    """Withdraw a package, or with `undo` take that back; nothing is changed in a dry run.

    Packages of the same source that dropped copies are put back in line: what they
    are copies of has changed, so that some count now. One that is withdrawn already
    stays so. The caller holds the inbox alone (`only_committer`). Raises NotFoundError
    for an unknown package, StoreError where its state does not allow it.
    """
    if not dry_run:
        finish_begun(store, ledger)
    package = ledger.package(number)
    if package.mapping == RE_PLACED:
        raise StoreError(
            store.home,
            f"package {number} holds readings that a corrected registry placed anew",
            "withdraw the package they came in, or correct the registry",
        )
    _refuse_events(store, ledger, package)
    if package.state == _RETRACTED and not undo:
        since = withdrawn_since(ledger.life(package))
        return Retraction(number, 0, 0, 0, [], already=True, already_since=since)
    _check_state(store, package, undo)
    others = {p.number for p in ledger.packages() if p.state == _RETRACTED} - {number}
    retracted = others if undo else others | {number}
    (stored, stop_counting, count_again), rows = _anew(store, number, retracted)
    reopened = _with_copies(ledger, package, undo)
    if not dry_run:
        log = store.table(SUPERSEDED)
        commit = log.next_commit(_APPLICATION)
        log.replace(lambda: [log.write(rows)] if rows.num_rows else [], commit)
        # one ledger transaction: stopped before it, the same command does it all again
        state = _state_after(package, undo)
        ledger.change_state(package, state, reopened, placed=not (undo or count_again))
    numbers = [other.number for other in reopened]
    return Retraction(number, stored, stop_counting, count_again, numbers)


def _refuse_events(store: Store, ledger: Ledger, package: Package) -> None:
    """Maintenance events are not withdrawn here: a later version of theirs counts."""
    mapping = parse_any_mapping(ledger.mapping_text(package.mapping), package.mapping)
    if isinstance(mapping, EventMapping):
        raise StoreError(
            store.home,
            f"package {package.number} holds maintenance events",
            "have the maintenance system amend or cancel them, or send them again under a mended "
            "mapping: the latest version counts",
        )


def _check_state(store: Store, package: Package, undo: bool) -> None:
    allowed = (_RETRACTED,) if undo else _COUNTING
    if package.state not in allowed:
        raise StoreError(
            store.home,
            f"package {package.number} is {package.state}",
            f"only a package that is {' or '.join(allowed)} can be "
            + ("brought back" if undo else "withdrawn"),
        )


def _state_after(package: Package, undo: bool) -> str:
    if not undo:
        return _RETRACTED
    return "committed-with-rejects" if package.counts.rejected else "committed"


def _with_copies(ledger: Ledger, package: Package, undo: bool) -> list[Package]:
    """Packages of the same source that dropped copies; one that is brought back may be of them.

    What that had dropped copies of may have been withdrawn meanwhile.
    """
    return [
        other
        for other in ledger.packages()
        if other.source == package.source
        and other.counts.duplicate
        and (undo if other.number == package.number else other.state in _COUNTING)
        and ledger.payloads.kept(other)
    ]


def _anew(store: Store, number: int, retracted: set[int]) -> tuple[tuple[int, int, int], pa.Table]:
    """Rows of the package, rows that stop counting and that count again; the new `superseded`."""
    columns = ", ".join(f"readings.{name}" for name in IDENTITY)
    with workspace(store.inbox, store.settings) as session:
        create_scan(session, "readings", READINGS, store.table(READINGS).files())
        create_scan(session, "superseded", SUPERSEDED, store.table(SUPERSEDED).files())
        packages = pa.table({"package": pa.array(sorted(retracted), pa.int64())})
        session.register("retracted", packages)
        session.execute(
            load_sql(
                "warehouse.services",
                "retract_touched",
                identity=columns,
                same_reading=same_reading("readings", "identities"),
            ),
            {"package": number},
        )
        session.execute(
            load_sql("warehouse.services", "retract_anew"), {"recorded_at": clock.now()}
        )
        (facts,) = session.execute(
            load_sql("warehouse.services", "retract_facts"), {"package": number}
        ).fetchall()
        rows = session.sql("FROM superseded_anew ORDER BY package, row").to_arrow_table()
    return facts, rows.cast(SUPERSEDED.arrow)
