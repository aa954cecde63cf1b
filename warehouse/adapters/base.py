"""The shape every adapter has, and what it needs to fill its two tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Protocol, runtime_checkable

import duckdb
import pyarrow as pa

from warehouse.errors import SourceError
from warehouse.mapping import AnyMapping, Mapping
from warehouse.sql import load_sql

RAW_LENGTH = 200
"""Characters of raw text kept with a refused item."""

REFUSED_SCHEMA = pa.schema(
    [
        ("line", pa.int64()),
        ("column_name", pa.string()),
        ("reason", pa.string()),
        ("detail", pa.string()),
        ("raw", pa.string()),
    ]
)


@dataclass(frozen=True, slots=True)
class Decoding:
    """One payload to decode: the bytes, what they were called, and how to read them."""

    payload: Path
    file: str
    mapping: AnyMapping
    received_at: datetime
    max_line_bytes: int = 2_000_000
    package: int = 0
    attempt: int = 1
    clock: datetime | None = None
    """What this machine's clock said, where the receipt counts as of another moment."""
    sites: frozenset[str] | None = None
    """Sites that what is in it may touch; None for all."""

    @property
    def of_readings(self) -> Mapping:
        """The mapping where it is one of readings. Raises TypeError for another kind."""
        if not isinstance(self.mapping, Mapping):
            raise TypeError(f"{self.mapping.version} is no mapping of readings")
        return self.mapping

    @property
    def arrived_at(self) -> datetime:
        """The moment by which the times in it are judged."""
        return self.clock or self.received_at


@runtime_checkable
class Adapter(Protocol):
    """What reads one source format."""

    name: str
    """Name a mapping asks for it by."""

    suffixes: tuple[str, ...]
    """File name endings this format usually has."""

    def read(self, decoding: Decoding, session: duckdb.DuckDBPyConnection) -> None:
        """Fill tables `records` and `refused` of the session.

        Raises UnreadableSourceError where nothing of the payload can be used.
        """


@runtime_checkable
class BatchAdapter(Protocol):
    """An adapter that can also read several files of one mapping at once, faster."""

    def read_many(
        self, decodings: Sequence[Decoding], session: duckdb.DuckDBPyConnection
    ) -> dict[int, SourceError]:
        """Fill `batch_records` and `batch_refused` (see `create_batch`).

        Returns what is wrong with each file that cannot be used, by its place.
        """


@runtime_checkable
class LineAdapter(Protocol):
    """An adapter whose records are lines: a file that breaks off within one is not complete."""

    def is_of_lines(self, mapping: AnyMapping) -> bool:
        """Whether files of that mapping are, each line with an end of its own."""


def create_batch(session: duckdb.DuckDBPyConnection, mapping: AnyMapping) -> None:
    """Empty tables `batch_records(file_no, line, f0, ...)` and `batch_refused(file_no, ...)`."""
    fields = ", ".join(f"{name} VARCHAR" for name in field_names(mapping))
    session.execute(load_sql("warehouse.adapters", "batch_tables", fields=fields))


def field_names(mapping: AnyMapping) -> list[str]:
    """Column names of `records` for the mapping's fields: f0, f1, ..."""
    return [f"f{index}" for index in range(len(mapping.fields))]


def fill_records(session: duckdb.DuckDBPyConnection, records: pa.Table) -> None:
    """Create table `records` from an Arrow table of the right columns."""
    session.register("arrow_records", records)
    session.execute(load_sql("warehouse.adapters", "fill_records"))
    session.unregister("arrow_records")


def fill_refused(session: duckdb.DuckDBPyConnection, refused: list[dict[str, object]]) -> None:
    """Create table `refused` from rows of REFUSED_SCHEMA; raw text is cut to RAW_LENGTH."""
    rows = [{**row, "raw": str(row["raw"] or "")[:RAW_LENGTH]} for row in refused]
    session.register("arrow_refused", pa.Table.from_pylist(rows, REFUSED_SCHEMA))
    session.execute(load_sql("warehouse.adapters", "fill_refused"))
    session.unregister("arrow_refused")
