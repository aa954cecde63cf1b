"""The one pass from text records to readings and rejects, in one DuckDB session."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import duckdb
import pyarrow as pa

from schemas.reasons import KEPT_REJECTS
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
    plain_number,
    unit_rules,
)
from warehouse.normalise.seen import seen_places
from warehouse.sql import load_sql

_SQL = "warehouse.normalise.sql"
_TWENTY_YEARS = dt.timedelta(days=20 * 365 + 5)


@dataclass(frozen=True, slots=True)
class FileCounts:
    """What one file came to: candidates for readings, declared blanks, refused items by reason.

    `stored` are items that an earlier attempt at the same package has stored: they are
    readings already, whatever would become of them today.
    """

    candidates: int
    stored: int
    blank: int
    not_measured: int
    rejected_by_reason: dict[str, int]

    @property
    def rejected(self) -> int:
        """Items refused."""
        return sum(self.rejected_by_reason.values())

    @property
    def items(self) -> int:
        """All items: candidates for readings, those stored before, and refused ones."""
        return self.candidates + self.stored + self.rejected


def normalise(
    decodings: Sequence[Decoding],
    placements: pa.Table,
    session: duckdb.DuckDBPyConnection,
    *,
    attempted: bool = False,
) -> list[FileCounts]:
    """Turn `batch_records` and `batch_refused` into items with a time, number and place.

    The decodings share one mapping and limit; the counts are in their order. Afterwards
    the tables items, keys, key_places and repeated stand in the session.
    `placements` has the columns of `warehouse.registry.placements`'
    PLACEMENTS_SCHEMA. The time of each reading must lie in [receipt - 20 years,
    receipt + 1 day].

    Where the packages were `attempted` before, the caller gives the view `own_rows`
    with the columns package and row of stored readings: those of these packages are
    left out of the items, and counted apart.
    """
    mapping = decodings[0].of_readings
    plan = make_plan(mapping)
    _run(session, "macros")
    _lookup_tables(decodings, placements, session)
    _keys(mapping, plan, session)
    _items(mapping, plan, session)
    if mapping.source.method == "route":
        _run(session, "takes")
    _run(session, "identities")
    _run(session, "repeated")
    _run(session, "own" if attempted else "no_own")
    if attempted:
        _run(session, "leave_out_own")
    return _summary(mapping, plan, session)


def _run(
    session: duckdb.DuckDBPyConnection,
    name: str,
    parameters: dict[str, Any] | None = None,
    **fragments: str,
) -> duckdb.DuckDBPyConnection:
    return session.execute(load_sql(_SQL, name, **fragments), parameters or {})


def _lookup_tables(
    decodings: Sequence[Decoding], placements: pa.Table, session: duckdb.DuckDBPyConnection
) -> None:
    mapping = decodings[0].of_readings
    tables = {
        "packages": _packages(decodings),
        "placements": seen_places(decodings, placements, session),
        "attribute_plan": attribute_plan(mapping),
        "attribute_words": attribute_words(mapping),
        "measure_names": measure_names(mapping),
        "unit_rules": unit_rules(),
        "zone_days": _zone_days(decodings),
    }
    for name, table in tables.items():
        session.register(name, table)


def _bounds(decoding: Decoding) -> tuple[dt.datetime, dt.datetime]:
    received = _utc(decoding.arrived_at)
    return received - _TWENTY_YEARS, received + dt.timedelta(days=1)


def _utc(moment: dt.datetime) -> dt.datetime:
    return moment.astimezone(dt.UTC).replace(tzinfo=None)


def _packages(decodings: Sequence[Decoding]) -> pa.Table:
    """One row a file: place, package, attempt, name, receipt, and bounds of its times (UTC)."""
    bounds = [_bounds(decoding) for decoding in decodings]
    moment = pa.timestamp("us")
    return pa.table(
        {
            "file_no": pa.array(range(len(decodings)), pa.int32()),
            "package": pa.array([decoding.package for decoding in decodings], pa.int64()),
            "attempt": pa.array([decoding.attempt for decoding in decodings], pa.int32()),
            "file": pa.array([decoding.file for decoding in decodings], pa.string()),
            "received_at": pa.array([_utc(decoding.received_at) for decoding in decodings], moment),
            "earliest": pa.array([earliest for earliest, _ in bounds], moment),
            "latest": pa.array([latest for _, latest in bounds], moment),
        }
    )


def _zone_days(decodings: Sequence[Decoding]) -> pa.Table:
    zone = decodings[0].of_readings.time.zone
    if zone is None:
        return ZONE_DAYS_SCHEMA.empty_table()
    bounds = [_bounds(decoding) for decoding in decodings]
    margin = dt.timedelta(days=2)
    first = min(earliest for earliest, _ in bounds).date() - margin
    return zone_days(zone, first, max(latest for _, latest in bounds).date() + margin)


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


def _items(mapping: Mapping, plan: Plan, session: duckdb.DuckDBPyConnection) -> None:
    by_order = mapping.time.ambiguous == "file-order"
    if by_order:
        _run(
            session,
            "passes",
            used({"formats": mapping.time.format}, plan.local),
            time_text=plan.time_text,
            local=plan.local,
            words=", ".join(plan.words),
        )
    statement = load_sql(
        _SQL,
        "items",
        timed=timed_records(mapping, plan),
        set_no="attribute_sets.set_no" if plan.words else "1",
        set_join=set_join(plan),
        issued_at=plan.issued_at,
        sequence=plan.sequence,
        note=plan.note,
        values=", ".join(plan.values),
        plain=plain_number(mapping.values, "raw"),
    )
    parameters = {
        "measures": len(mapping.measure),
        "over_range": mapping.values.over_range,
        "nulls": mapping.values.null,
        "formats": mapping.time.format,
    }
    session.execute(statement, used(parameters, statement))


def timed_records(mapping: Mapping, plan: Plan) -> str:
    """SQL of every record with its time, or what is wrong with it; may name `$formats`."""
    passes = {"refuse": "NULL", "earlier": "0", "later": "1", "file-order": "pass"}
    by_order = mapping.time.ambiguous == "file-order"
    return load_sql(
        _SQL,
        "timed",
        time_text=plan.time_text,
        local=plan.local,
        instant=plan.instant,
        **{"pass": passes[mapping.time.ambiguous]},
        pass_join="LEFT JOIN passes USING (file_no, line)" if by_order else "",
    )


def set_join(plan: Plan) -> str:
    """SQL that finds the set of attributes a record has; none where all are constants."""
    joins = " AND ".join(f"attribute_sets.w{i} = {word}" for i, word in enumerate(plan.words))
    return f"JOIN attribute_sets ON {joins}" if plan.words else ""


def used(parameters: dict[str, Any], statement: str) -> dict[str, Any]:
    """Only the parameters a statement names: the engine refuses others."""
    return {name: value for name, value in parameters.items() if f"${name}" in statement}


def _summary(mapping: Mapping, plan: Plan, session: duckdb.DuckDBPyConnection) -> list[FileCounts]:
    by_reason: dict[int, dict[str, int]] = defaultdict(dict)
    for file_no, reason, items in _run(session, "reject_counts").fetchall():
        by_reason[file_no][reason] = items
    counted = _run(
        session,
        "item_counts",
        {"measures": len(mapping.measure)},
        not_measured=plan.not_measured,
    ).fetchall()
    return [
        FileCounts(candidates, stored, blank, not_measured, by_reason.get(file_no, {}))
        for file_no, candidates, stored, blank, not_measured in counted
    ]


def _undecided(mapping: Mapping) -> str:
    """Why nothing decides between the two instants of a repeated hour."""
    if mapping.time.ambiguous == "file-order":
        return "the order in the file does not tell: both passes are needed, oldest first"
    return "the mapping declares no rule that decides"


def _time_form(mapping: Mapping) -> str:
    """The form of a time, in words for a person."""
    formats = " or ".join(mapping.time.format)
    if formats == "iso8601" and mapping.time.zone is None:
        return "iso8601 with an offset; the mapping declares no zone for local times"
    return formats


def rejects(mapping: Mapping, session: duckdb.DuckDBPyConnection) -> pa.Table:
    """Refused items as rows of `rejects`, at most KEPT_REJECTS a package and reason."""
    parameters = {
        "source": mapping.source.id,
        "mapping": mapping.version,
        "measures": len(mapping.measure),
        "kept": KEPT_REJECTS,
        "time_form": _time_form(mapping),
        "zone": mapping.time.zone or "UTC",
        "decimal": mapping.values.decimal,
        "thousands": mapping.values.thousands,
        "undecided": _undecided(mapping),
        "sheet_route": mapping.stop.route if mapping.stop else None,
    }
    return session.sql(load_sql(_SQL, "rejects"), params=parameters).to_arrow_table()
