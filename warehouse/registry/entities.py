"""The current view of the registry: one typed table an entity."""

from __future__ import annotations

import json

import duckdb
import pyarrow as pa

from schemas.tables.registry import ENTITIES
from warehouse.sql import load_sql


def current_entities(events: pa.Table) -> dict[str, pa.Table]:
    """Entity tables by name from the events of table `registry`.

    The last recorded event of an entity and id counts; a null body withdraws it.
    """
    with duckdb.connect() as session:
        session.execute("SET TimeZone = 'UTC'")
        session.register("events", events)
        found = {}
        for name, table in ENTITIES.items():
            structure = {column.name: column.sql_type for column in table.columns}
            order = ", ".join(f'"{key}"' for key in table.key)
            statement = load_sql("warehouse.registry", "current", order=order)
            parameters = {"entity": name, "structure": json.dumps(structure)}
            rows = session.sql(statement, params=parameters).to_arrow_table()
            found[name] = rows.cast(table.arrow)
    return found


def withdrawn_ids(events: pa.Table) -> set[tuple[str, str]]:
    """Kind and id of the entities that were taken back and do not stand again."""
    with duckdb.connect() as session:
        session.register("events", events)
        return set(session.execute(load_sql("warehouse.registry", "withdrawn")).fetchall())


def empty_entities() -> dict[str, pa.Table]:
    """Entity tables of a plant nobody has described yet."""
    return {name: table.arrow.empty_table() for name, table in ENTITIES.items()}
