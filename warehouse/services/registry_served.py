"""The registry as a caller of the server reads and changes it."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from typing import Any

import pyarrow as pa

from schemas.tables.registry import ENTITIES, REGISTRY
from warehouse.errors import NotFoundError, RegistryError
from warehouse.query.limited import entities_seen
from warehouse.registry.importing import WITHDRAW
from warehouse.registry.stored import stored_entities
from warehouse.services.desk import Desk
from warehouse.services.locks import holding
from warehouse.services.registry_changes import Imported, import_changes
from warehouse.workspace import own_folder


def registry_of(desk: Desk) -> tuple[int, dict[str, pa.Table]]:
    """The version of the newest registry, and the entities the caller may see, by kind."""
    with desk.places.one() as store:
        version = store.table(REGISTRY).version()
        return version, entities_seen(stored_entities(store, version), desk.caller)


def entity_of(desk: Desk, kind: str) -> tuple[int, pa.Table]:
    """The version of the newest registry, and the entities of one kind. Raises NotFoundError."""
    if kind not in ENTITIES:
        raise NotFoundError("kind of entity", kind)
    version, entities = registry_of(desk)
    return version, entities[kind]


def change_registry(
    desk: Desk, rows: Mapping[str, Sequence[Mapping[str, Any]]], based_on: int, dry_run: bool
) -> tuple[int, Imported]:
    """State entities, as an import of CSV files does; the version afterwards and what changed.

    Raises RegistryError with every fault, StoreConflictError where the registry
    is at another version, BusyError while another program commits.
    """
    unknown = sorted(rows.keys() - ENTITIES.keys())
    if unknown:
        raise RegistryError(
            [f"{kind}: is no kind of thing; allowed: {', '.join(ENTITIES)}" for kind in unknown]
        )
    with desk.places.one() as store, own_folder(store.inbox) as folder:
        sheets = folder / "sheets"
        sheets.mkdir()
        for kind, stated in rows.items():
            columns = [*ENTITIES[kind].column_names, WITHDRAW]
            strange = {name for row in stated for name in row} - set(columns)
            with (sheets / f"{kind}.csv").open("w", encoding="utf-8", newline="") as file:
                used = [n for n in columns if any(row.get(n) is not None for row in stated)]
                sheet = csv.DictWriter(file, [*used, *sorted(strange)])
                sheet.writeheader()
                sheet.writerows({n: _cell(v) for n, v in row.items() if n in used or n in strange}
                                for row in stated)  # fmt: skip
        why, remedy = "packages are being committed", "ask again in a few seconds"
        with holding(store, "registry", why, remedy, wait=False):
            done = import_changes(store, sheets, dry_run, based_on)
        return store.table(REGISTRY).version(), done


def _cell(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return "" if value is None else str(value)
