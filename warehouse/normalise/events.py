"""Text records of a maintenance system -> events | faults, in SQL, in one session.

Table `event_items` has one row a record with all it says, or the first thing that is wrong with it
(`reason`, `column_name`, `detail`, `raw`). What was refused by the adapter is not in it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import duckdb
import pyarrow as pa

from schemas.reasons import KEPT_REJECTS
from schemas.tables.work import MAINTENANCE_EVENTS
from warehouse.adapters import Decoding
from warehouse.event_mapping import EVENT_CODES, EventAttributes, EventMapping
from warehouse.mapping_parts import Taken
from warehouse.normalise.plan import plain_number, time_expressions
from warehouse.normalise.seen import own_sites, seen_machines
from warehouse.sql import identifier, load_sql

_SQL = "warehouse.normalise.sql"
_TIMES = ("version_at", "started_at", "ended_at")
_WORDS = pa.schema([("attribute", pa.string()), ("sent", pa.string()), ("code", pa.string())])
_FIELDS = pa.schema([("attribute", pa.string()), ("column_name", pa.string())])
_CODES = pa.schema([("attribute", pa.string()), ("code", pa.string())])
_MOMENT = pa.timestamp("us", "UTC")


def event_items(
    decodings: Sequence[Decoding],
    entities: Mapping[str, pa.Table],
    activities: pa.Table,
    session: duckdb.DuckDBPyConnection,
) -> None:
    """Table `event_items` from `batch_records`; the decodings share one mapping and limit.

    `entities` are those of the registry, `activities` the activity table. Needs the view
    `stored_events`: the rows of `maintenance_events`. Raises TypeError for a
    mapping of readings.
    """
    mapping = decodings[0].mapping
    if not isinstance(mapping, EventMapping):
        raise TypeError(f"{mapping.version} is no mapping of maintenance events")
    for name in ("assets", "members"):
        seen = seen_machines(decodings, entities[name], session)
        session.register(f"registered_{name}", seen)
    session.register("activities", activities)
    for name, rows in _lookups(decodings, mapping).items():
        session.register(name, rows)
    session.execute(_statement("event_machines"))
    session.execute(_statement("event_elsewhere"), _whose(decodings))
    session.execute(_statement("event_words", attributes=_attributes(mapping)), _nulls(mapping))
    for name in _TIMES:
        session.execute(_statement("event_times", **_time(mapping, name)), _formats(mapping))
    session.execute(_statement("event_items", plain=plain_number(mapping.values, "text")))


def _whose(decodings: Sequence[Decoding]) -> dict[str, Any]:
    return {"source": decodings[0].mapping.source.id, "sites": own_sites(decodings)}


def _statement(file: str, /, **fragments: str) -> str:
    return load_sql(_SQL, file, **fragments)


def _lookups(decodings: Sequence[Decoding], mapping: EventMapping) -> dict[str, pa.Table]:
    stated = mapping.event.stated()
    taken = {name: value for name, value in stated.items() if isinstance(value, Taken)}
    words = [
        {"attribute": name, "sent": sent, "code": code}
        for name, value in taken.items()
        for sent, code in value.map.items()
    ]
    constants = [
        {"attribute": name, "sent": None, "code": value}
        for name, value in stated.items()
        if isinstance(value, str)
    ]
    columns = [{"attribute": name, "column_name": value.from_} for name, value in taken.items()]
    codes = [{"attribute": n, "code": code} for n, listed in EVENT_CODES.items() for code in listed]
    return {
        "event_packages": pa.table(
            {
                "file_no": pa.array(range(len(decodings)), pa.int32()),
                "package": pa.array([one.package for one in decodings], pa.int64()),
                "attempt": pa.array([one.attempt for one in decodings], pa.int32()),
                "file": pa.array([one.file for one in decodings], pa.string()),
                "received_at": pa.array([one.received_at for one in decodings], _MOMENT),
                "arrived_at": pa.array([one.arrived_at for one in decodings], _MOMENT),
            }
        ),
        "event_translations": pa.Table.from_pylist(words, _WORDS),
        "event_constants": pa.Table.from_pylist(constants, _WORDS),
        "event_columns": pa.Table.from_pylist(columns, _FIELDS),
        "event_codes": pa.Table.from_pylist(codes, _CODES),
    }


def _attributes(mapping: EventMapping) -> str:
    """A column for every attribute: from its field, its constant, or null."""
    field = {name: f"f{place}" for place, name in enumerate(mapping.fields)}
    stated = mapping.event.stated()
    found = []
    for name in EventAttributes.model_fields:
        value = stated.get(name)
        if isinstance(value, Taken):
            text = f"translated('{name}', said({field[value.from_]}, $nulls))"
        elif value is not None:
            text = f"constant_of('{name}')"
        else:
            text = "NULL::VARCHAR"
        found.append(f"{text} AS {identifier(name)}")
    return ", ".join(found)


def _nulls(mapping: EventMapping) -> dict[str, Any]:
    taken = any(isinstance(v, Taken) for v in mapping.event.stated().values())
    return {"nulls": mapping.values.null} if taken else {}


def _time(mapping: EventMapping, name: str) -> dict[str, str]:
    """Fragments that turn the text of a time into an instant, or say why there is none."""
    local, instant = time_expressions(mapping.time.as_time(), identifier(name))
    return {"name": name, "local": local, "instant": instant, "zone": mapping.time.zone or "UTC"}


def _formats(mapping: EventMapping) -> dict[str, Any]:
    time = mapping.time.as_time()
    return {"formats": time.format} if time.kind_of(time.format[0]) in ("local", "offset") else {}


def refused_events(mapping: EventMapping, session: duckdb.DuckDBPyConnection) -> pa.Table:
    """What could not become an event, as rows of `rejects`, KEPT_REJECTS a package and reason."""
    source = {"source": mapping.source.id, "mapping": mapping.version}
    parameters: dict[str, Any] = {**source, "kept": KEPT_REJECTS}
    return session.sql(_statement("event_rejects"), params=parameters).to_arrow_table()


def new_events(mapping: EventMapping, session: duckdb.DuckDBPyConnection) -> pa.Table:
    """Versions of events to be stored, as rows of `maintenance_events`.

    Needs the view `stored_events`: the rows of that table. What says no more than is stored, or
    stands twice in the file, is not among them.
    """
    parameters = {"source": mapping.source.id, "mapping": mapping.version}
    session.execute(_statement("event_fates"), {"source": mapping.source.id})
    rows = session.sql(_statement("event_rows"), params=parameters).to_arrow_table()
    return rows.cast(MAINTENANCE_EVENTS.arrow)


def event_counts(session: duckdb.DuckDBPyConnection) -> list[dict[str, int]]:
    """Of each file: items, accepted, duplicate, revised and rejected."""
    found: list[dict[str, int]] = (
        session.sql(_statement("event_counts")).to_arrow_table().to_pylist()
    )
    return found


def event_reasons(session: duckdb.DuckDBPyConnection) -> list[dict[str, Any]]:
    """Refused items of each file by reason: file_no, reason, items."""
    found: list[dict[str, Any]] = (
        session.sql(_statement("event_reasons")).to_arrow_table().to_pylist()
    )
    return found
