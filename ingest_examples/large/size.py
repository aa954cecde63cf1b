"""How large a site is made, and the times of its parts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from ingest_examples.generator.clock import DAY, Period

START = int(datetime(2023, 7, 1, tzinfo=UTC).timestamp())
"""High summer: the season falls first."""
SHORTEST_DAYS = 120


@dataclass(frozen=True, slots=True)
class Size:
    """Machines by method, planted failures, days watched, hours between online readings."""

    online: int = 36
    route: int = 28
    failures: int = 22
    online_days: int = 400
    route_days: int = 730
    hours: float = 1.0

    @property
    def faults(self) -> list[str]:
        """What is wrong with these sizes, in words; empty if nothing is."""
        found = []
        if self.online + self.route < 1:
            found.append("a site needs a machine")
        if self.failures > (self.online + self.route) // 2:
            found.append("at most every second machine may fail")
        if not SHORTEST_DAYS <= self.online_days <= self.route_days:
            found.append(f"{SHORTEST_DAYS} <= online days <= route days")
        if not 0.25 <= self.hours <= 24:
            found.append("0.25 to 24 hours between online readings")
        return found

    def period(self, seed: int) -> Period:
        """All days of the site; the last `online_days` are those of the sensors."""
        return Period(START, self.route_days, seed, 1.0)

    def watched_from(self, period: Period, method: str) -> int:
        """First moment at which machines of a method are measured [s since 1970]."""
        return period.start if method == "route" else period.end - self.online_days * DAY
