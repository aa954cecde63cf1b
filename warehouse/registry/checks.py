"""Checks over the entities together: keys, references, and times that overlap."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass
from operator import itemgetter
from typing import Any

import pyarrow as pa

from schemas.tables.registry import ENTITIES
from warehouse.registry.cells import FAULTY
from warehouse.registry.route_checks import unreadable_stops

_Row = dict[str, Any]
Rows = dict[str, list[_Row]]
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
    ("limit_assignments", "points", ("site", "asset", "position")),
)
"""Which entity must exist for another: of what, in what, by which columns."""


@dataclass(frozen=True, slots=True)
class _Span:
    """Entities that hold from `first` to `last`, and do so one at a time for each `of`.

    `told` says that `{later}` starts within `{earlier}`.
    """

    entity: str
    of: tuple[str, ...]
    first: str
    last: str
    told: str

    @property
    def key(self) -> tuple[str, ...]:
        return (*self.of, self.first)


_SPANS = (
    _Span(
        "mountings", ("device", "channel"), "mounted_from", "mounted_to",
        "device {later[device]} channel {later[channel]} is mounted from {start} while "
        "{earlier[_line]} has it on {earlier[site]}/{earlier[asset]} until {until}",
    ),
    _Span(
        "limit_assignments", ("site", "asset", "member", "position"), "assigned_from",
        "assigned_to",
        "{place} gets the limit set {later[limit_set]} from {start} while {earlier[_line]} gives "
        "it {earlier[limit_set]} until {until}",
    ),
)  # fmt: skip
_FOREVER = dt.datetime.max.replace(tzinfo=dt.UTC)


def check_together(
    rows: Rows,
    known: dict[str, pa.Table],
    withdrawn: Rows | None = None,
    unread: Collection[str] = (),
) -> Iterator[str]:
    """Every fault of the imported rows among themselves and with the registry so far.

    Cells may be FAULTY: each check looks at the rows that are sound in what it
    needs. What a faulty key, or a row of the `unread` kinds, could be is not
    said to be missing.
    """
    gone = withdrawn or {}
    yield from _keys_twice(rows, gone)
    yield from _nothing_to_withdraw(gone, known)
    yield from _broken_references(rows, known, gone, unread)
    yield from _still_needed(rows, known, gone, unread)
    yield from _ends_before_it_starts(rows)
    yield from _points_of_others(rows, known)
    yield from unreadable_stops(rows.get("routes", []))
    for span in _SPANS:
        yield from _overlaps(span, rows, known, gone, unread)


def _sound(found: Iterable[_Row], columns: tuple[str, ...]) -> Iterator[tuple[_Key, _Row]]:
    """Rows whose cells in those columns are sound, each with these as its key."""
    take = _key_of(columns)
    for row in found:
        key = take(row)
        if FAULTY not in key:
            yield key, row


def _key_of(columns: tuple[str, ...]) -> Callable[[_Row], _Key]:
    if len(columns) > 1:
        return itemgetter(*columns)
    return lambda row: (row[columns[0]],)


class _Unsure:
    """Keys of which a cell is faulty: whether one of them could be a key that is asked for."""

    def __init__(self, found: Iterable[_Row], columns: tuple[str, ...]) -> None:
        self._by_places: dict[tuple[int, ...], set[_Key]] = defaultdict(set)
        for key in map(_key_of(columns), found):
            if FAULTY in key:
                places = tuple(place for place, part in enumerate(key) if part is not FAULTY)
                self._by_places[places].add(tuple(key[place] for place in places))

    def may_be(self, key: _Key) -> bool:
        return any(
            tuple(key[place] for place in places) in parts
            for places, parts in self._by_places.items()
        )


def _keys_twice(rows: Rows, gone: Rows) -> Iterator[str]:
    for name in rows:
        seen: dict[_Key, str] = {}
        for key, row in _sound(_both(rows, gone, name), ENTITIES[name].key):
            if key in seen:
                yield f"{row['_line']}: {_words(key)} stands in {seen[key]} already"
            seen.setdefault(key, row["_line"])


def _nothing_to_withdraw(gone: Rows, known: dict[str, pa.Table]) -> Iterator[str]:
    for name, found in gone.items():
        columns = ENTITIES[name].key
        stored = _stored_keys(known[name], columns) if found else set()
        for key, row in _sound(found, columns):
            if key not in stored:
                yield f"{row['_line']}: {_words(key)} is not in {name}; nothing to take back"


def _broken_references(
    rows: Rows, known: dict[str, pa.Table], gone: Rows, unread: Collection[str]
) -> Iterator[str]:
    for name, target, columns in _REFERENCES:
        if not rows.get(name) or target in unread:
            continue
        existing = _existing(rows, known, gone, target, columns)
        unsure = _Unsure(rows.get(target, []), columns)
        for key, row in _sound(rows[name], columns):
            if key not in existing and None not in key and not unsure.may_be(key):
                yield f"{row['_line']}: {_words(key)} is not in {target}"


def _still_needed(
    rows: Rows, known: dict[str, pa.Table], gone: Rows, unread: Collection[str]
) -> Iterator[str]:
    """Entities taken back, or moved, to which others of the registry still refer."""
    for name, target, columns in _REFERENCES:
        if not gone.get(target) or {name, target} & set(unread):
            continue
        existing = _existing(rows, known, gone, target, columns)
        again = _Unsure(rows.get(target, []), columns)
        lines = {
            key: row["_line"]
            for key, row in _sound(gone[target], columns)
            if key not in existing and not again.may_be(key)
        }
        table = ENTITIES[name]
        restated = {key for key, _ in _sound(_both(rows, gone, name), table.key)}
        unsure = _Unsure(_both(rows, gone, name), table.key)
        stored = zip(_tuples(known[name], table.key), _tuples(known[name], columns), strict=True)
        for key, reference in stored:
            if reference in lines and key not in restated and not unsure.may_be(key):
                yield f"{lines[reference]}: {_words(reference)} is needed by {name} {_words(key)}"


def _existing(
    rows: Rows, known: dict[str, pa.Table], gone: Rows, target: str, columns: tuple[str, ...]
) -> set[_Key]:
    stored = _stored_keys(known[target], columns)
    stored -= {key for key, _ in _sound(gone.get(target, []), columns)}
    return stored | {key for key, _ in _sound(rows.get(target, []), columns)}


def _both(rows: Rows, gone: Rows, name: str) -> list[_Row]:
    return [*rows.get(name, []), *gone.get(name, [])]


def _ends_before_it_starts(rows: Rows) -> Iterator[str]:
    for span in _SPANS:
        for (start, end), row in _sound(rows.get(span.entity, []), (span.first, span.last)):
            if end and end <= start:
                yield f"{row['_line']}: {span.last} does not lie after {span.first}"


def _points_of_others(rows: Rows, known: dict[str, pa.Table]) -> Iterator[str]:
    """Limit sets assigned to a point that sits on another member than the one named."""
    place, sits = ("site", "asset", "position"), ("site", "asset", "position", "member")
    assigned = [
        (key, row)
        for key, row in _sound(rows.get("limit_assignments", []), sits)
        if key[2] is not None
    ]
    if not assigned:
        return
    members = {key[:3]: key[3] for key in _tuples(known["points"], sits)}
    members |= {key[:3]: key[3] for key, _ in _sound(rows.get("points", []), sits)}
    unsure = _Unsure(rows.get("points", []), place)
    for key, row in assigned:
        member = members.get(key[:3], key[3])
        if member not in (key[3], FAULTY) and not unsure.may_be(key[:3]):
            yield f"{row['_line']}: {_words(key[:3])} sits on {member}, not on {key[3]}"


def _overlaps(
    span: _Span,
    rows: Rows,
    known: dict[str, pa.Table],
    gone: Rows,
    unread: Collection[str],
) -> Iterator[str]:
    """Entities of one thing that overlap in time, both named."""
    things: dict[_Key, list[_Row]] = defaultdict(list)
    for key, row in _sound(rows.get(span.entity, []), (*span.key, span.last)):
        things[key[:-2]].append(row)
    both = _both(rows, gone, span.entity)
    restated = {key for key, _ in _sound(both, span.key)}
    unsure = _Unsure(both, span.key)
    table = known[span.entity]
    stored = () if span.entity in unread else _stored_of(table, span.of, set(things))
    for key, row in _sound(stored, span.key):
        if key not in restated and not unsure.may_be(key):
            things[key[:-1]].append(row)
    for found in things.values():
        if len(found) > 1:
            yield from _overlaps_of_one(span, sorted(found, key=itemgetter(span.first)))


def _overlaps_of_one(span: _Span, ordered: list[_Row]) -> Iterator[str]:
    """Each against the one before it that lasts longest."""
    longest = ordered[0]
    for later in ordered[1:]:
        end = longest[span.last]
        if later[span.first] < (end or _FOREVER):
            told = span.told.format(
                later=later,
                earlier=longest,
                place=_words(tuple(later[name] for name in span.of)),
                start=f"{later[span.first]:%Y-%m-%dT%H:%MZ}",
                until=f"{end:%Y-%m-%dT%H:%MZ}" if end else "further notice",
            )
            yield f"{later['_line']}: {told}"
        if (later[span.last] or _FOREVER) > (end or _FOREVER):
            longest = later


def _stored_of(table: pa.Table, of: tuple[str, ...], things: set[_Key]) -> Iterator[_Row]:
    """Stored entities of those things only: a big registry is not spelt out."""
    names = _tuples(table, of)
    wanted = [index for index, name in enumerate(names) if name in things]
    for row in table.take(pa.array(wanted, pa.int64())).to_pylist():
        yield {**row, "_line": "the registry"}


def _stored_keys(table: pa.Table, columns: tuple[str, ...]) -> set[_Key]:
    return set(_tuples(table, columns))


def _tuples(table: pa.Table, columns: tuple[str, ...]) -> Iterator[_Key]:
    """Rows of some columns as tuples, column by column."""
    return zip(*(table.column(name).to_pylist() for name in columns), strict=True)


def _words(key: _Key) -> str:
    return "/".join(
        part.isoformat() if isinstance(part, dt.datetime) else str(part)
        for part in key
        if part is not None
    )
