"""Ingest: receive files, take them in, judge. What `mcw ingest` and the demo call."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from warehouse import clock
from warehouse.adapters import Decoding, adapter, decode
from warehouse.errors import AdapterError, ClockError, DiskFullError, MappingError
from warehouse.event_mapping import EventMapping, parse_any_mapping
from warehouse.inbox import Counts, Delivery, Ledger, Receipt
from warehouse.inbox.payloads import clear_half_received
from warehouse.inbox.seal import check_seal, renew_seal
from warehouse.inbox.upkeep import check_ledger
from warehouse.mapping import AnyMapping, mapping_text, named_adapter
from warehouse.normalise import normalise, rejects
from warehouse.refusals import plain_refusals
from warehouse.registry.stored import stored_placements
from warehouse.services.committing import Outcome, commit_pending
from warehouse.services.judging import Judged, judge_store
from warehouse.services.locks import holding
from warehouse.services.replacing import replace_readings
from warehouse.services.taking_events import try_events
from warehouse.services.taking_stops import try_stops
from warehouse.sql import load_sql
from warehouse.store import Store
from warehouse.workspace import clear_abandoned, workspace

_RECEIVED_TOGETHER = 50
"""Files of one transaction of the ledger: one wait for the disk instead of fifty."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """A file to take in, and the mapping that reads it."""

    file: Path
    mapping: Path


@contextmanager
def only_committer(store: Store) -> Iterator[None]:
    """Hold the inbox alone: one committer at a time, others wait and say for whom."""
    with holding(store, "committer", wait=True):
        clear_abandoned(store.inbox)
        clear_half_received(store.inbox)
        yield


def receive(store: Store, ledger: Ledger, arrivals: Iterable[Arrival]) -> list[Receipt]:
    """Take files in durably, in order, some at a time; nothing is decoded yet.

    Raises LedgerError where the ledger is not the newest one, ClockError where this
    machine's clock cannot be right, DiskFullError where less disk is free than the
    setting `free_disk_mb` asks for, SourceMissingError for a file that is not there
    or may not be read.
    """
    with _receiving(store, ledger):
        return _receive(store, ledger, arrivals)


def receive_deliveries(
    store: Store, ledger: Ledger, deliveries: Sequence[Delivery]
) -> list[Receipt]:
    """Take what was handed over in durably, all of it or none; raises as `receive` does."""
    with _receiving(store, ledger):
        _check_clock(store)
        _check_free_disk(store)
        return ledger.receive_all(deliveries)


@contextmanager
def _receiving(store: Store, ledger: Ledger) -> Iterator[None]:
    """The ledger is the newest, and a note of how far it came is left at the end."""
    with plain_refusals(store.inbox):
        check_seal(store.inbox, ledger.inbox_id, ledger.highest_package)
        try:
            yield
        finally:
            renew_seal(store.inbox, ledger.inbox_id, ledger.highest_package())


def _receive(store: Store, ledger: Ledger, arrivals: Iterable[Arrival]) -> list[Receipt]:
    mappings: dict[Path, tuple[AnyMapping, str]] = {}
    receipts: list[Receipt] = []
    waiting = iter(arrivals)
    while together := list(islice(waiting, _RECEIVED_TOGETHER)):
        _check_clock(store)
        _check_free_disk(store)
        for path in {arrival.mapping for arrival in together} - mappings.keys():
            mapping = usable_mapping(path)
            mappings[path] = (mapping, path.read_text(encoding="utf-8"))
        deliveries = [Delivery(one.file, *mappings[one.mapping]) for one in together]
        receipts += ledger.receive_all(deliveries)
    return receipts


def usable_mapping(path: Path, called: str | None = None) -> AnyMapping:
    """A mapping and the adapter it names, both checked; faults name it as it is `called`.

    Raises MappingError with every fault, AdapterError where it is the adapter only.
    """
    try:
        mapping = parse_any_mapping(mapping_text(path), called or str(path))
    except MappingError as error:
        named = named_adapter(path)
        try:
            if named:
                adapter(named)
        except AdapterError as missing:
            raise MappingError(
                [*error.faults, f"{called or path.name}: {missing.message}"]
            ) from error
        raise
    adapter(mapping.source.adapter)
    return mapping


def _check_clock(store: Store) -> None:
    now = clock.now()
    if now < clock.EARLIEST:
        raise ClockError(
            store.inbox,
            f"this machine's clock says {now:%Y-%m-%d %H:%M} UTC, which cannot be",
            "set the clock; nothing is received before, for every reading would look as of "
            "the future",
        )


def _check_free_disk(store: Store) -> None:
    free = shutil.disk_usage(store.inbox).free // 1_000_000
    if free < store.settings.free_disk_mb:
        raise DiskFullError(
            store.inbox,
            f"only {free} MB of disk are free",
            f"nothing is received below {store.settings.free_disk_mb} MB (setting free_disk_mb)",
        )


def commit_all(
    store: Store, ledger: Ledger, seen: Callable[[Outcome], None] = lambda _: None
) -> list[Outcome]:
    """Take every received package into the dataset; `seen` hears of each as it is done.

    Raises LedgerError for a ledger older than the dataset it commits into.
    """
    with only_committer(store):
        check_ledger(store)
        replace_readings(store, ledger)
        outcomes = []
        for outcome in commit_pending(store, ledger, stored_placements(store)):
            seen(outcome)
            outcomes.append(outcome)
    return outcomes


def finish_begun(store: Store, ledger: Ledger) -> None:
    """Finish what a program that was stopped had begun; the caller holds the inbox alone.

    A commit half made was worked out from the readings and the registry of its
    time: whoever is about to change what counts, or where things belong, first
    lets it come to its end. Raises LedgerError as `commit_all` does.
    """
    check_ledger(store)
    replace_readings(store, ledger)
    for _ in commit_pending(store, ledger, stored_placements(store), only_begun=True):
        pass


def judge_now(store: Store, anew: bool = False) -> Judged:
    """Judge the store, alone; with `anew` without what was kept of the last time."""
    with only_committer(store):
        return judge_store(store, anew)


@dataclass(frozen=True, slots=True)
class Trial:
    """What a mapping makes of a file, nothing stored."""

    counts: Counts
    not_measured: int
    sample: list[dict[str, object]]
    rejects: list[dict[str, object]]


def replay(
    ledger: Ledger,
    numbers: Iterable[int] = (),
    source: str | None = None,
    reason: str | None = None,
) -> list[int]:
    """Put packages back in line, to go through the same pipeline again; returns their numbers.

    Those with refused items are chosen, or those named; of them those of a
    source, and those with items refused for a reason. Packages that wait already,
    withdrawn ones, and those whose bytes `mcw vacuum` has removed, stay as they
    are. The caller holds the inbox alone. Raises NotFoundError for an unknown package.
    """
    named = [ledger.package(number) for number in numbers]
    chosen = [
        package
        for package in named or ledger.packages()
        if (named or package.counts.rejected)
        and source in (None, package.source)
        and (reason is None or reason in package.counts.rejected_by_reason)
    ]
    return ledger.reopen(package for package in chosen if ledger.payloads.kept(package))


def _few_of_each(rows: list[dict[str, object]], shown: int) -> list[dict[str, object]]:
    """The first rows of every reason, in file order: the rarest fault is seen too."""
    seen: Counter[object] = Counter()
    few = max(1, shown // max(1, len({row["reason"] for row in rows})))
    kept = []
    for row in rows:
        seen[row["reason"]] += 1
        if seen[row["reason"]] <= few:
            kept.append(row)
    return kept


def try_mapping(
    store: Store, arrival: Arrival, shown: int = 10, called: str | None = None
) -> Trial:
    """Decode and normalise a file as ingest would, and store nothing.

    Faults of the mapping name it as it is `called`.
    """
    mapping = usable_mapping(arrival.mapping, called)
    with workspace(store.inbox, store.settings) as session:
        decoding = Decoding(
            arrival.file,
            arrival.file.name,
            mapping,
            clock.now(),
            store.settings.max_line_bytes,
        )
        failed = decode(adapter(mapping.source.adapter), [decoding], session)
        if failed:
            raise failed[0]
        if isinstance(mapping, EventMapping):
            tried = try_events(store, decoding, session)
            return Trial(tried.counts, 0, tried.sample[:shown], _few_of_each(tried.refused, shown))
        (found,) = normalise([decoding], stored_placements(store), session)
        refused = rejects(decoding.of_readings, session).to_pylist()
        if decoding.of_readings.stop:
            found, refused_too = try_stops(decoding, session, found)
            refused += refused_too
        refused = _few_of_each(refused, shown)
        statement = load_sql("warehouse.normalise.sql", "sample")
        sample = session.sql(statement, params={"shown": shown}).to_arrow_table().to_pylist()
    counts = Counts(
        items=found.items,
        accepted=found.candidates,
        rejected=found.rejected,
        blank=found.blank,
        rejected_by_reason=found.rejected_by_reason,
    )
    return Trial(counts, found.not_measured, sample, refused)
