"""A statement of the judge, asked beside relations that are there for it only."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import duckdb
import pyarrow as pa

from schemas.columns import Table
from schemas.tables.conditions import CONDITION_CURRENT
from warehouse.sql import identifier, load_statements

_COLUMNS = ", ".join(map(identifier, CONDITION_CURRENT.column_names))


def ask(
    connection: duckdb.DuckDBPyConnection,
    file: str,
    statement: str,
    table: Table,
    relations: Mapping[str, pa.Table],
    **values: Any,
) -> pa.Table:
    """The rows of a named statement of `file`.sql, in the columns of `table`.

    `@{columns}` there are those of `condition_current`. `relations` are registered
    meanwhile, `values` are bound. Raises duckdb.Error where the statement fails.
    """
    text = load_statements("warehouse.judging", file)[statement].replace("@{columns}", _COLUMNS)
    for name, rows in relations.items():
        connection.register(name, rows)
    try:
        found: pa.Table = connection.sql(text, params=values or None).to_arrow_table()
    finally:
        for name in relations:
            connection.unregister(name)
    return found.cast(table.arrow)
