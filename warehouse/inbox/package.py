"""What the ledger speaks of: packages, their receipts, and the numbered commits they go in by."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from warehouse.inbox.counts import Counts
from warehouse.mapping import AnyMapping

RE_PLACED = "re-placed"
"""Stands where other packages name their mapping: its readings were placed anew by the registry."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """A file handed over, and the mapping that reads it.

    `content` are its bytes where they are at hand: then `path` only names it.
    `name` is what it was called where the path is not it; `request` who handed
    it over under which key, so that the same request gets the same receipt.
    `sites` are those that what is in it may touch, None for all.
    """

    path: Path
    mapping: AnyMapping
    mapping_text: str
    content: bytes | None = None
    name: str | None = None
    request: tuple[str, str] | None = None
    sites: frozenset[str] | None = None

    @property
    def file(self) -> str:
        """What the file is called."""
        return self.name or self.path.name


@dataclass(frozen=True, slots=True)
class Receipt:
    """What a sender is told: the package number, and whether it had arrived before.

    `clashes`: the request came before with something else, and nothing was received.
    `wider`: the package may touch sites that this delivery may not; what became of it is not told.
    """

    package: int
    repeated: bool
    clashes: bool = False
    wider: bool = False


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
    finished_at: dt.datetime | None
    state: str
    repeats: int
    attempts: int
    error: str | None
    counts: Counts
    not_measured: int


@dataclass(frozen=True, slots=True)
class Moment:
    """One thing that happened to a package.

    `at` is None where it was not recorded. `file` is the name a receipt came
    under. `counts` are those of the whole package when it was done, else None.
    """

    at: dt.datetime | None
    state: str
    attempt: int
    file: str | None
    error: str | None
    counts: Counts | None


@dataclass(frozen=True, slots=True)
class Finished:
    """A package that is in the dataset, what its items came to; `error` where that is in doubt."""

    package: Package
    counts: Counts
    not_measured: int
    error: str | None = None


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
    """Packages to be taken in together, and their recorded commits; none where it is new.

    All of them may touch the same `sites`; None for all sites.
    """

    packages: list[Package]
    groups: list[Group]
    sites: frozenset[str] | None
