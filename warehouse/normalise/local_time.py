"""Local days of a time zone: their offsets, and the hours that are missing or repeat.

Source of the rules: the IANA time zone database as Python's `zoneinfo` reads it.
"""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

import pyarrow as pa

_DAY = dt.timedelta(days=1)

ZONE_DAYS_SCHEMA = pa.schema(
    [
        ("day", pa.date32()),
        ("offset_before", pa.int32()),
        ("offset_after", pa.int32()),
        ("change", pa.string()),
        ("change_from", pa.timestamp("us")),
        ("change_to", pa.timestamp("us")),
    ]
)


@lru_cache(maxsize=64)
def zone_days(zone: str, first: dt.date, last: dt.date) -> pa.Table:
    """Offsets of each local day from `first` to `last` inclusive.

    Columns: `day`; `offset_before` and `offset_after` the day's change, in
    seconds east of UTC (equal on a day without one); `change` is `missing`,
    `ambiguous` or null; `change_from`, `change_to` bound the local times that
    are missing or repeat (half open).
    """
    rules = ZoneInfo(zone)
    start = dt.datetime.combine(first, dt.time(), dt.UTC) - 2 * _DAY
    end = dt.datetime.combine(last, dt.time(), dt.UTC) + 2 * _DAY
    rows: list[tuple[Any, ...]] = []
    changes = _changes(rules, start, end)
    offset = _offset(rules, start)
    day = first
    while day <= last:
        while changes and changes[0][3].date() <= day and not _touches(changes[0], day):
            offset = changes.pop(0)[1]
        if changes and _touches(changes[0], day):
            before, after, low, high = changes[0]
            kind = "missing" if after > before else "ambiguous"
            rows.append((day, before, after, kind, low, high))
        else:
            rows.append((day, offset, offset, None, None, None))
        day += _DAY
    columns = list(zip(*rows, strict=True)) or [()] * len(ZONE_DAYS_SCHEMA)
    arrays = [pa.array(c, f.type) for c, f in zip(columns, ZONE_DAYS_SCHEMA, strict=True)]
    return pa.Table.from_arrays(arrays, schema=ZONE_DAYS_SCHEMA)


_Change = tuple[int, int, dt.datetime, dt.datetime]
"""Offsets before and after, and the local times between which clocks jump."""


def _touches(change: _Change, day: dt.date) -> bool:
    start = dt.datetime.combine(day, dt.time())
    return change[2] < start + _DAY and change[3] > start


def _offset(rules: ZoneInfo, instant: dt.datetime) -> int:
    offset = instant.astimezone(rules).utcoffset()
    assert offset is not None, "an aware time has an offset"
    return int(offset.total_seconds())


def _changes(rules: ZoneInfo, start: dt.datetime, end: dt.datetime) -> list[_Change]:
    found = []
    instant = start
    while instant < end:
        following = min(instant + _DAY, end)
        before, after = _offset(rules, instant), _offset(rules, following)
        if before != after:
            at = _bisect(rules, instant, following).replace(tzinfo=None)
            edges = sorted(at + dt.timedelta(seconds=s) for s in (before, after))
            found.append((before, after, edges[0], edges[1]))
        instant = following
    return found


def _bisect(rules: ZoneInfo, low: dt.datetime, high: dt.datetime) -> dt.datetime:
    """First instant, to the second, with the offset that `high` has."""
    target = _offset(rules, high)
    while high - low > dt.timedelta(seconds=1):
        middle = (low + (high - low) / 2).replace(microsecond=0)
        if _offset(rules, middle) == target:
            high = middle
        else:
            low = middle
    return high
