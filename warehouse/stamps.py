"""The state of files at a glance: what was read from them is read again once they change."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

Stamps = tuple[tuple[str, int, int, int], ...]
"""Of each file its path, when its content and its rights changed last, and its size."""


def stamps(paths: Iterable[Path]) -> Stamps:
    """The state of files now; a file that is not there, or cannot be seen, is of no state."""
    return tuple(_stamp(path) for path in paths)


def _stamp(path: Path) -> tuple[str, int, int, int]:
    try:
        found = path.stat()
    except OSError:
        return str(path), 0, 0, 0
    # rights count too: a file that could not be read may be readable now, its content unchanged
    return str(path), found.st_mtime_ns, found.st_ctime_ns, found.st_size
