"""What was told and done of an invented plant, row by row, for the fleet views."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from tests.warehouse.views.plant import AS_OF, Plant, Row, keep_as_tables


def told(
    plant: Plant, asset: str, *levels: tuple[float, str], scope: str = "asset", **more: Any
) -> Plant:
    """Levels of an asset or member, each since so many days before AS_OF, in the log."""
    before = None
    for days_ago, level in levels:
        when = AS_OF - timedelta(days=days_ago)
        plant.log.append(
            {
                "seq": len(plant.log) + 1, "scope": scope, "site": "s1", "asset": asset,
                "member": "pump" if scope == "member" else None, "level_from": before,
                "level_to": level, "zone_to": {"alert": "C", "danger": "D"}.get(level),
                "basis": "severity", "reason": "x", "judged_at": when,
            } | more
        )  # fmt: skip
        before = level
    return plant


def case(
    plant: Plant, number: int, opened: float, disposition: str | None = None,
    closed: float | None = None, asset: str = "P-101", member: str = "pump",
) -> Plant:  # fmt: skip
    """A case opened so many days before AS_OF, and closed with what it was, if it was."""
    events: list[tuple[float, str, str, str | None]] = [(opened, "opened", "new", None)]
    if disposition is not None:
        events.append((opened if closed is None else closed, "closed", "closed", disposition))
    for days_ago, kind, state, what in events:
        plant.case_events.append(
            {
                "seq": len(plant.case_events) + 1, "case_id": number, "site": "s1",
                "asset": asset, "member": member, "basis": "severity", "kind": kind,
                "happened_at": AS_OF - timedelta(days=days_ago), "state": state,
                "level": "alert", "worst_told": "alert", "disposition": what,
                "level_since": AS_OF - timedelta(days=opened),
                "opened_at": AS_OF - timedelta(days=opened), "cause": "change", "cause_id": "1",
                "through_change": 1, "through_action": 0, "recorded_at": AS_OF,
            }
        )  # fmt: skip
    return plant


def rows(plant: Plant, view: str, **wanted: Any) -> list[Row]:
    """Rows of a view that have these values, in the order of all their columns."""
    connection = plant.connect(AS_OF, view)
    keep_as_tables(connection, view)
    found = connection.sql(f"SELECT * FROM {view} ORDER BY ALL").to_arrow_table().to_pylist()
    return [row for row in found if all(row[name] == value for name, value in wanted.items())]


def one(plant: Plant, view: str, **wanted: Any) -> Row:
    """The one such row."""
    found = rows(plant, view, **wanted)
    assert len(found) == 1, f"{len(found)} rows of {view} for {wanted}"
    return found[0]
