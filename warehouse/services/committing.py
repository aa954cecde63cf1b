"""From received packages to committed ones: decode, normalise, compare, commit.

Small packages of one mapping are taken in together; a large one is cut into
several commits by days. Commits are recorded in the ledger before they are made.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass

import duckdb
import pyarrow as pa

from warehouse.adapters import Decoding, adapter, decode
from warehouse.errors import ConservationError, SourceError
from warehouse.inbox import Counts, Job, Ledger, Package
from warehouse.mapping import parse_mapping
from warehouse.normalise import FileCounts, normalise
from warehouse.services.group_commit import Batch, commit_group
from warehouse.sql import load_sql
from warehouse.store import Store
from warehouse.workspace import workspace

_MOST_PACKAGES = 500
_MOST_BYTES = 4_000_000
"""Payload bytes taken in together: about what one commit of `chunk_rows` holds."""

_Spans = list[tuple[dt.date | None, dt.date | None]]


@dataclass(frozen=True, slots=True)
class Outcome:
    """A package and what its taking in came to; `error` where nothing could be used."""

    package: Package
    counts: Counts
    error: str | None = None


def commit_pending(store: Store, ledger: Ledger, placements: pa.Table) -> Iterator[Outcome]:
    """Take every received package into the dataset.

    A package that cannot be used fails on its own and blocks no other.
    """
    for job in ledger.jobs(_MOST_PACKAGES, _MOST_BYTES):
        yield from _take_in(store, ledger, job, placements)


def _take_in(store: Store, ledger: Ledger, job: Job, placements: pa.Table) -> Iterator[Outcome]:
    with ExitStack() as stack:
        session = stack.enter_context(workspace(store.inbox, store.settings))
        decodings = _decodings(store, ledger, job.packages, stack)
        source = decodings[0].mapping.source
        failed = decode(adapter(source.adapter), decodings, session)
        yield from _fail(ledger, job.packages, failed)
        counted = normalise(decodings, placements, session)
        packages = [p for number, p in enumerate(job.packages) if number not in failed]
        if not packages:
            return
        batch = Batch(store, ledger, decodings, session)
        if any(package.attempts > 1 for package in packages):
            batch.leave_out_own_rows()
        groups = job.groups or ledger.plan(packages, _spans(store, session))
        for group in groups:
            if not group.committed:
                commit_group(batch, group, first=group is groups[0])
        by_number = dict(zip((d.package for d in decodings), counted, strict=True))
        for package in packages:
            yield _finish(ledger, package, by_number[package.number])


def _decodings(
    store: Store, ledger: Ledger, packages: list[Package], stack: ExitStack
) -> list[Decoding]:
    version = packages[0].mapping
    mapping = parse_mapping(ledger.mapping_text(version), version)
    return [
        Decoding(
            payload=stack.enter_context(ledger.payload(package)),
            file=package.file,
            mapping=mapping,
            received_at=package.received_at,
            max_line_bytes=store.settings.max_line_bytes,
            package=package.number,
        )
        for package in packages
    ]


def _fail(
    ledger: Ledger, packages: list[Package], failed: dict[int, SourceError]
) -> Iterator[Outcome]:
    for number, error in sorted(failed.items()):
        ledger.fail(packages[number], error.message)
        yield Outcome(packages[number], Counts(), error.message)


def _spans(store: Store, session: duckdb.DuckDBPyConnection) -> _Spans:
    """Runs of days with at most `chunk_rows` candidates each; one empty span at least."""
    spans: _Spans = []
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


def _finish(ledger: Ledger, package: Package, found: FileCounts) -> Outcome:
    """Record the package as taken in. Raises ConservationError where its counts do not add up."""
    held = [group.held[package.number] for group in ledger.groups_of(package)]
    counts = Counts(
        items=found.items,
        accepted=package.counts.accepted + sum(part.accepted for part in held),
        duplicate=sum(part.duplicate for part in held),
        revised=package.counts.revised + sum(part.revised for part in held),
        rejected=found.rejected,
        blank=found.blank,
        rejected_by_reason=found.rejected_by_reason,
    )
    if counts.items != counts.accounted:
        raise ConservationError(package.number, counts.items, counts.accounted)
    ledger.finish(package, counts, found.not_measured)
    return Outcome(package, counts)
