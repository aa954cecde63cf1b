"""Housekeeping of a store that others go on using: compact, vacuum, mend."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from schemas.tables import TABLES
from schemas.tables.readings import READINGS, REJECTS, SUPERSEDED
from schemas.tables.registry import REGISTRY
from warehouse import clock
from warehouse.durable import sync_folder
from warehouse.errors import StoreError
from warehouse.inbox import Ledger
from warehouse.inbox.upkeep import OldPayload, Upkeep, check_ledger, lost_members
from warehouse.services.ingest import only_committer
from warehouse.services.locks import holding
from warehouse.services.stopping import Stop
from warehouse.sql import load_sql
from warehouse.store import Store
from warehouse.store.ageing import believed_now, check_clock, published_moments
from warehouse.store.compaction import Compacted, compact_table
from warehouse.store.delta import DeltaLog
from warehouse.store.history import log_files, torn_entries, version_of
from warehouse.store.scan import create_scan
from warehouse.store.tidying import tidy_logs
from warehouse.store.vacuum import OldFile, old_files, remove
from warehouse.workspace import workspace

_PAYLOADS_AT_A_TIME = 20


@contextmanager
def only_housekeeper(store: Store) -> Iterator[None]:
    """Hold the store's housekeeping alone; appends and readers go on beside it.

    Raises BusyError where other housekeeping is under way.
    """
    why = "it is being compacted, vacuumed, mended or backed up by another program"
    remedy = "one at a time: try again when that has ended"
    with holding(store, "housekeeper", why, remedy, wait=False):
        yield


def compact(store: Store) -> Iterator[Compacted]:
    """Compact every table, one partition at a time, and tell of each as it is done."""
    with only_housekeeper(store):
        for table in store.known_tables:
            yield from compact_table(store, table)


def compress_payloads(store: Store, ledger: Ledger, stop: Stop | None = None) -> int:
    """Compress the bytes of packages that were taken in, a few at a time; how many were looked at.

    Commits go on between.
    """
    looked_at = 0
    while store.settings.payload_codec != "none" and not (stop and stop.asked):
        with only_committer(store):
            some = ledger.payloads.compress(_PAYLOADS_AT_A_TIME)
        looked_at += some
        if some < _PAYLOADS_AT_A_TIME:
            break
    return looked_at


@dataclass(frozen=True, slots=True)
class Vacuumed:
    """What is (or, on a dry run, would be) removed."""

    files: list[OldFile]
    payloads: list[OldPayload]
    removed: bool
    log_entries: int = 0

    @property
    def bytes(self) -> int:
        """Bytes freed."""
        return sum(f.bytes for f in self.files) + sum(p.bytes for p in self.payloads)


def vacuum(store: Store, *, really: bool, now: dt.datetime | None = None) -> Vacuumed:
    """Find data files and payloads nobody needs any longer; remove them if `really`.

    The tables' logs are tidied then, too. A moment that is given is believed,
    the clock is not: raises ClockError where it cannot be right.
    """
    check_ledger(store)
    with only_housekeeper(store), Upkeep.open(store.inbox) as upkeep:
        moment, before = _moments(store, now)
        placed_by = upkeep.placed_by()
        pinned = {} if placed_by is None else {REGISTRY.name: placed_by}
        files = old_files(store, moment, pinned)
        payloads = upkeep.old_payloads(before)
        if not really:
            return Vacuumed(files, payloads, removed=False)
        remove(files)
        upkeep.remove_payloads(payloads)
        tidied = tidy_logs(store, moment, pinned)
    return Vacuumed(files, payloads, removed=True, log_entries=len(tidied))


def _moments(store: Store, given: dt.datetime | None) -> tuple[dt.datetime, dt.datetime]:
    """The moment by which data files are old, and the one before which payloads are."""
    days = store.settings.payload_days
    if given is not None:
        return given, given - dt.timedelta(days=days)
    now = clock.now()
    published = published_moments(store)
    check_clock(store, published, now)
    if not published:  # nothing to tell a jump of the clock by
        return clock.EARLIEST, clock.EARLIEST - dt.timedelta(days=days)
    moment = believed_now(published, now, store.settings.retention_days)
    return moment, believed_now(published, now, days) - dt.timedelta(days=days)


@dataclass(frozen=True, slots=True)
class Mending:
    """Torn commits at the tip of a table's log, and the packages (by number) offered again."""

    torn: dict[str, list[Path]] = field(default_factory=dict)
    again: dict[int, str] = field(default_factory=dict)


