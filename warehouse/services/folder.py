"""A watched folder: which files in it are complete, new, and not seen before."""

from __future__ import annotations

import os
import stat
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import NamedTuple

from warehouse.errors import SourceMissingError

PATIENCE = 10
"""Times of rest after which a file is taken for complete though its last line has no end, and
may be moved away: a writer often pauses for longer than one."""


class Mark(NamedTuple):
    """What a file is known by while it does not change."""

    size: int
    changed: int
    """Time of change in nanoseconds."""
    inode: int


def mark_of(path: Path) -> Mark | None:
    """The file as it is now; None where there is none to be seen."""
    try:
        status = path.stat()
    except OSError:
        return None
    if not stat.S_ISREG(status.st_mode):
        return None
    return Mark(status.st_size, status.st_mtime_ns, status.st_ino)


class RestingFiles(ABC):
    """Files told apart by path and mark; one is complete once it has come to rest.

    At rest is a file that has not changed for `rest_seconds`: since its last
    change by the clock, or since it was first seen so. One that breaks off
    within a line is given PATIENCE times as long.
    """

    def __init__(self, rest_seconds: float) -> None:
        self.rest_seconds = rest_seconds
        self.ended: Callable[[Path], bool] = lambda _: True
        """Whether the last line of a file has its end; true where files are not read by lines."""
        self._done: dict[Path, Mark] = {}
        self._seen: dict[Path, tuple[Mark, float]] = {}
        self._growing: set[Path] = set()
        self._unended: set[Path] = set()

    def complete(self) -> list[Path]:
        """Files that are complete and not yet done, in name order."""
        self._look()
        self._growing.clear()
        self._unended.clear()
        return [path for path in sorted(self._seen, key=_by_name) if self._is_ready(path)]

    @property
    def growing(self) -> list[Path]:
        """Files that had not come to rest at the last look."""
        return sorted(self._growing)

    @property
    def unended(self) -> list[Path]:
        """Files at rest that broke off within a line at the last look."""
        return sorted(self._unended)

    def done(self, path: Path) -> Mark:
        """Leave that file alone until it changes; the mark it had before anyone read it.

        What is written while it is read makes it another file.
        """
        self._done[path] = mark = self._seen[path][0]
        return mark

    def is_quiet(self, path: Path, seconds: float) -> bool:
        """Whether a file was there at the last look and has not changed for so long."""
        if path not in self._seen:
            return False
        mark, since = self._seen[path]
        old = 0 <= mark.changed <= time.time_ns() - seconds * 1e9
        return old or time.monotonic() - since >= seconds

    def is_patient(self, path: Path) -> bool:
        """Whether it has not changed for so long that its writer has surely left it."""
        return self.is_quiet(path, PATIENCE * self.rest_seconds)

    @abstractmethod
    def _paths(self) -> Iterable[Path]:
        """Where the files are, or may be."""

    def _look(self) -> None:
        found = {path: mark for path in self._paths() if (mark := mark_of(path))}
        for memory in (self._done, self._seen):
            for path in [path for path in memory if path not in found]:
                del memory[path]
        now = time.monotonic()
        for path, mark in found.items():
            if path not in self._seen or self._seen[path][0] != mark:
                self._seen[path] = (mark, now)

    def _is_ready(self, path: Path) -> bool:
        if self._done.get(path) == self._seen[path][0]:
            return False
        if not self.is_quiet(path, self.rest_seconds):
            self._growing.add(path)
        elif not self.is_patient(path) and not self.ended(path):
            self._unended.add(path)
        else:
            return True
        return False


def _by_name(path: Path) -> tuple[str, Path]:
    return path.name, path


class WatchedFolder(RestingFiles):
    """Files of a folder that match a pattern; hidden ones are left alone."""

    def __init__(self, folder: Path, pattern: str, rest_seconds: float) -> None:
        super().__init__(rest_seconds)
        self.folder = folder
        self.pattern = pattern

    def check(self) -> None:
        """Raises SourceMissingError where the folder is not there or may not be read."""
        if not self.folder.is_dir():
            raise SourceMissingError(
                str(self.folder), "it is not there", "a folder to watch is needed"
            )
        if not os.access(self.folder, os.R_OK | os.X_OK):
            raise SourceMissingError(
                str(self.folder), "it may not be read", "the right to read it is needed"
            )

    def _paths(self) -> Iterable[Path]:
        self.check()
        found = self.folder.glob(self.pattern)
        return (path for path in found if not path.name.startswith("."))
