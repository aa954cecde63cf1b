"""What cases are decided from: changes of condition, persons' actions, maintenance, and the rules.

All moments are UTC.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

RANK = {"normal": 0, "watch": 1, "alert": 2, "danger": 3}
"""Levels that can be compared; `unknown` is none of them: it neither opens nor clears."""

SEVERITY = "severity"
"""The basis that knows no watch: zone B is normal."""

Machine = tuple[str, str, str]
"""Site, asset and member."""


@dataclass(frozen=True, slots=True)
class Rules:
    """The figures of the rules (`warehouse/limits/defaults.toml`).

    `opens_from` is the lowest rank that opens a case. A level that comes back within
    `rejoin` of having cleared belongs to the old case; a case called real closes once it
    was clear for as long.
    """

    opens_from: int = 1
    rejoin: dt.timedelta = dt.timedelta(days=30)


@dataclass(frozen=True, slots=True)
class Change:
    """A change of a machine's condition: a row of `condition_log` with scope `member`.

    `at` is the moment it was judged for, `measured_at` the reading that it was judged by.
    """

    seq: int
    at: dt.datetime
    basis: str
    level: str
    reason: str = ""
    measured_at: dt.datetime | None = None


@dataclass(frozen=True, slots=True)
class Action:
    """What a named person did: a row of `case_actions`. A suppression without basis is of all."""

    seq: int
    at: dt.datetime
    after_change: int
    kind: str
    by: str
    basis: str | None = None
    case_id: int | None = None
    until: dt.datetime | None = None
    disposition: str | None = None
    owner: str | None = None
    order_id: str | None = None
    comment: str | None = None


@dataclass(frozen=True, slots=True)
class Work:
    """A maintenance event that counts, on this machine or its whole train.

    `outcome` is what it came to (`effective`, `not-effective`), None while that is not known;
    `outcome_at` the moment from which it is.
    """

    id: str
    at: dt.datetime
    restoring: bool
    order_id: str | None = None
    outcome: str | None = None
    outcome_at: dt.datetime | None = None
    words: str = ""


@dataclass(slots=True)
class Inputs:
    """Everything about one machine, in any order."""

    changes: list[Change] = field(default_factory=list)
    actions: list[Action] = field(default_factory=list)
    works: list[Work] = field(default_factory=list)
