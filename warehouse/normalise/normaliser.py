"""The one pass from text records to readings and rejects, in one DuckDB session."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

import duckdb
import pyarrow as pa

from warehouse.adapters import Decoding
from warehouse.mapping import BAND_PATTERN, Mapping
from warehouse.normalise.local_time import ZONE_DAYS_SCHEMA, zone_days
from warehouse.normalise.plan import (
    KEY_ATTRIBUTES,
    Plan,
    attribute_plan,
    attribute_words,
    make_plan,
    measure_names,
    unit_rules,
)
from warehouse.sql import load_sql

_SQL = "warehouse.normalise.sql"
_TWENTY_YEARS = dt.timedelta(days=20 * 365 + 5)
KEPT_REJECTS = 1_000
"""Rejects of one package and reason that are kept with their text; all are counted."""


@dataclass(frozen=True, slots=True)
class Normalised:
    """A package after the pass; its items, keys, key_places and repeats stand in the session."""

    candidates: int
    blank: int
    not_measured: int
    rejected_by_reason: dict[str, int]
    first: dt.datetime | None
    last: dt.datetime | None
    has_repeats: bool

    @property
    def rejected(self) -> int:
        """Items refused."""
        return sum(self.rejected_by_reason.values())

    @property
    def items(self) -> int:
        """All items: candidates for readings and refused ones."""
        return self.candidates + self.rejected


def normalise(
    decoding: Decoding, placements: pa.Table, session: duckdb.DuckDBPyConnection
) -> Normalised:
    """Turn tables `records` and `refused` of the session into items with a time, number and place.

    `placements` has the columns of `warehouse.registry.PLACEMENTS_SCHEMA`. The
    time of each reading must lie in [receipt - 20 years, receipt + 1 day].
    """
    mapping = decoding.mapping
    plan = make_plan(mapping)
    _run(session, "macros")
    _lookup_tables(decoding, placements, session)
    _keys(mapping, plan, session)
    _items(decoding, plan, session)
    if mapping.source.method == "route":
        _run(session, "takes")
    _run(session, "identities")
    _run(session, "repeated")
    _run(session, "repeats")
    return _summary(mapping, plan, session)


def _run(
    session: duckdb.DuckDBPyConnection,
    name: str,
    parameters: dict[str, Any] | None = None,
    **fragments: str,
) -> duckdb.DuckDBPyConnection:
    return session.execute(load_sql(_SQL, name, **fragments), parameters or {})


def _lookup_tables(
    decoding: Decoding, placements: pa.Table, session: duckdb.DuckDBPyConnection
) -> None:
    mapping = decoding.mapping
    tables = {
        "placements": placements,
        "attribute_plan": attribute_plan(mapping),
        "attribute_words": attribute_words(mapping),
        "measure_names": measure_names(mapping),
        "unit_rules": unit_rules(),
        "zone_days": _zone_days(decoding),
    }
    for name, table in tables.items():
        session.register(name, table)


def _bounds(decoding: Decoding) -> tuple[dt.datetime, dt.datetime]:
    received = decoding.received_at.astimezone(dt.UTC).replace(tzinfo=None)
    return received - _TWENTY_YEARS, received + dt.timedelta(days=1)


def _zone_days(decoding: Decoding) -> pa.Table:
    zone = decoding.mapping.time.zone
    if zone is None:
        return ZONE_DAYS_SCHEMA.empty_table()
    earliest, latest = _bounds(decoding)
    return zone_days(
        zone, earliest.date() - dt.timedelta(days=2), latest.date() + dt.timedelta(days=2)
    )


def _keys(mapping: Mapping, plan: Plan, session: duckdb.DuckDBPyConnection) -> None:
    if plan.words:
        named = ", ".join(f"{word} AS w{index}" for index, word in enumerate(plan.words))
        _run(session, "attribute_sets", words=", ".join(plan.words), named_words=named)
    else:
        _run(session, "no_attributes")
    attributes = ", ".join(
        f"nullif(max(spoken) FILTER (attribute = '{name}'), '') AS {name}"
        for name in KEY_ATTRIBUTES
    )
    parameters = {"measures": len(mapping.measure), "band_pattern": BAND_PATTERN.strip("^$")}
    _run(session, "keys", parameters, attributes=attributes)
    _run(session, "key_places")


def _items(decoding: Decoding, plan: Plan, session: duckdb.DuckDBPyConnection) -> None:
    mapping = decoding.mapping
    by_order = mapping.time.ambiguous == "file-order"
    if by_order:
        _run(
            session,
            "passes",
            _used({"formats": mapping.time.format}, plan.local),
            time_text=plan.time_text,
            local=plan.local,
            words=", ".join(plan.words),
        )
    passes = {"refuse": "NULL", "earlier": "0", "later": "1", "file-order": "pass"}
    timed = load_sql(
        _SQL,
        "timed",
        time_text=plan.time_text,
        local=plan.local,
        instant=plan.instant,
        **{"pass": passes[mapping.time.ambiguous]},
        pass_join="LEFT JOIN passes USING (line)" if by_order else "",
    )
    joins = " AND ".join(f"attribute_sets.w{i} = {word}" for i, word in enumerate(plan.words))
    statement = load_sql(
        _SQL,
        "items",
        timed=timed,
        set_no="attribute_sets.set_no" if plan.words else "1",
        set_join=f"JOIN attribute_sets ON {joins}" if plan.words else "",
        issued_at=plan.issued_at,
        sequence=plan.sequence,
        note=plan.note,
        values=", ".join(plan.values),
        plain=_plain(mapping.values.decimal),
    )
    earliest, latest = _bounds(decoding)
    parameters = {
        "measures": len(mapping.measure),
        "over_range": mapping.values.over_range,
        "nulls": mapping.values.null,
        "earliest": earliest,
        "latest": latest,
        "formats": mapping.time.format,
    }
    session.execute(statement, _used(parameters, statement))


def _used(parameters: dict[str, Any], statement: str) -> dict[str, Any]:
    """Only the parameters a statement names: the engine refuses others."""
    return {name: value for name, value in parameters.items() if f"${name}" in statement}


def _plain(decimal: str) -> str:
    """The cell as a number with a decimal point; a point is no number where the mark is a comma."""
    if decimal == ".":
        return "raw"
    return "CASE WHEN contains(raw, '.') THEN '' ELSE replace(raw, ',', '.') END"


def _summary(mapping: Mapping, plan: Plan, session: duckdb.DuckDBPyConnection) -> Normalised:
    by_reason = dict(_run(session, "reject_counts").fetchall())
    blank, not_measured = _one(
        _run(
            session,
            "blank_counts",
            {"measures": len(mapping.measure)},
            not_measured=plan.not_measured,
        )
    )
    candidates, first, last = _one(_run(session, "extent"))
    (repeats,) = _one(session.execute("SELECT count(*) FROM repeats"))
    return Normalised(candidates, blank, not_measured, by_reason, first, last, repeats > 0)


def _one(result: duckdb.DuckDBPyConnection) -> tuple[Any, ...]:
    (row,) = result.fetchall()
    return tuple(row)


def rejects(decoding: Decoding, package: int, session: duckdb.DuckDBPyConnection) -> pa.Table:
    """Refused items in the columns of table `rejects`, at most KEPT_REJECTS a reason."""
    mapping = decoding.mapping
    earliest, latest = _bounds(decoding)
    parameters = {
        "package": package,
        "source": mapping.source.id,
        "file": decoding.file,
        "mapping": mapping.version,
        "received_at": decoding.received_at,
        "measures": len(mapping.measure),
        "kept": KEPT_REJECTS,
        "time_form": " or ".join(mapping.time.format),
        "zone": mapping.time.zone or "UTC",
        "decimal": mapping.values.decimal,
        "earliest": f"{earliest:%Y-%m-%d}",
        "latest": f"{latest:%Y-%m-%d}",
    }
    return session.sql(load_sql(_SQL, "rejects"), params=parameters).to_arrow_table()
