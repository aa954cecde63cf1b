"""Maintenance events into the dataset: refused records, then events, then the ledger.

One package is one commit of each table. Nothing is recorded before it is made: what a package
brings follows from its bytes and from what other packages brought before it, and rows of it that
are stored are not stored again. So a stop anywhere is made good by taking the package in again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import duckdb

from schemas.tables.work import MAINTENANCE_EVENTS
from warehouse.adapters import Decoding
from warehouse.event_mapping import EventMapping
from warehouse.inbox import Counts, Finished, Ledger, Package
from warehouse.normalise.events import (
    event_counts,
    event_items,
    event_reasons,
    new_events,
    refused_events,
)
from warehouse.registry.stored import stored_entities
from warehouse.services.brought import store_brought
from warehouse.store import Store
from warehouse.store.scan import create_scan
from warehouse.work.tables import load_work_rules

_SHOWN = ("row", "event", "site", "asset", "member", "activity", "started_at", "ended_at", "status")
"""Columns of a sample."""


def take_events_in(
    store: Store,
    ledger: Ledger,
    decodings: Sequence[Decoding],
    packages: Sequence[Package],
    session: duckdb.DuckDBPyConnection,
) -> list[Finished]:
    """Store the events of decoded packages of one mapping, and record what they came to.

    `packages` are those of the decodings that could be decoded. Raises WorkRulesError where the
    activity table has faults.
    """
    mapping = decodings[0].mapping
    assert isinstance(mapping, EventMapping)
    activities = load_work_rules(store.work)["activities"]
    files = store.table(MAINTENANCE_EVENTS).files()
    create_scan(session, "stored_events", MAINTENANCE_EVENTS, files)
    event_items(decodings, stored_entities(store), activities, session)
    refused, events = refused_events(mapping, session), new_events(mapping, session)
    application = f"{ledger.inbox_id}/events"
    store_brought(store, session, application, MAINTENANCE_EVENTS, events, refused)
    finished = _finished(packages, session)
    ledger.finish(finished)
    return finished


def _finished(packages: Sequence[Package], session: duckdb.DuckDBPyConnection) -> list[Finished]:
    counted = _counted(session)
    return [
        Finished(package, counted[package.number], 0, counted[package.number].fault(package.number))
        for package in packages
    ]


def _counted(session: duckdb.DuckDBPyConnection) -> dict[int, Counts]:
    """What the records of each package came to."""
    reasons: dict[int, dict[str, int]] = defaultdict(dict)
    for row in event_reasons(session):
        reasons[row["file_no"]][row["reason"]] = row["items"]
    return {
        row["package"]: Counts(
            items=row["items"],
            accepted=row["accepted"],
            duplicate=row["duplicate"],
            revised=row["revised"],
            rejected=sum(reasons[row["file_no"]].values()),
            rejected_by_reason=reasons[row["file_no"]],
        )
        for row in event_counts(session)
    }


@dataclass(frozen=True, slots=True)
class TriedEvents:
    """What a mapping makes of a file of events, nothing stored."""

    counts: Counts
    sample: list[dict[str, object]]
    refused: list[dict[str, object]]


def try_events(store: Store, decoding: Decoding, session: duckdb.DuckDBPyConnection) -> TriedEvents:
    """What would become of a decoded file of events, as of an empty dataset."""
    mapping = decoding.mapping
    assert isinstance(mapping, EventMapping)
    activities = load_work_rules(store.work)["activities"]
    create_scan(session, "stored_events", MAINTENANCE_EVENTS, [])
    event_items([decoding], stored_entities(store), activities, session)
    sample = new_events(mapping, session).select(list(_SHOWN)).to_pylist()
    (counts,) = _counted(session).values()
    return TriedEvents(counts, sample, refused_events(mapping, session).to_pylist())
