"""Data files as a relation of DuckDB, by column name and explicit type.

A column a file lacks is null, whichever file comes first; no file is opened to
find out what the columns are.
"""

from __future__ import annotations

from collections.abc import Sequence

import duckdb

from schemas.columns import Table
from warehouse.sql import load_sql
from warehouse.store.delta import DataFile


def create_scan(
    session: duckdb.DuckDBPyConnection, name: str, table: Table, files: Sequence[DataFile]
) -> None:
    """Create view `name` over the data files of `table`; without files it is empty."""
    if not files:
        columns = ", ".join(
            f'NULL::{column.sql_type} AS "{column.name}"' for column in table.columns
        )
        session.execute(load_sql("warehouse.store", "empty_scan", name=name, columns=columns))
        return
    columns = ", ".join(
        f"'{column.name}': {{name: '{column.name}', type: '{column.sql_type}', "
        "default_value: NULL}"
        for column in table.columns
    )
    listed = [str(file.path) for file in files]
    session.execute(f"SET VARIABLE {name}_files = $files::VARCHAR[]", {"files": listed})
    session.execute(load_sql("warehouse.store", "scan", name=name, columns=columns))
