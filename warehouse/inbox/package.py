"""What the ledger speaks of: packages, their receipts, and the numbered commits they go in by."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from warehouse.inbox.counts import Counts


@dataclass(frozen=True, slots=True)
class Receipt:
    """What a sender is told: the package number, and whether it had arrived before."""

    package: int
    repeated: bool


@dataclass(frozen=True, slots=True)
class Package:
    """A package and what became of it."""

    number: int
    seq: int
    source: str
    sha256: str
    mapping: str
    file: str
    bytes: int
    received_at: dt.datetime
    state: str
    repeats: int
    attempts: int
    error: str | None
    counts: Counts
    not_measured: int


@dataclass(frozen=True, slots=True)
class Group:
    """A numbered commit: the days it holds (all, where None), and of each package what."""

    number: int
    first_day: dt.date | None
    last_day: dt.date | None
    committed: bool
    held: dict[int, Held]


@dataclass(frozen=True, slots=True)
class Held:
    """What one commit holds of one package."""

    accepted: int = 0
    duplicate: int = 0
    revised: int = 0


@dataclass(frozen=True, slots=True)
class Job:
    """Packages to be taken in together, and their recorded commits; none where it is new."""

    packages: list[Package]
    groups: list[Group]
