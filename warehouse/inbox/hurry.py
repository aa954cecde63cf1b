"""A mark in the inbox: somebody waits for what was received, so it is not left to gather.

Whoever receives and whoever commits may be other processes. A mark that nobody takes away does
no harm: the next commit comes a little sooner.
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

_MARK = "awaited"


def say_awaited(inbox: Path) -> None:
    """Have what was received taken in at once. Where no mark can be made it comes in time."""
    with suppress(OSError):
        (inbox / _MARK).touch()


def take_awaited(inbox: Path) -> bool:
    """Whether somebody waits. It is told once, so look for packages after this."""
    try:
        (inbox / _MARK).unlink()
    except OSError:
        return False
    return True
