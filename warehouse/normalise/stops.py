"""Stop results of route sheets (rule W4), from the same records as their readings.

Runs after `normalise`, in the same session: it stands on the tables that left there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import duckdb
import pyarrow as pa

from schemas.reasons import KEPT_REJECTS
from schemas.tables.rounds import STOP_RESULTS
from warehouse.mapping import Mapping
from warehouse.mapping_parts import STOP_CODES
from warehouse.normalise.normaliser import FileCounts, set_join, timed_records, used
from warehouse.normalise.plan import make_plan
from warehouse.sql import load_sql

_SQL = "warehouse.normalise.sql"
_TEXTS = ("attribute", "sent", "code")


def stop_items(mapping: Mapping, session: duckdb.DuckDBPyConnection) -> None:
    """Table `stop_items`: what the records say of their stops, or the first thing wrong with it.

    Raises ValueError for a mapping without a section `[stop]`.
    """
    if mapping.stop is None:
        raise ValueError(f"{mapping.version} says nothing of stops")
    for name, rows in _lookups(mapping).items():
        session.register(name, rows)
    plan = make_plan(mapping)
    column = {field: f"f{place}" for place, field in enumerate(mapping.fields)}
    said = {name: f"nullif(trim({column[v.from_]}), '')" for name, v in mapping.stop.stated.items()}
    blank = " OR ".join(f"coalesce(trim({column[f]}), '') = ''" for f in mapping.time.from_)
    statement = load_sql(
        _SQL,
        "stop_items",
        timed=timed_records(mapping, plan),
        time_blank=blank,
        result=said["result"],
        observations=said.get("observations", "NULL::VARCHAR"),
        person=said.get("person", "NULL::VARCHAR"),
        note=plan.note,
        values=", ".join(plan.values),
        set_no="attribute_sets.set_no" if plan.words else "1",
        set_join=set_join(plan),
    )
    parameters = {
        "measures": len(mapping.measure),
        "nulls": mapping.values.null,
        "formats": mapping.time.format,
        "sheet_route": mapping.stop.route,
    }
    session.execute(statement, used(parameters, statement))


def _lookups(mapping: Mapping) -> dict[str, pa.Table]:
    stated = mapping.stop.stated if mapping.stop else {}
    words = [
        {"attribute": name, "sent": sent, "code": code}
        for name, value in stated.items()
        for sent, code in value.map.items()
    ]
    codes = [
        {"attribute": name, "code": code} for name, kept in STOP_CODES.items() for code in kept
    ]
    columns = [{"attribute": name, "column_name": value.from_} for name, value in stated.items()]
    columns.append({"attribute": "time", "column_name": mapping.time.from_[-1]})
    return {
        "stop_words": pa.Table.from_pylist(words, pa.schema([(n, pa.string()) for n in _TEXTS])),
        "stop_codes": pa.Table.from_pylist(codes),
        "stop_columns": pa.Table.from_pylist(columns),
    }


def new_stop_results(mapping: Mapping, session: duckdb.DuckDBPyConnection) -> pa.Table:
    """Stop results to be stored, as rows of `stop_results`.

    Needs the view `stored_stops`: the rows of that table.
    """
    parameters = {"source": mapping.source.id, "mapping": mapping.version}
    rows = session.sql(load_sql(_SQL, "stop_rows"), params=parameters).to_arrow_table()
    return rows.cast(STOP_RESULTS.arrow)


def refused_stops(mapping: Mapping, session: duckdb.DuckDBPyConnection) -> pa.Table:
    """Stop results that cannot be used, as rows of `rejects`, KEPT_REJECTS a package and reason."""
    parameters: dict[str, Any] = {"source": mapping.source.id, "mapping": mapping.version}
    parameters["kept"] = KEPT_REJECTS
    return session.sql(load_sql(_SQL, "stop_rejects"), params=parameters).to_arrow_table()


def with_stops(
    counted: Sequence[FileCounts], session: duckdb.DuckDBPyConnection
) -> list[FileCounts]:
    """Counts of files with their stops: refused results are items, the rest are counted apart."""
    found: dict[int, dict[str | None, int]] = {}
    for file_no, reason, stops in session.execute(load_sql(_SQL, "stop_counts")).fetchall():
        found.setdefault(file_no, {})[reason] = stops
    return [_with(counts, found.get(file_no, {})) for file_no, counts in enumerate(counted)]


def _with(counts: FileCounts, stops: dict[str | None, int]) -> FileCounts:
    reasons = dict(counts.rejected_by_reason)
    for reason, number in stops.items():
        if reason is not None:
            reasons[reason] = reasons.get(reason, 0) + number
    unmeasured = max(counts.not_measured, stops.get(None, 0))
    return replace(counts, rejected_by_reason=reasons, not_measured=unmeasured)
