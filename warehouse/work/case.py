"""A case and one thing that happened to it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

PHASES = ("new", "acknowledged", "confirmed", "work-requested", "done", "verified")
"""States in the order in which a case goes on."""

TOLD = frozenset(
    {
        "opened",
        "worsened",
        "returned",
        "reopened",
        "confirmed",
        "work-requested",
        "deferred",
        "deferral-expired",
        "acceptance-expired",
        "done",
        "verified",
        "repair-not-effective",
        "closed",
    }
)
"""What the maintenance system hears of; the other rows of the log are no notifications."""


@dataclass(frozen=True, slots=True)
class Case:
    """How a case stands. Columns of `case_events` of the same names say what they mean."""

    case_id: int
    basis: str
    state: str
    level: str
    level_since: dt.datetime
    worst_told: str
    opened_at: dt.datetime
    cleared_at: dt.datetime | None = None
    disposition: str | None = None
    until: dt.datetime | None = None
    resumes: str | None = None
    owner: str | None = None
    order_id: str | None = None
    done_by: str | None = None
    confirmed_by: str | None = None

    @property
    def is_open(self) -> bool:
        """Whether it is not closed."""
        return self.state != "closed"

    @property
    def phase(self) -> str:
        """How far it has come, also behind a deferral."""
        return self.resumes if self.state == "deferred" and self.resumes else self.state

    def before(self, phase: str) -> bool:
        """Whether it is open and has not come as far as that."""
        return self.is_open and PHASES.index(self.phase) < PHASES.index(phase)


CASE_COLUMNS = tuple(Case.__dataclass_fields__)
"""Names of what a case consists of: the same columns stand in `case_events`."""


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing that happened: the case after it, when, why, and whether it is to be told."""

    case: Case
    kind: str
    at: dt.datetime
    cause: str
    cause_id: str
    told: bool
    reason: str = ""
    by: str | None = None
    comment: str | None = None
    through_change: int = 0
    through_action: int = 0

    @property
    def identity(self) -> tuple[int, str, str, str]:
        """By this it is known again: of one cause a case hears each thing once."""
        return self.case.case_id, self.kind, self.cause, self.cause_id
