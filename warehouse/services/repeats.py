"""What is said of a file that had arrived before: of which package it is a duplicate."""

from __future__ import annotations

from warehouse.inbox import Package
from warehouse.wording import counted


def told_of_repeat(package: Package, waited: bool = False) -> str:
    """That a file is a duplicate, of what, and what would make it count after all.

    `waited` is whether the first of them still waited, and was taken in for both now.
    """
    first = (
        f"duplicate of package {package.number}, received "
        f"{package.received_at:%Y-%m-%d %H:%M:%S} UTC under the name {package.file}"
    )
    if waited:
        return f"{first}, which waited still and was taken in now"
    words = f"{first}; nothing was taken in again"
    return f"{words}. {remedy}" if (remedy := _remedy(package)) else words


def _remedy(package: Package) -> str:
    if package.state == "retracted":
        return (
            "That package is retracted, so its readings do not count; "
            f"`mcw retract {package.number} --undo --yes` brings it back"
        )
    if package.state == "failed":
        return "That package failed"
    if package.counts.rejected:
        refused = counted(package.counts.rejected, "item")
        return f"Refused of it: {refused}; `mcw replay {package.number}` tries again"
    return ""
