"""From received packages to committed ones: decode, normalise, compare, commit.

The order of each commit is rejects, superseded, readings, ledger. Each table's
commit carries the inbox id and the recorded number, so that a commit that was
made is never made again, wherever the program stopped.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import duckdb
import pyarrow as pa

from schemas.identity import same_reading
from schemas.tables.readings import READINGS, REJECTS, SUPERSEDED
from warehouse.adapters import Decoding, adapter
from warehouse.errors import ConservationError, SourceError
from warehouse.inbox import Counts, Ledger, Package, Part
from warehouse.mapping import parse_mapping
from warehouse.normalise import Normalised, normalise, rejects
from warehouse.normalise.assemble import assemble, partitions
from warehouse.sql import load_sql
from warehouse.store import Store
from warehouse.store.delta import Commit
from warehouse.store.scan import create_scan
from warehouse.workspace import workspace

_SQL = "warehouse.normalise.sql"
_Span = tuple[dt.datetime, dt.datetime]


@dataclass(frozen=True, slots=True)
class Outcome:
    """A package and what its taking in came to; `error` where nothing could be used."""

    package: Package
    counts: Counts
    error: str | None = None


def commit_pending(store: Store, ledger: Ledger, placements: pa.Table) -> Iterator[Outcome]:
    """Take every received package into the dataset, in order of receipt.

    A package that cannot be used fails on its own and blocks no other.
    """
    for package in ledger.pending():
        try:
            counts = _take_in(store, ledger, package, placements)
        except SourceError as error:
            ledger.fail(package, error.message)
            yield Outcome(package, Counts(), error.message)
        else:
            yield Outcome(package, counts)


def _take_in(store: Store, ledger: Ledger, package: Package, placements: pa.Table) -> Counts:
    mapping = parse_mapping(ledger.mapping_text(package.mapping), package.mapping)
    with workspace(store.inbox, store.settings) as session, ledger.payload(package) as path:
        decoding = Decoding(
            path, package.file, mapping, package.received_at, store.settings.max_line_bytes
        )
        adapter(mapping.source.adapter).read(decoding, session)
        normalised = normalise(decoding, placements, session)
        work = _Work(store, ledger, package, decoding, normalised, session)
        return work.commit()


@dataclass(frozen=True, slots=True)
class _Work:
    """One package on its way into the store."""

    store: Store
    ledger: Ledger
    package: Package
    decoding: Decoding
    normalised: Normalised
    session: duckdb.DuckDBPyConnection

    def commit(self) -> Counts:
        before = self.package.counts
        if self.package.attempts > 1:
            self._leave_out_own_rows()
        for part in self.ledger.plan(self.package, self._spans()):
            if not part.committed:
                self._commit_part(part)
        parts = self.ledger.parts(self.package)
        counts = Counts(
            items=self.normalised.items,
            accepted=before.accepted + sum(part.accepted for part in parts),
            duplicate=sum(part.duplicate for part in parts),
            revised=before.revised + sum(part.revised for part in parts),
            rejected=self.normalised.rejected,
            blank=self.normalised.blank,
            rejected_by_reason=self.normalised.rejected_by_reason,
        )
        if counts.items != counts.accounted:
            raise ConservationError(self.package.number, counts.items, counts.accounted)
        self.ledger.finish(self.package, counts, self.normalised.not_measured)
        return counts

    def _run(
        self, name: str, parameters: dict[str, Any] | None = None, **fragments: str
    ) -> list[tuple[Any, ...]]:
        statement = load_sql(_SQL, name, **fragments)
        used = {k: v for k, v in (parameters or {}).items() if f"${k}" in statement}
        return self.session.execute(statement, used).fetchall()

    def _leave_out_own_rows(self) -> None:
        log = self.store.table(READINGS)
        create_scan(self.session, "own_rows", READINGS, log.files())
        self._run("own", {"package": self.package.number})

    def _spans(self) -> list[tuple[dt.date | None, dt.date | None]]:
        """Runs of days with at most `chunk_rows` candidates each; one empty part at least."""
        spans: list[tuple[dt.date | None, dt.date | None]] = []
        total = 0
        for day, items in self._run("day_counts"):
            if spans and total + items <= self.store.settings.chunk_rows:
                spans[-1] = (spans[-1][0], day)
                total += items
            else:
                spans.append((day, day))
                total = items
        return spans or [(None, None)]

    def _commit_part(self, part: Part) -> None:
        commit = Commit(self.ledger.inbox_id, part.number)
        if self.store.table(READINGS).committed(commit.application) < commit.number:
            span = _span(part)
            self._compare(span)
            accepted, duplicate, revised = self._count(span)
            self.ledger.record_part(part, accepted, duplicate, revised)
            metadata = {
                "mcw.package": self.package.number,
                "mcw.accepted": accepted,
                "mcw.duplicate": duplicate,
                "mcw.revised": revised,
            }
            if part.number == self.ledger.parts(self.package)[0].number:
                self._append_rejects(commit, metadata)
            if span:
                self._append_superseded(span, commit, metadata)
                self._append_readings(span, commit, metadata)
        self.ledger.part_committed(part)

    def _compare(self, span: _Span | None) -> None:
        """Table `matches`: items whose identity the store already holds; then `fates`."""
        files = [] if span is None else _overlapping(self.store, span)
        if not files or span is None:
            self._run("no_matches")
        else:
            create_scan(self.session, "stored_rows", READINGS, files)
            superseded = self.store.table(SUPERSEDED).files()
            create_scan(self.session, "superseded", SUPERSEDED, superseded)
            parameters = {
                "source": self.decoding.mapping.source.id,
                "method": self.decoding.mapping.source.method,
                "package": self.package.number,
                "received_at": self.package.received_at,
                "first": span[0],
                "last": span[1],
            }
            self._run("stored", parameters)
            same = same_reading("stored", "candidates")
            self._run("against_stored", parameters, same_reading=same)
        self._run("fates")

    def _count(self, span: _Span | None) -> tuple[int, int, int]:
        if span is None:
            return 0, 0, 0
        ((accepted, duplicate, revised),) = self._run(
            "fate_counts", {"first": span[0], "last": span[1]}
        )
        return accepted, duplicate, revised

    def _append_rejects(self, commit: Commit, metadata: dict[str, Any]) -> None:
        log = self.store.table(REJECTS)
        found = rejects(self.decoding, self.package.number, self.session)
        if self.package.attempts > 1:
            found = self._without_known_rejects(found)
        rows = found.cast(REJECTS.arrow)
        log.append(lambda: [log.write(rows)] if rows.num_rows else [], commit, metadata)

    def _without_known_rejects(self, found: pa.Table) -> pa.Table:
        create_scan(self.session, "known_rejects", REJECTS, self.store.table(REJECTS).files())
        self.session.register("found_rejects", found)
        return self.session.sql(load_sql(_SQL, "new_rejects")).to_arrow_table()

    def _append_superseded(self, span: _Span, commit: Commit, metadata: dict[str, Any]) -> None:
        log = self.store.table(SUPERSEDED)
        parameters = {
            "package": self.package.number,
            "first": span[0],
            "last": span[1],
            "recorded_at": dt.datetime.now(dt.UTC),
        }
        found = self.session.sql(load_sql(_SQL, "superseded"), params=parameters).to_arrow_table()
        rows = found.cast(SUPERSEDED.arrow)
        log.append(lambda: [log.write(rows)] if rows.num_rows else [], commit, metadata)

    def _append_readings(self, span: _Span, commit: Commit, metadata: dict[str, Any]) -> None:
        log = self.store.table(READINGS)
        marked = self.session.execute("SELECT count(*) FROM fates").fetchall() != [(0,)]
        statement = load_sql(
            _SQL,
            "stored_items",
            fates_join="LEFT JOIN fates USING (row)" if marked else "",
            not_dropped="AND dropped IS NOT TRUE" if marked else "",
        )
        items = self.session.sql(
            statement, params={"first": span[0], "last": span[1]}
        ).to_arrow_table()
        streams = self.session.sql(load_sql(_SQL, "streams")).to_arrow_table()
        rows = assemble(items, streams, self.decoding, self.package.number)
        del items
        log.append(
            lambda: [log.write(part.rows, part.partition) for part in partitions(rows)],
            commit,
            metadata,
        )


def _span(part: Part) -> _Span | None:
    if part.first_day is None or part.last_day is None:
        return None
    first = dt.datetime.combine(part.first_day, dt.time())
    return first, dt.datetime.combine(part.last_day, dt.time.max)


def _overlapping(store: Store, span: _Span) -> list[Any]:
    """Data files whose time range overlaps the span; those without a known range too."""
    first, last = (edge.replace(tzinfo=dt.UTC) for edge in span)
    return [
        file
        for file in store.table(READINGS).files()
        if file.first is None or (file.first <= last and file.last >= first)
    ]
