"""The judge's session: every machine worked out, or those that changed beside what was kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass

import duckdb
import pyarrow as pa
from deltalake.exceptions import DeltaError

from schemas.columns import Table
from schemas.tables.readings import READINGS, SUPERSEDED
from schemas.tables.registry import REGISTRY
from schemas.tables.rounds import STOP_RESULTS
from schemas.tables.work import CASE_ACTIONS, MAINTENANCE_EVENTS
from warehouse.errors import StoreError
from warehouse.judging import KeptJudgement, Machine, attach_kept, fingerprint, keep, work_out
from warehouse.limits import load_limits
from warehouse.query import open_base
from warehouse.registry.stored import stored_entities
from warehouse.sql import load_statements
from warehouse.store import Store
from warehouse.store.delta import DataFile
from warehouse.store.history import added_since
from warehouse.store.scan import create_scan
from warehouse.views import prepare
from warehouse.work.tables import load_work_rules

JUDGED = (READINGS, SUPERSEDED, REGISTRY, MAINTENANCE_EVENTS, CASE_ACTIONS, STOP_RESULTS)
"""Tables that conditions and cases follow from."""

_SQL = load_statements("warehouse.services", "due")
_ADDED = {
    "readings_added": READINGS,
    "superseded_added": SUPERSEDED,
    "maintenance_added": MAINTENANCE_EVENTS,
}
_MOST = 0.5
"""Share of the readings above which everything is judged anew: it is no longer slower."""


def judged_versions(store: Store) -> dict[str, int]:
    """The newest version of each table that conditions and cases follow from."""
    return {table.name: store.table(table).version() for table in JUDGED}


@dataclass(slots=True)
class JudgingSession:
    """A session with the working tables of a judgement, and how to keep them."""

    connection: duckdb.DuckDBPyConnection
    store: Store
    as_of: dt.datetime
    versions: Mapping[str, int]
    made_with: str | None
    """Fingerprint of what it was made with; None where the store is too small to keep it."""
    due: int | None
    """Machines worked out anew; None where it was every one."""

    def keep(self) -> None:
        """Keep what was worked out for the next judgement, where the store is large enough.

        Where the machine refuses to, that one works everything out: no judgement fails for it.
        """
        if self.made_with is not None:
            with suppress(OSError, duckdb.Error):
                keep(self.connection, self.store.kept, self.made_with, self.as_of, self.versions)


@contextmanager
def open_judging(
    store: Store, versions: Mapping[str, int], as_of: dt.datetime, anew: bool = False
) -> Iterator[JudgingSession]:
    """A session over the tables at `versions` with the judge's working tables as of `as_of` (UTC).

    Only machines that changed since the judgement kept are worked out, with `anew` every one.
    """
    with open_base(store, versions, as_of) as connection:
        prepare(connection)
        made_with, due = _made_with(store, versions), None
        if made_with is not None and not anew:
            due = _work_out_due(connection, store, made_with, versions, as_of)
        if due is None:
            work_out(connection)
        yield JudgingSession(connection, store, as_of, versions, made_with, due)


@contextmanager
def open_machines(
    store: Store,
    versions: Mapping[str, int],
    as_of: dt.datetime,
    machines: Iterable[Machine] | None,
    asked: Collection[str],
) -> Iterator[duckdb.DuckDBPyConnection]:
    """A session with the views asked for, worked out of these machines (site and asset).

    It stands on what the judge kept of all others, where that is of this very state; else,
    and without `machines`, everything is worked out.
    """
    with open_base(store, versions, as_of) as connection:
        prepare(connection)
        views = frozenset(asked)
        beside_kept = (
            machines is not None
            and _of_this_state(connection, store, versions, as_of)
            and _restricted(connection, machines)
            and not work_out(connection, True, views)
        )
        if not beside_kept:
            connection.execute(_SQL["of_all"])
            work_out(connection, asked=views)
        yield connection


def _of_this_state(
    connection: duckdb.DuckDBPyConnection,
    store: Store,
    versions: Mapping[str, int],
    as_of: dt.datetime,
) -> bool:
    """Attach what is kept; whether it is of these versions and this moment."""
    made_with = _made_with(store, versions)
    kept = attach_kept(connection, store.kept, made_with) if made_with else None
    return (
        kept is not None
        and kept.as_of == as_of
        and all(versions.get(name) == version for name, version in kept.versions.items())
    )


def _made_with(store: Store, versions: Mapping[str, int]) -> str | None:
    """What a judgement of the store is made with; None where it has too few readings to keep it."""
    readings = sum(file.rows for file in store.files(READINGS, versions.get(READINGS.name)))
    if readings < store.settings.judge_whole_below:
        return None
    return fingerprint({**load_limits(store.limits), **load_work_rules(store.work)})


def _work_out_due(
    connection: duckdb.DuckDBPyConnection,
    store: Store,
    made_with: str,
    versions: Mapping[str, int],
    as_of: dt.datetime,
) -> int | None:
    """Work out what changed; the number of machines, or None where everything is to be judged."""
    kept = attach_kept(connection, store.kept, made_with)
    due = _machines_due(connection, store, kept, versions, as_of) if kept else None
    while due is not None and _restricted(connection, due):
        more = work_out(connection, beside_kept=True)
        if not more:
            return len(due)
        due |= set(more)
    connection.execute(_SQL["of_all"])
    return None


def _restricted(connection: duckdb.DuckDBPyConnection, due: Iterable[Machine]) -> bool:
    """Leave the readings of what is due; False, and all of them, where that is too many."""
    connection.execute(_SQL["of_all"])
    listed = sorted(due)
    columns = {"site": [one for one, _ in listed], "asset": [one for _, one in listed]}
    connection.register("machines_due", pa.table(columns, _MACHINES))
    (share,) = connection.execute(_SQL["share"]).fetchall()[0]
    if share <= _MOST:
        connection.execute(_SQL["of_due"])
    return bool(share <= _MOST)


_MACHINES = pa.schema([("site", pa.string()), ("asset", pa.string())])


def _machines_due(
    connection: duckdb.DuckDBPyConnection,
    store: Store,
    kept: KeptJudgement,
    versions: Mapping[str, int],
    as_of: dt.datetime,
) -> set[Machine] | None:
    """What changed since; None where that cannot be told machine by machine."""
    if as_of < kept.as_of or any(kept.versions[name] > versions[name] for name in versions):
        return None
    by_registry = _of_registry(connection, store, kept.versions, versions)
    if by_registry is None:
        return None
    for name, table in _ADDED.items():
        if not _create_added(connection, store, name, table, kept.versions, versions):
            return None
    found = connection.execute(_SQL["by_data"], {"before": kept.as_of}).fetchall()
    return by_registry | set(found)


def _of_registry(
    connection: duckdb.DuckDBPyConnection,
    store: Store,
    before: Mapping[str, int],
    now: Mapping[str, int],
) -> set[Machine] | None:
    """Machines of which the registry says something else; None where more than machines did."""
    name = REGISTRY.name
    if before[name] == now[name]:
        return set()
    try:
        old = stored_entities(store, before[name])
    except (StoreError, DeltaError, OSError):  # its files are past their retention
        return None
    found: set[Machine] = set()
    for entity, rows in stored_entities(store, now[name]).items():
        if rows.equals(old[entity]):
            continue
        if not {"site", "asset"} <= set(rows.column_names):
            return None
        connection.register("entity_before", old[entity])
        connection.register("entity_now", rows)
        found |= set(connection.execute(_SQL["by_registry"]).fetchall())
    return found


def _create_added(
    connection: duckdb.DuckDBPyConnection,
    store: Store,
    name: str,
    table: Table,
    before: Mapping[str, int],
    now: Mapping[str, int],
) -> bool:
    """Create the relation of rows that a table has since; whether that can be told.

    Of `superseded` they are also those that it has no more: a withdrawal taken back.
    """
    old, new = before[table.name], now[table.name]
    added = added_since(store.table(table).root, old, new)
    if added is not None:
        create_scan(connection, name, table, [DataFile(path, 0, None, None) for path in added])
        return True
    if table is not SUPERSEDED:
        return False
    with suppress(StoreError, DeltaError):  # what was before is past its retention
        create_scan(connection, "superseded_before", table, store.files(table, old))
        connection.execute(_SQL["superseded_otherwise"])
        return True
    return False
