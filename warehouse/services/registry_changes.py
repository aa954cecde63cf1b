"""Changing the registry: what an import would change, the import itself, and its after-effects."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa

from schemas.tables.registry import REGISTRY
from warehouse import clock
from warehouse.errors import StoreConflictError
from warehouse.inbox import Ledger
from warehouse.refusals import plain_refusals
from warehouse.registry import (
    Differences,
    Statements,
    compare,
    current_entities,
    export_entities,
    read_statements,
    to_events,
)
from warehouse.registry.entities import withdrawn_ids
from warehouse.registry.importing import Rows
from warehouse.registry.stored import registry_events, stored_entities
from warehouse.services.ingest import finish_begun, only_committer
from warehouse.services.limits import assigned_in_vain, limit_files_are_faulty
from warehouse.services.replacing import Replaced, foresee_replacing, replace_readings
from warehouse.store import Store
from warehouse.store.delta import Commit

_APPLICATION = "registry"
_FAULTY_FILES = "the plant's own limit files have faults: mcw limits --check lists them"
__all__ = [
    "Imported",
    "Replaced",
    "export_registry",
    "import_changes",
    "replace_readings",
    "restate",
]


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import stated and changed, or would change; `stated` counts rows by kind.

    `notes` say what stands, or would stand, and cannot be used: limit sets assigned in vain.
    """

    stated: dict[str, int]
    differences: Differences
    replaced: Replaced
    notes: list[str]

    @property
    def counts(self) -> dict[str, dict[str, int]]:
        """New, changed, unchanged and withdrawn entities by kind."""
        return {name: found.counts for name, found in self.differences.by_entity.items()}


def import_changes(
    store: Store, source: Path, dry_run: bool = False, based_on: int | None = None
) -> Imported:
    """Import a folder of CSVs or a workbook as one set of events; unchanged entities make none.

    Stored readings whose mounting or stop changed are placed anew. With
    `dry_run` nothing is recorded, and it is only found out what would be. Raises
    RegistryError with every fault; then nothing is imported either. Raises
    StoreConflictError where the registry is not at version `based_on` any more.
    """
    if dry_run:
        return _try_import(store, source, based_on)
    with only_committer(store), Ledger.open(store.inbox) as ledger:
        finish_begun(store, ledger)
        _check_version(store, based_on)
        known, statements = _read(store, source)
        differences = compare(statements, known)
        if differences.any:
            _record(store, differences)
        replaced = replace_readings(store, ledger)
    return Imported(statements.counts, differences, replaced, _notes(store, statements))


def _try_import(store: Store, source: Path, based_on: int | None) -> Imported:
    _check_version(store, based_on)
    known, statements = _read(store, source)
    differences = compare(statements, known)
    events = pa.concat_tables([registry_events(store), _events(store, differences)[1]])
    foreseen = current_entities(events)
    with Ledger.open(store.inbox) as ledger:
        replaced = foresee_replacing(store, ledger, foreseen)
    return Imported(statements.counts, differences, replaced, _notes(store, statements, foreseen))


def _check_version(store: Store, based_on: int | None) -> None:
    version = store.table(REGISTRY).version()
    if based_on not in (None, version):
        raise StoreConflictError(
            store.home, f"the registry is at version {version}, not {based_on}", "read it anew"
        )


def restate(store: Store, rows: Rows) -> Imported:
    """State entities of the registry as whole rows of it; stored readings are placed anew.

    The rows are taken as sound: they stand in the registry but for a column or two.
    """
    with only_committer(store), Ledger.open(store.inbox) as ledger:
        finish_begun(store, ledger)
        differences = compare(Statements(rows), current_entities(registry_events(store)))
        if differences.any:
            _record(store, differences)
        counts = differences.statements.counts
        return Imported(counts, differences, replace_readings(store, ledger), [])


def _read(store: Store, source: Path) -> tuple[dict[str, pa.Table], Statements]:
    events = registry_events(store)
    known = current_entities(events)
    return known, read_statements(source, known, withdrawn_ids(events))


def _notes(
    store: Store, statements: Statements, entities: dict[str, pa.Table] | None = None
) -> list[str]:
    """Told where limit sets were assigned: the import stands, and nothing judges there."""
    if not statements.counts.get("limit_assignments"):
        return []
    found = assigned_in_vain(store, entities)
    return [*found, _FAULTY_FILES] if limit_files_are_faulty(store) else found


def _record(store: Store, differences: Differences) -> None:
    log = store.table(REGISTRY)
    number, events = _events(store, differences)
    log.append(lambda: [log.write(events)], Commit(_APPLICATION, number))


def _events(store: Store, differences: Differences) -> tuple[int, pa.Table]:
    """The next set of events, and its number."""
    number = store.table(REGISTRY).next_commit(_APPLICATION).number
    found = differences.statements
    return number, to_events(found.rows, number, clock.now(), found.withdrawn)


def export_registry(store: Store, target: Path) -> dict[str, int]:
    """Write the registry as it stands to a folder of CSVs or a workbook; rows by kind.

    Raises StoreError where that may not be written.
    """
    with plain_refusals(target):
        return export_entities(stored_entities(store), target)
