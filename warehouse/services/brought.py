"""What packages bring beside readings, stored: rows of a table, and items refused.

Nothing is recorded before it is made: rows that are stored are not stored again, so that a stop
anywhere is made good by taking the package in again.
"""

from __future__ import annotations

import duckdb
import pyarrow as pa

from schemas.columns import Table
from schemas.tables.readings import REJECTS
from warehouse.sql import load_sql
from warehouse.store import Store
from warehouse.store.scan import create_scan


def store_brought(
    store: Store,
    session: duckdb.DuckDBPyConnection,
    application: str,
    table: Table,
    rows: pa.Table,
    refused: pa.Table,
) -> None:
    """Append `rows` to `table`, behind those of the `refused` items that are not recorded yet."""
    create_scan(session, "known_rejects", REJECTS, store.table(REJECTS).files())
    session.register("found_rejects", refused)
    new = session.sql(load_sql("warehouse.normalise.sql", "new_rejects")).to_arrow_table()
    _append(store, REJECTS, new.cast(REJECTS.arrow), application)
    _append(store, table, rows, application)


def _append(store: Store, table: Table, rows: pa.Table, application: str) -> None:
    if rows.num_rows:
        log = store.table(table)
        log.append(lambda: [log.write(rows)], log.next_commit(application))
