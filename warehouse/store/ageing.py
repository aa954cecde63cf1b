"""How long ago something was, by a clock that may have jumped.

A wrong clock cannot be told from a long pause. So a stretch in which nothing
was published counts as half of a retention at most: however far the clock
jumps ahead, what is younger than the other half by a right clock stays. Where
the newest published state lies in the future, the clock is wrong now or was
then, and nothing is called old.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from schemas.tables.snapshots import SNAPSHOTS
from warehouse.clock import TOLERANCE
from warehouse.errors import ClockError
from warehouse.store.files import read_rows
from warehouse.store.layout import Store


def published_moments(store: Store) -> list[dt.datetime]:
    """When each published state was published, in their order."""
    files = (file.path for file in store.table(SNAPSHOTS).files())
    rows = read_rows(SNAPSHOTS, files).sort_by("seq")
    moments: list[dt.datetime] = rows.column("published_at").to_pylist()
    return moments


def check_clock(store: Store, moments: Sequence[dt.datetime], now: dt.datetime) -> None:
    """Raise ClockError where the newest published state lies in the future."""
    if moments and moments[-1] > now + TOLERANCE:
        raise ClockError(
            store.home,
            f"the newest published state is of {moments[-1]:%Y-%m-%d %H:%M} UTC, but this "
            f"machine's clock says {now:%Y-%m-%d %H:%M} UTC: how old anything is cannot be told",
            "set the clock; if it is right now, `mcw judge` publishes a state of today",
        )


def believed_now(moments: Sequence[dt.datetime], now: dt.datetime, days: int) -> dt.datetime:
    """`now`, less what long stretches without a published state count too much for `days`."""
    retention = dt.timedelta(days=days)
    longest = retention / 2
    moment, counted, too_much = now, dt.timedelta(), dt.timedelta()
    for earlier in reversed(moments):
        stretch = moment - earlier
        if stretch > dt.timedelta():  # else the clock had been ahead there
            counted += min(stretch, longest)
            too_much += max(stretch - longest, dt.timedelta())
            moment = earlier
        if counted >= retention:
            break
    return now - too_much
