"""One numbered commit: compare with the store, record, append.

The order is rejects, superseded, readings, ledger. Each table's commit carries
the inbox id and the recorded number, so that a commit that was made is never
made again, wherever the program stopped.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import duckdb
import pyarrow as pa

from schemas.identity import same_stream
from schemas.tables.readings import READINGS, REJECTS, SUPERSEDED
from warehouse import clock
from warehouse.adapters import Decoding
from warehouse.errors import OldLedgerError
from warehouse.inbox import Group, Held, Ledger
from warehouse.normalise import rejects
from warehouse.normalise.assemble import assemble, partitions
from warehouse.sql import load_sql
from warehouse.store import Store
from warehouse.store.delta import Commit, DataFile
from warehouse.store.scan import create_scan

_SQL = "warehouse.normalise.sql"
_Span = tuple[dt.datetime, dt.datetime]


@dataclass(frozen=True, slots=True)
class Batch:
    """Packages of one mapping, normalised together in one session, on their way into the store."""

    store: Store
    ledger: Ledger
    decodings: Sequence[Decoding]
    session: duckdb.DuckDBPyConnection

    def run(
        self, name: str, parameters: dict[str, Any] | None = None, **fragments: str
    ) -> list[tuple[Any, ...]]:
        """Run one statement of the normaliser; parameters it does not name are left out."""
        statement = load_sql(_SQL, name, **fragments)
        return self.session.execute(statement, _named(parameters, statement)).fetchall()

    def table(self, name: str, parameters: dict[str, Any], **fragments: str) -> pa.Table:
        """The result of one statement as an Arrow table."""
        statement = load_sql(_SQL, name, **fragments)
        named = _named(parameters, statement) or None
        return self.session.sql(statement, params=named).to_arrow_table()


def _named(parameters: dict[str, Any] | None, statement: str) -> dict[str, Any]:
    return {k: v for k, v in (parameters or {}).items() if f"${k}" in statement}


def commit_group(batch: Batch, group: Group, *, first: bool) -> None:
    """Make one recorded commit, unless it was made; the first of its packages holds the rejects."""
    commit = Commit(batch.ledger.inbox_id, group.number)
    if batch.store.table(READINGS).committed(commit.application) < commit.number:
        span = _span(group)
        held = _compare(batch, span)
        batch.ledger.groups.record(group, held)
        metadata = {
            f"mcw.{package}": f"{h.accepted}/{h.duplicate}/{h.revised}"
            for package, h in held.items()
        }
        if first:
            _append_rejects(batch, commit, metadata)
        if span:
            _append_superseded(batch, span, commit, metadata)
            _append_readings(batch, span, commit, metadata)
    elif any(held.accepted or held.revised for held in group.held.values()):
        batch.store.table(READINGS).keep()
    else:  # a commit with readings holds some, and was recorded before it was made
        raise OldLedgerError(
            batch.store.inbox,
            "the ledger was copied back from before its last commit was made",
            "put the newest one back; if it is lost, take this one away, and `mcw check --mend` "
            "makes a new one",
        )
    batch.ledger.groups.committed(group)


def _span(group: Group) -> _Span | None:
    if group.first_day is None or group.last_day is None:
        return None
    first = dt.datetime.combine(group.first_day, dt.time())
    return first, dt.datetime.combine(group.last_day, dt.time.max)


def _compare(batch: Batch, span: _Span | None) -> dict[int, Held]:
    """Tables `matches`, `repeats`, `fates` of the span; what the commit holds of each package.

    It comes out the same where `superseded` has this commit already, and `readings` has not.
    """
    if span is None:
        return {decoding.package: Held() for decoding in batch.decodings}
    source = batch.decodings[0].of_readings.source
    parameters = {
        "source": source.id,
        "method": source.method,
        "first": span[0],
        "last": span[1],
    }
    files = overlapping(batch, parameters)
    if files:
        create_scan(batch.session, "stored_rows", READINGS, files)
        superseded = batch.store.table(SUPERSEDED).files()
        create_scan(batch.session, "superseded", SUPERSEDED, superseded)
        batch.run(
            "stored",
            parameters,
            same_stream=same_stream("stored_rows", "spoken"),
        )
    else:
        batch.run("nothing_stored")
    for step in ("revised_before", "against_stored", "chains"):
        batch.run(step, parameters)
    while batch.run("chains_again") != [(0,)]:
        pass
    for step in ("repeats", "fates"):
        batch.run(step, parameters)
    return {
        package: Held(accepted, duplicate, revised)
        for package, accepted, duplicate, revised in batch.run("fate_counts", parameters)
    }


def overlapping(batch: Batch, parameters: dict[str, Any]) -> list[DataFile]:
    """Data files that may hold copies: by the time and devices they span, where that is known."""
    ((first, last, low, high),) = batch.run("reach", parameters)
    if first is None:
        return []
    earliest, latest = (edge.replace(tzinfo=dt.UTC) for edge in (first, last))
    return [
        file
        for file in batch.store.table(READINGS).files()
        if (file.first is None or (file.first <= latest and file.last >= earliest))
        and (file.first_device is None or (file.first_device <= high and file.last_device >= low))
    ]


def _append_rejects(batch: Batch, commit: Commit, metadata: dict[str, Any]) -> None:
    log = batch.store.table(REJECTS)
    found = rejects(batch.decodings[0].of_readings, batch.session)
    if found.num_rows:
        create_scan(batch.session, "known_rejects", REJECTS, log.files())
        batch.session.register("found_rejects", found)
        rows = batch.table("new_rejects", {}).cast(REJECTS.arrow)
        log.append(lambda: [log.write(rows)] if rows.num_rows else [], commit, metadata)


def _append_superseded(batch: Batch, span: _Span, commit: Commit, metadata: dict[str, Any]) -> None:
    log = batch.store.table(SUPERSEDED)
    parameters = {"first": span[0], "last": span[1], "recorded_at": clock.now()}
    rows = batch.table("superseded", parameters).cast(SUPERSEDED.arrow)
    log.append(lambda: [log.write(rows)] if rows.num_rows else [], commit, metadata)


def _append_readings(batch: Batch, span: _Span, commit: Commit, metadata: dict[str, Any]) -> None:
    log = batch.store.table(READINGS)
    ((marked,),) = batch.run("any_fates")
    items = batch.table(
        "stored_items",
        {"first": span[0], "last": span[1]},
        fates_join="LEFT JOIN fates USING (file_no, row)" if marked else "",
        not_dropped="AND dropped IS NOT TRUE" if marked else "",
    )
    rows = assemble(items, batch.table("streams", {}), batch.decodings)
    del items  # the narrow rows are as large as what is made of them
    log.append(
        lambda: [log.write(part.rows, part.partition) for part in partitions(rows)],
        commit,
        metadata,
    )
