"""What was refused and is still open."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import duckdb
import pyarrow as pa

from schemas.tables.readings import READINGS, REJECTS
from schemas.tables.rounds import STOP_RESULTS
from warehouse.inbox import Ledger
from warehouse.inbox.upkeep import newest_ledger
from warehouse.query import run
from warehouse.services.judging import published
from warehouse.sql import load_sql, load_statements
from warehouse.store import Store
from warehouse.store.scan import create_scan
from warehouse.workspace import workspace

_SQL = load_statements("warehouse.services", "open_rejects")
_COUNTS = pa.schema([("package", pa.int64()), ("reason", pa.string()), ("items", pa.int64())])


@dataclass(frozen=True, slots=True)
class OpenRejects:
    """Groups (source, reason, items: complete) and the first rows with their raw text."""

    groups: list[dict[str, Any]]
    rows: list[dict[str, Any]]


def open_rejects(
    store: Store, shown: int, source: str | None = None, reason: str | None = None
) -> OpenRejects:
    """Refused items that nothing has settled since, of packages that still stand."""
    versions = published(store).versions
    with newest_ledger(store) as ledger:
        groups = [
            group
            for group in ledger.reject_counts()
            if source in (None, group["source"]) and reason in (None, group["reason"])
        ]
        with open_items(store, ledger, versions) as session:
            values = {"source": source, "reason": reason, "most": shown}
            rows = run(session, _SQL["few_of_each"], values)
    return OpenRejects(groups, rows.to_pylist())


def first_rejects(
    store: Store, ledger: Ledger, versions: Mapping[str, int], package: int | None,
    **chosen: Any,
) -> list[dict[str, Any]]:  # fmt: skip
    """The first open rows, of a package or of all; `chosen` has sources, reason and most."""
    with open_items(store, ledger, versions, package) as session:
        rows: list[dict[str, Any]] = run(session, _SQL["first"], chosen).to_pylist()
    return rows


@contextmanager
def open_items(
    store: Store, ledger: Ledger, versions: Mapping[str, int], package: int | None = None
) -> Iterator[duckdb.DuckDBPyConnection]:
    """A session with `open_items`: refused items of a published state that are open by now."""
    counts = pa.Table.from_pylist(ledger.open_counts(), _COUNTS)
    with workspace(store.inbox, store.settings) as session:
        for table in (REJECTS, READINGS, STOP_RESULTS):
            create_scan(session, table.name, table, store.files(table, versions.get(table.name)))
        session.register("open_counts", counts)
        session.execute(load_sql("warehouse.views", "rejects_newest"))
        session.execute(_SQL["open_items"], {"package": package})
        yield session
