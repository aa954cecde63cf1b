"""What was refused and is still open."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from warehouse.inbox.upkeep import newest_ledger
from warehouse.query import open_published, run
from warehouse.services.judging import published
from warehouse.sql import load_sql
from warehouse.store import Store


@dataclass(frozen=True, slots=True)
class OpenRejects:
    """Groups (source, reason, items: complete) and the first rows with their raw text."""

    groups: list[dict[str, Any]]
    rows: list[dict[str, Any]]


def open_rejects(
    store: Store, shown: int, source: str | None = None, reason: str | None = None
) -> OpenRejects:
    """Refused items that nothing has settled since, of packages that still stand."""
    with newest_ledger(store) as ledger:
        counted, closed = ledger.reject_counts(), ledger.closed_packages()
    groups = [
        group
        for group in counted
        if source in (None, group["source"]) and reason in (None, group["reason"])
    ]
    snapshot = published(store)
    statement = load_sql("warehouse.services", "open_rejects")
    with open_published(store, snapshot, asks=[statement]) as session:
        rows = run(
            session,
            statement,
            {"shown": shown, "closed": closed, "source": source, "reason": reason},
        )
    return OpenRejects(groups, rows.to_pylist())
