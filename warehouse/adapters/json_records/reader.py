"""Reading JSON records, every value as text.

Numbers are taken as the text that stands in the file: the digits a source
printed say how finely it measured, and 2.50 is not 2.5. Parsing is therefore
by Python's own parser, document by document; the fields are then cut out in
columns.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from typing import Any

import duckdb
import ijson
import pyarrow as pa

from warehouse.adapters.base import Decoding, field_names, fill_refused
from warehouse.adapters.json_records.paths import engine_path, steps
from warehouse.adapters.json_text import TwiceNamed, parse, twice_named
from warehouse.errors import UnreadableSourceError
from warehouse.mapping import AnyMapping
from warehouse.sql import load_sql

_PACKAGE = "warehouse.adapters.json_records"
_REPLACEMENT = "\N{REPLACEMENT CHARACTER}"
_HALF_CHARACTER = re.compile(r"\\u[dD][89a-fA-F]")
"""An escape that is half of a character, or of a pair that together is one."""
_HALF = re.compile("[\ud800-\udfff]")

Refused = dict[str, object]
Records = tuple[list[int], list[Any], Any]
"""Line numbers, records, and the document around them (None where each is its own)."""


class JsonRecordsAdapter:
    """Adapter for JSON documents and JSON lines."""

    name = "json-records"
    suffixes = (".json", ".jsonl", ".ndjson")

    def is_of_lines(self, mapping: AnyMapping) -> bool:
        """Where each line is a document of its own."""
        return mapping.file.lines

    def read(self, decoding: Decoding, session: duckdb.DuckDBPyConnection) -> None:
        """Fill `records` and `refused`; raises UnreadableSourceError for an unusable file."""
        text = _text(decoding)
        if decoding.mapping.file.lines:
            records, refused = _lines(text, decoding.max_line_bytes)
        else:
            records, refused = _document(text, decoding)
        _fill(records, decoding, session)
        fill_refused(session, refused)


def _text(decoding: Decoding) -> str:
    raw = decoding.payload.read_bytes()
    if not raw.strip():
        raise UnreadableSourceError(decoding.file, "it is empty", "JSON text is needed")
    if b"\x00" in raw[:65_536]:
        raise UnreadableSourceError(
            decoding.file, "it is binary: it has a zero byte", "JSON text is needed"
        )
    return raw.decode("utf-8-sig", errors="replace")


def _lines(text: str, longest: int) -> tuple[Records, list[Refused]]:
    numbers: list[int] = []
    records: list[Any] = []
    refused: list[Refused] = []
    for number, line in enumerate(text.split("\n"), 1):
        if not line.strip():
            continue
        record, fault = _one_line(line, longest)
        if fault:
            refused.append(_refusal(number, fault, line))
        else:
            numbers.append(number)
            records.append(record)
    return (numbers, records, None), refused


def _one_line(line: str, longest: int) -> tuple[Any, str | None]:
    if len(line) > longest:
        return None, "the line is longer than the setting max_line_bytes allows"
    if _REPLACEMENT in line:
        return None, "bytes that are not UTF-8"
    try:
        record, ambiguous = parse(line)
    except json.JSONDecodeError as error:
        return None, f"not one whole JSON document: {error.msg} at column {error.colno}"
    except RecursionError:
        return None, "nested too deeply"
    return record, _fault(record, _doubtful(line), ambiguous > 0)


def _doubtful(text: str) -> bool:
    """Whether characters of the text may be no characters, so that records need a look."""
    return _REPLACEMENT in text or _HALF_CHARACTER.search(text) is not None


def _fault(record: Any, doubtful: bool, ambiguous: bool) -> str | None:
    """What keeps a parsed value from being a record."""
    if not isinstance(record, dict):
        return "an object is needed for each record"
    if ambiguous and (keys := twice_named(record)):
        return f"the key {keys[0]!r} stands twice in one object: which value counts is not told"
    if doubtful:
        written = _written(record)
        if _REPLACEMENT in written:
            return "bytes that are not UTF-8"
        if _HALF.search(written):
            return "an escape in it stands for half a character"
    return None


def _written(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, default=str)


def _document(text: str, decoding: Decoding) -> tuple[Records, list[Refused]]:
    try:
        document, ambiguous = parse(text)
    except json.JSONDecodeError as error:
        return _salvage(text, decoding, error)
    except RecursionError as error:
        raise UnreadableSourceError(
            decoding.file, "it is nested too deeply", "one JSON document is needed"
        ) from error
    path = decoding.mapping.file.records
    found = document if path == "$" else next(_walk([document], steps(path)[:-1]), None)
    records = found if isinstance(found, list) else [found]
    if not any(isinstance(record, dict) for record in records):
        raise UnreadableSourceError(
            decoding.file,
            f"there are no records at {path}",
            "mend `records` under [file] in the mapping",
        )
    if ambiguous and ambiguous > sum(len(twice_named(record)) for record in records):
        raise UnreadableSourceError(
            decoding.file,
            f"around its records the key {twice_named(document)[0]!r} stands twice in one object",
            "each key once in an object (RFC 8259, section 4)",
        )
    kept, refused = _sorted_out(records, text, ambiguous > 0)
    return (*kept, document), refused


def _sorted_out(
    records: list[Any], text: str, ambiguous: bool
) -> tuple[tuple[list[int], list[Any]], list[Refused]]:
    """Numbers and records that can be used, and the refused ones."""
    doubtful = _doubtful(text)
    faults = {n: _fault(record, doubtful, ambiguous) for n, record in enumerate(records, 1)}
    good = [(n, record) for n, record in enumerate(records, 1) if faults[n] is None]
    refused = [
        _refusal(n, fault, json.dumps(records[n - 1], default=str))
        for n, fault in faults.items()
        if fault is not None
    ]
    return ([n for n, _ in good], [record for _, record in good]), refused


def _walk(nodes: Iterable[Any], path: list[str]) -> Iterator[Any]:
    for node in nodes:
        for key in path:
            node = node.get(key) if isinstance(node, dict) else None
        yield node


def _salvage(
    text: str, decoding: Decoding, error: json.JSONDecodeError
) -> tuple[Records, list[Refused]]:
    """The complete records before the break of a broken document."""
    path = decoding.mapping.file.records
    prefix = ".".join(steps(path)) if path != "$" else "item"
    records = [record for record in _until_break(text, prefix) if isinstance(record, dict)]
    where = f"line {error.lineno} column {error.colno}"
    if not records:
        raise UnreadableSourceError(
            decoding.file, f"it is not JSON: {error.msg} at {where}", "one JSON document is needed"
        ) from error
    around = text[max(0, error.pos - 100) : error.pos + 100]
    lost = _refusal(len(records) + 1, f"the document breaks off: {error.msg} at {where}", around)
    kept, refused = _sorted_out(records, text, True)
    return (*kept, _outer(text, decoding)), [*refused, lost]


def _outer(text: str, decoding: Decoding) -> dict[str, Any]:
    """What the mapping takes from around the records, as far as the document reaches."""
    outer: dict[str, Any] = {}
    for field in decoding.mapping.fields:
        if field.startswith("$."):
            *parents, leaf = steps(field)
            branch = outer
            for key in parents:
                branch = branch.setdefault(key, {})
            branch[leaf] = next(_until_break(text, ".".join(steps(field))), None)
    return outer


def _until_break(text: str, prefix: str) -> Iterator[Any]:
    try:
        yield from ijson.items(text.encode(), prefix, map_type=TwiceNamed)
    except ijson.JSONError:
        return


def _refusal(line: int, detail: str, raw: str) -> Refused:
    return {
        "line": line,
        "column_name": None,
        "reason": "undecodable",
        "detail": detail,
        "raw": raw,
    }


def _fill(records: Records, decoding: Decoding, session: duckdb.DuckDBPyConnection) -> None:
    """Table `records`: each field's text, from the record or from the document."""
    numbers, found, document = records
    fields = decoding.mapping.fields
    outer = [field for field in fields if field.startswith("$.")]
    inner = [field for field in fields if field not in outer]
    places = {field: f"found[{n}]" for n, field in enumerate(inner, 1)}
    places |= {field: f"around[{n}]" for n, field in enumerate(outer, 1)}
    columns = ", ".join(
        f"{places[field]} AS {name}"
        for field, name in zip(fields, field_names(decoding.mapping), strict=True)
    )
    texts = pa.array([json.dumps(record, default=str) for record in found], pa.string())
    session.register("arrow_json", pa.table({"line": pa.array(numbers, pa.int64()), "text": texts}))
    parameters = {
        "inner": [engine_path(field) for field in inner],
        "outer": [engine_path(field) for field in outer],
        "document": _written(document).encode(errors="replace").decode() if outer else "{}",
    }
    session.execute(load_sql(_PACKAGE, "records", columns=columns), parameters)
    session.unregister("arrow_json")
