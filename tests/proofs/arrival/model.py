"""What must be there at the end: a plain dictionary, no database, no cleverness."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from tests.proofs.arrival.world import Sent

Identity = tuple[str, str, int]
"""Source, device, minute."""


@dataclass(frozen=True, slots=True)
class Expected:
    """The current view, and what each package's items come to."""

    current: dict[Identity, float]
    items: dict[str, int]
    rejected: dict[str, int]


def expect(in_order: Iterable[Sent], known: set[str], withdrawn: set[str]) -> Expected:
    """The end state of packages given in order of receipt; the last value of an identity counts."""
    current: dict[Identity, float] = {}
    items: dict[str, int] = {}
    rejected: dict[str, int] = {}
    for sent in in_order:
        items[sent.name] = len(sent.items)
        rejected[sent.name] = sum(device not in known for device, _, _ in sent.items)
        if sent.name in withdrawn:
            continue
        for device, minute, value in sent.items:
            if device in known:
                current[sent.source, device, minute] = float(value)
    return Expected(current, items, rejected)
