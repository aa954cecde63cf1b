"""What statements would change in a registry: entities new, changed, unchanged, withdrawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pyarrow as pa

from schemas.columns import Table
from schemas.tables.registry import ENTITIES
from warehouse.registry.importing import Statements, entity_id


@dataclass(frozen=True, slots=True)
class Change:
    """An entity that is stated otherwise than it stands: its columns, before and after."""

    id: str
    fields: dict[str, tuple[Any, Any]]


@dataclass(frozen=True, slots=True)
class EntityDifferences:
    """What statements would change among the entities of one kind, by their keys."""

    new: list[str]
    changed: list[Change]
    unchanged: int
    withdrawn: list[str]

    @property
    def counts(self) -> dict[str, int]:
        """How many of each there are."""
        return {
            "new": len(self.new),
            "changed": len(self.changed),
            "unchanged": self.unchanged,
            "withdrawn": len(self.withdrawn),
        }


@dataclass(frozen=True, slots=True)
class Differences:
    """The statements that change something, and what they change by kind of entity."""

    statements: Statements
    by_entity: dict[str, EntityDifferences]

    @property
    def any(self) -> bool:
        """Whether an import would change the registry at all."""
        found = (*self.statements.rows.values(), *self.statements.withdrawn.values())
        return any(found)


def compare(statements: Statements, known: dict[str, pa.Table]) -> Differences:
    """Statements against the registry as it stands; what says nothing new is left out."""
    rows: dict[str, list[dict[str, Any]]] = {}
    by_entity: dict[str, EntityDifferences] = {}
    for name, stated in statements.rows.items():
        table = ENTITIES[name]
        withdrawn = [entity_id(table, row) for row in statements.withdrawn.get(name, [])]
        stored = _by_key(known[name], table.key) if stated else {}
        found = EntityDifferences([], [], 0, withdrawn)
        rows[name] = [row for row in stated if _tell(row, stored, table, found)]
        unchanged = len(stated) - len(rows[name]) + statements.gone_before.get(name, 0)
        by_entity[name] = EntityDifferences(found.new, found.changed, unchanged, withdrawn)
    return Differences(Statements(rows, statements.withdrawn), by_entity)


def _tell(
    row: dict[str, Any],
    stored: dict[tuple[Any, ...], tuple[Any, ...]],
    table: Table,
    found: EntityDifferences,
) -> bool:
    """Add what a row changes to what was found; whether it changes anything."""
    before = stored.get(tuple(row[column] for column in table.key))
    if before is None:
        found.new.append(entity_id(table, row))
        return True
    pairs = zip(table.column_names, before, strict=True)
    fields = {name: (was, row[name]) for name, was in pairs if was != row[name]}
    if fields:
        found.changed.append(Change(entity_id(table, row), fields))
    return bool(fields)


def _by_key(table: pa.Table, key: tuple[str, ...]) -> dict[tuple[Any, ...], tuple[Any, ...]]:
    names = table.column_names
    places = [names.index(column) for column in key]
    columns = [table.column(name).to_pylist() for name in names]
    return {tuple(row[p] for p in places): row for row in zip(*columns, strict=True)}
