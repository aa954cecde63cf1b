"""What a writer hands back: files in their order of arrival, and what was planted."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field


@dataclass(slots=True)
class Package:
    """One file as it arrives: its path below `files/`, mapping, arrival [s since 1970].

    `counts` says what a right reading of it gives: accepted, duplicate, revised, blank,
    or a reject reason of the open schema. The unit is the item: one candidate value
    after decoding; an undecodable line is one item.
    """

    file: str
    mapping: str
    arrival: int
    content: bytes
    counts: Counter[str] = field(default_factory=Counter)
    note: str = ""


@dataclass(frozen=True, slots=True)
class Truth:
    """One planted thing. Times are ISO 8601 UTC texts; `count` only where it is exact."""

    kind: str
    expect: str
    detail: str
    site: str = ""
    asset: str = ""
    position: str = ""
    source: str = ""
    device: str = ""
    file: str = ""
    begin: str = ""
    end: str = ""
    count: int | None = None


@dataclass(slots=True)
class Output:
    """Everything one writer made."""

    packages: list[Package] = field(default_factory=list)
    truth: list[Truth] = field(default_factory=list)

    def extend(self, other: Output) -> None:
        """Add what another writer made."""
        self.packages += other.packages
        self.truth += other.truth
