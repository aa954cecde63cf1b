"""The fleet at a glance: the machines to look at first."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from warehouse.query import open_published, run
from warehouse.services.judging import published
from warehouse.sql import load_sql
from warehouse.store import Store


@dataclass(frozen=True, slots=True)
class Fleet:
    """Ranked machines, how many stand at each level, and as of when."""

    as_of: dt.datetime
    rows: list[dict[str, Any]]
    levels: dict[str, int]


def worst_assets(store: Store, number: int) -> Fleet:
    """The first `number` machines of the ranking `worst_machines`, with their evidence."""
    snapshot = published(store)
    ranked, counts = (
        load_sql("warehouse.services", name) for name in ("worst_assets", "level_counts")
    )
    with open_published(store, snapshot, asks=[ranked, counts]) as session:
        rows = run(session, ranked, {"number": number})
        levels = run(session, counts)
    counted = {row["level"]: row["assets"] for row in levels.to_pylist()}
    return Fleet(snapshot.as_of, rows.to_pylist(), counted)
