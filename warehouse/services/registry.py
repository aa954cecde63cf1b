"""Importing into a store's registry."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from schemas.tables.registry import REGISTRY
from warehouse.registry import read_folder, to_events
from warehouse.registry.stored import stored_entities
from warehouse.store import Store
from warehouse.store.delta import Commit

_APPLICATION = "registry"


def import_registry(store: Store, folder: Path) -> dict[str, int]:
    """Import every entity CSV of a folder as one set of events; returns rows by entity.

    Raises RegistryError with every fault; then nothing is imported.
    """
    rows = read_folder(folder, stored_entities(store))
    log = store.table(REGISTRY)
    number = max(log.committed(_APPLICATION), 0) + 1
    events = to_events(rows, number, dt.datetime.now(dt.UTC))
    log.append(lambda: [log.write(events)], Commit(_APPLICATION, number))
    return {name: len(found) for name, found in rows.items()}