def plan_mending(store: Store) -> Mending:
    """What mending would do. Raises StoreError where a torn commit is not the tip of its log."""
    torn = {name: found for name in TABLES if (found := torn_entries(store.tables / name))}
    for name, entries in torn.items():
        tip = log_files(store.tables / name)[-len(entries) :]
        if tip != entries:
            raise StoreError(
                entries[0], "commits were made after this torn one", "restore the newest backup"
            )
    with Upkeep.open(store.inbox) as upkeep:
        files = upkeep.file_names()
        lost = lost_packages(store, upkeep, torn) if torn or lost_members(store, upkeep) else []
        waiting = upkeep.recorded_while_received() if torn else []
        again = {upkeep.number_of(seq): files[seq] for seq in sorted({*lost, *waiting})}
    return Mending(torn, again)


def mend(store: Store, plan: Mending) -> list[Path]:
    """Move torn commits aside and offer again what they held; where the files lie now.

    Raises StoreError where the store is no longer as planned.
    """
    with only_committer(store), only_housekeeper(store):
        if plan_mending(store) != plan:
            raise StoreError(store.home, "it has changed since it was looked at", "check again")
        moved = [_set_aside(store, name, path) for name, fs in plan.torn.items() for path in fs]
        with Upkeep.open(store.inbox) as upkeep:
            offer_again(store, upkeep, lost_packages(store, upkeep))
    return moved


def _set_aside(store: Store, table: str, path: Path) -> Path:
    aside = store.home / "torn"
    aside.mkdir(exist_ok=True)
    target = aside / f"{table}-{path.name}"
    path.replace(target)
    sync_folder(path.parent)
    return target


def lost_packages(
    store: Store, upkeep: Upkeep, torn: Mapping[str, list[Path]] | None = None
) -> list[int]:
    """Packages (by sequence) with a commit the ledger holds for made and the tables do not hold.

    A commit without readings leaves no trace where all were duplicates: it
    counts as lost, and costs nothing to make again.
    """
    made: dict[str, int] = {}
    for table in (READINGS, SUPERSEDED, REJECTS):
        log = DeltaLog(store.tables / table.name, table)
        entries = (torn or {}).get(table.name)
        version = version_of(entries[0]) - 1 if entries else log.version()
        made[table.name] = log.committed_at(upkeep.inbox_id, version)
    highest = max(made.values())
    return sorted(
        {
            member.seq
            for member in upkeep.members_above(made[READINGS.name])
            if member.committed and (member.stored or member.number > highest)
        }
    )


def offer_again(store: Store, upkeep: Upkeep, sequences: list[int]) -> None:
    """Put packages back in line, counted by what the tables hold of them."""
    numbers = [upkeep.number_of(seq) for seq in sequences]
    with workspace(store.inbox, store.settings) as session:
        for table in (READINGS, SUPERSEDED):
            create_scan(session, table.name, table, store.table(table).files())
        statement = load_sql("warehouse.store", "package_rows")
        found = session.execute(statement, {"packages": numbers}).fetchall() if numbers else []
    stored = {number: (rows - min(rows, r), min(rows, r)) for number, rows, r in found}
    upkeep.offer_again({s: stored.get(upkeep.number_of(s), (0, 0)) for s in sequences})
