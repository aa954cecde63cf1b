"""Identity of a reading and of a series, as SQL fragments everyone shares.

Comparison is null-safe (`IS NOT DISTINCT FROM`): a plain `=` would take every
row without a band for new.
"""

from __future__ import annotations

from collections.abc import Iterable

from schemas.tables.readings import IDENTITY

CURRENT_READINGS = """
SELECT readings.* FROM readings
ANTI JOIN superseded
ON readings.package = superseded.package AND readings.row = superseded.row
""".strip()
"""The one documented rule which rows count: readings anti-joined with `superseded`."""


def same(left: str, right: str, columns: Iterable[str]) -> str:
    """SQL condition: the rows named `left` and `right` agree, null-safe, in `columns`."""
    return " AND ".join(f"{left}.{name} IS NOT DISTINCT FROM {right}.{name}" for name in columns)


def same_stream(left: str, right: str) -> str:
    """SQL condition: both rows are of one stream (same source, device, channel, thing measured)."""
    return same(left, right, (name for name in IDENTITY if name not in ("ts", "take")))


def same_reading(left: str, right: str) -> str:
    """SQL condition: both rows are the same reading (same stream, thing measured and time)."""
    return same(left, right, IDENTITY)
