"""What became of the items of a package."""

from __future__ import annotations

from dataclasses import dataclass, field

COUNTED = ("items", "accepted", "duplicate", "revised", "rejected", "blank")
"""The plain counts, in the order they are shown."""


@dataclass(frozen=True, slots=True)
class Counts:
    """What became of the items of a package.

    An item is one candidate value after decoding; an undecodable line is one
    item; declared blanks are counted apart.
    """

    items: int = 0
    accepted: int = 0
    duplicate: int = 0
    revised: int = 0
    rejected: int = 0
    blank: int = 0
    rejected_by_reason: dict[str, int] = field(default_factory=dict)

    @property
    def accounted(self) -> int:
        """Items whose fate is known; equals `items`, or the pass is at fault."""
        return self.accepted + self.duplicate + self.revised + self.rejected

    def fault(self, package: int) -> str | None:
        """What is said of a package whose items are not all accounted for; None where they are."""
        if self.items == self.accounted:
            return None
        return (
            f"{self.items} items came in, {self.accounted} are accounted for: a fault of this "
            f"program; `mcw replay {package}` tries again once that is mended, and stores "
            "nothing twice"
        )
