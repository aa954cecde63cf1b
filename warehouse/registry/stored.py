"""The registry as a store holds it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from schemas.tables.registry import REGISTRY
from warehouse.registry.entities import current_entities
from warehouse.registry.placements import placements
from warehouse.store import Store


def registry_events(store: Store, version: int | None = None) -> pa.Table:
    """Every event of the registry at a version of its table (the newest if none is given)."""
    return _events([file.path for file in store.table(REGISTRY).files(version)])


def _events(files: Sequence[Path]) -> pa.Table:
    tables = [pq.read_table(path, schema=REGISTRY.arrow, partitioning=None) for path in files]
    return pa.concat_tables([REGISTRY.arrow.empty_table(), *tables])


def stored_entities(store: Store, version: int | None = None) -> dict[str, pa.Table]:
    """Entity tables of the store's registry, by name."""
    return current_entities(registry_events(store, version))


def stored_placements(store: Store) -> pa.Table:
    """Where each channel belongs by the newest registry; worked out once a version of it."""
    return _placements(*(file.path for file in store.table(REGISTRY).files()))


@lru_cache(maxsize=4)
def _placements(*files: Path) -> pa.Table:
    """By the files of a version: each is written once and never changed."""
    return placements(current_entities(_events(files)))
