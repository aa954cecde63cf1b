"""From the registry to the one question normalising asks: where does this channel belong, when?"""

from __future__ import annotations

import duckdb
import pyarrow as pa

from warehouse.sql import load_sql

PLACEMENTS_SCHEMA = pa.schema(
    [
        ("place_rule", pa.string()),
        ("scope", pa.string()),
        ("name", pa.string()),
        ("site", pa.string()),
        ("asset", pa.string()),
        ("position", pa.string()),
        ("axis", pa.string()),
        ("valid_from", pa.timestamp("us")),
        ("valid_to", pa.timestamp("us")),
        ("provisional", pa.bool_()),
    ]
)
"""`place_rule` is `mounting` (scope: device, name: channel), `stop` (route, stop) or `point`
(site/asset, position). Times are UTC, half open."""


def placements(entities: dict[str, pa.Table]) -> pa.Table:
    """Placements from the registry's entity tables `mountings`, `routes` and `points`."""
    with duckdb.connect() as session:
        session.execute("SET TimeZone = 'UTC'")
        for name in ("mountings", "routes", "points"):
            session.register(name, entities[name])
        found = session.sql(load_sql("warehouse.registry", "placements")).to_arrow_table()
    return found.cast(PLACEMENTS_SCHEMA)
