"""What statements would change in a registry: entities new, changed, unchanged, withdrawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pyarrow as pa

from schemas.tables.registry import ENTITIES
from warehouse.registry.importing import Statements, entity_id

_KINDS = ("new", "changed", "unchanged", "withdrawn")


@dataclass(frozen=True, slots=True)
class Differences:
    """The statements that change something, and how many of each kind there were."""

    statements: Statements
    counts: dict[str, dict[str, int]]
    changed_ids: dict[str, list[str]]

    @property
    def any(self) -> bool:
        """Whether an import would change the registry at all."""
        found = (*self.statements.rows.values(), *self.statements.withdrawn.values())
        return any(found)


def compare(statements: Statements, known: dict[str, pa.Table]) -> Differences:
    """Statements against the registry as it stands; what says nothing new is left out."""
    counts: dict[str, dict[str, int]] = {}
    rows: dict[str, list[dict[str, Any]]] = {}
    changed_ids: dict[str, list[str]] = {}
    for name, stated in statements.rows.items():
        table = ENTITIES[name]
        stored = _by_key(known[name], table.key) if stated else {}
        fates: dict[str, int] = dict.fromkeys(_KINDS, 0)
        fates["unchanged"] = statements.gone_before.get(name, 0)
        rows[name] = []
        changed_ids[name] = []
        for row in stated:
            before = stored.get(tuple(row[column] for column in table.key))
            after = tuple(row[column] for column in table.column_names)
            fate = "new" if before is None else "unchanged" if before == after else "changed"
            fates[fate] += 1
            if fate != "unchanged":
                rows[name].append(row)
            if fate == "changed":
                changed_ids[name].append(entity_id(table, row))
        fates["withdrawn"] = len(statements.withdrawn.get(name, []))
        counts[name] = fates
    return Differences(Statements(rows, statements.withdrawn), counts, changed_ids)


def _by_key(table: pa.Table, key: tuple[str, ...]) -> dict[tuple[Any, ...], tuple[Any, ...]]:
    names = table.column_names
    places = [names.index(column) for column in key]
    columns = [table.column(name).to_pylist() for name in names]
    return {tuple(row[p] for p in places): row for row in zip(*columns, strict=True)}
