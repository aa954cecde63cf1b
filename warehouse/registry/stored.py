"""The registry as a store holds it."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pyarrow as pa

from schemas.tables.registry import REGISTRY
from warehouse.registry.entities import current_entities
from warehouse.registry.placements import placements
from warehouse.store import Store
from warehouse.store.files import read_rows


def registry_events(store: Store, version: int | None = None) -> pa.Table:
    """Every event of the registry at a version of its table (the newest if none is given)."""
    return read_rows(REGISTRY, (file.path for file in store.table(REGISTRY).files(version)))


def stored_entities(store: Store, version: int | None = None) -> dict[str, pa.Table]:
    """Entity tables of the store's registry, by name; worked out once a version of it."""
    return dict(_entities(*(file.path for file in store.table(REGISTRY).files(version))))


def stored_placements(store: Store) -> pa.Table:
    """Where each channel belongs by the newest registry; worked out once a version of it."""
    return _placements(*(file.path for file in store.table(REGISTRY).files()))


@lru_cache(maxsize=4)
def _entities(*files: Path) -> dict[str, pa.Table]:
    """By the files of a version: each is written once and never changed."""
    return current_entities(read_rows(REGISTRY, files))


@lru_cache(maxsize=4)
def _placements(*files: Path) -> pa.Table:
    return placements(_entities(*files))
