"""What the levels of machines over time are worth, held against what was planted. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from ingest_examples.large.truth import Row

DAY = 86_400
YEAR = 365.25 * DAY
RANK = {"unknown": 0, "normal": 0, "watch": 1, "alert": 2, "danger": 3}
WATCH, ALERT = 1, 2


@dataclass(frozen=True, slots=True)
class Seen:
    """The level of a machine at a moment [s since 1970], and what it rested on."""

    at: int
    level: str
    basis: str


@dataclass(frozen=True, slots=True)
class Planted:
    """A machine and what fails in it; times in s since 1970.

    `visible` is None where the damage shows nowhere; a sound machine has no `kind`.
    """

    asset: str
    method: str
    watched: int
    ends: int
    kind: str = ""
    law: str = ""
    onset: int = 0
    visible: int | None = None
    fails: int = 0
    detectable: bool = False

    @property
    def sound_until(self) -> int:
        """End of the time in which nothing grows in it that could be seen [s since 1970]."""
        if not self.kind:
            return self.ends
        return self.fails if self.visible is None else self.onset

    @property
    def pace(self) -> str:
        """How quickly the damage grows, in calendar days from its first showing to failure."""
        days = (self.fails - (self.visible or self.onset)) / DAY
        return "under 45 d" if days < 45 else "45-120 d" if days < 120 else "over 120 d"


@dataclass(frozen=True, slots=True)
class Episode:
    """An unbroken run at a level or worse; a gap of `unknown` does not end it."""

    begins: int
    ends: int
    worst: int
    basis: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """What came of one machine."""

    planted: Planted
    alerted: int | None
    watched: int | None
    false_alerts: tuple[Episode, ...]
    false_watches: int
    sound_seconds: int
    sound_levels: Mapping[str, int]

    def warning_days(self, moment: int | None) -> float:
        """Days from a first alert or watch to the failure; none where there was no such."""
        return 0.0 if moment is None else (self.planted.fails - moment) / DAY


def episodes(seen: Iterable[Seen], rank: int) -> Iterator[Episode]:
    """All runs at `rank` or worse, in order."""
    first: Seen | None = None
    last, worst = 0, 0
    for one in seen:
        if RANK[one.level] >= rank:
            first = first or one
            last, worst = one.at, max(worst, RANK[one.level])
        elif first and one.level != "unknown":
            yield Episode(first.at, last, worst, first.basis)
            first, worst = None, 0
    if first:
        yield Episode(first.at, last, worst, first.basis)


def first_raised(planted: Planted, seen: Iterable[Seen], rank: int) -> int | None:
    """When it first stood at `rank` or worse because of the damage, and before the failure.

    Who stood there before the damage showed has told nothing, unless the level rises further.
    """
    if planted.visible is None:
        return None
    before = 0
    for one in seen:
        if one.at < planted.visible:
            before = before if one.level == "unknown" else RANK[one.level]
        elif one.at < planted.fails:
            if RANK[one.level] >= rank and RANK[one.level] > before:
                return one.at
            if one.level != "unknown":
                before = min(before, RANK[one.level])
    return None


def is_false(planted: Planted, at: int) -> bool:
    """Would a level raised at this moment be raised for nothing?"""
    if not planted.kind:
        return True
    return at < (planted.fails if planted.visible is None else planted.visible)


def judge_machine(planted: Planted, seen: list[Seen]) -> Verdict:
    """What the levels of one machine came to."""
    sound = [one for one in seen if planted.watched <= one.at < planted.sound_until]
    levels: dict[str, int] = {}
    for one in sound:
        levels[one.level] = levels.get(one.level, 0) + 1
    false = tuple(e for e in episodes(seen, ALERT) if is_false(planted, e.begins))
    watches = sum(is_false(planted, e.begins) for e in episodes(seen, WATCH))
    alerted = first_raised(planted, seen, ALERT)
    watched = first_raised(planted, seen, WATCH)
    exposed = max(0, planted.sound_until - planted.watched)
    return Verdict(planted, alerted, watched, false, watches, exposed, levels)


def seconds(text: str) -> int:
    """An ISO 8601 text as s since 1970."""
    return int(datetime.fromisoformat(text).timestamp())


def planted_in(rows: Iterable[Row]) -> list[Planted]:
    """Every machine of a truth table."""
    rows = list(rows)
    failures = {row.asset: row for row in rows if row.what == "failure"}
    return [_planted(row, failures.get(row.asset)) for row in rows if row.what == "machine"]


def _planted(machine: Row, failure: Row | None) -> Planted:
    watched, ends = seconds(machine.begins), seconds(machine.ends)
    if failure is None:
        return Planted(machine.asset, machine.method, watched, ends)
    return Planted(
        machine.asset, machine.method, watched, ends, failure.kind, failure.law,
        seconds(failure.begins), seconds(failure.visible) if failure.visible else None,
        seconds(failure.ends), failure.detectable == "yes",
    )  # fmt: skip
