"""Conditions of the whole fleet as one table: what the lists and exports are cut from.

The rows stand as they were judged; those of machines gone silent since are
replaced, and only they cost anything. A table is kept until time changes it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import pyarrow as pa
import pyarrow.compute as pc

from schemas.tables.conditions import CONDITION_CURRENT
from schemas.tables.registry import ASSETS
from warehouse.services.serving import Key, State

_REGISTERED: Final = ("name", "area", "criticality", "service_state", "external_id")
_STALE = pa.field("stale", pa.bool_(), False)


def fleet_schema() -> pa.Schema:
    """Columns of a condition with what is registered of its asset, and `stale`."""
    judged = CONDITION_CURRENT.arrow
    place = [judged.field(name) for name in ("site", "asset")]
    asset = [ASSETS.arrow.field(name).with_nullable(True) for name in _REGISTERED]
    rest = [field for field in judged if field.name not in ("site", "asset")]
    return pa.schema([*place, *asset, *rest, _STALE])


def fleet_table(state: State, now: dt.datetime, scope: str) -> pa.Table:
    """Conditions of one scope (`asset`, `member` or `point`) as they may be told at `now`."""
    passed = state.passed(now)
    found: pa.Table = state.memory.get(("fleet", scope, passed), lambda: _make(state, now, scope))
    return found


def _make(state: State, now: dt.datetime, scope: str) -> pa.Table:
    changed: list[Key] = []
    taken: list[int] = []
    for key, place in state.places.items():
        if place.moments and place.moments[0] <= now:
            changed.append(key)
        else:
            taken.extend(range(place.first, place.first + place.count))
    kept = state.rows.take(pa.array(taken, pa.int64()))
    kept = kept.append_column(_STALE, pa.repeat(pa.scalar(False), kept.num_rows))
    rows = [row for key in changed for row in _rows(state, key, now)]
    anew = pa.Table.from_pylist(rows, pa.schema([*CONDITION_CURRENT.arrow, _STALE]))
    whole = pa.concat_tables([kept.cast(anew.schema), anew])
    whole = whole.filter(pc.equal(whole["scope"], scope))
    whole = whole.sort_by([(name, "ascending") for name in CONDITION_CURRENT.sort_by])
    return _with_assets(whole, state.assets)


def _rows(state: State, key: Key, now: dt.datetime) -> Iterable[dict[str, Any]]:
    judgement = state.judgement(key, now)
    if judgement is None:
        return []
    every = (judgement.asset, *judgement.members, *judgement.points)
    return [row | {"stale": bool(row.get("stale"))} for row in every]


def _with_assets(rows: pa.Table, assets: Mapping[Key, Mapping[str, Any]]) -> pa.Table:
    keys = zip(rows["site"].to_pylist(), rows["asset"].to_pylist(), strict=True)
    found = [assets.get(key, {}) for key in keys]
    schema = fleet_schema()
    columns = {
        name: pa.array([row.get(name) for row in found], schema.field(name).type)
        for name in _REGISTERED
    }
    given = {name: rows[name] for name in rows.column_names}
    table = pa.table({f.name: (columns | given)[f.name] for f in schema}, schema=schema)
    return table.combine_chunks()


def chosen(
    table: pa.Table,
    filters: Mapping[str, Sequence[str]],
    classes: Mapping[Key, frozenset[str]],
    keys: Iterable[Key] | None = None,
) -> pa.Table:
    """Rows that pass every filter (a column and its allowed values; `class` by its machines).

    With `keys` only rows of those assets.
    """
    for name, values in filters.items():
        if name == "class":
            wanted = {key for key, found in classes.items() if found & set(values)}
            table = table.filter(_is_of(table, wanted))
        else:
            table = table.filter(pc.is_in(table[name], pa.array(values, table[name].type)))
    return table if keys is None else table.filter(_is_of(table, set(keys)))


def _is_of(table: pa.Table, keys: Iterable[Key]) -> pa.ChunkedArray:
    # No site or tag holds a zero byte: joined by one, two columns are compared as one.
    joined = pc.binary_join_element_wise(table["site"], table["asset"], "\0")
    return pc.is_in(joined, pa.array(["\0".join(key) for key in keys], pa.string()))
