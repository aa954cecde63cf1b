"""From received packages to committed ones: decode, normalise, compare, commit.

Small packages of one mapping are taken in together; a large one is cut into
several commits by days. Commits are recorded in the ledger before they are made.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Generator, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass

import duckdb
import pyarrow as pa

from schemas.tables.readings import READINGS
from warehouse.adapters import Decoding, adapter, decode
from warehouse.errors import AdapterError, MappingError, WarehouseError, WorkRulesError
from warehouse.event_mapping import EventMapping, parse_any_mapping
from warehouse.inbox import Counts, Finished, Group, Job, Ledger, Package
from warehouse.inbox.groups import Span
from warehouse.normalise import FileCounts, normalise
from warehouse.services.elsewhere import refuse_elsewhere
from warehouse.services.group_commit import Batch, commit_group
from warehouse.services.stopping import leave_if_asked
from warehouse.services.taking_events import take_events_in
from warehouse.services.taking_stops import take_stops_in
from warehouse.sql import load_sql
from warehouse.store import Store
from warehouse.store.scan import create_scan
from warehouse.workspace import workspace

_MOST_PACKAGES = 500
_FAULTS_OF_DATA = (
    duckdb.InvalidInputException,
    duckdb.ConversionException,
    duckdb.OutOfRangeException,
    duckdb.BinderException,
    duckdb.ParserException,
)
"""What the engine says of bytes or of a mapping; a full disk or too little memory is none."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """A package and what its taking in came to; `error` where nothing could be used."""

    package: Package
    counts: Counts
    error: str | None = None


def commit_pending(
    store: Store, ledger: Ledger, placements: pa.Table, *, only_begun: bool = False
) -> Iterator[Outcome]:
    """Take every received package into the dataset; with `only_begun` those with recorded commits.

    A package that cannot be used fails on its own and blocks no other. Raises
    StopAskedError where a signal asks to stop; the rest waits. Raises WorkRulesError, once
    everything else is in, where the plant's activity table has faults: its events wait.
    """
    faulty: WorkRulesError | None = None
    most_bytes = store.settings.commit_mb * 1_000_000
    for job in ledger.groups.jobs(ledger.pending(), _MOST_PACKAGES, most_bytes):
        if job.groups or not only_begun:
            try:
                yield from _take_in(store, ledger, job, placements)
            except WorkRulesError as error:
                faulty = error
    if faulty:
        raise faulty


def _take_in(store: Store, ledger: Ledger, job: Job, placements: pa.Table) -> Iterator[Outcome]:
    """Take one job in. What fails because of its bytes or its mapping is that package's affair."""
    try:
        usable, fault = yield from _try_job(store, ledger, job, placements)
    except (MappingError, AdapterError) as error:  # valid when it was received, and no longer
        yield from _fail(ledger, job.packages, dict.fromkeys(range(len(job.packages)), error))
        return
    if fault is None:
        return
    if len(usable) > 1:
        for package in usable:
            yield from _take_in(store, ledger, Job([package], [], job.sites), placements)
        return
    why = f"its items cannot be worked out: {fault}; a fault of its mapping or of this program"
    yield from _fail(ledger, usable, {0: WarehouseError(why)})


def _try_job(
    store: Store, ledger: Ledger, job: Job, placements: pa.Table
) -> Generator[Outcome, None, tuple[list[Package], duckdb.Error | None]]:
    """Outcomes of a job; at its end the packages that could be decoded, and why none came in."""
    with ExitStack() as stack:
        session = stack.enter_context(workspace(store.inbox, store.settings))
        decodings = _decodings(store, ledger, job, stack)
        source = decodings[0].mapping.source
        failed = decode(adapter(source.adapter), decodings, session)
        yield from _fail(ledger, job.packages, failed)
        packages = [p for number, p in enumerate(job.packages) if number not in failed]
        if not packages:
            return packages, None
        if isinstance(decodings[0].mapping, EventMapping):
            yield from _events(store, ledger, decodings, packages, session)
            return packages, None
        attempted = any(package.attempts > 1 for package in packages)
        if attempted:
            create_scan(session, "own_rows", READINGS, store.table(READINGS).files())
        try:
            counted = normalise(decodings, placements, session, attempted=attempted)
        except _FAULTS_OF_DATA as error:
            if job.groups:  # it went well when its commits were planned
                raise
            return packages, error
        batch = Batch(store, ledger, decodings, session)
        counted = refuse_elsewhere(batch, counted)
        counted = take_stops_in(store, ledger, decodings, session, counted)
        by_number = dict(zip((d.package for d in decodings), counted, strict=True))
        yield from _commit(batch, job, packages, by_number)
        return packages, None


