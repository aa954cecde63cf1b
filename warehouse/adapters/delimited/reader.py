"""Reading delimited text with DuckDB's parser, every cell as text."""

from __future__ import annotations

import csv
from pathlib import Path

import duckdb

from warehouse.adapters.base import RAW_LENGTH, Decoding
from warehouse.adapters.delimited.text import as_utf8, first_lines
from warehouse.errors import UnreadableSourceError
from warehouse.sql import identifier, load_sql

_PACKAGE = "warehouse.adapters.delimited"


class DelimitedAdapter:
    """Adapter for delimited text."""

    name = "delimited"
    suffixes = (".csv", ".tsv", ".txt")

    def read(self, decoding: Decoding, session: duckdb.DuckDBPyConnection) -> None:
        """Fill `records` and `refused`; raises UnreadableSourceError for an unusable file."""
        options = decoding.mapping.file
        with as_utf8(decoding.payload, options.encoding, decoding.file) as path:
            header = _header(path, decoding)
            _check_columns(header, decoding)
            self._scan(path, header, decoding, session)

    def _scan(
        self,
        path: Path,
        header: list[str],
        decoding: Decoding,
        session: duckdb.DuckDBPyConnection,
    ) -> None:
        options = decoding.mapping.file
        wanted = [header.index(name) for name in decoding.mapping.fields]
        cells = ", ".join(f"c{column} AS f{index}" for index, column in enumerate(wanted))
        parameters = {
            "path": str(path),
            "delimiter": options.delimiter,
            "quote": options.quote,
            "skip": options.header_line,
            "columns": {f"c{index}": "VARCHAR" for index in range(len(header))},
            "max_line": decoding.max_line_bytes,
        }
        session.execute(load_sql(_PACKAGE, "cells", cells=cells), parameters)
        names = ", ".join(f"('c{i}', {_literal(name)})" for i, name in enumerate(header))
        session.execute(load_sql(_PACKAGE, "refused", names=names, raw_length=str(RAW_LENGTH)))
        fields = ", ".join(identifier(f"f{index}") for index in range(len(wanted)))
        session.execute(
            load_sql(_PACKAGE, "records", fields=fields, header_line=str(options.header_line))
        )


def _literal(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def _header(path: Path, decoding: Decoding) -> list[str]:
    options = decoding.mapping.file
    lines = first_lines(path, options.header_line, decoding.max_line_bytes)
    if len(lines) < options.header_line:
        raise UnreadableSourceError(
            decoding.file,
            f"it ends before line {options.header_line}",
            "the mapping says the column names stand there",
        )
    reader = csv.reader([lines[-1]], delimiter=options.delimiter, quotechar=options.quote)
    return [name.strip() for name in next(reader, [])]


def _check_columns(header: list[str], decoding: Decoding) -> None:
    line = decoding.mapping.file.header_line
    missing = [name for name in decoding.mapping.fields if name not in header]
    if missing:
        raise UnreadableSourceError(
            decoding.file,
            f"line {line} lacks the column {', '.join(map(repr, missing))}",
            f"it has {', '.join(map(repr, header[:30]))}; mend the mapping's `from`, "
            "`delimiter` or `header_line`",
        )
    twice = [name for name in decoding.mapping.fields if header.count(name) > 1]
    if twice:
        raise UnreadableSourceError(
            decoding.file,
            f"line {line} has the column {', '.join(map(repr, twice))} more than once",
            "each column the mapping names must stand there once",
        )
