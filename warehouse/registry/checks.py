"""Checks over the entities together: keys, references, and mountings that overlap."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import pyarrow as pa

from schemas.tables.registry import ENTITIES

Rows = dict[str, list[dict[str, Any]]]

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

_FOREVER = dt.datetime.max.replace(tzinfo=dt.UTC)


def check_together(rows: Rows, known: dict[str, pa.Table]) -> Iterator[str]:
    """Every fault of the imported rows among themselves and with the registry so far."""
    yield from _keys_twice(rows)
    yield from _broken_references(rows, known)
    yield from _overlaps(rows, known)


def _keys_twice(rows: Rows) -> Iterator[str]:
    for name, found in rows.items():
        seen: dict[tuple[Any, ...], str] = {}
        for row in found:
            key = tuple(row[column] for column in ENTITIES[name].key)
            if key in seen:
                yield f"{row['_line']}: {_words(key)} stands in {seen[key]} already"
            seen.setdefault(key, row["_line"])


def _broken_references(rows: Rows, known: dict[str, pa.Table]) -> Iterator[str]:
    for name, target, columns in _REFERENCES:
        existing = {tuple(row[c] for c in columns) for row in rows.get(target, [])}
        stored = known[target].select(list(columns)).to_pylist()
        existing |= {tuple(row[c] for c in columns) for row in stored}
        for row in rows.get(name, []):
            key = tuple(row[column] for column in columns)
            if key not in existing:
                yield f"{row['_line']}: {_words(key)} is not in {target}"


def _overlaps(rows: Rows, known: dict[str, pa.Table]) -> Iterator[str]:
    """Mountings of one channel that overlap in time, both named."""
    imported = {_mounting_key(row) for row in rows.get("mountings", [])}
    stored = [
        {**row, "_line": "the registry"}
        for row in known["mountings"].to_pylist()
        if _mounting_key(row) not in imported
    ]
    channels: dict[tuple[str, str], list[dict[str, Any]]] = defaultdict(list)
    for row in [*stored, *rows.get("mountings", [])]:
        channels[row["device"], row["channel"]].append(row)
    for (device, channel), found in channels.items():
        ordered = sorted(found, key=lambda row: row["mounted_from"])
        for earlier, later in pairwise(ordered):
            if later["mounted_from"] < (earlier["mounted_to"] or _FOREVER):
                yield (
                    f"{later['_line']}: device {device} channel {channel} is mounted from "
                    f"{later['mounted_from']:%Y-%m-%dT%H:%MZ} while {earlier['_line']} has it on "
                    f"{earlier['site']}/{earlier['asset']} until {_until(earlier)}"
                )
    for row in rows.get("mountings", []):
        if row["mounted_to"] and row["mounted_to"] <= row["mounted_from"]:
            yield f"{row['_line']}: mounted_to does not lie after mounted_from"


def _mounting_key(row: dict[str, Any]) -> tuple[Any, ...]:
    return row["device"], row["channel"], row["mounted_from"]


def _until(row: dict[str, Any]) -> str:
    return f"{row['mounted_to']:%Y-%m-%dT%H:%MZ}" if row["mounted_to"] else "further notice"


def _words(key: tuple[Any, ...]) -> str:
    return "/".join(str(part) for part in key)