def _events(
    store: Store,
    ledger: Ledger,
    decodings: list[Decoding],
    packages: list[Package],
    session: duckdb.DuckDBPyConnection,
) -> Iterator[Outcome]:
    """Outcomes of packages of maintenance events."""
    leave_if_asked()
    for one in take_events_in(store, ledger, decodings, packages, session):
        yield Outcome(one.package, one.counts, one.error)


def _commit(
    batch: Batch, job: Job, packages: list[Package], counted: dict[int, FileCounts]
) -> Iterator[Outcome]:
    ledger = batch.ledger
    spans = [] if job.groups else _spans(batch.store, batch.session)
    groups = job.groups or ledger.groups.plan(packages, spans, job.sites)
    for group in groups:
        if not group.committed:
            leave_if_asked()
            commit_group(batch, group, first=group is groups[0])
    made = ledger.groups.of(packages[0])
    finished = [_finished(package, counted[package.number], made) for package in packages]
    ledger.finish(finished)
    yield from (Outcome(one.package, one.counts, one.error) for one in finished)


def _decodings(store: Store, ledger: Ledger, job: Job, stack: ExitStack) -> list[Decoding]:
    packages = job.packages
    version = packages[0].mapping
    mapping = parse_any_mapping(ledger.mapping_text(version), version)
    payloads = stack.enter_context(ledger.payloads.open(packages))
    return [
        Decoding(
            payload=payload,
            file=package.file,
            mapping=mapping,
            received_at=package.received_at,
            max_line_bytes=store.settings.max_line_bytes,
            package=package.number,
            attempt=package.attempts,
            clock=ledger.clocks.of(package),
            sites=job.sites,
        )
        for package, payload in zip(packages, payloads, strict=True)
    ]


def _fail(
    ledger: Ledger, packages: list[Package], failed: Mapping[int, WarehouseError]
) -> Iterator[Outcome]:
    for number, error in sorted(failed.items()):
        ledger.fail(packages[number], error.message)
        yield Outcome(packages[number], Counts(), error.message)


def _spans(store: Store, session: duckdb.DuckDBPyConnection) -> list[Span]:
    """Runs of days with at most `chunk_rows` candidates each; one empty span at least."""
    spans: list[Span] = []
    total = 0
    days: list[tuple[dt.date, int]] = session.execute(
        load_sql("warehouse.normalise.sql", "day_counts")
    ).fetchall()
    for day, items in days:
        if spans and total + items <= store.settings.chunk_rows:
            spans[-1] = (spans[-1][0], day)
            total += items
        else:
            spans.append((day, day))
            total = items
    return spans or [(None, None)]


def _finished(package: Package, found: FileCounts, made: Sequence[Group]) -> Finished:
    """What a package came to; counts that do not add up are its error, and stop no other."""
    held = [group.held[package.number] for group in made]
    counts = Counts(
        items=found.items,
        accepted=package.counts.accepted + sum(part.accepted for part in held),
        duplicate=sum(part.duplicate for part in held),
        revised=package.counts.revised + sum(part.revised for part in held),
        rejected=found.rejected,
        blank=found.blank,
        rejected_by_reason=found.rejected_by_reason,
    )
    return Finished(package, counts, found.not_measured, counts.fault(package.number))
