"""How a table of the open schema is described: columns, keys, partitions."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import pyarrow as pa

ColumnType = Literal["string", "int32", "int64", "float64", "bool", "timestamp", "date"]

_ARROW: dict[ColumnType, pa.DataType] = {
    "string": pa.string(),
    "int32": pa.int32(),
    "int64": pa.int64(),
    "float64": pa.float64(),
    "bool": pa.bool_(),
    "timestamp": pa.timestamp("us", "UTC"),
    "date": pa.date32(),
}

_SQL: dict[ColumnType, str] = {
    "string": "VARCHAR",
    "int32": "INTEGER",
    "int64": "BIGINT",
    "float64": "DOUBLE",
    "bool": "BOOLEAN",
    "timestamp": "TIMESTAMPTZ",
    "date": "DATE",
}


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, type, meaning, and unit where it carries one.

    `unit` is a UCUM code, or a sentence where the unit stands in another
    column. `codes` names the code list of `schemas.codes` a value comes from.
    `since` is the format version that brought the column: rows written before
    have no value in it.
    """

    name: str
    type: ColumnType
    description: str
    unit: str | None = None
    required: bool = False
    codes: str | None = None
    since: int = 1

    @property
    def arrow(self) -> pa.Field:
        """The Arrow field; description and unit travel as its metadata."""
        metadata = {"description": self.description}
        if self.unit:
            metadata["unit"] = self.unit
        return pa.field(self.name, _ARROW[self.type], not self.required, metadata)

    @property
    def sql_type(self) -> str:
        """The SQL type DuckDB reads this column as."""
        return _SQL[self.type]


@dataclass(frozen=True, slots=True)
class Table:
    """One table of the open schema.

    `key` names the columns that identify a row (compared null-safe),
    `partition_by` the slug columns Delta partitions on, which stand in the
    file paths only: every engine finds the real columns inside the files. `since`
    is the format version that brought the table.
    """

    name: str
    purpose: str
    grain: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    partition_by: tuple[str, ...] = ()
    sort_by: tuple[str, ...] = ()
    since: int = 1
    column_names: tuple[str, ...] = field(init=False, repr=False, compare=False)
    """Names of the columns inside the data files, in order."""

    def __post_init__(self) -> None:
        names = tuple(column.name for column in self.columns)
        object.__setattr__(self, "column_names", names)
        if len(set(names)) != len(names):
            raise ValueError(f"table {self.name}: a column name stands twice")
        for name in (*self.key, *self.sort_by):
            if name not in names:
                raise ValueError(f"table {self.name}: {name} is not a column of it")
        for column in self.columns:
            if column.since > 1 and column.required:
                raise ValueError(f"table {self.name}: {column.name} is null in rows of before")

    @property
    def arrow(self) -> pa.Schema:
        """Arrow schema of the data files, without partition columns."""
        return pa.schema([column.arrow for column in self.columns])

    @property
    def arrow_with_partitions(self) -> pa.Schema:
        """Arrow schema as the Delta log states it, partition slugs included."""
        slugs = [pa.field(name, pa.string(), nullable=False) for name in self.partition_by]
        return pa.schema([*self.arrow, *slugs])

    def as_of_version(self, version: int) -> Table:
        """The table as a format version knew it: without the columns that came later."""
        known = tuple(column for column in self.columns if column.since <= version)
        return replace(self, columns=known)

    def column(self, name: str) -> Column:
        """The column of that name. Raises KeyError for an unknown one."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(f"table {self.name} has no column {name}")
