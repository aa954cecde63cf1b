"""Which sources have gone silent, and whether the clock of this machine can be believed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from warehouse import clock
from warehouse.errors import MappingError, NotFoundError
from warehouse.inbox import Ledger
from warehouse.mapping import parse_mapping

INTERVALS = 3
"""A source is silent when nothing new arrived for that many of its declared intervals."""
_AHEAD = dt.timedelta(hours=1)
_JUMP = dt.timedelta(days=366)


@dataclass(frozen=True, slots=True)
class SourceReceipts:
    """A source: its last receipt, the interval its mapping declares, and whether it is silent."""

    source: str
    last_receipt: dt.datetime
    interval_minutes: float | None
    silent: bool

    def words(self, now: dt.datetime) -> str:
        """The silence in plain words."""
        hours = (now - self.last_receipt).total_seconds() / 3600
        return (
            f"source {self.source} is silent: its last new file came "
            f"{self.last_receipt:%Y-%m-%d %H:%M} UTC, {hours:,.1f} h ago; "
            f"one is due every {self.interval_minutes:g} min"
        )


class Receipts:
    """Last receipts of a ledger's sources; the mappings are read once."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._intervals: dict[str, float | None] = {}

    def sources(self, now: dt.datetime) -> list[SourceReceipts]:
        """Every source that ever sent anything, by name."""
        found = []
        for row in self._ledger.asked("last_receipts"):
            last = dt.datetime.fromisoformat(row["received_at"])
            interval = self._interval(row["mapping"])
            silent = interval is not None and now - last > INTERVALS * dt.timedelta(
                minutes=interval
            )
            found.append(SourceReceipts(row["source"], last, interval, silent))
        return found

    def _interval(self, version: str) -> float | None:
        if version not in self._intervals:
            try:
                mapping = parse_mapping(self._ledger.mapping_text(version), version)
                self._intervals[version] = mapping.source.interval_minutes
            except (MappingError, NotFoundError):
                self._intervals[version] = None
        return self._intervals[version]


def clock_faults(ledger: Ledger, now: dt.datetime) -> list[str]:
    """What the receipts say against the clock of this machine; empty where nothing does."""
    rows = ledger.asked("newest_receipts")
    times = [dt.datetime.fromisoformat(row["clock"]) for row in rows]
    counted = [dt.datetime.fromisoformat(row["received_at"]) for row in rows]
    faults = []
    if now < clock.EARLIEST:
        faults.append(f"this machine's clock says {now:%Y-%m-%d %H:%M} UTC, which cannot be")
    if times and times[0] - now > _AHEAD:
        faults.append(
            f"the newest receipt is of {times[0]:%Y-%m-%d %H:%M} UTC, but this machine's clock "
            f"says {now:%Y-%m-%d %H:%M} UTC: it goes wrong now, or did then"
        )
    if len(times) > 1 and abs(times[0] - times[1]) > _JUMP:
        faults.append(
            f"the newest receipt is of {times[0]:%Y-%m-%d %H:%M} UTC, the one before it of "
            f"{times[1]:%Y-%m-%d %H:%M} UTC: check this machine's clock"
        )
    if times and counted[0] - times[0] > _AHEAD:
        faults.append(
            f"the newest receipt, of {times[0]:%Y-%m-%d %H:%M} UTC, counts as of "
            f"{counted[0]:%Y-%m-%d %H:%M} UTC, just after the one before it: the clock was ahead "
            "then, or is behind now; `mcw replay` puts through again what was refused by its time"
        )
    return faults
