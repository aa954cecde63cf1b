"""Checks over the entities together: keys, references, and mountings that overlap."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from operator import itemgetter
from typing import Any

import pyarrow as pa

from schemas.tables.registry import ENTITIES

Rows = dict[str, list[dict[str, Any]]]
_Key = tuple[Any, ...]

_REFERENCES = (
    ("assets", "sites", ("site",)),
    ("members", "assets", ("site", "asset")),
    ("installations", "members", ("site", "asset", "member")),
    ("installations", "units", ("serial",)),
    ("shafts", "assets", ("site", "asset")),
    ("points", "members", ("site", "asset", "member")),
    ("mountings", "devices", ("device",)),
    ("mountings", "points", ("site", "asset", "position")),
    ("routes", "points", ("site", "asset", "position")),
    ("limit_assignments", "members", ("site", "asset", "member")),
)
"""Which entity must exist for another: of what, in what, by which columns."""

_MOUNTING = ("device", "channel", "mounted_from")
_FOREVER = dt.datetime.max.replace(tzinfo=dt.UTC)


def check_together(
    rows: Rows, known: dict[str, pa.Table], withdrawn: Rows | None = None
) -> Iterator[str]:
    """Every fault of the imported rows among themselves and with the registry so far."""
    gone = withdrawn or {}
    yield from _keys_twice(rows, gone)
    yield from _nothing_to_withdraw(gone, known)
    yield from _broken_references(rows, known, gone)
    yield from _still_needed(rows, known, gone)
    yield from _ends_before_it_starts(rows)
    yield from _overlaps(rows, known, gone)


def _keys_twice(rows: Rows, gone: Rows) -> Iterator[str]:
    for name in rows:
        seen: dict[_Key, str] = {}
        for row in [*rows[name], *gone.get(name, [])]:
            key = tuple(row[column] for column in ENTITIES[name].key)
            if key in seen:
                yield f"{row['_line']}: {_words(key)} stands in {seen[key]} already"
            seen.setdefault(key, row["_line"])


def _nothing_to_withdraw(gone: Rows, known: dict[str, pa.Table]) -> Iterator[str]:
    for name, found in gone.items():
        columns = ENTITIES[name].key
        stored = _stored_keys(known[name], columns) if found else set()
        for row in found:
            key = tuple(row[column] for column in columns)
            if key not in stored:
                yield f"{row['_line']}: {_words(key)} is not in {name}; nothing to take back"


def _broken_references(rows: Rows, known: dict[str, pa.Table], gone: Rows) -> Iterator[str]:
    for name, target, columns in _REFERENCES:
        if not rows.get(name):
            continue
        existing = _existing(rows, known, gone, target, columns)
        for row in rows[name]:
            key = tuple(row[column] for column in columns)
            if key not in existing:
                yield f"{row['_line']}: {_words(key)} is not in {target}"


def _still_needed(rows: Rows, known: dict[str, pa.Table], gone: Rows) -> Iterator[str]:
    """Entities taken back, or moved, to which others of the registry still refer."""
    for name, target, columns in _REFERENCES:
        if not gone.get(target):
            continue
        lines = {tuple(row[column] for column in columns): row["_line"] for row in gone[target]}
        lines = {
            key: line
            for key, line in lines.items()
            if key not in _existing(rows, known, gone, target, columns)
        }
        table = ENTITIES[name]
        restated = {tuple(row[c] for c in table.key) for row in _both(rows, gone, name)}
        stored = zip(_tuples(known[name], table.key), _tuples(known[name], columns), strict=True)
        for key, reference in stored:
            if reference in lines and key not in restated:
                yield f"{lines[reference]}: {_words(reference)} is needed by {name} {_words(key)}"


def _existing(
    rows: Rows, known: dict[str, pa.Table], gone: Rows, target: str, columns: tuple[str, ...]
) -> set[_Key]:
    stored = _stored_keys(known[target], columns)
    stored -= {tuple(row[c] for c in columns) for row in gone.get(target, [])}
    return stored | {tuple(row[c] for c in columns) for row in rows.get(target, [])}


def _both(rows: Rows, gone: Rows, name: str) -> list[dict[str, Any]]:
    return [*rows.get(name, []), *gone.get(name, [])]


def _ends_before_it_starts(rows: Rows) -> Iterator[str]:
    for row in rows.get("mountings", []):
        if row["mounted_to"] and row["mounted_to"] <= row["mounted_from"]:
            yield f"{row['_line']}: mounted_to does not lie after mounted_from"


def _overlaps(rows: Rows, known: dict[str, pa.Table], gone: Rows) -> Iterator[str]:
    """Mountings of one channel that overlap in time, both named."""
    channels: dict[_Key, list[dict[str, Any]]] = defaultdict(list)
    for row in rows.get("mountings", []):
        channels[row["device"], row["channel"]].append(row)
    restated = {tuple(row[c] for c in _MOUNTING) for row in _both(rows, gone, "mountings")}
    for row in _stored_mountings(known["mountings"], set(channels)):
        if tuple(row[c] for c in _MOUNTING) not in restated:
            channels[row["device"], row["channel"]].append(row)
    for found in channels.values():
        if len(found) > 1:
            yield from _overlaps_of_one(sorted(found, key=itemgetter("mounted_from")))


def _overlaps_of_one(ordered: list[dict[str, Any]]) -> Iterator[str]:
    """Each mounting against the one before it that lasts longest."""
    longest = ordered[0]
    for later in ordered[1:]:
        if later["mounted_from"] < (longest["mounted_to"] or _FOREVER):
            yield (
                f"{later['_line']}: device {later['device']} channel {later['channel']} is mounted "
                f"from {later['mounted_from']:%Y-%m-%dT%H:%MZ} while {longest['_line']} has it on "
                f"{longest['site']}/{longest['asset']} until {_until(longest)}"
            )
        if (later["mounted_to"] or _FOREVER) > (longest["mounted_to"] or _FOREVER):
            longest = later


def _stored_mountings(table: pa.Table, channels: set[_Key]) -> Iterator[dict[str, Any]]:
    """Stored mountings of those channels only: a big registry is not spelt out."""
    names = _tuples(table, ("device", "channel"))
    wanted = [index for index, name in enumerate(names) if name in channels]
    for row in table.take(pa.array(wanted, pa.int64())).to_pylist():
        yield {**row, "_line": "the registry"}


def _stored_keys(table: pa.Table, columns: tuple[str, ...]) -> set[_Key]:
    return set(_tuples(table, columns))


def _tuples(table: pa.Table, columns: tuple[str, ...]) -> Iterator[_Key]:
    """Rows of some columns as tuples, column by column."""
    return zip(*(table.column(name).to_pylist() for name in columns), strict=True)


def _until(row: dict[str, Any]) -> str:
    return f"{row['mounted_to']:%Y-%m-%dT%H:%MZ}" if row["mounted_to"] else "further notice"


def _words(key: _Key) -> str:
    return "/".join(
        part.isoformat() if isinstance(part, dt.datetime) else str(part) for part in key
    )
