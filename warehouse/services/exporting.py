"""Tables as bytes: Arrow stream, CSV, NDJSON, and plain values for JSON bodies."""

from __future__ import annotations

import datetime as dt
import io
import math
from collections.abc import Iterable, Iterator
from typing import Any, Final

import duckdb
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pacsv

from schemas.columns import Table
from warehouse.sql import identifier, load_sql

FORMATS: Final = {
    "arrow": "application/vnd.apache.arrow.stream",
    "csv": "text/csv",
    "ndjson": "application/x-ndjson",
}
"""Forms of a whole table, and their media types."""

_LINES = 20_000


def described_by(table: Table, rows: pa.Table) -> pa.Table:
    """The rows with what the open schema says of those columns that are the table's."""
    known = {column.name: column.arrow.metadata for column in table.columns}
    fields = [one.with_metadata(known.get(one.name)) for one in rows.schema]
    return rows.replace_schema_metadata(None).cast(pa.schema(fields))


def encode(
    schema: pa.Schema, batches: Iterable[pa.RecordBatch], form: str, codec: str | None = None
) -> Iterator[bytes]:
    """The batches in one of `FORMATS`, as they come; never nothing, for a table has columns.

    `codec` packs the bodies of an Arrow stream (lz4 or zstd), as its format allows.
    """
    if form == "arrow":
        return _arrow(schema, batches, codec)
    return _csv(schema, batches) if form == "csv" else _ndjson(batches)


def encode_table(table: pa.Table, form: str) -> bytes:
    """A table in one of `FORMATS`, whole."""
    if form == "arrow":
        return _stream(table.schema, table.to_batches(), None)
    return b"".join(encode(table.schema, table.to_batches(), form))


_END_BYTES = 8
"""What an Arrow stream ends with: a marker and a length of nothing."""


def _arrow(
    schema: pa.Schema, batches: Iterable[pa.RecordBatch], codec: str | None
) -> Iterator[bytes]:
    """A stream in pieces: its head, each batch, its end. Whole streams of one batch are cut."""
    empty = _stream(schema, (), codec)
    head = len(empty) - _END_BYTES
    yield empty[:head]
    for batch in batches:
        yield _stream(schema, (batch,), codec)[head:-_END_BYTES]
    yield empty[head:]


def _stream(schema: pa.Schema, batches: Iterable[pa.RecordBatch], codec: str | None) -> bytes:
    sink = pa.BufferOutputStream()
    options = pa.ipc.IpcWriteOptions(compression=codec)
    with pa.ipc.new_stream(sink, schema, options=options) as writer:
        for batch in batches:
            writer.write_batch(batch)
    content: bytes = sink.getvalue().to_pybytes()
    return content


def _csv(schema: pa.Schema, batches: Iterable[pa.RecordBatch]) -> Iterator[bytes]:
    """RFC 4180 with a header; times as RFC 3339 in UTC."""
    yield (",".join(f'"{name}"' for name in schema.names) + "\n").encode()
    for batch in batches:
        sink = io.BytesIO()
        options = pacsv.WriteOptions(include_header=False)
        pacsv.write_csv(_told(batch), sink, options)
        yield sink.getvalue()


def _told(batch: pa.RecordBatch) -> pa.RecordBatch:
    columns = [
        pc.strftime(column, "%Y-%m-%dT%H:%M:%SZ") if pa.types.is_timestamp(column.type) else column
        for column in batch.columns
    ]
    return pa.RecordBatch.from_arrays(columns, names=batch.schema.names)


def _ndjson(batches: Iterable[pa.RecordBatch]) -> Iterator[bytes]:
    with duckdb.connect(config={"threads": 1}) as session:
        session.execute("SET TimeZone = 'UTC'")
        for batch in batches:
            for start in range(0, batch.num_rows, _LINES):
                part = pa.Table.from_batches([batch.slice(start, _LINES)])
                session.register("rows_given", part)
                columns = ", ".join(_json_column(field) for field in part.schema)
                statement = load_sql("warehouse.services", "json_lines", columns=columns)
                lines = session.sql(statement).to_arrow_table().column(0)
                yield ("\n".join(lines.to_pylist()) + "\n").encode()
                session.unregister("rows_given")


def _json_column(field: pa.Field) -> str:
    name = identifier(field.name)
    if pa.types.is_timestamp(field.type):
        return f"strftime({name}::TIMESTAMP, '%Y-%m-%dT%H:%M:%S.%fZ') AS {name}"
    if pa.types.is_floating(field.type):
        return f"CASE WHEN isfinite({name}) THEN {name} END AS {name}"
    return name


def plain_rows(table: pa.Table) -> list[dict[str, Any]]:
    """Rows as JSON has them: times and days as RFC 3339 text, numbers that are none as null."""
    return [plain_values(row) for row in table.to_pylist()]


def plain_values(row: dict[str, Any]) -> dict[str, Any]:
    """One row as JSON has it."""
    return {name: _plain(value) for name, value in row.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, dt.datetime):
        moment = value if value.tzinfo else value.replace(tzinfo=dt.UTC)
        return moment.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, (dt.date, dt.time)):
        return value.isoformat()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(one) for one in value]
    return value if isinstance(value, (str, int, bool, type(None))) else str(value)


def columns_of(schema: pa.Schema) -> list[dict[str, Any]]:
    """Names, types, meanings and units of columns, where the open schema says them."""
    told = []
    for field in schema:
        words = {k.decode(): v.decode() for k, v in (field.metadata or {}).items()}
        told.append(
            {
                "name": field.name,
                "type": str(field.type),
                "description": words.get("description"),
                "unit": words.get("unit"),
            }
        )
    return told
