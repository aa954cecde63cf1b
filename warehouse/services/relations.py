"""Every published table and view, by name, filtered; the same for everyone who asks over HTTP.

Names are looked up in closed lists, values are bound: no text of a caller
becomes SQL.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any, Final

import duckdb
import pyarrow as pa

from schemas.tables import TABLES
from schemas.tables.registry import ENTITIES
from warehouse.errors import NotFoundError, QueryError
from warehouse.query import open_relations
from warehouse.query.session import run
from warehouse.services.desk import Desk
from warehouse.services.exporting import described_by
from warehouse.services.fleet_views import Selection, kinds_selected
from warehouse.services.serving import State
from warehouse.sql import identifier, load_statements
from warehouse.views import sql_files

_SQL: Final = load_statements("warehouse.services", "relations")
_NEEDS: Final = {"zone": ("zone",), "level": ("level",), "site": ("site",), "asset": ("asset",)}
_OF_ASSETS: Final = ("site", "asset")
_LARGE_BYTES: Final = 20_000_000
MOST_ROWS: Final = 1_000_000
"""Rows of one table over HTTP; readings have a route of their own that streams."""


@dataclass(frozen=True, slots=True)
class Relation:
    """A table or view that may be asked for."""

    name: str
    kind: str
    purpose: str


@dataclass(frozen=True, slots=True)
class Asked:
    """What is wanted of a relation: allowed values by filter, a window, some columns."""

    filters: Mapping[str, Sequence[str]] = field(default_factory=dict)
    since: dt.datetime | None = None
    until: dt.datetime | None = None
    time: str | None = None
    columns: Sequence[str] = ()


@cache
def relations() -> dict[str, Relation]:
    """Everything that may be asked for, by name."""
    found = [Relation(one.name, "table", one.purpose) for one in TABLES.values()]
    found += [Relation(one.name, "entity", one.purpose) for one in ENTITIES.values()]
    found += [Relation(one.name, "view", one.purpose) for one in sql_files() if one.kind == "VIEW"]
    return {one.name: one for one in sorted(found, key=lambda one: one.name)}


def relation(name: str) -> Relation:
    """The table or view of that name. Raises NotFoundError."""
    if name not in relations():
        raise NotFoundError("table or view", name)
    return relations()[name]


def rows_of(desk: Desk, state: State, name: str, asked: Asked) -> pa.Table:
    """As `read_rows_of`; a table that is not large is remembered for its next pages."""
    about = (state.snapshot.seq, desk.caller.sites, desk.caller.sources, name, repr(asked))
    rows: pa.Table = desk.places.tables.look(about)
    if rows is None:
        rows = read_rows_of(desk, state, name, asked)
        if rows.nbytes < _LARGE_BYTES:
            desk.places.tables.keep(about, rows)
    return rows


def read_rows_of(desk: Desk, state: State, name: str, asked: Asked) -> pa.Table:
    """Rows of a relation as of a published state, in an order that is always the same.

    Raises NotFoundError for an unknown name, QueryError for a filter the relation
    has no column for, for too many rows, or where it takes too long.
    """
    found = relation(name)
    selection, asked = _selected(found.name, asked)
    with (
        desk.places.one() as store,
        open_relations(
            store, state.snapshot, {found.name}, desk.caller, selection.variables()
        ) as session,
    ):
        columns = _columns(session, name)
        statement, values = _statement(name, columns, asked)
        rows = run(session, statement, values, store.settings.query_seconds)
    if rows.num_rows > MOST_ROWS:
        raise QueryError(
            f"{name} has {rows.num_rows:,} such rows; at most {MOST_ROWS:,} are given: filter by "
            "site, asset or window"
        )
    return _described(name, rows)


def _selected(name: str, asked: Asked) -> tuple[Selection, Asked]:
    """What a fleet view counts in itself, and what is left to be filtered of its rows.

    A share or a rank is one of the machines and the window asked for, not a part of all.
    """
    kinds = kinds_selected(name)
    filters = {one: tuple(values) for one, values in asked.filters.items()}
    chosen = {one: filters.pop(one) for one in ("site", "class", "criticality")
              if one in kinds and one in filters}  # fmt: skip
    window = "window" in kinds and asked.time is None
    selection = Selection(
        sites=chosen.get("site", ()),
        classes=chosen.get("class", ()),
        criticalities=chosen.get("criticality", ()),
        since=asked.since if window else None,
        until=asked.until if window else None,
    )
    left = replace(asked, filters=filters)
    return selection, replace(left, since=None, until=None) if window else left


def _columns(session: duckdb.DuckDBPyConnection, name: str) -> dict[str, str]:
    """Columns of a relation with their SQL types."""
    found = session.table(name)
    return dict(zip(found.columns, (str(one) for one in found.types), strict=True))


def _statement(name: str, columns: Mapping[str, str], asked: Asked) -> tuple[str, dict[str, Any]]:
    wrong = [one for one in asked.columns if one not in columns]
    if wrong:
        raise QueryError(f"{name} has no column {', '.join(wrong)}; it has: {', '.join(columns)}")
    conditions, values = [], dict[str, Any]()
    for filter_name, allowed in asked.filters.items():
        needed = _NEEDS.get(filter_name, _OF_ASSETS)
        if not set(needed) <= columns.keys():
            raise QueryError(f"{name} cannot be filtered by {filter_name}: it has no such column")
        conditions.append(_SQL[filter_name])
        values[filter_name] = list(allowed)
    for bound, moment in (("from", asked.since), ("to", asked.until)):
        if moment is not None:
            column = identifier(_time_column(name, columns, asked.time))
            conditions.append(_SQL[bound].replace("@{time}", column))
            values[bound] = moment
    text = _SQL["rows"].replace("@{columns}", ", ".join(map(identifier, asked.columns)) or "*")
    text = text.replace("@{name}", identifier(name)).replace("@{conditions}", "\n".join(conditions))
    return f"{text} LIMIT {MOST_ROWS + 1}", values


def _time_column(name: str, columns: Mapping[str, str], wanted: str | None) -> str:
    """The column a window is of: the one named, else the first that holds a time or day."""
    times = [n for n, kind in columns.items() if kind.startswith(("TIMESTAMP", "DATE"))]
    if wanted is not None and wanted not in times:
        raise QueryError(f"{name} has no time {wanted!r}; it has: {', '.join(times) or 'none'}")
    if not times:
        raise QueryError(f"{name} has no time, so no window can be cut from it")
    return wanted or times[0]


def _described(name: str, rows: pa.Table) -> pa.Table:
    """The rows with what the open schema says of their columns."""
    table = TABLES.get(name) or ENTITIES.get(name)
    return rows if table is None else described_by(table, rows)
