"""Trying a mapping on bytes that were sent along; nothing is stored."""

from __future__ import annotations

from typing import Any

from warehouse.adapters import adapters
from warehouse.services.desk import Desk
from warehouse.services.ingest import Arrival, Trial, try_mapping
from warehouse.services.mappings import mapping_file


def try_on(desk: Desk, mapping: str, file: str, content: bytes) -> Trial:
    """What a mapping makes of a file. Raises MappingError, SourceError, AdapterError."""
    with desk.places.one() as store, mapping_file(store, mapping) as path:
        payload = path.parent / "payload" / file
        payload.parent.mkdir()
        payload.write_bytes(content)
        return try_mapping(store, Arrival(payload, path), called="the mapping")


def installed_adapters() -> tuple[list[dict[str, Any]], dict[str, str]]:
    """Adapters that are installed, and those that failed to load with the reason."""
    loaded, failed = adapters()
    rows = [
        {
            "name": name,
            "suffixes": list(one.suffixes),
            "description": (type(one).__doc__ or name).strip().partition("\n")[0],
        }
        for name, one in sorted(loaded.items())
    ]
    return rows, failed
