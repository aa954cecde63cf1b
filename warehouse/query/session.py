"""DuckDB sessions over one pinned state of the store."""

from __future__ import annotations

import datetime as dt
import re
import threading
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa

from schemas.tables import TABLES
from warehouse.access import EVERYBODY, Caller
from warehouse.errors import DiskFullError, LimitSetError, QueryError, StoreError
from warehouse.limits import PLANT_TABLES, load_limits
from warehouse.query.limited import create_limited, entities_seen
from warehouse.refusals import refusal
from warehouse.registry.stored import stored_entities
from warehouse.sql import identifier, load_sql
from warehouse.store import Snapshot, Store
from warehouse.views import create_views, shared_views, sql_files, views_below, views_naming
from warehouse.work.tables import load_work_rules
from warehouse.workspace import workspace


@contextmanager
def open_published(
    store: Store,
    snapshot: Snapshot,
    caller: Caller = EVERYBODY,
    asks: Iterable[str] | None = None,
) -> Iterator[duckdb.DuckDBPyConnection]:
    """A session over a published state: its readings, and its conditions as they were judged.

    A caller limited to sites has a session without the rows of others. With `asks`, the
    statements that will be asked, it has the views they name and opens faster. Raises
    LimitSetError where these need a plant's own limits and its files are faulty; without `asks`
    it has no view then that needs them.
    """
    named = _all_that_open(store) if asks is None else words(*asks)
    with _open_judged(store, snapshot, caller, named) as session:
        yield session


def _all_that_open(store: Store) -> set[str]:
    """Names of all views, without those that a faulty limit file keeps from being made."""
    names = {file.name for file in sql_files()}
    try:
        load_limits(store.limits)
    except LimitSetError:
        limited = views_naming(PLANT_TABLES)
        return {name for name in names if not limited & views_below({name}, _JUDGED)}
    return names


@contextmanager
def _open_judged(
    store: Store,
    snapshot: Snapshot,
    caller: Caller,
    named: Collection[str],
    variables: Mapping[str, Any] | None = None,
) -> Iterator[duckdb.DuckDBPyConnection]:
    """A session over a published state with the views named; other names say which tables."""
    views = views_below(named, _JUDGED)
    with open_base(store, snapshot.versions, snapshot.as_of, caller, {*named, *views}) as session:
        for name, value in (variables or {}).items():
            session.execute(f"SET VARIABLE {identifier(name)} = $value", {"value": value})
        _use_judged(session)
        create_views(session, views)
        yield session


@contextmanager
def open_relations(
    store: Store,
    snapshot: Snapshot,
    names: Collection[str],
    caller: Caller = EVERYBODY,
    variables: Mapping[str, Any] | None = None,
) -> Iterator[duckdb.DuckDBPyConnection]:
    """As `open_published`, with the views named and what they stand on only: it opens faster.

    A name that is no view is passed over. `variables` are those of the session
    that views ask for, such as `fleet_from`.
    """
    with _open_judged(store, snapshot, caller, names, variables) as session:
        work_out(session, " ".join(names))
        yield session


def _use_judged(session: duckdb.DuckDBPyConnection) -> None:
    for scope in ("asset", "member", "point"):
        session.execute(load_sql("warehouse.query", "judged_conditions", scope=scope))


_JUDGED = frozenset({"asset_conditions", "member_conditions", "point_conditions"})
"""Views that a published session has as judged rows: nothing below them is worked out."""


def words(*statements: str) -> set[str]:
    """The words of statements, among them the views they name; SQL knows no capitals in names."""
    return {word.lower() for statement in statements for word in re.findall(r"\w+", statement)}


def work_out(session: duckdb.DuckDBPyConnection, statement: str) -> None:
    """Work out, once each, the views that those named in a statement share.

    Left as views they would be worked out again wherever one of them is named.
    """
    for file in shared_views(words(statement), _JUDGED):
        session.execute(file.as_temporary_table)


