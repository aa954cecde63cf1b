"""Time replayed: a store judged as of a series of moments, and the level of each machine.

Each judging step sees what had been read by then, and the conditions judged at the moment
before. At equal distances, the hour before each failure, and, where asked, closing in on the first
alert: of a judge that takes an alert back in between, twice over, it may be dated wrongly.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime

import pyarrow as pa

from tests.proofs.judging.verdicts import ALERT, DAY, Planted, Seen, first_raised
from warehouse.judging import judge, worked_out
from warehouse.query import open_base
from warehouse.store import Store

_EVE = 3600
"""The last judging step before a failure [s]."""


@dataclass(slots=True)
class Replay:
    """Moments judged so far, in order, and what each gave."""

    store: Store
    moments: list[int] = field(default_factory=list)
    levels: dict[int, dict[str, Seen]] = field(default_factory=dict)
    _conditions: dict[int, pa.Table] = field(default_factory=dict)

    def look(self, at: int) -> None:
        """Judge as of a moment [s since 1970]."""
        if at in self.levels:
            return
        place = bisect_left(self.moments, at)
        previous = self._conditions[self.moments[place - 1]] if place else None
        as_of = datetime.fromtimestamp(at, UTC)
        with open_base(self.store, {}, as_of) as session, worked_out(session):
            conditions = judge(session, previous, as_of, 1).conditions
        self.moments.insert(place, at)
        self._conditions[at] = conditions
        self.levels[at] = {
            row["asset"]: Seen(at, row["level"], row["basis"])
            for row in conditions.to_pylist()
            if row["scope"] == "asset"
        }

    def seen(self, asset: str) -> list[Seen]:
        """The levels of a machine at all moments, in order."""
        return [self.levels[at][asset] for at in self.moments if asset in self.levels[at]]

    def close_in(self, planted: Planted, within: int = 2 * DAY) -> None:
        """Judge in between until the first alert of a damage is known to two days."""
        while (alerted := first_raised(planted, self.seen(planted.asset), ALERT)) is not None:
            place = bisect_left(self.moments, alerted)
            begins = max(self.moments[place - 1] if place else 0, planted.visible or 0)
            if alerted - begins <= within:
                return
            self.look((begins + alerted) // 2)


def moments(machines: Iterable[Planted], first: int, end: int, every_days: float) -> list[int]:
    """At equal distances, and the hour before each failure of a machine watched online."""
    step = round(every_days * DAY)
    eves = {p.fails - _EVE for p in machines if p.kind and p.method == "online"}
    return sorted({*range(first, end, step), end, *eves})


def replay(store: Store, machines: list[Planted], every_days: float, closing_in: bool) -> Replay:
    """Judge a store at its moments, from the first reading to the last."""
    done = Replay(store)
    first = min(p.watched for p in machines) + 3 * DAY
    for at in moments(machines, first, max(p.ends for p in machines), every_days):
        done.look(at)
    if closing_in:
        for planted in machines:
            if planted.kind and planted.method == "online":
                done.close_in(planted)
    return done
