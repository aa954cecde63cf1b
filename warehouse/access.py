"""Who asks, and what they may: scopes, sites, sources. Decided here, held by every service."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

SCOPES: Final = {
    "read:condition": "assets, conditions, changes, cases, routes, and the tables made of them",
    "read:readings": "readings and every published table and view",
    "read:sources": "sources, packages, rejects, mappings, adapters, the registry, the snapshot",
    "read:metrics": "figures about the server itself, at /metrics",
    "query:sql": "the SQL endpoint, where it is switched on",
    "write:readings": "hand in packages of readings",
    "write:work": "act on cases, report maintenance, hand filled route sheets back",
    "admin:sources": "mappings, replays and the registry",
    "admin:push": "who is told of cases and levels, and what became of it",
}
"""What a caller may be allowed to do; a key has one or more of them."""


@dataclass(frozen=True, slots=True)
class Caller:
    """Somebody who asks. `sites` and `sources` None: all of them.

    What a package holds is decided by its content, not by who sent it. A caller
    limited to sites therefore sees and feeds only sources that were named for it,
    and what it hands over touches its sites only, whatever it names.
    """

    name: str
    scopes: frozenset[str]
    sites: frozenset[str] | None = None
    sources: frozenset[str] | None = None

    @property
    def limited(self) -> bool:
        """Whether this caller sees some sites only."""
        return self.sites is not None

    def sees_source(self, source: str) -> bool:
        """Whether packages of a source are this caller's business."""
        if self.sources is not None:
            return source in self.sources
        return not self.limited


EVERYBODY: Final = Caller("nobody-in-particular", frozenset(SCOPES))
"""The caller where no keys are asked for: everything, on this machine only."""


def unknown_scopes(scopes: Iterable[str]) -> list[str]:
    """Those that are none, in order."""
    return sorted(set(scopes) - SCOPES.keys())
