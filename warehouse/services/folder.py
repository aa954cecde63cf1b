"""A watched folder: which files in it are complete, new, and not seen before."""

from __future__ import annotations

import errno
import os
import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from warehouse.errors import SourceMissingError

_Mark = tuple[int, int]
"""Size and time of change in nanoseconds."""


@dataclass(slots=True)
class WatchedFolder:
    """Files of a folder that match a pattern, told apart by path, size and time of change.

    A file is complete once it has not changed for `rest_seconds`: since its
    last change by the clock, or since it was first seen so.
    """

    folder: Path
    pattern: str
    rest_seconds: float
    _done: dict[Path, _Mark] = field(default_factory=dict)
    _growing: dict[Path, tuple[_Mark, float]] = field(default_factory=dict)

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

    def complete(self) -> list[Path]:
        """Files that are complete and not yet done, in name order."""
        self.check()
        found = dict(self._marks())
        self._forget_gone(found)
        ready = []
        for path in sorted(found, key=lambda each: each.name):
            if self._done.get(path) != found[path] and self._at_rest(path, found[path]):
                ready.append(path)
        return ready

    @property
    def growing(self) -> list[Path]:
        """Files that were not complete at the last look."""
        return sorted(self._growing)

    def done(self, path: Path) -> None:
        """Leave that file alone until it changes."""
        try:
            self._done[path] = _mark(path.stat())
        except OSError:
            self._done.pop(path, None)

    def _marks(self) -> Iterator[tuple[Path, _Mark]]:
        for path in self.folder.glob(self.pattern):
            try:
                if path.is_file() and not path.name.startswith("."):
                    yield path, _mark(path.stat())
            except OSError:
                continue  # gone between two looks

    def _at_rest(self, path: Path, mark: _Mark) -> bool:
        now = time.monotonic()
        before = self._growing.get(path)
        since = before[1] if before and before[0] == mark else now
        old = 0 <= mark[1] <= time.time_ns() - self.rest_seconds * 1e9
        if old or now - since >= self.rest_seconds:
            self._growing.pop(path, None)
            return True
        self._growing[path] = (mark, since)
        return False

    def _forget_gone(self, found: dict[Path, _Mark]) -> None:
        for memory in (self._done, self._growing):
            for path in [path for path in memory if path not in found]:
                memory.pop(path)


def _mark(status: os.stat_result) -> _Mark:
    return status.st_size, status.st_mtime_ns


def move_to(path: Path, folder: Path) -> Path:
    """Move a file into a folder; where its name is taken there, a number is added."""
    target = folder / path.name
    number = 1
    while target.exists():
        target = folder / f"{path.stem}.{number}{path.suffix}"
        number += 1
    try:
        return path.rename(target)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
    return _move_far(path, target)


def _move_far(path: Path, target: Path) -> Path:
    """Move a file to another disk: it is whole in one of the two places at any time."""
    copy = target.with_name(f".{target.name}.arriving")
    try:
        shutil.copy2(path, copy)
        copy.rename(target)
    except BaseException:
        copy.unlink(missing_ok=True)
        raise
    try:
        path.unlink()
    except OSError:
        target.unlink()  # it cannot be taken away: then it was not moved
        raise
    return target
