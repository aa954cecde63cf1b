"""Reading delimited text with DuckDB's parser, every cell as text, many files at once."""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Mapping as Dict
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path

import duckdb
import pyarrow as pa

from warehouse.adapters.base import RAW_LENGTH, Decoding, create_batch
from warehouse.adapters.delimited.quotes import line_of_nothing
from warehouse.adapters.delimited.text import Text, as_utf8, first_lines
from warehouse.errors import SourceError, UnreadableSourceError
from warehouse.mapping import AnyMapping
from warehouse.sql import identifier, load_sql

_PACKAGE = "warehouse.adapters.delimited"
_STRAYS = pa.schema(
    [
        ("file_no", pa.int64()),
        ("line", pa.int64()),
        ("column_code", pa.string()),
        ("raw", pa.string()),
        ("fault", pa.string()),
    ]
)


class DelimitedAdapter:
    """Adapter for delimited text."""

    name = "delimited"
    suffixes = (".csv", ".tsv", ".txt")

    def is_of_lines(self, _: AnyMapping) -> bool:
        """Always."""
        return True

    def read(self, decoding: Decoding, session: duckdb.DuckDBPyConnection) -> None:
        """Fill `records` and `refused`; raises UnreadableSourceError for an unusable file."""
        with as_utf8(decoding) as text:
            _scan_alone(0, text, _header(text.path, decoding), decoding, session)
        session.execute(load_sql(_PACKAGE, "only_file"))

    def read_many(
        self, decodings: Sequence[Decoding], session: duckdb.DuckDBPyConnection
    ) -> dict[int, SourceError]:
        """Fill `batch_records` and `batch_refused`; files with the same header are one scan.

        Returns what is wrong with each file that cannot be used, by its place.
        """
        failed: dict[int, SourceError] = {}
        alike: dict[tuple[str, ...], dict[int, Text]] = defaultdict(dict)
        create_batch(session, decodings[0].mapping)
        with ExitStack() as stack:
            for number, decoding in enumerate(decodings):
                try:
                    text = stack.enter_context(as_utf8(decoding))
                    alike[tuple(_header(text.path, decoding))][number] = text
                except SourceError as error:
                    failed[number] = error
            for header, texts in alike.items():
                failed |= _add_alike(texts, list(header), decodings, session)
        return failed


def _add_alike(
    texts: Dict[int, Text],
    header: list[str],
    decodings: Sequence[Decoding],
    session: duckdb.DuckDBPyConnection,
) -> dict[int, SourceError]:
    """Add files with the same header to the batch: in one scan, else one by one."""
    failed: dict[int, SourceError] = {}
    try:
        _scan(texts, header, decodings[0], session)
        session.execute(load_sql(_PACKAGE, "add_to_batch"))
    except duckdb.InvalidInputException:
        for number, text in texts.items():
            try:
                _scan_alone(number, text, header, decodings[number], session)
                session.execute(load_sql(_PACKAGE, "add_to_batch"))
            except SourceError as error:
                failed[number] = error
    return failed


def _scan_alone(
    number: int,
    text: Text,
    header: list[str],
    decoding: Decoding,
    session: duckdb.DuckDBPyConnection,
) -> None:
    """One file; raises UnreadableSourceError where the parser gives it up as a whole."""
    session.execute(load_sql(_PACKAGE, "forget_refused"))
    try:
        _scan({number: text}, header, decoding, session)
    except duckdb.InvalidInputException as error:
        raise UnreadableSourceError(
            decoding.file,
            f"it is not read as delimited text: {str(error).splitlines()[0]}",
            "mend `delimiter` or `quote` under [file] in the mapping",
        ) from error


def _scan(
    texts: Dict[int, Text],
    header: list[str],
    decoding: Decoding,
    session: duckdb.DuckDBPyConnection,
) -> None:
    """Views `file_records` and table `file_refused` over files with the same header."""
    options = decoding.mapping.file
    wanted = [header.index(name) for name in decoding.mapping.fields]
    listed = [str(text.path) for text in texts.values()]
    session.register(
        "scanned_files",
        pa.table({"file_no": pa.array(list(texts), pa.int64()), "filename": listed}),
    )
    session.register("strays", _strays(texts))
    parameters = {
        "paths": listed,
        "delimiter": options.delimiter,
        "quote": options.quote,
        "skip": options.header_line,
        "columns": {f"c{index}": "VARCHAR" for index in range(len(header))},
        "max_line": decoding.max_line_bytes,
    }
    cells = ", ".join(f"c{column} AS f{index}" for index, column in enumerate(wanted))
    session.execute(load_sql(_PACKAGE, "cells", cells=cells), parameters)
    names = ", ".join(f"('c{i}', {_literal(name)})" for i, name in enumerate(header))
    nothing = _literal(line_of_nothing(options))
    fragments = {"names": names, "nothing": nothing, "raw_length": str(RAW_LENGTH)}
    session.execute(load_sql(_PACKAGE, "refused", **fragments))
    fields = ", ".join(identifier(f"f{index}") for index in range(len(wanted)))
    (refused,) = session.execute(load_sql(_PACKAGE, "any_refused")).fetchall()[0]
    lines = "lines_with_gaps" if refused else "lines"
    session.execute(load_sql(_PACKAGE, "starts"))
    session.execute(load_sql(_PACKAGE, lines, fields=fields, header_line=str(options.header_line)))


def _strays(texts: Dict[int, Text]) -> pa.Table:
    rows = [
        {
            "file_no": number,
            "line": one.line,
            "column_code": f"c{one.cell}",
            "raw": one.raw,
            "fault": one.fault,
        }
        for number, text in texts.items()
        for one in text.strays
    ]
    return pa.Table.from_pylist(rows, _STRAYS)


def _literal(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def _header(path: Path, decoding: Decoding) -> list[str]:
    """Column names, checked to have each field of the mapping once."""
    options = decoding.mapping.file
    lines = first_lines(path, options.header_line, decoding.max_line_bytes)
    if len(lines) < options.header_line:
        raise UnreadableSourceError(
            decoding.file,
            f"it ends before line {options.header_line}",
            "the mapping says the column names stand there",
        )
    reader = csv.reader([lines[-1]], delimiter=options.delimiter, quotechar=options.quote)
    try:
        header = [name.strip() for name in next(reader, [])]
    except csv.Error as error:
        raise UnreadableSourceError(
            decoding.file,
            f"line {options.header_line} is no line of column names: {error}",
            "mend `delimiter`, `quote` or `header_line` under [file] in the mapping",
        ) from error
    _check_columns(header, decoding)
    return header


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
