"""What packages see of the registry: all of it, or what is of the sites they may touch.

Whatever looks a machine, a mounting or a stop up looks here, so that one of another site is refused
as one that is not registered is: by the same reason, in the same words.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import duckdb
import pyarrow as pa

from warehouse.adapters import Decoding
from warehouse.sql import load_sql

_SQL = "warehouse.normalise.sql"


def seen_places(
    decodings: Sequence[Decoding], placements: pa.Table, session: duckdb.DuckDBPyConnection
) -> pa.Table:
    """The placements that packages of readings see; they share one mapping and limit."""
    stop = decodings[0].of_readings.stop
    route = stop.route if stop else None
    values = {"sites": own_sites(decodings), "route": route}
    if values == {"sites": None, "route": None}:
        return placements
    return _seen("every_place", "seen_places", placements, values, session)


def seen_machines(
    decodings: Sequence[Decoding], machines: pa.Table, session: duckdb.DuckDBPyConnection
) -> pa.Table:
    """The rows of a table of machines that packages of events see; they share one limit."""
    values = {"sites": own_sites(decodings)}
    if values["sites"] is None:
        return machines
    return _seen("every_machine", "seen_machines", machines, values, session)


def own_sites(decodings: Sequence[Decoding]) -> list[str] | None:
    """Sites they may touch. Raises ValueError where they do not share one limit."""
    limit, *others = {decoding.sites for decoding in decodings}
    if others:
        raise ValueError("packages of several limits cannot be taken in together")
    return None if limit is None else sorted(limit)


def _seen(
    name: str,
    statement: str,
    table: pa.Table,
    values: dict[str, Any],
    session: duckdb.DuckDBPyConnection,
) -> pa.Table:
    session.register(name, table)
    found = session.sql(load_sql(_SQL, statement), params=values).to_arrow_table()
    session.unregister(name)
    return found.cast(table.schema)
