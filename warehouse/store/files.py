"""Data files of a table: sorted rows in, one encoded Parquet file and its log entry out."""

from __future__ import annotations

import datetime as dt
import json
import time
import uuid
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
from deltalake.transaction import AddAction

from schemas.columns import Table

_ROW_GROUP = 250_000
_COUNTING = ("ts", "received_at", "recorded_at", "row", "package", "seq")
"""Columns whose neighbours differ by little: stored as differences, without a dictionary."""


def write_file(root: Path, table: Table, rows: pa.Table, partition: Mapping[str, str]) -> AddAction:
    """Write `rows` (in the table's columns, sorted) as one file below `root`.

    String columns may come as dictionary arrays: they are then stored as they
    are, without hashing every row again. Returns the entry for the Delta log.
    """
    folder = "/".join(f"{name}={value}" for name, value in partition.items())
    relative = "/".join(filter(None, (folder, f"part-{uuid.uuid4().hex}.parquet")))
    path = root / relative
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        _encode(path, rows)
    except BaseException:
        path.unlink(missing_ok=True)  # half a file: on a full disk it would only take more room
        raise
    return AddAction(
        path=relative,
        size=path.stat().st_size,
        partition_values=dict(partition),
        modification_time=int(time.time() * 1000),
        data_change=True,
        stats=json.dumps(_statistics(table, rows)),
    )


def _encode(path: Path, rows: pa.Table) -> None:
    counting = [name for name in _COUNTING if name in rows.column_names]
    with pq.ParquetWriter(
        path,
        rows.schema,
        compression="zstd",
        use_dictionary=[name for name in rows.column_names if name not in counting],
        column_encoding=dict.fromkeys(counting, "DELTA_BINARY_PACKED"),
        store_schema=False,
        write_statistics=True,
    ) as writer:
        writer.write_table(rows, row_group_size=_ROW_GROUP)


def read_rows(table: Table, files: Iterable[Path]) -> pa.Table:
    """All rows of small data files, in the table's columns and types, whoever wrote them."""
    found = [pq.read_table(path, schema=table.arrow, partitioning=None) for path in files]
    return pa.concat_tables([table.arrow.empty_table(), *found])


def newest_time(column: str, files: Iterable[Path]) -> list[dt.datetime]:
    """The newest time of each small data file in a column that its log entry does not tell."""
    found = [
        pc.max(pq.read_table(path, columns=[column], partitioning=None)[column]).as_py()
        for path in files
    ]
    return [time for time in found if time is not None]


def _statistics(table: Table, rows: pa.Table) -> dict[str, Any]:
    """Row count, and least and greatest value of the columns that readers prune by."""
    least: dict[str, Any] = {}
    greatest: dict[str, Any] = {}
    for name in ("ts", "seq", "package", "device"):
        if name in table.column_names and rows.num_rows:
            bounds = pc.min_max(_distinct(rows.column(name)))
            least[name], greatest[name] = (_plain(bounds[side]) for side in ("min", "max"))
    return {
        "numRecords": rows.num_rows,
        "minValues": least,
        "maxValues": greatest,
        "nullCount": dict.fromkeys(least, 0),
    }


def _distinct(column: pa.ChunkedArray) -> pa.Array:
    """Values that stand in a column; of a dictionary array only those that are used."""
    if not pa.types.is_dictionary(column.type):
        return column
    return column.unique().dictionary_decode()


def _plain(value: pa.Scalar) -> Any:
    if pa.types.is_timestamp(value.type):
        return value.as_py().strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    return value.as_py()
