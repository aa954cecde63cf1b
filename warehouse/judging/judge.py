"""The judge: turns the views at one `as_of` into conditions and their changes.

Pure: the same tables, limits and `as_of` give the same answer. The only writer
of conditions; it reads through the connection it is given and touches nothing
else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

import duckdb
import pyarrow as pa

from schemas.tables.conditions import CONDITION_CURRENT, CONDITION_LOG
from warehouse.judging.advice import CAUTION, next_step

Row = dict[str, Any]

_SCOPES = {
    "asset": "asset_conditions",
    "member": "member_conditions",
    "point": "point_conditions",
}


@dataclass(frozen=True, slots=True)
class Judgement:
    """What one judging step says.

    `conditions` has every row of `condition_current`; `changes` the rows of
    `condition_log` that are new, `seq` rising by one.
    """

    conditions: pa.Table
    changes: pa.Table


def judge(
    connection: duckdb.DuckDBPyConnection,
    previous: pa.Table | None,
    as_of: datetime,
    next_seq: int,
) -> Judgement:
    """Judge every point, member and asset for the moment `as_of`.

    `connection` has the base relations, the limit tables and the working tables
    (`warehouse.judging.working`) of that moment. `previous` is the last `condition_current`, or
    None the first time. The first change gets the number `next_seq`. A change is
    a new place, or another level, zone or basis. Raises ValueError for an
    `as_of` without a time zone.
    """
    if as_of.tzinfo is None:
        raise ValueError("as_of needs a time zone")
    as_of = as_of.astimezone(UTC)
    rows = judged_rows(connection, as_of)
    before = {} if previous is None else {_place(row): row for row in previous.to_pylist()}
    for row in rows:
        _remember(row, before.get(_place(row)))
    return Judgement(
        conditions=pa.Table.from_pylist(rows, CONDITION_CURRENT.arrow),
        changes=_changes(rows, before, next_seq),
    )


def judged_rows(connection: duckdb.DuckDBPyConnection, as_of: datetime) -> list[Row]:
    """Every condition the views give at `as_of` (UTC), by place, without memory of what was before.

    `connection` is as `judge` has it.
    """
    critical = {
        (row["site"], row["asset"]): row["criticality"]
        for row in connection.table("assets").to_arrow_table().to_pylist()
    }
    seen = _observations(connection)
    rows = [
        _condition(row, scope, as_of, critical.get((row["site"], row["asset"])))
        | {"observations": seen.get(_observed_place(row | {"scope": scope}))}
        for scope, view in _SCOPES.items()
        for row in connection.table(f"temp.{view}").to_arrow_table().to_pylist()
    ]
    return sorted(rows, key=_place_order)


def _observations(connection: duckdb.DuckDBPyConnection) -> Mapping[tuple[Any, ...], str]:
    """What was seen on routes lately, in words, by scope and place."""
    rows = connection.table("seen_on_routes").to_arrow_table().to_pylist()
    return {_observed_place(row): row["observations"] for row in rows}


def _observed_place(row: Row) -> tuple[Any, ...]:
    names = ("scope", "site", "asset", "member", "position")
    return tuple(row.get(name) for name in names)


def _condition(row: Row, scope: str, as_of: datetime, criticality: str | None) -> Row:
    """A row of a condition view as a row of `condition_current`."""
    named = {name: row.get(name) for name in CONDITION_CURRENT.column_names}
    if scope == "point":
        seen = bool(row["judgeable"]) and row["level"] != "unknown"
        named |= {
            "coverage": "normal" if seen else "none",
            "measured_points": int(seen),
            "judgeable_points": int(bool(row["judgeable"])),
        }
    if row["level"] == "unknown":
        named["zone"] = None  # nobody shall read health from a zone that no longer holds
    return named | {
        "scope": scope,
        "as_of": as_of,
        "next_step": next_step(row["basis"], row["level"], criticality),
        "caution": CAUTION,
    }


def _place(row: Row) -> tuple[Any, ...]:
    return tuple(row[name] for name in CONDITION_CURRENT.key)


def _place_order(row: Row) -> tuple[str, ...]:
    return tuple(row[name] or "" for name in CONDITION_CURRENT.sort_by)


def _remember(row: Row, before: Row | None) -> None:
    """Fill what only the previous judgement knows: the level and day before it went unknown."""
    if row["level"] == "unknown":
        if before is not None and row["last_level"] is None:
            known = before["level"] if before["level"] != "unknown" else before["last_level"]
            row["last_level"] = known
        if row["since"] is None:
            row["since"] = _since_when(row, before)


def _since_when(row: Row, before: Row | None) -> date:
    moment: datetime = row["as_of"]
    if before is not None and before["level"] == "unknown" and before["since"] is not None:
        since: date = before["since"]
        return since
    return moment.date()


def _changes(rows: list[Row], before: Mapping[tuple[Any, ...], Row], next_seq: int) -> pa.Table:
    changed = [
        (row, before.get(_place(row), {})) for row in rows if _differs(row, before.get(_place(row)))
    ]
    return pa.Table.from_pylist(
        [_change(row, old, next_seq + place) for place, (row, old) in enumerate(changed)],
        CONDITION_LOG.arrow,
    )


def _differs(row: Row, old: Row | None) -> bool:
    return old is None or any(row[name] != old[name] for name in ("level", "zone", "basis"))


def _change(row: Row, old: Row, seq: int) -> Row:
    return {name: row[name] for name in CONDITION_CURRENT.key} | {
        "seq": seq,
        "level_from": old.get("level"),
        "level_to": row["level"],
        "zone_from": old.get("zone"),
        "zone_to": row["zone"],
        "basis": row["basis"],
        "reason": row["reason"],
        "measured_at": row["measured_at"],
        "judged_at": row["as_of"],
    }