def answers(
    session: duckdb.DuckDBPyConnection,
    statement: str,
    parameters: Mapping[str, Any] | None,
    seconds: float,
) -> list[dict[str, Any]]:
    """Rows of one statement, the views it stands on worked out before. Raises as `run` does."""
    work_out(session, statement)
    rows: list[dict[str, Any]] = run(session, statement, parameters, seconds).to_pylist()
    return rows


@contextmanager
def open_session(
    store: Store,
    versions: Mapping[str, int],
    as_of: dt.datetime,
    caller: Caller = EVERYBODY,
    asks: Iterable[str] | None = None,
    entities: dict[str, pa.Table] | None = None,
    limits: Mapping[str, pa.Table] | None = None,
) -> Iterator[duckdb.DuckDBPyConnection]:
    """A session over the tables at `versions`, with every view, as of the given moment (UTC).

    A table that `versions` does not name is read at its newest version. With `asks`, the
    statements that will be asked, it has the views they name only. `entities` and `limits` as in
    `open_base`.
    """
    with open_base(store, versions, as_of, caller, None, entities, limits) as session:
        create_views(session, None if asks is None else views_below(words(*asks), frozenset()))
        yield session


@contextmanager
def open_base(
    store: Store,
    versions: Mapping[str, int],
    as_of: dt.datetime,
    caller: Caller = EVERYBODY,
    named: Collection[str] | None = None,
    entities: dict[str, pa.Table] | None = None,
    limits: Mapping[str, pa.Table] | None = None,
) -> Iterator[duckdb.DuckDBPyConnection]:
    """A session with the tables, the registry's entities and the limits, and no view yet.

    `entities` of a registry and tables of `limits` stand in place of those of the store.

    Raises LimitSetError where a plant's own limits are faulty; with `named`, what will be asked,
    only where that names such limits, and the session is without them then.
    """
    with workspace(store.inbox, store.settings) as session:
        for table in TABLES.values():
            files = store.files(table, versions.get(table.name))
            create_limited(session, table, files, caller)
        for name, rows in {
            **entities_seen(entities or stored_entities(store, versions.get("registry")), caller),
            **(limits or _limits(store, named)),
            **load_work_rules(store.work),
        }.items():
            session.register(name, rows)
        session.execute("SET VARIABLE as_of = $as_of::TIMESTAMPTZ", {"as_of": as_of})
        yield session


def check_limits_for(store: Store, statement: str) -> None:
    """Raises LimitSetError where a statement needs a plant's own limits and these are faulty."""
    named = words(statement)
    _limits(store, {*named, *views_below(named, _JUDGED)})


def _limits(store: Store, named: Collection[str] | None) -> Mapping[str, pa.Table]:
    """Tables of limits. What was judged can still be read when a plant's file of them is faulty."""
    try:
        return load_limits(store.limits)
    except LimitSetError:
        if named is None or views_naming(PLANT_TABLES).intersection(named):
            raise
    return {name: rows for name, rows in load_limits().items() if name not in PLANT_TABLES}


def _fault_of_the_store(error: duckdb.Error) -> StoreError | None:
    """What the machine refuses, or a data file of the store: no fault of the query."""
    told = refusal(error, Path("query"))
    if isinstance(told, DiskFullError) or (told and _is_data_file(told.place)):
        return told
    return None


def _is_data_file(path: Path) -> bool:
    return path.suffix == ".parquet" and "tables" in path.parts


def run(
    session: duckdb.DuckDBPyConnection,
    statement: str,
    parameters: Mapping[str, Any] | None = None,
    seconds: float = 30.0,
) -> pa.Table:
    """The result of one statement. Raises QueryError where it is not valid or runs too long."""
    timer = threading.Timer(seconds, session.interrupt)
    timer.start()
    try:
        relation = session.sql(statement, params=dict(parameters or {}) or None)
        if relation is None:
            raise QueryError("the statement gives no rows; only queries are answered")
        return relation.to_arrow_table()
    except duckdb.InterruptException as error:
        raise QueryError(f"stopped after {seconds:g} s (setting query_seconds)") from error
    except duckdb.Error as error:
        raise _fault_of_the_store(error) or QueryError(str(error)) from error
    finally:
        timer.cancel()
