"""The registry as a store holds it."""

from __future__ import annotations

import pyarrow as pa
import pyarrow.parquet as pq

from schemas.tables.registry import REGISTRY
from warehouse.registry.entities import current_entities
from warehouse.store import Store


def registry_events(store: Store, version: int | None = None) -> pa.Table:
    """Every event of the registry at a version of its table (the newest if none is given)."""
    files = store.table(REGISTRY).files(version)
    tables = [pq.read_table(file.path, schema=REGISTRY.arrow, partitioning=None) for file in files]
    return pa.concat_tables([REGISTRY.arrow.empty_table(), *tables])


def stored_entities(store: Store, version: int | None = None) -> dict[str, pa.Table]:
    """Entity tables of the store's registry, by name."""
    return current_entities(registry_events(store, version))
