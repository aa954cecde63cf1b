"""Importing into a store's registry."""

from __future__ import annotations

from pathlib import Path

from warehouse.services.registry_changes import import_changes
from warehouse.store import Store


def import_registry(store: Store, folder: Path) -> dict[str, int]:
    """Import a folder of CSVs, or a workbook, as one set of events; returns rows by entity.

    Raises RegistryError with every fault; then nothing is imported.
    """
    return import_changes(store, folder).stated
