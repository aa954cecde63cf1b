"""Stop results of route sheets into the dataset, before the readings of the same packages.

Nothing is recorded before it is made: what a sheet brings follows from its bytes and from what is
stored, and rows of it that are stored are not stored again. So a stop anywhere is made good by
taking the package in again.
"""

from __future__ import annotations

from collections.abc import Sequence

import duckdb
import pyarrow as pa

from schemas.columns import Table
from schemas.tables.readings import REJECTS
from schemas.tables.rounds import STOP_RESULTS
from warehouse.adapters import Decoding
from warehouse.inbox import Ledger
from warehouse.normalise import FileCounts
from warehouse.normalise.stops import new_stop_results, refused_stops, stop_items, with_stops
from warehouse.sql import load_sql
from warehouse.store import Store
from warehouse.store.delta import Commit
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
    for name, table in (("stored_stops", STOP_RESULTS), ("known_rejects", REJECTS)):
        create_scan(session, name, table, store.table(table).files())
    session.register("found_rejects", refused_stops(mapping, session))
    refused = session.sql(load_sql("warehouse.normalise.sql", "new_rejects")).to_arrow_table()
    _append(store, REJECTS, refused.cast(REJECTS.arrow), ledger.inbox_id)
    _append(store, STOP_RESULTS, new_stop_results(mapping, session), ledger.inbox_id)
    return with_stops(counted, session)


def try_stops(
    decoding: Decoding, session: duckdb.DuckDBPyConnection, found: FileCounts
) -> tuple[FileCounts, list[dict[str, object]]]:
    """Counts of a normalised sheet with its stops, and those refused; nothing is stored."""
    mapping = decoding.of_readings
    stop_items(mapping, session)
    (counts,) = with_stops([found], session)
    return counts, refused_stops(mapping, session).to_pylist()


def _append(store: Store, table: Table, rows: pa.Table, inbox_id: str) -> None:
    if rows.num_rows:
        log = store.table(table)
        application = f"{inbox_id}/stops"
        commit = Commit(application, max(log.committed(application), 0) + 1)
        log.append(lambda: [log.write(rows)], commit)
