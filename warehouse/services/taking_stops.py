"""Stop results of route sheets into the dataset, before the readings of the same packages.

What a sheet brings follows from its bytes and from what is stored (`warehouse.services.brought`).
"""

from __future__ import annotations

from collections.abc import Sequence

import duckdb

from schemas.tables.rounds import STOP_RESULTS
from warehouse.adapters import Decoding
from warehouse.inbox import Ledger
from warehouse.normalise import FileCounts
from warehouse.normalise.stops import new_stop_results, refused_stops, stop_items, with_stops
from warehouse.services.brought import store_brought
from warehouse.store import Store
from warehouse.store.scan import create_scan


def take_stops_in(
    store: Store,
    ledger: Ledger,
    decodings: Sequence[Decoding],
    session: duckdb.DuckDBPyConnection,
    counted: list[FileCounts],
) -> list[FileCounts]:
    """Store what normalised route sheets say of their stops; their counts with that.

    Where the mapping says nothing of stops, nothing is done.
    """
    mapping = decodings[0].of_readings
    if mapping.stop is None:
        return counted
    stop_items(mapping, session)
    create_scan(session, "stored_stops", STOP_RESULTS, store.table(STOP_RESULTS).files())
    refused, found = refused_stops(mapping, session), new_stop_results(mapping, session)
    application = f"{ledger.inbox_id}/stops"
    store_brought(store, session, application, STOP_RESULTS, found, refused)
    return with_stops(counted, session)


def try_stops(
    decoding: Decoding, session: duckdb.DuckDBPyConnection, found: FileCounts
) -> tuple[FileCounts, list[dict[str, object]]]:
    """Counts of a normalised sheet with its stops, and those refused; nothing is stored."""
    mapping = decoding.of_readings
    stop_items(mapping, session)
    (counts,) = with_stops([found], session)
    return counts, refused_stops(mapping, session).to_pylist()
